// SPDX-License-Identifier: GPL-3.0-or-later
// A write: lock, one transaction, the head outside, the index.
#include "store/store_internal.h"

#include <stdlib.h>

void hw_store_enter(hw_job *job, hw_store *store)
{
    pthread_mutex_lock(&store->mutex);
    for (int i = 0; i < 2; i++) store->marks[i] = hw_arena_here(job->scratch[i]);
}

static void forget_pending(hw_store *store)
{
    hw_seal_wipe(store->new_keys, sizeof store->new_keys[0] * (size_t)store->new_key_count);
    store->pending_count = store->new_key_count = 0;
    hw_arena_rewind(store->pending_into, (hw_arena_mark){0});
}

hw_status hw_store_leave(hw_job *job, hw_store *store, hw_status status)
{
    for (int i = 0; i < 2 && status != HW_OK; i++)
        hw_arena_rewind(job->scratch[i], store->marks[i]);
    hw_sql_rollback(store->sql); // nothing is open any more when all went well
    forget_pending(store);
    pthread_mutex_unlock(&store->mutex);
    return status;
}

hw_status hw_write_begin(hw_job *job, hw_store *store)
{
    if (store->is_damaged)
        return hw_fail(job, HW_NO_ACCESS,
                       "the store is damaged and open to read only: restore a backup to write");
    HW_TRY(hw_sql_begin(job, store->sql, HW_SQL_WRITE));
    HW_TRY(hw_chain_refresh(job, store));
    store->next = store->chain;
    return HW_OK;
}

static hw_status keep_key(hw_job *job, hw_store *store, const hw_new_key *fresh)
{
    hw_item *item = hw_index_find(&store->index, HW_KIND_KEY, fresh->owner);
    HW_ASSERT(item); // its entry was noted just before
    item->key = malloc(sizeof *item->key);
    if (!item->key) return hw_fail(job, HW_NO_MEMORY, "no memory for a key");
    *item->key = fresh->key;
    return HW_OK;
}

hw_status hw_write_end(hw_job *job, hw_store *store)
{
    HW_TRY(hw_sql_commit(job, store->sql));
    hw_status status = hw_head_write(job, store, &store->next);
    if (status != HW_OK) return status; // the index reads the new entries with the next call
    for (int i = 0; i < store->pending_count; i++)
        HW_TRY(hw_index_note(job, &store->index, &store->pending[i]));
    store->chain = store->next;
    for (int i = 0; i < store->new_key_count; i++)
        HW_TRY(keep_key(job, store, &store->new_keys[i]));
    for (int i = 0; i < store->pending_count; i++)
        HW_TRY(hw_index_person(job, store, &store->pending[i]));
    return HW_OK;
}
