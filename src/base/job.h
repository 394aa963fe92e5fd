// SPDX-License-Identifier: GPL-3.0-or-later
// The job: what a computation borrows from its caller. And faults: all that is wrong with a form.
#ifndef HW_BASE_JOB_H
#define HW_BASE_JOB_H

#include "arena.h"
#include "status.h"
#include <stdbool.h>
#include <stddef.h>

typedef struct hw_job {
    hw_arena *scratch[2];
    bool (*cancelled)(void *user); // may be NULL; asked in every long loop
    void (*told)(void *user, double share, const char *what); // may be NULL; hears how far it is
    void *user;
    char why[240]; // one sentence for a person, set by hw_fail; never a name or a birth date
} hw_job;

/// A job with two scratch arenas of at most `scratch_bytes` each.
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_job_open(hw_job *job, size_t scratch_bytes);

/// Gives its memory back; may be called twice.
void hw_job_close(hw_job *job);

/// Sets `why` (cut at its length) and returns `status`, so that `return hw_fail(...)` reads well.
hw_status hw_fail(hw_job *job, hw_status status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/// Tells the caller how far a long computation is, 0..1, and at what: static text without a name.
void hw_job_tell(hw_job *job, double share, const char *what);

/// HW_CANCELLED when the caller has asked to stop, else HW_OK.
HW_MUST_USE hw_status hw_job_ask(hw_job *job);

typedef struct hw_scratch {
    hw_arena *arena;
    hw_arena_mark mark;
} hw_scratch;

/// Scratch memory that is never `into`. On failure the job's owner rewinds; on success call _end.
hw_scratch hw_scratch_begin(hw_job *job, const hw_arena *into);
/// Gives back what was taken since the beginning.
void hw_scratch_end(hw_scratch scratch);

/// Points `pointer` at `n` zeroed elements in `into`, or returns HW_NO_MEMORY from the caller.
#define HW_ALLOC(job, into, pointer, n)                                                            \
    do {                                                                                           \
        (pointer) = hw_arena_take((into), (size_t)(n), sizeof *(pointer));                         \
        if (!(pointer))                                                                            \
            return hw_fail((job), HW_NO_MEMORY, "the job needs more memory than its limit (%s)",   \
                           #pointer);                                                              \
    } while (0)

/// One thing wrong with a form: where, what stood there, what is allowed, in one sentence.
typedef struct hw_fault {
    const char *key;      // path in the form: feet.left.lunge_deg
    const char *sentence; // for a clinician
} hw_fault;

/// All faults of one form. Grows in `into`.
typedef struct hw_faults {
    hw_arena *into;
    hw_fault *rows;
    int count;
    int capacity;
} hw_faults;

/// Adds one fault; key and sentence are copied.
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_faults_add(hw_job *job, hw_faults *faults, const char *key,
                                    const char *format, ...) __attribute__((format(printf, 4, 5)));

/// HW_OK without faults; else HW_BAD_INPUT with `why` = "key: sentence" of the first and the count.
HW_MUST_USE hw_status hw_faults_status(hw_job *job, const hw_faults *faults);

#endif
