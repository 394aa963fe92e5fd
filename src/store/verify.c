// SPDX-License-Identifier: GPL-3.0-or-later
// The proof: walks every row of every table and says which one is not as the store wrote it.
#include "store/file_internal.h"
#include "store/job_internal.h"

#include <stdarg.h>

enum { LISTED_MAX = 100 };

static const char count_others[] =
    "SELECT (SELECT COUNT(*) FROM data_key), (SELECT COUNT(DISTINCT file) FROM chunk),"
    " (SELECT COUNT(*) FROM job), (SELECT COUNT(*) FROM meta),"
    " (SELECT COUNT(DISTINCT job) FROM parcel)";
static const char read_key_row[] = "SELECT wrapped FROM data_key WHERE owner = $1";

typedef struct walk {
    hw_store *store;
    hw_arena *into;
    hw_store_report *report;
    const hw_store_mark *exported;
    hw_chain head; // of the head file; seq 0: none
    hw_chain chain;
    int64_t live_keys, live_files, live_jobs, live_parcels;
} walk;

__attribute__((format(printf, 3, 4))) static hw_status fault(hw_job *job, walk *w,
                                                             const char *format, ...)
{
    char sentence[200];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    w->report->fault_count++;
    if (w->report->listed == LISTED_MAX) return HW_OK;
    return hw_text_copy(job, w->into, sentence, &w->report->faults[w->report->listed++]);
}

static hw_status fault_at(hw_job *job, walk *w, const hw_entry *entry, const char *what)
{
    return fault(job, w, "change %lld (%.32s %.20s version %lld): %s", (long long)entry->seq,
                 entry->kind, entry->id, (long long)entry->version, what);
}

// A broken link is named once: from there on the row's own link counts.
static hw_status check_link(hw_job *job, walk *w, const hw_entry *entry)
{
    unsigned char link[HW_SEAL_HASH];
    hw_chain_link(w->store, &w->chain, entry, link);
    if (entry->seq != w->chain.seq + 1)
        HW_TRY(fault(job, w, "change %lld is followed by %lld: rows were removed or put in",
                     (long long)w->chain.seq, (long long)entry->seq));
    if (!hw_seal_same(link, entry->link, sizeof link))
        HW_TRY(fault_at(job, w, entry,
                        "the chain is broken here: this row or the one before was "
                        "changed, moved or replaced"));
    w->chain.seq = entry->seq;
    memcpy(w->chain.link, entry->link, sizeof entry->link);
    if (entry->seq == w->head.seq && !hw_seal_same(w->head.link, entry->link, sizeof entry->link))
        HW_TRY(fault_at(job, w, entry, "the head file knows another row in its place"));
    char hex[HW_STORE_HASH];
    hw_seal_hex(entry->link, sizeof entry->link, hex);
    if (w->exported && entry->seq == w->exported->change && strcmp(hex, w->exported->link) != 0)
        HW_TRY(fault_at(job, w, entry, "the exported mark knows another row in its place"));
    return HW_OK;
}

static bool is_digest(const hw_content *content, const unsigned char *digest)
{
    return content->body.count == HW_SEAL_HASH &&
           hw_seal_same(content->body.at, digest, HW_SEAL_HASH);
}

static hw_status check_key(hw_job *job, walk *w, const hw_entry *entry, const hw_content *content)
{
    if (entry->version != 1) return HW_OK; // destroyed: its first version looks whether it is gone
    hw_sql_rows rows;
    unsigned char digest[HW_SEAL_HASH];
    hw_scratch tmp = hw_scratch_begin(job, w->into);
    HW_TRY(hw_sql_ask(job, w->store->sql, HW_SQL(read_key_row, hw_sql_text(entry->id)), tmp.arena,
                      &rows));
    hw_scratch_end(tmp);
    bool is_erased = hw_key_is_erased(w->store, entry->id);
    w->report->keys++;
    w->live_keys += !is_erased;
    if (is_erased)
        return rows.count ? fault_at(job, w, entry, "a destroyed key was put back") : HW_OK;
    if (!rows.count) return fault_at(job, w, entry, "the key was removed");
    HW_TRY(hw_key_digest(job, w->store, entry->id, digest));
    if (is_digest(content, digest)) return HW_OK;
    return fault_at(job, w, entry, "the key was changed or exchanged");
}

static hw_status check_file(hw_job *job, walk *w, const hw_entry *entry)
{
    hw_file_facts facts;
    unsigned char digest[HW_SEAL_HASH];
    int64_t count = 0;
    w->report->files++;
    hw_chunks of = {.id = entry->id};
    HW_TRY(hw_chunks_sum(job, w->store, &of, &w->store->chain_key, digest, &count));
    if (hw_key_is_erased(w->store, entry->owner))
        return count ? fault_at(job, w, entry, "chunks of an erased file were put back") : HW_OK;
    w->live_files++;
    hw_status status = hw_file_facts_of(job, w->store, entry, &facts);
    if (status == HW_BAD_FORMAT || status == HW_NOT_FOUND) return HW_OK; // named already
    HW_TRY(status);
    if (count != hw_chunk_count(facts.byte_count) ||
        !hw_seal_same(digest, facts.digest, sizeof digest))
        return fault_at(job, w, entry, "chunks of this file were changed, removed or put in");
    return HW_OK;
}

