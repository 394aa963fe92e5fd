// SPDX-License-Identifier: GPL-3.0-or-later
// What was cut against what was wanted, place by place: the distance of the cut surface from the
// design, measured at right angles. Where stock is left, it is asked what the best possible pass of
// the ball would have left there (the design closed by the ball): that much nobody can take away.
#include "gcode_internal.h"

static const double exact_from =
    3e-6; // m: a difference in height below that is not looked at closer
static const double unreached_least = 1e-6; // m: less is no stock that a ball cannot reach

typedef struct comparer {
    const gcode_field *field;
    const hw_gcode_ask *ask;
    const hw_near *near;
    hw_gcode_map *map;
    double *design;              // heights of the design at the map's places, -INFINITY: none
    double *under;               // of the design's underside there
    double *solid;               // the same with the tabs: what the ball must not enter
    double *resting;             // of the ball's tip on that; NAN: not asked yet
    int first_column, first_row; // of the map in the field
    double radius, hidden;       // of the ball; of a gouge, between places
    const hw_box *holds;
    int hold_count;
} comparer;

typedef struct row_sum {
    double gouge, ridge, unreached;
    int seen, unreached_places, held;
} row_sum;

// -- the design from above

static hw_vec3 turned(hw_vec3 p, double height)
{
    return (hw_vec3){p.x, -p.y, height - p.z};
}

// The design as it lies on this side.
static hw_status lay(hw_job *job, const hw_mesh *shape, bool is_turned, double height,
                     hw_arena *into, hw_mesh *out)
{
    *out = *shape;
    if (!is_turned) return HW_OK;
    HW_ALLOC(job, into, out->points, shape->point_count);
    for (int i = 0; i < shape->point_count; i++) out->points[i] = turned(shape->points[i], height);
    return HW_OK;
}

// Heights of one triangle at the places under it: of the top where it faces up, else of the
// underside; the highest counts.
static void draw(const hw_mesh *shape, int t, const comparer *on)
{
    const hw_gcode_map *map = on->map;
    const int *c = shape->triangles[t];
    hw_vec3 a = shape->points[c[0]], b = shape->points[c[1]], d = shape->points[c[2]];
    double area = (b.x - a.x) * (d.y - a.y) - (b.y - a.y) * (d.x - a.x);
    if (fabs(area) < 1e-16) return;
    double *onto = area > 0.0 ? on->design : on->under;
    double low_x = fmin(a.x, fmin(b.x, d.x)), high_x = fmax(a.x, fmax(b.x, d.x));
    double low_y = fmin(a.y, fmin(b.y, d.y)), high_y = fmax(a.y, fmax(b.y, d.y));
    int first_i = (int)fmax(0.0, ceil((low_x - map->low_x) / map->step));
    int last_i = (int)fmin(map->columns - 1.0, floor((high_x - map->low_x) / map->step));
    int first_j = (int)fmax(0.0, ceil((low_y - map->low_y) / map->step));
    int last_j = (int)fmin(map->rows - 1.0, floor((high_y - map->low_y) / map->step));
    for (int j = first_j; j <= last_j; j++)
        for (int i = first_i; i <= last_i; i++) {
            double x = map->low_x + i * map->step, y = map->low_y + j * map->step;
            double u = ((b.x - x) * (d.y - y) - (b.y - y) * (d.x - x)) / area;
            double v = ((d.x - x) * (a.y - y) - (d.y - y) * (a.x - x)) / area;
            double w = 1.0 - u - v;
            if (u < 0.0 || v < 0.0 || w < 0.0) continue;
            double *height = &onto[(size_t)j * (size_t)map->columns + (size_t)i];
            *height = fmax(*height, u * a.z + v * b.z + w * d.z);
        }
}

// -- what no pass of the ball can take away

