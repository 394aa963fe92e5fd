// SPDX-License-Identifier: GPL-3.0-or-later
// A device laid against the foot it was made for. Part of scan.h.
#ifndef HW_SCAN_FIT_H
#define HW_SCAN_FIT_H

#include "foot/foot.h"

/// Parts of the sole, by shares of foot length and of the ball's breadth.
typedef enum hw_fit_region {
    HW_FIT_HEEL = 0,
    HW_FIT_MEDIAL_ARCH,
    HW_FIT_LATERAL_BORDER,
    HW_FIT_FRONT,
    HW_FIT_REGIONS,
} hw_fit_region;

/// "heel", "medial arch", "lateral border", "front edge".
const char *hw_fit_region_word(hw_fit_region region);

/// The gaps of a part, m.
typedef struct hw_fit_part {
    int count; // of places; at 0 the rest means nothing
    double mean;
    double most_air, most_overlap; // both >= 0
} hw_fit_part;

/// What a device's top does against the skin, neither of them under load.
typedef struct hw_scan_fit {
    float *gaps; // m, a place of the top each: + air between, - the top stands inside the skin
    int count;
    double median;   // m
    double within_1; // share of places closer than 1 mm
    hw_fit_part all, parts[HW_FIT_REGIONS];
} hw_scan_fit;

/// A device's top: a grid of places, m, foot frame, row by row from the heel, medial to lateral.
typedef struct hw_fit_top {
    const hw_vec3 *places; // [i * columns + j]
    int rows, columns;     // at least 2 each
} hw_fit_top;

/// Distances of the top from the skin along the shortest way. How the foot changes its shape when
/// it stands on the device is not in it.
///
///   fails   HW_NO_ANSWER no skin near the device; HW_NO_MEMORY; HW_CANCELLED
///   cost    about 2 us a triangle near the device and 5 us a place
HW_MUST_USE hw_status hw_scan_fit_of(hw_job *job, const hw_foot *foot, const hw_fit_top *top,
                                     hw_arena *into, hw_scan_fit *out);

#endif
