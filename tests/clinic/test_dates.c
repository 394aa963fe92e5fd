// SPDX-License-Identifier: GPL-3.0-or-later
// Spacing of treatments and the timeline.
#include "near.h"

#include "person.h"

static hw_plan plan_of(hw_test_room *room, const hw_findings *findings)
{
    hw_plan plan = {0};
    CHECK_OK(&room->job, hw_clinic_plan(&room->job, findings, room->into, &plan));
    return plan;
}

static const hw_entry *session_of(const hw_plan *plan, hw_act act, int session)
{
    for (int i = 0; i < plan->entry_count; i++) {
        const hw_entry *entry = &plan->timeline[i];
        if (entry->kind == HW_ENTRY_ACT && entry->act == act && entry->session == session)
            return entry;
    }
    return NULL;
}

static void test_earliest__six_weeks_from_steroid_to_shockwave(void **state)
{
    (void)state;
    // Six weeks are 42 days: source clinic-page-shockwave.
    hw_findings findings = healthy_person();
    hw_past_act past = {.act = HW_ACT_CORTICOSTEROID, .side = HW_SIDE_LEFT};
    findings.past = &past, findings.past_count = 1;
    static const struct {
        int ago, wait;
    } rows[] = {{0, 42}, {41, 1}, {42, 0}, {43, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        past.date = hw_date_plus(findings.visit_date, -rows[i].ago);
        const hw_situation one = case_of(&findings, HW_SIDE_LEFT);
        const hw_rule *moved = NULL;
        const hw_date got = hw_earliest(&one, HW_ACT_SHOCKWAVE_RADIAL, findings.visit_date, &moved);
        assert_true(got.known);
        assert_int_equal(hw_date_days(findings.visit_date, got), rows[i].wait);
        if (rows[i].wait)
            assert_string_equal(moved->id, "sw-after-steroid");
        else
            assert_null(moved);
        const hw_situation other = case_of(&findings, HW_SIDE_RIGHT);
        assert_int_equal(
            hw_date_days(findings.visit_date,
                         hw_earliest(&other, HW_ACT_SHOCKWAVE_RADIAL, findings.visit_date, &moved)),
            0);
    }
}

static void test_earliest__a_later_act_keeps_its_distance(void **state)
{
    (void)state;
    // Shockwave is booked in 10 days: a steroid before it would come too close, so it goes after
    // it.
    const hw_findings findings = healthy_person();
    const hw_past_act booked = {.act = HW_ACT_SHOCKWAVE_RADIAL,
                                .side = HW_SIDE_LEFT,
                                .date = hw_date_plus(findings.visit_date, 10)};
    hw_situation one = case_of(&findings, HW_SIDE_LEFT);
    one.acts = &booked, one.act_count = 1;
    const hw_rule *moved = NULL;
    const hw_date got = hw_earliest(&one, HW_ACT_CORTICOSTEROID, findings.visit_date, &moved);
    assert_true(got.known && hw_date_days(booked.date, got) >= 0);
    assert_string_equal(moved->id, "sw-after-steroid");
}

static void test_earliest__three_in_a_lifetime_is_never(void **state)
{
    (void)state;
    hw_findings findings = healthy_person();
    hw_past_act past[3] = {{0}};
    for (int i = 0; i < 3; i++)
        past[i] = (hw_past_act){.act = HW_ACT_CORTICOSTEROID,
                                .side = HW_SIDE_LEFT,
                                .date = hw_date_plus(findings.visit_date, -1000 - 200 * i)};
    findings.past = past, findings.past_count = 3;
    hw_situation one = case_of(&findings, HW_SIDE_LEFT);
    const hw_rule *moved = NULL;
    assert_false(hw_earliest(&one, HW_ACT_CORTICOSTEROID, one.date, &moved).known);
    assert_string_equal(moved->id, "cs-count-ever");
    findings.past_count = one.act_count = 2; // and a third is free
    assert_true(hw_earliest(&one, HW_ACT_CORTICOSTEROID, one.date, &moved).known);
}

static void test_earliest__an_overruled_row_does_not_move(void **state)
{
    (void)state;
    hw_findings findings = healthy_person();
    const hw_past_act past = {.act = HW_ACT_CORTICOSTEROID,
                              .side = HW_SIDE_LEFT,
                              .date = hw_date_plus(findings.visit_date, -30)};
    const hw_overrule overrule = {"sw-after-steroid", "agreed", "P1", "P2"};
    findings.past = &past, findings.past_count = 1;
    findings.overrules = &overrule, findings.overrule_count = 1;
    const hw_situation one = case_of(&findings, HW_SIDE_LEFT);
    const hw_rule *moved = NULL;
    const hw_date got = hw_earliest(&one, HW_ACT_SHOCKWAVE_RADIAL, one.date, &moved);
    assert_true(got.known && hw_date_days(one.date, got) == 0);
    assert_null(moved);
}

static void test_timeline__dates_what_only_days_or_cautions_touch(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    const hw_past_act past = {.act = HW_ACT_CORTICOSTEROID,
                              .side = HW_SIDE_LEFT,
                              .date = hw_date_plus(findings.visit_date, -10)};
    findings.past = &past, findings.past_count = 1;
    findings.feet[0].values[HW_FINDING_WEEKS_SINCE_ONSET] = hw_finding_of_number(4.0); // a caution
    findings.chosen = 1u << HW_ACT_SHOCKWAVE_RADIAL;
    const hw_plan plan = plan_of(&room, &findings);
    const hw_entry *wave = session_of(&plan, HW_ACT_SHOCKWAVE_RADIAL, 1);
    assert_non_null(wave); // six weeks after the steroid, source clinic-page-shockwave
    assert_int_equal(hw_date_days(past.date, wave->date), 42);
    hw_test_close(&room);
}

static void test_timeline__the_guide_in_order(void **state)
{
    (void)state;
    // Morrissey 2021: the core from day one, shockwave between weeks 4 and 12, device at about 12.
    hw_test_room room = hw_test_open();
    const hw_findings findings = healthy_person();
    const hw_plan plan = plan_of(&room, &findings);
    assert_int_equal(session_of(&plan, HW_ACT_FASCIA_STRETCH, 1)->week, 0);
    assert_int_equal(session_of(&plan, HW_ACT_TAPE, 1)->week, 0);
    for (int session = 1; session <= 3; session++) {
        const hw_entry *entry = session_of(&plan, HW_ACT_SHOCKWAVE_RADIAL, session);
        assert_non_null(entry);
        assert_int_equal(entry->week, 5 + session);
        assert_true(entry->week >= 4 && entry->week <= 12);
        assert_string_equal(entry->only_if, "if not satisfied at the review");
    }
    assert_int_equal(session_of(&plan, HW_ACT_ORTHOSIS, 1)->week, 12);
    assert_null(session_of(&plan, HW_ACT_CORTICOSTEROID, 1)); // not part of the sequence
    for (int i = 1; i < plan.entry_count; i++)
        assert_true(hw_date_days(plan.timeline[i - 1].date, plan.timeline[i].date) >= 0);
    hw_test_close(&room);
}

static void test_timeline__what_was_chosen_keeps_its_distance(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    findings.chosen = (1u << HW_ACT_CORTICOSTEROID) | (1u << HW_ACT_SHOCKWAVE_RADIAL);
    hw_plan plan = plan_of(&room, &findings);
    const hw_entry *steroid = session_of(&plan, HW_ACT_CORTICOSTEROID, 1);
    const hw_entry *wave = session_of(&plan, HW_ACT_SHOCKWAVE_RADIAL, 1);
    assert_int_equal(hw_date_days(findings.visit_date, steroid->date), 0);
    assert_int_equal(hw_date_days(steroid->date, wave->date), 42);
    assert_string_equal(wave->moved_by->id, "sw-after-steroid");
    assert_null(session_of(&plan, HW_ACT_TAPE, 1));
    // A course of two weeks, then two weeks' distance (common practice: one to two weeks).
    findings.chosen = (1u << HW_ACT_NSAID) | (1u << HW_ACT_SHOCKWAVE_RADIAL);
    plan = plan_of(&room, &findings);
    wave = session_of(&plan, HW_ACT_SHOCKWAVE_RADIAL, 1);
    assert_int_equal(hw_date_days(findings.visit_date, wave->date), 28);
    assert_string_equal(wave->moved_by->id, "sw-after-nsaid");
    hw_test_close(&room);
}

static void test_timeline__says_what_it_waits_for(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    findings.values[HW_FINDING_FEVER] = hw_finding_of_word(HW_WORD_YES);
    hw_plan plan = plan_of(&room, &findings);
    assert_non_null(strstr(session_of(&plan, HW_ACT_TAPE, 1)->only_if, "red flags"));
    findings = healthy_person();
    findings.feet[0].values[HW_FINDING_SKIN_INFECTION] = hw_finding_not_asked();
    plan = plan_of(&room, &findings);
    assert_non_null(
        strstr(session_of(&plan, HW_ACT_SHOCKWAVE_RADIAL, 1)->only_if, "open questions"));
    findings.feet[0].values[HW_FINDING_SKIN_INFECTION] = hw_finding_of_word(HW_WORD_YES);
    findings.chosen = 1u << HW_ACT_SHOCKWAVE_RADIAL;
    plan = plan_of(&room, &findings);
    assert_null(session_of(&plan, HW_ACT_SHOCKWAVE_RADIAL, 1));
    assert_non_null(strstr(plan.notes[plan.note_count - 1], "not dated"));
    hw_test_close(&room);
}

static const hw_entry *first_of(const hw_plan *plan, hw_entry_kind kind, hw_act act, int skip)
{
    for (int i = 0; i < plan->entry_count; i++)
        if (plan->timeline[i].kind == kind && plan->timeline[i].act == act && skip-- == 0)
            return &plan->timeline[i];
    fail_msg("no entry");
    return NULL;
}

static void test_plan__a_move_by_hand_is_answered_by_the_rows(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    findings.chosen = 1u << HW_ACT_CORTICOSTEROID | 1u << HW_ACT_SHOCKWAVE_RADIAL;
    hw_moved moved = {HW_ACT_SHOCKWAVE_RADIAL, HW_SIDE_LEFT, 1, {0}};
    findings.moved = &moved, findings.moved_count = 1;
    // The steroid is on day 0: shockwave from day 42 on (clinic-page-shockwave), the rest follow.
    moved.date = hw_date_plus(findings.visit_date, 41);
    hw_plan plan = plan_of(&room, &findings);
    const hw_entry *first = session_of(&plan, HW_ACT_SHOCKWAVE_RADIAL, 1);
    assert_false(first->is_by_hand);
    assert_true(first->refused.known);
    assert_string_equal(first->against->id, "sw-after-steroid");
    assert_int_equal(hw_date_days(findings.visit_date, first->date), 42);
    moved.date = hw_date_plus(findings.visit_date, 60);
    plan = plan_of(&room, &findings);
    first = session_of(&plan, HW_ACT_SHOCKWAVE_RADIAL, 1);
    assert_true(first->is_by_hand && !first->refused.known && !first->against);
    assert_int_equal(hw_date_days(findings.visit_date, first->date), 60);
    assert_int_equal(
        hw_date_days(findings.visit_date, session_of(&plan, HW_ACT_SHOCKWAVE_RADIAL, 2)->date), 67);
    moved.date = hw_date_plus(findings.visit_date, -1);
    plan = plan_of(&room, &findings);
    assert_true(session_of(&plan, HW_ACT_SHOCKWAVE_RADIAL, 1)->refused.known);
    // With the row overruled the same day holds.
    const hw_overrule overrule = {"sw-after-steroid", "agreed", "C1", "C2"};
    findings.overrules = &overrule, findings.overrule_count = 1;
    moved.date = hw_date_plus(findings.visit_date, 41);
    plan = plan_of(&room, &findings);
    assert_true(session_of(&plan, HW_ACT_SHOCKWAVE_RADIAL, 1)->is_by_hand);
    hw_test_close(&room);
}

static void test_plan__steps_and_reviews_after_an_injection_are_dated(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    findings.chosen = 1u << HW_ACT_CORTICOSTEROID | 1u << HW_ACT_STRENGTH;
    const hw_plan plan = plan_of(&room, &findings);
    const hw_entry *start = first_of(&plan, HW_ENTRY_ACT, HW_ACT_STRENGTH, 0);
    for (int i = 0; i < 2; i++) { // Rathleff 2015: after 2 and after 4 weeks
        const hw_entry *step = first_of(&plan, HW_ENTRY_STEP, HW_ACT_STRENGTH, i);
        assert_int_equal(hw_date_days(start->date, step->date), 14 * (i + 1));
        assert_non_null(strstr(step->only_if, "pain 5 of 10"));
        assert_int_not_equal(step->text[strlen(step->text) - 1], '.'); // its condition goes on
    }
    const hw_entry *injection = first_of(&plan, HW_ENTRY_ACT, HW_ACT_CORTICOSTEROID, 0);
    const hw_entry *review = first_of(&plan, HW_ENTRY_REVIEW, HW_ACT_CORTICOSTEROID, 0);
    assert_int_equal(hw_date_days(injection->date, review->date), 28);
    hw_test_close(&room);
}

static void test_plan__rows_that_leave_no_day_are_named(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings findings = healthy_person();
    hw_past_act past[3];
    for (int i = 0; i < 3; i++)
        past[i] = (hw_past_act){.act = HW_ACT_CORTICOSTEROID,
                                .side = HW_SIDE_LEFT,
                                .date = hw_date_plus(findings.visit_date, -30 * (i + 1))};
    findings.past = past, findings.past_count = 3;
    findings.chosen = 1u << HW_ACT_CORTICOSTEROID;
    const hw_plan plan = plan_of(&room, &findings);
    bool is_named = false;
    for (int i = 0; i < plan.note_count; i++)
        is_named |= strstr(plan.notes[i], "clash: cs-") && strstr(plan.notes[i], "cs-count-ever");
    assert_true(is_named);
    hw_test_close(&room);
}

int test_clinic_dates(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_plan__a_move_by_hand_is_answered_by_the_rows),
        cmocka_unit_test(test_plan__steps_and_reviews_after_an_injection_are_dated),
        cmocka_unit_test(test_plan__rows_that_leave_no_day_are_named),
        cmocka_unit_test(test_earliest__six_weeks_from_steroid_to_shockwave),
        cmocka_unit_test(test_earliest__a_later_act_keeps_its_distance),
        cmocka_unit_test(test_earliest__three_in_a_lifetime_is_never),
        cmocka_unit_test(test_earliest__an_overruled_row_does_not_move),
        cmocka_unit_test(test_timeline__dates_what_only_days_or_cautions_touch),
        cmocka_unit_test(test_timeline__the_guide_in_order),
        cmocka_unit_test(test_timeline__what_was_chosen_keeps_its_distance),
        cmocka_unit_test(test_timeline__says_what_it_waits_for),
    };
    return cmocka_run_group_tests_name("clinic dates", tests, NULL, NULL);
}
