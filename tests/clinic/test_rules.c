// SPDX-License-Identifier: GPL-3.0-or-later
// Every rule row at its limit, and where rows come from.
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

// A person for whom the row's subject reads `number`, everything else harmless.
typedef struct staged {
    hw_findings findings;
    hw_named named;
    hw_past_act past[MOST_ACTS];
    hw_anaesthetic_dose dose;
} staged;

static hw_act first_act(unsigned acts)
{
    int act = 0;
    while (!(acts & (1u << act))) act++;
    return (hw_act)act;
}

static void stage_list(staged *at, hw_names *list, unsigned group, double number)
{
    at->named = (hw_named){"a name", true, group};
    if (number > 0.5) list->rows = &at->named, list->count = 1;
}

static void stage_past(staged *at, const hw_test *test, double number)
{
    const bool days = test->subject == HW_SUBJECT_DAYS_SINCE;
    const int count = days ? 1 : (int)number;
    assert_true(count <= MOST_ACTS);
    for (int i = 0; i < count; i++)
        at->past[i] = (hw_past_act){
            .act = first_act(test->key),
            .side = HW_SIDE_LEFT,
            .date = hw_date_plus(at->findings.visit_date, days ? -(int)number : -200)};
    at->findings.past = at->past, at->findings.past_count = count;
}

static void stage_finding(staged *at, const hw_test *test, double number)
{
    const hw_finding_row *row = &hw_finding_rows()[test->key];
    const hw_finding finding = row->kind == HW_KIND_NUMBER ? hw_finding_of_number(number)
                                                           : hw_finding_of_word((int)number);
    at->findings.values[row->id] = at->findings.feet[0].values[row->id] = finding;
}

static void stage_day_total(staged *at, double number)
{
    at->past[0] = (hw_past_act){.act = HW_ACT_CORTICOSTEROID,
                                .date = at->findings.visit_date,
                                .substance = "hydrocortisone",
                                .dose_mg = hw_known(number)};
    at->findings.past = at->past, at->findings.past_count = 1;
}

// False where the subject has no number to set.
static bool stage(staged *at, const hw_test *test, double number)
{
    *at = (staged){.findings = healthy_person()};
    hw_findings *findings = &at->findings;
    switch (test->subject) {
    case HW_SUBJECT_FINDING:
        return stage_finding(at, test, number), true;
    case HW_SUBJECT_AGE: // the lower of two possible ages: the birthday is still to come
        findings->values[HW_FINDING_BIRTH_YEAR] = hw_finding_of_number(2026.0 - 1.0 - number);
        return true;
    case HW_SUBJECT_BODY_MASS_INDEX:
        findings->values[HW_FINDING_HEIGHT_CM] = hw_finding_of_number(200.0);
        findings->values[HW_FINDING_MASS_KG] = hw_finding_of_number(4.0 * number);
        return true;
    case HW_SUBJECT_MASS_AGE:
        findings->mass_measured_on = hw_date_plus(findings->visit_date, -(int)number);
        return true;
    case HW_SUBJECT_MEDICINE:
        return stage_list(at, &findings->medicines, test->key, number), true;
    case HW_SUBJECT_CONDITION:
        return stage_list(at, &findings->conditions, test->key, number), true;
    case HW_SUBJECT_ALLERGY:
        return stage_list(at, &findings->allergies, test->key, number), true;
    case HW_SUBJECT_DAYS_SINCE:
    case HW_SUBJECT_TIMES_IN_YEAR:
    case HW_SUBJECT_TIMES_EVER:
        return stage_past(at, test, number), true;
    case HW_SUBJECT_STEROID_DAY_TOTAL:
        return stage_day_total(at, number), true;
    case HW_SUBJECT_ANAESTHETIC_FRACTION: // lidocaine 1 %: 200 mg are 20 mL, spc-lidocaine
        findings->values[HW_FINDING_SEX] = hw_finding_of_word(HW_SEX_MALE);
        findings->values[HW_FINDING_HEIGHT_CM] = hw_finding_of_number(200.0);
        at->dose = (hw_anaesthetic_dose){"lidocaine", 1.0, 20.0 * number, false};
        return true;
    case HW_SUBJECT_BOTH_HEELS:
        findings->feet[1].heel_pain = number > 0.5 ? HW_ANSWER_YES : HW_ANSWER_NO;
        return true;
    default:
        return false; // names no table knows: a test of their own
    }
}

static bool should_stand(hw_comparison comparison, int step)
{
    switch (comparison) {
    case HW_IS:
        return step == 0;
    case HW_BELOW:
        return step < 0;
    case HW_ABOVE:
        return step > 0;
    case HW_AT_LEAST:
        return step >= 0;
    }
    return false;
}

static void check_at(const hw_rule *rule, int step)
{
    const hw_subject subject = rule->when.subject;
    const bool yes_or_no = rule->when.comparison == HW_IS;
    if (yes_or_no && step > 0) return; // above yes there is nothing
    const double size = subject == HW_SUBJECT_ANAESTHETIC_FRACTION ? 0.01 : 1.0;
    staged at;
    if (!stage(&at, &rule->when, rule->when.limit + step * size)) return;
    hw_rule alone = *rule; // `only_if` has its own rows to be tried on
    alone.only_if = (hw_test){0};
    hw_situation one = case_of(&at.findings, HW_SIDE_LEFT);
    if (at.dose.agent) one.doses = &at.dose, one.dose_count = 1;
    const hw_verdict want =
        should_stand(rule->when.comparison, step) ? HW_VERDICT_YES : HW_VERDICT_NO;
    const hw_verdict got = hw_rule_judge(&alone, &one);
    if (got != want) fail_msg("%s, step %d: verdict %d, want %d", rule->id, step, got, want);
}

static void test_rows__stand_from_their_limit_on(void **state)
{
    (void)state;
    for (int table = 0; table < 2; table++) {
        int count = 0;
        const hw_rule *rows = all_rows(table, &count);
        for (int i = 0; i < count; i++)
            for (int step = -1; step <= 1; step++)
                if (rows[i].when.limit + step >= 0.0) check_at(&rows[i], step);
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
        cmocka_unit_test(test_rows__stand_from_their_limit_on),
        cmocka_unit_test(test_rows__silence_is_not_no),
        cmocka_unit_test(test_sources__are_those_of_the_file),
    };
    return cmocka_run_group_tests_name("clinic rules", tests, NULL, NULL);
}
