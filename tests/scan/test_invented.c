// SPDX-License-Identifier: GPL-3.0-or-later
// Feet whose truth is known by construction (demo), seen in any unit, from any side.
#include "demo/demo.h"
#include "suites.h"

static const hw_scan_unit units[] = {HW_SCAN_UNIT_M, HW_SCAN_UNIT_DM, HW_SCAN_UNIT_CM,
                                     HW_SCAN_UNIT_MM, HW_SCAN_UNIT_INCH};

static hw_demo_foot_order some_order(int i)
{
    hw_random random = hw_random_begin((uint64_t)i + 100);
    hw_demo_foot_order order = hw_demo_foot_order_default();
    order.side = i % 2 ? HW_SIDE_RIGHT : HW_SIDE_LEFT;
    order.seed = (uint64_t)i;
    order.turned = true;
    order.triangles = 8000;
    order.m_per_unit = hw_scan_unit_m(units[i % 5]);
    order.foot_length_m = 0.21 + 0.1 * hw_random_uniform(&random);
    order.ball_breadth_m = order.foot_length_m * (0.34 + 0.1 * hw_random_uniform(&random));
    order.heel_breadth_m = order.ball_breadth_m * (0.6 + 0.2 * hw_random_uniform(&random));
    order.arch_apex_height_m = 0.005 + 0.02 * hw_random_uniform(&random);
    order.dorsum_height_m = order.foot_length_m * (0.2 + 0.12 * hw_random_uniform(&random));
    order.toes = (hw_demo_toes)(i % 3);
    order.open_top = i % 4 > 1;
    return order;
}

static hw_scan_result scan_of(hw_test_room *room, const hw_mesh *raw)
{
    hw_scan_ask ask = hw_scan_ask_default();
    hw_scan_result scan = {0};
    CHECK_OK(&room->job, hw_scan_foot(&room->job, raw, &ask, room->into, &scan));
    return scan;
}

// Half the angle's sine, as rad, between where the scan was truly posed and where it was found.
static double pose_error(const hw_pose *want, const hw_pose *got)
{
    hw_pose back = hw_pose_inverse(want), change = hw_pose_chain(&back, got);
    double worst = 0.0;
    for (int i = 0; i < 9; i++)
        worst = fmax(worst, fabs(change.rotation[i] - (i % 4 == 0 ? 1.0 : 0.0)));
    return worst;
}

static void test_scan__clean_feet_come_back_as_they_were_made(void **state)
{
    (void)state;
    for (int i = 0; i < 20; i++) {
        hw_test_room room = hw_test_open();
        hw_demo_foot_order order = some_order(i);
        hw_mesh raw = {0};
        hw_demo_truth truth = {0};
        CHECK_OK(&room.job, hw_demo_foot(&room.job, &order, room.into, &raw, &truth));
        hw_scan_result scan = scan_of(&room, &raw);
        assert_int_equal(scan.foot.side, order.side);
        assert_int_equal(scan.inferred_side, order.side);
        assert_true(scan.side_confidence > 0.8);
        assert_int_equal(scan.unit, units[i % 5]);
        assert_false(scan.is_sole_only || scan.side_given || scan.unit_given);
        const hw_foot_measures *got = &scan.foot.measures, *want = &truth.measures;
        CHECK_NEAR(got->foot_length_m.value, want->foot_length_m.value, 0.0005, "m");
        CHECK_NEAR(got->ball_breadth_m.value, want->ball_breadth_m.value, 0.0005, "m");
        CHECK_NEAR(got->heel_breadth_m.value, want->heel_breadth_m.value, 0.001, "m");
        CHECK_NEAR(got->truncated_length_m.value, want->truncated_length_m.value, 0.002, "m");
        CHECK_NEAR(got->dorsum_height_m.value, want->dorsum_height_m.value, 0.001, "m");
        CHECK_NEAR(got->arch_apex_height_m.value, want->arch_apex_height_m.value, 0.003, "m");
        CHECK_NEAR(pose_error(&truth.from_scan, &scan.foot.from_scan), 0.0, 0.01, "rad");
        hw_test_close(&room);
    }
}

