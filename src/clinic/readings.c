// SPDX-License-Identifier: GPL-3.0-or-later
#include "readings.h"
#include "differential.h"
#include "dose.h"
#include "orders.h"
#include <string.h>

static const hw_reading absent = {HW_GIVEN_ABSENT, 0.0, false};

static hw_reading value(double number)
{
    return (hw_reading){HW_GIVEN_VALUE, number, false};
}

static hw_reading value_or_graver(double number, bool may_be_graver)
{
    return (hw_reading){HW_GIVEN_VALUE, number, may_be_graver};
}

// Nobody said; marked "not asked" where it was.
static hw_reading unsaid(hw_given given)
{
    return (hw_reading){given, 0.0, false};
}

static hw_reading from_maybe(hw_maybe maybe)
{
    return maybe.known ? value(maybe.value) : absent;
}

static hw_reading read_finding(const hw_situation *one, hw_finding_id id)
{
    const hw_finding finding = hw_finding_at(one->findings, one->side, id);
    // Where pregnancy does not apply, nobody needs to ask; a yes counts all the same.
    if (id == HW_FINDING_PREGNANCY && finding.given != HW_GIVEN_VALUE &&
        !hw_pregnancy_applies(one->findings))
        return value(HW_WORD_NO);
    const hw_finding_row *row = &hw_finding_rows()[id];
    if (finding.given != HW_GIVEN_VALUE) return unsaid(finding.given);
    return value(row->kind == HW_KIND_NUMBER ? finding.number : (double)finding.word);
}

// Groups of a typed name; false when no table has it and nobody classified it by hand.
typedef bool (*groups_of)(const char *name, unsigned *groups);

static bool medicine_groups(const char *name, unsigned *groups)
{
    const hw_name_row *row = hw_substance(name);
    if (row) *groups = row->groups;
    return row != NULL;
}

static bool condition_groups(const char *name, unsigned *groups)
{
    const hw_name_row *row = hw_condition(name);
    if (row) *groups = row->groups;
    return row != NULL;
}

static bool named_groups(const hw_named *named, groups_of lookup, unsigned *groups)
{
    if (!named->by_hand) return lookup(named->name, groups);
    *groups = named->groups;
    return true;
}

static int unrecognised_count(const hw_names *names, groups_of lookup)
{
    int count = 0;
    for (int i = 0; i < names->count; i++) {
        unsigned groups = 0;
        count += !named_groups(&names->rows[i], lookup, &groups);
    }
    return count;
}

static const hw_named *first_in_group(const hw_names *names, groups_of lookup, unsigned wanted)
{
    for (int i = 0; i < names->count; i++) {
        unsigned groups = 0;
        if (named_groups(&names->rows[i], lookup, &groups) && (groups & wanted))
            return &names->rows[i];
    }
    return NULL;
}

// One name in the group is a yes whatever else is listed; a name nobody knows may be in any group,
// so without a yes the answer is unknown. `unknown_counts` is off for conditions: there a row of
// its own asks.
static hw_reading read_names(const hw_names *names, groups_of lookup, unsigned wanted,
                             bool unknown_counts)
{
    if (names->given != HW_GIVEN_VALUE) return unsaid(names->given);
    if (first_in_group(names, lookup, wanted)) return value(1.0);
    if (unknown_counts && unrecognised_count(names, lookup) > 0) return absent;
    return value(0.0);
}

static hw_reading read_unrecognised(const hw_names *names, groups_of lookup)
{
    if (names->given != HW_GIVEN_VALUE) return unsaid(names->given);
    return unrecognised_count(names, lookup) > 0 ? absent : value(0.0);
}

static hw_reading read_mass_age(const hw_situation *one)
{
    const hw_findings *findings = one->findings;
    if (findings->values[HW_FINDING_MASS_KG].given != HW_GIVEN_VALUE) return absent;
    if (!findings->mass_measured_on.known || !one->date.known) return absent;
    const int days = hw_date_days(findings->mass_measured_on, one->date);
    return days < 0 ? absent : value(days); // weighed in the future: a slip
}

