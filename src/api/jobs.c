// SPDX-License-Identifier: GPL-3.0-or-later
// Asking for a computation and for how far it is. The case goes into the job as it will be read, so
// that a worker on another machine needs nothing but the job and the scans.
#include "api_internal.h"
#include "work.h"

#include <string.h>

static bool parts_of(const hw_json *list, int *parts)
{
    if (list->kind != HW_JSON_LIST || list->count == 0) return false;
    *parts = 0;
    for (int i = 0; i < list->count; i++) {
        int part = list->items[i].kind == HW_JSON_TEXT ? work_part(list->items[i].text) : -1;
        if (part < 0) return false;
        *parts |= part;
    }
    return true;
}

// Without "parts": all of them.
static hw_status read_parts(api_call *call, int *parts)
{
    const hw_json *list = hw_json_get(call->body, "parts");
    *parts = HW_APP_ALL;
    if (!list || parts_of(list, parts)) return HW_OK;
    return hw_fail(call->job, HW_BAD_INPUT,
                   "'parts' may hold foot, load, causes, orthosis, press, search-left, "
                   "search-right, mill, plan, left-alone and right-alone");
}

// A saved version, or a case the page sends along: a slider being moved.
static hw_status read_visit(api_call *call, hw_store_row *row, const hw_json **visit,
                            bool *is_trial)
{
    int64_t version = 0;
    *visit = hw_json_get(call->body, "case");
    *is_trial = *visit != NULL;
    HW_TRY(api_version(call, "version", &version));
    HW_TRY(hw_store_get(call->job, call->api->store,
                        (hw_store_ref){"visit", call->args[0], version}, call->into, row));
    if (!*visit) return hw_json_read(call->job, row->body, call->into, visit);
    if ((*visit)->kind == HW_JSON_OBJECT) return HW_OK;
    return hw_fail(call->job, HW_BAD_INPUT, "'case' must be an object");
}

hw_status api_paper(api_call *call, hw_paper *out)
{
    hw_store_row row = {0};
    const hw_json *clinic = NULL;
    *out = HW_PAPER_A4;
    hw_status status = hw_store_get(call->job, call->api->store,
                                    (hw_store_ref){"clinic", "clinic", 0}, call->into, &row);
    if (status == HW_NOT_FOUND) return HW_OK;
    HW_TRY(status);
    HW_TRY(hw_json_read(call->job, row.body, call->into, &clinic));
    const hw_json *paper = hw_json_get(clinic, "paper");
    if (paper && paper->kind == HW_JSON_TEXT && hw_text_same(paper->text, "letter"))
        *out = HW_PAPER_LETTER;
    return HW_OK;
}

// "previous", a version of the same visit: the devices are laid on those it orders.
static hw_status read_previous(api_call *call, const hw_store_row *row, hw_bytes *out,
                               api_files *files)
{
    int64_t version = 0;
    hw_store_row earlier = {0};
    const hw_json *tree = NULL;
    if (!hw_json_get(call->body, "previous")) return HW_OK;
    if (!hw_json_get(call->body, "case"))
        return hw_fail(call->job, HW_BAD_INPUT, "'previous' goes with 'case': it is not kept");
    HW_TRY(api_version(call, "previous", &version));
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"visit", row->head.id, version},
                        call->into, &earlier));
    HW_TRY(hw_json_read(call->job, earlier.body, call->into, &tree));
    return api_case_of(call, row->head.person, tree, out, files);
}

// Files that either names, each once.
static hw_status add_files(api_call *call, const api_files *more, api_files *files)
{
    for (int i = 0; i < more->count; i++) {
        bool is_there = false;
        for (int k = 0; k < files->count; k++)
            is_there |= hw_text_same(files->hashes[k], more->hashes[i]);
        if (is_there) continue;
        if (files->count == HW_STORE_JOB_FILES)
            return hw_fail(call->job, HW_BAD_INPUT, "'previous' names too many other files");
        files->hashes[files->count++] = more->hashes[i];
    }
    return HW_OK;
}

