// SPDX-License-Identifier: GPL-3.0-or-later
// Things that happen over time: survival and mixed models against R; the growth model against its own
// definition by simulation.
#include "suites.h"

// Freireich 1963, weeks of remission; negative: not yet when last seen.
static const double treated[21] = {6,   6,   6,   -6, 7,  -9,  10,  -10, -11, 13, 16,
                                   -17, -19, -20, 22, 23, -25, -32, -32, -34, -35};
static const double placebo[21] = {1, 1, 2,  2,  3,  4,  4,  5,  5,  8, 8,
                                   8, 8, 11, 11, 12, 12, 15, 17, 22, 23};

static int freireich(hw_follow *people)
{
    for (int i = 0; i < 21; i++) {
        people[i] = (hw_follow){fabs(treated[i]), treated[i] > 0, 0};
        people[21 + i] = (hw_follow){placebo[i], true, 1};
    }
    return 42;
}

static void test_survival__freireich(void **state)
{
    (void)state;
    static const double times[7] = {6, 7, 10, 13, 16, 22, 23};
    static const double shares[7] = {.857143, .806723, .752941, .690196, .627451, .537815, .448179};
    static const double errors[7] = {.076360, .086935, .096350, .106815, .114054, .128234, .134591};
    hw_test_room room = hw_test_open();
    hw_follow people[42];
    int count = freireich(people);
    hw_survival curve = {0};
    CHECK_OK(&room.job, hw_survival_of(&room.job, people, count, 0, room.into, &curve));
    assert_int_equal(curve.count, 7);
    assert_int_equal(curve.people, 21);
    assert_int_equal(curve.events, 9);
    for (int i = 0; i < 7; i++) {
        CHECK_NEAR(curve.steps[i].time, times[i], 0.0, "weeks");
        CHECK_NEAR(curve.steps[i].share, shares[i], 1e-6, "");
        CHECK_NEAR(curve.steps[i].se, errors[i], 1e-6, "");
    }
    CHECK_NEAR(curve.median.value, 23.0, 0.0, "weeks");
    CHECK_OK(&room.job, hw_survival_of(&room.job, people, count, 1, room.into, &curve));
    CHECK_NEAR(curve.median.value, 8.0, 0.0, "weeks");
    static const double untreated[4][2] = {{1, .904762}, {5, .571429}, {8, .380952}, {23, 0.0}};
    for (int k = 0; k < 4; k++) {
        int at = 0;
        while (curve.steps[at].time < untreated[k][0]) at++;
        CHECK_NEAR(curve.steps[at].time, untreated[k][0], 0.0, "weeks");
        CHECK_NEAR(curve.steps[at].share, untreated[k][1], 1e-6, "");
    }
    hw_logrank test = {0};
    CHECK_OK(&room.job, hw_compare_survival(&room.job, people, count, &test));
    CHECK_NEAR(test.chi2, 16.792941, 1e-6, ""); // R survdiff
    CHECK_NEAR(test.expected[0], 19.2505, 1e-4, "");
    CHECK_NEAR(test.p, 4.17e-5, 5e-8, "");
    CHECK_NEAR(test.early_chi2, 14.4571508187171, 1e-9, ""); // R survdiff(rho = 1)
    CHECK_FAILS(&room.job, hw_survival_of(&room.job, people, count, 2, room.into, &curve),
                HW_BAD_INPUT, "nobody");
    hw_test_close(&room);
}

// R survival 3.5-3, coxph with Efron's ties (r_reference.json; standards.md 10.2).
static void test_hazards__freireich(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_follow people[42];
    double placebo_taken[42];
    hw_hazards got = {0};
    const int count = freireich(people);
    hw_hazards_of of = {people, placebo_taken, 1, count, HW_TIES_EFRON};
    for (int i = 0; i < count; i++) placebo_taken[i] = people[i].group;
    CHECK_OK(&room.job, hw_fit_hazards(&room.job, &of, &got));
    CHECK_NEAR(got.log_ratio[0], 1.57212514882907, 1e-8, "");
    CHECK_NEAR(got.se[0], 0.412396717709455, 1e-8, "");
    CHECK_NEAR(got.p[0], 0.000137753761986765, 1e-11, "");
    CHECK_NEAR(got.low[0], 2.1465, 5e-5, "");
    CHECK_NEAR(got.high[0], 10.8093, 5e-5, "");
    assert_int_equal(got.events, 30);
    // Breslow's from r_reference.json; exact 1.628244 (0.433131), HR 5.0949 (facts/standards.md 10.2).
    of.ties = HW_TIES_BRESLOW;
    CHECK_OK(&room.job, hw_fit_hazards(&room.job, &of, &got));
    CHECK_NEAR(got.log_ratio[0], 1.50919141258588, 1e-8, "");
    CHECK_NEAR(got.se[0], 0.409564406366741, 1e-8, "");
    of.ties = HW_TIES_EXACT;
    CHECK_OK(&room.job, hw_fit_hazards(&room.job, &of, &got));
    CHECK_NEAR(got.log_ratio[0], 1.628244, 5e-7, "");
    CHECK_NEAR(got.se[0], 0.433131, 5e-7, "");
    CHECK_NEAR(exp(got.log_ratio[0]), 5.0949, 5e-5, "");
    of.ties = HW_TIES_EFRON;
    for (int i = 0; i < count; i++) people[i].happened = people[i].group == 1;
    CHECK_FAILS(&room.job, hw_fit_hazards(&room.job, &of, &got), HW_NO_ANSWER, "no bound");
    for (int i = 0; i < count; i++) placebo_taken[i] = 1.0;
    CHECK_FAILS(&room.job, hw_fit_hazards(&room.job, &of, &got), HW_BAD_INPUT, "same in all");
    for (int i = 0; i < count; i++) people[i].happened = false, placebo_taken[i] = i;
    CHECK_FAILS(&room.job, hw_fit_hazards(&room.job, &of, &got), HW_BAD_INPUT, "nobody");
    hw_test_close(&room);
}

