// SPDX-License-Identifier: GPL-3.0-or-later
// Newton's steps on the partial likelihood; those at risk are summed from the last time to the
// first.
#include "hazard.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include <math.h>
#include <stdlib.h>

enum { MOST = HW_HAZARDS_MAX, STEPS = 25, HALVINGS = 30 };

typedef struct watched {
    double time;
    bool happened;
    double x[MOST]; // less the mean of all
} watched;

// Sums over people of their rate, of rate times x and of rate times x x'.
typedef struct risk {
    double rate, x[MOST], xx[MOST * MOST];
} risk;

typedef struct likelihood {
    double value, slope[MOST], curve[MOST * MOST]; // curve: minus the second derivative
} likelihood;

static int later_first(const void *a, const void *b)
{
    const double x = ((const watched *)a)->time, y = ((const watched *)b)->time;
    return (x < y) - (x > y);
}

static void add(risk *sum, const watched *of, const double *log_ratio, int n)
{
    double power = 0.0;
    for (int c = 0; c < n; c++) power += log_ratio[c] * of->x[c];
    const double rate = exp(power);
    sum->rate += rate;
    for (int r = 0; r < n; r++) {
        sum->x[r] += rate * of->x[r];
        for (int c = 0; c < n; c++) sum->xx[r * n + c] += rate * of->x[r] * of->x[c];
    }
}

// What all people of one regression share.
typedef struct regression {
    const watched *people; // the latest first
    int count, n;          // n values each
    hw_ties ties;
    risk *choices; // exact: of the choices of 0, 1, ... out of those at risk; else NULL
    int most;      // who share one time
} regression;

// Those who share a time leave one after the other: each takes an even part of all (Efron), or none
// (Breslow).
static void leave(const risk *at_risk, const risk *leaving, int events, const regression *of,
                  likelihood *out)
{
    const int n = of->n;
    for (int l = 0; l < events; l++) {
        const double part = of->ties == HW_TIES_EFRON ? (double)l / events : 0.0;
        const double rate = at_risk->rate - part * leaving->rate;
        double mean[MOST];
        out->value -= log(rate);
        for (int r = 0; r < n; r++) {
            mean[r] = (at_risk->x[r] - part * leaving->x[r]) / rate;
            out->slope[r] -= mean[r];
        }
        for (int r = 0; r < n; r++)
            for (int c = 0; c < n; c++)
                out->curve[r * n + c] +=
                    (at_risk->xx[r * n + c] - part * leaving->xx[r * n + c]) / rate -
                    mean[r] * mean[c];
    }
}

// One more is at risk: every choice of k is one of k without this one, or of k - 1 with this one.
// The product of a choice's rates stands in `rate`, with its first and second derivatives beside
// it.
static void add_to_choices(const regression *of, const watched *one, double rate)
{
    const int n = of->n;
    for (int k = of->most; k > 0; k--) {
        const risk *fewer = &of->choices[k - 1];
        risk *sum = &of->choices[k];
        for (int r = 0; r < n; r++)
            for (int c = 0; c < n; c++)
                sum->xx[r * n + c] +=
                    rate * (fewer->xx[r * n + c] + one->x[r] * fewer->x[c] +
                            fewer->x[r] * one->x[c] + one->x[r] * one->x[c] * fewer->rate);
        for (int r = 0; r < n; r++) sum->x[r] += rate * (fewer->x[r] + one->x[r] * fewer->rate);
        sum->rate += rate * fewer->rate;
    }
}

static void begin_choices(const regression *of)
{
    for (int k = 0; k <= of->most; k++) of->choices[k] = (risk){0};
    of->choices[0].rate = 1.0;
}

static likelihood likelihood_at(const regression *of, const double *log_ratio)
{
    const watched *people = of->people;
    const int n = of->n;
    likelihood at = {0};
    risk at_risk = {0};
    if (of->choices) begin_choices(of);
    for (int i = 0, next; i < of->count; i = next) {
        risk leaving = {0};
        int events = 0;
        for (next = i; next < of->count && people[next].time == people[i].time; next++) {
            const double before = at_risk.rate;
            add(&at_risk, &people[next], log_ratio, n);
            if (of->choices) add_to_choices(of, &people[next], at_risk.rate - before);
            if (!people[next].happened) continue;
            add(&leaving, &people[next], log_ratio, n);
            events++;
            for (int c = 0; c < n; c++) {
                at.value += log_ratio[c] * people[next].x[c];
                at.slope[c] += people[next].x[c];
            }
        }
        if (of->choices && events > 0) // the choice that came about, out of all of so many
            leave(&of->choices[events], &(risk){0}, 1, of, &at);
        else
            leave(&at_risk, &leaving, events, of, &at);
    }
    return at;
}

static bool solve(int n, const double *matrix, const double *right, double *x)
{
    double a[MOST * MOST];
    for (int i = 0; i < n * n; i++) a[i] = matrix[i];
    for (int i = 0; i < n; i++) x[i] = right[i];
    return hw_solve_small(n, a, x);
}

