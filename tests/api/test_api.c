// SPDX-License-Identifier: GPL-3.0-or-later
// The door's inner parts: the table, guessers, sessions, a visit becoming a case, workers. What it
// is over the wire is in tests/end_to_end/test_server.py.
#include "near.h"

#include "api/api_internal.h"
#include "api/work.h"

#include <time.h>

typedef struct scene {
    hw_test_room room;
    char folder[40];
    hw_store *store;
    hw_api api;
    hw_http_reply reply;
    api_call call;
} scene;

static scene *open_scene(void)
{
    scene *one = calloc(1, sizeof *one);
    char url[80], key[80];
    assert_non_null(one);
    one->room = hw_test_open();
    strcpy(one->folder, "/tmp/hw-api-XXXXXX");
    assert_non_null(mkdtemp(one->folder));
    snprintf(url, sizeof url, "%s/clinic.db", one->folder);
    snprintf(key, sizeof key, "%s/clinic.key", one->folder);
    hw_store_place place = {.url = url, .key_file = key};
    CHECK_OK(&one->room.job, hw_seal_start(&one->room.job));
    CHECK_OK(&one->room.job, hw_store_open(&one->room.job, &place, &one->store));
    one->api.store = one->store;
    pthread_mutex_init(&one->api.lock, NULL);
    one->call = (api_call){.api = &one->api,
                           .job = &one->room.job,
                           .into = one->room.into,
                           .reply = &one->reply,
                           .faults = {.into = one->room.into}};
    return one;
}

static void close_scene(scene *one)
{
    char command[80];
    hw_store_close(one->store);
    pthread_mutex_destroy(&one->api.lock);
    snprintf(command, sizeof command, "rm -r %s", one->folder);
    assert_int_equal(system(command), 0);
    hw_test_close(&one->room);
    free(one);
}

static hw_bytes text(const char *words)
{
    return (hw_bytes){(const unsigned char *)words, strlen(words)};
}

static const hw_json *read_json(scene *one, hw_bytes bytes)
{
    const hw_json *tree = NULL;
    CHECK_OK(&one->room.job, hw_json_read(&one->room.job, bytes, one->room.into, &tree));
    return tree;
}

static const char *put(scene *one, const char *kind, const char *person, const char *body)
{
    hw_store_head head;
    hw_store_write write = {.kind = kind, .person = person, .body = text(body), .who = "tester"};
    CHECK_OK(&one->room.job,
             hw_store_put(&one->room.job, one->store, &write, 1, one->room.into, &head));
    return head.id;
}

// -- the table

static void test_table__every_row_says_what_it_is_and_stands_once(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_bytes bytes = {0};
    const hw_json *rows = NULL;
    CHECK_OK(&room.job, hw_api_routes(&room.job, room.into, &bytes));
    CHECK_OK(&room.job, hw_json_read(&room.job, bytes, room.into, &rows));
    assert_true(rows->count > 30);
    for (int i = 0; i < rows->count; i++) {
        const hw_json *row = &rows->items[i];
        assert_true(strlen(hw_json_get(row, "what")->text) > 5);
        assert_int_equal(strncmp(hw_json_get(row, "path")->text, "/api/", 5), 0);
        for (int k = 0; k < i; k++)
            assert_false(
                hw_json_same(hw_json_get(row, "path"), hw_json_get(&rows->items[k], "path")) &&
                hw_json_same(hw_json_get(row, "method"), hw_json_get(&rows->items[k], "method")));
    }
    hw_test_close(&room);
}

// Deny by default (ASVS 4.1): what needs no session is on this list, and nothing else is.
static void test_table__only_four_addresses_are_open_to_anyone(void **state)
{
    (void)state;
    int count = 0, open = 0;
    const api_route *routes = api_routes(&count);
    for (int i = 0; i < count; i++) {
        if (routes[i].who) continue;
        open++;
        assert_true(strcmp(routes[i].pattern, "/api/session") == 0 ||
                    strcmp(routes[i].pattern, "/api/first-use") == 0 ||
                    strcmp(routes[i].pattern, "/api/score-form") == 0);
    }
    assert_int_equal(open, 4);
}

// -- guessers

