// SPDX-License-Identifier: GPL-3.0-or-later
// The two edges of a band, traced together.
//
// The box is resampled to a grid of even steps in millimetres, so that nothing depends on the
// pixel's size. Each node's edge strength compares the mean brightness of a window above it with
// one below it (for lines: of a thin window with both its neighbours); windows are wide along the
// band, so that speckle averages out. A pair of paths, one node each a column, is then scored by
// the strengths under it less a price of bending. The best pair of all is found exactly: states are
// the pairs (upper, lower), and the price is a sum of one term for each path, so that one column's
// step is two small minimisations.
#include "ultrasound/ultrasound.h"

#include <math.h>

enum {
    REACH = 2,    // rows a path may move from one column to the next
    REPEATS = 12, // traces with changed boxes and windows
    ROWS_MAX = 240,
    WAYS = 2 * REACH + 1,
};

static const double row_step_m = 0.06e-3, column_step_m = 0.24e-3;
static const double window_width_m = 1.2e-3;  // along the band
static const double window_height_m = 0.5e-3; // across it, each side of an edge
static const double line_height_m = 0.45e-3;  // of a bright line
static const double bend_price = 0.06;        // of one row's move, in standard strengths
static const double site_half_m = 1.0e-3;     // the reading is the mean of 2 mm around the site
static const double blur_sd_m =
    0.07e-3; // of both edges by the beam's blur, as the made-up pictures show
static const double reference_m = 2.0e-3; // of tissue above the band, to compare brightness with

// The box on even steps, and running sums of its brightness.
typedef struct grid {
    int columns, rows;
    double left, top;    // pixels
    double dx, dy;       // pixels a step
    double x_m, y_m;     // metres a step
    double *sums;        // (columns + 1) x (rows + 1): brightness above and left of a node
    double *strength[2]; // of each edge at a node, columns x rows, in standard strengths
} grid;

// How one trace looks at it.
typedef struct view {
    double width, height, line; // of windows, m
    double shift_x, shift_y;    // of the box, pixels
    bool brighter[2];           // inside, at each edge
    hw_us_edge edge;
} view;

hw_us_box hw_us_box_default(double left, double top, double right, double bottom)
{
    return (hw_us_box){.left = left,
                       .top = top,
                       .right = right,
                       .bottom = bottom,
                       .site_x = 0.5 * (left + right),
                       .edge = HW_US_EDGE_STEP,
                       .least_m = 1e-3,
                       .most_m = 12e-3};
}

// Brightness to the fourth power, between pixels; the border's beyond it. Pictures show decibels,
// in which a bright side runs over the edge by the beam's blur; raised, grey values come nearer to
// amplitude and the edge nearer to its place: docs/ultrasound.md has the figures of both.
static double brightness(const hw_image *image, const unsigned char *frame, double x, double y)
{
    double cx = fmin(fmax(x, 0.0), image->columns - 1.0),
           cy = fmin(fmax(y, 0.0), image->rows - 1.0);
    int i = (int)fmin(cx, image->columns - 2.0), j = (int)fmin(cy, image->rows - 2.0);
    double u = cx - i, v = cy - j;
    const unsigned char *at = frame + 3 * ((size_t)j * (size_t)image->columns + (size_t)i);
    const unsigned char *below = at + 3 * (size_t)image->columns;
    double upper = (1 - u) * hw_image_luma(at) + u * hw_image_luma(at + 3);
    double lower = (1 - u) * hw_image_luma(below) + u * hw_image_luma(below + 3);
    double between = (1 - v) * upper + v * lower;
    double square = between * between;
    return square * square;
}

