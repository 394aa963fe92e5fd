// SPDX-License-Identifier: GPL-3.0-or-later
// Every rule row at its limit, and where rows come from.
#include "limits.h"
#include "near.h"
#include "person.h"

enum { MOST_ACTS = 8 };

static const hw_rule *all_rows(int table, int *count)
{
    return table == 0 ? hw_rule_rows(count) : hw_red_flag_rows(count);
}

static void test_rows__ids_are_unique_and_sources_exist(void **state)
{
    (void)state;
    for (int table = 0; table < 2; table++) {
        int count = 0;
        const hw_rule *rows = all_rows(table, &count);
        assert_true(count > 15);
        for (int i = 0; i < count; i++) {
            // By id the first row with that id is found: any second one would not be itself.
            assert_ptr_equal(hw_rule_by_id(rows[i].id), &rows[i]);
            if (!hw_source_by_key(rows[i].source)) fail_msg("%s: no source", rows[i].id);
            assert_true(table == 1 || rows[i].acts != 0);
        }
    }
}

static void test_tables__cite_sources_that_exist(void **state)
{
    (void)state;
    int count = 0;
    const hw_evidence *lines = hw_evidence_rows(&count);
    for (int i = 0; i < count; i++)
        if (!hw_source_by_key(lines[i].source)) fail_msg("evidence %d: %s", i, lines[i].source);
    for (int act = 0; act < HW_ACT_COUNT; act++) {
        const hw_dose_row *dose = hw_dose_of((hw_act)act);
        assert_true((dose != NULL) == hw_act_rows()[act].offered);
        if (dose && !hw_source_by_key(dose->source)) fail_msg("dose %d: %s", act, dose->source);
    }
    const hw_anaesthetic_row *agents = hw_anaesthetic_rows(&count);
    for (int i = 0; i < count; i++)
        if (!hw_source_by_key(agents[i].source) || !hw_source_by_key(agents[i].cap_source))
            fail_msg("%s: no source", agents[i].agent);
    const hw_steroid_row *steroids = hw_steroid_rows(&count);
    for (int i = 0; i < count; i++)
        if (!hw_source_by_key(steroids[i].source)) fail_msg("%s: no source", steroids[i].agent);
    const hw_harm *harms = hw_harm_rows(&count);
    hw_acts harmful = 0;
    for (int i = 0; i < count; i++) {
        if (!hw_source_by_key(harms[i].source)) fail_msg("%s: no source", harms[i].what);
        assert_true(harms[i].what[0] && (!harms[i].how_often || harms[i].how_often[0]));
        harmful |= harms[i].acts;
    }
    const hw_acts consented = 1u << HW_ACT_CORTICOSTEROID | 1u << HW_ACT_PRP |
                              1u << HW_ACT_LOCAL_ANAESTHETIC | 1u << HW_ACT_SHOCKWAVE_RADIAL |
                              1u << HW_ACT_SHOCKWAVE_FOCUSED;
    assert_int_equal(harmful & consented, consented);
}

// A person for whom a subject reads `number`, everything else harmless.
typedef struct staged {
    hw_findings findings;
    hw_named named, other;
    hw_past_act past[MOST_ACTS];
    hw_anaesthetic_dose dose;
} staged;

static hw_act first_act(unsigned acts)
{
    int act = 0;
    while (!(acts & (1u << act))) act++;
    return (hw_act)act;
}

static void stage_list(hw_named *name, hw_names *list, unsigned group, double number)
{
    *name = (hw_named){"a name", true, group};
    if (number > 0.5) list->rows = name, list->count = 1;
}

static void stage_stranger(staged *at, hw_names *list, double number)
{
    at->other = (hw_named){.name = "foozimab"}; // in no table, classified by nobody
    if (number > 0.5) list->rows = &at->other, list->count = 1;
}

static void stage_past(staged *at, hw_subject subject, unsigned acts, double number)
{
    const bool days = subject == HW_SUBJECT_DAYS_SINCE;
    const int count = days ? 1 : (int)number;
    assert_true(count <= MOST_ACTS);
    for (int i = 0; i < count; i++)
        at->past[i] = (hw_past_act){
            .act = first_act(acts),
            .side = HW_SIDE_LEFT,
            .date = hw_date_plus(at->findings.visit_date, days ? -(int)number : -200)};
    at->findings.past = at->past, at->findings.past_count = count;
}

