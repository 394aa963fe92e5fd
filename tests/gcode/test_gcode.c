// SPDX-License-Identifier: GPL-3.0-or-later
// The reader on programs written by hand, and the carving against solids with closed forms. (Spoilt programs of
// the writer: tests/toolpath/test_reader.c.)
#include "gcode/gcode.h"
#include "near.h"

static const char head[] = "%\n(PART 1: LEFT FOOT)\n(TOOL 1 BALL DIAMETER 8.000 REACH 40.0)\n"
                           "(TOOL 2 FLAT DIAMETER 6.000 REACH 40.0)\n"
                           "G21 G17 G90 G94 G40 G49 G80\nG54\n";
static const char start[] = "T1 M6\nS12000 M3\nG4 P3.0\nG0 Z30.000\n";
static const char end[] = "G0 Z30.000\nM5\nM9\nM30\n%\n";

static hw_gcode_rules rules_of(void)
{
    return (hw_gcode_rules){.travel = {{-0.01, -0.1, 0.0}, {0.2, 0.1, 0.05}},
                            .stock = {{0.0, -0.02, 0.0}, {0.06, 0.02, 0.02}},
                            .clear_z_m = 0.025,
                            .feed_max_m_per_s = 0.1,
                            .rapid_m_per_s = 0.1,
                            .acceleration_m_per_s2 = 0.5,
                            .spindle_min_per_min = 5000,
                            .spindle_max_per_min = 20000,
                            .dwell_min_s = 3.0,
                            .tools = {{1, true, 4e-3, 0.04, 9e-3, 0.05, 0.02, 12000},
                                      {2, false, 3e-3, 0.04, 9e-3, 0.05, 0.02, 12000}},
                            .tool_count = 2,
                            .side_count = 1,
                            .must_say = {"PART 1: LEFT FOOT"},
                            .must_say_count = 1};
}

static hw_status read_text(hw_test_room *room, const char *begin, const char *body,
                           hw_gcode_program *out, hw_faults *faults)
{
    const char *text = NULL;
    hw_gcode_rules rules = rules_of();
    *faults = (hw_faults){.into = room->into};
    CHECK_OK(&room->job,
             hw_text_format(&room->job, room->into, &text, "%s%s%s%s", head, begin, body, end));
    return hw_gcode_read(&room->job, (hw_bytes){(const unsigned char *)text, strlen(text)}, &rules,
                         room->into, out, faults);
}

static void test_read__follows_moves_and_sums_their_time(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_gcode_program program = {0};
    hw_faults faults;
    CHECK_OK(&room.job,
             read_text(&room, start, "G0 X10.000 Y0.000\nG1 Z16.000 F1200\nG1 X40.000 F3000\n",
                       &program, &faults));
    // To the place nothing is known of, so nothing is counted; then 14 down, 30 along, 14 up.
    assert_int_equal(program.move_count, 3);
    CHECK_NEAR(program.moves[1].to.x, 0.04, 1e-15, "m");
    CHECK_NEAR(program.cut_m, 0.044, 1e-12, "m");
    CHECK_NEAR(program.time_low_s, 3.0 + 0.014 / 0.02 + 0.030 / 0.05 + 0.014 / 0.1, 1e-9, "s");
    assert_true(program.time_high_s > program.time_low_s);
    hw_test_close(&room);
}

