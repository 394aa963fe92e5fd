// SPDX-License-Identifier: GPL-3.0-or-later
// Files: sealed as a stream, its chunks rows of the table `chunk`, so that one transaction holds
// all and whoever reaches the database reaches the files. The entry keeps the file's key and the
// digest of its chunks; the name is a keyed hash of owner and contents, which tells nothing without
// the key.
#include "store/file_internal.h"

#include <stdlib.h>

static const char *owner_of(const hw_store_file *file)
{
    if (file->device && file->device[0]) return file->device;
    return file->person && file->person[0] ? file->person : HW_STORE_CLINIC;
}

static void name_file(const hw_store *store, const hw_store_file *file, char id[HW_STORE_HASH])
{
    unsigned char hash[HW_SEAL_HASH];
    hw_bytes parts[] = {hw_bytes_of(owner_of(file)), file->bytes};
    hw_seal_hash(&store->name_key, parts, 2, hash);
    hw_seal_hex(hash, sizeof hash, id);
}

hw_bytes hw_file_identity(const hw_store *store, const char *id, char text[HW_FILE_IDENTITY])
{
    snprintf(text, HW_FILE_IDENTITY, "file|%s|%s", store->store_id, id);
    return hw_bytes_of(text);
}

static hw_bytes spell_facts(const hw_file_facts *facts, unsigned char at[HW_FILE_FACTS])
{
    memcpy(at, facts->key.bytes, HW_SEAL_KEY);
    memcpy(at + HW_SEAL_KEY, facts->header, HW_SEAL_STREAM_HEADER);
    memcpy(at + HW_SEAL_KEY + HW_SEAL_STREAM_HEADER, facts->digest, HW_SEAL_HASH);
    for (int i = 0; i < 8; i++)
        at[HW_FILE_FACTS - 8 + i] = (unsigned char)((uint64_t)facts->byte_count >> 8 * i);
    return (hw_bytes){at, HW_FILE_FACTS};
}

hw_status hw_file_facts_of(hw_job *job, hw_store *store, const hw_entry *entry, hw_file_facts *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_content content;
    HW_TRY(hw_entry_open_body(job, store, entry, tmp.arena, &content));
    const unsigned char *at = content.body.at;
    if (content.body.count != HW_FILE_FACTS)
        return hw_fail(job, HW_BAD_FORMAT, "what is known of file %.16s is cut short", entry->id);
    memcpy(out->key.bytes, at, HW_SEAL_KEY);
    memcpy(out->header, at + HW_SEAL_KEY, HW_SEAL_STREAM_HEADER);
    memcpy(out->digest, at + HW_SEAL_KEY + HW_SEAL_STREAM_HEADER, HW_SEAL_HASH);
    uint64_t count = 0;
    for (int i = 7; i >= 0; i--) count = count << 8 | at[HW_FILE_FACTS - 8 + i];
    out->byte_count = (int64_t)count;
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status is_there(hw_job *job, hw_store *store, const char *id, bool *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_entry entry = {0};
    hw_status status =
        hw_entry_find(job, store, (hw_store_ref){HW_KIND_FILE, id, 1}, tmp.arena, &entry);
    hw_scratch_end(tmp);
    *out = status == HW_OK;
    return status == HW_NOT_FOUND ? HW_OK : status;
}

static hw_status check_owner(hw_job *job, hw_store *store, const hw_store_file *file)
{
    const char *person = file->person ? file->person : "";
    HW_TRY(hw_chain_refresh(job, store));
    if (!file->device || !file->device[0]) return hw_person_check(job, store, person);
    const hw_item *device = hw_index_find(&store->index, "device", file->device);
    if (!device) return hw_fail(job, HW_NOT_FOUND, "there is no device %.20s", file->device);
    if (person[0] && strcmp(person, device->person) != 0)
        return hw_fail(job, HW_BAD_INPUT, "this device is another person's");
    return HW_OK;
}

static hw_status write_locked(hw_job *job, hw_store *store, const hw_store_file *file,
                              const hw_chunks *of, const hw_sealed *sealed)
{
    bool have_it = false;
    unsigned char facts[HW_FILE_FACTS];
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(check_owner(job, store, file));
    HW_TRY(is_there(job, store, of->id, &have_it)); // another process was faster
    if (have_it) return HW_OK;
    const hw_item *device = hw_index_find(&store->index, "device", owner_of(file));
    hw_entry entry = {.kind = HW_KIND_FILE, .id = of->id, .version = 1};
    entry.owner = owner_of(file);
    entry.person = device ? device->person : file->person ? file->person : "";
    hw_content content = {file->who, "", spell_facts(&sealed->facts, facts)};
    HW_TRY(hw_chunks_add(job, store, of, sealed));
    HW_TRY(hw_chain_append(job, store, &entry, &content));
    hw_seal_wipe(facts, sizeof facts);
    return hw_write_end(job, store);
}

static hw_status look_locked(hw_job *job, hw_store *store, const hw_store_file *file,
                             const char *id, bool *have_it)
{
    HW_TRY(check_owner(job, store, file));
    return is_there(job, store, id, have_it);
}

// Hashing and sealing need no lock; the database is asked before and after.
hw_status hw_store_file_put(hw_job *job, hw_store *store, const hw_store_file *file,
                            char hash[HW_STORE_HASH])
{
    char id[HW_STORE_HASH], text[HW_FILE_IDENTITY];
    hw_sealed sealed = {0};
    bool have_it = false;
    if (file->bytes.count > HW_STORE_FILE_BYTES)
        return hw_fail(job, HW_BAD_INPUT, "the file has %zu MB; the limit is %d MB",
                       file->bytes.count >> 20, HW_STORE_FILE_BYTES >> 20);
    name_file(store, file, id);
    hw_chunks of = {.id = id, .identity = hw_file_identity(store, id, text)};
    hw_store_enter(job, store);
    HW_TRY(hw_store_leave(job, store, look_locked(job, store, file, id, &have_it)));
    hw_status status = HW_OK;
    if (!have_it)
        status = hw_chunks_seal(job, &store->chain_key, of.identity, file->bytes, &sealed);
    if (!have_it && status == HW_OK) {
        hw_store_enter(job, store);
        status = hw_store_leave(job, store, write_locked(job, store, file, &of, &sealed));
    }
    free(sealed.bytes);
    hw_seal_wipe(&sealed.facts, sizeof sealed.facts);
    if (status == HW_OK) memcpy(hash, id, sizeof id);
    return status;
}

static hw_status find_locked(hw_job *job, hw_store *store, const char *hash, hw_arena *scratch,
                             hw_entry *entry)
{
    HW_TRY(hw_chain_refresh(job, store));
    hw_store_ref ref = {HW_KIND_FILE, hash, 1};
    if (hw_entry_find(job, store, ref, scratch, entry) == HW_NOT_FOUND)
        return hw_fail(job, HW_NOT_FOUND, "there is no file %.16s", hash);
    if (hw_key_is_erased(store, entry->owner))
        return hw_fail(job, HW_NOT_FOUND, "this person was erased");
    return HW_OK;
}

static hw_status facts_locked(hw_job *job, hw_store *store, const char *hash, hw_arena *scratch,
                              hw_file_facts *facts)
{
    hw_entry entry = {0};
    HW_TRY(find_locked(job, store, hash, scratch, &entry));
    return hw_file_facts_of(job, store, &entry, facts);
}

static hw_status open_file(hw_job *job, hw_store *store, const char *hash,
                           const hw_file_facts *facts, hw_arena *into, hw_bytes *out)
{
    char text[HW_FILE_IDENTITY];
    hw_chunks of = {.id = hash, .identity = hw_file_identity(store, hash, text)};
    return hw_chunks_open(job, store, &of, facts, into, out);
}

hw_status hw_store_file_get(hw_job *job, hw_store *store, const char *hash, hw_arena *into,
                            hw_bytes *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_file_facts facts;
    hw_store_enter(job, store);
    HW_TRY(hw_store_leave(job, store, facts_locked(job, store, hash, tmp.arena, &facts)));
    hw_scratch_end(tmp);
    hw_status status = open_file(job, store, hash, &facts, into, out);
    hw_seal_wipe(&facts, sizeof facts);
    return status;
}

// -- for a guest, who cannot read the file's entry

hw_status hw_file_pass(hw_job *job, hw_store *store, const char *hash, const char *person,
                       unsigned char pass[HW_FILE_PASS])
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_entry entry = {0};
    hw_file_facts facts;
    HW_TRY(find_locked(job, store, hash, tmp.arena, &entry));
    if (strcmp(entry.person, person) != 0 || !hw_seal_unhex(entry.id, pass, HW_SEAL_HASH))
        return hw_fail(job, HW_BAD_INPUT, "file %.16s is not this person's", hash);
    HW_TRY(hw_file_facts_of(job, store, &entry, &facts));
    memcpy(pass + HW_SEAL_HASH, facts.key.bytes, HW_SEAL_KEY);
    memcpy(pass + HW_SEAL_HASH + HW_SEAL_KEY, facts.header, HW_SEAL_STREAM_HEADER);
    for (int i = 0; i < 8; i++)
        pass[HW_FILE_PASS - 8 + i] = (unsigned char)((uint64_t)facts.byte_count >> 8 * i);
    hw_seal_wipe(&facts, sizeof facts);
    hw_scratch_end(tmp);
    return HW_OK;
}

