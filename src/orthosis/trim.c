// SPDX-License-Identifier: GPL-3.0-or-later
// Where the device ends, and its grid between the four edges. All in the chart.
#include "orthosis_internal.h"

// The side edges leave the cup at 45 degrees round the back, so that neither has a sharp corner.
static const double corner_turn = 0.25 * HW_PI;
// Angle of the medial edge from straight down at the arch: the wall of the arch is cradled, the skin
// of the instep is not (common practice: shell up to about the first metatarsal's bisection).
static const double arch_angle = 1.05;

typedef struct trim {
    const sole_chart *chart;
    const hw_landmarks *at;
    const hw_orthosis_order *order;
    double crest_z;       // of the rim around the heel
    double rim_radius;    // half the thickness there
    double heel_angle[2]; // medial, lateral
    double ball_a[2];     // where the edges of the arch and border end,
    double ball_angle[2]; // behind the heads
    double distal_a[2];   // where the device ends: there, or in front of them
    double distal_angle[2];
    double line_x, line_slope;   // distal edge in plan: x = line_x + line_slope * y,
    double bow, bow_y, bow_half; // less bow * ((y - bow_y) / bow_half)^2
} trim;

// In the fan around the heel: turn 0 is medial, half a circle is lateral, the back between.
static chart_place fan_place(const trim *of, double turn, double angle)
{
    double out = CHART_RADIUS * angle;
    return (chart_place){of->chart->axis.heel.x - out * sin(turn), -out * cos(turn)};
}

// Height of the crest of a full-round rim on a wall that ends at this place: the rim's middle lies half
// a thickness out of the top's edge, its crest a radius above that.
static double crest_z(const trim *of, double turn, double angle)
{
    const double step = 0.01; // rad
    hw_vec3 edge = sole_point(of->chart, fan_place(of, turn, angle));
    hw_vec3 along = hw_vec3_sub(sole_point(of->chart, fan_place(of, turn, angle + step)), edge);
    double flat = hypot(along.x, along.y);
    return edge.z + of->rim_radius * (1.0 - flat / hypot(flat, along.z));
}

// The angle from straight down at which the rim around the heel stands at its height.
static bool rim_angle(const trim *of, double turn, double *out)
{
    double low = 0.3, high = low;
    const double step = 0.05;
    while (high < ANGLE_MAX - step && crest_z(of, turn, high) < of->crest_z)
        low = high, high += step;
    if (crest_z(of, turn, high) < of->crest_z) return false;
    for (int i = 0; i < 30; i++) {
        double middle = 0.5 * (low + high);
        if (crest_z(of, turn, middle) < of->crest_z)
            low = middle;
        else
            high = middle;
    }
    *out = high;
    return true;
}

// The chart's b at which the section x = a has the given y, walking out from the middle.
static double b_of_y(const sole_chart *chart, double a, double y)
{
    const double step = 0.0005, end = CHART_RADIUS * 1.3;
    double b = 0.0, sign = y < sole_point(chart, (chart_place){a, 0.0}).y ? -1.0 : 1.0;
    while (fabs(b) < end && sign * (y - sole_point(chart, (chart_place){a, b}).y) > 0.0)
        b += sign * step;
    if (b == 0.0) return b; // no step was taken
    double last = sole_point(chart, (chart_place){a, b - sign * step}).y;
    double here = sole_point(chart, (chart_place){a, b}).y;
    return here == last ? b : b - sign * step * fmin(1.0, fmax(0.0, (here - y) / (here - last)));
}

// The distal edge in plan, with the first ray's part cut back.
static double line_a(const trim *of, double y)
{
    double ball = of->at->mth5.y - of->at->mth1.y, aside = (y - of->bow_y) / of->bow_half;
    double cut_end = of->at->mth1.y + 0.28 * ball, cut_wide = 0.19 * ball;
    double cut = of->order->ray_cut_m * (1.0 - smooth_step((y - cut_end) / cut_wide));
    return of->line_x + of->line_slope * y - of->bow * aside * aside - cut;
}

// Side edge in plan in front of the heads: it narrows towards the toes.
static double front_y(const trim *of, int side, double a)
{
    const hw_landmarks *at = of->at;
    double ball = at->mth5.y - at->mth1.y, start = of->ball_a[side];
    double ahead = (a - start) / (at->toe_tip.x - start);
    double behind = side ? at->mth5.y - 0.06 * ball : at->mth1.y + 0.13 * ball;
    double wide = side ? at->mth5.y - (0.02 + 0.22 * ahead) * ball
                       : at->mth1.y + (0.03 + 0.08 * ahead) * ball;
    return behind + (wide - behind) * smooth_step((a - start) / 0.025);
}

