// SPDX-License-Identifier: GPL-3.0-or-later
// Why this foot carries more than a reference foot, what would bring it down, and what a day adds up
// to. All of it is the walk of assess.c under changed subjects.
#include "mech_internal.h"

enum { EVERY = 4, USED = HW_MECH_MEMBERS / EVERY, FEWEST = 9 * USED / 10 };
enum { SUBSETS = 1 << HW_MECH_CAUSE_COUNT };

static const double stance_time = 0.7; // s at comfortable speed; common practice 0.6-0.8

const char *hw_mech_cause_word(hw_mech_cause cause)
{
    static const char *const words[HW_MECH_CAUSE_COUNT] = {
        "body mass",    "calf range", "arch height",   "length to the ball",
        "ball breadth", "shoe pitch", "walking speed", "recorded walk"};
    HW_ASSERT(cause >= 0 && cause < HW_MECH_CAUSE_COUNT);
    return words[cause];
}

// The three numbers of a walk in newtons (the impulse: newtons times fraction of stance).
typedef struct walk_sums {
    double number[HW_MECH_NUMBERS];
    bool settled;
} walk_sums;

typedef struct walk_work {
    const hw_mech_subject *subject;
    const hw_mech_change *change;
    walk_sums *out; // USED of them
} walk_work;

static void walk_one(void *with, int i)
{
    const walk_work *work = with;
    int member = i * EVERY;
    hw_mech_view view = hw_mech_view_of(work->subject, member);
    hw_mech_tissue tissue = hw_mech_tissue_member(member);
    hw_mech_run run;
    if (!work->change->calf_at_norm)
        tissue.calf_limit_rad = hw_mech_calf_limit(work->subject, member);
    hw_mech_march(&view, &tissue, work->change, &run);
    double weight = view.mass * HW_STANDARD_GRAVITY;
    work->out[i] = (walk_sums){
        .number = {run.midstance_bw * weight, run.peak_bw * weight, run.impulse * weight},
        .settled = run.failed_instants == 0};
}

static void walk_all(const hw_mech_subject *subject, const hw_mech_change *change, walk_sums *out)
{
    walk_work work = {subject, change, out};
    hw_parallel(USED, walk_one, &work);
}

// What is known of the subject beyond the reference, as bits.
static int known_causes(const hw_mech_subject *subject, hw_maybe reference_mass)
{
    const hw_foot_measures *m = &subject->measures;
    int bits = 0;
    if (reference_mass.known) bits |= 1 << HW_MECH_CAUSE_MASS;
    if (hw_mech_calf_choice(subject) != HW_CALF_TEST_NONE) bits |= 1 << HW_MECH_CAUSE_CALF;
    if (m->dorsum_height_m.known) bits |= 1 << HW_MECH_CAUSE_ARCH;
    if (m->truncated_length_m.known) bits |= 1 << HW_MECH_CAUSE_BALL_LENGTH;
    if (m->ball_breadth_m.known) bits |= 1 << HW_MECH_CAUSE_BALL_BREADTH;
    if (subject->shoe_pitch_m > 0.0) bits |= 1 << HW_MECH_CAUSE_SHOE;
    if (subject->speed_m_s.known) bits |= 1 << HW_MECH_CAUSE_SPEED;
    if (subject->own_walk) bits |= 1 << HW_MECH_CAUSE_WALK;
    return bits;
}

// The subject with only the causes of `bits` its own, the rest as in the reference foot.
static hw_mech_subject subject_of(const hw_mech_subject *own, hw_maybe reference_mass, int bits,
                                  hw_mech_change *change)
{
    hw_mech_subject subject = *own;
    *change = hw_mech_change_none("");
    if (!(bits & 1 << HW_MECH_CAUSE_MASS) && reference_mass.known)
        subject.mass_kg = reference_mass.value;
    change->calf_at_norm = !(bits & 1 << HW_MECH_CAUSE_CALF);
    hw_foot_measures *measures = &subject.measures;
    if (!(bits & 1 << HW_MECH_CAUSE_ARCH)) measures->dorsum_height_m = (hw_maybe){0};
    if (!(bits & 1 << HW_MECH_CAUSE_BALL_LENGTH)) measures->truncated_length_m = (hw_maybe){0};
    if (!(bits & 1 << HW_MECH_CAUSE_BALL_BREADTH)) measures->ball_breadth_m = (hw_maybe){0};
    if (!(bits & 1 << HW_MECH_CAUSE_SHOE)) subject.shoe_pitch_m = 0.0;
    if (!(bits & 1 << HW_MECH_CAUSE_SPEED)) subject.speed_m_s = (hw_maybe){0};
    if (!(bits & 1 << HW_MECH_CAUSE_WALK)) subject.own_walk = NULL;
    return subject;
}

// Weight of a subset of `size` in the Shapley value of one more among `players`.
static double shapley_weight(int size, int players)
{
    double weight = 1.0 / players;
    for (int i = 1; i <= size; i++) weight *= (double)i / (players - i);
    return weight;
}

