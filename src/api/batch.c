// SPDX-License-Identifier: GPL-3.0-or-later
// A batch through the store's queue: any machine that shares the database and the folder takes files of it.
// The one who asks writes the lines, in the order of names; after a kill it goes on behind those that stand.
#include "work.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

enum { AHEAD = 64, POLL_MS = 20 };

typedef struct queued {
    char id[HW_STORE_ID];
} queued;

static hw_status add_file(hw_job *job, hw_store *store, const hw_app_batch_list *list, int piece,
                          hw_arena *into, queued *out)
{
    const hw_app_batch_ask *ask = list->ask;
    hw_store_order order = {.kind = WORK_MEASURE, .who = "shell"};
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "folder", ask->folder);
    hw_json_text(&json, "name", list->names[piece]);
    hw_json_close(&json);
    HW_TRY(hw_json_end(job, &json, &order.body));
    // What an earlier, killed run left waiting is not wanted any more.
    HW_TRY(
        hw_text_format(job, into, &order.replaces, "measure %s %s", ask->out, list->names[piece]));
    return hw_store_job_add(job, store, &order, out->id);
}

static hw_status wait_for(hw_job *job, hw_store *store, const queued *of, hw_arena *into,
                          hw_store_task *out)
{
    const struct timespec rest = {0, POLL_MS * 1000000L};
    for (;;) {
        hw_arena_mark mark = hw_arena_here(into);
        HW_TRY(hw_job_ask(job));
        HW_TRY(hw_store_job_get(job, store, of->id, into, out));
        if (out->state != HW_STORE_WAITING && out->state != HW_STORE_RUNNING) return HW_OK;
        hw_arena_rewind(into, mark);
        nanosleep(&rest, NULL);
    }
}

static hw_status keep_answer(hw_job *job, const hw_store_task *task, int piece,
                             hw_app_batch_list *list, hw_arena *into)
{
    const hw_json *result = NULL;
    hw_bytes line = {0};
    if (task->state != HW_STORE_DONE) {
        HW_TRY(hw_app_batch_failed(job, list->names[piece], task->sentence, into, &line));
        return hw_app_batch_keep(job, list, line, true);
    }
    HW_TRY(hw_json_read(job, task->result, into, &result));
    const hw_json *text = hw_json_get(result, "line");
    if (!text || text->kind != HW_JSON_TEXT)
        return hw_fail(job, HW_BAD_FORMAT, "a worker gave a broken answer");
    line = (hw_bytes){(const unsigned char *)text->text, strlen(text->text)};
    return hw_app_batch_keep(job, list, line, false);
}

hw_status hw_api_batch(hw_job *job, hw_store *store, const hw_app_batch_ask *ask, hw_arena *into,
                       hw_app_batch_sum *out)
{
    hw_app_batch_list list = {0};
    queued waiting[AHEAD];
    HW_TRY(hw_app_batch_open(job, ask, into, &list));
    for (int asked = 0, piece = 0; piece < list.count; piece++) {
        hw_arena_mark mark = hw_arena_here(into);
        hw_store_task task = {0};
        for (; asked < list.count && asked < piece + AHEAD; asked++)
            HW_TRY(add_file(job, store, &list, asked, into, &waiting[asked % AHEAD]));
        HW_TRY(wait_for(job, store, &waiting[piece % AHEAD], into, &task));
        HW_TRY(keep_answer(job, &task, piece, &list, into));
        hw_arena_rewind(into, mark);
    }
    *out = list.sum;
    return HW_OK;
}

hw_status work_measure(hw_job *job, const hw_json *order, hw_arena *into, hw_bytes *out)
{
    const hw_json *folder = hw_json_get(order, "folder"), *name = hw_json_get(order, "name");
    hw_bytes line = {0};
    if (!folder || !name || folder->kind != HW_JSON_TEXT || name->kind != HW_JSON_TEXT)
        return hw_fail(job, HW_BAD_FORMAT, "the job is malformed");
    HW_TRY(hw_app_batch_line(job, folder->text, name->text, into, &line));
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "line", (const char *)line.at);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