static double angle_at(const trim *of, double a, double y)
{
    return fabs(b_of_y(of->chart, a, y)) / CHART_RADIUS;
}

// A heel cup ends in a straight line behind the arch.
static void find_cup_end(trim *of)
{
    of->line_x = 0.42 * of->chart->axis.reach;
    for (int side = 0; side < 2; side++) {
        of->ball_a[side] = of->distal_a[side] = of->line_x;
        of->ball_angle[side] = of->distal_angle[side] = 0.75;
    }
}

// In front of the heads: over the toes' roots for the sulcus, or round the toes' tips.
static void find_front(trim *of)
{
    const hw_landmarks *at = of->at;
    const double beyond = 0.003; // m in front of the toes' tips
    if (of->order->length == HW_ORTHOSIS_SULCUS) {
        of->line_x += 0.11 * of->chart->axis.reach + of->order->distal_gap_m;
    } else {
        of->line_x = at->toe_tip.x + beyond, of->line_slope = 0.0;
        of->bow = 0.030, of->bow_y = 0.6 * at->mth1.y + 0.4 * at->mth5.y;
        of->bow_half = 0.5 * (at->mth5.y - at->mth1.y);
    }
    for (int side = 0; side < 2; side++) {
        double a = of->distal_a[side];
        for (int i = 0; i < 20; i++) a = line_a(of, front_y(of, side, a));
        of->distal_a[side] = a;
        of->distal_angle[side] = angle_at(of, a, front_y(of, side, a));
    }
}

static void find_distal(trim *of)
{
    const hw_landmarks *at = of->at;
    double ball = at->mth5.y - at->mth1.y;
    of->bow_half = 1.0;
    if (of->order->length == HW_ORTHOSIS_HEEL_CUP) {
        find_cup_end(of);
        return;
    }
    of->line_slope = (at->mth5.x - at->mth1.x) / ball;
    of->line_x = at->mth1.x - of->line_slope * at->mth1.y - of->order->distal_gap_m -
                 of->rim_radius; // the rim stands so far beyond the top's edge
    // Bisection of the first metatarsal, and just inside the lateral border, as shares of the ball.
    const double edge_y[2] = {at->mth1.y + 0.13 * ball, at->mth5.y - 0.06 * ball};
    for (int side = 0; side < 2; side++) {
        of->ball_a[side] = of->distal_a[side] = line_a(of, edge_y[side]);
        of->ball_angle[side] = of->distal_angle[side] =
            angle_at(of, of->ball_a[side], edge_y[side]);
    }
    if (order_is_long(of->order)) find_front(of);
}

static double mix(double from, double to, double share)
{
    return from + (to - from) * smooth_step(share);
}

// The plain edge of one side in front of the heel's middle.
static chart_place side_place(const trim *of, int side, double a)
{
    double from = of->chart->axis.heel.x, s = (a - from) / (of->ball_a[side] - from);
    double angle = 0.0, start = of->heel_angle[side], end = of->ball_angle[side];
    if (s > 1.0)
        angle = angle_at(of, a, front_y(of, side, a));
    else if (side == 1 || of->order->length == HW_ORTHOSIS_HEEL_CUP)
        angle = mix(start, end, s / 0.8);
    else if (s < 0.5)
        angle = mix(start, arch_angle, s / 0.5);
    else
        angle = mix(arch_angle, end, (s - 0.5) / 0.5);
    return (chart_place){a, (side == 1 ? 1.0 : -1.0) * CHART_RADIUS * angle};
}

// How much a flange raises the edge there, m.
static double flange_at(const trim *of, int side, double a)
{
    double from = of->chart->axis.heel.x, s = (a - from) / (of->ball_a[side] - from);
    if (side == 1) return of->order->lateral_flange_m * plateau(s, 0.35, 0.65, 0.30);
    return of->order->medial_flange_m * plateau(s, 0.42, 0.58, 0.32);
}

// Walks up the wall from a place until it is `height` higher.
static hw_status walk_up(hw_job *job, const trim *of, double height, chart_place *at)
{
    const double step = 0.0005; // m of the chart
    double sign = at->b < 0.0 ? -1.0 : 1.0, low = sole_point(of->chart, *at).z;
    double goal = low + height;
    while (low < goal) {
        at->b += sign * step;
        double high = sole_point(of->chart, *at).z;
        if (sole_angle(&of->chart->axis, *at) > 0.9 * ANGLE_MAX ||
            sole_seen(of->chart, *at) == SOLE_HIDDEN)
            return hw_fail(job, HW_NO_ANSWER,
                           "the scan does not show the foot as high as the %s flange goes",
                           sign < 0.0 ? "medial" : "lateral");
        if (high >= goal) at->b -= sign * step * (high - goal) / (high - low);
        low = high;
    }
    return HW_OK;
}

