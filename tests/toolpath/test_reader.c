// SPDX-License-Identifier: GPL-3.0-or-later
// Two hundred programs that were made unsafe in one place each: all must be refused, by words or by what they
// would cut. The unchanged program passes.
#include "bench_of_tests.h"
#include "near.h"
#include "solids.h"
#include "suites.h"

typedef struct good {
    test_bench bench;
    hw_toolpath made;
    hw_gcode_rules rules;
    hw_gcode_ask ask;
    char **lines;
    int count;
    hw_mesh shell;
} good;

static double hill(double x, double y)
{
    return 0.006 - 20.0 * (x * x + y * y);
}

static void split(hw_test_room *room, good *of)
{
    const char *at = (const char *)of->made.program.at;
    of->lines = hw_arena_take(room->into, (size_t)of->made.line_count, sizeof(char *));
    for (int i = 0; i < of->made.line_count; i++) {
        size_t length = strcspn(at, "\n");
        of->lines[i] = hw_arena_take(room->into, length + 1, 1);
        memcpy(of->lines[i], at, length);
        at += length + 1;
    }
    of->count = of->made.line_count;
}

static void make_good(hw_test_room *room, good *of)
{
    bench_fill(&of->bench, 0.09, 0.06, 0.024);
    of->shell = solid_sheet(room->into, (const double[2]){0.012, 0.008}, 0.003, 16, hill);
    const hw_toolpath_part part = {&of->shell, "LEFT FOOT"};
    CHECK_OK(&room->job,
             hw_toolpath_make(&room->job, &part, 1, &of->bench.ask, room->into, &of->made));
    of->rules = bench_rules(&of->bench, &of->made);
    of->ask = bench_ask(room->into, &of->bench, &part, 1, &of->made);
    split(room, of);
}

// Reads and carves; the first fault's sentence in `why`.
static bool passes(hw_test_room *room, const good *of, hw_bytes text, char why[240])
{
    hw_arena_mark mark = hw_arena_here(room->into);
    hw_faults faults = {.into = room->into};
    hw_gcode_program program = {0};
    hw_gcode_cut cut = {0};
    hw_status status = hw_gcode_read(&room->job, text, &of->rules, room->into, &program, &faults);
    if (status == HW_OK)
        status =
            hw_gcode_carve(&room->job, &program, &of->rules, &of->ask, room->into, &cut, &faults);
    assert_true(status == HW_OK || status == HW_BAD_INPUT);
    snprintf(why, 240, "%s", status == HW_OK ? "" : room->job.why);
    hw_arena_rewind(room->into, mark);
    return status == HW_OK;
}

// How a program is spoilt: lines that begin so and hold that, a few of them one at a time.
typedef enum how { DROP, REPLACE, BEFORE, SET_WORD, LOWER_WORD, DROP_WORD, CUT_HERE } how;

typedef struct spoil {
    const char *begins, *holds;
    how how;
    const char *with; // a line, or a word's letter and value
    int times;        // at so many places, spread over all
    int from_finish;  // 1: only in finishing
} spoil;