// An act of this heel (or of the person) on or before the day judged. Side unknown is either heel.
static bool counts_here(const hw_past_act *act, unsigned acts, const hw_situation *one)
{
    if (!(acts & (1u << act->act))) return false;
    if (act->date.known && one->date.known && hw_date_days(act->date, one->date) < 0) return false;
    const bool per_heel = hw_act_rows()[act->act].per_heel;
    if (!per_heel || act->side == HW_SIDE_UNKNOWN || one->side == HW_SIDE_UNKNOWN) return true;
    return act->side == one->side;
}

static int days_since(const hw_past_act *act, const hw_situation *one)
{
    const hw_date last = act->until.known ? act->until : act->date;
    const int days = hw_date_days(last, one->date);
    return days > 0 ? days : 0; // a course still running
}

// Long ago enough for every limit in the table: nothing of the kind is on record.
static const double never_done_days = 36500.0;

static hw_reading read_days_since(const hw_situation *one, unsigned acts)
{
    double fewest = never_done_days;
    bool undated = false;
    for (int i = 0; i < one->act_count; i++) {
        if (!counts_here(&one->acts[i], acts, one)) continue;
        if (!one->acts[i].date.known) {
            undated = true;
            continue;
        }
        const int days = days_since(&one->acts[i], one);
        if (days < fewest) fewest = days;
    }
    if (one->findings->past_given != HW_GIVEN_VALUE && fewest >= never_done_days)
        return unsaid(one->findings->past_given);
    return value_or_graver(fewest, undated);
}

static hw_reading read_times(const hw_situation *one, unsigned acts, int within_days)
{
    double times = 0.0;
    bool undated = false;
    for (int i = 0; i < one->act_count; i++) {
        const hw_past_act *act = &one->acts[i];
        if (!counts_here(act, acts, one)) continue;
        undated |= !act->date.known && within_days > 0;
        if (within_days > 0 && (!act->date.known || days_since(act, one) >= within_days)) continue;
        times += act->sessions.known ? act->sessions.value : 1.0;
    }
    if (one->findings->past_given != HW_GIVEN_VALUE && times < 1.0)
        return unsaid(one->findings->past_given);
    return value_or_graver(times, undated);
}

static bool is_anaesthetic(hw_act act)
{
    return act == HW_ACT_LOCAL_ANAESTHETIC || act == HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE;
}

static bool on_the_day(const hw_past_act *act, const hw_situation *one)
{
    return act->date.known && hw_date_days(act->date, one->date) == 0;
}

// The share of the maximum one act on record stands for; unknown without agent or amount.
static hw_maybe fraction_of(const hw_findings *findings, const hw_past_act *act)
{
    const bool volume_known = act->volume_mL.known && act->concentration_percent.known;
    if (!act->substance || !(volume_known || act->dose_mg.known)) return (hw_maybe){0};
    // A dose in mg is as good: 1 % is 10 mg/mL.
    const hw_anaesthetic_dose dose = {
        act->substance, volume_known ? act->concentration_percent.value : 1.0,
        volume_known ? act->volume_mL.value : act->dose_mg.value / 10.0,
        act->with_adrenaline || act->act == HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE};
    return hw_anaesthetic_fraction(findings, &dose, 1);
}

// All anaesthetic of the day: ordered now and on record already, both feet. A part that cannot be
// reckoned leaves the sum of the others as the least it can be.
static hw_reading read_anaesthetic_fraction(const hw_situation *one)
{
    double sum = 0.0;
    bool part_unknown = false;
    for (int i = 0; i < one->dose_count; i++) {
        const hw_maybe part = hw_anaesthetic_fraction(one->findings, &one->doses[i], 1);
        part_unknown |= !part.known;
        sum += part.known ? part.value : 0.0;
    }
    const bool today = hw_date_days(one->findings->visit_date, one->date) == 0;
    for (int i = 0; today && i < one->findings->order_count; i++) {
        if (!is_anaesthetic(one->findings->orders[i].act)) continue;
        const hw_past_act ordered = hw_order_as_done(&one->findings->orders[i], one->date);
        const hw_maybe part = fraction_of(one->findings, &ordered);
        part_unknown |= !part.known;
        sum += part.known ? part.value : 0.0;
    }
    for (int i = 0; i < one->act_count; i++) {
        if (!is_anaesthetic(one->acts[i].act) || !on_the_day(&one->acts[i], one)) continue;
        const hw_maybe part = fraction_of(one->findings, &one->acts[i]);
        part_unknown |= !part.known;
        sum += part.known ? part.value : 0.0;
    }
    return value_or_graver(sum, part_unknown);
}