static hw_status make_grid(hw_job *job, const hw_image *image, int frame_index,
                           const hw_us_box *box, const hw_us_scale *scale, const view *with,
                           hw_arena *tmp, grid *out)
{
    grid made = {.left = box->left + with->shift_x, .top = box->top + with->shift_y};
    made.dx = column_step_m / scale->x_m, made.dy = row_step_m / scale->y_m;
    // A box larger than the grid gets wider steps.
    made.dx = fmax(made.dx, (box->right - box->left) / (HW_US_COLUMNS_MAX - 1));
    made.dy = fmax(made.dy, (box->bottom - box->top) / (ROWS_MAX - 1));
    made.columns = 1 + (int)((box->right - box->left) / made.dx);
    made.rows = 1 + (int)((box->bottom - box->top) / made.dy);
    made.x_m = made.dx * scale->x_m, made.y_m = made.dy * scale->y_m;
    int stride = made.columns + 1;
    HW_ALLOC(job, tmp, made.sums, (size_t)stride * (size_t)(made.rows + 1));
    for (int e = 0; e < 2; e++)
        HW_ALLOC(job, tmp, made.strength[e], (size_t)made.columns * (size_t)made.rows);
    const unsigned char *frame = hw_image_frame(image, frame_index);
    for (int j = 0; j < made.rows; j++) {
        double row = 0.0;
        for (int i = 0; i < made.columns; i++) {
            row += brightness(image, frame, made.left + i * made.dx, made.top + j * made.dy);
            made.sums[(j + 1) * stride + i + 1] = made.sums[j * stride + i + 1] + row;
        }
    }
    *out = made;
    return HW_OK;
}

// Mean brightness of nodes [i0, i1) x [j0, j1), cut at the grid; -1 where nothing is left.
static double window_mean(const grid *in, int i0, int i1, int j0, int j1)
{
    int stride = in->columns + 1;
    if (i0 < 0) i0 = 0;
    if (j0 < 0) j0 = 0;
    if (i1 > in->columns) i1 = in->columns;
    if (j1 > in->rows) j1 = in->rows;
    if (i1 <= i0 || j1 <= j0) return -1.0;
    double sum = in->sums[j1 * stride + i1] - in->sums[j0 * stride + i1] -
                 in->sums[j1 * stride + i0] + in->sums[j0 * stride + i0];
    return sum / ((double)(i1 - i0) * (j1 - j0));
}

// Steps: below less above. Lines: the middle less its neighbours. Node (i, j) stands between rows.
static double raw_strength(const grid *in, const view *with, int i, int j)
{
    int half = (int)lround(0.5 * with->width / in->x_m);
    int tall = (int)fmax(2.0, round(with->height / in->y_m));
    int i0 = i - half, i1 = i + half + 1;
    if (with->edge == HW_US_EDGE_LINE) {
        int thin = (int)fmax(1.0, round(0.5 * with->line / in->y_m));
        double above = window_mean(in, i0, i1, j - thin - tall, j - thin);
        double below = window_mean(in, i0, i1, j + thin + 1, j + thin + 1 + tall);
        if (above < 0.0 || below < 0.0) return 0.0;
        return window_mean(in, i0, i1, j - thin, j + thin + 1) - 0.5 * (above + below);
    }
    // The node itself stands in neither window: an edge between two rows would else be half a row
    // off.
    double above = window_mean(in, i0, i1, j - tall, j),
           below = window_mean(in, i0, i1, j + 1, j + 1 + tall);
    return above < 0.0 || below < 0.0 ? 0.0 : below - above;
}

// In units of their own spread over the box, so that the price of bending means the same on all
// pictures.
static double fill_strengths(grid *in, const view *with)
{
    double square = 0.0;
    int count = in->columns * in->rows;
    for (int j = 0; j < in->rows; j++)
        for (int i = 0; i < in->columns; i++) {
            double raw = raw_strength(in, with, i, j);
            in->strength[0][j * in->columns + i] = raw;
            square += raw * raw;
        }
    double unit = sqrt(square / count) + 1e-6;
    bool is_line = with->edge == HW_US_EDGE_LINE;
    double signs[2] = {with->brighter[0] || is_line ? 1.0 : -1.0, 1.0};
    signs[1] = is_line ? 1.0 : with->brighter[1] ? -1.0 : 1.0;
    for (int k = 0; k < count; k++) {
        double raw = in->strength[0][k] / unit;
        in->strength[0][k] = signs[0] * raw;
        in->strength[1][k] = signs[1] * raw;
    }
    return unit;
}

// A correction forbids all other rows of its column.
static bool is_forbidden(const grid *in, const hw_us_box *box, int edge, int column, int row)
{
    for (int k = 0; k < box->anchor_count; k++) {
        const hw_us_anchor *anchor = &box->anchors[k];
        int i = (int)lround((anchor->at.x - in->left) / in->dx);
        double j = (anchor->at.y - in->top) / in->dy;
        if (anchor->edge == edge && i == column && fabs(row - j) > 1.0) return true;
    }
    return false;
}

