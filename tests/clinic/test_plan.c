// SPDX-License-Identifier: GPL-3.0-or-later
// What blocks a release, what holds a treatment.
#include "near.h"

#include "person.h"

static hw_plan plan_of(hw_test_room *room, const hw_findings *findings)
{
    hw_plan plan = {0};
    CHECK_OK(&room->job, hw_clinic_plan(&room->job, findings, room->into, &plan));
    return plan;
}

static const hw_option *option_of(const hw_plan *plan, hw_act act)
{
    for (int i = 0; i < plan->option_count; i++)
        if (plan->options[i].act == act) return &plan->options[i];
    fail_msg("no option %s", hw_act_rows()[act].word);
    return NULL;
}

static bool asks(const hw_plan *plan, int count, const char *key)
{
    for (int i = 0; i < count; i++)
        if (strcmp(plan->questions[i].key, key) == 0) return true;
    return false;
}

static void test_plan__all_answered_is_released(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const hw_findings findings = healthy_person();
    const hw_plan plan = plan_of(&room, &findings);
    assert_int_equal(plan.blocking_count, 0);
    assert_true(plan.released);
    assert_int_equal(strncmp(plan.verdict, "Released", 8), 0);
    assert_int_equal(plan.urgency, HW_URGENCY_NONE);
    for (int i = 0; i < plan.option_count; i++) // the right heel does not hurt
        assert_true(plan.options[i].side != HW_SIDE_RIGHT);
    for (int i = 0; i < plan.option_count; i++)
        if (plan.options[i].state != HW_AVAILABLE)
            fail_msg("%s is not available: %s", hw_act_rows()[plan.options[i].act].word,
                     plan.options[i].reason_count ? plan.options[i].reasons[0].rule->id
                                                  : plan.options[i].questions[0].key);
    assert_int_equal(plan.note_count, 1);
    assert_non_null(strstr(plan.notes[0], "right foot: no heel pain"));
    for (int i = 1; i < plan.option_count; i++)
        assert_true(plan.options[i - 1].principle <= plan.options[i].principle);
    hw_test_close(&room);
}

// Alone, each red flag yes or not asked keeps the plan from release.
static void test_plan__each_red_flag_blocks(void **state)
{
    (void)state;
    int flags = 0;
    for (int i = 0; i < HW_FINDING_COUNT; i++) {
        if (hw_finding_rows()[i].scope != HW_SCOPE_RED_FLAG) continue;
        hw_test_room room = hw_test_open();
        hw_findings findings = healthy_person();
        findings.values[i] = hw_finding_of_word(HW_WORD_YES);
        hw_plan plan = plan_of(&room, &findings);
        assert_false(plan.released);
        assert_int_equal(plan.red_flag_count, 1);
        assert_true(plan.urgency >= HW_URGENCY_SOON);
        assert_non_null(strstr(plan.verdict, "NOT RELEASED: red flag"));
        findings.values[i] = hw_finding_not_asked();
        plan = plan_of(&room, &findings);
        assert_false(plan.released);
        assert_int_equal(plan.red_flag_count, 0);
        assert_int_equal(plan.blocking_count, 1);
        assert_true(plan.questions[0].not_asked);
        flags++;
        hw_test_close(&room);
    }
    assert_int_equal(flags, 17);
}

static void test_plan__overruled_flag_releases(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    findings.values[HW_FINDING_NIGHT_PAIN] = hw_finding_of_word(HW_WORD_YES);
    hw_overrule overrule = {"rf-night-pain", "imaged last week, clear", "P1", NULL};
    findings.overrules = &overrule, findings.overrule_count = 1;
    hw_plan plan = {0};
    CHECK_FAILS(&room.job, hw_clinic_plan(&room.job, &findings, room.into, &plan), HW_BAD_INPUT,
                "second person");
    overrule.second = "P2";
    plan = plan_of(&room, &findings);
    assert_true(plan.released);
    assert_int_equal(plan.red_flag_count, 1);
    assert_true(plan.red_flags[0].overruled);
    hw_test_close(&room);
}

