// SPDX-License-Identifier: Apache-2.0
#include "base/draw.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <pango/pangocairo.h>
#include <strings.h>

#include "base/file.h"
#include "base/units.h"

#define PT_PER_MM   (72 / 25.4)
#define FONT_FAMILY "DejaVu Sans, sans-serif"

enum { HATCH_CROSSINGS_MAX = 64, FIRST_BYTES = 1 << 14 };

struct pc_draw {
    enum pc_draw_form form;
    cairo_surface_t *surface;
    cairo_t *cairo;
    PangoLayout *layout;
    char *bytes;
    size_t count, room;
    bool finished;
};

enum pc_status pc_draw_form_of(const char *path, enum pc_draw_form *form, struct pc_err *err)
{
    static const char *const endings[] = {
        [PC_DRAW_SVG] = ".svg", [PC_DRAW_PDF] = ".pdf", [PC_DRAW_PNG] = ".png"};
    size_t n = strlen(path);
    for (size_t i = 0; i < PC_COUNT(endings); i++) {
        if (n > 4 && strcasecmp(path + n - 4, endings[i]) == 0) {
            *form = (enum pc_draw_form)i;
            return PC_OK;
        }
    }
    return pc_fail(err, PC_MISUSE, path, "A drawing's name ends in .svg, .pdf or .png.");
}

static cairo_status_t take_bytes(void *closure, const unsigned char *bytes, unsigned int count)
{
    struct pc_draw *draw = closure;
    if (draw->room - draw->count < count) {
        size_t room = (draw->room + count + FIRST_BYTES) * 2;
        char *more = realloc(draw->bytes, room);
        if (more == NULL)
            return CAIRO_STATUS_NO_MEMORY;
        draw->bytes = more;
        draw->room = room;
    }
    memcpy(draw->bytes + draw->count, bytes, count);
    draw->count += count;
    return CAIRO_STATUS_SUCCESS;
}

static cairo_surface_t *make_surface(struct pc_draw *draw, double width_mm, double height_mm,
                                     const char *title)
{
    double width_pt = width_mm * PT_PER_MM, height_pt = height_mm * PT_PER_MM;
    if (draw->form == PC_DRAW_PNG)
        return cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)ceil(width_mm * PC_DRAW_PNG_PX_PER_MM),
                                          (int)ceil(height_mm * PC_DRAW_PNG_PX_PER_MM));
    if (draw->form == PC_DRAW_SVG) {
        cairo_surface_t *svg = cairo_svg_surface_create_for_stream(take_bytes, draw, width_pt, height_pt);
        cairo_svg_surface_set_document_unit(svg, CAIRO_SVG_UNIT_PT);
        return svg;
    }
    cairo_surface_t *pdf = cairo_pdf_surface_create_for_stream(take_bytes, draw, width_pt, height_pt);
    if (title != NULL)
        cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_TITLE, title);
    // The hour of drawing would make each file another one.
    cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_CREATE_DATE, "");
    return pdf;
}

// Figures of one width, and letters that stand the same at any scale.
static void make_layout(struct pc_draw *draw)
{
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    // A map of fonts of its own, so that what it keeps goes with the drawing.
    PangoFontMap *map = pango_cairo_font_map_new();
    PangoContext *context = pango_font_map_create_context(map);
    g_object_unref(map);
    draw->layout = pango_layout_new(context);
    g_object_unref(context);
    pango_cairo_context_set_font_options(context, options);
    pango_cairo_context_set_resolution(context, 72);
    pango_context_set_round_glyph_positions(context, FALSE);
    cairo_font_options_destroy(options);
    PangoAttrList *attributes = pango_attr_list_new();
    pango_attr_list_insert(attributes, pango_attr_font_features_new("tnum=1"));
    pango_layout_set_attributes(draw->layout, attributes);
    pango_attr_list_unref(attributes);
}

static enum pc_status no_memory(struct pc_err *err)
{
    return pc_fail(err, PC_NO_MEMORY, NULL, "There is no memory left for a drawing; close other programs.");
}

