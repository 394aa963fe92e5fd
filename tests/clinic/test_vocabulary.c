// SPDX-License-Identifier: GPL-3.0-or-later
// The vocabulary of findings and acts, and names as typed.
#include "near.h"

#include "person.h"

static void test_findings__each_row_stands_at_its_id_and_is_found_by_its_key(void **state)
{
    (void)state;
    for (int i = 0; i < HW_FINDING_COUNT; i++) {
        const hw_finding_row *row = &hw_finding_rows()[i];
        assert_int_equal(row->id, i);
        assert_non_null(row->key);
        assert_non_null(row->what);
        assert_ptr_equal(hw_finding_by_key(row->scope, row->key), row); // so it is unique
        if (row->kind == HW_KIND_NUMBER) {
            assert_true(row->low < row->high);
            assert_true(hw_finding_possible(row, row->low) && hw_finding_possible(row, row->high));
            assert_false(hw_finding_possible(row, row->low - 0.01));
            assert_false(hw_finding_possible(row, row->high + 0.01));
            assert_false(hw_finding_possible(row, NAN));
        }
    }
    assert_null(hw_finding_by_key(HW_SCOPE_FOOT, "lunge"));
    assert_null(hw_finding_by_key(HW_SCOPE_PERSON, "lunge_deg"));
    // The case file's own example of an impossible value.
    assert_false(hw_finding_possible(hw_finding_by_key(HW_SCOPE_FOOT, "lunge_deg"), 310));
}

static void test_findings__absent_not_asked_and_no_are_three_things(void **state)
{
    (void)state;
    const hw_finding_row *row = hw_finding_by_key(HW_SCOPE_RED_FLAG, "fever");
    hw_finding finding = {0};
    assert_int_equal(hw_finding_answer(finding), HW_ANSWER_UNKNOWN);
    assert_string_equal(hw_finding_word(row, finding), "unknown");
    assert_true(hw_finding_from_word(row, "Not asked", &finding));
    assert_int_equal(hw_finding_answer(finding), HW_ANSWER_NOT_ASKED);
    assert_string_equal(hw_finding_word(row, finding), "not asked");
    assert_true(hw_finding_from_word(row, "no", &finding));
    assert_int_equal(hw_finding_answer(finding), HW_ANSWER_NO);
    assert_true(hw_finding_from_word(row, "YES", &finding));
    assert_int_equal(hw_finding_answer(finding), HW_ANSWER_YES);
    assert_false(hw_finding_from_word(row, "maybe", &finding));
    assert_false(hw_finding_from_word(row, "", &finding));
    const hw_finding_row *pulses = hw_finding_by_key(HW_SCOPE_FOOT, "pulses");
    assert_true(hw_finding_from_word(pulses, "absent", &finding));
    assert_int_equal(finding.word, HW_PULSES_ABSENT);
    assert_string_equal(hw_finding_word(pulses, finding), "absent");
}

static void test_findings__pregnancy_applies_by_sex_and_age(void **state)
{
    (void)state;
    const struct {
        int sex;
        double born;
        bool applies;
    } rows[] = {{HW_SEX_FEMALE, 1990, true},      {HW_SEX_OTHER, 1990, true},
                {HW_SEX_MALE, 1990, false},       {HW_SEX_FEMALE, 2026 - 11, false},
                {HW_SEX_FEMALE, 2026 - 12, true}, {HW_SEX_FEMALE, 2026 - 56, true},
                {HW_SEX_FEMALE, 2026 - 57, false}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        hw_findings findings = healthy_person();
        findings.values[HW_FINDING_SEX] = hw_finding_of_word(rows[i].sex);
        findings.values[HW_FINDING_BIRTH_YEAR] = hw_finding_of_number(rows[i].born);
        assert_int_equal(hw_pregnancy_applies(&findings), rows[i].applies);
    }
    hw_findings findings = healthy_person();
    findings.values[HW_FINDING_SEX] = findings.values[HW_FINDING_BIRTH_YEAR] = (hw_finding){0};
    assert_true(hw_pregnancy_applies(&findings));
}

