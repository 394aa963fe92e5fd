// SPDX-License-Identifier: GPL-3.0-or-later
// When: the first free day of an act, and the usual sequence dated day by day.
#include <string.h>

#include "clinic.h"
#include "plan_internal.h"
#include "readings.h"

enum { HORIZON_DAYS = 730, DAYS_PER_WEEK = 7 };

// The first row about days or counts that stands for the act on the day of `one`. Cautions count
// too: a default date keeps the usual distance, and a clinician who wants it sooner overrules or
// moves it. What is unknown (an undated past act) does not move a date: it is an open question of
// the option.
static const hw_rule *standing_row_of(const hw_situation *one, hw_act act, hw_rule_kind at_least)
{
    int count = 0;
    const hw_rule *rows = hw_rule_rows(&count);
    for (int i = 0; i < count; i++) {
        const hw_rule *rule = &rows[i];
        if (rule->retired || rule->kind < at_least || !(rule->acts & (1u << act))) continue;
        if (!hw_test_is_of_time(&rule->when) || hw_rule_overruled(rule, one->findings)) continue;
        if (hw_rule_judge(rule, one) == HW_VERDICT_YES) return rule;
    }
    return NULL;
}

// Whether a row about days or counts cannot be said on that day: an undated act may lie close to
// it.
static bool is_open_on(const hw_situation *one, hw_act act)
{
    int count = 0;
    const hw_rule *rows = hw_rule_rows(&count);
    for (int i = 0; i < count; i++) {
        const hw_rule *rule = &rows[i];
        if (rule->retired || rule->unanswered != HW_UNANSWERED_HOLDS) continue;
        if (!(rule->acts & (1u << act)) || !hw_test_is_of_time(&rule->when)) continue;
        if (hw_rule_overruled(rule, one->findings)) continue;
        if (hw_rule_judge(rule, one) == HW_VERDICT_UNKNOWN) return true;
    }
    return false;
}

// A number of a dose, the lower end; `otherwise` where it has none.
static int whole_number(const hw_dose_row *dose, const char *name, int otherwise)
{
    const hw_dose_number *number = dose ? hw_dose_number_of(dose, name) : NULL;
    return number ? (int)number->low : otherwise;
}

// An act as the calendar counts it: a course of tablets runs on; the other home programmes disturb
// nothing.
static hw_past_act as_done(hw_act act, hw_date date, hw_side side)
{
    hw_past_act done = {.act = act, .date = date, .side = side};
    if (act == HW_ACT_NSAID)
        done.until = hw_date_plus(date, DAYS_PER_WEEK * whole_number(hw_dose_of(act), "weeks", 0));
    return done;
}

// The same looking forward: a row that this act, done on the day of `one`, would raise against one
// planned for that day or later: of two on one day nobody knows which comes first.
static const hw_rule *disturbed_row(const hw_situation *one, hw_act act, hw_rule_kind at_least)
{
    const hw_past_act now = as_done(act, one->date, one->side);
    for (int i = 0; i < one->act_count; i++) {
        const hw_past_act *later = &one->acts[i];
        if (!later->date.known || hw_date_days(one->date, later->date) < 0) continue;
        hw_situation then = *one;
        then.acts = &now, then.act_count = 1;
        then.date = later->date, then.side = later->side;
        const hw_rule *rule = standing_row_of(&then, later->act, at_least);
        if (rule) return rule;
    }
    return NULL;
}

hw_date hw_earliest(const hw_situation *one, hw_act act, hw_date from, const hw_rule **moved_by)
{
    *moved_by = NULL;
    if (!from.known) return (hw_date){0};
    for (int days = 0; days <= HORIZON_DAYS; days++) {
        hw_situation then = *one;
        then.date = hw_date_plus(from, days);
        const hw_rule *rule = standing_row_of(&then, act, HW_RULE_CAUTION);
        if (!rule) rule = disturbed_row(&then, act, HW_RULE_CAUTION);
        if (!rule) return then.date;
        *moved_by = rule;
    }
    return (hw_date){0};
}

// The usual sequence, weeks from the visit. After morrissey-2021: a core from the first day, at 4
// to 12 weeks shockwave and at 12 a custom device for those not satisfied; no injection. The
// fascia's load programme starts when the first soreness of the core has settled.
typedef struct usual {
    hw_act act;
    int week;
    const char *only_if;
} usual;

#define NOT_SATISFIED "if not satisfied at the review"

static const usual sequence[] = {
    {HW_ACT_ACTIVITY, 0, NULL},
    {HW_ACT_FOOTWEAR, 0, NULL},
    {HW_ACT_TAPE, 0, NULL},
    {HW_ACT_FASCIA_STRETCH, 0, NULL},
    {HW_ACT_CALF_STRETCH, 0, NULL},
    {HW_ACT_INSOLE, 1, NULL},
    {HW_ACT_STRENGTH, 2, NULL},
    {HW_ACT_SHOCKWAVE_RADIAL, 6, NOT_SATISFIED},
    {HW_ACT_ORTHOSIS, 12, NOT_SATISFIED},
    {HW_ACT_RETURN_TO_IMPACT, 12, "when a brisk 30-minute walk hurts 2 of 10 at most"},
};

