// SPDX-License-Identifier: GPL-3.0-or-later
// What a guest makes of a job. Its files, one behind the other, are chunks in the table `parcel`
// (of a failure one empty chunk).
// The list of them stands in the job's column `result`: the guest's id, then JSON sealed by what
// this guest shares with the clinic, so that no other guest of the same job can have written it.
#include "store/file_internal.h"
#include "store/guest_internal.h"
#include "store/job_internal.h"
#include "json/json.h"

#include <stdlib.h>

static const char remove_chunks[] = "DELETE FROM parcel WHERE job = $1";
enum { HEX = 2 * HW_SEAL_KEY + 1, NAME_MAX_BYTES = 63 };

hw_status hw_parcel_remove(hw_job *job, hw_store *store, const char *id)
{
    return hw_sql_run(job, store->sql, HW_SQL(remove_chunks, hw_sql_text(id)), NULL);
}

static bool is_name(const char *name)
{
    size_t length = strlen(name);
    return length > 0 && length <= NAME_MAX_BYTES && name[0] != '.' &&
           strspn(name, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-") ==
               length;
}

// Bound to store, job, guest and try: a list of another delivery does not open.
static hw_status identity_of(hw_job *job, const hw_store *store, const hw_task_row *row,
                             const char *guest, hw_arena *into, hw_bytes *out)
{
    const char *text = NULL;
    HW_TRY(hw_text_format(job, into, &text, "parcel|%s|%s|%s|%lld", store->store_id, row->id, guest,
                          (long long)row->tries));
    *out = hw_bytes_of(text);
    return HW_OK;
}

static hw_status chunks_of(hw_job *job, const hw_store *store, const char *id, hw_arena *into,
                           hw_chunks *out)
{
    const char *text = NULL;
    HW_TRY(hw_text_format(job, into, &text, "parcel|%s|%s", store->store_id, id));
    *out = (hw_chunks){.is_parcel = true, .id = id, .identity = hw_bytes_of(text)};
    return HW_OK;
}

// -- the guest delivers

static hw_status check_parcel(hw_job *job, const hw_store_parcel *parcel, size_t *byte_count)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    const hw_json *root = NULL;
    *byte_count = 0;
    if (parcel->failed) return HW_OK;
    HW_TRY(hw_json_read(job, parcel->about, tmp.arena, &root));
    hw_scratch_end(tmp);
    if (parcel->count < 0 || parcel->count > HW_STORE_PIECES_MAX)
        return hw_fail(job, HW_BAD_INPUT, "a parcel has %d files; the limit is %d", parcel->count,
                       HW_STORE_PIECES_MAX);
    for (int i = 0; i < parcel->count; i++) {
        if (!is_name(parcel->pieces[i].name))
            return hw_fail(job, HW_BAD_INPUT, "a file of a parcel cannot be named '%.70s'",
                           parcel->pieces[i].name);
        *byte_count += parcel->pieces[i].bytes.count;
    }
    if (*byte_count <= HW_STORE_FILE_BYTES) return HW_OK;
    return hw_fail(job, HW_BAD_INPUT, "a parcel has %zu MB; the limit is %d MB", *byte_count >> 20,
                   HW_STORE_FILE_BYTES >> 20);
}

static void write_hex(hw_json_out *json, const char *key, const unsigned char *bytes, size_t count)
{
    char hex[HEX];
    hw_seal_hex(bytes, count, hex);
    hw_json_text(json, key, hex);
}

static hw_status write_list(hw_job *job, const hw_store_parcel *parcel, const hw_file_facts *facts,
                            hw_arena *into, hw_bytes *out)
{
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    write_hex(&json, "key", facts->key.bytes, HW_SEAL_KEY);
    write_hex(&json, "header", facts->header, HW_SEAL_STREAM_HEADER);
    write_hex(&json, "digest", facts->digest, HW_SEAL_HASH);
    if (parcel->failed) hw_json_text(&json, "failed", parcel->failed);
    if (!parcel->failed) hw_json_raw(&json, "about", parcel->about);
    hw_json_open(&json, "files", '[');
    for (int i = 0; i < parcel->count && !parcel->failed; i++) {
        hw_json_open(&json, NULL, '{');
        hw_json_text(&json, "name", parcel->pieces[i].name);
        hw_json_int(&json, "bytes", (long)parcel->pieces[i].bytes.count);
        hw_json_close(&json);
    }
    hw_json_close(&json);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}

