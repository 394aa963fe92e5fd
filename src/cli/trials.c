// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/cli.h"

#include <math.h>
#include <stdio.h>

static void print_trial(const hw_trial *trial)
{
    hw_trial_effect effect;
    double p;
    bool contradicts = false;
    printf("%-18s %s against %s, %s, week %g: ", trial->id, trial->treatment, trial->control,
           trial->outcome, trial->weeks);
    if (hw_trial_log_odds(trial, &effect))
        printf("%d of %d against %d of %d, odds ratio of good %.2f", trial->events_a,
               trial->count_a, trial->events_b, trial->count_b, exp(effect.effect));
    else if (trial->low.known)
        printf("%+.1f %s (%.1f to %.1f)", trial->difference.value, trial->unit, trial->low.value,
               trial->high.value);
    else
        printf("%+.1f %s, no interval printed", trial->difference.value, trial->unit);
    if (hw_trial_p(trial, &p, &contradicts)) printf(", p %.3f", p);
    printf("%s [%s%s%s]\n", contradicts ? ", CONTRADICTS the printed p" : "", trial->status,
           trial->note ? ": " : "", trial->note ? trial->note : "");
}

enum { TRIALS_BYTES_MAX = 1 << 20 };

// The clinic's own file: a list of trials, or one.
static hw_status read_own(cli_room *room, const char *path, hw_trial **own, int *count)
{
    hw_bytes file = {0};
    *own = NULL, *count = 0;
    if (!path) return HW_OK;
    HW_TRY(hw_file_read(&room->job, path, TRIALS_BYTES_MAX, room->into, &file));
    return hw_app_trials(&room->job, file, room->into, own, count, &room->faults);
}

hw_status cli_trials(cli_room *room, const cli_words *words)
{
    int count, own_count;
    hw_trial *own = NULL;
    const hw_trial *rows = hw_trials(&count);
    HW_TRY(read_own(room, words->second, &own, &own_count));
    if (words->is_json) {
        hw_bytes text = {0};
        HW_TRY(hw_report_trials_json(&room->job, own, own_count, room->into, &text));
        return cli_print(room, text);
    }
    for (int i = 0; i < count; i++) print_trial(&rows[i]);
    for (int i = 0; i < own_count; i++) print_trial(&own[i]);
    return HW_OK;
}
