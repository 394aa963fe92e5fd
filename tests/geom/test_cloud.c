// SPDX-License-Identifier: GPL-3.0-or-later
// Surfaces through points, on solids whose area and volume are known.
#include "near.h"
#include "shapes.h"
#include "suites.h"

enum { COUNT = 20000 };

// Points of a unit sphere, evenly by the golden angle, with noise; only those below `top`.
static int some_points(hw_vec3 *out, double noise, double top)
{
    hw_random random = hw_random_begin(11);
    int kept = 0;
    for (int i = 0; i < COUNT; i++) {
        double z = 1.0 - 2.0 * (i + 0.5) / COUNT, r = sqrt(1.0 - z * z), turn = 2.39996323 * i;
        hw_vec3 p = {r * cos(turn), r * sin(turn), z};
        if (z > top) continue;
        out[kept++] = hw_vec3_scale(p, 1.0 + noise * hw_random_normal(&random));
    }
    return kept;
}

static hw_mesh surface_of(hw_test_room *room, const hw_vec3 *points, int count, double *spacing)
{
    hw_mesh mesh = {0};
    CHECK_OK(&room->job, hw_cloud_surface(&room->job, points, count, room->into, &mesh, spacing));
    return mesh;
}

static void test_cloud__a_sphere_of_points_is_a_closed_sphere(void **state)
{
    (void)state;
    static hw_vec3 points[COUNT];
    for (int noisy = 0; noisy < 2; noisy++) {
        hw_test_room room = hw_test_open();
        double spacing = 0.0;
        int count = some_points(points, noisy ? 0.003 : 0.0, 2.0);
        hw_mesh mesh = surface_of(&room, points, count, &spacing);
        hw_mesh_faults faults = {0};
        CHECK_OK(&room.job, hw_mesh_check(&room.job, &mesh, &faults));
        CHECK_NEAR(spacing, sqrt(4.0 * HW_PI / COUNT), 0.003, "m");
        assert_int_equal(faults.open_edges, 0);
        // Outward: the volume is positive. Means over patches lie a little inside a sphere.
        CHECK_NEAR(hw_mesh_volume(&mesh), 4.0 / 3.0 * HW_PI, 0.02, "m3");
        for (int i = 0; i < mesh.point_count; i++)
            CHECK_NEAR(hw_vec3_norm(mesh.points[i]), 1.0, noisy ? 0.01 : 0.002, "m");
        hw_test_close(&room);
    }
}

static void test_cloud__a_hole_stays_open(void **state)
{
    (void)state;
    static hw_vec3 points[COUNT];
    hw_test_room room = hw_test_open();
    double spacing = 0.0;
    int count = some_points(points, 0.0, 0.5);
    hw_mesh mesh = surface_of(&room, points, count, &spacing);
    CHECK_NEAR(hw_mesh_area(&mesh), 2.0 * HW_PI * 1.5, 0.3, "m2"); // zone of height 1.5
    assert_true(hw_mesh_box(&mesh).high.z < 0.5 + 3.0 * spacing);
    int outward = 0;
    for (int i = 0; i < mesh.triangle_count; i++) {
        hw_vec3 a = mesh.points[mesh.triangles[i][0]];
        hw_vec3 n = hw_vec3_cross(hw_vec3_sub(mesh.points[mesh.triangles[i][1]], a),
                                  hw_vec3_sub(mesh.points[mesh.triangles[i][2]], a));
        outward += hw_vec3_dot(n, a) > 0.0;
    }
    assert_true(outward > 0.998 * mesh.triangle_count); // slivers may be turned by rounding
    hw_test_close(&room);
}

static void test_cloud__what_carries_no_surface_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_vec3 points[100];
    for (int i = 0; i < 100; i++) points[i] = (hw_vec3){i % 3, 0, 0}; // three places
    hw_mesh mesh = {0};
    double spacing = 0.0;
    CHECK_FAILS(&room.job, hw_cloud_surface(&room.job, points, 100, room.into, &mesh, &spacing),
                HW_BAD_INPUT, "few places");
    for (int i = 0; i < 100; i++) points[i] = (hw_vec3){i * i, i % 7 * 300, i % 11 * 200};
    hw_status status = hw_cloud_surface(&room.job, points, 100, room.into, &mesh, &spacing);
    assert_true(status == HW_BAD_INPUT || status == HW_OK); // scattered: never a crash
    hw_test_close(&room);
}

int run_cloud_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cloud__a_sphere_of_points_is_a_closed_sphere),
        cmocka_unit_test(test_cloud__a_hole_stays_open),
        cmocka_unit_test(test_cloud__what_carries_no_surface_is_refused),
    };
    return cmocka_run_group_tests_name("geom cloud", tests, NULL, NULL);
}
