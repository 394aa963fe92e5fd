// SPDX-License-Identifier: GPL-3.0-or-later
// The assessment: what is unknown stays unknown, each calf test has its norm, the same bits twice.
#include "suites.h"

#include <sched.h>

static hw_mech_result assess(hw_test_room *room, const hw_mech_subject *subject,
                             const hw_mech_change *changes, int count)
{
    hw_mech_result result = {0};
    CHECK_OK(&room->job, hw_mech_assess(&room->job, subject, changes, count, room->into, &result));
    return result;
}

static bool says(const char *const *list, int count, const char *part)
{
    for (int i = 0; i < count; i++)
        if (strstr(list[i], part)) return true;
    return false;
}

// A norm is where healthy people are, so such a person's calf must not read as tight. Norms:
// Baumbach 2014 (knee straight 4 degrees, loaded 25, bent 20, lunge 39), common practice (knee
// straight 10-15, lunge 35-45), Irving 2007 (lunge 40.5).
static void test_assess__a_calf_at_any_norm_costs_nothing(void **state)
{
    (void)state;
    static const struct {
        hw_calf_test test;
        double degrees;
    } norms[] = {{HW_CALF_TEST_KNEE_STRAIGHT, 4.0},
                 {HW_CALF_TEST_KNEE_STRAIGHT, 12.5},
                 {HW_CALF_TEST_KNEE_STRAIGHT_LOADED, 25.0},
                 {HW_CALF_TEST_LUNGE, 39.0},
                 {HW_CALF_TEST_LUNGE, 40.5},
                 {HW_CALF_TEST_KNEE_BENT, 20.0}};
    hw_test_room room = hw_test_open();
    for (size_t i = 0; i < sizeof norms / sizeof norms[0]; i++) {
        hw_mech_subject subject = plain_subject();
        subject.calf_range_rad[norms[i].test] = hw_known(hw_rad_from_deg(norms[i].degrees));
        hw_mech_change at_norm = hw_mech_change_none("calf at its norm");
        at_norm.calf_at_norm = true;
        hw_mech_result result = assess(&room, &subject, &at_norm, 1);
        assert_int_equal(result.calf_test, norms[i].test);
        hw_band change = result.effects[0].midstance.change;
        assert_true(change.known && change.p05 <= 0.001 && change.p95 >= -0.001); // to 0.1 %
        CHECK_NEAR(change.median, 0.0, 0.03, "");
    }
    hw_test_close(&room);
}

// 5 degrees are mildly little with the knee straight; 15 are very little in a lunge.
static void test_assess__each_calf_test_is_read_on_its_own_scale(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_change at_norm = hw_mech_change_none("calf at its norm");
    at_norm.calf_at_norm = true;
    hw_mech_subject straight = plain_subject(), lunge = straight;
    straight.calf_range_rad[HW_CALF_TEST_KNEE_STRAIGHT] = hw_known(hw_rad_from_deg(5.0));
    lunge.calf_range_rad[HW_CALF_TEST_LUNGE] = hw_known(hw_rad_from_deg(15.0));
    double mild = assess(&room, &straight, &at_norm, 1).effects[0].midstance.change.median;
    double severe = assess(&room, &lunge, &at_norm, 1).effects[0].midstance.change.median;
    assert_true(mild > -0.10 && severe < -0.30);
    hw_test_close(&room);
}

static void test_assess__the_knee_straight_test_goes_before_the_lunge(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject both = plain_subject(), one = both;
    one.calf_range_rad[HW_CALF_TEST_KNEE_STRAIGHT] = hw_known(hw_rad_from_deg(-2.0));
    both.calf_range_rad[HW_CALF_TEST_KNEE_STRAIGHT] = hw_known(hw_rad_from_deg(-2.0));
    both.calf_range_rad[HW_CALF_TEST_LUNGE] = hw_known(hw_rad_from_deg(42.0));
    hw_mech_result a = assess(&room, &one, NULL, 0), b = assess(&room, &both, NULL, 0);
    assert_int_equal(b.calf_test, HW_CALF_TEST_KNEE_STRAIGHT);
    CHECK_NEAR(b.midstance_bw.median, a.midstance_bw.median, 0.0, "BW");
    assert_true(says(b.assumptions, b.assumption_count, "gastrocnemius"));
    assert_false(says(a.assumptions, a.assumption_count, "gastrocnemius"));
    hw_test_close(&room);
}

