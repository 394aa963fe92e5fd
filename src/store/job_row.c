// SPDX-License-Identifier: GPL-3.0-or-later
// The rows of the table `job`: read, sealed, written.
#include "store/job_internal.h"

#include <stdio.h>

#define COLUMNS                                                                                    \
    "id, kind, person, slot, state, is_cancel_asked, tries, worker, added_ms, changed_ms,"         \
    " lease_ms, job_key, body, news, result, mac, live"
#define SELECT "SELECT " COLUMNS " FROM job "
#define BY_ID SELECT "WHERE id = $1"
// The oldest behind the place $3, $4: a claim goes on from a row it had to pass over.
#define OLDEST                                                                                     \
    " AND ($2 = '' OR kind = $2) AND (added_ms > $3 OR (added_ms = $3 AND id > $4))"               \
    " ORDER BY added_ms, id LIMIT 1"
#define NEXT SELECT "WHERE state < 2 AND (state = 0 OR lease_ms < $1)" OLDEST
#define LEFT_OVER                                                                                  \
    SELECT "WHERE state = 1 AND lease_ms < $1"                                                     \
           " AND (length(result) > 0 OR is_cancel_asked = 1 OR tries >= 3)" OLDEST
#define FOR_GUEST(holds)                                                                           \
    SELECT "WHERE state < 2 AND (state = 0 OR lease_ms < $1) AND length(result) = 0"               \
           " AND is_cancel_asked = 0 AND tries < 3 AND " holds OLDEST
#define BY_SLOT SELECT "WHERE slot = $1 AND state < 2 ORDER BY id"
#define CHANGED SELECT "WHERE changed_ms >= $1 ORDER BY changed_ms, id LIMIT 1000"
#define BY_PERSON SELECT "WHERE person = $1 ORDER BY id"
#define OLD SELECT "WHERE state >= 2 AND changed_ms < $1 ORDER BY changed_ms, id LIMIT 100"
#define AFTER SELECT "WHERE id > $1 ORDER BY id LIMIT 256"
#define OLD_FORM SELECT "WHERE id > $1 AND length(live) = 0 ORDER BY id LIMIT 256"
#define LOCK " FOR UPDATE"
#define LOCK_FREE " FOR UPDATE SKIP LOCKED"

_Static_assert(HW_STORE_TRIES_MAX == 3, "the statements say three");

// SQLite has one writer at a time and no words for row locks.
static const struct {
    const char *file, *server;
    int value_count;
} picks[] = {
    [HW_TASK_BY_ID] = {BY_ID, BY_ID, 1},
    [HW_TASK_BY_ID_LOCK] = {BY_ID, BY_ID LOCK, 1},
    [HW_TASK_NEXT] = {NEXT, NEXT LOCK_FREE, 4},
    [HW_TASK_LEFT_OVER] = {LEFT_OVER, LEFT_OVER LOCK_FREE, 4},
    [HW_TASK_FOR_GUEST] = {FOR_GUEST("instr(job_key, $5) > 0"),
                           FOR_GUEST("position($5 in job_key) > 0") LOCK_FREE, 5},
    [HW_TASK_BY_SLOT] = {BY_SLOT, BY_SLOT LOCK, 1},
    [HW_TASK_CHANGED] = {CHANGED, CHANGED, 1},
    [HW_TASK_BY_PERSON] = {BY_PERSON, BY_PERSON LOCK, 1},
    [HW_TASK_OLD] = {OLD, OLD LOCK, 1},
    [HW_TASK_AFTER] = {AFTER, AFTER, 1},
    [HW_TASK_OLD_FORM] = {OLD_FORM, OLD_FORM LOCK, 1},
};

static const char add_row[] =
    "INSERT INTO job (" COLUMNS
    ") VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17)";
// The columns a guest's role must be allowed to write: docs/server.md.
static const char change_row[] =
    "UPDATE job SET state = $2, is_cancel_asked = $3, tries = $4, worker = $5, changed_ms = $6,"
    " lease_ms = $7, news = $8, result = $9, live = $10 WHERE id = $1";
