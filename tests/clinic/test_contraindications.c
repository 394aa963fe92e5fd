// SPDX-License-Identifier: GPL-3.0-or-later
// The facts' lists of what forbids, stops or wants care (facts/clinical.md 7), item by item against what a plan
// makes of each in an otherwise healthy person: the other way round than test_rules.c, which walks the rows.
// An item that no row answers fails here, whatever the rows say of themselves.
#include "near.h"
#include "person.h"

// What the facts ask at least: a word beside the act, a stop, or never.
typedef enum least { WORD, STOP, NEVER } least;

typedef struct item {
    const char *what; // as the facts list it
    hw_act act;
    least least;
    enum { BY_FINDING, BY_CONDITION, BY_MEDICINE, BY_STEROID_DAYS_AGO } by;
    unsigned key;
    double value; // word's index, number, days
    const char *facts;
} item;

#define SHOCKWAVES(what, least, by, key, value, facts)                                             \
    {what, HW_ACT_SHOCKWAVE_RADIAL, least, by, key, value, facts},                                 \
    {                                                                                              \
        what, HW_ACT_SHOCKWAVE_FOCUSED, least, by, key, value, facts                               \
    }

// clang-format off
static const item items[] = {
    // 7.1: absolute at any energy, relative at high energy, to be considered.
    SHOCKWAVES("active infection at the site", NEVER, BY_FINDING, HW_FINDING_SKIN_INFECTION, 1, "7.1"),
    SHOCKWAVES("tumour in the field", NEVER, BY_FINDING, HW_FINDING_TUMOUR_IN_FIELD, 1, "7.1"),
    SHOCKWAVES("pregnancy", NEVER, BY_FINDING, HW_FINDING_PREGNANCY, 1, "7.1, 7.6"),
    SHOCKWAVES("significant coagulopathy", WORD, BY_CONDITION, HW_COND_COAGULOPATHY, 0, "7.1"),
    SHOCKWAVES("growth plate in focus", STOP, BY_FINDING, HW_FINDING_OPEN_GROWTH_PLATE, 1, "7.1"),
    SHOCKWAVES("pacemaker", WORD, BY_FINDING, HW_FINDING_PACEMAKER, 1, "7.1"),
    SHOCKWAVES("anti-inflammatory now", WORD, BY_MEDICINE, HW_MED_NSAID, 0, "7.1"),
    SHOCKWAVES("anticoagulant now", WORD, BY_MEDICINE, HW_MED_ANTICOAGULANT, 0, "7.1"),
    SHOCKWAVES("corticosteroid within six weeks", STOP, BY_STEROID_DAYS_AGO, 0, 20, "7.1"),
    SHOCKWAVES("open wound", WORD, BY_FINDING, HW_FINDING_OPEN_WOUND, 1, "7.1"),
    SHOCKWAVES("reduced sensation", WORD, BY_FINDING, HW_FINDING_MONOFILAMENT, HW_FILAMENT_NOT_FELT, "7.1"),
    SHOCKWAVES("severe ischaemia", WORD, BY_FINDING, HW_FINDING_PULSES, HW_PULSES_ABSENT, "7.1"),
    // 7.3: contraindications of the injection.
    {"local infection", HW_ACT_CORTICOSTEROID, NEVER, BY_FINDING, HW_FINDING_SKIN_INFECTION, 1, "7.3"},
    {"systemic infection", HW_ACT_CORTICOSTEROID, STOP, BY_FINDING, HW_FINDING_SYSTEMIC_INFECTION, 1, "7.3"},
    {"broken skin", HW_ACT_CORTICOSTEROID, STOP, BY_FINDING, HW_FINDING_OPEN_WOUND, 1, "7.3"},
    {"prosthesis adjacent", HW_ACT_CORTICOSTEROID, STOP, BY_FINDING, HW_FINDING_IMPLANT_AT_HEEL, 1, "7.3"},
    {"uncontrolled diabetes", HW_ACT_CORTICOSTEROID, STOP, BY_FINDING, HW_FINDING_HBA1C_PERCENT, 9.5, "7.3"},
    {"suspected rupture", HW_ACT_CORTICOSTEROID, STOP, BY_FINDING, HW_FINDING_SUSPECTED_RUPTURE, 1, "7.3"},
    {"corticosteroid within the gap", HW_ACT_CORTICOSTEROID, STOP, BY_STEROID_DAYS_AGO, 0, 20, "7.1, 7.3"},
    {"a blood thinner of one kind", HW_ACT_CORTICOSTEROID, WORD, BY_MEDICINE, HW_MED_VITAMIN_K_ANTAGONIST, 0, "7.3"},
    {"diabetes: glucose rises", HW_ACT_CORTICOSTEROID, WORD, BY_CONDITION, HW_COND_DIABETES, 0, "7.3"},
    {"anticoagulant", HW_ACT_CORTICOSTEROID, WORD, BY_MEDICINE, HW_MED_ANTICOAGULANT, 0, "7.3"},
    {"pregnancy: only if essential", HW_ACT_CORTICOSTEROID, WORD, BY_FINDING, HW_FINDING_PREGNANCY, 1, "7.6"},
    {"immunosuppressed", HW_ACT_CORTICOSTEROID, WORD, BY_CONDITION, HW_COND_IMMUNOSUPPRESSED, 0, "7.6"},
    {"rheumatoid: talk to the team", HW_ACT_CORTICOSTEROID, WORD, BY_CONDITION, HW_COND_INFLAMMATORY_ARTHRITIS, 0, "7.6"},
    {"arterial disease: opinion before", HW_ACT_CORTICOSTEROID, WORD, BY_CONDITION, HW_COND_POOR_PERFUSION, 0, "7.6"},
    // 7.4: no adrenaline in an ischaemic foot.
    {"ischaemic foot", HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE, NEVER, BY_CONDITION, HW_COND_POOR_PERFUSION, 0, "7.4, 7.6"},
    // 7.5: contraindications of platelet-rich plasma, then the relative ones.
    {"platelet disorder", HW_ACT_PRP, STOP, BY_CONDITION, HW_COND_PLATELET_DISORDER, 0, "7.5"},
    {"count below 100", HW_ACT_PRP, STOP, BY_FINDING, HW_FINDING_PLATELET_COUNT, 99, "7.5"},
    {"sepsis", HW_ACT_PRP, STOP, BY_CONDITION, HW_COND_SEPSIS, 0, "7.5"},
    {"local infection", HW_ACT_PRP, NEVER, BY_FINDING, HW_FINDING_SKIN_INFECTION, 1, "7.5"},
    {"blood cancer", HW_ACT_PRP, STOP, BY_CONDITION, HW_COND_BLOOD_CANCER, 0, "7.5"},
    {"haemoglobin below 100", HW_ACT_PRP, STOP, BY_FINDING, HW_FINDING_HAEMOGLOBIN_G_PER_L, 99, "7.5"},
    {"anticoagulant", HW_ACT_PRP, WORD, BY_MEDICINE, HW_MED_ANTICOAGULANT, 0, "7.5"},
    {"active cancer", HW_ACT_PRP, WORD, BY_CONDITION, HW_COND_CANCER, 0, "7.5"},
    {"pregnancy", HW_ACT_PRP, WORD, BY_FINDING, HW_FINDING_PREGNANCY, 1, "7.5"},
    {"smoking", HW_ACT_PRP, WORD, BY_FINDING, HW_FINDING_SMOKING, 1, "7.5"},
    {"anti-inflammatory", HW_ACT_PRP, STOP, BY_MEDICINE, HW_MED_NSAID, 0, "7.5"},
    {"corticosteroid within four weeks", HW_ACT_PRP, STOP, BY_STEROID_DAYS_AGO, 0, 20, "7.1, 7.5"},
    // 7.6, 7.8.
    {"past ulcer: no hard device", HW_ACT_ORTHOSIS, WORD, BY_FINDING, HW_FINDING_PAST_ULCER, 1, "7.6"},
    {"insensate foot: no hard device", HW_ACT_ORTHOSIS, STOP, BY_FINDING, HW_FINDING_MONOFILAMENT, HW_FILAMENT_NOT_FELT, "7.6"},
    {"arterial disease: no tight tape", HW_ACT_TAPE, WORD, BY_CONDITION, HW_COND_POOR_PERFUSION, 0, "7.6"},
    {"past clot in a boot", HW_ACT_BOOT, WORD, BY_FINDING, HW_FINDING_PREVIOUS_CLOT, 1, "7.8"},
    {"thrombophilia in a boot", HW_ACT_BOOT, WORD, BY_CONDITION, HW_COND_CLOT_RISK, 0, "7.8"},
    {"corticosteroid within three months", HW_ACT_SURGERY, STOP, BY_STEROID_DAYS_AGO, 0, 60, "7.1"},
};
// clang-format on

