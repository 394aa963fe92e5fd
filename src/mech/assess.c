// SPDX-License-Identifier: GPL-3.0-or-later
// The ensemble: today and each change run on the same tissue sets, so that what is common to
// both arms cancels in the difference.
#include "mech_internal.h"

#include <string.h>

enum { FEWEST = 9 * HW_MECH_MEMBERS / 10 }; // members that a band needs

static const char too_few[] = "too many of the tissue sets did not settle under this change";

// All members' runs of one arm.
typedef struct arm {
    hw_mech_run run[HW_MECH_MEMBERS];
} arm;

static hw_mech_tissue tissue_of(const hw_mech_subject *subject, const hw_mech_change *change,
                                int member)
{
    hw_mech_tissue tissue = hw_mech_tissue_member(member); // its calf is at the norm
    if (!change->calf_at_norm) tissue.calf_limit_rad = hw_mech_calf_limit(subject, member);
    return tissue;
}

typedef struct arm_work {
    const hw_mech_subject *subject;
    const hw_mech_change *change;
    arm *out;
} arm_work;

static void run_member(void *with, int i)
{
    const arm_work *work = with;
    hw_mech_view view = hw_mech_view_of(work->subject, i);
    hw_mech_tissue tissue = tissue_of(work->subject, work->change, i);
    hw_mech_change change = hw_mech_change_of(work->change, i);
    hw_mech_march(&view, &tissue, &change, &work->out->run[i]);
}

static void run_arm(const hw_mech_subject *subject, const hw_mech_change *change, arm *out)
{
    arm_work work = {subject, change, out};
    hw_parallel(HW_MECH_MEMBERS, run_member, &work);
}

static int count_failed(const arm *a, const arm *b)
{
    int failed = 0;
    for (int i = 0; i < HW_MECH_MEMBERS; i++)
        failed += a->run[i].failed_instants > 0 || b->run[i].failed_instants > 0;
    return failed;
}

static hw_band band_or_unknown(double *values, int count)
{
    return count < FEWEST ? hw_band_unknown(too_few) : hw_band_of(values, count);
}

// The number `offset` bytes into a run: each of its fields that gets a band is a double.
static double number_at(const hw_mech_run *run, size_t offset)
{
    return *(const double *)(const void *)((const char *)run + offset);
}

// Band over the members that settled, of the number `offset` bytes into each run.
static hw_band band_at(const arm *a, size_t offset)
{
    double values[HW_MECH_MEMBERS];
    int count = 0;
    for (int i = 0; i < HW_MECH_MEMBERS; i++)
        if (a->run[i].failed_instants == 0) values[count++] = number_at(&a->run[i], offset);
    return band_or_unknown(values, count);
}

static hw_band scaled(hw_band band, double factor)
{
    band.median *= factor;
    band.p05 *= factor;
    band.p95 *= factor;
    return band;
}

// The curve over all points: solved inside, outside drawn straight to zero at 0 and 100 %.
static void curve_of(const arm *a, size_t offset, hw_band *points)
{
    const double first = 2.5 * HW_MECH_FIRST;
    const double last = first + 2.5 * (HW_MECH_SOLVED - 1);
    for (int p = 0; p < HW_MECH_POINTS; p++) {
        double percent = 2.5 * p;
        int i = p - HW_MECH_FIRST;
        int inside = i < 0 ? 0 : i >= HW_MECH_SOLVED ? HW_MECH_SOLVED - 1 : i;
        points[p] = band_at(a, offset + (size_t)inside * sizeof(double));
        if (i < 0) points[p] = scaled(points[p], percent / first);
        if (i >= HW_MECH_SOLVED) points[p] = scaled(points[p], (100.0 - percent) / (100.0 - last));
    }
}

// Change of one number, member by member, over those that settled in both arms.
static hw_mech_shift shift_of(const arm *today, const arm *changed, size_t offset)
{
    double values[HW_MECH_MEMBERS];
    int count = 0, falls = 0;
    for (int i = 0; i < HW_MECH_MEMBERS; i++) {
        const hw_mech_run *before = &today->run[i], *after = &changed->run[i];
        if (before->failed_instants > 0 || after->failed_instants > 0) continue;
        values[count] = number_at(after, offset) / number_at(before, offset) - 1.0;
        falls += values[count++] <= -0.10;
    }
    hw_mech_shift shift = {.change = band_or_unknown(values, count)};
    if (shift.change.known) shift.chance_of_tenth_less = (double)falls / count;
    return shift;
}

static void mark_unknown(hw_mech_shift *shift, const char *why)
{
    if (why) *shift = (hw_mech_shift){.change = hw_band_unknown(why)};
}

static void put_effect(const hw_mech_subject *subject, const hw_mech_change *change,
                       const arm *today, const arm *changed, hw_mech_effect *out)
{
    out->peak = shift_of(today, changed, offsetof(hw_mech_run, peak_bw));
    out->midstance = shift_of(today, changed, offsetof(hw_mech_run, midstance_bw));
    out->impulse = shift_of(today, changed, offsetof(hw_mech_run, impulse));
    curve_of(changed, offsetof(hw_mech_run, tension_bw), out->tension_bw);
    out->device_bw = band_at(changed, offsetof(hw_mech_run, device_bw));
    mark_unknown(&out->peak, hw_mech_unknown_peak(change));
    const char *no_calf = hw_mech_unknown_calf(subject, change);
    mark_unknown(&out->peak, no_calf);
    mark_unknown(&out->midstance, no_calf);
    mark_unknown(&out->impulse, no_calf);
    for (int p = 0; no_calf && p < HW_MECH_POINTS; p++)
        out->tension_bw[p] = hw_band_unknown(no_calf);
    out->failed_members = count_failed(today, changed);
    hw_mech_say_cautions(change, out);
}

