// SPDX-License-Identifier: GPL-3.0-or-later
// The grid's triangles and normals, and the closed solid with its full-round rim.
#include "orthosis_internal.h"

int grid_loop(int k)
{
    const int along = GRID_U - 1, across = GRID_V - 1;
    k %= GRID_LOOP;
    if (k < along) return grid_index(k, 0);
    if (k < along + across) return grid_index(along, k - along);
    if (k < 2 * along + across) return grid_index(2 * along + across - k, across);
    return grid_index(0, GRID_LOOP - k);
}

void grid_triangles(int (*out)[3])
{
    int count = 0;
    for (int i = 0; i + 1 < GRID_U; i++)
        for (int j = 0; j + 1 < GRID_V; j++) {
            int a = grid_index(i, j), b = grid_index(i + 1, j);
            int c = grid_index(i + 1, j + 1), d = grid_index(i, j + 1);
            // The four corners are nearly straight: a diagonal across one would make a sliver.
            bool rising = (j < (GRID_V - 1) / 2) == (i < (GRID_U - 1) / 2);
            const int low[3] = {a, b, rising ? c : d}, high[3] = {rising ? a : b, c, d};
            for (int k = 0; k < 3; k++) out[count][k] = low[k], out[count + 1][k] = high[k];
            count += 2;
        }
}

// Mean of each normal and its neighbours on the grid.
static void soften(const hw_vec3 *from, hw_vec3 *to)
{
    for (int i = 0; i < GRID_U; i++)
        for (int j = 0; j < GRID_V; j++) {
            hw_vec3 sum = {0};
            for (int m = i > 0 ? i - 1 : 0; m <= i + 1 && m < GRID_U; m++)
                for (int n = j > 0 ? j - 1 : 0; n <= j + 1 && n < GRID_V; n++)
                    sum = hw_vec3_add(sum, from[grid_index(m, n)]);
            to[grid_index(i, j)] = hw_vec3_unit(sum);
        }
}

hw_status grid_normals(hw_job *job, const hw_vec3 *points, hw_arena *into, hw_vec3 **out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    int(*triangles)[3] = NULL;
    hw_vec3 *normals = NULL, *softer = NULL;
    HW_ALLOC(job, tmp.arena, triangles, GRID_TRIANGLES);
    HW_ALLOC(job, tmp.arena, softer, GRID_U * GRID_V);
    HW_ALLOC(job, into, normals, GRID_U * GRID_V);
    grid_triangles(triangles);
    for (int t = 0; t < GRID_TRIANGLES; t++) { // weighed by area; down is out of the foot
        hw_vec3 a = points[triangles[t][0]];
        hw_vec3 ab = hw_vec3_sub(points[triangles[t][1]], a);
        hw_vec3 down = hw_vec3_cross(hw_vec3_sub(points[triangles[t][2]], a), ab);
        for (int k = 0; k < 3; k++) {
            hw_vec3 *sum = &normals[triangles[t][k]];
            *sum = hw_vec3_add(*sum, down);
        }
    }
    for (int k = 0; k < GRID_U * GRID_V; k++) normals[k] = hw_vec3_unit(normals[k]);
    // What a scanner's noise leaves in the slope would be magnified by the thickness.
    for (int round = 0; round < 2; round++) {
        soften(normals, softer);
        soften(softer, normals);
    }
    hw_scratch_end(tmp);
    *out = normals;
    return HW_OK;
}

// A point of a cell of the grid, u along and v across in 0..1, and its edges' directions there.
typedef struct cell_point {
    hw_vec3 at, along, across;
} cell_point;

static cell_point in_cell(const hw_vec3 *points, int i, int j, const double uv[2])
{
    hw_vec3 a = points[grid_index(i, j)], b = points[grid_index(i + 1, j)];
    hw_vec3 c = points[grid_index(i, j + 1)], d = points[grid_index(i + 1, j + 1)];
    hw_vec3 near = hw_vec3_mix(a, c, uv[1]), far = hw_vec3_mix(b, d, uv[1]);
    hw_vec3 left = hw_vec3_mix(a, b, uv[0]), right = hw_vec3_mix(c, d, uv[0]);
    return (cell_point){hw_vec3_mix(near, far, uv[0]), hw_vec3_sub(far, near),
                        hw_vec3_sub(right, left)};
}

