// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef HW_STORE_JOB_INTERNAL_H
#define HW_STORE_JOB_INTERNAL_H

#include "store/store_internal.h"

/// A row of the table `job`. Each column but `mac` goes into `mac`.
typedef struct hw_task_row {
    const char *id, *kind, *person, *slot, *worker;
    int64_t state, is_cancel_asked, tries, added_ms, changed_ms, lease_ms;
    hw_bytes job_key; // 32 bytes, sealed to the workers' key
    hw_bytes body;    // by the job's key: who, its zero, body
    hw_bytes news;    // by the job's key: progress in thousandths, '|', sentence
    hw_bytes result;  // by the job's key, or empty
    hw_bytes mac;
} hw_task_row;

/// Keyed hash over all columns but `mac`.
void hw_task_mac(const hw_store *store, const hw_task_row *row, unsigned char mac[HW_SEAL_HASH]);

/// Keyed hash over what never changes after the job was added.
void hw_task_static_digest(const hw_store *store, const hw_task_row *row,
                           unsigned char digest[HW_SEAL_HASH]);

/// Whether the row is as the store wrote it.
bool hw_task_mac_holds(const hw_store *store, const hw_task_row *row);

typedef enum hw_task_pick {
    HW_TASK_BY_ID,      // $1 id
    HW_TASK_BY_ID_LOCK, // likewise, locked until the transaction ends
    HW_TASK_NEXT,       // $1 now, $2 kind or '': to be claimed, locked, skipping locked ones
    HW_TASK_BY_SLOT,    // $1 slot: unfinished ones, locked
    HW_TASK_CHANGED,    // $1 since
    HW_TASK_BY_PERSON,  // $1 person, locked
    HW_TASK_OLD,        // $1 before: ended ones, at most 100, locked
    HW_TASK_AFTER,      // $1 id: 256 ones after it, to walk all
} hw_task_pick;

/// Rows of one kind of question. values: as named at the pick.
HW_MUST_USE hw_status hw_task_rows(hw_job *job, hw_store *store, hw_task_pick pick,
                                   const hw_sql_value values[2], hw_arena *into, hw_task_row **rows,
                                   int *count);

/// The row of that id, locked or not. HW_NOT_FOUND; HW_BAD_FORMAT when its mac does not hold.
HW_MUST_USE hw_status hw_task_row_get(hw_job *job, hw_store *store, const char *id, bool is_locked,
                                      hw_arena *into, hw_task_row *out);

HW_MUST_USE hw_status hw_task_row_add(hw_job *job, hw_store *store, hw_task_row *row);

/// Writes the columns that change, and a new mac.
HW_MUST_USE hw_status hw_task_row_change(hw_job *job, hw_store *store, hw_task_row *row);
HW_MUST_USE hw_status hw_task_row_remove(hw_job *job, hw_store *store, const hw_task_row *row,
                                         const char *who);

/// Seals a part of the job: "body", "news", "result".
HW_MUST_USE hw_status hw_task_seal(hw_job *job, hw_store *store, const hw_task_row *row,
                                   const char *part, hw_bytes plain, hw_arena *into, hw_bytes *out);
HW_MUST_USE hw_status hw_task_open(hw_job *job, hw_store *store, const hw_task_row *row,
                                   const char *part, hw_arena *into, hw_bytes *out);

/// Notes in the chain that a job was added (1), ended (2) or removed (3).
HW_MUST_USE hw_status hw_task_note(hw_job *job, hw_store *store, const hw_task_row *row,
                                   int64_t version, const char *who);

#endif