// What a shell does at push-off is not known; it must never be shown as 0.
static void test_assess__the_peak_under_a_device_is_unknown_also_in_combinations(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = plain_subject();
    hw_mech_change changes[3] = {hw_mech_change_none("shell"), hw_mech_change_none("with toes"),
                                 hw_mech_change_none("full length")};
    for (int i = 0; i < 3; i++) changes[i].has_orthosis = true;
    changes[1].toe_factor = 0.6;
    changes[2].orthosis_reaches_heads = true;
    hw_mech_result result = assess(&room, &subject, changes, 3);
    for (int i = 0; i < 3; i++) {
        const hw_mech_effect *effect = &result.effects[i];
        assert_false(effect->peak.change.known);
        assert_non_null(effect->peak.change.why);
        CHECK_NEAR(effect->peak.chance_of_tenth_less, 0.0, 0.0, "");
        assert_true(effect->midstance.change.known && effect->impulse.change.known);
        assert_true(says(effect->cautions, effect->caution_count, "Load is not pain"));
    }
    assert_non_null(strstr(result.effects[0].peak.change.why, "behind the metatarsal heads"));
    assert_non_null(strstr(result.effects[2].peak.change.why, "full-length"));
    hw_test_close(&room);
}

// 'Not asked' is not 'normal': what a stretch does depends on the range there is.
static void test_assess__without_a_calf_test_a_stretch_is_unknown(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = plain_subject();
    hw_mech_change changes[2] = {hw_mech_change_none("stretch"), hw_mech_change_none("tape")};
    changes[0].calf_gain_rad = 0.07;
    changes[1].is_taped = true;
    hw_mech_result result = assess(&room, &subject, changes, 2);
    assert_false(result.effects[0].midstance.change.known);
    assert_false(result.effects[0].tension_bw[20].known);
    assert_non_null(strstr(result.effects[0].midstance.change.why, "not measured"));
    assert_true(result.effects[1].midstance.change.known);
    assert_true(says(result.assumptions, result.assumption_count, "calf's range is not known"));
    hw_test_close(&room);
}

static void test_assess__no_change_changes_nothing(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = plain_subject();
    char name[] = "nothing";
    hw_mech_change none = hw_mech_change_none(name);
    hw_mech_result result = assess(&room, &subject, &none, 1);
    name[0] = 'N'; // the effect keeps its own copy
    assert_string_equal(result.effects[0].name, "nothing");
    CHECK_NEAR(result.effects[0].peak.change.p05, 0.0, 0.0, "");
    CHECK_NEAR(result.effects[0].impulse.change.p95, 0.0, 0.0, "");
    for (int p = 0; p < HW_MECH_POINTS; p++)
        CHECK_NEAR(result.effects[0].tension_bw[p].median, result.tension_bw[p].median, 0.0, "BW");
    hw_test_close(&room);
}

static void test_assess__the_ends_of_stance_are_marked_as_not_solved(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = plain_subject();
    hw_mech_result result = assess(&room, &subject, NULL, 0);
    for (int p = 0; p < HW_MECH_POINTS; p++) {
        CHECK_NEAR(result.percent[p], 2.5 * p, 0.0, "%");
        assert_int_equal(result.is_solved[p], p >= 5 && p <= 37); // 12.5 to 92.5 %
    }
    CHECK_NEAR(result.tension_bw[0].median, 0.0, 0.0, "BW");
    CHECK_NEAR(result.tension_bw[40].median, 0.0, 0.0, "BW");
    assert_true(result.iterations_worst > 0 && result.residual_worst > 0.0);
    hw_test_close(&room);
}

