// SPDX-License-Identifier: GPL-3.0-or-later
#include "shapes.h"

#include <stdlib.h>
#include <string.h>

static void *take(hw_arena *into, size_t count, size_t size)
{
    void *memory = hw_arena_take(into, count, size);
    if (!memory) abort();
    return memory;
}

static hw_mesh room_for(hw_arena *into, int points, int triangles)
{
    return (hw_mesh){take(into, (size_t)points, sizeof(hw_vec3)), points,
                     take(into, (size_t)triangles, sizeof(int[3])), triangles, NULL};
}

hw_mesh shape_cube(hw_arena *into, double side)
{
    static const int corners[12][3] = {{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6},
                                       {0, 1, 4}, {1, 5, 4}, {2, 6, 3}, {3, 6, 7},
                                       {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}};
    hw_mesh cube = room_for(into, 8, 12);
    for (int i = 0; i < 8; i++)
        cube.points[i] = (hw_vec3){side * (i & 1), side * (i >> 1 & 1), side * (i >> 2)};
    memcpy(cube.triangles, corners, sizeof corners);
    return cube;
}

hw_mesh shape_torn(hw_arena *into, const hw_mesh *mesh)
{
    hw_mesh torn = room_for(into, 3 * mesh->triangle_count, mesh->triangle_count);
    for (int i = 0; i < mesh->triangle_count; i++)
        for (int k = 0; k < 3; k++) {
            torn.points[3 * i + k] = mesh->points[mesh->triangles[i][k]];
            torn.triangles[i][k] = 3 * i + k;
        }
    return torn;
}

static hw_vec3 between(hw_vec3 a, hw_vec3 b)
{
    return hw_vec3_unit(hw_vec3_add(a, b)); // the same bits from either end
}

hw_mesh shape_sphere(hw_arena *into, int levels)
{
    int count = 8;
    hw_vec3(*rows)[3] = take(into, 8, sizeof *rows);
    for (int i = 0; i < 8; i++) {
        hw_vec3 x = {i & 1 ? -1 : 1, 0, 0}, y = {0, i & 2 ? -1 : 1, 0}, z = {0, 0, i & 4 ? -1 : 1};
        bool mirrored = ((i & 1) + (i >> 1 & 1) + (i >> 2)) % 2 == 1;
        rows[i][0] = x;
        rows[i][1] = mirrored ? z : y;
        rows[i][2] = mirrored ? y : z;
    }
    for (int level = 0; level < levels; level++) {
        hw_vec3(*finer)[3] = take(into, 4 * (size_t)count, sizeof *finer);
        for (int i = 0; i < count; i++) {
            hw_vec3 a = rows[i][0], b = rows[i][1], c = rows[i][2];
            hw_vec3 ab = between(a, b), bc = between(b, c), ca = between(c, a);
            hw_vec3 four[4][3] = {{a, ab, ca}, {ab, b, bc}, {ca, bc, c}, {ab, bc, ca}};
            memcpy(finer[4 * (size_t)i], four, sizeof four);
        }
        rows = finer;
        count *= 4;
    }
    hw_mesh torn = room_for(into, 3 * count, count), sphere = {0};
    memcpy(torn.points, rows, (size_t)count * sizeof *rows);
    for (int i = 0; i < 3 * count; i++) torn.triangles[i / 3][i % 3] = i;
    hw_job job;
    if (hw_job_open(&job, (size_t)1 << 30) != HW_OK) abort();
    if (hw_mesh_weld(&job, &torn, 0.0, into, &sphere) != HW_OK) abort();
    hw_job_close(&job);
    return sphere;
}

hw_mesh shape_soup(hw_arena *into, int triangle_count, uint64_t seed)
{
    hw_random random = hw_random_begin(seed);
    hw_mesh soup = room_for(into, 3 * triangle_count, triangle_count);
    for (int i = 0; i < soup.point_count; i++) {
        double x = hw_random_uniform(&random), y = hw_random_uniform(&random);
        soup.points[i] = (hw_vec3){x, y, hw_random_uniform(&random)};
        soup.triangles[i / 3][i % 3] = i;
    }
    return soup;
}
