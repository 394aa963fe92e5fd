// SPDX-License-Identifier: GPL-3.0-or-later
// Behind the store's back: every table, every row, every column. Whoever holds the database but not
// the key flips, exchanges, removes, puts back and transplants; each must be found out.
#include "sql/sql.h"
#include "suites.h"

enum { COLUMNS_MAX = 17, ROWS_MAX = 64 };

typedef struct table {
    const char *name;
    const char *columns;
    const char *remove;
    const char *add;
    int key_count; // its first columns are the row's name: exchanged, they only change the order
} table;

#define TABLE(name, columns, places, keys)                                                         \
    {                                                                                              \
        name, "SELECT " columns " FROM " name " ORDER BY 1, 2", "DELETE FROM " name,               \
            "INSERT INTO " name " (" columns ") VALUES (" places ")", keys                         \
    }

static const table tables[] = {
    TABLE("meta", "name, value", "$1, $2", 1),
    TABLE("data_key", "owner, wrapped", "$1, $2", 1),
    TABLE("entry", "seq, kind, id, version, person, owner, at_ms, head, body, link",
          "$1, $2, $3, $4, $5, $6, $7, $8, $9, $10", 1),
    TABLE("chunk", "file, number, sealed", "$1, $2, $3", 2),
    TABLE("job",
          "id, kind, person, slot, state, is_cancel_asked, tries, worker, added_ms, changed_ms, "
          "lease_ms, job_key, body, news, result, mac, live",
          "$1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17", 1),
    TABLE("parcel", "job, number, sealed", "$1, $2, $3", 2),
};
enum { TABLES = sizeof tables / sizeof tables[0] };

typedef struct rows {
    hw_sql_value values[ROWS_MAX][COLUMNS_MAX];
    int count, columns;
} rows;

static rows read_table(hw_place *at, const char *url, const table *t)
{
    rows out = {0};
    hw_sql *sql = NULL;
    hw_sql_rows found;
    CHECK_OK(&at->room.job, hw_sql_open(&at->room.job, url, &sql));
    CHECK_OK(&at->room.job,
             hw_sql_ask(&at->room.job, sql, hw_sql_bare(t->columns), at->room.into, &found));
    hw_sql_close(sql);
    assert_in_range(found.count, 0, ROWS_MAX - 1);
    out.count = found.count;
    out.columns = found.columns;
    for (int i = 0; i < found.count; i++)
        for (int j = 0; j < found.columns; j++) out.values[i][j] = hw_sql_at(&found, i, j);
    return out;
}

// The whole table anew; false when the database itself does not take it.
static bool write_table(hw_place *at, const table *t, const rows *all)
{
    hw_sql *sql = NULL;
    hw_job *job = &at->room.job;
    CHECK_OK(job, hw_sql_open(job, at->url, &sql));
    CHECK_OK(job, hw_sql_begin(job, sql, HW_SQL_WRITE));
    CHECK_OK(job, hw_sql_run(job, sql, hw_sql_bare(t->remove), NULL));
    hw_status status = HW_OK;
    for (int i = 0; i < all->count && status == HW_OK; i++)
        status = hw_sql_run(job, sql, (hw_sql_call){t->add, all->values[i], all->columns}, NULL);
    if (status == HW_OK) CHECK_OK(job, hw_sql_commit(job, sql));
    hw_sql_close(sql);
    return status == HW_OK;
}

static bool is_refusal(hw_status status)
{
    return status == HW_BAD_FORMAT || status == HW_NO_ACCESS || status == HW_NOT_FOUND;
}

// Refused when opened, or named by the verification. A damaged store that opens to be read names it
// as well, and takes no write.
static bool is_detected(hw_place *at)
{
    hw_job *job = &at->room.job;
    hw_store *store = NULL;
    hw_store_report report = {0};
    hw_store_place place = at->place;
    hw_status opened = hw_store_open(job, &place, &store);
    hw_status verified =
        opened == HW_OK ? hw_store_verify(job, store, NULL, at->room.into, &report) : opened;
    hw_store_close(store);
    if (opened == HW_OK) return verified == HW_BAD_FORMAT && report.fault_count > 0;
    place.is_damaged_ok = true;
    store = NULL;
    if (hw_store_open(job, &place, &store) == HW_OK) {
        hw_store_head head;
        hw_store_write write = {.kind = "trial", .body = {(const unsigned char *)"{}", 2}};
        verified = hw_store_verify(job, store, NULL, at->room.into, &report);
        assert_int_equal(HW_NO_ACCESS, hw_store_put(job, store, &write, 1, at->room.into, &head));
        hw_store_close(store);
        if (verified != HW_BAD_FORMAT) return false;
    }
    return is_refusal(opened);
}

