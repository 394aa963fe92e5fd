// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "shapes.h"
#include "suites.h"

#include <float.h>
#include <time.h>

// The oracle works otherwise than the code: the plane's foot point where it lies inside, else the
// nearest of the three sides.
static double to_side(hw_vec3 p, hw_vec3 a, hw_vec3 b)
{
    hw_vec3 ab = hw_vec3_sub(b, a);
    double squared = hw_vec3_dot(ab, ab);
    double t = squared > 0.0 ? hw_vec3_dot(hw_vec3_sub(p, a), ab) / squared : 0.0;
    t = fmin(fmax(t, 0.0), 1.0);
    return hw_vec3_distance(p, hw_vec3_mix(a, b, t));
}

static double to_triangle(hw_vec3 p, hw_vec3 a, hw_vec3 b, hw_vec3 c)
{
    double best = fmin(to_side(p, a, b), fmin(to_side(p, b, c), to_side(p, c, a)));
    hw_vec3 n = hw_vec3_unit(hw_vec3_cross(hw_vec3_sub(b, a), hw_vec3_sub(c, a)));
    double height = hw_vec3_dot(hw_vec3_sub(p, a), n);
    hw_vec3 q = hw_vec3_sub(p, hw_vec3_scale(n, height)), corner[3] = {a, b, c};
    for (int k = 0; k < 3; k++) {
        hw_vec3 side = hw_vec3_sub(corner[(k + 1) % 3], corner[k]);
        if (hw_vec3_dot(hw_vec3_cross(side, hw_vec3_sub(q, corner[k])), n) < 0.0) return best;
    }
    return fmin(best, fabs(height));
}

static void test_near__agrees_with_looking_at_every_triangle(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_random random = hw_random_begin(5);
    for (int count = 1; count <= 400; count = 2 * count + 1) {
        hw_mesh soup = shape_soup(room.into, count, (uint64_t)count);
        const hw_near *near = NULL;
        CHECK_OK(&room.job, hw_near_build(&room.job, &soup, room.into, &near));
        for (int i = 0; i < 500; i++) {
            hw_vec3 p = {3.0 * hw_random_uniform(&random) - 1.0, hw_random_uniform(&random), 0.0};
            p.z = 3.0 * hw_random_uniform(&random) - 1.0;
            double want = DBL_MAX;
            for (int t = 0; t < count; t++) {
                const int *c = soup.triangles[t];
                want = fmin(
                    want, to_triangle(p, soup.points[c[0]], soup.points[c[1]], soup.points[c[2]]));
            }
            hw_vec3 q = {0};
            CHECK_NEAR(hw_near_distance(near, p, &q), want, 1e-12, "m");
            CHECK_NEAR(hw_vec3_distance(p, q), want, 1e-12, "m");
        }
    }
    hw_test_close(&room);
}

static void test_near__flat_triangles_are_points_and_sides(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_vec3 points[] = {{0, 0, 0}, {1, 0, 0}, {2, 0, 0}};
    int side[1][3] = {{0, 1, 2}}, point[1][3] = {{1, 1, 1}};
    hw_mesh mesh = {points, 3, side, 1, NULL};
    const hw_near *near = NULL;
    CHECK_OK(&room.job, hw_near_build(&room.job, &mesh, room.into, &near));
    CHECK_NEAR(hw_near_distance(near, (hw_vec3){1.5, 3, 4}, NULL), 5.0, 1e-12, "m");
    mesh.triangles = point;
    CHECK_OK(&room.job, hw_near_build(&room.job, &mesh, room.into, &near));
    CHECK_NEAR(hw_near_distance(near, (hw_vec3){0, 0, 0}, NULL), 1.0, 1e-12, "m");
    mesh.triangle_count = 0;
    CHECK_FAILS(&room.job, hw_near_build(&room.job, &mesh, room.into, &near), HW_BAD_INPUT,
                "without triangles");
    hw_test_close(&room);
}

// Distance to a sphere: | |p| - 1 |, but for the sagitta of its triangles.
static void test_near__a_fine_sphere_answers_a_hundred_thousand_times_a_second(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh sphere = shape_sphere(room.into, 7); // 131072 triangles, sides of about 0.01
    const hw_near *near = NULL;
    clock_t start = clock();
    CHECK_OK(&room.job, hw_near_build(&room.job, &sphere, room.into, &near));
    double build = (double)(clock() - start) / CLOCKS_PER_SEC;
    hw_random random = hw_random_begin(9);
    start = clock();
    for (int i = 0; i < 100000; i++) {
        hw_vec3 p = {hw_random_normal(&random), hw_random_normal(&random), 0.0};
        p.z = hw_random_normal(&random);
        // Within a fifth of the surface; the middle of a sphere is equally near to all of it.
        p = hw_vec3_scale(hw_vec3_unit(p), 0.8 + 0.4 * hw_random_uniform(&random));
        CHECK_NEAR(hw_near_distance(near, p, NULL), fabs(hw_vec3_norm(p) - 1.0), 1e-4, "m");
    }
    double search = (double)(clock() - start) / CLOCKS_PER_SEC;
    print_message("near: 131072 triangles built in %.3f s, 100000 searches in %.3f s\n", build,
                  search);
    assert_true(search < 10.0); // far above what was measured: catches only a lost tree
    hw_test_close(&room);
}

int run_near_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_near__agrees_with_looking_at_every_triangle),
        cmocka_unit_test(test_near__flat_triangles_are_points_and_sides),
        cmocka_unit_test(test_near__a_fine_sphere_answers_a_hundred_thousand_times_a_second),
    };
    return cmocka_run_group_tests_name("geom near", tests, NULL, NULL);
}
