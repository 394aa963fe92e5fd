// SPDX-License-Identifier: GPL-3.0-or-later
// Writing records.
#include "store/store_internal.h"
#include "json/json.h"

static const char *const ours[] = {HW_KIND_KEY,  HW_KIND_LOCK, HW_KIND_WORKER,
                                   HW_KIND_FILE, HW_KIND_JOB,  HW_KIND_ERASED};

bool hw_kind_is_ours(const char *kind)
{
    for (size_t i = 0; i < sizeof ours / sizeof ours[0]; i++)
        if (strcmp(ours[i], kind) == 0) return true;
    return false;
}

static bool is_kind(const char *kind)
{
    size_t length = kind ? strlen(kind) : 0;
    if (length == 0 || length >= HW_STORE_KIND || hw_kind_is_ours(kind)) return false;
    return strspn(kind, "abcdefghijklmnopqrstuvwxyz_") == length;
}

bool hw_id_is(const char *id)
{
    return strlen(id) == HW_STORE_ID - 1 && strspn(id, "0123456789abcdef") == HW_STORE_ID - 1;
}

// Kinds, ids and persons stand in the clear: nothing but random digits may get there.
static hw_status check_names(hw_job *job, const hw_store_write *write)
{
    if (!is_kind(write->kind))
        return hw_fail(job, HW_BAD_INPUT, "a kind of record is a word of 1 to %d letters a-z and _",
                       HW_STORE_KIND - 1);
    bool is_clinic = strcmp(write->kind, HW_STORE_CLINIC) == 0;
    if (write->id && !(is_clinic ? strcmp(write->id, HW_STORE_CLINIC) == 0 : hw_id_is(write->id)))
        return hw_fail(job, HW_BAD_INPUT, "the id of a %s has 16 digits 0-9 a-f", write->kind);
    if (write->person && write->person[0] && !hw_id_is(write->person))
        return hw_fail(job, HW_BAD_INPUT, "the id of a person has 16 digits 0-9 a-f");
    if (write->expected_version < 0 || (write->expected_version > 0 && !write->id))
        return hw_fail(job, HW_BAD_INPUT, "a new %s has no id and builds on version 0",
                       write->kind);
    return HW_OK;
}

