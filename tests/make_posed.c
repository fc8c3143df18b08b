// SPDX-License-Identifier: Apache-2.0
// make-posed sheet|table|ball|other|both|dark|pair FILE SEED: a frame of an A4 sheet on a table (a
// telephone's JPEG), of a table without one, or of a polished ball (a PNG of linear light) under one light,
// under another, under both at once, under one at a sixteenth of the exposure, or beside a matte ball. Prints
// the truth as JSON.
#include "image/photo/write.h"
#include "image/find/ball_scene.h"
#include "image/camera/sheet_scene.h"

#define DEG (180.0 / 3.14159265358979323846)

static double display(double linear) // IEC 61966-2-1
{
    double v = fmin(1.0, fmax(0.0, linear));
    return v <= 0.0031308 ? 12.92 * v : 1.055 * pow(v, 1.0 / 2.4) - 0.055;
}

// Each pixel of the measured picture is two by two of the file.
static enum pc_status write_sheet(const char *path, uint64_t seed, bool there, struct pc_err *err)
{
    struct pc_ctx ctx;
    struct pc_sheet_scene s;
    struct pc_picture picture;
    pc_ctx_init(&ctx, 1, 0);
    pc_sheet_scene_init(&s, seed, 1, 0.0, 60.0, there);
    PC_TRY(pc_sheet_scene_draw(&ctx, &s, &picture, err));
    uint8_t *px = calloc((size_t)s.width_px * (size_t)s.height_px, 3);
    PC_ASSERT(px != NULL);
    for (int y = 0; y < s.height_px; y++)
        for (int x = 0; x < s.width_px; x++)
            for (int c = 0; c < 3; c++)
                px[3 * (y * s.width_px + x) + c] = (uint8_t)lrint(
                    255.0 * display((double)picture.px[3 * ((y / 2) * picture.width_px + x / 2) + c]));
    enum pc_status status = pc_write_jpeg(path, s.width_px, s.height_px, 3, px, 95, NULL, err);
    printf("{\"distance_m\": %.5f, \"tilt_deg\": %.4f, \"corners\": [", 1e-3 * s.distance_mm,
           DEG * s.tilt_rad);
    for (int i = 0; i < 4; i++)
        printf("%s[%.1f, %.1f]", i ? ", " : "", s.corner_px[i][0], s.corner_px[i][1]);
    printf("]}\n");
    free(px);
    pc_picture_finish(&picture);
    return status;
}

