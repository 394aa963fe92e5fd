// SPDX-License-Identifier: GPL-3.0-or-later
// Streams of sealed chunks in the tables `chunk` and `parcel`.
#include "store/file_internal.h"

#include <stdlib.h>

static const char add_file[] = "INSERT INTO chunk (file, number, sealed) VALUES ($1, $2, $3)";
static const char add_parcel[] = "INSERT INTO parcel (job, number, sealed) VALUES ($1, $2, $3)";
static const char read_file[] =
    "SELECT number, sealed FROM chunk WHERE file = $1 AND number >= $2 ORDER BY number LIMIT $3";
static const char read_parcel[] =
    "SELECT number, sealed FROM parcel WHERE job = $1 AND number >= $2 ORDER BY number LIMIT $3";
enum { CHUNKS_AT_ONCE = 32 }; // 2 MB for one stay in the lock

int64_t hw_chunk_count(int64_t byte_count)
{
    return byte_count == 0 ? 1 : (byte_count + HW_SEAL_CHUNK - 1) / HW_SEAL_CHUNK;
}

static size_t chunk_bytes(int64_t byte_count, int64_t number)
{
    int64_t left = byte_count - number * HW_SEAL_CHUNK;
    return (size_t)(left > HW_SEAL_CHUNK ? HW_SEAL_CHUNK : left) + HW_SEAL_STREAM_MORE;
}

hw_status hw_chunks_seal(hw_job *job, const hw_seal_key *sum_key, hw_bytes identity, hw_bytes bytes,
                         hw_sealed *out)
{
    hw_seal_stream stream;
    hw_seal_sum sum;
    hw_file_facts *facts = &out->facts;
    facts->byte_count = (int64_t)bytes.count;
    out->chunk_count = hw_chunk_count(facts->byte_count);
    out->bytes = malloc(bytes.count + (size_t)out->chunk_count * HW_SEAL_STREAM_MORE);
    if (!out->bytes)
        return hw_fail(job, HW_NO_MEMORY, "no memory to seal a file of %zu MB", bytes.count >> 20);
    hw_seal_random(&facts->key, sizeof facts->key);
    hw_seal_stream_write(&stream, &facts->key, facts->header);
    hw_seal_key own = hw_seal_derive(&facts->key, "heelwright chunks");
    hw_seal_sum_begin(&sum, sum_key ? sum_key : &own);
    unsigned char *to = out->bytes;
    for (int64_t i = 0; i < out->chunk_count; i++) {
        size_t size = chunk_bytes(facts->byte_count, i);
        hw_bytes plain = {bytes.at + i * HW_SEAL_CHUNK, size - HW_SEAL_STREAM_MORE};
        hw_seal_stream_put(&stream, identity, plain, i + 1 == out->chunk_count, to);
        hw_seal_sum_add(&sum, to, size);
        to += size;
    }
    hw_seal_sum_end(&sum, facts->digest);
    hw_seal_wipe(&stream, sizeof stream);
    return HW_OK;
}

hw_status hw_chunks_add(hw_job *job, hw_store *store, const hw_chunks *of, const hw_sealed *sealed)
{
    const unsigned char *from = sealed->bytes;
    for (int64_t i = 0; i < sealed->chunk_count; i++) {
        size_t size = chunk_bytes(sealed->facts.byte_count, i);
        HW_TRY(hw_sql_run(job, store->sql,
                          HW_SQL(of->is_parcel ? add_parcel : add_file, hw_sql_text(of->id),
                                 hw_sql_int(i), hw_sql_bytes((hw_bytes){from, size})),
                          NULL));
        from += size;
    }
    return HW_OK;
}

static hw_status read_page(hw_job *job, hw_store *store, const hw_chunks *of, int64_t first,
                           hw_arena *into, hw_sql_rows *out)
{
    return hw_sql_ask(job, store->sql,
                      HW_SQL(of->is_parcel ? read_parcel : read_file, hw_sql_text(of->id),
                             hw_sql_int(first), hw_sql_int(CHUNKS_AT_ONCE)),
                      into, out);
}

