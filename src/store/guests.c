// SPDX-License-Identifier: GPL-3.0-or-later
// The clinic's side: registered workers are entries of kind "worker" with ids of their own, version
// 1 registered, version 2 withdrawn. The body names the guest and holds the open half of its pair.
#include "store/guest_internal.h"
#include "store/job_internal.h"
#include "json/json.h"

bool hw_guest_next(const hw_store *store, int *at, const char **id)
{
    for (; *at < store->index.count; ++*at) {
        const hw_item *item = &store->index.items[*at];
        if (strcmp(item->kind, HW_KIND_WORKER) != 0 || !hw_id_is(item->id)) continue;
        *id = item->id;
        ++*at;
        return true;
    }
    return false;
}

bool hw_guest_is_withdrawn(const hw_store *store, const char *id)
{
    const hw_item *item = hw_index_find(&store->index, HW_KIND_WORKER, id);
    return item && item->version > 1;
}

static hw_status read_body(hw_job *job, hw_store *store, const char *id, int64_t version,
                           hw_arena *into, hw_guest_known *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_entry entry = {0};
    hw_content content = {0};
    const hw_json *root = NULL;
    hw_store_ref ref = {HW_KIND_WORKER, id, version};
    HW_TRY(hw_entry_find(job, store, ref, tmp.arena, &entry));
    HW_TRY(hw_entry_open_body(job, store, &entry, tmp.arena, &content));
    HW_TRY(hw_json_read(job, content.body, tmp.arena, &root));
    const hw_json *name = hw_json_get(root, "name"), *key = hw_json_get(root, "key");
    bool is_whole = name && name->kind == HW_JSON_TEXT && key && key->kind == HW_JSON_TEXT;
    if (!is_whole || !hw_seal_unhex(key->text, out->open, sizeof out->open))
        return hw_fail(job, HW_BAD_FORMAT, "what is known of worker %.20s is none", id);
    HW_TRY(hw_text_copy(job, into, name->text, &out->name));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_guest_find(hw_job *job, hw_store *store, const char *id, hw_arena *into,
                        hw_guest_known *out)
{
    const hw_item *item = hw_id_is(id) ? hw_index_find(&store->index, HW_KIND_WORKER, id) : NULL;
    if (!item) return hw_fail(job, HW_NOT_FOUND, "there is no worker %.20s", id);
    HW_TRY(read_body(job, store, id, item->version, into, out));
    out->is_withdrawn = hw_guest_is_withdrawn(store, id);
    return hw_guest_keys_of(job, store->worker.secret, out->open, &out->keys);
}

// -- registering and withdrawing

static hw_status append(hw_job *job, hw_store *store, const char *id, int64_t version,
                        const hw_guest_known *guest, const char *who)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    char hex[65];
    hw_bytes body;
    hw_seal_hex(guest->open, sizeof guest->open, hex);
    hw_json_out json = hw_json_begin(tmp.arena);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "name", guest->name);
    hw_json_text(&json, "key", hex);
    hw_json_close(&json);
    HW_TRY(hw_json_end(job, &json, &body));
    hw_entry entry = {.kind = HW_KIND_WORKER, .id = id, .version = version, .person = ""};
    entry.owner = HW_STORE_CLINIC;
    HW_TRY(hw_chain_append(job, store, &entry, &(hw_content){who, "", body}));
    hw_scratch_end(tmp);
    return HW_OK;
}

// One key, one registration: a withdrawn guest may come back as a new one.
static hw_status check_new(hw_job *job, hw_store *store, const hw_guest_known *fresh)
{
    int count = 0;
    const char *id = NULL;
    for (int at = 0; hw_guest_next(store, &at, &id);) {
        if (hw_guest_is_withdrawn(store, id)) continue;
        hw_scratch tmp = hw_scratch_begin(job, NULL);
        hw_guest_known known = {0};
        HW_TRY(hw_guest_find(job, store, id, tmp.arena, &known));
        hw_seal_wipe(&known.keys, sizeof known.keys);
        count++;
        if (memcmp(known.open, fresh->open, sizeof known.open) == 0)
            return hw_fail(job, HW_CLASH, "this worker is registered already, as %.64s",
                           known.name);
        hw_scratch_end(tmp);
    }
    if (count < HW_STORE_GUESTS_MAX) return HW_OK;
    return hw_fail(job, HW_CLASH, "%d workers are registered: withdraw one first", count);
}