static hw_finding finding_of(const item *of)
{
    const hw_finding_row *row = &hw_finding_rows()[of->key];
    return row->kind == HW_KIND_NUMBER ? hw_finding_of_number(of->value)
                                       : hw_finding_of_word((int)of->value);
}

// As a clinician names a group by hand: by its word, through the table of words.
static unsigned by_hand(const item *of)
{
    int bit = 0;
    while (of->key >> bit > 1) bit++;
    if (of->by == BY_CONDITION) return hw_condition_group_by_word(hw_condition_group_word(bit));
    if (of->by == BY_MEDICINE) return hw_medicine_group_by_word(hw_medicine_group_word(bit));
    return 0;
}

// A woman of 50 for whom nothing else speaks against anything.
static hw_findings person_with(const item *of, hw_named *named, hw_past_act *past)
{
    hw_findings out = healthy_person();
    out.values[HW_FINDING_SEX] = hw_finding_of_word(HW_SEX_FEMALE);
    *named = (hw_named){"classified by hand", true, by_hand(of)};
    if (of->by == BY_FINDING && of->key == HW_FINDING_OPEN_GROWTH_PLATE)
        out.values[HW_FINDING_BIRTH_YEAR] = hw_finding_of_number(2007.0); // 18, 19 this year
    const hw_names one = {HW_GIVEN_VALUE, named, 1};
    switch (of->by) {
    case BY_FINDING:
        if (of->key == HW_FINDING_HBA1C_PERCENT) { // it is asked of people with diabetes
            *named = (hw_named){"diabetes", false, 0};
            out.conditions = one;
        }
        out.values[of->key] = out.feet[0].values[of->key] = finding_of(of);
        break;
    case BY_CONDITION:
        out.conditions = one;
        break;
    case BY_MEDICINE:
        out.medicines = one;
        break;
    case BY_STEROID_DAYS_AGO:
        *past = (hw_past_act){.act = HW_ACT_CORTICOSTEROID,
                              .side = HW_SIDE_LEFT,
                              .date = hw_date_plus(out.visit_date, -(int)of->value),
                              .substance = "triamcinolone acetonide",
                              .dose_mg = hw_known(20)};
        out.past = past, out.past_count = 1;
        break;
    }
    return out;
}

