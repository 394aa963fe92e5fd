// SPDX-License-Identifier: GPL-3.0-or-later
// The shared open feet. Side, unit and defects: their README. None has a measured clinical truth.
#include "suites.h"

#include "files/files.h"
#include "meshfile/meshfile.h"

typedef struct row {
    const char *file;
    hw_side side;
    hw_scan_unit unit;
    double length;    // m
    double tolerance; // m
} row;

// Lengths. "plan": plan-view minimum-area rectangle, README of the data. "box": the README's box
// along the foot. "heel": least x of the heel to most x of the toes in the file's own axes, by awk
// over the vertices below the ankle; used where the README's box (264 mm) includes a leg that leans
// back behind the heel. "low": smallest plan rectangle of what is less than 60 mm high, by
// tools/real_scans.py. None of them is ours.
static const row rows[] = {
    {"standing_scan_left_m.stl", HW_SIDE_LEFT, HW_SCAN_UNIT_M, 0.2757, 0.002}, // plan
    {"standing_scan_left_m.obj", HW_SIDE_LEFT, HW_SCAN_UNIT_M, 0.2757, 0.002}, // plan
    {"dirty_standing_left_floor_holes_mm.stl", HW_SIDE_LEFT, HW_SCAN_UNIT_MM, 0.2757, 0.002},
    {"focus_left_hires_m.obj", HW_SIDE_LEFT, HW_SCAN_UNIT_M, 0.2577, 0.002}, // heel
    {"dirty_hires_left_open_mixed_winding_upsidedown_mm.stl.gz", HW_SIDE_LEFT, HW_SCAN_UNIT_MM,
     0.2577, 0.002},                                                                       // heel
    {"find_mean_left_m.obj", HW_SIDE_LEFT, HW_SCAN_UNIT_M, 0.2629, 0.002},                 // plan
    {"find_pc1minus_right_mm.stl", HW_SIDE_RIGHT, HW_SCAN_UNIT_MM, 0.2676, 0.002},         // plan
    {"find_pc2plus_toeext_left_inch.ply", HW_SIDE_LEFT, HW_SCAN_UNIT_INCH, 0.2667, 0.002}, // box
    {"find_inversion_left_mm_ascii.stl", HW_SIDE_LEFT, HW_SCAN_UNIT_MM, 0.2515, 0.002},    // heel
    {"find_template_left_m.obj", HW_SIDE_LEFT, HW_SCAN_UNIT_M, 0.2695, 0.002},             // box
    {"mh_male_right_smooth_mm.stl", HW_SIDE_RIGHT, HW_SCAN_UNIT_MM, 0.2569, 0.002},        // plan
    {"mh_male_left_quads_cm.obj", HW_SIDE_LEFT, HW_SCAN_UNIT_CM, 0.259, 0.002},            // README
    {"mh_female_heavy_left_mm_bigendian.ply", HW_SIDE_LEFT, HW_SCAN_UNIT_MM, 0.2144, 0.002}, // low
    {"vhm_left_leg_m.ply", HW_SIDE_LEFT, HW_SCAN_UNIT_M, 0.2386, 0.003},                     // box
    {"vhm_right_foot_mm.stl", HW_SIDE_RIGHT, HW_SCAN_UNIT_MM, 0.2393, 0.003},                // box
};
enum { ROWS = sizeof rows / sizeof rows[0] };

hw_mesh read_shared(hw_test_room *room, const char *file)
{
    char path[512];
    snprintf(path, sizeof path, "%s/feet/%s", hw_test_data(), file);
    hw_bytes bytes = {0};
    hw_mesh mesh = {0};
    CHECK_OK(&room->job, hw_file_read(&room->job, path, (size_t)1 << 28, room->into, &bytes));
    CHECK_OK(&room->job, hw_meshfile_read(&room->job, bytes, room->into, &mesh, NULL));
    return mesh;
}

static hw_scan_result scan_of(hw_test_room *room, const hw_mesh *raw)
{
    hw_scan_ask ask = hw_scan_ask_default();
    hw_scan_result scan = {0};
    CHECK_OK(&room->job, hw_scan_foot(&room->job, raw, &ask, room->into, &scan));
    return scan;
}

static void test_shared__side_unit_and_length_of_every_full_foot(void **state)
{
    (void)state;
    if (!hw_test_data()) skip();
    for (int i = 0; i < ROWS; i++) {
        hw_test_room room = hw_test_open();
        hw_mesh raw = read_shared(&room, rows[i].file);
        hw_scan_result scan = scan_of(&room, &raw);
        double length = scan.foot.measures.foot_length_m.value;
        print_message("%-58s %s %.2f, %.1f mm (reference %.1f)\n", rows[i].file,
                      hw_side_word(scan.inferred_side), scan.side_confidence, hw_mm_from_m(length),
                      hw_mm_from_m(rows[i].length));
        assert_int_equal(scan.inferred_side, rows[i].side);
        assert_true(scan.side_confidence > 0.7);
        assert_int_equal(scan.unit, rows[i].unit);
        assert_true(scan.foot.landmarks.complete);
        CHECK_NEAR(length, rows[i].length, rows[i].tolerance, "m");
        hw_test_close(&room);
    }
}

