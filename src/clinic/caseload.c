// SPDX-License-Identifier: GPL-3.0-or-later
#include "caseload.h"
#include "trials.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double gone_at = 2.0; // points: the discharge target of the trade, common practice
// Of the control chart: signals at a likelihood ratio of about 50; a choice of this program.
static const double control_limit = 4.0, control_odds_ratio = 2.0;

// Heels that became free of pain for each thing held level: fewer let the estimates run away (5 to
// 9 suffice: from memory: Vittinghoff 2007 Am J Epidemiol 165:710).
enum { EVENTS_EACH = 5 };

static hw_status check(hw_job *job, const hw_heel_course *heels, int count)
{
    for (int i = 0; i < count; i++)
        for (int k = 0; k < heels[i].count; k++)
            if (!(heels[i].scores[k].score >= 0.0 && heels[i].scores[k].score <= 10.0) ||
                !(heels[i].scores[k].week >= 0.0))
                return hw_fail(job, HW_BAD_INPUT, "heel %d, score %d: %g in week %g", i + 1, k + 1,
                               heels[i].scores[k].score, heels[i].scores[k].week);
    return HW_OK;
}

static bool counts_here(const hw_heel_course *heel, const char *act)
{
    return !act || (heel->act && strcmp(heel->act, act) == 0);
}

static hw_heel_share share_of(int count, int of)
{
    hw_heel_share share = {.count = count, .of = of};
    if (of > 0) share.share = hw_share_wilson(count, of);
    return share;
}

// The first score at or below what counts as gone ends the time; else the last score censors it.
static hw_follow time_to_gone(const hw_heel_course *heel)
{
    for (int k = 0; k < heel->count; k++)
        if (heel->scores[k].score <= gone_at) return (hw_follow){heel->scores[k].week, true, 0};
    return (hw_follow){heel->scores[heel->count - 1].week, false, 0};
}

static double fallen_by_what_matters(void)
{
    return hw_pain_scale_of(HW_PAIN_FIRST_STEP).matters.value - 1e-9;
}

static bool is_better(const hw_heel_course *heel)
{
    return heel->count > 1 &&
           heel->scores[0].score - heel->scores[heel->count - 1].score >= fallen_by_what_matters();
}

// Median of those that are known; how many they are.
static hw_maybe median_of(double *values, int known)
{
    return known > 0 ? hw_known(hw_quantile(values, known, 0.5)) : (hw_maybe){0};
}

static hw_status count_baseline(hw_job *job, const hw_heel_course *heels, int count, hw_arena *tmp,
                                hw_heel_group *group)
{
    double *values[3] = {0};
    int known[3] = {0};
    for (int k = 0; k < 3; k++) HW_ALLOC(job, tmp, values[k], count > 0 ? count : 1);
    for (int i = 0; i < count; i++) {
        const hw_heel_course *heel = &heels[i];
        if (!counts_here(heel, group->act)) continue;
        if (heel->count > 0) values[0][known[0]++] = heel->scores[0].score;
        if (heel->onset_weeks.known) values[1][known[1]++] = heel->onset_weeks.value;
        if (heel->age_years.known) values[2][known[2]++] = heel->age_years.value;
    }
    group->first_score = median_of(values[0], known[0]);
    group->onset_weeks = median_of(values[1], known[1]);
    group->age_years = median_of(values[2], known[2]);
    group->onset_known = known[1];
    group->age_known = known[2];
    return HW_OK;
}