static int count_bits(int bits)
{
    int count = 0;
    for (; bits; bits &= bits - 1) count++;
    return count;
}

// The Shapley value of one cause for one tissue set, as a fraction of its reference load.
static double shapley(walk_sums *const *walks, int known, int cause, int member, int number)
{
    double value = 0.0, reference = walks[0][member].number[number];
    int players = count_bits(known);
    for (int bits = 0; bits <= known; bits++) {
        if ((bits & ~known) || (bits & 1 << cause)) continue;
        double gain =
            walks[bits | 1 << cause][member].number[number] - walks[bits][member].number[number];
        value += shapley_weight(count_bits(bits), players) * gain;
    }
    return value / reference;
}

static hw_mech_part part_of(double *values, int count)
{
    hw_mech_part part = {0};
    for (int i = 0; i < count; i++) part.mean += values[i] / count;
    part.band = hw_band_of(values, count);
    return part;
}

// Tissue sets that settled in every subset.
static int settled_members(walk_sums *const *walks, int known, int *members)
{
    int count = 0;
    for (int i = 0; i < USED; i++) {
        bool settled = true;
        for (int bits = 0; bits <= known; bits++)
            if (!(bits & ~known)) settled = settled && walks[bits][i].settled;
        if (settled) members[count++] = i;
    }
    return count;
}

static void put_causes(walk_sums *const *walks, int known, const int *members, int count,
                       hw_mech_causes *out)
{
    double values[USED];
    for (int number = 0; number < HW_MECH_NUMBERS; number++) {
        for (int cause = 0; cause < HW_MECH_CAUSE_COUNT; cause++) {
            if (!(known & 1 << cause)) continue;
            for (int i = 0; i < count; i++)
                values[i] = shapley(walks, known, cause, members[i], number);
            out->part[cause][number] = part_of(values, count);
        }
        for (int i = 0; i < count; i++)
            values[i] =
                walks[known][members[i]].number[number] / walks[0][members[i]].number[number] - 1.0;
        out->total[number] = part_of(values, count);
    }
}

static hw_status too_few(hw_job *job, int settled)
{
    return hw_fail(job, HW_NO_ANSWER,
                   "the load model settled for only %d of %d tissue sets; it needs %d", settled,
                   (int)USED, (int)FEWEST);
}

static hw_status check(hw_job *job, const hw_mech_subject *subject, hw_maybe reference_mass)
{
    HW_TRY(hw_mech_check(job, subject));
    if (reference_mass.known && !(reference_mass.value >= 20.0 && reference_mass.value <= 250.0))
        return hw_fail(job, HW_BAD_INPUT,
                       "the reference mass is %.4g kg; the load model takes 20 to 250 kg",
                       reference_mass.value);
    return HW_OK;
}

hw_status hw_mech_find_causes(hw_job *job, const hw_mech_subject *subject, hw_maybe reference_mass,
                              hw_arena *into, hw_mech_causes *out)
{
    HW_TRY(check(job, subject, reference_mass));
    hw_scratch tmp = hw_scratch_begin(job, into);
    walk_sums *walks[SUBSETS] = {0};
    int members[USED], known = known_causes(subject, reference_mass);
    for (int bits = 0; bits <= known; bits++) {
        if (bits & ~known) continue;
        hw_mech_change change;
        hw_mech_subject mixed = subject_of(subject, reference_mass, bits, &change);
        HW_TRY(hw_job_ask(job));
        HW_ALLOC(job, tmp.arena, walks[bits], USED);
        walk_all(&mixed, &change, walks[bits]);
    }
    hw_mech_causes causes = {.member_count = USED};
    int settled = settled_members(walks, known, members);
    causes.failed_members = USED - settled;
    if (settled < FEWEST) return too_few(job, settled);
    for (int cause = 0; cause < HW_MECH_CAUSE_COUNT; cause++)
        causes.is_known[cause] = known & 1 << cause;
    put_causes(walks, known, members, settled, &causes);
    hw_scratch_end(tmp);
    *out = causes;
    return HW_OK;
}

// From no help to all that is sensible: 15 degrees of calf, 3 tenths of the mass, an arch from 6 mm
// below to 3 mm above the unloaded one (the range an orthosis is searched in).
static hw_mech_change lever_change(hw_mech_lever lever, int step, double *setting)
{
    hw_mech_change change = hw_mech_change_none("");
    double part = (double)step / (HW_MECH_LEVER_STEPS - 1);
    if (lever == HW_MECH_LEVER_CALF) *setting = change.calf_gain_rad = hw_rad_from_deg(15.0 * part);
    if (lever == HW_MECH_LEVER_MASS) {
        *setting = 0.3 * part;
        change.mass_factor = 1.0 - *setting;
    }
    if (lever == HW_MECH_LEVER_ARCH) {
        *setting = change.arch_fill_m = -0.006 + 0.009 * part;
        change.has_orthosis = true;
    }
    return change;
}

