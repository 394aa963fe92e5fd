// SPDX-License-Identifier: GPL-3.0-or-later
// A backup is all rows, still sealed, one behind the other, and a keyed sum over them. It does not
// know which database it came from and fills either.
//
//   "heelwright backup 1\n"
//   rows: a letter for the table, then its columns: 8 bytes (integers), or 8 bytes of length and
//   the bytes; all integers with the lowest byte first
//   '.', 32 bytes keyed BLAKE2b of everything before
#include "files/files.h"
#include "store/store_internal.h"

#include <stdlib.h>

static const char opening[] = "heelwright backup 1\n";
enum { COLUMNS_MAX = 17, VALUE_BYTES_MAX = 1 << 28 };

typedef struct table {
    char letter;
    const char *columns; // 'i' integer, 't' text, 'b' bytes
    const char *read;    // page after the row whose keys are $1 (, $2); NULL: of older backups only
    int key_count;       // its first columns
    const char *add;
} table;

// meta stands first: it opens the keys the sum is made with.
static const table tables[] = {
    {'m', "tb", "SELECT name, value FROM meta WHERE name > $1 ORDER BY name LIMIT 64", 1,
     "INSERT INTO meta (name, value) VALUES ($1, $2)"},
    {'k', "tb", "SELECT owner, wrapped FROM data_key WHERE owner > $1 ORDER BY owner LIMIT 64", 1,
     "INSERT INTO data_key (owner, wrapped) VALUES ($1, $2)"},
    {'e', "ittittibbb",
     "SELECT seq, kind, id, version, person, owner, at_ms, head, body, link FROM entry"
     " WHERE seq > $1 ORDER BY seq LIMIT 64",
     1,
     "INSERT INTO entry (seq, kind, id, version, person, owner, at_ms, head, body, link)"
     " VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)"},
    {'c', "tib",
     "SELECT file, number, sealed FROM chunk WHERE (file, number) > ($1, $2)"
     " ORDER BY file, number LIMIT 64",
     2, "INSERT INTO chunk (file, number, sealed) VALUES ($1, $2, $3)"},
    {'p', "tib",
     "SELECT job, number, sealed FROM parcel WHERE (job, number) > ($1, $2)"
     " ORDER BY job, number LIMIT 64",
     2, "INSERT INTO parcel (job, number, sealed) VALUES ($1, $2, $3)"},
    {'t', "ttttiiitiiibbbbbb",
     "SELECT id, kind, person, slot, state, is_cancel_asked, tries, worker, added_ms, changed_ms,"
     " lease_ms, job_key, body, news, result, mac, live FROM job WHERE id > $1"
     " ORDER BY id LIMIT 64",
     1,
     "INSERT INTO job (id, kind, person, slot, state, is_cancel_asked, tries, worker, added_ms,"
     " changed_ms, lease_ms, job_key, body, news, result, mac, live)"
     " VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17)"},
    // before step 2: opening the store gives them their second proof
    {'j', "ttttiiitiiibbbbb", NULL, 1,
     "INSERT INTO job (id, kind, person, slot, state, is_cancel_asked, tries, worker, added_ms,"
     " changed_ms, lease_ms, job_key, body, news, result, mac)"
     " VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)"},
};
enum { TABLES = sizeof tables / sizeof tables[0] };

/// A backup being written or read: the file and the sum so far.
typedef struct pipe {
    hw_file_stream *file;
    hw_seal_sum sum;
    int64_t byte_count; // summed so far
} pipe;

static hw_status put(hw_job *job, pipe *to, hw_bytes bytes)
{
    hw_seal_sum_add(&to->sum, bytes.at, bytes.count);
    to->byte_count += (int64_t)bytes.count;
    return hw_file_stream_put(job, to->file, bytes);
}

static hw_status put_64(hw_job *job, pipe *to, int64_t value)
{
    unsigned char at[8];
    for (int i = 0; i < 8; i++) at[i] = (unsigned char)((uint64_t)value >> 8 * i);
    return put(job, to, (hw_bytes){at, sizeof at});
}

