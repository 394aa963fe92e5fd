// SPDX-License-Identifier: GPL-3.0-or-later
// Workers that hold no key of the clinic's: what they can do, what they cannot, and what is found
// out when somebody behind the database helps them.
#include "seal/seal.h"
#include "step_1_backup.h"
#include "store/guest_internal.h"
#include "store/job_internal.h"
#include "suites.h"

#include <pthread.h>
#include <time.h>

enum { SCAN_BYTES = 150000 };

static hw_bytes text(const char *at)
{
    return (hw_bytes){(const unsigned char *)at, strlen(at)};
}

static const char *copy(hw_place *at, const char *id)
{
    const char *out = NULL;
    CHECK_OK(&at->room.job, hw_text_copy(&at->room.job, at->room.into, id, &out));
    return out;
}

static const char *add(hw_place *at, const char *person, const char *file)
{
    char id[HW_STORE_ID];
    hw_store_order order = {.kind = "compute",
                            .body = text("{\"visit\":\"0000000000000001\"}"),
                            .person = person,
                            .who = "00000000000000aa",
                            .files = &file,
                            .file_count = file != NULL};
    CHECK_OK(&at->room.job, hw_store_job_add(&at->room.job, at->store, &order, id));
    return copy(at, id);
}

static const char *keep(hw_place *at, const char *person, unsigned char first)
{
    char hash[HW_STORE_HASH];
    unsigned char *bytes = hw_arena_take(at->room.into, SCAN_BYTES, 1);
    bytes[0] = first;
    hw_store_file file = {{bytes, SCAN_BYTES}, person, NULL, ""};
    CHECK_OK(&at->room.job, hw_store_file_put(&at->room.job, at->store, &file, hash));
    return copy(at, hash);
}

static hw_status claim(hw_place *at, hw_guest *guest, hw_store_task *task)
{
    hw_store_worker worker = {.kind = "compute", .lease_s = 60};
    return hw_guest_claim(&at->room.job, guest, &worker, at->room.into, task);
}

// As a worker of the clinic's; `keeps_only`: as one that does not compute.
static hw_status claim_home(hw_place *at, bool keeps_only, hw_store_task *task)
{
    hw_store_worker worker = {.name = "home", .lease_s = 60, .keeps_only = keeps_only};
    return hw_store_job_claim(&at->room.job, at->store, &worker, at->room.into, task);
}

static hw_status deliver(hw_place *at, hw_guest *guest, const hw_store_claim *claim)
{
    unsigned char *bytes = hw_arena_take(at->room.into, SCAN_BYTES, 1);
    memset(bytes, 7, SCAN_BYTES);
    hw_store_piece pieces[] = {{"report.json", text("{\"fit\":1}")},
                               {"left.stl", {bytes, SCAN_BYTES}},
                               {"empty.txt", {0}}};
    hw_store_parcel parcel = {.about = text("{\"program\":\"0\"}"), .pieces = pieces, .count = 3};
    return hw_guest_deliver(&at->room.job, guest, claim, &parcel);
}

static hw_store_task look(hw_place *at, const char *id)
{
    hw_store_task task;
    CHECK_OK(&at->room.job, hw_store_job_get(&at->room.job, at->store, id, at->room.into, &task));
    return task;
}

static void verify(hw_place *at)
{
    hw_store_report report;
    CHECK_OK(&at->room.job,
             hw_store_verify(&at->room.job, at->store, NULL, at->room.into, &report));
}

static hw_status open_parcel(hw_place *at, const hw_store_task *task, hw_store_parcel *out)
{
    return hw_store_job_parcel(&at->room.job, at->store, &task->claim, at->room.into, out);
}

static void finish(hw_place *at, const hw_store_task *task)
{
    hw_store_outcome outcome = {text("{\"is\":\"there\"}"), NULL, 0};
    CHECK_OK(&at->room.job, hw_store_job_finish(&at->room.job, at->store, &task->claim, &outcome,
                                                at->room.into, NULL));
}

