// SPDX-License-Identifier: GPL-3.0-or-later
// The chain: each row of `entry` carries a keyed hash over all its columns, ciphertext included,
// and the hash of the row before it. Without the key no row can be changed, taken out, put in or
// moved.
#include "store/store_internal.h"

#define COLUMNS "seq, kind, id, version, person, owner, at_ms, head, body, link"

static const char page_of_entries[] =
    "SELECT " COLUMNS " FROM entry WHERE seq >= $1 ORDER BY seq LIMIT $2";
static const char last_entry[] = "SELECT seq, link FROM entry ORDER BY seq DESC LIMIT 1";
static const char find_entry[] =
    "SELECT " COLUMNS " FROM entry WHERE kind = $1 AND id = $2 AND version = $3";
static const char add_entry[] = "INSERT INTO entry (" COLUMNS ")"
                                " VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)";

hw_bytes hw_bytes_of(const char *text)
{
    return (hw_bytes){(const unsigned char *)text, strlen(text)};
}

static hw_bytes spell_64(int64_t value, unsigned char at[8])
{
    for (int i = 0; i < 8; i++) at[i] = (unsigned char)((uint64_t)value >> 8 * i);
    return (hw_bytes){at, 8};
}

void hw_chain_link(const hw_store *store, const hw_chain *before, const hw_entry *entry,
                   unsigned char link[HW_SEAL_HASH])
{
    unsigned char seq[8], version[8], at[8];
    hw_bytes parts[] = {{before->link, sizeof before->link},
                        spell_64(entry->seq, seq),
                        hw_bytes_of(entry->kind),
                        hw_bytes_of(entry->id),
                        spell_64(entry->version, version),
                        hw_bytes_of(entry->person),
                        hw_bytes_of(entry->owner),
                        spell_64(entry->at_ms, at),
                        entry->head,
                        entry->body};
    hw_seal_hash(&store->chain_key, parts, sizeof parts / sizeof parts[0], link);
}

hw_chain hw_chain_start(const hw_store *store)
{
    hw_chain start = {0};
    hw_bytes part = hw_bytes_of(store->store_id);
    hw_seal_hash(&store->chain_key, &part, 1, start.link);
    return start;
}

static hw_entry entry_of(const hw_sql_rows *rows, int row)
{
    hw_entry entry = {.seq = hw_sql_int_at(rows, row, 0),
                      .kind = hw_sql_text_at(rows, row, 1),
                      .id = hw_sql_text_at(rows, row, 2),
                      .version = hw_sql_int_at(rows, row, 3),
                      .person = hw_sql_text_at(rows, row, 4),
                      .owner = hw_sql_text_at(rows, row, 5),
                      .at_ms = hw_sql_int_at(rows, row, 6),
                      .head = hw_sql_bytes_at(rows, row, 7),
                      .body = hw_sql_bytes_at(rows, row, 8)};
    hw_bytes link = hw_sql_bytes_at(rows, row, 9);
    // another length cannot be a link: zeroes, which no hash will meet
    if (link.count == sizeof entry.link) memcpy(entry.link, link.at, sizeof entry.link);
    return entry;
}

hw_status hw_chain_page(hw_job *job, hw_store *store, int64_t first, hw_arena *into,
                        hw_entry **entries, int *count)
{
    hw_sql_rows rows;
    hw_entry *found = NULL;
    HW_TRY(hw_sql_ask(job, store->sql,
                      HW_SQL(page_of_entries, hw_sql_int(first), hw_sql_int(HW_STORE_PAGE)), into,
                      &rows));
    HW_ALLOC(job, into, found, rows.count + 1);
    for (int i = 0; i < rows.count; i++) found[i] = entry_of(&rows, i);
    *entries = found;
    *count = rows.count;
    return HW_OK;
}

hw_status hw_entry_look(hw_job *job, hw_store *store, hw_store_ref ref, hw_arena *into,
                        hw_entry *out, bool *is_there)
{
    hw_sql_rows rows;
    HW_TRY(hw_sql_ask(
        job, store->sql,
        HW_SQL(find_entry, hw_sql_text(ref.kind), hw_sql_text(ref.id), hw_sql_int(ref.version)),
        into, &rows));
    *is_there = rows.count > 0;
    if (*is_there) *out = entry_of(&rows, 0);
    return HW_OK;
}

