// SPDX-License-Identifier: GPL-3.0-or-later
// kill -9 at random points. A child writes records, files and jobs and tells each acknowledged
// write through a pipe; the parent kills it, opens the store and asks for every write it was told
// of.
#include "num/num.h"
#include "seal/seal.h"
#include "suites.h"

#include <signal.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

/// What the child was told is on the disk.
typedef struct word {
    char kind; // 'b' begun, 'r' record, 'f' file, 'e' erased
    char id[HW_STORE_HASH];
    int64_t version;
    int number; // what the body says
} word;

static void tell(int pipe, word said)
{
    if (write(pipe, &said, sizeof said) != (ssize_t)sizeof said) _exit(1);
}

static hw_status write_record(hw_place *at, hw_store *store, const char *id, int64_t version,
                              const char *person, int number, hw_store_head *head)
{
    char body[40];
    int length = snprintf(body, sizeof body, "{\"n\":%d}", number);
    hw_store_write write = {.kind = "visit",
                            .id = id,
                            .person = person,
                            .expected_version = version,
                            .body = {(const unsigned char *)body, (size_t)length}};
    return hw_store_put(&at->room.job, store, &write, 1, at->room.into, head);
}

static hw_status write_file(hw_place *at, hw_store *store, const char *person, int number,
                            word *said)
{
    static unsigned char bytes[70000];
    memset(bytes, number, sizeof bytes);
    hw_store_file file = {{bytes, sizeof bytes}, person, NULL, ""};
    said->kind = 'f';
    return hw_store_file_put(&at->room.job, store, &file, said->id);
}

static hw_status erase_one(hw_place *at, hw_store *store, word *said)
{
    hw_store_head head;
    hw_store_write write = {.kind = "person", .body = {(const unsigned char *)"{}", 2}};
    HW_TRY(hw_store_put(&at->room.job, store, &write, 1, at->room.into, &head));
    HW_TRY(hw_store_erase(&at->room.job, store, head.id, "", "test"));
    said->kind = 'e';
    memcpy(said->id, head.id, HW_STORE_ID);
    return HW_OK;
}

static hw_status run_job(hw_place *at, hw_store *store)
{
    char id[HW_STORE_ID];
    hw_store_task task;
    hw_bytes body = {(const unsigned char *)"{}", 2};
    hw_store_worker worker = {.name = "w", .lease_s = 600};
    hw_store_outcome outcome = {body, NULL, 0};
    HW_TRY(
        hw_store_job_add(&at->room.job, store, &(hw_store_order){.kind = "k", .body = body}, id));
    HW_TRY(hw_store_job_claim(&at->room.job, store, &worker, at->room.into, &task));
    return hw_store_job_finish(&at->room.job, store, &task.claim, &outcome, at->room.into, NULL);
}

// A guest delivers and the store keeps; what an earlier life left of either comes first.
static hw_status run_guest(hw_place *at, hw_store *store, hw_guest *guest)
{
    static const unsigned char bytes[70000];
    hw_job *job = &at->room.job;
    char id[HW_STORE_ID];
    hw_store_task task;
    hw_store_worker worker = {.name = "keeper", .lease_s = 1};
    hw_bytes body = {(const unsigned char *)"{}", 2};
    hw_store_piece piece = {"report.json", {bytes, sizeof bytes}};
    hw_store_parcel parcel = {.about = body, .pieces = &piece, .count = 1}, got;
    hw_store_outcome outcome = {body, NULL, 0};
    HW_TRY(hw_store_job_add(job, store, &(hw_store_order){.kind = "k", .body = body}, id));
    HW_TRY(hw_guest_claim(job, guest, &worker, at->room.into, &task));
    HW_TRY(hw_guest_deliver(job, guest, &task.claim, &parcel));
    HW_TRY(hw_store_job_claim(job, store, &worker, at->room.into, &task));
    if (task.is_delivered)
        HW_TRY(hw_store_job_parcel(job, store, &task.claim, at->room.into, &got));
    return hw_store_job_finish(job, store, &task.claim, &outcome, at->room.into, NULL);
}

static hw_status write_on(hw_place *at, int pipe)
{
    hw_store *store = NULL;
    hw_guest *guest = NULL;
    hw_guest_place guest_place = hw_place_of_guest(at, "attic");
    hw_store_head person, last = {0};
    hw_store_write first = {.kind = "person", .body = {(const unsigned char *)"{}", 2}};
    HW_TRY(hw_store_open(&at->room.job, &at->place, &store));
    HW_TRY(hw_guest_open(&at->room.job, &guest_place, &guest));
    HW_TRY(hw_store_put(&at->room.job, store, &first, 1, at->room.into, &person));
    tell(pipe, (word){.kind = 'b'});
    for (int number = 0;; number++) {
        word said = {.kind = 'r', .number = number};
        if (number % 7 == 3) {
            HW_TRY(write_file(at, store, person.id, number, &said));
        } else if (number % 11 == 5) {
            HW_TRY(erase_one(at, store, &said));
        } else if (number % 5 == 4) {
            HW_TRY(number % 2 ? run_job(at, store) : run_guest(at, store, guest));
            continue;
        } else {
            bool is_new = number % 3 == 0 || !last.id;
            HW_TRY(write_record(at, store, is_new ? NULL : last.id, is_new ? 0 : last.version,
                                person.id, number, &last));
            memcpy(said.id, last.id, HW_STORE_ID);
            said.version = last.version;
        }
        tell(pipe, said);
    }
}

