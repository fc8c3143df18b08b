// SPDX-License-Identifier: Apache-2.0
// Weighing six parts (the ambient and five lights) of 1.5 megapixels into a new picture on one thread,
// against a plain copy of the parts' bytes. The two take turns, and the median of the ratios counts.
#include "bench.h"
#include "light/parts/parts.h"

enum { LIGHTS = 5, PARTS = LIGHTS + 1, WIDTH_PX = 1500, HEIGHT_PX = 1000, ROUNDS = 41 };
enum { MASK_BYTES = WIDTH_PX * HEIGHT_PX, PIXELS_BYTES = 3 * sizeof(float) * MASK_BYTES };
static const double LIMIT_RATIO = 0.7;

static enum pc_status make_part(struct pc_ctx *ctx, struct pc_picture *picture, int k, struct pc_err *err)
{
    PC_TRY(pc_picture_init(ctx, picture, WIDTH_PX, HEIGHT_PX, 3, err));
    picture->bin = 2;
    picture->full_width_px = 2 * WIDTH_PX;
    picture->full_height_px = 2 * HEIGHT_PX;
    for (size_t i = 0; i < 3u * WIDTH_PX * HEIGHT_PX; i++)
        picture->px[i] = (float)((i * 7 + (size_t)k * 13) % 1024) / 1024.0F;
    return PC_OK;
}

static enum pc_status make_parts(struct pc_ctx *ctx, struct pc_parts *parts, struct pc_reading *reading,
                                 struct pc_err *err)
{
    PC_TRY(make_part(ctx, &parts->ambient, LIGHTS, err));
    for (int k = 0; k < LIGHTS; k++) {
        parts->part_count++;
        parts->part[k] = (struct pc_part){.light = k, .dial_ratio = 1.0, .kelvin_K = NAN};
        PC_TRY(make_part(ctx, &parts->part[k].picture, k, err));
        reading->light[k] = (struct pc_reading_light){.emitter_count = 1,
                                                      .emitter = {k},
                                                      .curve = pc_curve_straight(),
                                                      .dial_ratio = 1.0,
                                                      .kelvin_K = NAN};
        reading->emitter[k].light = k;
    }
    reading->light_count = reading->emitter_count = parts->series.light_count = LIGHTS;
    return PC_OK;
}

static void copy_parts(const struct pc_parts *parts, char *to)
{
    for (int k = 0; k < PARTS; k++) {
        const struct pc_picture *p = k < LIGHTS ? &parts->part[k].picture : &parts->ambient;
        memcpy(to, p->px, PIXELS_BYTES);
        memcpy(to + PIXELS_BYTES, p->clipped, MASK_BYTES);
        to += PIXELS_BYTES + MASK_BYTES;
    }
}

int main(void)
{
    struct pc_err err = {0};
    struct pc_ctx ctx;
    struct pc_parts *parts = calloc(1, sizeof *parts);
    struct pc_reading *reading = calloc(1, sizeof *reading);
    double ratio[ROUNDS], copy_s[ROUNDS], weigh_s[ROUNDS], weights[LIGHTS] = {0.31, 0.62, 0.93, 0.24, 0.55};
    pc_ctx_init(&ctx, 1, 0);
    PC_ASSERT(parts != NULL && reading != NULL);
    if (make_parts(&ctx, parts, reading, &err) != PC_OK)
        bench_fail(&err);
    char *copy = calloc(PARTS, PIXELS_BYTES + MASK_BYTES);
    PC_ASSERT(copy != NULL);
    copy_parts(parts, copy); // its pages are there before the clock runs
    float check = 0.0F;
    for (int i = 0; i < ROUNDS; i++) {
        struct pc_picture out;
        double t0_s = bench_cpu_s();
        copy_parts(parts, copy);
        double t1_s = bench_cpu_s();
        if (pc_parts_weigh(&ctx, parts, reading, weights, 0.8, &out, &err) != PC_OK)
            bench_fail(&err);
        double t2_s = bench_cpu_s();
        check += out.px[(size_t)i * 997] + (float)copy[(size_t)i * 991];
        pc_picture_finish(&out);
        copy_s[i] = t1_s - t0_s;
        weigh_s[i] = t2_s - t1_s;
        ratio[i] = weigh_s[i] / copy_s[i];
    }
    fprintf(stderr, "weighing %.1f ms, copying %.1f ms (%g)\n", 1e3 * bench_median(weigh_s, ROUNDS),
            1e3 * bench_median(copy_s, ROUNDS), (double)check);
    bench_print("weigh", bench_median(ratio, ROUNDS), LIMIT_RATIO, "ratio");
    free(copy);
    pc_parts_finish(parts);
    free(parts);
    free(reading);
    return 0;
}