static void note_numerics(const arm *a, hw_mech_result *out)
{
    for (int i = 0; i < HW_MECH_MEMBERS; i++) {
        const hw_mech_run *run = &a->run[i];
        if (run->iterations_worst > out->iterations_worst)
            out->iterations_worst = run->iterations_worst;
        out->residual_worst = fmax(out->residual_worst, run->residual_worst);
    }
}

// The settled set whose curve lies nearest to the median: what a picture is drawn from.
static int most_typical(const arm *a, const hw_band *points)
{
    int best = 0;
    double least = INFINITY;
    for (int m = 0; m < HW_MECH_MEMBERS; m++) {
        double squares = 0.0;
        for (int i = 0; i < HW_MECH_SOLVED; i++) {
            double off = a->run[m].tension_bw[i] - points[HW_MECH_FIRST + i].median;
            squares += off * off;
        }
        if (a->run[m].failed_instants > 0 || squares >= least) continue;
        least = squares;
        best = m;
    }
    return best;
}

static void put_walk(const arm *a, int member, hw_mech_walk *out)
{
    out->member = member;
    memcpy(out->pose, a->run[member].pose, sizeof out->pose);
}

static void put_picture(const hw_mech_subject *subject, const arm *today, hw_mech_result *out)
{
    int member = most_typical(today, out->tension_bw);
    hw_mech_change none = hw_mech_change_none("today");
    hw_mech_view view = hw_mech_view_of(subject, member);
    hw_mech_tissue tissue = tissue_of(subject, &none, member);
    hw_mech_model model = hw_mech_model_build(&view, &tissue);
    out->skeleton = hw_mech_skeleton_of(&model);
    put_walk(today, member, &out->walk);
}

static void put_today(const hw_mech_subject *subject, const arm *today, hw_mech_result *out)
{
    for (int p = 0; p < HW_MECH_POINTS; p++) {
        out->percent[p] = 2.5 * p;
        out->is_solved[p] = p >= HW_MECH_FIRST && p < HW_MECH_FIRST + HW_MECH_SOLVED;
    }
    curve_of(today, offsetof(hw_mech_run, tension_bw), out->tension_bw);
    curve_of(today, offsetof(hw_mech_run, flattening_rad), out->flattening_rad);
    curve_of(today, offsetof(hw_mech_run, heel_load_bw), out->heel_load_bw);
    out->peak_bw = band_at(today, offsetof(hw_mech_run, peak_bw));
    out->peak_percent = band_at(today, offsetof(hw_mech_run, peak_percent));
    out->midstance_bw = band_at(today, offsetof(hw_mech_run, midstance_bw));
    out->impulse = band_at(today, offsetof(hw_mech_run, impulse));
    out->calf_test = hw_mech_calf_choice(subject);
    out->member_count = HW_MECH_MEMBERS;
    out->failed_members = count_failed(today, today);
    hw_mech_say_assumptions(subject, out);
    note_numerics(today, out);
}

static hw_status check_all(hw_job *job, const hw_mech_subject *subject,
                           const hw_mech_change *changes, int change_count)
{
    HW_TRY(hw_mech_check(job, subject));
    if (change_count < 0 || change_count > HW_MECH_CHANGES)
        return hw_fail(job, HW_BAD_INPUT, "%d changes were asked for; the load model takes 0 to %d",
                       change_count, HW_MECH_CHANGES);
    for (int i = 0; i < change_count; i++) HW_TRY(hw_mech_check_change(job, &changes[i]));
    return HW_OK;
}

hw_status hw_mech_assess(hw_job *job, const hw_mech_subject *subject, const hw_mech_change *changes,
                         int change_count, hw_arena *into, hw_mech_result *out)
{
    HW_TRY(check_all(job, subject, changes, change_count));
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_mech_result result = {0};
    hw_mech_change none = hw_mech_change_none("today");
    arm *today = NULL, *changed = NULL;
    HW_ALLOC(job, tmp.arena, today, 1);
    HW_ALLOC(job, tmp.arena, changed, 1);
    run_arm(subject, &none, today);
    put_today(subject, today, &result);
    if (HW_MECH_MEMBERS - result.failed_members < FEWEST)
        return hw_fail(job, HW_NO_ANSWER,
                       "the load model settled for only %d of %d tissue sets; it needs %d",
                       HW_MECH_MEMBERS - result.failed_members, HW_MECH_MEMBERS, FEWEST);
    put_picture(subject, today, &result);
    if (change_count > 0) HW_ALLOC(job, into, result.effects, change_count);
    result.effect_count = change_count;
    for (int i = 0; i < change_count; i++) {
        HW_TRY(hw_job_ask(job));
        hw_mech_effect *effect = &result.effects[i];
        const char *name = changes[i].name ? changes[i].name : "";
        HW_TRY(hw_text_copy(job, into, name, &effect->name));
        effect->change = changes[i];
        effect->change.name = effect->name;
        run_arm(subject, &changes[i], changed);
        put_effect(subject, &changes[i], today, changed, effect);
        put_walk(changed, result.walk.member, &effect->walk);
        note_numerics(changed, &result);
    }
    hw_scratch_end(tmp);
    *out = result;
    return HW_OK;
}
