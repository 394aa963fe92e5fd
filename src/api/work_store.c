// SPDX-License-Identifier: GPL-3.0-or-later
// A worker of the clinic's own: it reads the store, keeps files and writes the record. What guests
// deliver is kept the same way as what it computed itself.
#include "work.h"

#include <string.h>

enum { RESULT_TRIES = 3 };

static hw_status claim(hw_job *job, const work_bench *bench, hw_arena *into, hw_store_task *out)
{
    return hw_store_job_claim(job, bench->at, bench->worker, into, out);
}

static hw_status renew(hw_job *job, const work_bench *bench, const hw_store_claim *held,
                       double progress, const char *sentence, bool *is_cancelled)
{
    return hw_store_job_renew(job, bench->at, held, progress, sentence, is_cancelled);
}

static hw_status look(hw_job *job, const work_bench *bench, const char *id, hw_arena *into,
                      hw_store_task *out)
{
    return hw_store_job_get(job, bench->at, id, into, out);
}

static hw_status read_scan(hw_job *job, const work_bench *bench, const hw_store_task *task,
                           const char *name, hw_arena *into, hw_bytes *out)
{
    hw_store_head owner = {0};
    HW_TRY(hw_store_file_owner(job, bench->at, name, into, &owner));
    if (strcmp(owner.person, task->person) != 0)
        return hw_fail(job, HW_BAD_INPUT, "a scan of this visit is not one of this person's");
    return hw_store_file_get(job, bench->at, name, into, out);
}

// -- what a guest delivered

static hw_status read_parcel(hw_job *job, const work_bench *bench, const hw_store_claim *held,
                             hw_arena *into, work_made *out)
{
    hw_store_parcel parcel = {0};
    const hw_json *about = NULL;
    HW_TRY(hw_store_job_parcel(job, bench->at, held, into, &parcel));
    out->failed = parcel.failed;
    if (parcel.failed) return HW_OK;
    HW_TRY(hw_json_read(job, parcel.about, into, &about));
    out->program = hw_json_text_at(about, "program", "unknown");
    out->rules = hw_json_text_at(about, "rules", "unknown");
    HW_TRY(hw_text_format(job, into, &out->why, "computed by the guest worker %s", parcel.guest));
    for (int i = 0; i < parcel.count; i++)
        HW_TRY(hw_file_set_add(job, &out->files, parcel.pieces[i].name, parcel.pieces[i].bytes));
    return HW_OK;
}

// What does not open is thrown away, for the job to be computed anew; other trouble may pass, and
// the lease lapses meanwhile. Neither ends the job.
static hw_status unpack(hw_job *job, const work_bench *bench, const hw_store_task *task,
                        hw_arena *into, work_made *out)
{
    hw_status status = read_parcel(job, bench, &task->claim, into, out);
    if (status == HW_OK) return HW_OK;
    bool is_bad = status == HW_BAD_FORMAT || status == HW_BAD_INPUT || status == HW_NO_ACCESS;
    if (is_bad) // `why` stays the parcel's, for the log
        HW_TRY(hw_store_job_refuse(job, bench->at, &task->claim,
                                   "what a guest worker delivered was not kept: computed anew"));
    return status;
}

// -- the end

// Content-addressed: what did not change since the last result costs nothing.
static hw_status keep_files(hw_job *job, hw_store *store, const hw_store_task *task,
                            const hw_file_set *files, hw_json_out *json)
{
    hw_json_open(json, "files", '{');
    for (int i = 0; i < files->count; i++) {
        char hash[HW_STORE_HASH];
        hw_store_file file = {
            .bytes = files->files[i].bytes, .person = task->person, .who = task->who};
        HW_TRY(hw_job_ask(job));
        HW_TRY(hw_store_file_put(job, store, &file, hash));
        hw_json_text(json, files->files[i].name, hash);
    }
    hw_json_close(json);
    return HW_OK;
}

static hw_status write_result(hw_job *job, hw_store *store, const hw_store_task *task,
                              const hw_json *order, const work_made *made, hw_arena *into,
                              hw_bytes *out)
{
    const hw_json *version = hw_json_get(order, "visit_version");
    const hw_json *parts = hw_json_get(order, "parts");
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_int(&json, "visit_version", version ? (long)version->number : 0);
    hw_json_text(&json, "program", made->program);
    hw_json_text(&json, "rules", made->rules);
    hw_json_int(&json, "parts", parts ? (long)parts->number : 0);
    HW_TRY(keep_files(job, store, task, &made->files, &json));
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}

// A trial leaves no record; else the next version of the visit's result. It clashes when somebody
// else wrote one meanwhile.
static hw_status finish_once(hw_job *job, hw_store *store, const hw_store_task *task,
                             const hw_json *order, const hw_store_write *result, hw_arena *into)
{
    const hw_json *visit = hw_json_get(order, "visit");
    const hw_json *trial = hw_json_get(order, "trial");
    hw_store_outcome outcome = {.result = result->body};
    hw_store_row old = {0};
    hw_store_head head;
    if (!visit || visit->kind != HW_JSON_TEXT || !trial)
        return hw_fail(job, HW_BAD_FORMAT, "the job is malformed");
    if (trial->truth) return hw_store_job_finish(job, store, &task->claim, &outcome, into, NULL);
    hw_status status =
        hw_store_get(job, store, (hw_store_ref){"result", visit->text, 0}, into, &old);
    if (status != HW_OK && status != HW_NOT_FOUND) return status;
    hw_store_write write = *result;
    write.id = visit->text;
    write.expected_version = status == HW_OK ? old.head.version : 0;
    outcome.writes = &write;
    outcome.write_count = 1;
    return hw_store_job_finish(job, store, &task->claim, &outcome, into, &head);
}

static hw_status finish(hw_job *job, const work_bench *bench, const hw_store_task *task,
                        const work_made *made, hw_arena *into)
{
    const hw_json *order = NULL;
    hw_store_write result = {
        .kind = "result", .person = task->person, .who = task->who, .why = made->why};
    if (strcmp(task->kind, WORK_MEASURE) == 0) {
        const hw_store_outcome line = {.result = made->files.files[0].bytes};
        return hw_store_job_finish(job, bench->at, &task->claim, &line, into, NULL);
    }
    HW_TRY(hw_json_read(job, task->body, into, &order));
    HW_TRY(write_result(job, bench->at, task, order, made, into, &result.body));
    hw_status status = HW_CLASH;
    for (int i = 0; i < RESULT_TRIES && status == HW_CLASH; i++)
        status = finish_once(job, bench->at, task, order, &result, into);
    return status;
}

static hw_status fail(hw_job *job, const work_bench *bench, const hw_store_claim *held,
                      const char *sentence)
{
    return hw_store_job_fail(job, bench->at, held, sentence);
}

static bool spoilt(const work_bench *bench, int number, char id[HW_STORE_ID])
{
    return hw_store_job_spoilt(bench->at, number, id);
}

work_bench work_bench_of_store(hw_store *store, const hw_store_worker *worker)
{
    return (work_bench){store, worker, claim, renew, look, read_scan, unpack, finish, fail, spoilt};
}
