// SPDX-License-Identifier: GPL-3.0-or-later
// What is said beside the numbers: assumptions, cautions and grades, as rows.
#include "mech_internal.h"

static void say(const char **list, int *count, bool applies, const char *sentence)
{
    if (!applies) return;
    HW_ASSERT(*count < HW_MECH_SENTENCES);
    list[(*count)++] = sentence;
}

static const char *loading_sentence(hw_loading loading)
{
    switch (loading) {
    case HW_LOADING_HANGING:
        return NULL;
    case HW_LOADING_SITTING:
        return "The arch was measured sitting and is taken as that of the hanging foot.";
    case HW_LOADING_STANDING:
        return "The arch was measured standing; 10 mm, the mean drop from sitting to standing "
               "(McPoil 2008), are added to get the hanging foot.";
    case HW_LOADING_UNKNOWN:
        break;
    }
    return "How the foot was loaded when it was measured is not known; the band spans hanging to "
           "standing.";
}

void hw_mech_say_assumptions(const hw_mech_subject *subject, hw_mech_result *out)
{
    const hw_foot_measures *m = &subject->measures;
    const hw_maybe *range = subject->calf_range_rad;
    bool has_straight =
        range[HW_CALF_TEST_KNEE_STRAIGHT].known || range[HW_CALF_TEST_KNEE_STRAIGHT_LOADED].known;
    bool has_bent = range[HW_CALF_TEST_LUNGE].known || range[HW_CALF_TEST_KNEE_BENT].known;
    const char *loading = loading_sentence(subject->loading);
    const char **list = out->assumptions;
    int *count = &out->assumption_count;
    double hardest = 0.0;
    for (int i = 0; subject->own_walk && i < HW_MECH_SOLVED; i++)
        hardest = fmax(hardest, subject->own_walk->force_z_bw[i]);
    const bool is_timed = subject->speed_m_s.known;
    say(list, count, !subject->own_walk && !is_timed,
        "Ground forces, pressures and ankle motion are those of a normal, comfortable walk, not "
        "this person's; pain changes the walk.");
    say(list, count, !subject->own_walk && is_timed,
        "Ground forces, pressures and ankle motion are those of a normal walk at this person's "
        "speed, not this person's own; pain changes the walk.");
    say(list, count, subject->own_walk,
        "Ground forces and centre of pressure are this person's own; ankle, toes and heel move as "
        "in a normal walk.");
    say(list, count, hardest > 1.6,
        "Such a vertical force is that of running: outside what the model was held against.");
    say(list, count, !m->dorsum_height_m.known,
        "The dorsum height is not known: the arch's height is scaled from the foot's length, which "
        "is a poor guide to it (Hill 2017).");
    say(list, count, m->dorsum_height_m.known && loading, loading);
    hw_mech_view view = hw_mech_view_plain(subject);
    double rise =
        view.hinge_height.known ? hw_mech_rise(view.hinge_height.value, view.length) : 1.0;
    say(list, count, rise < HW_MECH_RISE_LOWEST || rise > HW_MECH_RISE_HIGHEST,
        "The instep is higher or lower for this length than the model was calibrated for; the "
        "arch's height is taken at that limit.");
    say(list, count, !m->truncated_length_m.known,
        "The length to the first metatarsal head is taken as 0.73 of the foot's length.");
    say(list, count, !m->ball_breadth_m.known,
        "The ball breadth is taken as 0.39 of the foot's length.");
    say(list, count, !has_straight && !has_bent,
        "The calf's range is not known and is taken at its norm.");
    say(list, count, has_straight && has_bent,
        "Of the calf tests the knee-straight one is used: late in mid-stance the knee is nearly "
        "straight and the gastrocnemius sets the limit, which a bent knee takes out.");
    say(list, count, !has_straight && has_bent,
        "The calf was tested with the knee bent, which leaves out the gastrocnemius; its limit in "
        "walking may be lower.");
    say(list, count, subject->shoe_pitch_m > 0.0,
        "The shoe's pitch is in all results; how a raised heel acts on the fascia is known "
        "poorly.");
}