hw_status hw_entry_find(hw_job *job, hw_store *store, hw_store_ref ref, hw_arena *into,
                        hw_entry *out)
{
    bool is_there = false;
    HW_TRY(hw_entry_look(job, store, ref, into, out, &is_there));
    if (is_there) return HW_OK;
    return hw_fail(job, HW_NOT_FOUND, "there is no %.32s %.20s with version %lld", ref.kind, ref.id,
                   (long long)ref.version);
}

// What a sealed part belongs to. No part of it can hold a '|', so no two identities are spelt
// alike.
static hw_status identity_of(hw_job *job, const hw_store *store, const hw_entry *entry,
                             const char *part, hw_bytes *out)
{
    const char *text = NULL;
    HW_TRY(hw_text_format(job, store->pending_into, &text, "entry|%s|%s|%s|%lld|%s|%s|%lld|%s",
                          store->store_id, entry->kind, entry->id, (long long)entry->version,
                          entry->person, entry->owner, (long long)entry->at_ms, part));
    *out = hw_bytes_of(text);
    return HW_OK;
}

static hw_status broken(hw_job *job, const hw_entry *entry, const char *what)
{
    return hw_fail(job, HW_BAD_FORMAT, "change %lld (%.32s %.20s version %lld): %s",
                   (long long)entry->seq, entry->kind, entry->id, (long long)entry->version, what);
}

static hw_status open_part(hw_job *job, hw_store *store, const hw_entry *entry, const char *part,
                           const hw_seal_key *key, hw_arena *into, hw_bytes *out)
{
    hw_arena_mark mark = hw_arena_here(store->pending_into);
    hw_bytes identity;
    HW_TRY(identity_of(job, store, entry, part, &identity));
    hw_bytes sealed = part[0] == 'h' ? entry->head : entry->body;
    hw_status status = hw_seal_open(job, key, identity, sealed, into, out);
    hw_arena_rewind(store->pending_into, mark);
    if (status == HW_BAD_FORMAT) return broken(job, entry, "its sealed bytes were changed");
    return status;
}

hw_status hw_entry_open_head(hw_job *job, hw_store *store, const hw_entry *entry, hw_arena *into,
                             const char **who)
{
    hw_seal_key key;
    hw_bytes plain;
    HW_TRY(hw_key_get(job, store, HW_STORE_CLINIC, &key));
    hw_status status = open_part(job, store, entry, "head", &key, into, &plain);
    hw_seal_wipe(&key, sizeof key);
    HW_TRY(status);
    *who = (const char *)plain.at;
    return HW_OK;
}

hw_status hw_entry_open_body(hw_job *job, hw_store *store, const hw_entry *entry, hw_arena *into,
                             hw_content *out)
{
    hw_seal_key key;
    hw_bytes plain;
    HW_TRY(hw_key_get(job, store, entry->owner, &key));
    hw_status status = open_part(job, store, entry, "body", &key, into, &plain);
    hw_seal_wipe(&key, sizeof key);
    HW_TRY(status);
    // the reason, its zero, the body
    const unsigned char *end = memchr(plain.at, '\0', plain.count);
    if (!end) return broken(job, entry, "its contents are cut short");
    out->why = (const char *)plain.at;
    out->body = (hw_bytes){end + 1, plain.count - (size_t)(end + 1 - plain.at)};
    return HW_OK;
}

static hw_status seal_part(hw_job *job, hw_store *store, const hw_entry *entry, const char *part,
                           hw_bytes plain, hw_bytes *out)
{
    hw_seal_key key;
    hw_bytes identity;
    HW_TRY(hw_key_get(job, store, part[0] == 'h' ? HW_STORE_CLINIC : entry->owner, &key));
    HW_TRY(identity_of(job, store, entry, part, &identity));
    HW_TRY(hw_seal_close(job, &key, identity, plain, store->pending_into, out));
    hw_seal_wipe(&key, sizeof key);
    return HW_OK;
}