// The instep measured standing is lower than hanging; told so, the model must end near the same
// arch, and say what it did.
static void test_assess__the_loading_of_the_measure_counts(void **state)
{
    (void)state;
    hw_mech_subject hanging = plain_subject(), standing = hanging, unsaid = hanging;
    hanging.measures.dorsum_height_m = hw_known(0.068);
    standing.measures.dorsum_height_m = hw_known(0.058); // 10 mm less: McPoil 2008
    standing.loading = HW_LOADING_STANDING;
    unsaid.measures.dorsum_height_m = hw_known(0.063);
    unsaid.loading = HW_LOADING_UNKNOWN;
    CHECK_NEAR(hw_mech_view_plain(&hanging).hinge_height.value, 0.068 - 0.019, 1e-12, "m");
    CHECK_NEAR(hw_mech_view_plain(&standing).hinge_height.value, 0.068 - 0.019, 1e-12, "m");
    hw_test_room room = hw_test_open();
    hw_mech_result a = assess(&room, &hanging, NULL, 0), b = assess(&room, &standing, NULL, 0);
    hw_mech_result c = assess(&room, &unsaid, NULL, 0);
    CHECK_NEAR(b.midstance_bw.median, a.midstance_bw.median, 1e-12, "BW");
    assert_true(says(b.assumptions, b.assumption_count, "measured standing"));
    assert_true(says(c.assumptions, c.assumption_count, "is not known"));
    double sure[2] = {1.0, 0.0}, unsure[2] = {1.0, 0.0}; // lowest and highest hinge, m
    for (int i = 0; i < HW_MECH_MEMBERS; i++) {
        double with = hw_mech_view_of(&hanging, i).hinge_height.value;
        double without = hw_mech_view_of(&unsaid, i).hinge_height.value;
        sure[0] = fmin(sure[0], with), sure[1] = fmax(sure[1], with);
        unsure[0] = fmin(unsure[0], without), unsure[1] = fmax(unsure[1], without);
    }
    CHECK_NEAR(sure[1] - sure[0], 0.010, 0.0002, "m");
    CHECK_NEAR(unsure[1] - unsure[0], 0.020, 0.0004, "m"); // the doubt adds the drop
    hw_test_close(&room);
}

static void test_assess__the_same_input_gives_the_same_bits(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = plain_subject();
    subject.calf_range_rad[HW_CALF_TEST_LUNGE] = hw_known(0.5);
    hw_mech_change tape = hw_mech_change_none("tape");
    tape.is_taped = true;
    hw_mech_result a = assess(&room, &subject, &tape, 1), b = assess(&room, &subject, &tape, 1);
    for (int p = 0; p < HW_MECH_POINTS; p++) { // field by field: a band has padding
        CHECK_NEAR(a.tension_bw[p].median, b.tension_bw[p].median, 0.0, "BW");
        CHECK_NEAR(a.effects[0].tension_bw[p].p95, b.effects[0].tension_bw[p].p95, 0.0, "BW");
    }
    CHECK_NEAR(a.effects[0].peak.change.p05, b.effects[0].peak.change.p05, 0.0, "");
    CHECK_NEAR(a.residual_worst, b.residual_worst, 0.0, "");
    assert_int_equal(a.iterations_worst, b.iterations_worst);
    hw_test_close(&room);
}

static void check_same_bits(const hw_band *a, const hw_band *b)
{
    CHECK_NEAR(a->p05, b->p05, 0.0, "");
    CHECK_NEAR(a->median, b->median, 0.0, "");
    CHECK_NEAR(a->p95, b->p95, 0.0, "");
}