static hw_reading read_steroid_day_total(const hw_situation *one)
{
    double sum = 0.0;
    bool part_unknown = false;
    for (int i = 0; i < one->act_count; i++) {
        const hw_past_act *act = &one->acts[i];
        if (act->act != HW_ACT_CORTICOSTEROID || !on_the_day(act, one)) continue;
        const hw_maybe part = act->dose_mg.known
                                  ? hw_hydrocortisone_mg(act->substance, act->dose_mg.value)
                                  : (hw_maybe){0};
        part_unknown |= !part.known;
        sum += part.known ? part.value : 0.0;
    }
    const bool today = hw_date_days(one->findings->visit_date, one->date) == 0;
    for (int i = 0; today && i < one->findings->order_count; i++) {
        const hw_order *order = &one->findings->orders[i];
        if (order->act != HW_ACT_CORTICOSTEROID) continue;
        const hw_maybe part = order->dose_mg.known
                                  ? hw_hydrocortisone_mg(order->substance, order->dose_mg.value)
                                  : (hw_maybe){0};
        part_unknown |= !part.known;
        sum += part.known ? part.value : 0.0;
    }
    return value_or_graver(sum, part_unknown);
}

static hw_reading read_both_heels(const hw_findings *findings)
{
    const hw_answer left = findings->feet[0].heel_pain, right = findings->feet[1].heel_pain;
    if (left == HW_ANSWER_NO || right == HW_ANSWER_NO) return value(0.0);
    return left == HW_ANSWER_YES && right == HW_ANSWER_YES ? value(1.0) : absent;
}

// No more than a no is said by silence: what is missing may still make it the fascia.
static hw_reading read_not_fascia(const hw_situation *one)
{
    const hw_verdict fits = hw_fits_fascia(one);
    if (fits == HW_VERDICT_UNKNOWN) return absent;
    return value(fits == HW_VERDICT_NO ? 1.0 : 0.0);
}

hw_reading hw_read(const hw_test *test, const hw_situation *one)
{
    const hw_findings *findings = one->findings;
    switch (test->subject) {
    case HW_SUBJECT_NOTHING:
        return absent;
    case HW_SUBJECT_FINDING:
        return read_finding(one, (hw_finding_id)test->key);
    case HW_SUBJECT_AGE:
        return from_maybe(hw_age_at_least(findings));
    case HW_SUBJECT_BODY_MASS_INDEX:
        return from_maybe(hw_body_mass_index(findings));
    case HW_SUBJECT_MASS_AGE:
        return read_mass_age(one);
    case HW_SUBJECT_MEDICINE:
        return read_names(&findings->medicines, medicine_groups, test->key, true);
    case HW_SUBJECT_UNRECOGNISED_MEDICINE:
        return read_unrecognised(&findings->medicines, medicine_groups);
    case HW_SUBJECT_CONDITION:
        return read_names(&findings->conditions, condition_groups, test->key, false);
    case HW_SUBJECT_UNRECOGNISED_CONDITION:
        return read_unrecognised(&findings->conditions, condition_groups);
    case HW_SUBJECT_ALLERGY:
        return read_names(&findings->allergies, hw_allergy, test->key, true);
    case HW_SUBJECT_UNRECOGNISED_ALLERGY:
        return read_unrecognised(&findings->allergies, hw_allergy);
    case HW_SUBJECT_DAYS_SINCE:
        return read_days_since(one, test->key);
    case HW_SUBJECT_TIMES_IN_YEAR:
        return read_times(one, test->key, 365);
    case HW_SUBJECT_TIMES_EVER:
        return read_times(one, test->key, 0);
    case HW_SUBJECT_ANAESTHETIC_FRACTION:
        return read_anaesthetic_fraction(one);
    case HW_SUBJECT_STEROID_DAY_TOTAL:
        return read_steroid_day_total(one);
    case HW_SUBJECT_BOTH_HEELS:
        return read_both_heels(findings);
    case HW_SUBJECT_NOT_FASCIA:
        return read_not_fascia(one);
    }
    return absent;
}

