// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "record/record.h"

// An invented person. Values are examples, not references.
static const char whole_case[] =
    "{\"heelwright_case\": 1, \"invented\": true, \"visit_date\": \"2026-03-02\","
    " \"person\": {\"code\": \"HB-0042\", \"birth_year\": 1979, \"sex\": \"female\","
    "              \"pregnancy\": \"no\"},"
    " \"mass_kg\": 82, \"mass_measured_on\": \"2026-03-02\", \"height_cm\": 171,"
    " \"red_flags\": {\"fever\": \"no\", \"night_pain\": \"not asked\"},"
    " \"medicines\": [\"ibuprofen\", {\"name\": \"harbour drops\", \"groups\": []}],"
    " \"conditions\": \"not asked\", \"allergies\": [],"
    " \"past_treatments\": [{\"act\": \"corticosteroid injection\", \"date\": \"2026-01-10\","
    "   \"foot\": \"left\", \"substance\": \"methylprednisolone acetate\", \"dose_mg\": 40}],"
    " \"feet\": {\"left\": {\"scan\": {\"file\": \"left.stl\", \"unit\": \"mm\","
    "   \"loading\": \"hanging\", \"side_confirmed\": true},"
    "   \"heel_pain\": {\"weeks_since_onset\": 20, \"first_step_pain_0_10\": 7},"
    "   \"lunge_deg\": 31, \"foot_posture_index\": 7, \"monofilament\": \"felt\","
    "   \"orthosis\": {\"heel_cup_mm\": 16, \"rearfoot_post_deg\": 4}},"
    "  \"right\": {\"measures\": {\"foot_length_mm\": 264, \"ball_breadth_mm\": 98,"
    "   \"truncated_length_mm\": 190, \"dorsum_height_mm\": 66.5}, \"heel_pain\": \"none\"}},"
    " \"shoe\": {\"inner_length_mm\": 280, \"pitch_mm\": 10, \"kind\": \"work boot\"}}";

static hw_status read_text(hw_test_room *room, const char *text, hw_visit *out, hw_faults *faults)
{
    hw_bytes bytes = {(const unsigned char *)text, strlen(text)};
    *faults = (hw_faults){.into = room->into};
    return hw_visit_read(&room->job, bytes, room->into, out, faults);
}

static void test_case__a_whole_one_is_read_as_typed(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_visit visit = {0};
    hw_faults faults;
    CHECK_OK(&room.job, read_text(&room, whole_case, &visit, &faults));
    const hw_findings *found = &visit.findings;
    assert_string_equal(visit.code, "HB-0042");
    assert_true(visit.is_invented);
    CHECK_NEAR(hw_finding_number(found->values[HW_FINDING_MASS_KG]).value, 82, 0, "kg");
    assert_int_equal(hw_finding_answer(found->values[HW_FINDING_FEVER]), HW_ANSWER_NO);
    assert_int_equal(hw_finding_answer(found->values[HW_FINDING_NIGHT_PAIN]), HW_ANSWER_NOT_ASKED);
    assert_int_equal(hw_finding_answer(found->values[HW_FINDING_REST_PAIN]), HW_ANSWER_UNKNOWN);
    assert_int_equal(found->medicines.count, 2);
    assert_true(found->medicines.rows[1].by_hand);
    assert_int_equal(found->conditions.given, HW_GIVEN_NOT_ASKED);
    assert_int_equal(found->allergies.given, HW_GIVEN_VALUE);
    assert_int_equal(found->past_count, 1);
    assert_int_equal(found->past[0].act, HW_ACT_CORTICOSTEROID);
    assert_int_equal(found->past[0].side, HW_SIDE_LEFT);
    assert_int_equal(found->feet[0].heel_pain, HW_ANSWER_YES);
    assert_int_equal(found->feet[1].heel_pain, HW_ANSWER_NO);
    assert_true(found->feet[0].loading_known && found->feet[0].side_confirmed);
    assert_false(found->feet[1].scan_used);
    hw_test_close(&room);
}

