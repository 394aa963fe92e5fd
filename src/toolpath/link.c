// SPDX-License-Identifier: GPL-3.0-or-later
// Order and links: from each end on to the nearest way not yet gone, along the surface where that
// is allowed, else over the stock.
#include "toolpath_internal.h"

#include <float.h>

static double plan_distance(hw_vec3 a, hw_vec3 b)
{
    return hypot(a.x - b.x, a.y - b.y);
}

// -- leaving out points

static double off_line(hw_vec3 p, hw_vec3 a, hw_vec3 b)
{
    hw_vec3 ab = hw_vec3_sub(b, a), ap = hw_vec3_sub(p, a);
    double length2 = hw_vec3_dot(ab, ab);
    double t = length2 > 0.0 ? fmin(1.0, fmax(0.0, hw_vec3_dot(ap, ab) / length2)) : 0.0;
    return hw_vec3_distance(p, hw_vec3_mix(a, b, t));
}

// The longest chord from `from` that keeps all points it skips near it, found by doubling and
// halving: no recursion, and nearly as few points as the best choice.
static int furthest(const hw_vec3 *points, int count, int from, double tolerance)
{
    enum { LOOK = 64 };
    int best = from + 1;
    for (int to = from + 2; to < count && to <= from + LOOK; to++) {
        for (int k = from + 1; k < to; k++)
            if (off_line(points[k], points[from], points[to]) > tolerance) return best;
        best = to;
    }
    return best;
}

int way_simplify(hw_vec3 *points, int count, double tolerance)
{
    int kept = 0, at = 0;
    if (count < 3) return count;
    while (at < count - 1) {
        points[kept++] = points[at];
        // What is overwritten lies at or before `at`: furthest looks only ahead.
        at = furthest(points, count, at, tolerance);
    }
    points[kept++] = points[count - 1];
    return kept;
}

// -- links

typedef struct chain {
    hw_vec3 *points;
    int count, room;
} chain;

static hw_status append(hw_job *job, hw_arena *into, chain *to, hw_vec3 point)
{
    if (to->count == to->room) {
        int room = to->room ? 2 * to->room : 256;
        hw_vec3 *grown = NULL;
        HW_ALLOC(job, into, grown, room);
        for (int i = 0; i < to->count; i++) grown[i] = to->points[i];
        to->points = grown;
        to->room = room;
    }
    to->points[to->count++] = point;
    return HW_OK;
}

enum { LINK_POINTS = 512 };

// The points between two ends along the surface; -1 where the rule forbids it.
static int link_points(const link_rule *rule, hw_vec3 from, hw_vec3 to, hw_vec3 *out)
{
    double far = plan_distance(from, to);
    int steps = (int)ceil(far / rule->step);
    if (far > rule->longest || steps > LINK_POINTS) return -1;
    int count = 0;
    double before = from.z;
    for (int i = 1; i < steps; i++) {
        hw_vec3 at = hw_vec3_mix(from, to, (double)i / steps);
        at.z = rule->height(rule->with, at.x, at.y);
        // Where the surface falls or climbs steeply between two looks, it may be higher in between.
        if (!(at.z <= rule->ceiling) || fabs(at.z - before) > rule->step) return -1;
        before = at.z;
        out[count++] = at;
    }
    return fabs(to.z - before) > rule->step ? -1 : count;
}

// Nearest end of a way not yet gone; `*is_turned` where that is its last point.
static int nearest(const mill_ways *runs, const bool *is_done, hw_vec3 from, bool *is_turned)
{
    double best = DBL_MAX;
    int found = -1;
    for (int i = 0; i < runs->count; i++) {
        if (is_done[i] || runs->ways[i].count == 0) continue;
        double to_first = plan_distance(from, runs->ways[i].points[0]);
        double to_last = plan_distance(from, runs->ways[i].points[runs->ways[i].count - 1]);
        double to_this = fmin(to_first, to_last);
        if (to_this >= best) continue;
        best = to_this;
        found = i;
        *is_turned = to_last < to_first;
    }
    return found;
}

static void close_chain(chain *open, mill_ways *out)
{
    if (open->count > 0) out->ways[out->count++] = (mill_way){open->points, open->count, INFINITY};
    *open = (chain){0};
}

hw_status link_ways(hw_job *job, const mill_ways *runs, const link_rule *rule, hw_arena *into,
                    mill_ways *out)
{
    hw_vec3 between[LINK_POINTS + 1], at = {-DBL_MAX / 4, -DBL_MAX / 4, 0};
    bool *is_done = NULL, is_turned = false;
    chain open = {0};
    hw_scratch tmp = hw_scratch_begin(job, into);
    mill_ways made = {0};
    HW_ALLOC(job, tmp.arena, is_done, runs->count + 1);
    HW_ALLOC(job, into, made.ways, runs->count + 1);
    if (runs->count > 0) at = (hw_vec3){runs->ways[0].points[0].x, runs->ways[0].points[0].y, 0};
    for (int next; (next = nearest(runs, is_done, at, &is_turned)) >= 0;) {
        const mill_way *way = &runs->ways[next];
        hw_vec3 first = way->points[is_turned ? way->count - 1 : 0];
        int count =
            open.count ? link_points(rule, open.points[open.count - 1], first, between) : -1;
        if (count < 0) close_chain(&open, &made);
        for (int k = 0; k < count; k++) HW_TRY(append(job, into, &open, between[k]));
        for (int k = 0; k < way->count; k++)
            HW_TRY(append(job, into, &open, way->points[is_turned ? way->count - 1 - k : k]));
        is_done[next] = true;
        at = open.points[open.count - 1];
        HW_TRY(hw_job_ask(job));
    }
    close_chain(&open, &made);
    hw_scratch_end(tmp);
    *out = made;
    return HW_OK;
}
