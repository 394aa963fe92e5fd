// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

#include <pthread.h>

static hw_bytes text(const char *at)
{
    return (hw_bytes){(const unsigned char *)at, strlen(at)};
}

static const char *add(hw_place *at, const char *person, const char *replaces)
{
    char id[HW_STORE_ID];
    const char *copy = NULL;
    hw_store_order order = {.kind = "compute",
                            .body = text("{\"visit\":\"0000000000000001\"}"),
                            .person = person,
                            .replaces = replaces,
                            .who = "00000000000000aa"};
    CHECK_OK(&at->room.job, hw_store_job_add(&at->room.job, at->store, &order, id));
    CHECK_OK(&at->room.job, hw_text_copy(&at->room.job, at->room.into, id, &copy));
    return copy;
}

static hw_store_task look(hw_place *at, const char *id)
{
    hw_store_task task;
    CHECK_OK(&at->room.job, hw_store_job_get(&at->room.job, at->store, id, at->room.into, &task));
    return task;
}

static hw_status claim(hw_place *at, const char *name, hw_store_task *task)
{
    hw_store_worker worker = {.name = name, .lease_s = 60};
    return hw_store_job_claim(&at->room.job, at->store, &worker, at->room.into, task);
}

static void test_jobs__one_goes_from_waiting_to_done_with_its_records(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at), *id = add(at, person, NULL);
    assert_int_equal(HW_STORE_WAITING, look(at, id).state);
    hw_store_task task;
    CHECK_OK(job, claim(at, "w1", &task));
    assert_string_equal("{\"visit\":\"0000000000000001\"}", (const char *)task.body.at);
    assert_string_equal("00000000000000aa", task.who);
    bool is_cancelled = true;
    CHECK_OK(job, hw_store_job_renew(job, at->store, &task.claim, 0.25, "shaping", &is_cancelled));
    assert_false(is_cancelled);
    assert_string_equal("shaping", look(at, id).sentence);
    CHECK_NEAR(look(at, id).progress, 0.25, 1e-9, "");
    hw_store_head head;
    hw_store_write write = {.kind = "result", .person = person, .body = text("{\"fit\":1}")};
    hw_store_outcome outcome = {text("{\"is\":\"there\"}"), &write, 1};
    CHECK_OK(job, hw_store_job_finish(job, at->store, &task.claim, &outcome, at->room.into, &head));
    hw_place_reopen(at);
    assert_int_equal(HW_STORE_DONE, look(at, id).state);
    assert_string_equal("{\"is\":\"there\"}", (const char *)look(at, id).result.at);
    hw_store_row row;
    CHECK_OK(job, hw_store_get(job, at->store, (hw_store_ref){"result", head.id, 0}, at->room.into,
                               &row));
    CHECK_FAILS(job, claim(at, "w1", &task), HW_NOT_FOUND, "no job waits");
    CHECK_FAILS(job, hw_store_job_fail(job, at->store, &task.claim, "late"), HW_CLASH, "no longer");
}

static void test_jobs__a_dead_worker_loses_its_lease_three_times_at_most(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *id = add(at, NULL, NULL);
    hw_store_task tasks[3], none;
    bool is_cancelled;
    for (int i = 0; i < 3; i++) {
        CHECK_OK(job, claim(at, i % 2 ? "w2" : "w1", &tasks[i]));
        assert_int_equal(i + 1, tasks[i].claim.tries);
        CHECK_FAILS(job, claim(at, "w3", &none), HW_NOT_FOUND, "no job waits"); // it is held
        at->now_ms += 61000;
        if (i > 0) // who lost it cannot end it, even under the same name
            CHECK_FAILS(
                job,
                hw_store_job_renew(job, at->store, &tasks[i - 1].claim, 0.5, "", &is_cancelled),
                HW_CLASH, "no longer");
    }
    CHECK_FAILS(job, claim(at, "w1", &none), HW_NOT_FOUND, "no job waits");
    assert_int_equal(HW_STORE_FAILED, look(at, id).state);
    assert_non_null(strstr(look(at, id).sentence, "three times"));
    hw_store_report report;
    CHECK_OK(job, hw_store_verify(job, at->store, NULL, at->room.into, &report));
}

static void test_jobs__a_renewed_lease_is_kept(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_store_task task, none;
    bool is_cancelled;
    add(at, NULL, NULL);
    CHECK_OK(job, claim(at, "w1", &task));
    for (int i = 0; i < 5; i++) {
        at->now_ms += 40000;
        CHECK_OK(job, hw_store_job_renew(job, at->store, &task.claim, 0.1 * i, "", &is_cancelled));
        CHECK_FAILS(job, claim(at, "w2", &none), HW_NOT_FOUND, "no job waits");
    }
    hw_store_outcome outcome = {text("{}"), NULL, 0};
    CHECK_OK(job, hw_store_job_finish(job, at->store, &task.claim, &outcome, at->room.into, NULL));
}