typedef struct review {
    int week;
    const char *text;
} review;

static const review reviews[] = {
    {6, "review of the core programme (4 to 6 weeks): first-step pain, load, what comes next"},
    {12, "review at 12 weeks: first-step pain 2 or less and the valued activity resumed?"},
};

enum {
    SESSIONS_MOST = 8,
    REVIEW_COUNT = sizeof reviews / sizeof *reviews,
    REVIEW_AFTER_SHOCKWAVE_DAYS = 84, // gerdesmeyer-2008: judged 12 weeks after the last session
};

typedef struct calendar {
    hw_planner *planner;
    hw_past_act *acts; // the past, then what is planned
    int act_count;
    hw_entry *entries;
    int entry_count;
} calendar;

static void add_entry(calendar *to, hw_entry entry)
{
    entry.week = hw_date_days(to->planner->findings->visit_date, entry.date) / DAYS_PER_WEEK;
    to->entries[to->entry_count++] = entry;
}

static const usual *usual_of(hw_act act)
{
    for (size_t i = 0; i < sizeof sequence / sizeof *sequence; i++)
        if (sequence[i].act == act) return &sequence[i];
    return NULL;
}

// Dated are the available, the held, and those that only days or counts stop: their date moves.
static bool can_be_dated(const hw_option *option)
{
    for (int i = 0; i < option->reason_count; i++) {
        const hw_reason *reason = &option->reasons[i];
        const bool in_the_way = reason->rule->kind != HW_RULE_CAUTION && !reason->overruled;
        if (in_the_way && !hw_test_is_of_time(&reason->rule->when)) return false;
    }
    return true;
}

// A stopped option may have open questions too, so its state alone does not tell.
static bool waits_for_answers(const hw_option *option)
{
    for (int i = 0; i < option->question_count; i++)
        if (option->questions[i].holds & (1u << option->act)) return true;
    return false;
}

static hw_status condition_of(calendar *to, const hw_option *option, const char *usually,
                              const hw_situation *then, const char **out)
{
    const char *flag = to->planner->flagged ? "once the red flags are cleared" : NULL;
    const bool is_open = waits_for_answers(option) || is_open_on(then, option->act);
    const char *held = is_open ? "once the open questions are answered" : NULL;
    const char *parts[] = {usually, flag, held};
    *out = NULL;
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        if (!parts[i]) continue;
        HW_TRY(hw_text_format(to->planner->job, to->planner->into, out, "%s%s%s", *out ? *out : "",
                              *out ? ", " : "", parts[i]));
    }
    return HW_OK;
}

static const hw_moved *moved_of(const hw_planner *planner, const hw_entry *entry)
{
    const hw_findings *findings = planner->findings;
    for (int i = 0; i < findings->moved_count; i++) {
        const hw_moved *moved = &findings->moved[i];
        if (moved->act == entry->act && moved->side == entry->side &&
            moved->session == entry->session)
            return moved;
    }
    return NULL;
}

// Where the clinician wants it, when no stop stands then; a caution is told and does not hinder.
static void move_by_hand(const hw_planner *planner, hw_situation one, hw_entry *entry)
{
    const hw_moved *moved = moved_of(planner, entry);
    if (!moved || !moved->date.known) return;
    one.date = moved->date;
    const bool is_past = hw_date_days(planner->findings->visit_date, moved->date) < 0;
    const hw_rule *rule = standing_row_of(&one, entry->act, HW_RULE_STOP);
    if (!rule) rule = disturbed_row(&one, entry->act, HW_RULE_STOP);
    if (rule || is_past) {
        entry->refused = moved->date, entry->against = rule;
        return;
    }
    entry->date = moved->date, entry->is_by_hand = true, entry->moved_by = NULL;
    entry->against = standing_row_of(&one, entry->act, HW_RULE_CAUTION);
    if (!entry->against) entry->against = disturbed_row(&one, entry->act, HW_RULE_CAUTION);
}

static hw_status note_undated(calendar *to, const hw_option *option, const char *why)
{
    hw_planner *planner = to->planner;
    const char *name = NULL;
    HW_TRY(hw_plan_name(planner, option->act, option->side, &name));
    HW_ASSERT(planner->note_count < HW_PLAN_NOTES);
    return hw_text_format(planner->job, planner->into, &planner->notes[planner->note_count++],
                          "%s: %s", name, why);
}