static void test_guess__three_are_free_then_the_wait_doubles(void **state)
{
    (void)state;
    scene *one = open_scene();
    for (int i = 0; i < 3; i++) api_guess_failed(&one->api, "a", GUESS_ONE);
    assert_int_equal(api_guess_wait(&one->api, "a"), 0);
    int64_t want = 1000;
    for (int i = 0; i < 30; i++) {
        api_guess_failed(&one->api, "a", GUESS_ONE);
        int64_t wait = api_guess_wait(&one->api, "a");
        assert_true(wait > want - 100 && wait <= want);
        want = want * 2 > 300000 ? 300000 : want * 2; // never longer than five minutes
    }
    assert_int_equal(api_guess_wait(&one->api, "b"), 0);
    api_guess_forget(&one->api, "a");
    assert_int_equal(api_guess_wait(&one->api, "a"), 0);
    close_scene(one);
}

static void test_guess__an_address_has_more_tries_and_a_short_wait(void **state)
{
    (void)state;
    scene *one = open_scene();
    for (int i = 0; i < 20; i++) api_guess_failed(&one->api, "any", GUESS_ADDRESS);
    assert_int_equal(api_guess_wait(&one->api, "any"), 0);
    for (int i = 0; i < 40; i++) api_guess_failed(&one->api, "any", GUESS_ADDRESS);
    assert_true(api_guess_wait(&one->api, "any") > 4000);
    assert_true(api_guess_wait(&one->api, "any") <= 5000);
    close_scene(one);
}

static void test_guess__many_guessers_push_out_the_oldest_only(void **state)
{
    (void)state;
    scene *one = open_scene();
    for (int i = 0; i < 5 * GUESSERS; i++) {
        char key[40];
        snprintf(key, sizeof key, "login %d", i);
        api_guess_failed(&one->api, key, GUESS_ONE);
    }
    for (int i = 0; i < 10; i++) api_guess_failed(&one->api, "the newest", GUESS_ONE);
    assert_true(api_guess_wait(&one->api, "the newest") > 0);
    close_scene(one);
}

// -- sessions

static void test_session__is_found_by_its_secret_alone_and_ends(void **state)
{
    (void)state;
    scene *one = open_scene();
    api_user user = {.id = "0123456789abcdef", .login = "x", .role = ROLE_CLINICIAN};
    api_session found, other;
    CHECK_OK(&one->room.job, api_session_begin(&one->call, &user));
    api_session mine = one->call.session;
    assert_true(api_session_find(&one->api, mine.secret, &found));
    assert_string_equal(found.user.id, user.id);
    assert_true(api_session_of_tag(&one->api, mine.tag, &found));
    assert_false(api_session_find(&one->api, mine.token, &found));
    assert_false(api_session_find(&one->api, mine.tag, &found));
    assert_false(api_session_find(&one->api, "", &found));
    one->reply = (hw_http_reply){0};
    CHECK_OK(&one->room.job, api_session_begin(&one->call, &user));
    assert_string_not_equal(one->call.session.secret, mine.secret);
    assert_string_not_equal(one->call.session.token, mine.token);
    hw_api *api = &one->api;
    api->sessions[0].used_ms -= 61 * 60 * 1000LL; // idle for longer than an hour
    assert_false(api_session_find(api, mine.secret, &other));
    assert_true(api_session_find(api, one->call.session.secret, &other));
    api->sessions[1].began_ms -= 13 * 60 * 60 * 1000LL; // longer than any day in the clinic
    assert_false(api_session_find(api, one->call.session.secret, &other));
    close_scene(one);
}

static void test_session__too_many_push_out_the_one_unused_for_longest(void **state)
{
    (void)state;
    scene *one = open_scene();
    api_user user = {.id = "0123456789abcdef", .role = ROLE_OWNER};
    api_session found, newest;
    for (int i = 0; i < SESSIONS + 3; i++) {
        one->reply = (hw_http_reply){0};
        CHECK_OK(&one->room.job, api_session_begin(&one->call, &user));
    }
    newest = one->call.session;
    assert_true(api_session_find(&one->api, newest.secret, &found));
    close_scene(one);
}

// -- a visit becomes a case