static const char renew_row[] = "UPDATE job SET mac = $2, live = $3 WHERE id = $1";
static const char remove_row[] = "DELETE FROM job WHERE id = $1";

static hw_bytes spell_64(int64_t value, unsigned char at[8])
{
    for (int i = 0; i < 8; i++) at[i] = (unsigned char)((uint64_t)value >> 8 * i);
    return (hw_bytes){at, 8};
}

void hw_task_mac(const hw_store *store, const hw_task_row *row, unsigned char mac[HW_SEAL_HASH])
{
    unsigned char added[8];
    hw_bytes parts[] = {hw_bytes_of("job added"),
                        hw_bytes_of(row->id),
                        hw_bytes_of(row->kind),
                        hw_bytes_of(row->person),
                        hw_bytes_of(row->slot),
                        spell_64(row->added_ms, added),
                        row->job_key,
                        row->body};
    hw_seal_hash(&store->chain_key, parts, sizeof parts / sizeof parts[0], mac);
}

void hw_task_digest(const hw_store *store, const hw_task_row *row,
                    unsigned char digest[HW_SEAL_HASH])
{
    unsigned char state[8], asked[8], tries[8], added[8], changed[8], lease[8];
    hw_bytes parts[] = {hw_bytes_of("job"),
                        hw_bytes_of(row->id),
                        hw_bytes_of(row->kind),
                        hw_bytes_of(row->person),
                        hw_bytes_of(row->slot),
                        spell_64(row->state, state),
                        spell_64(row->is_cancel_asked, asked),
                        spell_64(row->tries, tries),
                        hw_bytes_of(row->worker),
                        spell_64(row->added_ms, added),
                        spell_64(row->changed_ms, changed),
                        spell_64(row->lease_ms, lease),
                        row->job_key,
                        row->body,
                        row->news,
                        row->result};
    hw_seal_hash(&store->chain_key, parts, sizeof parts / sizeof parts[0], digest);
}

// The key is this job's alone, so the id need not go in.
static void live_mac(const hw_task_row *row, unsigned char mac[HW_SEAL_HASH])
{
    unsigned char state[8], asked[8], tries[8], changed[8], lease[8];
    hw_seal_key key = hw_seal_derive(&row->key, "heelwright job row");
    hw_bytes parts[] = {spell_64(row->state, state),
                        spell_64(row->is_cancel_asked, asked),
                        spell_64(row->tries, tries),
                        hw_bytes_of(row->worker),
                        spell_64(row->changed_ms, changed),
                        spell_64(row->lease_ms, lease),
                        row->news,
                        row->result};
    hw_seal_hash(&key, parts, sizeof parts / sizeof parts[0], mac);
    hw_seal_wipe(&key, sizeof key);
}

static bool is_mac(hw_bytes kept, const unsigned char mac[HW_SEAL_HASH])
{
    return kept.count == HW_SEAL_HASH && hw_seal_same(kept.at, mac, HW_SEAL_HASH);
}

bool hw_task_is_delivered(const hw_task_row *row)
{
    return row->state == HW_STORE_RUNNING && row->result.count > 0;
}

// A guest has the job's key: what it may have written is believed no further than this.
static bool is_possible(const hw_task_row *row)
{
    return row->state >= HW_STORE_WAITING && row->state <= HW_STORE_CANCELLED &&
           row->is_cancel_asked >= 0 && row->is_cancel_asked <= 1 && row->tries >= 0 &&
           row->tries <= HW_STORE_TRIES_MAX && strlen(row->worker) < HW_STORE_WORKER;
}

// That a job ended, and how, only the clinic can say: in the chain. Of a row that is not locked
// only the end is looked at, since another worker may end the job between the two questions.
static hw_status check_end(hw_job *job, hw_store *store, const hw_task_row *row, bool is_locked)
{
    bool is_ended = row->state >= HW_STORE_DONE;
    if (!is_ended && !is_locked) return HW_OK;
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_entry note = {0};
    hw_content ended = {0};
    unsigned char digest[HW_SEAL_HASH];
    bool is_noted = false;
    hw_store_ref ref = {HW_KIND_JOB, row->id, 2};
    HW_TRY(hw_entry_look(job, store, ref, tmp.arena, &note, &is_noted));
    hw_status status = HW_OK;
    if (is_noted) status = hw_entry_open_body(job, store, &note, tmp.arena, &ended);
    bool is_open = status == HW_OK;
    // A note that does not open, or is said to be of another owner, was changed as well.
    if (status != HW_BAD_FORMAT && status != HW_NOT_FOUND) HW_TRY(status);
    hw_task_digest(store, row, digest);
    bool holds = is_ended ? is_noted && is_open && is_mac(ended.body, digest) : !is_noted;
    hw_scratch_end(tmp);
    return holds ? HW_OK : HW_BAD_FORMAT;
}

