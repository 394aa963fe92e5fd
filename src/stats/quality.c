// SPDX-License-Identifier: GPL-3.0-or-later
#include "quality.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include <math.h>

static double funnel_limit(double p, double target, int count)
{
    double r = qbinom(p, count, target, 1, 0);
    double above = pbinom(r, count, target, 1, 0), below = pbinom(r - 1.0, count, target, 1, 0);
    double part = above > below ? (above - p) / (above - below) : 0.0;
    return fmin(1.0, fmax(0.0, (r - part) / count));
}

void hw_funnel_limits(double target, int count, double level, double *low, double *high)
{
    HW_ASSERT(count > 0 && target >= 0.0 && target <= 1.0 && level > 0.0 && level < 1.0);
    *low = funnel_limit(0.5 * (1.0 - level), target, count);
    *high = funnel_limit(0.5 * (1.0 + level), target, count);
}

bool hw_funnel_is_outside(double target, int events, int count, double level)
{
    double tail = 0.5 * (1.0 - level);
    return pbinom(events, count, target, 1, 0) < tail ||
           pbinom(events - 1.0, count, target, 0, 0) < tail;
}

void hw_cusum_add(hw_cusum *sum, double value, double target, double sd, double slack, double limit)
{
    double z = (value - target) / sd;
    sum->high = fmax(0.0, sum->high + z - slack);
    sum->low = fmax(0.0, sum->low - z - slack);
    sum->high_runs = sum->high > 0.0 ? sum->high_runs + 1 : 0;
    sum->low_runs = sum->low > 0.0 ? sum->low_runs + 1 : 0;
    sum->signal = sum->high > limit ? 1 : sum->low > limit ? -1 : 0;
}

double hw_cusum_weight(bool happened, double expected_share, double odds_ratio)
{
    double p = expected_share;
    double fewer = 1.0 - p + odds_ratio * p;
    return happened ? log(odds_ratio / fewer) : log(1.0 / fewer);
}
