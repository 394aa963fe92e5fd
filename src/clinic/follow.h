// SPDX-License-Identifier: GPL-3.0-or-later
// Where one heel's pain is going: forecast with band, whether the change matters, when to look
// again.
#ifndef HW_CLINIC_FOLLOW_H
#define HW_CLINIC_FOLLOW_H

#include "stats/stats.h"

/// Which pain is rated, 0 to 10.
typedef enum hw_pain_kind {
    HW_PAIN_FIRST_STEP,
    HW_PAIN_AVERAGE,
    HW_PAIN_ACTIVITY,
    HW_PAIN_KINDS,
} hw_pain_kind;

/// "first step", "average", "activity"; HW_PAIN_KINDS for any other word.
const char *hw_pain_word(hw_pain_kind kind);
/// Back from the word; HW_PAIN_KINDS for any other.
hw_pain_kind hw_pain_from_word(const char *word);

/// Smallest change that matters to people, points of 10, and where it is from. Not known for
/// activity.
typedef struct hw_pain_scale {
    hw_maybe matters;
    const char *source;
    hw_growth_prior prior; // before any score of this person
    const char *prior_source;
} hw_pain_scale;

/// What matters on it, and the course that is expected before any score.
hw_pain_scale hw_pain_scale_of(hw_pain_kind kind);

typedef struct hw_pain_score {
    double week;  // since the first score; negative is refused
    double score; // 0..10
} hw_pain_score;

enum { HW_FOLLOW_POINTS = 28, HW_FOLLOW_SIGNALS = 4 };

/// How a heel goes on. Several treatments at once: nothing here says which of them did it.
typedef struct hw_follow_up {
    hw_pain_scale scale;
    int scores;
    double last_week, last_score;
    double week[HW_FOLLOW_POINTS]; // from 0 to at least 12 weeks beyond the last score
    hw_growth_view view[HW_FOLLOW_POINTS];
    double gone;                           // at or below this the pain counts as gone, points
    double chance_gone_12, chance_gone_26; // that the level is there so many weeks from now
    hw_maybe chance_matters_12; // that by then it has fallen since week 0 by what matters
    const char *signals[HW_FOLLOW_SIGNALS]; // static sentences: off course, come back
    int signal_count;
} hw_follow_up;

/// Follows one heel. Scores in the order of their weeks.
///
///   fails   HW_BAD_INPUT no score, one outside 0..10, weeks that go back
HW_MUST_USE hw_status hw_follow_pain(hw_job *job, hw_pain_kind kind, const hw_pain_score *scores,
                                     int count, hw_follow_up *out);

#endif