// Each once; beyond HW_STORE_SPOILT they are passed over without a word, and the walk over all
// names them.
static void note_spoilt(hw_store *store, const char *id)
{
    char(*all)[HW_STORE_ID] = store->spoilt;
    for (int i = 0; i < store->spoilt_count; i++)
        if (strncmp(all[i], id, HW_STORE_ID - 1) == 0) return;
    if (store->spoilt_count == HW_STORE_SPOILT) return;
    snprintf(all[store->spoilt_count++], HW_STORE_ID, "%s", id);
}

// A guest cannot prove what never changes; it is sealed by the job's key all the same. Nor has it
// the chain.
hw_status hw_task_open_row(hw_job *job, hw_store *store, hw_task_row *row, bool is_locked)
{
    unsigned char mac[HW_SEAL_HASH];
    hw_task_mac(store, row, mac);
    bool holds = store->guest || is_mac(row->mac, mac);
    hw_status status = holds ? hw_task_key_open(job, store, row, &row->key) : HW_BAD_FORMAT;
    if (status == HW_OK) {
        live_mac(row, mac);
        if (!is_mac(row->live, mac) || !is_possible(row)) status = HW_BAD_FORMAT;
    }
    if (status == HW_OK && !store->guest) status = check_end(job, store, row, is_locked);
    if (status != HW_BAD_FORMAT) return status;
    note_spoilt(store, row->id);
    return hw_fail(job, HW_BAD_FORMAT, "the row of job %.20s was changed", row->id);
}

static hw_task_row row_of(const hw_sql_rows *rows, int i)
{
    return (hw_task_row){.id = hw_sql_text_at(rows, i, 0),
                         .kind = hw_sql_text_at(rows, i, 1),
                         .person = hw_sql_text_at(rows, i, 2),
                         .slot = hw_sql_text_at(rows, i, 3),
                         .state = hw_sql_int_at(rows, i, 4),
                         .is_cancel_asked = hw_sql_int_at(rows, i, 5),
                         .tries = hw_sql_int_at(rows, i, 6),
                         .worker = hw_sql_text_at(rows, i, 7),
                         .added_ms = hw_sql_int_at(rows, i, 8),
                         .changed_ms = hw_sql_int_at(rows, i, 9),
                         .lease_ms = hw_sql_int_at(rows, i, 10),
                         .job_key = hw_sql_bytes_at(rows, i, 11),
                         .body = hw_sql_bytes_at(rows, i, 12),
                         .news = hw_sql_bytes_at(rows, i, 13),
                         .result = hw_sql_bytes_at(rows, i, 14),
                         .mac = hw_sql_bytes_at(rows, i, 15),
                         .live = hw_sql_bytes_at(rows, i, 16)};
}

hw_status hw_task_rows(hw_job *job, hw_store *store, hw_task_pick pick,
                       const hw_sql_value values[HW_TASK_VALUES], hw_arena *into,
                       hw_task_row **rows, int *count)
{
    hw_sql_rows found;
    hw_task_row *all = NULL;
    const char *text = hw_sql_is_server(store->sql) ? picks[pick].server : picks[pick].file;
    hw_sql_call call = {text, values, picks[pick].value_count};
    HW_TRY(hw_sql_ask(job, store->sql, call, into, &found));
    HW_ALLOC(job, into, all, found.count + 1);
    for (int i = 0; i < found.count; i++) all[i] = row_of(&found, i);
    *rows = all;
    *count = found.count;
    return HW_OK;
}