static void test_plan__must_be_answered_before_release(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const hw_findings whole = healthy_person();
    hw_findings findings = whole;
    findings.medicines.given = HW_GIVEN_ABSENT;
    hw_plan plan = plan_of(&room, &findings);
    assert_true(!plan.released && asks(&plan, plan.blocking_count, "medicines"));
    findings = whole, findings.allergies.given = HW_GIVEN_NOT_ASKED;
    plan = plan_of(&room, &findings);
    assert_true(!plan.released && asks(&plan, plan.blocking_count, "allergies"));
    findings = whole, findings.values[HW_FINDING_PREGNANCY] = hw_finding_not_asked();
    plan = plan_of(&room, &findings);
    assert_true(!plan.released && asks(&plan, plan.blocking_count, "person.pregnancy"));
    findings.values[HW_FINDING_SEX] = hw_finding_of_word(HW_SEX_MALE); // does not apply
    assert_true(plan_of(&room, &findings).released);
    findings = whole, findings.feet[0].values[HW_FINDING_MONOFILAMENT] = (hw_finding){0};
    plan = plan_of(&room, &findings);
    assert_true(!plan.released && asks(&plan, plan.blocking_count, "feet.left.monofilament"));
    findings = whole, findings.feet[0].values[HW_FINDING_PULSES] = hw_finding_not_asked();
    plan = plan_of(&room, &findings);
    assert_true(!plan.released && asks(&plan, plan.blocking_count, "feet.left.pulses"));
    hw_test_close(&room);
}

static void test_plan__a_scan_needs_its_loading_and_side(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    findings.feet[1].scan_used = true; // the foot that does not hurt gets a device, no more
    hw_plan plan = plan_of(&room, &findings);
    assert_int_equal(plan.blocking_count, 2);
    assert_true(asks(&plan, 2, "feet.right.scan.loading"));
    assert_true(asks(&plan, 2, "feet.right.scan.side_confirmed"));
    findings.feet[1].loading_known = findings.feet[1].side_confirmed = true;
    plan = plan_of(&room, &findings);
    assert_true(plan.released);
    for (int i = 0; i < plan.option_count; i++)
        if (plan.options[i].side == HW_SIDE_RIGHT)
            assert_int_equal(plan.options[i].act, HW_ACT_ORTHOSIS);
    hw_test_close(&room);
}

static void test_plan__no_foot_known_to_hurt(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    findings.feet[0].heel_pain = HW_ANSWER_NO;
    hw_plan plan = plan_of(&room, &findings);
    assert_int_equal(plan.option_count, 0);
    assert_int_equal(plan.entry_count, 0);
    assert_int_equal(plan.note_count, 2);
    findings.feet[0].heel_pain = HW_ANSWER_NOT_ASKED;
    plan = plan_of(&room, &findings);
    assert_true(!plan.released && asks(&plan, plan.blocking_count, "feet.left.heel_pain"));
    hw_test_close(&room);
}

static void test_plan__unknown_medicine_holds_what_enters(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    hw_named name = {"foozumab", false, 0};
    findings.medicines.rows = &name, findings.medicines.count = 1;
    hw_plan plan = plan_of(&room, &findings);
    static const hw_act held[] = {HW_ACT_CORTICOSTEROID,
                                  HW_ACT_LOCAL_ANAESTHETIC,
                                  HW_ACT_PRP,
                                  HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE,
                                  HW_ACT_SHOCKWAVE_RADIAL,
                                  HW_ACT_SHOCKWAVE_FOCUSED};
    for (size_t i = 0; i < sizeof held / sizeof *held; i++)
        assert_int_equal(option_of(&plan, held[i])->state, HW_HELD);
    assert_int_equal(option_of(&plan, HW_ACT_FASCIA_STRETCH)->state, HW_AVAILABLE);
    name.by_hand = true; // looked at, of no concern
    plan = plan_of(&room, &findings);
    assert_int_equal(option_of(&plan, HW_ACT_SHOCKWAVE_RADIAL)->state, HW_AVAILABLE);
    hw_test_close(&room);
}