static hw_status describe(hw_job *job, hw_store *store, const char *id, hw_arena *into,
                          hw_store_guest *out);

static hw_status add_locked(hw_job *job, hw_store *store, const hw_guest_known *fresh,
                            const char *who, hw_arena *into, hw_store_guest *out)
{
    char id[HW_STORE_ID];
    hw_seal_id(id);
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(check_new(job, store, fresh));
    HW_TRY(append(job, store, id, 1, fresh, who));
    HW_TRY(hw_write_end(job, store));
    return describe(job, store, id, into, out);
}

static bool is_name(const char *name)
{
    size_t length = strlen(name);
    if (length == 0 || length > HW_STORE_GUEST_NAME) return false;
    for (size_t i = 0; i < length; i++)
        if ((unsigned char)name[i] < ' ' || name[i] == 0x7f) return false;
    return name[0] != ' ';
}

hw_status hw_store_guest_add(hw_job *job, hw_store *store, const char *name, const char *line,
                             const char *who, hw_arena *into, hw_store_guest *out)
{
    hw_guest_known fresh = {.name = name};
    if (!is_name(name))
        return hw_fail(job, HW_BAD_INPUT, "a worker's name has 1 to %d printable characters",
                       HW_STORE_GUEST_NAME);
    HW_TRY(hw_guest_line_read(job, line, fresh.open));
    HW_TRY(hw_guest_keys_of(job, store->worker.secret, fresh.open, &fresh.keys)); // is it a key?
    hw_seal_wipe(&fresh.keys, sizeof fresh.keys);
    hw_store_enter(job, store);
    return hw_store_leave(job, store, add_locked(job, store, &fresh, who, into, out));
}

static hw_status withdraw_locked(hw_job *job, hw_store *store, const char *id, const char *who)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_guest_known known = {0};
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(hw_guest_find(job, store, id, tmp.arena, &known));
    hw_seal_wipe(&known.keys, sizeof known.keys);
    if (known.is_withdrawn)
        return hw_fail(job, HW_CLASH, "worker %.64s was withdrawn already", known.name);
    HW_TRY(append(job, store, id, 2, &known, who));
    HW_TRY(hw_write_end(job, store));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_store_guest_withdraw(hw_job *job, hw_store *store, const char *id, const char *who)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, withdraw_locked(job, store, id, who));
}

// -- listing

static hw_status read_head(hw_job *job, hw_store *store, const char *id, int64_t version,
                           hw_arena *into, int64_t *at_ms, const char **who)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_entry entry = {0};
    HW_TRY(
        hw_entry_find(job, store, (hw_store_ref){HW_KIND_WORKER, id, version}, tmp.arena, &entry));
    HW_TRY(hw_entry_open_head(job, store, &entry, into, who));
    *at_ms = entry.at_ms;
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status describe(hw_job *job, hw_store *store, const char *id, hw_arena *into,
                          hw_store_guest *out)
{
    hw_guest_known known = {0};
    hw_store_guest guest = {.withdrawn_by = ""};
    HW_TRY(hw_guest_find(job, store, id, into, &known));
    memcpy(guest.id, id, sizeof guest.id);
    guest.name = known.name;
    HW_TRY(hw_clinic_line_write(job, store, id, &known.keys, into, &guest.line));
    HW_TRY(read_head(job, store, id, 1, into, &guest.added_ms, &guest.added_by));
    if (known.is_withdrawn)
        HW_TRY(read_head(job, store, id, 2, into, &guest.withdrawn_ms, &guest.withdrawn_by));
    hw_seal_wipe(&known, sizeof known);
    *out = guest;
    return HW_OK;
}

static hw_status list_locked(hw_job *job, hw_store *store, hw_arena *into, hw_store_guests *out)
{
    hw_store_guests guests = {0};
    const char *id = NULL;
    HW_TRY(hw_chain_refresh(job, store));
    for (int at = 0; hw_guest_next(store, &at, &id);) guests.count++;
    HW_ALLOC(job, into, guests.guests, guests.count + 1);
    for (int at = 0, i = 0; hw_guest_next(store, &at, &id); i++)
        HW_TRY(describe(job, store, id, into, &guests.guests[i]));
    *out = guests;
    return HW_OK;
}

hw_status hw_store_guest_list(hw_job *job, hw_store *store, hw_arena *into, hw_store_guests *out)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, list_locked(job, store, into, out));
}