/// Chunks being opened.
typedef struct opening {
    hw_seal_stream stream;
    unsigned char *to;
    int64_t chunk; // the next one
    int64_t byte_count;
} opening;

static hw_status open_page(hw_job *job, hw_bytes identity, const hw_sql_rows *rows, opening *at)
{
    for (int i = 0; i < rows->count; i++) {
        hw_bytes sealed = hw_sql_bytes_at(rows, i, 1);
        bool is_next = hw_sql_int_at(rows, i, 0) == at->chunk && sealed.count > 0 &&
                       at->chunk < hw_chunk_count(at->byte_count) &&
                       sealed.count == chunk_bytes(at->byte_count, at->chunk);
        if (!is_next)
            return hw_fail(job, HW_BAD_FORMAT, "chunk %lld of the file is missing or changed",
                           (long long)at->chunk);
        HW_TRY(hw_seal_stream_get(job, &at->stream, identity, sealed,
                                  at->to + at->chunk * HW_SEAL_CHUNK));
        at->chunk++;
    }
    return HW_OK;
}

static hw_status open_all(hw_job *job, hw_store *store, const hw_chunks *of, hw_arena *into,
                          opening *at)
{
    while (!at->stream.is_ended) {
        hw_scratch tmp = hw_scratch_begin(job, into);
        hw_sql_rows rows = {0};
        hw_store_enter(job, store);
        HW_TRY(hw_store_leave(job, store, read_page(job, store, of, at->chunk, tmp.arena, &rows)));
        if (rows.count == 0)
            return hw_fail(job, HW_BAD_FORMAT, "chunk %lld of the file is missing",
                           (long long)at->chunk);
        HW_TRY(open_page(job, of->identity, &rows, at));
        hw_scratch_end(tmp);
    }
    if (at->chunk != hw_chunk_count(at->byte_count))
        return hw_fail(job, HW_BAD_FORMAT, "the file ends too early");
    return HW_OK;
}

hw_status hw_chunks_open(hw_job *job, hw_store *store, const hw_chunks *of,
                         const hw_file_facts *facts, hw_arena *into, hw_bytes *out)
{
    opening at = {.byte_count = facts->byte_count};
    HW_ALLOC(job, into, at.to, (size_t)facts->byte_count + 1);
    HW_TRY(hw_seal_stream_read(job, &at.stream, &facts->key, facts->header));
    hw_status status = open_all(job, store, of, into, &at);
    hw_seal_wipe(&at.stream, sizeof at.stream);
    HW_TRY(status);
    *out = (hw_bytes){at.to, (size_t)at.byte_count};
    return HW_OK;
}

// A gap in the numbers changes the digest.
hw_status hw_chunks_sum(hw_job *job, hw_store *store, const hw_chunks *of,
                        const hw_seal_key *sum_key, unsigned char digest[HW_SEAL_HASH],
                        int64_t *count)
{
    hw_seal_sum sum;
    hw_sql_rows rows = {0};
    int64_t next = 0;
    hw_seal_sum_begin(&sum, sum_key);
    *count = 0;
    do {
        hw_scratch tmp = hw_scratch_begin(job, NULL);
        HW_TRY(read_page(job, store, of, next, tmp.arena, &rows));
        for (int i = 0; i < rows.count; i++) {
            hw_bytes sealed = hw_sql_bytes_at(&rows, i, 1);
            int64_t number = hw_sql_int_at(&rows, i, 0);
            hw_seal_sum_add(&sum, sealed.at, number == next ? sealed.count : 0);
            next = number + 1;
        }
        *count += rows.count;
        hw_scratch_end(tmp);
    } while (rows.count > 0);
    hw_seal_sum_end(&sum, digest);
    return HW_OK;
}
