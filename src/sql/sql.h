// SPDX-License-Identifier: GPL-3.0-or-later
//
// sql: one interface to SQLite (a file) and PostgreSQL (a connection string). It owns both
// libraries.
//
//     hw_sql *sql = NULL;
//     HW_TRY(hw_sql_open(job, "clinic.db", &sql));
//     HW_TRY(hw_sql_migrate(job, sql, migrations, count));
//     HW_TRY(hw_sql_begin(job, sql, HW_SQL_WRITE));
//     HW_TRY(hw_sql_run(job, sql, HW_SQL("INSERT INTO t VALUES ($1, $2)", hw_sql_int(7),
//                                        hw_sql_bytes(body)), &changed));
//     HW_TRY(hw_sql_commit(job, sql));                     // on the disk when it returns HW_OK
//     HW_TRY(hw_sql_ask(job, sql, HW_SQL("SELECT body FROM t WHERE n = $1", hw_sql_int(7)), into,
//                       &rows));
//
// Values are always bound, never spelt into the text. The SQL itself keeps to what both databases
// understand: BIGINT, TEXT, BYTEA; $1, $2 ... in the text. A connection serves one thread at a
// time.
//
// Durable means: SQLite in WAL mode with synchronous=FULL, so that each commit syncs the log (with
// NORMAL, WAL's common companion, a power cut takes the last commits away); PostgreSQL is refused
// unless fsync, synchronous_commit and full_page_writes are on.
#ifndef HW_SQL_H
#define HW_SQL_H

#include "base/base.h"
#include <stdint.h>

typedef struct hw_sql hw_sql;

typedef enum hw_sql_kind { HW_SQL_NULL, HW_SQL_INT, HW_SQL_TEXT, HW_SQL_BYTES } hw_sql_kind;

typedef struct hw_sql_value {
    hw_sql_kind kind;
    int64_t integer;
    hw_bytes bytes; // of a text or bytes; read values are followed by a zero that is not counted
} hw_sql_value;

/// Values to bind. Texts, never NULL, and bytes are not copied: they must outlive the call.
hw_sql_value hw_sql_int(int64_t integer);
hw_sql_value hw_sql_text(const char *text);
hw_sql_value hw_sql_bytes(hw_bytes bytes);

/// A statement and its values, for one call.
typedef struct hw_sql_call {
    const char *text; // a constant
    const hw_sql_value *values;
    int count;
} hw_sql_call;

#define HW_SQL(text, ...)                                                                          \
    (hw_sql_call)                                                                                  \
    {                                                                                              \
        (text), (const hw_sql_value[]){__VA_ARGS__},                                               \
            (int)(sizeof((hw_sql_value[]){__VA_ARGS__}) / sizeof(hw_sql_value))                    \
    }

/// A statement without values.
hw_sql_call hw_sql_bare(const char *text);

typedef struct hw_sql_rows {
    const hw_sql_value *values; // row by row
    int columns;
    int count; // rows
} hw_sql_rows;

/// The value, or a NULL value where it is out of range.
hw_sql_value hw_sql_at(const hw_sql_rows *rows, int row, int column);

/// Its text, "" when it is no text. Its integer, 0 when it is none.
const char *hw_sql_text_at(const hw_sql_rows *rows, int row, int column);
int64_t hw_sql_int_at(const hw_sql_rows *rows, int row, int column);
hw_bytes hw_sql_bytes_at(const hw_sql_rows *rows, int row, int column);

/// Whether the text is a PostgreSQL's, by what it begins with; else it is a file's name.
bool hw_sql_is_server_url(const char *url);

/// Opens the file (made where there is none) or connects; "postgresql://" or "postgres://" in front
/// tells which.
///
///   fails   HW_IO_FAILED; HW_BAD_FORMAT a file that is no database;  HW_NO_ACCESS a database that
///           does not sync
HW_MUST_USE hw_status hw_sql_open(hw_job *job, const char *url, hw_sql **out);

/// May be called with NULL. An open transaction is rolled back.
void hw_sql_close(hw_sql *sql);

/// Whether it is PostgreSQL: for the few statements the two spell differently.
bool hw_sql_is_server(const hw_sql *sql);

typedef enum hw_sql_access {
    HW_SQL_READ,  // one consistent picture throughout
    HW_SQL_QUEUE, // to change rows it locks itself: PostgreSQL lets several in at once
    HW_SQL_WRITE, // one writer at a time over all processes
} hw_sql_access;

///   fails   HW_IO_FAILED, also when another process writes for longer than 20 s
HW_MUST_USE hw_status hw_sql_begin(hw_job *job, hw_sql *sql, hw_sql_access access);

///   fails   HW_IO_FAILED: it is not known whether it was written; read again
HW_MUST_USE hw_status hw_sql_commit(hw_job *job, hw_sql *sql);

/// Undoes an open transaction; harmless when there is none.
void hw_sql_rollback(hw_sql *sql);

/// Runs a statement that returns no rows. changed: rows touched, may be NULL.
///
///   fails   HW_CLASH a row of the same key exists;  HW_IO_FAILED
HW_MUST_USE hw_status hw_sql_run(hw_job *job, hw_sql *sql, hw_sql_call call, int64_t *changed);

/// Runs a query; all its rows live in `into`.
HW_MUST_USE hw_status hw_sql_ask(hw_job *job, hw_sql *sql, hw_sql_call call, hw_arena *into,
                                 hw_sql_rows *out);

/// Brings the database to the newest form: step i + 1 of `steps` is one statement or several
/// divided by ";\n", run once, in order, each step in a transaction of its own. A step that was
/// released is never changed.
///
///   fails   HW_BAD_FORMAT the database is newer than this program
HW_MUST_USE hw_status hw_sql_migrate(hw_job *job, hw_sql *sql, const char *const *steps, int count);

/// Takes deleted bytes out of the database's files: SQLite's log is emptied, PostgreSQL vacuumed.
HW_MUST_USE hw_status hw_sql_compact(hw_job *job, hw_sql *sql);

#endif
