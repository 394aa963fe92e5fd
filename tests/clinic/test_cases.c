// SPDX-License-Identifier: GPL-3.0-or-later
// Thousands of invented cases against a checker that knows nothing of the program's rule table: what
// forbids, what spaces and what must be asked is written here a second time, from facts/clinical.md 1.6,
// 7 and 8 and facts/standards.md 6, and every pair of dates is tried.
#include "near.h"
#include "num/num.h"
#include "person.h"

#define ACT(name) (1u << HW_ACT_##name)

enum {
    CASES = 5000,
    PAST_MOST = 6,
    SW = ACT(SHOCKWAVE_RADIAL) | ACT(SHOCKWAVE_FOCUSED),
    CS = ACT(CORTICOSTEROID),
    LA = ACT(LOCAL_ANAESTHETIC) | ACT(LOCAL_ANAESTHETIC_ADRENALINE),
    AD = ACT(LOCAL_ANAESTHETIC_ADRENALINE),
    PRP = ACT(PRP),
    NSAID = ACT(NSAID),
    LOADING = ACT(STRENGTH) | ACT(RETURN_TO_IMPACT),
    IMPACT = ACT(RETURN_TO_IMPACT),
    STRETCH = ACT(FASCIA_STRETCH) | ACT(CALF_STRETCH),
    NEEDLE = ACT(DRY_NEEDLING),
    SHELL = ACT(ORTHOSIS),
    TAPE = ACT(TAPE),
    BOOT = ACT(BOOT),
    HANDS = ACT(MANUAL_THERAPY),
};

enum { ABSENT = -1, UNASKED = -2 };

// What forbids by a word of the findings: from this word on. `asks` rows do not hold what is unknown.
typedef struct word_row {
    const char *id; // the program's name of it, to overrule a stop by
    hw_finding_id finding;
    int from;
    unsigned acts;
    bool is_never, asks;
} word_row;

