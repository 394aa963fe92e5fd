// SPDX-License-Identifier: GPL-3.0-or-later
// Orders worked out, against facts/clinical.md 5.1, 7.2, 7.4, 7.5 and 13 no. 6 to 8 and 15 to 18.
#include "near.h"
#include "person.h"

typedef struct bench {
    hw_test_room room;
    hw_findings findings;
} bench;

static bench open_bench(void)
{
    bench out = {hw_test_open(), healthy_person()};
    out.findings.values[HW_FINDING_SEX] = hw_finding_of_word(HW_SEX_MALE);
    out.findings.values[HW_FINDING_HEIGHT_CM] = hw_finding_of_number(200.0);
    return out;
}

static hw_order_sheet work_out(bench *at, const hw_order *order)
{
    hw_order_sheet out = {0};
    CHECK_OK(&at->room.job, hw_work_out(&at->room.job, &at->findings, order, at->room.into, &out));
    return out;
}

static const hw_order_line *line_of(const hw_order_sheet *of, const char *name, const char *unit)
{
    for (int i = 0; i < of->line_count; i++)
        if (!strcmp(of->lines[i].name, name) && !strcmp(of->lines[i].unit, unit))
            return &of->lines[i];
    fail_msg("no line '%s'", name);
    return NULL;
}

static bool has_fault(const hw_order_sheet *of, const char *key)
{
    for (int i = 0; i < of->faults.count; i++)
        if (strcmp(of->faults.rows[i].key, key) == 0) return true;
    return false;
}

// Facts 7.4: 70 kg, lidocaine 1 %, 20 mL = 200 mg, the label's cap, not 21 mL.
static void test_order__anaesthetic_names_the_limit_that_bound(void **state)
{
    (void)state;
    bench at = open_bench();
    hw_order order = {.act = HW_ACT_LOCAL_ANAESTHETIC,
                      .side = HW_SIDE_LEFT,
                      .substance = "lidocaine",
                      .concentration_percent = hw_known(1.0),
                      .volume_mL = hw_known(20.0)};
    hw_order_sheet of = work_out(&at, &order);
    CHECK_NEAR(line_of(&of, "dose", "mg")->value, 200.0, 1e-9, "mg");
    CHECK_NEAR(line_of(&of, "most in a day, both feet", "mL")->value, 20.0, 1e-9, "mL");
    assert_string_equal(of.bound, "absolute cap");
    assert_int_equal(of.faults.count, 0); // at the limit
    order.volume_mL = hw_known(20.1);
    of = work_out(&at, &order);
    assert_true(has_fault(&of, "volume_mL"));
    // 50 kg, 2 %: 150 mg = 7.5 mL, bound by mg per kg.
    at.findings.values[HW_FINDING_MASS_KG] = hw_finding_of_number(50.0);
    order.concentration_percent = hw_known(2.0);
    of = work_out(&at, &order);
    CHECK_NEAR(line_of(&of, "most in a day, both feet", "mL")->value, 7.5, 1e-9, "mL");
    assert_string_equal(of.bound, "mg per kg");
    order.substance = "foozicaine";
    of = work_out(&at, &order);
    assert_true(has_fault(&of, "substance"));
    hw_test_close(&at.room);
}

// Two heels, each below the most, together over it: never (hazard H47).
static void test_order__of_both_heels_count_together(void **state)
{
    (void)state;
    bench at = open_bench();
    at.findings.feet[1].heel_pain = HW_ANSWER_YES;
    hw_order orders[2];
    for (int i = 0; i < 2; i++)
        orders[i] = (hw_order){.act = HW_ACT_LOCAL_ANAESTHETIC,
                               .side = i ? HW_SIDE_RIGHT : HW_SIDE_LEFT,
                               .substance = "lidocaine",
                               .concentration_percent = hw_known(1.0),
                               .volume_mL = hw_known(10.0)};
    at.findings.orders = orders, at.findings.order_count = 2;
    for (int over = 0; over < 2; over++) {
        orders[1].volume_mL = hw_known(over ? 10.1 : 10.0);
        hw_plan plan = {0};
        CHECK_OK(&at.room.job, hw_clinic_plan(&at.room.job, &at.findings, at.room.into, &plan));
        for (int i = 0; i < plan.option_count; i++)
            if (plan.options[i].act == HW_ACT_LOCAL_ANAESTHETIC)
                assert_int_equal(plan.options[i].state, over ? HW_REFUSED : HW_AVAILABLE);
        assert_int_equal(plan.order_count, 2);
    }
    hw_test_close(&at.room);
}