static void test_jobs__a_newer_one_of_the_same_key_replaces_older_ones(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_store_task task;
    bool is_cancelled = false;
    const char *running = add(at, NULL, "slider"), *other = add(at, NULL, "another");
    CHECK_OK(job, claim(at, "w1", &task));
    assert_string_equal(running, task.claim.id);
    const char *waiting = add(at, NULL, "slider");
    const char *newest = add(at, NULL, "slider");
    CHECK_OK(job, hw_store_job_renew(job, at->store, &task.claim, 0.5, "", &is_cancelled));
    assert_true(is_cancelled);
    assert_int_equal(HW_STORE_CANCELLED, look(at, waiting).state);
    assert_int_equal(HW_STORE_WAITING, look(at, newest).state);
    assert_int_equal(HW_STORE_WAITING, look(at, other).state);
    hw_store_outcome outcome = {text("{}"), NULL, 0};
    CHECK_FAILS(job,
                hw_store_job_finish(job, at->store, &task.claim, &outcome, at->room.into, NULL),
                HW_CANCELLED, "cancelled");
    assert_int_equal(HW_STORE_CANCELLED, look(at, running).state);
    assert_int_equal(0, look(at, running).result.count);
}

static void test_jobs__cancelled_while_its_worker_died_it_is_not_run_again(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_store_task task;
    const char *id = add(at, NULL, NULL);
    CHECK_OK(job, claim(at, "w1", &task));
    CHECK_OK(job, hw_store_job_cancel(job, at->store, id));
    assert_true(look(at, id).is_cancel_asked);
    at->now_ms += 61000;
    CHECK_FAILS(job, claim(at, "w2", &task), HW_NOT_FOUND, "no job waits");
    assert_int_equal(HW_STORE_CANCELLED, look(at, id).state);
    CHECK_FAILS(job, hw_store_job_cancel(job, at->store, "00000000000000ff"), HW_NOT_FOUND,
                "no job");
}

static void test_jobs__changes_are_listed_and_ended_ones_tidied(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_store_task task;
    hw_store_tasks tasks;
    const char *first = add(at, NULL, NULL), *second = add(at, NULL, NULL);
    int64_t since = at->now_ms;
    CHECK_OK(job, claim(at, "w1", &task));
    CHECK_OK(job, hw_store_job_fail(job, at->store, &task.claim, "the scan has no heel"));
    CHECK_OK(job, hw_store_job_list(job, at->store, since, at->room.into, &tasks));
    assert_int_equal(1, tasks.count);
    assert_string_equal(first, tasks.tasks[0].claim.id);
    assert_string_equal("the scan has no heel", tasks.tasks[0].sentence);
    int removed = 0;
    CHECK_OK(job, hw_store_job_tidy(job, at->store, at->now_ms + 1000, &removed));
    assert_int_equal(1, removed);
    CHECK_FAILS(job, hw_store_job_get(job, at->store, first, at->room.into, &task), HW_NOT_FOUND,
                "no job");
    assert_int_equal(HW_STORE_WAITING, look(at, second).state);
    hw_store_report report;
    CHECK_OK(job, hw_store_verify(job, at->store, NULL, at->room.into, &report));
}

// Several workers, each with a store of its own (as processes would), each job done once.
enum { WORKERS = 3, JOBS = 24 };

typedef struct crew {
    hw_place *at;
    int number;
    int done;
} crew;

static void *work(void *user)
{
    crew *me = user;
    hw_test_room room = hw_test_open();
    hw_store *store = NULL;
    char name[8];
    snprintf(name, sizeof name, "w%d", me->number);
    hw_store_worker worker = {.name = name, .lease_s = 600};
    bool is_open = hw_store_open(&room.job, &me->at->place, &store) == HW_OK;
    if (!is_open) print_error("%s: %s\n", name, room.job.why); // the others do its jobs
    while (is_open) {
        hw_store_task task;
        hw_store_head head;
        hw_status status = hw_store_job_claim(&room.job, store, &worker, room.into, &task);
        if (status != HW_OK) break;
        hw_store_write write = {.kind = "trial", .body = text("{}")};
        hw_store_outcome outcome = {text("{}"), &write, 1};
        status = hw_store_job_finish(&room.job, store, &task.claim, &outcome, room.into, &head);
        me->done += status == HW_OK;
    }
    hw_store_close(store);
    hw_test_close(&room);
    return NULL;
}

static void test_jobs__each_is_done_once_by_several_workers(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    pthread_t threads[WORKERS];
    crew crews[WORKERS];
    for (int i = 0; i < JOBS; i++) add(at, NULL, NULL);
    for (int i = 0; i < WORKERS; i++) {
        crews[i] = (crew){at, i, 0};
        assert_int_equal(0, pthread_create(&threads[i], NULL, work, &crews[i]));
    }
    int done = 0;
    for (int i = 0; i < WORKERS; i++) {
        pthread_join(threads[i], NULL);
        done += crews[i].done;
    }
    hw_store_rows rows;
    CHECK_OK(job, hw_store_list(job, at->store, &(hw_store_query){.kind = "trial"}, at->room.into,
                                &rows));
    assert_int_equal(JOBS, done);
    assert_int_equal(JOBS, rows.count);
}

int hw_test_jobs(void)
{
    const struct CMUnitTest tests[] = {
        BOTH(test_jobs__one_goes_from_waiting_to_done_with_its_records),
        BOTH(test_jobs__a_dead_worker_loses_its_lease_three_times_at_most),
        BOTH(test_jobs__a_renewed_lease_is_kept),
        BOTH(test_jobs__a_newer_one_of_the_same_key_replaces_older_ones),
        BOTH(test_jobs__cancelled_while_its_worker_died_it_is_not_run_again),
        BOTH(test_jobs__changes_are_listed_and_ended_ones_tidied),
        BOTH(test_jobs__each_is_done_once_by_several_workers),
    };
    return cmocka_run_group_tests_name("jobs", tests, NULL, NULL);
}
