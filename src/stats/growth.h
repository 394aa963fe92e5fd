// SPDX-License-Identifier: GPL-3.0-or-later
// One person's pain over weeks: a prior from others, updated by each score.
#ifndef HW_STATS_GROWTH_H
#define HW_STATS_GROWTH_H

#include "num/num.h"

/// What is believed of a person before any score: pain at week t is
/// level + fall f(t) + noise, f(t) = exp(-t / weeks) - 1, level and fall normal.
typedef struct hw_growth_prior {
    double level_mean, level_sd; // at week 0
    double fall_mean, fall_sd;   // from week 0 to never: positive is better
    double correlation;          // of level and fall
    double weeks;                // over which 1 - 1/e of the fall happens
    double noise_sd;             // of one score
} hw_growth_prior;

typedef struct hw_growth {
    hw_growth_prior prior;
    double mean[2];       // level, fall
    double covariance[3]; // level level, level fall, fall fall
    int scores;
    double surprise; // z of the last score against the forecast before it
} hw_growth;

/// Without scores.
hw_growth hw_growth_begin(const hw_growth_prior *prior);

/// Exact update by one score at `week` (a conjugate normal model).
void hw_growth_add(hw_growth *growth, double week, double score);

typedef struct hw_growth_view {
    double mean, low, high;       // of the person's own level of pain: 90 % band
    double score_low, score_high; // of a score they would give
    double chance_below;          // that the level is at or below `target`
} hw_growth_view;

/// The level at a week and the chance that it is at or below `target`, by what the scores so far
/// say.
hw_growth_view hw_growth_at(const hw_growth *growth, double week, double target);

/// Chance that the level falls by `change` or more from week 0 to `week`.
double hw_growth_chance_of_fall(const hw_growth *growth, double week, double change);

#endif