static double resting_tip(comparer *on, int i, int j)
{
    const hw_gcode_map *map = on->map;
    double *kept = &on->resting[(size_t)j * (size_t)map->columns + (size_t)i];
    if (!isnan(*kept)) return *kept;
    int reach = (int)(on->radius / map->step);
    double best = -INFINITY;
    for (int n = -reach; n <= reach; n++)
        for (int m = -reach; m <= reach; m++) {
            if (i + m < 0 || j + n < 0 || i + m >= map->columns || j + n >= map->rows) continue;
            double away2 = (m * m + n * n) * map->step * map->step;
            double here = on->solid[(size_t)(j + n) * (size_t)map->columns + (size_t)(i + m)];
            if (away2 > on->radius * on->radius) continue;
            best = fmax(best, here + sqrt(on->radius * on->radius - away2) - on->radius);
        }
    *kept = best;
    return best;
}

// The lowest that a ball resting on the design anywhere near comes over this place.
static double lowest_left(comparer *on, int i, int j)
{
    const hw_gcode_map *map = on->map;
    int reach = (int)(on->radius / map->step);
    double best = INFINITY;
    for (int n = -reach; n <= reach; n++)
        for (int m = -reach; m <= reach; m++) {
            if (i + m < 0 || j + n < 0 || i + m >= map->columns || j + n >= map->rows) continue;
            double away2 = (m * m + n * n) * map->step * map->step;
            if (away2 > on->radius * on->radius) continue;
            best = fmin(best, resting_tip(on, i + m, j + n) + on->radius -
                                  sqrt(on->radius * on->radius - away2));
        }
    return best;
}

// -- one place

static bool is_held(const comparer *on, double x, double y)
{
    for (int k = 0; k < on->hold_count; k++) {
        const hw_box *box = &on->holds[k];
        double rim = 2.0 * on->radius; // a ball beside the tab touches as far away as that
        if (x > box->low.x - rim && x < box->high.x + rim && y > box->low.y - rim &&
            y < box->high.y + rim)
            return true;
    }
    return false;
}

// How deep a cut goes into the design at a place: at its deepest point, which is half-way through
// where the cut comes out below, as at the thin edge of a rim.
static double depth_of(const comparer *on, double x, double y, double height, size_t at)
{
    double deepest = fmax(height, 0.5 * (on->design[at] + on->under[at]));
    return hw_near_distance(on->near, (hw_vec3){x, y, deepest}, NULL);
}

// Normal distance, below the design negative. What is over a place is never further from the design
// than the difference of the heights.
static double distance_of(const comparer *on, double x, double y, double height, size_t at)
{
    double over = height - on->design[at];
    if (fabs(over) <= exact_from) return over;
    if (over < 0.0) return -depth_of(on, x, y, height, at);
    return hw_near_distance(on->near, (hw_vec3){x, y, height}, NULL);
}

// -- whether any ball can reach a point: exactly, where the grid does not say so

enum { LOOKS_MAX = 20000 };
static const double touching = 2e-6; // m that a ball may lie in what it touches

// Room between a ball with its middle at c and what it must not enter, design and tabs; below
// nought it cuts.
static double room_at(const comparer *on, hw_vec3 c)
{
    const hw_gcode_map *map = on->map;
    int i = (int)lround((c.x - map->low_x) / map->step);
    int j = (int)lround((c.y - map->low_y) / map->step);
    double away = hw_near_distance(on->near, c, NULL);
    bool is_known = i >= 0 && j >= 0 && i < map->columns && j < map->rows;
    // In the design, or under it where no tool comes from above.
    if (is_known && on->design[(size_t)j * (size_t)map->columns + (size_t)i] > c.z) away = -away;
    for (int k = 0; k < on->hold_count; k++) {
        const hw_box *box = &on->holds[k];
        double x = fmax(box->low.x - c.x, c.x - box->high.x);
        double y = fmax(box->low.y - c.y, c.y - box->high.y);
        double z = c.z - box->high.z; // under its top it is in the way all the way down
        double outside =
            sqrt(pow(fmax(x, 0.0), 2.0) + pow(fmax(y, 0.0), 2.0) + pow(fmax(z, 0.0), 2.0));
        away = fmin(away, outside > 0.0 ? outside : fmax(x, fmax(y, z)));
    }
    return away - on->radius;
}