static void check_detected(hw_place *at, const table *t, const rows *bad, const char *what)
{
    if (!write_table(at, t, bad)) return; // the database's own rules kept it out
    if (is_detected(at)) return;
    print_error("%s: %s went unnoticed\n", t->name, what);
    fail();
}

static hw_bytes text(const char *at)
{
    return (hw_bytes){(const unsigned char *)at, strlen(at)};
}

// A guest that takes the one job sealed to it and delivers three chunks.
static void deliver(hw_place *at, unsigned char *bytes)
{
    hw_job *job = &at->room.job;
    hw_store_task task;
    char id[HW_STORE_ID];
    hw_guest *guest = hw_place_guest(at, "attic", NULL);
    hw_store_order order = {.kind = "compute", .body = text("{\"far\":1}")};
    hw_store_piece piece = {"report.json", {bytes, 150000}};
    hw_store_parcel parcel = {.about = text("{}"), .pieces = &piece, .count = 1};
    hw_store_worker worker = {.lease_s = 60};
    CHECK_OK(job, hw_store_job_add(job, at->store, &order, id));
    CHECK_OK(job, hw_guest_claim(job, guest, &worker, at->room.into, &task));
    CHECK_OK(job, hw_guest_deliver(job, guest, &task.claim, &parcel));
    hw_guest_close(guest);
}

// A store with something in every table: two people, one erased, a device, files, jobs waiting,
// done, delivered and removed, a lock that was changed.
static void fill(hw_place *at)
{
    hw_job *job = &at->room.job;
    char hash[HW_STORE_HASH], id[HW_STORE_ID];
    unsigned char *bytes = hw_arena_take(at->room.into, 150000, 1);
    const char *person = hw_write_person(at), *gone = hw_write_person(at);
    const char *visit = hw_write(at, (hw_store_ref){"visit", NULL, 0}, person, "{\"v\":1}").id;
    hw_write(at, (hw_store_ref){"visit", visit, 1}, person, "{\"v\":2}");
    hw_write(at, (hw_store_ref){"device", NULL, 0}, person, "{\"lot\":7}");
    for (int i = 0; i < 2; i++) {
        bytes[7] = (unsigned char)i;
        hw_store_file file = {{bytes, 150000}, i ? gone : person, NULL, ""};
        CHECK_OK(job, hw_store_file_put(job, at->store, &file, hash));
        hw_store_order order = {
            .kind = "compute", .body = text("{}"), .person = person, .replaces = "x"};
        if (i) order.replaces = NULL;
        CHECK_OK(job, hw_store_job_add(job, at->store, &order, id));
    }
    hw_store_task task;
    hw_store_worker worker = {.name = "w", .lease_s = 60};
    hw_store_outcome outcome = {text("{\"done\":1}"), NULL, 0};
    CHECK_OK(job, hw_store_job_claim(job, at->store, &worker, at->room.into, &task));
    CHECK_OK(job, hw_store_job_finish(job, at->store, &task.claim, &outcome, at->room.into, NULL));
    deliver(at, bytes);
}

static int begin(void **state, hw_place **out)
{
    hw_place *at = hw_place_of(state);
    *out = at;
    fill(at);
    for (int i = 0; i < TABLES; i++) // each has rows to play with
        assert_true(read_table(at, at->url, &tables[i]).count >= 2);
    return 0;
}

static void close_store(hw_place *at)
{
    hw_store_close(at->store);
    at->store = NULL;
}

static void flip(hw_place *at, hw_sql_value *value)
{
    unsigned char *copy = hw_arena_take(at->room.into, value->bytes.count + 2, 1);
    if (value->kind == HW_SQL_INT) {
        value->integer += 1;
        return;
    }
    size_t count = value->bytes.count;
    if (count) memcpy(copy, value->bytes.at, count);
    if (count == 0)
        copy[count++] = 'a'; // an empty one gets a byte
    else
        copy[count / 2] ^= 1;
    value->bytes = (hw_bytes){copy, count};
}