static void test_read__says_the_line_and_what_is_wrong_with_it(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const struct {
        const char *body, *key, *says;
    } rows[] = {
        {"G0 X10.000 Y0.000\nG0 X20.000 Z16.000\n", "line 12", "sideways and up or down"},
        {"G0 X10.000 Y0.000\nG0 Z16.000\n", "line 12", "rapid goes down"},
        {"G1 X10.000 F3000\n", "line 11", "nobody knows where"},
        {"G0 X10.000 Y0.000\nG1 Z16.000\n", "line 12", "no feed"},
        {"G0 X10.000 Y0.000\nG1 X12.000 Z10.000 F3000\n", "line 12", "goes down at"},
        {"G0 X10.000 Y0.000\nG2 X12.000 Y0.000\n", "line 12", "arcs"},
        {"G0 X10.000 Y0.000\nG91\n", "line 12", "counted from the last place"},
        {"G0 X900.000 Y0.000\n", "line 11", "travel"},
        {"G0 X10 Y0.000\n", "line 11", "no point"},
        {"M8\n", "line 11", "not of the subset"},
        {"(small letters)\n", "line 11", "sign"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        hw_gcode_program program = {0};
        hw_faults faults;
        assert_int_equal(read_text(&room, start, rows[i].body, &program, &faults), HW_BAD_INPUT);
        bool is_said = false;
        for (int k = 0; k < faults.count; k++)
            is_said |= strcmp(faults.rows[k].key, rows[i].key) == 0 &&
                       strstr(faults.rows[k].sentence, rows[i].says);
        if (!is_said) print_error("%s: %s\n", rows[i].body, room.job.why);
        assert_true(is_said);
    }
    hw_test_close(&room);
}

// A plate whose top is the given height: what is cut is compared with it.
static hw_mesh plate(hw_arena *into, double top)
{
    static const int faces[12][3] = {{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6},
                                     {0, 1, 5}, {0, 5, 4}, {2, 6, 7}, {2, 7, 3},
                                     {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}};
    hw_mesh mesh = {.points = hw_arena_take(into, 8, sizeof(hw_vec3)),
                    .point_count = 8,
                    .triangles = hw_arena_take(into, 12, sizeof(int[3])),
                    .triangle_count = 12};
    for (int k = 0; k < 8; k++)
        mesh.points[k] =
            (hw_vec3){k & 1 ? 0.045 : 0.005, k & 2 ? 0.015 : -0.015, k & 4 ? top : 0.001};
    memcpy(mesh.triangles, faces, sizeof faces);
    return mesh;
}

// The map over a plate that is far too low, so that heights can be read from it as distances.
static hw_gcode_map carve(hw_test_room *room, const char *begin, const char *body, double top)
{
    hw_gcode_program program = {0};
    hw_gcode_rules rules = rules_of();
    hw_gcode_cut cut = {0};
    hw_faults faults;
    hw_mesh design = plate(room->into, top);
    hw_gcode_ask ask = {.designs = {{.shape = &design}},
                        .design_count = 1,
                        .gouge_max_m = 20e-6,
                        .ridge_max_m = 1.0,
                        .finish_tool = 0};
    CHECK_OK(&room->job, read_text(room, begin, body, &program, &faults));
    hw_status status =
        hw_gcode_carve(&room->job, &program, &rules, &ask, room->into, &cut, &faults);
    assert_true(status == HW_OK || status == HW_BAD_INPUT);
    return cut.maps[0][0];
}

static void check_heights(const hw_gcode_map *map, double (*want)(double x, double y), double top)
{
    int looked = 0;
    for (int j = 0; j < map->rows; j++)
        for (int i = 0; i < map->columns; i++) {
            double x = map->low_x + i * map->step, y = map->low_y + j * map->step;
            float off = map->off_m[(size_t)j * (size_t)map->columns + (size_t)i];
            if (isnan(off)) continue;
            CHECK_NEAR((double)off + top, want(x, y), 1e-7, "m");
            looked++;
        }
    assert_true(looked > 5000);
}

// A ball of 4 mm, tip at 14 mm, along X from 15 to 35: a trough with round ends.
static double trough(double x, double y)
{
    double dx = x < 0.015 ? 0.015 - x : x > 0.035 ? x - 0.035 : 0.0, away2 = dx * dx + y * y;
    return away2 > 16e-6 ? 0.020 : fmin(0.020, 0.018 - sqrt(16e-6 - away2));
}

// The same down a slope of 1 in 4, by lowering the ball at many places of its way: an oracle, not exact.
static double slope_by_steps(double x, double y)
{
    enum { STEPS = 20000 };
    double best = 0.020;
    for (int k = 0; k <= STEPS; k++) {
        double t = k / (double)STEPS, dx = x - (0.015 + 0.020 * t), away2 = dx * dx + y * y;
        if (away2 <= 16e-6) best = fmin(best, 0.018 - 0.005 * t + 0.004 - sqrt(16e-6 - away2));
    }
    return best;
}

// A flat mill of 3 mm at 15 mm.
static double slot(double x, double y)
{
    double dx = x < 0.015 ? 0.015 - x : x > 0.035 ? x - 0.035 : 0.0;
    return dx * dx + y * y <= 9e-6 ? 0.015 : 0.020;
}

static void test_carve__swept_tools_leave_what_geometry_says(void **state)
{
    (void)state;
    const double top = 0.002;
    hw_test_room room = hw_test_open();
    hw_gcode_map map =
        carve(&room, start, "G0 X15.000 Y0.000\nG1 Z14.000 F1200\nG1 X35.000 F3000\n", top);
    check_heights(&map, trough, top);
    map = carve(&room, "T2 M6\nS12000 M3\nG4 P3.0\nG0 Z30.000\n",
                "G0 X15.000 Y0.000\nG1 Z15.000 F1200\nG1 X35.000 F3000\n", top);
    check_heights(&map, slot, top);
    map =
        carve(&room, start, "G0 X15.000 Y0.000\nG1 Z18.000 F1200\nG1 X35.000 Z13.000 F3000\n", top);
    for (int k = 0; k < hw_test_rounds(400); k++) {
        size_t at = (size_t)k * 7919 % ((size_t)map.columns * (size_t)map.rows);
        double x = map.low_x + (double)(at % (size_t)map.columns) * map.step;
        double y = map.low_y + (double)(at / (size_t)map.columns) * map.step;
        if (isnan(map.off_m[at])) continue;
        CHECK_NEAR((double)map.off_m[at] + top, slope_by_steps(x, y), 2e-7, "m");
    }
    hw_test_close(&room);
}

static void test_carve__finds_gouges_deep_cuts_and_fast_ways_into_stock(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_gcode_rules rules = rules_of();
    hw_mesh design = plate(room.into, 0.016);
    hw_gcode_ask ask = {.designs = {{.shape = &design}},
                        .design_count = 1,
                        .gouge_max_m = 20e-6,
                        .ridge_max_m = 1.0,
                        .finish_tool = 0};
    const struct {
        const char *body, *says; // NULL: passes
    } rows[] = {
        {"G0 X15.000 Y0.000\nG1 Z16.000 F1200\nG1 X35.000 F3000\n", NULL},
        {"G0 X15.000 Y0.000\nG1 Z15.990 F1200\nG1 X35.000 F3000\n", NULL},
        {"G0 X15.000 Y0.000\nG1 Z15.980 F1200\nG1 X35.000 F3000\n", "below the design"},
        {"G0 X15.000 Y0.000\nG1 Z16.000 F3000\nG1 X35.000 F3000\n", "meets stock"},
        {"G0 X15.000 Y0.000\nG1 Z21.000 F3000\nG1 Z16.000 F1200\nG1 X35.000 F3000\n", NULL},
        {"G0 X50.000 Y18.000\nG1 Z9.000 F1200\n", "mm deep at once"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        hw_gcode_program program = {0};
        hw_gcode_cut cut = {0};
        hw_faults faults;
        CHECK_OK(&room.job, read_text(&room, start, rows[i].body, &program, &faults));
        hw_status status =
            hw_gcode_carve(&room.job, &program, &rules, &ask, room.into, &cut, &faults);
        if (rows[i].says)
            CHECK_FAILS(&room.job, status, HW_BAD_INPUT, rows[i].says);
        else
            CHECK_OK(&room.job, status);
    }
    hw_test_close(&room);
}

static void test_read__random_bytes_are_refused_and_harm_nothing(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_random random = hw_random_begin(3);
    hw_gcode_rules rules = rules_of();
    unsigned char bytes[600];
    for (int round = 0; round < hw_test_rounds(3000); round++) {
        hw_arena_mark mark = hw_arena_here(room.into);
        hw_gcode_program program = {0};
        hw_faults faults = {.into = room.into};
        size_t count = (size_t)(hw_random_uniform(&random) * sizeof bytes);
        for (size_t k = 0; k < count; k++) {
            static const char letters[] = "%()GXYZFSTMP0123456789.- \n\n\n\r";
            bytes[k] =
                (unsigned char)letters[(size_t)(hw_random_uniform(&random) * (sizeof letters - 1))];
        }
        assert_int_equal(hw_gcode_read(&room.job, (hw_bytes){bytes, count}, &rules, room.into,
                                       &program, &faults),
                         HW_BAD_INPUT);
        assert_true(faults.count >= 1 && faults.count <= HW_GCODE_FAULTS_MAX + 8);
        hw_arena_rewind(room.into, mark);
    }
    hw_test_close(&room);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_read__follows_moves_and_sums_their_time),
        cmocka_unit_test(test_read__says_the_line_and_what_is_wrong_with_it),
        cmocka_unit_test(test_carve__swept_tools_leave_what_geometry_says),
        cmocka_unit_test(test_carve__finds_gouges_deep_cuts_and_fast_ways_into_stock),
        cmocka_unit_test(test_read__random_bytes_are_refused_and_harm_nothing),
    };
    return cmocka_run_group_tests_name("gcode", tests, NULL, NULL);
}
