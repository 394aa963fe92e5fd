// SPDX-License-Identifier: GPL-3.0-or-later
// A visit from bytes is the visit from files, and the page gets surfaces it can trust.
#include "app/app_internal.h"
#include "app_tests.h"
#include "near.h"

static hw_status read_of_set(hw_job *job, void *from, const char *name, hw_arena *into,
                             hw_bytes *out)
{
    const hw_file_set *set = from;
    (void)into;
    for (int i = 0; i < set->count; i++)
        if (strcmp(set->files[i].name, name) == 0) {
            *out = set->files[i].bytes;
            return HW_OK;
        }
    return hw_fail(job, HW_NOT_FOUND, "no file '%s' is kept", name);
}

static hw_bytes of_name(const hw_file_set *set, const char *name)
{
    for (int i = 0; i < set->count; i++)
        if (strcmp(set->files[i].name, name) == 0) return set->files[i].bytes;
    fail_msg("no file '%s'", name);
    return (hw_bytes){0};
}

// One visit of the invented person serves all tests that look at one.
typedef struct seen_visit {
    hw_test_room room;
    hw_file_set kept, files;
    hw_report report;
} seen_visit;

static int see_visit(void **state)
{
    static seen_visit seen;
    seen.room = hw_test_open();
    hw_faults faults = {.into = seen.room.into};
    hw_job *job = &seen.room.job;
    CHECK_OK(job, hw_app_demo_files(job, 7, seen.room.into, &seen.kept));
    hw_app_source source = {.read = read_of_set, .from = &seen.kept};
    CHECK_OK(job, hw_app_visit(job, of_name(&seen.kept, "case.json"), &source, HW_APP_ALL,
                               seen.room.into, &seen.report, &faults));
    CHECK_OK(job, hw_app_page_files(job, &seen.report, (hw_bytes){0}, seen.room.into, &seen.files));
    *state = &seen;
    return 0;
}

static int forget_visit(void **state)
{
    seen_visit *seen = *state;
    hw_test_close(&seen->room);
    return 0;
}

static uint32_t u32_at(hw_bytes bytes, size_t offset)
{
    const unsigned char *at = bytes.at + offset;
    return at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16 | (uint32_t)at[3] << 24;
}

static float float_at(hw_bytes bytes, size_t offset)
{
    uint32_t bits = u32_at(bytes, offset);
    float value = 0.0f;
    memcpy(&value, &bits, sizeof value);
    return value;
}

static void test_app__a_missing_scan_is_named(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_file_set kept = {0}, none = {0};
    hw_report report = {0};
    hw_faults faults = {.into = room.into};
    CHECK_OK(&room.job, hw_app_demo_files(&room.job, 7, room.into, &kept));
    hw_app_source source = {.read = read_of_set, .from = &none};
    CHECK_FAILS(&room.job,
                hw_app_visit(&room.job, of_name(&kept, "case.json"), &source, HW_APP_ALL, room.into,
                             &report, &faults),
                HW_NOT_FOUND, "is kept");
    hw_test_close(&room);
}

// The page's surfaces: as many bytes as the head says, corners inside, the foot's length in mm
// along x, and a right foot in its own shape (its medial first head at positive y).
static void test_app__page_surfaces(void **state)
{
    const seen_visit *seen = *state;
    static const char *const names[4] = {"left_foot.mesh", "left_orthosis.mesh", "right_foot.mesh",
                                         "right_orthosis.mesh"};
    for (int n = 0; n < 4; n++) {
        hw_bytes mesh = of_name(&seen->files, names[n]);
        uint32_t points = u32_at(mesh, 4), triangles = u32_at(mesh, 8);
        assert_memory_equal(mesh.at, "HWM1", 4);
        assert_true(points > 1000 && triangles > 1000);
        assert_int_equal(mesh.count, 12 + 12 * (points + triangles));
        float low = 1e9f, high = -1e9f;
        for (uint32_t i = 0; i < points; i++) {
            low = fminf(low, float_at(mesh, 12 + 12 * i));
            high = fmaxf(high, float_at(mesh, 12 + 12 * i));
        }
        for (uint32_t i = 0; i < 3 * triangles; i++)
            assert_true(u32_at(mesh, 12 + 12 * points + 4 * i) < points);
        if (n % 2 == 0)
            CHECK_NEAR((double)(high - low),
                       hw_mm_from_m(seen->report.feet[n / 2].measures->foot_length_m.value), 8.0,
                       "mm");
    }
}

