// SPDX-License-Identifier: GPL-3.0-or-later
// A clinic's books from a store of a few invented people, written in an order that is not that of the days.
#include "app/app.h"
#include "app_tests.h"
#include "near.h"
#include "server.h"

typedef struct desk {
    hw_test_room room;
    char folder[64], url[100], key[100];
    hw_store *store;
} desk;

static void open_desk(desk *at)
{
    at->room = hw_test_open();
    hw_folder_make(at->folder);
    snprintf(at->url, sizeof at->url, "%s/clinic.db", at->folder);
    snprintf(at->key, sizeof at->key, "%s/key", at->folder);
    const hw_store_place place = {.url = at->url, .key_file = at->key};
    CHECK_OK(&at->room.job, hw_store_open(&at->room.job, &place, &at->store));
}

static void close_desk(desk *at)
{
    hw_store_close(at->store);
    assert_int_equal(hw_shell("rm -rf '%s'%s%s", at->folder, "", ""), 0);
    hw_test_close(&at->room);
}

static const char *put(desk *at, const char *kind, const char *person, const char *body)
{
    hw_store_head head = {0};
    const hw_store_write write = {.kind = kind,
                                  .person = person,
                                  .body = {(const unsigned char *)body, strlen(body)},
                                  .who = "0123456789abcdef"};
    CHECK_OK(&at->room.job,
             hw_store_put(&at->room.job, at->store, &write, 1, at->room.into, &head));
    return head.id;
}

static hw_app_books read_books(desk *at)
{
    hw_app_books books = {0};
    hw_date today = {0};
    assert_true(hw_date_parse("2026-03-02", &today));
    CHECK_OK(&at->room.job,
             hw_app_books_read(&at->room.job, at->store, today, at->room.into, &books));
    return books;
}

// Of two visits the later was written first: what a heel began with is the earlier one's all the same.
void test_books__what_a_heel_began_with_goes_by_the_day(void **state)
{
    (void)state;
    desk at;
    open_desk(&at);
    const char *who = put(&at, "person", NULL, "{\"code\": \"HB-1\", \"name\": \"(invented)\"}");
    put(&at, "visit", who,
        "{\"visit_date\": \"2026-01-12\", \"person\": {\"birth_year\": 1950, \"sex\": \"male\"},"
        " \"mass_kg\": 90, \"height_cm\": 180, \"red_flags\": {\"fever\": \"no\"}, \"feet\": {"
        "\"left\": {\"heel_pain\": {\"weeks_since_onset\": 30, \"first_step_pain_0_10\": 4}}}}");
    put(&at, "visit", who,
        "{\"visit_date\": \"2025-12-01\", \"person\": {\"birth_year\": 1960, \"sex\": \"female\"},"
        " \"mass_kg\": 72, \"height_cm\": 180, \"red_flags\": {\"fever\": \"yes\"}, \"feet\": {"
        "\"left\": {\"heel_pain\": {\"weeks_since_onset\": 20, \"first_step_pain_0_10\": 7}}}}");
    put(&at, "treatment", who, "{\"act\": \"radial shockwave\", \"foot\": \"left\"}"); // undated
    put(&at, "treatment", who,
        "{\"act\": \"taping\", \"foot\": \"left\", \"date\": \"2025-12-08\"}");
    put(&at, "treatment", who, "{\"act\": \"dry needling\", \"date\": \"2025-12-02\"}"); // which?
    hw_app_books of = read_books(&at);
    assert_int_equal(of.heel_count, 1);
    assert_string_equal(of.heels[0].sex, "female");
    CHECK_NEAR(of.heels[0].bmi.value, 72.0 / 3.24, 1e-9, "kg/m2");
    CHECK_NEAR(of.courses[0].age_years.value, 65.0, 0.0, "years");
    CHECK_NEAR(of.courses[0].onset_weeks.value, 20.0, 1e-9, "weeks");
    CHECK_NEAR(of.courses[0].scores[0].score, 7.0, 0.0, "points");
    assert_string_equal(of.courses[0].act,
                        "taping"); // the needles may have gone into the other heel
    assert_int_equal(of.heels[0].given, 2);
    assert_false(of.given[2].date.known); // stands last
    assert_int_equal(of.recall_count, 0); // the red flag was answered no at the newest visit
    close_desk(&at);
}

