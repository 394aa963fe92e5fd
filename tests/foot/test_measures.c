// SPDX-License-Identifier: GPL-3.0-or-later
// Measures on solids whose measures are known by geometry.
#include "suites.h"

static const hw_vec3 size = {0.26, 0.1, 0.09};

static hw_foot_measures measures_of(hw_test_room *room, const hw_mesh *mesh, const hw_landmarks *at,
                                    hw_loading loading)
{
    const hw_foot_load load = {.loading = loading};
    hw_foot_measures out = {0};
    CHECK_OK(&room->job, hw_foot_measure_surface(&room->job, mesh, at, &load, &out));
    return out;
}

static void test_measures__of_a_box_are_those_of_geometry(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh mesh = box_mesh(room.into, size, 40);
    hw_landmarks at = box_landmarks(size);
    hw_foot_measures got = measures_of(&room, &mesh, &at, HW_LOADING_HANGING);
    CHECK_NEAR(got.ball_girth_m.value, 2 * (0.1 + 0.09), 1e-9, "m");
    CHECK_NEAR(got.instep_girth_m.value, 2 * (0.1 + 0.09), 1e-9, "m");
    CHECK_NEAR(got.plantar_area_m2.value, 0.26 * 0.1, 1e-4, "m2"); // cells of 2 mm
    CHECK_NEAR(got.volume_m3.value, 0.26 * 0.1 * 0.3 * 0.26, 1e-9, "m3");
    CHECK_NEAR(got.heel_bisection_rad.value, 0.0, 1e-9, "rad");
    CHECK_NEAR(got.forefoot_angle_rad.value, 0.0, 1e-9, "rad");
    CHECK_NEAR(got.hallux_angle_rad.value, 0.0, 1e-9, "rad");
    assert_true(got.ball_girth_m.known && got.volume_m3.known && got.forefoot_angle_rad.known);
    assert_false(got.navicular_height_m.known); // a wall has no bulge
    assert_non_null(got.why[HW_MEASURE_NAVICULAR_HEIGHT]);
    hw_test_close(&room);
}

// Oblique landmarks: the section of a box by an upright plane that crosses at an angle.
static void test_measures__ball_girth_runs_through_both_heads(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh mesh = box_mesh(room.into, size, 40);
    hw_landmarks at = box_landmarks(size);
    at.mth5.x = 0.63 * size.x;
    hw_foot_measures got = measures_of(&room, &mesh, &at, HW_LOADING_HANGING);
    CHECK_NEAR(got.ball_girth_m.value, 2 * (hypot(0.1, 0.1 * size.x) + 0.09), 1e-9, "m");
    hw_test_close(&room);
}

// Leaning the solid by an angle leans its bisection by that angle: y falls (medial) as z rises.
static void test_measures__a_leaning_heel_is_everted_by_its_lean(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh mesh = box_mesh(room.into, size, 40);
    double lean = hw_rad_from_deg(6.0), fall = hw_rad_from_deg(4.0);
    for (int i = 0; i < mesh.point_count; i++) {
        hw_vec3 *p = &mesh.points[i];
        double share = p->y / size.y - 0.5; // 0 on the lateral side, -1 on the medial one
        p->y -= tan(lean) * p->z;
        if (p->x > 0.55 * size.x && p->z == 0.0) p->z = -0.1 * share * tan(fall);
    }
    hw_landmarks at = box_landmarks(size);
    hw_foot_measures got = measures_of(&room, &mesh, &at, HW_LOADING_HANGING);
    CHECK_NEAR(got.heel_bisection_rad.value, lean, 1e-6, "rad");
    // Lowest points of the outer thirds are 0.65 to 1 of the breadth apart: an estimate by 0.6.
    assert_true(got.forefoot_angle_rad.value > lean + 0.5 * fall);
    assert_true(got.forefoot_angle_rad.value < lean + 1.7 * fall);
    got = measures_of(&room, &mesh, &at, HW_LOADING_STANDING);
    assert_false(got.forefoot_angle_rad.known);
    assert_non_null(strstr(got.why[HW_MEASURE_FOREFOOT_TO_REARFOOT], "hanging"));
    hw_test_close(&room);
}

static void test_measures__what_a_scan_cannot_give_has_its_reason(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh mesh = box_mesh(room.into, size, 40);
    hw_landmarks at = box_landmarks(size);
    at.arch_apex_known = false;
    at.is_flat_sole = true;
    hw_foot_measures got = measures_of(&room, &mesh, &at, HW_LOADING_STANDING);
    assert_non_null(strstr(got.why[HW_MEASURE_ARCH_INDEX], "flat"));
    for (int i = 0; i < HW_MEASURES; i++) // known or explained, never neither
        assert_true(hw_foot_measure_of(&got, (hw_measure)i).known == (got.why[i] == NULL));
    // A hole in the wall where the tape passes.
    int kept = 0;
    for (int i = 0; i < mesh.triangle_count; i++) {
        hw_vec3 p = mesh.points[mesh.triangles[i][0]];
        if (fabs(p.x - 0.73 * size.x) < 0.02 && p.y > 0.0499) continue;
        memcpy(mesh.triangles[kept++], mesh.triangles[i], sizeof mesh.triangles[0]);
    }
    mesh.triangle_count = kept;
    got = measures_of(&room, &mesh, &at, HW_LOADING_STANDING);
    assert_false(got.ball_girth_m.known);
    assert_non_null(strstr(got.why[HW_MEASURE_BALL_GIRTH], "hole"));
    assert_true(got.instep_girth_m.known);
    assert_false(got.volume_m3.known);
    at.complete = false;
    got = measures_of(&room, &mesh, &at, HW_LOADING_STANDING);
    assert_non_null(strstr(got.why[HW_MEASURE_INSTEP_GIRTH], "sole"));
    hw_test_close(&room);
}

int run_measure_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_measures__of_a_box_are_those_of_geometry),
        cmocka_unit_test(test_measures__ball_girth_runs_through_both_heads),
        cmocka_unit_test(test_measures__a_leaning_heel_is_everted_by_its_lean),
        cmocka_unit_test(test_measures__what_a_scan_cannot_give_has_its_reason),
    };
    return cmocka_run_group_tests_name("foot measures", tests, NULL, NULL);
}
