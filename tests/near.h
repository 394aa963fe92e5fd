// SPDX-License-Identifier: GPL-3.0-or-later
// What every test uses over cmocka: doubles with tolerance and unit, a job, a skip by name.
#ifndef HW_TESTS_NEAR_H
#define HW_TESTS_NEAR_H

// cmocka wants these four first, in this order.
// clang-format off
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>
// clang-format on

#include "base/base.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/// NaN fails; a failure prints all four.
#define CHECK_NEAR(got, want, tolerance, unit)                                                     \
    do {                                                                                           \
        double got_ = (got), want_ = (want), tolerance_ = (tolerance);                             \
        if (!(fabs(got_ - want_) <= tolerance_)) {                                                 \
            print_error("%s = %.9g %s, want %.9g +- %.3g %s\n", #got, got_, unit, want_,           \
                        tolerance_, unit);                                                         \
            fail();                                                                                \
        }                                                                                          \
    } while (0)

/// A call that must succeed; a failure prints the job's sentence.
#define CHECK_OK(job, call)                                                                        \
    do {                                                                                           \
        hw_status status_ = (call);                                                                \
        if (status_ != HW_OK) {                                                                    \
            print_error("%s: status %d, %s\n", #call, (int)status_, (job)->why);                   \
            fail();                                                                                \
        }                                                                                          \
    } while (0)

/// A call that must fail so, with `part` somewhere in its sentence.
#define CHECK_FAILS(job, call, status, part)                                                       \
    do {                                                                                           \
        hw_status status_ = (call);                                                                \
        if (status_ != (status) || !strstr((job)->why, (part))) {                                  \
            print_error("%s: status %d, '%s'; want %s and '%s'\n", #call, (int)status_,            \
                        (job)->why, #status, (part));                                              \
            fail();                                                                                \
        }                                                                                          \
    } while (0)

typedef struct hw_test_room {
    hw_job job;
    hw_arena *into;
} hw_test_room;

static inline hw_test_room hw_test_open(void)
{
    hw_test_room room;
    if (hw_job_open(&room.job, (size_t)1 << 30) != HW_OK) abort();
    room.into = hw_arena_new((size_t)1 << 30);
    if (!room.into) abort();
    return room;
}

static inline void hw_test_close(hw_test_room *room)
{
    hw_arena_free(room->into);
    hw_job_close(&room->job);
}

/// How many rounds a large seeded suite runs: all of them under `./check all`, else a tenth.
static inline int hw_test_rounds(int whole)
{
    const char *suite = getenv("HEELWRIGHT_SUITE");
    return suite && strcmp(suite, "whole") == 0 ? whole : (whole + 9) / 10;
}

/// The folder of shared open data, or NULL: then the test calls skip() and is counted as skipped.
/// HEELWRIGHT_DATA names it; without it the tests look beside the project.
static inline const char *hw_test_data(void)
{
    const char *folder = getenv("HEELWRIGHT_DATA");
    return folder && folder[0] ? folder : NULL;
}

#endif