static void test_case__the_code_comes_from_the_person_and_own_keys_stay_out(void **state)
{
    (void)state;
    scene *one = open_scene();
    char hash[HW_STORE_HASH], body[600];
    hw_bytes made = {0};
    api_files files = {0};
    const char *person = put(one, "person", NULL, "{\"code\": \"HB-7\", \"name\": \"Nobody\"}");
    hw_store_file file = {.bytes = text("solid"), .person = person, .who = "tester"};
    CHECK_OK(&one->room.job, hw_store_file_put(&one->room.job, one->store, &file, hash));
    snprintf(body, sizeof body,
             "{\"visit_date\": \"2026-03-02\", \"notes\": \"x\", \"signed\": {\"by\": 1},"
             " \"person\": {\"code\": \"other\", \"birth_year\": 1979},"
             " \"feet\": {\"left\": {\"scan\": {\"file\": \"%s\", \"name\": \"left.stl\","
             " \"unit\": \"mm\"}, \"lunge_deg\": 31}, \"right\": {}}}",
             hash);
    CHECK_OK(&one->room.job,
             api_case_of(&one->call, person, read_json(one, text(body)), &made, &files));
    const hw_json *tree = read_json(one, made);
    assert_string_equal(hw_json_get(hw_json_get(tree, "person"), "code")->text, "HB-7");
    assert_non_null(hw_json_get(hw_json_get(tree, "person"), "birth_year"));
    assert_null(hw_json_get(tree, "notes"));
    assert_null(hw_json_get(tree, "signed"));
    const hw_json *left = hw_json_get(hw_json_get(tree, "feet"), "left");
    assert_string_equal(hw_json_get(hw_json_get(left, "scan"), "file")->text, hash);
    assert_null(hw_json_get(hw_json_get(left, "scan"), "name"));
    assert_null(strstr((const char *)made.at, "Nobody"));
    assert_int_equal(1, files.count);
    assert_string_equal(hash, files.hashes[0]);
    hw_visit visit = {0};
    hw_faults faults = {.into = one->room.into};
    CHECK_OK(&one->room.job, hw_visit_read(&one->room.job, made, one->room.into, &visit, &faults));
    close_scene(one);
}

// What a guest worker may read: all that is computed from, of both feet, and no picture.
static void test_case__names_the_files_its_computation_reads(void **state)
{
    (void)state;
    static const char body[] = "{\"feet\": {\"left\": {\"scan\": {\"file\": \"%s\"},"
                               " \"ultrasound\": {\"file\": \"%s\"}},"
                               " \"right\": {\"walk\": {\"file\": \"%s\", \"forces_file\": \"%s\"},"
                               " \"pressure\": {\"file\": \"%s\"}}}}";
    scene *one = open_scene();
    char hashes[5][HW_STORE_HASH];
    const char *filled = NULL;
    hw_bytes made = {0};
    api_files files = {0};
    const char *person = put(one, "person", NULL, "{\"code\": \"A\"}");
    for (int i = 0; i < 5; i++) {
        hw_store_file file = {.bytes = {(const unsigned char *)"01234" + i, 1}, .person = person};
        CHECK_OK(&one->room.job, hw_store_file_put(&one->room.job, one->store, &file, hashes[i]));
    }
    CHECK_OK(&one->room.job, hw_text_format(&one->room.job, one->room.into, &filled, body,
                                            hashes[0], hashes[1], hashes[2], hashes[3], hashes[4]));
    CHECK_OK(&one->room.job,
             api_case_of(&one->call, person, read_json(one, text(filled)), &made, &files));
    assert_int_equal(4, files.count);
    for (int i = 0; i < files.count; i++)
        assert_string_equal(hashes[i == 0 ? 0 : i + 1], files.hashes[i]);
    close_scene(one);
}

// H27 of the hazards: a device on another person's foot.
static void test_case__another_persons_scan_is_refused(void **state)
{
    (void)state;
    scene *one = open_scene();
    char hash[HW_STORE_HASH], body[300];
    hw_bytes made = {0};
    api_files files = {0};
    const char *person = put(one, "person", NULL, "{\"code\": \"A\"}");
    const char *other = put(one, "person", NULL, "{\"code\": \"B\"}");
    hw_store_file file = {.bytes = text("solid"), .person = other, .who = "tester"};
    CHECK_OK(&one->room.job, hw_store_file_put(&one->room.job, one->store, &file, hash));
    for (int i = 0; i < 2; i++) { // a file of another, then one that is none at all
        snprintf(body, sizeof body, "{\"feet\": {\"right\": {\"scan\": {\"file\": \"%s\"}}}}",
                 i ? "left.stl" : hash);
        CHECK_FAILS(&one->room.job,
                    api_case_of(&one->call, person, read_json(one, text(body)), &made, &files),
                    HW_BAD_INPUT, "not one of this person's");
    }
    static const char *const recordings[][2] = {
        {"ultrasound", "file"}, {"walk", "file"}, {"walk", "forces_file"}, {"pressure", "file"}};
    for (int i = 0; i < 4; i++) {
        snprintf(body, sizeof body, "{\"feet\": {\"left\": {\"%s\": {\"%s\": \"%s\"}}}}",
                 recordings[i][0], recordings[i][1], hash);
        CHECK_FAILS(&one->room.job,
                    api_case_of(&one->call, person, read_json(one, text(body)), &made, &files),
                    HW_BAD_INPUT, "not one of this person's");
    }
    close_scene(one);
}