// Room of the search: scores of all pairs (upper, lower), and the moves that led to them.
typedef struct search {
    int least, most; // rows between the edges
    double *now, *next, *half;
    unsigned char *moves; // columns x rows x rows: move of upper * WAYS + move of lower
} search;

// The lower rows an upper edge in row `a` may be paired with while both still move.
static void pairs_of(const search *room, int rows, int a, int *from, int *to)
{
    *from = a + room->least - 2 * REACH < 0 ? 0 : a + room->least - 2 * REACH;
    *to = a + room->most + 2 * REACH >= rows ? rows - 1 : a + room->most + 2 * REACH;
}

// Adds what the column itself gives to all pairs that keep to the limits; the others are out.
static void score_column(const grid *in, const hw_us_box *box, int column, const search *room,
                         double *scores)
{
    bool is_out[2][ROWS_MAX + 1];
    int n = in->rows, from = 0, to = 0;
    for (int e = 0; e < 2; e++)
        for (int j = 0; j < n; j++) is_out[e][j] = is_forbidden(in, box, e, column, j);
    for (int a = 0; a < n; a++) {
        pairs_of(room, n, a, &from, &to);
        for (int b = from; b <= to; b++)
            if (is_out[0][a] || is_out[1][b] || b - a < room->least || b - a > room->most)
                scores[a * n + b] = -INFINITY;
            else
                scores[a * n + b] += in->strength[0][a * in->columns + column] +
                                     in->strength[1][b * in->columns + column];
    }
}

// The best of the moves of one edge that lead to `at`: `stride` is one row of that edge.
static double best_move(const double *scores, long at, int row, int rows, int stride,
                        unsigned char *way)
{
    double best = -INFINITY;
    for (int d = -REACH; d <= REACH; d++) {
        if (row - d < 0 || row - d >= rows) continue;
        double score = scores[at - (long)d * stride] - bend_price * d * d;
        if (score > best) best = score, *way = (unsigned char)(d + REACH);
    }
    return best;
}

// One column's step: the best move of the lower edge with the upper one still in its old row, then
// that of the upper one.
static void step(const grid *in, int column, const search *room)
{
    int n = in->rows, from = 0, to = 0;
    size_t plane = (size_t)n * (size_t)n;
    unsigned char *lower = room->moves + (size_t)column * plane;
    unsigned char *upper = room->moves + ((size_t)in->columns + (size_t)column) * plane;
    for (int a = 0; a < n; a++) {
        pairs_of(room, n, a, &from, &to);
        for (int b = from; b <= to; b++) {
            long at = (long)a * n + b;
            room->half[at] = best_move(room->now, at, b, n, 1, &lower[at]);
        }
    }
    for (int a = 0; a < n; a++) {
        pairs_of(room, n, a, &from, &to);
        for (int b = from; b <= to; b++) {
            long at = (long)a * n + b;
            room->next[at] = best_move(room->half, at, a, n, n, &upper[at]);
        }
    }
}

static void walk_back(const grid *in, const search *room, int a, int b,
                      double rows[2][HW_US_COLUMNS_MAX])
{
    int n = in->rows;
    size_t plane = (size_t)n * (size_t)n;
    for (int column = in->columns - 1; column >= 0; column--) {
        rows[0][column] = a, rows[1][column] = b;
        if (column == 0) return;
        a -= room->moves[((size_t)in->columns + (size_t)column) * plane + (size_t)(a * n + b)] -
             REACH;
        b -= room->moves[(size_t)column * plane + (size_t)(a * n + b)] - REACH;
    }
}

// The best pair of paths; false: none keeps to the limits and the corrections.
static bool find_paths(const grid *in, const hw_us_box *box, const search *room,
                       double rows[2][HW_US_COLUMNS_MAX], double *score)
{
    int n = in->rows, best_a = 0, best_b = 0;
    search now = *room;
    int from = 0, to = 0;
    for (int k = 0; k < n * n; k++) now.now[k] = now.next[k] = now.half[k] = -INFINITY;
    for (int a = 0; a < n; a++) {
        pairs_of(room, n, a, &from, &to);
        for (int b = from; b <= to; b++) now.now[a * n + b] = 0.0;
    }
    score_column(in, box, 0, &now, now.now);
    for (int column = 1; column < in->columns; column++) {
        step(in, column, &now);
        score_column(in, box, column, &now, now.next);
        double *swap = now.now;
        now.now = now.next, now.next = swap;
    }
    double best = -INFINITY;
    for (int a = 0; a < n; a++)
        for (int b = 0; b < n; b++)
            if (now.now[a * n + b] > best) best = now.now[a * n + b], best_a = a, best_b = b;
    if (!isfinite(best)) return false;
    walk_back(in, &now, best_a, best_b, rows);
    *score = best / (2.0 * in->columns);
    return true;
}