static const word_row word_rows[] = {
    // Pregnancy: facts 7.1, 7.5, 7.6.
    {"sw-pregnancy", HW_FINDING_PREGNANCY, 1, SW, true, false},
    {"cs-pregnancy", HW_FINDING_PREGNANCY, 1, CS, false, false},
    {"prp-pregnancy", HW_FINDING_PREGNANCY, 1, PRP, false, false},
    {"nsaid-pregnancy", HW_FINDING_PREGNANCY, 1, NSAID, false, false},
    // Tumour, infection, broken skin: 7.1, 7.3, 7.5.
    {"sw-tumour", HW_FINDING_TUMOUR_IN_FIELD, 1, SW, true, false},
    {"cs-tumour", HW_FINDING_TUMOUR_IN_FIELD, 1, CS, true, false},
    {"la-tumour", HW_FINDING_TUMOUR_IN_FIELD, 1, LA, true, false},
    {"prp-tumour", HW_FINDING_TUMOUR_IN_FIELD, 1, PRP, true, false},
    {"needling-tumour", HW_FINDING_TUMOUR_IN_FIELD, 1, NEEDLE, true, false},
    {"hands-tumour", HW_FINDING_TUMOUR_IN_FIELD, 1, HANDS, false, true},
    {"sw-infection", HW_FINDING_SKIN_INFECTION, 1, SW, true, false},
    {"cs-infection", HW_FINDING_SKIN_INFECTION, 1, CS, true, false},
    {"la-infection", HW_FINDING_SKIN_INFECTION, 1, LA, true, false},
    {"prp-infection", HW_FINDING_SKIN_INFECTION, 1, PRP, true, false},
    {"needling-infection", HW_FINDING_SKIN_INFECTION, 1, NEEDLE, true, false},
    {"hands-infection", HW_FINDING_SKIN_INFECTION, 1, HANDS, false, true},
    {"sw-wound", HW_FINDING_OPEN_WOUND, 1, SW, false, false},
    {"cs-wound", HW_FINDING_OPEN_WOUND, 1, CS, false, false},
    {"device-wound", HW_FINDING_OPEN_WOUND, 1, SHELL | ACT(INSOLE), false, true},
    {"tape-wound", HW_FINDING_OPEN_WOUND, 1, TAPE, false, true},
    {"tape-skin", HW_FINDING_FRAGILE_SKIN, 1, TAPE, false, true},
    {"cs-systemic-infection", HW_FINDING_SYSTEMIC_INFECTION, 1, CS, false, false},
    {"prp-sepsis", HW_FINDING_SYSTEMIC_INFECTION, 1, PRP, false, false},
    // Torn fascia, broken bone: 1.5, 7.3; standards 6, H36.
    {"sw-rupture", HW_FINDING_SUSPECTED_RUPTURE, 1, SW, false, false},
    {"cs-rupture", HW_FINDING_SUSPECTED_RUPTURE, 1, CS, false, false},
    {"prp-rupture", HW_FINDING_SUSPECTED_RUPTURE, 1, PRP, false, false},
    {"home-rupture", HW_FINDING_SUSPECTED_RUPTURE, 1, LOADING, false, false},
    {"home-rupture-stretch", HW_FINDING_SUSPECTED_RUPTURE, 1, STRETCH, false, true},
    {"home-stress-fracture", HW_FINDING_SUSPECTED_STRESS_FRACTURE, 1, LOADING, false, false},
    {"home-stress-fracture-stretch", HW_FINDING_SUSPECTED_STRESS_FRACTURE, 1, STRETCH, false, true},
    {"cs-stress-fracture", HW_FINDING_SUSPECTED_STRESS_FRACTURE, 1, CS, false, true},
    // Sensation, circulation, past ulcer: 7.4, 7.6; H06, H28.
    {"sw-sensation", HW_FINDING_MONOFILAMENT, 1, SW, false, false},
    {"home-sensation", HW_FINDING_MONOFILAMENT, 1, LOADING, false, false},
    {"device-sensation", HW_FINDING_MONOFILAMENT, 1, SHELL, false, false},
    {"boot-sensation", HW_FINDING_MONOFILAMENT, 1, BOOT, false, false},
    {"sw-ischaemia", HW_FINDING_PULSES, 2, SW, false, false},
    {"cs-perfusion", HW_FINDING_PULSES, 2, CS, false, false},
    {"prp-perfusion", HW_FINDING_PULSES, 2, PRP, false, false},
    {"device-pulses", HW_FINDING_PULSES, 2, SHELL, false, false},
    {"splint-perfusion", HW_FINDING_PULSES, 2, ACT(NIGHT_SPLINT), false, false},
    {"ad-pulses", HW_FINDING_PULSES, 1, AD, true, false},
    {"tape-perfusion", HW_FINDING_PULSES, 1, TAPE, false, false},
    {"device-past-ulcer", HW_FINDING_PAST_ULCER, 1, SHELL, false, true},
    {"cs-implant", HW_FINDING_IMPLANT_AT_HEEL, 1, CS, false, true},
    {"boot-clot", HW_FINDING_PREVIOUS_CLOT, 1, BOOT, false, false}, // 7.8
};

// What forbids by a name in a list; a list not given, or with a name nobody knows, holds.
typedef struct name_row {
    const char *id;
    char list; // m, c, a
    const char *name;
    unsigned acts;
    bool is_never;
} name_row;

