// SPDX-License-Identifier: Apache-2.0
// A lamp at a distance, as its sheet and a tape tell: light, how large it looks, how soft its shadows are.
// Pure; safe from any thread.
#ifndef PC_LIGHT_LAMP_REACH_H
#define PC_LIGHT_LAMP_REACH_H

#include "base/err.h"

// Straight before the lamp's middle, the receiver facing it.
struct pc_reach_given {
    bool round; // width_m is then the diameter
    double width_m, height_m, size_m_tolerance;
    double at_1m, at_1m_tolerance;             // lx 1 m away, or the square of a flash's f-number there
    double light_ratio, light_ratio_tolerance; // of that, at the dial and kelvin asked about
    double distance_m, distance_m_tolerance;
    double edge_m, edge_m_tolerance; // height of a shadow's edge before the receiver
};

struct pc_reach {
    double light, light_tolerance;                 // as at_1m
    double fnumber, fnumber_tolerance;             // its root: that of a flash
    double over_1m_ratio, over_1m_ratio_tolerance; // of the light at 1 m, for distance alone
    double wide_deg, wide_deg_tolerance;           // how large it looks
    double high_deg, high_deg_tolerance;
    double penumbra_m, penumbra_m_tolerance; // the soft edge, from the longer side
    double point_over_pct;                   // what "half for every 1.4 of distance" alone would be out by
};

// The lamp is taken to shine evenly and alike in all directions (Lambert), so that closer than five times its
// size its light grows less than a point's would. False when a figure is not above 0, or the edge is not
// between the lamp and the receiver.
bool pc_reach_lamp(const struct pc_reach_given *given, struct pc_reach *reach);

// A blade of a barn door, hinged at the lamp's side (across its width), and what it does on a plane parallel
// to the lamp's front at its distance: from the lamp's axis to that side light is whole up to full_m, half at
// half_m, and none beyond dark_m. From the far edge of the lamp to the near one past the blade's edge, by
// similar triangles; a door so far open that it stands beyond the lamp's own horizon cuts nothing (all
// INFINITY).
struct pc_door_given {
    double width_m, width_m_tolerance;       // of the lamp, from the door's hinge to the other side
    double blade_m, blade_m_tolerance;       // from hinge to edge
    double open_deg, open_deg_tolerance;     // 0 shut over the lamp, 90 straight out, 180 folded back
    double distance_m, distance_m_tolerance; // of the plane
};

struct pc_door {
    double full_m, full_m_tolerance;
    double half_m, half_m_tolerance;
    double dark_m, dark_m_tolerance;
};

// False when a figure is not above 0, or the blade reaches to the plane.
bool pc_reach_door(const struct pc_door_given *given, struct pc_door *door);

// A square scrim square to the lamp's axis, between it and the place.
struct pc_cloth_given {
    double side_m, side_m_tolerance;
    double before_m, before_m_tolerance;         // from the place to the cloth
    double loss_ev, loss_ev_tolerance;           // of the light that falls on it
    double direct_ratio, direct_ratio_tolerance; // of what comes through, what goes straight on
};

struct pc_cloth {
    double light, light_tolerance;     // at the place, as pc_reach.light
    double lost_ev, lost_ev_tolerance; // against the bare lamp there: spreading loses more than loss_ev
    double wide_deg,
        wide_deg_tolerance; // how large the patch looks that is lit on the cloth, along its width
    double penumbra_m, penumbra_m_tolerance; // the soft edge of what it strews
};

// The lamp with the cloth before it. False as pc_reach_lamp, or where the cloth or the rim is not between.
bool pc_reach_cloth(const struct pc_reach_given *given, const struct pc_cloth_given *cloth,
                    struct pc_cloth *reach);

// On its axis at a distance, for a luminance of 1 cd/m2.
double pc_reach_axis_lx(bool round, double width_m, double height_m, double distance_m);

#endif