// Between rows: the top of a parabola through three strengths.
static void refine(const grid *in, double rows[2][HW_US_COLUMNS_MAX])
{
    for (int e = 0; e < 2; e++)
        for (int i = 0; i < in->columns; i++) {
            int j = (int)rows[e][i];
            if (j < 1 || j + 1 >= in->rows) continue;
            const double *at = &in->strength[e][j * in->columns + i];
            double up = at[-in->columns], here = at[0], down = at[in->columns];
            double bend = up - 2.0 * here + down;
            if (bend < 0.0 && here >= up && here >= down) rows[e][i] += 0.5 * (up - down) / bend;
        }
}

static hw_status open_search(hw_job *job, const grid *in, const hw_us_box *box, hw_arena *tmp,
                             search *out)
{
    size_t plane = (size_t)in->rows * (size_t)in->rows;
    out->least = (int)ceil(box->least_m / in->y_m), out->most = (int)floor(box->most_m / in->y_m);
    HW_ALLOC(job, tmp, out->now, plane);
    HW_ALLOC(job, tmp, out->next, plane);
    HW_ALLOC(job, tmp, out->half, plane);
    HW_ALLOC(job, tmp, out->moves, 2 * plane * (size_t)in->columns);
    return HW_OK;
}

// One trace: rows of both edges, in steps of the grid.
typedef struct once {
    grid grid;
    double rows[2][HW_US_COLUMNS_MAX];
    double score;
} once;

static hw_status trace_once(hw_job *job, const hw_image *image, int frame, const hw_us_box *box,
                            const hw_us_scale *scale, const view *with, hw_arena *tmp, once *out)
{
    search room = {0};
    HW_TRY(hw_job_ask(job));
    HW_TRY(make_grid(job, image, frame, box, scale, with, tmp, &out->grid));
    fill_strengths(&out->grid, with);
    HW_TRY(open_search(job, &out->grid, box, tmp, &room));
    if (!find_paths(&out->grid, box, &room, out->rows, &out->score))
        return hw_fail(
            job, HW_BAD_INPUT,
            "no two edges keep to the box, the thickness of %.1f to %.1f mm and the corrections",
            hw_mm_from_m(box->least_m), hw_mm_from_m(box->most_m));
    refine(&out->grid, out->rows);
    return HW_OK;
}

// Thickness across the band: rows apart, times the cosine of its slope around the column.
static double thickness_at(const once *of, int column)
{
    const grid *in = &of->grid;
    int reach = (int)fmax(1.0, round(site_half_m / in->x_m));
    int from = column - reach < 0 ? 0 : column - reach;
    int to = column + reach >= in->columns ? in->columns - 1 : column + reach;
    double rise = 0.0;
    for (int e = 0; e < 2; e++) rise += 0.5 * (of->rows[e][to] - of->rows[e][from]);
    double slope = to > from ? rise * in->y_m / ((to - from) * in->x_m) : 0.0;
    return (of->rows[1][column] - of->rows[0][column]) * in->y_m / sqrt(1.0 + slope * slope);
}

static double thickness_at_site(const once *of, double site_x)
{
    const grid *in = &of->grid;
    int middle = (int)lround((site_x - in->left) / in->dx),
        reach = (int)lround(site_half_m / in->x_m);
    double sum = 0.0;
    int count = 0;
    for (int i = middle - reach; i <= middle + reach; i++)
        if (i >= 0 && i < in->columns) sum += thickness_at(of, i), count++;
    return count ? sum / count : thickness_at(of, middle < 0 ? 0 : in->columns - 1);
}

