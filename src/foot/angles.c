// SPDX-License-Identifier: GPL-3.0-or-later
// Angles seen from behind and from above.
#include "foot_internal.h"

#include <float.h>

enum { SLICES = 13 };

// The back of the heel that is bisected, as shares of foot length: below the malleoli, above the
// spread pad.
static const double bisect_low = 0.05, bisect_high = 0.17, bisect_before = 0.10;
static const double toe_from = 0.86, toe_below = 0.14;

typedef struct slice {
    double medial, lateral; // least and greatest y
} slice;

// Breadth of the back of the heel at each height, over edges that cross it.
static void breadths(const hw_mesh *surface, double length, slice *slices)
{
    double step = (bisect_high - bisect_low) / (SLICES - 1);
    for (int k = 0; k < SLICES; k++) slices[k] = (slice){DBL_MAX, -DBL_MAX};
    for (int i = 0; i < surface->triangle_count; i++)
        for (int e = 0; e < 3; e++) {
            hw_vec3 a = surface->points[surface->triangles[i][e]];
            hw_vec3 b = surface->points[surface->triangles[i][(e + 1) % 3]];
            if (a.x > bisect_before * length || b.x > bisect_before * length || a.z == b.z)
                continue;
            double low = fmin(a.z, b.z) / length, high = fmax(a.z, b.z) / length;
            int first = (int)ceil(fmax(0.0, (low - bisect_low) / step));
            for (int k = first; k < SLICES && bisect_low + k * step <= high; k++) {
                double z = (bisect_low + k * step) * length;
                double y = a.y + (b.y - a.y) * (z - a.z) / (b.z - a.z);
                slices[k].medial = fmin(slices[k].medial, y);
                slices[k].lateral = fmax(slices[k].lateral, y);
            }
        }
}

// Eversion of the line through the middles of the slices; unknown where a slice is missing.
static hw_maybe heel_bisection(const hw_mesh *surface, double length)
{
    slice slices[SLICES];
    breadths(surface, length, slices);
    double step = (bisect_high - bisect_low) / (SLICES - 1) * length, sum = 0.0, arms = 0.0;
    for (int k = 0; k < SLICES; k++) {
        if (slices[k].lateral - slices[k].medial < 0.05 * length) return (hw_maybe){0};
        double arm = (k - 0.5 * (SLICES - 1)) * step;
        sum += arm * 0.5 * (slices[k].medial + slices[k].lateral);
        arms += arm * arm;
    }
    return hw_known(-atan(sum / arms)); // the top leans medially, to -y: everted
}

// Inversion of the line under both sides of the ball against the support plane.
static hw_maybe ball_tilt(const hw_mesh *surface, const hw_landmarks *at, double length)
{
    double breadth = at->mth5.y - at->mth1.y, low[2] = {DBL_MAX, DBL_MAX};
    for (int i = 0; i < surface->point_count; i++) {
        hw_vec3 p = surface->points[i];
        double across = (p.y - at->mth1.y) / breadth;
        if (p.x < 0.6 * length || p.x > 0.8 * length || across < 0.0 || across > 1.0) continue;
        if (across < 0.35) low[0] = fmin(low[0], p.z);
        if (across > 0.65) low[1] = fmin(low[1], p.z);
    }
    if (low[0] == DBL_MAX || low[1] == DBL_MAX) return (hw_maybe){0};
    return hw_known(atan2(low[0] - low[1], 0.6 * breadth)); // medial side higher: inverted
}

// The straight edge laid to the medial border of the first toe from the first metatarsal head.
static hw_maybe hallux(const hw_mesh *surface, const hw_landmarks *at, double length)
{
    double edge = DBL_MAX;
    for (int i = 0; i < surface->point_count; i++) {
        hw_vec3 p = surface->points[i];
        if (p.x < toe_from * length || p.z > toe_below * length) continue;
        edge = fmin(edge, (p.y - at->mth1.y) / (p.x - at->mth1.x));
    }
    double border = (at->mth1.y - at->heel_medial.y) / (at->mth1.x - at->heel_medial.x);
    if (!at->complete || edge == DBL_MAX) return (hw_maybe){0};
    return hw_known(atan(edge) - atan(border));
}

void measure_angles(const hw_mesh *surface, const hw_landmarks *at, hw_loading loading,
                    hw_foot_measures *out)
{
    double length = working_length(at);
    hw_maybe heel = heel_bisection(surface, length), ball = ball_tilt(surface, at, length);
    settle_measure(out, HW_MEASURE_HEEL_BISECTION, heel,
                   "the back of the heel is not whole up to 0.17 of foot length");
    const char *why = "the heel bisection is unknown";
    hw_maybe between = {heel.value + ball.value, heel.known && ball.known};
    if (loading != HW_LOADING_HANGING) {
        between.known = false;
        why = loading == HW_LOADING_UNKNOWN
                  ? "how the foot was held is not stated; it needs a hanging foot"
                  : "the floor sets the forefoot of a loaded foot; it needs a hanging foot";
    }
    settle_measure(out, HW_MEASURE_FOREFOOT_TO_REARFOOT, between, why);
    settle_measure(out, HW_MEASURE_HALLUX_ANGLE, hallux(surface, at, length),
                   "the first toe was not scanned");
}