static void test_guests__a_job_goes_out_and_comes_back(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at), *scan = keep(at, person, 42);
    hw_guest *guest = hw_place_guest(at, "attic", NULL);
    const char *id = add(at, person, scan);
    hw_store_task task, home;
    hw_store_parcel parcel;
    hw_bytes bytes;
    bool is_cancelled = true;
    CHECK_OK(job, claim(at, guest, &task));
    assert_string_equal("{\"visit\":\"0000000000000001\"}", (const char *)task.body.at);
    assert_string_equal("00000000000000aa", task.who);
    CHECK_OK(job, hw_guest_file(job, guest, &task, scan, at->room.into, &bytes));
    assert_int_equal(SCAN_BYTES, bytes.count);
    assert_int_equal(42, bytes.at[0]);
    CHECK_OK(job, hw_guest_renew(job, guest, &task.claim, 0.25, "shaping", &is_cancelled));
    assert_false(is_cancelled);
    assert_string_equal("shaping", look(at, id).sentence);
    verify(at);
    CHECK_OK(job, deliver(at, guest, &task.claim));
    assert_true(look(at, id).is_delivered);
    assert_int_equal(HW_STORE_RUNNING, look(at, id).state);
    // a late word of its own does not take it back
    CHECK_FAILS(job, hw_guest_renew(job, guest, &task.claim, 0.9, "", &is_cancelled), HW_CLASH,
                "no longer");
    CHECK_FAILS(job, deliver(at, guest, &task.claim), HW_CLASH, "no longer");
    verify(at);
    CHECK_FAILS(job, claim(at, guest, &home), HW_NOT_FOUND,
                "no job waits"); // it is the clinic's now
    CHECK_OK(job, claim_home(at, true, &home));
    assert_int_equal(1, home.claim.tries); // keeping it is no further try
    CHECK_OK(job, open_parcel(at, &home, &parcel));
    assert_string_equal("attic", parcel.guest);
    assert_int_equal(3, parcel.count);
    assert_string_equal("left.stl", parcel.pieces[1].name);
    assert_int_equal(SCAN_BYTES, parcel.pieces[1].bytes.count);
    assert_int_equal(7, parcel.pieces[1].bytes.at[SCAN_BYTES - 1]);
    assert_memory_equal("{\"fit\":1}", parcel.pieces[0].bytes.at, 9);
    assert_int_equal(0, parcel.pieces[2].bytes.count);
    finish(at, &home);
    assert_int_equal(HW_STORE_DONE, look(at, id).state);
    assert_string_equal("{\"is\":\"there\"}", (const char *)look(at, id).result.at);
    assert_int_equal(0, hw_behind(at, "DELETE FROM parcel")); // gone with its job's end
    CHECK_FAILS(job, claim_home(at, false, &home), HW_NOT_FOUND, "no job waits");
    CHECK_FAILS(job, deliver(at, guest, &task.claim), HW_CLASH, "no longer");
    verify(at);
    hw_guest_close(guest);
}

static void test_guests__a_dead_one_loses_its_job_to_another(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_guest *one = hw_place_guest(at, "attic", NULL), *two = hw_place_guest(at, "cellar", NULL);
    const char *id = add(at, NULL, NULL);
    hw_store_task first, second, home;
    bool is_cancelled;
    CHECK_OK(job, claim(at, one, &first));
    CHECK_FAILS(job, claim(at, two, &second), HW_NOT_FOUND, "no job waits");
    at->now_ms += 61000;
    CHECK_OK(job, claim(at, two, &second));
    assert_int_equal(2, second.claim.tries);
    CHECK_FAILS(job, hw_guest_renew(job, one, &first.claim, 0.5, "", &is_cancelled), HW_CLASH,
                "no longer");
    CHECK_FAILS(job, deliver(at, one, &first.claim), HW_CLASH, "no longer");
    CHECK_OK(job, deliver(at, two, &second.claim));
    // who keeps it dies as well: it is kept by the next, and not computed again
    CHECK_OK(job, claim_home(at, true, &home));
    at->now_ms += 61000;
    CHECK_FAILS(job, claim(at, one, &first), HW_NOT_FOUND, "no job waits");
    CHECK_OK(job, claim_home(at, false, &home));
    assert_true(home.is_delivered);
    finish(at, &home);
    assert_int_equal(HW_STORE_DONE, look(at, id).state);
    verify(at);
    hw_guest_close(one), hw_guest_close(two);
}

// Nobody but guests computes here: what they leave is ended by who only keeps.
static void test_guests__lost_three_times_or_cancelled_it_is_ended_by_the_clinic(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_guest *guest = hw_place_guest(at, "attic", NULL);
    const char *lost = add(at, NULL, NULL);
    hw_store_task task, none;
    for (int i = 0; i < HW_STORE_TRIES_MAX; i++) {
        CHECK_OK(job, claim(at, guest, &task));
        CHECK_FAILS(job, claim_home(at, true, &none), HW_NOT_FOUND, "no job waits");
        at->now_ms += 61000;
    }
    CHECK_FAILS(job, claim(at, guest, &none), HW_NOT_FOUND, "no job waits");
    CHECK_FAILS(job, claim_home(at, true, &none), HW_NOT_FOUND, "no job waits");
    assert_int_equal(HW_STORE_FAILED, look(at, lost).state);
    // cancelled while computed, and cancelled when delivered
    bool is_cancelled = false;
    const char *running = add(at, NULL, NULL);
    CHECK_OK(job, claim(at, guest, &task));
    CHECK_OK(job, hw_store_job_cancel(job, at->store, running));
    CHECK_OK(job, hw_guest_look(job, guest, running, at->room.into, &none));
    assert_true(none.is_cancel_asked);
    CHECK_OK(job, hw_guest_renew(job, guest, &task.claim, 0.5, "", &is_cancelled));
    assert_true(is_cancelled);
    CHECK_FAILS(job, deliver(at, guest, &task.claim), HW_CANCELLED, "cancelled");
    const char *delivered = add(at, NULL, NULL);
    CHECK_OK(job, claim(at, guest, &task));
    CHECK_OK(job, deliver(at, guest, &task.claim));
    CHECK_OK(job, hw_store_job_cancel(job, at->store, delivered));
    CHECK_FAILS(job, claim_home(at, true, &none), HW_NOT_FOUND, "no job waits");
    assert_int_equal(HW_STORE_CANCELLED, look(at, running).state);
    assert_int_equal(HW_STORE_CANCELLED, look(at, delivered).state);
    assert_int_equal(0, hw_behind(at, "DELETE FROM parcel"));
    // what cannot be computed comes back as a sentence
    const char *bad = add(at, NULL, NULL);
    hw_store_parcel parcel = {.failed = "the scan has no heel"}, got;
    CHECK_OK(job, claim(at, guest, &task));
    CHECK_OK(job, hw_guest_deliver(job, guest, &task.claim, &parcel));
    verify(at);
    CHECK_OK(job, claim_home(at, true, &none));
    CHECK_OK(job, open_parcel(at, &none, &got));
    assert_string_equal("the scan has no heel", got.failed);
    CHECK_OK(job, hw_store_job_fail(job, at->store, &none.claim, got.failed));
    assert_string_equal("the scan has no heel", look(at, bad).sentence);
    verify(at);
    hw_guest_close(guest);
}