// The rows that together leave no day.
static hw_status note_clash(calendar *to, const hw_option *option, const hw_situation *one,
                            hw_date from)
{
    enum { NAMED = 4 };
    const hw_rule *rules[NAMED] = {NULL};
    int count = 0;
    const char *why = "no free day within two years; these rows clash:";
    for (int days = 0; days <= HORIZON_DAYS; days++) {
        hw_situation then = *one;
        then.date = hw_date_plus(from, days);
        const hw_rule *rule = standing_row_of(&then, option->act, HW_RULE_CAUTION);
        if (!rule) rule = disturbed_row(&then, option->act, HW_RULE_CAUTION);
        bool is_known = !rule;
        for (int i = 0; i < count; i++) is_known |= rules[i] == rule;
        if (is_known || count == NAMED) continue;
        rules[count++] = rule;
        HW_TRY(hw_text_format(to->planner->job, to->planner->into, &why, "%s %s", why, rule->id));
    }
    return note_undated(to, option, why);
}

static hw_status add_session(calendar *to, const hw_option *option, hw_entry entry)
{
    hw_planner *planner = to->planner;
    HW_TRY(hw_plan_name(planner, option->act, option->side, &entry.text));
    if (entry.sessions > 1)
        HW_TRY(hw_text_format(planner->job, planner->into, &entry.text, "%s: session %d of %d",
                              entry.text, entry.session, entry.sessions));
    to->acts[to->act_count++] = as_done(option->act, entry.date, option->side);
    add_entry(to, entry);
    return HW_OK;
}

static hw_status add_shockwave_review(calendar *to, const hw_entry *last)
{
    if (last->act != HW_ACT_SHOCKWAVE_RADIAL && last->act != HW_ACT_SHOCKWAVE_FOCUSED) return HW_OK;
    hw_entry entry = {.kind = HW_ENTRY_REVIEW,
                      .date = hw_date_plus(last->date, REVIEW_AFTER_SHOCKWAVE_DAYS),
                      .act = last->act,
                      .side = last->side,
                      .only_if = last->only_if};
    HW_TRY(hw_text_format(to->planner->job, to->planner->into, &entry.text,
                          "%s heel: review 12 weeks after the last shockwave session",
                          hw_side_word(last->side)));
    add_entry(to, entry);
    return HW_OK;
}

typedef struct later_review {
    hw_act act;
    int weeks;
    const char *text;
} later_review;

// Facts 6.5: a corticosteroid works in weeks 1 to 4 and fades by 8 to 12; plasma is judged at 3 to
// 6 months; exercise at 3 months.
static const later_review later_reviews[] = {
    {HW_ACT_CORTICOSTEROID, 4, "4 weeks after the injection: effect, skin, glucose, load"},
    {HW_ACT_CORTICOSTEROID, 12, "12 weeks after the injection: has it lasted?"},
    {HW_ACT_PRP, 12, "3 months after the plasma: first judgement"},
    {HW_ACT_PRP, 26, "6 months after the plasma: judgement"},
    {HW_ACT_STRENGTH, 12, "3 months of strength: judgement"},
};

enum { LATER_REVIEWS = sizeof later_reviews / sizeof *later_reviews };

static hw_status add_later_reviews(calendar *to, const hw_entry *start)
{
    for (int i = 0; i < LATER_REVIEWS; i++) {
        if (later_reviews[i].act != start->act) continue;
        hw_entry entry = {.kind = HW_ENTRY_REVIEW,
                          .date = hw_date_plus(start->date, DAYS_PER_WEEK * later_reviews[i].weeks),
                          .act = start->act,
                          .side = start->side,
                          .only_if = start->only_if};
        HW_TRY(hw_text_format(to->planner->job, to->planner->into, &entry.text, "%s heel: %s",
                              hw_side_word(start->side), later_reviews[i].text));
        add_entry(to, entry);
    }
    return HW_OK;
}

// A step's text goes on after it here.
static int without_full_stop(const char *text)
{
    size_t length = strlen(text);
    return (int)(length > 0 && text[length - 1] == '.' ? length - 1 : length);
}

// The steps of the strength programme, each at its earliest and by its criterion.
static hw_status add_steps(calendar *to, const hw_option *option, const hw_entry *start)
{
    if (option->act != HW_ACT_STRENGTH) return HW_OK;
    for (int i = 1; i < HW_DOSE_STEPS && option->dose->steps[i].text; i++) {
        const hw_dose_step *step = &option->dose->steps[i];
        hw_entry entry = {.kind = HW_ENTRY_STEP,
                          .date = hw_date_plus(start->date, DAYS_PER_WEEK * step->from_week),
                          .act = option->act,
                          .side = option->side,
                          .only_if = step->when};
        HW_TRY(hw_text_format(to->planner->job, to->planner->into, &entry.text,
                              "high-load strength, %s heel, next step: %.*s",
                              hw_side_word(option->side), without_full_stop(step->text),
                              step->text));
        add_entry(to, entry);
    }
    return HW_OK;
}

