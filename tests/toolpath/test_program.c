// SPDX-License-Identifier: GPL-3.0-or-later
// Whole programs, read again and cut in memory by the module that knows nothing of this one.
#include "bench_of_tests.h"
#include "near.h"
#include "solids.h"
#include "suites.h"

static double dome(double x, double y)
{
    return 0.012 - 12.0 * (x * x + 1.5 * y * y);
}

// A program made, read and carved; `cut` may be NULL.
static hw_toolpath make(hw_test_room *room, test_bench *bench, const hw_toolpath_part *parts,
                        int part_count, hw_gcode_cut *cut)
{
    hw_toolpath made = {0};
    hw_gcode_program program = {0};
    hw_faults faults = {.into = room->into};
    CHECK_OK(&room->job,
             hw_toolpath_make(&room->job, parts, part_count, &bench->ask, room->into, &made));
    if (!cut) return made;
    hw_gcode_rules rules = bench_rules(bench, &made);
    hw_gcode_ask ask = bench_ask(room->into, bench, parts, part_count, &made);
    hw_status status =
        hw_gcode_read(&room->job, made.program, &rules, room->into, &program, &faults);
    if (status == HW_OK)
        status = hw_gcode_carve(&room->job, &program, &rules, &ask, room->into, cut, &faults);
    for (int sd = 0; sd < 2; sd++) {
        const hw_gcode_map *m = &cut->maps[sd][0];
        for (int j = 0; j < m->rows; j++)
            for (int i = 0; i < m->columns; i++)
                if (m->state[j * m->columns + i] == HW_GCODE_LEFT)
                    printf("DBG side %d x %.2f y %.2f off %.1f um\n", sd, 1e3 * (m->low_x + i * m->step),
                           1e3 * (m->low_y + j * m->step), 1e6 * m->off_m[j * m->columns + i]);
        if (m->rows) printf("places %.2f %.2f\n", 1e3*made.places[0].shift.x,1e3*made.places[0].shift.y);
        for (int k = 0; k < 4; k++) printf("tab %.1f..%.1f %.1f..%.1f z %.1f\n",1e3*made.places[0].tabs[k].low.x,1e3*made.places[0].tabs[k].high.x,1e3*made.places[0].tabs[k].low.y,1e3*made.places[0].tabs[k].high.y,1e3*made.places[0].tabs[k].low.z);
    }
    for (int i = 0; i < faults.count; i++)
        print_error("%s: %s\n", faults.rows[i].key, faults.rows[i].sentence);
    CHECK_OK(&room->job, status);
    return made;
}

static void test_program__a_shell_comes_out_of_the_block_as_it_was_designed(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    test_bench bench;
    bench_fill(&bench, 0.13, 0.08, 0.03);
    hw_mesh shell = solid_sheet(room.into, (const double[2]){0.025, 0.014}, 0.003, 40, dome);
    const hw_toolpath_part part = {&shell, "LEFT FOOT"};
    hw_gcode_cut cut = {0};
    hw_toolpath made = make(&room, &bench, &part, 1, &cut);
    for (int side = 0; side < 2; side++) {
        const hw_gcode_map *map = &cut.maps[side][0];
        printf("side %d: gouge %.1f um, ridge %.1f um, unreached %.1f um over %.1f mm2, held %.1f, "
               "seen %.1f\n",
               side, 1e6 * map->gouge_m, 1e6 * map->ridge_m, 1e6 * map->unreached_m,
               1e6 * map->unreached_m2, 1e6 * map->held_m2, 1e6 * map->seen_m2);
    }
    printf("%d lines, %zu bytes, %d runs\n", made.line_count, made.program.count, made.run_count);
    hw_test_close(&room);
}

int run_program_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_program__a_shell_comes_out_of_the_block_as_it_was_designed),
    };
    return cmocka_run_group_tests_name("program", tests, NULL, NULL);
}
