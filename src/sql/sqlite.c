// SPDX-License-Identifier: GPL-3.0-or-later
#include "sql/sql_internal.h"

#include <limits.h>
#include <sqlite3.h>
#include <string.h>

static hw_status status_of(int code)
{
    switch (code & 0xff) {
    case SQLITE_CONSTRAINT:
        return HW_CLASH;
    case SQLITE_NOTADB:
    case SQLITE_CORRUPT:
        return HW_BAD_FORMAT;
    case SQLITE_NOMEM:
        return HW_NO_MEMORY;
    case SQLITE_READONLY:
    case SQLITE_PERM:
        return HW_NO_ACCESS;
    default:
        return HW_IO_FAILED;
    }
}

static hw_status fail(hw_job *job, sqlite3 *db)
{
    // SQLite's own sentence names tables and columns, never a value
    return hw_fail(job, status_of(sqlite3_extended_errcode(db)), "the database says: %.180s",
                   sqlite3_errmsg(db));
}

static hw_status run(hw_job *job, sqlite3 *db, const char *text)
{
    return sqlite3_exec(db, text, NULL, NULL, NULL) == SQLITE_OK ? HW_OK : fail(job, db);
}

// FULL: see sql.h. secure_delete: freed bytes are overwritten, an erased key among them.
static const char set_up[] = "PRAGMA journal_mode = WAL;"
                             "PRAGMA synchronous = FULL;"
                             "PRAGMA secure_delete = ON;"
                             "PRAGMA temp_store = MEMORY;"
                             "PRAGMA trusted_schema = OFF;"
                             "PRAGMA cell_size_check = ON;";

static hw_status sqlite_open(hw_job *job, const char *url, void **connection)
{
    sqlite3 *db = NULL;
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX;
    if (sqlite3_open_v2(url, &db, flags, NULL) != SQLITE_OK) {
        hw_status status = db ? fail(job, db) : hw_fail(job, HW_NO_MEMORY, "no memory");
        sqlite3_close(db);
        return status;
    }
    sqlite3_busy_timeout(db, HW_SQL_PATIENCE_MS);
    hw_status status = run(job, db, set_up);
    if (status != HW_OK) {
        sqlite3_close(db);
        return status;
    }
    *connection = db;
    return HW_OK;
}

static void sqlite_close(void *connection)
{
    sqlite3_close(connection);
}

static hw_status sqlite_ready(hw_job *job, void *connection)
{
    (void)job, (void)connection; // a file does not go away
    return HW_OK;
}

static int bind_one(sqlite3_stmt *statement, int number, const hw_sql_value *value)
{
    char name[8] = {'$', (char)('0' + number), '\0'};
    if (number > 9) memcpy(name + 1, (char[]){'1', (char)('0' + number - 10), '\0'}, 3);
    int place = sqlite3_bind_parameter_index(statement, name);
    HW_ASSERT(place); // every value has its place in the text
    const char *bytes = value->bytes.count ? (const char *)value->bytes.at : "";
    switch (value->kind) {
    case HW_SQL_INT:
        return sqlite3_bind_int64(statement, place, value->integer);
    case HW_SQL_TEXT:
        return sqlite3_bind_text64(statement, place, bytes, value->bytes.count, SQLITE_STATIC,
                                   SQLITE_UTF8);
    case HW_SQL_BYTES:
        return sqlite3_bind_blob64(statement, place, bytes, value->bytes.count, SQLITE_STATIC);
    case HW_SQL_NULL:
        break;
    }
    return sqlite3_bind_null(statement, place);
}

static hw_status read_value(hw_job *job, sqlite3_stmt *statement, int column, hw_arena *into,
                            hw_sql_value *out)
{
    int type = sqlite3_column_type(statement, column);
    if (type == SQLITE_NULL) return HW_OK;
    if (type == SQLITE_INTEGER) {
        *out = hw_sql_int(sqlite3_column_int64(statement, column));
        return HW_OK;
    }
    hw_sql_kind kind = type == SQLITE_BLOB ? HW_SQL_BYTES : HW_SQL_TEXT;
    const void *at = kind == HW_SQL_BYTES ? sqlite3_column_blob(statement, column)
                                          : (const void *)sqlite3_column_text(statement, column);
    hw_bytes bytes = {at, (size_t)sqlite3_column_bytes(statement, column)};
    return hw_sql_copy(job, into, kind, bytes, out);
}

