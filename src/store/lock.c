// SPDX-License-Identifier: GPL-3.0-or-later
// The master key is random and never changes; the row `lock` holds it wrapped by the key file or by
// a passphrase, so that either can be changed without touching a record.
#include "files/files.h"
#include "store/store_internal.h"

enum { BY_KEY_FILE = 1, BY_PASSPHRASE = 2 };
enum { OPENING = 1 + HW_SEAL_SALT + 4 + 4 }; // bytes before the wrapped key: how, salt, cost

static const char read_meta[] = "SELECT value FROM meta WHERE name = $1";
static const char write_meta[] = "INSERT INTO meta (name, value) VALUES ($1, $2)";
static const char change_meta[] = "UPDATE meta SET value = $2 WHERE name = $1";

static void spell_32(unsigned char *at, uint32_t value)
{
    for (int i = 0; i < 4; i++) at[i] = (unsigned char)(value >> 8 * i);
}

static uint32_t read_32(const unsigned char *at)
{
    return (uint32_t)at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16 | (uint32_t)at[3] << 24;
}

static hw_status key_of_file(hw_job *job, const char *path, bool may_make, hw_seal_key *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes bytes;
    if (!hw_file_exists(path)) {
        if (!may_make)
            return hw_fail(job, HW_NOT_FOUND,
                           "the key file %.120s is missing: without it the records cannot be read",
                           path);
        hw_seal_key fresh;
        hw_seal_random(&fresh, sizeof fresh);
        hw_status status =
            hw_file_make_private(job, path, (hw_bytes){fresh.bytes, sizeof fresh.bytes});
        hw_seal_wipe(&fresh, sizeof fresh);
        if (status != HW_CLASH) HW_TRY(status); // made by another process meanwhile: read that
    }
    HW_TRY(hw_file_read(job, path, 4096, tmp.arena, &bytes));
    if (bytes.count != sizeof out->bytes)
        return hw_fail(job, HW_BAD_FORMAT, "the key file has %zu bytes; a key has %zu", bytes.count,
                       sizeof out->bytes);
    memcpy(out->bytes, bytes.at, sizeof out->bytes);
    hw_seal_wipe((void *)(uintptr_t)bytes.at, bytes.count);
    hw_scratch_end(tmp);
    return HW_OK;
}

// What opens the lock: says how and with which salt in `opening`.
static hw_status outer_key(hw_job *job, const hw_store_place *place, bool may_make,
                           unsigned char opening[OPENING], hw_seal_key *out)
{
    if (!place->passphrase) {
        opening[0] = BY_KEY_FILE;
        return key_of_file(job, place->key_file, may_make, out);
    }
    hw_seal_stretch stretch = hw_seal_stretch_new();
    opening[0] = BY_PASSPHRASE;
    memcpy(opening + 1, stretch.salt, HW_SEAL_SALT);
    spell_32(opening + 1 + HW_SEAL_SALT, stretch.passes);
    spell_32(opening + 1 + HW_SEAL_SALT + 4, stretch.memory_KiB);
    return hw_seal_key_of(job, place->passphrase, &stretch, out);
}

static hw_status outer_key_again(hw_job *job, const hw_store_place *place,
                                 const unsigned char opening[OPENING], hw_seal_key *out)
{
    if (opening[0] == BY_KEY_FILE && place->passphrase)
        return hw_fail(job, HW_NO_ACCESS, "this store is opened by its key file, not a passphrase");
    if (opening[0] == BY_PASSPHRASE && !place->passphrase)
        return hw_fail(job, HW_NO_ACCESS, "this store is opened by a passphrase");
    if (opening[0] == BY_KEY_FILE) return key_of_file(job, place->key_file, false, out);
    hw_seal_stretch stretch = {.passes = read_32(opening + 1 + HW_SEAL_SALT),
                               .memory_KiB = read_32(opening + 1 + HW_SEAL_SALT + 4)};
    memcpy(stretch.salt, opening + 1, HW_SEAL_SALT);
    return hw_seal_key_of(job, place->passphrase, &stretch, out);
}

// The store's id and the opening are sealed along, so that none can be exchanged.
static hw_status identity_of(hw_job *job, const hw_store *store, const unsigned char *opening,
                             hw_arena *into, hw_bytes *out)
{
    hw_writer writer = hw_writer_begin(into);
    hw_writer_print(&writer, "lock|%s|", store->store_id);
    hw_writer_bytes(&writer, opening, OPENING);
    return hw_writer_end(job, &writer, out);
}

static hw_status wrap_master(hw_job *job, const hw_store *store, const hw_store_place *place,
                             hw_arena *into, hw_bytes *out)
{
    unsigned char opening[OPENING] = {0};
    hw_seal_key outer;
    hw_bytes identity, sealed;
    HW_TRY(outer_key(job, place, true, opening, &outer));
    HW_TRY(identity_of(job, store, opening, into, &identity));
    hw_bytes master = {store->master.bytes, sizeof store->master.bytes};
    HW_TRY(hw_seal_close(job, &outer, identity, master, into, &sealed));
    hw_seal_wipe(&outer, sizeof outer);
    hw_writer writer = hw_writer_begin(into);
    hw_writer_bytes(&writer, opening, OPENING);
    hw_writer_bytes(&writer, sealed.at, sealed.count);
    return hw_writer_end(job, &writer, out);
}

