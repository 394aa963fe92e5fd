// SPDX-License-Identifier: GPL-3.0-or-later
#include "survival.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include <math.h>
#include <stdlib.h>

// Earlier first; at ties events before censorings.
static int by_time(const void *a, const void *b)
{
    const hw_follow *x = a, *y = b;
    if (x->time != y->time) return x->time < y->time ? -1 : 1;
    return (int)y->happened - (int)x->happened;
}

static hw_status sort_people(hw_job *job, const hw_follow *people, int count, int only,
                             hw_arena *into, hw_follow **out, int *kept)
{
    hw_follow *sorted = NULL;
    *kept = 0;
    HW_ALLOC(job, into, sorted, count > 0 ? count : 1);
    for (int i = 0; i < count; i++) {
        if (!(people[i].time >= 0.0) || !isfinite(people[i].time))
            return hw_fail(job, HW_BAD_INPUT, "person %d was followed for %g: not a time", i + 1,
                           people[i].time);
        if (only < 0 || people[i].group == only) sorted[(*kept)++] = people[i];
    }
    qsort(sorted, (size_t)*kept, sizeof *sorted, by_time);
    *out = sorted;
    return HW_OK;
}

// Events at one time; of one group, or of all where `group` is below 0.
static int count_events_of(const hw_follow *sorted, int from, int count, int group)
{
    int events = 0;
    for (int i = from; i < count && sorted[i].time == sorted[from].time; i++)
        events += sorted[i].happened && (group < 0 || sorted[i].group == group);
    return events;
}

static int count_events(const hw_follow *sorted, int from, int count)
{
    return count_events_of(sorted, from, count, -1);
}

static void put_step(hw_survival_step *step, double *greenwood, double *share)
{
    double n = step->at_risk, d = step->events;
    *share *= 1.0 - d / n;
    *greenwood += n > d ? d / (n * (n - d)) : 0.0;
    step->share = *share;
    step->se = *share * sqrt(*greenwood);
    double z = qnorm(0.975, 0.0, 1.0, 1, 0), spread = z * sqrt(*greenwood);
    step->low = *share * exp(-spread);
    step->high = fmin(1.0, *share * exp(spread));
}

hw_status hw_survival_of(hw_job *job, const hw_follow *people, int count, int group, hw_arena *into,
                         hw_survival *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_follow *sorted = NULL;
    hw_survival_step *steps = NULL;
    int kept = 0;
    HW_TRY(sort_people(job, people, count, group, tmp.arena, &sorted, &kept));
    if (kept == 0) return hw_fail(job, HW_BAD_INPUT, "nobody is in group %d", group);
    HW_ALLOC(job, into, steps, kept);
    hw_survival curve = {.people = kept};
    double greenwood = 0.0, share = 1.0;
    for (int i = 0; i < kept; i++) {
        int events = count_events(sorted, i, kept);
        bool is_first = i == 0 || sorted[i].time != sorted[i - 1].time;
        if (is_first && events > 0) {
            hw_survival_step *step = &steps[curve.count++];
            *step =
                (hw_survival_step){.time = sorted[i].time, .at_risk = kept - i, .events = events};
            put_step(step, &greenwood, &share);
            if (!curve.median.known && share <= 0.5 + 1e-12) curve.median = hw_known(step->time);
        }
        if (sorted[i].happened)
            curve.events++;
        else if (curve.count > 0)
            steps[curve.count - 1].censored++;
    }
    hw_scratch_end(tmp);
    curve.steps = steps;
    *out = curve;
    return HW_OK;
}

hw_status hw_compare_survival(hw_job *job, const hw_follow *people, int count, hw_logrank *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_follow *sorted = NULL;
    hw_logrank test = {0};
    int kept = 0;
    double variance = 0.0, share = 1.0, early_off = 0.0, early_variance = 0.0;
    HW_TRY(sort_people(job, people, count, -1, tmp.arena, &sorted, &kept));
    for (int i = 0; i < kept; i++) {
        if (i > 0 && sorted[i].time == sorted[i - 1].time) continue;
        double n = kept - i, n0 = 0.0, d = count_events(sorted, i, kept);
        for (int j = i; j < kept; j++) n0 += sorted[j].group == 0;
        test.expected[0] += d * n0 / n;
        test.expected[1] += d * (n - n0) / n;
        const double spread = n > 1.0 ? d * (n0 / n) * (1.0 - n0 / n) * (n - d) / (n - 1.0) : 0.0;
        variance += spread;
        early_off += share * (count_events_of(sorted, i, kept, 0) - d * n0 / n);
        early_variance += share * share * spread;
        share *= 1.0 - d / n;
    }
    for (int i = 0; i < kept; i++) test.observed[sorted[i].group != 0] += sorted[i].happened;
    hw_scratch_end(tmp);
    *out = test;
    if (!(variance > 0.0)) return HW_OK;
    test.is_known = true;
    double off = test.observed[0] - test.expected[0];
    test.chi2 = off * off / variance;
    test.p = pchisq(test.chi2, 1.0, 0, 0);
    test.early_chi2 = early_off * early_off / early_variance;
    test.early_p = pchisq(test.early_chi2, 1.0, 0, 0);
    *out = test;
    return HW_OK;
}