enum pc_status pc_draw_create(enum pc_draw_form form, double width_mm, double height_mm, const char *title,
                              struct pc_draw **draw, struct pc_err *err)
{
    PC_ASSERT(width_mm > 0 && width_mm <= PC_DRAW_MOST_MM && height_mm > 0 && height_mm <= PC_DRAW_MOST_MM);
    struct pc_draw *new = calloc(1, sizeof *new);
    if (new == NULL)
        return no_memory(err);
    new->form = form;
    new->surface = make_surface(new, width_mm, height_mm, title);
    new->cairo = cairo_create(new->surface);
    if (cairo_status(new->cairo) != CAIRO_STATUS_SUCCESS) {
        pc_draw_destroy(new);
        return no_memory(err);
    }
    double scale = form == PC_DRAW_PNG ? PC_DRAW_PNG_PX_PER_MM : PT_PER_MM;
    cairo_scale(new->cairo, scale, scale);
    cairo_set_source_rgb(new->cairo, 1, 1, 1);
    cairo_paint(new->cairo);
    cairo_set_line_cap(new->cairo, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(new->cairo, CAIRO_LINE_JOIN_ROUND);
    make_layout(new);
    *draw = new;
    return PC_OK;
}

void pc_draw_destroy(struct pc_draw *draw)
{
    if (draw == NULL)
        return;
    if (draw->layout != NULL)
        g_object_unref(draw->layout);
    cairo_destroy(draw->cairo);
    cairo_surface_destroy(draw->surface);
    free(draw->bytes);
    free(draw);
}

static void set_grey(struct pc_draw *draw, double grey_ratio)
{
    cairo_set_source_rgb(draw->cairo, grey_ratio, grey_ratio, grey_ratio);
}

static void stroke(struct pc_draw *draw, const struct pc_pen *pen)
{
    const double dashes[] = {pen->dash_mm, pen->gap_mm};
    set_grey(draw, pen->grey_ratio);
    cairo_set_line_width(draw->cairo, pen->width_mm);
    cairo_set_dash(draw->cairo, dashes, pen->dash_mm > 0 ? 2 : 0, 0);
    cairo_stroke(draw->cairo);
}

static void trace(struct pc_draw *draw, const struct pc_spot_mm *spots, size_t count)
{
    PC_ASSERT(!draw->finished);
    for (size_t i = 0; i < count; i++)
        cairo_line_to(draw->cairo, spots[i].x_mm, spots[i].y_mm);
}

void pc_draw_line(struct pc_draw *draw, const struct pc_pen *pen, const struct pc_spot_mm *spots,
                  size_t count)
{
    trace(draw, spots, count);
    stroke(draw, pen);
}

void pc_draw_outline(struct pc_draw *draw, const struct pc_pen *pen, const struct pc_spot_mm *spots,
                     size_t count)
{
    trace(draw, spots, count);
    cairo_close_path(draw->cairo);
    stroke(draw, pen);
}

void pc_draw_curve(struct pc_draw *draw, const struct pc_pen *pen, const struct pc_spot_mm *spots,
                   size_t count)
{
    PC_ASSERT(!draw->finished);
    if (count == 0)
        return;
    cairo_move_to(draw->cairo, spots[0].x_mm, spots[0].y_mm);
    for (size_t i = 0; i + 1 < count; i++) {
        const struct pc_spot_mm *before = &spots[i > 0 ? i - 1 : 0], *from = &spots[i], *to = &spots[i + 1],
                                *after = &spots[i + 2 < count ? i + 2 : count - 1];
        cairo_curve_to(draw->cairo, from->x_mm + (to->x_mm - before->x_mm) / 6,
                       from->y_mm + (to->y_mm - before->y_mm) / 6, to->x_mm - (after->x_mm - from->x_mm) / 6,
                       to->y_mm - (after->y_mm - from->y_mm) / 6, to->x_mm, to->y_mm);
    }
    stroke(draw, pen);
}

void pc_draw_arc(struct pc_draw *draw, const struct pc_pen *pen, struct pc_spot_mm middle, double radius_mm,
                 double from_rad, double to_rad)
{
    PC_ASSERT(!draw->finished);
    cairo_new_sub_path(draw->cairo);
    cairo_arc(draw->cairo, middle.x_mm, middle.y_mm, radius_mm, from_rad, to_rad);
    stroke(draw, pen);
}

void pc_draw_fill(struct pc_draw *draw, double grey_ratio, const struct pc_spot_mm *spots, size_t count)
{
    trace(draw, spots, count);
    set_grey(draw, grey_ratio);
    cairo_set_fill_rule(draw->cairo, CAIRO_FILL_RULE_EVEN_ODD);
    cairo_fill(draw->cairo);
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

// Where the line at height across (square to the strokes) crosses the outline, along the strokes, ascending.
static size_t crossings(const struct pc_spot_mm *spots, size_t count, double c, double s, double across,
                        double along[HATCH_CROSSINGS_MAX])
{
    size_t found = 0;
    for (size_t i = 0; i < count && found < HATCH_CROSSINGS_MAX; i++) {
        struct pc_spot_mm a = spots[i], b = spots[(i + 1) % count];
        double va = a.y_mm * c - a.x_mm * s - across, vb = b.y_mm * c - b.x_mm * s - across;
        if ((va < 0) == (vb < 0))
            continue;
        double t = va / (va - vb);
        along[found++] = (a.x_mm + t * (b.x_mm - a.x_mm)) * c + (a.y_mm + t * (b.y_mm - a.y_mm)) * s;
    }
    qsort(along, found, sizeof *along, ascending);
    return found;
}

void pc_draw_hatch(struct pc_draw *draw, const struct pc_pen *pen, double spacing_mm, double angle_rad,
                   const struct pc_spot_mm *spots, size_t count)
{
    PC_ASSERT(!draw->finished && spacing_mm > 0.05);
    double c = cos(angle_rad), s = sin(angle_rad), low = (double)INFINITY, high = -(double)INFINITY;
    for (size_t i = 0; i < count; i++) {
        low = fmin(low, spots[i].y_mm * c - spots[i].x_mm * s);
        high = fmax(high, spots[i].y_mm * c - spots[i].x_mm * s);
    }
    double along[HATCH_CROSSINGS_MAX];
    for (double across = low + spacing_mm / 2; across < high; across += spacing_mm) {
        size_t found = crossings(spots, count, c, s, across, along);
        for (size_t i = 0; i + 1 < found; i += 2) {
            cairo_move_to(draw->cairo, along[i] * c - across * s, along[i] * s + across * c);
            cairo_line_to(draw->cairo, along[i + 1] * c - across * s, along[i + 1] * s + across * c);
        }
    }
    stroke(draw, pen);
}

static double lay_text(struct pc_draw *draw, const struct pc_lettering *lettering, const char *text)
{
    PangoFontDescription *font = pango_font_description_from_string(FONT_FAMILY);
    pango_font_description_set_absolute_size(font, lettering->size_mm * PANGO_SCALE);
    pango_font_description_set_weight(font, lettering->bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_style(font, lettering->italic ? PANGO_STYLE_OBLIQUE : PANGO_STYLE_NORMAL);
    pango_layout_set_font_description(draw->layout, font);
    pango_font_description_free(font);
    pango_layout_set_text(draw->layout, text, -1);
    PangoRectangle box;
    pango_layout_get_extents(draw->layout, NULL, &box);
    return (double)box.width / PANGO_SCALE;
}

double pc_draw_text_mm(struct pc_draw *draw, const struct pc_lettering *lettering, const char *text)
{
    return lay_text(draw, lettering, text);
}

void pc_draw_text(struct pc_draw *draw, const struct pc_lettering *lettering, struct pc_spot_mm place,
                  const char *text)
{
    PC_ASSERT(!draw->finished);
    static const double shares[] = {[PC_DRAW_START] = 0, [PC_DRAW_MIDDLE] = 0.5, [PC_DRAW_END] = 1};
    double width_mm = lay_text(draw, lettering, text);
    double baseline_mm = (double)pango_layout_get_baseline(draw->layout) / PANGO_SCALE;
    cairo_save(draw->cairo);
    set_grey(draw, lettering->grey_ratio);
    cairo_translate(draw->cairo, place.x_mm, place.y_mm);
    cairo_rotate(draw->cairo, lettering->turn_rad);
    cairo_move_to(draw->cairo, -shares[lettering->anchor] * width_mm, -baseline_mm);
    pango_cairo_show_layout(draw->cairo, draw->layout);
    cairo_restore(draw->cairo);
    cairo_new_path(draw->cairo);
}

// cairo numbers surfaces through the life of a process; what a file holds may not depend on those before it.
static void drop_surface_number(struct pc_draw *draw)
{
    static const char mark[] = " id=\"surface";
    char *at = memmem(draw->bytes, draw->count, mark, sizeof mark - 1);
    if (at == NULL)
        return;
    char *end = draw->bytes + draw->count, *after = at + sizeof mark - 1;
    while (after < end && *after != '"')
        after++;
    after += after < end;
    memmove(at, after, (size_t)(end - after));
    draw->count -= (size_t)(after - at);
}

static enum pc_status finish(struct pc_draw *draw, struct pc_err *err)
{
    PC_ASSERT(!draw->finished);
    draw->finished = true;
    g_object_unref(draw->layout);
    draw->layout = NULL;
    cairo_status_t status = cairo_status(draw->cairo);
    if (draw->form == PC_DRAW_PNG && status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_write_to_png_stream(draw->surface, take_bytes, draw);
    cairo_surface_finish(draw->surface);
    if (status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_status(draw->surface);
    if (status != CAIRO_STATUS_SUCCESS)
        return pc_fail(err, status == CAIRO_STATUS_NO_MEMORY ? PC_NO_MEMORY : PC_IO, NULL,
                       "The drawing could not be made: %s.", cairo_status_to_string(status));
    if (draw->form == PC_DRAW_SVG)
        drop_surface_number(draw);
    return PC_OK;
}

enum pc_status pc_draw_finish(struct pc_draw *draw, struct pc_arena *arena, const char **bytes, size_t *count,
                              struct pc_err *err)
{
    PC_TRY(finish(draw, err));
    char *copy = pc_arena_alloc(arena, draw->count + 1, 1);
    memcpy(copy, draw->bytes, draw->count);
    *bytes = copy;
    *count = draw->count;
    return PC_OK;
}

enum pc_status pc_draw_save(struct pc_draw *draw, const char *path, struct pc_err *err)
{
    PC_TRY(finish(draw, err));
    return pc_file_write(path, draw->bytes, draw->count, err);
}
