// SPDX-License-Identifier: GPL-3.0-or-later
// Where sole and toes are, whatever the file's axes: the flattest long supports are tried as soles,
// both ways round, and the one whose proportions are most those of a foot is taken.
#include "scan_internal.h"

#include <float.h>
#include <string.h>

enum { DIRECTIONS = 1026, TRIED_MAX = 10, SCORED_EVERY = 4 };

static const double support_share = 0.04; // thickness of the support layer, of the surface's scale
static const double facing_least = 0.75;  // cosine between sole and support plane
static const double apart_most = 0.94;    // cosine between two supports tried
static const double as_stated = 0.64;     // cosine: fifty degrees from what was stated

typedef struct support {
    hw_vec3 down;
    double score;
} support;

// Axes of the surface's own spread, so that the directions tried turn with it.
static void own_axes(const samples *from, hw_vec3 *mean, hw_vec3 own[3])
{
    *mean = (hw_vec3){0};
    for (int i = 0; i < from->count; i++) *mean = hw_vec3_add(*mean, from->places[i]);
    *mean = hw_vec3_scale(*mean, 1.0 / from->count);
    double spread[9] = {0}, values[3], v[9];
    for (int i = 0; i < from->count; i++) {
        hw_vec3 d = hw_vec3_sub(from->places[i], *mean);
        double arm[3] = {d.x, d.y, d.z};
        for (int k = 0; k < 9; k++) spread[k] += arm[k / 3] * arm[k % 3];
    }
    hw_eigen3(spread, values, v);
    for (int k = 0; k < 3; k++) own[k] = (hw_vec3){v[k], v[3 + k], v[6 + k]};
}

// Directions evenly over the sphere: a spiral, and each one's opposite. A few degrees apart.
static hw_vec3 direction(int i, const hw_vec3 own[3])
{
    const double turn = HW_PI * (3.0 - sqrt(5.0)); // golden angle
    int k = i / 2, half = DIRECTIONS / 2;
    double z = (k + 0.5) / half, r = sqrt(1.0 - z * z);
    hw_vec3 d = hw_vec3_add(hw_vec3_scale(own[0], r * cos(turn * k)),
                            hw_vec3_scale(own[1], r * sin(turn * k)));
    d = hw_vec3_add(d, hw_vec3_scale(own[2], z));
    return i % 2 ? hw_vec3_scale(d, -1.0) : d;
}

// Area of the layer next to the support plane that faces it, times how far that reaches.
static double score_support(const samples *from, hw_vec3 down, double scale)
{
    double lowest = -DBL_MAX;
    for (int i = 0; i < from->count; i++) lowest = fmax(lowest, hw_vec3_dot(from->places[i], down));
    hw_vec3 sum = {0};
    double spread[9] = {0}, values[3], vectors[9];
    int count = 0;
    for (int pass = 0; pass < 2; pass++) {
        for (int i = 0; i < from->count; i++) {
            if (hw_vec3_dot(from->places[i], down) < lowest - support_share * scale) continue;
            if (hw_vec3_dot(from->normals[i], down) < facing_least) continue;
            if (pass == 0) {
                sum = hw_vec3_add(sum, from->places[i]);
                count++;
                continue;
            }
            hw_vec3 d = hw_vec3_sub(from->places[i], sum);
            double arm[3] = {d.x, d.y, d.z};
            for (int k = 0; k < 9; k++) spread[k] += arm[k / 3] * arm[k % 3];
        }
        if (count == 0) return 0.0;
        if (pass == 0) sum = hw_vec3_scale(sum, 1.0 / count);
    }
    hw_eigen3(spread, values, vectors);
    return (double)count / from->count * sqrt(sqrt(values[1] * values[2]) / count) / scale;
}

// The best supports that are not neighbours of better ones.
static int best_supports(const samples *from, double scale, hw_scan_axis up, support *best)
{
    hw_vec3 mean, own[3];
    own_axes(from, &mean, own);
    support all[DIRECTIONS];
    for (int i = 0; i < DIRECTIONS; i++) {
        all[i].down = direction(i, own);
        bool is_stated = !up || hw_vec3_dot(all[i].down, axis_direction(up)) < -as_stated;
        all[i].score = is_stated ? score_support(from, all[i].down, scale) : 0.0;
    }
    int count = 0;
    while (count < TRIED_MAX) {
        int top = -1;
        for (int i = 0; i < DIRECTIONS; i++) {
            bool is_new = all[i].score > 0.0;
            for (int k = 0; k < count && is_new; k++)
                is_new = hw_vec3_dot(all[i].down, best[k].down) < apart_most;
            if (is_new && (top < 0 || all[i].score > all[top].score)) top = i;
        }
        if (top < 0) break;
        best[count++] = all[top];
    }
    return count;
}

