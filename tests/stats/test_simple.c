// SPDX-License-Identifier: GPL-3.0-or-later
// Shares, pairs, agreement, limits of chance: against R 4.2.2 and the papers named.
#include "suites.h"

static void check_interval(hw_interval got, double low, double high)
{
    CHECK_NEAR(got.low, low, 1.5e-6, "");
    CHECK_NEAR(got.high, high, 1.5e-6, "");
}

// Wilson: Newcombe 1998 examples, R prop.test(correct = FALSE); exact: R binom.test, poisson.test.
static void test_counts__intervals(void **state)
{
    (void)state;
    check_interval(hw_share_wilson(81, 263), 0.255289, 0.366210);
    check_interval(hw_share_wilson(15, 148), 0.062386, 0.160487);
    check_interval(hw_share_wilson(0, 20), 0.0, 0.161125);
    check_interval(hw_share_wilson(1, 29), 0.006113, 0.171755);
    check_interval(hw_share_exact(0, 20), 0.0, 0.168433);
    check_interval(hw_share_exact(7, 20), 0.153909, 0.592189);
    check_interval(hw_count_exact(0), 0.0, 3.688879);
    check_interval(hw_count_exact(10), 4.795389, 18.390356);
    check_interval(hw_share_difference(56, 70, 48, 80), 0.052431, 0.333873);
    check_interval(hw_share_difference(9, 10, 3, 10), 0.170523, 0.809018);
}

static void test_counts__small_tables(void **state)
{
    (void)state;
    double two, one;
    hw_two_by_two tea = {3, 1, 1, 3}; // Fisher's tea; R fisher.test
    hw_fisher(&tea, &two, &one);
    CHECK_NEAR(one, 0.242857, 1e-6, "");
    CHECK_NEAR(two, 0.485714, 1e-6, "");
    const double table[4] = {20, 5, 10, 15};
    CHECK_NEAR(hw_kappa(table, 2), 0.4, 1e-12, "");
}

// Student 1908, sleep; R t.test and wilcox.test.
static void test_two__pairs(void **state)
{
    (void)state;
    static const double a[10] = {0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0};
    static const double b[10] = {1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4};
    hw_test_room room = hw_test_open();
    hw_paired got = {0};
    CHECK_OK(&room.job, hw_compare_pairs(&room.job, a, b, 10, &got));
    CHECK_NEAR(got.t, -4.062128, 1e-6, "");
    CHECK_NEAR(got.p, 0.00283289, 1e-8, "");
    CHECK_NEAR(got.low, -2.459886, 1e-6, "");
    CHECK_NEAR(got.high, -0.700114, 1e-6, "");
    CHECK_NEAR(got.rank_sum, 0.0, 0.0, "");
    CHECK_NEAR(got.rank_p, 0.009091, 1e-6, "");
    assert_false(got.rank_is_exact);
    CHECK_FAILS(&room.job, hw_compare_pairs(&room.job, a, a, 10, &got), HW_BAD_INPUT, "same");
    hw_test_close(&room);
}

// Every one of six differences positive, no ties: 2 / 2^6 by the definition of the test.
static void test_two__few_pairs_are_exact(void **state)
{
    (void)state;
    static const double a[6] = {1.1, 2.3, 3.6, 4.9, 6.2, 7.7}, b[6] = {1, 2, 3, 4, 5, 6};
    hw_test_room room = hw_test_open();
    hw_paired got = {0};
    CHECK_OK(&room.job, hw_compare_pairs(&room.job, a, b, 6, &got));
    assert_true(got.rank_is_exact);
    CHECK_NEAR(got.rank_p, 2.0 / 64.0, 1e-12, "");
    hw_test_close(&room);
}

// R 4.2.2 power.t.test (r_reference.json).
static void test_two__how_many_a_difference_needs(void **state)
{
    (void)state;
    CHECK_NEAR(hw_t_power(30.0, 0.6), 0.627493712798639, 1e-9, "");
    CHECK_NEAR(hw_t_size(0.5, 0.8), 63.7657637142739, 2e-4, ""); // theirs ends its search there
    CHECK_NEAR(hw_t_size(0.5, 0.9), 85.0312893853756, 2e-4, "");
    CHECK_NEAR(hw_t_power(hw_t_size(-0.8, 0.8), 0.8), 0.8, 1e-9, "");
    const hw_interval mean = hw_mean_of(1.0, 2.0, 4); // qt(.975, 3) = 3.182446
    CHECK_NEAR(mean.high, 1.0 + 3.182446, 1e-6, "");
    assert_true(isinf(hw_mean_of(1.0, 0.0, 1).high));
}

// Bland and Altman 1986, first readings of two peak flow meters.
static void test_two__agreement_of_peak_flow_meters(void **state)
{
    (void)state;
    static const double wright[17] = {494, 395, 516, 434, 476, 557, 413, 442, 650,
                                      433, 417, 656, 267, 478, 178, 423, 427};
    static const double mini[17] = {512, 430, 520, 428, 500, 600, 364, 380, 658,
                                    445, 432, 626, 260, 477, 259, 350, 451};
    hw_test_room room = hw_test_open();
    hw_agreement got = {0};
    CHECK_OK(&room.job, hw_agree(&room.job, wright, mini, 17, &got));
    CHECK_NEAR(got.bias, -2.117647, 1e-6, "L/min");
    CHECK_NEAR(got.sd, 38.765130, 1e-6, "L/min");
    CHECK_NEAR(got.low, -78.0973, 1e-4, "L/min");
    CHECK_NEAR(got.high, 73.8620, 1e-4, "L/min");
    hw_test_close(&room);
}

