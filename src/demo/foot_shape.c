// SPDX-License-Identifier: GPL-3.0-or-later
// The analytic foot. A station `along` runs from the heel (0) to the ends of the toes (1). Each
// section has a lower half (sole) and an upper half (dorsum) that meet at its widest points, across
// -1 (medial) and +1 (lateral). At the heel the halves shrink to an upright line, at the toes to the
// line of the toe ends, so the surface closes. All shapes are invented.
#include "demo_internal.h"

/// A row of a profile: station and value.
typedef struct knot {
    double at, value;
} knot;

static double secant(const knot *k, int i)
{
    return (k[i + 1].value - k[i].value) / (k[i + 1].at - k[i].at);
}

/// Slope at an inner knot: zero at a turn, else harmonic, so that the curve never overshoots
/// (Fritsch 1980 SIAM J Numer Anal, from memory).
static double slope(const knot *k, int count, int i)
{
    if (i == 0 || i == count - 1) return 0.0;
    double before = secant(k, i - 1), after = secant(k, i);
    return before * after <= 0.0 ? 0.0 : 2.0 * before * after / (before + after);
}

static double profile(const knot *k, int count, double at)
{
    int i = 0;
    while (i < count - 2 && at > k[i + 1].at) i++;
    double width = k[i + 1].at - k[i].at;
    double t = fmin(1.0, fmax(0.0, (at - k[i].at) / width)), u = 1.0 - t;
    return k[i].value * u * u * (1.0 + 2.0 * t) + k[i + 1].value * t * t * (3.0 - 2.0 * t) +
           width * t * u * (slope(k, count, i) * u - slope(k, count, i + 1) * t);
}

#define PROFILE(rows, at) profile(rows, (int)(sizeof(rows) / sizeof *(rows)), at)

static double smooth_step(double t)
{
    t = fmin(1.0, fmax(0.0, t));
    return t * t * t * (10.0 - 15.0 * t + 6.0 * t * t);
}

/// Quarter of a superellipse: 1 at 0, 0 at 1, upright there.
static double round_off(double t, double power)
{
    t = fmin(1.0, fmax(0.0, t));
    return pow(1.0 - pow(t, power), 1.0 / power);
}

/// How far the section reaches from the middle line, m; `side` -1 medial, +1 lateral.
static double half_breadth(const hw_demo_foot_order *order, double along, int side)
{
    double heel = 0.5 * order->heel_breadth_m;
    double rounded = along < AT_HEEL ? round_off(1.0 - along / AT_HEEL, 2.2) : 1.0;
    double medial = HW_DEMO_SECOND_HEAD * order->ball_breadth_m;
    double lateral = order->ball_breadth_m - medial;
    if (side < 0) {
        const knot rows[] = {
            {AT_HEEL, heel},       {0.45, 0.50 * heel + 0.30 * medial},
            {AT_FIRST, medial},    {0.86, 0.90 * medial},
            {0.96, 0.88 * medial}, {1.0, 0.78 * medial},
        };
        return rounded * PROFILE(rows, along);
    }
    const knot rows[] = {
        {AT_HEEL, heel},     {0.24, 0.99 * heel},    {0.40, 0.55 * heel + 0.35 * lateral},
        {AT_FIFTH, lateral}, {0.80, 0.86 * lateral}, {1.0, 0.62 * lateral},
    };
    return rounded * PROFILE(rows, along);
}

/// One toe of the contour: from where to where it lies across, how far its tip falls behind the
/// longest, as a share of the foot's length.
typedef struct toe {
    double from, to, behind[3]; // behind: by hw_demo_toes
} toe;

static const toe toes[5] = {
    {-1.00, -0.30, {0.000, 0.012, 0.002}}, {-0.30, 0.08, {0.018, 0.000, 0.000}},
    {0.08, 0.40, {0.048, 0.030, 0.010}},   {0.40, 0.70, {0.085, 0.070, 0.045}},
    {0.70, 1.00, {0.135, 0.120, 0.095}},
};

static int toe_at(double across)
{
    int i = 0;
    while (i < 4 && across > toes[i].to) i++;
    return i;
}

/// How far the contour of the toes falls behind the longest, share of length.
static double toe_contour(const hw_demo_foot_order *order, double across)
{
    int i = toe_at(across), kind = (int)order->toes;
    double middle = 0.5 * (toes[i].from + toes[i].to), half = 0.5 * (toes[i].to - toes[i].from);
    double u = (across - middle) / half;
    int next = u < 0.0 ? i - 1 : i + 1; // the neighbour whose gap is nearer
    double tip = toes[i].behind[kind];
    double gap = next < 0   ? 0.040
                 : next > 4 ? tip + 0.030
                            : fmax(tip, toes[next].behind[kind]) + 0.034;
    return tip + (gap - tip) * pow(fabs(u), 2.6);
}

/// 1 in the cleft between two toes, 0 on a toe.
static double cleft(double along, double across)
{
    double deepest = 0.0;
    for (int i = 0; i < 4; i++) {
        double away = (across - toes[i].to) / 0.055;
        deepest = fmax(deepest, exp(-away * away));
    }
    return deepest * smooth_step((along - 0.80) / 0.12);
}

/// Height of the widest points, m.
static double side_height(const hw_demo_foot_order *order, double along, double across)
{
    const double unit = order->foot_length_m;
    const knot rows[] = {
        {0.0, 0.080 * unit},  {AT_HEEL, 0.075 * unit}, {AT_ARCH, 0.068 * unit},
        {0.70, 0.055 * unit}, {0.88, 0.040 * unit},    {1.0, 0.036 * unit},
    };
    // on the medial side the widest points ride up over the arch
    const knot lift[] = {{0.22, 0.0}, {AT_ARCH, 1.1 * order->arch_apex_height_m}, {0.68, 0.0}};
    return PROFILE(rows, along) + PROFILE(lift, along) * smooth_step(0.5 - 0.5 * across);
}

