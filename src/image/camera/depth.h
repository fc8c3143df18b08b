// SPDX-License-Identifier: Apache-2.0
// How deep the picture is sharp, and where to focus when it is not deep enough. Pure; safe from any thread.
//
// Metres inside. Depths are measured along the axis from the plane in focus: near towards the camera, far
// away from it, both positive. A thick lens: focal length, and the ratio of its exit to its entrance pupil.
#ifndef PC_IMAGE_CAMERA_DEPTH_H
#define PC_IMAGE_CAMERA_DEPTH_H

#include "base/err.h"

enum { PC_FOCUS_FRAMES_MAX = 400 };

// Green light, which the eye and half of a sensor's pixels go by.
#define PC_DEPTH_WAVELENGTH_M 550e-9

// What the usual inputs are good to. The marks of an aperture ring are rounded and blades are stepped: 5 %.
// A circle of confusion is a judgement: 12 %. With the 3 % of a magnification from a marked focal length,
// depth comes to 15 %.
#define PC_DEPTH_F_NUMBER_TOLERANCE_RATIO      0.05
#define PC_DEPTH_COC_TOLERANCE_RATIO           0.12
#define PC_DEPTH_MAGNIFICATION_TOLERANCE_RATIO 0.03

struct pc_depth_setup {
    double focal_m, f_number, coc_m, magnification_ratio;
    double pupil_ratio; // exit over entrance pupil; NAN: unknown, taken as 1 within 0.3
    double focal_m_tolerance, f_number_tolerance, coc_m_tolerance, magnification_ratio_tolerance,
        pupil_ratio_tolerance; // each 0: exact
};

struct pc_depth {
    // Geometric: the blur disc is no wider than coc_m. far and total may be INFINITY, their tolerance then
    // NAN.
    double near_m, near_m_tolerance, far_m, far_m_tolerance, total_m, total_m_tolerance;
    // Diffraction counted as well; 0 when it leaves nothing sharp.
    double sharp_near_m, sharp_near_m_tolerance, sharp_far_m, sharp_far_m_tolerance, sharp_total_m,
        sharp_total_m_tolerance;
    double effective_f, exposure_loss_ev;
    double airy_m;               // first dark ring's diameter on the sensor, 2.44 lambda N_eff
    double focus_contrast_ratio; // that the aperture leaves of one line pair a coc_m, in focus
    double hyperfocal_m;         // sensor to the nearest plane in focus that still leaves infinity sharp
};

// Exact for any distance (FACTS of the lens: N_eff = N (1 + m/P); from the entrance pupil to the subject
// u = f (1/m + 1/P); pupil D = f/N; blur of c on the sensor is b = c/m in the subject's plane; by similar
// triangles near = b u / (D + b), far = b u / (D - b); Kingslake, Optics in Photography, SPIE 1992, ch. 5).
//
// With diffraction: a blur disc as wide as coc_m leaves 18 % (2 J1(pi)/pi) of the contrast of one line pair a
// coc_m. Depth ends where the disc is that wide, or where defocus and diffraction together (the transfer
// function of a defocused round pupil: Hopkins, Proc. R. Soc. A 231:91, 1955, eq. 24) leave less than that,
// whichever comes first. PC_BAD_INPUT when a number is not positive.
enum pc_status pc_depth_find(const struct pc_depth_setup *setup, struct pc_depth *depth,
                             struct pc_err *err) PC_MUST_CHECK;

// Circle of confusion on the sensor for a print: what 0.2 mm at 25 cm is to the eye, made smaller as the
// picture is enlarged. used_m and print_m: the same side of the picture, on the sensor and on paper.
double pc_depth_coc_from_print_m(double used_m, double print_m, double viewing_m);
// For a screen or a file: one and a half of its pixels, between a pixel and the finest line pair it holds.
double pc_depth_coc_from_pixels_m(double used_m, double output_px);

// Contrast that a lens without flaws leaves at line_pairs_per_m, blur_m out of focus (diameter of the blur
// disc): 0..1, below 0 where light and dark have changed places.
double pc_depth_contrast(double blur_m, double line_pairs_per_m, double effective_f);

struct pc_focus_plan {
    int frames;
    double overlap_ratio; // between neighbours, of a frame's depth; at least what was wished
    // Where frame i is in focus, behind the front edge of what is to be sharp; ascending.
    double at_m[PC_FOCUS_FRAMES_MAX];
};

// Frames that are sharp throughout from the front edge to behind_m behind it, diffraction counted.
// setup->magnification_ratio holds for the plane at the front edge.
// Rail: the camera moves, each frame has the same depth. The steps are equal.
// Ring: the lens is focused farther, the sensor stays; depth grows from frame to frame. The lens moves as a
// whole. overlap_ratio 0..0.9. PC_BAD_INPUT when nothing is sharp at this aperture, or it would take more
// frames than PC_FOCUS_FRAMES_MAX.
enum pc_status pc_focus_by_rail(const struct pc_depth_setup *setup, double behind_m, double overlap_ratio,
                                struct pc_focus_plan *plan, struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_focus_by_ring(const struct pc_depth_setup *setup, double behind_m, double overlap_ratio,
                                struct pc_focus_plan *plan, struct pc_err *err) PC_MUST_CHECK;

#endif