// The long axis of what lies below a height, in the plane across `up`.
static hw_vec3 long_axis(const samples *from, hw_vec3 up, double below)
{
    hw_vec3 sum = {0};
    double spread[9] = {0}, values[3], v[9];
    int count = 0;
    for (int pass = 0; pass < 2; pass++) {
        for (int i = 0; i < from->count; i++) {
            hw_vec3 p = from->places[i];
            double height = hw_vec3_dot(p, up);
            if (height > below) continue;
            hw_vec3 flat = hw_vec3_sub(p, hw_vec3_scale(up, height));
            if (pass == 0) {
                sum = hw_vec3_add(sum, flat);
                count++;
                continue;
            }
            hw_vec3 d = hw_vec3_sub(flat, sum);
            double arm[3] = {d.x, d.y, d.z};
            for (int k = 0; k < 9; k++) spread[k] += arm[k / 3] * arm[k % 3];
        }
        if (pass == 0 && count > 0) sum = hw_vec3_scale(sum, 1.0 / count);
    }
    hw_eigen3(spread, values, v);
    hw_vec3 axis = {v[2], v[5], v[8]};
    axis = hw_vec3_sub(axis, hw_vec3_scale(up, hw_vec3_dot(axis, up)));
    return hw_vec3_unit(axis);
}

// Extent of what lies below a height, along a direction.
static void extent(const samples *from, hw_vec3 along, hw_vec3 up, double below, double *low,
                   double *high)
{
    *low = DBL_MAX;
    *high = -DBL_MAX;
    for (int i = 0; i < from->count; i++) {
        if (hw_vec3_dot(from->places[i], up) > below) continue;
        double x = hw_vec3_dot(from->places[i], along);
        *low = fmin(*low, x);
        *high = fmax(*high, x);
    }
}

// A stance on a support: the layer near it gives axis and length, which give the layer.
static stance stand_on(const samples *from, hw_vec3 down, double scale, bool turned)
{
    stance s = {.axes.z = hw_vec3_scale(down, -1.0), .length = scale};
    double floor_z = 0.0, heel_x = 0.0, low_y = 0.0, high = 0.0;
    extent(from, s.axes.z, s.axes.z, DBL_MAX, &floor_z, &high);
    for (int pass = 0; pass < 4; pass++) {
        double below = floor_z + 0.15 * s.length;
        s.axes.x = long_axis(from, s.axes.z, below);
        if (turned) s.axes.x = hw_vec3_scale(s.axes.x, -1.0);
        extent(from, s.axes.x, s.axes.z, below, &heel_x, &high);
        s.length = fmax(high - heel_x, 1e-3 * scale);
    }
    s.axes.y = hw_vec3_cross(s.axes.z, s.axes.x);
    extent(from, s.axes.y, s.axes.z, floor_z + 0.15 * s.length, &low_y, &high);
    s.origin = hw_vec3_add(hw_vec3_scale(s.axes.x, heel_x), hw_vec3_scale(s.axes.z, floor_z));
    s.origin = hw_vec3_add(s.origin, hw_vec3_scale(s.axes.y, 0.5 * (low_y + high)));
    return s;
}

typedef struct profile {
    double top[PROFILE_BINS], low[PROFILE_BINS];    // heights along the length, shares of it
    double left[PROFILE_BINS], right[PROFILE_BINS]; // breadth below a quarter of the length
    double up_share;                                // area facing up over area facing down
    double contact; // area near the support plane that faces it, of the length squared
} profile;

static void take_profile(const samples *from, const stance *s, profile *out)
{
    *out = (profile){0};
    double up = 0.0, down = 0.0;
    for (int k = 0; k < PROFILE_BINS; k++) {
        out->low[k] = out->left[k] = DBL_MAX;
        out->top[k] = out->right[k] = -DBL_MAX;
    }
    for (int i = 0; i < from->count; i++) {
        hw_vec3 p = share_of(s, from->places[i]);
        int bin = (int)floor(p.x * PROFILE_BINS);
        if (bin < 0 || bin >= PROFILE_BINS) continue;
        out->top[bin] = fmax(out->top[bin], p.z);
        out->low[bin] = fmin(out->low[bin], p.z);
        double facing = hw_vec3_dot(from->normals[i], s->axes.z);
        up += facing > 0.3;
        down += facing < -0.3;
        if (p.z > 0.25) continue;
        out->left[bin] = fmin(out->left[bin], p.y);
        out->right[bin] = fmax(out->right[bin], p.y);
        out->contact += fabs(p.z) < 0.04 && facing < -facing_least;
    }
    out->contact *= from->area / from->count / (s->length * s->length);
    out->up_share = down > 0.0 ? up / down : 0.0;
}