// Directions from a point to middles of balls: angles from the upright and round it, of a cell's
// corner, and its size.
typedef struct cone {
    double from[2], size[2];
} cone;

// Whether one of the balls that pass through `point`, with their middles in these directions, has
// room. Room changes by no more than the middle moves: a cell that lacks more than that is done
// with, others are halved.
static bool has_room(const comparer *on, hw_vec3 point, cone of, int *looks)
{
    double down = of.from[0] + 0.5 * of.size[0], round = of.from[1] + 0.5 * of.size[1];
    hw_vec3 way = {sin(down) * cos(round), sin(down) * sin(round), cos(down)};
    double room = room_at(on, hw_vec3_add(point, hw_vec3_scale(way, on->radius)));
    double widest = sin(of.from[0] + of.size[0]) * of.size[1];
    if (room >= -touching || ++*looks > LOOKS_MAX) return true;
    if (room + 0.5 * on->radius * (of.size[0] + widest) < 0.0) return false;
    int halved = of.size[0] > widest ? 0 : 1;
    of.size[halved] *= 0.5;
    cone other = of;
    other.from[halved] += of.size[halved];
    return has_room(on, point, of, looks) || has_room(on, point, other, looks);
}

// Whether a ball comes so deep between stock at `top` and the design, of which it stands `off`
// away, that only the ridge asked for is left above it.
static bool is_reachable(const comparer *on, hw_vec3 top, double off)
{
    const cone all = {{0.0, 0.0}, {0.5 * HW_PI, 2.0 * HW_PI}};
    hw_vec3 foot = top;
    int looks = 0;
    hw_near_distance(on->near, top, &foot);
    hw_vec3 normal = hw_vec3_unit(hw_vec3_sub(top, foot));
    // A ball that touches the design right there comes first: nearly always it has room.
    if (room_at(on, hw_vec3_add(foot, hw_vec3_scale(normal, on->radius))) >= -touching) return true;
    hw_vec3 point = hw_vec3_add(foot, hw_vec3_scale(normal, off - on->ask->ridge_max_m));
    return has_room(on, point, all, &looks);
}

static unsigned char judge_place(comparer *on, int i, int j, double off, row_sum *sum)
{
    const hw_gcode_map *map = on->map;
    double x = map->low_x + i * map->step, y = map->low_y + j * map->step;
    sum->seen++;
    if (off < 0.0 && -off + on->hidden > sum->gouge) sum->gouge = -off + on->hidden;
    if (-off + on->hidden > on->ask->gouge_max_m) return HW_GCODE_GOUGED;
    if (off <= on->ask->ridge_max_m) {
        sum->ridge = fmax(sum->ridge, off);
        return HW_GCODE_MET;
    }
    size_t at = (size_t)j * (size_t)map->columns + (size_t)i;
    double best = distance_of(on, x, y, fmax(on->design[at], lowest_left(on, i, j)), at);
    bool is_explained = best > unreached_least && off <= on->ask->ridge_max_m + best;
    if (!is_explained) {
        size_t in_field = (size_t)(j + on->first_row) * (size_t)on->field->columns;
        double height = on->field->height[in_field + (size_t)(i + on->first_column)];
        is_explained = !is_reachable(on, (hw_vec3){x, y, height}, off);
    }
    if (is_explained && is_held(on, x, y)) {
        sum->held++;
        return HW_GCODE_HELD;
    }
    if (is_explained) {
        sum->unreached = fmax(sum->unreached, off);
        sum->unreached_places++;
        return HW_GCODE_UNREACHED;
    }
    sum->ridge = fmax(sum->ridge, off);
    return HW_GCODE_LEFT;
}