// The least of the brick's Jacobian determinant at the points where Gauss's rule of two stands, m3.
static double least_jacobian(const hw_vec3 *top, const hw_vec3 *bottom, int i, int j)
{
    const double low = 0.5 - 0.5 / sqrt(3.0), ends[2] = {low, 1.0 - low};
    double least = 1.0;
    for (int k = 0; k < 8; k++) {
        const double uv[2] = {ends[k & 1], ends[k >> 1 & 1]};
        double up = ends[k >> 2];
        cell_point high = in_cell(top, i, j, uv), deep = in_cell(bottom, i, j, uv);
        hw_vec3 along = hw_vec3_mix(deep.along, high.along, up);
        hw_vec3 across = hw_vec3_mix(deep.across, high.across, up);
        hw_vec3 through = hw_vec3_sub(high.at, deep.at);
        least = fmin(least, hw_vec3_dot(hw_vec3_cross(along, across), through));
    }
    return least;
}

hw_status grid_check(hw_job *job, const hw_vec3 *top, const hw_vec3 *bottom)
{
    for (int i = 0; i + 1 < GRID_U; i++)
        for (int j = 0; j + 1 < GRID_V; j++) {
            if (least_jacobian(top, bottom, i, j) > 0.0) continue;
            hw_vec3 here = top[grid_index(i, j)];
            return hw_fail(job, HW_NO_ANSWER,
                           "the device is bent too sharply near x = %.0f mm for a wall of %.1f "
                           "mm: a brick of it is turned inside out",
                           hw_mm_from_m(here.x),
                           hw_mm_from_m(hw_vec3_distance(here, bottom[grid_index(i, j)])));
        }
    return HW_OK;
}

enum { RIM_STEPS = 6 }; // of the half circle between top and bottom edge

// The point `step` of the rim at loop place k: from the top's edge (0) round to the bottom's.
static hw_vec3 rim_point(const hw_vec3 *top, const hw_vec3 *bottom, int k, int step)
{
    int here = grid_loop(k), next = grid_loop(k + 1), last = grid_loop(k + GRID_LOOP - 1);
    hw_vec3 up = hw_vec3_scale(hw_vec3_sub(top[here], bottom[here]), 0.5);
    hw_vec3 middle = hw_vec3_mix(top[here], bottom[here], 0.5);
    hw_vec3 outward = hw_vec3_unit(hw_vec3_cross(hw_vec3_sub(top[next], top[last]), up));
    double turn = HW_PI * step / RIM_STEPS, radius = hw_vec3_norm(up);
    hw_vec3 out = hw_vec3_scale(outward, radius * sin(turn));
    return hw_vec3_add(middle, hw_vec3_add(hw_vec3_scale(up, cos(turn)), out));
}

// Index of a rim point in the solid: steps 0 and RIM_STEPS are the grids' own edges.
static int rim_index(int k, int step)
{
    if (step == 0) return grid_loop(k);
    if (step == RIM_STEPS) return GRID_U * GRID_V + grid_loop(k);
    return 2 * GRID_U * GRID_V + (step - 1) * GRID_LOOP + k % GRID_LOOP;
}

static int rim_triangles(int (*out)[3])
{
    int count = 0;
    for (int k = 0; k < GRID_LOOP; k++)
        for (int step = 0; step < RIM_STEPS; step++) {
            int a = rim_index(k, step), b = rim_index(k, step + 1);
            int c = rim_index(k + 1, step + 1), d = rim_index(k + 1, step);
            out[count][0] = a, out[count][1] = b, out[count][2] = c;
            out[count + 1][0] = a, out[count + 1][1] = c, out[count + 1][2] = d;
            count += 2;
        }
    return count;
}

hw_status solid_close(hw_job *job, const hw_vec3 *top, const hw_vec3 *bottom, hw_arena *into,
                      hw_mesh *out)
{
    const int grid = GRID_U * GRID_V;
    hw_mesh solid = {.point_count = 2 * grid + (RIM_STEPS - 1) * GRID_LOOP};
    HW_ALLOC(job, into, solid.points, solid.point_count);
    HW_ALLOC(job, into, solid.triangles, 2 * GRID_TRIANGLES + 2 * RIM_STEPS * GRID_LOOP);
    for (int k = 0; k < grid; k++) {
        solid.points[k] = top[k];
        solid.points[grid + k] = bottom[k];
    }
    for (int step = 1; step < RIM_STEPS; step++)
        for (int k = 0; k < GRID_LOOP; k++)
            solid.points[rim_index(k, step)] = rim_point(top, bottom, k, step);
    grid_triangles(solid.triangles);
    for (int t = 0; t < GRID_TRIANGLES; t++) { // the bottom is the top turned over
        int *turned = solid.triangles[GRID_TRIANGLES + t];
        turned[0] = grid + solid.triangles[t][0];
        turned[1] = grid + solid.triangles[t][2];
        turned[2] = grid + solid.triangles[t][1];
    }
    solid.triangle_count = 2 * GRID_TRIANGLES;
    solid.triangle_count += rim_triangles(solid.triangles + solid.triangle_count);
    *out = solid;
    return HW_OK;
}