static double mean_over(const double *values, double from, double to)
{
    double sum = 0.0;
    int count = 0;
    for (int k = (int)(from * PROFILE_BINS); k < (int)(to * PROFILE_BINS); k++, count++)
        sum += fabs(values[k]) < 10.0 ? values[k] : 0.0;
    return sum / count;
}

// How far x lies outside [low, high], in units of `soft`.
static double outside(double x, double low, double high, double soft)
{
    return (x < low ? low - x : x > high ? x - high : 0.0) / soft;
}

// Proportions of feet, all as shares of the length. Ranges: common practice, widened until the
// shared open scans pass with room; see docs/real-scans.md.
static double judge(const profile *p, bool is_sole_only)
{
    double width[PROFILE_BINS];
    for (int k = 0; k < PROFILE_BINS; k++)
        width[k] = p->right[k] > p->left[k] ? p->right[k] - p->left[k] : 0.0;
    double ball = mean_over(width, 0.65, 0.8), heel = mean_over(width, 0.1, 0.2);
    double toes = mean_over(width, 0.9, 1.0), toe_top = mean_over(p->top, 0.85, 0.95);
    double lowest = 0.0;
    for (int k = 0; k < PROFILE_BINS; k++) lowest = fmin(lowest, p->low[k]);
    double sum = outside(ball, 0.3, 0.48, 0.05) + outside(heel, 0.19, 0.36, 0.05) +
                 outside(heel / fmax(ball, 1e-6), 0.5, 0.88, 0.1) + outside(toes, 0.1, 0.45, 0.1) +
                 outside(p->contact, 0.12, 9.0, 0.04) + outside(lowest, -0.03, 0.0, 0.03);
    if (is_sole_only) return sum;
    double mid_top = mean_over(p->top, 0.45, 0.55), rear_top = mean_over(p->top, 0.1, 0.3);
    sum += outside(toe_top, 0.03, 0.2, 0.08) + outside(mid_top, 0.15, 0.42, 0.05) +
           outside(rear_top, 0.22, 9.0, 0.05) + outside(rear_top - mid_top, 0.0, 9.0, 0.05) +
           outside(mid_top - toe_top, 0.06, 9.0, 0.08);
    return sum;
}

// More of this is a reason to refuse. The shared full feet and soles stay below 0.6, a foot-sized
// egg reaches 0.99, other solids and bodies more than 1.7 (tests/scan).
static const double penalty_max = 0.8;
static const double contact_bonus = 3.0; // decides between stances of nearly the same penalty

// A thousand directions are scored and twenty stances tried; a part of the places is enough.
hw_status thin_samples(hw_job *job, const samples *from, hw_arena *into, samples *out)
{
    samples few = {.area = from->area, .count = from->count / SCORED_EVERY};
    HW_ALLOC(job, into, few.places, few.count);
    HW_ALLOC(job, into, few.normals, few.count);
    for (int i = 0; i < few.count; i++) {
        few.places[i] = from->places[SCORED_EVERY * i];
        few.normals[i] = from->normals[SCORED_EVERY * i];
    }
    *out = few;
    return HW_OK;
}

hw_vec3 axis_direction(hw_scan_axis axis)
{
    double way = axis % 2 ? 1.0 : -1.0;
    return (hw_vec3){(axis - 1) / 2 == 0 ? way : 0.0, (axis - 1) / 2 == 1 ? way : 0.0,
                     (axis - 1) / 2 == 2 ? way : 0.0};
}

hw_scan_axis nearest_axis(hw_vec3 direction)
{
    hw_scan_axis best = HW_SCAN_AXIS_X_UP;
    for (int i = HW_SCAN_AXIS_X_UP; i <= HW_SCAN_AXIS_Z_DOWN; i++)
        if (hw_vec3_dot(direction, axis_direction((hw_scan_axis)i)) >
            hw_vec3_dot(direction, axis_direction(best)))
            best = (hw_scan_axis)i;
    return best;
}

// A full foot faces up about as much as down, a sole alone does not.
static const double full_from = 0.25;

static void judge_extent(double up_share, hw_scan_extent stated, stance *s)
{
    s->is_sole_only = stated ? stated == HW_SCAN_EXTENT_SOLE : up_share < full_from;
    double ratio = fmax(up_share, 0.01) / full_from;
    s->extent_confidence = fmin(1.0, fabs(log(ratio)) / log(1.0 / full_from));
}

static bool is_as_stated(const stance *s, const hw_scan_ask *ask)
{
    if (ask->up && hw_vec3_dot(s->axes.z, axis_direction(ask->up)) < as_stated) return false;
    return !ask->toes || hw_vec3_dot(s->axes.x, axis_direction(ask->toes)) >= as_stated;
}

