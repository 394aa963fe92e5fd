// SPDX-License-Identifier: GPL-3.0-or-later
#include "server.h"
#include "sql/sql.h"

#include <pthread.h>

typedef struct base {
    hw_test_room room;
    hw_sql *sql;
    char folder[64];
    char url[200];
} base;

static const char *const steps[] = {
    "CREATE TABLE thing (number BIGINT NOT NULL PRIMARY KEY, name TEXT, body BYTEA)",
    "CREATE TABLE other (a BIGINT NOT NULL, b BIGINT NOT NULL, PRIMARY KEY (a, b));\n"
    "CREATE INDEX other_b ON other (b)"};

static int set_up(void **state)
{
    base *at = calloc(1, sizeof *at);
    assert_non_null(at);
    at->room = hw_test_open();
    hw_folder_make(at->folder);
    snprintf(at->url, sizeof at->url, "%s/test.db", at->folder);
    CHECK_OK(&at->room.job, hw_sql_open(&at->room.job, at->url, &at->sql));
    CHECK_OK(&at->room.job, hw_sql_migrate(&at->room.job, at->sql, steps, 2));
    *state = at;
    return 0;
}

static int set_up_server(void **state)
{
    *state = NULL;
    if (!hw_server_start()) return 0;
    base *at = calloc(1, sizeof *at);
    assert_non_null(at);
    at->room = hw_test_open();
    hw_folder_make(at->folder);
    snprintf(at->url, sizeof at->url, "postgresql://postgres@/postgres?host=%s", hw_server_folder);
    CHECK_OK(&at->room.job, hw_sql_open(&at->room.job, at->url, &at->sql));
    CHECK_OK(&at->room.job,
             hw_sql_run(&at->room.job, at->sql, hw_sql_bare("DROP SCHEMA public CASCADE"), NULL));
    CHECK_OK(&at->room.job,
             hw_sql_run(&at->room.job, at->sql, hw_sql_bare("CREATE SCHEMA public"), NULL));
    CHECK_OK(&at->room.job, hw_sql_migrate(&at->room.job, at->sql, steps, 2));
    *state = at;
    return 0;
}

static int tear_down(void **state)
{
    base *at = *state;
    if (!at) return 0;
    hw_sql_close(at->sql);
    hw_folder_remove(at->folder);
    hw_test_close(&at->room);
    free(at);
    return 0;
}

static base *base_of(void **state)
{
    if (!*state) skip();
    return *state;
}

static const char add[] = "INSERT INTO thing (number, name, body) VALUES ($1, $2, $3)";

static hw_status add_thing(base *at, hw_sql *sql, int64_t number)
{
    return hw_sql_run(&at->room.job, sql,
                      HW_SQL(add, hw_sql_int(number), hw_sql_text("x"), (hw_sql_value){0}), NULL);
}

static int64_t count_things(base *at, hw_sql *sql)
{
    hw_sql_rows rows;
    CHECK_OK(&at->room.job,
             hw_sql_ask(&at->room.job, sql, hw_sql_bare("SELECT COUNT(*) FROM thing"),
                        at->room.into, &rows));
    return hw_sql_int_at(&rows, 0, 0);
}

static void test_sql__values_come_back_as_they_went_in(void **state)
{
    base *at = base_of(state);
    hw_job *job = &at->room.job;
    static const int64_t numbers[] = {0, 1, -1, 255, -256, INT64_MAX, INT64_MIN};
    const unsigned char bytes[] = {0, 39, 255, 92, 0, 128};
    const char *hostile = "x'); DROP TABLE thing; --\" \xc3\xb6 $1 ?";
    for (int i = 0; i < 7; i++)
        CHECK_OK(job, hw_sql_run(job, at->sql,
                                 HW_SQL(add, hw_sql_int(numbers[i]), hw_sql_text(hostile),
                                        hw_sql_bytes((hw_bytes){bytes, (size_t)(i < 6 ? i : 6)})),
                                 NULL));
    for (int i = 0; i < 7; i++) {
        hw_sql_rows rows;
        CHECK_OK(job,
                 hw_sql_ask(job, at->sql,
                            HW_SQL("SELECT name, body, number, NULL FROM thing WHERE number = $1",
                                   hw_sql_int(numbers[i])),
                            at->room.into, &rows));
        assert_int_equal(1, rows.count);
        assert_int_equal(4, rows.columns);
        assert_string_equal(hostile, hw_sql_text_at(&rows, 0, 0));
        assert_int_equal(i < 6 ? i : 6, hw_sql_bytes_at(&rows, 0, 1).count);
        assert_memory_equal(bytes, hw_sql_bytes_at(&rows, 0, 1).at, (size_t)(i < 6 ? i : 6));
        assert_true(hw_sql_int_at(&rows, 0, 2) == numbers[i]);
        assert_int_equal(HW_SQL_NULL, hw_sql_at(&rows, 0, 3).kind);
        assert_int_equal(HW_SQL_NULL, hw_sql_at(&rows, 1, 0).kind); // out of range
    }
}