static hw_status seal_entry(hw_job *job, hw_store *store, const hw_content *content,
                            hw_entry *entry)
{
    hw_arena *into = store->pending_into;
    hw_writer writer = hw_writer_begin(into);
    const char *why = content->why ? content->why : "";
    hw_writer_bytes(&writer, why, strlen(why) + 1);
    hw_writer_bytes(&writer, content->body.at, content->body.count);
    hw_bytes plain;
    HW_TRY(hw_writer_end(job, &writer, &plain));
    const char *who = content->who ? content->who : "";
    HW_TRY(seal_part(job, store, entry, "head", hw_bytes_of(who), &entry->head));
    HW_TRY(seal_part(job, store, entry, "body", plain, &entry->body));
    hw_seal_wipe((void *)(uintptr_t)plain.at, plain.count);
    HW_TRY(hw_text_copy(job, into, entry->kind, &entry->kind));
    HW_TRY(hw_text_copy(job, into, entry->id, &entry->id));
    HW_TRY(hw_text_copy(job, into, entry->person, &entry->person));
    return hw_text_copy(job, into, entry->owner, &entry->owner);
}

hw_status hw_chain_append(hw_job *job, hw_store *store, hw_entry *entry, const hw_content *content)
{
    if (store->pending_count == HW_STORE_PENDING)
        return hw_fail(job, HW_BAD_INPUT, "more than %d changes at once", HW_STORE_PENDING);
    entry->seq = store->next.seq + 1;
    entry->at_ms = hw_store_now(store);
    HW_TRY(seal_entry(job, store, content, entry));
    hw_chain_link(store, &store->next, entry, entry->link);
    hw_bytes link = {entry->link, sizeof entry->link};
    HW_TRY(hw_sql_run(job, store->sql,
                      HW_SQL(add_entry, hw_sql_int(entry->seq), hw_sql_text(entry->kind),
                             hw_sql_text(entry->id), hw_sql_int(entry->version),
                             hw_sql_text(entry->person), hw_sql_text(entry->owner),
                             hw_sql_int(entry->at_ms), hw_sql_bytes(entry->head),
                             hw_sql_bytes(entry->body), hw_sql_bytes(link)),
                      NULL));
    store->pending[store->pending_count++] = *entry;
    store->next.seq = entry->seq;
    memcpy(store->next.link, entry->link, sizeof store->next.link);
    return HW_OK;
}

static hw_status take_entry(hw_job *job, hw_store *store, const hw_entry *entry)
{
    unsigned char link[HW_SEAL_HASH];
    hw_chain_link(store, &store->chain, entry, link);
    bool holds = entry->seq == store->chain.seq + 1 && hw_seal_same(link, entry->link, sizeof link);
    if (!holds && !store->is_damaged)
        return broken(job, entry, "the chain is broken here: a row was changed, removed or put in");
    HW_TRY(hw_index_note(job, &store->index, entry));
    store->chain.seq = entry->seq;
    memcpy(store->chain.link, entry->link, sizeof entry->link);
    return hw_index_person(job, store, entry);
}

// Nothing new is the usual case: one row is looked at.
static hw_status is_current(hw_job *job, hw_store *store, bool *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_sql_rows rows;
    HW_TRY(hw_sql_ask(job, store->sql, hw_sql_bare(last_entry), tmp.arena, &rows));
    int64_t seq = hw_sql_int_at(&rows, 0, 0);
    hw_bytes link = hw_sql_bytes_at(&rows, 0, 1);
    bool is_same =
        link.count == HW_SEAL_HASH && memcmp(link.at, store->chain.link, link.count) == 0;
    bool is_back = seq < store->chain.seq || (seq == store->chain.seq && seq > 0 && !is_same);
    hw_scratch_end(tmp);
    if (is_back && !store->is_damaged)
        return hw_fail(job, HW_BAD_FORMAT,
                       "the database went back from change %lld to %lld while it was open",
                       (long long)store->chain.seq, (long long)seq);
    *out = seq <= store->chain.seq;
    return HW_OK;
}

hw_status hw_chain_refresh(hw_job *job, hw_store *store)
{
    bool is_done = false;
    HW_TRY(is_current(job, store, &is_done));
    while (!is_done) {
        hw_scratch tmp = hw_scratch_begin(job, NULL);
        hw_entry *entries = NULL;
        int count = 0;
        HW_TRY(hw_chain_page(job, store, store->chain.seq + 1, tmp.arena, &entries, &count));
        for (int i = 0; i < count; i++) HW_TRY(take_entry(job, store, &entries[i]));
        is_done = count < HW_STORE_PAGE;
        hw_scratch_end(tmp);
    }
    return HW_OK;
}
