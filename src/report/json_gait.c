// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

static void write_table(hw_json_out *out, const char *key, const double *values, double factor,
                        int decimals)
{
    hw_json_open(out, key, '[');
    for (int i = 0; i < HW_GAIT_INSTANTS; i++)
        hw_json_number(out, NULL, factor * values[i], decimals);
    hw_json_close(out);
}

static void write_stance(hw_json_out *out, const hw_gait_stance *stance)
{
    hw_json_open(out, "stance", '{');
    hw_json_number(out, "begin_s", stance->begin_s, 4);
    hw_json_number(out, "end_s", stance->end_s, 4);
    hw_json_number(out, "impulse_bw_s", stance->impulse_bw_s, 4);
    hw_json_int(out, "instants", HW_GAIT_INSTANTS);
    if (stance->has_force) write_table(out, "vertical_force_bw", stance->force_z, 1.0, 4);
    if (stance->has_fore_aft) write_table(out, "fore_aft_force_bw", stance->force_x, 1.0, 4);
    if (stance->has_pressure)
        write_table(out, "centre_of_pressure_foot_lengths", stance->pressure_x, 1.0, 4);
    hw_json_close(out);
}

static void write_arch(hw_json_out *out, const hw_gait_arch_course *arch)
{
    hw_json_open(out, "arch", '{');
    write_table(out, "height_mm", arch->height_m, HW_MM_PER_M, 2);
    hw_json_number(out, "highest_mm", hw_mm_from_m(arch->highest_m), 2);
    hw_json_number(out, "lowest_mm", hw_mm_from_m(arch->lowest_m), 2);
    hw_json_number(out, "lowest_at_percent", arch->lowest_percent, 1);
    hw_json_number(out, "drop_mm", hw_mm_from_m(arch->drop_m), 2);
    hw_json_number(out, "lowering_speed_mm_per_s", hw_mm_from_m(arch->lowering_speed_m_s), 1);
    hw_json_close(out);
}

hw_status hw_report_gait_json(hw_job *job, const hw_walk_result *result, hw_arena *into,
                              hw_bytes *out)
{
    const hw_gait_record *record = &result->record;
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "kind", record->kind);
    hw_json_int(&json, "frames", record->frame_count);
    hw_json_number(&json, "frames_per_s", record->rate_Hz, 5);
    hw_json_open(&json, "markers", '[');
    for (int i = 0; i < record->marker_count; i++) hw_json_text(&json, NULL, record->names[i]);
    hw_json_close(&json);
    hw_json_int(&json, "plates", record->plate_count);
    hw_json_int(&json, "force_samples", record->sample_count);
    hw_json_text(&json, "note", record->note);
    if (result->has_stance) write_stance(&json, &result->stance);
    if (result->has_arch) write_arch(&json, &result->arch);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}

static void write_part(hw_json_out *out, const char *key, const hw_pressure_part *part)
{
    hw_json_open(out, key, '{');
    hw_json_number(out, "contact_area_cm2", 1e4 * part->area_m2, 2);
    hw_json_number(out, "peak_kPa", hw_kPa_from_Pa(part->peak_Pa), 1);
    hw_json_number(out, "mean_kPa", hw_kPa_from_Pa(part->mean_Pa), 1);
    hw_json_number(out, "force_N", part->force_N, 1);
    hw_json_close(out);
}

hw_status hw_report_pressure_json(hw_job *job, const hw_pressure_result *result, hw_arena *into,
                                  hw_bytes *out)
{
    const hw_pressure_map *map = &result->map;
    const hw_pressure_measures *of = &result->measures;
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_int(&json, "rows", map->rows);
    hw_json_int(&json, "columns", map->columns);
    hw_json_int(&json, "frames", map->frames);
    hw_json_number(&json, "cell_length_mm", hw_mm_from_m(map->cell_m[0]), 5);
    hw_json_number(&json, "cell_breadth_mm", hw_mm_from_m(map->cell_m[1]), 5);
    hw_json_number(&json, "length_mm", hw_mm_from_m(of->length_m), 1);
    hw_json_number(&json, "breadth_mm", hw_mm_from_m(of->breadth_m), 1);
    hw_json_number(&json, "arch_index", of->arch_index, 4);
    hw_json_int(&json, "toes_from_row", of->toe_row + 1);
    hw_json_number(&json, "centre_row", of->pressure_row + 1.0, 2);
    hw_json_number(&json, "centre_column", of->pressure_column + 1.0, 2);
    write_part(&json, "whole", &of->whole);
    for (int i = 0; i < HW_PRESSURE_REGIONS; i++)
        write_part(&json, hw_pressure_region_word((hw_pressure_region)i), &of->part[i]);
    if (result->has_stance) write_stance(&json, &result->stance);
    hw_json_text(
        &json, "note",
        "Peaks depend on the size of the cells and on the maker: never compare across systems.");
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