// One core is one thread; all that this process may use are as many threads (base/parallel.c).
static void test_assess__the_number_of_threads_changes_nothing(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = plain_subject();
    subject.calf_range_rad[HW_CALF_TEST_LUNGE] = hw_known(0.5);
    hw_mech_change shell = hw_mech_change_none("shell");
    shell.has_orthosis = true;
    cpu_set_t all, one;
    assert_int_equal(sched_getaffinity(0, sizeof all, &all), 0);
    if (CPU_COUNT(&all) < 2) print_message("one core only: no second thread to compare with\n");
    hw_mech_result many = assess(&room, &subject, &shell, 1);
    size_t first = 0;
    while (!CPU_ISSET(first, &all)) first++;
    CPU_ZERO(&one);
    CPU_SET(first, &one);
    assert_int_equal(sched_setaffinity(0, sizeof one, &one), 0);
    hw_mech_result alone = assess(&room, &subject, &shell, 1);
    assert_int_equal(sched_setaffinity(0, sizeof all, &all), 0);
    for (int p = 0; p < HW_MECH_POINTS; p++) {
        check_same_bits(&many.tension_bw[p], &alone.tension_bw[p]);
        check_same_bits(&many.effects[0].tension_bw[p], &alone.effects[0].tension_bw[p]);
        check_same_bits(&many.flattening_rad[p], &alone.flattening_rad[p]);
    }
    check_same_bits(&many.effects[0].midstance.change, &alone.effects[0].midstance.change);
    check_same_bits(&many.effects[0].device_bw, &alone.effects[0].device_bw);
    hw_test_close(&room);
}

// Corners of the allowed ranges: an answer with finite numbers, or a refusal with a sentence.
static void test_assess__the_corners_of_the_ranges_end_well(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    for (int corner = 0; corner < 16; corner++) {
        hw_mech_subject subject = plain_subject();
        subject.mass_kg = corner & 1 ? 250.0 : 20.0;
        double length = corner & 2 ? 0.40 : 0.10;
        subject.measures.foot_length_m = hw_known(length);
        subject.measures.dorsum_height_m = hw_known(corner & 4 ? 0.42 * length : 0.16 * length);
        subject.calf_range_rad[HW_CALF_TEST_KNEE_STRAIGHT] = hw_known(corner & 8 ? 1.0 : -0.6);
        hw_mech_result result = {0};
        hw_status status = hw_mech_assess(&room.job, &subject, NULL, 0, room.into, &result);
        assert_true(status == HW_OK || status == HW_NO_ANSWER || status == HW_BAD_INPUT);
        if (status == HW_OK) assert_true(isfinite(result.peak_bw.median));
        if (status != HW_OK) assert_true(strlen(room.job.why) > 20);
    }
    hw_test_close(&room);
}

static void test_assess__too_many_changes_or_a_bad_one_are_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = plain_subject();
    hw_mech_change change = hw_mech_change_none("x");
    hw_mech_result result = {0};
    CHECK_FAILS(&room.job, hw_mech_assess(&room.job, &subject, &change, 65, room.into, &result),
                HW_BAD_INPUT, "0 to 64");
    change.mass_factor = 0.0;
    CHECK_FAILS(&room.job, hw_mech_assess(&room.job, &subject, &change, 1, room.into, &result),
                HW_BAD_INPUT, "factor on body mass");
    hw_test_close(&room);
}

static bool always(void *user)
{
    (void)user;
    return true;
}

static void test_assess__stops_when_asked(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    room.job.cancelled = always;
    hw_mech_subject subject = plain_subject();
    hw_mech_change change = hw_mech_change_none("x");
    hw_mech_result result = {0};
    assert_int_equal(hw_mech_assess(&room.job, &subject, &change, 1, room.into, &result),
                     HW_CANCELLED);
    hw_test_close(&room);
}