static void stage_finding(staged *at, unsigned id, hw_finding finding)
{
    at->findings.values[id] = at->findings.feet[0].values[id] = finding;
}

static void stage_value(staged *at, unsigned id, double number)
{
    const hw_finding_row *row = &hw_finding_rows()[id];
    stage_finding(at, id,
                  row->kind == HW_KIND_NUMBER ? hw_finding_of_number(number)
                                              : hw_finding_of_word((int)number));
}

static void stage_day_total(staged *at, hw_maybe dose_mg)
{
    at->past[0] = (hw_past_act){.act = HW_ACT_CORTICOSTEROID,
                                .date = at->findings.visit_date,
                                .substance = "hydrocortisone",
                                .dose_mg = dose_mg};
    at->findings.past = at->past, at->findings.past_count = 1;
}

static void stage(staged *at, hw_subject subject, unsigned key, double number)
{
    hw_findings *findings = &at->findings;
    switch (subject) {
    case HW_SUBJECT_NOTHING:
        return;
    case HW_SUBJECT_FINDING:
        stage_value(at, key, number);
        return;
    case HW_SUBJECT_AGE: // the lower of two possible ages: the birthday is still to come
        stage_value(at, HW_FINDING_BIRTH_YEAR, 2026.0 - 1.0 - number);
        return;
    case HW_SUBJECT_BODY_MASS_INDEX:
        stage_value(at, HW_FINDING_HEIGHT_CM, 200.0);
        stage_value(at, HW_FINDING_MASS_KG, 4.0 * number);
        return;
    case HW_SUBJECT_MASS_AGE:
        findings->mass_measured_on = hw_date_plus(findings->visit_date, -(int)number);
        return;
    case HW_SUBJECT_MEDICINE:
        stage_list(&at->named, &findings->medicines, key, number);
        return;
    case HW_SUBJECT_CONDITION:
        stage_list(&at->named, &findings->conditions, key, number);
        return;
    case HW_SUBJECT_ALLERGY:
        stage_list(&at->named, &findings->allergies, key, number);
        return;
    case HW_SUBJECT_UNRECOGNISED_MEDICINE:
        stage_stranger(at, &findings->medicines, number);
        return;
    case HW_SUBJECT_UNRECOGNISED_CONDITION:
        stage_stranger(at, &findings->conditions, number);
        return;
    case HW_SUBJECT_UNRECOGNISED_ALLERGY:
        stage_stranger(at, &findings->allergies, number);
        return;
    case HW_SUBJECT_DAYS_SINCE:
    case HW_SUBJECT_TIMES_IN_YEAR:
    case HW_SUBJECT_TIMES_EVER:
        stage_past(at, subject, key, number);
        return;
    case HW_SUBJECT_STEROID_DAY_TOTAL:
        stage_day_total(at, hw_known(number));
        return;
    case HW_SUBJECT_ANAESTHETIC_FRACTION: // lidocaine 1 %: 200 mg are 20 mL, spc-lidocaine
        stage_value(at, HW_FINDING_SEX, HW_SEX_MALE);
        stage_value(at, HW_FINDING_HEIGHT_CM, 200.0);
        at->dose = (hw_anaesthetic_dose){"lidocaine", 1.0, 20.0 * number, false};
        return;
    case HW_SUBJECT_BOTH_HEELS:
        findings->feet[1].heel_pain = number > 0.5 ? HW_ANSWER_YES : HW_ANSWER_NO;
        return;
    case HW_SUBJECT_NOT_FASCIA: // facts 1.5: a sore fat pad
        stage_value(at, HW_FINDING_TENDER_AT, number > 0.5 ? HW_TENDER_HEEL_PAD : 0.0);
        stage_value(at, HW_FINDING_PAIN_PATTERN, number > 0.5 ? HW_PATTERN_LONG_STANDING : 0.0);
        return;
    }
}