static void test_sql__values_are_bound_by_number_in_any_order(void **state)
{
    base *at = base_of(state);
    hw_job *job = &at->room.job;
    hw_sql_rows rows;
    int64_t changed = 0;
    CHECK_OK(job, add_thing(at, at->sql, 5));
    CHECK_OK(job, hw_sql_run(job, at->sql,
                             HW_SQL("UPDATE thing SET name = $2 WHERE number = $1 AND $2 <> name",
                                    hw_sql_int(5), hw_sql_text("second")),
                             &changed));
    assert_int_equal(1, changed);
    CHECK_OK(job, hw_sql_ask(job, at->sql,
                             HW_SQL("SELECT name FROM thing WHERE name = $11 AND number = $10"
                                    " AND $1 + $2 + $3 + $4 + $5 + $6 + $7 + $8 + $9 = 45",
                                    hw_sql_int(1), hw_sql_int(2), hw_sql_int(3), hw_sql_int(4),
                                    hw_sql_int(5), hw_sql_int(6), hw_sql_int(7), hw_sql_int(8),
                                    hw_sql_int(9), hw_sql_int(5), hw_sql_text("second")),
                             at->room.into, &rows));
    assert_int_equal(1, rows.count);
}

static void test_sql__a_key_twice_is_a_clash_without_its_value(void **state)
{
    base *at = base_of(state);
    CHECK_OK(&at->room.job, add_thing(at, at->sql, 77123));
    CHECK_FAILS(&at->room.job, add_thing(at, at->sql, 77123), HW_CLASH, "");
    assert_null(strstr(at->room.job.why, "77123"));
    CHECK_FAILS(&at->room.job, hw_sql_run(&at->room.job, at->sql, hw_sql_bare("SELEC 1"), NULL),
                HW_IO_FAILED, "syntax");
}

static void test_sql__a_transaction_is_all_or_nothing(void **state)
{
    base *at = base_of(state);
    hw_job *job = &at->room.job;
    CHECK_OK(job, hw_sql_begin(job, at->sql, HW_SQL_WRITE));
    CHECK_OK(job, add_thing(at, at->sql, 1));
    hw_sql_rollback(at->sql);
    hw_sql_rollback(at->sql); // harmless
    assert_int_equal(0, count_things(at, at->sql));
    CHECK_OK(job, hw_sql_begin(job, at->sql, HW_SQL_WRITE));
    CHECK_OK(job, add_thing(at, at->sql, 1));
    CHECK_OK(job, add_thing(at, at->sql, 2));
    CHECK_OK(job, hw_sql_commit(job, at->sql));
    assert_int_equal(2, count_things(at, at->sql));
}

static void test_sql__a_commit_after_a_failure_never_claims_to_have_written(void **state)
{
    base *at = base_of(state);
    hw_job *job = &at->room.job;
    CHECK_OK(job, add_thing(at, at->sql, 1));
    CHECK_OK(job, hw_sql_begin(job, at->sql, HW_SQL_WRITE));
    CHECK_OK(job, add_thing(at, at->sql, 2));
    assert_int_equal(HW_CLASH, add_thing(at, at->sql, 1));
    hw_status status = hw_sql_commit(job, at->sql);
    // PostgreSQL undoes all of it, SQLite the failed statement only: what is answered is what
    // stands
    assert_int_equal(status == HW_OK ? 2 : 1, count_things(at, at->sql));
}

