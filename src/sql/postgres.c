// SPDX-License-Identifier: GPL-3.0-or-later
#include "sql/sql_internal.h"

#include <libpq-fe.h>
#include <limits.h>
#include <string.h>

enum { MAX_VALUES = 20 };
enum { OID_BOOL = 16, OID_BYTES = 17, OID_INT8 = 20, OID_INT4 = 23, OID_TEXT = 25 }; // pg_type

static hw_status status_of(const char *state)
{
    if (!state) return HW_IO_FAILED;
    if (strcmp(state, "23505") == 0) return HW_CLASH;                 // unique_violation
    if (strcmp(state, "42501") == 0) return HW_NO_ACCESS;             // insufficient_privilege
    return strcmp(state, "53200") == 0 ? HW_NO_MEMORY : HW_IO_FAILED; // out_of_memory
}

// Only the primary line: the detail line would repeat values.
static hw_status fail(hw_job *job, const PGresult *result)
{
    const char *line = PQresultErrorField(result, PG_DIAG_MESSAGE_PRIMARY);
    return hw_fail(job, status_of(PQresultErrorField(result, PG_DIAG_SQLSTATE)),
                   "the database says: %.180s", line ? line : "the connection was lost");
}

static hw_status finish(hw_job *job, PGresult *result)
{
    ExecStatusType status = PQresultStatus(result);
    bool is_fine = status == PGRES_COMMAND_OK || status == PGRES_TUPLES_OK;
    hw_status answer = is_fine ? HW_OK : fail(job, result);
    PQclear(result);
    return answer;
}

static hw_status run(hw_job *job, PGconn *connection, const char *text)
{
    return finish(job, PQexec(connection, text));
}

// 64-bit integers travel with the highest byte first.
static void spell_integer(int64_t integer, unsigned char bytes[8])
{
    for (int i = 0; i < 8; i++) bytes[i] = (unsigned char)((uint64_t)integer >> (56 - 8 * i));
}

static int64_t read_integer(const unsigned char *bytes, int count)
{
    uint64_t value = count > 0 && (bytes[0] & 0x80) ? UINT64_MAX : 0;
    for (int i = 0; i < count; i++) value = value << 8 | bytes[i];
    return (int64_t)value;
}

typedef struct parameters {
    Oid types[MAX_VALUES];
    const char *at[MAX_VALUES];
    int lengths[MAX_VALUES];
    int formats[MAX_VALUES]; // 1: binary
    unsigned char integers[MAX_VALUES][8];
} parameters;

static hw_status set_parameters(hw_job *job, const hw_sql_call *call, parameters *out)
{
    HW_ASSERT(call->count <= MAX_VALUES);
    for (int i = 0; i < call->count; i++) {
        const hw_sql_value *value = &call->values[i];
        if (value->bytes.count > INT_MAX)
            return hw_fail(job, HW_BAD_INPUT, "a value has more than 2 GB");
        out->formats[i] = 1;
        out->types[i] = value->kind == HW_SQL_INT    ? OID_INT8
                        : value->kind == HW_SQL_TEXT ? OID_TEXT
                                                     : OID_BYTES;
        if (value->kind == HW_SQL_NULL) continue;
        spell_integer(value->integer, out->integers[i]);
        bool is_integer = value->kind == HW_SQL_INT;
        out->at[i] = is_integer           ? (const char *)out->integers[i]
                     : value->bytes.count ? (const char *)value->bytes.at
                                          : "";
        out->lengths[i] = is_integer ? 8 : (int)value->bytes.count;
    }
    return HW_OK;
}

static hw_status read_value(hw_job *job, const PGresult *result, int row, int column,
                            hw_arena *into, hw_sql_value *out)
{
    if (PQgetisnull(result, row, column)) return HW_OK;
    Oid type = PQftype(result, column);
    hw_bytes bytes = {(const unsigned char *)PQgetvalue(result, row, column),
                      (size_t)PQgetlength(result, row, column)};
    if (type == OID_INT8 || type == OID_INT4 || type == OID_BOOL) {
        *out = hw_sql_int(read_integer(bytes.at, (int)bytes.count));
        return HW_OK;
    }
    if (type != OID_TEXT && type != OID_BYTES)
        return hw_fail(job, HW_BAD_FORMAT, "a column of the database has type %u: not ours", type);
    return hw_sql_copy(job, into, type == OID_TEXT ? HW_SQL_TEXT : HW_SQL_BYTES, bytes, out);
}

static hw_status read_rows(hw_job *job, const PGresult *result, hw_arena *into, hw_sql_rows *rows)
{
    hw_sql_rows found = {.columns = PQnfields(result), .count = PQntuples(result)};
    if (found.columns && found.count > INT_MAX / 4 / found.columns)
        return hw_fail(job, HW_NO_MEMORY, "a query has too many rows");
    hw_sql_value *values = NULL;
    HW_ALLOC(job, into, values, found.columns * found.count + 1);
    for (int row = 0; row < found.count; row++)
        for (int i = 0; i < found.columns; i++)
            HW_TRY(read_value(job, result, row, i, into, &values[row * found.columns + i]));
    found.values = values;
    *rows = found;
    return HW_OK;
}

static int64_t rows_touched(PGresult *result)
{
    int64_t count = 0;
    for (const char *at = PQcmdTuples(result); *at >= '0' && *at <= '9'; at++)
        count = 10 * count + (*at - '0');
    return count;
}

