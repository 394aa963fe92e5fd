// SPDX-License-Identifier: GPL-3.0-or-later
// Shared by the files of demo: the analytic foot and its clean mesh.
#ifndef HW_DEMO_INTERNAL_H
#define HW_DEMO_INTERNAL_H

#include "demo/demo.h"

/// Where on the surface: station along the foot (0 heel .. 1 toe ends), place across (-1 medial ..
/// +1 lateral), sole or dorsum.
typedef struct shape_place {
    double along;
    double across;
    bool upper;
} shape_place;

/// Stations of the landmarks.
#define AT_HEEL 0.15
#define AT_ARCH 0.42
#define AT_HALF 0.50
#define AT_FIFTH 0.63
#define AT_FIRST 0.735

/// The point there, foot frame, m.
hw_vec3 shape_point(const hw_demo_foot_order *order, shape_place at);

/// Across-place of the longest toe's tip.
double shape_longest_toe(const hw_demo_foot_order *order);

/// The clean closed surface, foot frame.
HW_MUST_USE hw_status shape_mesh(hw_job *job, const hw_demo_foot_order *order, hw_arena *into,
                                 hw_mesh *out);

hw_landmarks shape_landmarks(const hw_demo_foot_order *order);

/// Height of the cut at the ankle, m.
double shape_ankle_cut(const hw_demo_foot_order *order);

#endif