// Facts 7.2: methylprednisolone 40 mg = 200 mg, dexamethasone 4 mg = 106.7 mg of hydrocortisone.
static void test_order__steroid_volume_and_equivalent(void **state)
{
    (void)state;
    bench at = open_bench();
    hw_order order = {.act = HW_ACT_CORTICOSTEROID,
                      .side = HW_SIDE_LEFT,
                      .substance = "methylprednisolone acetate",
                      .dose_mg = hw_known(40.0)};
    hw_order_sheet of = work_out(&at, &order);
    CHECK_NEAR(line_of(&of, "volume", "mL")->value, 1.0, 1e-9, "mL");
    CHECK_NEAR(line_of(&of, "like hydrocortisone by mouth", "mg")->value, 200.0, 1e-9, "mg");
    order.vial_mg_per_mL = hw_known(80.0);
    of = work_out(&at, &order);
    CHECK_NEAR(line_of(&of, "volume", "mL")->value, 0.5, 1e-9, "mL");
    order.dose_mg = hw_known(41.0);
    of = work_out(&at, &order);
    assert_true(has_fault(&of, "dose_mg"));
    order.substance = "dexamethasone sodium phosphate", order.dose_mg = hw_known(4.0);
    of = work_out(&at, &order);
    CHECK_NEAR(line_of(&of, "like hydrocortisone by mouth", "mg")->value, 106.667, 1e-3, "mg");
    hw_test_close(&at.room);
}

// Facts 5.1, 13 no. 6 to 8: 3 x 2000 x 0.15 = 900; 0.16: 960; 3 x 1000 x 0.16 = 6 x 1000 x 0.08 = 480.
static void test_order__shockwave_totals(void **state)
{
    (void)state;
    static const struct {
        double sessions, pulses, energy, want;
    } rows[] = {{3, 2000, 0.15, 900}, {3, 2000, 0.16, 960}, {3, 1000, 0.16, 480},
                {6, 1000, 0.08, 480}, {6, 600, 0.10, 360},  {3, 2000, 0.275, 1650}};
    bench at = open_bench();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        hw_order order = {.act = HW_ACT_SHOCKWAVE_FOCUSED,
                          .side = HW_SIDE_LEFT,
                          .sessions = hw_known(rows[i].sessions),
                          .pulses = hw_known(rows[i].pulses),
                          .energy_mJ_per_mm2 = hw_known(rows[i].energy),
                          .energy_declared_by = "an invented sheet"};
        hw_order_sheet of = work_out(&at, &order);
        CHECK_NEAR(line_of(&of, "declared energy of the course", "mJ/mm2")->value, rows[i].want,
                   1e-9, "mJ/mm2");
        order.energy_declared_by = NULL; // undeclared: a fault, and no total at all
        of = work_out(&at, &order);
        assert_true(has_fault(&of, "energy_declared_by"));
        for (int k = 0; k < of.line_count; k++) assert_null(strstr(of.lines[k].name, "energy"));
    }
    assert_string_equal(hw_energy_class(0.079), "low");
    assert_string_equal(hw_energy_class(0.08), "medium");
    assert_string_equal(hw_energy_class(0.28), "medium");
    assert_string_equal(hw_energy_class(0.6), "between medium and high");
    assert_non_null(strstr(hw_energy_class(0.61), "high"));
    hw_test_close(&at.room);
}