static void test_case__values_become_si_once(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_visit visit = {0};
    hw_faults faults;
    hw_mech_subject subject = {0};
    CHECK_OK(&room.job, read_text(&room, whole_case, &visit, &faults));
    hw_orthosis_order order = hw_visit_orthosis_order(&visit, HW_SIDE_LEFT);
    CHECK_NEAR(order.heel_cup_depth_m, 0.016, 1e-15, "m");
    CHECK_NEAR(order.rearfoot_post_rad, 0.0698131701, 1e-9, "rad");
    // Index 7 and 82 kg: 4.5 mm of polypropylene by the published rule (trial protocol of 2013).
    CHECK_NEAR(order.shell_thickness_m, 0.0045, 1e-12, "m");
    hw_foot_measures typed = hw_visit_typed_measures(&visit, HW_SIDE_RIGHT);
    CHECK_NEAR(typed.foot_length_m.value, 0.264, 1e-12, "m");
    CHECK_NEAR(typed.arch_height_index.value, 0.35, 1e-12, "");
    assert_false(typed.heel_breadth_m.known);
    CHECK_OK(&room.job, hw_visit_subject(&room.job, &visit, HW_SIDE_LEFT, &typed, &subject));
    CHECK_NEAR(subject.calf_range_rad[HW_CALF_TEST_LUNGE].value, 0.541052068, 1e-9, "rad");
    assert_false(subject.calf_range_rad[HW_CALF_TEST_KNEE_STRAIGHT].known);
    CHECK_NEAR(subject.shoe_pitch_m, 0.010, 1e-15, "m");
    assert_false(subject.speed_m_s.known);
    visit.findings.values[HW_FINDING_WALKING_SPEED_M_PER_S] = hw_finding_of_number(1.1);
    CHECK_OK(&room.job, hw_visit_subject(&room.job, &visit, HW_SIDE_LEFT, &typed, &subject));
    CHECK_NEAR(subject.speed_m_s.value, 1.1, 1e-15, "m/s");
    hw_scan_ask ask = hw_visit_scan_ask(&visit, HW_SIDE_LEFT);
    assert_int_equal(ask.unit, HW_SCAN_UNIT_MM);
    assert_int_equal(ask.side, HW_SIDE_LEFT);
    hw_test_close(&room);
}

static const char *fault_of(const hw_faults *faults, const char *key)
{
    for (int i = 0; i < faults->count; i++)
        if (strcmp(faults->rows[i].key, key) == 0) return faults->rows[i].sentence;
    return NULL;
}

static void test_case__all_faults_are_told_at_once_by_key(void **state)
{
    (void)state;
    static const char bad[] =
        "{\"heelwright_case\": 2, \"visit_date\": \"02.03.2026\", \"mass\": 82,"
        " \"person\": {\"birth_year\": \"1979\", \"sex\": \"girl\", \"a.fever\": \"no\"},"
        " \"mass_kg\": 805, \"red_flags\": {\"fever\": true, \"no_such_flag\": \"no\"},"
        " \"medicines\": \"none\", \"allergies\": [1],"
        " \"past_treatments\": [{\"act\": \"magic\", \"date\": \"2026-02-30\"}],"
        " \"feet\": {\"left\": {\"lunge_deg\": 310, \"monofilament\": \"yes\","
        "   \"scan\": {\"unit\": \"ell\"}, \"heel_pain\": \"a bit\","
        "   \"orthosis\": {\"heel_cup_mm\": -3, \"shell\": \"glass\"}},"
        "  \"middle\": {}}}";
    const char *keys[] = {"heelwright_case",
                          "visit_date",
                          "mass",
                          "person.birth_year",
                          "person.sex",
                          "person.a.fever",
                          "person.code",
                          "mass_kg",
                          "red_flags.fever",
                          "red_flags.no_such_flag",
                          "medicines",
                          "allergies[0]",
                          "past_treatments[0].act",
                          "past_treatments[0].date",
                          "feet.left.lunge_deg",
                          "feet.left.monofilament",
                          "feet.left.scan.unit",
                          "feet.left.scan",
                          "feet.left.heel_pain",
                          "feet.left.orthosis.heel_cup_mm",
                          "feet.left.orthosis.shell",
                          "feet.middle"};
    hw_test_room room = hw_test_open();
    hw_visit visit = {0};
    hw_faults faults;
    CHECK_FAILS(&room.job, read_text(&room, bad, &visit, &faults), HW_BAD_INPUT, "more");
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
        if (!fault_of(&faults, keys[i])) fail_msg("no fault for %s", keys[i]);
    assert_int_equal(faults.count, sizeof keys / sizeof *keys);
    assert_non_null(strstr(fault_of(&faults, "feet.left.lunge_deg"), "310"));
    assert_null(visit.code); // a failure leaves the result alone
    hw_test_close(&room);
}