// Each allocation in turn fails, in `into` and in scratch: the status says so, `out` is untouched.
static void test_assess__survives_every_failing_allocation(void **state)
{
    (void)state;
    hw_mech_subject subject = plain_subject();
    hw_mech_change changes[2] = {hw_mech_change_none("a"), hw_mech_change_none("b")};
    int failures = 0;
    for (int where = 0; where < 3; where++) {
        for (size_t n = 1; n < 20; n++) {
            hw_test_room room = hw_test_open();
            hw_arena *arenas[3] = {room.into, room.job.scratch[0], room.job.scratch[1]};
            hw_arena_fail_at(arenas[where], n);
            hw_mech_result result = {.member_count = -7};
            hw_status status = hw_mech_assess(&room.job, &subject, changes, 2, room.into, &result);
            if (status != HW_OK) assert_int_equal(status, HW_NO_MEMORY);
            if (status != HW_OK) assert_int_equal(result.member_count, -7);
            failures += status != HW_OK;
            hw_test_close(&room);
            if (status == HW_OK) break;
        }
    }
    assert_true(failures >= 5);
}

// Where the drawn pose puts a head, by this test's own kinematics: the hinge turns with the hindfoot
// about the heel's pad, the ray about the hinge.
static double head_height(const hw_mech_skeleton *of, const hw_mech_pose *pose, int ray)
{
    double s = sin(pose->pitch_rad), c = cos(pose->pitch_rad);
    double turn = pose->pitch_rad + pose->flattening_rad[ray];
    double height = of->hinge[ray].z - pose->hinge_drop_m[ray];
    double hinge = pose->heel_height_m + s * (of->hinge[ray].x - of->heel_x) + c * height;
    double dx = of->head[ray].x - of->hinge[ray].x, dz = of->head[ray].z - of->hinge[ray].z;
    return hinge + sin(turn) * dx + cos(turn) * dz + pose->roll_rad * of->head[ray].y;
}

// Every frame is a solved instant: the forefoot stands on the floor in each of them (its pads
// squashed by millimetres), the heel rises once and stays up, and the slips add up to the tension.
static void test_assess__the_drawn_foot_stands_on_the_floor(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = plain_subject();
    hw_mech_change tape = hw_mech_change_none("tape");
    tape.is_taped = true;
    hw_mech_result result = assess(&room, &subject, &tape, 1);
    const hw_mech_walk *walks[2] = {&result.walk, &result.effects[0].walk};
    for (int w = 0; w < 2; w++) {
        bool was_up = false;
        for (int i = 0; i < HW_MECH_SOLVED; i++) {
            const hw_mech_pose *pose = &walks[w]->pose[i];
            double lowest = 1.0, tension = 0.0;
            assert_true(pose->is_settled);
            for (int ray = 0; ray < HW_MECH_RAYS; ray++) {
                double rise =
                    head_height(&result.skeleton, pose, ray) - result.skeleton.head[ray].z;
                lowest = fmin(lowest, rise);
                tension += pose->slip_bw[ray];
            }
            assert_true(lowest > -0.012 && lowest < 0.001); // m
            bool is_up = pose->heel_height_m > 0.001;
            assert_true(is_up || !was_up);
            was_up = is_up;
            const hw_band *band = w ? &result.effects[0].tension_bw[HW_MECH_FIRST + i]
                                    : &result.tension_bw[HW_MECH_FIRST + i];
            assert_true(tension > 0.7 * band->p05 && tension < 1.3 * band->p95);
        }
        assert_true(was_up);
    }
    hw_test_close(&room);
}