static hw_band ratios(const walk_sums *with, const walk_sums *reference)
{
    double values[USED];
    int count = 0;
    for (int i = 0; i < USED; i++)
        if (with[i].settled && reference[i].settled)
            values[count++] =
                with[i].number[HW_MECH_MIDSTANCE] / reference[i].number[HW_MECH_MIDSTANCE];
    return count < FEWEST ? hw_band_unknown("too many of the tissue sets did not settle")
                          : hw_band_of(values, count);
}

// Where the medians first come down to `level`, between two steps linearly.
static hw_maybe crossing(const hw_mech_lever_curve *curve, double level)
{
    if (!curve->midstance[0].known) return (hw_maybe){0};
    double before = curve->midstance[0].median;
    if (before <= level) return hw_known(curve->setting[0]);
    for (int i = 1; i < HW_MECH_LEVER_STEPS; i++) {
        if (!curve->midstance[i].known) return (hw_maybe){0};
        double after = curve->midstance[i].median;
        if (after <= level)
            return hw_known(curve->setting[i - 1] + (curve->setting[i] - curve->setting[i - 1]) *
                                                        (before - level) / (before - after));
        before = after;
    }
    return (hw_maybe){0};
}

static void find_settings(hw_mech_lever_curve *curve)
{
    const hw_band *last = &curve->midstance[HW_MECH_LEVER_STEPS - 1];
    double first = curve->midstance[0].median;
    curve->reaches_reference = crossing(curve, 1.0);
    // Less than a hundredth over the whole range is nothing to flatten.
    if (last->known && curve->midstance[0].known && first - last->median > 0.01)
        curve->flattens_at = crossing(curve, first - 0.9 * (first - last->median));
}

hw_status hw_mech_try_levers(hw_job *job, const hw_mech_subject *subject, hw_maybe reference_mass,
                             hw_arena *into, hw_mech_lever_curve out[HW_MECH_LEVER_COUNT])
{
    HW_TRY(check(job, subject, reference_mass));
    hw_scratch tmp = hw_scratch_begin(job, into);
    walk_sums *reference = NULL, *with = NULL;
    hw_mech_change change;
    hw_mech_subject ideal = subject_of(subject, reference_mass, 0, &change);
    HW_ALLOC(job, tmp.arena, reference, USED);
    HW_ALLOC(job, tmp.arena, with, USED);
    walk_all(&ideal, &change, reference);
    for (int lever = 0; lever < HW_MECH_LEVER_COUNT; lever++) {
        hw_mech_lever_curve curve = {0};
        for (int step = 0; step < HW_MECH_LEVER_STEPS; step++) {
            HW_TRY(hw_job_ask(job));
            change = lever_change((hw_mech_lever)lever, step, &curve.setting[step]);
            walk_all(subject, &change, with);
            curve.midstance[step] = ratios(with, reference);
        }
        // Without a calf test nobody knows what a gain would do.
        if (lever == HW_MECH_LEVER_CALF && hw_mech_calf_choice(subject) == HW_CALF_TEST_NONE)
            for (int step = 0; step < HW_MECH_LEVER_STEPS; step++)
                curve.midstance[step] = hw_band_unknown("no calf test was made");
        find_settings(&curve);
        out[lever] = curve;
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_mech_sum_day(hw_job *job, const hw_mech_subject *subject, double steps,
                          double standing_hours, hw_arena *into, hw_mech_day *out)
{
    HW_TRY(hw_mech_check(job, subject));
    if (!(steps >= 0.0 && steps <= 1e5 && standing_hours >= 0.0 && standing_hours <= 24.0))
        return hw_fail(job, HW_BAD_INPUT,
                       "a day of %.4g steps and %.4g h on the feet; the load model takes 0 to "
                       "100000 steps and 0 to 24 h",
                       steps, standing_hours);
    hw_scratch tmp = hw_scratch_begin(job, into);
    walk_sums *walks = NULL;
    double walking[USED], standing[USED], weight = subject->mass_kg * HW_STANDARD_GRAVITY;
    int count = 0;
    hw_mech_change none = hw_mech_change_none("");
    HW_ALLOC(job, tmp.arena, walks, USED);
    walk_all(subject, &none, walks);
    for (int i = 0; i < USED; i++) {
        hw_mech_tissue tissue = hw_mech_tissue_member(i * EVERY);
        hw_mech_still still = hw_mech_standing(0.5 * weight);
        hw_mech_still_result at;
        if (!walks[i].settled || hw_mech_stand(job, subject, &tissue, &still, NULL, &at) != HW_OK)
            continue;
        double impulse = walks[i].number[HW_MECH_IMPULSE] / weight;
        walking[count] = 0.5 * steps * stance_time / 3600.0 * impulse;
        standing[count++] = standing_hours * at.tension_N / weight;
    }
    if (count < FEWEST) return too_few(job, count);
    *out = (hw_mech_day){.walking = hw_band_of(walking, count),
                         .standing = hw_band_of(standing, count)};
    double sum = out->walking.median + out->standing.median;
    out->share_of_walking = sum > 0.0 ? out->walking.median / sum : 0.0;
    hw_scratch_end(tmp);
    return HW_OK;
}