static void test_guests__a_withdrawn_one_gets_nothing_and_is_not_believed(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    char id[HW_STORE_ID];
    hw_guest *guest = hw_place_guest(at, "attic", id);
    const char *out = add(at, NULL, NULL);
    hw_store_task task, home;
    hw_store_parcel parcel;
    hw_store_guests list;
    CHECK_OK(job, claim(at, guest, &task));
    CHECK_OK(job, deliver(at, guest, &task.claim));
    CHECK_OK(job, hw_store_guest_withdraw(job, at->store, id, "00000000000000bb"));
    CHECK_FAILS(job, hw_store_guest_withdraw(job, at->store, id, ""), HW_CLASH, "already");
    CHECK_FAILS(job, hw_store_guest_withdraw(job, at->store, "00000000000000ff", ""), HW_NOT_FOUND,
                "no worker");
    CHECK_FAILS(job, hw_store_guest_withdraw(job, at->store, "clinic", ""), HW_NOT_FOUND,
                "no worker");
    const char *later = add(at, NULL, NULL);
    CHECK_FAILS(job, claim(at, guest, &task), HW_NOT_FOUND, "no job waits");
    CHECK_FAILS(job, hw_guest_look(job, guest, later, at->room.into, &task), HW_NO_ACCESS,
                "not for this worker");
    // what it had delivered is thrown away and computed anew by the clinic
    CHECK_OK(job, claim_home(at, true, &home));
    CHECK_FAILS(job, open_parcel(at, &home, &parcel), HW_NO_ACCESS, "attic");
    CHECK_OK(job, hw_store_job_refuse(job, at->store, &home.claim, "computed anew"));
    assert_int_equal(0, hw_behind(at, "DELETE FROM parcel"));
    CHECK_OK(job, claim_home(at, false, &home));
    assert_string_equal(out, home.claim.id);
    assert_false(home.is_delivered);
    finish(at, &home);
    CHECK_OK(job, hw_store_guest_list(job, at->store, at->room.into, &list));
    assert_int_equal(1, list.count);
    assert_string_equal("attic", list.guests[0].name);
    assert_string_equal("00000000000000aa", list.guests[0].added_by);
    assert_string_equal("00000000000000bb", list.guests[0].withdrawn_by);
    assert_true(list.guests[0].withdrawn_ms > list.guests[0].added_ms);
    // its key may be registered anew, under another id
    hw_guest_close(guest);
    guest = hw_place_guest(at, "attic", id);
    CHECK_OK(job, hw_store_guest_list(job, at->store, at->room.into, &list));
    assert_int_equal(2, list.count);
    assert_int_equal(0, list.guests[1].withdrawn_ms);
    hw_place_reopen(at);
    verify(at);
    hw_guest_close(guest);
}

static void test_guests__open_nothing_but_their_own(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *marta = hw_write_person(at), *other = hw_write_person(at);
    const char *scan = keep(at, marta, 1), *foreign = keep(at, other, 2);
    const char *early = add(at, marta, scan); // before anybody was registered
    hw_guest *one = hw_place_guest(at, "attic", NULL);
    const char *mine = add(at, marta, scan);
    hw_guest *two = hw_place_guest(at, "cellar", NULL);
    hw_store_task task, none;
    hw_bytes bytes;
    CHECK_FAILS(job, claim(at, two, &none), HW_NOT_FOUND, "no job waits");
    CHECK_OK(job, claim(at, one, &task));
    assert_string_equal(mine, task.claim.id); // not the older one
    CHECK_FAILS(job, hw_guest_file(job, one, &task, foreign, at->room.into, &bytes), HW_BAD_INPUT,
                "may not read");
    CHECK_FAILS(job, hw_guest_look(job, one, early, at->room.into, &none), HW_NO_ACCESS, "not for");
    CHECK_FAILS(job, hw_guest_look(job, two, mine, at->room.into, &none), HW_NO_ACCESS, "not for");
    // nor can a job be asked for that reads another person's scan
    char id[HW_STORE_ID];
    hw_store_order order = {
        .kind = "compute", .body = text("{}"), .person = marta, .files = &foreign, .file_count = 1};
    CHECK_FAILS(job, hw_store_job_add(job, at->store, &order, id), HW_BAD_INPUT,
                "not this person's");
    // erased, the person's files are gone for the guest as well
    CHECK_OK(job, hw_store_erase(job, at->store, marta, "", "asked for it"));
    CHECK_FAILS(job, hw_guest_file(job, one, &task, scan, at->room.into, &bytes), HW_BAD_FORMAT,
                "missing");
    CHECK_FAILS(job, deliver(at, one, &task.claim), HW_NOT_FOUND, "no job");
    assert_int_equal(0, hw_behind(at, "DELETE FROM parcel"));
    verify(at);
    hw_guest_close(one), hw_guest_close(two);
}