static void test_sql__a_reader_keeps_its_picture_while_others_write(void **state)
{
    base *at = base_of(state);
    hw_job *job = &at->room.job;
    hw_sql *reader = NULL;
    CHECK_OK(job, hw_sql_open(job, at->url, &reader));
    CHECK_OK(job, hw_sql_begin(job, reader, HW_SQL_READ));
    assert_int_equal(0, count_things(at, reader));
    CHECK_OK(job, add_thing(at, at->sql, 1));
    assert_int_equal(0, count_things(at, reader));
    CHECK_OK(job, hw_sql_commit(job, reader));
    assert_int_equal(1, count_things(at, reader));
    hw_sql_close(reader);
}

enum { THREADS = 4, EACH = 25 };

// Reads the largest number and writes the next: without one writer at a time two would clash.
static void *count_on(void *user)
{
    base *at = user;
    hw_test_room room = hw_test_open();
    hw_sql *sql = NULL;
    long done = 0;
    if (hw_sql_open(&room.job, at->url, &sql) != HW_OK) return NULL;
    for (int i = 0; i < EACH; i++) {
        hw_sql_rows rows;
        hw_status status = hw_sql_begin(&room.job, sql, HW_SQL_WRITE);
        if (status == HW_OK)
            status = hw_sql_ask(&room.job, sql,
                                hw_sql_bare("SELECT COALESCE(MAX(number), 0) FROM thing"),
                                room.into, &rows);
        if (status == HW_OK) {
            hw_sql_value next = hw_sql_int(hw_sql_int_at(&rows, 0, 0) + 1);
            status = hw_sql_run(&room.job, sql,
                                HW_SQL("INSERT INTO thing (number) VALUES ($1)", next), NULL);
        }
        if (status == HW_OK) status = hw_sql_commit(&room.job, sql);
        hw_sql_rollback(sql);
        done += status == HW_OK;
    }
    hw_sql_close(sql);
    hw_test_close(&room);
    return (void *)done;
}

static void test_sql__writers_come_one_after_the_other(void **state)
{
    base *at = base_of(state);
    pthread_t threads[THREADS];
    long done = 0;
    for (int i = 0; i < THREADS; i++)
        assert_int_equal(0, pthread_create(&threads[i], NULL, count_on, at));
    for (int i = 0; i < THREADS; i++) {
        void *result = NULL;
        pthread_join(threads[i], &result);
        done += (long)result;
    }
    assert_int_equal(THREADS * EACH, done);
    assert_int_equal(THREADS * EACH, count_things(at, at->sql));
}

static void test_migrate__each_step_runs_once_and_a_newer_database_is_refused(void **state)
{
    base *at = base_of(state);
    hw_job *job = &at->room.job;
    static const char *const more[] = {NULL, NULL, "ALTER TABLE thing ADD COLUMN age BIGINT"};
    const char *all[] = {steps[0], steps[1], more[2]};
    CHECK_OK(job, hw_sql_migrate(job, at->sql, steps, 2)); // again: nothing to do
    CHECK_OK(job, hw_sql_migrate(job, at->sql, all, 3));
    CHECK_OK(job, hw_sql_run(job, at->sql, hw_sql_bare("UPDATE thing SET age = 1"), NULL));
    CHECK_FAILS(job, hw_sql_migrate(job, at->sql, steps, 2), HW_BAD_FORMAT, "newer");
    const char *bad[] = {steps[0], steps[1], more[2], "CREATE TABLE good (a BIGINT);\nCREATE BAD"};
    assert_int_not_equal(HW_OK, hw_sql_migrate(job, at->sql, bad, 4));
    CHECK_FAILS(job, hw_sql_run(job, at->sql, hw_sql_bare("SELECT a FROM good"), NULL),
                HW_IO_FAILED,
                "good"); // half a step leaves nothing
}

static void test_sqlite__syncs_every_commit(void **state)
{
    base *at = base_of(state);
    hw_sql_rows rows;
    hw_job *job = &at->room.job;
    CHECK_OK(job,
             hw_sql_ask(job, at->sql, hw_sql_bare("PRAGMA synchronous"), at->room.into, &rows));
    assert_int_equal(2, hw_sql_int_at(&rows, 0, 0)); // FULL: sqlite.org/pragma.html
    CHECK_OK(job,
             hw_sql_ask(job, at->sql, hw_sql_bare("PRAGMA journal_mode"), at->room.into, &rows));
    assert_string_equal("wal", hw_sql_text_at(&rows, 0, 0));
}