static bool has_calf_part(const hw_mech_change *change)
{
    return change->calf_at_norm || fabs(change->calf_gain_rad) > 0.0;
}

static bool has_toe_part(const hw_mech_change *change)
{
    return change->toe_factor < 1.0;
}

static bool has_raise(const hw_mech_change *change)
{
    return change->heel_raise_m > 0.0 || change->heel_give_m > 0.0;
}

static bool has_pace(const hw_mech_change *change)
{
    return fabs(change->speed_factor - 1.0) > 0.0;
}

/// A: contact of the arch and wedges, held out against Kogler 1996 and 1999. B: one data set each.
/// C: fitted on the data it is shown for (raise), or contradicted (stiff forefoot, Greve 2019; pace,
/// Caravaggi 2010).
static hw_mech_grade grade_of(const hw_mech_change *change)
{
    if (has_toe_part(change) || has_raise(change) || has_pace(change)) return HW_MECH_GRADE_C;
    bool has_mass = fabs(change->mass_factor - 1.0) > 0.0;
    bool has_heel_wedge = fabs(change->heel_wedge_rad) > 0.0;
    if (has_calf_part(change) || change->is_taped || has_mass || has_heel_wedge)
        return HW_MECH_GRADE_B;
    return HW_MECH_GRADE_A;
}

void hw_mech_say_cautions(const hw_mech_change *change, hw_mech_effect *out)
{
    const char **list = out->cautions;
    int *count = &out->caution_count;
    out->grade = grade_of(change);
    say(list, count, true,
        "Load is not pain: less load does not promise less pain (Radford 2007, Irving 2007).");
    say(list, count, change->has_orthosis,
        "A shell is seen in mid-stance only; what it does once the heel has risen is not known.");
    say(list, count, change->has_idle_post,
        "The forefoot post ends behind the metatarsal heads and lifts nothing there: it is left "
        "out of this.");
    say(list, count, has_raise(change),
        "Low confidence: the effect of heel height rests on one fitted factor and one cadaver "
        "study, and may change its sign.");
    say(list, count, change->is_taped && change->tape_hold >= 0.5,
        "Fresh tape: its hold fades, in some trials within ten minutes of walking.");
    say(list, count, change->is_taped && change->tape_hold < 0.5,
        "How much of a tape's hold is left after a day is a guess; trials found from none to "
        "some.");
    say(list, count, has_pace(change),
        "Low confidence: a study found the late tension unchanged by walking speed (Caravaggi "
        "2010), "
        "the model finds it higher when walking faster.");
    say(list, count, has_calf_part(change),
        "The model lets the calf shed active force first, so the cost of a mildly tight calf is a "
        "lower bound; stretching gains about 2 to 3 degrees (from memory: Radford 2006).");
    say(list, count, has_toe_part(change),
        "Low confidence: a study of stiff rocker soles found no change in fascia strain "
        "(Greve 2019).");
    say(list, count, change->mass_factor < 1.0 || change->mass_factor > 1.0,
        "Whether the fascia stiffens with body mass is not known; the model leaves it as it is.");
}

const char *hw_mech_unknown_peak(const hw_mech_change *change)
{
    if (!change->has_orthosis) return NULL;
    if (change->orthosis_reaches_heads)
        return "the model's device stays on the floor when the heel rises, so it cannot say what "
               "a full-length one does to the peak";
    return "the device ends behind the metatarsal heads; what it does at push-off, where the peak "
           "is, is not known";
}

const char *hw_mech_unknown_calf(const hw_mech_subject *subject, const hw_mech_change *change)
{
    if (!has_calf_part(change) || hw_mech_calf_choice(subject) != HW_CALF_TEST_NONE) return NULL;
    return "the calf's range was not measured, and what more of it would do depends on it";
}
