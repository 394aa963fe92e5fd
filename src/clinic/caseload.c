// SPDX-License-Identifier: GPL-3.0-or-later
#include "clinic.h"

#include <math.h>
#include <string.h>

static const double gone_at = 2.0; // points: the discharge target of the trade, common practice

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

static hw_status count_group(hw_job *job, const hw_heel_course *heels, int count, const char *act,
                             hw_arena *into, hw_heel_group *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_heel_group group = {.act = act};
    double *changes = NULL, matters = hw_pain_scale_of(HW_PAIN_FIRST_STEP).matters.value;
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
        better += heel->scores[0].score - last >= matters - 1e-9;
        gone += last <= gone_at;
    }
    group.better = share_of(better, group.followed);
    group.gone = share_of(gone, group.followed);
    if (group.followed > 0) {
        HW_TRY(hw_survival_of(job, times, group.followed, 0, into, &group.until_gone));
        group.median_change = hw_quantile(changes, group.followed, 0.5);
    }
    hw_scratch_end(tmp);
    *out = group;
    return HW_OK;
}

// Names of all treatments that heels are counted under, in the order of the alphabet.
static int gather_acts(const hw_heel_course *heels, int count, const char **acts)
{
    int found = 0;
    for (int i = 0; i < count; i++) {
        int at = 0;
        if (!heels[i].act) continue;
        while (at < found && strcmp(acts[at], heels[i].act) < 0) at++;
        if (at < found && strcmp(acts[at], heels[i].act) == 0) continue;
        if (found == HW_CASELOAD_ACTS) continue;
        memmove(&acts[at + 1], &acts[at], (size_t)(found - at) * sizeof *acts);
        acts[at] = heels[i].act;
        found++;
    }
    return found;
}

hw_status hw_count_caseload(hw_job *job, const hw_heel_course *heels, int count, hw_arena *into,
                            hw_caseload *out)
{
    const char *acts[HW_CASELOAD_ACTS];
    hw_caseload caseload = {.gone = gone_at,
                            .matters = hw_pain_scale_of(HW_PAIN_FIRST_STEP).matters.value};
    HW_TRY(check(job, heels, count));
    HW_TRY(count_group(job, heels, count, NULL, into, &caseload.all));
    caseload.act_count = gather_acts(heels, count, acts);
    for (int i = 0; i < caseload.act_count; i++) {
        hw_heel_group *group = &caseload.acts[i];
        HW_TRY(count_group(job, heels, count, acts[i], into, group));
        if (group->followed == 0) continue;
        hw_funnel_limits(caseload.all.better.share.estimate, group->followed, 0.95,
                         &group->funnel_low, &group->funnel_high);
        group->outside_funnel = hw_funnel_is_outside(caseload.all.better.share.estimate,
                                                     group->better.count, group->followed, 0.95);
    }
    *out = caseload;
    return HW_OK;
}
