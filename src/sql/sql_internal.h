// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef HW_SQL_INTERNAL_H
#define HW_SQL_INTERNAL_H

#include "sql/sql.h"

/// What a database has to be able to do. One row each: sqlite.c, postgres.c.
typedef struct hw_sql_driver {
    bool is_server;
    hw_status (*open)(hw_job *job, const char *url, void **connection);
    void (*close)(void *connection);
    /// Before anything outside a transaction: a lost connection is made anew.
    hw_status (*ready)(hw_job *job, void *connection);
    /// Runs one statement. rows (with `into`) or changed may be NULL.
    hw_status (*call)(hw_job *job, void *connection, const hw_sql_call *call, hw_arena *into,
                      hw_sql_rows *rows, int64_t *changed);
    hw_status (*begin)(hw_job *job, void *connection, hw_sql_access access);
    hw_status (*commit)(hw_job *job, void *connection);
    void (*rollback)(void *connection);
    hw_status (*compact)(hw_job *job, void *connection);
} hw_sql_driver;

extern const hw_sql_driver hw_sql_sqlite;
extern const hw_sql_driver hw_sql_postgres;

enum { HW_SQL_PATIENCE_MS = 20000 }; // how long a writer waits for another process's writer

/// A value whose bytes are a copy in `into`, with a zero behind.
HW_MUST_USE hw_status hw_sql_copy(hw_job *job, hw_arena *into, hw_sql_kind kind, hw_bytes bytes,
                                  hw_sql_value *out);

#endif