// By whoever has the database alone.
static void test_guests__swapped_parcels_and_keys_are_found(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_guest *guest = hw_place_guest(at, "attic", NULL);
    hw_store_task tasks[2], home, none;
    hw_store_parcel parcel;
    hw_store_report report;
    for (int i = 0; i < 2; i++) add(at, NULL, NULL);
    for (int i = 0; i < 2; i++) CHECK_OK(job, claim(at, guest, &tasks[i]));
    for (int i = 0; i < 2; i++) CHECK_OK(job, deliver(at, guest, &tasks[i].claim));
    // chunks of the one under the name of the other
    char line[300];
    snprintf(line, sizeof line, "UPDATE parcel SET number = number + 100 WHERE job = '%s'",
             tasks[0].claim.id);
    assert_true(hw_behind(at, line) > 1);
    snprintf(line, sizeof line, "UPDATE parcel SET job = '%s' WHERE job = '%s'", tasks[0].claim.id,
             tasks[1].claim.id);
    assert_true(hw_behind(at, line) > 1);
    CHECK_FAILS(job, hw_store_verify(job, at->store, NULL, at->room.into, &report), HW_BAD_FORMAT,
                "delivered");
    CHECK_OK(job, claim_home(at, true, &home));
    assert_string_equal(tasks[0].claim.id, home.claim.id);
    CHECK_FAILS(job, open_parcel(at, &home, &parcel), HW_BAD_FORMAT, "");
    CHECK_OK(job, hw_store_job_refuse(job, at->store, &home.claim, "computed anew"));
    // the key of the one in the row of the other
    snprintf(line, sizeof line,
             "UPDATE job SET job_key = (SELECT job_key FROM job WHERE id = '%s') WHERE id = '%s'",
             tasks[0].claim.id, tasks[1].claim.id);
    assert_int_equal(1, hw_behind(at, line));
    CHECK_FAILS(job, hw_guest_look(job, guest, tasks[1].claim.id, at->room.into, &none),
                HW_BAD_FORMAT, "was changed");
    CHECK_FAILS(job, hw_store_job_get(job, at->store, tasks[1].claim.id, at->room.into, &none),
                HW_BAD_FORMAT, "was changed");
    hw_guest_close(guest);
}

// What a guest's key and its role in the database let it write into a job's row: every column that changes, with a
// proof that holds. NULL and -1 leave a column as it is.
typedef struct forgery {
    const char *what;
    int state, tries;
    const char *worker, *result, *news;
    bool is_old;   // its last change lies a year back
    hw_bytes list; // of a parcel; count 0 leaves it
} forgery;

static void forge(hw_place *at, hw_guest *guest, const char *id, const forgery *how)
{
    hw_job *job = &at->room.job;
    hw_store *store = guest->store;
    hw_task_row row = {0};
    const int64_t now_ms = at->now_ms;
    hw_store_enter(job, store);
    CHECK_OK(job, hw_task_row_get(job, store, id, false, store->pending_into, &row));
    if (how->state >= 0) row.state = how->state;
    if (how->tries >= 0) row.tries = how->tries;
    if (how->worker) row.worker = how->worker;
    if (how->news) row.news = text(how->news);
    if (how->result)
        CHECK_OK(job, hw_task_seal(job, store, &row, "result", text(how->result),
                                   store->pending_into, &row.result));
    if (how->list.count) row.result = how->list;
    row.lease_ms = 0;
    if (how->is_old) at->now_ms -= 31536000000;
    CHECK_OK(job, hw_task_row_change(job, store, &row));
    at->now_ms = now_ms;
    CHECK_OK(job, hw_store_leave(job, store, HW_OK));
}