// A triangle's signed volume with the origin tells the turn: a mirrored solid turned over again is
// still outside out.
static void test_app__both_orthoses_face_outward(void **state)
{
    const seen_visit *seen = *state;
    static const char *const names[2] = {"left_orthosis.mesh", "right_orthosis.mesh"};
    for (int n = 0; n < 2; n++) {
        hw_bytes mesh = of_name(&seen->files, names[n]);
        uint32_t points = u32_at(mesh, 4), triangles = u32_at(mesh, 8);
        double volume = 0.0;
        for (uint32_t i = 0; i < triangles; i++) {
            double p[3][3];
            for (uint32_t c = 0; c < 3; c++) {
                uint32_t corner = u32_at(mesh, 12 + 12 * points + 12 * i + 4 * c);
                for (uint32_t k = 0; k < 3; k++)
                    p[c][k] = (double)float_at(mesh, 12 + 12 * corner + 4 * k);
            }
            volume += (p[0][0] * (p[1][1] * p[2][2] - p[1][2] * p[2][1]) -
                       p[0][1] * (p[1][0] * p[2][2] - p[1][2] * p[2][0]) +
                       p[0][2] * (p[1][0] * p[2][1] - p[1][1] * p[2][0])) /
                      6.0;
        }
        CHECK_NEAR(volume / 1000.0, hw_cm3_from_m3(seen->report.feet[n].orthosis->volume_m3), 0.05,
                   "cm3");
    }
}

// The device is pressed, its stiffness is what the load is computed with, and the page's map has a
// value for every point of the top grid.
static void test_app__the_device_is_pressed(void **state)
{
    const seen_visit *seen = *state;
    for (int i = 0; i < 2; i++) {
        const hw_report_foot *foot = &seen->report.feet[i];
        assert_non_null(foot->press);
        const hw_press_answer *of = &foot->press->at[HW_PRESS_MIDSTANCE];
        double asked = 0.0, borne = 0.0;
        for (int part = 0; part < HW_PRESS_REGIONS; part++) {
            asked += of->part[part].load_N;
            borne += of->part[part].borne_N;
        }
        assert_true(of->is_solved && of->arch_sink_m > 0.0005 && of->arch_sink_m < 0.012);
        CHECK_NEAR(borne / asked, 1.0, 0.02, "");
        // Table of the facts: polypropylene of 4 mm gives 38 N/mm on its arch, 5 mm 50.
        assert_true(foot->press->shell_N_per_m > 10e3 && foot->press->shell_N_per_m < 150e3);
    }
    hw_bytes map = of_name(&seen->files, "press.json");
    assert_non_null(strstr((const char *)map.at, "pressure_kPa"));
}

// Thirty invented people: every case is one the program can read and plan, the same bytes each time, and
// nobody's books go beyond their end.
static void test_app__the_invented_clinic(void **state)
{
    (void)state;
    int flagged = 0, unreleased = 0, lost = 0;
    for (int i = 0; i < HW_DEMO_PEOPLE; i++) {
        hw_test_room room = hw_test_open();
        hw_demo_person one = {0}, again = {0};
        hw_visit visit = {0};
        hw_plan plan = {0};
        hw_faults faults = {.into = room.into};
        CHECK_OK(&room.job, hw_app_demo_person(&room.job, 1, i, room.into, &one));
        hw_bytes file = of_name(&one.visit, "case.json");
        if (i < 2) {
            CHECK_OK(&room.job, hw_app_demo_person(&room.job, 1, i, room.into, &again));
            hw_bytes other = of_name(&again.visit, "case.json");
            assert_int_equal(file.count, other.count);
            assert_memory_equal(file.at, other.at, file.count);
        }
        CHECK_OK(&room.job, hw_visit_read(&room.job, file, room.into, &visit, &faults));
        CHECK_OK(&room.job, hw_clinic_plan(&room.job, &visit.findings, room.into, &plan));
        flagged += plan.red_flag_count > 0;
        unreleased += !plan.released;
        lost += one.score_count < 2;
        assert_non_null(strstr(one.name, "(invented)"));
        hw_test_close(&room);
    }
    assert_true(flagged >= 2 && unreleased >= flagged && unreleased < 20 && lost >= 2);
}

