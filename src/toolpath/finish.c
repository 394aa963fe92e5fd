// SPDX-License-Identifier: GPL-3.0-or-later
// Finishing with a ball: rows along X, each point by the drop-cutter. Where two neighbouring rows
// stand so far apart that the ridge between them would be higher than the scallop, a row goes in
// between, over that stretch only, and so on; so walls get as many rows as they need and flats no
// more than theirs.
#include "toolpath_internal.h"

#include <stdlib.h>

// Two points of a row may be so far apart that a chord between them, over any surface a ball of
// radius R rolls on, cuts L2 / 8R at most: the ball's centre never turns sharper than R.
static const double chord = 11e-6;
// Of the scallop asked for: the ridge that is planned between rows, the hollow that a chord of two
// steps may bridge, what may be given up when points are left out (at most 3 um), and how close
// rows are put at the outline (at most 25 um).
static const double ridge_share = 0.72, hollow_share = 0.15, straight_share = 0.06;
static const double narrow_share = 0.2;
static const double upright = 2e-6; // closer than this points are not put, on a wall nearly upright
static const double pad = 1.2e-3;   // by which a row between reaches beyond where it is needed
static const double merge = 4e-3;   // two stretches closer than this become one

enum { STRIP_BYTES = 256 << 20 };

// Where the tip stands and what it touches.
typedef struct cut_point {
    hw_vec3 tip, contact;
} cut_point;

// A stretch of a row without a gap: points [first, first + count) of its strip.
typedef struct cut_run {
    int first, count;
} cut_run;

// Rows as they are found, in an arena of their own: strips are made by several threads.
typedef struct strip {
    hw_arena *arena;
    cut_point *points;
    cut_run *runs;
    int point_count, point_room, run_count, run_room;
    bool is_open; // the last run may go on
    bool failed;
} strip;

// Some runs of a strip that lie at the same y, in rising x.
typedef struct row {
    const strip *of;
    int first_run, run_count;
    double y;
} row;

typedef struct finisher {
    const hw_drop *shape, *tabs;
    double radius, step; // step: longest chord
    double spread;       // m: rows of a flat may be so far apart
    double narrow, hollow, straight;
    double low_x, high_x, low_y, row_gap;
    int row_count;
    strip *rows, *between; // row_count each; between[j] lies above rows[j]
} finisher;

// -- one row

static void append_point(strip *to, cut_point point)
{
    if (to->failed) return;
    if (to->point_count == to->point_room) {
        int room = to->point_room ? 2 * to->point_room : 512;
        cut_point *grown = hw_arena_take(to->arena, (size_t)room, sizeof *grown);
        if (!grown) {
            to->failed = true;
            return;
        }
        for (int i = 0; i < to->point_count; i++) grown[i] = to->points[i];
        to->points = grown;
        to->point_room = room;
    }
    to->points[to->point_count++] = point;
    to->runs[to->run_count - 1].count++;
}

static void open_run(strip *to)
{
    if (to->run_count == to->run_room) {
        int room = to->run_room ? 2 * to->run_room : 16;
        cut_run *grown = hw_arena_take(to->arena, (size_t)room, sizeof *grown);
        if (!grown) {
            to->failed = true;
            return;
        }
        for (int i = 0; i < to->run_count; i++) grown[i] = to->runs[i];
        to->runs = grown;
        to->run_room = room;
    }
    to->runs[to->run_count++] = (cut_run){to->point_count, 0};
    to->is_open = true;
}

// Where the ball rests; false where it passes the part by.
static bool rest_at(const finisher *on, double x, double y, cut_point *out)
{
    hw_vec3 contact = {0}, on_tab = {0};
    double tip = hw_drop_ball(on->shape, x, y, &contact);
    if (tip == -INFINITY) return false;
    double over_tab = on->tabs ? hw_drop_ball(on->tabs, x, y, &on_tab) : -INFINITY;
    if (over_tab > tip) tip = over_tab, contact = on_tab;
    *out = (cut_point){{x, y, tip}, contact};
    return true;
}

static void keep_point(strip *to, bool touches, cut_point point)
{
    if (!touches) {
        to->is_open = false;
        return;
    }
    if (!to->is_open) open_run(to);
    append_point(to, point);
}