static void test_scan__dirty_feet_lose_their_dirt_and_little_else(void **state)
{
    (void)state;
    for (int i = 0; i < 8; i++) {
        hw_test_room room = hw_test_open();
        hw_demo_foot_order order = some_order(i);
        order.noise_m = 0.0003, order.holes = 4, order.strays = 30, order.floor = i % 2 == 0;
        hw_mesh raw = {0};
        hw_demo_truth truth = {0};
        CHECK_OK(&room.job, hw_demo_foot(&room.job, &order, room.into, &raw, &truth));
        hw_random random = hw_random_begin((uint64_t)i);
        for (int k = 0; k < raw.triangle_count; k++) { // a third of the triangles turned over
            if (hw_random_uniform(&random) > 0.33) continue;
            int kept = raw.triangles[k][0];
            raw.triangles[k][0] = raw.triangles[k][1], raw.triangles[k][1] = kept;
        }
        hw_scan_result scan = scan_of(&room, &raw);
        assert_int_equal(scan.inferred_side, order.side);
        assert_int_equal(scan.unit, units[i % 5]);
        assert_true(scan.removed.stray_pieces >= 20);
        assert_int_equal(scan.removed.floor_triangles > 0, order.floor);
        assert_true(scan.removed.turned_triangles > raw.triangle_count / 5);
        hw_mesh_faults faults = {0};
        CHECK_OK(&room.job, hw_mesh_check(&room.job, &scan.foot.surface, &faults));
        assert_int_equal(faults.clashing_edges, 0);
        assert_int_equal(faults.double_points + faults.loose_points + faults.bad_indices, 0);
        // A foot of known volume but for its top: outward surfaces have a positive one.
        assert_true(hw_mesh_volume(&scan.foot.surface) > 0.0);
        CHECK_NEAR(scan.foot.measures.foot_length_m.value, truth.measures.foot_length_m.value,
                   0.003, "m"); // 5 sd of noise at both ends, and a hole may take the tip
        hw_test_close(&room);
    }
}

// The same foot in many poses (forty, or four hundred in the whole suite) and five units: one length, one side, one surface.
static void test_scan__does_not_depend_on_how_the_foot_lies_in_the_file(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order order = some_order(4);
    order.turned = false, order.m_per_unit = 1.0;
    hw_mesh raw = {0};
    hw_demo_truth truth = {0};
    CHECK_OK(&room.job, hw_demo_foot(&room.job, &order, room.into, &raw, &truth));
    hw_scan_result first = scan_of(&room, &raw);
    hw_random random = hw_random_begin(17);
    for (int i = 0; i < hw_test_rounds(400); i++) {
        double scale = 1.0 / hw_scan_unit_m(units[i % 5]);
        hw_mesh moved = elsewhere(room.into, &raw, &random, scale);
        hw_scan_result scan = scan_of(&room, &moved);
        assert_int_equal(scan.inferred_side, first.inferred_side);
        assert_int_equal(scan.unit, units[i % 5]);
        CHECK_NEAR(scan.foot.measures.foot_length_m.value, first.foot.measures.foot_length_m.value,
                   0.0002, "m");
        hw_vec3 toe = scan.foot.landmarks.toe_tip;
        CHECK_NEAR(hw_vec3_distance(toe, first.foot.landmarks.toe_tip), 0.0, 0.0005, "m");
        // from_scan leads from this file's coordinates to the posed points.
        hw_vec3 there = hw_pose_point(&scan.foot.from_scan, moved.points[0]);
        hw_vec3 here = hw_pose_point(&first.foot.from_scan, raw.points[0]);
        CHECK_NEAR(hw_vec3_distance(there, here), 0.0, 0.0005, "m");
    }
    hw_test_close(&room);
}

// Mended: axes once turned about the file's origin, so that a foot far from it lost its heel.
static void test_scan__a_foot_far_from_the_origin_turns_about_itself(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order order = some_order(10);
    order.turned = false, order.m_per_unit = 1.0;
    hw_mesh raw = {0};
    hw_demo_truth truth = {0};
    CHECK_OK(&room.job, hw_demo_foot(&room.job, &order, room.into, &raw, &truth));
    hw_random random = hw_random_begin(31);
    for (int i = 0; i < 10; i++) {
        hw_mesh moved = elsewhere(room.into, &raw, &random, 1.0);
        for (int k = 0; k < moved.point_count; k++) moved.points[k].x += 30.0; // 30 m away
        hw_scan_result scan = scan_of(&room, &moved);
        CHECK_NEAR(scan.foot.landmarks.heel_back.x, 0.0, 0.0005, "m");
        CHECK_NEAR(scan.foot.measures.truncated_length_m.value,
                   truth.measures.truncated_length_m.value, 0.002, "m");
        CHECK_NEAR(scan.foot.measures.foot_length_m.value, truth.measures.foot_length_m.value,
                   0.0005, "m");
    }
    hw_test_close(&room);
}

