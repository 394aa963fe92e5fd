// SPDX-License-Identifier: GPL-3.0-or-later
// Doses against published figures.
#include "near.h"

#include "person.h"

// A person whose actual mass counts: tall enough that the ideal mass is not lower.
static hw_findings tall(double mass_kg)
{
    hw_findings out = healthy_person();
    out.values[HW_FINDING_SEX] = hw_finding_of_word(HW_SEX_MALE);
    out.values[HW_FINDING_HEIGHT_CM] = hw_finding_of_number(200.0);
    out.values[HW_FINDING_MASS_KG] = hw_finding_of_number(mass_kg);
    return out;
}

static hw_anaesthetic_maximum limit(const hw_findings *findings, hw_anaesthetic_dose dose)
{
    hw_test_room room = hw_test_open();
    hw_anaesthetic_maximum out = {0};
    CHECK_OK(&room.job, hw_anaesthetic_limit(&room.job, findings, &dose, &out));
    hw_test_close(&room);
    return out;
}

static void test_anaesthetic__published_maxima(void **state)
{
    (void)state;
    // la-teaching-uk prints 70 kg, 1 %: 3 mg/kg is 210 mg = 21 mL, 7 mg/kg with adrenaline 49 mL;
    // spc-lidocaine caps the plain dose at 200 mg = 20 mL.
    hw_findings findings = tall(70.0);
    hw_anaesthetic_maximum got =
        limit(&findings, (hw_anaesthetic_dose){"lidocaine", 1.0, 0, false});
    CHECK_NEAR(got.row->plain_mg_per_kg * 70.0, 210.0, 1e-9, "mg");
    CHECK_NEAR(got.row->plain_mg_per_kg * 70.0 / 10.0, 21.0, 1e-9, "mL");
    CHECK_NEAR(got.maximum_mg, 200.0, 1e-9, "mg");
    CHECK_NEAR(got.maximum_mL, 20.0, 1e-9, "mL");
    assert_int_equal(got.bound, HW_BOUND_CAP);
    got = limit(&findings, (hw_anaesthetic_dose){"lidocaine", 1.0, 0, true});
    CHECK_NEAR(got.maximum_mL, 49.0, 1e-9, "mL");
    // Bupivacaine label: 2 mg/kg, 150 mg at most.
    findings = tall(80.0);
    got = limit(&findings, (hw_anaesthetic_dose){"bupivacaine", 0.5, 0, false});
    CHECK_NEAR(got.maximum_mg, 150.0, 1e-9, "mg");
    CHECK_NEAR(got.maximum_mL, 30.0, 1e-9, "mL");
    // Below the cap the mass decides: 50 kg, 3 mg/kg.
    findings = tall(50.0);
    got = limit(&findings, (hw_anaesthetic_dose){"lidocaine", 1.0, 0, false});
    CHECK_NEAR(got.maximum_mg, 150.0, 1e-9, "mg");
    assert_int_equal(got.bound, HW_BOUND_PER_KG);
}

static void test_anaesthetic__two_agents_add_up(void **state)
{
    (void)state;
    // Half of each maximum is the whole of it. common practice: toxicity of amides is additive.
    const hw_findings findings = tall(80.0);
    const hw_anaesthetic_dose doses[] = {{"lidocaine", 1.0, 10.0, false},
                                         {"bupivacaine", 0.5, 15.0, false}};
    const hw_maybe sum = hw_anaesthetic_fraction(&findings, doses, 2);
    assert_true(sum.known);
    CHECK_NEAR(sum.value, 1.0, 1e-9, "of the maximum");
    const hw_anaesthetic_dose strange = {"foozucaine", 1.0, 1.0, false};
    assert_false(hw_anaesthetic_fraction(&findings, &strange, 1).known);
}

static void test_anaesthetic__refuses_what_cannot_be(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = tall(70.0);
    hw_anaesthetic_maximum out = {0};
    hw_anaesthetic_dose dose = {"lidocaine", 10.0, 1.0, false}; // 10 mg/mL typed as percent
    CHECK_FAILS(&room.job, hw_anaesthetic_limit(&room.job, &findings, &dose, &out), HW_BAD_INPUT,
                "10 %");
    dose.concentration_percent = 1.0;
    findings.values[HW_FINDING_MASS_KG] = hw_finding_not_asked();
    CHECK_FAILS(&room.job, hw_anaesthetic_limit(&room.job, &findings, &dose, &out), HW_NOT_FOUND,
                "weigh");
    hw_test_close(&room);
}

static void test_centrifuge__force_and_speed(void **state)
{
    (void)state;
    // RCF = 1.118e-5 r rpm^2: by hand, 10 cm.
    CHECK_NEAR(hw_rcf_from_rpm(10.0, 3000.0), 1006.2, 0.05, "g");
    CHECK_NEAR(hw_rpm_from_rcf(10.0, 900.0), 2837.0, 0.5, "rpm");
}

static void test_prp__concentration(void **state)
{
    (void)state;
    // Source prp-optimisation-2013 (J Oral Implantol 39:525): recovery .7756 over both spins; 30
    // mL into 3 mL is a factor of 7.756.
    const hw_prp got = hw_prp_yield(250.0, 30.0, 0.7756, 3.0);
    CHECK_NEAR(got.factor, 7.76, 0.005, "");
    CHECK_NEAR(got.concentration_1e9_per_L, 1939.0, 0.5, "1e9/L");
    CHECK_NEAR(got.dose_1e9, 5.817, 0.001, "1e9"); // 250 * .03 L * .7756
}

