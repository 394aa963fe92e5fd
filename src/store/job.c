// SPDX-License-Identifier: GPL-3.0-or-later
// The queue. Claiming and renewing lock only the row (PostgreSQL skips rows others hold); adding
// and ending also append to the chain, so they are writes like all others.
#include "store/file_internal.h"
#include "store/guest_internal.h"
#include "store/job_internal.h"
#include "json/json.h"

static const char *const words[] = {"waiting", "running", "done", "failed", "cancelled"};

const char *hw_store_job_word(hw_store_job_state state)
{
    HW_ASSERT(state <= HW_STORE_CANCELLED);
    return words[state];
}

static bool is_word(const char *text, size_t limit)
{
    size_t length = text ? strlen(text) : 0;
    return length > 0 && length < limit &&
           strspn(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-") ==
               length;
}

static hw_status check_json(hw_job *job, hw_bytes body)
{
    if (body.count > HW_STORE_BODY_BYTES)
        return hw_fail(job, HW_BAD_INPUT, "a job has %zu bytes; the limit is %d", body.count,
                       HW_STORE_BODY_BYTES);
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    const hw_json *root = NULL;
    HW_TRY(hw_json_read(job, body, tmp.arena, &root));
    hw_scratch_end(tmp);
    return HW_OK;
}

// Ends a job within a write under way. The lease, the worker's hold and a guest's parcel end with
// it.
static hw_status end_row(hw_job *job, hw_store *store, hw_task_row *row, hw_store_job_state state,
                         const char *sentence)
{
    row->state = state;
    row->lease_ms = 0;
    if (state != HW_STORE_DONE) row->result = (hw_bytes){0};
    HW_TRY(hw_parcel_remove(job, store, row->id));
    HW_TRY(hw_task_say(job, store, row, state == HW_STORE_DONE, sentence));
    HW_TRY(hw_task_row_change(job, store, row));
    return hw_task_note(job, store, row, 2, row->worker);
}

static hw_status cancel_row(hw_job *job, hw_store *store, hw_task_row *row)
{
    if (row->state == HW_STORE_WAITING)
        return end_row(job, store, row, HW_STORE_CANCELLED, "cancelled before it began");
    if (row->state != HW_STORE_RUNNING || row->is_cancel_asked) return HW_OK;
    row->is_cancel_asked = 1;
    return hw_task_row_change(job, store, row);
}

static hw_status cancel_slot(hw_job *job, hw_store *store, const char *slot)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_task_row *rows = NULL;
    int count = 0;
    hw_sql_value values[HW_TASK_VALUES] = {hw_sql_text(slot)};
    HW_TRY(hw_task_rows(job, store, HW_TASK_BY_SLOT, values, tmp.arena, &rows, &count));
    for (int i = 0; i < count; i++) {
        hw_status status = hw_task_open_row(job, store, &rows[i], true);
        if (status == HW_BAD_FORMAT)
            continue; // a changed row keeps no new job from being asked for
        HW_TRY(status);
        HW_TRY(cancel_row(job, store, &rows[i]));
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

static void name_slot(const hw_store *store, const char *replaces, char slot[HW_STORE_HASH])
{
    unsigned char hash[HW_SEAL_HASH];
    hw_bytes parts[] = {hw_bytes_of("slot"), hw_bytes_of(replaces)};
    hw_seal_hash(&store->name_key, parts, 2, hash);
    hw_seal_hex(hash, sizeof hash, slot);
}

// A guest has only the job: the keys of the files it will read go along.
static hw_status add_file_keys(hw_job *job, hw_store *store, const hw_store_order *order,
                               hw_writer *writer)
{
    for (int i = 0; i < order->file_count; i++) {
        unsigned char pass[HW_FILE_PASS];
        HW_TRY(hw_file_pass(job, store, order->files[i], order->person ? order->person : "", pass));
        hw_writer_bytes(writer, pass, sizeof pass);
        hw_seal_wipe(pass, sizeof pass);
    }
    return HW_OK;
}

static hw_status seal_order(hw_job *job, hw_store *store, const hw_store_order *order,
                            hw_task_row *row)
{
    hw_arena *into = store->pending_into;
    hw_bytes plain;
    HW_TRY(hw_task_key_seal(job, store, row));
    hw_writer writer = hw_writer_begin(into);
    const char *who = order->who ? order->who : "";
    hw_writer_bytes(&writer, who, strlen(who) + 1);
    hw_writer_bytes(&writer, order->body.at, order->body.count);
    hw_writer_bytes(&writer, "", 1); // JSON holds no zero: what stands behind it is no part of it
    HW_TRY(add_file_keys(job, store, order, &writer));
    HW_TRY(hw_writer_end(job, &writer, &plain));
    HW_TRY(hw_task_seal(job, store, row, "body", plain, into, &row->body));
    hw_seal_wipe((void *)(uintptr_t)plain.at, plain.count);
    return hw_task_say(job, store, row, 0.0, "");
}

static hw_status add_locked(hw_job *job, hw_store *store, const hw_store_order *order,
                            const char *id)
{
    char slot[HW_STORE_HASH] = "";
    const char *person = order->person ? order->person : "";
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(hw_person_check(job, store, person));
    if (order->replaces) {
        name_slot(store, order->replaces, slot);
        HW_TRY(cancel_slot(job, store, slot));
    }
    hw_task_row row = {.id = id, .kind = order->kind, .person = person, .slot = slot, .worker = ""};
    row.added_ms = row.changed_ms = hw_store_now(store);
    HW_TRY(seal_order(job, store, order, &row));
    HW_TRY(hw_task_row_add(job, store, &row));
    HW_TRY(hw_task_note(job, store, &row, 1, order->who));
    return hw_write_end(job, store);
}

hw_status hw_store_job_add(hw_job *job, hw_store *store, const hw_store_order *order,
                           char id[HW_STORE_ID])
{
    char fresh[HW_STORE_ID];
    if (!is_word(order->kind, HW_STORE_KIND))
        return hw_fail(job, HW_BAD_INPUT, "a kind of job is a word of up to %d letters",
                       HW_STORE_KIND - 1);
    if (order->person && order->person[0] && !hw_id_is(order->person))
        return hw_fail(job, HW_BAD_INPUT, "the id of a person has 16 digits 0-9 a-f");
    if (order->file_count < 0 || order->file_count > HW_STORE_JOB_FILES)
        return hw_fail(job, HW_BAD_INPUT, "a job reads %d files; the limit is %d",
                       order->file_count, HW_STORE_JOB_FILES);
    HW_TRY(check_json(job, order->body));
    hw_seal_id(fresh);
    hw_store_enter(job, store);
    HW_TRY(hw_store_leave(job, store, add_locked(job, store, order, fresh)));
    memcpy(id, fresh, sizeof fresh);
    return HW_OK;
}

static hw_status read_news(hw_job *job, hw_store *store, const hw_task_row *row, hw_arena *into,
                           hw_store_task *out)
{
    hw_bytes news;
    HW_TRY(hw_task_open(job, store, row, "news", into, &news));
    const char *text = (const char *)news.at;
    int thousandths = 0;
    for (; *text >= '0' && *text <= '9' && thousandths <= 1000; text++)
        thousandths = 10 * thousandths + (*text - '0');
    out->progress = thousandths <= 1000 ? thousandths / 1000.0 : 1.0;
    out->sentence = *text == '|' ? text + 1 : "";
    return HW_OK;
}

static hw_status read_body(hw_job *job, hw_store *store, const hw_task_row *row, hw_arena *into,
                           hw_store_task *out)
{
    hw_bytes plain;
    HW_TRY(hw_task_open(job, store, row, "body", into, &plain));
    size_t who = strlen((const char *)plain.at) + 1; // a zero stands behind the bytes
    if (who > plain.count) return hw_fail(job, HW_BAD_FORMAT, "job %.20s is cut short", row->id);
    out->who = (const char *)plain.at;
    out->body = (hw_bytes){plain.at + who, strlen((const char *)plain.at + who)};
    size_t behind = who + out->body.count + 1;
    if (behind < plain.count) out->passes = (hw_bytes){plain.at + behind, plain.count - behind};
    if (row->result.count == 0 || out->is_delivered) return HW_OK;
    return hw_task_open(job, store, row, "result", into, &out->result);
}

static hw_status task_of(hw_job *job, hw_store *store, const hw_task_row *row, bool with_body,
                         hw_arena *into, hw_store_task *out)
{
    hw_store_task task = {.state = (hw_store_job_state)row->state,
                          .is_cancel_asked = row->is_cancel_asked != 0,
                          .is_delivered = hw_task_is_delivered(row),
                          .added_ms = row->added_ms,
                          .changed_ms = row->changed_ms,
                          .lease_ms = row->lease_ms,
                          .who = ""};
    HW_ASSERT(strlen(row->id) < HW_STORE_ID && strlen(row->worker) < HW_STORE_WORKER); // by its mac
    memcpy(task.claim.id, row->id, strlen(row->id));
    memcpy(task.claim.worker, row->worker, strlen(row->worker));
    task.claim.tries = (int)row->tries;
    HW_TRY(hw_text_copy(job, into, row->kind, &task.kind));
    HW_TRY(hw_text_copy(job, into, row->person, &task.person));
    HW_TRY(read_news(job, store, row, into, &task));
    if (with_body) HW_TRY(read_body(job, store, row, into, &task));
    *out = task;
    return HW_OK;
}

// Jobs nobody will run any more: cancelled while their worker died, or tried too often.
static hw_status give_up(hw_job *job, hw_store *store, const char *id)
{
    hw_task_row row = {0};
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(hw_task_row_get(job, store, id, true, store->pending_into, &row));
    bool is_lapsed = row.state == HW_STORE_RUNNING && row.lease_ms < hw_store_now(store);
    if (is_lapsed && row.is_cancel_asked)
        HW_TRY(end_row(job, store, &row, HW_STORE_CANCELLED, "cancelled"));
    else if (is_lapsed && row.tries >= HW_STORE_TRIES_MAX && !hw_task_is_delivered(&row))
        HW_TRY(end_row(job, store, &row, HW_STORE_FAILED,
                       "it was tried three times and each time its worker stopped"));
    return hw_write_end(job, store);
}

// A delivered job is claimed to be kept, which is no further try. News are said anew: those that
// stand may be a guest's, which are not always what they should be.
static hw_status hold_row(hw_job *job, hw_store *store, const hw_store_worker *worker,
                          hw_task_row *row)
{
    row->lease_ms = hw_store_now(store) + 1000 * (int64_t)worker->lease_s;
    row->worker = worker->name;
    row->state = HW_STORE_RUNNING;
    bool is_delivered = hw_task_is_delivered(row);
    if (!is_delivered) row->tries++;
    HW_TRY(hw_task_say(job, store, row, is_delivered ? 0.95 : 0.0,
                       is_delivered ? HW_TASK_TO_BE_KEPT : ""));
    return hw_task_row_change(job, store, row);
}

static hw_status row_behind(hw_job *job, hw_store *store, const hw_store_worker *worker,
                            const hw_task_row *before, hw_arena *scratch, hw_task_row **out)
{
    int count = 0;
    unsigned char guest[HW_GUEST_MARK] = {0};
    hw_task_pick pick = store->guest         ? HW_TASK_FOR_GUEST
                        : worker->keeps_only ? HW_TASK_LEFT_OVER
                                             : HW_TASK_NEXT;
    if (store->guest) HW_ASSERT(hw_seal_unhex(store->guest->id, guest, sizeof guest));
    const hw_sql_value values[HW_TASK_VALUES] = {
        hw_sql_int(hw_store_now(store)), hw_sql_text(worker->kind ? worker->kind : ""),
        hw_sql_int(before->added_ms), hw_sql_text(before->id),
        hw_sql_bytes((hw_bytes){guest, sizeof guest})};
    HW_TRY(hw_task_rows(job, store, pick, values, scratch, out, &count));
    if (count == 0) return hw_fail(job, HW_NOT_FOUND, "no job waits");
    return HW_OK;
}

// The oldest row this worker may take, locked and opened. A row that was changed behind our back is
// passed over: it must not keep the others waiting. So is one whose key a guest cannot open.
static hw_status next_row(hw_job *job, hw_store *store, const hw_store_worker *worker,
                          hw_arena *scratch, hw_task_row **out)
{
    hw_task_row before = {.id = "", .added_ms = INT64_MIN};
    for (;;) {
        HW_TRY(row_behind(job, store, worker, &before, scratch, out));
        hw_status status = hw_task_open_row(job, store, *out, true);
        if (status != HW_BAD_FORMAT && status != HW_NO_ACCESS) return status;
        before = **out;
    }
}

// One look at the queue. `stuck` is set to a job that is to be given up first.
static hw_status claim_once(hw_job *job, hw_store *store, const hw_store_worker *worker,
                            hw_arena *into, hw_store_task *out, char stuck[HW_STORE_ID])
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_task_row *row = NULL;
    HW_TRY(hw_sql_begin(job, store->sql, HW_SQL_QUEUE));
    HW_TRY(next_row(job, store, worker, tmp.arena, &row));
    bool is_spent = row->tries >= HW_STORE_TRIES_MAX && !hw_task_is_delivered(row);
    if (row->is_cancel_asked || is_spent) {
        memcpy(stuck, row->id, strlen(row->id) + 1);
        hw_sql_rollback(store->sql);
        return HW_OK;
    }
    HW_TRY(hold_row(job, store, worker, row));
    HW_TRY(task_of(job, store, row, true, into, out));
    HW_TRY(hw_sql_commit(job, store->sql));
    out->claim.lease_s = worker->lease_s;
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_store_job_claim(hw_job *job, hw_store *store, const hw_store_worker *worker,
                             hw_arena *into, hw_store_task *out)
{
    if (!is_word(worker->name, HW_STORE_WORKER) || worker->lease_s < 1 ||
        worker->lease_s > HW_STORE_LEASE_MAX_S)
        return hw_fail(job, HW_BAD_INPUT,
                       "a worker has a name of letters, digits, '-', '.', '_' "
                       "and a lease of 1 to %d s",
                       HW_STORE_LEASE_MAX_S);
    if (store->is_damaged)
        return hw_fail(job, HW_NO_ACCESS, "the store is damaged and open to read only");
    for (;;) {
        char stuck[HW_STORE_ID] = "";
        hw_store_enter(job, store);
        HW_TRY(hw_store_leave(job, store, claim_once(job, store, worker, into, out, stuck)));
        if (!stuck[0]) return HW_OK;
        hw_store_enter(job, store);
        HW_TRY(hw_store_leave(job, store, give_up(job, store, stuck)));
    }
}

static hw_status renew_locked(hw_job *job, hw_store *store, const hw_store_claim *claim,
                              double progress, const char *sentence, bool *is_cancelled)
{
    hw_task_row row = {0};
    HW_TRY(hw_sql_begin(job, store->sql, HW_SQL_QUEUE));
    HW_TRY(hw_task_held(job, store, claim, &row));
    row.lease_ms = hw_store_now(store) + 1000 * (int64_t)claim->lease_s;
    HW_TRY(hw_task_say(job, store, &row, progress, sentence));
    HW_TRY(hw_task_row_change(job, store, &row));
    HW_TRY(hw_sql_commit(job, store->sql));
    *is_cancelled = row.is_cancel_asked != 0;
    return HW_OK;
}

hw_status hw_store_job_renew(hw_job *job, hw_store *store, const hw_store_claim *claim,
                             double progress, const char *sentence, bool *is_cancelled)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store,
                          renew_locked(job, store, claim, progress, sentence, is_cancelled));
}

