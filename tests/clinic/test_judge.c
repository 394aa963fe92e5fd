// SPDX-License-Identifier: GPL-3.0-or-later
// One act for one person: what the rows say together, and what may be overruled.
#include "near.h"

#include "person.h"

// A room, a healthy person, and the case of the left foot.
typedef struct bench {
    hw_test_room room;
    hw_findings findings;
    hw_situation one;
} bench;

static void bench_open(bench *at)
{
    at->room = hw_test_open();
    at->findings = healthy_person();
    at->one = case_of(&at->findings, HW_SIDE_LEFT);
}

static hw_judgement judge(bench *at, hw_act act)
{
    at->one.acts = at->findings.past, at->one.act_count = at->findings.past_count;
    hw_judgement out = {0};
    CHECK_OK(&at->room.job, hw_judge(&at->room.job, &at->one, act, at->room.into, &out));
    return out;
}

static const hw_reason *reason_of(const hw_judgement *judged, const char *rule_id)
{
    for (int i = 0; i < judged->reason_count; i++)
        if (strcmp(judged->reasons[i].rule->id, rule_id) == 0) return &judged->reasons[i];
    return NULL;
}

static bool asks(const hw_judgement *judged, const char *key)
{
    for (int i = 0; i < judged->questions.count; i++)
        if (strcmp(judged->questions.rows[i].key, key) == 0) return true;
    return false;
}

static void test_judge__a_healthy_person_may_have_everything(void **state)
{
    (void)state;
    bench at;
    bench_open(&at);
    for (int act = 0; act < HW_ACT_COUNT; act++) {
        const hw_judgement judged = judge(&at, (hw_act)act);
        if (judged.state != HW_AVAILABLE || judged.questions.count > 0)
            fail_msg("%s is %s", hw_act_rows()[act].word, hw_eligibility_word(judged.state));
    }
    hw_test_close(&at.room);
}

