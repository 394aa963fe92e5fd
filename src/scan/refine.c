// SPDX-License-Identifier: GPL-3.0-or-later
// The support plane is the one that touches the sole from below at the heel and at both sides of
// the ball; the axis runs from the middle of the heel to the second metatarsal head. Both depend on
// where heel and ball are, which depends on them: repeated until they stand still.
#include "scan_internal.h"

#include <float.h>

enum { ROUNDS_MAX = 40 };
static const double still = 1e-9; // change of an axis that counts as none

// Where the parts of a foot are looked for, as shares of its length.
static const double heel_from = 0.03, heel_to = 0.28, ball_from = 0.6, ball_to = 0.8;
static const double heel_breadth_from = 0.1, heel_breadth_to = 0.22;
static const double heel_below = 0.2;      // above it the leg may lean back behind the heel
static const double toes_below = 0.35;     // a raised first toe stays below it
static const double side_of_ball = 0.35;   // of the ball's breadth: under first and fifth head
static const double support_layer = 0.005; // thickness of the layer that carries, 1.3 mm
// Second metatarsal head, from the medial edge of the ball, as a share of the ball's breadth.
// source  facts of the foot model: ray 2 at -0.08 of the ball's breadth from its middle
static const double second_head = 0.42;

typedef struct range {
    double low, high;
} range;

static const range nothing = {DBL_MAX, -DBL_MAX};

static void take(range *r, double x)
{
    r->low = hw_least(r->low, x);
    r->high = hw_most(r->high, x);
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

// Which part of the plane's support a place belongs to: heel, right and left side of the ball, or
// the ball's middle, which limits the height of the plane but not its tilt.
enum { HEEL, RIGHT_BALL, LEFT_BALL, SUPPORTS, MIDDLE_BALL = SUPPORTS, NO_PART };

static int part_of(hw_vec3 p, range ball)
{
    if (within(p.x, heel_from, heel_to)) return HEEL;
    if (!within(p.x, ball_from, ball_to)) return NO_PART;
    double across = (p.y - ball.low) / (ball.high - ball.low);
    if (across < side_of_ball) return RIGHT_BALL;
    return across > 1.0 - side_of_ball ? LEFT_BALL : MIDDLE_BALL;
}

typedef struct support_point {
    double lowest;
    hw_vec3 sum; // file units
    int count;
} support_point;

// The middles of the lowest layers of heel and both sides of the ball carry the plane: a layer,
// not a point, so that noise and a flat sole do not tilt it.
static bool find_supports(const hw_vec3 *points, int count, range ball, const stance *s,
                          hw_vec3 *out)
{
    support_point parts[SUPPORTS] = {0};
    for (int k = 0; k < SUPPORTS; k++) parts[k].lowest = DBL_MAX;
    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i < count; i++) {
            hw_vec3 p = share_of(s, points[i]);
            int k = part_of(p, ball);
            if (k >= SUPPORTS) continue;
            if (pass == 0) parts[k].lowest = hw_least(parts[k].lowest, p.z);
            if (pass == 0 || p.z > parts[k].lowest + support_layer) continue;
            parts[k].sum = hw_vec3_add(parts[k].sum, points[i]);
            parts[k].count++;
        }
    for (int k = 0; k < SUPPORTS; k++) {
        if (parts[k].count == 0) return false;
        out[k] = hw_vec3_scale(parts[k].sum, 1.0 / parts[k].count);
    }
    return true;
}

static void set_floor(const hw_vec3 *points, int count, range ball, stance *s)
{
    double lowest = DBL_MAX;
    for (int i = 0; i < count; i++) {
        hw_vec3 p = share_of(s, points[i]);
        if (part_of(p, ball) != NO_PART) lowest = hw_least(lowest, p.z);
    }
    if (lowest < DBL_MAX) move_origin(s, s->axes.z, lowest);
}

static void lean_on_three(const hw_vec3 *points, int count, range ball, stance *s)
{
    hw_vec3 at[SUPPORTS];
    if (!(ball.high > ball.low) || !find_supports(points, count, ball, s, at)) return;
    hw_vec3 normal =
        hw_vec3_cross(hw_vec3_sub(at[RIGHT_BALL], at[HEEL]), hw_vec3_sub(at[LEFT_BALL], at[HEEL]));
    normal = hw_vec3_unit(normal);
    if (hw_vec3_dot(normal, s->axes.z) < 0.0) normal = hw_vec3_scale(normal, -1.0);
    if (hw_vec3_dot(normal, s->axes.z) < 0.7) return; // three points in a row carry no plane
    set_upright(s, normal);
    set_floor(points, count, ball, s);
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
    move_origin(s, s->axes.x, e.length.low);
    move_origin(s, s->axes.y, middle_of(e.heel));
    s->length *= fmax(e.length.high - e.length.low, 1e-3);
}

double refine_stance(const hw_vec3 *points, int count, double medial, stance *s)
{
    double turned = 1.0;
    for (int round = 0; round < ROUNDS_MAX && turned > still; round++) {
        axes before = s->axes;
        extents e = measure(points, count, s);
        lean_on_three(points, count, e.ball, s);
        set_origin(points, count, s);
        e = measure(points, count, s);
        aim(&e, medial, s);
        set_origin(points, count, s);
        turned = fmax(hw_vec3_distance(before.z, s->axes.z), hw_vec3_distance(before.x, s->axes.x));
    }
    return turned;
}