// Two guests hold the key of the same jobs, so each can write the other's rows with a proof that holds. What a parcel
// is, its list alone says, and that no other guest can seal.
static void test_guests__a_list_forged_by_another_guest_is_not_believed(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_guest *attic = hw_place_guest(at, "attic", NULL),
             *cellar = hw_place_guest(at, "cellar", NULL);
    hw_store_task tasks[3], home;
    hw_store_parcel parcel;
    hw_task_row rows[3] = {0};
    unsigned char mark[HW_GUEST_MARK];
    for (int i = 0; i < 3; i++) {
        add(at, NULL, NULL);
        at->now_ms += 1000;
    }
    CHECK_OK(job, claim(at, attic, &tasks[0]));
    CHECK_OK(job, claim(at, attic, &tasks[1]));
    CHECK_OK(job, claim(at, cellar, &tasks[2]));
    for (int i = 0; i < 3; i++) CHECK_OK(job, deliver(at, i < 2 ? attic : cellar, &tasks[i].claim));
    for (int i = 0; i < 3; i++)
        CHECK_OK(job, hw_task_row_get(job, cellar->store, tasks[i].claim.id, false, at->room.into,
                                      &rows[i]));
    // attic's list of another job; cellar's own in attic's name
    const forgery foreign = {"a list of another job", -1, -1, NULL, NULL, NULL, false,
                             rows[1].result};
    unsigned char *named = hw_arena_take(at->room.into, rows[2].result.count, 1);
    memcpy(named, rows[2].result.at, rows[2].result.count);
    assert_true(hw_seal_unhex(attic->id, mark, sizeof mark));
    memcpy(named, mark, sizeof mark);
    const forgery lent = {"a name lent", -1,   -1,    NULL,
                          NULL,          NULL, false, {named, rows[2].result.count}};
    forge(at, cellar, tasks[0].claim.id, &foreign);
    forge(at, cellar, tasks[2].claim.id, &lent);
    for (int i = 0; i < 3; i++) {
        CHECK_OK(job, claim_home(at, true, &home));
        assert_string_equal(tasks[i].claim.id, home.claim.id);
        if (i == 1) { // untouched: still kept
            CHECK_OK(job, open_parcel(at, &home, &parcel));
            assert_string_equal("attic", parcel.guest);
            finish(at, &home);
            continue;
        }
        CHECK_FAILS(job, open_parcel(at, &home, &parcel), HW_BAD_FORMAT, "");
        CHECK_OK(job, hw_store_job_refuse(job, at->store, &home.claim, "computed anew"));
    }
    hw_guest_close(attic), hw_guest_close(cellar);
}

// The forged row is told of, neither believed nor removed, and the jobs behind it go on.
static void check_passed_over(hw_place *at, const char *id, const char *next)
{
    hw_job *job = &at->room.job;
    hw_store_task task;
    hw_store_tasks all;
    hw_store_report report;
    int removed = -1, met = 0;
    char spoilt[HW_STORE_ID];
    CHECK_FAILS(job, hw_store_job_get(job, at->store, id, at->room.into, &task), HW_BAD_FORMAT,
                "was changed");
    CHECK_OK(job, hw_store_job_list(job, at->store, 0, at->room.into, &all));
    assert_int_equal(1, all.count);
    assert_string_equal(next, all.tasks[0].claim.id);
    CHECK_OK(job, hw_store_job_tidy(job, at->store, at->now_ms + 1000, &removed));
    assert_int_equal(0, removed);
    for (; hw_store_job_spoilt(at->store, met, spoilt); met++) assert_string_equal(id, spoilt);
    assert_int_equal(1, met);
    CHECK_FAILS(job, hw_store_verify(job, at->store, NULL, at->room.into, &report), HW_BAD_FORMAT,
                id);
    CHECK_OK(job, claim_home(at, false, &task));
    assert_string_equal(next, task.claim.id);
    finish(at, &task);
}

static void test_guests__what_a_guest_forges_in_a_row_is_passed_over(void **state)
{
    static const forgery forgeries[] = {
        {"an end with a result", HW_STORE_DONE, -1, NULL, "{\"fit\":9}", NULL, false, {0}},
        {"a failure", HW_STORE_FAILED, -1, NULL, NULL, NULL, false, {0}},
        {"an end long ago", HW_STORE_CANCELLED, -1, NULL, NULL, NULL, true, {0}},
        {"a state there is not", 7, -1, NULL, NULL, NULL, false, {0}},
        {"tries there are not", -1, 9, NULL, NULL, NULL, false, {0}},
        {"a name too long",
         -1,
         -1,
         "guest-aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa",
         NULL,
         NULL,
         false,
         {0}},
    };
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    for (size_t i = 0; i < sizeof forgeries / sizeof *forgeries; i++) {
        hw_store_task task;
        hw_guest *guest = hw_place_guest(at, forgeries[i].what, NULL);
        const char *id = add(at, NULL, NULL);
        CHECK_OK(job, claim(at, guest, &task));
        at->now_ms += 1000;
        const char *next = add(at, NULL, NULL);
        forge(at, guest, id, &forgeries[i]);
        hw_guest_close(guest);
        check_passed_over(at, id, next);
        bool is_server = at->is_server;
        hw_place_tear_down(state); // the next in a place of its own
        (is_server ? hw_place_set_up_server : hw_place_set_up)(state);
        at = hw_place_of(state);
        job = &at->room.job;
    }
}

// An ended job set back to be done again: it would be done for ever, since its end cannot be written twice.
static void test_guests__an_ended_job_set_back_is_not_done_again(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_guest *guest = hw_place_guest(at, "attic", NULL);
    hw_store_task task;
    const char *id = add(at, NULL, NULL);
    const forgery back = {"set back", HW_STORE_WAITING, 0, "", NULL, NULL, false, {0}};
    CHECK_OK(job, claim_home(at, false, &task));
    finish(at, &task);
    at->now_ms += 1000;
    const char *next = add(at, NULL, NULL);
    forge(at, guest, id, &back);
    CHECK_OK(job, claim_home(at, false, &task));
    assert_string_equal(next, task.claim.id);
    CHECK_FAILS(job, claim_home(at, false, &task), HW_NOT_FOUND, "no job waits");
    hw_guest_close(guest);
}