// What the subject stands on is not asked, or is not there at all.
static void silence(staged *at, hw_subject subject, unsigned key, hw_given given)
{
    hw_findings *findings = &at->findings;
    const hw_finding unsaid = {.given = given};
    const hw_names unsaid_names = {.given = given};
    switch (subject) {
    case HW_SUBJECT_NOTHING:
        return;
    case HW_SUBJECT_FINDING:
        stage_finding(at, key, unsaid);
        return;
    case HW_SUBJECT_AGE:
        stage_finding(at, HW_FINDING_BIRTH_YEAR, unsaid);
        return;
    case HW_SUBJECT_BODY_MASS_INDEX:
    case HW_SUBJECT_MASS_AGE:
        stage_finding(at, HW_FINDING_MASS_KG, unsaid);
        return;
    case HW_SUBJECT_MEDICINE:
    case HW_SUBJECT_UNRECOGNISED_MEDICINE:
        findings->medicines = unsaid_names;
        return;
    case HW_SUBJECT_CONDITION:
    case HW_SUBJECT_UNRECOGNISED_CONDITION:
        findings->conditions = unsaid_names;
        return;
    case HW_SUBJECT_ALLERGY:
    case HW_SUBJECT_UNRECOGNISED_ALLERGY:
        findings->allergies = unsaid_names;
        return;
    case HW_SUBJECT_DAYS_SINCE:
    case HW_SUBJECT_TIMES_IN_YEAR:
    case HW_SUBJECT_TIMES_EVER:
        findings->past = NULL, findings->past_count = 0, findings->past_given = given;
        return;
    case HW_SUBJECT_STEROID_DAY_TOTAL: // an injection of that day without its dose
        stage_day_total(at, (hw_maybe){0});
        return;
    case HW_SUBJECT_ANAESTHETIC_FRACTION: // an agent of which no table knows the maximum
        at->dose = (hw_anaesthetic_dose){"foozicaine", 1.0, 2.0, false};
        return;
    case HW_SUBJECT_BOTH_HEELS:
        findings->feet[1].heel_pain =
            given == HW_GIVEN_NOT_ASKED ? HW_ANSWER_NOT_ASKED : HW_ANSWER_UNKNOWN;
        return;
    case HW_SUBJECT_NOT_FASCIA:
        stage_finding(at, HW_FINDING_TENDER_AT, unsaid);
        stage_finding(at, HW_FINDING_PAIN_PATTERN, unsaid);
        return;
    }
}

static void expect(const limit_row *row, staged *at, hw_verdict want, const char *where)
{
    const hw_rule *rule = hw_rule_by_id(row->id);
    hw_situation one = case_of(&at->findings, HW_SIDE_LEFT);
    if (at->dose.agent) one.doses = &at->dose, one.dose_count = 1;
    const hw_verdict got = hw_rule_judge(rule, &one);
    if (got != want) fail_msg("%s, %s: verdict %d, want %d", row->id, where, got, want);
}

static staged open_gate(const limit_row *row)
{
    staged at = {.findings = healthy_person()};
    if (row->gate.subject) stage(&at, row->gate.subject, row->gate.key, row->gate.open);
    return at;
}

static bool is_word(const limit_row *row)
{
    return row->subject == HW_SUBJECT_FINDING && hw_finding_rows()[row->key].kind != HW_KIND_NUMBER;
}

static double step_of(const limit_row *row)
{
    if (row->subject == HW_SUBJECT_ANAESTHETIC_FRACTION) return 0.01;
    if (row->subject == HW_SUBJECT_BODY_MASS_INDEX) return 0.1;
    return row->subject == HW_SUBJECT_FINDING && !is_word(row) ? 0.1 : 1.0;
}

// A subject that is yes or no has nothing above yes, a word nothing beyond its last.
static bool can_read(const limit_row *row, double number)
{
    if (number < 0.0) return false;
    if (is_word(row)) {
        int words = 0;
        while (words < HW_FINDING_WORDS && hw_finding_rows()[row->key].words[words]) words++;
        return number < words;
    }
    return row->stands != IS || number <= 1.0;
}

static bool should_stand(stands how, int step)
{
    return how == IS ? step == 0 : how == UNDER ? step < 0 : how == OVER ? step > 0 : step >= 0;
}

static bool names_strangers(const limit_row *row)
{
    return row->subject == HW_SUBJECT_UNRECOGNISED_MEDICINE ||
           row->subject == HW_SUBJECT_UNRECOGNISED_CONDITION ||
           row->subject == HW_SUBJECT_UNRECOGNISED_ALLERGY;
}