static void test_order__log_must_match_what_was_ordered(void **state)
{
    (void)state;
    bench at = open_bench();
    hw_past_act given = {.act = HW_ACT_SHOCKWAVE_RADIAL,
                         .side = HW_SIDE_LEFT,
                         .date = hw_date_plus(at.findings.visit_date, -7),
                         .pulses = hw_known(2000),
                         .rate_Hz = hw_known(10),
                         .pressure_bar = hw_known(2.0),
                         .head = "head A"};
    hw_order order = {.act = HW_ACT_SHOCKWAVE_RADIAL,
                      .side = HW_SIDE_LEFT,
                      .ordered_on = hw_date_plus(at.findings.visit_date, -14),
                      .sessions = hw_known(3),
                      .pulses = hw_known(2000),
                      .rate_Hz = hw_known(10),
                      .pressure_bar = hw_known(2.5),
                      .head = "head A"};
    at.findings.past = &given, at.findings.past_count = 1;
    hw_order_sheet of = work_out(&at, &order);
    assert_int_equal(of.faults.count, 0); // less pressure is what pain guides to
    assert_int_equal(of.given, 1);
    given.sessions = hw_known(4); // one row of the log may stand for several sessions
    of = work_out(&at, &order);
    assert_int_equal(of.given, 4);
    assert_true(has_fault(&of, "sessions"));
    order.energy_mJ_per_mm2 = hw_known(0.1), order.energy_declared_by = "an invented sheet";
    of = work_out(&at, &order);
    CHECK_NEAR(line_of(&of, "declared energy given so far", "mJ/mm2")->value, 4 * 2000 * 0.1, 1e-9,
               "mJ/mm2");
    given.sessions = (hw_maybe){0};
    given.pulses = hw_known(1500), given.rate_Hz = hw_known(12);
    given.pressure_bar = hw_known(2.6), given.head = "head B";
    of = work_out(&at, &order);
    assert_true(has_fault(&of, "pulses") && has_fault(&of, "rate_Hz"));
    assert_true(has_fault(&of, "pressure_bar") && has_fault(&of, "head"));
    given.side = HW_SIDE_RIGHT; // the other heel's course
    of = work_out(&at, &order);
    assert_int_equal(of.given, 0);
    hw_test_close(&at.room);
}

// Facts 7.5: 250 x 10^9/L, 30 mL, into 3 mL: 7.76 times, 5.82 x 10^9; 10 cm at 3000 rpm: 1006.2 g.
static void test_order__platelets_with_their_band(void **state)
{
    (void)state;
    bench at = open_bench();
    hw_order order = {.act = HW_ACT_PRP,
                      .side = HW_SIDE_LEFT,
                      .blood_mL = hw_known(30),
                      .citrate_mL = hw_known(3),
                      .plasma_mL = hw_known(3),
                      .radius_cm = hw_known(10),
                      .first_spin_rpm = hw_known(3000)};
    hw_order_sheet of = work_out(&at, &order);
    const hw_order_line *times = line_of(&of, "platelets, times those of blood", "");
    CHECK_NEAR(times->value, 7.76, 5e-3, "");
    // Spread: sqrt((3.1/92.0)^2 + (10.0/84.3)^2) = 0.1233 of the mean; 5th to 95th percentile.
    CHECK_NEAR(times->low, 7.7556 * (1.0 - 1.645 * 0.12333), 2e-3, "");
    CHECK_NEAR(line_of(&of, "platelets injected", "10^9")->value, 5.82, 5e-3, "10^9");
    CHECK_NEAR(line_of(&of, "first spin", "g")->value, 1006.2, 0.05, "g");
    CHECK_NEAR(line_of(&of, "first spin for 900 g", "rpm")->value, 2837.3, 0.05, "rpm");
    CHECK_NEAR(line_of(&of, "second spin for 1500 g", "rpm")->value, 3662.9, 0.05, "rpm");
    order.citrate_mL = hw_known(1.0);
    at.findings.values[HW_FINDING_PLATELET_COUNT] = (hw_finding){0};
    of = work_out(&at, &order);
    assert_true(has_fault(&of, "citrate_mL") && has_fault(&of, "person.platelet_count"));
    hw_test_close(&at.room);
}

// Facts 8: progress by criteria, not by the calendar alone.
static void test_doses__programmes_go_on_by_criteria(void **state)
{
    (void)state;
    static const hw_act programmes[] = {HW_ACT_STRENGTH, HW_ACT_RETURN_TO_IMPACT, HW_ACT_ACTIVITY,
                                        HW_ACT_BOOT};
    for (size_t i = 0; i < sizeof programmes / sizeof *programmes; i++) {
        const hw_dose_row *dose = hw_dose_of(programmes[i]);
        for (int k = 1; k < HW_DOSE_STEPS && dose->steps[k].text; k++)
            assert_non_null(dose->steps[k].when);
        assert_non_null(dose->steps[1].text);
    }
}

int test_clinic_orders(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_order__anaesthetic_names_the_limit_that_bound),
        cmocka_unit_test(test_order__of_both_heels_count_together),
        cmocka_unit_test(test_order__steroid_volume_and_equivalent),
        cmocka_unit_test(test_order__shockwave_totals),
        cmocka_unit_test(test_order__log_must_match_what_was_ordered),
        cmocka_unit_test(test_order__platelets_with_their_band),
        cmocka_unit_test(test_doses__programmes_go_on_by_criteria),
    };
    return cmocka_run_group_tests_name("clinic orders", tests, NULL, NULL);
}