static void test_tamper__a_flipped_bit_of_any_column_of_any_row(void **state)
{
    hw_place *at = NULL;
    begin(state, &at);
    close_store(at);
    int tried = 0;
    for (int i = 0; i < TABLES; i++) {
        rows good = read_table(at, at->url, &tables[i]);
        // in the whole suite every row, else a few of the long tables, the newest among them
        bool is_whole = hw_test_rounds(10) == 10;
        int step = is_whole || good.count < 6 ? 1 : good.count / (at->is_server ? 2 : 3);
        for (int row = good.count - 1; row >= 0; row -= step)
            for (int column = 0; column < good.columns; column++, tried++) {
                char what[60];
                rows bad = good;
                flip(at, &bad.values[row][column]);
                snprintf(what, sizeof what, "row %d column %d flipped", row, column);
                check_detected(at, &tables[i], &bad, what);
            }
        assert_true(write_table(at, &tables[i], &good));
    }
    assert_false(is_detected(at)); // the untouched store is sound
    assert_true(tried > 70);       // 37 columns, two rows each at least
}

static void test_tamper__rows_that_exchange_their_contents(void **state)
{
    hw_place *at = NULL;
    begin(state, &at);
    close_store(at);
    for (int i = 0; i < TABLES; i++) {
        rows good = read_table(at, at->url, &tables[i]);
        for (int row = 0; row + 1 < good.count; row++) {
            rows bad = good;
            for (int column = tables[i].key_count; column < good.columns; column++) {
                hw_sql_value kept = bad.values[row][column];
                bad.values[row][column] = bad.values[row + 1][column];
                bad.values[row + 1][column] = kept;
            }
            check_detected(at, &tables[i], &bad, "two rows exchanged");
        }
        assert_true(write_table(at, &tables[i], &good));
    }
    assert_false(is_detected(at));
}

static void test_tamper__a_row_taken_out_or_doubled(void **state)
{
    hw_place *at = NULL;
    begin(state, &at);
    close_store(at);
    for (int i = 0; i < TABLES; i++) {
        rows good = read_table(at, at->url, &tables[i]);
        for (int row = 0; row < good.count; row++) {
            rows bad = good;
            for (int j = row; j + 1 < good.count; j++)
                memcpy(bad.values[j], bad.values[j + 1], sizeof bad.values[j]);
            bad.count--;
            check_detected(at, &tables[i], &bad, "a row taken out");
        }
        rows more = good; // the last row once more, under another name
        memcpy(more.values[good.count], good.values[good.count - 1], sizeof more.values[0]);
        flip(at, &more.values[good.count][0]);
        more.count++;
        check_detected(at, &tables[i], &more, "a row doubled");
        assert_true(write_table(at, &tables[i], &good));
    }
    assert_false(is_detected(at));
}

static void test_tamper__a_row_of_another_store_sealed_by_another_key(void **state)
{
    hw_place *at = NULL, *other = NULL;
    void *second = NULL;
    begin(state, &at);
    close_store(at);
    hw_place_set_up(&second);
    begin(&second, &other);
    close_store(other);
    for (int i = 0; i < TABLES; i++) {
        rows good = read_table(at, at->url, &tables[i]);
        rows foreign = read_table(at, other->url, &tables[i]);
        for (int row = 0; row < good.count && row < foreign.count; row++) {
            rows bad = good;
            for (int column = tables[i].key_count; column < good.columns; column++)
                bad.values[row][column] = foreign.values[row][column];
            check_detected(at, &tables[i], &bad, "another store's row");
        }
        assert_true(write_table(at, &tables[i], &good));
    }
    hw_place_tear_down(&second);
    assert_false(is_detected(at));
}

// Puts each row of `old` that is not in the table now back in, one at a time: over the row of the
// same name, or beside the others where it was removed.
static int replay(hw_place *at, const table *t, const rows *old)
{
    rows now = read_table(at, at->url, t);
    int tried = 0;
    for (int i = 0; i < old->count; i++) {
        rows bad = now;
        int place = -1;
        bool is_same = false;
        for (int j = 0; j < now.count; j++) {
            bool is_row = true, is_equal = true;
            for (int column = 0; column < now.columns; column++) {
                const hw_sql_value *a = &old->values[i][column], *b = &now.values[j][column];
                bool same =
                    a->integer == b->integer && a->bytes.count == b->bytes.count &&
                    memcmp(a->bytes.at ? (const void *)a->bytes.at : "",
                           b->bytes.at ? (const void *)b->bytes.at : "", a->bytes.count) == 0;
                is_equal = is_equal && same;
                if (column < t->key_count) is_row = is_row && same;
            }
            if (is_row) place = j;
            is_same = is_same || is_equal;
        }
        if (is_same) continue;
        if (place < 0) place = bad.count++;
        memcpy(bad.values[place], old->values[i], sizeof bad.values[place]);
        check_detected(at, t, &bad, "an older row put back");
        tried++;
    }
    assert_true(write_table(at, t, &now));
    return tried;
}