static const spoil spoils[] = {
    {"%", "", DROP, "", 2, 0},
    {"G21", "", DROP, "", 1, 0},
    {"G21", "", DROP_WORD, "G21", 1, 0},
    {"G21", "", DROP_WORD, "G17", 1, 0},
    {"G21", "", DROP_WORD, "G90", 1, 0},
    {"G21", "", DROP_WORD, "G94", 1, 0},
    {"G21", "", DROP_WORD, "G40", 1, 0},
    {"G21", "", DROP_WORD, "G49", 1, 0},
    {"G21", "", DROP_WORD, "G80", 1, 0},
    {"G21", "", REPLACE, "G20 G17 G90 G94 G40 G49 G80", 1, 0},
    {"G21", "", REPLACE, "G21 G17 G91 G94 G40 G49 G80", 1, 0},
    {"G21", "", REPLACE, "G21 G18 G90 G94 G40 G49 G80", 1, 0},
    {"G21", "", REPLACE, "G21 G17 G90 G93 G40 G49 G80", 1, 0},
    {"G54", "", DROP, "", 1, 0},
    {"T", "", DROP, "", 4, 0},
    {"T1 ", "", REPLACE, "T7 M6", 2, 0},
    {"T1 ", "", REPLACE, "T2 M6", 2, 0},
    {"T2 ", "", REPLACE, "T1 M6", 2, 0},
    {"S", "", DROP, "", 4, 0},
    {"S", "", REPLACE, "S0 M3", 2, 0},
    {"S", "", REPLACE, "S99000 M3", 2, 0},
    {"S", "", REPLACE, "S12000 M4", 2, 0},
    {"G4", "", DROP, "", 4, 0},
    {"G4", "", REPLACE, "G4 P0.003", 2, 0},
    {"M5", "", DROP, "", 5, 0},
    {"M30", "", DROP, "", 1, 0},
    {"M30", "", BEFORE, "M3", 1, 0},
    {"(TURN", "", DROP, "", 1, 0},
    {"(NOT", "", DROP, "", 1, 0},
    {"(PART", "", REPLACE, "(PART 1: RIGHT FOOT)", 1, 0},
    {"(CODE", "", DROP, "", 1, 0},
    {"(TOOL 1", "", DROP, "", 1, 0},
    {"(TOOL 2", "", REPLACE, "(TOOL 2 BALL DIAMETER 8.000 REACH 60.0)", 1, 0},
    {"(TOOL 2", "", REPLACE, "(TOOL 2 FLAT DIAMETER 6.000 REACH 60.0)", 1, 0},
    {"G1", " X", SET_WORD, "G0", 16, 0},
    {"G0 Z", "", DROP, "", 12, 0},
    {"G0 Z", "", SET_WORD, "Z12.000", 8, 0},
    {"G1", " X", SET_WORD, "X2000.000", 6, 0},
    {"G1", " Y", SET_WORD, "Y-900.000", 6, 0},
    {"G1", " Z", SET_WORD, "Z-1.000", 6, 0},
    {"G0", " X", SET_WORD, "X-400.000", 4, 0},
    {"G1", " X", SET_WORD, "X2.000", 6, 0}, // a clamp is there
    {"G1", " F", SET_WORD, "F9000", 6, 0},
    {"G1", " F", SET_WORD, "F0", 6, 0},
    {"G1", "", BEFORE, "G2 X10.000 Y10.000 I1.000 J1.000", 4, 0},
    {"G1", "", BEFORE, "G3 X10.000 Y10.000", 2, 0},
    {"G1", "", BEFORE, "G20", 2, 0},
    {"G1", "", BEFORE, "G91", 2, 0},
    {"G1", "", BEFORE, "G28", 2, 0},
    {"G1", "", BEFORE, "G92 Z0.000", 2, 0},
    {"G1", "", BEFORE, "G10 L2 P1 Z5.000", 1, 0},
    {"G1", "", BEFORE, "G43 H1", 2, 0},
    {"G1", "", BEFORE, "G55", 2, 0},
    {"G1", "", BEFORE, "M98 P100", 1, 0},
    {"G1", "", BEFORE, "#1=5", 1, 0},
    {"G1", "", BEFORE, "M5", 8, 0},
    {"G1", "", BEFORE, "M0", 4, 0},
    {"G1", "", BEFORE, "M30", 3, 0},
    {"G1", " X", REPLACE, "G1 X12,5", 2, 0},
    {"G1", " X", REPLACE, "G1 X1.2E1", 2, 0},
    {"G1", " X", REPLACE, "G1 X12", 2, 0},
    {"G1", " X", REPLACE, "G1 X12.", 1, 0},
    {"G1", " X", REPLACE, "G1 X12.00001", 2, 0},
    {"G1", " X", REPLACE, "G1 X+12.000", 1, 0},
    {"G1", " X", REPLACE, "g1 x12.000", 2, 0},
    {"G1", " X", REPLACE, "G1  X12.000", 1, 0},
    {"G1", " X", REPLACE, "G1X12.000", 1, 0},
    {"G1", " X", REPLACE, "N10 G1 X12.000", 2, 0},
    {"G1", " X", REPLACE, "G1 X12.000 X13.000", 1, 0},
    {"G1", " X", REPLACE, "G1 G0 X12.000", 1, 0},
    {"G1", " X", REPLACE, "X12.000", 2, 0},
    {"G1", " X", REPLACE, "G1 X12.000 (HERE)", 1, 0},
    {"G1", " X", REPLACE, "G01.5 X12.000", 1, 0},
    {"G1", " X", REPLACE, "", 1, 0},
    {"G1 X", " Z", LOWER_WORD, "Z3.000", 14, 1},
    {"G1 Z", " F1200", SET_WORD, "F3000", 2, 1},
    {"(FINISHING", "", CUT_HERE, "", 2, 0}, // the ways that follow are left out
    {"(ROUGHING", "", CUT_HERE, "", 2, 0},
    {"G1", "", CUT_HERE, "all", 6, 0}, // the file ends here
};