// Own small unbalanced set; R lme4 1.1-31 (facts of the project): lines and intercepts by person.
static const hw_repeat small_set[] = {
    {1, 0, 72},  {1, 4, 60},  {1, 12, 41}, {1, 24, 30}, {2, 0, 65}, {2, 4, 63},  {2, 12, 58},
    {2, 24, 49}, {3, 0, 80},  {3, 4, 61},  {3, 12, 35}, {4, 0, 55}, {4, 12, 40}, {4, 24, 22},
    {5, 0, 90},  {5, 4, 84},  {5, 12, 70}, {5, 24, 66}, {6, 0, 61}, {6, 4, 50},  {7, 0, 77},
    {7, 4, 70},  {7, 12, 52}, {7, 24, 28}, {8, 0, 68},  {8, 4, 66}, {8, 12, 64}, {8, 24, 60}};
enum { SMALL = sizeof small_set / sizeof small_set[0] };

// Intercept and slope, each with its standard error, then the variances between people and left over.
static void check_line(const hw_mixed *got, const double want[6])
{
    CHECK_NEAR(got->intercept, want[0], 1e-4, "");
    CHECK_NEAR(got->intercept_se, want[1], 1e-4, "");
    CHECK_NEAR(got->slope, want[2], 1e-5, "");
    CHECK_NEAR(got->slope_se, want[3], 1e-5, "");
    CHECK_NEAR(got->var_intercept, want[4], 0.02, "");
    CHECK_NEAR(got->var_residual, want[5], 0.01, "");
}

static void test_mixed__small_unbalanced_set(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mixed got = {0};
    CHECK_OK(&room.job, hw_fit_mixed(&room.job, small_set, SMALL, 0, &got));
    CHECK_NEAR(got.criterion, 207.7147173, 1e-6, "");
    check_line(&got,
               (const double[6]){68.942811, 4.325538, -1.269688, 0.181223, 108.99348, 68.58312});
    // By full maximum likelihood, lme4 (facts/standards.md 10.3): log likelihood -105.3313305.
    CHECK_OK(&room.job, hw_fit_mixed(&room.job, small_set, SMALL, HW_MIXED_ML, &got));
    CHECK_NEAR(got.criterion, 2.0 * 105.3313305, 1e-6, "");
    check_line(&got,
               (const double[6]){68.953111, 4.065028, -1.268310, 0.176587, 93.513895, 65.217662});
    CHECK_OK(&room.job, hw_fit_mixed(&room.job, small_set, SMALL, HW_MIXED_SLOPES, &got));
    assert_true(got.criterion <= 191.1299548 + 1e-6); // no worse than theirs
    CHECK_NEAR(got.intercept, 69.934282, 1e-3, "");
    CHECK_NEAR(got.slope, -1.598584, 1e-4, "");
    CHECK_NEAR(got.slope_se, 0.383104, 4e-4, "");
    CHECK_NEAR(got.var_slope, 1.0487544, 2e-3, "");
    CHECK_NEAR(got.var_residual, 10.548628, 0.02, "");
    hw_test_close(&room);
}

// Belenky 2003, 18 people over 10 days, from the shared data; R lme4 1.1-31.
static void test_mixed__sleepstudy(void **state)
{
    (void)state;
    if (!hw_test_data()) skip();
    char path[512];
    snprintf(path, sizeof path, "%s/statistics/sleepstudy.csv", hw_test_data());
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    hw_repeat rows[200];
    int count = 0;
    char line[128];
    assert_non_null(fgets(line, sizeof line, file));
    while (fgets(line, sizeof line, file) &&
           sscanf(line, "%lf,%lf,%d", &rows[count].y, &rows[count].x, &rows[count].person) == 3)
        count++;
    fclose(file);
    assert_int_equal(count, 180);
    hw_test_room room = hw_test_open();
    hw_mixed got = {0};
    CHECK_OK(&room.job, hw_fit_mixed(&room.job, rows, count, HW_MIXED_SLOPES, &got));
    CHECK_NEAR(got.criterion, 1743.6283, 1e-4, "");
    CHECK_NEAR(got.intercept, 251.405105, 1e-4, "");
    CHECK_NEAR(got.intercept_se, 6.824597, 7e-3, "");
    CHECK_NEAR(got.slope, 10.467286, 1e-5, "");
    CHECK_NEAR(got.slope_se, 1.545790, 1.5e-3, "");
    CHECK_NEAR(got.var_intercept, 612.100, 0.6, "");
    CHECK_NEAR(got.var_slope, 35.0717, 0.035, "");
    CHECK_NEAR(got.covariance / sqrt(got.var_intercept * got.var_slope), 0.0656, 1e-3, "");
    CHECK_NEAR(got.var_residual, 654.940, 0.65, "");
    CHECK_OK(&room.job, hw_fit_mixed(&room.job, rows, count, 0, &got));
    CHECK_NEAR(got.criterion, 1786.4651, 1e-4, "");
    CHECK_NEAR(got.var_intercept, 1378.179, 1.4, "");
    hw_test_close(&room);
}