static void test_shockwave__total_energy(void **state)
{
    (void)state;
    // Gerdesmeyer 2008: 3 x 2000 x 0.16; Mardani-Kivi 2015 prints 900 for 3 x 2000 x 0.15.
    CHECK_NEAR(hw_shockwave_total(3, 2000, hw_known(0.16)).value, 960.0, 1e-9, "mJ/mm2");
    CHECK_NEAR(hw_shockwave_total(3, 2000, hw_known(0.15)).value, 900.0, 1e-9, "mJ/mm2");
    assert_false(hw_shockwave_total(3, 2000, (hw_maybe){0}).known);
}

static void test_shockwave__energy_needs_a_declaration(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_faults faults = {.into = room.into};
    hw_shockwave_order order = {.sessions = 3, .pulses = 2000, .pressure_bar = hw_known(2.5)};
    CHECK_OK(&room.job, hw_shockwave_check(&room.job, &order, &faults));
    assert_int_equal(faults.count, 0);
    order.energy_mJ_per_mm2 = hw_known(0.16);
    CHECK_OK(&room.job, hw_shockwave_check(&room.job, &order, &faults));
    assert_int_equal(faults.count, 1);
    assert_string_equal(faults.rows[0].key, "energy_declared_by");
    hw_test_close(&room);
}

static void test_steroid__equivalence(void **state)
{
    (void)state;
    // 4 mg methylprednisolone, 4 mg triamcinolone, 0.75 mg dexamethasone = 20 mg hydrocortisone.
    CHECK_NEAR(hw_hydrocortisone_mg("methylprednisolone", 40.0).value, 200.0, 1e-9, "mg");
    CHECK_NEAR(hw_hydrocortisone_mg("triamcinolone", 40.0).value, 200.0, 1e-9, "mg");
    CHECK_NEAR(hw_hydrocortisone_mg("dexamethasone", 4.0).value, 106.7, 0.05, "mg");
    assert_false(hw_hydrocortisone_mg("foozusone", 4.0).known);
}

static void test_shell__published_thickness(void **state)
{
    (void)state;
    // Trial protocol (source shell-protocol-2013): posture index over 0: 4.0 and 4.5, under: 3.0
    // and 4.0 mm, divided at 75 kg. The edges are open in it.
    const struct {
        double index, mass, want;
        bool edge;
    } rows[] = {{3, 74.9, 4.0, false},  {3, 75.0, 4.5, false},  {3, 90, 4.5, false},
                {-2, 74.9, 3.0, false}, {-2, 75.1, 4.0, false}, {-2, 75.0, 4.0, true},
                {0, 70, 4.0, true}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        bool edge = false;
        CHECK_NEAR(hw_clinic_shell_thickness_mm(rows[i].index, rows[i].mass, &edge), rows[i].want,
                   1e-9, "mm");
        assert_int_equal(edge, rows[i].edge);
    }
    // Source cup-column: skive 4 mm and 2 degrees want 22 mm; any skive at least 14.
    CHECK_NEAR(hw_clinic_heel_cup_mm(4.0, 2.0), 22.0, 1e-9, "mm");
    CHECK_NEAR(hw_clinic_heel_cup_mm(2.0, 0.0), 14.0, 1e-9, "mm");
}

static void test_running__a_tenth_more_at_most(void **state)
{
    (void)state;
    CHECK_NEAR(hw_next_run_km(8.0), 8.8, 1e-9, "km"); // Frandsen 2025
    // Facts 8: 8.0 km; 10.0 is +25 %, band 2; 16.5 is +106 %, band 4.
    static const struct {
        double next, ratio, low, high;
    } rows[] = {{8.8, 1, 1, 1},           {8.81, 1.64, 1.31, 2.05}, {10.0, 1.64, 1.31, 2.05},
                {10.4, 1.64, 1.31, 2.05}, {10.5, 1.52, 1.16, 2.00}, {16.0, 1.52, 1.16, 2.00},
                {16.5, 2.28, 1.50, 3.48}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double low = 0.0, high = 0.0;
        CHECK_NEAR(hw_run_hazard(8.0, rows[i].next, &low, &high), rows[i].ratio, 1e-9, "");
        CHECK_NEAR(low, rows[i].low, 1e-9, "");
        CHECK_NEAR(high, rows[i].high, 1e-9, "");
    }
}

int test_clinic_dose(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_anaesthetic__published_maxima),
        cmocka_unit_test(test_anaesthetic__two_agents_add_up),
        cmocka_unit_test(test_anaesthetic__refuses_what_cannot_be),
        cmocka_unit_test(test_centrifuge__force_and_speed),
        cmocka_unit_test(test_prp__concentration),
        cmocka_unit_test(test_shockwave__total_energy),
        cmocka_unit_test(test_shockwave__energy_needs_a_declaration),
        cmocka_unit_test(test_steroid__equivalence),
        cmocka_unit_test(test_shell__published_thickness),
        cmocka_unit_test(test_running__a_tenth_more_at_most),
    };
    return cmocka_run_group_tests_name("clinic doses", tests, NULL, NULL);
}
