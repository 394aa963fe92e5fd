// SPDX-License-Identifier: GPL-3.0-or-later
// Roughing with a flat end mill on a grid of places. At each the tip may go so deep that the tool,
// made wider and shorter by the allowance, rests on the part. Layers of the tool's depth go down
// from the top; each is a zigzag that rides over the part, with rows in between where it is steep.
#include "toolpath_internal.h"

static const double entry_slope =
    0.15; // of a ramp into the stock: common practice, 5 to 10 degrees
static const double entry_length = 0.025; // along the way, there and back again
static const double entry_air = 0.3e-3;   // above what the last layer left
static const double smooth_part =
    0.6; // of the allowance: a step lower than that is a straight line
static const double link_longest = 0.02; // from one stretch to the next inside a layer
static const double gap_nodes = 4;       // stretches closer than this become one

typedef struct rougher {
    const mill_side *side;
    const hw_drop *shape;  // against the tool grown by the allowance
    const hw_drop *around; // against the channel's width
    const hw_drop *tabs;   // likewise: a straight line from step to step may not cut into a tab
    double allowance, tool_radius, grid, low_x, low_y, depth;
    double within[4]; // places of the tip: low x, high x, low y, high y
    int nx, ny, row_step;
    double *target; // lowest tip at each place; INFINITY: not there
} rougher;

double rough_grid(const hw_toolpath_ask *ask)
{
    // The grown tool at two neighbouring places covers the tool itself anywhere between them.
    return fmin(1e-3, 1.8 * ask->allowance_m);
}

// Rows of the grid from one pass to the next.
static int rows_a_pass(const hw_toolpath_ask *ask)
{
    int rows = (int)(2.0 * ask->rough->radius_m * ask->rough->step_share / rough_grid(ask));
    return rows < 1 ? 1 : rows;
}

// How far outside the outline the tip may stand.
static double reach_around(const hw_toolpath_ask *ask)
{
    return ask->rough->radius_m + ask->allowance_m + (rows_a_pass(ask) + 0.5) * rough_grid(ask);
}

double rough_channel(const hw_toolpath_ask *ask)
{
    return reach_around(ask) + ask->rough->radius_m;
}

// Lowest the tip may go over (x, y).
static double lowest_tip(const rougher *on, double x, double y)
{
    const double *in = on->within;
    if (x < in[0] || x > in[1] || y < in[2] || y > in[3]) return INFINITY;
    if (on->around && hw_drop_flat(on->around, x, y) == -INFINITY) return INFINITY;
    double over = hw_drop_flat(on->shape, x, y);
    if (on->tabs) over = fmax(over, hw_drop_flat(on->tabs, x, y));
    return fmax(on->side->floor, over + on->allowance);
}

static void look_at_row(void *with, int j)
{
    rougher *on = with;
    for (int i = 0; i < on->nx; i++)
        on->target[(size_t)j * (size_t)on->nx + (size_t)i] =
            lowest_tip(on, on->low_x + i * on->grid, on->low_y + j * on->grid);
}

static double target_at(const rougher *on, int i, int j)
{
    if (i < 0 || j < 0 || i >= on->nx || j >= on->ny) return INFINITY;
    return on->target[(size_t)j * (size_t)on->nx + (size_t)i];
}

// Places where a main row is not enough: the part climbs across the rows.
static bool is_steep(const rougher *on, int i, int j)
{
    double here = target_at(on, i, j), below = target_at(on, i, j - 1);
    double above = target_at(on, i, j + 1);
    return (below < INFINITY && fabs(below - here) > on->grid) ||
           (above < INFINITY && fabs(above - here) > on->grid);
}

// -- one row of one layer

typedef struct layer {
    double top, bottom; // what the last layer left, how deep this one goes
} layer;

static bool is_work(const rougher *on, const layer *of, int i, int j)
{
    const double least = 1e-6; // m
    double target = target_at(on, i, j);
    if (!(target < of->top - least)) return false;
    return j % on->row_step == 0 || is_steep(on, i, j);
}

static hw_vec3 place(const rougher *on, const layer *of, int i, int j)
{
    return (hw_vec3){on->low_x + i * on->grid, on->low_y + j * on->grid,
                     fmax(of->bottom, target_at(on, i, j))};
}

// From place to place. A steep step is made at its higher side, upright: the grown tool of one of
// the two places covers all that the tool meets on the way.
static int add_place(const rougher *on, hw_vec3 *points, int count, hw_vec3 next)
{
    if (count > 0 && fabs(points[count - 1].z - next.z) > smooth_part * on->allowance) {
        hw_vec3 last = points[count - 1];
        points[count++] =
            last.z < next.z ? (hw_vec3){last.x, last.y, next.z} : (hw_vec3){next.x, next.y, last.z};
    }
    points[count++] = next;
    return count;
}

