// SPDX-License-Identifier: GPL-3.0-or-later
// The lower surface: one thickness out, flat bases of blocks, posts and raises, then hollows and pads.
#include "orthosis_internal.h"

// Chart length from a grid point to the nearest edge, along its row and column.
static double from_edge(const chart_place *places, int i, int j)
{
    const int ends[4] = {grid_index(i, 0), grid_index(i, GRID_V - 1), grid_index(0, j),
                         grid_index(GRID_U - 1, j)};
    chart_place here = places[grid_index(i, j)];
    double least = 1.0;
    for (int k = 0; k < 4; k++)
        least = fmin(least, hypot(here.a - places[ends[k]].a, here.b - places[ends[k]].b));
    return least;
}

// Thickness at a grid point: as ordered, but feathered towards the rim of a block.
static double thickness_at(const shape_plan *of, int i, int j)
{
    const double feather = 0.014; // m
    double rim = order_rim(of->order), whole = of->order->shell_thickness_m;
    if (rim == whole) return whole; // the same field
    return rim + (whole - rim) * smooth_step(from_edge(of->places, i, j) / feather);
}

// A flat base under part of the device: a plane that touches it from below, and how much of it each
// grid point takes.
typedef struct base {
    double z, along, across; // z + along (x - x0) + across (y - y0)
    double x0, y0;
    double share[GRID_U * GRID_V];
} base;

static double base_z(const base *of, hw_vec3 at)
{
    return of->z + of->along * (at.x - of->x0) + of->across * (at.y - of->y0);
}

// Lowers the bottom onto the base; what lies between them is filled. `lowest`: the least height of the wall
// over the plane through z = 0, where it is to touch.
static void lay_base(base *of, double lowest, double deeper, hw_vec3 *bottom)
{
    double tilt = sqrt(1.0 + of->along * of->along + of->across * of->across);
    of->z = lowest - deeper * tilt; // `deeper` is square to the plane
    for (int k = 0; k < GRID_U * GRID_V; k++)
        bottom[k].z -= of->share[k] * fmax(0.0, bottom[k].z - base_z(of, bottom[k]));
}

// A base that touches the wall where it takes all of it, and nowhere thins it.
static void add_base(base *of, hw_vec3 *bottom)
{
    double lowest = 1.0;
    of->z = 0.0;
    for (int k = 0; k < GRID_U * GRID_V; k++)
        if (of->share[k] >= 1.0) lowest = fmin(lowest, bottom[k].z - base_z(of, bottom[k]));
    lay_base(of, lowest, 0.0, bottom);
}

// A block stands on all of its middle; its sides slope from there to the feathered rim. Nothing of it
// is lower, not even the wall of a cup that was turned.
static void add_block(const shape_plan *of, base *under, hw_vec3 *bottom)
{
    double lowest = 1.0;
    *under = (base){0};
    for (int i = 0; i < GRID_U; i++)
        for (int j = 0; j < GRID_V; j++) {
            int k = grid_index(i, j);
            double wall = smooth_step((sole_angle(&of->chart->axis, of->places[k]) - 0.45) / 0.6);
            under->share[k] = (1.0 - wall) * smooth_step(from_edge(of->places, i, j) / 0.016);
            lowest = fmin(lowest, bottom[k].z);
        }
    lay_base(under, lowest, 0.0, bottom);
}

// How far a place is from the middle of the heel's base; the base takes all of the wall up to `touching`.
typedef struct heel_plan {
    double x, y, length, width;
} heel_plan;

static const double touching = 0.80;

static double from_heel(const heel_plan *of, hw_vec3 at)
{
    double u = (at.x - of->x) / of->length, v = (at.y - of->y) / of->width;
    return pow(pow(fabs(u), 4.0) + pow(fabs(v), 4.0), 0.25);
}

// The least height of the bottom over the base's plane: also between grid points, for the place that a sloping
// plane touches may lie at the border, a tenth of a millimetre lower than the nearest of them.
static double lowest_over(const base *of, const heel_plan *plan, const hw_vec3 *bottom)
{
    enum { PARTS = 4 };
    double lowest = 1.0;
    for (int i = 0; i + 1 < GRID_U; i++)
        for (int j = 0; j + 1 < GRID_V; j++) {
            const hw_vec3 *near = &bottom[grid_index(i, j)], *far = &bottom[grid_index(i + 1, j)];
            if (from_heel(plan, *near) > 2.0 * touching) continue;
            for (int k = 0; k < PARTS * PARTS; k++) {
                double u = (k / PARTS) / (double)PARTS, v = (k % PARTS) / (double)PARTS;
                hw_vec3 at = hw_vec3_mix(hw_vec3_mix(near[0], near[1], v),
                                         hw_vec3_mix(far[0], far[1], v), u);
                if (from_heel(plan, at) > touching) continue;
                lowest = fmin(lowest, at.z - base_z(of, at));
            }
        }
    return lowest;
}

