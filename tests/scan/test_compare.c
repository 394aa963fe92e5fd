// SPDX-License-Identifier: GPL-3.0-or-later
// Two scans of one invented foot, of which it is known what differs.
#include "demo/demo.h"
#include "suites.h"

static hw_scan_result some_scan(hw_test_room *room, hw_side side, double length, int triangles,
                                bool with_spread)
{
    hw_demo_foot_order order = hw_demo_foot_order_default();
    hw_mesh mesh = {0};
    hw_demo_truth truth = {0};
    hw_scan_ask ask = hw_scan_ask_default();
    hw_scan_result scan = {0};
    order.side = side;
    order.foot_length_m = length;
    order.triangles = triangles;
    order.turned = true;
    CHECK_OK(&room->job, hw_demo_foot(&room->job, &order, room->into, &mesh, &truth));
    ask.wants_spread = with_spread;
    CHECK_OK(&room->job, hw_scan_foot(&room->job, &mesh, &ask, room->into, &scan));
    return scan;
}

static void test_compare__a_moved_scan_is_laid_back(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_scan_result a = some_scan(&room, HW_SIDE_LEFT, 0.26, 12000, false), b = a;
    // 3 degrees about an oblique axis and some millimetres: what a landmark off its place would do.
    hw_vec3 axis = hw_vec3_unit((hw_vec3){1, -2, 0.5}), shift = {0.004, -0.003, 0.002};
    b.foot.surface.points =
        hw_arena_take(room.into, (size_t)a.foot.surface.point_count, sizeof *b.foot.surface.points);
    for (int i = 0; i < a.foot.surface.point_count; i++) {
        hw_vec3 p = a.foot.surface.points[i]; // Rodrigues
        double c = cos(0.05), s = sin(0.05);
        hw_vec3 turned =
            hw_vec3_add(hw_vec3_add(hw_vec3_scale(p, c), hw_vec3_scale(hw_vec3_cross(axis, p), s)),
                        hw_vec3_scale(axis, hw_vec3_dot(axis, p) * (1.0 - c)));
        b.foot.surface.points[i] = hw_vec3_add(turned, shift);
    }
    hw_scan_comparison got = {0};
    CHECK_OK(&room.job, hw_scan_compare(&room.job, &a, &b, room.into, &got));
    assert_true(got.is_settled);
    CHECK_NEAR(got.residual, 0.0, 1e-6, "m");
    CHECK_NEAR(got.p95, 0.0, 1e-6, "m");
    CHECK_NEAR(got.within_1, 1.0, 0.0, "");
    for (int i = 0; i < a.foot.surface.point_count; i += 37) // each point comes back
        CHECK_NEAR(hw_vec3_distance(hw_pose_point(&got.second_to_first, b.foot.surface.points[i]),
                                    a.foot.surface.points[i]),
                   0.0, 2e-6, "m");
    hw_test_close(&room);
}

static void test_compare__a_swelling_is_found_where_it_is(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_scan_result a = some_scan(&room, HW_SIDE_LEFT, 0.26, 12000, false), b = a;
    hw_vec3 at = a.foot.landmarks.dorsum;
    b.foot.surface.points =
        hw_arena_take(room.into, (size_t)a.foot.surface.point_count, sizeof *b.foot.surface.points);
    for (int i = 0; i < a.foot.surface.point_count; i++) {
        hw_vec3 p = a.foot.surface.points[i];
        double near = hw_vec3_distance(p, at) / 0.02;
        if (near < 1.0) p.z += 0.004 * (1.0 - near * near);
        b.foot.surface.points[i] = p;
    }
    hw_scan_comparison got = {0};
    CHECK_OK(&room.job, hw_scan_compare(&room.job, &a, &b, room.into, &got));
    double most = 0.0;
    int where = 0;
    for (int i = 0; i < got.deviation_count; i++)
        if ((double)got.deviations[i] > most) most = (double)got.deviations[i], where = i;
    CHECK_NEAR(most, 0.004, 0.001, "m"); // + outside
    CHECK_NEAR(hw_vec3_distance(a.foot.surface.points[where], at), 0.0, 0.012, "m");
    assert_true(got.median < 0.0001);
    hw_test_close(&room);
}

static void test_compare__only_what_exceeds_its_doubt_is_called_different(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_scan_result a = some_scan(&room, HW_SIDE_LEFT, 0.26, 12000, true);
    hw_scan_result same = some_scan(&room, HW_SIDE_RIGHT, 0.26, 20000, true);
    hw_scan_result longer = some_scan(&room, HW_SIDE_LEFT, 0.266, 12000, true);
    hw_scan_comparison got = {0};
    CHECK_OK(&room.job, hw_scan_compare(&room.job, &a, &same, room.into, &got));
    assert_false(got.differences[HW_MEASURE_FOOT_LENGTH].is_larger);
    assert_true(got.median < 0.0005); // a right foot against the mirror of its twin
    CHECK_OK(&room.job, hw_scan_compare(&room.job, &a, &longer, room.into, &got));
    const hw_scan_difference *d = &got.differences[HW_MEASURE_FOOT_LENGTH];
    CHECK_NEAR(d->difference.value, 0.006, 0.0005, "m");
    assert_true(d->is_larger && d->half_width_95.known);
    hw_test_close(&room);
}

int run_compare_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_compare__a_moved_scan_is_laid_back),
        cmocka_unit_test(test_compare__a_swelling_is_found_where_it_is),
        cmocka_unit_test(test_compare__only_what_exceeds_its_doubt_is_called_different),
    };
    return cmocka_run_group_tests_name("scan compare", tests, NULL, NULL);
}
