// SPDX-License-Identifier: GPL-3.0-or-later
// A guest: what it computes it delivers, and a worker of the clinic's keeps it.
#include "work.h"

static hw_status claim(hw_job *job, const work_bench *bench, hw_arena *into, hw_store_task *out)
{
    return hw_guest_claim(job, bench->at, bench->worker, into, out);
}

static hw_status renew(hw_job *job, const work_bench *bench, const hw_store_claim *held,
                       double progress, const char *sentence, bool *is_cancelled)
{
    return hw_guest_renew(job, bench->at, held, progress, sentence, is_cancelled);
}

static hw_status look(hw_job *job, const work_bench *bench, const char *id, hw_arena *into,
                      hw_store_task *out)
{
    return hw_guest_look(job, bench->at, id, into, out);
}

static hw_status read_scan(hw_job *job, const work_bench *bench, const hw_store_task *task,
                           const char *name, hw_arena *into, hw_bytes *out)
{
    return hw_guest_file(job, bench->at, task, name, into, out);
}

// Program and rules go along: the clinic's own may be of another version.
static hw_status finish(hw_job *job, const work_bench *bench, const hw_store_task *task,
                        const work_made *made, hw_arena *into)
{
    hw_store_piece pieces[HW_FILE_SET_MAX];
    hw_store_parcel parcel = {.pieces = pieces, .count = made->files.count};
    for (int i = 0; i < made->files.count; i++)
        pieces[i] = (hw_store_piece){made->files.files[i].name, made->files.files[i].bytes};
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "program", made->program);
    hw_json_text(&json, "rules", made->rules);
    hw_json_close(&json);
    HW_TRY(hw_json_end(job, &json, &parcel.about));
    return hw_guest_deliver(job, bench->at, &task->claim, &parcel);
}

static hw_status fail(hw_job *job, const work_bench *bench, const hw_store_claim *held,
                      const char *sentence)
{
    hw_store_parcel parcel = {.failed = sentence};
    return hw_guest_deliver(job, bench->at, held, &parcel);
}

static bool spoilt(const work_bench *bench, int number, char id[HW_STORE_ID])
{
    return hw_guest_job_spoilt(bench->at, number, id);
}

// Nothing that was delivered is ever claimed by a guest: there is nothing to unpack.
work_bench work_bench_of_guest(hw_guest *guest, const hw_store_worker *worker)
{
    return (work_bench){guest, worker, claim, renew, look, read_scan, NULL, finish, fail, spoilt};
}
