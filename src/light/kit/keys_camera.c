// SPDX-License-Identifier: Apache-2.0
// The keys of cameras and lenses. base/keys.h tells how to add one.
#include "light/kit/class.h"
#include "light/kit/kit_priv.h"
#include "light/kit/within_priv.h"

static const char *check_lens(const void *object)
{
    const struct pc_lens *lens = object;
    if (isnan(lens->focal_mm) && isnan(lens->equivalent_mm))
        return "This lens has no focal length; give \"focal_mm\", or \"equivalent_mm\" as phones state it.";
    if (!isnan(lens->focal_mm) && !isnan(lens->equivalent_mm))
        return "Give either \"focal_mm\" or \"equivalent_mm\"; each follows from the other by the sensor's "
               "size.";
    if (lens->widest_f > lens->narrowest_f)
        return "\"widest_f\" is the smaller f-number of the two; change them about.";
    return NULL;
}

static const struct pc_key lens_rows[] = {
    {.key = "name", TEXT(struct pc_lens, name), .or_else = "lens 1, lens 2, ...", .help = "what you call it"},
    {.key = "focal_mm",
     FIGURE(struct pc_lens, focal_mm),
     .unit = "mm",
     .least = 1,
     .most = 1200,
     .within_pct = MARKED_FOCAL_PCT,
     .or_else = "from equivalent_mm",
     .help = "focal length, as marked"},
    {.key = "equivalent_mm",
     NUMBER(struct pc_lens, equivalent_mm),
     .unit = "mm",
     .least = 5,
     .most = 2000,
     .or_else = "from focal_mm",
     .help = "focal length as it would be on 36 x 24 mm, by diagonal, as phones state it"},
    {.key = "pupil_ratio",
     FIGURE(struct pc_lens, pupil_ratio),
     .least = 0.2,
     .most = 5,
     .within = 0.05,
     .otherwise = "1",
     .otherwise_within = 0.4,
     .help = "diameter of the bright disc seen from behind, over the one seen from the front"},
    {.key = "widest_f",
     NUMBER(struct pc_lens, widest_f),
     .least = 0.7,
     .most = 32,
     .otherwise = "2.8",
     .help = "smallest f-number"},
    {.key = "narrowest_f",
     NUMBER(struct pc_lens, narrowest_f),
     .least = 0.7,
     .most = 128,
     .otherwise = "22",
     .help = "largest f-number"},
    {.key = "nearest_m",
     NUMBER(struct pc_lens, nearest_m),
     .unit = "m",
     .least = 0.02,
     .most = 20,
     .help = "nearest it focuses, from subject to sensor"},
    {.key = "front_cm",
     NUMBER(struct pc_lens, front_m),
     .unit = "cm",
     .si_per_unit = 0.01,
     .least = 0.3,
     .most = 100,
     .help = "from the sensor to the front rim, the lens focused near"},
};

static const struct pc_keys lens_keys = {
    "lens", sizeof(struct pc_lens), lens_rows, PC_COUNT(lens_rows), "name", check_lens};

static const char *check_camera(const void *object)
{
    const struct pc_camera *camera = object;
    if (camera->sensor_mm[0] < camera->sensor_mm[1])
        return "\"sensor_mm\" has its longer side first; change them about.";
    if (camera->pixels[0] < camera->pixels[1])
        return "\"pixels\" has the longer side first; change them about.";
    return NULL;
}

static const struct pc_key camera_rows[] = {
    {.key = "name",
     TEXT(struct pc_camera, name),
     .or_else = "camera 1, camera 2, ...",
     .help = "what you call it"},
    {.key = "class",
     ONE_OF(struct pc_camera, camera_class),
     .names = pc_camera_class_names,
     .or_else = "the nearest by sensor_mm, or \"full frame\"",
     .help = "what kind it is; fills in what is left out below"},
    {.key = "sensor_mm",
     PAIR(struct pc_camera, sensor_mm),
     .unit = "mm",
     .least = 2,
     .most = 120,
     .within = 0.1,
     .or_else = "as its class",
     .help = "sensor, longer side first"},
    {.key = "pixels",
     PAIR(struct pc_camera, pixels),
     .least = 100,
     .most = 60000,
     .or_else = "as its class",
     .help = "pixels of a frame, longer side first"},
    {.key = "sync_s",
     NUMBER(struct pc_camera, sync_s),
     .unit = "s",
     .least = 0,
     .most = 1,
     .or_else = "as its class",
     .help = "shortest shutter that works with flash; 0: any"},
    {.key = "readout_s",
     FIGURE(struct pc_camera, readout_s),
     .unit = "s",
     .least = 1e-5,
     .most = 1,
     .within_pct = 20,
     .or_else = "as its class",
     .help = "time from the first row to the last, electronic shutter"},
    {.key = "full_well_e",
     FIGURE(struct pc_camera, full_well_e),
     .unit = "electrons",
     .least = 500,
     .most = 1e6,
     .within_pct = 10,
     .or_else = "as its class",
     .help = "what a pixel holds at base_iso"},
    {.key = "read_noise_e",
     FIGURE(struct pc_camera, read_noise_e),
     .unit = "electrons",
     .least = 0.1,
     .most = 100,
     .within_pct = 20,
     .or_else = "as its class",
     .help = "noise of a pixel in the dark"},
    {.key = "base_iso",
     NUMBER(struct pc_camera, base_iso),
     .least = 6,
     .most = 3200,
     .otherwise = "100",
     .help = "lowest ISO that is not made in software"},
    {.key = "noisy_iso",
     NUMBER(struct pc_camera, noisy_iso),
     .least = 6,
     .most = 1e7,
     .help = "ISO from which you find it too noisy"},
    {.key = "above_sensor_m",
     FIGURE(struct pc_camera, above_sensor_m),
     .unit = "m",
     .least = 0.01,
     .most = 1,
     .within = 0.02,
     .or_else = "as its class",
     .help = "what body and arm need above the sensor when it looks straight down"},
    {.key = "mass_kg",
     FIGURE(struct pc_camera, mass_kg),
     .unit = "kg",
     .least = 0.05,
     .most = 20,
     .within = 0.1,
     .or_else = "as its class",
     .help = "with its lens"},
    {.key = "lenses",
     LIST(struct pc_camera, lenses, lens_count),
     .most = 16,
     .table = &lens_keys,
     .help = "what it can look through"},
};

const struct pc_keys pc_camera_keys = {
    "camera", sizeof(struct pc_camera), camera_rows, PC_COUNT(camera_rows), "name", check_camera};
