// SPDX-License-Identifier: Apache-2.0
// Pictures of a job, made when first asked for and kept.
#include "front/answer/desk_priv.h"

#include <unistd.h>

#include "front/answer/part_files.h"
#include "front/answer/view.h"
#include "light/parts/show.h"

enum { USUAL_WIDTH_PX = 1440 };

struct pc_json *pc_desk_parts(struct pc_desk *desk, const char *before)
{
    struct pc_desk_answer *answer;
    char sentence[900], after[64];
    enum pc_desk_state state = pc_desk_now(desk, &answer, sentence);
    if (answer != NULL && answer->set->measured->hand_held) {
        state = PC_DESK_REFUSED;
        snprintf(sentence, sizeof sentence,
                 "A set taken from the hand gives no pictures; take it with the camera locked off.");
    }
    struct pc_json *o;
    if (state == PC_DESK_READY && answer != NULL) {
        snprintf(after, sizeof after, ".f16?of=%.*s", PC_DESK_KEY_LETTERS, answer->set->key);
        o = pc_part_files_json(&answer->weighed, PC_PART_FILES_WIDTH_PX, before, after);
        pc_json_put_text(o, "state", "ready");
    } else {
        o = pc_desk_state_json(desk, state, sentence);
    }
    pc_desk_let_go(desk, answer);
    return o;
}

enum pc_status pc_desk_part_path(struct pc_desk *desk, struct pc_arena *arena, const char *of, int64_t n,
                                 char **path, struct pc_err *err)
{
    char name[64] = "";
    int count = 0;
    pthread_mutex_lock(&desk->lock);
    if (desk->set != NULL) {
        snprintf(name, sizeof name, "parts-%.*s", PC_DESK_KEY_LETTERS, desk->set->key);
        count = pc_part_files_count(desk->set->measured);
    }
    pthread_mutex_unlock(&desk->lock);
    if (n < 0 || n >= count || (of != NULL && strcmp(of, name + strlen("parts-")) != 0))
        return pc_fail(err, PC_NOT_FOUND, "parts", "There are other parts by now; ask for them again.");
    *path = pc_part_files_path(arena, pc_desk_made(desk, arena), name, (int)n);
    return PC_OK;
}

// The white of all the light on the hero, where a grey card was read and the frame is none of the set's own:
// those show one light each, and have the white the camera was set for.
static bool card_white(struct pc_desk *desk, const char *frame_path, double white_xyz[3])
{
    white_xyz[0] = NAN;
    pthread_mutex_lock(&desk->lock);
    const struct pc_desk_answer *answer = desk->answer;
    if (answer != NULL && answer->set->measured->greycard != PC_NO_PLACE) {
        bool of_set = false;
        for (int i = 0; i < answer->asked->asked.path_count; i++)
            of_set = of_set || strcmp(answer->asked->asked.paths[i], frame_path) == 0;
        if (!of_set)
            pc_show_white(&answer->set->measured->reading, &answer->weighed.dials, PC_PLACE_HERO, white_xyz);
    }
    pthread_mutex_unlock(&desk->lock);
    return !isnan(white_xyz[0]) && white_xyz[1] > 0.0;
}

struct picture {
    const char *frame, *frame_path;
    char prefix[96]; // of the names of all pictures of that kind
    bool has_white;
    double white_xyz[3];
    int size_px;
    double x_ratio, y_ratio; // NAN: the whole frame
};

static enum pc_status make(struct pc_desk *desk, const struct picture *p, const char *path,
                           struct pc_err *err)
{
    const double *white_xyz = p->has_white ? p->white_xyz : NULL;
    if (desk->view_reader == NULL)
        PC_TRY(pc_photo_reader_create(&desk->view_ctx, NULL, &desk->view_reader, err));
    if (isnan(p->x_ratio))
        return pc_view_write(&desk->view_ctx, desk->view_reader, p->frame_path, white_xyz, p->size_px, path,
                             err);
    return pc_view_write_cut(&desk->view_ctx, desk->view_reader, p->frame_path, white_xyz, p->x_ratio,
                             p->y_ratio, p->size_px, path, err);
}