// The whole side edge, u from 0 at the corner behind to 1: first through the fan, then the side.
static hw_status edge_place(hw_job *job, const trim *of, int side, double u, chart_place *out)
{
    double start = of->chart->axis.heel.x, body = of->distal_a[side] - start;
    double fan = CHART_RADIUS * of->heel_angle[side] * corner_turn, split = fan / (fan + body);
    if (u >= split) {
        double a = start + body * (u - split) / (1.0 - split), flange = flange_at(of, side, a);
        *out = side_place(of, side, a);
        return flange > 0.0 ? walk_up(job, of, flange, out) : HW_OK;
    }
    double turn = corner_turn * (1.0 - u / split), angle = 0.0;
    if (side == 1) turn = HW_PI - turn;
    if (!rim_angle(of, turn, &angle))
        return hw_fail(job, HW_NO_ANSWER, "the scan's heel is lower than the heel cup is deep");
    *out = fan_place(of, turn, angle);
    return HW_OK;
}

static hw_status heel_place(hw_job *job, const trim *of, double v, chart_place *out)
{
    double turn = corner_turn + v * (HW_PI - 2.0 * corner_turn), angle = 0.0;
    if (!rim_angle(of, turn, &angle))
        return hw_fail(job, HW_NO_ANSWER, "the scan's heel is lower than the heel cup is deep");
    *out = fan_place(of, turn, angle);
    return HW_OK;
}

// The distal edge keeps to its straight line in plan while b runs from corner to corner.
static chart_place distal_place(const trim *of, double v)
{
    double b = CHART_RADIUS * ((1.0 - v) * -of->distal_angle[0] + v * of->distal_angle[1]);
    chart_place at = {(1.0 - v) * of->distal_a[0] + v * of->distal_a[1], b};
    if (v <= 0.0 || v >= 1.0 || of->order->length == HW_ORTHOSIS_HEEL_CUP) return at;
    for (int i = 0; i < 12; i++) at.a = line_a(of, sole_point(of->chart, at).y);
    return at;
}

static hw_status find_trim(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                           const sole_chart *chart, trim *out)
{
    trim of = {.chart = chart,
               .at = &foot->landmarks,
               .order = order,
               .rim_radius = 0.5 * order_rim(order)};
    of.crest_z = chart->heel_low + order->heel_cup_depth_m;
    for (int side = 0; side < 2; side++)
        if (!rim_angle(&of, side ? HW_PI : 0.0, &of.heel_angle[side]))
            return hw_fail(job, HW_NO_ANSWER, "the scan's heel is lower than the heel cup is deep");
    find_distal(&of);
    *out = of;
    return HW_OK;
}

typedef struct edges {
    chart_place medial[GRID_U], lateral[GRID_U], heel[GRID_V], distal[GRID_V];
} edges;

static double blend(const double corner[4], const double side[4], double u, double v)
{
    double sides = (1.0 - v) * side[0] + v * side[1] + (1.0 - u) * side[2] + u * side[3];
    double corners = (1.0 - u) * ((1.0 - v) * corner[0] + v * corner[1]) +
                     u * ((1.0 - v) * corner[2] + v * corner[3]);
    return sides - corners;
}

// Coons' patch between the four edges (from memory: Coons 1967).
static chart_place patch_place(const edges *of, int i, int j)
{
    double u = (double)i / (GRID_U - 1), v = (double)j / (GRID_V - 1);
    const chart_place corner[4] = {of->heel[0], of->heel[GRID_V - 1], of->distal[0],
                                   of->distal[GRID_V - 1]};
    const chart_place side[4] = {of->medial[i], of->lateral[i], of->heel[j], of->distal[j]};
    const double corner_a[4] = {corner[0].a, corner[1].a, corner[2].a, corner[3].a};
    const double corner_b[4] = {corner[0].b, corner[1].b, corner[2].b, corner[3].b};
    const double side_a[4] = {side[0].a, side[1].a, side[2].a, side[3].a};
    const double side_b[4] = {side[0].b, side[1].b, side[2].b, side[3].b};
    return (chart_place){blend(corner_a, side_a, u, v), blend(corner_b, side_b, u, v)};
}

static double apart(chart_place a, chart_place b)
{
    return hypot(a.a - b.a, a.b - b.b);
}

static chart_place between(chart_place from, chart_place to, double share)
{
    return (chart_place){from.a + (to.a - from.a) * share, from.b + (to.b - from.b) * share};
}

