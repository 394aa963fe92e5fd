// SPDX-License-Identifier: GPL-3.0-or-later
// Files: sealed as a stream, its chunks rows of the table `chunk`, so that one transaction holds
// all and whoever reaches the database reaches the files. The entry keeps the file's key and the
// digest of its chunks; the name is a keyed hash of owner and contents, which tells nothing without
// the key.
#include "store/file_internal.h"

#include <stdlib.h>

static const char add_chunk[] = "INSERT INTO chunk (file, number, sealed) VALUES ($1, $2, $3)";
static const char read_chunks[] =
    "SELECT number, sealed FROM chunk WHERE file = $1 AND number >= $2"
    " ORDER BY number LIMIT $3";
enum { CHUNKS_AT_ONCE = 32 }; // 2 MB for one stay in the lock

/// A file sealed in memory, before the database is asked for anything.
typedef struct sealed_file {
    char id[HW_STORE_HASH];
    hw_file_facts facts;
    unsigned char *bytes; // all chunks one behind the other
    int64_t chunk_count;
} sealed_file;

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

int64_t hw_file_chunks(int64_t byte_count)
{
    return byte_count == 0 ? 1 : (byte_count + HW_SEAL_CHUNK - 1) / HW_SEAL_CHUNK;
}

static size_t chunk_bytes(int64_t byte_count, int64_t number)
{
    int64_t left = byte_count - number * HW_SEAL_CHUNK;
    return (size_t)(left > HW_SEAL_CHUNK ? HW_SEAL_CHUNK : left) + HW_SEAL_STREAM_MORE;
}