static void test_rows__stand_where_the_facts_put_their_limit(void **state)
{
    (void)state;
    static const char *const names[] = {"below", "at", "above"};
    for (int i = 0; i < LIMIT_ROWS; i++) {
        const limit_row *row = &limit_rows[i];
        if (!hw_rule_by_id(row->id)) fail_msg("%s is gone", row->id);
        assert_int_equal(hw_rule_by_id(row->id)->kind, row->kind);
        for (int step = -1; step <= 1; step++) {
            const double number = row->limit + step * step_of(row);
            if (!can_read(row, number)) continue;
            // A name no table knows is never a yes: it stays a question.
            const hw_verdict yes = names_strangers(row) ? HW_VERDICT_UNKNOWN : HW_VERDICT_YES;
            staged at = open_gate(row);
            stage(&at, row->subject, row->key, number);
            expect(row, &at, should_stand(row->stands, step) ? yes : HW_VERDICT_NO,
                   names[step + 1]);
        }
    }
}

static void test_rows__unknown_and_missing_are_never_no(void **state)
{
    (void)state;
    for (int i = 0; i < LIMIT_ROWS; i++) {
        const limit_row *row = &limit_rows[i];
        for (int given = HW_GIVEN_ABSENT; given <= HW_GIVEN_NOT_ASKED; given++) {
            staged at = open_gate(row);
            silence(&at, row->subject, row->key, (hw_given)given);
            expect(row, &at, HW_VERDICT_UNKNOWN, given ? "not asked" : "missing");
        }
    }
}

static void test_rows__a_shut_gate_is_no_and_an_unknown_one_is_not(void **state)
{
    (void)state;
    int gates = 0;
    for (int i = 0; i < LIMIT_ROWS; i++) {
        const limit_row *row = &limit_rows[i];
        const hw_subject gated = hw_rule_by_id(row->id)->only_if.subject;
        assert_int_equal(gated, row->gate.subject);
        if (!gated) continue;
        const double beyond = row->stands == UNDER ? -1.0 : row->stands == OVER ? 1.0 : 0.0;
        staged at = {.findings = healthy_person()};
        stage(&at, row->gate.subject, row->gate.key, row->gate.shut);
        stage(&at, row->subject, row->key, row->limit + beyond);
        expect(row, &at, HW_VERDICT_NO, "gate shut");
        silence(&at, row->gate.subject, row->gate.key, HW_GIVEN_ABSENT);
        expect(row, &at, HW_VERDICT_UNKNOWN, "gate unknown");
        gates++;
    }
    assert_true(gates >= 6);
}

static void test_rows__none_is_without_its_limit(void **state)
{
    (void)state;
    for (int table = 0; table < 2; table++) {
        int count = 0;
        const hw_rule *rows = all_rows(table, &count);
        for (int i = 0; i < count; i++) {
            bool found = rows[i].retired;
            for (int k = 0; k < LIMIT_ROWS; k++) found |= !strcmp(limit_rows[k].id, rows[i].id);
            if (!found) fail_msg("%s has no line in tests/clinic/limits.h", rows[i].id);
        }
    }
}

// Nothing recorded, or all "not asked": no row may read that as a no.
static void check_unknown(const hw_findings *findings)
{
    for (int table = 0; table < 2; table++) {
        int count = 0;
        const hw_rule *rows = all_rows(table, &count);
        for (int i = 0; i < count; i++) {
            hw_rule alone = rows[i];
            alone.only_if = (hw_test){0};
            // What is ordered today is known to be nothing until it is ordered.
            if (alone.when.subject == HW_SUBJECT_ANAESTHETIC_FRACTION ||
                alone.when.subject == HW_SUBJECT_STEROID_DAY_TOTAL)
                continue;
            const hw_situation one = case_of(findings, HW_SIDE_LEFT);
            if (hw_rule_judge(&alone, &one) != HW_VERDICT_UNKNOWN)
                fail_msg("%s reads silence as an answer", alone.id);
        }
    }
}