static bool is_match(const spoil *of, const char *line)
{
    return strncmp(line, of->begins, strlen(of->begins)) == 0 && strstr(line, of->holds);
}

// One word of a line replaced, taken out or lowered by its value.
static void spoil_word(hw_writer *out, const char *line, const spoil *of)
{
    bool is_found = false;
    char copy[128];
    snprintf(copy, sizeof copy, "%s", line);
    for (char *word = strtok(copy, " "), *first = word; word; word = strtok(NULL, " ")) {
        const char *gap = word == first ? "" : " ";
        bool is_it = of->how == DROP_WORD ? strcmp(word, of->with) == 0 : word[0] == of->with[0];
        if (!is_it) {
            hw_writer_print(out, "%s%s", gap, word);
            continue;
        }
        is_found = true;
        if (of->how == SET_WORD) hw_writer_print(out, "%s%s", gap, of->with);
        if (of->how == LOWER_WORD)
            hw_writer_print(out, "%s%c%.3f", gap, word[0], atof(word + 1) - atof(of->with + 1));
    }
    if (!is_found && of->how == SET_WORD) hw_writer_print(out, " %s", of->with);
    hw_writer_print(out, "\n");
}

static void spoil_line(hw_writer *out, const char *line, const spoil *of, int *left_out)
{
    switch (of->how) {
    case DROP:
        return;
    case REPLACE:
        hw_writer_print(out, "%s\n", of->with);
        return;
    case BEFORE:
        hw_writer_print(out, "%s\n%s\n", of->with, line);
        return;
    case CUT_HERE:
        hw_writer_print(out, "%s\n", line);
        *left_out = of->with[0] ? 1000000 : 400;
        return;
    default:
        spoil_word(out, line, of);
    }
}

// The program with its `place`-th line that matches spoilt.
static hw_bytes spoilt(hw_test_room *room, const good *from, const spoil *of, int place)
{
    hw_writer out = hw_writer_begin(room->into);
    hw_bytes text = {0};
    bool in_finish = false;
    int left_out = 0;
    for (int i = 0; i < from->count; i++) {
        const char *line = from->lines[i];
        if (line[0] == '(') in_finish = strncmp(line, "(FINISHING", 10) == 0;
        if (left_out > 0 && left_out-- > 0 && (left_out > 1000 || line[0] == 'G')) {
            if (left_out <= 1000 && strncmp(line, "G0 Z", 4) == 0)
                left_out = 0; // back at a safe height
            continue;
        }
        if (is_match(of, line) && (!of->from_finish || in_finish) && place-- == 0)
            spoil_line(&out, line, of, &left_out);
        else
            hw_writer_print(&out, "%s\n", line);
    }
    CHECK_OK(&room->job, hw_writer_end(&room->job, &out, &text));
    return text;
}

static int matches(const good *from, const spoil *of)
{
    int count = 0;
    bool in_finish = false;
    for (int i = 0; i < from->count; i++) {
        if (from->lines[i][0] == '(') in_finish = strncmp(from->lines[i], "(FINISHING", 10) == 0;
        count += is_match(of, from->lines[i]) && (!of->from_finish || in_finish);
    }
    return count;
}

