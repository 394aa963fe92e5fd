// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

static void stance(hw_json_out *out, const hw_mech_result *load)
{
    hw_json_open(out, "stance", '[');
    for (int i = 0; i < HW_MECH_POINTS; i++) {
        hw_json_open(out, NULL, '{');
        hw_json_number(out, "percent", load->percent[i], 1);
        hw_json_band(out, "tension_bw", load->tension_bw[i], 1.0, 3);
        hw_json_bool(out, "computed", load->is_solved[i]);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void texts(hw_json_out *out, const char *key, const char *const *rows, int count)
{
    hw_json_open(out, key, '[');
    for (int i = 0; i < count; i++) hw_json_text(out, NULL, rows[i]);
    hw_json_close(out);
}

static void effect(hw_json_out *out, const hw_mech_effect *one)
{
    char grade[2] = {(char)one->grade, 0};
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "name", one->name);
    hw_json_band(out, "peak_pct", one->peak.change, 100.0, 1);
    hw_json_band(out, "midstance_pct", one->midstance.change, 100.0, 1);
    hw_json_band(out, "impulse_pct", one->impulse.change, 100.0, 1);
    hw_json_number(out, "chance_midstance_falls_a_tenth", one->midstance.chance_of_tenth_less, 2);
    hw_json_text(out, "grade", grade);
    texts(out, "cautions", one->cautions, one->caution_count);
    hw_json_int(out, "members_left_out", one->failed_members);
    hw_json_close(out);
}

void json_load(hw_json_out *out, const hw_report_foot *foot)
{
    const hw_mech_result *load = foot->load;
    if (!load) {
        hw_json_null(out, "load");
        hw_json_text(out, "load_why", foot->load_why);
        return;
    }
    stance(out, load);
    hw_json_band(out, "peak_bw", load->peak_bw, 1.0, 3);
    hw_json_band(out, "peak_percent", load->peak_percent, 1.0, 1);
    hw_json_band(out, "midstance_bw", load->midstance_bw, 1.0, 3);
    hw_json_band(out, "impulse", load->impulse, 1.0, 3);
    hw_json_open(out, "changes", '[');
    for (int i = 0; i < load->effect_count; i++) effect(out, &load->effects[i]);
    hw_json_close(out);
    texts(out, "assumptions", load->assumptions, load->assumption_count);
    hw_json_int(out, "members", load->member_count);
    hw_json_int(out, "members_failed", load->failed_members);
    hw_json_int(out, "iterations_worst", load->iterations_worst);
    hw_json_number(out, "residual_worst", load->residual_worst, 12);
}