static const hw_option *option_of(const hw_plan *plan, hw_act act)
{
    for (int i = 0; i < plan->option_count; i++)
        if (plan->options[i].act == act && plan->options[i].side != HW_SIDE_RIGHT)
            return &plan->options[i];
    fail_msg("no option %s", hw_act_rows()[act].word);
    return NULL;
}

// A word that is not there for a healthy person.
static bool has_new_word(const hw_option *option, const hw_option *healthy)
{
    for (int i = 0; i < option->reason_count; i++) {
        bool is_old = false;
        for (int k = 0; k < healthy->reason_count; k++)
            is_old |= healthy->reasons[k].rule == option->reasons[i].rule;
        if (!is_old) return true;
    }
    return false;
}

static void test_facts__every_contraindication_is_answered_by_the_plan(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_findings well = healthy_person();
    well.values[HW_FINDING_SEX] = hw_finding_of_word(HW_SEX_FEMALE);
    hw_plan healthy = {0};
    int wrong = 0;
    CHECK_OK(&room.job, hw_clinic_plan(&room.job, &well, room.into, &healthy));
    for (size_t i = 0; i < sizeof items / sizeof *items; i++) {
        const item *of = &items[i];
        hw_named named = {0};
        hw_past_act past = {0};
        hw_plan plan = {0};
        const hw_findings person = person_with(of, &named, &past);
        CHECK_OK(&room.job, hw_clinic_plan(&room.job, &person, room.into, &plan));
        const hw_option *option = option_of(&plan, of->act), *was = option_of(&healthy, of->act);
        assert_true(was->state < HW_STOPPED);
        const bool is_answered = of->least == NEVER  ? option->state == HW_REFUSED
                                 : of->least == STOP ? option->state >= HW_STOPPED
                                                     : has_new_word(option, was);
        if (!is_answered)
            print_error("facts %s, %s: %s is %s\n", of->facts, of->what,
                        hw_act_rows()[of->act].word, hw_eligibility_word(option->state));
        wrong += !is_answered;
    }
    assert_int_equal(wrong, 0);
    hw_test_close(&room);
}

int test_clinic_contraindications(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_facts__every_contraindication_is_answered_by_the_plan),
    };
    return cmocka_run_group_tests_name("clinic contraindications", tests, NULL, NULL);
}
