// SPDX-License-Identifier: GPL-3.0-or-later
// Landmarks on the skin of a posed foot, found where feet have them: shares of the foot length.
#include "scan_internal.h"

#include <float.h>

enum { ARCH_BINS = 12 };

// A sole that rises less than this has no arch to speak of: loaded flat, or closed by the scanner.
static const double arch_least = 0.004; // m

typedef struct window {
    double from, to, below; // x and z, m
} window;

static bool is_in(const window *w, hw_vec3 p)
{
    return p.x >= w->from && p.x <= w->to && p.z <= w->below;
}

// The point furthest along a direction inside a window; the origin where there is none.
static hw_vec3 furthest(const hw_mesh *surface, window w, hw_vec3 direction)
{
    hw_vec3 best = {0};
    double reach = -DBL_MAX;
    for (int i = 0; i < surface->point_count; i++) {
        hw_vec3 p = surface->points[i];
        double along = hw_vec3_dot(p, direction);
        if (!is_in(&w, p) || along <= reach) continue;
        reach = along;
        best = p;
    }
    return best;
}

// Where the surface cuts the plane x = at: its highest point below a height.
static hw_vec3 top_of_section(const hw_mesh *surface, double at, double below)
{
    hw_vec3 top = {at, 0.0, 0.0};
    for (int i = 0; i < surface->triangle_count; i++)
        for (int k = 0; k < 3; k++) {
            hw_vec3 a = surface->points[surface->triangles[i][k]];
            hw_vec3 b = surface->points[surface->triangles[i][(k + 1) % 3]];
            if ((a.x - at) * (b.x - at) > 0.0 || a.x == b.x) continue;
            hw_vec3 p = hw_vec3_mix(a, b, (at - a.x) / (b.x - a.x));
            if (p.z > top.z && p.z < below) top = p;
        }
    return top;
}

// The sole along a line from the middle of the heel to under the first metatarsal head: its lowest
// point in each of a row of bins, and the highest of these.
static hw_vec3 arch_apex(const hw_mesh *surface, double length, const hw_landmarks *at)
{
    hw_vec3 lowest[ARCH_BINS];
    for (int k = 0; k < ARCH_BINS; k++) lowest[k].z = DBL_MAX;
    double heel_y = 0.5 * (at->heel_medial.y + at->heel_lateral.y);
    double ball_y = at->mth1.y + 0.2 * (at->mth5.y - at->mth1.y);
    double from = 0.3 * length, to = 0.62 * length, half_strip = 0.03 * length;
    for (int i = 0; i < surface->point_count; i++) {
        hw_vec3 p = surface->points[i];
        if (p.x < from || p.x >= to) continue;
        double line_y = heel_y + (ball_y - heel_y) * (p.x / length - 0.15) / (0.72 - 0.15);
        if (fabs(p.y - line_y) > half_strip) continue;
        int k = (int)((p.x - from) / (to - from) * ARCH_BINS);
        if (p.z < lowest[k].z) lowest[k] = p;
    }
    hw_vec3 apex = {0};
    // A bin of a coarse surface may hold no sole at all, only the side wall above it.
    for (int k = 0; k < ARCH_BINS; k++)
        if (lowest[k].z < 0.2 * length && lowest[k].z > apex.z) apex = lowest[k];
    return apex;
}

void find_landmarks(const hw_mesh *surface, double length, bool is_sole_only, hw_landmarks *out)
{
    const hw_vec3 back = {-1, 0, 0}, front = {1, 0, 0}, medial = {0, -1, 0}, lateral = {0, 1, 0};
    double l = length;
    hw_landmarks at = {.complete = !is_sole_only};
    at.heel_back = furthest(surface, (window){-l, 0.5 * l, 0.2 * l}, back);
    at.heel_back.y =
        0.0; // on the axis: the back of a heel is too blunt to say where across it lies
    at.mth1 = furthest(surface, (window){0.64 * l, 0.8 * l, 0.16 * l}, medial);
    at.mth5 = furthest(surface, (window){0.56 * l, 0.7 * l, 0.16 * l}, lateral);
    at.heel_medial = furthest(surface, (window){0.12 * l, 0.2 * l, 0.12 * l}, medial);
    at.heel_lateral = furthest(surface, (window){0.12 * l, 0.2 * l, 0.12 * l}, lateral);
    at.arch_apex = arch_apex(surface, l, &at);
    at.arch_apex_known = at.arch_apex.z >= arch_least;
    if (at.complete) {
        at.toe_tip = furthest(surface, (window){0.5 * l, 2.0 * l, 0.35 * l}, front);
        at.dorsum = top_of_section(surface, 0.5 * l, 0.45 * l);
    }
    *out = at;
}