static void test_acts__each_word_finds_its_row(void **state)
{
    (void)state;
    for (int i = 0; i < HW_ACT_COUNT; i++) {
        const hw_act_row *row = &hw_act_rows()[i];
        assert_int_equal(row->act, i);
        assert_ptr_equal(hw_act_by_word(row->word), row);
        for (size_t k = 0; k < sizeof row->other / sizeof *row->other && row->other[k]; k++)
            assert_ptr_equal(hw_act_by_word(row->other[k]), row);
        // What is offered has a dose and at least one line of evidence.
        if (!row->offered) continue;
        assert_non_null(hw_dose_of(row->act));
        int count = 0, lines = 0;
        const hw_evidence *evidence = hw_evidence_rows(&count);
        for (int k = 0; k < count; k++) lines += (evidence[k].acts & (1u << i)) != 0;
        if (lines == 0) print_error("no evidence for %s\n", row->word);
        assert_true(lines > 0);
    }
    assert_int_equal(hw_act_by_word("Corticosteroid Injection")->act, HW_ACT_CORTICOSTEROID);
    assert_null(hw_act_by_word("leeches"));
    // Radial is not focused: the bare word must not pick one.
    assert_null(hw_act_by_word("shockwave"));
}

static unsigned groups_of(const char *medicine)
{
    const hw_name_row *row = hw_substance(medicine);
    assert_non_null(row);
    return row->groups;
}

static void test_names__national_names_are_one_substance(void **state)
{
    (void)state;
    // International and US (or older UK) names: common practice.
    const char *pairs[][2] = {
        {"lidocaine", "lignocaine"},      {"adrenaline", "epinephrine"},
        {"paracetamol", "acetaminophen"}, {"furosemide", "frusemide"},
        {"indometacin", "indomethacin"},  {"ciclosporin", "cyclosporine"},
        {"glibenclamide", "glyburide"},   {"aspirin", "acetylsalicylic acid"},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        const hw_name_row *a = hw_substance(pairs[i][0]), *b = hw_substance(pairs[i][1]);
        assert_non_null(a);
        assert_non_null(b);
        assert_string_equal(b->preferred, a->name);
        assert_int_equal(a->groups, b->groups);
        assert_int_equal(a->allergens, b->allergens);
    }
}

static void test_names__a_salt_or_strength_may_follow_but_no_other_substance(void **state)
{
    (void)state;
    assert_int_equal(groups_of("Warfarin sodium 3 mg"),
                     HW_MED_ANTICOAGULANT | HW_MED_VITAMIN_K_ANTAGONIST);
    assert_int_equal(groups_of(" ibuprofen 400mg tablets "), HW_MED_NSAID);
    assert_int_equal(groups_of("apixaban"), HW_MED_ANTICOAGULANT);
    assert_int_equal(groups_of("ritonavir"), HW_MED_STRONG_CYP3A4);
    assert_int_equal(groups_of("calcium carbonate"), 0);
    const char *unknown[] = {
        "foozumab",         "warfarinol", "ibuprofen and apixaban", "aspirin/dipyridamole", "",
        "stopped apixaban", "warf"};
    for (size_t i = 0; i < sizeof unknown / sizeof *unknown; i++)
        assert_null(hw_substance(unknown[i]));
}

static void test_names__conditions_are_matched_whole(void **state)
{
    (void)state;
    assert_int_equal(hw_condition("Type 2 Diabetes")->groups, HW_COND_DIABETES);
    assert_null(hw_condition("cancer excluded"));
    assert_null(hw_condition("no diabetes"));
    unsigned allergens = 0;
    assert_true(hw_allergy("Bupivacaine", &allergens));
    assert_int_equal(allergens, HW_ALLERGEN_AMIDE_ANAESTHETIC);
    assert_true(hw_allergy("latex", &allergens));
    assert_int_equal(allergens, HW_ALLERGEN_LATEX);
    assert_true(hw_allergy("penicillin", &allergens));
    assert_int_equal(allergens, 0);
    assert_false(hw_allergy("moonlight", &allergens));
}

