// SPDX-License-Identifier: GPL-3.0-or-later
// The rows of trials against what their papers print and what follows from it.
#include "near.h"
#include "person.h"

static const hw_trial *trial_named(const char *id)
{
    int count;
    const hw_trial *rows = hw_trials(&count);
    for (int i = 0; i < count; i++)
        if (strcmp(rows[i].id, id) == 0) return &rows[i];
    fail_msg("no trial '%s'", id);
    return NULL;
}

static void test_trials__every_row_can_be_read(void **state)
{
    (void)state;
    int count;
    const hw_trial *rows = hw_trials(&count);
    assert_true(count >= 30);
    for (int i = 0; i < count; i++) {
        const hw_trial *row = &rows[i];
        assert_true(row->weeks > 0.0);
        assert_true(strcmp(row->status, "seen") == 0 || strcmp(row->status, "memory") == 0);
        if (row->low.known) assert_true(row->low.value < row->high.value);
        if (row->low.known)
            assert_true(row->difference.value > row->low.value &&
                        row->difference.value < row->high.value);
        if (row->events_a >= 0)
            assert_true(row->events_a <= row->count_a && row->events_b <= row->count_b);
        for (int j = 0; j < i; j++) assert_string_not_equal(row->id, rows[j].id);
    }
}

// Printed p: Radford 2006 .017, Cotchett 2014 .002 and .029, McMillan 2012 .03, Rathleff .016.
static void test_trials__printed_p_follow_from_printed_intervals(void **state)
{
    (void)state;
    static const struct {
        const char *id;
        double p;
    } rows[] = {{"radford2006", .0170},   {"radford2007", .1384},  {"cotchett2014", .0020},
                {"cotchett2014f", .0303}, {"mcmillan2012", .0245}, {"mcmillan2012t", .045},
                {"rathleff2015", .0135},  {"peerbooms2019", .0117}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double p;
        bool contradicts;
        assert_true(hw_trial_p(trial_named(rows[i].id), &p, &contradicts));
        CHECK_NEAR(p, rows[i].p, 6e-4, "");
        assert_false(contradicts);
    }
    // NICE prints .008 where its own counts give .0036: flagged, not dropped.
    double p;
    bool contradicts;
    assert_true(hw_trial_p(trial_named("ogden-nice"), &p, &contradicts));
    assert_true(contradicts && p < .005);
    assert_false(hw_trial_p(trial_named("wheeler2017"), &p, &contradicts)); // no spread printed
}

// Hedges' g as recomputed in the facts from the printed means; positive is better for the treated.
static void test_trials__standardised_differences(void **state)
{
    (void)state;
    hw_trial_effect effect;
    assert_true(hw_trial_standardised(trial_named("hyland2006a"), &effect));
    CHECK_NEAR(effect.effect, 2.1919, 1e-3, "");
    assert_true(hw_trial_standardised(trial_named("rompe2003"), &effect));
    CHECK_NEAR(effect.effect, 1.3103, 1e-3, "");
    assert_true(hw_trial_standardised(trial_named("buchbinder2002-12"), &effect));
    CHECK_NEAR(effect.effect, 0.0171, 1e-3, "");
    CHECK_NEAR(sqrt(effect.variance), 0.1553, 1e-4, "");
    // From an interval: z is kept, so the sign and the verdict are.
    assert_true(hw_trial_standardised(trial_named("radford2006"), &effect));
    CHECK_NEAR(effect.effect / sqrt(effect.variance), 2.387, 0.08, "");
    assert_false(hw_trial_standardised(trial_named("soothe2019-4"), &effect)); // split not known
    assert_true(hw_trial_log_odds(trial_named("mardani2015"), &effect));
    CHECK_NEAR(exp(-effect.effect), 7.347, 1e-3, ""); // more failures with shockwave
}

static const hw_trials_pool *pool_named(const hw_trials_pool *pools, int count, const char *name)
{
    for (int i = 0; i < count; i++)
        if (strcmp(pools[i].name, name) == 0) return &pools[i];
    fail_msg("no pool '%s'", name);
    return NULL;
}

