// SPDX-License-Identifier: GPL-3.0-or-later
#include "demo/demo.h"
#include "meshfile/meshfile.h"
#include "near.h"
#include "orthosis/orthosis.h"
#include "scan/scan.h"
#include "suites.h"

static hw_foot invented_foot(hw_test_room *room, hw_side side)
{
    hw_demo_foot_order order = hw_demo_foot_order_default();
    hw_foot foot = {0};
    order.side = side;
    CHECK_OK(&room->job, hw_demo_posed(&room->job, &order, room->into, &foot));
    return foot;
}

hw_orthosis_order plain_order(const hw_foot *foot)
{
    hw_orthosis_order order = hw_orthosis_order_default(foot->loading);
    order.arch_fill_m = order.heel_expansion_m = order.border_expansion_m = 0.0;
    return order;
}

hw_orthosis built(hw_test_room *room, const hw_foot *foot, const hw_orthosis_order *order)
{
    hw_orthosis device = {0};
    CHECK_OK(&room->job, hw_orthosis_build(&room->job, foot, order, room->into, &device));
    return device;
}

static void test_orthosis__without_corrections_its_top_is_the_sole(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_foot foot = invented_foot(&room, HW_SIDE_LEFT);
    hw_orthosis_order order = plain_order(&foot);
    hw_orthosis device = built(&room, &foot, &order);
    CHECK_NEAR(device.deviation_max_m, 0.0, 0.00015, "m"); // the bound, walls included
    assert_true(device.thickness_min_m > 0.9 * order.shell_thickness_m);
    hw_test_close(&room);
}

static void test_orthosis__it_is_a_closed_solid_that_ends_behind_the_heads(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_foot foot = invented_foot(&room, HW_SIDE_LEFT);
    for (int i = 0; i < 5; i++) {
        hw_orthosis_order order = hw_orthosis_order_default(foot.loading);
        order.shell_thickness_m = 0.002 + 0.001 * i;
        order.heel_cup_depth_m = 0.010 + 0.002 * i;
        order.rearfoot_post_rad = 0.05 * (i - 2);
        hw_orthosis device = built(&room, &foot, &order);
        hw_mesh_faults faults = {0};
        CHECK_OK(&room.job, hw_mesh_check(&room.job, &device.solid, &faults));
        assert_int_equal(faults.open_edges + faults.crowded_edges + faults.clashing_edges +
                             faults.flat_triangles + faults.double_points + faults.loose_points,
                         0);
        assert_true(device.volume_m3 > 0.0);
        // 3 to 10 mm behind the metatarsal heads: common practice
        assert_true(device.distal_gap_min_m > 0.003 && device.distal_gap_max_m < 0.010);
        assert_true(device.thickness_min_m > 0.85 * order.shell_thickness_m);
        assert_true(device.rounding_radius_m >= 0.0008);
    }
    hw_test_close(&room);
}

// Volume of a thin shell: area of its middle times thickness, plus half a rim of that radius.
static void test_orthosis__its_volume_is_area_times_thickness(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_foot foot = invented_foot(&room, HW_SIDE_LEFT);
    hw_orthosis_order order = plain_order(&foot);
    order.shell_thickness_m = 0.002;
    hw_orthosis device = built(&room, &foot, &order);
    hw_mesh top = device.solid;
    top.triangle_count = device.top_triangle_count;
    double rim = 0.0;
    for (int k = 0; k < device.outline_count; k++)
        rim += hw_vec3_distance(device.outline[k], device.outline[(k + 1) % device.outline_count]);
    double expected = hw_mesh_area(&top) * 0.002 + rim * 0.5 * HW_PI * 1e-6;
    CHECK_NEAR(device.volume_m3, expected, 0.04 * expected, "m3"); // curvature: t / 2R
    CHECK_NEAR(device.mass_kg, 905.0 * device.volume_m3, 1e-9, "kg");
    hw_test_close(&room);
}

static double top_z_near(const hw_orthosis *device, double x, double y)
{
    double best = 1.0, z = 0.0;
    for (int k = 0; k < device->nu * device->nv; k++) {
        double away = hypot(device->top[k].x - x, device->top[k].y - y);
        if (away < best) best = away, z = device->top[k].z;
    }
    return z;
}

static void test_orthosis__fill_lowers_the_arch_and_nothing_else(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_foot foot = invented_foot(&room, HW_SIDE_LEFT);
    hw_orthosis_order order = plain_order(&foot);
    hw_orthosis plain = built(&room, &foot, &order);
    order.arch_fill_m = 0.004;
    hw_orthosis filled = built(&room, &foot, &order);
    hw_vec3 apex = foot.landmarks.arch_apex;
    double heel_x = 0.5 * (foot.landmarks.heel_medial.x + foot.landmarks.heel_lateral.x);
    CHECK_NEAR(top_z_near(&plain, apex.x, apex.y) - top_z_near(&filled, apex.x, apex.y), 0.004,
               0.0006, "m");
    CHECK_NEAR(top_z_near(&plain, heel_x, 0.0) - top_z_near(&filled, heel_x, 0.0), 0.0, 1e-5, "m");
    hw_test_close(&room);
}