// The causes' means add up to what is above the reference foot, and a day was said in the case.
static void test_app__the_load_says_why(void **state)
{
    const seen_visit *seen = *state;
    for (int i = 0; i < 2; i++) {
        const hw_report_foot *foot = &seen->report.feet[i];
        assert_non_null(foot->causes);
        assert_non_null(foot->levers);
        assert_non_null(foot->day);
        double sum = 0.0;
        for (int c = 0; c < HW_MECH_CAUSE_COUNT; c++)
            if (foot->causes->is_known[c]) sum += foot->causes->part[c][HW_MECH_MIDSTANCE].mean;
        CHECK_NEAR(sum, foot->causes->total[HW_MECH_MIDSTANCE].mean, 1e-12, "");
    }
}

static bool is_cautioned(const hw_mech_effect *effect, const char *part)
{
    for (int i = 0; i < effect->caution_count; i++)
        if (strstr(effect->cautions[i], part)) return true;
    return false;
}

// A post that ends behind the heads is no wedge, and says so; one that goes on is one.
static void test_app__a_post_behind_the_heads_says_that_it_lifts_nothing(void **state)
{
    (void)state;
    hw_orthosis_order order = hw_orthosis_order_default(HW_LOADING_HANGING);
    order.forefoot_post_rad = 0.05;
    for (int goes_on = 0; goes_on < 2; goes_on++) {
        order.length = goes_on ? HW_ORTHOSIS_FULL : HW_ORTHOSIS_THREE_QUARTER;
        hw_mech_change change = app_change_of("orthosis", &order, NULL);
        assert_int_equal(change.has_idle_post, !goes_on);
        assert_int_equal(fabs(change.forefoot_wedge_rad) > 0.0, goes_on);
        hw_test_room room = hw_test_open();
        hw_mech_subject subject = {.mass_kg = 75.0, .loading = HW_LOADING_HANGING};
        subject.measures.foot_length_m = hw_known(0.255);
        hw_mech_result load = {0};
        CHECK_OK(&room.job, hw_mech_assess(&room.job, &subject, &change, 1, room.into, &load));
        assert_int_equal(is_cautioned(&load.effects[0], "post ends behind"), !goes_on);
        hw_test_close(&room);
    }
}

// Every treatment says where its own numbers come from; lists of several are told from single ones.
static void test_app__every_treatment_names_the_source_of_its_numbers(void **state)
{
    const seen_visit *seen = *state;
    const hw_mech_result *load = seen->report.feet[0].load;
    int combined = 0;
    for (int i = 0; i < load->effect_count; i++) {
        const hw_mech_change *change = &load->effects[i].change;
        assert_non_null(change->numbers_from);
        bool stretches = change->calf_gain_rad > 0.0;
        assert_int_equal(strstr(change->numbers_from, "Radford 2006") != NULL, stretches);
        combined += change->is_combined;
    }
    assert_int_equal(load->effect_count, 16);
    assert_int_equal(combined, 5); // as their names say: with an orthosis or an insole
}

static bool beats(const hw_search_numbers *a, const hw_search_numbers *b)
{
    return a->arch_peak_Pa < b->arch_peak_Pa && a->relief.p95 < b->relief.p95;
}

#if defined(__SANITIZE_ADDRESS__)
static const bool is_slow = true;
#else
static const bool is_slow = false;
#endif

static bool is_whole_suite(void)
{
    return hw_test_rounds(10) == 10;
}

// A short search under `./check`, on terms that a clinician might choose; a fall of the load is a
// relief, more pressure buys more of it, and the front is in order.
static void test_app__a_search_finds_what_relief_costs(void **state)
{
    if (is_slow) skip();
    seen_visit *seen = *state;
    hw_job *job = &seen->room.job;
    hw_search found = {0};
    hw_search_ask ask = {{HW_TERM_ARCH_FILL}, 1, 0.0, 8, true};
    CHECK_OK(job, hw_app_search(job, seen->report.visit, &seen->report.feet[0], &ask,
                                seen->room.into, &found));
    assert_true(found.front_count >= 4 && found.looked_at <= 10);
    for (int i = 0; i + 1 < found.front_count; i++) {
        const hw_search_numbers *one = &found.front[i].preview, *next = &found.front[i + 1].preview;
        assert_true(one->arch_peak_Pa < next->arch_peak_Pa && one->relief.p95 > next->relief.p95);
        assert_true(found.front[i].value[0] >= 0.0 && found.front[i].value[0] <= 0.006);
    }
    ask.term_count = HW_SEARCH_TERMS + 1;
    CHECK_FAILS(job,
                hw_app_search(job, seen->report.visit, &seen->report.feet[0], &ask, seen->room.into,
                              &found),
                HW_BAD_INPUT, "terms");
}