/// The sole between its edges, m: on the ground under heel and ball, arched between, more so
/// medially. Along the arch line its top is arch_apex_height_m, at AT_ARCH.
static double vault(const hw_demo_foot_order *order, double along, double across)
{
    const double convex = 0.0008; // m at the edges: pads are not flat
    const knot rise[] = {{0.19, 0.0}, {AT_ARCH, 1.0}, {0.67, 0.0}};
    double lateral = 0.12 * order->arch_apex_height_m;
    double line = HW_DEMO_ARCH_LINE, flat = convex * line * line;
    double medially = smooth_step((0.55 - across) / (0.55 + 3.0 * line)) /
                      smooth_step((0.55 + line) / (0.55 + 3.0 * line));
    double top = lateral + (order->arch_apex_height_m - flat - lateral) * medially;
    return PROFILE(rise, along) * top + convex * across * across;
}

static double sole_height(const hw_demo_foot_order *order, double along, double across)
{
    double side = side_height(order, along, across);
    const knot spring[] = {{0.78, 0.0}, {0.93, 0.012}, {1.0, 0.016}};
    double ground = vault(order, along, across) + PROFILE(spring, along) * order->foot_length_m;
    ground += 0.012 * order->foot_length_m * cleft(along, across);
    // round off: towards the edges, the heel's back and the toe tips
    double edge = fmax(0.0, (fabs(across) - HW_DEMO_ARCH_LINE) / (1.0 - HW_DEMO_ARCH_LINE));
    double end = along < AT_HEEL ? (AT_HEEL - along) / AT_HEEL
                 : along > 0.93  ? (along - 0.93) / 0.07
                                 : 0.0;
    double low = round_off(edge, 2.3) * round_off(end, 2.2);
    return side + (fmin(ground, side) - side) * low;
}

static double dorsum_height(const hw_demo_foot_order *order, double along, double across)
{
    const double top = order->dorsum_height_m, unit = order->foot_length_m;
    const knot ridge[] = {
        {0.0, 2.3 * top},     {0.26, 2.05 * top},   {AT_HALF, top},      {0.62, 0.76 * top},
        {0.74, 0.165 * unit}, {0.86, 0.105 * unit}, {1.0, 0.088 * unit},
    };
    double side = side_height(order, along, across);
    double crest = -HW_DEMO_ARCH_LINE;
    double from_crest =
        across < crest ? (crest - across) / (1.0 + crest) : (across - crest) / (1.0 - crest);
    double power = 2.0 + 1.5 * smooth_step((0.45 - along) / 0.25); // the leg is fuller
    double ends = along > 0.90 ? round_off((along - 0.90) / 0.10, 2.4) : 1.0;
    double rise = (PROFILE(ridge, along) - side) * round_off(from_crest, power) * ends;
    return side + fmax(0.0, rise) * (1.0 - 0.45 * cleft(along, across));
}

double shape_ankle_cut(const hw_demo_foot_order *order)
{
    return order->dorsum_height_m + 0.14 * order->foot_length_m;
}

double shape_longest_toe(const hw_demo_foot_order *order)
{
    int longest = order->toes == HW_DEMO_TOES_FIRST_LONGEST ? 0 : 1;
    return 0.5 * (toes[longest].from + toes[longest].to);
}

hw_vec3 shape_point(const hw_demo_foot_order *order, shape_place at)
{
    const double unit = order->foot_length_m;
    double z = at.upper ? dorsum_height(order, at.along, at.across)
                        : sole_height(order, at.along, at.across);
    z = fmin(z, shape_ankle_cut(order));
    double y = at.across * half_breadth(order, at.along, at.across < 0.0 ? -1 : 1);
    // stations bend forward to the contour of the toes
    double bend = pow(fmax(0.0, (at.along - 0.66) / 0.34), 1.5);
    double x = unit * (at.along - bend * toe_contour(order, at.across));
    // above the heel the back of the leg leans forward and the leg is slimmer
    double above = fmax(0.0, z / (0.080 * unit) - 1.0), rear = 1.0 - smooth_step(at.along / 0.30);
    x += 0.007 * unit * above * above / (0.4 + above) * rear;
    y *= 1.0 - 0.16 * smooth_step((above - 0.2) / 3.0) * smooth_step((0.55 - at.along) / 0.2);
    return (hw_vec3){x, y, z};
}

hw_landmarks shape_landmarks(const hw_demo_foot_order *order)
{
    const double arch = -HW_DEMO_ARCH_LINE;
    return (hw_landmarks){
        .heel_back = shape_point(order, (shape_place){0.0, 1.0, false}),
        .toe_tip = shape_point(order, (shape_place){1.0, shape_longest_toe(order), false}),
        .mth1 = shape_point(order, (shape_place){AT_FIRST, -1.0, false}),
        .mth5 = shape_point(order, (shape_place){AT_FIFTH, 1.0, false}),
        .heel_medial = shape_point(order, (shape_place){AT_HEEL, -1.0, false}),
        .heel_lateral = shape_point(order, (shape_place){AT_HEEL, 1.0, false}),
        .arch_apex = shape_point(order, (shape_place){AT_ARCH, arch, false}),
        .dorsum = shape_point(order, (shape_place){AT_HALF, arch, true}),
        .arch_apex_known = true,
        .complete = true,
    };
}
