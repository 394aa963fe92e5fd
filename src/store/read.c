// SPDX-License-Identifier: GPL-3.0-or-later
// Reading records: one, many, a record's history, what changed.
#include "store/store_internal.h"

hw_status hw_record_row(hw_job *job, hw_store *store, const hw_entry *entry, bool with_body,
                        hw_arena *into, hw_store_row *out)
{
    hw_store_row row = {.head = {.version = entry->version,
                                 .change = entry->seq,
                                 .at_ms = entry->at_ms,
                                 .who = "",
                                 .why = "",
                                 .is_erased = hw_key_is_erased(store, entry->owner)}};
    HW_TRY(hw_text_copy(job, into, entry->kind, &row.head.kind));
    HW_TRY(hw_text_copy(job, into, entry->id, &row.head.id));
    HW_TRY(hw_text_copy(job, into, entry->person, &row.head.person));
    HW_TRY(hw_entry_open_head(job, store, entry, into, &row.head.who));
    if (with_body && !row.head.is_erased) {
        hw_content content;
        HW_TRY(hw_entry_open_body(job, store, entry, into, &content));
        row.head.why = content.why;
        row.body = content.body;
    }
    *out = row;
    return HW_OK;
}

// A row the index knows must be there: nobody but an attacker takes one away.
static hw_status read_known(hw_job *job, hw_store *store, hw_store_ref ref, hw_arena *scratch,
                            hw_entry *out)
{
    hw_status status = hw_entry_find(job, store, ref, scratch, out);
    if (status != HW_NOT_FOUND) return status;
    return hw_fail(job, HW_BAD_FORMAT, "%.32s %.20s version %lld was removed from the database",
                   ref.kind, ref.id, (long long)ref.version);
}

static hw_status get_locked(hw_job *job, hw_store *store, hw_store_ref ref, hw_arena *into,
                            hw_store_row *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_entry entry = {0};
    HW_TRY(hw_chain_refresh(job, store));
    const hw_item *item = hw_index_find(&store->index, ref.kind, ref.id);
    if (!item || ref.version < 0 || ref.version > item->version || hw_kind_is_ours(ref.kind))
        return hw_fail(job, HW_NOT_FOUND, "there is no %.32s %.20s%s", ref.kind, ref.id,
                       item ? " of this version" : "");
    if (hw_key_is_erased(store, item->owner))
        return hw_fail(job, HW_NOT_FOUND, "this person was erased");
    if (ref.version == 0) ref.version = item->version;
    HW_TRY(read_known(job, store, ref, tmp.arena, &entry));
    HW_TRY(hw_record_row(job, store, &entry, true, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_store_get(hw_job *job, hw_store *store, hw_store_ref ref, hw_arena *into,
                       hw_store_row *out)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, get_locked(job, store, ref, into, out));
}

static bool fits(const hw_store *store, const hw_item *item, const hw_store_query *query,
                 const char *text)
{
    if (hw_kind_is_ours(item->kind) || item->seq <= query->since) return false;
    if (query->kind && strcmp(query->kind, item->kind) != 0) return false;
    if (query->person && strcmp(query->person, item->person) != 0) return false;
    if (hw_key_is_erased(store, item->owner)) return false;
    return !text || (strcmp(item->kind, "person") == 0 && hw_index_matches(item, text));
}

// Which items fit, as numbers in the index, `skip` and `limit` applied.
static hw_status choose(hw_job *job, hw_store *store, const hw_store_query *query,
                        hw_arena *scratch, int **chosen, int *count)
{
    const char *text = NULL;
    if (query->text) HW_TRY(hw_index_fold(job, query->text, scratch, &text));
    HW_ALLOC(job, scratch, *chosen, store->index.count + 1);
    int seen = 0, kept = 0;
    for (int i = 0; i < store->index.count; i++) {
        if (!fits(store, &store->index.items[i], query, text)) continue;
        if (seen++ < query->skip) continue;
        if (query->limit && kept == query->limit) break;
        (*chosen)[kept++] = i;
    }
    *count = kept;
    return HW_OK;
}

static hw_status list_locked(hw_job *job, hw_store *store, const hw_store_query *query,
                             hw_arena *into, hw_store_rows *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_store_rows rows = {0};
    int *chosen = NULL;
    HW_TRY(hw_chain_refresh(job, store));
    HW_TRY(choose(job, store, query, tmp.arena, &chosen, &rows.count));
    HW_ALLOC(job, into, rows.rows, rows.count + 1);
    for (int i = 0; i < rows.count; i++) {
        const hw_item *item = &store->index.items[chosen[i]];
        hw_scratch one = hw_scratch_begin(job, into);
        hw_entry entry = {0};
        hw_store_ref ref = {item->kind, item->id, item->version};
        HW_TRY(read_known(job, store, ref, one.arena, &entry));
        HW_TRY(hw_record_row(job, store, &entry, !query->is_heads_only, into, &rows.rows[i]));
        hw_scratch_end(one);
    }
    rows.change = store->chain.seq;
    hw_scratch_end(tmp);
    *out = rows;
    return HW_OK;
}

hw_status hw_store_list(hw_job *job, hw_store *store, const hw_store_query *query, hw_arena *into,
                        hw_store_rows *out)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, list_locked(job, store, query, into, out));
}