static hw_status seal_list(hw_job *job, const hw_guest *guest, const hw_task_row *row,
                           hw_bytes list, hw_arena *into, hw_bytes *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    unsigned char mark[HW_GUEST_MARK];
    hw_bytes identity, sealed;
    HW_ASSERT(hw_seal_unhex(guest->id, mark, sizeof mark));
    HW_TRY(identity_of(job, guest->store, row, guest->id, tmp.arena, &identity));
    HW_TRY(hw_seal_close(job, &guest->keys.parcels, identity, list, tmp.arena, &sealed));
    hw_writer writer = hw_writer_begin(into);
    hw_writer_bytes(&writer, mark, sizeof mark);
    hw_writer_bytes(&writer, sealed.at, sealed.count);
    HW_TRY(hw_writer_end(job, &writer, out));
    hw_scratch_end(tmp);
    return HW_OK;
}

// Chunks and list in one transaction; from then on the row is the clinic's to end.
static hw_status deliver_locked(hw_job *job, hw_guest *guest, const hw_store_claim *claim,
                                const hw_sealed *sealed, hw_bytes list)
{
    hw_store *store = guest->store;
    hw_task_row row = {0};
    hw_chunks of;
    HW_TRY(hw_sql_begin(job, store->sql, HW_SQL_QUEUE));
    HW_TRY(hw_task_held(job, store, claim, &row));
    row.lease_ms = 0;
    bool is_unwanted = row.is_cancel_asked != 0;
    if (!is_unwanted) {
        HW_TRY(chunks_of(job, store, row.id, store->pending_into, &of));
        HW_TRY(hw_chunks_add(job, store, &of, sealed));
        HW_TRY(seal_list(job, guest, &row, list, store->pending_into, &row.result));
        HW_TRY(hw_task_say(job, store, &row, 0.95, HW_TASK_TO_BE_KEPT));
    }
    HW_TRY(hw_task_row_change(job, store, &row));
    HW_TRY(hw_sql_commit(job, store->sql));
    if (is_unwanted) return hw_fail(job, HW_CANCELLED, "job %.20s was cancelled", claim->id);
    return HW_OK;
}

static hw_status seal_pieces(hw_job *job, const hw_guest *guest, const char *id,
                             const hw_store_parcel *parcel, size_t byte_count, hw_arena *scratch,
                             hw_sealed *out)
{
    unsigned char *all = NULL, *to = NULL;
    hw_chunks of;
    HW_ALLOC(job, scratch, all, byte_count + 1);
    to = all;
    for (int i = 0; i < parcel->count && !parcel->failed; i++) {
        hw_bytes bytes = parcel->pieces[i].bytes;
        if (bytes.count) memcpy(to, bytes.at, bytes.count);
        to += bytes.count;
    }
    HW_TRY(chunks_of(job, guest->store, id, scratch, &of));
    return hw_chunks_seal(job, NULL, of.identity, (hw_bytes){all, byte_count}, out);
}

static hw_status seal_and_deliver(hw_job *job, hw_guest *guest, const hw_store_claim *claim,
                                  const hw_store_parcel *parcel, size_t byte_count,
                                  hw_sealed *sealed)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes list;
    HW_TRY(seal_pieces(job, guest, claim->id, parcel, byte_count, tmp.arena, sealed));
    HW_TRY(write_list(job, parcel, &sealed->facts, tmp.arena, &list));
    hw_store_enter(job, guest->store);
    HW_TRY(hw_store_leave(job, guest->store, deliver_locked(job, guest, claim, sealed, list)));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_guest_deliver(hw_job *job, hw_guest *guest, const hw_store_claim *claim,
                           const hw_store_parcel *parcel)
{
    hw_sealed sealed = {0};
    size_t byte_count = 0;
    HW_TRY(check_parcel(job, parcel, &byte_count));
    hw_status status = seal_and_deliver(job, guest, claim, parcel, byte_count, &sealed);
    free(sealed.bytes);
    hw_seal_wipe(&sealed, sizeof sealed);
    return status;
}