static double dot(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

// The picture's right along the table, and away from the camera.
static void table_axes(const struct pc_ball_scene *s, double right[3], double ahead[3])
{
    double along = s->up[0], length = sqrt(1.0 - along * along);
    for (int i = 0; i < 3; i++)
        right[i] = ((i == 0) - along * s->up[i]) / length;
    for (int i = 0; i < 3; i++)
        ahead[i] = s->up[(i + 1) % 3] * right[(i + 2) % 3] - s->up[(i + 2) % 3] * right[(i + 1) % 3];
}

// The light goes to the other side of the camera.
static void move_light(struct pc_ball_scene *s)
{
    double right[3], ahead[3], away[3];
    table_axes(s, right, ahead);
    for (int i = 0; i < 3; i++)
        away[i] = s->light_mm[i] - s->centre_mm[i];
    double aside = dot(s->direction, right), away_aside = dot(away, right);
    for (int i = 0; i < 3; i++) {
        s->direction[i] -= 2.0 * aside * right[i];
        s->light_mm[i] -= 2.0 * away_aside * right[i];
    }
}

static void move_ball(struct pc_ball_scene *s, double right_px)
{
    double right[3], ahead[3], length = 0.0;
    table_axes(s, right, ahead);
    for (int i = 0; i < 3; i++)
        s->centre_mm[i] += right_px * s->centre_mm[2] / s->image_px * right[i];
    for (int i = 0; i < 3; i++) {
        s->direction[i] = s->light_mm[i] - s->centre_mm[i];
        length += s->direction[i] * s->direction[i];
    }
    for (int i = 0; i < 3; i++)
        s->direction[i] /= sqrt(length);
}

enum { APART_px = 130 };

// What is asked for is drawn into picture, from one scene or two; *s: the polished ball and its light.
static enum pc_status draw_ball(struct pc_ctx *ctx, const char *what, uint64_t seed, struct pc_ball_scene *s,
                                struct pc_picture *picture, struct pc_err *err)
{
    pc_ball_scene_init(s, seed, false);
    struct pc_ball_scene second = *s;
    bool pair = strcmp(what, "pair") == 0, both = strcmp(what, "both") == 0;
    if (strcmp(what, "other") == 0)
        move_light(s);
    if (strcmp(what, "dark") == 0)
        s->exposure /= 16.0;
    if (both)
        move_light(&second);
    if (pair) {
        s->width_px = second.width_px = 720;
        second.matte = true;
        move_ball(s, -APART_px);
        move_ball(&second, APART_px);
    }
    PC_TRY(pc_ball_scene_draw(ctx, s, picture, err));
    if (!pair && !both)
        return PC_OK;
    struct pc_picture more;
    enum pc_status status = pc_ball_scene_draw(ctx, &second, &more, err);
    for (int at = 0; status == PC_OK && at < s->width_px * s->height_px; at++)
        if (both)
            picture->px[at] += more.px[at];
        else if (at % s->width_px >= s->width_px / 2)
            picture->px[at] = more.px[at];
    if (status == PC_OK)
        pc_picture_finish(&more);
    return status;
}

// Each pixel of the measured picture is two by two of the file.
static enum pc_status write_ball(const char *what, const char *path, uint64_t seed, struct pc_err *err)
{
    struct pc_ctx ctx;
    struct pc_ball_scene s;
    struct pc_picture picture;
    pc_ctx_init(&ctx, 1, 0);
    PC_TRY(draw_ball(&ctx, what, seed, &s, &picture, err));
    int w = 2 * s.width_px, h = 2 * s.height_px;
    uint16_t *px = calloc((size_t)w * (size_t)h, sizeof *px);
    PC_ASSERT(px != NULL);
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++)
            px[y * w + x] = (uint16_t)lrint(
                65535.0 * fmin(1.0, fmax(0.0, (double)picture.px[(y / 2) * s.width_px + x / 2])));
    enum pc_status status = pc_write_png16(path, w, h, 1, px, NULL, err);
    double right[3], ahead[3];
    table_axes(&s, right, ahead);
    printf(
        "{\"elevation_deg\": %.3f, \"clock_h\": %.3f, \"width_deg\": %.3f, \"tilt_deg\": %.4f, "
        "\"equivalent_mm\": %.4f, \"ball_mm\": %.3f, \"camera_m\": %.5f, \"x_px\": %.1f, \"y_px\": %.1f}\n",
        DEG * asin(dot(s.direction, s.up)),
        fmod(12.0 + DEG / 30.0 * atan2(dot(s.direction, right), dot(s.direction, ahead)), 12.0),
        DEG * s.wide_rad, DEG * acos(-s.up[2]), 2.0 * s.image_px * 43.266615305567871 / hypot(w, h),
        2.0 * s.radius_mm, 1e-3 * sqrt(dot(s.centre_mm, s.centre_mm)),
        0.5 * w + 2.0 * s.image_px * s.centre_mm[0] / s.centre_mm[2],
        0.5 * h + 2.0 * s.image_px * s.centre_mm[1] / s.centre_mm[2]);
    free(px);
    pc_picture_finish(&picture);
    return status;
}

int main(int argc, char **argv)
{
    struct pc_err err = {0};
    if (argc != 4)
        return 2;
    uint64_t seed = strtoull(argv[3], NULL, 10);
    bool sheet = strcmp(argv[1], "sheet") == 0;
    enum pc_status status = sheet || strcmp(argv[1], "table") == 0 ? write_sheet(argv[2], seed, sheet, &err)
                                                                   : write_ball(argv[1], argv[2], seed, &err);
    if (status != PC_OK)
        fprintf(stderr, "%s: %s\n", err.place, err.text);
    return status == PC_OK ? 0 : 1;
}
