// SPDX-License-Identifier: Apache-2.0
// make-bands FILE DEPTH_PCT BANDS SHUTTER_UNDER [cloth]: a raw frame of a plain grey card (or of a checked
// cloth) under a lamp that leaves so many bands, so deep, from its first row to its last. 480 x 360
// photosites, black 512, 15872 clips; mid grey at 1/8. Noise is drawn from a fixed seed, a step of 24 in
// standard deviation.
#include "image/photo/write.h"

enum { WIDTH = 480, HEIGHT = 360, BLACK = 512, RANGE = 15360 };

static const double PI = 3.14159265358979323846;

// splitmix64 (Steele, Lea, Flood, OOPSLA 2014), twelve of them added up: near enough to normal.
static double noise(uint64_t *state)
{
    double sum = -6.0;
    for (int i = 0; i < 12; i++) {
        uint64_t z = (*state += 0x9e3779b97f4a7c15u);
        z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
        z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
        sum += (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
    }
    return sum;
}

static void expose(uint16_t *px, double depth, double bands, bool cloth)
{
    uint64_t state = 7;
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 0; x < WIDTH; x++) {
            double light = 1.0 + depth * sin(2.0 * PI * bands * y / HEIGHT + 1.0);
            double reflects = cloth ? 1.0 + 0.3 * sin(x * 0.41 + y * 0.02) * sin(y * 0.37 - x * 0.02) : 1.0;
            double level = RANGE / 8.0 * light * reflects + 24.0 * noise(&state);
            px[y * WIDTH + x] = (uint16_t)(BLACK + fmin(fmax(level, 0.0), RANGE));
        }
}

int main(int argc, char **argv)
{
    static uint16_t px[WIDTH * HEIGHT];
    struct pc_err err = {0};
    if (argc == 5 || argc == 6) {
        double shutter_s = 1.0 / strtod(argv[4], NULL);
        expose(px, strtod(argv[2], NULL) / 100, strtod(argv[3], NULL), argc == 6);
        struct pc_dng dng = {
            .width_px = WIDTH,
            .height_px = HEIGHT,
            .px = px,
            .cfa = "RGGB",
            .black_dn = {BLACK, BLACK, BLACK, BLACK},
            .white_dn = BLACK + RANGE,
            .camera_from_xyz = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
            .neutral_ratio = {1, 1, 1},
            .facts = {.shutter_s = shutter_s,
                      .shutter_apex_s = NAN,
                      .fnumber = 8,
                      .iso = 100,
                      .focal_mm = 50,
                      .focal_35mm_mm = NAN,
                      .time_s = NAN,
                      .utc_offset_s = NAN,
                      .orientation = 1,
                      .flash_fired = 0,
                      .maker = "Pot",
                      .model = "One",
                      .serial = "7",
                      .lens = "50 mm"},
        };
        if (pc_write_dng(argv[1], &dng, &err) == PC_OK)
            return 0;
    }
    fprintf(stderr, "make-bands: %s\n",
            err.text[0] != '\0' ? err.text : "make-bands FILE DEPTH_PCT BANDS SHUTTER_UNDER [cloth]");
    return 1;
}
