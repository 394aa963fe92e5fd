// SPDX-License-Identifier: GPL-3.0-or-later
// A closed mesh of the analytic foot: rows of points around sections, spread by arc length.
//
// A row runs around its section: sole from medial to the arch line (quarter 0), on to lateral (1),
// back over the dorsum to the crest (2) and to medial (3), each quarter of the same count. The
// first row is an upright line, the last the line of the toe ends: their points are shared by
// index.
#include "demo_internal.h"

enum { FINE = 96 }; // steps by which a quarter's length is measured

static double quarter_end(int quarter)
{
    static const double ends[5] = {-1.0, -HW_DEMO_ARCH_LINE, 1.0, -HW_DEMO_ARCH_LINE, -1.0};
    return ends[quarter];
}

/// Across-place for a share 0..1 of a quarter, bunched where walls are steep.
static shape_place quarter_place(double along, int quarter, double share)
{
    double from = quarter_end(quarter), to = quarter_end(quarter + 1);
    // quarters 0 and 2 begin at an edge, 1 and 3 end there
    double eased = quarter % 2 == 0 ? 1.0 - cos(0.5 * HW_PI * share) : sin(0.5 * HW_PI * share);
    return (shape_place){along, from + (to - from) * eased, quarter >= 2};
}

/// `count` points of a quarter at equal steps of its length, the first at its beginning.
static void quarter_points(const hw_demo_foot_order *order, double along, int quarter, int count,
                           hw_vec3 *out)
{
    double length[FINE + 1] = {0.0};
    hw_vec3 before = shape_point(order, quarter_place(along, quarter, 0.0));
    for (int i = 1; i <= FINE; i++) {
        hw_vec3 here = shape_point(order, quarter_place(along, quarter, (double)i / FINE));
        length[i] = length[i - 1] + hw_vec3_distance(before, here);
        before = here;
    }
    int step = 0;
    for (int j = 0; j < count; j++) {
        double want = length[FINE] * j / count;
        while (step < FINE - 1 && length[step + 1] < want) step++;
        double gap = length[step + 1] - length[step];
        double part = gap > 0.0 ? (want - length[step]) / gap : 0.0;
        out[j] = shape_point(order, quarter_place(along, quarter, (step + part) / FINE));
    }
}

/// Stations: closer at both blunt ends, with the landmarks' own stations among them.
static void place_stations(int rows, double *along)
{
    static const double kept[] = {AT_HEEL, AT_ARCH, AT_HALF, AT_FIFTH, AT_FIRST};
    for (int i = 0; i < rows; i++) {
        double t = (double)i / (rows - 1);
        along[i] = t - 0.8 * sin(2.0 * HW_PI * t) / (2.0 * HW_PI);
    }
    for (int k = 0; k < 5; k++) {
        int nearest = 1;
        for (int i = 1; i < rows - 1; i++)
            if (fabs(along[i] - kept[k]) < fabs(along[nearest] - kept[k])) nearest = i;
        along[nearest] = kept[k];
    }
}

/// A structured sweep: rows of 4 * quarter points.
typedef struct sweep {
    int rows, quarter;
} sweep;

static int around(const sweep *grid)
{
    return 4 * grid->quarter;
}

/// The point that stands for column `j` of row `i`: ends share theirs.
static int point_of(const sweep *grid, int i, int j)
{
    int q = grid->quarter;
    j %= around(grid);
    if (i == 0) { // sole: one point, at lateral; dorsum: the medial quarter mirrors the lateral one
        if (j <= 2 * q) j = 2 * q;
        if (j > 3 * q) j = 6 * q - j;
    }
    if (i == grid->rows - 1 && j > 2 * q) j = around(grid) - j; // dorsum = sole
    return i * around(grid) + j;
}

/// Moves the row's point nearest to the longest toe's tip onto it, so that the length is exact.
static void reach_toe_tip(const hw_demo_foot_order *order, int count, hw_vec3 *row)
{
    hw_vec3 tip = shape_point(order, (shape_place){1.0, shape_longest_toe(order), false});
    int nearest = 0;
    for (int j = 0; j <= count; j++)
        if (hw_vec3_distance(row[j], tip) < hw_vec3_distance(row[nearest], tip)) nearest = j;
    row[nearest] = tip;
}

static void add_triangle(hw_mesh *mesh, int a, int b, int c)
{
    if (a == b || b == c || c == a) return;
    int *corner = mesh->triangles[mesh->triangle_count++];
    corner[0] = a, corner[1] = b, corner[2] = c;
}

static void add_triangles(const sweep *grid, hw_mesh *mesh)
{
    for (int i = 0; i + 1 < grid->rows; i++)
        for (int j = 0; j < around(grid); j++) {
            int a = point_of(grid, i, j), b = point_of(grid, i, j + 1);
            int c = point_of(grid, i + 1, j), d = point_of(grid, i + 1, j + 1);
            add_triangle(mesh, a, b, c);
            add_triangle(mesh, b, d, c);
        }
}

/// Keeps the points that triangles use.
static hw_status drop_loose_points(hw_job *job, hw_arena *into, hw_mesh *mesh)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    int *kept = NULL, count = 0;
    HW_ALLOC(job, tmp.arena, kept, mesh->point_count);
    for (int t = 0; t < mesh->triangle_count; t++)
        for (int k = 0; k < 3; k++) kept[mesh->triangles[t][k]] = 1;
    for (int i = 0; i < mesh->point_count; i++)
        if (kept[i]) {
            mesh->points[count] = mesh->points[i];
            kept[i] = count++;
        }
    for (int t = 0; t < mesh->triangle_count; t++)
        for (int k = 0; k < 3; k++) mesh->triangles[t][k] = kept[mesh->triangles[t][k]];
    mesh->point_count = count;
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status shape_mesh(hw_job *job, const hw_demo_foot_order *order, hw_arena *into, hw_mesh *out)
{
    // a foot is about as long as 1.1 times the way around it
    int quarter = (int)lround(sqrt(order->triangles / 2.0 / 1.1) / 4.0);
    sweep grid = {.quarter = quarter < 4 ? 4 : quarter};
    grid.rows = order->triangles / (2 * around(&grid)) + 1;

    hw_scratch tmp = hw_scratch_begin(job, into);
    double *along = NULL;
    HW_ALLOC(job, tmp.arena, along, grid.rows);
    place_stations(grid.rows, along);

    hw_mesh mesh = {.point_count = grid.rows * around(&grid)};
    HW_ALLOC(job, into, mesh.points, mesh.point_count);
    HW_ALLOC(job, into, mesh.triangles, 2 * mesh.point_count);
    for (int i = 0; i < grid.rows; i++)
        for (int q = 0; q < 4; q++)
            quarter_points(order, along[i], q, grid.quarter,
                           mesh.points + i * around(&grid) + q * grid.quarter);
    reach_toe_tip(order, 2 * grid.quarter, mesh.points + (grid.rows - 1) * around(&grid));
    add_triangles(&grid, &mesh);
    hw_scratch_end(tmp);
    HW_TRY(drop_loose_points(job, into, &mesh));
    *out = mesh;
    return HW_OK;
}
