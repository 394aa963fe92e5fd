// SPDX-License-Identifier: GPL-3.0-or-later
// What treatments change, over the ensemble: published directions, and the prototype's table.
#include "suites.h"

// Runs changes on a subject whose knee-straight range is `range_deg`; effects live in the room.
static hw_mech_result assess(hw_test_room *room, double range_deg, const hw_mech_change *changes,
                             int count)
{
    hw_mech_subject subject = plain_subject();
    subject.calf_range_rad[HW_CALF_TEST_KNEE_STRAIGHT] = hw_known(hw_rad_from_deg(range_deg));
    hw_mech_result result = {0};
    CHECK_OK(&room->job, hw_mech_assess(&room->job, &subject, changes, count, room->into, &result));
    assert_int_equal(result.failed_members, 0);
    return result;
}

// The middle of where the sources put the norm of the knee-straight test, and so far below it that
// the model's limit (norm 15) is 0.
#define NORM 8.25
#define TIGHT (-6.75) // degrees

typedef struct table_row {
    const char *name;
    double range_deg;
    double fill_mm, gain_deg, raise_mm, toe_factor, mass_factor;
    bool has_orthosis, is_taped, is_peak_known;
    double peak[3], impulse[3], midstance[3]; // %: median, and the interval it must fall into
    double margin;                            // points either side of the median, else 3
} table_row;

// Pins, own prototype, not validation: its what-if table, 100 members. Our medians must
// lie inside its 90 % intervals, or, where those are narrow, within 3 points of its median; a raise alone
// within 5, for ours is another calibration with a talus that sinks, which moves it by 4 points.
static const table_row rows[] = {
    {.name = "total contact",
     .range_deg = NORM,
     .toe_factor = 1,
     .mass_factor = 1,
     .has_orthosis = true,
     .impulse = {-2, -5, 1},
     .midstance = {-12, -20, -7}},
    {.name = "arch + 3 mm",
     .range_deg = NORM,
     .fill_mm = 3,
     .toe_factor = 1,
     .mass_factor = 1,
     .has_orthosis = true,
     .impulse = {-5, -10, -1},
     .midstance = {-21, -33, -13}},
    {.name = "arch - 3 mm",
     .range_deg = NORM,
     .fill_mm = -3,
     .toe_factor = 1,
     .mass_factor = 1,
     .has_orthosis = true,
     .impulse = {-1, -2, 3},
     .midstance = {-5, -10, -3}},
    {.name = "raise 8 mm",
     .range_deg = NORM,
     .raise_mm = 8,
     .toe_factor = 1,
     .mass_factor = 1,
     .is_peak_known = true,
     .impulse = {1, -1, 4},
     .midstance = {3, 0, 8},
     .margin = 5},
    {.name = "calf 15 to 5",
     .range_deg = NORM,
     .gain_deg = -10,
     .toe_factor = 1,
     .mass_factor = 1,
     .is_peak_known = true,
     .impulse = {2, 1, 8},
     .midstance = {4, 1, 21}},
    {.name = "calf 15 to 0",
     .range_deg = NORM,
     .gain_deg = -15,
     .toe_factor = 1,
     .mass_factor = 1,
     .is_peak_known = true,
     .peak = {0, 0, 2},
     .impulse = {13, 3, 31},
     .midstance = {37, 9, 82}},
    {.name = "calf 15 to -5",
     .range_deg = NORM,
     .gain_deg = -20,
     .toe_factor = 1,
     .mass_factor = 1,
     .is_peak_known = true,
     .peak = {0, 0, 14},
     .impulse = {39, 16, 61},
     .midstance = {95, 47, 155}},
    {.name = "toes x 0.6",
     .range_deg = NORM,
     .toe_factor = 0.6,
     .mass_factor = 1,
     .is_peak_known = true,
     .peak = {-21, -29, -16},
     .impulse = {-10, -14, -8},
     .midstance = {0}},
    {.name = "tape",
     .range_deg = NORM,
     .toe_factor = 1,
     .mass_factor = 1,
     .is_taped = true,
     .is_peak_known = true,
     .peak = {-5, -7, -3},
     .impulse = {-8, -10, -5},
     .midstance = {-12, -16, -9}},
    {.name = "mass - 10 %",
     .range_deg = NORM,
     .toe_factor = 1,
     .mass_factor = 0.9,
     .is_peak_known = true,
     .peak = {-4, -5, -3},
     .impulse = {-6, -7, -4},
     .midstance = {-7, -10, -6}},
    {.name = "raise 8 mm, tight",
     .range_deg = TIGHT,
     .raise_mm = 8,
     .toe_factor = 1,
     .mass_factor = 1,
     .is_peak_known = true,
     .impulse = {-6, -12, 1},
     .midstance = {-15, -27, -1}},
    {.name = "stretch + 4",
     .range_deg = TIGHT,
     .gain_deg = 4,
     .toe_factor = 1,
     .mass_factor = 1,
     .is_peak_known = true,
     .peak = {0, -2, 0},
     .impulse = {-10, -17, -2},
     .midstance = {-21, -34, -6}},
    {.name = "orthosis, stretch",
     .range_deg = TIGHT,
     .gain_deg = 4,
     .toe_factor = 1,
     .mass_factor = 1,
     .has_orthosis = true,
     .impulse = {-12, -20, -4},
     .midstance = {-31, -44, -17}},
    {.name = "orthosis, stretch, tape",
     .range_deg = TIGHT,
     .gain_deg = 4,
     .toe_factor = 1,
     .mass_factor = 1,
     .has_orthosis = true,
     .is_taped = true,
     .impulse = {-19, -26, -11},
     .midstance = {-39, -52, -26}},
    {.name = "orthosis, stretch, raise 6",
     .range_deg = TIGHT,
     .gain_deg = 4,
     .raise_mm = 6,
     .toe_factor = 1,
     .mass_factor = 1,
     .has_orthosis = true,
     .impulse = {-11, -22, -2},
     .midstance = {-29, -44, -11}},
    {.name = "orthosis, stretch, toes",
     .range_deg = TIGHT,
     .gain_deg = 4,
     .toe_factor = 0.6,
     .mass_factor = 1,
     .has_orthosis = true,
     .impulse = {-20, -30, -13},
     .midstance = {-31, -44, -17}},
};
enum { ROWS = sizeof rows / sizeof rows[0] };