// Each heel's last score less what was to be expected of it from its first one alone.
static void against_forecast(const hw_heel_course *heels, int count, hw_heel_group *group)
{
    double sum = 0.0, squares = 0.0;
    int n = 0;
    const hw_growth_prior prior = hw_pain_scale_of(HW_PAIN_FIRST_STEP).prior;
    for (int i = 0; i < count; i++) {
        const hw_heel_course *heel = &heels[i];
        if (!counts_here(heel, group->act) || heel->count < 2) continue;
        hw_growth growth = hw_growth_begin(&prior);
        hw_growth_add(&growth, 0.0, heel->scores[0].score);
        const hw_pain_score *last = &heel->scores[heel->count - 1];
        double off = last->score - hw_growth_at(&growth, last->week, gone_at).mean;
        sum += off;
        squares += off * off;
        n++;
    }
    if (n < 2) return;
    double mean = sum / n, sd = sqrt(fmax(0.0, (squares - n * mean * mean) / (n - 1)));
    const hw_interval interval = hw_mean_of(mean, sd, n);
    group->against_forecast = hw_known(mean);
    group->against_low = interval.low;
    group->against_high = interval.high;
}

static hw_status count_group(hw_job *job, const hw_heel_course *heels, int count, const char *act,
                             hw_arena *into, hw_heel_group *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_heel_group group = {.act = act};
    double *changes = NULL;
    hw_follow *times = NULL;
    int better = 0, gone = 0;
    HW_ALLOC(job, tmp.arena, changes, count > 0 ? count : 1);
    HW_ALLOC(job, tmp.arena, times, count > 0 ? count : 1);
    for (int i = 0; i < count; i++) {
        const hw_heel_course *heel = &heels[i];
        if (!counts_here(heel, act)) continue;
        group.heels++;
        group.lost += heel->count == 1;
        if (heel->count < 2) continue;
        double last = heel->scores[heel->count - 1].score;
        times[group.followed] = time_to_gone(heel);
        changes[group.followed++] = last - heel->scores[0].score;
        better += is_better(heel);
        gone += last <= gone_at;
    }
    group.better = share_of(better, group.followed);
    group.gone = share_of(gone, group.followed);
    if (group.followed > 0) {
        HW_TRY(hw_survival_of(job, times, group.followed, 0, into, &group.until_gone));
        group.median_change = hw_quantile(changes, group.followed, 0.5);
    }
    HW_TRY(count_baseline(job, heels, count, tmp.arena, &group));
    against_forecast(heels, count, &group);
    hw_scratch_end(tmp);
    *out = group;
    return HW_OK;
}

// `act` in the order of the alphabet among `found` others; how many they are then.
static int insert_act(const char **acts, int found, const char *act)
{
    int at = 0;
    if (!act) return found;
    while (at < found && strcmp(acts[at], act) < 0) at++;
    if (at < found && strcmp(acts[at], act) == 0) return found;
    if (found == HW_CASELOAD_ACTS) return found;
    memmove(&acts[at + 1], &acts[at], (size_t)(found - at) * sizeof *acts);
    acts[at] = act;
    return found + 1;
}

static void count_harms(const hw_caseload_books *of, hw_caseload *out)
{
    const char *acts[HW_CASELOAD_ACTS];
    int found = 0;
    for (int i = 0; i < of->given_count; i++) found = insert_act(acts, found, of->given[i].act);
    for (int k = 0; k < found; k++) {
        hw_act_harm *harm = &out->harms[k];
        harm->act = acts[k];
        for (int i = 0; i < of->given_count; i++) {
            if (strcmp(of->given[i].act, harm->act) != 0) continue;
            harm->given++;
            harm->events += of->given[i].had_event;
        }
        harm->share = hw_share_exact(harm->events, harm->given);
    }
    out->harm_count = found;
    out->given_count = of->given_count;
}

// Arms of trials that counted successes under this very treatment.
static void beside_trials(hw_caseload *of)
{
    int count = 0;
    const hw_trial *trials = hw_trials(&count);
    for (int i = 0; i < of->act_count; i++) {
        hw_beside_trials beside = {.act = of->acts[i].act, .here = of->acts[i].better};
        int events = 0, people = 0;
        for (int k = 0; k < count; k++) {
            const hw_trial *trial = &trials[k];
            bool is_arm = strcmp(trial->treatment, beside.act) == 0;
            bool is_control = strcmp(trial->control, beside.act) == 0;
            if (trial->events_a < 0 || (!is_arm && !is_control)) continue;
            int n = is_arm ? trial->count_a : trial->count_b;
            int had = is_arm ? trial->events_a : trial->events_b;
            events += trial->event_is_bad ? n - had : had;
            people += n;
            if (beside.trials++ == 0) beside.first_source = trial->source;
        }
        if (beside.trials == 0) continue;
        beside.published = share_of(events, people);
        if (beside.here.of > 0)
            beside.difference =
                hw_share_difference(beside.here.count, beside.here.of, events, people);
        of->beside[of->beside_count++] = beside;
    }
}