static void test_rows__silence_is_not_no(void **state)
{
    (void)state;
    hw_findings findings = {.visit_date = day("2026-03-02")};
    check_unknown(&findings);
    for (int i = 0; i < HW_FINDING_COUNT; i++)
        findings.values[i] = findings.feet[0].values[i] = findings.feet[1].values[i] =
            hw_finding_not_asked();
    findings.medicines.given = findings.conditions.given = findings.allergies.given =
        HW_GIVEN_NOT_ASKED;
    findings.past_given = HW_GIVEN_NOT_ASKED;
    findings.feet[0].heel_pain = findings.feet[1].heel_pain = HW_ANSWER_NOT_ASKED;
    check_unknown(&findings);
}

static void write_field(FILE *to, const char *text, const char *after)
{
    fputc('"', to);
    for (; *text; text++) {
        if (*text == '"') fputc('"', to);
        fputc(*text, to);
    }
    fprintf(to, "\"%s", after);
}

static void write_source(FILE *to, const hw_source *row)
{
    const char *fields[] = {row->key,  row->citation, row->says,       row->design,
                            row->size, row->status,   row->checked_by, row->checked_on};
    for (int i = 0; i < 8; i++) write_field(to, fields[i], i < 7 ? "," : "\n");
}

static void test_sources__are_those_of_the_file(void **state)
{
    (void)state;
    FILE *file = fopen("data/sources.csv", "r");
    assert_non_null(file);
    static char got[8192], want[8192];
    assert_non_null(fgets(got, sizeof got, file));
    assert_int_equal(strncmp(got, "\"key\",\"citation\"", 16), 0);
    int count = 0;
    const hw_source *rows = hw_source_rows(&count);
    for (int i = 0; i < count; i++) {
        FILE *memory = fmemopen(want, sizeof want, "w");
        assert_non_null(memory);
        write_source(memory, &rows[i]);
        fclose(memory);
        assert_non_null(fgets(got, sizeof got, file));
        assert_string_equal(got, want);
    }
    assert_null(fgets(got, sizeof got, file));
    fclose(file);
}

// A row that was changed has a new digest; somebody must have written down that they reviewed it.
static void check_reviews(const hw_rule *rules, int count, const char *reviews)
{
    for (int i = 0; i < count; i++) {
        char wanted[96];
        snprintf(wanted, sizeof wanted, "\n%s,%016llx,", rules[i].id,
                 (unsigned long long)hw_rule_digest(&rules[i]));
        const char *at = strstr(reviews, wanted);
        if (!at) print_error("no review of%s in data/rule_reviews.csv\n", wanted);
        assert_non_null(at);
        int who = 0, year = 0;
        assert_int_equal(sscanf(at + strlen(wanted), "%*[^,\n]%n,%d-", &who, &year), 1);
        assert_true(who > 0 && year >= 2026);
    }
}

static void test_rules__every_row_was_reviewed_as_it_stands(void **state)
{
    (void)state;
    static char reviews[1 << 16];
    FILE *file = fopen("data/rule_reviews.csv", "r");
    assert_non_null(file);
    size_t bytes = fread(reviews, 1, sizeof reviews - 1, file);
    fclose(file);
    reviews[bytes] = 0;
    int count;
    const hw_rule *rules = hw_rule_rows(&count);
    check_reviews(rules, count, reviews);
    hw_rule changed = rules[0];
    changed.when.limit += 1.0;
    assert_true(hw_rule_digest(&changed) != hw_rule_digest(&rules[0]));
    rules = hw_red_flag_rows(&count);
    check_reviews(rules, count, reviews);
}

int test_clinic_rules(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rules__every_row_was_reviewed_as_it_stands),
        cmocka_unit_test(test_rows__ids_are_unique_and_sources_exist),
        cmocka_unit_test(test_tables__cite_sources_that_exist),
        cmocka_unit_test(test_rows__stand_where_the_facts_put_their_limit),
        cmocka_unit_test(test_rows__unknown_and_missing_are_never_no),
        cmocka_unit_test(test_rows__a_shut_gate_is_no_and_an_unknown_one_is_not),
        cmocka_unit_test(test_rows__none_is_without_its_limit),
        cmocka_unit_test(test_rows__silence_is_not_no),
        cmocka_unit_test(test_sources__are_those_of_the_file),
    };
    return cmocka_run_group_tests_name("clinic rules", tests, NULL, NULL);
}
