// SPDX-License-Identifier: GPL-3.0-or-later
// Two scans laid onto each other. Part of scan.h.
#ifndef HW_SCAN_COMPARE_H
#define HW_SCAN_COMPARE_H

#include "foot/foot.h"

struct hw_scan_result;

/// One measure of both scans.
typedef struct hw_scan_difference {
    hw_maybe first, second, difference; // second less first; SI of the measure
    hw_maybe half_width_95;             // of the difference; unknown without both spreads
    bool is_larger;                     // than that: the scans differ in it
} hw_scan_difference;

/// How two scans differ. Both are taken as left feet, so that a left foot is compared with the
/// mirror of a right one.
typedef struct hw_scan_comparison {
    hw_pose second_to_first; // from the foot frame of the second into that of the first
    int rounds;              // of the registration
    bool is_settled;
    double residual;   // m, root mean square over the trimmed points
    float *deviations; // m, of each surface point of the second: + outside the first
    int deviation_count;
    int compared_count; // points lower than the ankle, on which the figures below stand
    double median, p95; // m, of their sizes
    double within_1;    // share of them closer than 1 mm
    hw_scan_difference differences[HW_MEASURES];
} hw_scan_comparison;

/// Lays the second onto the first by their surfaces below the ankle, leaving out the fifth of
/// points that fits least, and compares.
///
///   first, second  posed by hw_scan_foot; with spread for the differences to be judged
///   fails    HW_NO_ANSWER the surfaces share too little; HW_NO_MEMORY; HW_CANCELLED
///   cost     about 0.1 s and 3 us a point on each core
///   source   point to plane: from memory, Chen & Medioni 1992; trimming: from memory, Chetverikov
///            2002
HW_MUST_USE hw_status hw_scan_compare(hw_job *job, const struct hw_scan_result *first,
                                      const struct hw_scan_result *second, hw_arena *into,
                                      hw_scan_comparison *out);

#endif
