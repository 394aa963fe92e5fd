// SPDX-License-Identifier: GPL-3.0-or-later
// Bands hold what they promise: on feet drawn from the stated model and measured with the stated
// errors, a 90 % band of a change covers the foot's own change in 87 to 93 of a hundred.
#include "suites.h"

enum { CHANGES = 3 };

static double within(hw_random *random, double most)
{
    return most * (2.0 * hw_random_uniform(random) - 1.0);
}

// A person as they are, and as they are measured: errors as in subject.c.
typedef struct drawn_person {
    hw_mech_view real;
    hw_mech_tissue tissue;
    hw_mech_subject measured;
} drawn_person;

static drawn_person draw_person(hw_random *random)
{
    drawn_person person = {0};
    double length = 0.255 + within(random, 0.015), mass = 75.0 + within(random, 20.0);
    double instep = 0.264 * length + within(random, 0.004); // the hinge's scaled height and 19 mm
    double norm = hw_rad_from_deg(40.0 + within(random, 5.0));
    double lunge = hw_rad_from_deg(36.0 + within(random, 8.0));
    int member = (int)(hw_random_uniform(random) * HW_MECH_MEMBERS);
    person.tissue = hw_mech_tissue_member(member);
    person.tissue.calf_limit_rad += lunge - norm;
    person.real = (hw_mech_view){.mass = mass, .length = length, .speed = HW_MECH_NORM_SPEED};
    person.real.hinge_height = hw_known(instep - 0.019 + within(random, 0.003));
    person.measured.mass_kg = mass * (1.0 + within(random, 0.02));
    person.measured.loading = HW_LOADING_HANGING;
    person.measured.measures.foot_length_m = hw_known(length + within(random, 0.001));
    person.measured.measures.dorsum_height_m = hw_known(instep + within(random, 0.002));
    person.measured.calf_range_rad[HW_CALF_TEST_LUNGE] =
        hw_known(lunge + within(random, hw_rad_from_deg(4.0)));
    return person;
}

static void set_changes(hw_mech_change *changes)
{
    for (int i = 0; i < CHANGES; i++) changes[i] = hw_mech_change_none("change");
    changes[0].is_taped = true;
    changes[1].has_orthosis = true;
    changes[2].calf_gain_rad = hw_rad_from_deg(4.0);
}

static int count_covered(const drawn_person *person, const hw_mech_change *changes,
                         const hw_mech_result *result)
{
    hw_mech_change none = hw_mech_change_none("today");
    hw_mech_run today, changed;
    int covered = 0;
    hw_mech_march(&person->real, &person->tissue, &none, &today);
    for (int i = 0; i < CHANGES; i++) {
        hw_band band = result->effects[i].midstance.change;
        hw_mech_march(&person->real, &person->tissue, &changes[i], &changed);
        double own = changed.midstance_bw / today.midstance_bw - 1.0;
        assert_int_equal(today.failed_instants + changed.failed_instants, 0);
        covered += own >= band.p05 - 1e-9 && own <= band.p95 + 1e-9;
    }
    return covered;
}

static void test_coverage__bands_hold_what_they_promise(void **state)
{
    (void)state;
    int rounds = hw_test_rounds(300), covered = 0;
    hw_random random = hw_random_begin(41);
    hw_mech_change changes[CHANGES];
    set_changes(changes);
    for (int i = 0; i < rounds; i++) {
        hw_test_room room = hw_test_open();
        drawn_person person = draw_person(&random);
        hw_mech_result result = {0};
        CHECK_OK(&room.job,
                 hw_mech_assess(&room.job, &person.measured, changes, CHANGES, room.into, &result));
        covered += count_covered(&person, changes, &result);
        hw_test_close(&room);
    }
    double share = (double)covered / (CHANGES * rounds);
    print_message("90 %% bands cover %.1f %% of %d changes\n", 100.0 * share, CHANGES * rounds);
    // A tenth of the rounds leaves chance a standard error of 2 points and more.
    double slack = rounds >= 300 ? 0.03 : 0.09;
    CHECK_NEAR(share, 0.90, slack, "");
}

int run_coverage_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_coverage__bands_hold_what_they_promise),
    };
    return cmocka_run_group_tests_name("mech coverage", tests, NULL, NULL);
}
