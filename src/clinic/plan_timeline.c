// SPDX-License-Identifier: GPL-3.0-or-later
// The weeks: a default sequence (or what the clinician chose), each act on the first day that every
// spacing row allows, given the past and what is already dated.
#include "plan_internal.h"

#include <stdlib.h>
#include <string.h>

// The usual order: core from day one, a further step where the review says it is not enough (best
// practice guide of 2021, Morrissey 2021 Br J Sports Med; the weeks are its clinic summary's).
typedef struct sequence_row {
    hw_act act;
    int week;
    const char *only_if;
    const char *text;
} sequence_row;

static const sequence_row sequence[] = {
    {HW_ACT_ACTIVITY, 0, NULL, "pace load by the pain rule"},
    {HW_ACT_FOOTWEAR, 0, NULL, "never barefoot, firm heel counter"},
    {HW_ACT_FASCIA_STRETCH, 0, NULL, "before the first step, three times a day"},
    {HW_ACT_CALF_STRETCH, 0, NULL, "every day"},
    {HW_ACT_TAPE, 0, NULL, "for one to three weeks"},
    {HW_ACT_ORTHOSIS, 2, NULL, "wear in over one to two weeks"},
    {HW_ACT_STRENGTH, 2, NULL, "every second day, load added by criteria"},
    {HW_ACT_SHOCKWAVE_RADIAL, 6, "if the review finds it is not enough", "pain-guided"},
};

static const int review_weeks[] = {5, 12, 26};

enum { ENTRIES_MAX = 160, ACTS_MAX = 200 };

typedef struct dater {
    plan_maker *make;
    hw_entry *entries;
    int count;
    hw_past_act *acts; // the past, then what is dated
    int act_count;
} dater;

static const hw_option *option_of(const plan_maker *make, hw_act act, hw_side side)
{
    for (int i = 0; i < make->plan->option_count; i++)
        if (make->options[i].act == act && make->options[i].side == side) return &make->options[i];
    return NULL;
}

static int number_of(const hw_dose_row *dose, const char *name, int otherwise)
{
    const hw_dose_number *number = dose ? hw_dose_number_of(dose, name) : NULL;
    return number ? (int)number->low : otherwise;
}

// One act or session on the first free day from `from`; unknown when there is none.
static hw_date date_one(dater *to, const hw_option *option, hw_date from, hw_entry entry)
{
    const hw_findings *findings = to->make->findings;
    hw_case one = {.findings = findings,
                   .side = option->side,
                   .date = from,
                   .acts = to->acts,
                   .act_count = to->act_count};
    if (to->count == ENTRIES_MAX || to->act_count == findings->past_count + ACTS_MAX)
        return (hw_date){0};
    entry.date = hw_earliest(&one, option->act, from, &entry.moved_by);
    if (!entry.date.known) return entry.date;
    entry.week = hw_date_days(findings->visit_date, entry.date) / 7;
    entry.act = option->act;
    entry.side = option->side;
    to->entries[to->count++] = entry;
    to->acts[to->act_count++] =
        (hw_past_act){.act = option->act, .date = entry.date, .side = option->side};
    return entry.date;
}

static void date_act(dater *to, const hw_option *option, const sequence_row *row)
{
    bool is_course = option->act == HW_ACT_SHOCKWAVE_RADIAL || option->act == HW_ACT_DRY_NEEDLING ||
                     option->act == HW_ACT_SHOCKWAVE_FOCUSED;
    int sessions = is_course ? number_of(option->dose, "sessions", 1) : 1;
    int between = number_of(option->dose, "days between", 7);
    hw_date from = hw_date_plus(to->make->findings->visit_date, 7 * row->week);
    const char *held = option->state == HW_HELD ? "once its open questions are answered" : NULL;
    for (int i = 0; i < sessions && from.known; i++) {
        hw_entry entry = {.session = i + 1,
                          .sessions = sessions,
                          .text = row->text,
                          .only_if = held ? held : row->only_if};
        hw_date date = date_one(to, option, from, entry);
        from = hw_date_plus(date, between);
    }
}

static void date_sides(dater *to, const sequence_row *row)
{
    static const hw_side sides[3] = {HW_SIDE_UNKNOWN, HW_SIDE_LEFT, HW_SIDE_RIGHT};
    for (int i = 0; i < 3; i++) {
        const hw_option *option = option_of(to->make, row->act, sides[i]);
        if (option && option->state <= HW_HELD) date_act(to, option, row);
    }
}

static void date_sequence(dater *to)
{
    hw_acts chosen = to->make->findings->chosen;
    for (size_t i = 0; !chosen && i < sizeof sequence / sizeof *sequence; i++)
        date_sides(to, &sequence[i]);
    for (int act = 0; chosen && act < HW_ACT_COUNT; act++) {
        sequence_row row = {(hw_act)act, 0, NULL, "as chosen"};
        for (size_t i = 0; i < sizeof sequence / sizeof *sequence; i++)
            if (sequence[i].act == (hw_act)act) row = sequence[i];
        row.only_if = NULL;
        if (chosen & (1u << act)) date_sides(to, &row);
    }
}

static void add_reviews(dater *to)
{
    static const char *const texts[] = {"first-step pain, load, skin; is it enough?",
                                        "judge shockwave and exercise", "still free of pain?"};
    for (size_t i = 0; i < sizeof review_weeks / sizeof *review_weeks && to->count < ENTRIES_MAX;
         i++)
        to->entries[to->count++] =
            (hw_entry){.kind = HW_ENTRY_REVIEW,
                       .date = hw_date_plus(to->make->findings->visit_date, 7 * review_weeks[i]),
                       .week = review_weeks[i],
                       .text = texts[i]};
}

static int compare_entries(const void *a, const void *b)
{
    const hw_entry *one = a, *other = b;
    if (one->date.days != other->date.days) return one->date.days < other->date.days ? -1 : 1;
    if (one->kind != other->kind) return one->kind < other->kind ? -1 : 1;
    if (one->act != other->act) return one->act < other->act ? -1 : 1;
    return (one->side > other->side) - (one->side < other->side);
}

hw_status plan_timeline(plan_maker *make)
{
    const hw_findings *findings = make->findings;
    dater to = {.make = make, .act_count = findings->past_count};
    HW_ALLOC(make->job, make->into, to.entries, ENTRIES_MAX);
    HW_ALLOC(make->job, make->into, to.acts, findings->past_count + ACTS_MAX);
    if (findings->past_count)
        memcpy(to.acts, findings->past, (size_t)findings->past_count * sizeof *to.acts);
    date_sequence(&to);
    if (make->plan->option_count) add_reviews(&to);
    qsort(to.entries, (size_t)to.count, sizeof *to.entries, compare_entries);
    make->plan->timeline = to.entries;
    make->plan->entry_count = to.count;
    return HW_OK;
}