// News are the guest's own words: nonsense in them keeps nobody from keeping what was delivered.
static void test_guests__nonsense_for_news_stops_nobody(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_guest *guest = hw_place_guest(at, "attic", NULL);
    hw_store_task task;
    hw_store_tasks all;
    const char *id = add(at, NULL, NULL);
    const forgery nonsense = {"news", -1, -1, NULL, NULL, "not sealed by anybody", false, {0}};
    CHECK_OK(job, claim(at, guest, &task));
    CHECK_OK(job, deliver(at, guest, &task.claim));
    forge(at, guest, id, &nonsense);
    const char *next = add(at, NULL, NULL);
    CHECK_OK(job, hw_store_job_list(job, at->store, 0, at->room.into, &all));
    assert_int_equal(1, all.count);
    assert_string_equal(next, all.tasks[0].claim.id);
    CHECK_OK(job, claim_home(at, true, &task));
    assert_string_equal(id, task.claim.id);
    finish(at, &task);
    assert_int_equal(HW_STORE_DONE, look(at, id).state);
    verify(at);
    hw_guest_close(guest);
}

static void test_guests__lines_of_others_and_slips_are_refused(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_guest_place attic = hw_place_of_guest(at, "attic"), cellar = hw_place_of_guest(at, "cellar");
    hw_store_guest one, two;
    hw_guest *guest = NULL;
    const char *line = NULL, *again = NULL;
    CHECK_FAILS(job, hw_guest_keep(job, &attic, "x"), HW_NOT_FOUND, "--join");
    CHECK_OK(job, hw_guest_join(job, &attic, at->room.into, &line));
    CHECK_OK(job, hw_guest_join(job, &attic, at->room.into, &again));
    assert_string_equal(line, again); // the pair is made once
    CHECK_FAILS(job, hw_guest_open(job, &attic, &guest), HW_NOT_FOUND, "--clinic");
    // one wrong character anywhere
    char wrong[HW_STORE_LINE_MAX];
    for (size_t i = 0; line[i]; i++) {
        snprintf(wrong, sizeof wrong, "%s", line);
        wrong[i] = wrong[i] == '0' ? '1' : '0';
        CHECK_FAILS(job,
                    hw_store_guest_add(job, at->store, "attic", wrong, "", at->room.into, &one),
                    HW_BAD_INPUT, "copy it anew");
    }
    CHECK_FAILS(job, hw_store_guest_add(job, at->store, "", line, "", at->room.into, &one),
                HW_BAD_INPUT, "name");
    CHECK_FAILS(job, hw_store_guest_add(job, at->store, "a\nb", line, "", at->room.into, &one),
                HW_BAD_INPUT, "name");
    CHECK_OK(job, hw_store_guest_add(job, at->store, "attic", line, "", at->room.into, &one));
    CHECK_FAILS(job, hw_store_guest_add(job, at->store, "loft", line, "", at->room.into, &two),
                HW_CLASH, "as attic");
    CHECK_OK(job, hw_guest_join(job, &cellar, at->room.into, &line));
    CHECK_OK(job, hw_store_guest_add(job, at->store, "cellar", line, "", at->room.into, &two));
    for (size_t i = 0; one.line[i]; i++) {
        snprintf(wrong, sizeof wrong, "%s", one.line);
        wrong[i] = wrong[i] == '0' ? '1' : '0';
        hw_status status = hw_guest_keep(job, &attic, wrong);
        assert_int_equal(HW_BAD_INPUT, status);
    }
    CHECK_FAILS(job, hw_guest_keep(job, &attic, two.line), HW_BAD_INPUT, "another worker");
    CHECK_OK(job, hw_guest_keep(job, &attic, one.line));
    CHECK_OK(job, hw_guest_open(job, &attic, &guest));
    // the key file of another under this line
    hw_guest_place mixed = attic;
    mixed.key_file = cellar.key_file;
    hw_guest *none = NULL;
    CHECK_FAILS(job, hw_guest_open(job, &mixed, &none), HW_BAD_INPUT, "another worker");
    hw_guest_close(guest);
}

// A store of another clinic: its jobs are not found, though its database is open to the guest.
static void test_guests__of_one_clinic_take_no_job_of_another(void **state)
{
    hw_place *at = hw_place_of(state), *other = NULL;
    hw_job *job = &at->room.job;
    void *second = NULL;
    hw_store_task task;
    hw_guest *guest = NULL;
    hw_place_set_up(&second);
    other = second;
    hw_guest_close(hw_place_guest(at, "attic", NULL));
    hw_guest_close(hw_place_guest(other, "attic", NULL));
    add(other, NULL, NULL);
    hw_guest_place place = hw_place_of_guest(at, "attic");
    place.url = other->url;
    CHECK_OK(job, hw_guest_open(job, &place, &guest));
    CHECK_FAILS(job, claim(at, guest, &task), HW_NOT_FOUND, "no job waits");
    hw_guest_close(guest);
    hw_place_tear_down(&second);
}