// -- the clinic opens

/// A delivery as its list tells it; the pieces have sizes, no bytes yet.
typedef struct listed {
    hw_store_parcel parcel;
    hw_file_facts facts;
    bool is_withdrawn;
} listed;

static bool read_hex(const hw_json *root, const char *key, unsigned char *bytes, size_t count)
{
    const hw_json *text = hw_json_get(root, key);
    return text && text->kind == HW_JSON_TEXT && hw_seal_unhex(text->text, bytes, count);
}

static bool read_pieces(const hw_json *files, listed *out)
{
    for (int i = 0; i < files->count; i++) {
        const hw_json *name = hw_json_get(&files->items[i], "name");
        const hw_json *bytes = hw_json_get(&files->items[i], "bytes");
        bool is_piece = name && name->kind == HW_JSON_TEXT && is_name(name->text) && bytes &&
                        bytes->kind == HW_JSON_NUMBER && bytes->number >= 0 &&
                        bytes->number <= HW_STORE_FILE_BYTES;
        if (!is_piece) return false;
        for (int j = 0; j < i; j++)
            if (strcmp(out->parcel.pieces[j].name, name->text) == 0) return false;
        out->parcel.pieces[i].name = name->text;
        out->parcel.pieces[i].bytes.count = (size_t)bytes->number;
        out->facts.byte_count += (int64_t)bytes->number;
    }
    return out->facts.byte_count <= HW_STORE_FILE_BYTES;
}

// The guest's words are believed no further than they are checked here.
static hw_status read_list(hw_job *job, hw_bytes text, hw_arena *into, listed *out)
{
    const hw_json *root = NULL;
    HW_TRY(hw_json_read(job, text, into, &root));
    const hw_json *failed = hw_json_get(root, "failed"), *files = hw_json_get(root, "files");
    const hw_json *about = hw_json_get(root, "about");
    bool is_whole = files && files->kind == HW_JSON_LIST && files->count <= HW_STORE_PIECES_MAX &&
                    read_hex(root, "key", out->facts.key.bytes, HW_SEAL_KEY) &&
                    read_hex(root, "header", out->facts.header, HW_SEAL_STREAM_HEADER) &&
                    read_hex(root, "digest", out->facts.digest, HW_SEAL_HASH);
    if (is_whole) {
        HW_ALLOC(job, into, out->parcel.pieces, files->count + 1);
        out->parcel.count = files->count;
        is_whole = read_pieces(files, out);
    }
    if (failed && failed->kind == HW_JSON_TEXT) out->parcel.failed = failed->text;
    if (!is_whole || (!out->parcel.failed && !about))
        return hw_fail(job, HW_BAD_FORMAT, "the list of a parcel is none");
    if (!about) return HW_OK;
    hw_json_out json = hw_json_begin(into);
    hw_json_tree(&json, NULL, about);
    return hw_json_end(job, &json, &out->parcel.about);
}