// How far the middle of two points lies under the chord between them, at right angles: a hollow,
// which a chord bridges and leaves stock in.
static double hollow_under(const cut_point ends[2], const cut_point *middle)
{
    double wide = ends[1].tip.x - ends[0].tip.x, rise = ends[1].tip.z - ends[0].tip.z;
    double under = 0.5 * (ends[0].tip.z + ends[1].tip.z) - middle->tip.z;
    return under * wide / sqrt(wide * wide + rise * rise);
}

// Appends what lies between two points (without the first), halving until chords are short, hollows
// are followed and the outline is met.
static void trace_between(const finisher *on, strip *to, const cut_point ends[2],
                          const bool touches[2])
{
    double wide = ends[1].tip.x - ends[0].tip.x, x = 0.5 * (ends[0].tip.x + ends[1].tip.x);
    bool meets_outline = touches[0] != touches[1];
    if (wide <= upright || (meets_outline && wide <= on->narrow) || (!touches[0] && !touches[1])) {
        keep_point(to, touches[1], ends[1]);
        return;
    }
    cut_point middle = {.tip = {x, ends[0].tip.y, 0.0}};
    bool is_on = rest_at(on, x, ends[0].tip.y, &middle);
    bool is_done = touches[0] && touches[1] && is_on &&
                   hw_vec3_distance(ends[0].tip, middle.tip) <= on->step &&
                   hw_vec3_distance(middle.tip, ends[1].tip) <= on->step &&
                   hollow_under(ends, &middle) <= on->hollow;
    if (is_done) {
        keep_point(to, true, middle);
        keep_point(to, true, ends[1]);
        return;
    }
    trace_between(on, to, (const cut_point[2]){ends[0], middle},
                  (const bool[2]){touches[0], is_on});
    trace_between(on, to, (const cut_point[2]){middle, ends[1]},
                  (const bool[2]){is_on, touches[1]});
}

// The row at y from one x to another.
static void trace_row(const finisher *on, strip *to, double y, double from, double until)
{
    int steps = (int)ceil((until - from) / (1.9 * on->step)); // each is halved at least once
    if (steps < 1) steps = 1;
    cut_point ends[2] = {{.tip = {from, y, 0.0}}, {.tip = {from, y, 0.0}}};
    bool touches[2] = {rest_at(on, from, y, &ends[0]), false};
    to->is_open = false;
    keep_point(to, touches[0], ends[0]);
    for (int i = 1; i <= steps && !to->failed; i++) {
        double x = from + (until - from) * i / steps;
        ends[1] = (cut_point){.tip = {x, y, 0.0}};
        touches[1] = rest_at(on, x, y, &ends[1]);
        trace_between(on, to, ends, touches);
        ends[0] = ends[1], touches[0] = touches[1];
    }
}

// -- rows between rows

// Points [first, end) of a row; its runs stand one after the other.
static void points_of(const row *of, int *first, int *end)
{
    *first = *end = 0;
    if (of->run_count == 0) return;
    const cut_run *last = &of->of->runs[of->first_run + of->run_count - 1];
    *first = of->of->runs[of->first_run].first;
    *end = last->first + last->count;
}

// Whether two balls leave a ridge between them that is low enough. On a smooth surface its height
// is the distance of the tips times that of the contacts over 8R. In a valley the contacts jump
// from one slope to the other, and the stock in between is up to twice as high.
static bool is_near(const finisher *on, const cut_point *a, const cut_point *b)
{
    double tips = hw_vec3_distance(a->tip, b->tip);
    double contacts = fmax(tips, hw_vec3_distance(a->contact, b->contact));
    return tips * (2.0 * contacts - tips) <= on->spread * on->spread;
}

typedef struct stretch {
    double from, until;
} stretch;

typedef struct stretches {
    stretch *rows;
    int count, room;
} stretches;

static void add_stretch(strip *memory, stretches *to, double from, double until)
{
    if (memory->failed) return;
    if (to->count == to->room) {
        int room = to->room ? 2 * to->room : 8;
        stretch *grown = hw_arena_take(memory->arena, (size_t)room, sizeof *grown);
        if (!grown) {
            memory->failed = true;
            return;
        }
        for (int i = 0; i < to->count; i++) grown[i] = to->rows[i];
        to->rows = grown;
        to->room = room;
    }
    to->rows[to->count++] = (stretch){from, until};
}

