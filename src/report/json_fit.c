// SPDX-License-Identifier: GPL-3.0-or-later
// How a device lies against its foot, unloaded: in figures, and place by place for the page.
#include "json_parts.h"

static void part(hw_json_out *out, const char *region, const hw_fit_part *of)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "region", region);
    hw_json_number(out, "gap_mean_mm", hw_mm_from_m(of->mean), 2);
    hw_json_number(out, "air_max_mm", hw_mm_from_m(of->most_air), 2);
    hw_json_number(out, "overlap_max_mm", hw_mm_from_m(of->most_overlap), 2);
    hw_json_close(out);
}

void json_fit(hw_json_out *out, const hw_report_foot *foot)
{
    const hw_scan_fit *fit = foot->fit;
    if (!fit) return;
    hw_json_open(out, "fit", '{');
    hw_json_text(out, "of",
                 "the device's top against the skin as scanned, both unloaded: + air, "
                 "- the top stands inside the skin");
    hw_json_int(out, "places", fit->count);
    hw_json_number(out, "gap_median_mm", hw_mm_from_m(fit->median), 2);
    hw_json_number(out, "air_max_mm", hw_mm_from_m(fit->all.most_air), 2);
    hw_json_number(out, "overlap_max_mm", hw_mm_from_m(fit->all.most_overlap), 2);
    hw_json_number(out, "share_within_1_mm", fit->within_1, 3);
    hw_json_open(out, "parts", '[');
    for (int i = 0; i < HW_FIT_REGIONS; i++)
        if (fit->parts[i].count > 0)
            part(out, hw_fit_region_word((hw_fit_region)i), &fit->parts[i]);
    hw_json_close(out);
    hw_json_close(out);
}

void json_fit_map(hw_json_out *out, const hw_report_foot *foot)
{
    const hw_orthosis *made = foot->orthosis;
    if (!foot->fit) return;
    double mirror = made->side == HW_SIDE_RIGHT ? -1.0 : 1.0;
    hw_json_int(out, "rows", made->nu);
    hw_json_int(out, "columns", made->nv);
    hw_json_open(out, "top_mm", '[');
    for (int i = 0; i < foot->fit->count; i++) {
        hw_json_number(out, NULL, hw_mm_from_m(made->top[i].x), 2);
        hw_json_number(out, NULL, hw_mm_from_m(mirror * made->top[i].y), 2);
        hw_json_number(out, NULL, hw_mm_from_m(made->top[i].z), 2);
    }
    hw_json_close(out);
    hw_json_open(out, "gap_mm", '[');
    for (int i = 0; i < foot->fit->count; i++)
        hw_json_number(out, NULL, hw_mm_from_m((double)foot->fit->gaps[i]), 2);
    hw_json_close(out);
}
