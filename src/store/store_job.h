// SPDX-License-Identifier: GPL-3.0-or-later
// Jobs: work that takes longer than an answer may, taken by any process that shares the database.
//
//     hw_store_job_add(job, store, &(hw_store_order){.kind = "compute", .body = json,
//                      .person = person, .replaces = visit, .who = user}, id);
//     ... a worker ...
//     while (hw_store_job_claim(job, store, &worker, into, &task) == HW_OK) {
//         ... hw_store_job_renew(job, store, &task.claim, 0.4, "shaping", &is_cancelled);
//         hw_store_job_finish(job, store, &task.claim, &outcome, into, heads);
//     }
//
// A worker that dies loses its lease and another one takes the job, three times at most.
#ifndef HW_STORE_JOB_H
#define HW_STORE_JOB_H

#include "store/store_types.h"

enum {
    HW_STORE_TRIES_MAX = 3,
    HW_STORE_WORKER = 33,
    HW_STORE_LEASE_MAX_S = 3600,
    HW_STORE_JOB_FILES = 16,
};

/// Work asked for.
typedef struct hw_store_order {
    const char *kind;     // which work
    hw_bytes body;        // JSON; sealed to the clinic's workers and to registered ones
    const char *person;   // whose; NULL or "": of the clinic. Erasing the person removes the job
    const char *replaces; // unfinished jobs of the same key are cancelled; NULL: none
    const char *who;
    const char *const *files; // hashes of the files it reads, all of them the person's
    int file_count;           // up to HW_STORE_JOB_FILES
} hw_store_order;

typedef enum hw_store_job_state {
    HW_STORE_WAITING,
    HW_STORE_RUNNING,
    HW_STORE_DONE,
    HW_STORE_FAILED,
    HW_STORE_CANCELLED,
} hw_store_job_state;

/// "waiting", "running", "done", "failed" or "cancelled".
const char *hw_store_job_word(hw_store_job_state state);

/// A worker's hold on a job: worthless once somebody else has taken it.
typedef struct hw_store_claim {
    char id[HW_STORE_ID];
    char worker[HW_STORE_WORKER];
    int tries;   // which try this is, from 1
    int lease_s; // how long each renewal holds; of a job looked at, not claimed: 0
} hw_store_claim;

typedef struct hw_store_worker {
    const char *name; // up to 32 letters, digits, '-', '.', '_'; one name a thread
    const char *kind; // takes only this kind; NULL: any
    int lease_s;      // 1 .. HW_STORE_LEASE_MAX_S; renew at a third of it
    bool keeps_only;  // takes only what guests delivered, and what nobody will end any more
} hw_store_worker;

typedef struct hw_store_task {
    hw_store_claim claim; // id; worker and tries of the last claim
    const char *kind;
    const char *person; // "" of the clinic
    const char *who;    // who asked for it
    hw_store_job_state state;
    bool is_cancel_asked;
    bool is_delivered;                      // a guest computed it: see hw_store_job_parcel
    double progress;                        // 0 .. 1
    const char *sentence;                   // what it does now, or why it failed; "" at first
    int64_t added_ms, changed_ms, lease_ms; // UTC, since 1970; lease_ms: until when it is held
    hw_bytes body;
    hw_bytes result; // empty until done
    hw_bytes passes; // opens the files it reads, for hw_guest_file
} hw_store_task;

typedef struct hw_store_tasks {
    hw_store_task *tasks;
    int count;
} hw_store_tasks;

/// What finishing a job leaves: its result and, in the same transaction, new versions of records.
typedef struct hw_store_outcome {
    hw_bytes result;              // JSON
    const hw_store_write *writes; // may be NULL
    int write_count;
} hw_store_outcome;

/// Puts a job into the queue.
///
///   id      HW_STORE_ID bytes
///   fails   HW_BAD_INPUT, HW_BAD_FORMAT a body that is no JSON, HW_NOT_FOUND an erased person
HW_MUST_USE hw_status hw_store_job_add(hw_job *job, hw_store *store, const hw_store_order *order,
                                       char id[HW_STORE_ID]);

/// Takes the oldest job that waits or whose worker let its lease lapse. Rows that were changed
/// behind the store's back are passed over: see hw_store_job_spoilt.
///
///   fails   HW_NOT_FOUND nothing to do
HW_MUST_USE hw_status hw_store_job_claim(hw_job *job, hw_store *store,
                                         const hw_store_worker *worker, hw_arena *into,
                                         hw_store_task *out);

/// Says that the worker lives, how far it is (0 .. 1) and, in a sentence without a name, what it
/// does; the lease runs anew. `is_cancelled` tells that nobody wants the answer any more: stop.
///
///   fails   HW_CLASH the lease was lost: stop, another worker has it
HW_MUST_USE hw_status hw_store_job_renew(hw_job *job, hw_store *store, const hw_store_claim *claim,
                                         double progress, const char *sentence, bool *is_cancelled);

/// Ends a job well. heads: write_count, or NULL when there is none.
///
///   fails   HW_CLASH lease lost, or a write builds on an old version (the job then stays claimed);
///           HW_CANCELLED nobody wants it: the job is ended as cancelled, nothing else is written
HW_MUST_USE hw_status hw_store_job_finish(hw_job *job, hw_store *store, const hw_store_claim *claim,
                                          const hw_store_outcome *outcome, hw_arena *into,
                                          hw_store_head *heads);

/// Ends a job badly, with a sentence for a person; as cancelled when cancelling was asked.
///
///   fails   HW_CLASH lease lost
HW_MUST_USE hw_status hw_store_job_fail(hw_job *job, hw_store *store, const hw_store_claim *claim,
                                        const char *sentence);

/// A waiting job is cancelled; a running one is asked to stop; an ended one stays as it is.
///
///   fails   HW_NOT_FOUND
HW_MUST_USE hw_status hw_store_job_cancel(hw_job *job, hw_store *store, const char *id);

/// One job with body and result.
///
///   fails   HW_NOT_FOUND, HW_BAD_FORMAT the row was tampered with
HW_MUST_USE hw_status hw_store_job_get(hw_job *job, hw_store *store, const char *id, hw_arena *into,
                                       hw_store_task *out);

/// Jobs changed at or after `since_ms`, oldest change first, without bodies and results. A change
/// may show up late by the length of a transaction: ask with a second of overlap. Changed rows are
/// passed over.
HW_MUST_USE hw_status hw_store_job_list(hw_job *job, hw_store *store, int64_t since_ms,
                                        hw_arena *into, hw_store_tasks *out);

/// Removes up to 100 jobs that ended before `before_ms`; their results live on in the records and
/// files they made. To be called now and then.
HW_MUST_USE hw_status hw_store_job_tidy(hw_job *job, hw_store *store, int64_t before_ms,
                                        int *removed);

/// The number-th job (0 the first) whose row this process met changed since the store was opened:
/// by somebody with the database or with a guest's key. It is neither believed nor done nor
/// removed; each is to be told to people once. False: there is none of that number.
bool hw_store_job_spoilt(hw_store *store, int number, char id[HW_STORE_ID]);

#endif