static hw_status check_body(hw_job *job, hw_bytes body)
{
    if (body.count > HW_STORE_BODY_BYTES)
        return hw_fail(job, HW_BAD_INPUT, "a record has %zu bytes; the limit is %d", body.count,
                       HW_STORE_BODY_BYTES);
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    const hw_json *root = NULL;
    HW_TRY(hw_json_read(job, body, tmp.arena, &root));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_person_check(hw_job *job, hw_store *store, const char *person)
{
    hw_seal_key key;
    if (!person[0]) return HW_OK;
    if (hw_key_is_erased(store, person))
        return hw_fail(job, HW_NOT_FOUND, "this person was erased");
    if (hw_key_get(job, store, person, &key) == HW_NOT_FOUND)
        return hw_fail(job, HW_NOT_FOUND, "there is no person %.20s", person);
    hw_seal_wipe(&key, sizeof key);
    return HW_OK;
}

// The newest version, the transaction under way included; false when there is none.
static bool find_newest(const hw_store *store, const char *kind, const char *id, hw_entry *out)
{
    for (int i = store->pending_count - 1; i >= 0; i--)
        if (strcmp(store->pending[i].id, id) == 0 && strcmp(store->pending[i].kind, kind) == 0) {
            *out = store->pending[i];
            return true;
        }
    const hw_item *item = hw_index_find(&store->index, kind, id);
    if (!item) return false;
    *out = (hw_entry){.version = item->version, .person = item->person, .owner = item->owner};
    return true;
}

// Whose key seals a new record; made where the record begins an owner.
static hw_status begin_owner(hw_job *job, hw_store *store, const hw_store_write *write,
                             hw_entry *entry)
{
    bool is_person = strcmp(write->kind, "person") == 0;
    bool is_device = strcmp(write->kind, "device") == 0;
    entry->person = is_person ? entry->id : write->person ? write->person : "";
    entry->owner = is_person || is_device ? entry->id
                   : entry->person[0]     ? entry->person
                                          : HW_STORE_CLINIC;
    if (is_person && write->person && write->person[0] && strcmp(write->person, entry->id) != 0)
        return hw_fail(job, HW_BAD_INPUT, "a person's record belongs to another person");
    if (!is_person) HW_TRY(hw_person_check(job, store, entry->person));
    if (!is_person && !is_device) return HW_OK;
    if (hw_index_find(&store->index, HW_KIND_KEY, entry->id))
        return hw_fail(job, HW_BAD_INPUT, "this id is taken");
    return hw_key_make(job, store, entry->owner, write->who);
}

static hw_status continue_owner(hw_job *job, hw_store *store, const hw_store_write *write,
                                const hw_entry *newest, hw_entry *entry)
{
    if (write->person && write->person[0] && strcmp(write->person, newest->person) != 0)
        return hw_fail(job, HW_BAD_INPUT, "a %s cannot move to another person", write->kind);
    if (hw_key_is_erased(store, newest->owner))
        return hw_fail(job, HW_NOT_FOUND, "this person was erased");
    entry->person = newest->person;
    entry->owner = newest->owner;
    return HW_OK;
}

static hw_status append_one(hw_job *job, hw_store *store, const hw_store_write *write,
                            hw_entry *out)
{
    char id[HW_STORE_ID] = HW_STORE_CLINIC;
    if (!write->id && strcmp(write->kind, HW_STORE_CLINIC) != 0) hw_seal_id(id);
    hw_entry newest = {0};
    hw_entry entry = {.kind = write->kind, .id = write->id ? write->id : id};
    bool is_there = find_newest(store, entry.kind, entry.id, &newest);
    if (newest.version != write->expected_version)
        return hw_fail(job, HW_CLASH,
                       "this %s is at version %lld, not %lld: somebody changed it meanwhile",
                       write->kind, (long long)newest.version, (long long)write->expected_version);
    entry.version = newest.version + 1;
    if (is_there)
        HW_TRY(continue_owner(job, store, write, &newest, &entry));
    else
        HW_TRY(begin_owner(job, store, write, &entry));
    HW_TRY(hw_chain_append(job, store, &entry, &(hw_content){write->who, write->why, write->body}));
    *out = entry;
    return HW_OK;
}

static hw_status head_of(hw_job *job, const hw_entry *entry, const hw_store_write *write,
                         hw_arena *into, hw_store_head *out)
{
    *out = (hw_store_head){.version = entry->version, .change = entry->seq, .at_ms = entry->at_ms};
    HW_TRY(hw_text_copy(job, into, entry->kind, &out->kind));
    HW_TRY(hw_text_copy(job, into, entry->id, &out->id));
    HW_TRY(hw_text_copy(job, into, entry->person, &out->person));
    HW_TRY(hw_text_copy(job, into, write->who ? write->who : "", &out->who));
    return hw_text_copy(job, into, write->why ? write->why : "", &out->why);
}

hw_status hw_record_append(hw_job *job, hw_store *store, const hw_store_write *writes, int count,
                           hw_arena *into, hw_store_head *heads)
{
    for (int i = 0; i < count; i++) {
        hw_entry entry = {0};
        HW_TRY(append_one(job, store, &writes[i], &entry));
        HW_TRY(head_of(job, &entry, &writes[i], into, &heads[i]));
    }
    return HW_OK;
}

hw_status hw_record_check(hw_job *job, const hw_store_write *writes, int count)
{
    if (count < 0 || count > HW_STORE_WRITES_MAX)
        return hw_fail(job, HW_BAD_INPUT, "%d records at once; the limit is %d", count,
                       HW_STORE_WRITES_MAX);
    for (int i = 0; i < count; i++) {
        HW_TRY(check_names(job, &writes[i]));
        HW_TRY(check_body(job, writes[i].body));
    }
    return HW_OK;
}

static hw_status put_locked(hw_job *job, hw_store *store, const hw_store_write *writes, int count,
                            hw_arena *into, hw_store_head *heads)
{
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(hw_record_append(job, store, writes, count, into, heads));
    return hw_write_end(job, store);
}

hw_status hw_store_put(hw_job *job, hw_store *store, const hw_store_write *writes, int count,
                       hw_arena *into, hw_store_head *heads)
{
    HW_TRY(hw_record_check(job, writes, count));
    if (count == 0) return HW_OK;
    hw_store_enter(job, store);
    return hw_store_leave(job, store, put_locked(job, store, writes, count, into, heads));
}