static hw_status add_run(hw_job *job, const rougher *on, const layer *of, const int span[3],
                         hw_arena *into, mill_ways *out)
{
    mill_way *way = &out->ways[out->count];
    HW_ALLOC(job, into, way->points, 2 * (span[1] - span[0] + 1));
    for (int i = span[0]; i <= span[1]; i++)
        way->count = add_place(on, way->points, way->count, place(on, of, i, span[2]));
    way->count = way_simplify(way->points, way->count, 0.1 * on->allowance);
    out->count++;
    return HW_OK;
}

// The next stretch of work in row j from place i on; false: none is left.
static bool next_span(const rougher *on, const layer *of, int i, int j, int span[3])
{
    while (i < on->nx && !is_work(on, of, i, j)) i++;
    if (i == on->nx) return false;
    span[0] = span[1] = i, span[2] = j;
    for (; i < on->nx && i - span[1] <= gap_nodes; i++) {
        if (!(target_at(on, i, j) < of->top)) break; // the part itself, or not the channel
        if (is_work(on, of, i, j)) span[1] = i;
    }
    return true;
}

static hw_status list_runs(hw_job *job, const rougher *on, const layer *of, hw_arena *into,
                           mill_ways *out)
{
    int span[3] = {0}, count = 0;
    for (int j = 0; j < on->ny; j++)
        for (int i = 0; next_span(on, of, i, j, span); i = span[1] + 1) count++;
    HW_ALLOC(job, into, out->ways, count + 1);
    out->count = 0;
    for (int j = 0; j < on->ny; j++)
        for (int i = 0; next_span(on, of, i, j, span); i = span[1] + 1)
            HW_TRY(add_run(job, on, of, span, into, out));
    return HW_OK;
}

// -- into the stock

// Along the first stretch and back again, ever deeper, until it is all at its depth; then the way.
static hw_status ramp_in(hw_job *job, mill_way *way, double top, hw_arena *into)
{
    enum { TURNS = 400 };
    int reach = 0, room = 0, count = 0;
    double length = 0.0, deepest = way->points[0].z;
    for (int k = 1; k < way->count && length < entry_length; k++, reach++) {
        length +=
            hypot(way->points[k].x - way->points[k - 1].x, way->points[k].y - way->points[k - 1].y);
        deepest = fmin(deepest, way->points[k].z);
    }
    double height = top + entry_air;
    if (length < 1e-3 || height - deepest < entry_air) return HW_OK; // too short: straight down
    int passes = (int)ceil((height - deepest) / (entry_slope * length));
    if (passes > TURNS) passes = TURNS;
    passes += passes % 2; // ends where it began
    hw_vec3 *points = NULL;
    room = passes * reach + 1 + way->count;
    HW_ALLOC(job, into, points, room);
    points[count++] = (hw_vec3){way->points[0].x, way->points[0].y, height};
    for (int pass = 0; pass < passes; pass++)
        for (int k = 1; k <= reach; k++) {
            hw_vec3 next = way->points[pass % 2 ? reach - k : k], last = points[count - 1];
            double down = entry_slope * hypot(next.x - last.x, next.y - last.y);
            height = fmax(height - down, deepest);
            next.z = fmax(next.z, height);
            points[count++] = next;
        }
    for (int k = 0; k < way->count; k++) points[count++] = way->points[k];
    *way = (mill_way){points, count, way->air};
    return HW_OK;
}

static double link_height(const void *with, double x, double y)
{
    return lowest_tip(with, x, y);
}

// Ways of one layer; a link may not go deeper than the layer.
typedef struct layer_link {
    const rougher *on;
    double bottom;
} layer_link;

static double layer_height(const void *with, double x, double y)
{
    const layer_link *link = with;
    return fmax(link->bottom, link_height(link->on, x, y));
}

