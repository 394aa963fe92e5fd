// SPDX-License-Identifier: GPL-3.0-or-later
// The invented foot is what its order says: checks are against the order, and of the mesh alone.
#include "demo/demo.h"
#include "near.h"

static hw_demo_foot_order order_of(hw_side side, int triangles)
{
    hw_demo_foot_order order = hw_demo_foot_order_default();
    order.side = side;
    order.triangles = triangles;
    return order;
}

static void test_demo_foot__is_a_closed_solid_at_every_fineness(void **state)
{
    (void)state;
    static const int counts[] = {2000, 5000, 30000, 150000};
    for (int i = 0; i < 4; i++)
        for (int toes = 0; toes < 3; toes++) {
            hw_test_room room = hw_test_open();
            hw_demo_foot_order order = order_of(HW_SIDE_LEFT, counts[i]);
            order.toes = (hw_demo_toes)toes;
            hw_foot foot = {0};
            hw_mesh_faults faults = {0};
            CHECK_OK(&room.job, hw_demo_posed(&room.job, &order, room.into, &foot));
            CHECK_OK(&room.job, hw_mesh_check(&room.job, &foot.surface, &faults));
            const hw_mesh_faults none = {0};
            assert_memory_equal(&faults, &none, sizeof none);
            assert_true(hw_mesh_volume(&foot.surface) > 0.0005);
            CHECK_NEAR(foot.surface.triangle_count, counts[i], 0.1 * counts[i], "triangles");
            hw_test_close(&room);
        }
}

static void test_demo_foot__has_the_ordered_lengths_and_breadths(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order order = order_of(HW_SIDE_LEFT, 30000);
    hw_foot foot = {0};
    CHECK_OK(&room.job, hw_demo_posed(&room.job, &order, room.into, &foot));
    hw_box box = hw_mesh_box(&foot.surface);
    CHECK_NEAR(box.low.x, 0.0, 1e-12, "m");
    CHECK_NEAR(box.high.x, order.foot_length_m, 1e-12, "m");
    CHECK_NEAR(box.high.y - box.low.y, order.ball_breadth_m, 1e-9, "m");
    CHECK_NEAR(box.low.z, 0.0, 2e-5, "m");
    double heel_low = 0.0, heel_high = 0.0, dorsum = 0.0;
    for (int i = 0; i < foot.surface.point_count; i++) {
        hw_vec3 p = foot.surface.points[i];
        if (p.x < 0.2 * order.foot_length_m) {
            heel_low = fmin(heel_low, p.y), heel_high = fmax(heel_high, p.y);
        }
        if (fabs(p.x - 0.5 * order.foot_length_m) < 1e-9) dorsum = fmax(dorsum, p.z);
    }
    CHECK_NEAR(heel_high - heel_low, order.heel_breadth_m, 1e-9, "m");
    CHECK_NEAR(dorsum, order.dorsum_height_m, 1e-9, "m");
    CHECK_NEAR(foot.measures.foot_length_m.value, order.foot_length_m, 1e-12, "m");
    CHECK_NEAR(foot.measures.ball_breadth_m.value, order.ball_breadth_m, 1e-12, "m");
    CHECK_NEAR(foot.measures.heel_breadth_m.value, order.heel_breadth_m, 1e-12, "m");
    hw_test_close(&room);
}

static void test_demo_foot__its_landmarks_lie_on_it_and_the_apex_tops_the_arch(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order order = order_of(HW_SIDE_LEFT, 60000);
    hw_foot foot = {0};
    const hw_near *near = NULL;
    CHECK_OK(&room.job, hw_demo_posed(&room.job, &order, room.into, &foot));
    CHECK_OK(&room.job, hw_near_build(&room.job, &foot.surface, room.into, &near));
    const hw_landmarks *at = &foot.landmarks;
    const hw_vec3 points[] = {at->heel_back,   at->toe_tip,      at->mth1,      at->mth5,
                              at->heel_medial, at->heel_lateral, at->arch_apex, at->dorsum};
    for (int i = 0; i < 8; i++) CHECK_NEAR(hw_near_distance(near, points[i], NULL), 0, 3e-5, "m");
    CHECK_NEAR(at->arch_apex.z, order.arch_apex_height_m, 1e-9, "m");
    assert_true(at->arch_apex.y < 0.0 && at->mth1.y < 0.0 && at->mth5.y > 0.0); // medial is -y
    for (int i = 0; i < foot.surface.point_count; i++) {
        hw_vec3 p = foot.surface.points[i];
        bool sole = p.z < 0.03 && p.y > at->arch_apex.y && p.y < 0.01;
        if (sole && p.x > 0.25 * order.foot_length_m && p.x < 0.6 * order.foot_length_m)
            assert_true(p.z <= order.arch_apex_height_m + 1e-6);
    }
    hw_test_close(&room);
}