// "Nothing, or at least so much": 1 to 8 mm of a skive, 2 to 6 mm of a recess (docs/orthosis.md 1). A post may
// be anything between its ends, so does not snap.
static void test_app__a_search_offers_nothing_or_at_least_so_much(void **state)
{
    (void)state;
    const struct {
        hw_order_term term;
        double value, snapped;
    } rows[] = {{HW_TERM_SKIVE, 0.0, 0.0},
                {HW_TERM_SKIVE, 0.0004, 0.0},
                {HW_TERM_SKIVE, 0.0006, 0.001},
                {HW_TERM_SKIVE, 0.0031, 0.0031},
                {HW_TERM_RECESS_DEPTH, 0.0009, 0.0},
                {HW_TERM_RECESS_DEPTH, 0.0011, 0.002},
                {HW_TERM_REARFOOT_POST, 0.001, 0.001},
                {HW_TERM_HEEL_CUP, 0.0101, 0.0101}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        CHECK_NEAR(app_orderable(rows[i].term, rows[i].value), rows[i].snapped, 1e-12, "m or rad");
}

static void test_app__a_pad_and_a_cover_need_their_kind_first(void **state)
{
    seen_visit *seen = *state;
    hw_job *job = &seen->room.job;
    hw_report_foot foot = seen->report.feet[0];
    hw_orthosis_order order = *foot.order;
    const hw_order_term terms[] = {HW_TERM_MET_HEIGHT, HW_TERM_COVER};
    hw_search found = {0};
    order.met_pad = HW_MET_NONE, order.cover = HW_COVER_NONE;
    foot.order = &order;
    for (int i = 0; i < 2; i++) {
        hw_search_ask ask = {{terms[i]}, 1, 0.0, 4, true};
        CHECK_FAILS(job,
                    hw_app_search(job, seen->report.visit, &foot, &ask, seen->room.into, &found),
                    HW_BAD_INPUT, "order its kind first");
    }
}

// The bounds: none of 500 random feasible designs beats the front; twice the evaluations gain
// less than 2 % of the area it spans; at least 20 designs, each confirmed or dropped. The way of searching
// was chosen on other random designs (seed 11) than it is judged by here. Minutes: only in the whole suite.
static void test_app__nothing_random_beats_the_trade_off(void **state)
{
    enum { RANDOM = 500 };
    static hw_search_design random[RANDOM];
    if (is_slow || !is_whole_suite()) skip();
    seen_visit *seen = *state;
    hw_job *job = &seen->room.job;
    const hw_report_foot *foot = &seen->report.feet[0];
    hw_search found = {0}, twice = {0};
    hw_search_ask ask = {0}, doubled = {.evaluations = 360, .is_quick = true};
    hw_search_ask asked = {.evaluations = RANDOM};
    int beaten = 0, possible = 0;
    CHECK_OK(job, hw_app_search(job, seen->report.visit, foot, &ask, seen->room.into, &found));
    CHECK_OK(job, hw_app_search(job, seen->report.visit, foot, &doubled, seen->room.into, &twice));
    CHECK_OK(job,
             app_search_random(job, seen->report.visit, foot, &asked, 29, seen->room.into, random));
    for (int i = 0; i < RANDOM; i++) {
        if (random[i].state != HW_SEARCH_POSSIBLE) continue;
        possible++;
        for (int k = 0; k < found.front_count; k++)
            beaten += beats(&random[i].preview, &found.front[k].preview);
    }
    print_message("%d of %d random designs possible, %d times one beats the front; area %.4g, "
                  "doubled %.4g\n",
                  possible, RANDOM, beaten, found.volume, twice.volume);
    assert_int_equal(beaten, 0);
    assert_true(twice.volume < 1.02 * found.volume);
    assert_true(found.front_count >= 20);
    for (int i = 0; i < found.front_count; i++)
        assert_true(found.front[i].state == HW_SEARCH_CONFIRMED ||
                    (found.front[i].state == HW_SEARCH_DROPPED && found.front[i].why[0]));
}

// The same on another foot (a pronated one, 76 kg; the first has an index of 2 and 84 kg) and with the
// post, the raise and a dome varied as well. The finals are judged above. Here the "none beats" does not
// hold (docs/orthosis.md 4): at most one pair in a hundred.
static void test_app__nor_on_another_foot_with_six_terms(void **state)
{
    enum { RANDOM = 500, ENOUGH = 100 };
    static hw_search_design random[RANDOM];
    (void)state;
    if (is_slow || !is_whole_suite()) skip();
    hw_test_room room = hw_test_open();
    hw_job *job = &room.job;
    hw_file_set kept = {0};
    hw_report report = {0};
    hw_faults faults = {.into = room.into};
    CHECK_OK(job, hw_app_demo_files(job, 10, room.into, &kept));
    hw_app_source source = {.read = read_of_set, .from = &kept};
    CHECK_OK(job, hw_app_visit(job, of_name(&kept, "case.json"), &source, HW_APP_ORTHOSIS,
                               room.into, &report, &faults));
    hw_report_foot foot = report.feet[0];
    hw_orthosis_order order = *foot.order;
    order.met_pad = HW_MET_DOME, order.met_height_m = 0.004;
    foot.order = &order;
    const hw_search_ask ask = {{HW_TERM_THICKNESS, HW_TERM_ARCH_FILL, HW_TERM_HEEL_CUP,
                                HW_TERM_REARFOOT_POST, HW_TERM_HEEL_RAISE, HW_TERM_MET_HEIGHT},
                               6,
                               0.0,
                               0,
                               true};
    hw_search_ask doubled = ask, asked = ask;
    doubled.evaluations = 360, asked.evaluations = RANDOM;
    hw_search found = {0}, twice = {0};
    CHECK_OK(job, hw_app_search(job, report.visit, &foot, &ask, room.into, &found));
    print_message("%d looked at, %d possible, front %d, area %.5g\n", found.looked_at,
                  found.possible, found.front_count, found.volume);
    CHECK_OK(job, hw_app_search(job, report.visit, &foot, &doubled, room.into, &twice));
    print_message("doubled: %d possible, area %.5g\n", twice.possible, twice.volume);
    CHECK_OK(job, app_search_random(job, report.visit, &foot, &asked, 29, room.into, random));
    int possible = 0, beaten = 0;
    for (int i = 0; i < RANDOM; i++) {
        if (random[i].state != HW_SEARCH_POSSIBLE) continue;
        possible++;
        for (int k = 0; k < found.front_count; k++)
            beaten += beats(&random[i].preview, &found.front[k].preview);
    }
    print_message("%d random designs possible, %d times one beats the front\n", possible, beaten);
    assert_true(possible >= ENOUGH);
    assert_true(100 * beaten <= possible * found.front_count);
    assert_true(twice.volume < 1.02 * found.volume);
    assert_true(found.front_count >= 20);
    hw_test_close(&room);
}

// A word with stars runs only the tests so named: the search's takes minutes.
int main(int count, char **words)
{
    if (count > 1) cmocka_set_test_filter(words[1]);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_app__a_missing_scan_is_named),
        cmocka_unit_test(test_app__page_surfaces),
        cmocka_unit_test(test_app__both_orthoses_face_outward),
        cmocka_unit_test(test_app__the_load_says_why),
        cmocka_unit_test(test_app__every_treatment_names_the_source_of_its_numbers),
        cmocka_unit_test(test_app__a_post_behind_the_heads_says_that_it_lifts_nothing),
        cmocka_unit_test(test_app__the_invented_clinic),
        cmocka_unit_test(test_app__the_device_is_pressed),
        cmocka_unit_test(test_app__a_search_finds_what_relief_costs),
        cmocka_unit_test(test_app__a_search_offers_nothing_or_at_least_so_much),
        cmocka_unit_test(test_app__a_pad_and_a_cover_need_their_kind_first),
        cmocka_unit_test(test_app__nothing_random_beats_the_trade_off),
        cmocka_unit_test(test_app__nor_on_another_foot_with_six_terms),
        cmocka_unit_test(test_csv__a_formula_is_a_text),
        cmocka_unit_test(test_csv__the_dictionary_is_in_order),
        cmocka_unit_test(test_books__what_a_heel_began_with_goes_by_the_day),
        cmocka_unit_test(test_books__who_was_never_rated_is_called_too),
        cmocka_unit_test(test_books__the_export_without_people_has_an_order_of_its_own),
    };
    return cmocka_run_group_tests(tests, see_visit, forget_visit);
}
