// SPDX-License-Identifier: GPL-3.0-or-later
// Surfaces that go through themselves, and those that do not; against a plain test in doubles.
#include "geom/geom.h"
#include "near.h"
#include "shapes.h"
#include "suites.h"

static int crossings_of(hw_test_room *room, const hw_mesh *mesh)
{
    hw_mesh_crossings found = {0};
    CHECK_OK(&room->job, hw_mesh_cross(&room->job, mesh, &found));
    return found.count;
}

static void test_mesh__sound_solids_do_not_cross_themselves(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh cube = shape_cube(room.into, 0.1), ball = shape_sphere(room.into, 4);
    assert_int_equal(crossings_of(&room, &cube), 0); // its faces are pairs in one plane
    assert_int_equal(crossings_of(&room, &ball), 0);
    hw_test_close(&room);
}

static void test_mesh__a_dent_through_the_far_side_is_found(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh ball = shape_sphere(room.into, 3);
    int top = 0;
    for (int i = 0; i < ball.point_count; i++)
        if (ball.points[i].z > ball.points[top].z) top = i;
    ball.points[top].z = -0.9; // still inside
    assert_int_equal(crossings_of(&room, &ball), 0);
    ball.points[top].z = -1.1;
    assert_true(crossings_of(&room, &ball) > 0);
    hw_test_close(&room);
}

// Exactness: a corner one grain (10 nm) before, on and behind another triangle.
static void test_mesh__a_touch_is_told_from_a_miss_of_one_grain(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    for (int grains = -1; grains <= 1; grains++) {
        hw_vec3 points[6] = {{0, 0, 0},       {0.3, 0, 0.1},   {0, 0.3, 0.2},
                             {0.1, 0.1, 0.1}, {0.1, 0.2, 0.5}, {0.2, 0.1, 0.5}};
        int triangles[2][3] = {{0, 1, 2}, {3, 4, 5}};
        hw_mesh mesh = {points, 6, triangles, 2, NULL};
        points[3].z += 1e-8 * grains; // x / 3 + 2 y / 3 is the first one's height
        assert_int_equal(crossings_of(&room, &mesh), grains <= 0 ? 1 : 0);
    }
    hw_test_close(&room);
}

static void test_mesh__folds_and_flat_overlaps_are_found(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_vec3 points[5] = {{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {1, 1, 0}, {0.3, 0.4, 0}};
    int fold[2][3] = {{0, 1, 2}, {1, 0, 4}}, quad[2][3] = {{0, 1, 2}, {2, 1, 3}};
    int corner[2][3] = {{0, 1, 2}, {0, 4, 3}};
    hw_mesh folded = {points, 5, fold, 2, NULL}, flat = {points, 5, quad, 2, NULL};
    hw_mesh fanned = {points, 5, corner, 2, NULL};
    assert_int_equal(crossings_of(&room, &folded), 1);
    assert_int_equal(crossings_of(&room, &flat), 0);
    assert_int_equal(crossings_of(&room, &fanned), 1);
    hw_test_close(&room);
}

static double volume_of(hw_vec3 a, hw_vec3 b, hw_vec3 c, hw_vec3 d)
{
    return hw_vec3_dot(hw_vec3_cross(hw_vec3_sub(b, a), hw_vec3_sub(c, a)), hw_vec3_sub(d, a));
}

static bool plainly_pierces(const hw_vec3 *points, int p, int q, const int *t)
{
    hw_vec3 a = points[t[0]], b = points[t[1]], c = points[t[2]];
    if (volume_of(a, b, c, points[p]) * volume_of(a, b, c, points[q]) > 0.0) return false;
    double one = volume_of(points[p], points[q], a, b), two = volume_of(points[p], points[q], b, c);
    double three = volume_of(points[p], points[q], c, a);
    return (one > 0) == (two > 0) && (two > 0) == (three > 0);
}

// Random triangles, every pair by plain volumes in doubles: no sweep, no whole numbers.
static void test_mesh__a_soup_crosses_as_often_as_every_pair_says(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    for (uint64_t seed = 1; seed < 6; seed++) {
        hw_mesh soup = shape_soup(room.into, 60, seed);
        int want = 0;
        for (int i = 0; i < 60; i++)
            for (int j = i + 1; j < 60; j++) {
                const int *a = soup.triangles[i], *b = soup.triangles[j];
                bool met = false;
                for (int k = 0; k < 3; k++)
                    met |= plainly_pierces(soup.points, a[k], a[(k + 1) % 3], b) ||
                           plainly_pierces(soup.points, b[k], b[(k + 1) % 3], a);
                want += met;
            }
        assert_true(want > 10);
        assert_int_equal(crossings_of(&room, &soup), want);
    }
    hw_test_close(&room);
}

int run_crossing_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_mesh__sound_solids_do_not_cross_themselves),
        cmocka_unit_test(test_mesh__a_dent_through_the_far_side_is_found),
        cmocka_unit_test(test_mesh__a_touch_is_told_from_a_miss_of_one_grain),
        cmocka_unit_test(test_mesh__folds_and_flat_overlaps_are_found),
        cmocka_unit_test(test_mesh__a_soup_crosses_as_often_as_every_pair_says),
    };
    return cmocka_run_group_tests_name("crossing", tests, NULL, NULL);
}