bool hw_test_is_of_foot(const hw_test *test)
{
    if (test->subject == HW_SUBJECT_NOT_FASCIA) return true;
    if (test->subject != HW_SUBJECT_FINDING) return false;
    const hw_scope scope = hw_finding_rows()[test->key].scope;
    return scope == HW_SCOPE_FOOT || scope == HW_SCOPE_HEEL_PAIN;
}

bool hw_test_is_of_time(const hw_test *test)
{
    return test->subject == HW_SUBJECT_DAYS_SINCE || test->subject == HW_SUBJECT_TIMES_IN_YEAR ||
           test->subject == HW_SUBJECT_TIMES_EVER;
}

// The list a subject looks at, with its lookup; NULL for other subjects.
static const hw_names *list_of(hw_subject subject, const hw_findings *findings, groups_of *lookup,
                               const char **key)
{
    switch (subject) {
    case HW_SUBJECT_MEDICINE:
    case HW_SUBJECT_UNRECOGNISED_MEDICINE:
        *lookup = medicine_groups, *key = "medicines";
        return &findings->medicines;
    case HW_SUBJECT_CONDITION:
    case HW_SUBJECT_UNRECOGNISED_CONDITION:
        *lookup = condition_groups, *key = "conditions";
        return &findings->conditions;
    case HW_SUBJECT_ALLERGY:
    case HW_SUBJECT_UNRECOGNISED_ALLERGY:
        *lookup = hw_allergy, *key = "allergies";
        return &findings->allergies;
    default:
        return NULL;
    }
}

static hw_status finding_text(hw_job *job, const hw_finding_row *row, hw_finding finding,
                              hw_arena *into, const char **out)
{
    if (row->kind != HW_KIND_NUMBER || finding.given != HW_GIVEN_VALUE)
        return hw_text_format(job, into, out, "%s: %s", row->what, hw_finding_word(row, finding));
    return hw_text_format(job, into, out, "%s: %g%s%s", row->what, finding.number,
                          row->unit[0] ? " " : "", row->unit);
}

static hw_status number_text(hw_job *job, hw_subject subject, double number, hw_arena *into,
                             const char **out)
{
    static const struct {
        hw_subject subject;
        const char *before;
        int decimals;
        const char *after;
    } words[] = {
        {HW_SUBJECT_AGE, "age ", 0, ""},
        {HW_SUBJECT_BODY_MASS_INDEX, "body mass index ", 1, " kg/m2"},
        {HW_SUBJECT_MASS_AGE, "weighed ", 0, " days before"},
        {HW_SUBJECT_DAYS_SINCE, "", 0, " days since"},
        {HW_SUBJECT_TIMES_IN_YEAR, "", 0, " within a year"},
        {HW_SUBJECT_TIMES_EVER, "", 0, " so far"},
        {HW_SUBJECT_ANAESTHETIC_FRACTION, "", 2, " of the maximum"},
        {HW_SUBJECT_STEROID_DAY_TOTAL, "like ", 0, " mg of hydrocortisone on that day"},
    };
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (words[i].subject == subject)
            return hw_text_format(job, into, out, "%s%.*f%s", words[i].before, words[i].decimals,
                                  number, words[i].after);
    *out = "";
    return HW_OK;
}

hw_status hw_reading_text(hw_job *job, const hw_test *test, const hw_situation *one, hw_arena *into,
                          const char **out)
{
    groups_of lookup = NULL;
    const char *key = NULL;
    const hw_names *names = list_of(test->subject, one->findings, &lookup, &key);
    if (names) {
        const hw_named *found = first_in_group(names, lookup, test->key);
        return hw_text_copy(job, into, found ? found->name : "", out);
    }
    if (test->subject == HW_SUBJECT_NOT_FASCIA)
        return hw_text_copy(job, into, "the pattern of the findings", out);
    if (test->subject != HW_SUBJECT_FINDING)
        return number_text(job, test->subject, hw_read(test, one).number, into, out);
    const hw_finding finding = hw_finding_at(one->findings, one->side, (hw_finding_id)test->key);
    return finding_text(job, &hw_finding_rows()[test->key], finding, into, out);
}

