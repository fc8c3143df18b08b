// SPDX-License-Identifier: Apache-2.0
// make-frame FILE [untold]: a small frame whose every level is known, for the tests of the command line. A
// raw frame; or, where FILE ends so, the same numbers as a grey .png or .jpg. untold: it does not say how it
// was exposed.
//
// 320 x 240 pixels, black 512, clips at 15872 (15360 above it). The left half is a card at 1/4 of that in
// green, 1/8 in red, 1/16 in blue (2, 3 and 4 stops under clipping); the right half is 1/32 in each; a
// clipped square of 32 x 32 pixels stands in the right half's top left corner: 1024 of 76800 pixels, 4/3 %.
// Each level is dithered by one step up and down in a checker of 4 x 4 pixels, so that the frame has a
// scatter that is known as well. Exposure 1/60 by name, 1/64 in truth, f/8, ISO 100.
#include "image/photo/write.h"

enum { WIDTH = 320, HEIGHT = 240, BLACK = 512, RANGE = 15360, SQUARE = 32 };

static uint16_t level_at(int x, int y)
{
    bool right = x >= WIDTH / 2;
    if (right && x < WIDTH / 2 + SQUARE && y < SQUARE)
        return BLACK + RANGE;
    int divisor = right ? 32 : x % 2 != y % 2 ? 4 : y % 2 == 0 ? 8 : 16; // RGGB
    int dither = (x / 2 + y / 2) % 2 == 0 ? 4 : -4;
    return (uint16_t)(BLACK + RANGE / divisor + dither);
}

static bool ends_with(const char *text, const char *end)
{
    size_t n = strlen(text), m = strlen(end);
    return n >= m && strcmp(text + n - m, end) == 0;
}

static enum pc_status write_frame(const char *path, bool untold, struct pc_err *err)
{
    static uint16_t px[WIDTH * HEIGHT];
    static uint8_t px8[WIDTH * HEIGHT];
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 0; x < WIDTH; x++) {
            px[y * WIDTH + x] = level_at(x, y);
            px8[y * WIDTH + x] = (uint8_t)(level_at(x, y) >> 6);
        }
    if (ends_with(path, ".png"))
        return pc_write_png16(path, WIDTH, HEIGHT, 1, px, NULL, err);
    if (ends_with(path, ".jpg"))
        return pc_write_jpeg(path, WIDTH, HEIGHT, 1, px8, 90, NULL, err);
    struct pc_dng dng = {
        .width_px = WIDTH,
        .height_px = HEIGHT,
        .px = px,
        .cfa = "RGGB",
        .black_dn = {BLACK, BLACK, BLACK, BLACK},
        .white_dn = BLACK + RANGE,
        .camera_from_xyz = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
        .neutral_ratio = {0.5, 1, 0.25},
        .facts = {.shutter_s = 1.0 / 60,
                  .shutter_apex_s = 1.0 / 64,
                  .fnumber = 8,
                  .iso = 100,
                  .focal_mm = 50,
                  .focal_35mm_mm = 75,
                  .time_s = 1e9 + 0.25,
                  .utc_offset_s = 7200,
                  .orientation = 1,
                  .flash_fired = 0,
                  .maker = "Pot",
                  .model = "One",
                  .serial = "7",
                  .lens = "50 mm"},
    };
    if (untold)
        dng.facts.shutter_s = dng.facts.shutter_apex_s = dng.facts.fnumber = dng.facts.iso = NAN;
    return pc_write_dng(path, &dng, err);
}

int main(int argc, char **argv)
{
    struct pc_err err = {0};
    bool untold = argc == 3 && strcmp(argv[2], "untold") == 0;
    if ((argc == 2 || untold) && write_frame(argv[1], untold, &err) == PC_OK)
        return 0;
    fprintf(stderr, "make-frame: %s\n", err.text[0] != '\0' ? err.text : "make-frame FILE [untold]");
    return 1;
}
