// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

// Coordinates chosen by hand, m.
static hw_landmarks some_landmarks(void)
{
    return (hw_landmarks){
        .heel_back = {0.001, 0, 0.03},
        .toe_tip = {0.261, -0.02, 0.02},
        .mth1 = {0.191, -0.045, 0.02},
        .mth5 = {0.166, 0.053, 0.015},
        .heel_medial = {0.04, -0.03, 0.02},
        .heel_lateral = {0.04, 0.033, 0.02},
        .arch_apex = {0.11, -0.02, 0.016},
        .dorsum = {0.131, -0.01, 0.0646},
        .arch_apex_known = true,
        .complete = true,
    };
}

static void test_measure__follows_the_definitions(void **state)
{
    (void)state;
    hw_landmarks at = some_landmarks();
    hw_foot_measures got = hw_foot_measure(&at);
    CHECK_NEAR(got.foot_length_m.value, 0.26, 1e-12, "m");
    CHECK_NEAR(got.truncated_length_m.value, 0.19, 1e-12, "m");
    CHECK_NEAR(got.ball_breadth_m.value, 0.098, 1e-12, "m");
    CHECK_NEAR(got.heel_breadth_m.value, 0.063, 1e-12, "m");
    CHECK_NEAR(got.dorsum_height_m.value, 0.0646, 1e-12, "m");
    CHECK_NEAR(got.arch_apex_height_m.value, 0.016, 1e-12, "m");
    // Dorsum height at half the length over truncated length. from memory: Williams 2000. The
    // value, 0.34, is the standing mean of runners, from memory: Butler 2008.
    CHECK_NEAR(got.arch_height_index.value, 0.34, 1e-12, "");
    assert_true(got.foot_length_m.known && got.arch_height_index.known);
}

static void test_measure__what_was_not_seen_is_unknown(void **state)
{
    (void)state;
    hw_landmarks at = some_landmarks();
    at.complete = false;
    at.arch_apex_known = false;
    hw_foot_measures got = hw_foot_measure(&at);
    assert_false(got.foot_length_m.known || got.dorsum_height_m.known ||
                 got.arch_height_index.known || got.arch_apex_height_m.known);
    assert_true(got.ball_breadth_m.known && got.heel_breadth_m.known &&
                got.truncated_length_m.known);
}

static void test_exit__only_a_right_foot_is_mirrored_and_twice_is_not_at_all(void **state)
{
    (void)state;
    hw_pose left = hw_foot_exit(HW_SIDE_LEFT), right = hw_foot_exit(HW_SIDE_RIGHT);
    assert_false(hw_pose_mirrors(&left));
    assert_true(hw_pose_mirrors(&right));
    hw_vec3 lateral = {0.1, 0.04, 0.02}; // +y is lateral in the frame
    hw_vec3 there = hw_pose_point(&right, lateral);
    // On a right foot seen with toes ahead and z up, lateral lies to the right: -y.
    CHECK_NEAR(hw_vec3_distance(there, (hw_vec3){0.1, -0.04, 0.02}), 0.0, 0.0, "m");
    CHECK_NEAR(hw_vec3_distance(hw_pose_point(&right, there), lateral), 0.0, 0.0, "m");
    CHECK_NEAR(hw_vec3_distance(hw_pose_point(&left, lateral), lateral), 0.0, 0.0, "m");
}

// ISO 9407: length in mm on a 5 mm grid from 0, breadth in mm, written without unit: 265/102.
static void test_mondopoint__takes_the_step_at_or_above(void **state)
{
    (void)state;
    static const struct {
        double length;
        int size;
    } rows[] = {{0.2601, 265}, {0.265, 265}, {0.2650001, 270}, {0.2649, 265}, {0.26, 260}};
    for (int i = 0; i < 5; i++) {
        hw_foot_measures measures = {.foot_length_m = hw_known(rows[i].length),
                                     .ball_breadth_m = hw_known(0.1021)};
        hw_mondopoint got = hw_foot_mondopoint(&measures);
        assert_int_equal(got.length, rows[i].size);
        assert_int_equal(got.breadth, 102);
    }
    hw_foot_measures bare = {.foot_length_m = hw_known(0.265)};
    assert_int_equal(hw_foot_mondopoint(&bare).breadth, 0); // unknown breadth is left out
}