static void test_shared__the_pose_in_the_file_changes_nothing(void **state)
{
    (void)state;
    if (!hw_test_data()) skip();
    static const int chosen[] = {0, 2, 5, 8, 11, 12, 13, 14};
    hw_random random = hw_random_begin(23);
    for (size_t i = 0; i < sizeof chosen / sizeof chosen[0]; i++) {
        hw_test_room room = hw_test_open();
        hw_mesh raw = read_shared(&room, rows[chosen[i]].file);
        double length = scan_of(&room, &raw).foot.measures.foot_length_m.value;
        double m = hw_scan_unit_m(rows[chosen[i]].unit);
        for (int k = 0; k < 6; k++) {
            hw_scan_unit unit = (hw_scan_unit)(HW_SCAN_UNIT_M + k % 5);
            hw_mesh moved = elsewhere(room.into, &raw, &random, m / hw_scan_unit_m(unit));
            hw_scan_result scan = scan_of(&room, &moved);
            assert_int_equal(scan.inferred_side, rows[chosen[i]].side);
            assert_int_equal(scan.unit, unit);
            CHECK_NEAR(scan.foot.measures.foot_length_m.value, length, 0.0005, "m");
        }
        hw_test_close(&room);
    }
}

static void test_shared__one_scan_in_two_formats_is_one_foot(void **state)
{
    (void)state;
    if (!hw_test_data()) skip();
    hw_test_room room = hw_test_open();
    hw_mesh stl = read_shared(&room, "standing_scan_left_m.stl");
    hw_mesh obj = read_shared(&room, "standing_scan_left_m.obj");
    hw_scan_result a = scan_of(&room, &stl), b = scan_of(&room, &obj);
    CHECK_NEAR(a.foot.measures.foot_length_m.value, b.foot.measures.foot_length_m.value, 0.0005,
               "m");
    CHECK_NEAR(a.foot.measures.ball_breadth_m.value, b.foot.measures.ball_breadth_m.value, 0.0005,
               "m");
    // Volume 1.2403e-3 m3: README of the data, up to the OBJ's rounding.
    CHECK_NEAR(hw_mesh_volume(&a.foot.surface), 1.2403e-3, 1e-6, "m3");
    CHECK_NEAR(hw_mesh_volume(&b.foot.surface), 1.2403e-3, 1e-6, "m3");
    assert_int_equal(a.open_edges, 0);
    assert_false(a.foot.landmarks.arch_apex_known); // its sole is a closing plane
    hw_test_close(&room);
}

static void test_shared__dirt_is_found_as_the_readme_describes_it(void **state)
{
    (void)state;
    if (!hw_test_data()) skip();
    hw_test_room room = hw_test_open();
    hw_mesh raw = read_shared(&room, "dirty_standing_left_floor_holes_mm.stl");
    hw_scan_result scan = scan_of(&room, &raw);
    assert_true(scan.removed.floor_triangles > 1000);
    assert_int_equal(scan.removed.stray_pieces, 130); // 132 components less foot and floor
    raw = read_shared(&room, "dirty_hires_left_open_mixed_winding_upsidedown_mm.stl.gz");
    scan = scan_of(&room, &raw);
    CHECK_NEAR(scan.removed.turned_triangles, 0.5 * raw.triangle_count, 500, "triangles");
    assert_int_equal(scan.removed.flat_triangles, 4);
    assert_in_range(scan.open_edges, 210, 220); // 214 boundary edges
    hw_test_close(&room);
}

static void test_shared__a_sole_alone_is_seen_as_one(void **state)
{
    (void)state;
    if (!hw_test_data()) skip();
    hw_test_room room = hw_test_open();
    hw_mesh raw = read_shared(&room, "sole_only_hires_left_mm.ply");
    hw_scan_result scan = scan_of(&room, &raw);
    assert_true(scan.is_sole_only && !scan.foot.landmarks.complete);
    assert_false(scan.foot.measures.foot_length_m.known);
    assert_int_equal(scan.inferred_side, HW_SIDE_LEFT);
    assert_int_equal(scan.unit, HW_SCAN_UNIT_MM);
    hw_test_close(&room);
}

static void test_shared__what_is_not_one_foot_is_refused(void **state)
{
    (void)state;
    if (!hw_test_data()) skip();
    static const struct {
        const char *file, *part;
    } refused[] = {{"mh_base_whole_body_dm.obj", "whole body"},
                   {"vhm_both_lower_legs_cm_ascii.ply", "two legs"}};
    for (int i = 0; i < 2; i++) {
        hw_test_room room = hw_test_open();
        hw_mesh raw = read_shared(&room, refused[i].file);
        hw_scan_ask ask = hw_scan_ask_default();
        hw_scan_result scan = {0};
        CHECK_FAILS(&room.job, hw_scan_foot(&room.job, &raw, &ask, room.into, &scan), HW_BAD_INPUT,
                    refused[i].part);
        hw_test_close(&room);
    }
}

int run_shared_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_shared__side_unit_and_length_of_every_full_foot),
        cmocka_unit_test(test_shared__the_pose_in_the_file_changes_nothing),
        cmocka_unit_test(test_shared__one_scan_in_two_formats_is_one_foot),
        cmocka_unit_test(test_shared__dirt_is_found_as_the_readme_describes_it),
        cmocka_unit_test(test_shared__a_sole_alone_is_seen_as_one),
        cmocka_unit_test(test_shared__what_is_not_one_foot_is_refused),
    };
    return cmocka_run_group_tests_name("scan shared data", tests, NULL, NULL);
}