static hw_status put_row(hw_job *job, pipe *to, const table *t, const hw_sql_rows *rows, int row)
{
    HW_TRY(put(job, to, (hw_bytes){(const unsigned char *)&t->letter, 1}));
    for (int i = 0; t->columns[i]; i++) {
        hw_sql_value value = hw_sql_at(rows, row, i);
        if (t->columns[i] == 'i') {
            HW_TRY(put_64(job, to, value.integer));
            continue;
        }
        HW_TRY(put_64(job, to, (int64_t)value.bytes.count));
        HW_TRY(put(job, to, value.bytes));
    }
    return HW_OK;
}

// Where the next page begins, kept beside the page it was read with.
static hw_status keep_keys(hw_job *job, const table *t, const hw_sql_rows *rows, hw_arena *into,
                           hw_sql_value keys[2])
{
    for (int i = 0; i < t->key_count; i++) {
        hw_sql_value last = hw_sql_at(rows, rows->count - 1, i);
        const char *copy = NULL;
        keys[i] = last;
        if (last.kind != HW_SQL_TEXT) continue;
        HW_TRY(hw_text_copy(job, into, (const char *)last.bytes.at, &copy));
        keys[i] = hw_sql_text(copy);
    }
    return HW_OK;
}

static hw_status put_table(hw_job *job, hw_store *shadow, pipe *to, const table *t)
{
    hw_scratch keep = hw_scratch_begin(job, NULL); // the last key, a few bytes a page
    hw_sql_value keys[2] = {hw_sql_text(""), hw_sql_int(-1)};
    if (t->columns[0] == 'i') keys[0] = hw_sql_int(0);
    for (int count = 1; count > 0;) {
        hw_scratch tmp = hw_scratch_begin(job, keep.arena);
        hw_sql_rows rows;
        hw_sql_call call = {t->read, keys, t->key_count};
        HW_TRY(hw_job_ask(job));
        HW_TRY(hw_sql_ask(job, shadow->sql, call, tmp.arena, &rows));
        for (int i = 0; i < rows.count; i++) HW_TRY(put_row(job, to, t, &rows, i));
        if (rows.count) HW_TRY(keep_keys(job, t, &rows, keep.arena, keys));
        count = rows.count;
        hw_scratch_end(tmp);
    }
    hw_scratch_end(keep);
    return HW_OK;
}

static hw_status put_all(hw_job *job, hw_store *shadow, pipe *to)
{
    unsigned char sum[HW_SEAL_HASH];
    hw_seal_sum_begin(&to->sum, &shadow->chain_key);
    HW_TRY(put(job, to, hw_bytes_of(opening)));
    for (int i = 0; i < TABLES; i++)
        if (tables[i].read) HW_TRY(put_table(job, shadow, to, &tables[i]));
    HW_TRY(put(job, to, hw_bytes_of(".")));
    hw_seal_sum_end(&to->sum, sum);
    HW_TRY(hw_file_stream_put(job, to->file, (hw_bytes){sum, sizeof sum}));
    return hw_file_stream_flush(job, to->file);
}

// What the disk gives back is summed anew: a backup that cannot be read is none.
static hw_status sum_again(hw_job *job, hw_file_stream *file, int64_t left, hw_seal_sum *sum)
{
    unsigned char block[1 << 14];
    while (left > 0) {
        size_t size = left < (int64_t)sizeof block ? (size_t)left : sizeof block;
        HW_TRY(hw_file_stream_get(job, file, block, size));
        hw_seal_sum_add(sum, block, size);
        left -= (int64_t)size;
    }
    return HW_OK;
}

static hw_status re_read(hw_job *job, const hw_store *shadow, const pipe *written)
{
    hw_file_stream *file = NULL;
    hw_seal_sum sum;
    unsigned char kept[HW_SEAL_HASH], now[HW_SEAL_HASH];
    HW_TRY(hw_file_stream_read(job, hw_file_stream_name(written->file), &file));
    hw_seal_sum_begin(&sum, &shadow->chain_key);
    hw_status status = sum_again(job, file, written->byte_count, &sum);
    if (status == HW_OK) status = hw_file_stream_get(job, file, kept, sizeof kept);
    hw_seal_sum_end(&sum, now);
    if (status == HW_OK &&
        (!hw_seal_same(kept, now, sizeof now) || !hw_file_stream_is_at_end(file)))
        status = hw_fail(job, HW_IO_FAILED, "the backup reads back differently than written");
    hw_file_stream_close(file);
    return status;
}

