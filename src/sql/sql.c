// SPDX-License-Identifier: GPL-3.0-or-later
#include "sql/sql_internal.h"

#include <stdlib.h>
#include <string.h>

struct hw_sql {
    const hw_sql_driver *driver;
    void *connection;
    bool is_open; // a transaction
};

hw_sql_value hw_sql_int(int64_t integer)
{
    return (hw_sql_value){.kind = HW_SQL_INT, .integer = integer};
}

hw_sql_value hw_sql_text(const char *text)
{
    return (hw_sql_value){.kind = HW_SQL_TEXT,
                          .bytes = {(const unsigned char *)text, strlen(text)}};
}

hw_sql_value hw_sql_bytes(hw_bytes bytes)
{
    return (hw_sql_value){.kind = HW_SQL_BYTES, .bytes = bytes};
}

hw_sql_call hw_sql_bare(const char *text)
{
    return (hw_sql_call){text, NULL, 0};
}

hw_sql_value hw_sql_at(const hw_sql_rows *rows, int row, int column)
{
    bool is_there = row >= 0 && row < rows->count && column >= 0 && column < rows->columns;
    return is_there ? rows->values[row * rows->columns + column] : (hw_sql_value){0};
}

const char *hw_sql_text_at(const hw_sql_rows *rows, int row, int column)
{
    hw_sql_value value = hw_sql_at(rows, row, column);
    return value.kind == HW_SQL_TEXT ? (const char *)value.bytes.at : "";
}

int64_t hw_sql_int_at(const hw_sql_rows *rows, int row, int column)
{
    hw_sql_value value = hw_sql_at(rows, row, column);
    return value.kind == HW_SQL_INT ? value.integer : 0;
}

hw_bytes hw_sql_bytes_at(const hw_sql_rows *rows, int row, int column)
{
    hw_sql_value value = hw_sql_at(rows, row, column);
    return value.kind == HW_SQL_BYTES ? value.bytes : (hw_bytes){0};
}

hw_status hw_sql_copy(hw_job *job, hw_arena *into, hw_sql_kind kind, hw_bytes bytes,
                      hw_sql_value *out)
{
    unsigned char *copy = NULL;
    HW_ALLOC(job, into, copy, bytes.count + 1);
    if (bytes.count) memcpy(copy, bytes.at, bytes.count);
    *out = (hw_sql_value){.kind = kind, .bytes = {copy, bytes.count}};
    return HW_OK;
}

bool hw_sql_is_server_url(const char *url)
{
    return strncmp(url, "postgresql://", 13) == 0 || strncmp(url, "postgres://", 11) == 0;
}

hw_status hw_sql_open(hw_job *job, const char *url, hw_sql **out)
{
    hw_sql *sql = calloc(1, sizeof *sql);
    if (!sql) return hw_fail(job, HW_NO_MEMORY, "no memory for a database connection");
    sql->driver = hw_sql_is_server_url(url) ? &hw_sql_postgres : &hw_sql_sqlite;
    hw_status status = sql->driver->open(job, url, &sql->connection);
    if (status != HW_OK) {
        free(sql);
        return status;
    }
    *out = sql;
    return HW_OK;
}

void hw_sql_close(hw_sql *sql)
{
    if (!sql) return;
    hw_sql_rollback(sql);
    sql->driver->close(sql->connection);
    free(sql);
}

bool hw_sql_is_server(const hw_sql *sql)
{
    return sql->driver->is_server;
}

hw_status hw_sql_begin(hw_job *job, hw_sql *sql, hw_sql_access access)
{
    HW_ASSERT(!sql->is_open);
    HW_TRY(sql->driver->ready(job, sql->connection));
    HW_TRY(sql->driver->begin(job, sql->connection, access));
    sql->is_open = true;
    return HW_OK;
}

hw_status hw_sql_commit(hw_job *job, hw_sql *sql)
{
    HW_ASSERT(sql->is_open);
    hw_status status = sql->driver->commit(job, sql->connection);
    if (status != HW_OK) sql->driver->rollback(sql->connection);
    sql->is_open = false;
    return status;
}

void hw_sql_rollback(hw_sql *sql)
{
    if (sql->is_open) sql->driver->rollback(sql->connection);
    sql->is_open = false;
}

hw_status hw_sql_run(hw_job *job, hw_sql *sql, hw_sql_call call, int64_t *changed)
{
    if (!sql->is_open) HW_TRY(sql->driver->ready(job, sql->connection));
    return sql->driver->call(job, sql->connection, &call, NULL, NULL, changed);
}

hw_status hw_sql_ask(hw_job *job, hw_sql *sql, hw_sql_call call, hw_arena *into, hw_sql_rows *out)
{
    hw_sql_rows rows = {0};
    if (!sql->is_open) HW_TRY(sql->driver->ready(job, sql->connection));
    HW_TRY(sql->driver->call(job, sql->connection, &call, into, &rows, NULL));
    *out = rows;
    return HW_OK;
}

hw_status hw_sql_compact(hw_job *job, hw_sql *sql)
{
    HW_ASSERT(!sql->is_open);
    return sql->driver->compact(job, sql->connection);
}
