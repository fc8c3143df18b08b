// SPDX-License-Identifier: Apache-2.0
// How noisy a sensor is, by its full well and read noise, and what that makes of a grey in a given light.
// Pure; safe from any thread.
//
// The linear camera of EMVA 1288 (release 4.0 Linear, ch. 2): electrons arrive one by one (Poisson), reading
// adds noise of its own, writing whole numbers adds 1/12. Pixels that differ from each other (its chapter on
// nonuniformity) are not counted, so that very bright greys come out up to a few per cent too good.
#ifndef PC_IMAGE_CAMERA_NOISE_H
#define PC_IMAGE_CAMERA_NOISE_H

#include "image/picture/picture.h"

// One photosite.
struct pc_sensor {
    double full_well_e, full_well_e_tolerance; // at base_iso, where the file saturates
    double read_noise_e, read_noise_e_tolerance;
    double gain_dn_per_e; // 0: rounding to whole numbers is not counted
    double base_iso;
};

// Variance of a level, in the file's numbers, from the mean count of electrons.
double pc_noise_variance_dn2(double gain_dn_per_e, double read_noise_e, double electrons);
// Signal over noise of one photosite.
double pc_noise_snr(double gain_dn_per_e, double read_noise_e, double electrons);
// From saturation to where signal and noise are equal (EMVA 1288: half an electron more than the noise), in
// stops.
double pc_noise_range_ev(const struct pc_sensor *sensor);

// Photons that fall on a square micrometre for each lx s, for light of a kind: integrals of spectrum over
// photon energy, over 683 lm/W times the spectrum's luminous part.
#define PC_NOISE_PHOTONS_DAYLIGHT 10884.5 // D65, 400 to 700 nm
#define PC_NOISE_PHOTONS_TUNGSTEN 12045.5 // standard illuminant A, 400 to 700 nm
#define PC_NOISE_PHOTONS_GREEN    4090.7  // 555 nm alone
// The same from irradiance at one wavelength, for a pixel of area_um2 (EMVA 1288, eq. 4).
double pc_noise_photons(double area_um2, double exposure_s, double wavelength_um, double irradiance_uW_cm2);

// What a frame's own noise says of the sensor. noise: of one channel of a raw frame read for measuring, in
// which each pixel is the mean of so many photosites (2 in the green of a 2 x 2 filter); iso: it was taken
// at. tolerance_ratio: of the variance, 0.15 from a pair of frames, up to 1 from one. False when nothing is
// known.
bool pc_noise_sensor_from(const struct pc_noise *noise, int channel, int photosites, double iso,
                          double base_iso, double tolerance_ratio, struct pc_sensor *sensor);

// A grey card in the light of a table, photographed.
struct pc_noise_grey {
    double card_lx, card_lx_tolerance;
    double reflectance_ratio;
    double effective_f; // near focus larger than what the ring says
    double shutter_s, iso;
    double averaged; // photosites that go into one pixel of the output; 1: the sensor's own
};

struct pc_snr {
    double level_ratio, level_ratio_tolerance; // of saturation; above 1 it is clipped
    double electrons, electrons_tolerance;     // in one photosite
    double snr, snr_tolerance;                 // in one pixel of the output; 0 when clipped
};

// ISO 12232: 40 is excellent, 10 is acceptable.
#define PC_NOISE_SNR_EXCELLENT  40.0
#define PC_NOISE_SNR_ACCEPTABLE 10.0

// The grey's level by image/picture/meter.h turned round; its electrons as that share of the full well, which
// is base_iso / iso of itself at another ISO. False when a number is not positive.
bool pc_noise_of_grey(const struct pc_sensor *sensor, const struct pc_noise_grey *grey, struct pc_snr *snr);

#endif
