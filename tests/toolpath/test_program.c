// SPDX-License-Identifier: GPL-3.0-or-later
// Whole programs, read again and cut in memory by the module that knows nothing of this one.
#include "bench_of_tests.h"
#include "near.h"
#include "solids.h"
#include "suites.h"

static const double gouge_max = 20e-6; // m

static double dome(double x, double y)
{
    return 0.012 - 12.0 * (x * x + 1.5 * y * y);
}

static double bowl(double x, double y)
{
    return 0.004 + 14.0 * (x * x + y * y);
}

// A gutter 2 mm wide: no ball of 6 mm reaches its ground.
static double gutter(double x, double y)
{
    (void)x;
    return 0.01 - 0.002 * exp(-y * y / (2.0 * 0.5e-3 * 0.5e-3));
}

// Lower at +y than at -y: turned or mirrored it is another shape.
static double lean(double x, double y)
{
    return 0.008 - 0.15 * y + 0.05 * x;
}

// A program made, read and carved.
static hw_toolpath make(hw_test_room *room, test_bench *bench, const hw_toolpath_part *parts,
                        int part_count, hw_gcode_cut *cut)
{
    hw_toolpath made = {0};
    hw_gcode_program program = {0};
    hw_faults faults = {.into = room->into};
    CHECK_OK(&room->job,
             hw_toolpath_make(&room->job, parts, part_count, &bench->ask, room->into, &made));
    hw_gcode_rules rules = bench_rules(bench, &made);
    hw_gcode_ask ask = bench_ask(room->into, bench, parts, part_count, &made);
    hw_status status =
        hw_gcode_read(&room->job, made.program, &rules, room->into, &program, &faults);
    if (status == HW_OK)
        status = hw_gcode_carve(&room->job, &program, &rules, &ask, room->into, cut, &faults);
    for (int i = 0; i < faults.count; i++)
        print_error("%s: %s\n", faults.rows[i].key, faults.rows[i].sentence);
    CHECK_OK(&room->job, status);
    assert_true(program.time_low_s > 0.0 && program.time_low_s < program.time_high_s);
    return made;
}

static void check_map(const hw_gcode_map *map, double scallop, double area)
{
    assert_true(map->gouge_m <= gouge_max);
    assert_true(map->ridge_m <= scallop);
    assert_true(map->ridge_m > 0.2 * scallop); // the map is one of a cut, not of nothing
    CHECK_NEAR(map->seen_m2, area, 0.03 * area, "m2");
    size_t count = (size_t)map->columns * (size_t)map->rows;
    for (size_t k = 0; k < count; k++)
        assert_true(map->state[k] != HW_GCODE_LEFT && map->state[k] != HW_GCODE_GOUGED);
}

static void test_program__shells_come_out_of_the_block_as_they_were_designed(void **state)
{
    (void)state;
    static double (*const shapes[])(double, double) = {dome, bowl};
    hw_test_room room = hw_test_open();
    test_bench bench;
    for (int i = 0; i < 2; i++) {
        bench_fill(&bench, 0.12, 0.08, 0.034);
        bench.ask.scallop_m = i ? 40e-6 : 60e-6;
        hw_mesh shell =
            solid_sheet(room.into, (const double[2]){0.02, 0.012}, 0.003, 32, shapes[i]);
        const hw_toolpath_part part = {&shell, "LEFT FOOT"};
        hw_gcode_cut cut = {0};
        make(&room, &bench, &part, 1, &cut);
        for (int side = 0; side < 2; side++)
            check_map(&cut.maps[side][0], bench.ask.scallop_m, 0.043 * 0.027);
    }
    hw_test_close(&room);
}

static void test_program__a_pair_names_each_foot_and_mirrors_it(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    test_bench bench;
    bench_fill(&bench, 0.1, 0.12, 0.03);
    hw_mesh left = solid_sheet(room.into, (const double[2]){0.012, 0.008}, 0.003, 16, lean);
    hw_mesh right = left;
    hw_pose mirror = hw_pose_identity();
    mirror.rotation[4] = -1.0;
    CHECK_OK(&room.job, hw_mesh_place(&room.job, &left, &mirror, room.into, &right));
    const hw_toolpath_part parts[2] = {{&left, "LEFT FOOT"}, {&right, "RIGHT FOOT"}};
    hw_gcode_cut cut = {0};
    hw_toolpath made = make(&room, &bench, parts, 2, &cut);
    const char *text = (const char *)made.program.at;
    assert_non_null(strstr(text, "(PART 1: LEFT FOOT)"));
    assert_non_null(strstr(text, "(PART 2: RIGHT FOOT)"));
    assert_non_null(strstr(text, "(FINISHING RIGHT FOOT)"));
    assert_non_null(strstr(text, "(NOT RELEASED: DO NOT MILL)"));
    assert_non_null(strstr(text, "(CODE HB-0042"));
    // The left part lies towards +Y as the left foot does when X points to the toes.
    assert_true(made.places[0].shift.y > 0.0 && made.places[1].shift.y < 0.0);
    for (int side = 0; side < 2; side++)
        for (int part = 0; part < 2; part++)
            check_map(&cut.maps[side][part], bench.ask.scallop_m, 0.027 * 0.019);
    hw_test_close(&room);
}

