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

// Which measures hang on which landmark.
static const struct {
    hw_landmark mark;
    hw_measure which;
} hangs_on[] = {
    {HW_LANDMARK_HEEL_BACK, HW_MEASURE_FOOT_LENGTH},
    {HW_LANDMARK_HEEL_BACK, HW_MEASURE_TRUNCATED_LENGTH},
    {HW_LANDMARK_TOE_TIP, HW_MEASURE_FOOT_LENGTH},
    {HW_LANDMARK_MTH1, HW_MEASURE_TRUNCATED_LENGTH},
    {HW_LANDMARK_MTH1, HW_MEASURE_BALL_BREADTH},
    {HW_LANDMARK_MTH1, HW_MEASURE_BALL_GIRTH},
    {HW_LANDMARK_MTH5, HW_MEASURE_BALL_BREADTH},
    {HW_LANDMARK_MTH5, HW_MEASURE_BALL_GIRTH},
    {HW_LANDMARK_HEEL_MEDIAL, HW_MEASURE_HEEL_BREADTH},
    {HW_LANDMARK_HEEL_LATERAL, HW_MEASURE_HEEL_BREADTH},
    {HW_LANDMARK_ARCH_APEX, HW_MEASURE_ARCH_APEX_HEIGHT},
    {HW_LANDMARK_DORSUM, HW_MEASURE_DORSUM_HEIGHT},
    {HW_LANDMARK_DORSUM, HW_MEASURE_ARCH_HEIGHT_INDEX},
};

// What is measured on both surfaces: with the fillings and without.
typedef struct measuring {
    const posed *on;
    const hw_mesh_filled *filled;
    bool is_sole_only;
    hw_foot_load load;
} measuring;

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

// A landmark at a rim, where the filling does not stand out beyond it: its true place is in the
// part that was not seen. A person who places one there has another view of it.
static void drop_what_ends_at_a_rim(const hw_landmarks *at, const hw_foot_measures *seen,
                                    const hw_mesh_filled *filled, hw_foot_measures *out)
{
    static const hw_vec3 outward[HW_LANDMARKS] = {{-1, 0, 0}, {1, 0, 0}, {0, -1, 0}, {0, 1, 0},
                                                  {0, -1, 0}, {0, 1, 0}, {0, 0, 1},  {0, 0, 1}};
    bool is_rim[HW_LANDMARKS];
    for (int k = 0; k < HW_LANDMARKS; k++)
        is_rim[k] = !at->is_by_hand[k] &&
                    is_at_hole(filled, hw_landmark_of(at, (hw_landmark)k), outward[k]);
    for (size_t i = 0; i < sizeof hangs_on / sizeof *hangs_on; i++) {
        hw_measure which = hangs_on[i].which;
        hw_maybe a = hw_foot_measure_of(seen, which), b = hw_foot_measure_of(out, which);
        bool is_carried = fabs(a.value - b.value) >= carried_least;
        if (is_rim[hangs_on[i].mark] && b.known && !is_carried) take_back(out, which);
    }
}

static hw_status measure(hw_job *job, const measuring *of, const hw_landmarks_by_hand *hand,
                         hw_landmarks *at, hw_foot_measures *out)
{
    hw_landmarks on_seen = {0};
    hw_foot_measures seen = {0};
    const posed *on = of->on;
    find_landmarks(&on->whole, on->length, of->is_sole_only, hand, at);
    HW_TRY(hw_foot_measure_surface(job, &on->whole, at, &of->load, out));
    if (of->filled->filled == 0) return HW_OK;
    find_landmarks(&on->smooth, on->length, of->is_sole_only, hand, &on_seen);
    HW_TRY(hw_foot_measure_surface(job, &on->smooth, &on_seen, &of->load, &seen));
    drop_what_fillings_change(&seen, out);
    drop_what_ends_at_a_rim(&on_seen, &seen, of->filled, out);
    return HW_OK;
}

hw_status fill_and_measure(hw_job *job, posed *of, const hw_scan_ask *ask, hw_arena *into,
                           hw_scan_result *out)
{
    hw_foot *foot = &out->foot;
    hw_mesh_filled filled = {0}, again = {0};
    double widest = ask->leaves_holes ? 0.0 : hole_widest;
    HW_TRY(hw_mesh_fill(job, &of->seen, widest, into, &foot->surface, &filled));
    of->whole = foot->surface;
    if (of->smooth.points != of->seen.points) // its rims are the same, and so are its holes
        HW_TRY(hw_mesh_fill(job, &of->smooth, widest, into, &of->whole, &again));
    out->open_edges = filled.open_edges;
    out->holes_filled = filled.filled;
    out->holes_left = filled.left_open;
    out->filled_m2 = filled.area_m2;
    out->filled_from = filled.first_triangle;
    const measuring on = {
        of, &filled, out->is_sole_only, {.loading = ask->loading, .mass_kg = ask->mass_kg}};
    HW_TRY(measure(job, &on, NULL, &foot->landmarks, &foot->measures));
    out->looks_loaded = foot->landmarks.is_flat_sole;
    out->by_hand = (hw_scan_by_hand){.landmarks = foot->landmarks, .measures = foot->measures};
    HW_TRY(
        check_by_hand(job, &foot->surface, &ask->by_hand, out->is_sole_only, &out->by_hand.count));
    if (out->by_hand.count == 0) return HW_OK;
    HW_TRY(measure(job, &on, &ask->by_hand, &foot->landmarks, &foot->measures));
    return check_order(job, &foot->landmarks);
}