static hw_status finish_locked(hw_job *job, hw_store *store, const hw_store_claim *claim,
                               const hw_store_outcome *outcome, hw_arena *into,
                               hw_store_head *heads)
{
    hw_task_row row = {0};
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(hw_task_held(job, store, claim, &row));
    if (row.is_cancel_asked) {
        HW_TRY(end_row(job, store, &row, HW_STORE_CANCELLED, "cancelled"));
        HW_TRY(hw_write_end(job, store));
        return hw_fail(job, HW_CANCELLED, "job %.20s was cancelled", claim->id);
    }
    HW_TRY(hw_record_append(job, store, outcome->writes, outcome->write_count, into, heads));
    HW_TRY(hw_task_seal(job, store, &row, "result", outcome->result, store->pending_into,
                        &row.result));
    HW_TRY(end_row(job, store, &row, HW_STORE_DONE, ""));
    return hw_write_end(job, store);
}

hw_status hw_store_job_finish(hw_job *job, hw_store *store, const hw_store_claim *claim,
                              const hw_store_outcome *outcome, hw_arena *into, hw_store_head *heads)
{
    HW_TRY(check_json(job, outcome->result));
    HW_TRY(hw_record_check(job, outcome->writes, outcome->write_count));
    hw_store_enter(job, store);
    return hw_store_leave(job, store, finish_locked(job, store, claim, outcome, into, heads));
}