// What says that a pair has room in the block says what laying it out says, to a hundredth of a millimetre.
static void test_program__a_pair_fits_where_it_can_be_laid_out(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    test_bench bench;
    bench_fill(&bench, 0.1, 0.12, 0.03);
    hw_mesh shell = solid_sheet(room.into, (const double[2]){0.012, 0.008}, 0.003, 8, lean);
    const hw_toolpath_part parts[2] = {{&shell, "LEFT FOOT"}, {&shell, "RIGHT FOOT"}};
    double narrow = 0.03, wide = 0.12;
    while (wide - narrow > 1e-5) {
        bench.block.width_m = 0.5 * (narrow + wide);
        *(hw_toolpath_pair_fits(parts, &bench.ask) ? &wide : &narrow) = bench.block.width_m;
    }
    hw_toolpath made = {0};
    bench.block.width_m = narrow;
    CHECK_FAILS(&room.job, hw_toolpath_make(&room.job, parts, 2, &bench.ask, room.into, &made),
                HW_BAD_INPUT, "mm of width");
    bench.block.width_m = wide;
    CHECK_OK(&room.job, hw_toolpath_make(&room.job, parts, 2, &bench.ask, room.into, &made));
    hw_test_close(&room);
}

static void test_program__the_same_ask_gives_the_same_bytes(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    test_bench bench;
    bench_fill(&bench, 0.09, 0.06, 0.026);
    hw_mesh shell = solid_sheet(room.into, (const double[2]){0.012, 0.008}, 0.003, 16, dome);
    const hw_toolpath_part part = {&shell, "RIGHT FOOT"};
    hw_toolpath one = {0}, two = {0};
    CHECK_OK(&room.job, hw_toolpath_make(&room.job, &part, 1, &bench.ask, room.into, &one));
    CHECK_OK(&room.job, hw_toolpath_make(&room.job, &part, 1, &bench.ask, room.into, &two));
    assert_int_equal(one.program.count, two.program.count);
    assert_memory_equal(one.program.at, two.program.at, one.program.count);
    bench.ask.is_released = true;
    CHECK_OK(&room.job, hw_toolpath_make(&room.job, &part, 1, &bench.ask, room.into, &two));
    assert_null(strstr((const char *)two.program.at, "NOT RELEASED"));
    hw_test_close(&room);
}

static void test_program__what_the_ball_cannot_reach_is_reported_not_cut(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    test_bench bench;
    bench_fill(&bench, 0.1, 0.07, 0.03);
    hw_mesh shell = solid_sheet(room.into, (const double[2]){0.012, 0.010}, 0.004, 72, gutter);
    const hw_toolpath_part part = {&shell, "LEFT FOOT"};
    hw_gcode_cut cut = {0};
    make(&room, &bench, &part, 1, &cut);
    const hw_gcode_map *map = &cut.maps[0][0];
    assert_true(map->gouge_m <= gouge_max && map->ridge_m <= bench.ask.scallop_m);
    // 2 mm deep and 1 mm wide at half depth: a ball of 6 mm bridges nearly all of it, over 24 mm of length.
    assert_true(map->unreached_m > 0.3e-3 && map->unreached_m < 2e-3);
    assert_true(map->unreached_m2 > 15e-6 && map->unreached_m2 < 120e-6);
    hw_test_close(&room);
}