static hw_mech_change change_of(const table_row *row)
{
    hw_mech_change change = hw_mech_change_none(row->name);
    change.has_orthosis = row->has_orthosis;
    change.arch_fill_m = hw_m_from_mm(row->fill_mm);
    change.heel_raise_m = hw_m_from_mm(row->raise_mm);
    change.calf_gain_rad = hw_rad_from_deg(row->gain_deg);
    change.is_taped = row->is_taped;
    change.toe_factor = row->toe_factor;
    change.mass_factor = row->mass_factor;
    return change;
}

static void check_cell(const table_row *row, hw_band band, const double *pin)
{
    const char *name = row->name;
    double got = 100.0 * band.median, margin = row->margin > 0.0 ? row->margin : 3.0;
    double low = fmin(pin[1], pin[0] - margin), high = fmax(pin[2], pin[0] + margin);
    if (!band.known || !(got >= low && got <= high))
        print_error("%s: %.1f %%, want %.0f [%.0f, %.0f]\n", name, got, pin[0], low, high);
    assert_true(band.known && got >= low && got <= high);
    assert_true(band.p05 <= band.median && band.median <= band.p95);
}

static void test_what_if__the_table_is_that_of_the_own_prototype(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    for (int i = 0; i < ROWS; i++) {
        hw_mech_change change = change_of(&rows[i]);
        hw_mech_result result = assess(&room, rows[i].range_deg, &change, 1);
        const hw_mech_effect *effect = &result.effects[0];
        // One in a hundred under the tightest calf, as the heel leaves the floor: docs/mechanics.md 7.
        assert_true(effect->failed_members <= 2);
        assert_int_equal(effect->peak.change.known, rows[i].is_peak_known);
        if (rows[i].is_peak_known) check_cell(&rows[i], effect->peak.change, rows[i].peak);
        check_cell(&rows[i], effect->impulse.change, rows[i].impulse);
        check_cell(&rows[i], effect->midstance.change, rows[i].midstance);
    }
    hw_test_close(&room);
}

