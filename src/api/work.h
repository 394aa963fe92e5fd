// SPDX-License-Identifier: GPL-3.0-or-later
// What a worker does with a job it holds: in the server's threads and in `heelwright work` alike.
#ifndef HW_API_WORK_H
#define HW_API_WORK_H

#include "api_internal.h"

#define WORK_COMPUTE "compute"

/// HW_APP_... of "foot", "load", "orthosis", "plan"; "foot" is 0, nothing known is -1.
int work_part(const char *word);

/// Takes one job and does it.
///
///   fails   HW_NOT_FOUND there is none; HW_CANCELLED job->cancelled said so; as the store
HW_MUST_USE hw_status work_once(hw_job *job, hw_store *store, const hw_store_worker *worker,
                                hw_arena *into);

#endif