static hw_growth_prior plain_prior(void)
{
    return (hw_growth_prior){.level_mean = 6.5,
                             .level_sd = 1.8,
                             .fall_mean = 4.0,
                             .fall_sd = 2.0,
                             .correlation = 0.4,
                             .weeks = 10.0,
                             .noise_sd = 1.0};
}

// The exact posterior by another road: two scores, Bayes' rule for a joint normal by hand.
static void test_growth__two_scores_by_the_book(void **state)
{
    (void)state;
    hw_growth_prior prior = plain_prior();
    hw_growth growth = hw_growth_begin(&prior);
    const double weeks[2] = {0.0, 6.0}, scores[2] = {8.0, 7.0};
    for (int i = 0; i < 2; i++) hw_growth_add(&growth, weeks[i], scores[i]);
    // Information form: precision = prior's + sum x x' / noise^2.
    double c00 = 1.8 * 1.8, c01 = 0.4 * 1.8 * 2.0, c11 = 4.0, det = c00 * c11 - c01 * c01;
    double p[3] = {c11 / det, -c01 / det, c00 / det};
    double h[2] = {p[0] * 6.5 + p[1] * 4.0, p[1] * 6.5 + p[2] * 4.0};
    for (int i = 0; i < 2; i++) {
        double f = exp(-weeks[i] / 10.0) - 1.0;
        p[0] += 1.0, p[1] += f, p[2] += f * f;
        h[0] += scores[i], h[1] += f * scores[i];
    }
    det = p[0] * p[2] - p[1] * p[1];
    CHECK_NEAR(growth.mean[0], (p[2] * h[0] - p[1] * h[1]) / det, 1e-10, "");
    CHECK_NEAR(growth.mean[1], (p[0] * h[1] - p[1] * h[0]) / det, 1e-10, "");
    CHECK_NEAR(growth.covariance[0], p[2] / det, 1e-10, "");
    CHECK_NEAR(growth.covariance[2], p[0] / det, 1e-10, "");
}

// On people drawn from the stated model a 90 % band covers the next score in 88 to 92 of a hundred.
static void test_growth__forecasts_cover(void **state)
{
    (void)state;
    int people = hw_test_rounds(20000), covered = 0;
    hw_growth_prior prior = plain_prior();
    hw_random random = hw_random_begin(5);
    for (int i = 0; i < people; i++) {
        double a = hw_random_normal(&random), b = hw_random_normal(&random);
        double level = 6.5 + 1.8 * a, fall = 4.0 + 2.0 * (0.4 * a + sqrt(1.0 - 0.16) * b);
        hw_growth growth = hw_growth_begin(&prior);
        for (int week = 0; week <= 6; week += 3)
            hw_growth_add(&growth, week,
                          level + fall * expm1(-week / 10.0) + hw_random_normal(&random));
        double next = level + fall * expm1(-1.2) + hw_random_normal(&random);
        hw_growth_view view = hw_growth_at(&growth, 12.0, 2.0);
        covered += next >= view.score_low && next <= view.score_high;
    }
    CHECK_NEAR((double)covered / people, 0.90, 0.02, "");
}

static void test_growth__chances_are_chances(void **state)
{
    (void)state;
    hw_growth_prior prior = plain_prior();
    hw_growth growth = hw_growth_begin(&prior);
    CHECK_NEAR(hw_growth_chance_of_fall(&growth, 1e9, 4.0), 0.5, 1e-9, "");
    CHECK_NEAR(hw_growth_chance_of_fall(&growth, 0.0, 1.0), 0.0, 0.0, "");
    hw_growth_add(&growth, 0.0, 9.0);
    assert_true(growth.surprise > 1.0); // 9 where 6.5 was expected
    CHECK_NEAR(hw_growth_at(&growth, 0.0, 100.0).chance_below, 1.0, 1e-12, "");
}

int run_course_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_survival__freireich),
        cmocka_unit_test(test_hazards__freireich),
        cmocka_unit_test(test_mixed__small_unbalanced_set),
        cmocka_unit_test(test_mixed__sleepstudy),
        cmocka_unit_test(test_growth__two_scores_by_the_book),
        cmocka_unit_test(test_growth__forecasts_cover),
        cmocka_unit_test(test_growth__chances_are_chances),
    };
    return cmocka_run_group_tests_name("stats course", tests, NULL, NULL);
}