static hw_status check_box(hw_job *job, const hw_image *image, const hw_us_ask *ask,
                           const hw_us_box *box, const hw_us_scale *scale)
{
    double wide = (box->right - box->left) * scale->x_m,
           tall = (box->bottom - box->top) * scale->y_m;
    if (ask->frame < 0 || ask->frame >= image->frames)
        return hw_fail(job, HW_BAD_INPUT, "there is no frame %d; the picture has %d",
                       ask->frame + 1, image->frames);
    if (!(wide >= 3e-3) || !(tall >= box->least_m + 2e-3) || image->columns < 2 || image->rows < 2)
        return hw_fail(
            job, HW_BAD_INPUT,
            "the box is %.1f x %.1f mm; it must be 3 mm wide or more and %.1f mm tall or more",
            hw_mm_from_m(wide), hw_mm_from_m(tall), hw_mm_from_m(box->least_m + 2e-3));
    if (!(box->least_m > 0.2e-3 && box->least_m < box->most_m && box->most_m <= 60e-3))
        return hw_fail(job, HW_BAD_INPUT, "a thickness of %g to %g mm cannot be looked for",
                       hw_mm_from_m(box->least_m), hw_mm_from_m(box->most_m));
    if (!(box->site_x >= box->left && box->site_x <= box->right))
        return hw_fail(job, HW_BAD_INPUT,
                       "the site of the reading, column %.0f, lies outside the box", box->site_x);
    for (int i = 0; i < box->anchor_count; i++) {
        const hw_us_point at = box->anchors[i].at;
        if (!(at.x >= box->left && at.x <= box->right && at.y >= box->top && at.y <= box->bottom))
            return hw_fail(job, HW_BAD_INPUT, "the correction at (%.0f, %.0f) lies outside the box",
                           at.x, at.y);
    }
    return HW_OK;
}

static hw_status find_scale(hw_job *job, const hw_image *image, const hw_us_ask *ask,
                            const hw_us_box *box, hw_us_scale *out)
{
    const hw_us_point corners[2] = {{box->left, box->top}, {box->right, box->bottom}};
    if (!(box->left < box->right && box->top < box->bottom))
        return hw_fail(job, HW_BAD_INPUT, "the box has no inside");
    return hw_us_scale_at(job, image, ask, corners, 2, out);
}

// Which of the four kinds of band stands out most; lines have one kind.
static hw_status find_kind(hw_job *job, const hw_image *image, int frame, const hw_us_box *box,
                           const hw_us_scale *scale, hw_arena *tmp, view *with)
{
    double best = -INFINITY;
    int chosen = 0;
    for (int kind = 0; kind < (box->edge == HW_US_EDGE_LINE ? 1 : 4); kind++) {
        hw_arena_mark mark = hw_arena_here(tmp);
        view tried = *with;
        once *trial = NULL;
        tried.brighter[0] = kind & 1, tried.brighter[1] = kind & 2;
        HW_ALLOC(job, tmp, trial, 1);
        HW_TRY(trace_once(job, image, frame, box, scale, &tried, tmp, trial));
        if (trial->score > best) best = trial->score, chosen = kind;
        hw_arena_rewind(tmp, mark);
    }
    with->brighter[0] = chosen & 1, with->brighter[1] = chosen & 2;
    return HW_OK;
}

// The first repeat looks as the trace shown does; the others with boxes and windows changed at
// random.
static view changed(const view *from, int repeat, const hw_us_scale *scale, hw_random *random)
{
    view with = *from;
    if (repeat == 0) return with;
    with.width *= 0.6 + 0.8 * hw_random_uniform(random);
    with.height *= 0.7 + 0.6 * hw_random_uniform(random);
    with.line *= 0.7 + 0.6 * hw_random_uniform(random);
    with.shift_x = (hw_random_uniform(random) - 0.5) * 0.6e-3 / scale->x_m;
    with.shift_y = (hw_random_uniform(random) - 0.5) * 0.6e-3 / scale->y_m;
    return with;
}