// -- workers

static bool is_late(void *user)
{
    return api_tick_ms() > *(int64_t *)user;
}

static void test_work__stops_when_asked(void **state)
{
    (void)state;
    scene *one = open_scene();
    int64_t until = api_tick_ms() + 300;
    one->room.job.cancelled = is_late;
    one->room.job.user = &until;
    assert_int_equal(hw_api_work(&one->room.job, one->store, "tester", 10), HW_CANCELLED);
    one->room.job.cancelled = NULL;
    assert_true(api_tick_ms() - until < 1000);
    close_scene(one);
}

static hw_store_job_state work_through(scene *one, const char *body, const char *person,
                                       hw_store_task *task)
{
    char id[HW_STORE_ID];
    hw_store_order order = {
        .kind = WORK_COMPUTE, .body = text(body), .person = person, .who = "tester"};
    CHECK_OK(&one->room.job, hw_store_job_add(&one->room.job, one->store, &order, id));
    hw_store_worker worker = {.name = "tester", .kind = WORK_COMPUTE, .lease_s = 10};
    work_bench bench = work_bench_of_store(one->store, &worker);
    CHECK_OK(&one->room.job, work_once(&one->room.job, &bench, one->room.into));
    CHECK_OK(&one->room.job,
             hw_store_job_get(&one->room.job, one->store, id, one->room.into, task));
    return task->state;
}

static void test_work__a_malformed_job_fails_with_a_sentence(void **state)
{
    (void)state;
    static const char *const bodies[] = {
        "{}", "{\"parts\": 7, \"case\": {}}", "{\"parts\": \"x\", \"case\": {\"a\": 1}}",
        "{\"parts\": 7, \"case\": {\"heelwright_case\": 1, \"visit_date\": \"2026-03-02\","
        " \"person\": {\"code\": \"A\"}, \"feet\": {\"left\": {\"scan\": {\"file\": "
        "\"/etc/passwd\"}}}}}"};
    scene *one = open_scene();
    const char *person = put(one, "person", NULL, "{\"code\": \"A\"}");
    for (size_t i = 0; i < sizeof bodies / sizeof *bodies; i++) {
        hw_store_task task = {0};
        assert_int_equal(work_through(one, bodies[i], person, &task), HW_STORE_FAILED);
        assert_true(strlen(task.sentence) > 10);
    }
    close_scene(one);
}

static void write_body(char body[800], const char *visit)
{
    snprintf(body, 800,
             "{\"visit\": \"%s\", \"visit_version\": 1, \"parts\": 5, \"trial\": false, \"case\":"
             " {\"heelwright_case\": 1, \"visit_date\": \"2026-03-02\", \"person\": {\"code\":"
             " \"HB-9\"}, \"mass_kg\": 82, \"feet\": {\"left\": {\"measures\":"
             " {\"foot_length_mm\": 255}}}}}",
             visit);
}

static hw_store_row result_of(scene *one, const char *visit)
{
    hw_store_row row = {0};
    hw_store_ref ref = {"result", visit, 0};
    CHECK_OK(&one->room.job, hw_store_get(&one->room.job, one->store, ref, one->room.into, &row));
    return row;
}