static const name_row name_rows[] = {
    {"sw-anticoagulant-radial", 'm', "apixaban", ACT(SHOCKWAVE_RADIAL), false},
    {"sw-anticoagulant-focused", 'm', "apixaban", ACT(SHOCKWAVE_FOCUSED), false},
    {"prp-anticoagulant", 'm', "apixaban", PRP, false},
    {"nsaid-anticoagulant", 'm', "apixaban", NSAID, false},
    {"prp-nsaid", 'm', "ibuprofen", PRP, false},
    {"cs-cyp3a4", 'm', "ritonavir", CS, false},
    {"cs-fluoroquinolone", 'm', "ciprofloxacin", CS, false},
    {"nsaid-raised-level", 'm', "lithium", NSAID, false},
    {"sw-coagulopathy", 'c', "haemophilia", SW, false},
    {"cs-coagulopathy", 'c', "haemophilia", CS, false},
    {"la-coagulopathy", 'c', "haemophilia", LA, false},
    {"prp-coagulopathy", 'c', "haemophilia", PRP, false},
    {"nsaid-organs", 'c', "haemophilia", NSAID, false},
    {"needling-coagulopathy", 'c', "haemophilia", NEEDLE, false},
    {"ad-arterial-disease", 'c', "peripheral arterial disease", AD, true},
    {"cs-arterial-disease", 'c', "peripheral arterial disease", CS, false},
    {"tape-arterial-disease", 'c', "peripheral arterial disease", TAPE, false},
    {"la-porphyria", 'c', "porphyria", LA, false},
    {"prp-cancer", 'c', "leukaemia", PRP, false},
    {"prp-sepsis-condition", 'c', "sepsis", PRP | CS, false},
    {"boot-clot-condition", 'c', "thrombophilia", BOOT, false},
    {"nsaid-ulcer", 'c', "stomach ulcer", NSAID, false},
    {"nsaid-organs", 'c', "kidney disease", NSAID, false},
    {"la-allergy", 'a', "lidocaine", LA, true},
    {"cs-allergy", 'a', "triamcinolone acetonide", CS, true},
    {"nsaid-allergy", 'a', "aspirin", NSAID, true},
    {"tape-allergy", 'a', "plaster", TAPE, true},
    {"ad-allergy", 'a', "sulphites", AD, true},
    {"prp-citrate", 'a', "citrate", PRP, true},
};

// Facts 7.1, 7.3, 7.5: an act of `before` keeps this many days from one of `after`, on one heel.
typedef struct gap_row {
    const char *id;
    unsigned before, after;
    int days;
    bool is_stop; // else a caution: it still moves a date
    bool asks;
} gap_row;

static const gap_row gap_rows[] = {
    {"sw-after-steroid", CS, SW, 42, true, false},
    {"sw-session-gap", SW, SW, 7, true, false},
    {"sw-after-nsaid", NSAID, SW, 14, false, false},
    {"sw-after-prp", PRP, SW, 42, false, false},
    {"sw-anaesthetic", LA, SW, 1, false, true},
    {"cs-spacing", CS, CS, 84, true, false},
    {"prp-after-nsaid", NSAID, PRP, 7, true, false},
    {"prp-after-steroid", CS, PRP, 42, true, false},
    {"prp-after-shockwave", SW, PRP, 42, false, false},
    {"nsaid-after-shockwave", SW, NSAID, 14, false, true},
    {"nsaid-after-prp", PRP, NSAID, 14, true, false},
    {"impact-after-injection", CS | PRP, IMPACT, 14, true, false},
    {"strength-after-injection", CS | PRP, ACT(STRENGTH), 2, true, false},
    {"load-after-shockwave", SW, LOADING, 2, true, false},
};

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

// A case as it was invented: the checker reads this, the program the findings made of it.
typedef struct truth {
    hw_findings findings;
    int words[3][HW_FINDING_COUNT]; // left, right, person; or ABSENT, UNASKED
    hw_named names[3][4];           // m, c, a
    hw_past_act past[PAST_MOST];
    hw_overrule overrules[2];
    hw_moved moved[4];
    int age; // or ABSENT
} truth;

static int roll(hw_random *random, int sides)
{
    return (int)(hw_random_uniform(random) * sides);
}

static bool chance(hw_random *random, double share)
{
    return hw_random_uniform(random) < share;
}

// --- inventing

static int invent_word(hw_random *random, const hw_finding_row *row, double silent)
{
    if (chance(random, silent)) return chance(random, 0.5) ? ABSENT : UNASKED;
    int words = 0;
    while (words < HW_FINDING_WORDS && row->words[words]) words++;
    if (row->id == HW_FINDING_BLOOD_IDENTITY_CHECKED) return chance(random, 0.9);
    return chance(random, 0.05) ? roll(random, words) : 0;
}