// False where the likelihood still rises when the steps are used up: a ratio without bound.
static bool climb(const regression *of, double *log_ratio, likelihood *at)
{
    const int n = of->n;
    *at = likelihood_at(of, log_ratio);
    for (int i = 0; i < STEPS; i++) {
        double step[MOST], tried[MOST], gain = 0.0;
        if (!solve(n, at->curve, at->slope, step)) return false;
        for (int c = 0; c < n; c++) gain += step[c] * at->slope[c];
        if (!(gain >= 0.0)) return false;
        if (gain < 1e-18 * (1.0 + fabs(at->value))) return true;
        likelihood next = {0};
        for (int half = 0; half < HALVINGS; half++) {
            for (int c = 0; c < n; c++) tried[c] = log_ratio[c] + ldexp(step[c], -half);
            next = likelihood_at(of, tried);
            if (next.value >= at->value - 1e-12 * fabs(at->value)) break;
        }
        for (int c = 0; c < n; c++) log_ratio[c] = tried[c];
        *at = next;
    }
    return false;
}

static hw_status gather(hw_job *job, const hw_hazards_of *of, hw_arena *into, watched **out,
                        int *events)
{
    const hw_follow *people = of->people;
    const int n = of->column_count, count = of->count;
    watched *all = NULL;
    HW_ALLOC(job, into, all, count > 0 ? count : 1);
    *events = 0;
    for (int i = 0; i < count; i++) {
        if (!(people[i].time >= 0.0) || !isfinite(people[i].time))
            return hw_fail(job, HW_BAD_INPUT, "person %d was followed for %g: not a time", i + 1,
                           people[i].time);
        all[i] = (watched){.time = people[i].time, .happened = people[i].happened};
        *events += people[i].happened;
        for (int c = 0; c < n; c++) {
            if (!isfinite(of->columns[i * n + c]))
                return hw_fail(job, HW_BAD_INPUT, "value %d of person %d is not a number", c + 1,
                               i + 1);
            all[i].x[c] = of->columns[i * n + c];
        }
    }
    for (int c = 0; c < n; c++) {
        double mean = 0.0, most = 0.0;
        for (int i = 0; i < count; i++) mean += all[i].x[c] / count;
        for (int i = 0; i < count; i++) {
            all[i].x[c] -= mean;
            most = fmax(most, fabs(all[i].x[c]));
        }
        if (most <= 1e-12 * fabs(mean))
            return hw_fail(job, HW_BAD_INPUT, "value %d is the same in all", c + 1);
    }
    qsort(all, (size_t)count, sizeof *all, later_first);
    *out = all;
    return HW_OK;
}

static int most_at_one_time(const watched *people, int count)
{
    int most = 0;
    for (int i = 0, next; i < count; i = next) {
        int events = 0;
        for (next = i; next < count && people[next].time == people[i].time; next++)
            events += people[next].happened;
        if (events > most) most = events;
    }
    return most;
}

const char *hw_ties_word(hw_ties ties)
{
    static const char *const words[HW_TIES] = {"Efron", "Breslow", "exact"};
    return words[ties];
}

// Standard errors, p and intervals from the likelihood's curve at its top.
static hw_status spread(hw_job *job, const likelihood *at, hw_hazards *got)
{
    const int n = got->count;
    const double z = qnorm(0.975, 0.0, 1.0, 1, 0);
    for (int c = 0; c < n; c++) {
        double unit[MOST] = {0}, inverse[MOST];
        unit[c] = 1.0;
        if (!solve(n, at->curve, unit, inverse) || !(inverse[c] > 0.0))
            return hw_fail(job, HW_NO_ANSWER, "a value follows from the others");
        got->se[c] = sqrt(inverse[c]);
        got->p[c] = 2.0 * pnorm(-fabs(got->log_ratio[c]) / got->se[c], 0.0, 1.0, 1, 0);
        got->low[c] = exp(got->log_ratio[c] - z * got->se[c]);
        got->high[c] = exp(got->log_ratio[c] + z * got->se[c]);
    }
    return HW_OK;
}

hw_status hw_fit_hazards(hw_job *job, const hw_hazards_of *of, hw_hazards *out)
{
    HW_ASSERT(of->column_count >= 1 && of->column_count <= MOST);
    hw_hazards got = {.count = of->column_count, .people = of->count};
    regression work = {.count = of->count, .n = of->column_count, .ties = of->ties};
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    watched *all = NULL;
    likelihood at;
    HW_TRY(gather(job, of, tmp.arena, &all, &got.events));
    if (got.events == 0) return hw_fail(job, HW_BAD_INPUT, "nobody had the event");
    work.people = all;
    work.most = most_at_one_time(all, of->count);
    if (of->ties == HW_TIES_EXACT) HW_ALLOC(job, tmp.arena, work.choices, work.most + 1);
    const bool settled = climb(&work, got.log_ratio, &at);
    hw_scratch_end(tmp);
    if (!settled || !isfinite(at.value))
        return hw_fail(
            job, HW_NO_ANSWER,
            "a ratio of rates has no bound: a value parts those with the event from those without");
    got.log_likelihood = at.value;
    HW_TRY(spread(job, &at, &got));
    *out = got;
    return HW_OK;
}