static void test_plan__an_old_weight_stops_the_anaesthetic(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    findings.mass_measured_on = hw_date_plus(findings.visit_date, -90);
    hw_plan plan = plan_of(&room, &findings);
    assert_int_equal(option_of(&plan, HW_ACT_LOCAL_ANAESTHETIC)->state, HW_AVAILABLE);
    findings.mass_measured_on = hw_date_plus(findings.visit_date, -91);
    plan = plan_of(&room, &findings);
    assert_true(option_of(&plan, HW_ACT_LOCAL_ANAESTHETIC)->state >= HW_HELD);
    findings.mass_measured_on = (hw_date){0};
    plan = plan_of(&room, &findings);
    assert_int_equal(option_of(&plan, HW_ACT_LOCAL_ANAESTHETIC)->state, HW_HELD);
    hw_test_close(&room);
}

static void test_plan__doses_for_this_person(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    findings.values[HW_FINDING_HEIGHT_CM] = hw_finding_of_number(200.0);
    const hw_plan plan = plan_of(&room, &findings);
    // Lidocaine label and Frandsen 2025 (8 km: 8.8), shell-protocol-2013 (index 3, 70 kg: 4 mm).
    assert_non_null(strstr(option_of(&plan, HW_ACT_LOCAL_ANAESTHETIC)->dose_for_this_person,
                           "lidocaine 1 %: at most 200 mg = 20.0 mL"));
    assert_non_null(
        strstr(option_of(&plan, HW_ACT_RETURN_TO_IMPACT)->dose_for_this_person, "8.8 km"));
    assert_non_null(strstr(option_of(&plan, HW_ACT_ORTHOSIS)->dose_for_this_person, "4.0 mm"));
    hw_test_close(&room);
}

static void test_plan__refuses_bad_dates(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    const hw_past_act later = {.act = HW_ACT_TAPE, .date = hw_date_plus(findings.visit_date, 1)};
    findings.past = &later, findings.past_count = 1;
    hw_plan plan = {0};
    CHECK_FAILS(&room.job, hw_clinic_plan(&room.job, &findings, room.into, &plan), HW_BAD_INPUT,
                "after the visit");
    findings.visit_date = (hw_date){0};
    CHECK_FAILS(&room.job, hw_clinic_plan(&room.job, &findings, room.into, &plan), HW_BAD_INPUT,
                "date of the visit");
    hw_test_close(&room);
}

static void test_plan__every_allocation_may_fail(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    findings.feet[1].heel_pain = HW_ANSWER_YES;
    findings.values[HW_FINDING_FEVER] = hw_finding_of_word(HW_WORD_YES);
    findings.past_given = HW_GIVEN_ABSENT;
    const hw_arena_mark start = hw_arena_here(room.into);
    size_t n = 0;
    hw_status status = HW_NO_MEMORY;
    while (status != HW_OK) {
        hw_plan plan = {.rules_version = "untouched"};
        hw_arena_rewind(room.into, start);
        hw_arena_fail_at(room.into, ++n);
        status = hw_clinic_plan(&room.job, &findings, room.into, &plan);
        if (status == HW_OK) break;
        assert_int_equal(status, HW_NO_MEMORY);
        assert_string_equal(plan.rules_version, "untouched");
    }
    assert_true(n > 100);
    hw_test_close(&room);
}

int test_clinic_plan(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_plan__all_answered_is_released),
        cmocka_unit_test(test_plan__each_red_flag_blocks),
        cmocka_unit_test(test_plan__overruled_flag_releases),
        cmocka_unit_test(test_plan__must_be_answered_before_release),
        cmocka_unit_test(test_plan__a_scan_needs_its_loading_and_side),
        cmocka_unit_test(test_plan__no_foot_known_to_hurt),
        cmocka_unit_test(test_plan__unknown_medicine_holds_what_enters),
        cmocka_unit_test(test_plan__an_old_weight_stops_the_anaesthetic),
        cmocka_unit_test(test_plan__doses_for_this_person),
        cmocka_unit_test(test_plan__refuses_bad_dates),
        cmocka_unit_test(test_plan__every_allocation_may_fail),
    };
    return cmocka_run_group_tests_name("clinic plan", tests, NULL, NULL);
}