// "medicines" unanswered, or the names in it that no table knows.
static hw_status list_question(hw_job *job, const hw_names *names, groups_of lookup, hw_arena *into,
                               hw_question *out)
{
    if (names->given != HW_GIVEN_VALUE) {
        out->not_asked = names->given == HW_GIVEN_NOT_ASKED;
        return hw_text_format(job, into, &out->text, "Which %s? (none is an answer)", out->key);
    }
    const char *listed = "";
    for (int i = 0; i < names->count; i++) {
        unsigned groups = 0;
        if (named_groups(&names->rows[i], lookup, &groups)) continue;
        HW_TRY(hw_text_format(job, into, &listed, "%s%s%s", listed, listed[0] ? ", " : "",
                              names->rows[i].name));
    }
    return hw_text_format(job, into, &out->text, "In no table here, classify by hand: %s", listed);
}

static hw_status finding_question(hw_job *job, const hw_test *test, const hw_situation *one,
                                  hw_arena *into, hw_question *out)
{
    const hw_finding_row *row = &hw_finding_rows()[test->key];
    const hw_finding finding = hw_finding_at(one->findings, one->side, row->id);
    out->not_asked = finding.given == HW_GIVEN_NOT_ASKED;
    if (!hw_test_is_of_foot(test)) {
        static const char *const places[] = {"", "person.", "red_flags.", "", ""};
        HW_TRY(hw_text_format(job, into, &out->key, "%s%s", places[row->scope], row->key));
        return hw_text_format(job, into, &out->text, "%s?", row->what);
    }
    out->side = one->side;
    const char *side = hw_side_word(one->side);
    HW_TRY(hw_text_format(job, into, &out->key, "feet.%s.%s%s", side,
                          row->scope == HW_SCOPE_HEEL_PAIN ? "heel_pain." : "", row->key));
    return hw_text_format(job, into, &out->text, "%s foot: %s?", side, row->what);
}

// The first of what decides the fascia's pattern that is not answered yet.
static hw_status pattern_question(hw_job *job, const hw_situation *one, hw_arena *into,
                                  hw_question *out)
{
    const hw_feature *missing = hw_fascia_missing(one);
    HW_ASSERT(missing); // else the pattern could be said
    return finding_question(job, &missing->test, one, into, out);
}

hw_status hw_reading_question(hw_job *job, const hw_test *test, const hw_situation *one,
                              hw_arena *into, hw_question *out)
{
    *out = (hw_question){0};
    groups_of lookup = NULL;
    const hw_names *names = list_of(test->subject, one->findings, &lookup, &out->key);
    if (names) return list_question(job, names, lookup, into, out);
    if (test->subject == HW_SUBJECT_FINDING) return finding_question(job, test, one, into, out);
    if (test->subject == HW_SUBJECT_NOT_FASCIA) return pattern_question(job, one, into, out);
    static const struct {
        hw_subject subject;
        const char *key, *text;
    } rows[] = {
        {HW_SUBJECT_AGE, "person.birth_year", "Year of birth?"},
        {HW_SUBJECT_BODY_MASS_INDEX, "mass_kg", "Body mass and height?"},
        {HW_SUBJECT_MASS_AGE, "mass_measured_on", "Body mass, and when was it measured?"},
        {HW_SUBJECT_DAYS_SINCE, "past_treatments", "Past treatments, with dates?"},
        {HW_SUBJECT_TIMES_IN_YEAR, "past_treatments", "Past treatments, with dates?"},
        {HW_SUBJECT_TIMES_EVER, "past_treatments", "Past treatments, with dates?"},
        {HW_SUBJECT_ANAESTHETIC_FRACTION, "anaesthetic",
         "Agent, volume, concentration and body mass for the anaesthetic?"},
        {HW_SUBJECT_STEROID_DAY_TOTAL, "past_treatments", "Past treatments, with dates?"},
        {HW_SUBJECT_BOTH_HEELS, "heel_pain", "Which heels hurt?"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (rows[i].subject == test->subject) out->key = rows[i].key, out->text = rows[i].text;
    return HW_OK;
}