// What each list entry does to each act; sources stand in the rows named.
static void test_judge__medicines_conditions_and_allergies(void **state)
{
    (void)state;
    static const struct {
        char list; // m, c, a
        const char *name;
        hw_act act;
        hw_eligibility state;
        const char *rule_id;
    } rows[] = {
        {'m', "apixaban", HW_ACT_SHOCKWAVE_FOCUSED, HW_STOPPED, "sw-anticoagulant-focused"},
        {'m', "apixaban", HW_ACT_SHOCKWAVE_RADIAL, HW_STOPPED, "sw-anticoagulant-radial"},
        {'m', "apixaban", HW_ACT_CORTICOSTEROID, HW_AVAILABLE, "cs-anticoagulant"},
        {'m', "apixaban", HW_ACT_NSAID, HW_STOPPED, "nsaid-anticoagulant"},
        {'m', "apixaban", HW_ACT_PRP, HW_STOPPED, "prp-anticoagulant"},
        {'m', "ibuprofen", HW_ACT_SHOCKWAVE_RADIAL, HW_AVAILABLE, "sw-nsaid"},
        {'m', "naproxen 500 mg", HW_ACT_PRP, HW_STOPPED, "prp-nsaid"},
        {'m', "ritonavir", HW_ACT_CORTICOSTEROID, HW_STOPPED, "cs-cyp3a4"},
        {'m', "cobicistat", HW_ACT_CORTICOSTEROID, HW_STOPPED, "cs-cyp3a4"},
        {'m', "itraconazole", HW_ACT_CORTICOSTEROID, HW_STOPPED, "cs-cyp3a4"},
        {'m', "clarithromycin", HW_ACT_CORTICOSTEROID, HW_STOPPED, "cs-cyp3a4"},
        {'m', "ciprofloxacin", HW_ACT_CORTICOSTEROID, HW_STOPPED, "cs-fluoroquinolone"},
        {'m', "insulin glargine", HW_ACT_CORTICOSTEROID, HW_AVAILABLE, "cs-insulin"},
        {'m', "adalimumab", HW_ACT_CORTICOSTEROID, HW_AVAILABLE, "cs-immunosuppressant"},
        {'m', "methotrexate", HW_ACT_NSAID, HW_STOPPED, "nsaid-raised-level"},
        {'c', "type 2 diabetes", HW_ACT_CORTICOSTEROID, HW_AVAILABLE, "cs-diabetes"},
        {'c', "haemophilia", HW_ACT_SHOCKWAVE_RADIAL, HW_STOPPED, "sw-coagulopathy"},
        {'c', "peripheral arterial disease", HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE, HW_REFUSED,
         "ad-arterial-disease"},
        {'c', "porphyria", HW_ACT_LOCAL_ANAESTHETIC, HW_STOPPED, "la-porphyria"},
        {'c', "leukaemia", HW_ACT_PRP, HW_STOPPED, "prp-cancer"},
        {'c', "thrombophilia", HW_ACT_BOOT, HW_STOPPED, "boot-clot-condition"},
        {'a', "bupivacaine", HW_ACT_LOCAL_ANAESTHETIC, HW_REFUSED, "la-allergy"},
        {'a', "lignocaine", HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE, HW_REFUSED, "la-allergy"},
        {'a', "triamcinolone acetonide", HW_ACT_CORTICOSTEROID, HW_REFUSED, "cs-allergy"},
        {'a', "aspirin", HW_ACT_NSAID, HW_REFUSED, "nsaid-allergy"},
        {'a', "plaster", HW_ACT_TAPE, HW_REFUSED, "tape-allergy"},
        {'a', "latex", HW_ACT_TAPE, HW_AVAILABLE, "allergy-latex"},
        {'a', "citrate", HW_ACT_PRP, HW_REFUSED, "prp-citrate"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        bench at;
        bench_open(&at);
        const hw_named name = {.name = rows[i].name};
        const hw_names list = {HW_GIVEN_VALUE, &name, 1};
        if (rows[i].list == 'm') at.findings.medicines = list;
        if (rows[i].list == 'c') at.findings.conditions = list;
        if (rows[i].list == 'a') at.findings.allergies = list;
        const hw_judgement judged = judge(&at, rows[i].act);
        const hw_reason *reason = reason_of(&judged, rows[i].rule_id);
        if (!reason || judged.state != rows[i].state)
            fail_msg("%s: %s is %s, row %s %s", rows[i].name, hw_act_rows()[rows[i].act].word,
                     hw_eligibility_word(judged.state), rows[i].rule_id,
                     reason ? "stands" : "does not stand");
        assert_string_equal(reason->reading, rows[i].name); // the screen shows what was found
        hw_test_close(&at.room);
    }
}

static void test_judge__findings_of_the_other_foot_stay_there(void **state)
{
    (void)state;
    bench at;
    bench_open(&at);
    at.findings.feet[1].heel_pain = HW_ANSWER_YES;
    at.findings.feet[1].values[HW_FINDING_MONOFILAMENT] = hw_finding_of_word(HW_FILAMENT_NOT_FELT);
    assert_int_equal(judge(&at, HW_ACT_ORTHOSIS).state, HW_AVAILABLE);
    at.one.side = HW_SIDE_RIGHT;
    const hw_judgement right = judge(&at, HW_ACT_ORTHOSIS);
    assert_int_equal(right.state, HW_STOPPED);
    assert_int_equal(reason_of(&right, "device-sensation")->side, HW_SIDE_RIGHT);
    // Running is of the whole person: the worse of the feet that hurt.
    at.one.side = HW_SIDE_UNKNOWN;
    assert_int_equal(judge(&at, HW_ACT_RETURN_TO_IMPACT).state, HW_STOPPED);
    hw_test_close(&at.room);
}

static void test_judge__poor_perfusion_forbids_adrenaline(void **state)
{
    (void)state;
    bench at;
    bench_open(&at);
    hw_finding *pulses = &at.findings.feet[0].values[HW_FINDING_PULSES];
    assert_int_equal(judge(&at, HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE).state, HW_AVAILABLE);
    *pulses = hw_finding_of_word(HW_PULSES_WEAK);
    assert_int_equal(judge(&at, HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE).state, HW_REFUSED);
    assert_int_equal(judge(&at, HW_ACT_LOCAL_ANAESTHETIC).state, HW_AVAILABLE);
    *pulses = hw_finding_of_word(HW_PULSES_ABSENT);
    assert_int_equal(judge(&at, HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE).state, HW_REFUSED);
    *pulses = hw_finding_not_asked();
    const hw_judgement held = judge(&at, HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE);
    assert_int_equal(held.state, HW_HELD);
    assert_true(asks(&held, "feet.left.pulses"));
    hw_test_close(&at.room);
}

static void test_judge__both_heels_are_one_total(void **state)
{
    (void)state;
    bench at;
    bench_open(&at);
    // 11 mL of lidocaine 1 % in each heel: each 110 mg, together 220 mg over the label's 200 mg.
    // The other heel was done earlier today.
    at.findings.values[HW_FINDING_HEIGHT_CM] = hw_finding_of_number(200);
    const hw_anaesthetic_dose now = {"lidocaine", 1.0, 11.0, false};
    at.one.doses = &now, at.one.dose_count = 1;
    assert_int_equal(judge(&at, HW_ACT_LOCAL_ANAESTHETIC).state, HW_AVAILABLE);
    hw_past_act earlier[] = {
        {.act = HW_ACT_LOCAL_ANAESTHETIC,
         .date = at.findings.visit_date,
         .side = HW_SIDE_RIGHT,
         .substance = "lignocaine",
         .concentration_percent = hw_known(1.0),
         .volume_mL = hw_known(11.0)},
        {.act = HW_ACT_LOCAL_ANAESTHETIC, .date = at.findings.visit_date, .side = HW_SIDE_RIGHT}};
    at.findings.past = earlier, at.findings.past_count = 1;
    const hw_judgement over = judge(&at, HW_ACT_LOCAL_ANAESTHETIC);
    assert_int_equal(over.state, HW_REFUSED);
    assert_non_null(reason_of(&over, "la-over-maximum"));
    // An entry without its volume does not make less of what is known already.
    at.findings.past_count = 2;
    assert_int_equal(judge(&at, HW_ACT_LOCAL_ANAESTHETIC).state, HW_REFUSED);
    at.findings.past = &earlier[1], at.findings.past_count = 1;
    assert_int_equal(judge(&at, HW_ACT_LOCAL_ANAESTHETIC).state, HW_HELD);
    // The day after counts anew.
    at.findings.past = earlier, earlier[0].date = hw_date_plus(at.findings.visit_date, -1);
    assert_int_equal(judge(&at, HW_ACT_LOCAL_ANAESTHETIC).state, HW_AVAILABLE);
    hw_test_close(&at.room);
}

static void test_judge__an_undated_act_hides_no_dated_one(void **state)
{
    (void)state;
    bench at;
    bench_open(&at);
    hw_past_act past[] = {{.act = HW_ACT_CORTICOSTEROID, .side = HW_SIDE_LEFT},
                          {.act = HW_ACT_CORTICOSTEROID, .side = HW_SIDE_LEFT}};
    at.findings.past = past, at.findings.past_count = 1;
    assert_int_equal(judge(&at, HW_ACT_SHOCKWAVE_RADIAL).state, HW_HELD);
    past[1].date = hw_date_plus(at.findings.visit_date, -20);
    at.findings.past_count = 2;
    assert_int_equal(judge(&at, HW_ACT_SHOCKWAVE_RADIAL).state, HW_STOPPED);
    // A side nobody wrote down counts against either heel.
    past[1].side = HW_SIDE_UNKNOWN, past[0].side = HW_SIDE_RIGHT;
    assert_int_equal(judge(&at, HW_ACT_SHOCKWAVE_RADIAL).state, HW_STOPPED);
    hw_test_close(&at.room);
}

static void test_judge__a_gate_that_is_open_asks_first(void **state)
{
    (void)state;
    bench at;
    bench_open(&at);
    hw_finding *hba1c = &at.findings.values[HW_FINDING_HBA1C_PERCENT];
    *hba1c = (hw_finding){0};
    assert_int_equal(judge(&at, HW_ACT_CORTICOSTEROID).state, HW_AVAILABLE); // no diabetes
    at.findings.conditions.given = HW_GIVEN_ABSENT;
    hw_judgement judged = judge(&at, HW_ACT_CORTICOSTEROID);
    assert_int_equal(judged.state, HW_HELD);
    assert_true(asks(&judged, "conditions") && !asks(&judged, "person.hba1c_percent"));
    const hw_named diabetes = {.name = "diabetes"};
    at.findings.conditions = (hw_names){HW_GIVEN_VALUE, &diabetes, 1};
    judged = judge(&at, HW_ACT_CORTICOSTEROID);
    assert_int_equal(judged.state, HW_HELD);
    assert_true(asks(&judged, "person.hba1c_percent"));
    *hba1c = hw_finding_of_number(8.5); // at the limit is not above it
    judged = judge(&at, HW_ACT_CORTICOSTEROID);
    assert_int_equal(judged.state, HW_AVAILABLE);
    assert_non_null(reason_of(&judged, "cs-hba1c"));
    *hba1c = hw_finding_of_number(8.6);
    assert_int_equal(judge(&at, HW_ACT_CORTICOSTEROID).state, HW_STOPPED);
    hw_test_close(&at.room);
}

static void test_judge__an_unknown_condition_is_asked_and_does_not_hold(void **state)
{
    (void)state;
    bench at;
    bench_open(&at);
    const hw_named name = {.name = "foozitis"};
    at.findings.conditions = (hw_names){HW_GIVEN_VALUE, &name, 1};
    const hw_judgement judged = judge(&at, HW_ACT_CORTICOSTEROID);
    assert_int_equal(judged.state, HW_AVAILABLE);
    assert_true(asks(&judged, "conditions"));
    assert_non_null(strstr(judged.questions.rows[0].text, "foozitis"));
    hw_test_close(&at.room);
}

static void test_judge__never_stop_and_caution_are_overruled_differently(void **state)
{
    (void)state;
    bench at;
    bench_open(&at);
    const hw_named name = {.name = "apixaban"};
    at.findings.medicines = (hw_names){HW_GIVEN_VALUE, &name, 1};
    hw_overrule overrule = {"sw-anticoagulant-radial", "paused two days, agreed", "C1", "C2"};
    at.findings.overrules = &overrule, at.findings.overrule_count = 1;
    const hw_judgement judged = judge(&at, HW_ACT_SHOCKWAVE_RADIAL);
    assert_int_equal(judged.state, HW_AVAILABLE);
    assert_true(reason_of(&judged, "sw-anticoagulant-radial")->overruled); // and stays in sight
    const struct {
        hw_overrule overrule;
        const char *why;
    } bad[] = {{{"sw-anticoagulant-radial", "", "C1", "C2"}, "reason"},
               {{"sw-anticoagulant-radial", "paused", NULL, "C2"}, "clinician"},
               {{"sw-anticoagulant-radial", "paused", "C1", NULL}, "second person"},
               {{"sw-anticoagulant-radial", "paused", "C1", "C1"}, "cannot confirm"},
               {{"sw-pregnancy", "paused", "C1", "C2"}, "cannot be overruled"},
               {{"la-over-maximum", "paused", "C1", "C2"}, "cannot be overruled"},
               {{"no-such-row", "paused", "C1", "C2"}, "no rule row"}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        overrule = bad[i].overrule;
        hw_judgement out = {0};
        CHECK_FAILS(&at.room.job,
                    hw_judge(&at.room.job, &at.one, HW_ACT_SHOCKWAVE_RADIAL, at.room.into, &out),
                    HW_BAD_INPUT, bad[i].why);
    }
    overrule = (hw_overrule){"sw-nsaid", "acknowledged", "C1", NULL}; // a caution needs no second
    (void)judge(&at, HW_ACT_SHOCKWAVE_RADIAL);
    hw_test_close(&at.room);
}

// The rows product.md 7 names as never.
static void test_rows__what_can_never_be_overruled(void **state)
{
    (void)state;
    const char *never[] = {"sw-pregnancy",  "sw-tumour",  "sw-infection",        "cs-allergy",
                           "cs-infection",  "cs-tumour",  "la-allergy",          "la-over-maximum",
                           "la-infection",  "ad-pulses",  "ad-arterial-disease", "ad-allergy",
                           "prp-infection", "prp-tumour", "prp-citrate",         "nsaid-allergy",
                           "tape-allergy"};
    for (size_t i = 0; i < sizeof never / sizeof *never; i++)
        assert_int_equal(hw_rule_by_id(never[i])->kind, HW_RULE_NEVER);
}

// Limits that were read or are common practice: facts/clinical 7 (the rows cite their sources).
static void test_rows__limits_are_those_of_their_sources(void **state)
{
    (void)state;
    static const struct {
        const char *id;
        double limit;
    } rows[] = {
        {"sw-after-steroid", 42},       // clinic-page-shockwave: six weeks
        {"sw-session-gap", 7},          // mardani-kivi-2015: weekly
        {"sw-after-nsaid", 14},         // common practice: one to two weeks
        {"sw-under-18", 18},            // common practice
        {"cs-spacing", 84},             // common practice: 6, better 12 weeks
        {"cs-count-year", 2},           // common practice
        {"cs-count-ever", 3},           // common practice
        {"cs-hba1c-high", 8.5},         // common practice: 69 mmol/mol
        {"cs-inr", 3.0},                // from memory: injection literature
        {"cs-day-total", 200},          // 40 mg methylprednisolone: steroid-tables
        {"la-over-maximum", 1.0},       // fractions add up: la-adult-guide
        {"la-weight-age-adult", 90},    // hazard H15
        {"la-weight-age-child", 30},    // hazard H15
        {"prp-platelet-count", 100},    // common practice
        {"prp-haemoglobin", 100},       // common practice
        {"prp-after-nsaid", 7},         // peerbooms-thesis: within one week
        {"prp-after-steroid", 42},      // prp-clinic-pages: 4 to 6 weeks
        {"nsaid-after-prp", 14},        // prp-clinic-pages: from 2 weeks
        {"impact-after-injection", 14}, // common practice
        {"load-after-shockwave", 2},    // common practice: 48 h
        {"surgery-after-steroid", 92},  // common practice: three months
        {"boot-body-mass", 30},         // common practice
        {"home-pain", 5},               // silbernagel-2007
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const hw_rule *rule = hw_rule_by_id(rows[i].id);
        if (!rule) fail_msg("no row %s", rows[i].id);
        CHECK_NEAR(rule->when.limit, rows[i].limit, 1e-9, rows[i].id);
    }
}

static void test_compare__a_value_typed_at_the_limit_is_at_it(void **state)
{
    (void)state;
    // 3 x 66.7 is 200.10000000000002 in binary: as decimals it is 200.1.
    assert_false(hw_compare(3.0 * 66.7, HW_ABOVE, 200.1));
    assert_false(hw_compare(0.1 + 0.2, HW_ABOVE, 0.3));
    assert_true(hw_compare(0.1 + 0.2, HW_AT_LEAST, 0.3));
    assert_true(hw_compare(0.1 + 0.2, HW_IS, 0.3));
    assert_false(hw_compare(0.1 + 0.2, HW_BELOW, 0.3));
    assert_true(hw_compare(8.51, HW_ABOVE, 8.5));
    assert_false(hw_compare(NAN, HW_ABOVE, 1.0));
}

static void test_pain__rule_of_the_three_bands(void **state)
{
    (void)state;
    // from memory: Silbernagel 2007 Am J Sports Med, adapted: 0 to 2, 3 to 5, above 5.
    assert_int_equal(hw_pain_rule(2.0), HW_PAIN_GO_ON);
    assert_int_equal(hw_pain_rule(3.0), HW_PAIN_HOLD);
    assert_int_equal(hw_pain_rule(5.0), HW_PAIN_HOLD);
    assert_int_equal(hw_pain_rule(6.0), HW_PAIN_CUT_BACK);
    assert_int_equal(hw_pain_rule(2.5), HW_PAIN_HOLD); // between: the stricter
}

int test_clinic_judge(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_judge__a_healthy_person_may_have_everything),
        cmocka_unit_test(test_judge__medicines_conditions_and_allergies),
        cmocka_unit_test(test_judge__findings_of_the_other_foot_stay_there),
        cmocka_unit_test(test_judge__poor_perfusion_forbids_adrenaline),
        cmocka_unit_test(test_judge__both_heels_are_one_total),
        cmocka_unit_test(test_judge__an_undated_act_hides_no_dated_one),
        cmocka_unit_test(test_judge__a_gate_that_is_open_asks_first),
        cmocka_unit_test(test_judge__an_unknown_condition_is_asked_and_does_not_hold),
        cmocka_unit_test(test_judge__never_stop_and_caution_are_overruled_differently),
        cmocka_unit_test(test_rows__what_can_never_be_overruled),
        cmocka_unit_test(test_rows__limits_are_those_of_their_sources),
        cmocka_unit_test(test_compare__a_value_typed_at_the_limit_is_at_it),
        cmocka_unit_test(test_pain__rule_of_the_three_bands),
    };
    return cmocka_run_group_tests_name("clinic judge", tests, NULL, NULL);
}