typedef struct pair {
    const char *text, *key;
} pair;

static void test_case__contradictions_are_refused(void **state)
{
    (void)state;
#define HEAD "{\"heelwright_case\": 1, \"visit_date\": \"2026-03-02\", "
#define WHO "\"person\": {\"code\": \"X\"}, "
    static const pair cases[] = {
        {HEAD "\"person\": {\"code\": \"X\", \"sex\": \"male\", \"pregnancy\": \"yes\"},"
              " \"feet\": {\"left\": {}}}",
         "person.pregnancy"},
        {HEAD "\"person\": {\"code\": \"X\", \"birth_year\": 2027}, \"feet\": {\"left\": {}}}",
         "person.birth_year"},
        {HEAD WHO "\"mass_measured_on\": \"2026-03-03\", \"feet\": {\"left\": {}}}",
         "mass_measured_on"},
        {HEAD WHO "\"mass_kg\": 180, \"height_cm\": 100, \"feet\": {\"left\": {}}}", "mass_kg"},
        {HEAD WHO "\"past_treatments\": [{\"act\": \"tape\", \"date\": \"2026-04-01\"}],"
                  " \"feet\": {\"left\": {}}}",
         "past_treatments[0].date"},
        {HEAD WHO "\"feet\": {\"left\": {\"scan\": {\"file\": \"a.stl\"},"
                  " \"measures\": {\"foot_length_mm\": 260}}}}",
         "feet.left.measures"},
        {HEAD WHO "\"feet\": {\"right\": {\"measures\": {\"ball_breadth_mm\": 98}}}}",
         "feet.right.measures.foot_length_mm"},
        {HEAD WHO "\"feet\": {\"right\": {\"measures\": {\"foot_length_mm\": 200,"
                  " \"truncated_length_mm\": 210}}}}",
         "feet.right.measures.truncated_length_mm"},
        {HEAD WHO "\"feet\": {\"left\": {\"fascia_thickness_mm\": 5, \"ultrasound\": {"
                  "\"file\": \"a\", \"site\": \"heel bone's front edge\", \"plane\": "
                  "\"longitudinal\", \"scale\": \"region of the file\", \"thickness_mm\": 4.2, "
                  "\"superficial_edge_accepted\": true, \"deep_edge_accepted\": true}}}}",
         "feet.left.fascia_thickness_mm"},
        {HEAD WHO "\"feet\": {}}", "feet"},
    };
    hw_test_room room = hw_test_open();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        hw_visit visit = {0};
        hw_faults faults;
        CHECK_FAILS(&room.job, read_text(&room, cases[i].text, &visit, &faults), HW_BAD_INPUT,
                    cases[i].key);
        assert_int_equal(faults.count, 1);
    }
    hw_test_close(&room);
}

