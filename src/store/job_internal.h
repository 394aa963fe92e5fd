// SPDX-License-Identifier: GPL-3.0-or-later
// A row of the table `job` has two proofs. `mac`, by the chain's key, covers what never changes
// once the job was added. `live`, by the job's own key, covers what does change, so that a guest,
// who has no key of the clinic's, can write it as well. Ended rows are also proven by the chain.
#ifndef HW_STORE_JOB_INTERNAL_H
#define HW_STORE_JOB_INTERNAL_H

#include "store/store_internal.h"

#define HW_TASK_TO_BE_KEPT "computed elsewhere, to be kept"

enum { HW_TASK_VALUES = 5 }; // the most a pick is asked with

/// A row of the table `job`.
typedef struct hw_task_row {
    const char *id, *kind, *person, *slot, *worker;
    int64_t state, is_cancel_asked, tries, added_ms, changed_ms, lease_ms;
    hw_bytes job_key; // 32 bytes, sealed to the clinic's pair, then to each registered worker
    hw_bytes body;    // by the job's key: who, its zero, body, its zero, keys of the files it reads
    hw_bytes news;    // by the job's key: progress in thousandths, '|', sentence
    hw_bytes result;  // ended well: by the job's key. Still running: what a guest delivered, see
                      // parcel.c. Else empty
    hw_bytes mac, live;
    hw_seal_key key; // no column: the job's own, once hw_task_open_row read it
} hw_task_row;

/// Keyed hash over what never changes after the job was added: the column `mac`.
void hw_task_mac(const hw_store *store, const hw_task_row *row, unsigned char mac[HW_SEAL_HASH]);

/// Hash by the chain's key over all columns but the two proofs: what the chain keeps of ended jobs.
void hw_task_digest(const hw_store *store, const hw_task_row *row,
                    unsigned char digest[HW_SEAL_HASH]);

/// A guest computed it and its parcel waits to be kept.
bool hw_task_is_delivered(const hw_task_row *row);

/// Reads the job's key into the row and looks whether the row is as a holder of it wrote it; that
/// it ended, whether the chain says so. `is_locked`: nobody else can end it now, so a row that has
/// not ended must not have in the chain.
///
///   fails   HW_BAD_FORMAT changed;  HW_NO_ACCESS a guest it was not sealed to
HW_MUST_USE hw_status hw_task_open_row(hw_job *job, hw_store *store, hw_task_row *row,
                                       bool is_locked);

typedef enum hw_task_pick {
    HW_TASK_BY_ID,      // $1 id
    HW_TASK_BY_ID_LOCK, // likewise, locked until the transaction ends
    HW_TASK_NEXT, // $1 now, $2 kind or '', $3 $4 added_ms and id it stands behind: the oldest to be
                  // claimed, locked, skipping locked ones
    HW_TASK_LEFT_OVER, // likewise, but only what guests cannot end: delivered ones and lost ones
    HW_TASK_FOR_GUEST, // likewise, but only what may be sealed to the guest $5
    HW_TASK_BY_SLOT,   // $1 slot: unfinished ones, locked
    HW_TASK_CHANGED,   // $1 since
    HW_TASK_BY_PERSON, // $1 person, locked
    HW_TASK_OLD,       // $1 before: ended ones, at most 100, locked
    HW_TASK_AFTER,     // $1 id: 256 ones after it, to walk all
    HW_TASK_OLD_FORM,  // $1 id: likewise, of those written before there was `live`
} hw_task_pick;

/// Rows of one kind of question. values: as named at the pick.
HW_MUST_USE hw_status hw_task_rows(hw_job *job, hw_store *store, hw_task_pick pick,
                                   const hw_sql_value values[HW_TASK_VALUES], hw_arena *into,
                                   hw_task_row **rows, int *count);

/// The row of that id, opened, locked or not. HW_NOT_FOUND; as hw_task_open_row.
HW_MUST_USE hw_status hw_task_row_get(hw_job *job, hw_store *store, const char *id, bool is_locked,
                                      hw_arena *into, hw_task_row *out);

HW_MUST_USE hw_status hw_task_row_add(hw_job *job, hw_store *store, const hw_task_row *row);

/// Writes the columns that change, and a new proof of them.
HW_MUST_USE hw_status hw_task_row_change(hw_job *job, hw_store *store, hw_task_row *row);

/// Takes the row away, and what a guest delivered of it.
HW_MUST_USE hw_status hw_task_row_remove(hw_job *job, hw_store *store, const hw_task_row *row,
                                         const char *who);

/// Seals a part of the job by its key: "body", "news", "result".
HW_MUST_USE hw_status hw_task_seal(hw_job *job, hw_store *store, const hw_task_row *row,
                                   const char *part, hw_bytes plain, hw_arena *into, hw_bytes *out);
HW_MUST_USE hw_status hw_task_open(hw_job *job, hw_store *store, const hw_task_row *row,
                                   const char *part, hw_arena *into, hw_bytes *out);

/// Progress and a sentence, sealed into the row.
HW_MUST_USE hw_status hw_task_say(hw_job *job, hw_store *store, hw_task_row *row, double progress,
                                  const char *sentence);

/// The row, if the claim still holds it; a guest does no more once it delivered. HW_CLASH.
HW_MUST_USE hw_status hw_task_held(hw_job *job, hw_store *store, const hw_store_claim *claim,
                                   hw_task_row *out);

/// Notes in the chain that a job was added (1), ended (2) or removed (3).
HW_MUST_USE hw_status hw_task_note(hw_job *job, hw_store *store, const hw_task_row *row,
                                   int64_t version, const char *who);

/// Gives rows of the form before step 2 their second proof, if the first one holds.
///
///   fails   HW_BAD_FORMAT a row was changed
HW_MUST_USE hw_status hw_task_renew_form(hw_job *job, hw_store *store);

// job_key.c
/// Seals the job's fresh key to the clinic's pair and to all who are registered now.
HW_MUST_USE hw_status hw_task_key_seal(hw_job *job, hw_store *store, hw_task_row *row);

/// Opens it, by the clinic's pair or as the guest.
///
///   fails   HW_BAD_FORMAT changed;  HW_NO_ACCESS not sealed to this guest
HW_MUST_USE hw_status hw_task_key_open(hw_job *job, hw_store *store, const hw_task_row *row,
                                       hw_seal_key *out);

// parcel.c
/// Removes the chunks of a job's parcel, if there are any.
HW_MUST_USE hw_status hw_parcel_remove(hw_job *job, hw_store *store, const char *id);

/// Whether a delivered row's parcel is whole: HW_BAD_FORMAT when not. For the walk over all.
HW_MUST_USE hw_status hw_parcel_check(hw_job *job, hw_store *store, const hw_task_row *row);

#endif
