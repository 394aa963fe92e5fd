// SPDX-License-Identifier: GPL-3.0-or-later
// A trial the clinic adds to the table: as printed in its paper, nothing filled in.
#include "record/record_internal.h"

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

enum { MOST_TRIALS = 200 };

typedef struct trial_target {
    hw_trial trial;
    hw_maybe weeks, scale_most, people_treated, people_control, events_treated, events_control;
} trial_target;

#define TEXT(name)                                                                                 \
    static hw_status read_##name(case_reader *reader, const hw_json *value, void *target)          \
    {                                                                                              \
        return case_read_text(reader, value, &((trial_target *)target)->trial.name);               \
    }
#define TRUTH(name)                                                                                \
    static hw_status read_##name(case_reader *reader, const hw_json *value, void *target)          \
    {                                                                                              \
        return case_read_bool(reader, value, &((trial_target *)target)->trial.name);               \
    }

TEXT(source)
TEXT(treatment)
TEXT(control)
TEXT(outcome)
TEXT(unit)
TEXT(pool)
TEXT(note)
TRUTH(lower_is_better)
TRUTH(event_is_bad)

static hw_status fault(case_reader *reader, const char *sentence)
{
    return hw_faults_add(reader->job, reader->faults, reader->path[0] ? reader->path : "trial",
                         "%s", sentence);
}

static hw_status need_texts(case_reader *reader, const hw_trial *trial)
{
    if (!trial->source) HW_TRY(fault(reader, "needs \"source\": authors, year, journal"));
    if (!trial->treatment || !trial->control)
        HW_TRY(fault(reader, "needs \"treatment\" and \"control\""));
    return trial->outcome ? HW_OK : fault(reader, "needs \"outcome\"");
}

static bool has_interval(const hw_trial *trial)
{
    return trial->difference.known && trial->low.known && trial->high.known;
}

static bool has_means(const hw_trial *trial)
{
    return trial->mean_a.known && trial->mean_b.known && trial->sd_a.known && trial->sd_b.known;
}

static hw_status check_numbers(case_reader *reader, const hw_trial *trial)
{
    const bool has_counts = trial->events_a >= 0 && trial->events_b >= 0;
    const bool has_people = trial->count_a > 1 && trial->count_b > 1;
    if (!(trial->weeks > 0.0)) HW_TRY(fault(reader, "needs \"weeks\" of follow-up"));
    if (!has_interval(trial) && !(has_means(trial) && has_people) && !(has_counts && has_people))
        HW_TRY(fault(reader,
                     "needs a difference with \"low\" and \"high\", or means with deviations "
                     "and people, or events and people"));
    if (has_interval(trial) && !(trial->low.value < trial->difference.value &&
                                 trial->difference.value < trial->high.value))
        HW_TRY(fault(reader, "has a difference that does not lie within its interval"));
    if (has_means(trial) && !(trial->sd_a.value > 0.0 && trial->sd_b.value > 0.0))
        HW_TRY(fault(reader, "has a deviation of 0"));
    if (has_counts && (trial->events_a > trial->count_a || trial->events_b > trial->count_b))
        HW_TRY(fault(reader, "has more events than people"));
    return HW_OK;
}

#define NUMBER(key, place, low, high, unit)                                                        \
    {                                                                                              \
        key, offsetof(trial_target, place), low, high, unit                                        \
    }

static hw_status read_trial(case_reader *reader, const hw_json *value, hw_trial *out)
{
    static const case_field fields[] = {
        {"source", read_source},
        {"treatment", read_treatment},
        {"control", read_control},
        {"outcome", read_outcome},
        {"unit", read_unit},
        {"pool", read_pool},
        {"note", read_note},
        {"lower_is_better", read_lower_is_better},
        {"event_is_bad", read_event_is_bad},
    };
    static const case_number numbers[] = {
        NUMBER("weeks", weeks, 0, 2000, "weeks"),
        NUMBER("scale_most", scale_most, 0, 1e6, "points"),
        NUMBER("people_treated", people_treated, 1, 1e6, "people"),
        NUMBER("people_control", people_control, 1, 1e6, "people"),
        NUMBER("mean_treated", trial.mean_a, -1e6, 1e6, "its unit"),
        NUMBER("sd_treated", trial.sd_a, 0, 1e6, "its unit"),
        NUMBER("mean_control", trial.mean_b, -1e6, 1e6, "its unit"),
        NUMBER("sd_control", trial.sd_b, 0, 1e6, "its unit"),
        NUMBER("difference", trial.difference, -1e6, 1e6, "its unit"),
        NUMBER("low", trial.low, -1e6, 1e6, "its unit"),
        NUMBER("high", trial.high, -1e6, 1e6, "its unit"),
        NUMBER("events_treated", events_treated, 0, 1e6, "people"),
        NUMBER("events_control", events_control, 0, 1e6, "people"),
        NUMBER("printed_p", trial.printed_p, 0, 1, "probability"),
    };
    static const case_shape shape = {fields, COUNT(fields), numbers, COUNT(numbers), false, 0};
    trial_target target = {.trial = {.unit = "", .status = "entered by the clinic"}};
    HW_TRY(case_read_object(reader, value, &shape, &target, NULL));
    hw_trial *trial = &target.trial;
    trial->weeks = target.weeks.value, trial->scale_most = target.scale_most.value;
    trial->count_a = (int)target.people_treated.value;
    trial->count_b = (int)target.people_control.value;
    trial->events_a = target.events_treated.known ? (int)target.events_treated.value : -1;
    trial->events_b = target.events_control.known ? (int)target.events_control.value : -1;
    HW_TRY(need_texts(reader, trial));
    HW_TRY(check_numbers(reader, trial));
    *out = *trial;
    return HW_OK;
}

hw_status hw_trials_read(hw_job *job, const hw_json *const *bodies, int count, hw_arena *into,
                         hw_trial **out, hw_faults *faults)
{
    hw_trial *trials = NULL;
    if (count > MOST_TRIALS)
        return hw_fail(job, HW_BAD_INPUT, "more than %d trials of the clinic's own", MOST_TRIALS);
    HW_ALLOC(job, into, trials, count + 1);
    for (int i = 0; i < count; i++) {
        case_reader reader = {.job = job, .into = into, .faults = faults, .path = "", .key = ""};
        if (count > 1) // of several, a fault says in which it is
            HW_TRY(hw_text_format(job, into, &reader.path, "trials[%d]", i));
        HW_TRY(read_trial(&reader, bodies[i], &trials[i]));
        HW_TRY(hw_text_format(job, into, &trials[i].id, "own-%d", i + 1));
    }
    HW_TRY(hw_faults_status(job, faults));
    *out = trials;
    return HW_OK;
}
