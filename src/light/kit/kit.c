// SPDX-License-Identifier: Apache-2.0
#include "light/kit/kit.h"

#include "light/kit/class.h"

enum { FULL_FRAME = 1 };

static void fill(double *field, double *tolerance, double value, double value_tolerance)
{
    if (!isnan(*field))
        return;
    *field = value;
    *tolerance = value_tolerance;
}

static void fill_pixels(struct pc_camera *camera, const struct pc_camera_class *like)
{
    if (!isnan(camera->pixels[0]))
        return;
    memcpy(camera->pixels, like->pixels, sizeof camera->pixels);
    camera->pixels_tolerance = like->pixels[0] * like->pixels_tolerance_pct / 100;
}

// Equivalent focal lengths go by the diagonal, of 36 x 24 mm and of the sensor.
static void fill_lens(struct pc_lens *lens, const struct pc_camera *camera)
{
    if (!isnan(lens->focal_mm))
        return;
    double diagonal_mm = hypot(camera->sensor_mm[0], camera->sensor_mm[1]);
    lens->focal_mm = lens->equivalent_mm * diagonal_mm / hypot(36.0, 24.0);
    // The angle that the equivalent states is known as marked; the sensor's own size cancels out of framing.
    lens->focal_mm_tolerance = 0.03 * lens->focal_mm;
}

static void fill_camera(struct pc_camera *camera)
{
    if (camera->camera_class < 0)
        camera->camera_class =
            isnan(camera->sensor_mm[0]) ? FULL_FRAME : pc_camera_class_nearest(camera->sensor_mm);
    const struct pc_camera_class *like = &pc_camera_classes[camera->camera_class];
    if (isnan(camera->sensor_mm[0])) {
        memcpy(camera->sensor_mm, like->sensor_mm, sizeof camera->sensor_mm);
        camera->sensor_mm_tolerance = like->sensor_mm_tolerance;
    }
    fill_pixels(camera, like);
    if (isnan(camera->sync_s))
        camera->sync_s = like->sync_s;
    fill(&camera->readout_s, &camera->readout_s_tolerance, like->readout_s, like->readout_s_tolerance);
    fill(&camera->full_well_e, &camera->full_well_e_tolerance, like->full_well_e,
         like->full_well_e_tolerance);
    fill(&camera->read_noise_e, &camera->read_noise_e_tolerance, like->read_noise_e,
         like->read_noise_e_tolerance);
    fill(&camera->above_sensor_m, &camera->above_sensor_m_tolerance, like->above_sensor_m,
         like->above_sensor_m_tolerance);
    fill(&camera->mass_kg, &camera->mass_kg_tolerance, like->mass_kg, like->mass_kg_tolerance);
    for (size_t i = 0; i < camera->lens_count; i++)
        fill_lens(&camera->lenses[i], camera);
}

static void fill_lamp(struct pc_lamp *lamp)
{
    const struct pc_lamp_class *like = &pc_lamp_classes[lamp->lamp_class];
    if (isnan(lamp->kelvin_K[0]))
        memcpy(lamp->kelvin_K, like->kelvin_K, sizeof lamp->kelvin_K);
    double pct = hypot(like->lx_m2_per_W_tolerance / like->lx_m2_per_W,
                       lamp->power_W > 0 ? lamp->power_W_tolerance / lamp->power_W : 0.0);
    double lx = like->lx_m2_per_W * lamp->power_W;
    fill(&lamp->at_1m_lx, &lamp->at_1m_lx_tolerance, lx, lx * pct);
}

static void fill_kit(struct pc_kit *kit)
{
    for (size_t i = 0; i < kit->camera_count; i++)
        fill_camera(&kit->cameras[i]);
    for (size_t i = 0; i < kit->lamp_count; i++)
        fill_lamp(&kit->lamps[i]);
}

enum pc_status pc_kit_read(struct pc_arena *arena, const char *path, struct pc_kit *kit, struct pc_err *err)
{
    PC_TRY(pc_keys_read_file(arena, &pc_kit_keys, path, kit, err));
    fill_kit(kit);
    return PC_OK;
}

enum pc_status pc_kit_read_text(struct pc_arena *arena, const char *text, size_t count, const char *place,
                                struct pc_kit *kit, struct pc_err *err)
{
    PC_TRY(pc_keys_read(arena, &pc_kit_keys, text, count, place, kit, err));
    fill_kit(kit);
    return PC_OK;
}

const struct pc_camera *pc_kit_camera(const struct pc_kit *kit, const char *name)
{
    for (size_t i = 0; i < kit->camera_count; i++)
        if (strcmp(kit->cameras[i].name, name) == 0)
            return &kit->cameras[i];
    return NULL;
}

const struct pc_lamp *pc_kit_lamp(const struct pc_kit *kit, const char *name)
{
    for (size_t i = 0; i < kit->lamp_count; i++)
        if (strcmp(kit->lamps[i].name, name) == 0)
            return &kit->lamps[i];
    return NULL;
}
