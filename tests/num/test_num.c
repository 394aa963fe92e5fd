// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "num/num.h"

static void test_solve_small__a_random_system_is_solved_to_round_off(void **state)
{
    (void)state;
    hw_random random = hw_random_begin(7);
    for (int n = 1; n <= 16; n++) {
        double a[256], kept[256], b[16], x[16];
        for (int i = 0; i < n * n; i++) kept[i] = a[i] = hw_random_normal(&random);
        for (int i = 0; i < n; i++) x[i] = b[i] = hw_random_normal(&random);
        assert_true(hw_solve_small(n, a, x));
        for (int i = 0; i < n; i++) {
            double sum = 0.0;
            for (int j = 0; j < n; j++) sum += kept[i * n + j] * x[j];
            CHECK_NEAR(sum, b[i], 1e-10, "");
        }
    }
    double singular[4] = {1, 2, 2, 4}, right[2] = {1, 1};
    assert_false(hw_solve_small(2, singular, right));
}

static void test_eigen3__vectors_rebuild_the_matrix(void **state)
{
    (void)state;
    const double m[9] = {4, 1, -2, 1, 3, 0.5, -2, 0.5, 5};
    double values[3], v[9];
    hw_eigen3(m, values, v);
    assert_true(values[0] <= values[1] && values[1] <= values[2]);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            double sum = 0.0;
            for (int k = 0; k < 3; k++) sum += v[3 * i + k] * values[k] * v[3 * j + k];
            CHECK_NEAR(sum, m[3 * i + j], 1e-12, "");
        }
}

static void test_pose__its_inverse_undoes_it_also_when_mirrored(void **state)
{
    (void)state;
    double c = cos(0.7), s = sin(0.7);
    hw_pose turn = {{c, -s, 0, s, c, 0, 0, 0, 1}, 2.5, {1, 2, 3}};
    hw_pose mirror = {{1, 0, 0, 0, -1, 0, 0, 0, 1}, 1.0, {0, 0, 0}};
    hw_pose both = hw_pose_chain(&turn, &mirror), back = hw_pose_inverse(&both);
    hw_vec3 p = {0.3, -0.2, 0.9}, there = hw_pose_point(&both, p);
    hw_vec3 stepwise = hw_pose_point(&mirror, hw_pose_point(&turn, p));
    CHECK_NEAR(hw_vec3_distance(there, stepwise), 0.0, 1e-14, "m");
    CHECK_NEAR(hw_vec3_distance(hw_pose_point(&back, there), p), 0.0, 1e-14, "m");
    assert_true(hw_pose_mirrors(&both) && !hw_pose_mirrors(&turn));
}

// Quantile rule: Hyndman & Fan 1996, type 7 (from memory: Hyndman 1996), as in R's default.
static void test_quantile__agrees_with_type_7(void **state)
{
    (void)state;
    double values[] = {9, 1, 4, 16, 25};
    CHECK_NEAR(hw_quantile(values, 5, 0.5), 9.0, 0.0, "");
    CHECK_NEAR(hw_quantile(values, 5, 0.05), 1.6, 1e-12, "");
    hw_band band = hw_band_of(values, 5);
    CHECK_NEAR(band.p95, 23.2, 1e-12, "");
    assert_false(hw_band_unknown("not said").known);
}

static void test_random__the_stream_is_fixed_and_has_the_right_moments(void **state)
{
    (void)state;
    // First output of splitmix64 seeded with 1234567 (published test vector of the algorithm,
    // from memory: Steele 2014): 6457827717110365317.
    hw_random random = hw_random_begin(1234567);
    CHECK_NEAR(hw_random_uniform(&random), 6457827717110365317.0 * 0x1p-64, 1e-15, "");
    double sum = 0.0, squares = 0.0;
    enum { DRAWS = 100000 };
    for (int i = 0; i < DRAWS; i++) {
        double x = hw_random_normal(&random);
        sum += x;
        squares += x * x;
    }
    CHECK_NEAR(sum / DRAWS, 0.0, 0.015, "");     // five standard errors
    CHECK_NEAR(squares / DRAWS, 1.0, 0.025, ""); // likewise
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_solve_small__a_random_system_is_solved_to_round_off),
        cmocka_unit_test(test_eigen3__vectors_rebuild_the_matrix),
        cmocka_unit_test(test_pose__its_inverse_undoes_it_also_when_mirrored),
        cmocka_unit_test(test_quantile__agrees_with_type_7),
        cmocka_unit_test(test_random__the_stream_is_fixed_and_has_the_right_moments),
    };
    return cmocka_run_group_tests_name("num", tests, NULL, NULL);
}