static hw_status history_locked(hw_job *job, hw_store *store, hw_store_ref ref, hw_arena *into,
                                hw_store_rows *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_store_rows rows = {0};
    HW_TRY(hw_chain_refresh(job, store));
    const hw_item *item = hw_index_find(&store->index, ref.kind, ref.id);
    if (!item || hw_kind_is_ours(ref.kind))
        return hw_fail(job, HW_NOT_FOUND, "there is no %.32s %.20s", ref.kind, ref.id);
    rows.count = (int)item->version;
    HW_ALLOC(job, into, rows.rows, rows.count);
    for (int i = 0; i < rows.count; i++) {
        hw_entry entry = {0};
        ref.version = i + 1;
        HW_TRY(read_known(job, store, ref, tmp.arena, &entry));
        HW_TRY(hw_record_row(job, store, &entry, true, into, &rows.rows[i]));
    }
    rows.change = store->chain.seq;
    hw_scratch_end(tmp);
    *out = rows;
    return HW_OK;
}

hw_status hw_store_history(hw_job *job, hw_store *store, hw_store_ref ref, hw_arena *into,
                           hw_store_rows *out)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, history_locked(job, store, ref, into, out));
}

// Keys, locks and jobs are the store's own housekeeping: shown only when asked for by name.
static bool is_news(const hw_entry *entry, const hw_store_query *query)
{
    bool is_guest = strcmp(entry->kind, HW_KIND_WORKER) == 0 && hw_id_is(entry->id);
    bool is_shown = !hw_kind_is_ours(entry->kind) || strcmp(entry->kind, HW_KIND_FILE) == 0 ||
                    strcmp(entry->kind, HW_KIND_ERASED) == 0 || is_guest;
    if (!query->kind && !is_shown) return false;
    if (query->kind && strcmp(query->kind, entry->kind) != 0) return false;
    return !query->person || strcmp(query->person, entry->person) == 0;
}

static hw_status changes_locked(hw_job *job, hw_store *store, const hw_store_query *query,
                                hw_arena *into, hw_store_rows *out)
{
    int limit = query->limit ? query->limit : 1000;
    hw_store_rows rows = {.change = query->since};
    HW_TRY(hw_chain_refresh(job, store));
    HW_ALLOC(job, into, rows.rows, limit);
    for (bool is_done = false; !is_done && rows.count < limit;) {
        hw_scratch tmp = hw_scratch_begin(job, into);
        hw_entry *entries = NULL;
        int count = 0;
        HW_TRY(hw_chain_page(job, store, rows.change + 1, tmp.arena, &entries, &count));
        for (int i = 0; i < count && rows.count < limit; i++) {
            rows.change = entries[i].seq;
            if (is_news(&entries[i], query))
                HW_TRY(
                    hw_record_row(job, store, &entries[i], false, into, &rows.rows[rows.count++]));
        }
        is_done = count < HW_STORE_PAGE;
        hw_scratch_end(tmp);
    }
    *out = rows;
    return HW_OK;
}

hw_status hw_store_changes(hw_job *job, hw_store *store, const hw_store_query *query,
                           hw_arena *into, hw_store_rows *out)
{
    hw_store_enter(job, store);
    return hw_store_leave(job, store, changes_locked(job, store, query, into, out));
}

hw_status hw_store_change(hw_job *job, hw_store *store, int64_t *out)
{
    hw_store_enter(job, store);
    hw_status status = hw_chain_refresh(job, store);
    if (status == HW_OK) *out = store->chain.seq;
    return hw_store_leave(job, store, status);
}