static void check_word(hw_place *at, const word *said)
{
    hw_job *job = &at->room.job;
    hw_arena_mark mark = hw_arena_here(at->room.into);
    hw_store_row row;
    hw_bytes bytes;
    char want[40];
    snprintf(want, sizeof want, "{\"n\":%d}", said->number);
    if (said->kind == 'r') {
        hw_store_ref ref = {"visit", said->id, said->version};
        CHECK_OK(job, hw_store_get(job, at->store, ref, at->room.into, &row));
        assert_string_equal(want, (const char *)row.body.at);
    } else if (said->kind == 'f') {
        CHECK_OK(job, hw_store_file_get(job, at->store, said->id, at->room.into, &bytes));
        assert_int_equal(70000, bytes.count);
    } else {
        hw_store_ref ref = {"person", said->id, 0};
        CHECK_FAILS(job, hw_store_get(job, at->store, ref, at->room.into, &row), HW_NOT_FOUND,
                    "erased");
    }
    hw_arena_rewind(at->room.into, mark);
}

static bool hear(int pipe, word *out)
{
    return read(pipe, out, sizeof *out) == (ssize_t)sizeof *out;
}

// One life of the child, or of the server under it: how many words were said before it ended.
static int live_and_die(hw_place *at, hw_random *random, bool is_servers)
{
    int ends[2];
    assert_int_equal(0, pipe(ends));
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        close(ends[0]);
        if (write_on(at, ends[1]) != HW_OK && !is_servers)
            fprintf(stderr, "child: %s\n", at->room.job.why);
        _exit(1);
    }
    close(ends[1]);
    word words[400];
    int count = 0;
    // four lives in five end after the opening, however slow the machine; the fifth anywhere
    bool is_patient = is_servers || hw_random_uniform(random) < 0.8;
    if (is_patient) assert_true(hear(ends[0], &words[0]) && words[0].kind == 'b');
    double wait_s = 0.004 + 0.05 * hw_random_uniform(random);
    nanosleep(&(struct timespec){0, (long)(1e9 * wait_s)}, NULL);
    if (is_servers)
        hw_place_crash_server();
    else
        kill(child, SIGKILL);
    while (count < 400 && hear(ends[0], &words[count])) count += words[count].kind != 'b';
    close(ends[0]);
    int state = 0;
    waitpid(child, &state, 0);
    assert_true(WIFSIGNALED(state) || is_servers); // killed, not fallen over
    hw_store_report report;
    CHECK_OK(&at->room.job, hw_store_open(&at->room.job, &at->place, &at->store));
    for (int i = 0; i < count; i++) check_word(at, &words[i]);
    CHECK_OK(&at->room.job,
             hw_store_verify(&at->room.job, at->store, NULL, at->room.into, &report));
    hw_store_close(at->store);
    at->store = NULL;
    return count;
}

// A store with a guest, closed: each life opens it anew.
static void make_ready(hw_place *at)
{
    hw_guest_close(hw_place_guest(at, "attic", NULL));
    hw_store_close(at->store);
    at->store = NULL;
}

static void test_kill__loses_nothing_that_was_acknowledged(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_random random = hw_random_begin(20260302);
    int rounds = hw_test_rounds(at->is_server ? 100 : 1000), words = 0, silent = 0;
#ifdef __SANITIZE_ADDRESS__
    rounds = (rounds + 3) / 4; // the same code, several times slower
#endif
    make_ready(at);
    for (int i = 0; i < rounds; i++) {
        int count = live_and_die(at, &random, false);
        words += count;
        silent += count == 0;
        if (i % 10 == 9) { // a fresh store now and then, or each round gets slower
            void *fresh = at;
            int (*set_up)(void **) = at->is_server ? hw_place_set_up_server : hw_place_set_up;
            hw_place_tear_down(&fresh);
            assert_int_equal(0, set_up(state));
            at = hw_place_of(state);
            make_ready(at);
        }
    }
    print_message("%d kills, %d acknowledged writes, %d kills before the first\n", rounds, words,
                  silent);
    assert_true(words >= rounds / 2);
}

static void test_kill__of_the_database_server_loses_nothing_either(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_random random = hw_random_begin(20260303);
    int rounds = hw_test_rounds(20), words = 0;
    make_ready(at);
    for (int i = 0; i < rounds; i++) words += live_and_die(at, &random, true);
    print_message("%d crashes of the server, %d acknowledged writes\n", rounds, words);
    assert_true(words >= rounds / 2);
}

int hw_test_kill(void)
{
    const struct CMUnitTest tests[] = {
        BOTH(test_kill__loses_nothing_that_was_acknowledged),
        cmocka_unit_test_setup_teardown(test_kill__of_the_database_server_loses_nothing_either,
                                        hw_place_set_up_server, hw_place_tear_down),
    };
    return cmocka_run_group_tests_name("kill", tests, NULL, NULL);
}