static hw_status write_backup(hw_job *job, hw_store *shadow, const char *path)
{
    pipe to = {0};
    HW_TRY(hw_file_stream_write(job, path, &to.file));
    hw_status status = put_all(job, shadow, &to);
    if (status == HW_OK) status = re_read(job, shadow, &to);
    if (status == HW_OK) status = hw_file_stream_keep(job, to.file);
    hw_file_stream_close(to.file);
    return status;
}

hw_status hw_store_backup(hw_job *job, hw_store *store, const char *folder, hw_arena *into,
                          const char **name)
{
    hw_store *shadow = NULL;
    const char *path = NULL;
    HW_TRY(hw_file_make_folder(job, folder));
    HW_TRY(hw_store_shadow(job, store, &shadow));
    hw_status status = hw_text_format(job, into, &path, "%s/heelwright-%lld.backup", folder,
                                      (long long)shadow->chain.seq);
    if (status == HW_OK) status = write_backup(job, shadow, path);
    hw_store_close(shadow);
    HW_TRY(status);
    *name = path;
    return HW_OK;
}

static hw_status get(hw_job *job, pipe *from, void *bytes, size_t count)
{
    HW_TRY(hw_file_stream_get(job, from->file, bytes, count));
    hw_seal_sum_add(&from->sum, bytes, count);
    return HW_OK;
}

static hw_status get_64(hw_job *job, pipe *from, int64_t *out)
{
    unsigned char at[8];
    uint64_t value = 0;
    HW_TRY(get(job, from, at, sizeof at));
    for (int i = 7; i >= 0; i--) value = value << 8 | at[i];
    *out = (int64_t)value;
    return HW_OK;
}

static hw_status get_value(hw_job *job, pipe *from, char column, hw_arena *into, hw_sql_value *out)
{
    int64_t number = 0;
    unsigned char *bytes = NULL;
    HW_TRY(get_64(job, from, &number));
    if (column == 'i') {
        *out = hw_sql_int(number);
        return HW_OK;
    }
    if (number < 0 || number > VALUE_BYTES_MAX)
        return hw_fail(job, HW_BAD_FORMAT, "the backup is damaged: a value of %lld bytes",
                       (long long)number);
    HW_ALLOC(job, into, bytes, number + 1);
    HW_TRY(get(job, from, bytes, (size_t)number));
    *out = hw_sql_bytes((hw_bytes){bytes, (size_t)number});
    if (column == 't') out->kind = HW_SQL_TEXT;
    return HW_OK;
}

static hw_status get_row(hw_job *job, hw_store *store, pipe *from, const table *t)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_sql_value values[COLUMNS_MAX];
    int count = 0;
    for (; t->columns[count]; count++)
        HW_TRY(get_value(job, from, t->columns[count], tmp.arena, &values[count]));
    HW_TRY(hw_sql_run(job, store->sql, (hw_sql_call){t->add, values, count}, NULL));
    hw_scratch_end(tmp);
    return HW_OK;
}

// The letter of the next row; '.' at the end.
static hw_status get_rows(hw_job *job, hw_store *store, pipe *from, const char *letters, char *next)
{
    while (*next != '.') {
        const table *t = NULL;
        if (!strchr(letters, *next)) return HW_OK;
        for (int i = 0; i < TABLES; i++)
            if (tables[i].letter == *next) t = &tables[i];
        if (!t) return hw_fail(job, HW_BAD_FORMAT, "the backup is damaged: a row of no table");
        HW_TRY(get_row(job, store, from, t));
        HW_TRY(get(job, from, next, 1));
    }
    return HW_OK;
}

static hw_status check_sum(hw_job *job, pipe *from)
{
    unsigned char kept[HW_SEAL_HASH], now[HW_SEAL_HASH];
    hw_seal_sum_end(&from->sum, now);
    HW_TRY(hw_file_stream_get(job, from->file, kept, sizeof kept));
    if (!hw_seal_same(kept, now, sizeof now) || !hw_file_stream_is_at_end(from->file))
        return hw_fail(job, HW_BAD_FORMAT, "the backup was changed or damaged: nothing restored");
    return HW_OK;
}