static hw_status cut_layer(hw_job *job, const rougher *on, const layer *of, hw_arena *into,
                           mill_ways *out)
{
    mill_ways runs = {0};
    hw_scratch tmp = hw_scratch_begin(job, into);
    layer_link with = {on, of->bottom};
    link_rule rule = {.longest = link_longest,
                      .step = 0.5 * on->grid,
                      .height = layer_height,
                      .with = &with,
                      .ceiling = of->top};
    HW_TRY(list_runs(job, on, of, tmp.arena, &runs));
    HW_TRY(link_ways(job, &runs, &rule, into, out));
    for (int i = 0; i < out->count; i++) {
        // Where a way begins, the layer before has been: the same tool at the same place.
        out->ways[i].air = of->top + entry_air;
        HW_TRY(ramp_in(job, &out->ways[i], of->top, into));
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status prepare(hw_job *job, const mill_side *side, const hw_toolpath_ask *ask,
                         hw_arena *into, rougher *on)
{
    double radius = ask->rough->radius_m, around = reach_around(ask);
    hw_box box = hw_mesh_box(side->shape);
    *on = (rougher){.side = side,
                    .allowance = ask->allowance_m,
                    .tool_radius = radius,
                    .grid = rough_grid(ask),
                    .depth = ask->rough->depth_m,
                    .row_step = rows_a_pass(ask)};
    HW_TRY(hw_drop_build(job, side->shape, radius + ask->allowance_m, into, &on->shape));
    if (side->tabs)
        HW_TRY(hw_drop_build(job, side->tabs, radius + ask->allowance_m, into, &on->tabs));
    if (side->is_open) {
        on->within[0] = side->stock.low.x + side->clamp + radius;
        on->within[1] = side->stock.high.x - side->clamp - radius;
        on->within[2] = side->stock.low.y, on->within[3] = side->stock.high.y;
    } else {
        HW_TRY(hw_drop_build(job, side->shape, around, into, &on->around));
        on->within[0] = box.low.x - around, on->within[1] = box.high.x + around;
        on->within[2] = box.low.y - around, on->within[3] = box.high.y + around;
    }
    on->low_x = on->within[0], on->low_y = on->within[2];
    on->nx = (int)floor((on->within[1] - on->low_x) / on->grid) + 1;
    on->ny = (int)floor((on->within[3] - on->low_y) / on->grid) + 1;
    HW_ALLOC(job, into, on->target, (size_t)on->nx * (size_t)on->ny);
    hw_parallel(on->ny, look_at_row, on);
    return hw_job_ask(job);
}

// The tool stood with its tip at a height: no place within its reach is higher.
static void lower_around(mill_left *left, int i, int j, int reach, double tip)
{
    for (int n = -reach; n <= reach; n++)
        for (int m = -reach; m <= reach; m++) {
            if (m * m + n * n > reach * reach) continue;
            double *height = &left->height[(size_t)(j + n) * (size_t)left->nx + (size_t)(i + m)];
            *height = fmin(*height, tip);
        }
}

// What is left when all layers are cut: at each place the lowest tip that stood near enough to
// cover it and its neighbourhood. Places off the rows are covered by those on them.
static hw_status note_left(hw_job *job, const rougher *on, hw_arena *into, mill_left *left)
{
    const layer all = {on->side->stock.high.z, -INFINITY};
    int reach = (int)(on->tool_radius / on->grid - 0.75);
    // As wide as the tool comes, which is beyond the places of its tip.
    *left = (mill_left){on->low_x - reach * on->grid, on->low_y - reach * on->grid, on->grid,
                        on->nx + 2 * reach,           on->ny + 2 * reach,           NULL};
    size_t count = (size_t)left->nx * (size_t)left->ny;
    HW_ALLOC(job, into, left->height, count);
    for (size_t k = 0; k < count; k++) left->height[k] = on->side->stock.high.z;
    for (int j = 0; j < on->ny; j++)
        for (int i = 0; i < on->nx; i++)
            if (is_work(on, &all, i, j))
                lower_around(left, i + reach, j + reach, reach, target_at(on, i, j));
    return hw_job_ask(job);
}

static double deepest_target(const rougher *on)
{
    double lowest = INFINITY;
    for (size_t k = 0; k < (size_t)on->nx * (size_t)on->ny; k++)
        lowest = fmin(lowest, on->target[k]);
    return lowest;
}

hw_status rough_side(hw_job *job, mill_side *side, const hw_toolpath_ask *ask, hw_arena *into,
                     mill_ways *out)
{
    enum { LAYERS_MAX = 512 };
    rougher on;
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_TRY(prepare(job, side, ask, tmp.arena, &on));
    HW_TRY(note_left(job, &on, into, &side->left));
    double top = side->stock.high.z, lowest = deepest_target(&on);
    int layers = (int)ceil((top - lowest) / on.depth - 1e-9), capacity = 0;
    if (layers < 1 || layers > LAYERS_MAX)
        return hw_fail(job, HW_BAD_INPUT, "roughing would take %d layers of %.1f mm", layers,
                       hw_mm_from_m(on.depth));
    mill_ways all = {0}, one = {0};
    mill_ways *each = NULL;
    HW_ALLOC(job, tmp.arena, each, layers);
    for (int k = 0; k < layers; k++) {
        layer of = {top - k * on.depth, fmax(lowest, top - (k + 1) * on.depth)};
        HW_TRY(cut_layer(job, &on, &of, into, &one));
        each[k] = one;
        capacity += one.count;
    }
    HW_ALLOC(job, into, all.ways, capacity + 1);
    for (int k = 0; k < layers; k++)
        for (int i = 0; i < each[k].count; i++) all.ways[all.count++] = each[k].ways[i];
    hw_scratch_end(tmp);
    *out = all;
    return HW_OK;
}
