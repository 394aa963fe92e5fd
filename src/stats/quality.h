// SPDX-License-Identifier: GPL-3.0-or-later
// A clinic over time: limits of chance around a share, and sums that signal a shift.
#ifndef HW_STATS_QUALITY_H
#define HW_STATS_QUALITY_H

#include "num/num.h"

/// Limits within which a share of `count` people lies by chance with `level` (0.95, 0.998) when the
/// true share is `target`: exact binomial, interpolated, held to 0..1 (Spiegelhalter 2005).
void hw_funnel_limits(double target, int count, double level, double *low, double *high);

/// Whether so many events of `count` are too few or too many for chance, by the exact tail. The
/// limits above are interpolated for drawing: among a handful even the largest count possible may
/// lie above.
bool hw_funnel_is_outside(double target, int events, int count, double level);

/// Tabular CUSUM of values against a target, slack and limit in standard deviations (Page 1954).
typedef struct hw_cusum {
    double high, low;        // running sums
    int high_runs, low_runs; // values since each sum left zero
    int signal;              // +1, -1, 0
} hw_cusum;

/// Adds one value in time order; `slack` and `limit` in units of `sd`.
void hw_cusum_add(hw_cusum *sum, double value, double target, double sd, double slack,
                  double limit);

/// Weight of one event (or none) in a log-likelihood CUSUM for a change of the odds by `ratio`.
double hw_cusum_weight(bool happened, double expected_share, double odds_ratio);

#endif
