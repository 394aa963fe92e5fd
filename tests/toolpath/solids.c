// SPDX-License-Identifier: GPL-3.0-or-later
#include "solids.h"
#include "near.h"

static void *take(hw_arena *into, int count, size_t size)
{
    void *memory = hw_arena_take(into, (size_t)count, size);
    if (!memory) abort();
    return memory;
}

static void add(hw_mesh *to, int a, int b, int c)
{
    int *corner = to->triangles[to->triangle_count++];
    corner[0] = a, corner[1] = b, corner[2] = c;
}

hw_mesh solid_box(hw_arena *into, hw_box box)
{
    static const int faces[12][3] = {{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6},
                                     {0, 1, 5}, {0, 5, 4}, {2, 6, 7}, {2, 7, 3},
                                     {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}};
    hw_mesh mesh = {.points = take(into, 8, sizeof(hw_vec3)),
                    .point_count = 8,
                    .triangles = take(into, 12, sizeof(int[3]))};
    for (int k = 0; k < 8; k++)
        mesh.points[k] = (hw_vec3){k & 1 ? box.high.x : box.low.x, k & 2 ? box.high.y : box.low.y,
                                   k & 4 ? box.high.z : box.low.z};
    for (int f = 0; f < 12; f++) add(&mesh, faces[f][0], faces[f][1], faces[f][2]);
    return mesh;
}

hw_mesh solid_ball(hw_arena *into, hw_vec3 middle, double radius, int bands)
{
    int round = 2 * bands, ring = bands - 1;
    hw_mesh mesh = {.points = take(into, ring * round + 2, sizeof(hw_vec3)),
                    .triangles = take(into, 2 * ring * round, sizeof(int[3]))};
    for (int i = 0; i < ring; i++)
        for (int j = 0; j < round; j++) {
            double down = HW_PI * (i + 1) / bands, turn = 2.0 * HW_PI * j / round;
            hw_vec3 unit = {sin(down) * cos(turn), sin(down) * sin(turn), cos(down)};
            mesh.points[mesh.point_count++] = hw_vec3_add(middle, hw_vec3_scale(unit, radius));
        }
    int top = mesh.point_count, bottom = top + 1;
    mesh.points[top] = hw_vec3_add(middle, (hw_vec3){0, 0, radius});
    mesh.points[bottom] = hw_vec3_sub(middle, (hw_vec3){0, 0, radius});
    mesh.point_count += 2;
    for (int j = 0; j < round; j++) {
        int next = (j + 1) % round, last = (ring - 1) * round;
        add(&mesh, top, j, next);
        add(&mesh, bottom, last + next, last + j);
        for (int i = 0; i + 1 < ring; i++) {
            int a = i * round + j, b = (i + 1) * round + j;
            int c = (i + 1) * round + next, d = i * round + next;
            add(&mesh, a, b, c);
            add(&mesh, a, c, d);
        }
    }
    return mesh;
}

hw_mesh solid_bar(hw_arena *into, double length, double radius, int sides)
{
    hw_mesh mesh = {.points = take(into, 2 * sides, sizeof(hw_vec3)),
                    .point_count = 2 * sides,
                    .triangles = take(into, 4 * sides, sizeof(int[3]))};
    for (int k = 0; k < sides; k++) {
        double turn = 2.0 * HW_PI * k / sides;
        for (int end = 0; end < 2; end++)
            mesh.points[2 * k + end] =
                (hw_vec3){(end ? 0.5 : -0.5) * length, radius * cos(turn), radius * sin(turn)};
    }
    for (int k = 0; k < sides; k++) {
        int next = (k + 1) % sides;
        add(&mesh, 2 * k, 2 * next + 1, 2 * k + 1);
        add(&mesh, 2 * k, 2 * next, 2 * next + 1);
        if (k == 0 || next == 0) continue;
        add(&mesh, 0, 2 * next, 2 * k); // the end at -x
        add(&mesh, 1, 2 * k + 1, 2 * next + 1);
    }
    return mesh;
}

enum { RIM = 6 };

hw_mesh solid_sheet(hw_arena *into, const double half[2], double thickness, int cells,
                    double (*top)(double x, double y))
{
    int nx = cells + 1, ny = (int)(cells * half[1] / half[0]) + 1, grid = nx * ny;
    int loop = 2 * (nx - 1) + 2 * (ny - 1);
    hw_mesh mesh = {.points = take(into, 2 * grid + (RIM - 1) * loop, sizeof(hw_vec3)),
                    .triangles = take(into, 4 * grid + 2 * RIM * loop, sizeof(int[3]))};
    int *around = take(into, loop, sizeof *around);
    hw_vec3 *out = take(into, loop, sizeof *out);
    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i < nx; i++)
            for (int j = 0; j < ny; j++) {
                double x = half[0] * (2.0 * i / (nx - 1) - 1.0);
                double y = half[1] * (2.0 * j / (ny - 1) - 1.0);
                mesh.points[mesh.point_count++] =
                    (hw_vec3){x, y, top(x, y) - (pass ? thickness : 0.0)};
            }
    int n = 0;
    for (int i = 0; i + 1 < nx; i++) out[n] = (hw_vec3){0, -1, 0}, around[n++] = i * ny;
    for (int j = 0; j + 1 < ny; j++) out[n] = (hw_vec3){1, 0, 0}, around[n++] = (nx - 1) * ny + j;
    for (int i = nx - 1; i > 0; i--) out[n] = (hw_vec3){0, 1, 0}, around[n++] = i * ny + ny - 1;
    for (int j = ny - 1; j > 0; j--) out[n] = (hw_vec3){-1, 0, 0}, around[n++] = j;
    for (int step = 1; step < RIM; step++)
        for (int k = 0; k < loop; k++) {
            double turn = HW_PI * step / RIM;
            hw_vec3 outward = hw_vec3_unit(hw_vec3_add(out[k], out[(k + loop - 1) % loop]));
            hw_vec3 point = mesh.points[around[k]];
            point.z -= 0.5 * thickness * (1.0 - cos(turn));
            mesh.points[mesh.point_count++] =
                hw_vec3_add(point, hw_vec3_scale(outward, 0.5 * thickness * sin(turn)));
        }
    for (int i = 0; i + 1 < nx; i++)
        for (int j = 0; j + 1 < ny; j++) {
            int a = i * ny + j, b = a + ny, c = b + 1, d = a + 1;
            add(&mesh, a, b, c), add(&mesh, a, c, d);
            add(&mesh, grid + a, grid + c, grid + b), add(&mesh, grid + a, grid + d, grid + c);
        }
    for (int step = 0; step < RIM; step++)
        for (int k = 0; k < loop; k++) {
            int next = (k + 1) % loop, corner[2][2];
            for (int low = 0; low < 2; low++)
                for (int e = 0; e < 2; e++) {
                    int at = e ? next : k, level = step + low;
                    corner[low][e] = level == 0     ? around[at]
                                     : level == RIM ? grid + around[at]
                                                    : 2 * grid + (level - 1) * loop + at;
                }
            add(&mesh, corner[0][0], corner[1][0], corner[1][1]);
            add(&mesh, corner[0][0], corner[1][1], corner[0][1]);
        }
    return mesh;
}