static void test_work__a_visit_becomes_files_and_a_result(void **state)
{
    (void)state;
    scene *one = open_scene();
    const char *person = put(one, "person", NULL, "{\"code\": \"HB-9\"}");
    const char *visit = put(one, "visit", person, "{}");
    char body[800];
    hw_store_task task = {0};
    hw_store_row row = {0};
    hw_bytes file = {0};
    write_body(body, visit);
    assert_int_equal(work_through(one, body, person, &task), HW_STORE_DONE);
    CHECK_OK(&one->room.job,
             hw_store_get(&one->room.job, one->store, (hw_store_ref){"result", visit, 0},
                          one->room.into, &row));
    const hw_json *files = hw_json_get(read_json(one, row.body), "files");
    assert_non_null(hw_json_get(files, "visit.json"));
    CHECK_OK(&one->room.job,
             hw_store_file_get(&one->room.job, one->store, hw_json_get(files, "visit.json")->text,
                               one->room.into, &file));
    assert_non_null(strstr((const char *)file.at, "HB-9"));
    // again: the next version of the same result
    assert_int_equal(work_through(one, body, person, &task), HW_STORE_DONE);
    CHECK_OK(&one->room.job,
             hw_store_get(&one->room.job, one->store, (hw_store_ref){"result", visit, 0},
                          one->room.into, &row));
    assert_int_equal(row.head.version, 2);
    close_scene(one);
}

// A guest with its pair in the scene's folder.
static hw_guest *open_guest(scene *one, char id[HW_STORE_ID])
{
    char url[80], key[80], clinic[80];
    hw_job *job = &one->room.job;
    hw_store_guest added;
    hw_guest *guest = NULL;
    const char *line = NULL;
    snprintf(url, sizeof url, "%s/clinic.db", one->folder);
    snprintf(key, sizeof key, "%s/worker.key", one->folder);
    snprintf(clinic, sizeof clinic, "%s/worker.clinic", one->folder);
    hw_guest_place place = {.url = url, .key_file = key, .line_file = clinic};
    CHECK_OK(job, hw_guest_join(job, &place, one->room.into, &line));
    CHECK_OK(job, hw_store_guest_add(job, one->store, "attic", line, "", one->room.into, &added));
    CHECK_OK(job, hw_guest_keep(job, &place, added.line));
    CHECK_OK(job, hw_guest_open(job, &place, &guest));
    memcpy(id, added.id, HW_STORE_ID);
    return guest;
}

// The job of `body`, computed by the guest and, where it may, kept by a worker that only keeps.
static hw_status work_afar(scene *one, hw_guest *guest, const char *body, const char *person,
                           char id[HW_STORE_ID])
{
    hw_job *job = &one->room.job;
    hw_store_order order = {
        .kind = WORK_COMPUTE, .body = text(body), .person = person, .who = "tester"};
    CHECK_OK(job, hw_store_job_add(job, one->store, &order, id));
    hw_store_worker worker = {.kind = WORK_COMPUTE, .lease_s = 10};
    work_bench bench = work_bench_of_guest(guest, &worker);
    return work_once(job, &bench, one->room.into);
}

static hw_status keep_delivered(scene *one)
{
    hw_store_worker worker = {
        .name = "keeper", .kind = WORK_COMPUTE, .lease_s = 10, .keeps_only = true};
    work_bench bench = work_bench_of_store(one->store, &worker);
    return work_once(&one->room.job, &bench, one->room.into);
}

// A clinic with one visit to be computed, and a guest that may.
typedef struct outpost {
    scene *one;
    hw_job *job;
    const char *person, *visit;
    char body[800], guest_id[HW_STORE_ID];
    hw_guest *guest;
} outpost;

static void open_outpost(outpost *at)
{
    at->one = open_scene();
    at->job = &at->one->room.job;
    at->person = put(at->one, "person", NULL, "{\"code\": \"HB-9\"}");
    at->visit = put(at->one, "visit", at->person, "{}");
    at->guest = open_guest(at->one, at->guest_id);
    write_body(at->body, at->visit);
}

static void close_outpost(outpost *at)
{
    hw_guest_close(at->guest);
    close_scene(at->one);
}