static hw_finding finding_of(int word)
{
    if (word == UNASKED) return hw_finding_not_asked();
    return word == ABSENT ? (hw_finding){0} : hw_finding_of_word(word);
}

static void invent_words(hw_random *random, truth *of, double silent)
{
    for (int place = 0; place < 3; place++)
        for (int i = 0; i < HW_FINDING_COUNT; i++) {
            const hw_finding_row *row = &hw_finding_rows()[i];
            const bool of_foot = row->scope == HW_SCOPE_FOOT || row->scope == HW_SCOPE_HEEL_PAIN;
            if (row->kind == HW_KIND_NUMBER || of_foot != (place < 2)) continue;
            const bool is_flag = row->scope == HW_SCOPE_RED_FLAG;
            of->words[place][i] = is_flag && chance(random, 0.9)
                                      ? 0 // else hardly any case would be free of flags
                                      : invent_word(random, row, silent);
            hw_finding *values = place < 2 ? of->findings.feet[place].values : of->findings.values;
            values[i] = finding_of(of->words[place][i]);
        }
}

static void invent_numbers(hw_random *random, truth *of)
{
    of->age = chance(random, 0.05) ? ABSENT : 10 + roll(random, 70);
    of->findings.values[HW_FINDING_BIRTH_YEAR] =
        of->age == ABSENT ? (hw_finding){0} : hw_finding_of_number(2026 - 1 - of->age);
    const hw_given given = chance(random, 0.1) ? HW_GIVEN_ABSENT : HW_GIVEN_VALUE;
    of->findings.values[HW_FINDING_MASS_KG].given = given;
    of->findings.mass_measured_on = hw_date_plus(of->findings.visit_date, -roll(random, 120));
    of->findings.values[HW_FINDING_PLATELET_COUNT] =
        chance(random, 0.2) ? (hw_finding){0} : hw_finding_of_number(80 + roll(random, 200));
}

static void invent_list(hw_random *random, truth *of, int list, hw_names *out)
{
    static const char letters[] = "mca";
    const hw_given silences[] = {HW_GIVEN_ABSENT, HW_GIVEN_NOT_ASKED};
    if (chance(random, 0.1)) {
        *out = (hw_names){.given = silences[roll(random, 2)]};
        return;
    }
    int count = 0;
    while (count < 3 && chance(random, 0.25)) {
        const name_row *row = &name_rows[roll(random, COUNT(name_rows))];
        const bool is_strange = chance(random, 0.1);
        if (!is_strange && row->list != letters[list]) continue;
        of->names[list][count++] = (hw_named){.name = is_strange ? "foozimab" : row->name};
    }
    *out = (hw_names){HW_GIVEN_VALUE, of->names[list], count};
}

static void invent_past(hw_random *random, truth *of)
{
    static const hw_act acts[] = {HW_ACT_CORTICOSTEROID,
                                  HW_ACT_CORTICOSTEROID,
                                  HW_ACT_SHOCKWAVE_RADIAL,
                                  HW_ACT_SHOCKWAVE_FOCUSED,
                                  HW_ACT_PRP,
                                  HW_ACT_NSAID,
                                  HW_ACT_LOCAL_ANAESTHETIC,
                                  HW_ACT_TAPE};
    const int count = chance(random, 0.4) ? 0 : roll(random, PAST_MOST + 1);
    for (int i = 0; i < count; i++) {
        hw_past_act *act = &of->past[i];
        *act =
            (hw_past_act){.act = acts[roll(random, COUNT(acts))], .side = (hw_side)roll(random, 3)};
        const int ago = chance(random, 0.6) ? roll(random, 100) : roll(random, 700);
        if (!chance(random, 0.05)) act->date = hw_date_plus(of->findings.visit_date, -ago);
        if (act->act == HW_ACT_NSAID && act->date.known && chance(random, 0.5))
            act->until = hw_date_plus(act->date, roll(random, 20));
    }
    of->findings.past = of->past, of->findings.past_count = count;
    of->findings.past_given =
        count == 0 && chance(random, 0.2) ? HW_GIVEN_NOT_ASKED : HW_GIVEN_VALUE;
}

