// SPDX-License-Identifier: GPL-3.0-or-later
// Causes, levers and the day: they add up, they are fair, they answer the question they were asked.
#include "suites.h"

// 95 kg on a foot whose reference mass is 75, and a calf 10 degrees below its norm.
static hw_mech_subject loaded_subject(bool heavy, bool tight)
{
    hw_mech_subject subject = plain_subject();
    if (heavy) subject.mass_kg = 95.0;
    if (tight) subject.calf_range_rad[HW_CALF_TEST_LUNGE] = hw_known(hw_rad_from_deg(28.0));
    return subject;
}

static hw_mech_causes causes_of(const hw_mech_subject *subject, hw_maybe reference)
{
    hw_test_room room = hw_test_open();
    hw_mech_causes causes = {0};
    CHECK_OK(&room.job, hw_mech_find_causes(&room.job, subject, reference, room.into, &causes));
    hw_test_close(&room);
    return causes;
}

static void test_causes__a_reference_foot_has_none(void **state)
{
    (void)state;
    hw_mech_subject subject = plain_subject();
    hw_mech_causes causes = causes_of(&subject, hw_known(75.0));
    assert_true(causes.is_known[HW_MECH_CAUSE_MASS] && !causes.is_known[HW_MECH_CAUSE_CALF]);
    for (int n = 0; n < HW_MECH_NUMBERS; n++) CHECK_NEAR(causes.total[n].mean, 0.0, 0.0, "");
}

static void test_causes__means_add_up_to_the_total(void **state)
{
    (void)state;
    hw_mech_subject subject = loaded_subject(true, true);
    subject.measures.dorsum_height_m = hw_known(0.058);
    subject.measures.truncated_length_m = hw_known(0.190);
    subject.measures.ball_breadth_m = hw_known(0.104);
    subject.shoe_pitch_m = 0.010;
    subject.speed_m_s = hw_known(1.1);
    hw_mech_own_walk own = hw_mech_norm_walk();
    for (int i = 0; i < HW_MECH_SOLVED; i++) own.pressure_x[i] += 0.01;
    subject.own_walk = &own;
    hw_mech_causes causes = causes_of(&subject, hw_known(75.0));
    assert_true(causes.failed_members <= 2);
    for (int n = 0; n < HW_MECH_NUMBERS; n++) {
        double sum = 0.0;
        for (int c = 0; c < HW_MECH_CAUSE_COUNT; c++) {
            assert_true(causes.is_known[c]);
            sum += causes.part[c][n].mean;
        }
        CHECK_NEAR(sum, causes.total[n].mean, 1e-12, "");
    }
    // A tight calf acts in mid-stance, weight everywhere.
    assert_true(causes.part[HW_MECH_CAUSE_CALF][HW_MECH_MIDSTANCE].mean > 0.03);
    assert_true(causes.part[HW_MECH_CAUSE_MASS][HW_MECH_PEAK].mean > 0.05);
    // Pressure further forward is a longer lever: statics.
    assert_true(causes.part[HW_MECH_CAUSE_WALK][HW_MECH_MIDSTANCE].mean > 0.01);
}

// Shapley 1953, the axiom of the null player: the norm's own walk, given as a recording, causes nothing,
// and what the others cause does not depend on its being there.
static void test_causes__the_norms_own_walk_is_no_cause(void **state)
{
    (void)state;
    hw_mech_subject subject = loaded_subject(true, true), recorded = subject;
    hw_mech_own_walk own = hw_mech_norm_walk();
    recorded.own_walk = &own;
    hw_mech_causes without = causes_of(&subject, hw_known(75.0));
    hw_mech_causes with = causes_of(&recorded, hw_known(75.0));
    assert_true(with.is_known[HW_MECH_CAUSE_WALK] && !without.is_known[HW_MECH_CAUSE_WALK]);
    for (int n = 0; n < HW_MECH_NUMBERS; n++) {
        CHECK_NEAR(with.part[HW_MECH_CAUSE_WALK][n].mean, 0.0, 0.0, "");
        CHECK_NEAR(with.part[HW_MECH_CAUSE_MASS][n].mean, without.part[HW_MECH_CAUSE_MASS][n].mean,
                   1e-12, "");
    }
}

// Walking at 1.0 instead of 1.3 m/s lowers early tension (Caravaggi 2010) and the model's peak.
static void test_causes__a_slow_walk_takes_from_the_peak(void **state)
{
    (void)state;
    hw_mech_subject subject = plain_subject(), slow = subject;
    slow.speed_m_s = hw_known(1.0);
    hw_mech_causes causes = causes_of(&slow, hw_known(75.0));
    hw_mech_part part = causes.part[HW_MECH_CAUSE_SPEED][HW_MECH_PEAK];
    assert_true(causes.is_known[HW_MECH_CAUSE_SPEED] && part.band.p95 < 0.0);
    CHECK_NEAR(part.mean, causes.total[HW_MECH_PEAK].mean, 1e-12, ""); // the only one
}