// All a worker needs, but for the scans.
static hw_status write_order(api_call *call, const hw_store_row *row, int parts, bool is_trial,
                             const hw_bytes cases[2], hw_bytes *out)
{
    hw_bytes mill = {0};
    if (parts & HW_APP_MILL) HW_TRY(api_mill_of(call, hw_json_get(call->body, "mill"), &mill));
    hw_paper paper = HW_PAPER_A4;
    HW_TRY(api_paper(call, &paper));
    hw_json_out json = hw_json_begin(call->into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "paper", paper == HW_PAPER_LETTER ? "letter" : "a4");
    hw_json_text(&json, "visit", row->head.id);
    hw_json_int(&json, "visit_version", (long)row->head.version);
    hw_json_int(&json, "parts", parts);
    hw_json_bool(&json, "trial", is_trial);
    hw_json_raw(&json, "case", cases[0]);
    if (cases[1].count > 0) hw_json_raw(&json, "previous", cases[1]);
    if (mill.count > 0) hw_json_raw(&json, "mill", mill);
    hw_json_close(&json);
    return hw_json_end(call->job, &json, out);
}

hw_status answer_compute(api_call *call)
{
    int parts = 0;
    bool is_trial = false;
    hw_store_row row = {0};
    const hw_json *tree = NULL;
    hw_bytes cases[2] = {0}; // this one, and the earlier one it is laid on
    hw_visit *visit = NULL;
    char id[HW_STORE_ID];
    api_files files = {0}, earlier = {0};
    hw_store_order order = {.kind = WORK_COMPUTE, .who = call->session.user.id};
    HW_TRY(read_parts(call, &parts));
    HW_TRY(read_visit(call, &row, &tree, &is_trial));
    if (!is_trial && parts & (HW_APP_LEFT_ALONE | HW_APP_RIGHT_ALONE))
        return hw_fail(call->job, HW_BAD_INPUT,
                       "one foot alone is no result of a visit: send the case along");
    HW_TRY(api_case_of(call, row.head.person, tree, &cases[0], &files));
    HW_ALLOC(call->job, call->into, visit, 1);
    // Faults are told now, not by a job that fails later.
    HW_TRY(hw_visit_read(call->job, cases[0], call->into, visit, &call->faults));
    HW_TRY(read_previous(call, &row, &cases[1], &earlier));
    HW_TRY(add_files(call, &earlier, &files));
    HW_TRY(write_order(call, &row, parts, is_trial, cases, &order.body));
    order.files = files.hashes;
    order.file_count = files.count;
    // A newer wish replaces the older: of the visit's result, of one user's trial, search or
    // comparison.
    bool is_search = is_trial && parts & (HW_APP_SEARCH_LEFT | HW_APP_SEARCH_RIGHT);
    HW_TRY(hw_text_format(call->job, call->into, &order.replaces, "%s %s %s",
                          is_search            ? "search"
                          : cases[1].count > 0 ? "laid"
                          : is_trial           ? "trial"
                                               : "result",
                          row.head.id, is_trial ? call->session.user.id : ""));
    order.person = row.head.person;
    HW_TRY(hw_store_job_add(call->job, call->api->store, &order, id));
    api_workers_wake(call->api);
    hw_json_out out = api_begin(call);
    hw_json_text(&out, "job", id);
    return api_end(call, &out);
}

void api_job_write(hw_json_out *out, const hw_store_task *task)
{
    hw_json_text(out, "id", task->claim.id);
    hw_json_text(out, "state", hw_store_job_word(task->state));
    hw_json_number(out, "progress", task->progress, 3);
    hw_json_text(out, "sentence", task->sentence ? task->sentence : "");
    if (task->result.count > 0) hw_json_raw(out, "result", task->result);
}

void api_job_write_spoilt(hw_json_out *out, const char *id)
{
    hw_json_text(out, "id", id);
    hw_json_text(out, "state", hw_store_job_word(HW_STORE_FAILED));
    hw_json_number(out, "progress", 0.0, 3);
    hw_json_text(out, "sentence",
                 "this job was changed in the database by somebody else: it is not done. Ask "
                 "again, and have the store verified");
}

hw_status answer_job(api_call *call)
{
    hw_store_task task = {0};
    const char *id = call->args[0];
    hw_status status = hw_store_job_get(call->job, call->api->store, id, call->into, &task);
    if (status != HW_BAD_FORMAT) HW_TRY(status);
    hw_json_out out = api_begin(call);
    if (status == HW_OK)
        api_job_write(&out, &task);
    else
        api_job_write_spoilt(&out, id); // who waits for it must hear an end
    return api_end(call, &out);
}

hw_status answer_job_cancel(api_call *call)
{
    HW_TRY(hw_store_job_cancel(call->job, call->api->store, call->args[0]));
    return api_done(call);
}