static bool read_pass(const unsigned char *pass, const char *hash, hw_file_facts *facts)
{
    char hex[HW_STORE_HASH];
    uint64_t count = 0;
    hw_seal_hex(pass, HW_SEAL_HASH, hex);
    if (strcmp(hex, hash) != 0) return false;
    memcpy(facts->key.bytes, pass + HW_SEAL_HASH, HW_SEAL_KEY);
    memcpy(facts->header, pass + HW_SEAL_HASH + HW_SEAL_KEY, HW_SEAL_STREAM_HEADER);
    for (int i = 7; i >= 0; i--) count = count << 8 | pass[HW_FILE_PASS - 8 + i];
    facts->byte_count = (int64_t)count;
    return count <= HW_STORE_FILE_BYTES;
}

hw_status hw_file_by_pass(hw_job *job, hw_store *store, hw_bytes passes, const char *hash,
                          hw_arena *into, hw_bytes *out)
{
    for (size_t at = 0; at + HW_FILE_PASS <= passes.count; at += HW_FILE_PASS) {
        hw_file_facts facts = {0};
        if (!read_pass(passes.at + at, hash, &facts)) continue;
        hw_status status = open_file(job, store, hash, &facts, into, out);
        hw_seal_wipe(&facts, sizeof facts);
        return status;
    }
    return hw_fail(job, HW_BAD_INPUT, "this job may not read file %.16s", hash);
}

static hw_status owner_locked(hw_job *job, hw_store *store, const char *hash, hw_arena *into,
                              hw_store_head *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_entry entry = {0};
    hw_store_row row;
    HW_TRY(find_locked(job, store, hash, tmp.arena, &entry));
    HW_TRY(hw_record_row(job, store, &entry, false, into, &row));
    hw_scratch_end(tmp);
    *out = row.head;
    return HW_OK;
}

hw_status hw_store_file_owner(hw_job *job, hw_store *store, const char *hash, hw_arena *into,
                              hw_store_head *out)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, owner_locked(job, store, hash, into, out));
}
