// SPDX-License-Identifier: GPL-3.0-or-later
// Two scans beside each other, and two feet of one file.
#include "json_parts.h"

static void differences(hw_json_out *out, const hw_scan_comparison *of)
{
    char key[64];
    hw_json_open(out, "differences", '{');
    for (int i = 0; i < HW_MEASURES; i++) {
        const hw_scan_difference *d = &of->differences[i];
        hw_measure which = (hw_measure)i;
        hw_json_open(out, hw_measure_rows()[i].key, '{');
        json_measure(out, json_measure_key(which, "_first", key), which, d->first);
        json_measure(out, json_measure_key(which, "_second", key), which, d->second);
        json_measure_half_width(out, json_measure_key(which, "_difference", key), which,
                                d->difference);
        json_measure_half_width(out, json_measure_key(which, "_half_width_95", key), which,
                                d->half_width_95);
        if (d->half_width_95.known) hw_json_bool(out, "is_larger_than_uncertainty", d->is_larger);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void side_of(hw_json_out *out, const char *key, const hw_scan_result *scan)
{
    hw_json_open(out, key, '{');
    hw_json_text(out, "side", hw_side_word(scan->foot.side));
    hw_json_bool(out, "side_given", scan->side_given);
    hw_json_text(out, "loading", hw_loading_word(scan->foot.loading));
    hw_json_close(out);
}

hw_status hw_report_compare_json(hw_job *job, const hw_scan_result *first,
                                 const hw_scan_result *second, const hw_scan_comparison *of,
                                 hw_arena *into, hw_bytes *out)
{
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "program", "heelwright " HW_VERSION);
    side_of(&json, "first", first);
    side_of(&json, "second", second);
    bool mirrored = first->foot.side != second->foot.side;
    hw_json_bool(&json, "second_mirrored", mirrored);
    if (first->foot.loading != second->foot.loading)
        hw_json_text(&json, "caution",
                     "The feet were held differently while scanned: their measures "
                     "are not of one kind.");
    hw_json_int(&json, "registration_rounds", of->rounds);
    hw_json_bool(&json, "registration_settled", of->is_settled);
    hw_json_number(&json, "registration_residual_mm", hw_mm_from_m(of->residual), 3);
    hw_json_int(&json, "points_compared", of->compared_count);
    hw_json_number(&json, "deviation_median_mm", hw_mm_from_m(of->median), 2);
    hw_json_number(&json, "deviation_p95_mm", hw_mm_from_m(of->p95), 2);
    hw_json_number(&json, "share_within_1_mm", of->within_1, 3);
    differences(&json, of);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}

hw_status hw_report_feet_json(hw_job *job, const hw_scan_pair *pair, hw_arena *into, hw_bytes *out)
{
    if (pair->count == 1) return hw_report_foot_json(job, &pair->feet[0], into, out);
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "program", "heelwright " HW_VERSION);
    hw_json_open(&json, "feet", '{');
    for (int i = 0; i < 2; i++) {
        hw_json_open(&json, hw_side_word(pair->feet[i].foot.side), '{');
        json_scan(&json, &pair->feet[i]);
        hw_json_close(&json);
    }
    hw_json_close(&json);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