// Spreads `count` places evenly, by chart length, over a line of `n` places.
static void spread(const chart_place *line, int n, int count, chart_place *out)
{
    double whole = 0.0, passed = 0.0;
    for (int i = 0; i + 1 < n; i++) whole += apart(line[i], line[i + 1]);
    int leg = 0;
    for (int k = 0; k < count; k++) {
        double want = whole * k / (count - 1);
        while (leg < n - 2 && passed + apart(line[leg], line[leg + 1]) < want) {
            passed += apart(line[leg], line[leg + 1]);
            leg++;
        }
        double length = apart(line[leg], line[leg + 1]);
        out[k] = between(line[leg], line[leg + 1],
                         length > 0.0 ? fmin(1.0, (want - passed) / length) : 0.0);
    }
}

enum { BOW = 12, LINE_MOST = GRID_U + BOW };

// Index of the last place of `edge` that keeps `reach` from its end.
static int keep_from_end(const chart_place *edge, int count, double reach)
{
    int last = count - 1;
    while (last > 1 && apart(edge[last], edge[count - 1]) < reach) last--;
    return last;
}

// Replaces the end of `edge` by the first half of a parabola that leaves it at `reach` from the corner
// and meets `beyond`, the place as far from the corner on the other edge. No corner pricks the skin.
static void bow_end(chart_place *edge, int count, chart_place beyond, double reach)
{
    chart_place line[LINE_MOST], corner = edge[count - 1];
    int last = keep_from_end(edge, count, reach);
    for (int i = 0; i <= last; i++) line[i] = edge[i];
    for (int k = 1; k <= BOW; k++) {
        double t = 0.5 * k / BOW;
        chart_place in = between(edge[last], corner, t), out = between(corner, beyond, t);
        line[last + k] = between(in, out, t);
    }
    spread(line, last + BOW + 1, count, edge);
}

static void turn_round(chart_place *edge, int count)
{
    for (int i = 0; i < count / 2; i++) {
        chart_place kept = edge[i];
        edge[i] = edge[count - 1 - i];
        edge[count - 1 - i] = kept;
    }
}

// Rounds the corner in which `side` ends and the distal edge ends too, from `reach` before it on.
static void round_corner(chart_place *side, chart_place *distal, double reach)
{
    chart_place on_side = side[keep_from_end(side, GRID_U, reach)];
    chart_place on_distal = distal[keep_from_end(distal, GRID_V, reach)];
    bow_end(side, GRID_U, on_distal, reach);
    bow_end(distal, GRID_V, on_side, reach);
}

static void round_corners(edges *around, double reach)
{
    round_corner(around->lateral, around->distal, reach);
    turn_round(around->distal, GRID_V);
    round_corner(around->medial, around->distal, reach);
    turn_round(around->distal, GRID_V);
}

// Coons' patch collapses where two edges meet in a straight line, as behind the cup. Some rounds
// towards the harmonic grid, each place the mean of its four neighbours, open it up.
static void relax(chart_place *grid)
{
    const int rounds = 120;
    for (int round = 0; round < rounds; round++)
        for (int i = 1; i + 1 < GRID_U; i++)
            for (int j = 1; j + 1 < GRID_V; j++) {
                const chart_place *back = &grid[grid_index(i - 1, j)];
                const chart_place *front = &grid[grid_index(i + 1, j)];
                chart_place *here = &grid[grid_index(i, j)];
                here->a = 0.25 * (back->a + front->a + here[-1].a + here[1].a);
                here->b = 0.25 * (back->b + front->b + here[-1].b + here[1].b);
            }
}

hw_status trim_grid(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                    const sole_chart *chart, chart_place *out)
{
    trim of = {0};
    edges around = {0};
    HW_TRY(find_trim(job, foot, order, chart, &of));
    for (int i = 0; i < GRID_U; i++) {
        double u = (double)i / (GRID_U - 1);
        HW_TRY(edge_place(job, &of, 0, u, &around.medial[i]));
        HW_TRY(edge_place(job, &of, 1, u, &around.lateral[i]));
    }
    for (int j = 0; j < GRID_V; j++) {
        double v = (double)j / (GRID_V - 1);
        HW_TRY(heel_place(job, &of, v, &around.heel[j]));
        around.distal[j] = distal_place(&of, v);
    }
    round_corners(&around, order_is_long(order) ? 0.022 : 0.012);
    for (int i = 0; i < GRID_U; i++)
        for (int j = 0; j < GRID_V; j++) out[grid_index(i, j)] = patch_place(&around, i, j);
    relax(out);
    return HW_OK;
}