// Where points of `a` within the window have no near one in `b`.
static void add_bare(const finisher *on, strip *memory, const row *a, const row *b, stretch window,
                     stretches *out)
{
    int i = 0, end = 0, first = 0, last = 0;
    points_of(a, &i, &end);
    points_of(b, &first, &last);
    for (; i < end; i++) {
        const cut_point *p = &a->of->points[i];
        if (p->tip.x < window.from || p->tip.x > window.until) continue;
        while (first < last && b->of->points[first].tip.x < p->tip.x - on->spread) first++;
        bool is_met = false;
        for (int k = first; k < last && !is_met; k++) {
            if (b->of->points[k].tip.x > p->tip.x + on->spread) break;
            is_met = is_near(on, p, &b->of->points[k]);
        }
        if (is_met) continue;
        stretch *before = out->count ? &out->rows[out->count - 1] : NULL;
        if (before && p->tip.x - pad <= before->until + merge)
            before->until = p->tip.x + pad;
        else
            add_stretch(memory, out, p->tip.x - pad, p->tip.x + pad);
    }
}

static int by_start(const void *a, const void *b)
{
    const stretch *one = a, *other = b;
    return one->from < other->from ? -1 : one->from > other->from;
}

// Both rows' bare stretches, sorted and joined.
static stretches bare_between(const finisher *on, strip *memory, const row *a, const row *b,
                              stretch window)
{
    stretches both = {0};
    stretches of_b = {0};
    add_bare(on, memory, a, b, window, &both);
    add_bare(on, memory, b, a, window, &of_b);
    for (int i = 0; i < of_b.count; i++)
        add_stretch(memory, &both, of_b.rows[i].from, of_b.rows[i].until);
    if (both.count > 1) qsort(both.rows, (size_t)both.count, sizeof *both.rows, by_start);
    int kept = 0;
    for (int i = 1; i < both.count; i++) {
        if (both.rows[i].from <= both.rows[kept].until + merge)
            both.rows[kept].until = fmax(both.rows[kept].until, both.rows[i].until);
        else
            both.rows[++kept] = both.rows[i];
    }
    if (both.count > 0) both.count = kept + 1;
    return both;
}

// Puts rows between two until they are near everywhere in the window. At most as deep as halving
// the gap of two rows down to on->narrow.
static void fill_between(const finisher *on, strip *to, const row *a, const row *b, stretch window)
{
    if (b->y - a->y <= on->narrow || to->failed) return;
    stretches bare = bare_between(on, to, a, b, window);
    row middle = {to, to->run_count, 0, 0.5 * (a->y + b->y)};
    for (int i = 0; i < bare.count; i++)
        trace_row(on, to, middle.y, bare.rows[i].from, bare.rows[i].until);
    middle.run_count = to->run_count - middle.first_run;
    for (int i = 0; i < bare.count; i++) {
        fill_between(on, to, a, &middle, bare.rows[i]);
        fill_between(on, to, &middle, b, bare.rows[i]);
    }
}

// -- all rows

static void start_strip(strip *of)
{
    of->arena = hw_arena_new(STRIP_BYTES);
    of->failed = !of->arena;
}

static double row_y(const finisher *on, int j)
{
    return on->low_y + j * on->row_gap;
}

static void do_row(void *with, int j)
{
    finisher *on = with;
    start_strip(&on->rows[j]);
    if (on->rows[j].failed) return;
    trace_row(on, &on->rows[j], row_y(on, j), on->low_x, on->high_x);
}

static row whole_row(const finisher *on, int j)
{
    return (row){&on->rows[j], 0, on->rows[j].run_count, row_y(on, j)};
}

static void do_between(void *with, int j)
{
    finisher *on = with;
    row a = whole_row(on, j), b = whole_row(on, j + 1);
    start_strip(&on->between[j]);
    if (on->between[j].failed) return;
    fill_between(on, &on->between[j], &a, &b, (stretch){on->low_x, on->high_x});
}

static void free_strips(finisher *on)
{
    for (int j = 0; j < on->row_count; j++) {
        hw_arena_free(on->rows[j].arena);
        hw_arena_free(on->between[j].arena);
    }
}

static hw_status copy_runs(hw_job *job, const strip *of, double straight, hw_arena *into,
                           mill_ways *out)
{
    if (of->failed) return hw_fail(job, HW_NO_MEMORY, "no memory for the rows of finishing");
    for (int i = 0; i < of->run_count; i++) {
        const cut_run *run = &of->runs[i];
        mill_way *way = &out->ways[out->count++];
        HW_ALLOC(job, into, way->points, run->count + 1);
        for (int k = 0; k < run->count; k++) way->points[k] = of->points[run->first + k].tip;
        way->count = way_simplify(way->points, run->count, straight);
    }
    return HW_OK;
}

