// SPDX-License-Identifier: GPL-3.0-or-later
#include "geom/geom.h"

#include <stdlib.h>

// Where edge a-b crosses the plane; corners exactly on it count as above, so that each crossing of
// a closed surface is met once.
static bool crossing(hw_vec3 a, hw_vec3 b, double height_a, double height_b, hw_vec3 *out)
{
    if ((height_a < 0.0) == (height_b < 0.0)) return false;
    *out = hw_vec3_mix(a, b, height_a / (height_a - height_b));
    return true;
}

static int cross_triangle(const hw_vec3 corner[3], const double height[3], hw_vec3 ends[2])
{
    int found = 0;
    for (int k = 0; k < 3 && found < 2; k++)
        found +=
            crossing(corner[k], corner[(k + 1) % 3], height[k], height[(k + 1) % 3], &ends[found]);
    return found;
}

static int cross_all(const hw_mesh *mesh, hw_vec3 through, hw_vec3 normal, hw_segment *out)
{
    int count = 0;
    for (int i = 0; i < mesh->triangle_count; i++) {
        hw_vec3 corner[3], ends[2];
        double height[3];
        for (int k = 0; k < 3; k++) {
            corner[k] = mesh->points[mesh->triangles[i][k]];
            height[k] = hw_vec3_dot(hw_vec3_sub(corner[k], through), normal);
        }
        bool below = height[0] < 0.0;
        if ((height[1] < 0.0) == below && (height[2] < 0.0) == below) continue;
        if (cross_triangle(corner, height, ends) != 2) continue;
        if (out) out[count] = (hw_segment){ends[0], ends[1]};
        count++;
    }
    return count;
}

hw_status hw_mesh_section(hw_job *job, const hw_mesh *mesh, hw_vec3 through, hw_vec3 normal,
                          hw_arena *into, hw_section *out)
{
    hw_section found = {.count = cross_all(mesh, through, normal, NULL)};
    HW_ALLOC(job, into, found.segments, found.count + 1); // the arena gives nothing of no bytes
    cross_all(mesh, through, normal, found.segments);
    *out = found;
    return HW_OK;
}

static int by_x_then_y(const void *a, const void *b)
{
    const double *p = a, *q = b;
    if (p[0] != q[0]) return p[0] < q[0] ? -1 : 1;
    return (p[1] > q[1]) - (p[1] < q[1]);
}

static bool turns_left(const double a[2], const double b[2], const double c[2])
{
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) > 0.0;
}

// source  from memory: Andrew 1979, the monotone chain
hw_status hw_hull_perimeter(hw_job *job, double (*points)[2], int count, double *out)
{
    *out = 0.0;
    if (count < 2) return HW_OK;
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    double(*hull)[2] = NULL;
    HW_ALLOC(job, tmp.arena, hull, 2 * count + 1);
    qsort(points, (size_t)count, sizeof *points, by_x_then_y);
    int size = 0;
    for (int pass = 0; pass < 2; pass++) {
        int floor = size + 1;
        for (int i = 0; i < count; i++) {
            const double *p = points[pass ? count - 1 - i : i];
            while (size > floor && !turns_left(hull[size - 2], hull[size - 1], p)) size--;
            hull[size][0] = p[0];
            hull[size++][1] = p[1];
        }
        size--; // the last point starts the other chain
    }
    double sum = 0.0;
    for (int i = 0; i < size; i++) {
        const double *a = hull[i], *b = hull[(i + 1) % size];
        sum += hypot(b[0] - a[0], b[1] - a[1]);
    }
    hw_scratch_end(tmp);
    *out = sum;
    return HW_OK;
}