// Shapley 1953 for two: half of what each does alone and half of what it adds to the other.
static void test_causes__two_share_as_the_formula_says(void **state)
{
    (void)state;
    hw_maybe reference = hw_known(75.0);
    hw_mech_subject heavy = loaded_subject(true, false), both = loaded_subject(true, true);
    hw_mech_subject tight = loaded_subject(false, true);
    hw_mech_causes a = causes_of(&heavy, reference), b = causes_of(&tight, reference);
    hw_mech_causes ab = causes_of(&both, reference);
    for (int n = 0; n < HW_MECH_NUMBERS; n++) {
        double alone = a.total[n].mean, added = ab.total[n].mean - b.total[n].mean;
        CHECK_NEAR(ab.part[HW_MECH_CAUSE_MASS][n].mean, 0.5 * (alone + added), 1e-12, "");
    }
}

static void test_causes__a_calf_at_its_norm_is_no_cause(void **state)
{
    (void)state;
    hw_mech_subject subject = plain_subject();
    subject.calf_range_rad[HW_CALF_TEST_LUNGE] = hw_known(hw_rad_from_deg(40.0));
    hw_mech_causes causes = causes_of(&subject, hw_known(75.0));
    hw_band band = causes.part[HW_MECH_CAUSE_CALF][HW_MECH_MIDSTANCE].band;
    assert_true(band.p05 <= 0.001 && band.p95 >= -0.001);
}

static void test_levers__mass_reaches_the_reference_at_the_reference_mass(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = loaded_subject(true, false);
    hw_mech_lever_curve curves[HW_MECH_LEVER_COUNT];
    CHECK_OK(&room.job, hw_mech_try_levers(&room.job, &subject, hw_known(75.0), room.into, curves));
    const hw_mech_lever_curve *mass = &curves[HW_MECH_LEVER_MASS];
    assert_true(mass->reaches_reference.known);
    CHECK_NEAR(mass->reaches_reference.value, 1.0 - 75.0 / 95.0, 0.01, "");
    for (int i = 1; i < HW_MECH_LEVER_STEPS; i++)
        assert_true(mass->midstance[i].median < mass->midstance[i - 1].median);
    assert_false(curves[HW_MECH_LEVER_CALF].midstance[0].known); // no test was made
    assert_false(curves[HW_MECH_LEVER_CALF].reaches_reference.known);
    assert_true(curves[HW_MECH_LEVER_ARCH].midstance[7].median <
                curves[HW_MECH_LEVER_ARCH].midstance[0].median);
    hw_test_close(&room);
}

static void test_levers__a_calf_back_at_its_norm_is_enough(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = loaded_subject(false, true);
    hw_mech_lever_curve curves[HW_MECH_LEVER_COUNT];
    CHECK_OK(&room.job, hw_mech_try_levers(&room.job, &subject, hw_known(75.0), room.into, curves));
    const hw_mech_lever_curve *calf = &curves[HW_MECH_LEVER_CALF];
    assert_true(calf->midstance[0].median > 1.03);
    // Twelve degrees below the norm's middle: beyond that nothing is left to gain.
    assert_true(calf->midstance[HW_MECH_LEVER_STEPS - 1].median < 1.005);
    assert_true(calf->flattens_at.known);
    assert_true(hw_deg_from_rad(calf->flattens_at.value) < 12.5);
    hw_test_close(&room);
}

static void test_day__adds_up(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = plain_subject();
    hw_mech_day once, twice, still;
    CHECK_OK(&room.job, hw_mech_sum_day(&room.job, &subject, 6000, 3, room.into, &once));
    CHECK_OK(&room.job, hw_mech_sum_day(&room.job, &subject, 12000, 6, room.into, &twice));
    CHECK_OK(&room.job, hw_mech_sum_day(&room.job, &subject, 0, 6, room.into, &still));
    CHECK_NEAR(twice.walking.median, 2.0 * once.walking.median, 1e-12, "BW h");
    CHECK_NEAR(twice.standing.median, 2.0 * once.standing.median, 1e-12, "BW h");
    CHECK_NEAR(still.walking.median, 0.0, 0.0, "BW h");
    // 3,000 stances of 0.7 s at a mean of about 0.4 BW: 0.58 h of standing-like time.
    CHECK_NEAR(once.walking.median, 3000 * 0.7 / 3600.0 * 0.37, 0.05, "BW h");
    CHECK_FAILS(&room.job, hw_mech_sum_day(&room.job, &subject, -1, 3, room.into, &once),
                HW_BAD_INPUT, "steps");
    hw_test_close(&room);
}

int run_cause_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_causes__a_reference_foot_has_none),
        cmocka_unit_test(test_causes__means_add_up_to_the_total),
        cmocka_unit_test(test_causes__two_share_as_the_formula_says),
        cmocka_unit_test(test_causes__the_norms_own_walk_is_no_cause),
        cmocka_unit_test(test_causes__a_slow_walk_takes_from_the_peak),
        cmocka_unit_test(test_causes__a_calf_at_its_norm_is_no_cause),
        cmocka_unit_test(test_levers__mass_reaches_the_reference_at_the_reference_mass),
        cmocka_unit_test(test_levers__a_calf_back_at_its_norm_is_enough),
        cmocka_unit_test(test_day__adds_up),
    };
    return cmocka_run_group_tests_name("mech causes", tests, NULL, NULL);
}