static double bottom_z_near(const hw_orthosis *device, double x, double y)
{
    double best = 1.0, z = 0.0;
    for (int k = 0; k < device->nu * device->nv; k++) {
        double away = hypot(device->bottom[k].x - x, device->bottom[k].y - y);
        if (away < best) best = away, z = device->bottom[k].z;
    }
    return z;
}

static void test_orthosis__a_varus_post_stands_thicker_medially(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_foot foot = invented_foot(&room, HW_SIDE_LEFT);
    hw_orthosis_order order = plain_order(&foot);
    order.rearfoot_post_rad = hw_rad_from_deg(4.0);
    hw_orthosis device = built(&room, &foot, &order);
    double heel_x = 0.5 * (foot.landmarks.heel_medial.x + foot.landmarks.heel_lateral.x);
    double heel_y = 0.5 * (foot.landmarks.heel_medial.y + foot.landmarks.heel_lateral.y);
    double medial = bottom_z_near(&device, heel_x, heel_y - 0.010);
    double lateral = bottom_z_near(&device, heel_x, heel_y + 0.010);
    CHECK_NEAR(atan2(lateral - medial, 0.020), order.rearfoot_post_rad, 0.006, "rad");
    hw_test_close(&room);
}

// What leaves as a file, read back and laid onto the scan in the scan's own axes.
static void check_file_lies_on_scan(hw_test_room *room, hw_side side)
{
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    hw_mesh scan = {0}, solid = {0}, back = {0};
    hw_demo_truth truth = {0};
    hw_scan_result posed = {0};
    hw_scan_ask ask = hw_scan_ask_default();
    hw_bytes file = {0};
    demo.side = side;
    demo.turned = true;
    demo.seed = 5;
    ask.unit = HW_SCAN_UNIT_M;
    ask.loading = HW_LOADING_HANGING;
    CHECK_OK(&room->job, hw_demo_foot(&room->job, &demo, room->into, &scan, &truth));
    CHECK_OK(&room->job, hw_scan_foot(&room->job, &scan, &ask, room->into, &posed));
    assert_int_equal(posed.foot.side, side);
    hw_orthosis_order order = plain_order(&posed.foot);
    hw_orthosis device = built(room, &posed.foot, &order);
    CHECK_OK(&room->job, hw_orthosis_exit(&room->job, &device, room->into, &solid));
    CHECK_OK(&room->job, hw_meshfile_stl(&room->job, &solid, "test", room->into, &file));
    CHECK_OK(&room->job, hw_meshfile_read(&room->job, file, room->into, &back, NULL));
    assert_true(hw_mesh_volume(&back) > 0.0); // mirrored, not turned inside out
    hw_pose to_metres = hw_pose_identity(), mirror = hw_foot_exit(side);
    to_metres.scale = 1e-3;
    hw_pose to_foot = hw_pose_chain(&to_metres, &mirror);
    hw_pose to_scan = hw_pose_inverse(&posed.foot.from_scan);
    hw_pose whole = hw_pose_chain(&to_foot, &to_scan);
    const hw_near *near = NULL;
    CHECK_OK(&room->job, hw_near_build(&room->job, &scan, room->into, &near));
    for (int t = 0; t < device.top_triangle_count; t += 7)
        for (int k = 0; k < 3; k++) {
            hw_vec3 p = hw_pose_point(&whole, back.points[back.triangles[t][k]]);
            CHECK_NEAR(hw_near_distance(near, p, NULL), 0.0, 0.00015, "m");
        }
}

static void test_orthosis__left_stays_left_from_scan_to_file(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    check_file_lies_on_scan(&room, HW_SIDE_LEFT);
    check_file_lies_on_scan(&room, HW_SIDE_RIGHT);
    hw_test_close(&room);
}

// In the written file of a right foot the medial side is +y: the post's thick side must be there.
static void test_orthosis__a_medial_post_is_medial_in_both_files(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    for (int side = HW_SIDE_LEFT; side <= HW_SIDE_RIGHT; side++) {
        hw_foot foot = invented_foot(&room, (hw_side)side);
        hw_orthosis_order order = plain_order(&foot);
        order.rearfoot_post_rad = hw_rad_from_deg(6.0);
        hw_orthosis device = built(&room, &foot, &order);
        hw_mesh file = {0};
        CHECK_OK(&room.job, hw_orthosis_exit(&room.job, &device, room.into, &file));
        double lowest = 1.0, y = 0.0;
        for (int k = 0; k < file.point_count; k++)
            if (file.points[k].x < 0.06 && file.points[k].z < lowest)
                lowest = file.points[k].z, y = file.points[k].y;
        assert_true(side == HW_SIDE_LEFT ? y < -0.005 : y > 0.005);
    }
    hw_test_close(&room);
}