hw_status hw_task_row_get(hw_job *job, hw_store *store, const char *id, bool is_locked,
                          hw_arena *into, hw_task_row *out)
{
    hw_task_row *rows = NULL;
    int count = 0;
    hw_sql_value values[HW_TASK_VALUES] = {hw_sql_text(id)};
    HW_TRY(hw_task_rows(job, store, is_locked ? HW_TASK_BY_ID_LOCK : HW_TASK_BY_ID, values, into,
                        &rows, &count));
    if (count == 0) return hw_fail(job, HW_NOT_FOUND, "there is no job %.20s", id);
    HW_TRY(hw_task_open_row(job, store, &rows[0], is_locked));
    *out = rows[0];
    return HW_OK;
}

hw_status hw_task_row_add(hw_job *job, hw_store *store, const hw_task_row *row)
{
    unsigned char mac[HW_SEAL_HASH], live[HW_SEAL_HASH];
    hw_task_mac(store, row, mac);
    live_mac(row, live);
    const hw_sql_value values[] = {hw_sql_text(row->id),
                                   hw_sql_text(row->kind),
                                   hw_sql_text(row->person),
                                   hw_sql_text(row->slot),
                                   hw_sql_int(row->state),
                                   hw_sql_int(row->is_cancel_asked),
                                   hw_sql_int(row->tries),
                                   hw_sql_text(row->worker),
                                   hw_sql_int(row->added_ms),
                                   hw_sql_int(row->changed_ms),
                                   hw_sql_int(row->lease_ms),
                                   hw_sql_bytes(row->job_key),
                                   hw_sql_bytes(row->body),
                                   hw_sql_bytes(row->news),
                                   hw_sql_bytes(row->result),
                                   hw_sql_bytes((hw_bytes){mac, sizeof mac}),
                                   hw_sql_bytes((hw_bytes){live, sizeof live})};
    int count = sizeof values / sizeof values[0];
    return hw_sql_run(job, store->sql, (hw_sql_call){add_row, values, count}, NULL);
}

hw_status hw_task_row_change(hw_job *job, hw_store *store, hw_task_row *row)
{
    unsigned char live[HW_SEAL_HASH];
    int64_t changed = 0;
    row->changed_ms = hw_store_now(store);
    live_mac(row, live);
    const hw_sql_value values[] = {hw_sql_text(row->id),
                                   hw_sql_int(row->state),
                                   hw_sql_int(row->is_cancel_asked),
                                   hw_sql_int(row->tries),
                                   hw_sql_text(row->worker),
                                   hw_sql_int(row->changed_ms),
                                   hw_sql_int(row->lease_ms),
                                   hw_sql_bytes(row->news),
                                   hw_sql_bytes(row->result),
                                   hw_sql_bytes((hw_bytes){live, sizeof live})};
    int count = sizeof values / sizeof values[0];
    HW_TRY(hw_sql_run(job, store->sql, (hw_sql_call){change_row, values, count}, &changed));
    if (changed != 1) return hw_fail(job, HW_CLASH, "job %.20s is gone", row->id);
    return HW_OK;
}

hw_status hw_task_row_remove(hw_job *job, hw_store *store, const hw_task_row *row, const char *who)
{
    HW_TRY(hw_sql_run(job, store->sql, HW_SQL(remove_row, hw_sql_text(row->id)), NULL));
    HW_TRY(hw_parcel_remove(job, store, row->id));
    return hw_task_note(job, store, row, 3, who);
}

hw_status hw_task_note(hw_job *job, hw_store *store, const hw_task_row *row, int64_t version,
                       const char *who)
{
    unsigned char digest[HW_SEAL_HASH] = {0}; // of a removed job: nothing
    hw_entry entry = {.kind = HW_KIND_JOB, .id = row->id, .version = version};
    entry.person = row->person;
    entry.owner = HW_STORE_CLINIC;
    if (version == 1) hw_task_mac(store, row, digest);
    if (version == 2) hw_task_digest(store, row, digest);
    return hw_chain_append(job, store, &entry, &(hw_content){who, "", {digest, sizeof digest}});
}

