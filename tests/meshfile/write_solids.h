// SPDX-License-Identifier: GPL-3.0-or-later
// Solids of known volume, and both writers over them.
#ifndef HW_TESTS_MESHFILE_WRITE_SOLIDS_H
#define HW_TESTS_MESHFILE_WRITE_SOLIDS_H

#include "near.h"

#include "meshfile/meshfile.h"

// A tetrahedron of 10, 20 and 40 mm legs, not at the origin: volume 1/6 of 10 x 20 x 40 mm3.
enum { TETRA_BYTES = 284 };                    // 84 + 4 * 50
static const double tetra_volume = 8e-6 / 6.0; // m3
static hw_vec3 tetra_points[4] = {
    {-0.005, 0.1, -0.02}, {0.005, 0.1, -0.02}, {-0.005, 0.12, -0.02}, {-0.005, 0.1, 0.02}};
static int tetra_faces[4][3] = {{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {2, 0, 3}};
static const hw_mesh tetra = {tetra_points, 4, tetra_faces, 4, NULL};

static inline hw_bytes stl_of(hw_test_room *room, const hw_mesh *solid)
{
    hw_bytes file = {0};
    CHECK_OK(&room->job, hw_meshfile_stl(&room->job, solid, "HB-0042 left", room->into, &file));
    return file;
}

static inline hw_bytes package_of(hw_test_room *room, const hw_mesh *solid, const char *title)
{
    hw_bytes file = {0};
    CHECK_OK(&room->job, hw_meshfile_3mf(&room->job, solid, title, room->into, &file));
    return file;
}

/// A ball of 2 * rings * rings or so triangles, 30 mm in radius about (1, -2, 3) cm.
static inline hw_mesh ball(hw_test_room *room, int rings)
{
    int around = 2 * rings, n = 0;
    hw_mesh mesh = {.point_count = 2 + (rings - 1) * around,
                    .triangle_count = 2 * (rings - 1) * around};
    mesh.points = hw_arena_take(room->into, (size_t)mesh.point_count, sizeof *mesh.points);
    mesh.triangles = hw_arena_take(room->into, (size_t)mesh.triangle_count, sizeof *mesh.triangles);
    assert_true(mesh.points && mesh.triangles);
    const double r = 0.03;
    const hw_vec3 middle = {0.01, -0.02, 0.03};
    mesh.points[0] = hw_vec3_add(middle, (hw_vec3){0, 0, r});
    mesh.points[1] = hw_vec3_add(middle, (hw_vec3){0, 0, -r});
    for (int i = 0; i < (rings - 1) * around; i++) {
        double polar = HW_PI * (i / around + 1) / rings, turn = HW_PI * (i % around) / rings;
        hw_vec3 p = {r * sin(polar) * cos(turn), r * sin(polar) * sin(turn), r * cos(polar)};
        mesh.points[2 + i] = hw_vec3_add(middle, p);
    }
    for (int k = 0; k < around; k++) {
        int next = (k + 1) % around, last = 2 + (rings - 2) * around;
        const int caps[2][3] = {{0, 2 + k, 2 + next}, {1, last + next, last + k}};
        memcpy(mesh.triangles[n], caps, sizeof caps), n += 2;
        for (int ring = 0; ring < rings - 2; ring++) {
            int a = 2 + ring * around + k, b = 2 + ring * around + next;
            const int band[2][3] = {{a, a + around, b}, {b, a + around, b + around}};
            memcpy(mesh.triangles[n], band, sizeof band), n += 2;
        }
    }
    assert_int_equal(n, mesh.triangle_count);
    return mesh;
}

#endif