static hw_status fail_locked(hw_job *job, hw_store *store, const hw_store_claim *claim,
                             const char *sentence)
{
    hw_task_row row = {0};
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(hw_task_held(job, store, claim, &row));
    HW_TRY(end_row(job, store, &row, row.is_cancel_asked ? HW_STORE_CANCELLED : HW_STORE_FAILED,
                   sentence));
    return hw_write_end(job, store);
}

hw_status hw_store_job_fail(hw_job *job, hw_store *store, const hw_store_claim *claim,
                            const char *sentence)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, fail_locked(job, store, claim, sentence));
}

static hw_status cancel_locked(hw_job *job, hw_store *store, const char *id)
{
    hw_task_row row = {0};
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(hw_task_row_get(job, store, id, true, store->pending_into, &row));
    HW_TRY(cancel_row(job, store, &row));
    return hw_write_end(job, store);
}

hw_status hw_store_job_cancel(hw_job *job, hw_store *store, const char *id)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, cancel_locked(job, store, id));
}

static hw_status get_locked(hw_job *job, hw_store *store, const char *id, hw_arena *into,
                            hw_store_task *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_task_row row = {0};
    HW_TRY(hw_task_row_get(job, store, id, false, tmp.arena, &row));
    HW_TRY(task_of(job, store, &row, true, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_store_job_get(hw_job *job, hw_store *store, const char *id, hw_arena *into,
                           hw_store_task *out)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, get_locked(job, store, id, into, out));
}

static hw_status list_locked(hw_job *job, hw_store *store, int64_t since_ms, hw_arena *into,
                             hw_store_tasks *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_store_tasks tasks = {0};
    hw_task_row *rows = NULL;
    int count = 0;
    const hw_sql_value values[HW_TASK_VALUES] = {hw_sql_int(since_ms)};
    HW_TRY(hw_task_rows(job, store, HW_TASK_CHANGED, values, tmp.arena, &rows, &count));
    HW_ALLOC(job, into, tasks.tasks, count + 1);
    for (int i = 0; i < count; i++) {
        hw_status status = hw_task_open_row(job, store, &rows[i], false);
        if (status == HW_OK)
            status = task_of(job, store, &rows[i], false, into, &tasks.tasks[tasks.count]);
        tasks.count += status == HW_OK;
        if (status != HW_BAD_FORMAT) HW_TRY(status);
    }
    hw_scratch_end(tmp);
    *out = tasks;
    return HW_OK;
}

hw_status hw_store_job_list(hw_job *job, hw_store *store, int64_t since_ms, hw_arena *into,
                            hw_store_tasks *out)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, list_locked(job, store, since_ms, into, out));
}

