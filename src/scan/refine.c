// SPDX-License-Identifier: GPL-3.0-or-later
// The support plane is the one that touches the sole from below at the heel and at both sides of the
// ball; the axis runs from the middle of the heel to the second metatarsal head. Both depend on where
// heel and ball are, which depends on them: repeated until they stand still.
#include "scan_internal.h"

#include <float.h>

enum { ROUNDS_MAX = 40 };
static const double still = 1e-9; // change of an axis that counts as none

// Where the parts of a foot are looked for, as shares of its length.
static const double heel_from = 0.03, heel_to = 0.28, ball_from = 0.6, ball_to = 0.8;
static const double heel_breadth_from = 0.1, heel_breadth_to = 0.22;
static const double heel_below = 0.2;  // above it the leg may lean back behind the heel
static const double toes_below = 0.35; // a raised first toe stays below it
// Second metatarsal head, from the medial edge of the ball, as a share of the ball's breadth.
// source  facts of the foot model: ray 2 at -0.08 of the ball's breadth from its middle
static const double second_head = 0.42;

typedef struct range {
    double low, high;
} range;

static const range nothing = {DBL_MAX, -DBL_MAX};

static void take(range *r, double x)
{
    r->low = fmin(r->low, x);
    r->high = fmax(r->high, x);
}

static bool within(double x, double low, double high)
{
    return x >= low && x <= high;
}

static double middle_of(range r)
{
    return r.low <= r.high ? 0.5 * (r.low + r.high) : 0.0;
}

// Breadths and lengths of the stance as it is, in its shares.
typedef struct extents {
    range heel, ball, length;
} extents;

static extents measure(const hw_vec3 *points, int count, const stance *s)
{
    extents e = {nothing, nothing, nothing};
    for (int i = 0; i < count; i++) {
        hw_vec3 p = share_of(s, points[i]);
        if (p.z > toes_below) continue;
        if (p.x > 0.5 || p.z < heel_below) take(&e.length, p.x);
        if (p.z > heel_below) continue;
        if (within(p.x, heel_breadth_from, heel_breadth_to)) take(&e.heel, p.y);
        if (within(p.x, ball_from, ball_to)) take(&e.ball, p.y);
    }
    return e;
}

static void set_upright(stance *s, hw_vec3 up)
{
    s->axes.z = up;
    hw_vec3 along = hw_vec3_scale(up, hw_vec3_dot(s->axes.x, up));
    s->axes.x = hw_vec3_unit(hw_vec3_sub(s->axes.x, along));
    s->axes.y = hw_vec3_cross(s->axes.z, s->axes.x);
}

// The lowest points of heel, left and right ball carry the plane.
static void lean_on_three(const hw_vec3 *points, int count, double ball_middle, stance *s)
{
    const hw_vec3 *lowest[3] = {0};
    double height[3] = {DBL_MAX, DBL_MAX, DBL_MAX};
    for (int i = 0; i < count; i++) {
        hw_vec3 p = share_of(s, points[i]);
        int part = within(p.x, heel_from, heel_to) ? 0 : p.y > ball_middle ? 1 : 2;
        if (part > 0 && !within(p.x, ball_from, ball_to)) continue;
        if (p.z >= height[part]) continue;
        height[part] = p.z;
        lowest[part] = &points[i];
    }
    if (!lowest[0] || !lowest[1] || !lowest[2]) return;
    hw_vec3 normal =
        hw_vec3_cross(hw_vec3_sub(*lowest[1], *lowest[0]), hw_vec3_sub(*lowest[2], *lowest[0]));
    normal = hw_vec3_unit(normal);
    if (hw_vec3_dot(normal, s->axes.z) < 0.0) normal = hw_vec3_scale(normal, -1.0);
    if (hw_vec3_dot(normal, s->axes.z) < 0.7) return; // three points in a row carry no plane
    set_upright(s, normal);
    s->floor = hw_vec3_dot(*lowest[0], s->axes.z);
}

// Turns x about z to run from the middle of the heel to the second metatarsal head.
static void aim(const extents *e, double medial, stance *s)
{
    if (e->heel.low > e->heel.high || e->ball.low > e->ball.high) return;
    double from_middle = medial * (0.5 - second_head) * (e->ball.high - e->ball.low);
    double aside = middle_of(e->ball) + from_middle - middle_of(e->heel);
    double ahead = 0.5 * (ball_from + ball_to) - 0.5 * (heel_breadth_from + heel_breadth_to);
    double angle = atan2(aside, ahead);
    hw_vec3 x =
        hw_vec3_add(hw_vec3_scale(s->axes.x, cos(angle)), hw_vec3_scale(s->axes.y, sin(angle)));
    s->axes.x = hw_vec3_unit(x);
    s->axes.y = hw_vec3_cross(s->axes.z, s->axes.x);
}

// Origin and length again, once the axes have moved.
static void set_origin(const hw_vec3 *points, int count, stance *s)
{
    extents e = measure(points, count, s);
    if (e.length.low > e.length.high || e.heel.low > e.heel.high) return;
    double length = s->length;
    s->heel += e.length.low * length;
    s->middle += middle_of(e.heel) * length;
    s->length = fmax((e.length.high - e.length.low) * length, 1e-3 * length);
}

void refine_stance(const hw_vec3 *points, int count, double medial, stance *s)
{
    for (int round = 0; round < ROUNDS_MAX; round++) {
        axes before = s->axes;
        extents e = measure(points, count, s);
        lean_on_three(points, count, middle_of(e.ball), s);
        set_origin(points, count, s);
        e = measure(points, count, s);
        aim(&e, medial, s);
        set_origin(points, count, s);
        if (hw_vec3_distance(before.z, s->axes.z) < still &&
            hw_vec3_distance(before.x, s->axes.x) < still)
            break;
    }
}