static void test_guests__parcels_that_cannot_be_are_refused(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_guest *guest = hw_place_guest(at, "attic", NULL);
    hw_store_task task;
    static const char *const bad[] = {"", ".hidden", "a/b", "../x", "blank here", "n\xc3\xa4me"};
    hw_store_piece piece = {.bytes = text("x")};
    hw_store_parcel parcel = {.about = text("{}"), .pieces = &piece, .count = 1};
    add(at, NULL, NULL);
    CHECK_OK(job, claim(at, guest, &task));
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        piece.name = bad[i];
        CHECK_FAILS(job, hw_guest_deliver(job, guest, &task.claim, &parcel), HW_BAD_INPUT, "named");
    }
    piece.name = "report.json";
    parcel.about = text("{");
    CHECK_FAILS(job, hw_guest_deliver(job, guest, &task.claim, &parcel), HW_BAD_FORMAT, "");
    parcel.about = text("{}");
    parcel.count = HW_STORE_PIECES_MAX + 1;
    CHECK_FAILS(job, hw_guest_deliver(job, guest, &task.claim, &parcel), HW_BAD_INPUT, "limit");
    assert_int_equal(0, hw_behind(at, "DELETE FROM parcel"));
    assert_false(look(at, task.claim.id).is_delivered);
    // a name twice is the clinic's to find
    hw_store_piece twice[] = {piece, piece};
    parcel = (hw_store_parcel){.about = text("{}"), .pieces = twice, .count = 2};
    CHECK_OK(job, hw_guest_deliver(job, guest, &task.claim, &parcel));
    CHECK_OK(job, claim_home(at, true, &task));
    CHECK_FAILS(job, open_parcel(at, &task, &parcel), HW_BAD_FORMAT, "list");
    hw_guest_close(guest);
}

static void test_guests__a_backup_holds_what_they_delivered(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_guest *guest = hw_place_guest(at, "attic", NULL);
    hw_store_task task;
    hw_store_parcel parcel;
    const char *name = NULL;
    char url[120], line[400];
    add(at, NULL, NULL);
    CHECK_OK(job, claim(at, guest, &task));
    CHECK_OK(job, deliver(at, guest, &task.claim));
    CHECK_OK(job, hw_store_backup(job, at->store, at->folder, at->room.into, &name));
    hw_guest_close(guest);
    hw_store_close(at->store);
    at->store = NULL;
    snprintf(url, sizeof url, "%s/second.db", at->folder);
    snprintf(line, sizeof line, "rm -f %s", at->head_file);
    assert_int_equal(0, system(line));
    hw_store_place place = at->place;
    place.url = url;
    CHECK_OK(job, hw_store_restore(job, name, &place, &at->store));
    CHECK_OK(job, claim_home(at, true, &task));
    CHECK_OK(job, open_parcel(at, &task, &parcel));
    assert_int_equal(3, parcel.count);
    finish(at, &task);
    verify(at);
}

// Several guests and one who keeps, each with a connection of its own: each job is kept once.
enum { GUESTS = 2, JOBS = 12 };

typedef struct crew {
    hw_place *at;
    const char *name;
    int done;
} crew;

static void *compute(void *user)
{
    crew *me = user;
    hw_test_room room = hw_test_open();
    hw_guest *guest = NULL;
    hw_store_worker worker = {.kind = "compute", .lease_s = 600};
    hw_store_piece piece = {"report.json", text("{\"fit\":1}")};
    hw_store_parcel parcel = {.about = text("{}"), .pieces = &piece, .count = 1};
    hw_guest_place place = {.url = me->at->url, .now_ms = me->at->place.now_ms, .user = me->at};
    char key[100], clinic[100];
    snprintf(key, sizeof key, "%s/%s.key", me->at->folder, me->name);
    snprintf(clinic, sizeof clinic, "%s/%s.clinic", me->at->folder, me->name);
    place.key_file = key, place.line_file = clinic;
    if (hw_guest_open(&room.job, &place, &guest) != HW_OK) return NULL;
    hw_store_task task;
    while (hw_guest_claim(&room.job, guest, &worker, room.into, &task) == HW_OK)
        me->done += hw_guest_deliver(&room.job, guest, &task.claim, &parcel) == HW_OK;
    hw_guest_close(guest);
    hw_test_close(&room);
    return NULL;
}

static void *keep_all(void *user)
{
    crew *me = user;
    hw_test_room room = hw_test_open();
    hw_store *store = NULL;
    const struct timespec rest = {0, 1000000};
    hw_store_worker worker = {.name = me->name, .lease_s = 600, .keeps_only = true};
    if (hw_store_open(&room.job, &me->at->place, &store) != HW_OK) return NULL;
    for (int idle = 0; idle < 20000 && me->done < JOBS;) {
        hw_store_task task;
        hw_store_parcel parcel;
        hw_store_head head;
        hw_store_write write = {.kind = "trial", .body = text("{}")};
        hw_store_outcome outcome = {text("{}"), &write, 1};
        hw_status status = hw_store_job_claim(&room.job, store, &worker, room.into, &task);
        if (status == HW_OK)
            status = hw_store_job_parcel(&room.job, store, &task.claim, room.into, &parcel);
        if (status == HW_OK)
            status = hw_store_job_finish(&room.job, store, &task.claim, &outcome, room.into, &head);
        me->done += status == HW_OK;
        idle += status != HW_OK;
        if (status != HW_OK) nanosleep(&rest, NULL);
    }
    hw_store_close(store);
    hw_test_close(&room);
    return NULL;
}