// Whether the chain has a later word on this job.
static hw_status find_note(hw_job *job, walk *w, const hw_entry *entry, int64_t version,
                           hw_arena *scratch, hw_content *out, bool *is_there)
{
    hw_entry note = {0};
    hw_store_ref ref = {HW_KIND_JOB, entry->id, version};
    HW_TRY(hw_entry_look(job, w->store, ref, scratch, &note, is_there));
    if (!*is_there) return HW_OK;
    hw_status status = hw_entry_open_body(job, w->store, &note, scratch, out);
    bool is_named = status == HW_BAD_FORMAT || status == HW_NOT_FOUND; // where the walk meets it
    if (is_named) out->body.count = 0;
    return is_named ? HW_OK : status;
}

static hw_status check_parcel(hw_job *job, walk *w, const hw_entry *entry, const hw_task_row *row)
{
    hw_status status = hw_parcel_check(job, w->store, row);
    w->live_parcels++;
    if (status != HW_BAD_FORMAT) return status;
    return fault_at(job, w, entry, "what a guest delivered was changed, removed or put in");
}

static hw_status check_row(hw_job *job, walk *w, const hw_entry *entry, const hw_content *content,
                           hw_task_row *row)
{
    hw_scratch tmp = hw_scratch_begin(job, w->into);
    unsigned char digest[HW_SEAL_HASH];
    hw_content ended;
    bool is_ended = false;
    HW_TRY(find_note(job, w, entry, 2, tmp.arena, &ended, &is_ended));
    hw_status status = hw_task_open_row(job, w->store, row, false);
    if (status != HW_OK && status != HW_BAD_FORMAT) return status;
    hw_task_mac(w->store, row, digest);
    bool is_same = status == HW_OK && is_digest(content, digest);
    hw_task_digest(w->store, row, digest);
    bool is_last = is_ended ? row->state >= HW_STORE_DONE && is_digest(&ended, digest)
                            : row->state < HW_STORE_DONE;
    hw_scratch_end(tmp);
    if (!is_same) return fault_at(job, w, entry, "the job's row was changed");
    if (!is_last) return fault_at(job, w, entry, "the job's row is an older one");
    return hw_task_is_delivered(row) ? check_parcel(job, w, entry, row) : HW_OK;
}

static hw_status check_job(hw_job *job, walk *w, const hw_entry *entry, const hw_content *content)
{
    if (entry->version != 1) return HW_OK;
    hw_scratch tmp = hw_scratch_begin(job, w->into);
    hw_task_row *rows = NULL;
    int count = 0;
    bool is_removed = false;
    hw_content note;
    const hw_sql_value values[HW_TASK_VALUES] = {hw_sql_text(entry->id)};
    w->report->jobs++;
    HW_TRY(find_note(job, w, entry, 3, tmp.arena, &note, &is_removed));
    HW_TRY(hw_task_rows(job, w->store, HW_TASK_BY_ID, values, tmp.arena, &rows, &count));
    w->live_jobs += !is_removed;
    hw_status status = HW_OK;
    if (is_removed && count)
        status = fault_at(job, w, entry, "a removed job was put back");
    else if (!is_removed && !count)
        status = fault_at(job, w, entry, "the job's row was removed");
    else if (count)
        status = check_row(job, w, entry, content, &rows[0]);
    hw_scratch_end(tmp);
    return status;
}

static hw_status check_contents(hw_job *job, walk *w, const hw_entry *entry,
                                const hw_content *content)
{
    if (strcmp(entry->kind, HW_KIND_KEY) == 0) return check_key(job, w, entry, content);
    if (strcmp(entry->kind, HW_KIND_JOB) == 0) return check_job(job, w, entry, content);
    if (strcmp(entry->kind, HW_KIND_LOCK) == 0) {
        unsigned char digest[HW_SEAL_HASH];
        const hw_item *item = hw_index_find(&w->store->index, HW_KIND_LOCK, HW_STORE_CLINIC);
        if (!item || item->version != entry->version) return HW_OK; // only the last one stands
        HW_TRY(hw_lock_digest(job, w->store, digest));
        if (!is_digest(content, digest))
            return fault_at(job, w, entry, "the store's lock is not the last one set");
    }
    if (!hw_kind_is_ours(entry->kind)) w->report->records++;
    return HW_OK;
}