static void test_reader__refuses_two_hundred_spoilt_programs(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    good from = {0};
    char why[240];
    int tried = 0, passed = 0;
    make_good(&room, &from);
    assert_true(passes(&room, &from, from.made.program, why));
    for (size_t s = 0; s < sizeof spoils / sizeof *spoils; s++) {
        const spoil *of = &spoils[s];
        int places = matches(&from, of);
        for (int k = 0; k < of->times && k < places; k++) {
            int place = (2 * k + 1) * places / (2 * of->times);
            hw_arena_mark mark = hw_arena_here(room.into);
            tried++;
            if (passes(&room, &from, spoilt(&room, &from, of, place), why)) {
                print_error("passed: '%s' (%s) how %d with '%s' at %d of %d\n", of->begins,
                            of->holds, (int)of->how, of->with, place, places);
                passed++;
            }
            hw_arena_rewind(room.into, mark);
        }
    }
    printf("%d spoilt programs\n", tried);
    assert_true(tried >= 200);
    assert_int_equal(passed, 0);
    hw_test_close(&room);
}

// The program with a way across a tab, at half its height, before the last stop of the spindle: outside the
// part, so that only the tab's own check can see it.
static hw_bytes with_tab_cut(hw_test_room *room, const good *from, int tab)
{
    const hw_box *box = &from->made.places[0].tabs[tab]; // the second side lies turned over about X
    double across = tab % 2 ? -1.0 : 1.0, outer = tab % 2 ? -box->high.y : -box->low.y;
    double y = hw_mm_from_m(outer - across * 0.005), low = hw_mm_from_m(box->low.x) - 4.0;
    double high = hw_mm_from_m(box->high.x) + 4.0, safe = hw_mm_from_m(from->made.safe_z_m);
    double z = hw_mm_from_m(from->bench.block.height_m - 0.5 * (box->low.z + box->high.z));
    hw_writer out = hw_writer_begin(room->into);
    hw_bytes text = {0};
    int last = from->count;
    while (last > 0 && strcmp(from->lines[last - 1], "M5") != 0) last--;
    for (int i = 0; i < from->count; i++) {
        if (i == last - 1)
            hw_writer_print(&out,
                            "G0 Z%.3f\nG0 X%.3f Y%.3f\nG1 Z%.3f F1200\nG1 X%.3f F1200\nG0 Z%.3f\n",
                            safe, low, y, z, high, safe);
        hw_writer_print(&out, "%s\n", from->lines[i]);
    }
    CHECK_OK(&room->job, hw_writer_end(&room->job, &out, &text));
    return text;
}

static void test_reader__a_program_that_cuts_a_tab_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    good from = {0};
    char why[240];
    make_good(&room, &from);
    for (int tab = 0; tab < from.made.places[0].tab_count; tab++) {
        assert_false(passes(&room, &from, with_tab_cut(&room, &from, tab), why));
        assert_non_null(strstr(why, "a tab that holds part 1 is cut 1.5"));
    }
    from.ask.designs[0].hold_count = 0;
    assert_false(passes(&room, &from, from.made.program, why));
    assert_non_null(strstr(why, "no tab holds it"));
    hw_test_close(&room);
}

// A rapid is travel though the machine be slow: lengths do not hang on speeds.
static void test_reader__a_slow_rapid_is_no_cut(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    good from = {0};
    hw_gcode_program fast = {0}, slow = {0};
    hw_faults faults = {.into = room.into};
    make_good(&room, &from);
    CHECK_OK(&room.job,
             hw_gcode_read(&room.job, from.made.program, &from.rules, room.into, &fast, &faults));
    from.rules.rapid_m_per_s = 0.005;
    CHECK_OK(&room.job,
             hw_gcode_read(&room.job, from.made.program, &from.rules, room.into, &slow, &faults));
    assert_true(fast.travel_m > 0.1 && fast.time_low_s < slow.time_low_s);
    CHECK_NEAR(slow.travel_m, fast.travel_m, 1e-12, "m");
    CHECK_NEAR(slow.cut_m, fast.cut_m, 1e-12, "m");
    hw_test_close(&room);
}

int run_reader_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reader__a_slow_rapid_is_no_cut),
        cmocka_unit_test(test_reader__a_program_that_cuts_a_tab_is_refused),
        cmocka_unit_test(test_reader__refuses_two_hundred_spoilt_programs),
    };
    return cmocka_run_group_tests_name("reader", tests, NULL, NULL);
}
