// SPDX-License-Identifier: GPL-3.0-or-later
// The exact drop-cutter: a grid of columns, each with the triangles the cutter can touch while its
// axis stands in that column, highest first.
#include "toolpath_internal.h"

#include <stdlib.h>

// A triangle that faces up, with what each query needs of it.
typedef struct facet {
    hw_vec3 corner[3];
    hw_vec3 normal; // unit, z > 0
    double high;    // highest corner
    // Bits a corner or side: what two facets share is tested with the first of them.
    unsigned char own_corners, own_sides;
    unsigned char sharp_sides; // of its own: those a ball can rest on, not in a valley
    unsigned char rim_sides;   // nothing that faces up goes on beyond
} facet;

struct hw_drop {
    double radius, cell, low_x, low_y;
    int columns, rows;
    const facet *facets;
    int facet_count;
    const int *first; // columns * rows + 1
    const int *items; // facets, in falling `high` within each column
};

// -- which corners and edges can be touched

// One side of a facet that faces up.
typedef struct side_use {
    int low, high; // point indices
    int facet, side;
} side_use;

static int by_ends(const void *a, const void *b)
{
    const side_use *one = a, *other = b;
    if (one->low != other->low) return one->low < other->low ? -1 : 1;
    if (one->high != other->high) return one->high < other->high ? -1 : 1;
    return one->facet < other->facet ? -1 : one->facet > other->facet;
}

static bool is_same_edge(const side_use *one, const side_use *other)
{
    return one->low == other->low && one->high == other->high;
}

// Whether two facets meet in a valley (or in a plane), where the facets themselves are always
// touched first.
static bool is_hollow(const facet *one, const facet *other, int side_of_one)
{
    const double flat = 1e-9; // m: less is a plane
    hw_vec3 on_edge = one->corner[side_of_one];
    double above = -1.0; // of the other's farthest corner over the first's plane
    for (int k = 0; k < 3; k++)
        above = fmax(above, hw_vec3_dot(one->normal, hw_vec3_sub(other->corner[k], on_edge)));
    return above > flat;
}

