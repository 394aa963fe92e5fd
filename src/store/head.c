// SPDX-License-Identifier: GPL-3.0-or-later
// The head file: two places written in turn, each sealed. A write
// torn by a power cut spoils one; the other still holds the head before it, and from there the
// chain is followed. It is written after the commit and before the answer: so it never knows more
// than the database, and what was acknowledged it knows.
#include "files/files.h"
#include "store/store_internal.h"

enum { PLACE = 4096 };             // bytes apart: no sector or page holds both
enum { PLAIN = 8 + HW_SEAL_HASH }; // change number, link
enum { SEALED = PLAIN + 24 + 16 }; // with nonce and tag

static hw_status identity_of(hw_job *job, const hw_store *store, hw_arena *into, hw_bytes *out)
{
    const char *text = NULL;
    HW_TRY(hw_text_format(job, into, &text, "head|%s", store->store_id));
    *out = hw_bytes_of(text);
    return HW_OK;
}

hw_status hw_head_write(hw_job *job, hw_store *store, const hw_chain *head)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    unsigned char plain[PLAIN];
    hw_bytes identity, sealed;
    for (int i = 0; i < 8; i++) plain[i] = (unsigned char)((uint64_t)head->seq >> 8 * i);
    memcpy(plain + 8, head->link, HW_SEAL_HASH);
    HW_TRY(identity_of(job, store, tmp.arena, &identity));
    HW_TRY(hw_seal_close(job, &store->head_key, identity, (hw_bytes){plain, PLAIN}, tmp.arena,
                         &sealed));
    store->head_place = !store->head_place;
    HW_TRY(hw_file_write_at(job, store->head_file, store->head_place ? PLACE : 0, sealed));
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status read_place(hw_job *job, const hw_store *store, hw_bytes file, size_t at,
                            hw_arena *scratch, hw_chain *best)
{
    hw_bytes identity, plain;
    if (file.count < at + SEALED) return HW_OK;
    HW_TRY(identity_of(job, store, scratch, &identity));
    hw_bytes sealed = {file.at + at, SEALED};
    hw_status status = hw_seal_open(job, &store->head_key, identity, sealed, scratch, &plain);
    if (status == HW_BAD_FORMAT) return HW_OK; // torn: the other place counts
    HW_TRY(status);
    uint64_t seq = 0;
    for (int i = 7; i >= 0; i--) seq = seq << 8 | plain.at[i];
    if ((int64_t)seq <= best->seq) return HW_OK;
    best->seq = (int64_t)seq;
    memcpy(best->link, plain.at + 8, HW_SEAL_HASH);
    return HW_OK;
}

hw_status hw_head_read(hw_job *job, hw_store *store, hw_chain *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes file = {0};
    hw_chain best = {0};
    if (hw_file_exists(store->head_file))
        HW_TRY(hw_file_read(job, store->head_file, 1 << 20, tmp.arena, &file));
    HW_TRY(read_place(job, store, file, 0, tmp.arena, &best));
    int64_t first = best.seq;
    HW_TRY(read_place(job, store, file, PLACE, tmp.arena, &best));
    store->head_place = best.seq > first; // the next write spares the better one
    hw_scratch_end(tmp);
    if (best.seq == 0)
        return hw_fail(job, HW_NOT_FOUND,
                       "the head file %.120s is missing or not this store's: it cannot be told "
                       "whether the newest records are there",
                       store->head_file);
    *out = best;
    return HW_OK;
}