static void test_tamper__an_older_row_put_back(void **state)
{
    hw_place *at = NULL;
    begin(state, &at);
    hw_job *job = &at->room.job;
    static rows old[TABLES]; // too large for the stack
    hw_store_rows people;
    char second[80];
    snprintf(second, sizeof second, "%s/second", at->folder);
    for (int i = 0; i < TABLES; i++) old[i] = read_table(at, at->url, &tables[i]);
    // now all of them move on: a person erased (key, chunks), a job ended, the lock changed
    CHECK_OK(job, hw_store_list(job, at->store, &(hw_store_query){.kind = "person"}, at->room.into,
                                &people));
    CHECK_OK(job, hw_store_erase(job, at->store, people.rows[1].head.id, "", "asked for it"));
    hw_store_task task;
    hw_store_worker worker = {.name = "w", .lease_s = 60};
    CHECK_OK(job, hw_store_job_claim(job, at->store, &worker, at->room.into, &task));
    CHECK_OK(job, hw_store_job_fail(job, at->store, &task.claim, "no heel"));
    CHECK_OK(job, hw_store_job_claim(job, at->store, &worker, at->room.into, &task));
    assert_true(task.is_delivered);
    hw_store_outcome outcome = {text("{\"done\":2}"), NULL, 0};
    CHECK_OK(job, hw_store_job_finish(job, at->store, &task.claim, &outcome, at->room.into, NULL));
    CHECK_OK(job, hw_store_lock_change(job, at->store, NULL, second));
    close_store(at);
    snprintf(at->key_file, sizeof at->key_file, "%s", second);
    at->place.head_file = at->head_file;
    for (int i = 0; i < TABLES; i++) {
        int tried = replay(at, &tables[i], &old[i]);
        if (strcmp(tables[i].name, "entry") != 0) assert_true(tried > 0); // entries only ever grow
    }
    assert_false(is_detected(at));
}

static void test_tamper__the_newest_entries_cut_off(void **state)
{
    hw_place *at = NULL;
    begin(state, &at);
    close_store(at);
    rows good = read_table(at, at->url, &tables[2]);
    for (int left = 1; left < good.count; left++) {
        rows bad = good;
        bad.count = left;
        check_detected(at, &tables[2], &bad, "the newest entries cut off");
    }
    assert_true(write_table(at, &tables[2], &good));
    assert_false(is_detected(at));
}

static void test_tamper__while_the_store_is_open(void **state)
{
    hw_place *at = NULL;
    begin(state, &at);
    hw_job *job = &at->room.job;
    hw_store_row row;
    hw_store_rows found;
    CHECK_OK(job, hw_store_list(job, at->store, &(hw_store_query){.kind = "visit"}, at->room.into,
                                &found));
    const char *id = found.rows[0].head.id;
    hw_behind(at, "DELETE FROM entry WHERE kind = 'visit' AND version = 2");
    CHECK_FAILS(job,
                hw_store_get(job, at->store, (hw_store_ref){"visit", id, 0}, at->room.into, &row),
                HW_BAD_FORMAT, "removed");
    hw_behind(at, "DELETE FROM entry WHERE seq = (SELECT MAX(seq) FROM entry)");
    CHECK_FAILS(job,
                hw_store_get(job, at->store, (hw_store_ref){"visit", id, 1}, at->room.into, &row),
                HW_BAD_FORMAT, "went back");
}

static void test_head__is_needed_and_must_fit(void **state)
{
    hw_place *at = NULL;
    begin(state, &at);
    hw_job *job = &at->room.job;
    hw_store *store = NULL;
    char line[300];
    close_store(at);
    // one of its two places spoilt, as by a power cut in the middle of a write: opens
    for (int place = 0; place < 2; place++) {
        snprintf(line, sizeof line,
                 "dd if=/dev/zero of=%s bs=4096 seek=%d count=1 conv=notrunc 2>/dev/null",
                 at->head_file, place);
        assert_int_equal(0, system(line));
        assert_false(is_detected(at)); // opening writes the spoilt place anew, in turn
        assert_false(is_detected(at));
    }
    snprintf(line, sizeof line, "mv %s %s.gone", at->head_file, at->head_file);
    assert_int_equal(0, system(line));
    CHECK_FAILS(job, hw_store_open(job, &at->place, &store), HW_NOT_FOUND, "head file");
    hw_store_place place = at->place;
    place.is_first_here = true; // as a second machine would on a shared database
    CHECK_OK(job, hw_store_open(job, &place, &store));
    hw_store_close(store);
    assert_false(is_detected(at));
}

