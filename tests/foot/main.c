// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

typedef struct face {
    hw_vec3 at, right, up; // outward: right x up
} face;

static void add_face(hw_mesh *mesh, face f, int cuts)
{
    int base = mesh->point_count, row = cuts + 1;
    for (int i = 0; i <= cuts; i++)
        for (int k = 0; k <= cuts; k++)
            mesh->points[mesh->point_count++] =
                hw_vec3_add(f.at, hw_vec3_add(hw_vec3_scale(f.right, (double)i / cuts),
                                              hw_vec3_scale(f.up, (double)k / cuts)));
    for (int i = 0; i < cuts; i++)
        for (int k = 0; k < cuts; k++) {
            int a = base + i * row + k, b = a + row;
            const int two[2][3] = {{a, b, b + 1}, {a, b + 1, a + 1}};
            memcpy(mesh->triangles[mesh->triangle_count], two, sizeof two);
            mesh->triangle_count += 2;
        }
}

hw_mesh box_mesh(hw_arena *into, hw_vec3 size, int cuts)
{
    double x = size.x, y = 0.5 * size.y, z = size.z;
    const face faces[6] = {
        {{0, -y, 0}, {0, 2 * y, 0}, {x, 0, 0}}, {{0, -y, z}, {x, 0, 0}, {0, 2 * y, 0}},
        {{0, -y, 0}, {x, 0, 0}, {0, 0, z}},     {{0, y, 0}, {0, 0, z}, {x, 0, 0}},
        {{0, -y, 0}, {0, 0, z}, {0, 2 * y, 0}}, {{x, -y, 0}, {0, 2 * y, 0}, {0, 0, z}},
    };
    hw_mesh mesh = {0};
    mesh.points = hw_arena_take(into, 6 * (size_t)((cuts + 1) * (cuts + 1)), sizeof *mesh.points);
    mesh.triangles = hw_arena_take(into, 12 * (size_t)(cuts * cuts), sizeof *mesh.triangles);
    if (!mesh.points || !mesh.triangles) abort();
    for (int i = 0; i < 6; i++) add_face(&mesh, faces[i], cuts);
    return mesh;
}

hw_landmarks box_landmarks(hw_vec3 size)
{
    double l = size.x, y = 0.5 * size.y;
    return (hw_landmarks){
        .heel_back = {0, 0, 0.02},
        .toe_tip = {l, 0, 0.02},
        .mth1 = {0.73 * l, -y, 0.02},
        .mth5 = {0.73 * l, y, 0.02},
        .heel_medial = {0.16 * l, -y, 0.02},
        .heel_lateral = {0.16 * l, y, 0.02},
        .arch_apex = {0.42 * l, 0, 0.01},
        .dorsum = {0.5 * l, 0, size.z},
        .arch_apex_known = true,
        .complete = true,
    };
}

int main(void)
{
    int failed = run_foot_tests();
    failed += run_measure_tests();
    return failed + run_print_tests();
}