static void test_work__a_guest_makes_the_same_files_and_the_clinic_keeps_them(void **state)
{
    (void)state;
    outpost at;
    open_outpost(&at);
    scene *one = at.one;
    hw_job *job = at.job;
    char id[HW_STORE_ID];
    hw_store_task task = {0};
    assert_int_equal(work_through(one, at.body, at.person, &task), HW_STORE_DONE);
    hw_store_row home = result_of(one, at.visit);
    CHECK_OK(job, work_afar(one, at.guest, at.body, at.person, id));
    CHECK_OK(job, hw_store_job_get(job, one->store, id, one->room.into, &task));
    assert_int_equal(HW_STORE_RUNNING, task.state);
    assert_int_equal(1, result_of(one, at.visit).head.version); // nothing of it counts yet
    CHECK_OK(job, keep_delivered(one));
    hw_store_row afar = result_of(one, at.visit);
    assert_int_equal(2, afar.head.version);
    assert_string_equal("computed by the guest worker attic", afar.head.why);
    // files are named by their bytes: the same names are the same files
    assert_string_equal((const char *)home.body.at, (const char *)afar.body.at);
    CHECK_FAILS(job, keep_delivered(one), HW_NOT_FOUND, "no job waits");
    // what cannot be computed ends with the guest's sentence
    CHECK_OK(job, work_afar(one, at.guest, "{\"parts\": 7, \"case\": {}}", at.person, id));
    CHECK_OK(job, keep_delivered(one));
    CHECK_OK(job, hw_store_job_get(job, one->store, id, one->room.into, &task));
    assert_int_equal(HW_STORE_FAILED, task.state);
    assert_true(strlen(task.sentence) > 10);
    close_outpost(&at);
}

static void test_work__what_a_withdrawn_guest_delivered_is_computed_anew(void **state)
{
    (void)state;
    outpost at;
    open_outpost(&at);
    scene *one = at.one;
    hw_job *job = at.job;
    char id[HW_STORE_ID];
    hw_store_task task = {0};
    CHECK_OK(job, work_afar(one, at.guest, at.body, at.person, id));
    CHECK_OK(job, hw_store_guest_withdraw(job, one->store, at.guest_id, "tester"));
    CHECK_FAILS(job, keep_delivered(one), HW_NO_ACCESS, "attic");
    CHECK_OK(job, hw_store_job_get(job, one->store, id, one->room.into, &task));
    assert_false(task.is_delivered);
    CHECK_FAILS(job, keep_delivered(one), HW_NOT_FOUND, "no job waits");
    hw_store_worker worker = {.name = "home", .kind = WORK_COMPUTE, .lease_s = 10};
    work_bench bench = work_bench_of_store(one->store, &worker);
    CHECK_OK(job, work_once(job, &bench, one->room.into));
    assert_string_equal("computed", result_of(one, at.visit).head.why);
    close_outpost(&at);
}

// Somebody who wants no answer of the first `unwanted` jobs any more, once they are being computed, and who ends the
// worker when one behind them is delivered.
typedef struct impatience {
    hw_store *store;
    hw_test_room room; // of its own: the worker's is at work
    int unwanted, cancelled;
} impatience;

static bool cancel_and_look(void *user)
{
    impatience *mine = user;
    hw_store_tasks all = {0};
    hw_job *job = &mine->room.job;
    bool is_over = false;
    CHECK_OK(job, hw_store_job_list(job, mine->store, 0, mine->room.into, &all));
    for (int i = 0; i < all.count; i++) {
        const hw_store_task *task = &all.tasks[i];
        is_over = is_over || task->is_delivered;
        bool is_next = task->state == HW_STORE_RUNNING && !task->is_cancel_asked;
        if (!is_next || mine->cancelled == mine->unwanted) continue;
        CHECK_OK(job, hw_store_job_cancel(job, mine->store, task->claim.id));
        mine->cancelled++;
    }
    return is_over;
}

static void test_work__a_guest_goes_on_after_many_jobs_nobody_wanted_any_more(void **state)
{
    (void)state;
    outpost at;
    open_outpost(&at);
    scene *one = at.one;
    hw_job *job = at.job;
    char id[HW_STORE_ID];
    impatience mine = {one->store, hw_test_open(), 11, 0};
    hw_store_order order = {.kind = WORK_COMPUTE, .person = at.person, .who = "tester"};
    order.body = text(at.body);
    for (int i = 0; i <= mine.unwanted; i++)
        CHECK_OK(job, hw_store_job_add(job, one->store, &order, id));
    job->cancelled = cancel_and_look;
    job->user = &mine;
    assert_int_equal(HW_CANCELLED, hw_api_work_as_guest(job, at.guest, 10));
    job->cancelled = NULL;
    assert_int_equal(mine.unwanted, mine.cancelled);
    assert_int_equal(1, keep_delivered(one) == HW_OK);
    hw_test_close(&mine.room);
    close_outpost(&at);
}

