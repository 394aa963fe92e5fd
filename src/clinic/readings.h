// SPDX-License-Identifier: GPL-3.0-or-later
// What a test of a rule row finds in a case.
#ifndef HW_CLINIC_READINGS_H
#define HW_CLINIC_READINGS_H

#include "rules.h"

typedef struct hw_reading {
    hw_given given;
    double number;
    bool may_be_graver; // a part is not known: what stands here is the mildest it can be
} hw_reading;

/// Foot findings need a side of left or right; the other subjects ignore or respect it as they say.
hw_reading hw_read(const hw_test *test, const hw_situation *one);

/// Whether the subject belongs to one foot: its finding is in a foot's scope.
bool hw_test_is_of_foot(const hw_test *test);

/// Whether only the calendar and the acts done decide it.
bool hw_test_is_of_time(const hw_test *test);

/// The reading in words ("apixaban", "51 days", "not felt"), in `into`.
HW_MUST_USE hw_status hw_reading_text(hw_job *job, const hw_test *test, const hw_situation *one,
                                      hw_arena *into, const char **out);

/// The key of the question an unknown reading raises, and its text.
HW_MUST_USE hw_status hw_reading_question(hw_job *job, const hw_test *test, const hw_situation *one,
                                          hw_arena *into, hw_question *out);

#endif
