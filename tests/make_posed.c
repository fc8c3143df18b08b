// SPDX-License-Identifier: Apache-2.0
// make-posed sheet|table|ball FILE SEED: a frame of an A4 sheet on a table (a telephone's JPEG), of a table
// without one, or of a polished ball under one light (a PNG of linear light). Prints the truth as JSON.
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
    struct sim_sheet s;
    struct pc_picture picture;
    pc_ctx_init(&ctx, 1, 0);
    sim_sheet_init(&s, seed, 1, 0.0, 60.0, there);
    PC_TRY(sim_sheet_draw(&ctx, &s, &picture, err));
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

static enum pc_status write_ball(const char *path, uint64_t seed, struct pc_err *err)
{
    struct pc_ctx ctx;
    struct sim_ball s;
    struct pc_picture picture;
    pc_ctx_init(&ctx, 1, 0);
    sim_ball_init(&s, seed, false);
    PC_TRY(sim_ball_draw(&ctx, &s, &picture, err));
    int w = 2 * s.width_px, h = 2 * s.height_px;
    uint16_t *px = calloc((size_t)w * (size_t)h, sizeof *px);
    PC_ASSERT(px != NULL);
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++)
            px[y * w + x] = (uint16_t)lrint(
                65535.0 * fmin(1.0, fmax(0.0, (double)picture.px[(y / 2) * s.width_px + x / 2])));
    enum pc_status status = pc_write_png16(path, w, h, 1, px, NULL, err);
    double high = 0.0, away = 0.0;
    for (int i = 0; i < 3; i++) {
        high += s.direction[i] * s.up[i];
        away += s.centre_mm[i] * s.centre_mm[i];
    }
    printf("{\"elevation_deg\": %.3f, \"width_deg\": %.3f, \"tilt_deg\": %.4f, \"equivalent_mm\": %.4f, "
           "\"ball_mm\": %.3f, "
           "\"camera_m\": %.5f, \"x_px\": %.1f, \"y_px\": %.1f}\n",
           DEG * asin(high), DEG * s.wide_rad, DEG * acos(-s.up[2]),
           2.0 * s.image_px * 43.266615305567871 / hypot(w, h), 2.0 * s.radius_mm, 1e-3 * sqrt(away),
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
    enum pc_status status = strcmp(argv[1], "ball") == 0
                                ? write_ball(argv[2], seed, &err)
                                : write_sheet(argv[2], seed, strcmp(argv[1], "sheet") == 0, &err);
    if (status != PC_OK)
        fprintf(stderr, "%s: %s\n", err.place, err.text);
    return status == PC_OK ? 0 : 1;
}