static hw_status check_entry(hw_job *job, walk *w, const hw_entry *entry)
{
    hw_scratch tmp = hw_scratch_begin(job, w->into);
    const char *who = NULL;
    hw_content content = {0};
    HW_TRY(check_link(job, w, entry));
    hw_status status = hw_entry_open_head(job, w->store, entry, tmp.arena, &who);
    if (status == HW_OK && !hw_key_is_erased(w->store, entry->owner))
        status = hw_entry_open_body(job, w->store, entry, tmp.arena, &content);
    if (status == HW_BAD_FORMAT || status == HW_NOT_FOUND) {
        HW_TRY(fault(job, w, "%.190s", job->why));
        status = HW_OK;
    }
    HW_TRY(status);
    if (strcmp(entry->kind, HW_KIND_FILE) == 0)
        HW_TRY(check_file(job, w, entry));
    else
        HW_TRY(check_contents(job, w, entry, &content));
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status walk_chain(hw_job *job, walk *w)
{
    for (bool is_done = false; !is_done;) {
        hw_scratch tmp = hw_scratch_begin(job, w->into);
        hw_entry *entries = NULL;
        int count = 0;
        HW_TRY(hw_job_ask(job));
        HW_TRY(hw_chain_page(job, w->store, w->chain.seq + 1, tmp.arena, &entries, &count));
        for (int i = 0; i < count; i++) HW_TRY(check_entry(job, w, &entries[i]));
        is_done = count < HW_STORE_PAGE;
        hw_scratch_end(tmp);
    }
    return HW_OK;
}

// Rows the chain knows nothing of.
static hw_status check_strangers(hw_job *job, walk *w)
{
    hw_scratch tmp = hw_scratch_begin(job, w->into);
    hw_sql_rows rows;
    HW_TRY(hw_sql_ask(job, w->store->sql, hw_sql_bare(count_others), tmp.arena, &rows));
    const struct {
        const char *name;
        int64_t known;
    } tables[] = {{"keys", w->live_keys},
                  {"files", w->live_files},
                  {"jobs", w->live_jobs},
                  {"settings", 2},
                  {"parcels", w->live_parcels}};
    for (int i = 0; i < 5; i++) {
        int64_t count = hw_sql_int_at(&rows, 0, i);
        if (count != tables[i].known)
            HW_TRY(fault(job, w, "the database holds %lld %s; the chain knows %lld",
                         (long long)count, tables[i].name, (long long)tables[i].known));
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status check_ends(hw_job *job, walk *w)
{
    if (w->head.seq == 0)
        HW_TRY(fault(job, w, "the head file is missing, damaged or not this store's"));
    if (w->head.seq > w->chain.seq)
        HW_TRY(fault(job, w,
                     "the head file knows %lld changes, the database has %lld: an older "
                     "state was put in place",
                     (long long)w->head.seq, (long long)w->chain.seq));
    if (w->exported && w->exported->change > w->chain.seq)
        HW_TRY(fault(job, w,
                     "the exported mark knows %lld changes, the database has %lld: the "
                     "whole store was rolled back",
                     (long long)w->exported->change, (long long)w->chain.seq));
    w->report->mark.change = w->chain.seq;
    hw_seal_hex(w->chain.link, sizeof w->chain.link, w->report->mark.link);
    return HW_OK;
}

static hw_status walk_all(hw_job *job, walk *w)
{
    w->chain = hw_chain_start(w->store);
    HW_TRY(walk_chain(job, w));
    HW_TRY(check_strangers(job, w));
    return check_ends(job, w);
}

// The head is read before the picture of the database is taken: what is committed in between is
// behind it, never before it.
static hw_status read_head(hw_job *job, hw_store *store, hw_chain *out)
{
    hw_store_enter(job, store);
    hw_status status = hw_head_read(job, store, out);
    status = hw_store_leave(job, store, status);
    return status == HW_NOT_FOUND ? HW_OK : status;
}

hw_status hw_store_verify(hw_job *job, hw_store *store, const hw_store_mark *exported,
                          hw_arena *into, hw_store_report *out)
{
    hw_store_report report = {0};
    hw_store *shadow = NULL;
    HW_ALLOC(job, into, report.faults, LISTED_MAX);
    walk w = {.into = into, .report = &report, .exported = exported};
    HW_TRY(read_head(job, store, &w.head));
    HW_TRY(hw_store_shadow(job, store, &shadow));
    w.store = shadow;
    hw_status status = walk_all(job, &w);
    hw_store_close(shadow);
    HW_TRY(status);
    *out = report;
    if (report.fault_count == 0) return HW_OK;
    return hw_fail(job, HW_BAD_FORMAT, "%d fault%s; first: %s", report.fault_count,
                   report.fault_count == 1 ? "" : "s", report.faults[0]);
}

hw_status hw_store_mark_now(hw_job *job, hw_store *store, hw_store_mark *out)
{
    hw_store_enter(job, store);
    hw_status status = hw_chain_refresh(job, store);
    if (status == HW_OK) {
        out->change = store->chain.seq;
        hw_seal_hex(store->chain.link, sizeof store->chain.link, out->link);
    }
    return hw_store_leave(job, store, status);
}
