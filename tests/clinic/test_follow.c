// SPDX-License-Identifier: GPL-3.0-or-later
// A heel followed: a good course, a bad one, one that comes back.
#include "near.h"
#include "num/num.h"
#include "person.h"
#include <math.h>

static hw_follow_up follow(const hw_pain_score *scores, int count)
{
    hw_test_room room = hw_test_open();
    hw_follow_up out = {0};
    CHECK_OK(&room.job, hw_follow_pain(&room.job, HW_PAIN_FIRST_STEP, scores, count, &out));
    hw_test_close(&room);
    return out;
}

static bool signals(const hw_follow_up *of, const char *part)
{
    for (int i = 0; i < of->signal_count; i++)
        if (strstr(of->signals[i], part)) return true;
    return false;
}

// Smallest change that matters: 19 mm first step, 8 mm average of 100 (Landorf 2010).
static void test_follow__what_matters_is_published(void **state)
{
    (void)state;
    CHECK_NEAR(hw_pain_scale_of(HW_PAIN_FIRST_STEP).matters.value, 1.9, 1e-12, "points");
    CHECK_NEAR(hw_pain_scale_of(HW_PAIN_AVERAGE).matters.value, 0.8, 1e-12, "points");
    assert_false(hw_pain_scale_of(HW_PAIN_ACTIVITY).matters.known);
    assert_int_equal(hw_pain_from_word("average"), HW_PAIN_AVERAGE);
    assert_int_equal(hw_pain_from_word("worst"), HW_PAIN_KINDS);
}

static void test_follow__a_heel_that_gets_well(void **state)
{
    (void)state;
    static const hw_pain_score scores[] = {{0, 8}, {4, 5.5}, {8, 3.5}, {12, 2}};
    hw_follow_up of = follow(scores, 4);
    assert_int_equal(of.signal_count, 0);
    assert_true(of.chance_gone_26 > 0.6 && of.chance_matters_12.value > 0.98);
    hw_follow_up start = follow(scores, 1);
    assert_true(start.chance_gone_26 < of.chance_gone_26);
    // The band narrows with every score.
    for (int i = 0; i < HW_FOLLOW_POINTS; i++) {
        double before = start.view[i].high - start.view[i].low;
        hw_growth_view now = of.view[i];
        if (start.week[i] == of.week[i]) assert_true(now.high - now.low < before + 1e-12);
        assert_true(now.low < now.mean && now.mean < now.high);
        assert_true(now.score_low < now.low && now.score_high > now.high);
    }
}

static void test_follow__signals(void **state)
{
    (void)state;
    static const hw_pain_score worse[] = {{0, 5}, {2, 4}, {4, 3.5}, {6, 8}};
    static const hw_pain_score back[] = {{0, 7}, {8, 2}, {16, 1}, {24, 5}};
    static const hw_pain_score slow[] = {{0, 8}, {4, 8}, {8, 8}, {12, 7.5}};
    hw_follow_up a = follow(worse, 4), b = follow(back, 4), c = follow(slow, 4);
    assert_true(signals(&a, "off course"));
    assert_true(signals(&b, "come back"));
    assert_true(signals(&c, "slow"));
}

static void test_follow__bad_scores_are_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    static const hw_pain_score over[] = {{0, 11}}, past[] = {{4, 5}, {2, 5}};
    hw_follow_up out = {0};
    CHECK_FAILS(&room.job, hw_follow_pain(&room.job, HW_PAIN_AVERAGE, over, 1, &out), HW_BAD_INPUT,
                "0 to 10");
    CHECK_FAILS(&room.job, hw_follow_pain(&room.job, HW_PAIN_AVERAGE, past, 2, &out), HW_BAD_INPUT,
                "go back");
    CHECK_FAILS(&room.job, hw_follow_pain(&room.job, HW_PAIN_AVERAGE, past, 0, &out), HW_BAD_INPUT,
                "no score");
    hw_test_close(&room);
}

// On people drawn from the stated prior of the program its own 90 % bands hold 88 to 92 of a hundred, for
// a rating and for the person's level; docs/forecast-coverage.md has what happens where the model is wrong.
static void test_follow__bands_cover_people_of_the_stated_model(void **state)
{
    (void)state;
    const hw_growth_prior prior = hw_pain_scale_of(HW_PAIN_FIRST_STEP).prior;
    const int people = hw_test_rounds(40000);
    hw_random random = hw_random_begin(7);
    int scores = 0, levels = 0, relapsed = 0;
    for (int i = 0; i < people; i++) {
        const double a = hw_random_normal(&random), b = hw_random_normal(&random);
        const double level = prior.level_mean + prior.level_sd * a, r = prior.correlation;
        const double fall = prior.fall_mean + prior.fall_sd * (r * a + sqrt(1.0 - r * r) * b);
        hw_growth growth = hw_growth_begin(&prior);
        for (int week = 0; week <= 8; week += 4)
            hw_growth_add(&growth, week,
                          level + fall * expm1(-week / prior.weeks) +
                              prior.noise_sd * hw_random_normal(&random));
        const double then = level + fall * expm1(-26.0 / prior.weeks);
        const double score = then + prior.noise_sd * hw_random_normal(&random);
        const hw_growth_view view = hw_growth_at(&growth, 26.0, 2.0);
        levels += then >= view.low && then <= view.high;
        scores += score >= view.score_low && score <= view.score_high;
        relapsed += level >= view.low && level <= view.high; // back where it began: not foreseen
    }
    CHECK_NEAR((double)scores / people, 0.90, 0.02, "");
    CHECK_NEAR((double)levels / people, 0.90, 0.02, "");
    assert_true(relapsed < 0.88 * people); // the model is known to fall short there
}

int test_clinic_follow(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_follow__what_matters_is_published),
        cmocka_unit_test(test_follow__a_heel_that_gets_well),
        cmocka_unit_test(test_follow__signals),
        cmocka_unit_test(test_follow__bad_scores_are_refused),
        cmocka_unit_test(test_follow__bands_cover_people_of_the_stated_model),
    };
    return cmocka_run_group_tests_name("clinic follow", tests, NULL, NULL);
}