static void invent_overrules(hw_random *random, truth *of)
{
    int count = 0;
    while (count < 2 && chance(random, 0.15)) {
        const char *id = NULL;
        const int kind = roll(random, 3);
        const word_row *word = &word_rows[roll(random, COUNT(word_rows))];
        const name_row *name = &name_rows[roll(random, COUNT(name_rows))];
        if (kind == 0 && !word->is_never) id = word->id;
        if (kind == 1 && !name->is_never) id = name->id;
        if (kind == 2) id = gap_rows[roll(random, COUNT(gap_rows))].id;
        if (id) of->overrules[count++] = (hw_overrule){id, "weighed up", "C1", "C2"};
    }
    of->findings.overrules = of->overrules, of->findings.overrule_count = count;
}

// Dates a clinician may try: many of them against a rule, some before the visit.
static void invent_moves(hw_random *random, truth *of)
{
    int count = 0;
    while (count < 4 && chance(random, 0.5)) {
        const int session = 1 + roll(random, 3);
        const hw_date date = hw_date_plus(of->findings.visit_date, roll(random, 120) - 3);
        of->moved[count++] =
            (hw_moved){(hw_act)roll(random, HW_ACT_COUNT), (hw_side)roll(random, 3), session, date};
    }
    of->findings.moved = of->moved, of->findings.moved_count = count;
}

static void invent(hw_random *random, truth *of)
{
    static const double silences[] = {0.0, 0.02, 0.3};
    memset(of, 0, sizeof *of);
    of->findings = healthy_person();
    of->findings.feet[1].heel_pain = (hw_answer)roll(random, 4);
    if (chance(random, 0.2)) of->findings.feet[0].heel_pain = (hw_answer)roll(random, 4);
    invent_words(random, of, silences[roll(random, 3)]);
    invent_numbers(random, of);
    invent_list(random, of, 0, &of->findings.medicines);
    invent_list(random, of, 1, &of->findings.conditions);
    invent_list(random, of, 2, &of->findings.allergies);
    invent_past(random, of);
    invent_overrules(random, of);
    invent_moves(random, of);
    for (int i = 0; i < HW_ACT_COUNT; i++)
        if (chance(random, 0.3)) of->findings.chosen |= 1u << i;
    if (chance(random, 0.4)) of->findings.chosen = 0;
}

// --- checking

typedef enum finds {
    CLEAR,
    OPEN, // something that must be known is not
    AGAINST,
} finds;

static bool is_overruled(const truth *of, const char *id)
{
    for (int i = 0; i < of->findings.overrule_count; i++)
        if (strcmp(of->overrules[i].rule_id, id) == 0) return true;
    return false;
}

static bool is_hurting(const truth *of, int foot)
{
    return of->findings.feet[foot].heel_pain == HW_ANSWER_YES;
}

// Whether a place (left, right, person) bears on an act at this heel, or on the person.
static bool bears(const truth *of, int place, hw_side side)
{
    if (place == 2) return true;
    if (side == HW_SIDE_UNKNOWN) return is_hurting(of, place);
    return place == (side == HW_SIDE_RIGHT);
}

static finds worse(finds a, finds b)
{
    return a > b ? a : b;
}

static bool may_be_pregnant(const truth *of)
{
    if (of->words[2][HW_FINDING_SEX] == HW_SEX_MALE) return false;
    return of->age == ABSENT || (of->age + 1 >= 12 && of->age <= 55);
}

