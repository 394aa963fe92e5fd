// SPDX-License-Identifier: GPL-3.0-or-later
#include "counts.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include <math.h>

hw_interval hw_share_wilson(int events, int count)
{
    HW_ASSERT(count > 0 && events >= 0 && events <= count);
    double n = count, p = events / n, z = qnorm(0.975, 0.0, 1.0, 1, 0), z2 = z * z;
    double middle = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    double half = z / (1.0 + z2 / n) * sqrt(p * (1.0 - p) / n + z2 / (4.0 * n * n));
    return (hw_interval){p, fmax(0.0, middle - half), fmin(1.0, middle + half)};
}

hw_interval hw_share_exact(int events, int count)
{
    HW_ASSERT(count > 0 && events >= 0 && events <= count);
    hw_interval out = {(double)events / count, 0.0, 1.0};
    if (events > 0) out.low = qbeta(0.025, events, count - events + 1, 1, 0);
    if (events < count) out.high = qbeta(0.975, events + 1, count - events, 1, 0);
    return out;
}

hw_interval hw_share_difference(int events_a, int count_a, int events_b, int count_b)
{
    hw_interval a = hw_share_wilson(events_a, count_a), b = hw_share_wilson(events_b, count_b);
    double d = a.estimate - b.estimate;
    return (hw_interval){d, d - hypot(a.estimate - a.low, b.high - b.estimate),
                         d + hypot(a.high - a.estimate, b.estimate - b.low)};
}

hw_interval hw_number_to_treat(const hw_interval *difference)
{
    return (hw_interval){1.0 / difference->estimate, 1.0 / difference->high, 1.0 / difference->low};
}

hw_interval hw_count_exact(int events)
{
    HW_ASSERT(events >= 0);
    return (hw_interval){events, events ? 0.5 * qchisq(0.025, 2.0 * events, 1, 0) : 0.0,
                         0.5 * qchisq(0.975, 2.0 * (events + 1), 1, 0)};
}

void hw_fisher(const hw_two_by_two *t, double *two_sided, double *one_sided)
{
    double white = t->events_a + t->events_b, black = t->others_a + t->others_b;
    double drawn = t->events_a + t->others_a, own = dhyper(t->events_a, white, black, drawn, 0);
    double low = fmax(0.0, drawn - black), high = fmin(white, drawn);
    *two_sided = 0.0;
    *one_sided = 0.0;
    for (double x = low; x <= high + 0.5; x += 1.0) {
        double chance = dhyper(x, white, black, drawn, 0);
        if (chance <= own * (1.0 + 1e-7)) *two_sided += chance; // ties by round-off count
        if (x >= t->events_a) *one_sided += chance;
    }
    *two_sided = fmin(1.0, *two_sided);
}

double hw_kappa(const double *table, int levels)
{
    double total = 0.0, agreed = 0.0, by_chance = 0.0;
    for (int i = 0; i < levels * levels; i++) total += table[i];
    for (int i = 0; i < levels; i++) {
        double row = 0.0, column = 0.0;
        for (int j = 0; j < levels; j++) {
            row += table[i * levels + j];
            column += table[j * levels + i];
        }
        agreed += table[i * levels + i] / total;
        by_chance += row / total * column / total;
    }
    return (agreed - by_chance) / (1.0 - by_chance);
}