// -- the demo and the whole

static void test_demo__makes_a_user_of_each_role_once(void **state)
{
    (void)state;
    scene *one = open_scene();
    hw_api_demo_user users[HW_API_DEMO_USERS], again[HW_API_DEMO_USERS];
    hw_store_rows rows = {0};
    unsigned roles = 0;
    CHECK_OK(&one->room.job, hw_api_demo(&one->room.job, one->store, users));
    CHECK_OK(&one->room.job,
             hw_store_list(&one->room.job, one->store, &(hw_store_query){.kind = "user"},
                           one->room.into, &rows));
    assert_int_equal(rows.count, HW_API_DEMO_USERS);
    for (int i = 0; i < rows.count; i++) {
        api_user user;
        const char *hash = NULL;
        bool is_active = false;
        CHECK_OK(&one->room.job, api_user_read(&one->room.job, &rows.rows[i], one->room.into, &user,
                                               &hash, &is_active));
        roles |= user.role;
        assert_true(is_active);
        assert_true(hw_seal_password_holds(hash, users[i].passphrase));
        assert_false(hw_seal_password_holds(hash, users[(i + 1) % 4].passphrase));
    }
    assert_int_equal(roles, ROLES_ALL);
    CHECK_FAILS(&one->room.job, hw_api_demo(&one->room.job, one->store, again), HW_CLASH,
                "empty one");
    close_scene(one);
}

static void test_api__starts_with_a_code_and_without_one_where_there_are_users(void **state)
{
    (void)state;
    scene *one = open_scene();
    hw_api *api = NULL;
    hw_api_demo_user users[HW_API_DEMO_USERS];
    hw_api_place place = {.store = one->store, .address = "127.0.0.1", .workers = 1};
    CHECK_OK(&one->room.job, hw_api_start(&one->room.job, &place, &api));
    assert_non_null(hw_api_first_use_code(api));
    assert_true(strlen(hw_api_first_use_code(api)) >= 20);
    assert_true(hw_api_port(api) > 0);
    hw_api_stop(api);
    CHECK_OK(&one->room.job, hw_api_demo(&one->room.job, one->store, users));
    CHECK_OK(&one->room.job, hw_api_start(&one->room.job, &place, &api));
    assert_null(hw_api_first_use_code(api));
    hw_api_stop(api);
    hw_api_stop(NULL);
    close_scene(one);
}

int main(int count, char **texts)
{
    int task_count = 0;
    const hw_sandbox_task *tasks_of_child = hw_app_tasks(&task_count);
    hw_sandbox_child(count, texts, tasks_of_child, task_count);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table__every_row_says_what_it_is_and_stands_once),
        cmocka_unit_test(test_table__only_four_addresses_are_open_to_anyone),
        cmocka_unit_test(test_guess__three_are_free_then_the_wait_doubles),
        cmocka_unit_test(test_guess__an_address_has_more_tries_and_a_short_wait),
        cmocka_unit_test(test_guess__many_guessers_push_out_the_oldest_only),
        cmocka_unit_test(test_session__is_found_by_its_secret_alone_and_ends),
        cmocka_unit_test(test_session__too_many_push_out_the_one_unused_for_longest),
        cmocka_unit_test(test_case__the_code_comes_from_the_person_and_own_keys_stay_out),
        cmocka_unit_test(test_case__names_the_files_its_computation_reads),
        cmocka_unit_test(test_case__another_persons_scan_is_refused),
        cmocka_unit_test(test_work__stops_when_asked),
        cmocka_unit_test(test_work__a_malformed_job_fails_with_a_sentence),
        cmocka_unit_test(test_work__a_visit_becomes_files_and_a_result),
        cmocka_unit_test(test_work__a_guest_makes_the_same_files_and_the_clinic_keeps_them),
        cmocka_unit_test(test_work__what_a_withdrawn_guest_delivered_is_computed_anew),
        cmocka_unit_test(test_work__a_guest_goes_on_after_many_jobs_nobody_wanted_any_more),
        cmocka_unit_test(test_demo__makes_a_user_of_each_role_once),
        cmocka_unit_test(test_api__starts_with_a_code_and_without_one_where_there_are_users),
    };
    return cmocka_run_group_tests_name("api", tests, NULL, NULL);
}
