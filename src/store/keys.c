// SPDX-License-Identifier: GPL-3.0-or-later
// Data keys: one for the clinic, one for each person and each device, wrapped by a key of the
// master's. Destroying the row erases all it sealed.
#include "store/store_internal.h"

#include <stdlib.h>

static const char add_key[] = "INSERT INTO data_key (owner, wrapped) VALUES ($1, $2)";
static const char read_key[] = "SELECT wrapped FROM data_key WHERE owner = $1";

static hw_status identity_of(hw_job *job, const hw_store *store, const char *owner, hw_arena *into,
                             hw_bytes *out)
{
    const char *text = NULL;
    HW_TRY(hw_text_format(job, into, &text, "key|%s|%s", store->store_id, owner));
    *out = hw_bytes_of(text);
    return HW_OK;
}

static hw_status read_row(hw_job *job, hw_store *store, const char *owner, hw_arena *into,
                          hw_bytes *out)
{
    hw_sql_rows rows;
    HW_TRY(hw_sql_ask(job, store->sql, HW_SQL(read_key, hw_sql_text(owner)), into, &rows));
    if (rows.count == 0) return hw_fail(job, HW_NOT_FOUND, "the key of %.20s is gone", owner);
    *out = hw_sql_bytes_at(&rows, 0, 0);
    return HW_OK;
}

static hw_status load_key(hw_job *job, hw_store *store, const char *owner, hw_seal_key *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes wrapped, identity, plain;
    HW_TRY(read_row(job, store, owner, tmp.arena, &wrapped));
    HW_TRY(identity_of(job, store, owner, tmp.arena, &identity));
    if (hw_seal_open(job, &store->wrap_key, identity, wrapped, tmp.arena, &plain) != HW_OK ||
        plain.count != sizeof out->bytes)
        return hw_fail(job, HW_BAD_FORMAT, "the key of %.20s was changed: it does not open", owner);
    memcpy(out->bytes, plain.at, sizeof out->bytes);
    hw_seal_wipe((void *)(uintptr_t)plain.at, plain.count);
    hw_scratch_end(tmp);
    return HW_OK;
}

bool hw_key_is_erased(const hw_store *store, const char *owner)
{
    const hw_item *item = hw_index_find(&store->index, HW_KIND_KEY, owner);
    return item && item->version > 1;
}

hw_status hw_key_get(hw_job *job, hw_store *store, const char *owner, hw_seal_key *out)
{
    for (int i = 0; i < store->new_key_count; i++)
        if (strcmp(store->new_keys[i].owner, owner) == 0) {
            *out = store->new_keys[i].key;
            return HW_OK;
        }
    hw_item *item = hw_index_find(&store->index, HW_KIND_KEY, owner);
    if (!item || item->version > 1)
        return hw_fail(job, HW_NOT_FOUND, item ? "%.20s was erased" : "%.20s is not known here",
                       owner);
    if (!item->key) {
        hw_seal_key key;
        HW_TRY(load_key(job, store, owner, &key));
        item->key = malloc(sizeof key);
        if (!item->key) return hw_fail(job, HW_NO_MEMORY, "no memory for a key");
        *item->key = key;
    }
    *out = *item->key;
    return HW_OK;
}

hw_status hw_key_digest(hw_job *job, hw_store *store, const char *owner,
                        unsigned char digest[HW_SEAL_HASH])
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes wrapped;
    HW_TRY(read_row(job, store, owner, tmp.arena, &wrapped));
    hw_bytes parts[] = {hw_bytes_of("key"), hw_bytes_of(owner), wrapped};
    hw_seal_hash(&store->chain_key, parts, 3, digest);
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status add_row(hw_job *job, hw_store *store, const hw_new_key *fresh)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes identity, wrapped, plain = {fresh->key.bytes, sizeof fresh->key.bytes};
    HW_TRY(identity_of(job, store, fresh->owner, tmp.arena, &identity));
    HW_TRY(hw_seal_close(job, &store->wrap_key, identity, plain, tmp.arena, &wrapped));
    HW_TRY(hw_sql_run(job, store->sql,
                      HW_SQL(add_key, hw_sql_text(fresh->owner), hw_sql_bytes(wrapped)), NULL));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_key_make(hw_job *job, hw_store *store, const char *owner, const char *who)
{
    HW_ASSERT(store->new_key_count < HW_STORE_WRITES_MAX && strlen(owner) < HW_STORE_ID);
    hw_new_key *fresh = &store->new_keys[store->new_key_count];
    *fresh = (hw_new_key){0};
    memcpy(fresh->owner, owner, strlen(owner));
    hw_seal_random(&fresh->key, sizeof fresh->key);
    HW_TRY(add_row(job, store, fresh));
    store->new_key_count++; // from here on it seals
    unsigned char digest[HW_SEAL_HASH];
    HW_TRY(hw_key_digest(job, store, owner, digest));
    const char *person = strcmp(owner, HW_STORE_CLINIC) == 0 ? "" : owner;
    hw_entry entry = {.kind = HW_KIND_KEY, .id = owner, .version = 1, .person = person};
    entry.owner = HW_STORE_CLINIC;
    return hw_chain_append(job, store, &entry, &(hw_content){who, "", {digest, sizeof digest}});
}
