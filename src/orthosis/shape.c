// SPDX-License-Identifier: GPL-3.0-or-later
// The ordered corrections of the top as displacement fields. Those of the whole wall come first and
// the bottom follows them; hollows and pads are laid on it afterwards.
#include "orthosis_internal.h"

// The larger of 0 and t, with a fillet to each side.
static double above_zero(double t, double fillet)
{
    if (t <= -fillet) return 0.0;
    return t >= fillet ? t : (t + fillet) * (t + fillet) / (4.0 * fillet);
}

// The arch's line in plan (docs/frames.md): from the heel's middle to a fifth of the ball from the first head.
static double arch_line_y(const shape_plan *of, double x)
{
    const hw_landmarks *at = &of->foot->landmarks;
    const sole_axis *axis = &of->chart->axis;
    double head = at->mth1.y + 0.2 * (at->mth5.y - at->mth1.y);
    return axis->heel.y + (head - axis->heel.y) * (x - axis->heel.x) / (at->mth1.x - axis->heel.x);
}

// How much of a given arch's height a place has: all at its top and medially of it, an eighth at the lateral
// border, nothing under heel and heads (common practice: the lateral arch is low).
static double arch_share(const shape_plan *of, hw_vec3 at)
{
    const hw_landmarks *mark = &of->foot->landmarks;
    const sole_axis *axis = &of->chart->axis;
    const double lateral = 0.125;
    double line = arch_line_y(of, at.x), head = mark->mth1.x;
    double border = mark->heel_lateral.y + (mark->mth5.y - mark->heel_lateral.y) *
                                               (at.x - axis->heel.x) /
                                               (mark->mth5.x - axis->heel.x);
    double along = at.x < axis->arch_x ? (at.x - axis->heel.x) / (axis->arch_x - axis->heel.x)
                                       : (head - at.x) / (head - axis->arch_x);
    double across = (at.y - line) / (border - line);
    return smooth_step(along) * (1.0 - (1.0 - lateral) * smooth_step(across));
}