// Room for the next row; the array doubles, what it leaves behind goes with the arena.
static hw_status next_row(hw_job *job, hw_arena *into, hw_sql_value **values, int *capacity,
                          const hw_sql_rows *rows)
{
    if (rows->count < *capacity) return HW_OK;
    int grown = *capacity ? 2 * *capacity : 4;
    if (grown > INT_MAX / 4 / (rows->columns + 1))
        return hw_fail(job, HW_NO_MEMORY, "a query has too many rows");
    hw_sql_value *fresh = NULL;
    HW_ALLOC(job, into, fresh, grown * rows->columns);
    if (rows->count) memcpy(fresh, *values, sizeof *fresh * (size_t)(rows->count * rows->columns));
    *values = fresh;
    *capacity = grown;
    return HW_OK;
}

static hw_status step_through(hw_job *job, sqlite3_stmt *statement, hw_arena *into,
                              hw_sql_rows *rows)
{
    sqlite3 *db = sqlite3_db_handle(statement);
    hw_sql_rows found = {.columns = sqlite3_column_count(statement)};
    hw_sql_value *values = NULL;
    int capacity = 0, code = SQLITE_OK;
    while ((code = sqlite3_step(statement)) == SQLITE_ROW && rows) {
        HW_TRY(next_row(job, into, &values, &capacity, &found));
        for (int i = 0; i < found.columns; i++)
            HW_TRY(read_value(job, statement, i, into, &values[found.count * found.columns + i]));
        found.count++;
    }
    if (code != SQLITE_DONE && code != SQLITE_ROW) return fail(job, db);
    found.values = values;
    if (rows) *rows = found;
    return HW_OK;
}

static hw_status sqlite_call(hw_job *job, void *connection, const hw_sql_call *call, hw_arena *into,
                             hw_sql_rows *rows, int64_t *changed)
{
    sqlite3 *db = connection;
    sqlite3_stmt *statement = NULL;
    if (sqlite3_prepare_v2(db, call->text, -1, &statement, NULL) != SQLITE_OK) return fail(job, db);
    hw_status status = HW_OK;
    HW_ASSERT(call->count < 20); // bind_one spells two digits
    for (int i = 0; i < call->count && status == HW_OK; i++)
        if (bind_one(statement, i + 1, &call->values[i]) != SQLITE_OK) status = fail(job, db);
    if (status == HW_OK) status = step_through(job, statement, into, rows);
    if (status == HW_OK && changed) *changed = sqlite3_changes64(db);
    sqlite3_finalize(statement);
    return status;
}

static hw_status sqlite_begin(hw_job *job, void *connection, hw_sql_access access)
{
    return run(job, connection, access == HW_SQL_READ ? "BEGIN" : "BEGIN IMMEDIATE");
}

static hw_status sqlite_commit(hw_job *job, void *connection)
{
    return run(job, connection, "COMMIT");
}

static void sqlite_rollback(void *connection)
{
    // some errors (a full disk) have rolled back already
    if (!sqlite3_get_autocommit(connection)) sqlite3_exec(connection, "ROLLBACK", NULL, NULL, NULL);
}

static hw_status sqlite_compact(hw_job *job, void *connection)
{
    // secure_delete has overwritten what was freed; what the log still holds of it goes now
    return run(job, connection, "PRAGMA wal_checkpoint(TRUNCATE)");
}

const hw_sql_driver hw_sql_sqlite = {false,         sqlite_open,     sqlite_close,
                                     sqlite_ready,  sqlite_call,     sqlite_begin,
                                     sqlite_commit, sqlite_rollback, sqlite_compact};
