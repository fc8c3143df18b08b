// SPDX-License-Identifier: Apache-2.0
#include "image/camera/noise.h"

#include "base/tolerance.h"
#include "image/picture/meter.h"

static const double ROUNDING_DN2 = 1.0 / 12.0;
static const double PHOTONS_PER_UNIT =
    50.34; // um2 ms um uW/cm2: 1e-20 over Planck's constant and light's speed

double pc_noise_variance_dn2(double gain_dn_per_e, double read_noise_e, double electrons)
{
    return gain_dn_per_e * gain_dn_per_e * (read_noise_e * read_noise_e + electrons) + ROUNDING_DN2;
}

double pc_noise_snr(double gain_dn_per_e, double read_noise_e, double electrons)
{
    double rounding_e2 = gain_dn_per_e > 0 ? ROUNDING_DN2 / (gain_dn_per_e * gain_dn_per_e) : 0.0;
    return electrons / sqrt(read_noise_e * read_noise_e + rounding_e2 + electrons);
}

double pc_noise_range_ev(const struct pc_sensor *sensor)
{
    double gain = sensor->gain_dn_per_e;
    double dark_e2 =
        sensor->read_noise_e * sensor->read_noise_e + (gain > 0 ? ROUNDING_DN2 / (gain * gain) : 0.0);
    return log2(sensor->full_well_e / (sqrt(dark_e2) + 0.5));
}

double pc_noise_photons(double area_um2, double exposure_s, double wavelength_um, double irradiance_uW_cm2)
{
    return PHOTONS_PER_UNIT * area_um2 * 1e3 * exposure_s * wavelength_um * irradiance_uW_cm2;
}

bool pc_noise_sensor_from(const struct pc_noise *noise, int channel, int photosites, double iso,
                          double base_iso, double tolerance_ratio, struct pc_sensor *sensor)
{
    double per_signal = noise->per_signal_var[channel] * photosites;
    double offset = noise->offset_var[channel] * photosites;
    if (!(per_signal > 0 && offset >= 0 && iso > 0 && base_iso > 0))
        return false;
    double full_e = 1.0 / per_signal; // Poisson: var / mean in shares of saturation is one over its electrons
    *sensor = (struct pc_sensor){
        .full_well_e = full_e * iso / base_iso,
        .full_well_e_tolerance = tolerance_ratio * full_e * iso / base_iso,
        .read_noise_e = full_e * sqrt(offset),
        .read_noise_e_tolerance = full_e * sqrt(offset) * tolerance_ratio,
        .base_iso = base_iso,
    };
    return true;
}

enum { LUX, FULL_WELL, READ_NOISE, GIVEN };
enum { LEVEL, ELECTRONS, SNR, ANSWERS };

struct given {
    const struct pc_sensor *sensor;
    const struct pc_noise_grey *grey;
};

static bool answer(const void *given, const double x[], double y[])
{
    const struct given *g = given;
    const struct pc_noise_grey *grey = g->grey;
    double saturating_lx =
        pc_meter_lx(1.0, grey->shutter_s, grey->effective_f, grey->iso, grey->reflectance_ratio);
    y[LEVEL] = x[LUX] / saturating_lx;
    y[ELECTRONS] = y[LEVEL] * x[FULL_WELL] * g->sensor->base_iso / grey->iso;
    if (!(isfinite(y[ELECTRONS]) && y[ELECTRONS] > 0))
        return false;
    y[SNR] = pc_noise_snr(g->sensor->gain_dn_per_e, x[READ_NOISE], y[ELECTRONS]) * sqrt(grey->averaged);
    return true;
}

bool pc_noise_of_grey(const struct pc_sensor *sensor, const struct pc_noise_grey *grey, struct pc_snr *snr)
{
    struct given given = {sensor, grey};
    double x[GIVEN] = {grey->card_lx, sensor->full_well_e, sensor->read_noise_e};
    double x_tolerance[GIVEN] = {grey->card_lx_tolerance, sensor->full_well_e_tolerance,
                                 sensor->read_noise_e_tolerance};
    double y[ANSWERS], tolerance[ANSWERS];
    bool sound = grey->reflectance_ratio > 0 && grey->effective_f > 0 && grey->shutter_s > 0 &&
                 grey->iso > 0 && grey->averaged > 0 && sensor->base_iso > 0;
    if (!sound || !pc_tolerance(answer, &given, GIVEN, x, x_tolerance, ANSWERS, y, tolerance))
        return false;
    bool clipped = y[LEVEL] >= 1.0;
    *snr = (struct pc_snr){
        .level_ratio = y[LEVEL],
        .level_ratio_tolerance = tolerance[LEVEL],
        .electrons = y[ELECTRONS],
        .electrons_tolerance = tolerance[ELECTRONS],
        .snr = clipped ? 0.0 : y[SNR],
        .snr_tolerance = clipped ? 0.0 : tolerance[SNR],
    };
    return true;
}
