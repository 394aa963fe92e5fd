// SPDX-License-Identifier: GPL-3.0-or-later
// Landmarks on the skin of a posed foot, found where feet have them: shares of the foot length.
#include "scan_internal.h"

#include <float.h>

enum { ARCH_PLACES = 33 };

// A sole that rises less than this has no arch to speak of: loaded flat, or closed by the scanner.
static const double arch_least = 0.004; // m

// The first ray's line crosses the ball here, from the medial edge, as a share of its breadth.
static const double first_head = 0.2;

typedef struct window {
    double from, to, below; // x and z, m
} window;

static bool is_in(const window *w, hw_vec3 p)
{
    return p.x >= w->from && p.x <= w->to && p.z <= w->below;
}

// How far the surface reaches along a direction inside a window, and where: the middle of what
// reaches nearly as far, weighted by how nearly. On a flat border a single point would be chance.
static hw_vec3 furthest(const hw_mesh *surface, window w, hw_vec3 direction, double nearly)
{
    double reach = -DBL_MAX, weights = 0.0;
    for (int i = 0; i < surface->point_count; i++)
        if (is_in(&w, surface->points[i]))
            reach = hw_most(reach, hw_vec3_dot(surface->points[i], direction));
    hw_vec3 sum = {0};
    for (int i = 0; i < surface->point_count; i++) {
        hw_vec3 p = surface->points[i];
        double weight = hw_vec3_dot(p, direction) - (reach - nearly);
        if (!is_in(&w, p) || weight <= 0.0) continue;
        sum = hw_vec3_add(sum, hw_vec3_scale(p, weight));
        weights += weight;
    }
    if (weights <= 0.0) return sum;
    hw_vec3 middle = hw_vec3_scale(sum, 1.0 / weights);
    double short_by = reach - hw_vec3_dot(middle, direction);
    return hw_vec3_add(middle, hw_vec3_scale(direction, short_by));
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

// Height of a triangle over the place (x, y), where it lies over or under it.
static bool height_over(const hw_mesh *surface, int triangle, double x, double y, double *z)
{
    const int *corner = surface->triangles[triangle];
    hw_vec3 a = surface->points[corner[0]], b = surface->points[corner[1]];
    hw_vec3 c = surface->points[corner[2]];
    double whole = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
    if (whole == 0.0) return false; // stands upright
    double u = ((x - a.x) * (c.y - a.y) - (y - a.y) * (c.x - a.x)) / whole;
    double v = ((b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x)) / whole;
    if (u < 0.0 || v < 0.0 || u + v > 1.0) return false;
    *z = a.z + u * (b.z - a.z) + v * (c.z - a.z);
    return true;
}

// The sole under a line from the middle of the heel to the first metatarsal head, at ARCH_PLACES
// places of the midfoot; the highest of them.
static hw_vec3 arch_apex(const hw_mesh *surface, double length, const hw_landmarks *at)
{
    hw_vec3 sole[ARCH_PLACES];
    double heel_y = 0.5 * (at->heel_medial.y + at->heel_lateral.y);
    double ball_y = at->mth1.y + first_head * (at->mth5.y - at->mth1.y);
    for (int k = 0; k < ARCH_PLACES; k++) {
        double x = 0.3 + (0.62 - 0.3) * k / (ARCH_PLACES - 1), along = (x - 0.16) / (0.72 - 0.16);
        sole[k] = (hw_vec3){x * length, heel_y + (ball_y - heel_y) * along, DBL_MAX};
    }
    double first = sole[0].x, step = (sole[ARCH_PLACES - 1].x - first) / (ARCH_PLACES - 1);
    for (int i = 0; i < surface->triangle_count; i++) {
        // Only those places that the triangle reaches along the foot.
        const int *t = surface->triangles[i];
        double a = surface->points[t[0]].x, b = surface->points[t[1]].x,
               c = surface->points[t[2]].x;
        double low = (hw_least(a, hw_least(b, c)) - first) / step;
        double high = (hw_most(a, hw_most(b, c)) - first) / step;
        for (int k = low > 0.0 ? (int)ceil(low) : 0; k < ARCH_PLACES && k <= high; k++) {
            double z = 0.0;
            if (height_over(surface, i, sole[k].x, sole[k].y, &z) && z < sole[k].z) sole[k].z = z;
        }
    }
    hw_vec3 apex = {0};
    // Over a hole in the sole the lowest surface is the instep.
    for (int k = 0; k < ARCH_PLACES; k++)
        if (sole[k].z < 0.15 * length && sole[k].z > apex.z) apex = sole[k];
    return apex;
}

// What a person has placed takes the place of what was found.
static void take_by_hand(const hw_landmarks_by_hand *hand, hw_landmark which, hw_landmarks *at)
{
    if (!hand || !hand->is_given[which]) return;
    *hw_landmark_at(at, which) = hand->at[which];
    at->is_by_hand[which] = true;
}

// Those that nothing else stands on.
static void find_borders(const hw_mesh *surface, double l, hw_landmarks *at)
{
    const hw_vec3 back = {-1, 0, 0}, front = {1, 0, 0}, medial = {0, -1, 0}, lateral = {0, 1, 0};
    double nearly = 0.004 * l;
    at->heel_back = furthest(surface, (window){-l, 0.5 * l, 0.2 * l}, back, nearly);
    // On the axis: the back of a heel is too blunt to say where across it lies.
    at->heel_back.y = 0.0;
    at->mth1 = furthest(surface, (window){0.64 * l, 0.8 * l, 0.16 * l}, medial, nearly);
    at->mth5 = furthest(surface, (window){0.56 * l, 0.7 * l, 0.16 * l}, lateral, nearly);
    at->heel_medial = furthest(surface, (window){0.12 * l, 0.2 * l, 0.12 * l}, medial, nearly);
    at->heel_lateral = furthest(surface, (window){0.12 * l, 0.2 * l, 0.12 * l}, lateral, nearly);
    if (at->complete)
        at->toe_tip = furthest(surface, (window){0.5 * l, 2.0 * l, 0.35 * l}, front, nearly);
}

void find_landmarks(const hw_mesh *surface, double length, bool is_sole_only,
                    const hw_landmarks_by_hand *hand, hw_landmarks *out)
{
    hw_landmarks at = {.complete = !is_sole_only};
    find_borders(surface, length, &at);
    for (int i = HW_LANDMARK_HEEL_BACK; i <= HW_LANDMARK_HEEL_LATERAL; i++)
        take_by_hand(hand, (hw_landmark)i, &at);
    // The arch lies on a line between landmarks and the instep at half of the length: both are
    // found again where those have been moved.
    at.arch_apex = arch_apex(surface, length, &at);
    at.is_flat_sole = at.arch_apex.z < arch_least;
    take_by_hand(hand, HW_LANDMARK_ARCH_APEX, &at);
    at.arch_apex_known = !at.is_flat_sole || at.is_by_hand[HW_LANDMARK_ARCH_APEX];
    if (at.complete) {
        double half = 0.5 * (at.heel_back.x + at.toe_tip.x);
        at.dorsum = top_of_section(surface, half, 0.45 * length);
        take_by_hand(hand, HW_LANDMARK_DORSUM, &at);
    }
    *out = at;
}
