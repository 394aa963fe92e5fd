// SPDX-License-Identifier: GPL-3.0-or-later
//
// base: what every other module stands on. Status and its sentence, the job a computation borrows
// from its caller, arenas, bytes, short texts, days, sides and answers, units.
//
//     hw_job job;
//     HW_TRY(hw_job_open(&job, HW_JOB_BYTES));
//     hw_arena *into = hw_arena_new(HW_ARENA_BYTES);
//     double *heights = NULL;
//     HW_ALLOC(&job, into, heights, count);
//     ...
//     hw_arena_free(into), hw_job_close(&job);
//
// It knows nothing of feet, files, clocks or databases.
#ifndef HW_BASE_H
#define HW_BASE_H

#include "arena.h"    // IWYU pragma: export
#include "date.h"     // IWYU pragma: export
#include "job.h"      // IWYU pragma: export
#include "parallel.h" // IWYU pragma: export
#include "status.h"   // IWYU pragma: export
#include "text.h"     // IWYU pragma: export
#include "units.h"    // IWYU pragma: export
#include "words.h"    // IWYU pragma: export

#endif
