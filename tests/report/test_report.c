// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "report/json_parts.h"
#include "report/picture.h"
#include "report/report.h"
#include "report_tests.h"

// A box of 0.10 x 0.04 x 0.02 m, its corner at the origin.
static hw_mesh box_of(hw_test_room *room)
{
    static const int faces[12][3] = {{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6},
                                     {0, 1, 5}, {0, 5, 4}, {2, 6, 7}, {2, 7, 3},
                                     {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}};
    hw_mesh mesh = {.point_count = 8, .triangle_count = 12};
    mesh.points = hw_arena_take(room->into, 8, sizeof *mesh.points);
    mesh.triangles = hw_arena_take(room->into, 12, sizeof *mesh.triangles);
    assert_true(mesh.points && mesh.triangles);
    for (int i = 0; i < 8; i++)
        mesh.points[i] = (hw_vec3){i & 1 ? 0.10 : 0.0, i & 2 ? 0.04 : 0.0, i & 4 ? 0.02 : 0.0};
    memcpy(mesh.triangles, faces, sizeof faces);
    return mesh;
}

static int painted(const picture *drawn)
{
    int count = 0;
    for (int i = 0; i < drawn->size[0] * drawn->size[1]; i++) count += drawn->pixels[i][0] != 255;
    return count;
}

static void test_picture__a_box_covers_its_own_area(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh box = box_of(&room);
    const double pixel = 0.0005;
    picture drawn = {0};
    picture_view below = picture_from_below(pixel);
    CHECK_OK(&room.job, picture_draw(&room.job, &box, &below, room.into, &drawn));
    CHECK_NEAR(painted(&drawn) * pixel * pixel, 0.10 * 0.04, 1e-4, "m2");
    picture_view medial = picture_from_medial(HW_SIDE_LEFT, pixel);
    CHECK_OK(&room.job, picture_draw(&room.job, &box, &medial, room.into, &drawn));
    CHECK_NEAR(painted(&drawn) * pixel * pixel, 0.10 * 0.02, 1e-4, "m2");
    hw_test_close(&room);
}

// Toes are up in the view from below; a right foot's medial view has its toes at the left.
static void test_picture__directions_on_paper_are_those_of_the_foot(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh box = box_of(&room);
    picture drawn = {0};
    double heel[2], toe[2];
    const hw_vec3 back = {0, 0.02, 0}, front = {0.10, 0.02, 0};
    picture_view below = picture_from_below(0.001);
    CHECK_OK(&room.job, picture_draw(&room.job, &box, &below, room.into, &drawn));
    picture_place(&drawn, back, heel);
    picture_place(&drawn, front, toe);
    assert_true(toe[1] < heel[1]);
    for (int side = HW_SIDE_LEFT; side <= HW_SIDE_RIGHT; side++) {
        picture_view medial = picture_from_medial((hw_side)side, 0.001);
        CHECK_OK(&room.job, picture_draw(&room.job, &box, &medial, room.into, &drawn));
        picture_place(&drawn, back, heel);
        picture_place(&drawn, front, toe);
        assert_true(side == HW_SIDE_LEFT ? toe[0] > heel[0] : toe[0] < heel[0]);
    }
    hw_test_close(&room);
}

// A visit with nothing but a code: every page still says whose it is, and nothing is made up.
static void test_report__an_empty_visit_is_not_released_and_says_so(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    static const char text[] = "{\"heelwright_case\": 1, \"visit_date\": \"2026-03-02\","
                               " \"person\": {\"code\": \"HB-0007\"},"
                               " \"feet\": {\"left\": {\"heel_pain\": {}}}}";
    hw_visit visit = {0};
    hw_plan plan = {0};
    hw_faults faults = {.into = room.into};
    hw_bytes bytes = {(const unsigned char *)text, strlen(text)}, json = {0}, pdf = {0},
             again = {0};
    CHECK_OK(&room.job, hw_visit_read(&room.job, bytes, room.into, &visit, &faults));
    CHECK_OK(&room.job, hw_clinic_plan(&room.job, &visit.findings, room.into, &plan));
    hw_report report = {.visit = &visit, .plan = &plan};
    report.feet[0] =
        (hw_report_foot){.is_given = true, .load_why = "no mass", .orthosis_why = "no scan"};
    CHECK_OK(&room.job, hw_report_visit_json(&room.job, &report, room.into, &json));
    assert_non_null(strstr((const char *)json.at, "\"released\": false"));
    assert_non_null(strstr((const char *)json.at, "\"load_why\": \"no mass\""));
    assert_non_null(strstr((const char *)json.at, "red_flags.fever"));
    CHECK_OK(&room.job, hw_report_pdf(&room.job, &report, room.into, &pdf));
    CHECK_OK(&room.job, hw_report_pdf(&room.job, &report, room.into, &again));
    assert_int_equal(pdf.count, again.count);
    assert_memory_equal(pdf.at, again.at, pdf.count);
    hw_test_close(&room);
}

// The value of the n-th line that begins with `name`.
static const char *line_value(const char *text, const char *name, int n, char value[static 80])
{
    const char *at = text;
    for (int i = 0; i <= n; i++) {
        at = strstr(at, name);
        assert_non_null(at);
        at += strlen(name);
    }
    snprintf(value, 80, "%.*s", (int)strcspn(at, "\r\n"), at);
    return value;
}

