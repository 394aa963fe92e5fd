// SPDX-License-Identifier: GPL-3.0-or-later
// Measures on plane sections: girths as of a tape drawn tight, and the bulge over the navicular.
#include "foot_internal.h"

#include <float.h>

enum { DIRECTIONS = 36, GAP_MOST = 3 }; // ten degrees each; a gap of thirty is a hole

static const double leg_from = 0.45; // of the length; above it the leg begins
static const double navicular_at = 0.41, navicular_low = 0.06, navicular_high = 0.23; // lengths
static const double bulge_least = 0.0005; // m beyond the range's lower end

// A section in its own plane: across (horizontal) and up, m; two ends of each segment.
typedef struct outline {
    double (*points)[2];
    int count;
} outline;

static hw_status cut(hw_job *job, const hw_mesh *surface, hw_vec3 through, hw_vec3 across,
                     double below, hw_arena *into, outline *out)
{
    hw_section section = {0};
    hw_vec3 normal = hw_vec3_cross(across, (hw_vec3){0, 0, 1});
    HW_TRY(hw_mesh_section(job, surface, through, normal, into, &section));
    HW_ALLOC(job, into, out->points, 2 * section.count + 1);
    for (int i = 0; i < 2 * section.count; i++) {
        hw_vec3 p = i % 2 ? section.segments[i / 2].b : section.segments[i / 2].a;
        if (p.z > below) continue;
        out->points[out->count][0] = hw_vec3_dot(hw_vec3_sub(p, through), across);
        out->points[out->count++][1] = p.z;
    }
    return HW_OK;
}

// Whether the outline goes all the way round its middle; a hole leaves directions empty.
static bool goes_round(const outline *of)
{
    double low[2] = {DBL_MAX, DBL_MAX}, high[2] = {-DBL_MAX, -DBL_MAX};
    for (int i = 0; i < of->count; i++)
        for (int k = 0; k < 2; k++) {
            low[k] = fmin(low[k], of->points[i][k]);
            high[k] = fmax(high[k], of->points[i][k]);
        }
    bool is_seen[DIRECTIONS] = {false};
    for (int i = 0; i < of->count; i++) {
        double x = (of->points[i][0] - 0.5 * (low[0] + high[0])) / (high[0] - low[0]);
        double y = (of->points[i][1] - 0.5 * (low[1] + high[1])) / (high[1] - low[1]);
        double turn = (atan2(y, x) + HW_PI) / (2.0 * HW_PI);
        is_seen[(int)(turn * DIRECTIONS) % DIRECTIONS] = true;
    }
    int gap = 0;
    for (int i = 0; i < 2 * DIRECTIONS; i++) {
        gap = is_seen[i % DIRECTIONS] ? 0 : gap + 1;
        if (gap > GAP_MOST) return false;
    }
    return true;
}

static hw_status girth(hw_job *job, const hw_mesh *surface, hw_vec3 through, hw_vec3 across,
                       double below, hw_maybe *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    outline round = {0};
    HW_TRY(cut(job, surface, through, across, below, tmp.arena, &round));
    *out = (hw_maybe){0};
    if (round.count > 2 && goes_round(&round)) {
        out->known = true;
        HW_TRY(hw_hull_perimeter(job, round.points, round.count, &out->value));
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

// Least y of the section between two heights.
static double most_medial(const hw_section *of, double low, double high)
{
    double most = DBL_MAX;
    for (int i = 0; i < 2 * of->count; i++) {
        hw_vec3 p = i % 2 ? of->segments[i / 2].b : of->segments[i / 2].a;
        if (p.z >= low && p.z <= high) most = fmin(most, p.y);
    }
    return most;
}

// Height of the most medial skin above the arch: the middle of what reaches nearly as far. Unknown
// where nothing bulges beyond the ends of the range.
static hw_status navicular(hw_job *job, const hw_mesh *surface, double length, hw_maybe *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_section section = {0};
    hw_vec3 through = {navicular_at * length, 0, 0};
    HW_TRY(hw_mesh_section(job, surface, through, (hw_vec3){1, 0, 0}, tmp.arena, &section));
    double low = navicular_low * length, high = navicular_high * length, edge = 0.01 * length;
    double most = most_medial(&section, low, high), reach = 0.002 * length;
    double sum = 0.0, weights = 0.0;
    for (int i = 0; i < 2 * section.count; i++) {
        hw_vec3 p = i % 2 ? section.segments[i / 2].b : section.segments[i / 2].a;
        double weight = most + reach - p.y;
        if (p.z < low || p.z > high || weight <= 0.0) continue;
        sum += weight * p.z;
        weights += weight;
    }
    double height = weights > 0.0 ? sum / weights : 0.0;
    bool bulges = most_medial(&section, low, low + edge) > most + bulge_least &&
                  most_medial(&section, high - edge, high) > most && height < high - edge;
    *out = (hw_maybe){height, weights > 0.0 && bulges};
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status measure_sections(hw_job *job, const hw_mesh *surface, const hw_landmarks *at,
                           hw_foot_measures *out)
{
    static const char sole_only[] = "only the sole was scanned";
    double length = working_length(at), below = leg_from * length;
    hw_maybe ball = {0}, instep = {0}, bulge = {0};
    if (at->complete) {
        hw_vec3 across = {at->mth5.x - at->mth1.x, at->mth5.y - at->mth1.y, 0.0};
        HW_TRY(girth(job, surface, at->mth1, hw_vec3_unit(across), below, &ball));
        hw_vec3 half = {at->heel_back.x + 0.5 * length, 0.0, 0.0};
        HW_TRY(girth(job, surface, half, (hw_vec3){0, 1, 0}, below, &instep));
        HW_TRY(navicular(job, surface, length, &bulge));
    }
    const char *hole = "the surface has a hole where the tape would pass";
    settle_measure(out, HW_MEASURE_BALL_GIRTH, ball, at->complete ? hole : sole_only);
    settle_measure(out, HW_MEASURE_INSTEP_GIRTH, instep, at->complete ? hole : sole_only);
    settle_measure(out, HW_MEASURE_NAVICULAR_HEIGHT, bulge,
                   at->complete ? "no bulge over the navicular can be told" : sole_only);
    return HW_OK;
}