// Distances of a row; they cost most, and each row is a thread's own.
static void measure_row(void *with, int j)
{
    comparer *on = with;
    hw_gcode_map *map = on->map;
    size_t row = (size_t)j * (size_t)map->columns;
    const double *height = on->field->height +
                           (size_t)(j + on->first_row) * (size_t)on->field->columns +
                           on->first_column;
    for (int i = 0; i < map->columns; i++) {
        size_t at = row + (size_t)i;
        map->off_m[at] = NAN;
        if (on->design[at] == -INFINITY) continue;
        map->off_m[at] = (float)distance_of(on, map->low_x + i * map->step,
                                            map->low_y + j * map->step, height[i], at);
    }
}

static void judge_all(comparer *on)
{
    hw_gcode_map *map = on->map;
    row_sum sum = {0};
    for (int j = 0; j < map->rows; j++)
        for (int i = 0; i < map->columns; i++) {
            size_t at = (size_t)j * (size_t)map->columns + (size_t)i;
            if (isnan(map->off_m[at])) continue;
            map->state[at] = judge_place(on, i, j, (double)map->off_m[at], &sum);
        }
    double place = map->step * map->step;
    map->gouge_m = sum.gouge;
    map->ridge_m = sum.ridge;
    map->unreached_m = sum.unreached;
    map->seen_m2 = place * sum.seen;
    map->unreached_m2 = place * sum.unreached_places;
    map->held_m2 = place * sum.held;
}

// -- the map

// The part of the field over the design, with a rim as wide as the ball.
static void frame(const gcode_field *field, const hw_box *box, double rim, comparer *on)
{
    hw_gcode_map *map = on->map;
    int first_i = (int)floor((box->low.x - rim - field->low_x) / field->step);
    int first_j = (int)floor((box->low.y - rim - field->low_y) / field->step);
    int last_i = (int)ceil((box->high.x + rim - field->low_x) / field->step);
    int last_j = (int)ceil((box->high.y + rim - field->low_y) / field->step);
    on->first_column = first_i < 0 ? 0 : first_i;
    on->first_row = first_j < 0 ? 0 : first_j;
    map->columns = (last_i < field->columns ? last_i : field->columns - 1) - on->first_column + 1;
    map->rows = (last_j < field->rows ? last_j : field->rows - 1) - on->first_row + 1;
    map->step = field->step;
    map->low_x = field->low_x + on->first_column * field->step;
    map->low_y = field->low_y + on->first_row * field->step;
}

// The tabs' tops, a place wider all round: what a tab hides is not held against the program.
static void add_tabs(const comparer *on)
{
    const hw_gcode_map *map = on->map;
    for (int j = 0; j < map->rows; j++)
        for (int i = 0; i < map->columns; i++)
            for (int k = 0; k < on->hold_count; k++) {
                const hw_box *box = &on->holds[k];
                double x = map->low_x + i * map->step, y = map->low_y + j * map->step;
                double *height = &on->solid[(size_t)j * (size_t)map->columns + (size_t)i];
                if (x > box->low.x - map->step && x < box->high.x + map->step &&
                    y > box->low.y - map->step && y < box->high.y + map->step)
                    *height = fmax(*height, box->high.z);
            }
}