static int by_first_day(const void *a, const void *b)
{
    const hw_control_step *x = a, *y = b;
    return x->day != y->day ? x->day - y->day : (int)x->better - (int)y->better;
}

// Expected is the clinic's own share: the chart finds a drift within, not a bad clinic.
static hw_status chart_control(hw_job *job, const hw_caseload_books *of, hw_arena *into,
                               hw_caseload *out)
{
    hw_control_step *steps = NULL;
    const hw_heel_share *better = &out->all.better;
    double sum = 0.0;
    int count = 0;
    out->control_limit = control_limit;
    if (better->of == 0 || better->count == 0 || better->count == better->of) return HW_OK;
    out->control_target = 1.0 - better->share.estimate;
    HW_ALLOC(job, into, steps, better->of);
    for (int i = 0; i < of->heel_count; i++)
        if (of->heels[i].count > 1)
            steps[count++] = (hw_control_step){.day = of->heels[i].first_day,
                                               .better = is_better(&of->heels[i])};
    qsort(steps, (size_t)count, sizeof *steps, by_first_day);
    for (int i = 0; i < count; i++) {
        sum = fmax(
            0.0, sum + hw_cusum_weight(!steps[i].better, out->control_target, control_odds_ratio));
        steps[i].sum = sum;
        steps[i].signal = sum >= control_limit;
        if (steps[i].signal) sum = 0.0;
    }
    out->control = steps;
    out->control_count = count;
    return HW_OK;
}

// The two groups with the most heels followed; the earlier name where they are even.
static bool find_largest(const hw_caseload *of, const hw_heel_group *out[2])
{
    out[0] = out[1] = NULL;
    for (int i = 0; i < of->act_count; i++) {
        const hw_heel_group *group = &of->acts[i];
        if (!out[0] || group->followed > out[0]->followed)
            out[1] = out[0], out[0] = group;
        else if (!out[1] || group->followed > out[1]->followed)
            out[1] = group;
    }
    return out[1] && out[1]->followed > 1 &&
           out[0]->until_gone.events + out[1]->until_gone.events > 0;
}

// The rate held level for what the heels began with; why not, where there are too few or it has no
// end.
static hw_status adjust(hw_job *job, const hw_follow *times, const double *columns, int count,
                        hw_arena *into, hw_two_groups *out)
{
    int events = 0;
    for (int i = 0; i < count; i++) events += times[i].happened;
    if (events < HW_ADJUSTED * EVENTS_EACH)
        return hw_text_format(
            job, into, &out->not_adjusted,
            "%d heels of which first score, weeks of pain and age are known became free of "
            "pain; holding these level needs %d",
            events, HW_ADJUSTED * EVENTS_EACH);
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_status status = HW_OK;
    hw_hazards_of of = {times, columns, HW_ADJUSTED, count, HW_TIES_EFRON};
    for (int i = 0; i < HW_TIES && status == HW_OK; i++) {
        of.ties = (hw_ties)i;
        status = hw_fit_hazards(job, &of, &out->adjusted[i]);
    }
    hw_scratch_end(tmp);
    if (status != HW_BAD_INPUT && status != HW_NO_ANSWER) return status;
    return hw_text_copy(job, into, job->why, &out->not_adjusted);
}

