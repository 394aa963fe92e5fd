// SPDX-License-Identifier: GPL-3.0-or-later
// The guest's side: a connection, a pair, the clinic's line. The queue is the one of job.c; what a
// guest may open there is what was sealed to it.
#include "files/files.h"
#include "store/file_internal.h"
#include "store/guest_internal.h"
#include "store/job_internal.h"

#include <stdlib.h>

enum { KEY_FILE_MAX = 4096 };

static hw_status read_pair(hw_job *job, const char *path, hw_seal_pair *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes bytes;
    if (!hw_file_exists(path))
        return hw_fail(job, HW_NOT_FOUND,
                       "there is no worker's key %.120s: run 'heelwright work --join' first", path);
    HW_TRY(hw_file_read(job, path, KEY_FILE_MAX, tmp.arena, &bytes));
    if (bytes.count != sizeof *out)
        return hw_fail(job, HW_BAD_FORMAT,
                       "the worker's key %.120s is none: it has %zu bytes, not "
                       "%zu",
                       path, bytes.count, sizeof *out);
    memcpy(out, bytes.at, sizeof *out);
    hw_seal_wipe((void *)(uintptr_t)bytes.at, bytes.count);
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_guest_join(hw_job *job, const hw_guest_place *place, hw_arena *into, const char **line)
{
    HW_TRY(hw_seal_start(job));
    if (!hw_file_exists(place->key_file)) {
        hw_seal_pair fresh = hw_seal_pair_new();
        hw_bytes bytes = {(const unsigned char *)&fresh, sizeof fresh};
        hw_status status = hw_file_make_private(job, place->key_file, bytes);
        hw_seal_wipe(&fresh, sizeof fresh);
        if (status != HW_CLASH) HW_TRY(status); // made by another process meanwhile: read that
    }
    hw_seal_pair pair;
    HW_TRY(read_pair(job, place->key_file, &pair));
    hw_seal_wipe(pair.secret, sizeof pair.secret);
    return hw_guest_line_write(job, pair.open, into, line);
}

static hw_status read_line(hw_job *job, const hw_guest_place *place, const char *line,
                           hw_clinic_line *out, hw_guest_keys *keys)
{
    hw_seal_pair pair;
    HW_TRY(read_pair(job, place->key_file, &pair));
    hw_status status = hw_clinic_line_read(job, line, pair.secret, out, keys);
    hw_seal_wipe(&pair, sizeof pair);
    return status;
}

hw_status hw_guest_keep(hw_job *job, const hw_guest_place *place, const char *line)
{
    hw_clinic_line clinic;
    hw_guest_keys keys;
    HW_TRY(hw_seal_start(job));
    HW_TRY(read_line(job, place, line, &clinic, &keys));
    hw_seal_wipe(&keys, sizeof keys);
    if (hw_file_exists(place->line_file)) HW_TRY(hw_file_remove(job, place->line_file));
    return hw_file_make_private(job, place->line_file, hw_bytes_of(line));
}

static hw_status fill(hw_job *job, const hw_guest_place *place, hw_guest *guest)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes line;
    hw_clinic_line clinic;
    // neither key file nor passphrase will be asked for: only the connection is a store's
    hw_store_place bare = {
        .url = place->url, .passphrase = "", .now_ms = place->now_ms, .user = place->user};
    HW_TRY(hw_seal_start(job));
    if (!hw_file_exists(place->line_file))
        return hw_fail(
            job, HW_NOT_FOUND,
            "this worker has no clinic's line yet: register it, then run 'heelwright work "
            "--clinic LINE'");
    HW_TRY(hw_file_read(job, place->line_file, HW_STORE_LINE_MAX, tmp.arena, &line));
    HW_TRY(read_line(job, place, (const char *)line.at, &clinic, &guest->keys));
    HW_TRY(hw_store_blank(job, &bare, &guest->store));
    memcpy(guest->id, clinic.guest, sizeof guest->id);
    memcpy(guest->store->store_id, clinic.store_id, sizeof clinic.store_id);
    guest->store->guest = guest;
    hw_scratch_end(tmp);
    if (!hw_sql_is_server_url(place->url) && !hw_file_exists(place->url)) // it would be made, empty
        return hw_fail(job, HW_NOT_FOUND, "there is no database %.120s: say --store", place->url);
    return hw_sql_open(job, place->url, &guest->store->sql);
}

hw_status hw_guest_open(hw_job *job, const hw_guest_place *place, hw_guest **out)
{
    hw_guest *guest = calloc(1, sizeof *guest);
    if (!guest) return hw_fail(job, HW_NO_MEMORY, "no memory for a worker");
    hw_status status = fill(job, place, guest);
    if (status != HW_OK) {
        hw_guest_close(guest);
        return status;
    }
    *out = guest;
    return HW_OK;
}

void hw_guest_close(hw_guest *guest)
{
    if (!guest) return;
    hw_store_close(guest->store);
    hw_seal_wipe(guest, sizeof *guest);
    free(guest);
}

const char *hw_guest_id(const hw_guest *guest)
{
    return guest->id;
}

hw_status hw_guest_claim(hw_job *job, hw_guest *guest, const hw_store_worker *worker,
                         hw_arena *into, hw_store_task *out)
{
    char name[HW_STORE_WORKER];
    hw_store_worker self = *worker;
    snprintf(name, sizeof name, "guest-%s", guest->id);
    self.name = name;
    return hw_store_job_claim(job, guest->store, &self, into, out);
}

hw_status hw_guest_renew(hw_job *job, hw_guest *guest, const hw_store_claim *claim, double progress,
                         const char *sentence, bool *is_cancelled)
{
    return hw_store_job_renew(job, guest->store, claim, progress, sentence, is_cancelled);
}

hw_status hw_guest_look(hw_job *job, hw_guest *guest, const char *id, hw_arena *into,
                        hw_store_task *out)
{
    return hw_store_job_get(job, guest->store, id, into, out);
}

bool hw_guest_job_spoilt(hw_guest *guest, int number, char id[HW_STORE_ID])
{
    return hw_store_job_spoilt(guest->store, number, id);
}

hw_status hw_guest_file(hw_job *job, hw_guest *guest, const hw_store_task *task, const char *hash,
                        hw_arena *into, hw_bytes *out)
{
    return hw_file_by_pass(job, guest->store, task->passes, hash, into, out);
}