// Nothing is stored as a thickness that a person has not accepted edge by edge, or that could not be compared.
static void test_case__a_thickness_needs_both_edges_accepted(void **state)
{
    (void)state;
    static const struct {
        const char *rest, *part; // of the picture; of the sentence, NULL: it is taken
    } cases[] = {
        {"\"superficial_edge_accepted\": true", "deep edge is not accepted"},
        {"\"deep_edge_accepted\": true", "superficial edge is not accepted"},
        {"\"superficial_edge_accepted\": true, \"deep_edge_accepted\": true",
         "source of its scale"},
        {"\"superficial_edge_accepted\": true, \"deep_edge_accepted\": true, \"scale\": \"region "
         "of the "
         "file\"",
         "its site"},
        {"\"superficial_edge_accepted\": true, \"deep_edge_accepted\": true, \"scale\": \"region "
         "of the "
         "file\", \"site\": \"heel bone's front edge\"",
         "its plane"},
        {"\"superficial_edge_accepted\": true, \"deep_edge_accepted\": true, \"scale\": \"region "
         "of the "
         "file\", \"site\": \"heel bone's front edge\", \"plane\": \"longitudinal\"",
         NULL},
    };
    hw_test_room room = hw_test_open();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const char *text = NULL;
        hw_visit visit = {0};
        hw_faults faults;
        CHECK_OK(&room.job,
                 hw_text_format(&room.job, room.into, &text,
                                "{\"heelwright_case\": 1, \"visit_date\": \"2026-03-02\", "
                                "\"person\": {\"code\": \"X\"}, \"feet\": {\"left\": "
                                "{\"ultrasound\": {\"file\": \"a\", \"thickness_mm\": 4.2, "
                                "\"half_width_95_mm\": 0.3, %s}}}}",
                                cases[i].rest));
        if (cases[i].part) {
            CHECK_FAILS(&room.job, read_text(&room, text, &visit, &faults), HW_BAD_INPUT,
                        cases[i].part);
            continue;
        }
        CHECK_OK(&room.job, read_text(&room, text, &visit, &faults));
        // The accepted reading is the finding the rules read.
        hw_finding found = visit.findings.feet[0].values[HW_FINDING_FASCIA_THICKNESS_MM];
        CHECK_NEAR(hw_finding_number(found).value, 4.2, 0, "mm");
        hw_us_reading reading = hw_visit_us_reading(&visit, HW_SIDE_LEFT);
        assert_true(reading.is_accepted && reading.site == HW_US_SITE_ORIGIN);
        CHECK_NEAR(reading.sd_m, 0.3e-3 / 1.96, 1e-12, "m");
        assert_false(hw_visit_us_reading(&visit, HW_SIDE_RIGHT).is_accepted);
    }
    hw_test_close(&room);
}

static void test_case__what_is_no_object_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_visit visit = {0};
    hw_faults faults;
    CHECK_FAILS(&room.job, read_text(&room, "[1]", &visit, &faults), HW_BAD_FORMAT, "a list");
    CHECK_FAILS(&room.job, read_text(&room, "solid foot", &visit, &faults), HW_BAD_FORMAT, "line");
    hw_test_close(&room);
}

static void test_case__every_failed_allocation_is_reported(void **state)
{
    (void)state;
    hw_bytes bytes = {(const unsigned char *)whole_case, strlen(whole_case)};
    bool finished = false;
    for (size_t n = 1; !finished && n < 3000; n += 7) {
        hw_test_room room = hw_test_open();
        hw_visit visit = {0};
        hw_faults faults = {.into = room.into};
        hw_arena_fail_at(room.into, n);
        hw_status status = hw_visit_read(&room.job, bytes, room.into, &visit, &faults);
        assert_true(status == HW_OK || (status == HW_NO_MEMORY && !visit.code));
        finished = status == HW_OK;
        hw_test_close(&room);
    }
    assert_true(finished);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_case__a_whole_one_is_read_as_typed),
        cmocka_unit_test(test_case__values_become_si_once),
        cmocka_unit_test(test_case__all_faults_are_told_at_once_by_key),
        cmocka_unit_test(test_case__contradictions_are_refused),
        cmocka_unit_test(test_case__a_thickness_needs_both_edges_accepted),
        cmocka_unit_test(test_case__what_is_no_object_is_refused),
        cmocka_unit_test(test_case__every_failed_allocation_is_reported),
    };
    return cmocka_run_group_tests_name("record", tests, NULL, NULL);
}
