// SPDX-License-Identifier: GPL-3.0-or-later
// What may be pooled of the trials, by every method: the choice of method can change the verdict.
#ifndef HW_CLINIC_POOLS_H
#define HW_CLINIC_POOLS_H

#include "trials.h"

/// A trial named for a pool that is not in it.
typedef struct hw_left_out {
    const hw_trial *trial;
    const char *why;
} hw_left_out;

/// One way of pooling. `why` says why there is no answer; NULL: there is one.
typedef struct hw_pool_try {
    hw_pooled of;
    const char *why;
} hw_pool_try;

/// The trials of one pool and what they say together. Its scale is that of its first row in the
/// table: a trial that did not print that is left out, said so, and never mixed in.
typedef struct hw_trials_pool {
    const char *name;
    bool is_ratio; // log odds ratios of a good outcome; else standardised differences
    const hw_trial **trials;
    hw_trial_effect *effects; // above 0 the treated did better
    int count;
    hw_left_out *left_out;
    int left_out_count;
    hw_pool_try methods[HW_POOL_METHODS];
    hw_pool_try *without; // one per trial: all others by REML; NULL below three trials
    bool has_spread;      // two trials and more
    double tau2_low, tau2_high;
    // Counts of good outcomes pooled as tables, of ratios alone.
    bool has_tables;
    hw_trial_effect mantel_haenszel, peto; // log odds ratios
    // Whether small trials say something else, and the pool with the funnel made even.
    const char *no_funnel; // why not; NULL: they are known
    hw_funnel funnel;
    hw_filled filled;
    // Whether the effect changes with the weeks of follow-up: start and slope per week.
    const char *no_horizon;
    hw_moderated horizon;
} hw_trials_pool;

/// Every pool that two or more of `rows` may enter, or that had to leave one out, in the order of
/// its first row.
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_pools_of(hw_job *job, const hw_trial *rows, int count, hw_arena *into,
                                  hw_trials_pool **out, int *out_count);

#endif
