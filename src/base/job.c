// SPDX-License-Identifier: GPL-3.0-or-later
#include "job.h"
#include "text.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

_Noreturn void hw_assert_failed(const char *text, const char *file, int line)
{
    fprintf(stderr, "heelwright: broken assumption at %s:%d: %s\n", file, line, text);
    abort();
}

hw_status hw_job_open(hw_job *job, size_t scratch_bytes)
{
    *job = (hw_job){0};
    for (int i = 0; i < 2; i++) {
        job->scratch[i] = hw_arena_new(scratch_bytes);
        if (!job->scratch[i]) {
            hw_job_close(job);
            return hw_fail(job, HW_NO_MEMORY, "no memory for a new job");
        }
    }
    return HW_OK;
}

void hw_job_close(hw_job *job)
{
    for (int i = 0; i < 2; i++) {
        hw_arena_free(job->scratch[i]);
        job->scratch[i] = NULL;
    }
}

hw_status hw_fail(hw_job *job, hw_status status, const char *format, ...)
{
    HW_ASSERT(status != HW_OK);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(job->why, sizeof job->why, format, arguments);
    va_end(arguments);
    return status;
}

void hw_job_tell(hw_job *job, double share, const char *what)
{
    if (job->told) job->told(job->user, share, what);
}

hw_status hw_job_ask(hw_job *job)
{
    if (job->cancelled && job->cancelled(job->user))
        return hw_fail(job, HW_CANCELLED, "stopped as asked");
    return HW_OK;
}

hw_scratch hw_scratch_begin(hw_job *job, const hw_arena *into)
{
    hw_arena *arena = job->scratch[job->scratch[0] == into]; // the one that is not `into`
    return (hw_scratch){arena, hw_arena_here(arena)};
}

void hw_scratch_end(hw_scratch scratch)
{
    hw_arena_rewind(scratch.arena, scratch.mark);
}

static hw_status make_room(hw_job *job, hw_faults *faults)
{
    if (faults->count < faults->capacity) return HW_OK;
    hw_fault *wider = NULL;
    int capacity = faults->capacity ? 2 * faults->capacity : 16;
    HW_ALLOC(job, faults->into, wider, capacity);
    if (faults->count) memcpy(wider, faults->rows, (size_t)faults->count * sizeof *wider);
    faults->rows = wider;
    faults->capacity = capacity;
    return HW_OK;
}

hw_status hw_faults_add(hw_job *job, hw_faults *faults, const char *key, const char *format, ...)
{
    char sentence[400];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    HW_TRY(make_room(job, faults));
    hw_fault row = {0};
    HW_TRY(hw_text_copy(job, faults->into, key, &row.key));
    HW_TRY(hw_text_copy(job, faults->into, sentence, &row.sentence));
    faults->rows[faults->count++] = row;
    return HW_OK;
}

hw_status hw_faults_status(hw_job *job, const hw_faults *faults)
{
    if (faults->count == 0) return HW_OK;
    const hw_fault *first = &faults->rows[0];
    if (faults->count == 1)
        return hw_fail(job, HW_BAD_INPUT, "%s: %s", first->key, first->sentence);
    return hw_fail(job, HW_BAD_INPUT, "%s: %s (and %d more)", first->key, first->sentence,
                   faults->count - 1);
}