// Kogler 1996: devices that hold the arch lower strain. Peng 2022: a higher arch lowers it more.
static void test_what_if__more_arch_unloads_more_in_midstance(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_change shells[3];
    for (int i = 0; i < 3; i++) {
        shells[i] = hw_mech_change_none("shell");
        shells[i].has_orthosis = true;
        shells[i].arch_fill_m = 0.003 * (i - 1);
    }
    hw_mech_result result = assess(&room, NORM, shells, 3);
    double last = 0.0;
    for (int i = 0; i < 3; i++) {
        hw_band change = result.effects[i].midstance.change;
        assert_true(change.p95 < 0.0 && change.median < last - 0.02);
        last = change.median;
    }
    hw_test_close(&room);
}

// Riddle 2003: less dorsiflexion, more heel pain (direction only; mechanics is not causation). And
// the way back: a stretch of a tight calf unloads.
static void test_what_if__less_calf_range_loads_midstance_and_impulse(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_change less[3];
    for (int i = 0; i < 3; i++) {
        less[i] = hw_mech_change_none("less");
        less[i].calf_gain_rad = hw_rad_from_deg(i == 0 ? -10.0 : i == 1 ? -15.0 : -20.0);
    }
    hw_mech_result result = assess(&room, NORM, less, 3);
    double midstance = 0.0, impulse = 0.0;
    for (int i = 0; i < 3; i++) {
        assert_true(result.effects[i].midstance.change.median > midstance);
        assert_true(result.effects[i].impulse.change.median > impulse);
        midstance = result.effects[i].midstance.change.median;
        impulse = result.effects[i].impulse.change.median;
    }
    hw_mech_change stretch = hw_mech_change_none("stretch");
    stretch.calf_gain_rad = hw_rad_from_deg(4.0);
    result = assess(&room, TIGHT, &stretch, 1);
    assert_true(result.effects[0].midstance.change.p95 <= 0.0);
    hw_test_close(&room);
}

// A stiff forefoot acts on the late peak only: the toes are flat until the heel rises.
static void test_what_if__a_stiff_forefoot_leaves_midstance_alone(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_change stiff = hw_mech_change_none("stiff forefoot");
    stiff.toe_factor = 0.6;
    hw_mech_result result = assess(&room, NORM, &stiff, 1);
    CHECK_NEAR(result.effects[0].midstance.change.p05, 0.0, 0.0, "");
    CHECK_NEAR(result.effects[0].midstance.change.p95, 0.0, 0.0, "");
    assert_true(result.effects[0].peak.change.p95 < -0.10);
    assert_int_equal(result.effects[0].grade, HW_MECH_GRADE_C);
    hw_test_close(&room);
}

// A raise and a stretch fight for the same few degrees: run together they give less than their sum.
static void test_what_if__a_combination_is_run_not_added(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_change parts[3] = {hw_mech_change_none("stretch"), hw_mech_change_none("raise"),
                               hw_mech_change_none("both")};
    parts[0].calf_gain_rad = parts[2].calf_gain_rad = hw_rad_from_deg(4.0);
    parts[1].heel_raise_m = parts[2].heel_raise_m = 0.008;
    hw_mech_result result = assess(&room, TIGHT, parts, 3);
    double sum = result.effects[0].midstance.change.median;
    sum += result.effects[1].midstance.change.median;
    assert_true(sum < -0.2);
    assert_true(result.effects[2].midstance.change.median > sum + 0.05);
    hw_test_close(&room);
}

int run_what_if_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_if__the_table_is_that_of_the_own_prototype),
        cmocka_unit_test(test_what_if__more_arch_unloads_more_in_midstance),
        cmocka_unit_test(test_what_if__less_calf_range_loads_midstance_and_impulse),
        cmocka_unit_test(test_what_if__a_stiff_forefoot_leaves_midstance_alone),
        cmocka_unit_test(test_what_if__a_combination_is_run_not_added),
    };
    return cmocka_run_group_tests_name("mech what-if", tests, NULL, NULL);
}