static hw_status open_master(hw_job *job, hw_store *store, const hw_store_place *place,
                             hw_bytes lock, hw_arena *scratch)
{
    hw_seal_key outer;
    hw_bytes identity, master;
    if (lock.count <= OPENING || !store->store_id[0])
        return hw_fail(job, HW_BAD_FORMAT, "the store's lock is damaged: nothing can be opened");
    HW_TRY(outer_key_again(job, place, lock.at, &outer));
    HW_TRY(identity_of(job, store, lock.at, scratch, &identity));
    hw_bytes sealed = {lock.at + OPENING, lock.count - OPENING};
    hw_status status = hw_seal_open(job, &outer, identity, sealed, scratch, &master);
    hw_seal_wipe(&outer, sizeof outer);
    if (status == HW_BAD_FORMAT)
        return hw_fail(job, HW_NO_ACCESS,
                       "the key file or passphrase is not this store's, or its "
                       "lock was changed");
    HW_TRY(status);
    HW_ASSERT(master.count == sizeof store->master.bytes);
    memcpy(store->master.bytes, master.at, master.count);
    hw_seal_wipe((void *)(uintptr_t)master.at, master.count);
    return HW_OK;
}

static hw_status ask_meta(hw_job *job, hw_store *store, const char *name, hw_arena *into,
                          hw_bytes *out)
{
    hw_sql_rows rows;
    HW_TRY(hw_sql_ask(job, store->sql, HW_SQL(read_meta, hw_sql_text(name)), into, &rows));
    *out = hw_sql_bytes_at(&rows, 0, 0);
    return HW_OK;
}

static hw_status make_lock(hw_job *job, hw_store *store, const hw_store_place *place,
                           hw_arena *scratch)
{
    hw_bytes lock;
    hw_seal_id(store->store_id);
    hw_seal_random(&store->master, sizeof store->master);
    HW_TRY(wrap_master(job, store, place, scratch, &lock));
    hw_sql_value id = hw_sql_bytes(hw_bytes_of(store->store_id));
    HW_TRY(hw_sql_run(job, store->sql, HW_SQL(write_meta, hw_sql_text("store"), id), NULL));
    return hw_sql_run(job, store->sql, HW_SQL(write_meta, hw_sql_text("lock"), hw_sql_bytes(lock)),
                      NULL);
}

static hw_status read_lock(hw_job *job, hw_store *store, const hw_store_place *place, hw_bytes lock,
                           hw_arena *scratch)
{
    hw_bytes id;
    HW_TRY(ask_meta(job, store, "store", scratch, &id));
    if (id.count != HW_STORE_ID - 1)
        return hw_fail(job, HW_BAD_FORMAT, "the store's id is missing or damaged");
    memcpy(store->store_id, id.at, id.count);
    return open_master(job, store, place, lock, scratch);
}

hw_status hw_lock_open(hw_job *job, hw_store *store, const hw_store_place *place, bool *is_new)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes lock;
    hw_sql_rows rows;
    HW_TRY(ask_meta(job, store, "lock", tmp.arena, &lock));
    HW_TRY(
        hw_sql_ask(job, store->sql,
                   hw_sql_bare("SELECT (SELECT COUNT(*) FROM meta) + (SELECT COUNT(*) FROM entry)"),
                   tmp.arena, &rows));
    *is_new = !lock.at;
    if (*is_new && hw_sql_int_at(&rows, 0, 0) > 0)
        return hw_fail(job, HW_BAD_FORMAT, "the store's lock was removed: nothing can be opened");
    if (*is_new)
        HW_TRY(make_lock(job, store, place, tmp.arena));
    else
        HW_TRY(read_lock(job, store, place, lock, tmp.arena));
    store->wrap_key = hw_seal_derive(&store->master, "heelwright data keys");
    store->chain_key = hw_seal_derive(&store->master, "heelwright chain");
    store->head_key = hw_seal_derive(&store->master, "heelwright head");
    store->name_key = hw_seal_derive(&store->master, "heelwright file names");
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_lock_digest(hw_job *job, hw_store *store, unsigned char digest[HW_SEAL_HASH])
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes lock;
    HW_TRY(ask_meta(job, store, "lock", tmp.arena, &lock));
    hw_bytes parts[] = {hw_bytes_of("lock"), lock};
    hw_seal_hash(&store->chain_key, parts, 2, digest);
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status change_lock(hw_job *job, hw_store *store, const hw_store_place *place,
                             hw_arena *scratch)
{
    hw_bytes lock;
    unsigned char digest[HW_SEAL_HASH];
    HW_TRY(hw_write_begin(job, store));
    hw_item *item = hw_index_find(&store->index, HW_KIND_LOCK, HW_STORE_CLINIC);
    hw_entry entry = {.kind = HW_KIND_LOCK, .id = HW_STORE_CLINIC, .person = ""};
    entry.version = item->version + 1;
    entry.owner = HW_STORE_CLINIC;
    HW_TRY(wrap_master(job, store, place, scratch, &lock));
    HW_TRY(hw_sql_run(job, store->sql, HW_SQL(change_meta, hw_sql_text("lock"), hw_sql_bytes(lock)),
                      NULL));
    HW_TRY(hw_lock_digest(job, store, digest));
    HW_TRY(hw_chain_append(job, store, &entry, &(hw_content){"", "", {digest, sizeof digest}}));
    return hw_write_end(job, store);
}

hw_status hw_store_lock_change(hw_job *job, hw_store *store, const char *passphrase,
                               const char *key_file)
{
    hw_store_place place = {.passphrase = passphrase, .key_file = key_file};
    if (!passphrase && !key_file)
        return hw_fail(job, HW_BAD_INPUT, "a store is opened by a key file or a passphrase");
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_store_enter(job, store);
    hw_status status = hw_store_leave(job, store, change_lock(job, store, &place, tmp.arena));
    hw_scratch_end(tmp);
    return status;
}