// Under the heel, from a third of the way behind its middle to as far again in front of it: at the
// post's angle, lower by the raise, and level with the distal edge when the device stands on both.
static void add_heel_base(const shape_plan *of, base *under, hw_vec3 *bottom)
{
    const hw_orthosis_order *order = of->order;
    const sole_axis *axis = &of->chart->axis;
    const heel_plan plan = {axis->heel.x, axis->heel.y, 0.75 * axis->heel.x, 0.125 * axis->reach};
    double post = order->rearfoot_intrinsic ? 0.0 : order->rearfoot_post_rad;
    if (post == 0.0 && order->heel_raise_m <= 0.0) return; // as typed: zero is none
    double front = bottom[grid_index(GRID_U - 1, GRID_V / 2)].x;
    *under = (base){.across = tan(post), .x0 = axis->heel.x, .y0 = axis->heel.y};
    under->along = order->heel_raise_m / (front - axis->heel.x);
    // the taller the base the more room its walls take
    double rim =
        0.20 + 0.5 * (order->heel_raise_m + fabs(under->across) * plan.width) / plan.length;
    for (int k = 0; k < GRID_U * GRID_V; k++)
        under->share[k] = 1.0 - smooth_step((from_heel(&plan, bottom[k]) - touching) / rim);
    double along = under->along;
    // A block is flat already: under a slope it would be touched first at the base's front end, and the
    // heel stand higher by that. Towards there the wedge only grows thinner.
    if (hw_shell_row_of(order->material)->is_block) under->along = 0.0;
    double lowest = lowest_over(under, &plan, bottom);
    under->along = along;
    lay_base(under, lowest, order->heel_raise_m, bottom);
}

// Along the distal edge, from 4 to 24 mm behind it.
static void add_forefoot_base(const shape_plan *of, base *under, hw_vec3 *bottom)
{
    const hw_orthosis_order *order = of->order;
    if (order->forefoot_intrinsic || order->forefoot_post_rad == 0.0) return; // as typed
    *under = (base){.across = tan(order->forefoot_post_rad), .y0 = of->chart->axis.ball.y};
    for (int i = 0; i < GRID_U; i++)
        for (int j = 0; j < GRID_V; j++) {
            int k = grid_index(i, j);
            double behind = bottom[grid_index(GRID_U - 1, j)].x - bottom[k].x;
            double v = (double)j / (GRID_V - 1);
            under->share[k] = plateau(behind, 0.005, 0.020, 0.006) * plateau(v, 0.10, 0.90, 0.08);
        }
    add_base(under, bottom);
}

static void add_bases(const shape_plan *of, base *under, hw_vec3 *bottom)
{
    if (hw_shell_row_of(of->order->material)->is_block) add_block(of, under, bottom);
    add_heel_base(of, under, bottom);
    add_forefoot_base(of, under, bottom);
}

hw_status shape_finish(hw_job *job, const shape_plan *of, hw_vec3 *top, hw_arena *into,
                       hw_vec3 **out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_vec3 *bottom = NULL, *normals = NULL;
    base *under = NULL;
    HW_TRY(grid_normals(job, top, tmp.arena, &normals));
    HW_ALLOC(job, tmp.arena, under, 1);
    HW_ALLOC(job, into, bottom, GRID_U * GRID_V);
    for (int i = 0; i < GRID_U; i++)
        for (int j = 0; j < GRID_V; j++) {
            int k = grid_index(i, j);
            double wall = thickness_at(of, i, j);
            double drop = shape_hollow(of, top[k], 0.6 * wall);
            bottom[k] = hw_vec3_add(top[k], hw_vec3_scale(normals[k], wall + drop));
        }
    for (int i = 0; i < GRID_U; i++)
        for (int j = 0; j < GRID_V; j++) {
            int k = grid_index(i, j);
            double sink = shape_hollow(of, top[k], 0.0) - shape_pad(of, top[k], j);
            top[k] = hw_vec3_add(top[k], hw_vec3_scale(normals[k], sink));
        }
    add_bases(of, under, bottom);
    hw_scratch_end(tmp);
    *out = bottom;
    return HW_OK;
}