// Heels each of two treatments would need, by how much the changes of all followed heels spread.
static hw_maybe needed_each(const hw_heel_course *heels, int count, double matters)
{
    double sum = 0.0, squares = 0.0;
    int n = 0;
    for (int i = 0; i < count; i++) {
        if (heels[i].count < 2) continue;
        const double change = heels[i].scores[heels[i].count - 1].score - heels[i].scores[0].score;
        sum += change, squares += change * change, n++;
    }
    const double variance = n > 2 ? (squares - sum * sum / n) / (n - 1) : 0.0;
    if (!(variance > 1e-9)) return (hw_maybe){0};
    return hw_known(ceil(hw_t_size(matters / sqrt(variance), 0.8)));
}

static hw_status compare_largest(hw_job *job, const hw_caseload_books *of, hw_arena *into,
                                 hw_caseload *out)
{
    const hw_heel_group *best[2];
    hw_follow *times = NULL, *known = NULL;
    double(*columns)[HW_ADJUSTED] = NULL;
    int count = 0, known_count = 0;
    if (!find_largest(out, best)) return HW_OK;
    hw_two_groups *two = &out->first_two;
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_ALLOC(job, tmp.arena, times, of->heel_count);
    HW_ALLOC(job, tmp.arena, known, of->heel_count);
    HW_ALLOC(job, tmp.arena, columns, of->heel_count);
    for (int i = 0; i < of->heel_count; i++) {
        const hw_heel_course *heel = &of->heels[i];
        if (heel->count < 2 || !heel->act) continue;
        bool is_first = strcmp(heel->act, best[0]->act) == 0;
        if (!is_first && strcmp(heel->act, best[1]->act) != 0) continue;
        times[count] = time_to_gone(heel);
        times[count++].group = is_first ? 0 : 1;
        if (!heel->onset_weeks.known || !heel->age_years.known) continue;
        double *row = columns[known_count];
        known[known_count++] = times[count - 1];
        row[HW_ADJUSTED_ACT] = is_first;
        row[HW_ADJUSTED_FIRST_SCORE] = heel->scores[0].score;
        row[HW_ADJUSTED_ONSET] = heel->onset_weeks.value;
        row[HW_ADJUSTED_AGE] = heel->age_years.value;
    }
    HW_TRY(hw_compare_survival(job, times, count, &two->test));
    HW_TRY(adjust(job, known, (const double *)columns, known_count, into, two));
    hw_scratch_end(tmp);
    two->acts[0] = best[0]->act, two->acts[1] = best[1]->act;
    two->needed_each = needed_each(of->heels, of->heel_count, out->matters);
    return HW_OK;
}

hw_status hw_count_caseload(hw_job *job, const hw_caseload_books *of, hw_arena *into,
                            hw_caseload *out)
{
    const char *acts[HW_CASELOAD_ACTS];
    hw_caseload caseload = {.gone = gone_at,
                            .matters = hw_pain_scale_of(HW_PAIN_FIRST_STEP).matters.value};
    HW_TRY(check(job, of->heels, of->heel_count));
    HW_TRY(count_group(job, of->heels, of->heel_count, NULL, into, &caseload.all));
    for (int i = 0; i < of->heel_count; i++)
        caseload.act_count = insert_act(acts, caseload.act_count, of->heels[i].act);
    for (int i = 0; i < caseload.act_count; i++) {
        hw_heel_group *group = &caseload.acts[i];
        HW_TRY(count_group(job, of->heels, of->heel_count, acts[i], into, group));
        if (group->followed == 0) continue;
        hw_funnel_limits(caseload.all.better.share.estimate, group->followed, 0.95,
                         &group->funnel_low, &group->funnel_high);
        group->outside_funnel = hw_funnel_is_outside(caseload.all.better.share.estimate,
                                                     group->better.count, group->followed, 0.95);
    }
    count_harms(of, &caseload);
    beside_trials(&caseload);
    HW_TRY(chart_control(job, of, into, &caseload));
    HW_TRY(compare_largest(job, of, into, &caseload));
    *out = caseload;
    return HW_OK;
}
