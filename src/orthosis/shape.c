// SPDX-License-Identifier: GPL-3.0-or-later
// The ordered corrections as displacements of the top, and the bottom with its rearfoot post.
#include "orthosis_internal.h"

// 1 within [from, to], smoothly 0 a `rim` outside of it.
static double plateau(double t, double from, double to, double rim)
{
    return smooth_step((t - from + rim) / rim) * (1.0 - smooth_step((t - to) / rim));
}

// Lowers the device under the arch: full along the medial half of the arch, nothing under heel and
// heads and at the lateral border.
static double fill_share(const sole_chart *chart, chart_place at)
{
    double across = at.b / CHART_RADIUS; // rad from straight down, lateral +
    return plateau(along_device(chart, at), 0.40, 0.68, 0.25) *
           (1.0 - smooth_step((across + 0.25) / 0.7));
}

// How much of a wall a place is: 0 under the foot, 1 from about 45 degrees up.
static double wall_share(const sole_chart *chart, chart_place at)
{
    return smooth_step((sole_angle(&chart->axis, at) - 0.35) / 0.5);
}

void shape_correct(const hw_orthosis_order *order, const sole_chart *chart,
                   const chart_place *places, hw_vec3 *top)
{
    for (int k = 0; k < GRID_U * GRID_V; k++) {
        hw_vec3 centre, ray = sole_ray(&chart->axis, places[k], &centre);
        double flat = hypot(ray.x, ray.y);
        double body = smooth_step((along_device(chart, places[k]) - 0.05) / 0.35);
        double border = (places[k].b > 0.0 ? 1.0 : 0.5) * order->border_expansion_m;
        double out = (1.0 - body) * order->heel_expansion_m + body * border;
        out *= flat > 0.0 ? wall_share(chart, places[k]) / flat : 0.0;
        top[k].x += out * ray.x;
        top[k].y += out * ray.y;
        top[k].z -= order->arch_fill_m * fill_share(chart, places[k]);
    }
}

typedef struct post {
    hw_vec3 middle; // of the heel, on the plane
    double slope;   // of the base: medial lower, so that the device stands thicker there, for varus
    double length, width; // half of the base, to where its walls end
} post;

static double base_z(const post *of, hw_vec3 at)
{
    return of->middle.z + of->slope * (at.y - of->middle.y);
}

// 1 on the base, 0 beyond its walls: a rectangle with well-rounded corners under the heel.
static double base_share(const post *of, hw_vec3 at)
{
    double u = (at.x - of->middle.x) / of->length, v = (at.y - of->middle.y) / of->width;
    double away = pow(pow(fabs(u), 4.0) + pow(fabs(v), 4.0), 0.25);
    return 1.0 - smooth_step((away - 0.80) / 0.20);
}

// The flat base of an extrinsic post: a plane at the post's angle that touches the shell from below;
// what lies between them is filled.
static void add_post(const hw_orthosis_order *order, const sole_chart *chart, hw_vec3 *bottom)
{
    // from a third of the way behind the heel's middle to as far again in front of it
    post of = {.middle = chart->axis.heel, .slope = tan(order->rearfoot_post_rad)};
    of.length = 0.75 * chart->axis.heel.x, of.width = 0.125 * chart->axis.reach;
    of.middle.z = 0.0;
    double lowest = 1.0;
    for (int k = 0; k < GRID_U * GRID_V; k++)
        if (base_share(&of, bottom[k]) > 0.0)
            lowest = fmin(lowest, bottom[k].z - base_z(&of, bottom[k]));
    of.middle.z = lowest;
    for (int k = 0; k < GRID_U * GRID_V; k++) {
        double share = base_share(&of, bottom[k]);
        bottom[k].z -= share * (bottom[k].z - base_z(&of, bottom[k]));
    }
}

hw_status shape_bottom(hw_job *job, const hw_orthosis_order *order, const sole_chart *chart,
                       const hw_vec3 *top, hw_arena *into, hw_vec3 **out)
{
    hw_vec3 *bottom = NULL, *normals = NULL;
    HW_TRY(grid_normals(job, top, into, &normals));
    HW_ALLOC(job, into, bottom, GRID_U * GRID_V);
    for (int k = 0; k < GRID_U * GRID_V; k++)
        bottom[k] = hw_vec3_add(top[k], hw_vec3_scale(normals[k], order->shell_thickness_m));
    if (order->rearfoot_post_rad != 0.0)
        add_post(order, chart, bottom); // as typed: zero is no post
    *out = bottom;
    return HW_OK;
}
