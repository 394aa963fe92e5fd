// SPDX-License-Identifier: GPL-3.0-or-later
// The sole in its chart: where a point belongs, and what a scan shows along each ray.
#include "orthosis_internal.h"

sole_axis sole_axis_of(const hw_foot *foot)
{
    const hw_landmarks *at = &foot->landmarks;
    sole_axis axis = {.reach = at->mth1.x - at->heel_back.x};
    axis.heel.x = 0.5 * (at->heel_medial.x + at->heel_lateral.x);
    axis.heel.y = 0.5 * (at->heel_medial.y + at->heel_lateral.y);
    axis.ball.x = 0.5 * (at->mth1.x + at->mth5.x);
    axis.ball.y = 0.5 * (at->mth1.y + at->mth5.y);
    // inside the flesh: over the heel pad, under the instep, in the thin forefoot
    axis.heel.z = 0.16 * axis.reach;
    axis.ball.z = 0.09 * axis.reach;
    axis.arch_x = 0.57 * axis.reach;
    if (at->arch_apex_known) {
        axis.arch_x = fmin(0.70 * axis.reach, fmax(0.45 * axis.reach, at->arch_apex.x));
        axis.arch_rise = 0.4 * fmin(0.03, fmax(0.0, at->arch_apex.z));
    }
    return axis;
}

hw_vec3 sole_centre(const sole_axis *axis, double x)
{
    if (x <= axis->heel.x) return axis->heel;
    double share = (x - axis->heel.x) / (axis->ball.x - axis->heel.x);
    hw_vec3 centre = hw_vec3_mix(axis->heel, axis->ball, smooth_step(share));
    centre.x = x;
    double away = fabs(x - axis->arch_x) / (0.35 * axis->reach);
    centre.z += axis->arch_rise * (1.0 - smooth_step(away));
    return centre;
}

double sole_angle(const sole_axis *axis, chart_place place)
{
    double behind = fmin(0.0, place.a - axis->heel.x);
    return hypot(behind, place.b) / CHART_RADIUS;
}

hw_vec3 sole_ray(const sole_axis *axis, chart_place place, hw_vec3 *centre)
{
    double behind = fmin(0.0, place.a - axis->heel.x), around = hypot(behind, place.b);
    double angle = around / CHART_RADIUS, out = around > 0.0 ? sin(angle) / around : 0.0;
    *centre = sole_centre(axis, place.a);
    return (hw_vec3){behind * out, place.b * out, -cos(angle)};
}

chart_place sole_place_of(const sole_axis *axis, hw_vec3 point)
{
    hw_vec3 from = hw_vec3_sub(point, sole_centre(axis, point.x));
    double behind = fmin(0.0, point.x - axis->heel.x), flat = hypot(behind, from.y);
    double around = CHART_RADIUS * atan2(flat, -from.z);
    double share = flat > 0.0 ? around / flat : 0.0;
    double a = behind < 0.0 ? axis->heel.x + behind * share : point.x;
    return (chart_place){a, from.y * share};
}

/// A ray of the chart, kept because many triangles ask for it.
typedef struct chart_ray {
    hw_vec3 from, along;
} chart_ray;

typedef struct caster {
    sole_chart *chart;
    const chart_ray *rays;
} caster;

/// Distance along the ray to the triangle, met from inside the foot; 0 for a miss.
/// Source: Moeller 1997 J Graph Tools (from memory).
static double meet(const chart_ray *ray, const hw_vec3 *corner)
{
    hw_vec3 ab = hw_vec3_sub(corner[1], corner[0]), ac = hw_vec3_sub(corner[2], corner[0]);
    hw_vec3 across = hw_vec3_cross(ray->along, ac);
    double size = hw_vec3_dot(ab, across);
    if (size > -1e-18) return 0.0; // seen from outside, or edge on (m2)
    hw_vec3 from = hw_vec3_sub(ray->from, corner[0]);
    double u = hw_vec3_dot(from, across) / size;
    if (u < -1e-9 || u > 1.0 + 1e-9) return 0.0;
    hw_vec3 turned = hw_vec3_cross(from, ab);
    double v = hw_vec3_dot(ray->along, turned) / size;
    if (v < -1e-9 || u + v > 1.0 + 1e-9) return 0.0;
    return hw_vec3_dot(ac, turned) / size;
}

static int clamped(double value, int count)
{
    return value < 0.0 ? 0 : value > count - 1 ? count - 1 : (int)value;
}

/// Offers the triangle to the rays in its box of the chart.
static void cast_small(const caster *to, const hw_vec3 *corner)
{
    const sole_chart *chart = to->chart;
    double low[2] = {1e9, 1e9}, high[2] = {-1e9, -1e9};
    for (int k = 0; k < 3; k++) {
        chart_place at = sole_place_of(&chart->axis, corner[k]);
        low[0] = fmin(low[0], at.a), high[0] = fmax(high[0], at.a);
        low[1] = fmin(low[1], at.b), high[1] = fmax(high[1], at.b);
    }
    double ib = (low[1] - chart->b_first) / CHART_STEP;
    double ia = (low[0] - chart->a_first) / CHART_STEP;
    double ia_end = (high[0] - chart->a_first) / CHART_STEP;
    double ib_end = (high[1] - chart->b_first) / CHART_STEP;
    if (ia > chart->na || ib > chart->nb || ia_end < -1.0 || ib_end < -1.0) return;
    int last_a = clamped(ia_end + 1.0, chart->na), last_b = clamped(ib_end + 1.0, chart->nb);
    for (int i = clamped(ia - 0.2, chart->na); i <= last_a; i++)
        for (int j = clamped(ib - 0.2, chart->nb); j <= last_b; j++) {
            double *nearest = &chart->distance[i * chart->nb + j];
            double found = meet(&to->rays[i * chart->nb + j], corner);
            if (found > 0.0 && (*nearest <= 0.0 || found < *nearest)) *nearest = found;
        }
}