static void test_scan__a_mirrored_foot_is_the_other_side_and_the_same_foot(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order order = some_order(6);
    hw_mesh raw = {0}, mirrored = {0};
    hw_demo_truth truth = {0};
    CHECK_OK(&room.job, hw_demo_foot(&room.job, &order, room.into, &raw, &truth));
    hw_pose mirror = {{-1, 0, 0, 0, 1, 0, 0, 0, 1}, 1.0, {0, 0, 0}};
    CHECK_OK(&room.job, hw_mesh_place(&room.job, &raw, &mirror, room.into, &mirrored));
    hw_scan_result left = scan_of(&room, &raw), right = scan_of(&room, &mirrored);
    assert_int_equal(left.inferred_side, HW_SIDE_LEFT);
    assert_int_equal(right.inferred_side, HW_SIDE_RIGHT);
    assert_true(hw_pose_mirrors(&right.foot.from_scan) && !hw_pose_mirrors(&left.foot.from_scan));
    CHECK_NEAR(hw_vec3_distance(left.foot.landmarks.mth1, right.foot.landmarks.mth1), 0.0, 0.0005,
               "m");
    // In the foot frame lateral is +y whichever side it was.
    assert_true(right.foot.landmarks.mth1.y < 0.0 && right.foot.landmarks.mth5.y > 0.0);
    hw_test_close(&room);
}

static void test_scan__what_is_given_rules_and_what_is_seen_is_kept(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order order = some_order(8);
    order.m_per_unit = 0.001;
    hw_mesh raw = {0};
    hw_demo_truth truth = {0};
    CHECK_OK(&room.job, hw_demo_foot(&room.job, &order, room.into, &raw, &truth));
    hw_scan_ask ask = {
        .unit = HW_SCAN_UNIT_MM, .side = HW_SIDE_RIGHT, .loading = HW_LOADING_SITTING};
    hw_scan_result scan = {0};
    CHECK_OK(&room.job, hw_scan_foot(&room.job, &raw, &ask, room.into, &scan));
    assert_int_equal(scan.foot.side, HW_SIDE_RIGHT);
    assert_int_equal(scan.inferred_side, HW_SIDE_LEFT);
    assert_true(scan.side_given && scan.unit_given);
    assert_int_equal(scan.foot.loading, HW_LOADING_SITTING);
    assert_true(scan.warning_count > 0 && strstr(scan.warnings[0], "looks like a left one"));
    ask.unit = HW_SCAN_UNIT_CM; // ten times too large: refused, not believed
    CHECK_FAILS(&room.job, hw_scan_foot(&room.job, &raw, &ask, room.into, &scan), HW_BAD_INPUT,
                "with unit cm");
    hw_test_close(&room);
}

static void test_scan__a_sole_alone_has_a_breadth_but_no_length(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order order = some_order(12);
    order.turned = false, order.m_per_unit = 1.0;
    hw_mesh raw = {0};
    hw_demo_truth truth = {0};
    CHECK_OK(&room.job, hw_demo_foot(&room.job, &order, room.into, &raw, &truth));
    int kept = 0;
    for (int i = 0; i < raw.triangle_count; i++) { // what faces down, as a foam box shows it
        const int *c = raw.triangles[i];
        hw_vec3 a = raw.points[c[0]], ab = hw_vec3_sub(raw.points[c[1]], a);
        hw_vec3 n = hw_vec3_unit(hw_vec3_cross(ab, hw_vec3_sub(raw.points[c[2]], a)));
        if (n.z < -0.1) memmove(raw.triangles[kept++], c, sizeof(int[3]));
    }
    raw.triangle_count = kept;
    hw_random random = hw_random_begin(3);
    hw_mesh moved = elsewhere(room.into, &raw, &random, 1000.0);
    hw_scan_result scan = scan_of(&room, &moved);
    assert_true(scan.is_sole_only);
    assert_false(scan.foot.landmarks.complete || scan.foot.measures.foot_length_m.known ||
                 scan.foot.measures.dorsum_height_m.known);
    assert_int_equal(scan.inferred_side, order.side);
    CHECK_NEAR(scan.foot.measures.ball_breadth_m.value, truth.measures.ball_breadth_m.value, 0.003,
               "m");
    hw_test_close(&room);
}

int run_invented_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_scan__clean_feet_come_back_as_they_were_made),
        cmocka_unit_test(test_scan__dirty_feet_lose_their_dirt_and_little_else),
        cmocka_unit_test(test_scan__does_not_depend_on_how_the_foot_lies_in_the_file),
        cmocka_unit_test(test_scan__a_foot_far_from_the_origin_turns_about_itself),
        cmocka_unit_test(test_scan__a_mirrored_foot_is_the_other_side_and_the_same_foot),
        cmocka_unit_test(test_scan__what_is_given_rules_and_what_is_seen_is_kept),
        cmocka_unit_test(test_scan__a_sole_alone_has_a_breadth_but_no_length),
    };
    return cmocka_run_group_tests_name("scan invented", tests, NULL, NULL);
}
