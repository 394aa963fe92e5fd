// SPDX-License-Identifier: GPL-3.0-or-later
// The commands about scans alone.
#include "cli/cli.h"

#include <stdio.h>

static void number_of(hw_measure_kind kind, double si, char text[static 40])
{
    static const struct {
        const char *unit;
        double factor;
        int decimals;
    } kinds[] = {{"mm", 1e3, 1},
                 {"", 1.0, 3},
                 {"degrees", 180.0 / HW_PI, 1},
                 {"cm2", 1e4, 1},
                 {"cm3", 1e6, 0}};
    snprintf(text, 40, "%7.*f %s", kinds[kind].decimals, kinds[kind].factor * si, kinds[kind].unit);
}

static void print_measures(const hw_scan_result *scan)
{
    const hw_foot_measures *of = &scan->foot.measures;
    for (int i = 0; i < HW_MEASURES; i++) {
        const hw_measure_row *row = &hw_measure_rows()[i];
        hw_maybe value = hw_foot_measure_of(of, (hw_measure)i);
        hw_maybe half = scan->spread.half_width_95[i];
        char number[40], wide[40];
        number_of(row->kind, value.value, number);
        number_of(row->kind, half.value, wide);
        if (!value.known)
            printf("  %-26s unknown%s%s\n", row->name, of->why[i] ? ": " : "",
                   of->why[i] ? of->why[i] : "");
        else if (hw_scan_is_by_hand(scan, (hw_measure)i))
            printf("  %-26s %s  by a landmark placed by hand\n", row->name, number);
        else if (half.known)
            printf("  %-26s %s, within %s (95 %%)\n", row->name, number, wide);
        else
            printf("  %-26s %s\n", row->name, number);
    }
    if (!of->foot_length_m.known) return;
    hw_mondopoint size = hw_foot_mondopoint(of);
    hw_shoe_sizes about = hw_foot_shoe_sizes(of);
    printf("  size %d/%d; about EU %.1f, UK %.1f, US men %.1f, US women %.1f\n", size.length,
           size.breadth, about.eu, about.uk, about.us_men, about.us_women);
}

static void print_foot(const hw_scan_result *scan)
{
    printf("%s foot (%s, confidence %.2f), unit %s (%s)\n", hw_side_word(scan->foot.side),
           scan->side_given ? "as given" : "inferred: confirm it", scan->side_confidence,
           hw_scan_unit_word(scan->unit), scan->unit_given ? "as given" : "inferred from size");
    print_measures(scan);
    for (int i = 0; i < scan->warning_count; i++) printf("  note: %s\n", scan->warnings[i]);
}

static hw_status write_pictures(cli_room *room, const cli_words *words, const hw_scan_pair *pair)
{
    hw_file_set files = {0};
    for (int i = 0; i < pair->count; i++) {
        const hw_scan_result *scan = &pair->feet[i];
        hw_bytes file = {0};
        const char *name = "foot.pdf";
        HW_TRY(hw_report_scan_pdf(&room->job, scan, words->person, room->into, &file));
        if (pair->count == 2)
            HW_TRY(hw_text_format(&room->job, room->into, &name, "foot_%s.pdf",
                                  hw_side_word(scan->foot.side)));
        HW_TRY(hw_file_set_add(&room->job, &files, name, file));
    }
    return hw_file_set_write(&room->job, &files, words->out);
}

hw_status cli_foot(cli_room *room, const cli_words *words)
{
    hw_scan_pair pair = {0};
    HW_TRY(hw_app_feet_at(&room->job, words->subject, &words->ask, room->into, &pair));
    if (words->out) HW_TRY(write_pictures(room, words, &pair));
    if (words->is_json) {
        hw_bytes text = {0};
        HW_TRY(hw_report_feet_json(&room->job, &pair, room->into, &text));
        return cli_print(room, text);
    }
    for (int i = 0; i < pair.count; i++) print_foot(&pair.feet[i]);
    return HW_OK;
}

static void print_comparison(const hw_scan_result *first, const hw_scan_result *second,
                             const hw_scan_comparison *of)
{
    printf("%s foot against %s foot%s\n", hw_side_word(second->foot.side),
           hw_side_word(first->foot.side),
           first->foot.side != second->foot.side ? ", mirrored" : "");
    printf("  surfaces: half of the points within %.2f mm, 95 %% within %.2f mm\n",
           hw_mm_from_m(of->median), hw_mm_from_m(of->p95));
    for (int i = 0; i < HW_MEASURES; i++) {
        const hw_scan_difference *d = &of->differences[i];
        char number[40];
        if (!d->difference.known) continue;
        number_of(hw_measure_rows()[i].kind, d->difference.value, number);
        printf("  %-26s %s%s\n", hw_measure_rows()[i].name, number,
               !d->half_width_95.known ? ""
               : d->is_larger          ? "  more than its uncertainty"
                                       : "  within its uncertainty");
    }
}

hw_status cli_compare(cli_room *room, const cli_words *words)
{
    hw_scan_result scans[2] = {0};
    hw_scan_comparison comparison = {0};
    const char *const paths[2] = {words->subject, words->second};
    HW_TRY(hw_app_compare_at(&room->job, paths, &words->ask, room->into, scans, &comparison));
    if (!words->is_json) {
        print_comparison(&scans[0], &scans[1], &comparison);
        return HW_OK;
    }
    hw_bytes text = {0};
    HW_TRY(
        hw_report_compare_json(&room->job, &scans[0], &scans[1], &comparison, room->into, &text));
    return cli_print(room, text);
}