// facts of standards 4, check table of approximations [run]: before rounding to the half.
static void test_sizes__are_the_published_approximations(void **state)
{
    (void)state;
    static const struct {
        double length, eu, uk;
    } rows[] = {{0.24, 38.0, 5.5}, {0.26, 41.0, 7.5},  {0.265, 41.75, 8.5},
                {0.27, 42.5, 9.0}, {0.28, 44.0, 10.0}, {0.29, 45.5, 11.5}};
    for (int i = 0; i < 6; i++) {
        hw_foot_measures measures = {.foot_length_m = hw_known(rows[i].length)};
        hw_shoe_sizes got = hw_foot_shoe_sizes(&measures);
        CHECK_NEAR(got.eu, rows[i].eu, 0.25 + 1e-9, "sizes");
        CHECK_NEAR(got.uk, rows[i].uk, 0.25 + 1e-9, "sizes"); // 7.71 and 11.25 lie half way
        CHECK_NEAR(got.us_men, got.uk + 1.0, 1e-9, "sizes");
        CHECK_NEAR(got.us_women, got.uk + 2.0, 1e-9, "sizes");
    }
}

// ANSUR II, counted with awk over the shared columns: half of the men have a foot of 271 mm or less
// (foot length median 271), half of the women 246; women's ball girth median 227.
static void test_percentile__is_that_of_the_measured_population(void **state)
{
    (void)state;
    hw_foot_measures of = {.foot_length_m = hw_known(0.271), .ball_girth_m = hw_known(0.227)};
    CHECK_NEAR(hw_foot_percentile(&of, HW_MEASURE_FOOT_LENGTH, HW_NORM_MEN).value, 50, 2, "%");
    CHECK_NEAR(hw_foot_percentile(&of, HW_MEASURE_BALL_GIRTH, HW_NORM_WOMEN).value, 50, 3, "%");
    of.foot_length_m.value = 0.246;
    CHECK_NEAR(hw_foot_percentile(&of, HW_MEASURE_FOOT_LENGTH, HW_NORM_WOMEN).value, 50, 2, "%");
    of.foot_length_m.value = 0.2;
    CHECK_NEAR(hw_foot_percentile(&of, HW_MEASURE_FOOT_LENGTH, HW_NORM_WOMEN).value, 0, 0, "%");
    of.foot_length_m.value = 0.33;
    CHECK_NEAR(hw_foot_percentile(&of, HW_MEASURE_FOOT_LENGTH, HW_NORM_MEN).value, 100, 0, "%");
    assert_false(hw_foot_percentile(&of, HW_MEASURE_HEEL_BREADTH, HW_NORM_MEN).known);
    assert_false(hw_foot_percentile(&of, HW_MEASURE_ARCH_INDEX, HW_NORM_MEN).known);
}

static void test_loading__each_state_has_its_word(void **state)
{
    (void)state;
    assert_string_equal(hw_loading_word(HW_LOADING_UNKNOWN), "unknown");
    assert_string_equal(hw_loading_word(HW_LOADING_HANGING), "hanging");
    assert_string_equal(hw_loading_word(HW_LOADING_SITTING), "sitting");
    assert_string_equal(hw_loading_word(HW_LOADING_STANDING), "standing");
}

int run_foot_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_measure__follows_the_definitions),
        cmocka_unit_test(test_measure__what_was_not_seen_is_unknown),
        cmocka_unit_test(test_exit__only_a_right_foot_is_mirrored_and_twice_is_not_at_all),
        cmocka_unit_test(test_mondopoint__takes_the_step_at_or_above),
        cmocka_unit_test(test_sizes__are_the_published_approximations),
        cmocka_unit_test(test_percentile__is_that_of_the_measured_population),
        cmocka_unit_test(test_loading__each_state_has_its_word),
    };
    return cmocka_run_group_tests_name("foot", tests, NULL, NULL);
}
