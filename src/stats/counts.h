// SPDX-License-Identifier: GPL-3.0-or-later
// Shares with honest intervals, and tests on small tables.
#ifndef HW_STATS_COUNTS_H
#define HW_STATS_COUNTS_H

#include "pool.h"

typedef struct hw_interval {
    double estimate, low, high;
} hw_interval;

/// Share of `events` in `count` > 0 with Wilson's interval (1927).
hw_interval hw_share_wilson(int events, int count);

/// The same, exact (Clopper and Pearson 1934).
hw_interval hw_share_exact(int events, int count);

/// Difference of two shares, first less second (Newcombe 1998, method 10).
hw_interval hw_share_difference(int events_a, int count_a, int events_b, int count_b);

/// Number to treat for one more (or, negative, one fewer) event, of a risk difference; infinite
/// where it is 0. The interval's ends go through infinity where the difference's spans 0: then low
/// > high.
hw_interval hw_number_to_treat(const hw_interval *difference);

/// Rate's exact interval for `events` counted (Poisson).
hw_interval hw_count_exact(int events);

/// Fisher's exact test, two-sided by the sum of tables no likelier than this one, and one-sided
/// (more events in a).
void hw_fisher(const hw_two_by_two *table, double *two_sided, double *one_sided);

/// Cohen's kappa of a square table of `levels` x `levels` counts, row-major.
double hw_kappa(const double *table, int levels);

#endif
