// SPDX-License-Identifier: GPL-3.0-or-later
// The few words every module shares: which foot, yes or no or not asked, and values that may be
// missing or uncertain.
#ifndef HW_BASE_WORDS_H
#define HW_BASE_WORDS_H

#include <stdbool.h>

typedef enum hw_side {
    HW_SIDE_UNKNOWN = 0,
    HW_SIDE_LEFT,
    HW_SIDE_RIGHT,
} hw_side;

/// "left", "right" or "unknown".
const char *hw_side_word(hw_side side);

/// Answer to a yes-or-no question. Zero is "unknown" so that nothing forgotten reads as "no".
typedef enum hw_answer {
    HW_ANSWER_UNKNOWN = 0, // nothing in the record
    HW_ANSWER_NOT_ASKED,
    HW_ANSWER_NO,
    HW_ANSWER_YES,
} hw_answer;

/// "unknown", "not asked", "no" or "yes".
const char *hw_answer_word(hw_answer answer);

/// A number that may be missing. `value` counts only where `known`.
typedef struct hw_maybe {
    double value;
    bool known;
} hw_maybe;

static inline hw_maybe hw_known(double value)
{
    return (hw_maybe){value, true};
}

/// A quantity over an uncertain model: median and the 5th and 95th percentile. Where it cannot be
/// said, `known` is false and `why` is the reason (static text).
typedef struct hw_band {
    double median;
    double p05;
    double p95;
    bool known;
    const char *why;
} hw_band;

#endif
