// SPDX-License-Identifier: GPL-3.0-or-later
// The block cut in memory: one height a place, from above, for each side it lies on. A ball or flat
// end mill that goes straight sweeps a body whose underside over a place is known in closed form.
// The rows of the grid are parted among threads, each of which follows the whole program: order
// within a place is that of the program, and results do not depend on the number of threads.
#include "gcode_internal.h"

#include <limits.h>

static const double depth_slack = 50e-6; // m: over a tool's depth of cut
static const double touch = 2e-6;        // m: a rapid that takes less has only touched
static const double core = 0.25;         // of the radius: under it a tool's depth of cut counts

enum { BAND_ROWS = 32 };

// What went wrong first in a band of rows; INT_MAX: nothing.
typedef struct band {
    int air_move, deep_move;
    double deep;
} band;

typedef struct carver {
    const hw_gcode_program *program;
    const hw_gcode_rules *rules;
    const gcode_field *field;
    band *bands;
    int side;
} carver;

// One move against one row of places: all that does not change along the row.
typedef struct sweep {
    hw_vec3 from, along; // along: unit in space, (0, 0, 1) for a point
    double length, plan; // in space and seen from above
    double radius, radius2;
    double flat_x, flat_y; // unit in plan
} sweep;

static sweep sweep_of(const hw_gcode_move *move, double radius)
{
    hw_vec3 way = hw_vec3_sub(move->to, move->from);
    double length = hw_vec3_norm(way), plan = hypot(way.x, way.y);
    sweep of = {.from = move->from, .along = {0, 0, 1}, .length = length, .plan = plan};
    if (length > 0.0) of.along = hw_vec3_scale(way, 1.0 / length);
    if (plan > 0.0) of.flat_x = way.x / plan, of.flat_y = way.y / plan;
    of.radius = radius, of.radius2 = radius * radius;
    return of;
}

// Underside of a ball with its tip at `tip` over a place (dx, dy) from its axis.
static double under_ball(const sweep *of, double dx, double dy, double tip)
{
    double away2 = dx * dx + dy * dy;
    if (away2 > of->radius2) return INFINITY;
    return tip + of->radius - sqrt(of->radius2 - away2);
}

// Underside of a swept ball: of the ball at both ends, and of the slanting cylinder between them,
// where the upright line through the place meets it at a point between the two.
static double under_swept_ball(const sweep *of, double x, double y)
{
    double dx = x - of->from.x, dy = y - of->from.y;
    double low = under_ball(of, dx, dy, of->from.z);
    double end = of->length;
    low = fmin(low, under_ball(of, dx - end * of->along.x, dy - end * of->along.y,
                               of->from.z + end * of->along.z));
    // On the line z = centre + h: h2 (1 - uz2) - 2 c uz h + away2 - c2 - R2 = 0, c = (dx, dy) . u.
    double uz = of->along.z, level2 = 1.0 - uz * uz;
    if (level2 < 1e-18) return low;
    double c = dx * of->along.x + dy * of->along.y;
    double away2 = dx * dx + dy * dy;
    double root2 = c * c * uz * uz - level2 * (away2 - c * c - of->radius2);
    if (root2 < 0.0) return low;
    double h = (c * uz - sqrt(root2)) / level2, t = c + h * uz;
    if (t < 0.0 || t > end) return low;
    return fmin(low, of->from.z + of->radius + h);
}

// Underside of a swept disc: the lowest place of its way that covers the point.
static double under_swept_disc(const sweep *of, double x, double y)
{
    double dx = x - of->from.x, dy = y - of->from.y;
    if (of->plan <= 0.0) {
        double lowest = of->from.z + fmin(0.0, of->length * of->along.z);
        return dx * dx + dy * dy <= of->radius2 ? lowest : INFINITY;
    }
    double along = dx * of->flat_x + dy * of->flat_y, across = dx * of->flat_y - dy * of->flat_x;
    double half2 = of->radius2 - across * across;
    if (half2 < 0.0) return INFINITY;
    double half = sqrt(half2), first = fmax(0.0, along - half), last = fmin(of->plan, along + half);
    if (first > last) return INFINITY;
    double rise = of->along.z * of->length / of->plan;
    return of->from.z + rise * (rise > 0.0 ? first : last);
}