static void test_guests__each_job_is_kept_once(void **state)
{
    hw_place *at = hw_place_of(state);
    pthread_t threads[GUESTS + 1];
    crew crews[GUESTS + 1] = {{at, "attic", 0}, {at, "cellar", 0}, {at, "k", 0}};
    for (int i = 0; i < GUESTS; i++) hw_guest_close(hw_place_guest(at, crews[i].name, NULL));
    for (int i = 0; i < JOBS; i++) add(at, NULL, NULL);
    for (int i = 0; i <= GUESTS; i++)
        assert_int_equal(
            0, pthread_create(&threads[i], NULL, i == GUESTS ? keep_all : compute, &crews[i]));
    for (int i = 0; i <= GUESTS; i++) pthread_join(threads[i], NULL);
    hw_store_rows rows;
    hw_store_query query = {.kind = "trial"};
    CHECK_OK(&at->room.job, hw_store_list(&at->room.job, at->store, &query, at->room.into, &rows));
    assert_int_equal(JOBS, crews[0].done + crews[1].done);
    assert_int_equal(JOBS, crews[2].done);
    assert_int_equal(JOBS, rows.count);
    verify(at);
}

static void write_hex(const char *path, const char *const *lines, size_t count)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    for (size_t i = 0; i < count; i++) {
        unsigned char bytes[64];
        size_t size = strlen(lines[i]) / 2;
        assert_true(hw_seal_unhex(lines[i], bytes, size));
        assert_int_equal(size, fwrite(bytes, 1, size, file));
    }
    fclose(file);
}

// A store from before step 2 of the database, as a backup and as it stands.
static void test_steps__rows_of_the_older_form_open_and_go_on(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    char backup[100], line[400];
    snprintf(backup, sizeof backup, "%s/old.backup", at->folder);
    // the place as it was before step 2, emptied
    hw_store_close(at->store);
    at->store = NULL;
    snprintf(line, sizeof line, "rm -f %s %s", at->head_file, at->key_file);
    assert_int_equal(0, system(line));
    static const char *const undo[] = {"DELETE FROM meta",
                                       "DELETE FROM entry",
                                       "DELETE FROM data_key",
                                       "DROP TABLE parcel",
                                       "ALTER TABLE job DROP COLUMN live",
                                       "DELETE FROM migration WHERE number = 2"};
    for (size_t i = 0; i < sizeof undo / sizeof *undo; i++) hw_behind(at, undo[i]);
    const char *const key[] = {hw_step_1_key};
    write_hex(at->key_file, key, 1);
    write_hex(backup, hw_step_1_backup, sizeof hw_step_1_backup / sizeof *hw_step_1_backup);
    CHECK_OK(job, hw_store_restore(job, backup, &at->place, &at->store));
    verify(at);
    at->now_ms += 3600000;
    hw_store_tasks tasks;
    int states[5] = {0};
    CHECK_OK(job, hw_store_job_list(job, at->store, 0, at->room.into, &tasks));
    for (int i = 0; i < tasks.count; i++) states[tasks.tasks[i].state]++;
    assert_int_equal(1, states[HW_STORE_WAITING]);
    assert_int_equal(1, states[HW_STORE_RUNNING]);
    assert_int_equal(1, states[HW_STORE_DONE]);
    assert_int_equal(1, states[HW_STORE_FAILED]);
    hw_store_task task;
    for (int i = 0; i < 2; i++) { // the lapsed one and the waiting one
        CHECK_OK(job, claim_home(at, false, &task));
        assert_string_equal("{\"visit\":\"0000000000000001\"}", (const char *)task.body.at);
        finish(at, &task);
    }
    hw_place_reopen(at);
    verify(at);
    // the second proof taken away: neither of the older form nor of the newer
    assert_int_equal(4, hw_behind(at, "UPDATE job SET live = ''"));
    hw_store_close(at->store);
    at->store = NULL;
    CHECK_FAILS(job, hw_store_open(job, &at->place, &at->store), HW_BAD_FORMAT, "was changed");
}

int hw_test_guests(void)
{
    const struct CMUnitTest tests[] = {
        BOTH(test_guests__a_job_goes_out_and_comes_back),
        BOTH(test_guests__a_dead_one_loses_its_job_to_another),
        BOTH(test_guests__lost_three_times_or_cancelled_it_is_ended_by_the_clinic),
        BOTH(test_guests__a_withdrawn_one_gets_nothing_and_is_not_believed),
        BOTH(test_guests__open_nothing_but_their_own),
        BOTH(test_guests__swapped_parcels_and_keys_are_found),
        BOTH(test_guests__a_list_forged_by_another_guest_is_not_believed),
        BOTH(test_guests__what_a_guest_forges_in_a_row_is_passed_over),
        BOTH(test_guests__an_ended_job_set_back_is_not_done_again),
        BOTH(test_guests__nonsense_for_news_stops_nobody),
        BOTH(test_guests__lines_of_others_and_slips_are_refused),
        BOTH(test_guests__of_one_clinic_take_no_job_of_another),
        BOTH(test_guests__parcels_that_cannot_be_are_refused),
        BOTH(test_guests__a_backup_holds_what_they_delivered),
        BOTH(test_guests__each_job_is_kept_once),
        BOTH(test_steps__rows_of_the_older_form_open_and_go_on),
    };
    return cmocka_run_group_tests_name("guests", tests, NULL, NULL);
}