// RFC 5545, 3.8.7.4: the same UID with a higher SEQUENCE is the same event, moved.
static void test_calendar__a_moved_plan_moves_its_events(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_entry entries[3] = {{.kind = HW_ENTRY_ACT, .act = HW_ACT_TAPE, .side = HW_SIDE_LEFT},
                           {.kind = HW_ENTRY_ACT, .act = HW_ACT_TAPE, .side = HW_SIDE_LEFT},
                           {.kind = HW_ENTRY_ACT, .act = HW_ACT_TAPE, .side = HW_SIDE_RIGHT}};
    hw_visit visit = {.code = "HB-0042"};
    hw_plan plan = {.released = true, .timeline = entries, .entry_count = 3};
    hw_report report = {.visit = &visit, .plan = &plan};
    hw_bytes first = {0}, later = {0}, edited = {0};
    char a[80], b[80];
    hw_date day = {20000, true};
    visit.findings.visit_date = day;
    for (int i = 0; i < 3; i++) entries[i].date = hw_date_plus(day, 7 * i);
    CHECK_OK(&room.job, hw_report_calendar(&room.job, &report, room.into, &first));
    report.revision = 2; // the same visit, changed
    CHECK_OK(&room.job, hw_report_calendar(&room.job, &report, room.into, &edited));
    report.revision = 0; // a later visit, all dates moved
    visit.findings.visit_date = hw_date_plus(day, 14);
    for (int i = 0; i < 3; i++) entries[i].date = hw_date_plus(day, 20 + 9 * i);
    CHECK_OK(&room.job, hw_report_calendar(&room.job, &report, room.into, &later));
    for (int i = 0; i < 3; i++) {
        const char *texts[3] = {(const char *)first.at, (const char *)edited.at,
                                (const char *)later.at};
        for (int k = 1; k < 3; k++) {
            assert_string_equal(line_value(texts[0], "UID:", i, a),
                                line_value(texts[k], "UID:", i, b));
            assert_true(atol(line_value(texts[k - 1], "SEQUENCE:", i, a)) <
                        atol(line_value(texts[k], "SEQUENCE:", i, b)));
        }
        for (int k = 0; k < i; k++)
            assert_string_not_equal(line_value(texts[0], "UID:", i, a),
                                    line_value(texts[0], "UID:", k, b));
    }
    hw_test_close(&room);
}

// Numbers of a preview are not taken for final ones: each design says which it has, and has just these.
static void test_report__a_design_says_how_it_was_solved(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    static hw_search search;
    search = (hw_search){.terms = {HW_TERM_ARCH_FILL}, .term_count = 1, .front_count = 2};
    search.now = (hw_search_design){.state = HW_SEARCH_NOT_MADE, .why = "too thin", .binds = ""};
    for (int i = 0; i < 2; i++)
        search.front[i] = (hw_search_design){.state = i ? HW_SEARCH_CONFIRMED : HW_SEARCH_POSSIBLE,
                                             .why = "",
                                             .binds = "",
                                             .is_final = i == 1};
    hw_report_foot foot = {.search = &search};
    hw_json_out json = hw_json_begin(room.into);
    hw_bytes text = {0};
    const hw_json *tree = NULL;
    hw_json_open(&json, NULL, '{');
    json_search(&json, &foot);
    hw_json_close(&json);
    CHECK_OK(&room.job, hw_json_end(&room.job, &json, &text));
    CHECK_OK(&room.job, hw_json_read(&room.job, text, room.into, &tree));
    const hw_json *of = hw_json_get(tree, "search"), *front = hw_json_get(of, "front");
    const hw_json *designs[] = {hw_json_get(of, "now"), &front->items[0], &front->items[1]};
    const char *const says[] = {"not", "as a preview", "finally"};
    for (int i = 0; i < 3; i++) {
        assert_string_equal(hw_json_get(designs[i], "solved")->text, says[i]);
        assert_int_equal(hw_json_get(designs[i], "preview") != NULL, i >= 1);
        assert_int_equal(hw_json_get(designs[i], "final") != NULL, i == 2);
    }
    hw_test_close(&room);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_picture__a_box_covers_its_own_area),
        cmocka_unit_test(test_picture__directions_on_paper_are_those_of_the_foot),
        cmocka_unit_test(test_report__an_empty_visit_is_not_released_and_says_so),
        cmocka_unit_test(test_report__a_design_says_how_it_was_solved),
        cmocka_unit_test(test_calendar__a_moved_plan_moves_its_events),
        cmocka_unit_test(test_plain_words__every_offered_act_has_words_and_its_own_numbers),
        cmocka_unit_test(test_plain_words__no_sign_is_less_urgent_than_its_red_flag),
        cmocka_unit_test(test_plain_words__dates_bear_their_weekday),
        cmocka_unit_test(test_figures__each_says_in_words_what_it_shows),
        cmocka_unit_test(test_figures__one_person_of_fixed_bones_takes_every_pose),
    };
    return cmocka_run_group_tests_name("report", tests, NULL, NULL);
}