static hw_status fill_map(hw_job *job, comparer *on, const hw_mesh *shape, hw_arena *into)
{
    hw_gcode_map *map = on->map;
    hw_scratch tmp = hw_scratch_begin(job, into);
    size_t count = (size_t)map->columns * (size_t)map->rows;
    HW_TRY(hw_near_build(job, shape, tmp.arena, &on->near));
    HW_ALLOC(job, into, map->off_m, count);
    HW_ALLOC(job, into, map->state, count);
    HW_ALLOC(job, tmp.arena, on->design, count);
    HW_ALLOC(job, tmp.arena, on->under, count);
    HW_ALLOC(job, tmp.arena, on->solid, count);
    HW_ALLOC(job, tmp.arena, on->resting, count);
    for (size_t k = 0; k < count; k++)
        on->design[k] = on->under[k] = -INFINITY, on->resting[k] = NAN;
    for (int t = 0; t < shape->triangle_count; t++) draw(shape, t, on);
    for (size_t k = 0; k < count; k++) on->solid[k] = on->design[k];
    add_tabs(on);
    hw_parallel(map->rows, measure_row, on);
    judge_all(on);
    hw_scratch_end(tmp);
    return hw_job_ask(job);
}

// How deep the cut goes into the tabs. They hold the part to the block until it is cut out by hand:
// all of their breadth and length must stand up to their top, or the part comes loose under the
// tool. A cut beside a tab may go into its upright flank as it may into a design: so far from its
// flanks nobody looks.
static void look_at_tabs(const comparer *on)
{
    const gcode_field *field = on->field;
    for (int k = 0; k < on->hold_count; k++) {
        const hw_box *box = &on->holds[k];
        double flank = on->ask->gouge_max_m;
        double low_x = box->low.x + flank - field->low_x,
               high_x = box->high.x - flank - field->low_x;
        double low_y = box->low.y + flank - field->low_y,
               high_y = box->high.y - flank - field->low_y;
        int first_i = (int)fmax(0.0, ceil(low_x / field->step));
        int last_i = (int)fmin(field->columns - 1.0, floor(high_x / field->step));
        int first_j = (int)fmax(0.0, ceil(low_y / field->step));
        int last_j = (int)fmin(field->rows - 1.0, floor(high_y / field->step));
        for (int j = first_j; j <= last_j; j++)
            for (int i = first_i; i <= last_i; i++) {
                double height = field->height[(size_t)j * (size_t)field->columns + (size_t)i];
                if (box->high.z - height <= on->map->tab_cut_m) continue;
                on->map->tab_cut_m = box->high.z - height;
                on->map->tab_cut_at = (hw_vec3){field->low_x + i * field->step,
                                                field->low_y + j * field->step, height};
            }
    }
}

hw_status gcode_compare(hw_job *job, const gcode_field *field, const hw_gcode_rules *rules,
                        const hw_gcode_ask *ask, const int side_and_part[2], hw_arena *into,
                        hw_gcode_map *out)
{
    const hw_gcode_design *design = &ask->designs[side_and_part[1]];
    double height = rules->stock.high.z, radius = rules->tools[ask->finish_tool].radius_m;
    bool is_turned = side_and_part[0] == 1;
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_gcode_map map = {0};
    hw_box holds[HW_GCODE_HOLDS_MAX];
    hw_mesh shape = {0};
    for (int k = 0; k < design->hold_count; k++) {
        hw_box box = design->holds[k];
        holds[k] = box;
        if (is_turned) {
            hw_vec3 a = turned(box.low, height), b = turned(box.high, height);
            holds[k] = (hw_box){{a.x, b.y, b.z}, {b.x, a.y, a.z}};
        }
    }
    comparer on = {.field = field,
                   .ask = ask,
                   .map = &map,
                   .radius = radius,
                   .hidden = field->step * field->step / (4.0 * radius),
                   .holds = holds,
                   .hold_count = design->hold_count};
    HW_TRY(lay(job, design->shape, is_turned, height, tmp.arena, &shape));
    hw_box box = hw_mesh_box(&shape);
    frame(field, &box, radius, &on);
    if (map.columns < 1 || map.rows < 1)
        return hw_fail(job, HW_BAD_INPUT, "the design does not lie in the block");
    HW_TRY(fill_map(job, &on, &shape, into));
    look_at_tabs(&on);
    hw_scratch_end(tmp);
    *out = map;
    return HW_OK;
}