static finds check_words(const truth *of, hw_act act, hw_side side)
{
    finds found = CLEAR;
    for (int i = 0; i < COUNT(word_rows); i++) {
        const word_row *row = &word_rows[i];
        const hw_scope scope = hw_finding_rows()[row->finding].scope;
        const bool of_foot = scope == HW_SCOPE_FOOT || scope == HW_SCOPE_HEEL_PAIN;
        if (!(row->acts & 1u << act)) continue;
        for (int place = of_foot ? 0 : 2; place < (of_foot ? 2 : 3); place++) {
            if (!bears(of, place, side)) continue;
            const int word = of->words[place][row->finding];
            if (word >= row->from && (row->is_never || !is_overruled(of, row->id))) return AGAINST;
            if (word >= 0 || row->asks) continue;
            if (row->finding == HW_FINDING_PREGNANCY && !may_be_pregnant(of)) continue;
            found = worse(found, OPEN);
        }
    }
    return found;
}

static finds check_names(const truth *of, hw_act act)
{
    const hw_names *lists[] = {&of->findings.medicines, &of->findings.conditions,
                               &of->findings.allergies};
    finds found = CLEAR;
    for (int i = 0; i < COUNT(name_rows); i++) {
        const name_row *row = &name_rows[i];
        if (!(row->acts & 1u << act)) continue;
        const hw_names *list = lists[row->list == 'm' ? 0 : row->list == 'c' ? 1 : 2];
        bool is_there = false, is_strange = false;
        for (int k = 0; k < list->count; k++) {
            is_there |= strcmp(list->rows[k].name, row->name) == 0;
            is_strange |= strcmp(list->rows[k].name, "foozimab") == 0;
        }
        if (is_there && (row->is_never || !is_overruled(of, row->id))) return AGAINST;
        const bool holds = is_strange && row->list != 'c'; // of conditions it is only asked
        if (list->given != HW_GIVEN_VALUE || (holds && !is_there)) found = worse(found, OPEN);
    }
    return found;
}

static finds check_numbers(const truth *of, hw_act act)
{
    const unsigned bit = 1u << act;
    finds found = CLEAR;
    // Facts 7.6 and standards H17: nobody under 18.
    if ((SW | CS | LA | PRP | NSAID) & bit) {
        if (of->age != ABSENT && of->age < 18) return AGAINST;
        if (of->age == ABSENT) found = OPEN;
    }
    // Standards H15: an adult's weight is 90 days old at most.
    if ((LA & bit) && of->age != ABSENT) {
        const int days = hw_date_days(of->findings.mass_measured_on, of->findings.visit_date);
        const bool known = of->findings.values[HW_FINDING_MASS_KG].given == HW_GIVEN_VALUE;
        if (!known) found = OPEN;
        if (known && days > 90) return AGAINST;
    }
    if (PRP & bit) { // facts 7.5; standards H45
        const hw_finding platelets = of->findings.values[HW_FINDING_PLATELET_COUNT];
        if (platelets.given == HW_GIVEN_VALUE && platelets.number < 100.0) return AGAINST;
        if (platelets.given != HW_GIVEN_VALUE) found = OPEN;
        const int identity = of->words[2][HW_FINDING_BLOOD_IDENTITY_CHECKED];
        if (identity == 0) return AGAINST;
        if (identity < 0) found = OPEN;
    }
    return found;
}

// Facts 1.5: neither tender where the fascia starts nor worst at the first steps, nor told by windlass
// and thickness (1 mm in all these cases): not the fascia.
static finds check_cause(const truth *of, hw_act act, hw_side side)
{
    const unsigned meant = SW | CS | LA | PRP | NEEDLE | ACT(FASCIA_STRETCH) | LOADING;
    if (!(meant & 1u << act)) return CLEAR;
    for (int foot = 0; foot < 2; foot++) {
        if (!bears(of, foot, side)) continue;
        const int *words = of->words[foot];
        const int most = (words[HW_FINDING_TENDER_AT] <= 0 ? 2 : 0) +
                         (words[HW_FINDING_PAIN_PATTERN] <= 0 ? 2 : 0) +
                         (words[HW_FINDING_WINDLASS_TEST_STANDING] != 0 ? 1 : 0);
        if (most < 3) return AGAINST;
    }
    return CLEAR;
}