// The tip's height where its way passes nearest to the place; INFINITY: not within the core.
static double tip_over(const sweep *of, double x, double y)
{
    double dx = x - of->from.x, dy = y - of->from.y;
    double s = of->plan > 0.0 ? fmin(of->plan, fmax(0.0, dx * of->flat_x + dy * of->flat_y)) : 0.0;
    double cx = dx - s * of->flat_x, cy = dy - s * of->flat_y;
    if (cx * cx + cy * cy > core * core * of->radius2) return INFINITY;
    if (of->plan <= 0.0) return of->from.z + fmin(0.0, of->length * of->along.z);
    return of->from.z + s * of->along.z * of->length / of->plan;
}

// Places [first, last] of a row or column that a way from a to b can reach.
static void reach(double a, double b, double radius, double low, double step, int count, int out[2])
{
    out[0] = (int)ceil((fmin(a, b) - radius - low) / step);
    out[1] = (int)floor((fmax(a, b) + radius - low) / step);
    if (out[0] < 0) out[0] = 0;
    if (out[1] >= count) out[1] = count - 1;
}

static void cut_row(const carver *on, const hw_gcode_tool *tool, const sweep *of, int index, int j,
                    band *found)
{
    const gcode_field *field = on->field;
    const hw_gcode_move *move = &on->program->moves[index];
    double *height = field->height + (size_t)j * (size_t)field->columns;
    double y = field->low_y + j * field->step, floor_z = fmin(move->from.z, move->to.z);
    int columns[2];
    reach(move->from.x, move->to.x, of->radius, field->low_x, field->step, field->columns, columns);
    for (int i = columns[0]; i <= columns[1]; i++) {
        if (height[i] <= floor_z) continue; // the tool is nowhere lower than its tip
        double x = field->low_x + i * field->step;
        double left = tool->is_ball ? under_swept_ball(of, x, y) : under_swept_disc(of, x, y);
        if (left >= height[i]) continue;
        double tip = tip_over(of, x, y), deep = height[i] - tip;
        if (deep > tool->depth_m + depth_slack && index < found->deep_move) {
            found->deep_move = index;
            found->deep = deep;
        }
        if (move->in_air && height[i] - left > touch && index < found->air_move)
            found->air_move = index;
        height[i] = left;
    }
}

static void carve_band(void *with, int b)
{
    const carver *on = with;
    const gcode_field *field = on->field;
    band *found = &on->bands[b];
    *found = (band){INT_MAX, INT_MAX, 0.0};
    int first = b * BAND_ROWS, end = first + BAND_ROWS;
    if (end > field->rows) end = field->rows;
    double low_y = field->low_y + first * field->step,
           high_y = field->low_y + (end - 1) * field->step;
    for (int k = 0; k < on->program->move_count; k++) {
        const hw_gcode_move *move = &on->program->moves[k];
        if (move->side != on->side) continue;
        const hw_gcode_tool *tool = &on->rules->tools[move->tool];
        double r = tool->radius_m;
        if (fmin(move->from.y, move->to.y) - r > high_y) continue;
        if (fmax(move->from.y, move->to.y) + r < low_y) continue;
        if (fmin(move->from.z, move->to.z) >= on->rules->stock.high.z) continue;
        sweep of = sweep_of(move, r);
        int rows[2];
        reach(move->from.y, move->to.y, r, field->low_y, field->step, field->rows, rows);
        for (int j = rows[0] > first ? rows[0] : first; j <= rows[1] && j < end; j++)
            cut_row(on, tool, &of, k, j, found);
    }
}

static hw_status make_field(hw_job *job, const hw_gcode_rules *rules, double step, hw_arena *into,
                            gcode_field *out)
{
    const double places_max = 2e7;
    const hw_box *stock = &rules->stock;
    double wide = stock->high.x - stock->low.x, deep = stock->high.y - stock->low.y;
    if (!(wide > 0.0 && deep > 0.0 && wide * deep / (step * step) < places_max))
        return hw_fail(job, HW_BAD_INPUT, "a block of %.0f x %.0f mm cannot be looked at so finely",
                       hw_mm_from_m(wide), hw_mm_from_m(deep));
    *out = (gcode_field){stock->low.x,           stock->low.y,           step,
                         (int)(wide / step) + 1, (int)(deep / step) + 1, NULL};
    size_t count = (size_t)out->columns * (size_t)out->rows;
    HW_ALLOC(job, into, out->height, count);
    for (size_t k = 0; k < count; k++) out->height[k] = stock->high.z;
    return HW_OK;
}

