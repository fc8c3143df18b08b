// SPDX-License-Identifier: Apache-2.0
// Light, f-number, shutter and ISO: the standards' relations between them, and the marks on a camera's dials
// with what they stand for. Pure; safe from any thread.
#ifndef PC_IMAGE_CAMERA_EXPOSE_H
#define PC_IMAGE_CAMERA_EXPOSE_H

#include "base/err.h"

// ISO 2720:1974. N^2 / t = L S / K and N^2 / t = E S / C. The standard leaves makers of meters K from 10.6 to
// 13.4 cd/m2 and C from 240 to 400 lx; these are the common choices. With a reflectance of pi K / C = 15.7 %
// both say the same.
#define PC_EXPOSE_K_CD_M2 12.5
#define PC_EXPOSE_C_LX    250.0
// What that freedom, a lens's transmission and a sensor's rating leave of any exposure foretold from lux.
#define PC_EXPOSE_TOLERANCE_EV 0.3

// Exposure value brought to ISO 100: log2(N^2 / t) - log2(S / 100).
double pc_expose_ev100(double fnumber, double shutter_s, double iso);
double pc_expose_cd_m2_from_ev100(double ev100);
double pc_expose_lx_from_ev100(double ev100);
double pc_expose_ev100_from_cd_m2(double luminance_cd_m2);
double pc_expose_ev100_from_lx(double illuminance_lx);
// Luminance of an even surface.
double pc_expose_cd_m2_from_lx(double illuminance_lx, double reflectance_ratio);
// What falls on the sensor, lx s: q L t / N_eff^2, q = 0.65 (ISO 2720; transmission 0.9, vignetting 0.98,
// cos^4 of 10 degrees, times pi/4).
double pc_expose_focal_plane_lx_s(double luminance_cd_m2, double effective_f, double shutter_s);

// ISO 12232: saturation-based speed, standard output sensitivity, and the noise-based speed from the exposure
// at which signal over noise is 40 or 10.
double pc_expose_speed_from_saturation(double saturation_lx_s);
double pc_expose_speed_from_output(double mid_lx_s);
double pc_expose_speed_from_noise(double lx_s);

// Near focus the lens stands off: N_eff = N (1 + m / P), m magnification, P exit over entrance pupil.
double pc_expose_effective_f(double fnumber, double magnification_ratio, double pupil_ratio);

// How far light lies from what a setting wants, in stops: positive is over. N_eff already counted.
double pc_expose_ambient_ev(double illuminance_lx, double effective_f, double shutter_s, double iso);

// A mark on a dial of thirds. value: what it stands for on a camera that counts in thirds of a stop from f/1,
// 1 s, ISO 100 (1/60 is 1/64, f/11 is 11.31); marked: what it says.
struct pc_mark {
    char text[24]; // "f/5.6", "1/60 s", "ISO 100"
    double marked, value;
};

enum { PC_MARKS_F = 31, PC_MARKS_SHUTTER = 55, PC_MARKS_ISO = 34 };
extern const struct pc_mark pc_marks_f[PC_MARKS_F];             // f/1 to f/32
extern const struct pc_mark pc_marks_shutter[PC_MARKS_SHUTTER]; // 30 s to 1/8000 s
extern const struct pc_mark pc_marks_iso[PC_MARKS_ISO];         // ISO 50 to ISO 102400

// What is meant by a number that somebody read off a dial: its value where it is a mark (within half a per
// cent), else the number itself.
double pc_expose_f_meant(double marked);
double pc_expose_shutter_meant_s(double marked_s);
double pc_expose_iso_meant(double marked);
// "1/200 s", "0.4 s"; gives back out.
const char *pc_expose_shutter_text(char out[24], double shutter_s);

#endif
