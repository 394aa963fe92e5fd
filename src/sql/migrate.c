// SPDX-License-Identifier: GPL-3.0-or-later
#include "sql/sql.h"

#include <string.h>

static const char make_table[] =
    "CREATE TABLE IF NOT EXISTS migration (number BIGINT NOT NULL PRIMARY KEY)";
static const char count_steps[] = "SELECT COALESCE(MAX(number), 0), COUNT(*) FROM migration";
static const char note_step[] = "INSERT INTO migration (number) VALUES ($1)";

static hw_status run_step(hw_job *job, hw_sql *sql, const char *step, hw_arena *scratch)
{
    const char *at = step;
    while (*at) {
        const char *end = strstr(at, ";\n");
        size_t length = end ? (size_t)(end - at) : strlen(at);
        const char *one = NULL;
        HW_TRY(hw_text_format(job, scratch, &one, "%.*s", (int)length, at));
        HW_TRY(hw_sql_run(job, sql, hw_sql_bare(one), NULL));
        at += length + (end ? 2 : 0);
    }
    return HW_OK;
}

// Within the transaction: another process may have done the step while this one waited.
static hw_status next_step(hw_job *job, hw_sql *sql, const char *const *steps, int count,
                           bool *is_done)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_sql_rows rows = {0};
    HW_TRY(hw_sql_run(job, sql, hw_sql_bare(make_table), NULL));
    HW_TRY(hw_sql_ask(job, sql, hw_sql_bare(count_steps), tmp.arena, &rows));
    int64_t have = hw_sql_int_at(&rows, 0, 0);
    if (have > count || have != hw_sql_int_at(&rows, 0, 1))
        return hw_fail(job, HW_BAD_FORMAT,
                       "the database is at step %lld (%lld noted); this program knows %d: a newer "
                       "program made it, or its table of steps was changed",
                       (long long)have, (long long)hw_sql_int_at(&rows, 0, 1), count);
    *is_done = have == count;
    if (!*is_done) {
        HW_TRY(run_step(job, sql, steps[have], tmp.arena));
        HW_TRY(hw_sql_run(job, sql, HW_SQL(note_step, hw_sql_int(have + 1)), NULL));
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_sql_migrate(hw_job *job, hw_sql *sql, const char *const *steps, int count)
{
    for (bool is_done = false; !is_done;) {
        HW_TRY(hw_sql_begin(job, sql, HW_SQL_WRITE));
        hw_status status = next_step(job, sql, steps, count, &is_done);
        if (status == HW_OK) status = hw_sql_commit(job, sql);
        hw_sql_rollback(sql);
        HW_TRY(status);
    }
    return HW_OK;
}