static hw_status gather(hw_job *job, const finisher *on, hw_arena *into, mill_ways *out)
{
    int runs = 0;
    for (int j = 0; j < on->row_count; j++)
        runs += on->rows[j].run_count + on->between[j].run_count;
    HW_ALLOC(job, into, out->ways, runs + 1);
    for (int j = 0; j < on->row_count; j++) {
        HW_TRY(copy_runs(job, &on->rows[j], on->straight, into, out));
        HW_TRY(copy_runs(job, &on->between[j], on->straight, into, out));
    }
    return HW_OK;
}

static double link_height(const void *with, double x, double y)
{
    cut_point at;
    return rest_at(with, x, y, &at) ? at.tip.z : INFINITY;
}

// The highest stock that the ball could meet on its way down over (x, y).
static double air_over(const mill_left *left, double radius, double top, double x, double y)
{
    const double over = 0.5e-3; // roughing's straight lines leave that much at most
    double wide = radius + left->grid, highest = -INFINITY;
    int first_i = (int)ceil((x - wide - left->low_x) / left->grid);
    int last_i = (int)floor((x + wide - left->low_x) / left->grid);
    int first_j = (int)ceil((y - wide - left->low_y) / left->grid);
    int last_j = (int)floor((y + wide - left->low_y) / left->grid);
    for (int j = first_j; j <= last_j; j++)
        for (int i = first_i; i <= last_i; i++) {
            double dx = left->low_x + i * left->grid - x, dy = left->low_y + j * left->grid - y;
            if (dx * dx + dy * dy > wide * wide) continue;
            bool is_known = i >= 0 && j >= 0 && i < left->nx && j < left->ny;
            double height = is_known ? left->height[(size_t)j * (size_t)left->nx + (size_t)i] : top;
            highest = fmax(highest, height);
        }
    return highest + over;
}

static hw_status prepare(hw_job *job, const mill_side *side, const hw_toolpath_ask *ask,
                         hw_arena *into, finisher *on)
{
    double radius = ask->finish->radius_m, ridge = ridge_share * ask->scallop_m;
    hw_box box = hw_mesh_box(side->shape);
    HW_TRY(hw_drop_build(job, side->shape, radius, into, &on->shape));
    if (side->tabs) HW_TRY(hw_drop_build(job, side->tabs, radius, into, &on->tabs));
    on->radius = radius;
    on->step = sqrt(8.0 * radius * chord);
    on->narrow = fmin(25e-6, narrow_share * ask->scallop_m);
    on->hollow = hollow_share * ask->scallop_m;
    on->straight = fmin(3e-6, straight_share * ask->scallop_m);
    on->spread = 2.0 * sqrt(ridge * (2.0 * radius - ridge));
    on->low_x = box.low.x - radius - on->narrow, on->high_x = box.high.x + radius + on->narrow;
    double low_y = box.low.y - radius, wide = box.high.y + radius - low_y;
    on->row_count = (int)ceil(wide / (0.98 * on->spread)) + 1;
    on->row_gap = wide / (on->row_count - 1);
    on->low_y = low_y;
    HW_ALLOC(job, into, on->rows, on->row_count);
    HW_ALLOC(job, into, on->between, on->row_count);
    return HW_OK;
}

hw_status finish_side(hw_job *job, const mill_side *side, const hw_toolpath_ask *ask,
                      hw_arena *into, mill_ways *out, hw_toolpath *facts)
{
    finisher on = {0};
    mill_ways runs = {0};
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_TRY(prepare(job, side, ask, tmp.arena, &on));
    hw_parallel(on.row_count, do_row, &on);
    hw_status status = hw_job_ask(job);
    if (status == HW_OK) hw_parallel(on.row_count - 1, do_between, &on);
    if (status == HW_OK) status = gather(job, &on, tmp.arena, &runs);
    free_strips(&on);
    HW_TRY(status);
    facts->run_count += runs.count;
    facts->pass_count += on.row_count;
    link_rule rule = {.longest = 0.04,
                      .step = 0.7 * on.step,
                      .height = link_height,
                      .with = &on,
                      .ceiling = side->stock.high.z};
    HW_TRY(link_ways(job, &runs, &rule, into, out));
    for (int i = 0; i < out->count; i++)
        out->ways[i].air = air_over(&side->left, on.radius, side->stock.high.z,
                                    out->ways[i].points[0].x, out->ways[i].points[0].y);
    hw_scratch_end(tmp);
    return HW_OK;
}