static hw_status tidy_locked(hw_job *job, hw_store *store, int64_t before_ms, int *removed)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_task_row *rows = NULL;
    int count = 0;
    const hw_sql_value values[HW_TASK_VALUES] = {hw_sql_int(before_ms)};
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(hw_task_rows(job, store, HW_TASK_OLD, values, tmp.arena, &rows, &count));
    int gone = 0;
    for (int i = 0; i < count; i++) {
        hw_status status = hw_task_open_row(job, store, &rows[i], true);
        if (status == HW_BAD_FORMAT)
            continue; // it did not end, or not so: kept, for who looks into it
        HW_TRY(status);
        HW_TRY(hw_task_row_remove(job, store, &rows[i], ""));
        gone++;
    }
    HW_TRY(hw_write_end(job, store));
    hw_scratch_end(tmp);
    *removed = gone;
    return HW_OK;
}

hw_status hw_store_job_tidy(hw_job *job, hw_store *store, int64_t before_ms, int *removed)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, tidy_locked(job, store, before_ms, removed));
}

bool hw_store_job_spoilt(hw_store *store, int number, char id[HW_STORE_ID])
{
    pthread_mutex_lock(&store->mutex);
    bool is_there = number < store->spoilt_count;
    if (is_there) memcpy(id, store->spoilt[number], HW_STORE_ID);
    pthread_mutex_unlock(&store->mutex);
    return is_there;
}