// An own trial that counts successes, named for a pool of standardised differences: once its log odds were
// mixed in, and the pool's scale became that of whichever row came last.
static void test_pools__a_trial_of_another_scale_is_left_out_with_words(void **state)
{
    (void)state;
    const char *pools_of[2] = {trial_named("hyland2006a")->pool, trial_named("ogden-nice")->pool};
    const hw_trial own[2] = {{.id = "own-1",
                              .source = "invented counts",
                              .treatment = "tape",
                              .control = "sham",
                              .weeks = 1,
                              .count_a = 30,
                              .count_b = 30,
                              .events_a = 20,
                              .events_b = 10,
                              .pool = pools_of[0]},
                             {.id = "own-2",
                              .source = "invented means",
                              .treatment = "shockwave",
                              .control = "sham",
                              .weeks = 12,
                              .count_a = 30,
                              .count_b = 30,
                              .mean_a = {3, true},
                              .sd_a = {2, true},
                              .mean_b = {5, true},
                              .sd_b = {2, true},
                              .events_a = -1,
                              .events_b = -1,
                              .pool = pools_of[1]}};
    hw_test_room room = hw_test_open();
    const hw_trial *rows = NULL;
    hw_trials_pool *before = NULL, *after = NULL;
    int table = 0, count = 0, found[2] = {0};
    const hw_trial *all = hw_trials(&table);
    CHECK_OK(&room.job, hw_trials_with(&room.job, own, 2, room.into, &rows, &count));
    CHECK_OK(&room.job, hw_pools_of(&room.job, all, table, room.into, &before, &found[0]));
    CHECK_OK(&room.job, hw_pools_of(&room.job, rows, count, room.into, &after, &found[1]));
    for (int i = 0; i < 2; i++) {
        const hw_trials_pool *was = pool_named(before, found[0], pools_of[i]);
        const hw_trials_pool *is = pool_named(after, found[1], pools_of[i]);
        assert_int_equal(is->is_ratio, i == 1);
        assert_int_equal(is->count, was->count);
        assert_int_equal(is->left_out_count, was->left_out_count + 1);
        assert_string_equal(is->left_out[is->left_out_count - 1].trial->id, own[i].id);
        assert_non_null(is->left_out[is->left_out_count - 1].why);
        CHECK_NEAR(is->methods[HW_POOL_REML].of.mean, was->methods[HW_POOL_REML].of.mean, 0.0, "");
        assert_int_equal(is->has_tables, i == 1);
    }
    hw_test_close(&room);
}

// Ten trials of one and the same spread: the funnel cannot be said, and everything else can.
static void test_pools__a_funnel_that_cannot_be_said_fails_nothing_else(void **state)
{
    (void)state;
    enum { TRIALS = 10 };
    hw_trial rows[TRIALS];
    hw_test_room room = hw_test_open();
    hw_trials_pool *pools = NULL;
    int count = 0;
    for (int i = 0; i < TRIALS; i++)
        rows[i] = (hw_trial){.id = "own",
                             .source = "invented",
                             .treatment = "a",
                             .control = "b",
                             .weeks = 2.0 + i,
                             .count_a = 40,
                             .count_b = 40,
                             .events_a = i % 2 ? 20 : 10,
                             .events_b = i % 2 ? 10 : 20,
                             .pool = "of one spread"};
    CHECK_OK(&room.job, hw_pools_of(&room.job, rows, TRIALS, room.into, &pools, &count));
    assert_int_equal(count, 1);
    assert_non_null(strstr(pools[0].no_funnel, "same"));
    assert_null(pools[0].methods[HW_POOL_REML].why);
    CHECK_NEAR(pools[0].methods[HW_POOL_REML].of.mean, 0.0, 1e-9, "");
    CHECK_NEAR(pools[0].mantel_haenszel.effect, 0.0, 1e-9, "");
    assert_null(pools[0].no_horizon);
    hw_test_close(&room);
}

// Successes rise with the weeks: the slope is that of the regression, which tests/stats holds against metafor.
static void test_pools__the_horizon_is_a_regression_on_the_weeks(void **state)
{
    (void)state;
    enum { TRIALS = 12 };
    hw_trial rows[TRIALS];
    hw_trial_effect effects[TRIALS];
    double weeks[TRIALS];
    hw_test_room room = hw_test_open();
    hw_trials_pool *pools = NULL;
    hw_moderated want = {0};
    int count = 0;
    for (int i = 0; i < TRIALS; i++) {
        weeks[i] = 2.0 + 3.0 * i;
        rows[i] = (hw_trial){.id = "own",
                             .source = "invented",
                             .treatment = "a",
                             .control = "b",
                             .weeks = weeks[i],
                             .count_a = 40 + i,
                             .count_b = 50,
                             .events_a = 10 + 2 * i,
                             .events_b = 22 - i % 3,
                             .pool = "over time"};
        assert_true(hw_trial_log_odds(&rows[i], &effects[i]));
    }
    CHECK_OK(&room.job, hw_pools_of(&room.job, rows, TRIALS, room.into, &pools, &count));
    CHECK_OK(&room.job,
             hw_pool_moderated(&room.job, effects, weeks, 1, TRIALS, HW_POOL_REML, &want));
    assert_null(pools[0].no_horizon);
    CHECK_NEAR(pools[0].horizon.value[1], want.value[1], 1e-12, "");
    assert_true(pools[0].horizon.value[1] > 0.0 && pools[0].horizon.p[1] < 0.05);
    assert_null(pools[0].no_funnel);
    hw_test_close(&room);
}

int test_clinic_trials(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_trials__every_row_can_be_read),
        cmocka_unit_test(test_trials__printed_p_follow_from_printed_intervals),
        cmocka_unit_test(test_trials__standardised_differences),
        cmocka_unit_test(test_pools__a_trial_of_another_scale_is_left_out_with_words),
        cmocka_unit_test(test_pools__a_funnel_that_cannot_be_said_fails_nothing_else),
        cmocka_unit_test(test_pools__the_horizon_is_a_regression_on_the_weeks),
    };
    return cmocka_run_group_tests_name("clinic trials", tests, NULL, NULL);
}
