// SPDX-License-Identifier: GPL-3.0-or-later
// What a worker does with a job it holds: in the server's threads and in `heelwright work` alike.
#ifndef HW_API_WORK_H
#define HW_API_WORK_H

#include "api_internal.h"

#define WORK_COMPUTE "compute" // a visit
#define WORK_MEASURE "measure" // a file of a batch

/// The line of a batch's file as the job's result.
HW_MUST_USE hw_status work_measure(hw_job *job, const hw_json *order, hw_arena *into,
                                   hw_bytes *out);

/// What was made of a job, and by which program and rules.
typedef struct work_made {
    hw_file_set files;
    const char *program, *rules;
    const char *why;    // stands with the record's version
    const char *failed; // who computed it says it cannot be done, and why; NULL: done
} work_made;

/// Where jobs come from and where results go: the clinic's store (work_store.c), or what a guest
/// sees of it (work_guest.c). Each call fails as the store's of that name.
typedef struct work_bench {
    void *at;
    const hw_store_worker *worker;
    hw_status (*claim)(hw_job *job, const struct work_bench *bench, hw_arena *into,
                       hw_store_task *out);
    hw_status (*renew)(hw_job *job, const struct work_bench *bench, const hw_store_claim *claim,
                       double progress, const char *sentence, bool *is_cancelled);
    hw_status (*look)(hw_job *job, const struct work_bench *bench, const char *id, hw_arena *into,
                      hw_store_task *out);
    /// A scan that the job names, if it is this person's.
    hw_status (*read_scan)(hw_job *job, const struct work_bench *bench, const hw_store_task *task,
                           const char *name, hw_arena *into, hw_bytes *out);
    /// What a guest delivered. When it fails the job is given back: it is no longer ours to end.
    hw_status (*unpack)(hw_job *job, const struct work_bench *bench, const hw_store_task *task,
                        hw_arena *into, work_made *out);
    hw_status (*finish)(hw_job *job, const struct work_bench *bench, const hw_store_task *task,
                        const work_made *made, hw_arena *into);
    hw_status (*fail)(hw_job *job, const struct work_bench *bench, const hw_store_claim *claim,
                      const char *sentence);
    /// As hw_store_job_spoilt.
    bool (*spoilt)(const struct work_bench *bench, int number, char id[HW_STORE_ID]);
} work_bench;

work_bench work_bench_of_store(hw_store *store, const hw_store_worker *worker);
work_bench work_bench_of_guest(hw_guest *guest, const hw_store_worker *worker);

/// HW_APP_... of "foot", "load", "orthosis", "plan"; "foot" is 0, nothing known is -1.
int work_part(const char *word);

/// Takes one job and does it.
///
///   fails   HW_NOT_FOUND there is none; HW_CANCELLED job->cancelled said so; as the store
HW_MUST_USE hw_status work_once(hw_job *job, const work_bench *bench, hw_arena *into);

#endif