// The rows of meta open the key of the sum: they are read twice, the second time to be summed.
static hw_status fill(hw_job *job, hw_store *store, pipe *from, const hw_store_place *place,
                      const char *path)
{
    char text[sizeof opening - 1], next = 0;
    bool is_new = false;
    hw_seal_key none = {{0}};
    hw_seal_sum_begin(&from->sum, &none);
    HW_TRY(get(job, from, text, sizeof text));
    if (memcmp(text, opening, sizeof text) != 0)
        return hw_fail(job, HW_BAD_FORMAT, "%.120s is not a backup of heelwright", path);
    HW_TRY(get(job, from, &next, 1));
    HW_TRY(get_rows(job, store, from, "m", &next));
    HW_TRY(hw_lock_open(job, store, place, &is_new));
    if (is_new) return hw_fail(job, HW_BAD_FORMAT, "the backup has no lock");
    int64_t behind = (int64_t)hw_file_stream_at(from->file);
    hw_seal_sum_begin(&from->sum, &store->chain_key);
    HW_TRY(hw_file_stream_rewind(job, from->file));
    HW_TRY(sum_again(job, from->file, behind, &from->sum));
    HW_TRY(get_rows(job, store, from, "kecptj", &next));
    if (next != '.') return hw_fail(job, HW_BAD_FORMAT, "the backup is damaged: rows out of order");
    return check_sum(job, from);
}

static hw_status check_empty(hw_job *job, hw_store *store)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_sql_rows rows;
    HW_TRY(
        hw_sql_ask(job, store->sql,
                   hw_sql_bare("SELECT (SELECT COUNT(*) FROM meta) + (SELECT COUNT(*) FROM entry)"),
                   tmp.arena, &rows));
    bool is_empty = hw_sql_int_at(&rows, 0, 0) == 0;
    hw_scratch_end(tmp);
    if (is_empty) return HW_OK;
    return hw_fail(job, HW_CLASH, "there are records in this place: restore into an empty one");
}

static hw_status restore_rows(hw_job *job, hw_store *store, const hw_store_place *place,
                              const char *backup)
{
    pipe from = {0};
    HW_TRY(hw_store_connect(job, store));
    HW_TRY(hw_file_stream_read(job, backup, &from.file));
    hw_status status = hw_sql_begin(job, store->sql, HW_SQL_WRITE);
    if (status == HW_OK) status = check_empty(job, store);
    if (status == HW_OK) status = fill(job, store, &from, place, backup);
    if (status == HW_OK) status = hw_sql_commit(job, store->sql);
    hw_sql_rollback(store->sql);
    hw_file_stream_close(from.file);
    return status;
}

// The head file of the lost store, if it is still there, knows more than the backup: whoever
// restores wants the backup. Another store's head is left alone.
static hw_status clear_head(hw_job *job, hw_store *store)
{
    hw_chain head;
    if (!hw_file_exists(store->head_file)) return HW_OK;
    if (hw_head_read(job, store, &head) != HW_OK)
        return hw_fail(job, HW_CLASH, "%.120s is the head file of another store", store->head_file);
    return hw_file_remove(job, store->head_file);
}

static hw_status open_restored(hw_job *job, const hw_store_place *place, hw_store **out)
{
    hw_store_place here = *place;
    hw_store_report report;
    here.is_first_here = true;
    HW_TRY(hw_store_open(job, &here, out));
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_status status = hw_store_verify(job, *out, NULL, tmp.arena, &report);
    hw_scratch_end(tmp);
    if (status == HW_OK) return HW_OK;
    hw_store_close(*out);
    *out = NULL;
    return status;
}

hw_status hw_store_restore(hw_job *job, const char *backup, const hw_store_place *place,
                           hw_store **out)
{
    hw_store *blank = NULL, *fresh = NULL;
    HW_TRY(hw_store_blank(job, place, &blank));
    hw_status status = restore_rows(job, blank, place, backup);
    if (status == HW_OK) status = clear_head(job, blank);
    hw_store_close(blank);
    HW_TRY(status);
    HW_TRY(open_restored(job, place, &fresh));
    *out = fresh;
    return HW_OK;
}