static hw_status tell(hw_job *job, const carver *on, int bands, hw_faults *faults)
{
    band first = {INT_MAX, INT_MAX, 0.0};
    for (int b = 0; b < bands; b++) {
        if (on->bands[b].air_move < first.air_move) first.air_move = on->bands[b].air_move;
        if (on->bands[b].deep_move < first.deep_move) {
            first.deep_move = on->bands[b].deep_move;
            first.deep = on->bands[b].deep;
        }
    }
    const hw_gcode_move *moves = on->program->moves;
    if (first.air_move < INT_MAX)
        HW_TRY(gcode_fault(job, faults, moves[first.air_move].line,
                           "a rapid, or a way down faster than a plunge, meets stock"));
    if (first.deep_move == INT_MAX) return HW_OK;
    const hw_gcode_tool *tool = &on->rules->tools[moves[first.deep_move].tool];
    return gcode_fault(job, faults, moves[first.deep_move].line,
                       "tool %d cuts %.1f mm deep at once; it may cut %.1f", tool->number,
                       hw_mm_from_m(first.deep), hw_mm_from_m(tool->depth_m));
}

static hw_status carve_side(hw_job *job, carver *on, hw_faults *faults)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    int bands = (on->field->rows + BAND_ROWS - 1) / BAND_ROWS;
    HW_ALLOC(job, tmp.arena, on->bands, bands);
    hw_parallel(bands, carve_band, on);
    HW_TRY(tell(job, on, bands, faults));
    hw_scratch_end(tmp);
    return hw_job_ask(job);
}

static hw_status judge(hw_job *job, const hw_gcode_map *map, const hw_gcode_ask *ask,
                       const int side_and_part[2], hw_faults *faults)
{
    if (map->gouge_m > ask->gouge_max_m)
        HW_TRY(hw_faults_add(job, faults, side_and_part[0] ? "side 2" : "side 1",
                             "part %d is cut %.3f mm below the design; %.3f mm are allowed",
                             side_and_part[1] + 1, hw_mm_from_m(map->gouge_m),
                             hw_mm_from_m(ask->gouge_max_m)));
    if (map->ridge_m > ask->ridge_max_m)
        HW_TRY(hw_faults_add(job, faults, side_and_part[0] ? "side 2" : "side 1",
                             "part %d keeps %.3f mm of stock where the tool reaches; %.3f mm are "
                             "allowed",
                             side_and_part[1] + 1, hw_mm_from_m(map->ridge_m),
                             hw_mm_from_m(ask->ridge_max_m)));
    if (map->tab_cut_m > ask->gouge_max_m)
        HW_TRY(hw_faults_add(job, faults, side_and_part[0] ? "side 2" : "side 1",
                             "a tab that holds part %d is cut %.2f mm deep near X %.1f Y %.1f; the "
                             "part could come loose under the tool",
                             side_and_part[1] + 1, hw_mm_from_m(map->tab_cut_m),
                             hw_mm_from_m(map->tab_cut_at.x), hw_mm_from_m(map->tab_cut_at.y)));
    return HW_OK;
}

// What is cut free from both sides must be held by something.
static hw_status check_holds(hw_job *job, const hw_gcode_rules *rules, const hw_gcode_ask *ask,
                             hw_faults *faults)
{
    for (int part = 0; part < ask->design_count; part++)
        if (rules->side_count == 2 && ask->designs[part].hold_count == 0)
            HW_TRY(hw_faults_add(job, faults, "tabs",
                                 "part %d is cut from both sides and no tab holds it", part + 1));
    return HW_OK;
}

hw_status hw_gcode_carve(hw_job *job, const hw_gcode_program *program, const hw_gcode_rules *rules,
                         const hw_gcode_ask *ask, hw_arena *into, hw_gcode_cut *out,
                         hw_faults *faults)
{
    // A groove of depth d by a ball of radius R is 2 sqrt(2 R d) wide: at this spacing less than 4
    // um of it can hide between two places (R d = step2 / 4).
    const double hidden = 4e-6;
    hw_gcode_cut cut = {.step_m = sqrt(4.0 * hidden * rules->tools[ask->finish_tool].radius_m)};
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_TRY(check_holds(job, rules, ask, faults));
    for (int side = 0; side < rules->side_count; side++) {
        gcode_field field = {0};
        HW_TRY(make_field(job, rules, cut.step_m, tmp.arena, &field));
        carver on = {.program = program, .rules = rules, .field = &field, .side = side};
        HW_TRY(carve_side(job, &on, faults));
        for (int part = 0; part < ask->design_count; part++) {
            const int of[2] = {side, part};
            hw_gcode_map *map = &cut.maps[side][part];
            HW_TRY(gcode_compare(job, &field, rules, ask, of, into, map));
            HW_TRY(judge(job, map, ask, of, faults));
        }
    }
    hw_scratch_end(tmp);
    *out = cut;
    return hw_faults_status(job, faults);
}