static enum pc_status find_or_make(struct pc_desk *desk, struct pc_arena *arena, struct picture *p,
                                   char **path, struct pc_err *err)
{
    char key[PC_DIGEST_HEX_BYTES];
    double scale = p->has_white ? p->white_xyz[1] : 1.0;
    const char *depends =
        pc_arena_printf(arena, "%.4f %.4f %.5f %.5f", p->has_white ? p->white_xyz[0] / scale : 0.0,
                        p->has_white ? p->white_xyz[2] / scale : 0.0, p->x_ratio, p->y_ratio);
    pc_digest_of_bytes(depends, strlen(depends), key);
    const char *name = pc_arena_printf(arena, "%s%.*s.jpg", p->prefix, PC_DESK_KEY_LETTERS, key);
    *path = pc_arena_printf(arena, "%s/%s", pc_desk_made(desk, arena), name);
    if (access(*path, R_OK) == 0)
        return PC_OK;
    enum pc_status status = PC_OK;
    pthread_mutex_lock(&desk->view_lock);
    if (access(*path, R_OK) != 0) { // else somebody made it while this one waited
        status = make(desk, p, *path, err);
        if (status == PC_OK)
            pc_desk_prune(desk, p->prefix, name);
    }
    pthread_mutex_unlock(&desk->view_lock);
    return status;
}

enum pc_status pc_desk_view(struct pc_desk *desk, struct pc_arena *arena, const char *frame, int64_t width_px,
                            char **path, struct pc_err *err)
{
    struct picture p = {.frame = frame, .x_ratio = NAN, .y_ratio = NAN};
    char *frame_path;
    PC_TRY(pc_job_frame_path(desk->job, arena, frame, &frame_path, err));
    p.frame_path = frame_path;
    p.size_px = pc_view_width(width_px > 0 ? width_px : USUAL_WIDTH_PX);
    p.has_white = card_white(desk, frame_path, p.white_xyz);
    snprintf(p.prefix, sizeof p.prefix, "view-%.24s-%d-", frame, p.size_px);
    return find_or_make(desk, arena, &p, path, err);
}

static double member(const struct pc_json *object, const char *key)
{
    double value;
    return pc_json_number(pc_json_get(object, key), &value) ? value : (double)NAN;
}

enum pc_status pc_desk_hero(struct pc_desk *desk, struct pc_arena *arena, const char *frame, int64_t side_px,
                            char **path, struct pc_err *err)
{
    struct picture p = {.frame = frame};
    char *frame_path;
    struct pc_json *touch;
    PC_TRY(pc_job_frame_path(desk->job, arena, frame, &frame_path, err));
    PC_TRY(pc_job_now_of(desk->job, "touch", "hero", &touch, err));
    p.x_ratio = member(touch, "x_ratio");
    p.y_ratio = member(touch, "y_ratio");
    pc_json_destroy(touch);
    if (isnan(p.x_ratio) || isnan(p.y_ratio))
        return pc_fail(err, PC_NOT_FOUND, "hero", "Touch the hero in the picture.");
    p.frame_path = frame_path;
    p.size_px = side_px <= 0                     ? PC_VIEW_CUT_PX
                : side_px < PC_VIEW_CUT_LEAST_PX ? PC_VIEW_CUT_LEAST_PX
                : side_px > PC_VIEW_WIDEST_PX    ? PC_VIEW_WIDEST_PX
                                                 : (int)(side_px + 79) / 80 * 80;
    p.has_white = card_white(desk, frame_path, p.white_xyz);
    snprintf(p.prefix, sizeof p.prefix, "hero-%.24s-%d-", frame, p.size_px);
    return find_or_make(desk, arena, &p, path, err);
}

enum pc_status pc_desk_residual(struct pc_desk *desk, struct pc_arena *arena, char **path, struct pc_err *err)
{
    struct pc_desk_answer *answer;
    char sentence[900];
    pc_desk_now(desk, &answer, sentence);
    bool closed = answer != NULL && answer->weighed.closed;
    if (closed)
        *path = pc_arena_printf(arena, "%s/residual-%.*s.jpg", pc_desk_made(desk, arena), PC_DESK_KEY_LETTERS,
                                answer->asked->key);
    pc_desk_let_go(desk, answer);
    return closed ? PC_OK
                  : pc_fail(err, PC_NOT_FOUND, "residual",
                            "There is no closing frame yet: set the dials, take one more frame, and call it "
                            "closing.");
}