static hw_status mark_edges(hw_job *job, const int (*ends)[3], facet *facets, int count)
{
    side_use *uses = NULL;
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    HW_ALLOC(job, tmp.arena, uses, 3 * (size_t)count);
    for (int t = 0; t < count; t++)
        for (int k = 0; k < 3; k++) {
            int a = ends[t][k], b = ends[t][(k + 1) % 3];
            uses[3 * t + k] = (side_use){a < b ? a : b, a < b ? b : a, t, k};
        }
    qsort(uses, 3 * (size_t)count, sizeof *uses, by_ends);
    for (int i = 0; i < 3 * count; i++) {
        const side_use *use = &uses[i];
        if (i > 0 && is_same_edge(use, &uses[i - 1])) continue; // the first of the two tests it
        bool is_pair = i + 1 < 3 * count && is_same_edge(use, &uses[i + 1]);
        facet *of = &facets[use->facet];
        unsigned char bit = (unsigned char)(1 << use->side);
        of->own_sides |= bit;
        if (!is_pair) of->rim_sides |= bit;
        if (!is_pair || !is_hollow(of, &facets[uses[i + 1].facet], use->side))
            of->sharp_sides |= bit;
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status mark_corners(hw_job *job, const int (*ends)[3], facet *facets, int count,
                              int point_count)
{
    unsigned char *is_taken = NULL;
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    HW_ALLOC(job, tmp.arena, is_taken, point_count);
    for (int t = 0; t < count; t++)
        for (int k = 0; k < 3; k++) {
            if (is_taken[ends[t][k]]) continue;
            is_taken[ends[t][k]] = 1;
            facets[t].own_corners |= (unsigned char)(1 << k);
        }
    hw_scratch_end(tmp);
    return HW_OK;
}

// -- the grid

typedef struct order {
    double high;
    int triangle;
} order;

static int by_falling_height(const void *a, const void *b)
{
    const order *one = a, *other = b;
    if (one->high > other->high) return -1;
    if (one->high < other->high) return 1;
    return one->triangle < other->triangle ? -1 : one->triangle > other->triangle;
}

// The triangles that face up, highest first.
static hw_status list_facets(hw_job *job, const hw_mesh *mesh, hw_arena *into, facet **out,
                             int *count)
{
    const double upright = 1e-9; // z of a unit normal: steeper is a wall, touched at its edges only
    order *orders = NULL;
    int(*ends)[3] = NULL;
    facet *facets = NULL;
    int found = 0;
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_ALLOC(job, tmp.arena, orders, mesh->triangle_count + 1);
    for (int t = 0; t < mesh->triangle_count; t++) {
        const int *c = mesh->triangles[t];
        if (hw_vec3_unit(hw_triangle_normal(mesh, t)).z <= upright) continue;
        double high = fmax(mesh->points[c[0]].z, fmax(mesh->points[c[1]].z, mesh->points[c[2]].z));
        orders[found++] = (order){high, t};
    }
    if (found == 0) return hw_fail(job, HW_BAD_INPUT, "nothing of the solid faces up");
    qsort(orders, (size_t)found, sizeof *orders, by_falling_height);
    HW_ALLOC(job, into, facets, found);
    HW_ALLOC(job, tmp.arena, ends, found);
    for (int i = 0; i < found; i++) {
        const int *c = mesh->triangles[orders[i].triangle];
        for (int k = 0; k < 3; k++) {
            ends[i][k] = c[k];
            facets[i].corner[k] = mesh->points[c[k]];
        }
        facets[i].normal = hw_vec3_unit(hw_triangle_normal(mesh, orders[i].triangle));
        facets[i].high = orders[i].high;
    }
    HW_TRY(mark_edges(job, (const int(*)[3])ends, facets, found));
    HW_TRY(mark_corners(job, (const int(*)[3])ends, facets, found, mesh->point_count));
    hw_scratch_end(tmp);
    *out = facets;
    *count = found;
    return HW_OK;
}

// Columns from which the cutter can touch a facet: {first column, last, first row, last}.
static void columns_of(const hw_drop *on, const facet *of, int out[4])
{
    double low_x = of->corner[0].x, high_x = low_x, low_y = of->corner[0].y, high_y = low_y;
    for (int k = 1; k < 3; k++) {
        low_x = fmin(low_x, of->corner[k].x), high_x = fmax(high_x, of->corner[k].x);
        low_y = fmin(low_y, of->corner[k].y), high_y = fmax(high_y, of->corner[k].y);
    }
    out[0] = (int)floor((low_x - on->radius - on->low_x) / on->cell);
    out[1] = (int)floor((high_x + on->radius - on->low_x) / on->cell);
    out[2] = (int)floor((low_y - on->radius - on->low_y) / on->cell);
    out[3] = (int)floor((high_y + on->radius - on->low_y) / on->cell);
    out[0] = out[0] < 0 ? 0 : out[0], out[2] = out[2] < 0 ? 0 : out[2];
    out[1] = out[1] < on->columns ? out[1] : on->columns - 1;
    out[3] = out[3] < on->rows ? out[3] : on->rows - 1;
}

static hw_status fill_columns(hw_job *job, hw_drop *on, int facet_count, hw_arena *into)
{
    int *first = NULL, *items = NULL, *next = NULL, range[4];
    const int cells = on->columns * on->rows;
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_ALLOC(job, into, first, cells + 1);
    HW_ALLOC(job, tmp.arena, next, cells);
    for (int t = 0; t < facet_count; t++) {
        columns_of(on, &on->facets[t], range);
        for (int j = range[2]; j <= range[3]; j++)
            for (int i = range[0]; i <= range[1]; i++) first[j * on->columns + i + 1]++;
    }
    for (int c = 0; c < cells; c++) first[c + 1] += first[c];
    HW_ALLOC(job, into, items, first[cells] + 1);
    for (int c = 0; c < cells; c++) next[c] = first[c];
    for (int t = 0; t < facet_count; t++) { // facets are sorted, so each column's are
        columns_of(on, &on->facets[t], range);
        for (int j = range[2]; j <= range[3]; j++)
            for (int i = range[0]; i <= range[1]; i++) items[next[j * on->columns + i]++] = t;
    }
    hw_scratch_end(tmp);
    on->first = first;
    on->items = items;
    return HW_OK;
}

hw_status hw_drop_build(hw_job *job, const hw_mesh *mesh, double radius, hw_arena *into,
                        const hw_drop **out)
{
    const double cells_max = 4e6;
    hw_drop *made = NULL;
    facet *facets = NULL;
    int count = 0;
    if (!(radius > 0.0)) return hw_fail(job, HW_BAD_INPUT, "a cutter's radius must be above 0");
    HW_TRY(list_facets(job, mesh, into, &facets, &count));
    hw_box box = hw_mesh_box(mesh);
    HW_ALLOC(job, into, made, 1);
    double wide = box.high.x - box.low.x + 2.0 * radius,
           deep = box.high.y - box.low.y + 2.0 * radius;
    // Small columns have short lists; about a facet's size is best.
    made->cell = fmax(0.3 * radius, sqrt(wide * deep / cells_max));
    *made = (hw_drop){.radius = radius,
                      .cell = made->cell,
                      .low_x = box.low.x - radius,
                      .low_y = box.low.y - radius,
                      .columns = (int)(wide / made->cell) + 1,
                      .rows = (int)(deep / made->cell) + 1,
                      .facets = facets,
                      .facet_count = count};
    HW_TRY(fill_columns(job, made, count, into));
    *out = made;
    return HW_OK;
}

// The facets of the column over (x, y), or none.
static int column_at(const hw_drop *on, double x, double y, const int **items)
{
    double column = floor((x - on->low_x) / on->cell), row = floor((y - on->low_y) / on->cell);
    if (!(column >= 0.0 && row >= 0.0 && column < on->columns && row < on->rows)) return 0;
    int at = (int)row * on->columns + (int)column;
    *items = on->items + on->first[at];
    return on->first[at + 1] - on->first[at];
}

// -- one facet against a cutter at (x, y)

static bool is_over(const facet *of, double x, double y)
{
    const double slack = 1e-15; // m2: a point on an edge belongs to both sides
    for (int k = 0; k < 3; k++) {
        hw_vec3 a = of->corner[k], b = of->corner[(k + 1) % 3];
        if ((b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x) < -slack) return false;
    }
    return true;
}

static double plane_z(const facet *of, double x, double y)
{
    hw_vec3 a = of->corner[0], n = of->normal;
    return a.z - (n.x * (x - a.x) + n.y * (y - a.y)) / n.z;
}

typedef struct rest {
    double tip;
    hw_vec3 contact;
} rest;

static void raise(rest *best, double tip, hw_vec3 contact)
{
    if (tip > best->tip) *best = (rest){tip, contact};
}

// An edge seen along itself: where the axis stands to it.
typedef struct along {
    double length, slope;   // in plan; rise per plan length
    double foot, distance2; // of the axis: along the edge; squared away from it
    hw_vec3 from;
    double ux, uy;
} along;

static bool look_along(const facet *of, int side, double x, double y, along *out)
{
    hw_vec3 a = of->corner[side], b = of->corner[(side + 1) % 3];
    double ex = b.x - a.x, ey = b.y - a.y, length = sqrt(ex * ex + ey * ey);
    if (length < 1e-12) return false; // upright: its upper end is a corner
    double ux = ex / length, uy = ey / length;
    double across = (x - a.x) * uy - (y - a.y) * ux;
    *out = (along){
        length, (b.z - a.z) / length, (x - a.x) * ux + (y - a.y) * uy, across * across, a, ux, uy};
    return true;
}

static hw_vec3 point_along(const along *of, double s)
{
    return (hw_vec3){of->from.x + s * of->ux, of->from.y + s * of->uy, of->from.z + s * of->slope};
}

static void ball_on_edge(const facet *of, int side, double radius, const double at[2], rest *best)
{
    along edge;
    if (!look_along(of, side, at[0], at[1], &edge) || edge.distance2 >= radius * radius) return;
    // The ball's section above the edge is a circle that touches the line up-slope of the foot.
    double circle = sqrt(radius * radius - edge.distance2);
    double cosine = 1.0 / sqrt(1.0 + edge.slope * edge.slope);
    double s = edge.foot + circle * edge.slope * cosine;
    if (s < 0.0 || s > edge.length) return;
    double centre = edge.from.z + edge.slope * edge.foot + circle / cosine;
    raise(best, centre - radius, point_along(&edge, s));
}

static void ball_on_facet(const facet *of, double radius, const double at[2], rest *best)
{
    double x = at[0] - radius * of->normal.x, y = at[1] - radius * of->normal.y;
    if (!is_over(of, x, y)) return;
    double z = plane_z(of, x, y);
    raise(best, z + radius * of->normal.z - radius, (hw_vec3){x, y, z});
}

static void ball_on_corner(hw_vec3 corner, double radius, const double at[2], rest *best)
{
    double dx = corner.x - at[0], dy = corner.y - at[1], away = dx * dx + dy * dy;
    if (away > radius * radius) return;
    raise(best, corner.z - (radius - sqrt(radius * radius - away)), corner);
}

double hw_drop_ball(const hw_drop *drop, double x, double y, hw_vec3 *contact)
{
    const int *items = NULL;
    int count = column_at(drop, x, y, &items);
    double at[2] = {x, y};
    rest best = {.tip = -INFINITY};
    for (int i = 0; i < count; i++) {
        const facet *of = &drop->facets[items[i]];
        if (of->high <= best.tip) break; // the tip is never higher than what it rests on
        ball_on_facet(of, drop->radius, at, &best);
        for (int k = 0; k < 3; k++) {
            if (of->sharp_sides & (1 << k)) ball_on_edge(of, k, drop->radius, at, &best);
            if (of->own_corners & (1 << k)) ball_on_corner(of->corner[k], drop->radius, at, &best);
        }
    }
    if (contact) *contact = best.contact;
    return best.tip;
}

// The highest point of a facet under the disc. One of its edges, one of its corners, or, where the
// disc is wholly inside, the disc's own uphill end.
static void flat_on_facet(const facet *of, double radius, const double at[2], rest *best)
{
    double level = hypot(of->normal.x, of->normal.y);
    double up_x = level > 0.0 ? -of->normal.x / level : 0.0;
    double up_y = level > 0.0 ? -of->normal.y / level : 0.0;
    double x = at[0] + radius * up_x, y = at[1] + radius * up_y;
    if (is_over(of, x, y)) raise(best, plane_z(of, x, y), (hw_vec3){x, y, 0.0});
}

static void flat_on_edge(const facet *of, int side, double radius, const double at[2], rest *best)
{
    along edge;
    if (!look_along(of, side, at[0], at[1], &edge) || edge.distance2 > radius * radius) return;
    double half = sqrt(radius * radius - edge.distance2);
    double low = fmax(0.0, edge.foot - half), high = fmin(edge.length, edge.foot + half);
    if (low > high) return;
    hw_vec3 top = point_along(&edge, edge.slope > 0.0 ? high : low);
    raise(best, top.z, top);
}

double hw_drop_flat(const hw_drop *drop, double x, double y)
{
    const int *items = NULL;
    int count = column_at(drop, x, y, &items);
    double at[2] = {x, y};
    rest best = {.tip = -INFINITY};
    for (int i = 0; i < count; i++) {
        const facet *of = &drop->facets[items[i]];
        if (of->high <= best.tip) break;
        flat_on_facet(of, drop->radius, at, &best);
        for (int k = 0; k < 3; k++) // the rim of the disc meets edges in valleys too
            if (of->own_sides & (1 << k)) flat_on_edge(of, k, drop->radius, at, &best);
    }
    return best.tip;
}

hw_status drop_rim(hw_job *job, const hw_drop *drop, hw_arena *into, hw_vec3 **out, int *count)
{
    hw_vec3 *points = NULL;
    int found = 0;
    for (int t = 0; t < drop->facet_count; t++)
        for (int k = 0; k < 3; k++) found += (drop->facets[t].rim_sides >> k) & 1;
    HW_ALLOC(job, into, points, found + 1);
    found = 0;
    for (int t = 0; t < drop->facet_count; t++)
        for (int k = 0; k < 3; k++)
            if (drop->facets[t].rim_sides & (1 << k)) points[found++] = drop->facets[t].corner[k];
    *out = points;
    *count = found;
    return HW_OK;
}