hw_status shape_raise_arch(hw_job *job, const shape_plan *of, hw_vec3 *top)
{
    const double height = of->order->arch_height_m, fillet = 0.004, slack = 0.001; // m
    double x = of->chart->axis.arch_x, y = arch_line_y(of, x), nearest = 1.0, shown = 0.0;
    if (!(height > 0.0)) return HW_OK;
    for (int k = 0; k < GRID_U * GRID_V; k++) {
        double away = hypot(top[k].x - x, top[k].y - y);
        if (away < nearest) nearest = away, shown = top[k].z;
    }
    if (shown > height + slack)
        return hw_fail(job, HW_BAD_INPUT,
                       "arch height by hand: %.1f mm, but the scan shows this arch %.1f mm high",
                       hw_mm_from_m(height), hw_mm_from_m(shown));
    for (int k = 0; k < GRID_U * GRID_V; k++) {
        double share = arch_share(of, top[k]), most = height * share;
        top[k].z += above_zero(most - top[k].z, fillet * share);
    }
    return HW_OK;
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

static void expand_and_fill(const shape_plan *of, hw_vec3 *top)
{
    const hw_orthosis_order *order = of->order;
    for (int k = 0; k < GRID_U * GRID_V; k++) {
        hw_vec3 centre, ray = sole_ray(&of->chart->axis, of->places[k], &centre);
        double flat = hypot(ray.x, ray.y), along = along_device(of->chart, of->places[k]);
        double body = smooth_step((along - 0.05) / 0.35);
        double border = (of->places[k].b > 0.0 ? 1.0 : 0.5) * order->border_expansion_m;
        double out = (1.0 - body) * order->heel_expansion_m + body * border;
        out *= flat > 0.0 ? wall_share(of->chart, of->places[k]) / flat : 0.0;
        top[k].x += out * ray.x;
        top[k].y += out * ray.y;
        top[k].z -= order->arch_fill_m * fill_share(of->chart, of->places[k]);
    }
}

// A part of the device that is tilted or skived: all of it under the heel, nothing from the arch on.
static double heel_share(const shape_plan *of, int k)
{
    return 1.0 - smooth_step((along_device(of->chart, of->places[k]) - 0.12) / 0.40);
}

// A plane 15 degrees in varus that first touches the heel from below is raised by the depth; where it
// then stands above the heel, the device does too. Its deepest place is as deep as ordered.
static void skive(const shape_plan *of, hw_vec3 *top)
{
    const double slope = tan(HW_PI / 12.0), fillet = 0.0003; // m
    double nearest = -1.0;
    if (!(of->order->skive_depth_m > 0.0)) return;
    for (int k = 0; k < GRID_U * GRID_V; k++)
        if (heel_share(of, k) >= 1.0) nearest = fmax(nearest, -slope * top[k].y - top[k].z);
    for (int k = 0; k < GRID_U * GRID_V; k++) {
        double above = of->order->skive_depth_m - (nearest + slope * top[k].y + top[k].z);
        top[k].z += heel_share(of, k) * above_zero(above, fillet);
    }
}

// Turns a place about a line lengthwise, inner side up +.
static hw_vec3 tilted(hw_vec3 at, double y, double z, double angle)
{
    double dy = at.y - y, dz = at.z - z;
    return (hw_vec3){at.x, y + dy * cos(angle) + dz * sin(angle),
                     z - dy * sin(angle) + dz * cos(angle)};
}

// The posts that are built into the shell: cup and forefoot turned against the arch between.
static void tilt(const shape_plan *of, hw_vec3 *top)
{
    const hw_orthosis_order *order = of->order;
    const sole_axis *axis = &of->chart->axis;
    double heel = order->rearfoot_intrinsic ? order->rearfoot_post_rad : 0.0;
    double fore = order->forefoot_intrinsic ? order->forefoot_post_rad : 0.0;
    if (order->balances_heel) heel = of->foot->measures.heel_bisection_rad.value;
    for (int k = 0; k < GRID_U * GRID_V; k++) {
        double front = smooth_step((along_device(of->chart, of->places[k]) - 0.50) / 0.34);
        if (heel != 0.0) // as typed: zero is no post
            top[k] = tilted(top[k], axis->heel.y, of->chart->heel_low, heel * heel_share(of, k));
        if (fore != 0.0) top[k] = tilted(top[k], axis->ball.y, 0.0, fore * front);
    }
}

void shape_correct(const shape_plan *of, hw_vec3 *top)
{
    expand_and_fill(of, top);
    skive(of, top);
    tilt(of, top);
}

// Falls from 1 to 0 about `half`, where it is a half, over `wall`.
static double hollow_share(double away, double half, double wall)
{
    return 1.0 - smooth_step((away - half + 0.5 * wall) / wall);
}

// The fascia's medial band in plan: from the inner side of the heel's tubercle to the first head.
static double groove_share(const shape_plan *of, hw_vec3 at, double wider)
{
    const hw_landmarks *mark = &of->foot->landmarks;
    double width = of->order->groove_width_m;
    double breadth = mark->heel_lateral.y - mark->heel_medial.y;
    double ball = mark->mth5.y - mark->mth1.y;
    double from_x = mark->heel_back.x + 0.22 * of->chart->axis.reach;
    double from_y = of->chart->axis.heel.y - 0.10 * breadth;
    double to_x = mark->mth1.x, to_y = mark->mth1.y + 0.20 * ball;
    double length = hypot(to_x - from_x, to_y - from_y);
    double ux = (to_x - from_x) / length, uy = (to_y - from_y) / length;
    double along = (at.x - from_x) * ux + (at.y - from_y) * uy;
    double aside = fabs((at.y - from_y) * ux - (at.x - from_x) * uy);
    return hollow_share(fmax(0.0, aside - wider), 0.5 * width, 0.7 * width) *
           smooth_step((along + wider + 0.002) / 0.012);
}

static double recess_share(const shape_plan *of, hw_vec3 at, double wider)
{
    const hw_orthosis_order *order = of->order;
    double x = of->foot->landmarks.heel_back.x + order->tender_x_m;
    double away = hypot(at.x - x, at.y - of->chart->axis.heel.y - order->tender_y_m);
    double wall = fmax(0.006, 1.8 * order->recess_depth_m);
    return hollow_share(fmax(0.0, away - wider), 0.5 * order->recess_width_m, wall);
}

double shape_hollow(const shape_plan *of, hw_vec3 at, double wider)
{
    double groove = 0.0, recess = 0.0;
    if (of->order->groove_depth_m > 0.0)
        groove = of->order->groove_depth_m * groove_share(of, at, wider);
    if (of->order->recess_depth_m > 0.0)
        recess = of->order->recess_depth_m * recess_share(of, at, wider);
    return fmax(groove, recess);
}

double shape_pad(const shape_plan *of, hw_vec3 at, int column)
{
    const hw_landmarks *mark = &of->foot->landmarks;
    const double behind = 0.024, half_long = 0.015, half_wide = 0.016; // m
    double ball = mark->mth5.y - mark->mth1.y, across = (at.y - mark->mth1.y) / ball;
    double line = mark->mth1.x + across * (mark->mth5.x - mark->mth1.x);
    double along = (at.x - line + behind) / half_long;
    double aside = (across - 0.47) * ball / half_wide;
    double v = (double)column / (GRID_V - 1);
    if (of->order->met_pad == HW_MET_NONE) return 0.0;
    double share = of->order->met_pad == HW_MET_DOME
                       ? 1.0 - smooth_step(hypot(along, aside))
                       : (1.0 - smooth_step(fabs(along))) * plateau(v, 0.25, 0.75, 0.2);
    return of->order->met_height_m * share;
}