/// Large triangles are bent in the chart, so their box there would miss rays: they are quartered.
static void cast_triangle(const caster *to, const hw_vec3 *corner, int depth)
{
    const double small = 0.004; // m
    double longest = 0.0;
    for (int k = 0; k < 3; k++)
        longest = fmax(longest, hw_vec3_distance(corner[k], corner[(k + 1) % 3]));
    if (longest <= small || depth == 0) {
        cast_small(to, corner);
        return;
    }
    hw_vec3 middle[3];
    for (int k = 0; k < 3; k++) middle[k] = hw_vec3_mix(corner[k], corner[(k + 1) % 3], 0.5);
    for (int k = 0; k < 3; k++) {
        const hw_vec3 part[3] = {corner[k], middle[k], middle[(k + 2) % 3]};
        cast_triangle(to, part, depth - 1);
    }
    cast_triangle(to, middle, depth - 1);
}

/// False for what lies clear of the chart: toes, leg.
static bool concerns_sole(const sole_chart *chart, const hw_vec3 *corner)
{
    const double far = chart->axis.reach;
    double low_x = fmin(corner[0].x, fmin(corner[1].x, corner[2].x));
    double low_z = fmin(corner[0].z, fmin(corner[1].z, corner[2].z));
    return low_x < 1.1 * far && low_z < 0.45 * far;
}

// How far forward the chart goes: to just before the heads, or beyond the toes.
static double chart_front(const hw_foot *foot, const hw_orthosis_order *order,
                          const sole_axis *axis)
{
    return order_is_long(order) ? foot->landmarks.toe_tip.x + 0.015 : 1.06 * axis->reach;
}

static hw_status make_chart(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                            hw_arena *into, sole_chart *chart)
{
    chart->axis = sole_axis_of(foot);
    double half = CHART_RADIUS * ANGLE_MAX;
    chart->a_first = chart->axis.heel.x - half;
    chart->b_first = -half;
    chart->nb = 2 * (int)lround(half / CHART_STEP) + 1;
    double front = chart_front(foot, order, &chart->axis);
    chart->na = (int)((front - chart->a_first) / CHART_STEP) + 1;
    HW_ALLOC(job, into, chart->distance, chart->na * chart->nb);
    HW_ALLOC(job, into, chart->seen, chart->na * chart->nb);
    HW_ALLOC(job, into, chart->points, chart->na * chart->nb);
    return HW_OK;
}

static hw_status make_rays(hw_job *job, const sole_chart *chart, hw_arena *into, chart_ray **out)
{
    chart_ray *rays = NULL;
    HW_ALLOC(job, into, rays, chart->na * chart->nb);
    for (int i = 0; i < chart->na; i++)
        for (int j = 0; j < chart->nb; j++) {
            chart_place at = {chart->a_first + i * CHART_STEP, chart->b_first + j * CHART_STEP};
            chart_ray *ray = &rays[i * chart->nb + j];
            ray->along = sole_ray(&chart->axis, at, &ray->from);
        }
    *out = rays;
    return HW_OK;
}

// Under the heads and toes a device is flat: the support plane takes the place of the sole, from
// 25 mm behind the line between the heads to 5 mm behind it.
static void flatten_front(const hw_foot *foot, const chart_ray *rays, sole_chart *chart)
{
    const hw_landmarks *at = &foot->landmarks;
    const double from = 0.025, over = 0.020, flattest = 0.2; // m, m, cosine
    double slope = (at->mth5.x - at->mth1.x) / (at->mth5.y - at->mth1.y);
    for (int k = 0; k < chart->na * chart->nb; k++) {
        const chart_ray *ray = &rays[k];
        double down = fmax(flattest, -ray->along.z), flat = ray->from.z / down;
        double y = ray->from.y + flat * ray->along.y;
        y = fmax(at->mth1.y, fmin(at->mth5.y, y));
        double line = at->mth1.x + slope * (y - at->mth1.y);
        double share = smooth_step((ray->from.x - line + from) / over);
        if (share <= 0.0) continue;
        double shown = chart->seen[k] ? chart->distance[k] : flat;
        chart->distance[k] = shown + share * (flat - shown);
        chart->seen[k] = SOLE_FLAT;
    }
}

hw_status sole_cast(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                    hw_arena *into, sole_chart *out)
{
    HW_TRY(make_chart(job, foot, order, into, out));
    hw_scratch tmp = hw_scratch_begin(job, into);
    chart_ray *rays = NULL;
    HW_TRY(make_rays(job, out, tmp.arena, &rays));
    const caster to = {out, rays};
    const hw_mesh *mesh = &foot->surface;
    for (int t = 0; t < mesh->triangle_count; t++) {
        if (t % 8192 == 0) HW_TRY(hw_job_ask(job));
        const int *c = mesh->triangles[t];
        const hw_vec3 corner[3] = {mesh->points[c[0]], mesh->points[c[1]], mesh->points[c[2]]};
        if (concerns_sole(out, corner)) cast_triangle(&to, corner, 6);
    }
    for (int k = 0; k < out->na * out->nb; k++)
        out->seen[k] = out->distance[k] > 0.0 ? SOLE_SHOWN : SOLE_HIDDEN;
    if (order_is_long(order)) flatten_front(foot, rays, out);
    hw_scratch_end(tmp);
    return HW_OK;
}