// Brightness along the trace: between the edges, and above the upper one.
static void find_echo(const once *of, hw_us_traced *out)
{
    const grid *in = &of->grid;
    int above = (int)(reference_m / in->y_m), gap = (int)(0.4e-3 / in->y_m);
    double inside = 0.0, reference = 0.0, area = 0.0, dark = 0.0;
    int columns = 0;
    for (int i = 0; i < in->columns; i++) {
        int a = (int)lround(of->rows[0][i]), b = (int)lround(of->rows[1][i]);
        double outer = window_mean(in, i, i + 1, a - gap - above, a - gap);
        double inner = window_mean(in, i, i + 1, a + 1, b);
        if (outer < 0.0 || inner < 0.0) continue;
        reference += outer, inside += inner, columns++;
    }
    out->echo_ratio = out->dark_share = -1.0;
    if (columns < in->columns / 2 || reference <= 0.0) return;
    out->echo_ratio = sqrt(sqrt(inside / reference));
    // Speckle is averaged over a quarter of a millimetre before it counts as dark.
    int half = (int)fmax(1.0, 0.125e-3 / in->y_m);
    for (int i = 0; i < in->columns; i++)
        for (int j = (int)of->rows[0][i] + 1; j < (int)of->rows[1][i]; j++) {
            area += 1.0;
            dark += window_mean(in, i - 1, i + 2, j - half, j + half + 1) <
                    0.0625 * reference / columns;
        }
    out->dark_share = area > 0.0 ? dark / area : -1.0;
}

static void show(const once *of, hw_us_traced *out)
{
    const grid *in = &of->grid;
    double sum = 0.0;
    out->column_count = in->columns;
    out->least_m = INFINITY, out->most_m = 0.0;
    for (int i = 0; i < in->columns; i++) {
        double thick = thickness_at(of, i);
        out->x[i] = in->left + i * in->dx;
        for (int e = 0; e < 2; e++) out->y[e][i] = in->top + of->rows[e][i] * in->dy;
        out->least_m = fmin(out->least_m, thick), out->most_m = fmax(out->most_m, thick);
        sum += thick;
    }
    out->mean_m = sum / in->columns;
    out->strength = of->score;
}

static const double strength_least = 1.8; // of speckle alone 1.4 to 1.6: docs/ultrasound.md

static hw_status check_strength(hw_job *job, const hw_us_traced *trace)
{
    if (trace->strength >= strength_least) return HW_OK;
    return hw_fail(
        job, HW_NO_ANSWER,
        "no two edges stand out in this box (strength %.2f, %.1f is needed): draw it tighter "
        "around the band, or measure with calipers",
        trace->strength, strength_least);
}

hw_status hw_us_trace(hw_job *job, const hw_image *image, const hw_us_ask *ask,
                      const hw_us_box *box, hw_arena *into, hw_us_traced **out)
{
    hw_us_scale scale = {0};
    hw_us_traced *trace = NULL;
    once *repeat = NULL;
    double thickness[REPEATS], mean = 0.0, square = 0.0;
    view with = {window_width_m, window_height_m, line_height_m, 0.0, 0.0, {true, true}, box->edge};
    hw_random random = hw_random_begin(20261125);
    HW_TRY(find_scale(job, image, ask, box, &scale));
    HW_TRY(check_box(job, image, ask, box, &scale));
    HW_ALLOC(job, into, trace, 1);
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_TRY(find_kind(job, image, ask->frame, box, &scale, tmp.arena, &with));
    for (int i = 0; i < REPEATS; i++) {
        hw_arena_mark mark = hw_arena_here(tmp.arena);
        view now = changed(&with, i, &scale, &random);
        HW_ALLOC(job, tmp.arena, repeat, 1);
        HW_TRY(trace_once(job, image, ask->frame, box, &scale, &now, tmp.arena, repeat));
        thickness[i] = thickness_at_site(repeat, box->site_x);
        mean += thickness[i] / REPEATS;
        if (i == 0) {
            show(repeat, trace), find_echo(repeat, trace);
            HW_TRY(check_strength(job, trace)); // before eleven more are made
        }
        hw_arena_rewind(tmp.arena, mark);
    }
    hw_scratch_end(tmp);
    for (int i = 0; i < REPEATS; i++) square += (thickness[i] - mean) * (thickness[i] - mean);
    double pixel = 0.5 * sqrt(2.0) * scale.y_m;
    trace->sd_m = sqrt(square / (REPEATS - 1) + pixel * pixel + blur_sd_m * blur_sd_m +
                       mean * mean * scale.relative_sd * scale.relative_sd);
    trace->thickness_m = hw_band_of(thickness, REPEATS);
    trace->repeat_count = REPEATS;
    trace->edge = box->edge;
    trace->brighter_inside[0] = with.brighter[0], trace->brighter_inside[1] = with.brighter[1];
    trace->scale = scale;
    trace->box = *box;
    *out = trace;
    return HW_OK;
}
