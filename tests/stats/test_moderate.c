// SPDX-License-Identifier: GPL-3.0-or-later
// Meta-regression and the filled funnel against metafor's results; the reference files stand in the shared
// data (statistics/README.md) and are left out by name where it is absent.
#include "suites.h"

enum { BCG = 13 };

// BCG vaccine trials, log risk ratios; latitude (Colditz 1994 JAMA 271:698, published facts).
static const hw_two_by_two bcg[BCG] = {
    {4, 119, 11, 128},       {6, 300, 29, 274},        {3, 228, 11, 209},
    {62, 13536, 248, 12619}, {33, 5036, 47, 5761},     {180, 1361, 372, 1079},
    {8, 2537, 10, 619},      {505, 87886, 499, 87892}, {29, 7470, 45, 7232},
    {17, 1699, 65, 1600},    {186, 50448, 141, 27197}, {5, 2493, 3, 2338},
    {27, 16886, 29, 17825},
};
static const double latitude[BCG] = {44, 55, 42, 52, 13, 44, 19, 13, 27, 42, 18, 33, 33};

static void bcg_effects(hw_trial_effect effects[BCG])
{
    for (int i = 0; i < BCG; i++) effects[i] = hw_effect_log_risk_ratio(&bcg[i]);
}

// metafor 3.8.1: rma(yi, vi, mods = ablat), test z and knha (r_reference.json; standards.md 10.1). Its search
// ends at 1e-5 of tau2; the bound for searches is 1e-4 of the value.
static void test_moderated__bcg_by_latitude(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_trial_effect effects[BCG];
    hw_moderated got = {0};
    bcg_effects(effects);
    CHECK_OK(&room.job,
             hw_pool_moderated(&room.job, effects, latitude, 1, BCG, HW_POOL_REML, &got));
    CHECK_NEAR(got.tau2, 0.0763546947056598, 1e-5, "");
    CHECK_NEAR(got.value[0], 0.251464294374286, 2e-5, "");
    CHECK_NEAR(got.value[1], -0.0291016609280149, 1e-6, "");
    CHECK_NEAR(got.se[0], 0.249103666389133, 1e-5, "");
    CHECK_NEAR(got.se[1], 0.00719555475708092, 5e-7, "");
    CHECK_NEAR(got.p[1], 5.24585597430599e-05, 5e-8, "");
    CHECK_NEAR(got.hk_se[0], 0.283930037419131, 2e-5, "");
    CHECK_NEAR(got.hk_se[1], 0.00820154179600833, 5e-7, "");
    CHECK_NEAR(got.hk_p[1], 0.00456554558895659, 5e-7, "");
    CHECK_NEAR(got.q, 30.7330900107493, 1e-9, "");
    CHECK_NEAR(got.q_p, 0.00121429098742, 1e-11, "");
    const double qm = got.value[1] * got.value[1] / (got.se[1] * got.se[1]);
    CHECK_NEAR(qm, 16.3571, 2e-3, ""); // of the moderator
    CHECK_NEAR(100.0 * (1.0 - got.tau2 / 0.313243), 75.62, 0.01, "%");
    hw_test_close(&room);
}

// metafor 3.8.1: trimfill of the REML and the DerSimonian-Laird fit; one trial added on the right.
static void test_filled__bcg(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_trial_effect effects[BCG];
    hw_filled got = {0};
    bcg_effects(effects);
    CHECK_OK(&room.job, hw_pool_filled(&room.job, effects, BCG, HW_POOL_REML, &got));
    assert_int_equal(got.added, 1);
    assert_false(got.on_the_left);
    CHECK_NEAR(got.mean, -0.657082800760365, 1e-6, "");
    CHECK_NEAR(got.se, 0.17852846695558, 1e-6, "");
    CHECK_OK(&room.job, hw_pool_filled(&room.job, effects, BCG, HW_POOL_DL, &got));
    CHECK_NEAR(got.mean, -0.6561, 5e-5, "");
    for (int i = 0; i < BCG; i++) effects[i].effect = -effects[i].effect;
    CHECK_OK(&room.job, hw_pool_filled(&room.job, effects, BCG, HW_POOL_DL, &got));
    CHECK_NEAR(got.mean, 0.6561, 5e-5, "");
    assert_true(got.on_the_left);
    CHECK_FAILS(&room.job, hw_pool_filled(&room.job, effects, 9, HW_POOL_DL, &got), HW_BAD_INPUT,
                "below 10");
    hw_test_close(&room);
}

static void test_moderated__what_cannot_be_fitted_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_trial_effect effects[BCG];
    double same[BCG] = {0};
    hw_moderated got = {0};
    bcg_effects(effects);
    CHECK_FAILS(&room.job, hw_pool_moderated(&room.job, effects, same, 1, BCG, HW_POOL_REML, &got),
                HW_BAD_INPUT, "same in all");
    CHECK_FAILS(&room.job,
                hw_pool_moderated(&room.job, effects, latitude, 1, 2, HW_POOL_REML, &got),
                HW_BAD_INPUT, "too few");
    same[3] = NAN;
    CHECK_FAILS(&room.job, hw_pool_moderated(&room.job, effects, same, 1, BCG, HW_POOL_REML, &got),
                HW_BAD_INPUT, "moderator 1 of trial 4");
    effects[5].variance = 0.0;
    CHECK_FAILS(&room.job, hw_pool_moderated(&room.job, effects, NULL, 0, BCG, HW_POOL_DL, &got),
                HW_BAD_INPUT, "trial 6");
    hw_test_close(&room);
}

int run_moderate_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_moderated__bcg_by_latitude),
        cmocka_unit_test(test_filled__bcg),
        cmocka_unit_test(test_moderated__what_cannot_be_fitted_is_refused),
    };
    return cmocka_run_group_tests_name("stats moderate", tests, NULL, NULL);
}
