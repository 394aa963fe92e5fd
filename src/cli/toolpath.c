// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/cli.h"

#include <stdio.h>

enum { MILL_BYTES_MAX = 1 << 20 };

static void print_program(const hw_milled *of, const char *folder)
{
    printf("%s/%s: %d lines, %.0f to %.0f min\n", folder, of->name, of->program.line_count,
           of->program.time_low_s / 60.0, of->program.time_high_s / 60.0);
    for (int part = 0; part < of->part_count; part++)
        for (int side = 0; side < of->rules.side_count; side++) {
            const hw_gcode_map *map = &of->cut.maps[side][part];
            printf(
                "  %s, side %d: below the design %.3f mm at most, ridges %.3f mm, not reached %.0f "
                "mm2 (%.2f mm)\n",
                hw_side_word(of->sides[part]), side + 1, hw_mm_from_m(map->gouge_m),
                hw_mm_from_m(map->ridge_m), hw_mm2_from_m2(map->unreached_m2),
                hw_mm_from_m(map->unreached_m));
        }
}

hw_status cli_mill_table(cli_room *room, const cli_words *words)
{
    (void)words;
    return cli_print(room, hw_mill_table());
}

hw_status cli_toolpath(cli_room *room, const cli_words *words)
{
    hw_report report = {0};
    hw_mill mill = {0};
    hw_file_set files = {0};
    hw_bytes table = {0};
    if (words->mill)
        HW_TRY(hw_file_read(&room->job, words->mill, MILL_BYTES_MAX, room->into, &table));
    HW_TRY(hw_mill_read(&room->job, table, room->into, &mill, &room->faults));
    HW_TRY(hw_app_visit_at(&room->job, words->subject, HW_APP_ORTHOSIS, room->into, &report,
                           &room->faults));
    HW_TRY(hw_app_mill(&room->job, &mill, room->into, &report));
    HW_TRY(hw_app_mill_files(&room->job, &report, room->into, &files));
    HW_TRY(hw_file_set_write(&room->job, &files, words->out));
    if (words->is_json) return cli_print(room, files.files[files.count - 1].bytes);
    printf("%s\n", report.plan->verdict);
    for (int i = 0; i < report.milling->count; i++)
        print_program(&report.milling->programs[i], words->out);
    return HW_OK;
}
