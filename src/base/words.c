// SPDX-License-Identifier: GPL-3.0-or-later
#include "words.h"

const char *hw_side_word(hw_side side)
{
    switch (side) {
    case HW_SIDE_LEFT:
        return "left";
    case HW_SIDE_RIGHT:
        return "right";
    case HW_SIDE_UNKNOWN:
        break;
    }
    return "unknown";
}

const char *hw_answer_word(hw_answer answer)
{
    switch (answer) {
    case HW_ANSWER_NOT_ASKED:
        return "not asked";
    case HW_ANSWER_NO:
        return "no";
    case HW_ANSWER_YES:
        return "yes";
    case HW_ANSWER_UNKNOWN:
        break;
    }
    return "unknown";
}