static hw_status seal_file(hw_job *job, const hw_store *store, hw_bytes bytes, sealed_file *out)
{
    char text[HW_FILE_IDENTITY];
    hw_bytes identity = hw_file_identity(store, out->id, text);
    hw_seal_stream stream;
    hw_seal_sum sum;
    out->facts.byte_count = (int64_t)bytes.count;
    out->chunk_count = hw_file_chunks(out->facts.byte_count);
    out->bytes = malloc(bytes.count + (size_t)out->chunk_count * HW_SEAL_STREAM_MORE);
    if (!out->bytes)
        return hw_fail(job, HW_NO_MEMORY, "no memory to seal a file of %zu MB", bytes.count >> 20);
    hw_seal_random(&out->facts.key, sizeof out->facts.key);
    hw_seal_stream_write(&stream, &out->facts.key, out->facts.header);
    hw_seal_sum_begin(&sum, &store->chain_key);
    unsigned char *to = out->bytes;
    for (int64_t i = 0; i < out->chunk_count; i++) {
        size_t size = chunk_bytes(out->facts.byte_count, i);
        hw_bytes plain = {bytes.at + i * HW_SEAL_CHUNK, size - HW_SEAL_STREAM_MORE};
        hw_seal_stream_put(&stream, identity, plain, i + 1 == out->chunk_count, to);
        hw_seal_sum_add(&sum, to, size);
        to += size;
    }
    hw_seal_sum_end(&sum, out->facts.digest);
    hw_seal_wipe(&stream, sizeof stream);
    return HW_OK;
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

static hw_status add_chunks(hw_job *job, hw_store *store, const sealed_file *sealed)
{
    const unsigned char *from = sealed->bytes;
    for (int64_t i = 0; i < sealed->chunk_count; i++) {
        size_t size = chunk_bytes(sealed->facts.byte_count, i);
        HW_TRY(hw_sql_run(job, store->sql,
                          HW_SQL(add_chunk, hw_sql_text(sealed->id), hw_sql_int(i),
                                 hw_sql_bytes((hw_bytes){from, size})),
                          NULL));
        from += size;
    }
    return HW_OK;
}

static hw_status write_locked(hw_job *job, hw_store *store, const hw_store_file *file,
                              const sealed_file *sealed)
{
    bool have_it = false;
    unsigned char facts[HW_FILE_FACTS];
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(check_owner(job, store, file));
    HW_TRY(is_there(job, store, sealed->id, &have_it)); // another process was faster
    if (have_it) return HW_OK;
    const hw_item *device = hw_index_find(&store->index, "device", owner_of(file));
    hw_entry entry = {.kind = HW_KIND_FILE, .id = sealed->id, .version = 1};
    entry.owner = owner_of(file);
    entry.person = device ? device->person : file->person ? file->person : "";
    hw_content content = {file->who, "", spell_facts(&sealed->facts, facts)};
    HW_TRY(add_chunks(job, store, sealed));
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
    sealed_file sealed = {0};
    bool have_it = false;
    if (file->bytes.count > HW_STORE_FILE_BYTES)
        return hw_fail(job, HW_BAD_INPUT, "the file has %zu MB; the limit is %d MB",
                       file->bytes.count >> 20, HW_STORE_FILE_BYTES >> 20);
    name_file(store, file, sealed.id);
    hw_store_enter(job, store);
    HW_TRY(hw_store_leave(job, store, look_locked(job, store, file, sealed.id, &have_it)));
    hw_status status = have_it ? HW_OK : seal_file(job, store, file->bytes, &sealed);
    if (!have_it && status == HW_OK) {
        hw_store_enter(job, store);
        status = hw_store_leave(job, store, write_locked(job, store, file, &sealed));
    }
    free(sealed.bytes);
    hw_seal_wipe(&sealed.facts, sizeof sealed.facts);
    if (status == HW_OK) memcpy(hash, sealed.id, sizeof sealed.id);
    return status;
}

hw_status hw_file_chunk_page(hw_job *job, hw_store *store, const char *id, int64_t first,
                             hw_arena *into, hw_sql_rows *out)
{
    return hw_sql_ask(
        job, store->sql,
        HW_SQL(read_chunks, hw_sql_text(id), hw_sql_int(first), hw_sql_int(CHUNKS_AT_ONCE)), into,
        out);
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

static hw_status open_page(hw_job *job, hw_seal_stream *stream, hw_bytes identity,
                           const hw_sql_rows *rows, hw_file_progress *at)
{
    for (int i = 0; i < rows->count; i++) {
        hw_bytes sealed = hw_sql_bytes_at(rows, i, 1);
        bool is_next = hw_sql_int_at(rows, i, 0) == at->chunk && sealed.count > 0 &&
                       at->chunk < hw_file_chunks(at->byte_count) &&
                       sealed.count == chunk_bytes(at->byte_count, at->chunk);
        if (!is_next)
            return hw_fail(job, HW_BAD_FORMAT, "chunk %lld of the file is missing or changed",
                           (long long)at->chunk);
        HW_TRY(
            hw_seal_stream_get(job, stream, identity, sealed, at->to + at->chunk * HW_SEAL_CHUNK));
        at->chunk++;
    }
    return HW_OK;
}

static hw_status open_chunks(hw_job *job, hw_store *store, const char *hash, hw_arena *into,
                             hw_file_progress *at)
{
    hw_seal_stream stream;
    char text[HW_FILE_IDENTITY];
    hw_bytes identity = hw_file_identity(store, hash, text);
    HW_TRY(hw_seal_stream_read(job, &stream, &at->facts->key, at->facts->header));
    while (!stream.is_ended) {
        hw_scratch tmp = hw_scratch_begin(job, into);
        hw_sql_rows rows = {0};
        hw_store_enter(job, store);
        HW_TRY(hw_store_leave(job, store,
                              hw_file_chunk_page(job, store, hash, at->chunk, tmp.arena, &rows)));
        if (rows.count == 0)
            return hw_fail(job, HW_BAD_FORMAT, "chunk %lld of the file is missing",
                           (long long)at->chunk);
        HW_TRY(open_page(job, &stream, identity, &rows, at));
        hw_scratch_end(tmp);
    }
    hw_seal_wipe(&stream, sizeof stream);
    if (at->chunk != hw_file_chunks(at->byte_count))
        return hw_fail(job, HW_BAD_FORMAT, "the file ends too early");
    return HW_OK;
}

hw_status hw_store_file_get(hw_job *job, hw_store *store, const char *hash, hw_arena *into,
                            hw_bytes *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_file_facts facts;
    hw_store_enter(job, store);
    HW_TRY(hw_store_leave(job, store, facts_locked(job, store, hash, tmp.arena, &facts)));
    hw_file_progress at = {.facts = &facts, .byte_count = facts.byte_count};
    HW_ALLOC(job, into, at.to, (size_t)facts.byte_count + 1);
    HW_TRY(open_chunks(job, store, hash, into, &at));
    *out = (hw_bytes){at.to, (size_t)at.byte_count};
    hw_seal_wipe(&facts, sizeof facts);
    hw_scratch_end(tmp);
    return HW_OK;
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