static finds check_now(const truth *of, hw_act act, hw_side side)
{
    finds found = worse(check_words(of, act, side), check_names(of, act));
    found = worse(found, check_numbers(of, act));
    return worse(found, check_cause(of, act, side));
}

static bool is_per_heel(hw_act act)
{
    return act != HW_ACT_NSAID && act != HW_ACT_RETURN_TO_IMPACT && act != HW_ACT_ACTIVITY &&
           act != HW_ACT_FOOTWEAR && act != HW_ACT_WEIGHT;
}

static bool same_place(hw_act a, hw_side a_side, hw_act b, hw_side b_side)
{
    if (!is_per_heel(a) || !is_per_heel(b)) return true;
    return a_side == HW_SIDE_UNKNOWN || b_side == HW_SIDE_UNKNOWN || a_side == b_side;
}

// Every act of the past against one planned.
static finds check_past(const truth *of, const hw_entry *entry)
{
    finds found = CLEAR;
    int in_year = 0, ever = 0;
    for (int i = 0; i < of->findings.past_count; i++) {
        const hw_past_act *past = &of->past[i];
        if (!same_place(past->act, past->side, entry->act, entry->side)) continue;
        const bool steroids =
            past->act == HW_ACT_CORTICOSTEROID && entry->act == HW_ACT_CORTICOSTEROID;
        const hw_date end = past->until.known ? past->until : past->date;
        const int days = past->date.known ? hw_date_days(end, entry->date) : 0;
        ever += steroids, in_year += steroids && past->date.known && days < 365;
        for (int k = 0; k < COUNT(gap_rows); k++) {
            const gap_row *gap = &gap_rows[k];
            if (!(gap->before & 1u << past->act) || !(gap->after & 1u << entry->act)) continue;
            if (is_overruled(of, gap->id) || (entry->is_by_hand && !gap->is_stop)) continue;
            if (!past->date.known) found = worse(found, gap->asks ? CLEAR : OPEN);
            if (past->date.known && days < gap->days) return AGAINST;
        }
    }
    if (in_year >= 2 || ever >= 3) return AGAINST; // facts 7.3
    return found;
}

static void fail_entry(int round, const hw_entry *entry, const char *why)
{
    char date[HW_DATE_TEXT];
    fail_msg("case %d: %s, %s, %s: %s", round, hw_act_rows()[entry->act].word,
             entry->side == HW_SIDE_UNKNOWN ? "person" : hw_side_word(entry->side),
             hw_date_text(entry->date, date), why);
}

static void check_pair(int round, const truth *of, const hw_entry *a, const hw_entry *b)
{
    if (!same_place(a->act, a->side, b->act, b->side)) return;
    int days = hw_date_days(a->date, b->date);
    for (int k = 0; k < COUNT(gap_rows); k++) {
        const gap_row *gap = &gap_rows[k];
        if (!(gap->before & 1u << a->act) || !(gap->after & 1u << b->act)) continue;
        // Put there by hand a caution is told and does not hinder.
        if (!gap->is_stop && (a->is_by_hand || b->is_by_hand)) continue;
        // Tablets of a planned course are taken for two weeks at least: facts 5.1.
        const int from = a->act == HW_ACT_NSAID ? days - 14 : days;
        if (days >= 0 && from < gap->days && !is_overruled(of, gap->id))
            fail_entry(round, b, gap->id);
    }
}

static bool is_flagged(const truth *of)
{
    for (int i = 0; i < HW_FINDING_COUNT; i++)
        if (hw_finding_rows()[i].scope == HW_SCOPE_RED_FLAG && of->words[2][i] == HW_WORD_YES)
            return true;
    for (int foot = 0; foot < 2; foot++)
        if (is_hurting(of, foot) && (of->words[foot][HW_FINDING_PULSES] == HW_PULSES_ABSENT ||
                                     of->words[foot][HW_FINDING_SQUEEZE_TEST] == HW_TEST_POSITIVE))
            return true;
    return false;
}