// The norm's forces, given as a person's own, are the norm's result; other forces are another.
static void test_assess__own_forces_take_the_norms_place(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_own_walk own;
    for (int i = 0; i < HW_MECH_SOLVED; i++) {
        hw_mech_gait gait = hw_mech_gait_at(12.5 + 2.5 * i, HW_MECH_NORM_SPEED);
        own.force_z_bw[i] = gait.force_z;
        own.force_x_bw[i] = gait.force_x;
        own.pressure_x[i] = gait.pressure_x;
    }
    hw_mech_subject norm = plain_subject(), mine = norm;
    mine.own_walk = &own;
    hw_mech_result a = assess(&room, &norm, NULL, 0), b = assess(&room, &mine, NULL, 0);
    CHECK_NEAR(b.peak_bw.median, a.peak_bw.median, 0.0, "BW");
    CHECK_NEAR(b.midstance_bw.p95, a.midstance_bw.p95, 0.0, "BW");
    assert_true(says(b.assumptions, b.assumption_count, "this person's own"));
    assert_false(says(a.assumptions, a.assumption_count, "this person's own"));
    // Further back on the heel in mid-stance, as one who spares the forefoot: less pull there.
    for (int i = 7; i <= 17; i++) own.pressure_x[i] -= 0.05;
    hw_mech_result spared = assess(&room, &mine, NULL, 0);
    assert_true(spared.midstance_bw.median < 0.9 * a.midstance_bw.median);
    // A run's force is said to be outside; what no one walks with is refused.
    own.force_z_bw[13] = 1.7;
    hw_mech_result run = assess(&room, &mine, NULL, 0);
    assert_true(says(run.assumptions, run.assumption_count, "running"));
    own.force_z_bw[13] = 3.5;
    hw_mech_result refused = {0};
    CHECK_FAILS(&room.job, hw_mech_assess(&room.job, &mine, NULL, 0, room.into, &refused),
                HW_BAD_INPUT, "vertical force is 3.5 body weights");
    hw_test_close(&room);
}

// A treatment that is unsure of itself has a wider band about the same middle.
static void test_assess__an_unsure_treatment_has_a_wider_band(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = plain_subject();
    hw_mech_change changes[4] = {hw_mech_change_none("tape"), hw_mech_change_none("unsure tape"),
                                 hw_mech_change_none("shell"), hw_mech_change_none("unsure shell")};
    changes[0].is_taped = changes[1].is_taped = true;
    changes[1].tape_spread = 0.4;
    changes[2].has_orthosis = changes[3].has_orthosis = true;
    changes[3].arch_fill_spread_m = 0.003;
    changes[3].shell_spread = 0.5;
    hw_mech_result result = assess(&room, &subject, changes, 4);
    for (int i = 0; i < 4; i += 2) {
        hw_band sure = result.effects[i].midstance.change;
        hw_band unsure = result.effects[i + 1].midstance.change;
        assert_true(unsure.p95 - unsure.p05 > 1.3 * (sure.p95 - sure.p05));
        CHECK_NEAR(unsure.median, sure.median, 0.015, "");
    }
    hw_test_close(&room);
}

int run_assess_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_assess__own_forces_take_the_norms_place),
        cmocka_unit_test(test_assess__an_unsure_treatment_has_a_wider_band),
        cmocka_unit_test(test_assess__the_drawn_foot_stands_on_the_floor),
        cmocka_unit_test(test_assess__a_calf_at_any_norm_costs_nothing),
        cmocka_unit_test(test_assess__each_calf_test_is_read_on_its_own_scale),
        cmocka_unit_test(test_assess__the_knee_straight_test_goes_before_the_lunge),
        cmocka_unit_test(test_assess__the_peak_under_a_device_is_unknown_also_in_combinations),
        cmocka_unit_test(test_assess__without_a_calf_test_a_stretch_is_unknown),
        cmocka_unit_test(test_assess__no_change_changes_nothing),
        cmocka_unit_test(test_assess__the_ends_of_stance_are_marked_as_not_solved),
        cmocka_unit_test(test_assess__the_loading_of_the_measure_counts),
        cmocka_unit_test(test_assess__the_same_input_gives_the_same_bits),
        cmocka_unit_test(test_assess__the_number_of_threads_changes_nothing),
        cmocka_unit_test(test_assess__the_corners_of_the_ranges_end_well),
        cmocka_unit_test(test_assess__too_many_changes_or_a_bad_one_are_refused),
        cmocka_unit_test(test_assess__stops_when_asked),
        cmocka_unit_test(test_assess__survives_every_failing_allocation),
    };
    return cmocka_run_group_tests_name("mech assess", tests, NULL, NULL);
}