static hw_status identity_of(hw_job *job, const hw_store *store, const hw_task_row *row,
                             const char *part, hw_arena *into, hw_bytes *out)
{
    const char *text = NULL;
    HW_TRY(hw_text_format(job, into, &text, "job|%s|%s|%s|%s", store->store_id, row->id, row->kind,
                          part));
    *out = hw_bytes_of(text);
    return HW_OK;
}

hw_status hw_task_seal(hw_job *job, hw_store *store, const hw_task_row *row, const char *part,
                       hw_bytes plain, hw_arena *into, hw_bytes *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_bytes identity;
    HW_TRY(identity_of(job, store, row, part, tmp.arena, &identity));
    HW_TRY(hw_seal_close(job, &row->key, identity, plain, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_task_open(hw_job *job, hw_store *store, const hw_task_row *row, const char *part,
                       hw_arena *into, hw_bytes *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_bytes identity;
    hw_bytes sealed = part[0] == 'b' ? row->body : part[0] == 'n' ? row->news : row->result;
    HW_TRY(identity_of(job, store, row, part, tmp.arena, &identity));
    HW_TRY(hw_seal_open(job, &row->key, identity, sealed, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_task_say(hw_job *job, hw_store *store, hw_task_row *row, double progress,
                      const char *sentence)
{
    const char *text = NULL;
    bool is_fraction = progress > 0.0 && progress <= 1.0;
    int thousandths = is_fraction ? (int)(progress * 1000.0 + 0.5) : 0;
    HW_TRY(hw_text_format(job, store->pending_into, &text, "%d|%s", thousandths,
                          sentence ? sentence : ""));
    return hw_task_seal(job, store, row, "news", hw_bytes_of(text), store->pending_into,
                        &row->news);
}

hw_status hw_task_held(hw_job *job, hw_store *store, const hw_store_claim *claim, hw_task_row *out)
{
    HW_TRY(hw_task_row_get(job, store, claim->id, true, store->pending_into, out));
    bool is_handed_over = store->guest && hw_task_is_delivered(out);
    if (out->state != HW_STORE_RUNNING || strcmp(out->worker, claim->worker) != 0 ||
        out->tries != claim->tries || is_handed_over)
        return hw_fail(job, HW_CLASH, "job %.20s is no longer held by this worker", claim->id);
    return HW_OK;
}

// -- rows of the form before step 2: one proof, over all columns, stood in `mac`

static hw_status renew_one(hw_job *job, hw_store *store, hw_task_row *row)
{
    unsigned char mac[HW_SEAL_HASH], live[HW_SEAL_HASH];
    hw_task_digest(store, row, mac);
    if (!is_mac(row->mac, mac))
        return hw_fail(job, HW_BAD_FORMAT, "the row of job %.20s was changed", row->id);
    HW_TRY(hw_task_key_open(job, store, row, &row->key));
    hw_task_mac(store, row, mac);
    live_mac(row, live);
    return hw_sql_run(job, store->sql,
                      HW_SQL(renew_row, hw_sql_text(row->id),
                             hw_sql_bytes((hw_bytes){mac, sizeof mac}),
                             hw_sql_bytes((hw_bytes){live, sizeof live})),
                      NULL);
}

// A page of them; `is_done`: there were none. Each is of the new form afterwards.
static hw_status renew_page(hw_job *job, hw_store *store, bool *is_done)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_task_row *rows = NULL;
    int count = 0;
    const hw_sql_value values[HW_TASK_VALUES] = {hw_sql_text("")};
    HW_TRY(hw_sql_begin(job, store->sql, HW_SQL_QUEUE));
    HW_TRY(hw_task_rows(job, store, HW_TASK_OLD_FORM, values, tmp.arena, &rows, &count));
    for (int i = 0; i < count; i++) HW_TRY(renew_one(job, store, &rows[i]));
    hw_scratch_end(tmp);
    *is_done = count == 0;
    return hw_sql_commit(job, store->sql);
}

hw_status hw_task_renew_form(hw_job *job, hw_store *store)
{
    for (bool is_done = false; !is_done;) {
        hw_status status = renew_page(job, store, &is_done);
        hw_sql_rollback(store->sql);
        HW_TRY(status);
    }
    return HW_OK;
}
