// SPDX-License-Identifier: GPL-3.0-or-later
// Recorded walks and plantar pressure.
#include "cli/cli.h"

#include <stdio.h>
#include <string.h>

static bool read_size(const char *text, double low, double high, double *out)
{
    return hw_text_number(text, strlen(text), out) && *out >= low && *out <= high;
}

static bool read_count(const char *text, int most, int *out)
{
    double number = 0.0;
    bool is_read = read_size(text, 1.0, most, &number) && number == (int)number;
    *out = (int)number - 1;
    return is_read;
}

bool cli_walk_option(const char *option, const char *value, cli_words *words, bool *is_one)
{
    hw_gait_names *names = &words->walk.walker.names;
    const struct {
        const char *option;
        const char **place;
    } texts[] = {{"--forces", &words->second},
                 {"--heel", &names->heel},
                 {"--arch", &names->arch},
                 {"--head-1", &names->head_1},
                 {"--head-5", &names->head_5}};
    double number = 0.0;
    *is_one = true;
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        if (strcmp(option, texts[i].option) == 0) {
            *texts[i].place = value;
            return value[0] != 0;
        }
    if (strcmp(option, "--plate") == 0)
        return read_count(value, HW_GAIT_PLATES, &words->walk.walker.plate);
    if (strcmp(option, "--step") == 0) return read_count(value, 1000, &words->walk.walker.step);
    if (strcmp(option, "--length") == 0) {
        bool is_read = read_size(value, 100.0, 400.0, &number);
        words->walk.walker.foot_length_m = hw_m_from_mm(number);
        return is_read;
    }
    if (strcmp(option, "--cell") == 0) {
        bool is_read = read_size(value, 1.0, 30.0, &number);
        words->pressure.cell_m[0] = words->pressure.cell_m[1] = hw_m_from_mm(number);
        return is_read;
    }
    if (strcmp(option, "--frame-ms") == 0) {
        bool is_read = read_size(value, 1.0, 100.0, &number);
        words->pressure.frame_s = 1e-3 * number;
        return is_read;
    }
    if (strcmp(option, "--pressure-unit") == 0) {
        words->pressure.Pa_per_unit = hw_pressure_unit(value);
        return words->pressure.Pa_per_unit > 0.0;
    }
    *is_one = false;
    return false;
}

static double mass_of(const cli_words *words)
{
    return words->ask.mass_kg.known ? words->ask.mass_kg.value : 0.0;
}

static void print_stance(const hw_gait_stance *stance)
{
    printf(
        "stance from %.3f to %.3f s\n  percent  vertical BW  fore-aft BW  pressure, foot lengths\n",
        stance->begin_s, stance->end_s);
    for (int i = 0; i < HW_GAIT_INSTANTS; i += 4) {
        printf("  %5.1f    %8.2f", 100.0 * i / (HW_GAIT_INSTANTS - 1), stance->force_z[i]);
        printf(stance->has_fore_aft ? "     %8.2f" : "            -", stance->force_x[i]);
        printf(stance->has_pressure ? "     %8.2f\n" : "            -\n", stance->pressure_x[i]);
    }
}

hw_status cli_gait(cli_room *room, const cli_words *words)
{
    hw_walk_result result = {0};
    hw_walk_ask ask = words->walk;
    hw_bytes text = {0};
    ask.walker.mass_kg = mass_of(words);
    ask.read.m_per_unit = hw_scan_unit_m(words->ask.unit);
    HW_TRY(hw_app_walk_at(&room->job, words->subject, words->second, &ask, room->into, &result));
    if (words->is_json) {
        HW_TRY(hw_report_gait_json(&room->job, &result, room->into, &text));
        return cli_print(room, text);
    }
    printf("%s: %d markers in %d frames, %d plates with %d samples\n", result.record.kind,
           result.record.marker_count, result.record.frame_count, result.record.plate_count,
           result.record.sample_count);
    if (result.has_stance) print_stance(&result.stance);
    if (result.has_arch)
        printf("arch %.1f mm at contact, lowest %.1f mm at %.0f %%, lowering at most %.0f mm/s\n",
               hw_mm_from_m(result.arch.height_m[0]), hw_mm_from_m(result.arch.lowest_m),
               result.arch.lowest_percent, hw_mm_from_m(result.arch.lowering_speed_m_s));
    return HW_OK;
}

hw_status cli_pressure(cli_room *room, const cli_words *words)
{
    hw_pressure_result result = {0};
    hw_bytes text = {0};
    HW_TRY(hw_app_pressure_at(&room->job, words->subject, &words->pressure, mass_of(words),
                              room->into, &result));
    if (words->is_json) {
        HW_TRY(hw_report_pressure_json(&room->job, &result, room->into, &text));
        return cli_print(room, text);
    }
    printf("print of %.0f x %.0f mm, arch index %.3f\n", hw_mm_from_m(result.measures.length_m),
           hw_mm_from_m(result.measures.breadth_m), result.measures.arch_index);
    for (int i = 0; i < HW_PRESSURE_REGIONS; i++) {
        const hw_pressure_part *part = &result.measures.part[i];
        printf("  %-10s %6.1f cm2, peak %6.1f kPa, mean %6.1f kPa\n",
               hw_pressure_region_word((hw_pressure_region)i), 1e4 * part->area_m2,
               hw_kPa_from_Pa(part->peak_Pa), hw_kPa_from_Pa(part->mean_Pa));
    }
    if (result.has_stance) print_stance(&result.stance);
    return HW_OK;
}
