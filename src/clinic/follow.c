// SPDX-License-Identifier: GPL-3.0-or-later
#include "follow.h"

#include <math.h>

static const double gone_at = 2.0; // points: the discharge target of the trade, common practice
static const double surprise_limit = 1.645; // standard deviations: one score in twenty by chance

// Prior: average pain fell from 6.8 and 7.1 by 1.2 and 0.9 in six weeks and by 1.5 in three months
// under exercise (Wheeler 2017, 40 people), so by about 2.5 in the end over 12 weeks; spreads
// between people and of one rating are our choice. Wide on purpose: three scores outweigh it.
static const hw_growth_prior usual = {.level_mean = 7.0,
                                      .level_sd = 1.8,
                                      .fall_mean = 2.5,
                                      .fall_sd = 2.4,
                                      .correlation = 0.3,
                                      .weeks = 12.0,
                                      .noise_sd = 1.0};
static const char usual_source[] =
    "level and fall: Wheeler 2017 BMJ Open SEM 3:e000234; spreads: choice of this program";

const char *hw_pain_word(hw_pain_kind kind)
{
    static const char *const words[HW_PAIN_KINDS] = {"first step", "average", "activity"};
    HW_ASSERT(kind >= 0 && kind < HW_PAIN_KINDS);
    return words[kind];
}

hw_pain_kind hw_pain_from_word(const char *word)
{
    for (int i = 0; i < HW_PAIN_KINDS; i++)
        if (hw_text_same(word, hw_pain_word((hw_pain_kind)i))) return (hw_pain_kind)i;
    return HW_PAIN_KINDS;
}

// 19 and 8 mm of a 100 mm line; a 0-10 rating is read on the same scale.
hw_pain_scale hw_pain_scale_of(hw_pain_kind kind)
{
    static const char landorf[] = "Landorf 2010 J Foot Ankle Res 3:7";
    hw_pain_scale scale = {.prior = usual, .prior_source = usual_source};
    if (kind == HW_PAIN_FIRST_STEP)
        scale.matters = hw_known(1.9), scale.source = landorf;
    else if (kind == HW_PAIN_AVERAGE)
        scale.matters = hw_known(0.8), scale.source = landorf;
    else
        scale.source = "no published value was found";
    return scale;
}

static hw_status check_scores(hw_job *job, const hw_pain_score *scores, int count)
{
    if (count < 1) return hw_fail(job, HW_BAD_INPUT, "no score to follow");
    for (int i = 0; i < count; i++) {
        if (!(scores[i].score >= 0.0 && scores[i].score <= 10.0))
            return hw_fail(job, HW_BAD_INPUT, "score %d is %g; ratings go from 0 to 10", i + 1,
                           scores[i].score);
        if (!(scores[i].week >= (i ? scores[i - 1].week : 0.0)) || scores[i].week > 3000.0)
            return hw_fail(job, HW_BAD_INPUT, "score %d is of week %g; weeks do not go back", i + 1,
                           scores[i].week);
    }
    return HW_OK;
}

static void signal(hw_follow_up *out, const char *sentence)
{
    if (out->signal_count < HW_FOLLOW_SIGNALS) out->signals[out->signal_count++] = sentence;
}

static void find_signals(const hw_growth *growth, const hw_pain_score *scores, int count,
                         hw_follow_up *out)
{
    double lowest = 10.0, step = out->scale.matters.known ? out->scale.matters.value : 2.0;
    for (int i = 0; i + 1 < count; i++) lowest = fmin(lowest, scores[i].score);
    bool is_worse = count > 1 && growth->surprise > surprise_limit;
    if (is_worse)
        signal(out, "off course: the last score is worse than 19 of 20 forecasts made before it");
    if (count > 1 && growth->surprise < -surprise_limit)
        signal(out, "better than forecast: the last score is lower than 19 of 20 forecasts");
    if (count > 2 && lowest <= gone_at && out->last_score >= lowest + fmax(step, 1.0))
        signal(out, "it has come back: the pain was as good as gone and has risen again");
    if (out->last_week >= 12.0 && out->chance_gone_26 < 0.1 && !is_worse)
        signal(out,
               "slow: after 12 weeks a heel free of pain by week 26 is unlikely; look again at "
               "diagnosis and load");
}

static void forecast(const hw_growth *growth, hw_follow_up *out)
{
    double end = fmax(26.0, out->last_week + 12.0);
    for (int i = 0; i < HW_FOLLOW_POINTS; i++) {
        out->week[i] = end * i / (HW_FOLLOW_POINTS - 1);
        out->view[i] = hw_growth_at(growth, out->week[i], gone_at);
    }
    out->chance_gone_12 = hw_growth_at(growth, out->last_week + 12.0, gone_at).chance_below;
    out->chance_gone_26 = hw_growth_at(growth, out->last_week + 26.0, gone_at).chance_below;
    if (out->scale.matters.known)
        out->chance_matters_12 = hw_known(
            hw_growth_chance_of_fall(growth, out->last_week + 12.0, out->scale.matters.value));
}

hw_status hw_follow_pain(hw_job *job, hw_pain_kind kind, const hw_pain_score *scores, int count,
                         hw_follow_up *out)
{
    HW_TRY(check_scores(job, scores, count));
    hw_follow_up found = {.scale = hw_pain_scale_of(kind),
                          .scores = count,
                          .gone = gone_at,
                          .last_week = scores[count - 1].week,
                          .last_score = scores[count - 1].score};
    hw_growth growth = hw_growth_begin(&found.scale.prior);
    for (int i = 0; i < count; i++) hw_growth_add(&growth, scores[i].week, scores[i].score);
    forecast(&growth, &found);
    find_signals(&growth, scores, count, &found);
    *out = found;
    return HW_OK;
}
