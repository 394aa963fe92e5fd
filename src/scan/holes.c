// SPDX-License-Identifier: GPL-3.0-or-later
// Small holes are closed; what is measured at one is believed only as far as the skin around it and
// the filling tell the same.
#include "scan_internal.h"

#include <float.h>

static const double hole_widest = 0.042;        // m
static const double length_apart_most = 0.002;  // m: limit for feet of ISO 20685-1
static const double angle_apart_most = 0.035;   // rad, two degrees
static const double other_apart_most = 0.05;    // of the value
static const double beside = 1.6, behind = 0.5; // of a hole's radius: a landmark at its rim
static const double carried_least = 0.0010;     // m that a filling under a landmark stands out by

enum { MARKS = 8 };

// Which measures hang on which landmark.
static const struct {
    int mark; // heel back, toe tip, first, fifth head, heel medial, lateral, arch apex, dorsum
    hw_measure which;
} hangs_on[] = {
    {0, HW_MEASURE_FOOT_LENGTH},       {0, HW_MEASURE_TRUNCATED_LENGTH},
    {1, HW_MEASURE_FOOT_LENGTH},       {2, HW_MEASURE_TRUNCATED_LENGTH},
    {2, HW_MEASURE_BALL_BREADTH},      {2, HW_MEASURE_BALL_GIRTH},
    {3, HW_MEASURE_BALL_BREADTH},      {3, HW_MEASURE_BALL_GIRTH},
    {4, HW_MEASURE_HEEL_BREADTH},      {5, HW_MEASURE_HEEL_BREADTH},
    {6, HW_MEASURE_ARCH_APEX_HEIGHT},  {7, HW_MEASURE_DORSUM_HEIGHT},
    {7, HW_MEASURE_ARCH_HEIGHT_INDEX},
};

static hw_status measure(hw_job *job, const hw_mesh *surface, double length, const hw_scan_ask *ask,
                         const hw_scan_result *of, hw_landmarks *at, hw_foot_measures *out)
{
    const hw_foot_load load = {ask->loading, ask->mass_kg};
    find_landmarks(surface, length, of->is_sole_only, at);
    return hw_foot_measure_surface(job, surface, at, &load, out);
}

// Whether a landmark lies in or at the rim of a filled hole that reaches about as far as it.
static bool is_at_hole(const hw_mesh_filled *filled, hw_vec3 mark, hw_vec3 outward)
{
    for (int i = 0; i < filled->filled; i++) {
        hw_vec3 d = hw_vec3_sub(filled->middles[i], mark);
        double radius = filled->radii[i];
        if (hw_vec3_norm(d) < beside * radius && hw_vec3_dot(d, outward) > -behind * radius)
            return true;
    }
    return false;
}

static double apart_most(hw_measure which, double value)
{
    switch (hw_measure_rows()[which].kind) {
    case HW_MEASURE_IS_LENGTH:
        return length_apart_most;
    case HW_MEASURE_IS_ANGLE:
        return angle_apart_most;
    default:
        return other_apart_most * fabs(value);
    }
}

static void take_back(hw_foot_measures *of, hw_measure which)
{
    *hw_foot_measure_at(of, which) = (hw_maybe){0};
    of->why[which] = "it rests on a hole that was filled";
}

// Where the filling changes a measure by more than a scan may be off. A tape over a hole and a
// volume exist only with the filling, and are taken from it.
static void drop_what_fillings_change(const hw_foot_measures *seen, hw_foot_measures *filled)
{
    for (int i = 0; i < HW_MEASURES; i++) {
        hw_measure which = (hw_measure)i;
        hw_maybe a = hw_foot_measure_of(seen, which), b = hw_foot_measure_of(filled, which);
        bool needs_whole = which == HW_MEASURE_BALL_GIRTH || which == HW_MEASURE_INSTEP_GIRTH ||
                           which == HW_MEASURE_VOLUME_BELOW_ANKLE;
        if (!b.known || (!a.known && needs_whole)) continue;
        if (!a.known || fabs(a.value - b.value) > apart_most(which, b.value))
            take_back(filled, which);
    }
}

// A landmark at a rim, where the filling does not stand out beyond it: its true place is in the part
// that was not seen.
static void drop_what_ends_at_a_rim(const hw_landmarks *at, const hw_foot_measures *seen,
                                    const hw_mesh_filled *filled, hw_scan_result *out)
{
    const hw_vec3 marks[MARKS] = {at->heel_back,   at->toe_tip,      at->mth1,      at->mth5,
                                  at->heel_medial, at->heel_lateral, at->arch_apex, at->dorsum};
    const hw_vec3 outward[MARKS] = {{-1, 0, 0}, {1, 0, 0}, {0, -1, 0}, {0, 1, 0},
                                    {0, -1, 0}, {0, 1, 0}, {0, 0, 1},  {0, 0, 1}};
    bool is_rim[MARKS];
    for (int k = 0; k < MARKS; k++) is_rim[k] = is_at_hole(filled, marks[k], outward[k]);
    for (size_t i = 0; i < sizeof hangs_on / sizeof *hangs_on; i++) {
        hw_measure which = hangs_on[i].which;
        hw_maybe a = hw_foot_measure_of(seen, which);
        hw_maybe b = hw_foot_measure_of(&out->foot.measures, which);
        bool is_carried = fabs(a.value - b.value) >= carried_least;
        if (is_rim[hangs_on[i].mark] && b.known && !is_carried)
            take_back(&out->foot.measures, which);
    }
}

hw_status fill_and_measure(hw_job *job, const hw_mesh *placed, double length,
                           const hw_scan_ask *ask, hw_arena *into, hw_scan_result *out)
{
    hw_foot *foot = &out->foot;
    hw_mesh_filled filled = {0};
    HW_TRY(hw_mesh_fill(job, placed, hole_widest, into, &foot->surface, &filled));
    HW_TRY(measure(job, &foot->surface, length, ask, out, &foot->landmarks, &foot->measures));
    out->holes_filled = filled.filled;
    out->holes_left = filled.left_open;
    out->filled_m2 = filled.area_m2;
    out->filled_from = filled.first_triangle;
    if (filled.filled == 0) return HW_OK;
    hw_landmarks at = {0};
    hw_foot_measures seen = {0};
    HW_TRY(measure(job, placed, length, ask, out, &at, &seen));
    drop_what_fillings_change(&seen, &foot->measures);
    drop_what_ends_at_a_rim(&at, &seen, &filled, out);
    return HW_OK;
}
