// SPDX-License-Identifier: GPL-3.0-or-later
// A job's own key, in the column `job_key`: sealed to the clinic's pair, then for each worker that
// was registered when the job was added its id and the key, sealed by what clinic and guest share.
#include "store/guest_internal.h"
#include "store/job_internal.h"

enum {
    TO_CLINIC = HW_SEAL_KEY + 48, // bytes of the sealed box
    SEALED = HW_SEAL_KEY + 40,
    TO_GUEST = HW_GUEST_MARK + SEALED,
};

static hw_status identity_of(hw_job *job, const hw_store *store, const char *id, const char *guest,
                             hw_arena *into, hw_bytes *out)
{
    const char *text = NULL;
    HW_TRY(hw_text_format(job, into, &text, "job key|%s|%s|%s", store->store_id, id, guest));
    *out = hw_bytes_of(text);
    return HW_OK;
}

static hw_status add_guest(hw_job *job, hw_store *store, const hw_task_row *row, const char *guest,
                           hw_writer *writer)
{
    hw_arena *into = store->pending_into;
    hw_guest_known known = {0};
    hw_bytes identity, sealed;
    unsigned char mark[HW_GUEST_MARK];
    HW_TRY(hw_guest_find(job, store, guest, into, &known));
    HW_TRY(identity_of(job, store, row->id, guest, into, &identity));
    hw_bytes key = {row->key.bytes, sizeof row->key.bytes};
    HW_TRY(hw_seal_close(job, &known.keys.jobs, identity, key, into, &sealed));
    HW_ASSERT(hw_seal_unhex(guest, mark, sizeof mark) && sealed.count == SEALED);
    hw_writer_bytes(writer, mark, sizeof mark);
    hw_writer_bytes(writer, sealed.at, sealed.count);
    hw_seal_wipe(&known, sizeof known);
    return HW_OK;
}

hw_status hw_task_key_seal(hw_job *job, hw_store *store, hw_task_row *row)
{
    hw_scratch tmp = hw_scratch_begin(job, store->pending_into);
    hw_bytes box, all;
    const char *guest = NULL;
    hw_seal_random(&row->key, sizeof row->key);
    hw_bytes key = {row->key.bytes, sizeof row->key.bytes};
    HW_TRY(hw_seal_to(job, store->worker.open, key, store->pending_into, &box));
    hw_writer writer = hw_writer_begin(tmp.arena);
    hw_writer_bytes(&writer, box.at, box.count);
    for (int at = 0; hw_guest_next(store, &at, &guest);)
        if (!hw_guest_is_withdrawn(store, guest))
            HW_TRY(add_guest(job, store, row, guest, &writer));
    HW_TRY(hw_writer_end(job, &writer, &all));
    unsigned char *kept = NULL;
    HW_ALLOC(job, store->pending_into, kept, all.count + 1);
    memcpy(kept, all.at, all.count);
    row->job_key = (hw_bytes){kept, all.count};
    hw_scratch_end(tmp);
    return HW_OK;
}

// The sealed bytes that are for this guest; empty when none are.
static hw_bytes find_mine(const hw_guest *guest, hw_bytes all)
{
    unsigned char mark[HW_GUEST_MARK];
    HW_ASSERT(hw_seal_unhex(guest->id, mark, sizeof mark));
    for (size_t at = TO_CLINIC; at + TO_GUEST <= all.count; at += TO_GUEST)
        if (memcmp(all.at + at, mark, sizeof mark) == 0)
            return (hw_bytes){all.at + at + HW_GUEST_MARK, SEALED};
    return (hw_bytes){0};
}

static hw_status open_as_guest(hw_job *job, hw_store *store, const hw_task_row *row,
                               hw_arena *scratch, hw_bytes *out)
{
    const hw_guest *guest = store->guest;
    hw_bytes identity, mine = find_mine(guest, row->job_key);
    if (mine.count == 0)
        return hw_fail(job, HW_NO_ACCESS, "job %.20s is not for this worker", row->id);
    HW_TRY(identity_of(job, store, row->id, guest->id, scratch, &identity));
    return hw_seal_open(job, &guest->keys.jobs, identity, mine, scratch, out);
}

static hw_status open_as_clinic(hw_job *job, hw_store *store, const hw_task_row *row,
                                hw_arena *scratch, hw_bytes *out)
{
    if (row->job_key.count < TO_CLINIC)
        return hw_fail(job, HW_BAD_FORMAT, "the key of job %.20s is cut short", row->id);
    return hw_seal_from(job, &store->worker, (hw_bytes){row->job_key.at, TO_CLINIC}, scratch, out);
}

hw_status hw_task_key_open(hw_job *job, hw_store *store, const hw_task_row *row, hw_seal_key *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes key = {0};
    if (store->guest)
        HW_TRY(open_as_guest(job, store, row, tmp.arena, &key));
    else
        HW_TRY(open_as_clinic(job, store, row, tmp.arena, &key));
    if (key.count != sizeof out->bytes)
        return hw_fail(job, HW_BAD_FORMAT, "the key of job %.20s is none", row->id);
    memcpy(out->bytes, key.at, sizeof out->bytes);
    hw_seal_wipe((void *)(uintptr_t)key.at, key.count);
    hw_scratch_end(tmp);
    return HW_OK;
}