static void test_sqlite__a_file_that_is_no_database_is_refused(void **state)
{
    base *at = base_of(state);
    hw_sql *sql = NULL;
    char path[100];
    snprintf(path, sizeof path, "%s/letter.txt", at->folder);
    FILE *file = fopen(path, "w");
    for (int i = 0; i < 300; i++) fputs("not a database ", file);
    fclose(file);
    CHECK_FAILS(&at->room.job, hw_sql_open(&at->room.job, path, &sql), HW_BAD_FORMAT, "database");
    snprintf(path, sizeof path, "%s/no/such.db", at->folder);
    CHECK_FAILS(&at->room.job, hw_sql_open(&at->room.job, path, &sql), HW_IO_FAILED, "");
}

static void set_server(base *at, const char *statement)
{
    hw_job *job = &at->room.job;
    CHECK_OK(job, hw_sql_run(job, at->sql, hw_sql_bare(statement), NULL));
    CHECK_OK(job, hw_sql_run(job, at->sql, hw_sql_bare("SELECT pg_reload_conf()"), NULL));
    CHECK_OK(job, hw_sql_run(job, at->sql, hw_sql_bare("SELECT pg_sleep(0.3)"), NULL));
}

static void test_postgres__without_syncs_is_refused(void **state)
{
    base *at = base_of(state);
    hw_job *job = &at->room.job;
    static const char *const names[] = {"fsync", "synchronous_commit", "full_page_writes"};
    for (int i = 0; i < 3; i++) {
        hw_sql *sql = NULL;
        char statement[80];
        snprintf(statement, sizeof statement, "ALTER SYSTEM SET %s = off", names[i]);
        set_server(at, statement);
        CHECK_FAILS(job, hw_sql_open(job, at->url, &sql), HW_NO_ACCESS, names[i]);
        snprintf(statement, sizeof statement, "ALTER SYSTEM RESET %s", names[i]);
        set_server(at, statement);
        CHECK_OK(job, hw_sql_open(job, at->url, &sql));
        hw_sql_close(sql);
    }
}

static void test_postgres__a_lost_connection_is_made_anew(void **state)
{
    base *at = base_of(state);
    hw_job *job = &at->room.job;
    hw_sql *other = NULL;
    CHECK_OK(job, hw_sql_open(job, at->url, &other));
    CHECK_OK(job, hw_sql_begin(job, other, HW_SQL_WRITE));
    CHECK_OK(job, add_thing(at, other, 1));
    CHECK_OK(job, hw_sql_run(job, at->sql,
                             hw_sql_bare("SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                                         " WHERE pid <> pg_backend_pid() AND datname IS NOT NULL"),
                             NULL));
    CHECK_FAILS(job, hw_sql_commit(job, other), HW_IO_FAILED, "");
    assert_int_equal(0, count_things(at, other)); // on a new connection
    CHECK_OK(job, add_thing(at, other, 2));
    hw_sql_close(other);
}

#define BOTH(test)                                                                                 \
    cmocka_unit_test_setup_teardown(test, set_up, tear_down),                                      \
    {                                                                                              \
#test "__on_a_server", test, set_up_server, tear_down, NULL                                \
    }

int main(void)
{
    const struct CMUnitTest tests[] = {
        BOTH(test_sql__values_come_back_as_they_went_in),
        BOTH(test_sql__values_are_bound_by_number_in_any_order),
        BOTH(test_sql__a_key_twice_is_a_clash_without_its_value),
        BOTH(test_sql__a_transaction_is_all_or_nothing),
        BOTH(test_sql__a_commit_after_a_failure_never_claims_to_have_written),
        BOTH(test_sql__a_reader_keeps_its_picture_while_others_write),
        BOTH(test_sql__writers_come_one_after_the_other),
        BOTH(test_migrate__each_step_runs_once_and_a_newer_database_is_refused),
        cmocka_unit_test_setup_teardown(test_sqlite__syncs_every_commit, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_sqlite__a_file_that_is_no_database_is_refused, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_postgres__without_syncs_is_refused, set_up_server,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_postgres__a_lost_connection_is_made_anew,
                                        set_up_server, tear_down),
    };
    int wrong = cmocka_run_group_tests(tests, NULL, NULL);
    hw_server_stop();
    return wrong;
}