static void check_unique(const hw_name_row *(*rows_of)(int *),
                         const hw_name_row *(*lookup)(const char *))
{
    int count = 0;
    const hw_name_row *rows = rows_of(&count);
    assert_true(count > 50);
    for (int i = 0; i < count; i++) {
        assert_ptr_equal(lookup(rows[i].name), &rows[i]);
        if (rows[i].preferred) assert_non_null(lookup(rows[i].preferred));
    }
}

static void test_names__each_row_is_found_by_its_name(void **state)
{
    (void)state;
    check_unique(hw_substance_rows, hw_substance);
    check_unique(hw_condition_rows, hw_condition);
}

// What a group classified by hand stands for: itself, and what it is a kind of. Rows ask for the wider one;
// once a vitamin K antagonist by hand was no anticoagulant, and blood cancer no cancer.
static unsigned medicine_wanted(unsigned group)
{
    if (group == HW_MED_VITAMIN_K_ANTAGONIST) return group | HW_MED_ANTICOAGULANT;
    if (group == HW_MED_INSULIN_SULFONYLUREA) return group | HW_MED_GLUCOSE_LOWERING;
    return group;
}

static unsigned condition_wanted(unsigned group)
{
    if (group == HW_COND_BLOOD_CANCER) return group | HW_COND_CANCER | HW_COND_IMMUNOSUPPRESSED;
    if (group == HW_COND_HEART_FAILURE) return group | HW_COND_HEART;
    return group;
}

static void test_groups__each_word_comes_back_as_its_group(void **state)
{
    (void)state;
    for (int i = 0; i < HW_MED_GROUPS; i++)
        assert_int_equal(hw_medicine_group_by_word(hw_medicine_group_word(i)),
                         medicine_wanted(1u << i));
    for (int i = 0; i < HW_COND_GROUPS; i++)
        assert_int_equal(hw_condition_group_by_word(hw_condition_group_word(i)),
                         condition_wanted(1u << i));
    for (int i = 0; i < HW_ALLERGEN_GROUPS; i++)
        assert_int_equal(hw_allergen_by_word(hw_allergen_word(i)), 1u << i);
    assert_int_equal(hw_medicine_group_by_word("none such"), 0);
}

static void test_sources__each_has_a_known_status_and_a_unique_key(void **state)
{
    (void)state;
    const char *kinds[] = {"seen", "memory", "common practice", "derived"};
    int count = 0;
    const hw_source *rows = hw_source_rows(&count);
    for (int i = 0; i < count; i++) {
        assert_ptr_equal(hw_source_by_key(rows[i].key), &rows[i]);
        bool known = false;
        for (size_t k = 0; k < sizeof kinds / sizeof *kinds; k++)
            known |= strcmp(rows[i].status, kinds[k]) == 0;
        assert_true(known);
        // What is recalled says so where it is shown.
        if (strcmp(rows[i].status, "memory") == 0 && strcmp(rows[i].key, "ismst-2016") != 0)
            assert_non_null(strstr(rows[i].citation, "from memory"));
        hw_date month = {0};
        char day[HW_DATE_TEXT];
        (void)snprintf(day, sizeof day, "%.7s-01", rows[i].checked_on);
        assert_true(hw_date_parse(day, &month));
    }
}

int test_clinic_vocabulary(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_findings__each_row_stands_at_its_id_and_is_found_by_its_key),
        cmocka_unit_test(test_findings__absent_not_asked_and_no_are_three_things),
        cmocka_unit_test(test_findings__pregnancy_applies_by_sex_and_age),
        cmocka_unit_test(test_acts__each_word_finds_its_row),
        cmocka_unit_test(test_names__national_names_are_one_substance),
        cmocka_unit_test(test_names__a_salt_or_strength_may_follow_but_no_other_substance),
        cmocka_unit_test(test_names__conditions_are_matched_whole),
        cmocka_unit_test(test_names__each_row_is_found_by_its_name),
        cmocka_unit_test(test_groups__each_word_comes_back_as_its_group),
        cmocka_unit_test(test_sources__each_has_a_known_status_and_a_unique_key),
    };
    return cmocka_run_group_tests_name("clinic: vocabulary", tests, NULL, NULL);
}