static hw_status date_option(calendar *to, const hw_option *option, int week, const char *usually)
{
    const int sessions = whole_number(option->dose, "sessions", 1);
    const int gap = whole_number(option->dose, "days between", DAYS_PER_WEEK);
    HW_ASSERT(sessions >= 1 && sessions <= SESSIONS_MOST);
    hw_entry entry = {.act = option->act, .side = option->side, .sessions = sessions};
    hw_date from = hw_date_plus(to->planner->findings->visit_date, DAYS_PER_WEEK * week);
    for (int session = 1; session <= sessions; session++) {
        hw_situation one = to->planner->visit;
        one.side = option->side, one.acts = to->acts, one.act_count = to->act_count;
        entry.session = session;
        entry.date = hw_earliest(&one, option->act, from, &entry.moved_by);
        if (!entry.date.known) return note_clash(to, option, &one, from);
        entry.is_by_hand = false, entry.refused = (hw_date){0}, entry.against = NULL;
        move_by_hand(to->planner, one, &entry);
        one.date = entry.date;
        HW_TRY(condition_of(to, option, usually, &one, &entry.only_if));
        HW_TRY(add_session(to, option, entry));
        from = hw_date_plus(entry.date, gap);
    }
    HW_TRY(add_steps(to, option, &entry));
    HW_TRY(add_later_reviews(to, &entry));
    return add_shockwave_review(to, &entry);
}

// What the clinician chose starts as soon as it may; without a choice the usual sequence stands.
static hw_status date_options(calendar *to)
{
    const hw_planner *planner = to->planner;
    const hw_acts chosen = planner->findings->chosen;
    for (int i = 0; i < planner->option_count; i++) {
        const hw_option *option = &planner->options[i];
        const usual *row = usual_of(option->act);
        if (chosen ? !(chosen & (1u << option->act)) : !row) continue;
        if (can_be_dated(option))
            HW_TRY(date_option(to, option, chosen ? 0 : row->week, chosen ? NULL : row->only_if));
        else if (chosen)
            HW_TRY(note_undated(to, option, "chosen, but a rule stands against it: not dated"));
    }
    return HW_OK;
}

// What is to be done about a heel whose pain has another cause.
static hw_status add_next_steps(calendar *to)
{
    hw_planner *planner = to->planner;
    for (int i = 0; i < planner->differential_count; i++) {
        const hw_differential *of = &planner->differentials[i];
        for (int k = 1; k < HW_CAUSE_COUNT; k++) {
            if (of->outcome != HW_OUTCOME_NOT_FASCIA) continue;
            if (of->causes[k].fits != HW_VERDICT_YES) continue;
            hw_entry entry = {
                .kind = HW_ENTRY_REVIEW, .date = planner->findings->visit_date, .side = of->side};
            HW_TRY(hw_text_format(planner->job, planner->into, &entry.text, "%s heel, %s: %s",
                                  hw_side_word(of->side), of->causes[k].row->name,
                                  of->causes[k].row->next_step));
            add_entry(to, entry);
        }
    }
    return HW_OK;
}

static void put_by_date(hw_entry *entries, int count)
{
    for (int i = 1; i < count; i++)
        for (int j = i; j > 0 && hw_date_days(entries[j].date, entries[j - 1].date) > 0; j--) {
            const hw_entry swap = entries[j];
            entries[j] = entries[j - 1], entries[j - 1] = swap;
        }
}

hw_status hw_plan_timeline(hw_planner *planner, const hw_entry **entries, int *count)
{
    *entries = NULL, *count = 0;
    if (planner->option_count == 0) return HW_OK;
    calendar to = {.planner = planner};
    // Each option: its sessions and at most one review.
    const int room = planner->option_count * (SESSIONS_MOST + 1 + LATER_REVIEWS + HW_DOSE_STEPS) +
                     REVIEW_COUNT + 2 * HW_CAUSE_COUNT;
    HW_ALLOC(planner->job, planner->into, to.entries, room);
    HW_ALLOC(planner->job, planner->into, to.acts, planner->findings->past_count + room);
    for (int i = 0; i < planner->findings->past_count; i++)
        to.acts[to.act_count++] = planner->findings->past[i];
    HW_TRY(date_options(&to));
    HW_TRY(add_next_steps(&to));
    for (int i = 0; i < REVIEW_COUNT; i++)
        add_entry(&to, (hw_entry){.kind = HW_ENTRY_REVIEW,
                                  .date = hw_date_plus(planner->findings->visit_date,
                                                       DAYS_PER_WEEK * reviews[i].week),
                                  .text = reviews[i].text});
    put_by_date(to.entries, to.entry_count);
    *entries = to.entries, *count = to.entry_count;
    return HW_OK;
}
