// SPDX-License-Identifier: GPL-3.0-or-later
// The statistic by which ISO 20685-1:2018 judges a 3-D scanner, here over the program's own repetitions.
// It is used as a measure of repeatability only: the standard asks for an expert's measures on people,
// which there are none of here, so that nothing is claimed by it.
#ifndef HW_TESTS_SCAN_REPEATABILITY_H
#define HW_TESTS_SCAN_REPEATABILITY_H

#include <math.h>
#include <stdbool.h>

/// Limit for the foot, m. source  facts of standards 4: ISO 20685-1:2018, foot 2 mm
static const double iso_limit = 0.002;

/// 95 % interval of the mean error: mean -+ 1.96 sd / sqrt(n).
typedef struct repeatability {
    double mean, sd, low, high;
    bool is_inside; // of -+ iso_limit
} repeatability;

static inline repeatability repeatability_of_moments(int n, double mean, double sd)
{
    double half = 1.96 * sd / sqrt(n);
    repeatability r = {mean, sd, mean - half, mean + half, false};
    r.is_inside = r.low > -iso_limit && r.high < iso_limit;
    return r;
}

static inline repeatability repeatability_of(const double *errors, int n)
{
    double sum = 0.0, squares = 0.0;
    for (int i = 0; i < n; i++) sum += errors[i];
    for (int i = 0; i < n; i++) squares += (errors[i] - sum / n) * (errors[i] - sum / n);
    return repeatability_of_moments(n, sum / n, sqrt(squares / (n - 1)));
}

#endif