// How much better the best stance is than the best of those that differ in a direction. Ranks
// differ by some tenths between good stances and by one and more between a good and a wrong one.
static double confidence_of(double best, double other)
{
    return other < DBL_MAX ? tanh((other - best) / 0.5) : 1.0;
}

typedef struct ranked {
    stance stance;
    double rank;
} ranked;

// The best of all stances tried, and how far behind it stand those that turn it over or round.
static stance best_of(const ranked *all, int count)
{
    int best = 0;
    double other_up = DBL_MAX, other_toes = DBL_MAX;
    for (int i = 1; i < count; i++)
        if (all[i].rank < all[best].rank) best = i;
    stance s = all[best].stance;
    for (int i = 0; i < count; i++) {
        if (hw_vec3_dot(all[i].stance.axes.z, s.axes.z) < as_stated)
            other_up = fmin(other_up, all[i].rank);
        else if (hw_vec3_dot(all[i].stance.axes.x, s.axes.x) < as_stated)
            other_toes = fmin(other_toes, all[i].rank);
    }
    s.up_confidence = confidence_of(all[best].rank, other_up);
    s.toes_confidence = confidence_of(all[best].rank, other_toes);
    return s;
}

static hw_status try_stances(hw_job *job, const samples *from, const hw_scan_ask *ask, stance *out)
{
    double scale = sqrt(from->area);
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    samples few = {0};
    HW_TRY(thin_samples(job, from, tmp.arena, &few));
    support tried[TRIED_MAX];
    ranked all[2 * TRIED_MAX];
    int count = best_supports(&few, scale, ask->up, tried), found = 0;
    for (int i = 0; i < 2 * count; i++) {
        HW_TRY(hw_job_ask(job));
        stance s = stand_on(from, tried[i / 2].down, scale, i % 2);
        refine_stance(few.places, few.count, 0.0, &s);
        if (!is_as_stated(&s, ask)) continue;
        profile p;
        take_profile(from, &s, &p);
        judge_extent(p.up_share, ask->extent, &s);
        s.penalty = judge(&p, s.is_sole_only);
        all[found++] = (ranked){s, s.penalty - contact_bonus * p.contact};
    }
    hw_scratch_end(tmp);
    *out = (stance){.penalty = DBL_MAX};
    if (found > 0) *out = best_of(all, found);
    return HW_OK;
}

// The part of a long thing next to one of its ends, as long as it is broad: of a leg that reaches
// far up, the foot.
static hw_status crop_to_end(hw_job *job, const samples *from, bool at_high, hw_arena *into,
                             samples *out)
{
    static const double longer = 1.25, kept = 1.15; // of the breadth
    hw_vec3 mean, own[3];
    double low[3] = {DBL_MAX, DBL_MAX, DBL_MAX}, high[3] = {-DBL_MAX, -DBL_MAX, -DBL_MAX};
    own_axes(from, &mean, own);
    for (int i = 0; i < from->count; i++)
        for (int k = 0; k < 3; k++) {
            double at = hw_vec3_dot(from->places[i], own[k]);
            low[k] = fmin(low[k], at);
            high[k] = fmax(high[k], at);
        }
    double breadth = fmax(high[0] - low[0], high[1] - low[1]);
    *out = (samples){0};
    if (high[2] - low[2] < longer * breadth) return HW_OK;
    HW_ALLOC(job, into, out->places, from->count);
    HW_ALLOC(job, into, out->normals, from->count);
    for (int i = 0; i < from->count; i++) {
        double at = hw_vec3_dot(from->places[i], own[2]);
        if ((at_high ? high[2] - at : at - low[2]) > kept * breadth) continue;
        out->places[out->count] = from->places[i];
        out->normals[out->count++] = from->normals[i];
    }
    out->area = from->area * out->count / from->count;
    return HW_OK;
}

hw_status find_stance(hw_job *job, const samples *from, const hw_scan_ask *ask, stance *out)
{
    stance best = {0};
    HW_TRY(try_stances(job, from, ask, &best));
    for (int end = 0; end < 2 && !(best.penalty < penalty_max); end++) {
        hw_scratch tmp = hw_scratch_begin(job, NULL);
        samples part = {0};
        stance s = {.penalty = DBL_MAX};
        HW_TRY(crop_to_end(job, from, end, tmp.arena, &part));
        if (part.count >= SAMPLES / 8) HW_TRY(try_stances(job, &part, ask, &s));
        hw_scratch_end(tmp);
        if (s.penalty < best.penalty) best = s;
    }
    if (!(best.penalty < penalty_max))
        return hw_fail(job, HW_BAD_INPUT,
                       "the scan does not have the shape of one foot (its proportions are too far "
                       "from a foot's in %s); is it a whole body, a leg, a shoe or a cast?",
                       ask->up || ask->toes ? "the position stated" : "any position");
    *out = best;
    return HW_OK;
}