// The mirrored foot of equal order is congruent: same volume, outside outside, and its from_scan
// leads back to the very same left-frame points.
static void test_demo_foot__a_right_foot_mirrors_the_left(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order order = order_of(HW_SIDE_RIGHT, 5000);
    order.turned = true, order.m_per_unit = 0.001, order.noise_m = 0.0002;
    hw_mesh scan = {0};
    hw_demo_truth truth = {0};
    hw_foot foot = {0};
    CHECK_OK(&room.job, hw_demo_foot(&room.job, &order, room.into, &scan, &truth));
    CHECK_OK(&room.job, hw_demo_posed(&room.job, &order, room.into, &foot));
    assert_true(hw_pose_mirrors(&truth.from_scan));
    assert_int_equal(scan.point_count, foot.surface.point_count);
    for (int i = 0; i < scan.point_count; i++) {
        hw_vec3 back = hw_pose_point(&truth.from_scan, scan.points[i]);
        CHECK_NEAR(hw_vec3_distance(back, foot.surface.points[i]), 0.0, 1e-12, "m");
    }
    double volume = hw_mesh_volume(&foot.surface); // m3 against mm3
    CHECK_NEAR(hw_mesh_volume(&scan) * 1e-9, volume, 1e-9 * volume, "m3");
    hw_test_close(&room);
}

static void test_demo_foot__noise_has_the_ordered_spread(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order order = order_of(HW_SIDE_LEFT, 30000);
    hw_foot clean = {0}, noisy = {0};
    CHECK_OK(&room.job, hw_demo_posed(&room.job, &order, room.into, &clean));
    order.noise_m = 0.0005;
    CHECK_OK(&room.job, hw_demo_posed(&room.job, &order, room.into, &noisy));
    double squares = 0.0;
    int count = clean.surface.point_count;
    for (int i = 0; i < count; i++) {
        double away = hw_vec3_distance(clean.surface.points[i], noisy.surface.points[i]);
        squares += away * away;
    }
    CHECK_NEAR(sqrt(squares / (3.0 * count)), 0.0005, 1e-5, "m"); // sd of it: 1.2e-6
    hw_test_close(&room);
}

static void test_demo_foot__holes_floor_strays_and_an_open_top_are_there(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order order = order_of(HW_SIDE_LEFT, 30000);
    order.holes = 4, order.floor = true, order.strays = 7, order.open_top = true;
    hw_mesh scan = {0};
    hw_demo_truth truth = {0};
    hw_mesh_faults faults = {0};
    CHECK_OK(&room.job, hw_demo_foot(&room.job, &order, room.into, &scan, &truth));
    CHECK_OK(&room.job, hw_mesh_check(&room.job, &scan, &faults));
    assert_true(faults.open_edges > 100 && faults.clashing_edges == 0);
    int *piece = NULL, pieces = 0;
    CHECK_OK(&room.job, hw_mesh_pieces(&room.job, &scan, room.into, &piece, &pieces));
    assert_true(pieces >= 1 + 1 + 7); // foot, floor, flakes
    hw_test_close(&room);
}

static void test_demo_foot__what_is_no_foot_is_refused_by_name(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_foot foot = {0};
    hw_demo_foot_order order = order_of(HW_SIDE_UNKNOWN, 5000);
    CHECK_FAILS(&room.job, hw_demo_posed(&room.job, &order, room.into, &foot), HW_BAD_INPUT,
                "left or right");
    order = order_of(HW_SIDE_LEFT, 5000);
    order.foot_length_m = 260.0; // millimetres by mistake
    CHECK_FAILS(&room.job, hw_demo_posed(&room.job, &order, room.into, &foot), HW_BAD_INPUT,
                "length");
    order = order_of(HW_SIDE_LEFT, 5000);
    order.noise_m = (double)NAN;
    CHECK_FAILS(&room.job, hw_demo_posed(&room.job, &order, room.into, &foot), HW_BAD_INPUT,
                "noise");
    hw_test_close(&room);
}

static void test_demo_foot__memory_that_runs_out_fails_cleanly(void **state)
{
    (void)state;
    hw_status last = HW_NO_MEMORY;
    for (size_t n = 1; last != HW_OK && n < 50; n++) {
        hw_test_room room = hw_test_open();
        hw_demo_foot_order order = order_of(HW_SIDE_LEFT, 2000);
        hw_mesh scan = {0};
        hw_demo_truth truth = {0};
        hw_arena_fail_at(room.into, n);
        last = hw_demo_foot(&room.job, &order, room.into, &scan, &truth);
        assert_true(last == HW_OK || last == HW_NO_MEMORY);
        hw_test_close(&room);
    }
    assert_int_equal(last, HW_OK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_demo_foot__is_a_closed_solid_at_every_fineness),
        cmocka_unit_test(test_demo_foot__has_the_ordered_lengths_and_breadths),
        cmocka_unit_test(test_demo_foot__its_landmarks_lie_on_it_and_the_apex_tops_the_arch),
        cmocka_unit_test(test_demo_foot__a_right_foot_mirrors_the_left),
        cmocka_unit_test(test_demo_foot__noise_has_the_ordered_spread),
        cmocka_unit_test(test_demo_foot__holes_floor_strays_and_an_open_top_are_there),
        cmocka_unit_test(test_demo_foot__what_is_no_foot_is_refused_by_name),
        cmocka_unit_test(test_demo_foot__memory_that_runs_out_fails_cleanly),
    };
    return cmocka_run_group_tests_name("demo", tests, NULL, NULL);
}