static void test_orthosis__bad_orders_are_refused_by_name(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_foot foot = invented_foot(&room, HW_SIDE_LEFT);
    hw_orthosis device = {0};
    hw_orthosis_order order = hw_orthosis_order_default(foot.loading);
    order.shell_thickness_m = 0.009;
    order.heel_cup_depth_m = 0.050;
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "shell thickness: 9 mm");
    order = hw_orthosis_order_default(foot.loading);
    order.length = HW_ORTHOSIS_FULL;
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "length: a hard shell ends behind the heads");
    order = hw_orthosis_order_default(HW_LOADING_STANDING);
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "standing");
    foot.side = HW_SIDE_UNKNOWN;
    order = hw_orthosis_order_default(foot.loading);
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "side");
    assert_null(device.top);
    hw_test_close(&room);
}

// Of what is known beforehand: the device itself, and one whose arch was lowered by 3 mm and nothing else.
static void test_orthosis__a_device_differs_from_the_one_before_by_what_was_ordered(void **state)
{
    (void)state;
    for (int side = HW_SIDE_LEFT; side <= HW_SIDE_RIGHT; side++) {
        hw_test_room room = hw_test_open();
        hw_foot foot = invented_foot(&room, (hw_side)side);
        hw_orthosis_order order = plain_order(&foot);
        hw_orthosis device = built(&room, &foot, &order);
        hw_orthosis_against same = {0}, lower = {0}, other = {0};
        CHECK_OK(&room.job,
                 hw_orthosis_lay_on(&room.job, &device, &device.solid, room.into, &same));
        CHECK_NEAR(same.most_higher + same.most_lower, 0.0, 1e-5, "m");
        assert_true(same.compared > 0.9 * same.count); // not walls steeper than 80 degrees
        order.arch_fill_m = 0.003;
        hw_orthosis filled = built(&room, &foot, &order);
        CHECK_OK(&room.job,
                 hw_orthosis_lay_on(&room.job, &filled, &device.solid, room.into, &lower));
        // straight down by 3 mm on slopes of up to 45 degrees: 2.1 to 3 mm along the shortest way
        assert_true(lower.most_lower > 0.0021 && lower.most_lower < 0.00301);
        assert_true(lower.most_higher < 0.0001 && lower.mean < -0.0002);
        const hw_against_part *arch = &lower.part[1];
        assert_string_equal(hw_against_part_word(1), "arch");
        assert_true(arch->mean < lower.part[0].mean && arch->mean < lower.mean);
        double most = 0.0, sum = 0.0;
        int compared = 0;
        for (int p = 0; p < HW_AGAINST_PARTS; p++) {
            most = fmin(most, lower.part[p].most), compared += lower.part[p].compared;
            sum += lower.part[p].compared * lower.part[p].mean;
        }
        assert_int_equal(compared, lower.compared);
        CHECK_NEAR(-most, lower.most_lower, 1e-12, "m");
        CHECK_NEAR(sum / compared, lower.mean, 1e-12, "m");
        CHECK_NEAR(lower.where.x, foot.landmarks.arch_apex.x, 0.03, "m");
        CHECK_OK(&room.job,
                 hw_orthosis_lay_on(&room.job, &device, &filled.solid, room.into, &other));
        CHECK_NEAR(other.most_higher, lower.most_lower, 0.0002, "m");
        hw_pose away = hw_pose_identity();
        hw_mesh moved = {0};
        away.shift = (hw_vec3){0.0, 0.0, 0.05};
        CHECK_OK(&room.job, hw_mesh_place(&room.job, &device.solid, &away, room.into, &moved));
        CHECK_FAILS(&room.job, hw_orthosis_lay_on(&room.job, &device, &moved, room.into, &other),
                    HW_BAD_INPUT, "does not lie where this one does");
        hw_test_close(&room);
    }
}

// A word with stars runs only the tests so named: the seeded prescriptions take minutes.
int main(int count, char **words)
{
    if (count > 1) cmocka_set_test_filter(words[1]);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_orthosis__without_corrections_its_top_is_the_sole),
        cmocka_unit_test(test_orthosis__it_is_a_closed_solid_that_ends_behind_the_heads),
        cmocka_unit_test(test_orthosis__its_volume_is_area_times_thickness),
        cmocka_unit_test(test_orthosis__fill_lowers_the_arch_and_nothing_else),
        cmocka_unit_test(test_orthosis__a_varus_post_stands_thicker_medially),
        cmocka_unit_test(test_orthosis__left_stays_left_from_scan_to_file),
        cmocka_unit_test(test_orthosis__a_medial_post_is_medial_in_both_files),
        cmocka_unit_test(test_orthosis__a_device_differs_from_the_one_before_by_what_was_ordered),
        cmocka_unit_test(test_orthosis__bad_orders_are_refused_by_name),
    };
    return cmocka_run_group_tests_name("orthosis", tests, NULL, NULL) + run_shape_tests() +
           run_press_tests() + run_emboss_tests() + run_prescription_tests();
}