static void test_program__a_cast_stands_on_its_base_and_is_cut_from_one_side(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    test_bench bench;
    bench_fill(&bench, 0.12, 0.05, 0.03);
    bench.ask.side_count = 1;
    hw_mesh shell = solid_sheet(room.into, (const double[2]){0.018, 0.010}, 0.003, 24, dome);
    hw_mesh surface = shell, cast = {0};
    surface.triangle_count = 0; // its top alone: what faces up over the sheet's own grid
    surface.triangles = hw_arena_take(room.into, (size_t)shell.triangle_count, sizeof(int[3]));
    for (int t = 0; t < shell.triangle_count; t++) {
        const int *c = shell.triangles[t];
        const hw_vec3 *p = shell.points;
        bool is_top = true;
        for (int k = 0; k < 3; k++) is_top &= fabs(p[c[k]].z - dome(p[c[k]].x, p[c[k]].y)) < 1e-12;
        if (is_top) memcpy(surface.triangles[surface.triangle_count++], c, sizeof(int[3]));
    }
    CHECK_OK(&room.job, hw_toolpath_stand(&room.job, &surface, 5e-3, room.into, &cast));
    hw_mesh_faults faults;
    CHECK_OK(&room.job, hw_mesh_check(&room.job, &cast, &faults));
    assert_int_equal(faults.open_edges + faults.clashing_edges + faults.crowded_edges, 0);
    const hw_toolpath_part part = {&cast, "LEFT FOOT"};
    hw_gcode_cut cut = {0};
    hw_toolpath made = make(&room, &bench, &part, 1, &cut);
    assert_int_equal(made.places[0].tab_count, 0);
    assert_true(made.base_m >= 5e-3);
    check_map(&cut.maps[0][0], bench.ask.scallop_m, 0.036 * 0.020);
    assert_null(strstr((const char *)made.program.at, "TURN THE BLOCK"));
    hw_test_close(&room);
}

static void test_program__what_cannot_be_is_refused_with_its_measures(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    test_bench bench;
    hw_mesh shell = solid_sheet(room.into, (const double[2]){0.012, 0.008}, 0.003, 16, dome);
    const hw_toolpath_part part = {&shell, "LEFT FOOT"};
    hw_toolpath made = {0};
    const struct {
        double length, width, height;
        const char *word;
    } small[] = {{0.06, 0.06, 0.026, "of length"},
                 {0.09, 0.03, 0.026, "of width"},
                 {0.09, 0.06, 0.006, "of height"}};
    for (int i = 0; i < 3; i++) {
        bench_fill(&bench, small[i].length, small[i].width, small[i].height);
        CHECK_FAILS(&room.job, hw_toolpath_make(&room.job, &part, 1, &bench.ask, room.into, &made),
                    HW_BAD_INPUT, small[i].word);
        assert_non_null(strstr(room.job.why, "LEFT FOOT"));
    }
    bench_fill(&bench, 0.09, 0.06, 0.026);
    bench.ball.reach_m = 0.01;
    CHECK_FAILS(&room.job, hw_toolpath_make(&room.job, &part, 1, &bench.ask, room.into, &made),
                HW_BAD_INPUT, "reaches 10.0 mm");
    bench_fill(&bench, 0.09, 0.06, 0.026);
    bench.machine.travel.high.x = 0.05;
    CHECK_FAILS(&room.job, hw_toolpath_make(&room.job, &part, 1, &bench.ask, room.into, &made),
                HW_BAD_INPUT, "needs X");
    bench_fill(&bench, 0.09, 0.06, 0.026);
    bench.ask.finish = &bench.flat;
    CHECK_FAILS(&room.job, hw_toolpath_make(&room.job, &part, 1, &bench.ask, room.into, &made),
                HW_BAD_INPUT, "ball end mill");
    bench_fill(&bench, 0.09, 0.06, 0.026);
    bench.ask.scallop_m = 2e-3;
    CHECK_FAILS(&room.job, hw_toolpath_make(&room.job, &part, 1, &bench.ask, room.into, &made),
                HW_BAD_INPUT, "scallop");
    bench_fill(&bench, 0.09, 0.06, 0.026);
    bench.flat.feed_m_per_s = 1.0;
    CHECK_FAILS(&room.job, hw_toolpath_make(&room.job, &part, 1, &bench.ask, room.into, &made),
                HW_BAD_INPUT, "feed");
    hw_test_close(&room);
}

int run_program_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_program__shells_come_out_of_the_block_as_they_were_designed),
        cmocka_unit_test(test_program__a_pair_names_each_foot_and_mirrors_it),
        cmocka_unit_test(test_program__a_pair_fits_where_it_can_be_laid_out),
        cmocka_unit_test(test_program__the_same_ask_gives_the_same_bytes),
        cmocka_unit_test(test_program__what_the_ball_cannot_reach_is_reported_not_cut),
        cmocka_unit_test(test_program__a_cast_stands_on_its_base_and_is_cut_from_one_side),
        cmocka_unit_test(test_program__what_cannot_be_is_refused_with_its_measures),
    };
    return cmocka_run_group_tests_name("program", tests, NULL, NULL);
}
