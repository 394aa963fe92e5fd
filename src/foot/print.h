// SPDX-License-Identifier: GPL-3.0-or-later
// The contact print of a hanging foot, computed: soft tissue pressed onto a flat floor. Part of
// foot.h.
#ifndef HW_FOOT_PRINT_H
#define HW_FOOT_PRINT_H

#include "measures.h"

/// Half of the weight of a person of 71 kg, N: what presses the foot when the mass is unknown.
#define HW_FOOT_PRINT_FORCE 350.0

/// How far the navicular comes down under half of that weight, m, and how much that differs between
/// people (sd).
///
///   source  facts of clinical 3.3: means of 7.3-9.0 mm by modified methods; sd 2.8 mm, of the drop in
///           walking of 106 healthy people
#define HW_FOOT_ARCH_LOWERING 0.008
#define HW_FOOT_ARCH_LOWERING_SD 0.0028

/// Heights of the sole and pressures over a grid of the support plane.
typedef struct hw_foot_print {
    double low[2];  // x, y of the corner of cell (0, 0), m
    double cell;    // m
    int size[2];    // cells along x, along y
    float *height;  // lowest surface over the middle of cell [x * size[1] + y], m; INFINITY: none
    float *touched; // Pa where the sole touches the floor, else 0
    double force;   // N that presses
    bool mass_is_known;
    double lowering_m;    // of the arch at the navicular, stated or assumed
    double sink;          // m the heel goes below the plane of first contact
    double toes_from[2];  // toes begin at x = toes_from[0] + toes_from[1] * y
    double heel_share;    // of the force behind 0.3 of foot length; the rest is forward of it
    double peak_pressure; // Pa
} hw_foot_print;

/// Presses the sole: each cell is a one-sided nonlinear spring of soft tissue under a skeleton that
/// sinks and pitches until the force stands at 0.37 of foot length, and whose arch comes down
/// meanwhile. How far it does cannot be seen on a hanging foot, and the tissue alone, under an arch
/// that stays, would touch with heel and ball only: where it is not stated, the mean of people is
/// taken, and what the indices owe to that is part of their stated intervals (hw_scan_spread).
///
///   length   foot length, or what stands for it in a sole-only scan, m
///   fails    HW_NO_MEMORY; HW_NO_ANSWER no contact can carry the force
///   source   tissue: facts of mechanics 6.1, p = S E/b (exp(b e) - 1), e = sink / thickness, S by
///            the width of the print; centre of pressure 0.37 L: facts of mechanics 3.3
HW_MUST_USE hw_status hw_foot_print_press(hw_job *job, const hw_mesh *surface,
                                          const hw_landmarks *landmarks, double length,
                                          const hw_foot_load *load, hw_arena *into,
                                          hw_foot_print *out);

/// Footprint indices of any print; toes are left out of all of them.
typedef struct hw_print_indices {
    hw_maybe arch_index;      // Cavanagh & Rodgers 1987
    hw_maybe staheli;         // Staheli 1987
    hw_maybe chippaux_smirak; // as a share, not per cent
    double contact_area;      // m2, without toes
} hw_print_indices;

/// All unknown where fewer than four rows of the print touch.
hw_print_indices hw_foot_print_indices(const hw_foot_print *print);

#endif
