// SPDX-License-Identifier: GPL-3.0-or-later
#include "place.h"

#include "server.h"
#include "sql/sql.h"
#include <sys/wait.h>
#include <unistd.h>

static int64_t test_now(void *user)
{
    return ((hw_place *)user)->now_ms++;
}

// A schema of its own in one database is as good as a database, and made at once.
static void make_database(hw_place *at)
{
    static int number;
    hw_sql *sql = NULL;
    char create[80];
    snprintf(at->url, sizeof at->url, "postgresql://postgres@/postgres?host=%s", hw_server_folder);
    snprintf(create, sizeof create, "CREATE SCHEMA test_%d", ++number);
    CHECK_OK(&at->room.job, hw_sql_open(&at->room.job, at->url, &sql));
    CHECK_OK(&at->room.job, hw_sql_run(&at->room.job, sql, hw_sql_bare(create), NULL));
    hw_sql_close(sql);
    snprintf(at->url, sizeof at->url,
             "postgresql://postgres@/postgres?host=%s&options=-csearch_path%%3Dtest_%d",
             hw_server_folder, number);
}

static void open_place(hw_place *at)
{
    snprintf(at->key_file, sizeof at->key_file, "%s/key", at->folder);
    snprintf(at->head_file, sizeof at->head_file, "%s/key.head", at->folder);
    at->now_ms = 1772442000000; // 2026-03-02 09:00 UTC
    at->place =
        (hw_store_place){.url = at->url, .key_file = at->key_file, .now_ms = test_now, .user = at};
    CHECK_OK(&at->room.job, hw_store_open(&at->room.job, &at->place, &at->store));
}

int hw_place_set_up(void **state)
{
    hw_place *at = calloc(1, sizeof *at);
    assert_non_null(at);
    at->room = hw_test_open();
    hw_folder_make(at->folder);
    snprintf(at->url, sizeof at->url, "%s/clinic.db", at->folder);
    open_place(at);
    *state = at;
    return 0;
}

int hw_place_set_up_server(void **state)
{
    *state = NULL;
    if (!hw_server_start()) return 0; // the test then skips by its name
    hw_place *at = calloc(1, sizeof *at);
    assert_non_null(at);
    at->room = hw_test_open();
    at->is_server = true;
    hw_folder_make(at->folder);
    make_database(at);
    open_place(at);
    *state = at;
    return 0;
}

int hw_place_tear_down(void **state)
{
    hw_place *at = *state;
    if (!at) return 0;
    hw_store_close(at->store);
    hw_folder_remove(at->folder);
    hw_test_close(&at->room);
    free(at);
    return 0;
}

void hw_place_reopen(hw_place *at)
{
    hw_store_close(at->store);
    at->store = NULL;
    CHECK_OK(&at->room.job, hw_store_open(&at->room.job, &at->place, &at->store));
}

hw_store_head hw_write(hw_place *at, hw_store_ref ref, const char *person, const char *body)
{
    hw_store_head head = {0};
    hw_store_write write = {.kind = ref.kind,
                            .id = ref.id,
                            .person = person,
                            .expected_version = ref.version,
                            .body = {(const unsigned char *)body, strlen(body)},
                            .who = "00000000000000aa",
                            .why = "as the test says"};
    CHECK_OK(&at->room.job,
             hw_store_put(&at->room.job, at->store, &write, 1, at->room.into, &head));
    return head;
}

const char *hw_write_person(hw_place *at)
{
    hw_store_ref ref = {"person", NULL, 0};
    return hw_write(at, ref, NULL,
                    "{\"name\":\"Marta Brise\",\"code\":\"HB-0042\",\"born\":\"1979-05-17\"}")
        .id;
}

hw_guest_place hw_place_of_guest(hw_place *at, const char *name)
{
    hw_guest_place place = {.url = at->url, .now_ms = test_now, .user = at};
    hw_job *job = &at->room.job;
    CHECK_OK(job,
             hw_text_format(job, at->room.into, &place.key_file, "%s/%s.key", at->folder, name));
    CHECK_OK(job, hw_text_format(job, at->room.into, &place.line_file, "%s/%s.clinic", at->folder,
                                 name));
    return place;
}

hw_guest *hw_place_guest(hw_place *at, const char *name, char *id)
{
    hw_job *job = &at->room.job;
    hw_guest_place place = hw_place_of_guest(at, name);
    hw_store_guest added;
    hw_guest *guest = NULL;
    const char *line = NULL;
    CHECK_OK(job, hw_guest_join(job, &place, at->room.into, &line));
    CHECK_OK(job, hw_store_guest_add(job, at->store, name, line, "00000000000000aa", at->room.into,
                                     &added));
    CHECK_OK(job, hw_guest_keep(job, &place, added.line));
    CHECK_OK(job, hw_guest_open(job, &place, &guest));
    if (id) memcpy(id, added.id, sizeof added.id);
    return guest;
}

long hw_behind(hw_place *at, const char *sql)
{
    hw_sql *behind = NULL;
    int64_t changed = 0;
    CHECK_OK(&at->room.job, hw_sql_open(&at->room.job, at->url, &behind));
    CHECK_OK(&at->room.job, hw_sql_run(&at->room.job, behind, hw_sql_bare(sql), &changed));
    hw_sql_close(behind);
    return (long)changed;
}

bool hw_stands_somewhere(hw_place *at, const char *const *texts, int count)
{
    char list[80], line[400];
    strcpy(list, "/tmp/hw-words-XXXXXX");
    int number = mkstemp(list);
    assert_true(number >= 0);
    FILE *file = fdopen(number, "w");
    for (int i = 0; i < count; i++) fprintf(file, "%s\n", texts[i]);
    fclose(file);
    snprintf(line, sizeof line, "grep -raoFm1 -f '%s' '%s' %s", list, at->folder,
             at->is_server ? hw_server_folder : "");
    int code = system(line);
    unlink(list);
    assert_true(WEXITSTATUS(code) < 2); // 1: not found; 2: the search itself went wrong
    return code == 0;
}

void hw_place_crash_server(void)
{
    assert_int_equal(0, hw_server_do("-m immediate stop"));
    assert_int_equal(0, hw_server_do("start"));
}

void hw_place_stop_server(void)
{
    hw_server_stop();
}