// Shrout and Fleiss 1979, six targets and four judges.
static void test_two__intraclass_correlations(void **state)
{
    (void)state;
    static const double scores[24] = {9, 2, 5, 8, 6,  1, 3, 2, 8, 4, 6, 8,
                                      7, 1, 2, 6, 10, 5, 6, 9, 6, 2, 4, 7};
    hw_test_room room = hw_test_open();
    hw_icc got = {0};
    CHECK_OK(&room.job, hw_icc_of(&room.job, scores, 6, 4, &got));
    CHECK_NEAR(got.one_1, 0.1657, 5e-5, "");
    CHECK_NEAR(got.two_1, 0.2898, 5e-5, "");
    CHECK_NEAR(got.three_1, 0.7148, 5e-5, "");
    CHECK_NEAR(got.one_k, 0.4428, 5e-5, "");
    CHECK_NEAR(got.two_k, 0.6201, 5e-5, "");
    CHECK_NEAR(got.three_k, 0.9093, 5e-5, "");
    CHECK_NEAR(hw_detectable_change(10.0, 0.9), 8.765, 1e-3, ""); // by hand
    hw_test_close(&room);
}

// Exact binomial limits, Spiegelhalter 2005; values by R qbinom and pbinom.
static void test_quality__funnel_limits(void **state)
{
    (void)state;
    static const double rows[3][5] = {{50, 0.013863, 0.179723, 0.0, 0.240128},
                                      {100, 0.040381, 0.157719, 0.014179, 0.198357},
                                      {200, 0.057691, 0.140972, 0.037851, 0.168567}};
    for (int i = 0; i < 3; i++) {
        double low, high;
        hw_funnel_limits(0.1, (int)rows[i][0], 0.95, &low, &high);
        CHECK_NEAR(low, rows[i][1], 1e-6, "");
        CHECK_NEAR(high, rows[i][2], 1e-6, "");
        hw_funnel_limits(0.1, (int)rows[i][0], 0.998, &low, &high);
        CHECK_NEAR(low, rows[i][3], 1e-6, "");
        CHECK_NEAR(high, rows[i][4], 1e-6, "");
    }
}

// 9 of 10 where 1 in 10 is expected is no chance; 2 of 2 where 3 in 4 are is (0.75^2 = 0.56).
static void test_quality__outside_by_the_exact_tail(void **state)
{
    (void)state;
    assert_true(hw_funnel_is_outside(0.1, 9, 10, 0.95));
    assert_true(hw_funnel_is_outside(0.9, 3, 10, 0.998));
    assert_false(hw_funnel_is_outside(0.75, 2, 2, 0.95));
    assert_false(hw_funnel_is_outside(0.1, 0, 20, 0.95)); // 0.9^20 = 0.12
}

// The textbook series of the tabular CUSUM (Montgomery): signal at value 29, seven values in.
static void test_quality__cusum(void **state)
{
    (void)state;
    static const double values[30] = {9.45,  7.99,  9.29,  11.66, 12.16, 10.18, 8.04,  11.46,
                                      9.20,  10.34, 9.03,  11.47, 10.51, 9.40,  10.08, 9.37,
                                      10.62, 10.31, 8.52,  10.84, 10.90, 9.33,  12.29, 11.50,
                                      10.60, 11.08, 10.38, 11.62, 11.31, 10.52};
    hw_cusum sum = {0};
    for (int i = 0; i < 30; i++) {
        hw_cusum_add(&sum, values[i], 10.0, 1.0, 0.5, 5.0);
        if (i == 27) CHECK_NEAR(sum.high, 4.47, 1e-9, "");
        if (i < 28) assert_int_equal(sum.signal, 0);
        if (i == 28) {
            CHECK_NEAR(sum.high, 5.28, 1e-9, "");
            assert_int_equal(sum.signal, 1);
            assert_int_equal(sum.high_runs, 7);
        }
    }
    CHECK_NEAR(sum.high, 5.30, 1e-9, "");
    CHECK_NEAR(hw_cusum_weight(true, 0.1, 2.0), 0.597837, 1e-6, "");
    CHECK_NEAR(hw_cusum_weight(false, 0.1, 2.0), -0.095310, 1e-6, "");
    CHECK_NEAR(hw_cusum_weight(true, 0.05, 2.0), 0.644357, 1e-6, "");
}

int run_simple_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_counts__intervals),
        cmocka_unit_test(test_counts__small_tables),
        cmocka_unit_test(test_two__pairs),
        cmocka_unit_test(test_two__few_pairs_are_exact),
        cmocka_unit_test(test_two__how_many_a_difference_needs),
        cmocka_unit_test(test_two__agreement_of_peak_flow_meters),
        cmocka_unit_test(test_two__intraclass_correlations),
        cmocka_unit_test(test_quality__funnel_limits),
        cmocka_unit_test(test_quality__outside_by_the_exact_tail),
        cmocka_unit_test(test_quality__cusum),
    };
    return cmocka_run_group_tests_name("stats simple", tests, NULL, NULL);
}