static hw_status postgres_call(hw_job *job, void *connection, const hw_sql_call *call,
                               hw_arena *into, hw_sql_rows *rows, int64_t *changed)
{
    parameters bound = {0};
    HW_TRY(set_parameters(job, call, &bound));
    PGresult *result = PQexecParams(connection, call->text, call->count, bound.types, bound.at,
                                    bound.lengths, bound.formats, 1);
    ExecStatusType code = PQresultStatus(result);
    hw_status status = HW_OK;
    if (code != PGRES_COMMAND_OK && code != PGRES_TUPLES_OK) status = fail(job, result);
    if (status == HW_OK && rows) status = read_rows(job, result, into, rows);
    if (status == HW_OK && changed) *changed = rows_touched(result);
    PQclear(result);
    return status;
}

// A server that does not sync would acknowledge what a power cut takes back.
static hw_status demand_on(hw_job *job, PGconn *connection, const char *show, const char *name)
{
    PGresult *result = PQexec(connection, show);
    bool is_on = PQresultStatus(result) == PGRES_TUPLES_OK && PQntuples(result) == 1 &&
                 strcmp(PQgetvalue(result, 0, 0), "off") != 0;
    PQclear(result);
    if (is_on) return HW_OK;
    return hw_fail(job, HW_NO_ACCESS,
                   "the PostgreSQL server runs with %s off: it would lose records when the power "
                   "fails. Turn it on",
                   name);
}

static void stay_quiet(void *user, const char *message)
{
    (void)user, (void)message;
}

static hw_status check_server(hw_job *job, PGconn *connection)
{
    PQsetNoticeProcessor(connection, stay_quiet, NULL);
    if (PQserverVersion(connection) < 120000)
        return hw_fail(job, HW_IO_FAILED, "PostgreSQL %d is too old; 12 or newer is needed",
                       PQserverVersion(connection) / 10000);
    HW_TRY(demand_on(job, connection, "SHOW fsync", "fsync"));
    HW_TRY(demand_on(job, connection, "SHOW synchronous_commit", "synchronous_commit"));
    HW_TRY(demand_on(job, connection, "SHOW full_page_writes", "full_page_writes"));
    return run(job, connection, "SET client_encoding TO 'UTF8'; SET bytea_output TO 'hex'");
}

static hw_status postgres_open(hw_job *job, const char *url, void **connection)
{
    PGconn *fresh = PQconnectdb(url);
    hw_status status = HW_OK;
    if (PQstatus(fresh) != CONNECTION_OK) // the message may name host and user, not the password
        status = hw_fail(job, HW_IO_FAILED, "no connection to PostgreSQL: %.180s",
                         PQerrorMessage(fresh));
    if (status == HW_OK) status = check_server(job, fresh);
    if (status != HW_OK) {
        PQfinish(fresh);
        return status;
    }
    *connection = fresh;
    return HW_OK;
}

static void postgres_close(void *connection)
{
    PQfinish(connection);
}

// A server that was restarted meanwhile is met anew, and must still sync.
static hw_status postgres_ready(hw_job *job, void *connection)
{
    if (PQstatus(connection) != CONNECTION_BAD) return HW_OK;
    PQreset(connection);
    if (PQstatus(connection) != CONNECTION_OK)
        return hw_fail(job, HW_IO_FAILED, "the connection to PostgreSQL was lost");
    return check_server(job, connection);
}

// The advisory lock makes one writer over all processes; it ends with the transaction.
static const char begin_write[] = "BEGIN ISOLATION LEVEL READ COMMITTED;"
                                  "SET LOCAL lock_timeout = 20000;" // HW_SQL_PATIENCE_MS
                                  "SELECT pg_advisory_xact_lock(7310562)";
static const char begin_queue[] = "BEGIN ISOLATION LEVEL READ COMMITTED;"
                                  "SET LOCAL lock_timeout = 20000";
static const char begin_read[] = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY";

static hw_status postgres_begin(hw_job *job, void *connection, hw_sql_access access)
{
    const char *text = access == HW_SQL_WRITE   ? begin_write
                       : access == HW_SQL_QUEUE ? begin_queue
                                                : begin_read;
    hw_status status = run(job, connection, text);
    if (status != HW_OK) PQclear(PQexec(connection, "ROLLBACK"));
    return status;
}

static hw_status postgres_commit(hw_job *job, void *connection)
{
    PGresult *result = PQexec(connection, "COMMIT");
    // a transaction in which something failed is "committed" as ROLLBACK
    bool is_written =
        PQresultStatus(result) == PGRES_COMMAND_OK && strcmp(PQcmdStatus(result), "COMMIT") == 0;
    hw_status status = HW_OK;
    if (!is_written && PQresultStatus(result) == PGRES_COMMAND_OK)
        status = hw_fail(job, HW_IO_FAILED, "the database undid the transaction");
    else if (!is_written)
        status = fail(job, result);
    PQclear(result);
    return status;
}

static void postgres_rollback(void *connection)
{
    if (PQtransactionStatus(connection) != PQTRANS_IDLE) PQclear(PQexec(connection, "ROLLBACK"));
}

static hw_status postgres_compact(hw_job *job, void *connection)
{
    return run(job, connection, "VACUUM");
}

const hw_sql_driver hw_sql_postgres = {
    true,           postgres_open,   postgres_close,    postgres_ready,  postgres_call,
    postgres_begin, postgres_commit, postgres_rollback, postgres_compact};