static void check_timeline(int round, const truth *of, const hw_plan *plan)
{
    for (int i = 0; i < plan->entry_count; i++) {
        const hw_entry *entry = &plan->timeline[i];
        if (entry->kind != HW_ENTRY_ACT) continue;
        const finds now = check_now(of, entry->act, entry->side);
        const finds before = check_past(of, entry);
        if (now == AGAINST) fail_entry(round, entry, "a never or a stop stands against it");
        if (before == AGAINST) fail_entry(round, entry, "too close to what was done");
        if ((now == OPEN || before == OPEN || is_flagged(of)) && !entry->only_if)
            fail_entry(round, entry, "dated as if all were known");
        if (hw_date_days(of->findings.visit_date, entry->date) < 0)
            fail_entry(round, entry, "before the visit");
        for (int k = 0; k < plan->entry_count; k++)
            if (k != i && plan->timeline[k].kind == HW_ENTRY_ACT)
                check_pair(round, of, &plan->timeline[k], entry);
    }
}

static void check_options(int round, const truth *of, const hw_plan *plan)
{
    for (int i = 0; i < plan->option_count; i++) {
        const hw_option *option = &plan->options[i];
        const hw_entry today = {
            .act = option->act, .side = option->side, .date = of->findings.visit_date};
        finds found = check_now(of, option->act, option->side);
        if (found == AGAINST && option->state < HW_STOPPED)
            fail_entry(round, &today, "offered against a never or a stop");
        if (is_flagged(of) && option->state == HW_AVAILABLE)
            fail_entry(round, &today, "offered beside a red flag");
        if (found == OPEN && option->state == HW_AVAILABLE)
            fail_entry(round, &today, "offered as if all were known");
    }
}

// Product: red flags, sensation, pulses, allergies, medicines, pregnancy where it applies.
static void check_release(int round, const truth *of, const hw_plan *plan)
{
    if (!plan->released) return;
    bool open = is_flagged(of);
    for (int i = 0; i < HW_FINDING_COUNT; i++)
        open |= hw_finding_rows()[i].scope == HW_SCOPE_RED_FLAG && of->words[2][i] < 0;
    for (int foot = 0; foot < 2; foot++)
        open |= is_hurting(of, foot) && (of->words[foot][HW_FINDING_MONOFILAMENT] < 0 ||
                                         of->words[foot][HW_FINDING_PULSES] < 0);
    open |= may_be_pregnant(of) && of->words[2][HW_FINDING_PREGNANCY] < 0;
    open |= of->findings.medicines.given != HW_GIVEN_VALUE;
    open |= of->findings.allergies.given != HW_GIVEN_VALUE;
    if (open) fail_msg("case %d is released with something open", round);
}

static void test_cases__no_plan_breaks_a_rule(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const hw_arena_mark start = hw_arena_here(room.into);
    const int rounds = hw_test_rounds(CASES);
    int acts = 0, released = 0, moved = 0;
    for (int round = 0; round < rounds; round++) {
        hw_random random = hw_random_begin(20261125u + (uint64_t)round);
        truth of;
        hw_plan plan = {0};
        invent(&random, &of);
        hw_arena_rewind(room.into, start);
        CHECK_OK(&room.job, hw_clinic_plan(&room.job, &of.findings, room.into, &plan));
        check_timeline(round, &of, &plan);
        check_options(round, &of, &plan);
        check_release(round, &of, &plan);
        released += plan.released;
        for (int i = 0; i < plan.entry_count; i++) {
            acts += plan.timeline[i].kind == HW_ENTRY_ACT;
            moved += plan.timeline[i].moved_by != NULL;
        }
    }
    // The cases are no walk-over: many acts are dated, many of them moved, some plans are released.
    assert_true(acts > 4 * rounds && moved > rounds / 3 && released > rounds / 50);
    hw_test_close(&room);
}

int test_clinic_cases(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cases__no_plan_breaks_a_rule),
    };
    return cmocka_run_group_tests_name("clinic cases", tests, NULL, NULL);
}