// Hazard W22: nobody is lost sight of for want of a rating.
void test_books__who_was_never_rated_is_called_too(void **state)
{
    (void)state;
    static const char *const hurts =
        "{\"visit_date\": \"2025-12-01\", \"red_flags\": {}, \"feet\": "
        "{\"right\": {\"heel_pain\": {\"weeks_since_onset\": 9}}}}";
    static const char *const names[3] = {"HB-flag", "HB-event", "HB-silent"};
    desk at;
    open_desk(&at);
    const char *who[4];
    for (int i = 0; i < 3; i++) {
        char body[80];
        snprintf(body, sizeof body, "{\"code\": \"%s\", \"name\": \"(invented)\"}", names[i]);
        who[i] = put(&at, "person", NULL, body);
    }
    put(&at, "visit", who[0],
        "{\"visit_date\": \"2025-12-01\", \"red_flags\": {\"fever\": \"yes\"}, \"feet\": {}}");
    put(&at, "visit", who[1], "{\"visit_date\": \"2025-12-01\", \"red_flags\": {}, \"feet\": {}}");
    put(&at, "treatment", who[1],
        "{\"act\": \"corticosteroid injection\", \"date\": \"2025-12-02\", "
        "\"adverse_event\": \"the skin went pale\"}");
    put(&at, "visit", who[2], hurts);
    hw_app_books of = read_books(&at);
    assert_int_equal(of.heel_count, 0);
    assert_int_equal(of.recall_count, 3);
    for (int i = 0; i < 3; i++) {
        assert_string_equal(of.recalls[i].code, names[i]); // the most urgent first
        assert_int_equal(of.recalls[i].urgency, i);
    }
    assert_int_equal(of.recalls[0].side, HW_SIDE_UNKNOWN);
    assert_int_equal(of.recalls[2].side, HW_SIDE_RIGHT);
    assert_non_null(strstr(of.recalls[2].why, "never rated"));
    close_desk(&at);
}

// Twelve people who differ in what was given alone, on the left or the right in turns: the export's order is
// that of what it shows, so neither the clinic's list nor the side can be read off it.
void test_books__the_export_without_people_has_an_order_of_its_own(void **state)
{
    (void)state;
    enum { PEOPLE = 12 };
    static const char *const acts[2] = {"taping", "insole"};
    static const hw_pain_score scores[2] = {{0, 7}, {6, 4}};
    char names[PEOPLE][16];
    hw_app_heel heels[2 * PEOPLE];
    hw_heel_course courses[2 * PEOPLE];
    hw_app_given given[PEOPLE];
    hw_date day = {0};
    hw_file_set files = {0};
    hw_test_room room = hw_test_open();
    assert_true(hw_date_parse("2025-12-01", &day));
    for (int i = 0; i < PEOPLE; i++) {
        snprintf(names[i], sizeof names[i], "p%02d", i);
        const hw_side treated = i / 2 % 2 ? HW_SIDE_RIGHT : HW_SIDE_LEFT;
        for (int k = 0; k < 2; k++) {
            const hw_side side = k ? HW_SIDE_RIGHT : HW_SIDE_LEFT;
            heels[2 * i + k] = (hw_app_heel){
                .person = names[i], .code = names[i], .side = side, .sex = "", .first_rated = day};
            courses[2 * i + k] = (hw_heel_course){
                .scores = scores, .count = 2, .act = side == treated ? acts[i % 2] : NULL};
        }
        given[i] = (hw_app_given){
            .person = names[i], .code = names[i], .act = acts[i % 2], .side = treated, .date = day};
    }
    const hw_app_books books = {.heels = heels,
                                .courses = courses,
                                .heel_count = 2 * PEOPLE,
                                .given = given,
                                .given_count = PEOPLE};
    CHECK_OK(&room.job, hw_app_books_deidentified(&room.job, &books, 5, room.into, &files));
    assert_string_equal(files.files[0].name, "deid_heels.csv");
    const char *line = strchr((const char *)files.files[0].bytes.at, '\n') + 1;
    int with_act = -1; // which of a person's two heels stands with its treatment
    for (int i = 0; i < 2 * PEOPLE; i++, line = strchr(line, '\n') + 1) {
        const size_t length = strcspn(line, "\r");
        const char *insole = strstr(line, "insole"), *taping = strstr(line, "taping");
        const bool is_insole = insole && insole < line + length;
        const bool is_taping = taping && taping < line + length;
        if (i < 2 && (is_insole || is_taping)) with_act = i;
        if (i > 0) assert_int_equal(is_insole || is_taping, i % 2 == with_act);
        assert_false(is_taping && i < PEOPLE); // all insoles first
        assert_false(is_insole && i >= PEOPLE);
    }
    hw_test_close(&room);
}