static hw_status open_list(hw_job *job, hw_store *store, const hw_task_row *row, hw_arena *into,
                           listed *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    char guest[HW_STORE_ID];
    hw_guest_known known = {0};
    hw_bytes identity, text;
    if (row->result.count <= HW_GUEST_MARK)
        return hw_fail(job, HW_BAD_FORMAT, "the list of a parcel is cut short");
    hw_seal_hex(row->result.at, HW_GUEST_MARK, guest);
    hw_status status = hw_guest_find(job, store, guest, into, &known);
    if (status == HW_NOT_FOUND) return hw_fail(job, HW_BAD_FORMAT, "a parcel of nobody we know");
    HW_TRY(status);
    HW_TRY(identity_of(job, store, row, guest, tmp.arena, &identity));
    hw_bytes sealed = {row->result.at + HW_GUEST_MARK, row->result.count - HW_GUEST_MARK};
    status = hw_seal_open(job, &known.keys.parcels, identity, sealed, into, &text);
    hw_seal_wipe(&known.keys, sizeof known.keys);
    HW_TRY(status);
    HW_TRY(read_list(job, text, into, out));
    out->parcel.guest = known.name;
    out->is_withdrawn = known.is_withdrawn;
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status list_locked(hw_job *job, hw_store *store, const hw_store_claim *claim,
                             hw_arena *into, listed *out)
{
    hw_task_row row = {0};
    HW_TRY(hw_chain_refresh(job, store));
    HW_TRY(hw_task_row_get(job, store, claim->id, false, store->pending_into, &row));
    if (!hw_task_is_delivered(&row) || strcmp(row.worker, claim->worker) != 0)
        return hw_fail(job, HW_CLASH, "job %.20s is no longer held by this worker", claim->id);
    HW_TRY(open_list(job, store, &row, into, out));
    if (!out->is_withdrawn) return HW_OK;
    return hw_fail(job, HW_NO_ACCESS, "worker %.64s, who delivered this, was withdrawn",
                   out->parcel.guest);
}

hw_status hw_store_job_parcel(hw_job *job, hw_store *store, const hw_store_claim *claim,
                              hw_arena *into, hw_store_parcel *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    listed list = {0};
    hw_chunks of;
    hw_bytes all = {0};
    hw_store_enter(job, store);
    HW_TRY(hw_store_leave(job, store, list_locked(job, store, claim, into, &list)));
    HW_TRY(chunks_of(job, store, claim->id, tmp.arena, &of));
    HW_TRY(hw_chunks_open(job, store, &of, &list.facts, into, &all));
    size_t at = 0;
    for (int i = 0; i < list.parcel.count; at += list.parcel.pieces[i++].bytes.count)
        list.parcel.pieces[i].bytes.at = all.at + at;
    hw_seal_wipe(&list.facts, sizeof list.facts);
    hw_scratch_end(tmp);
    *out = list.parcel;
    return HW_OK;
}

hw_status hw_parcel_check(hw_job *job, hw_store *store, const hw_task_row *row)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    listed list = {0};
    unsigned char digest[HW_SEAL_HASH];
    hw_chunks of = {.is_parcel = true, .id = row->id};
    int64_t count = 0;
    HW_TRY(open_list(job, store, row, tmp.arena, &list));
    hw_seal_key own = hw_seal_derive(&list.facts.key, "heelwright chunks");
    HW_TRY(hw_chunks_sum(job, store, &of, &own, digest, &count));
    hw_scratch_end(tmp);
    bool is_whole = count == hw_chunk_count(list.facts.byte_count) &&
                    hw_seal_same(digest, list.facts.digest, sizeof digest);
    if (is_whole) return HW_OK;
    return hw_fail(job, HW_BAD_FORMAT, "the parcel of job %.20s is not whole", row->id);
}

static hw_status refuse_locked(hw_job *job, hw_store *store, const hw_store_claim *claim,
                               const char *sentence)
{
    hw_task_row row = {0};
    HW_TRY(hw_sql_begin(job, store->sql, HW_SQL_QUEUE));
    HW_TRY(hw_task_held(job, store, claim, &row));
    HW_TRY(hw_parcel_remove(job, store, row.id));
    row.result = (hw_bytes){0};
    row.lease_ms = 0; // lapsed, so that the next one who looks takes it
    row.worker = "";  // and this claim holds it no longer
    HW_TRY(hw_task_say(job, store, &row, 0.0, sentence));
    HW_TRY(hw_task_row_change(job, store, &row));
    return hw_sql_commit(job, store->sql);
}

hw_status hw_store_job_refuse(hw_job *job, hw_store *store, const hw_store_claim *claim,
                              const char *sentence)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, refuse_locked(job, store, claim, sentence));
}
