// SPDX-License-Identifier: GPL-3.0-or-later
// What single trials of heel pain found, as rows that can be recomputed and pooled.
#ifndef HW_CLINIC_TRIALS_H
#define HW_CLINIC_TRIALS_H

#include "stats/stats.h"

/// One comparison of one trial at one time. What was not printed is not known; nothing is filled
/// in.
typedef struct hw_trial {
    const char *id;
    const char *source; // as cited
    const char *treatment, *control;
    const char *outcome, *unit;
    double scale_most; // of the outcome's scale; 0: none
    bool lower_is_better;
    double weeks;
    int count_a, count_b;                // people; 0: not known
    hw_maybe mean_a, sd_a, mean_b, sd_b; // at that time
    hw_maybe difference, low, high;      // treatment less control with its 95 % interval
    int events_a, events_b;              // -1: not counted so
    bool event_is_bad;                   // a failure, not a success
    hw_maybe printed_p;
    const char *pool;   // what it may be pooled with; NULL: with nothing here
    const char *status; // "seen", "memory": which of it was read
    const char *note;   // what is unsure of it; NULL where nothing is
} hw_trial;

/// All trials of the table, checked or not.
const hw_trial *hw_trials(int *count);

/// The table's rows, then the clinic's own.
HW_MUST_USE hw_status hw_trials_with(hw_job *job, const hw_trial *own, int own_count,
                                     hw_arena *into, const hw_trial **out, int *count);

/// Standardised difference, positive: the treatment did better. From means and deviations, or from
/// the difference, its interval and the numbers of people. False where neither is there.
bool hw_trial_standardised(const hw_trial *trial, hw_trial_effect *out);

/// Log odds ratio of a good outcome, positive: the treatment did better. False without counts.
bool hw_trial_log_odds(const hw_trial *trial, hw_trial_effect *out);

/// The p that follows from the printed difference and interval, and whether a printed p contradicts
/// it (by more than half of itself and 0.003): such rows are flagged, not dropped.
bool hw_trial_p(const hw_trial *trial, double *p, bool *contradicts);

#endif