// The whole store rolled back, head file and all, is found out only against an exported mark.
static void test_head__a_rollback_of_everything_is_found_by_an_exported_mark(void **state)
{
    hw_place *at = NULL;
    begin(state, &at);
    hw_job *job = &at->room.job;
    hw_store_mark mark;
    hw_store_report report;
    char line[600];
    if (at->is_server) return; // copying a server's files is not this test's business
    close_store(at);
    snprintf(line, sizeof line, "cp %.150s %.150s.old && cp %s %s.old", at->url, at->url,
             at->head_file, at->head_file);
    assert_int_equal(0, system(line));
    CHECK_OK(job, hw_store_open(job, &at->place, &at->store));
    hw_write_person(at);
    CHECK_OK(job, hw_store_mark_now(job, at->store, &mark));
    CHECK_OK(job, hw_store_verify(job, at->store, &mark, at->room.into, &report));
    close_store(at);
    snprintf(line, sizeof line, "cp %.150s.old %.150s", at->url, at->url);
    assert_int_equal(0, system(line));
    hw_store *store = NULL;
    CHECK_FAILS(job, hw_store_open(job, &at->place, &store), HW_BAD_FORMAT, "old copy");
    snprintf(line, sizeof line, "cp %s.old %s", at->head_file, at->head_file);
    assert_int_equal(0, system(line));
    CHECK_OK(job, hw_store_open(job, &at->place, &at->store));
    CHECK_OK(job, hw_store_verify(job, at->store, NULL, at->room.into, &report));
    CHECK_FAILS(job, hw_store_verify(job, at->store, &mark, at->room.into, &report), HW_BAD_FORMAT,
                "rolled back");
    hw_write_person(at); // and a different future is another one
    hw_write_person(at);
    CHECK_FAILS(job, hw_store_verify(job, at->store, &mark, at->room.into, &report), HW_BAD_FORMAT,
                "exported mark");
}

static void test_head__an_emptied_database_is_not_taken_for_a_new_one(void **state)
{
    hw_place *at = NULL;
    begin(state, &at);
    hw_store *store = NULL;
    close_store(at);
    for (int i = 0; i < TABLES; i++) hw_behind(at, tables[i].remove);
    CHECK_FAILS(&at->room.job, hw_store_open(&at->room.job, &at->place, &store), HW_BAD_FORMAT,
                "records are gone");
}

static void test_tamper__the_table_of_steps(void **state)
{
    hw_place *at = NULL;
    begin(state, &at);
    hw_store *store = NULL;
    close_store(at);
    assert_int_equal(1, hw_behind(at, "UPDATE migration SET number = number + 1 WHERE number = 2"));
    CHECK_FAILS(&at->room.job, hw_store_open(&at->room.job, &at->place, &store), HW_BAD_FORMAT,
                "newer program");
    assert_int_equal(2, hw_behind(at, "DELETE FROM migration"));
    assert_int_not_equal(HW_OK, hw_store_open(&at->room.job, &at->place, &store));
}

int hw_test_tamper(void)
{
    const struct CMUnitTest tests[] = {
        BOTH(test_tamper__a_flipped_bit_of_any_column_of_any_row),
        BOTH(test_tamper__rows_that_exchange_their_contents),
        BOTH(test_tamper__a_row_taken_out_or_doubled),
        BOTH(test_tamper__a_row_of_another_store_sealed_by_another_key),
        BOTH(test_tamper__an_older_row_put_back),
        BOTH(test_tamper__the_newest_entries_cut_off),
        BOTH(test_tamper__while_the_store_is_open),
        BOTH(test_head__is_needed_and_must_fit),
        BOTH(test_head__a_rollback_of_everything_is_found_by_an_exported_mark),
        BOTH(test_head__an_emptied_database_is_not_taken_for_a_new_one),
        BOTH(test_tamper__the_table_of_steps),
    };
    return cmocka_run_group_tests_name("tamper", tests, NULL, NULL);
}
