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
    hw_json_bool(out, "post_idle", one->change.has_idle_post);
    hw_json_bool(out, "combined", one->change.is_combined);
    hw_json_text(out, "numbers_from",
                 one->change.numbers_from ? one->change.numbers_from : "not said");
    texts(out, "cautions", one->cautions, one->caution_count);
    hw_json_int(out, "members_left_out", one->failed_members);
    hw_json_close(out);
}

static void part(hw_json_out *out, const char *key, const hw_mech_part *of)
{
    hw_json_open(out, key, '{');
    hw_json_number(out, "mean_pct", 100.0 * of->mean, 2);
    hw_json_band(out, "band_pct", of->band, 100.0, 1);
    hw_json_close(out);
}

static void parts(hw_json_out *out, const hw_mech_part numbers[HW_MECH_NUMBERS])
{
    part(out, "midstance", &numbers[HW_MECH_MIDSTANCE]);
    part(out, "peak", &numbers[HW_MECH_PEAK]);
    part(out, "impulse", &numbers[HW_MECH_IMPULSE]);
}

// Against a foot of this length with every test at its norm.
static void causes(hw_json_out *out, const hw_report_foot *foot)
{
    const hw_mech_causes *of = foot->causes;
    hw_json_open(out, "causes", '{');
    hw_json_text(
        out, "against",
        "a foot of this length with each test at its norm, a flat shoe, the norm's walk and "
        "the reference mass; shares of that foot's load; means add up (Shapley 1953)");
    hw_json_maybe(out, "reference_mass_kg", foot->reference_mass_kg, 1.0, 1);
    hw_json_open(out, "parts", '[');
    for (int i = 0; i < HW_MECH_CAUSE_COUNT; i++) {
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "cause", hw_mech_cause_word((hw_mech_cause)i));
        hw_json_bool(out, "known", of->is_known[i]);
        if (of->is_known[i]) parts(out, of->part[i]);
        hw_json_close(out);
    }
    hw_json_close(out);
    hw_json_open(out, "total", '{');
    parts(out, of->total);
    hw_json_close(out);
    hw_json_int(out, "tissue_sets", of->member_count);
    hw_json_int(out, "tissue_sets_left_out", of->failed_members);
    hw_json_close(out);
}

// How a lever's setting is said.
typedef struct lever_row {
    const char *name, *unit;
    double factor;
} lever_row;

static const lever_row lever_rows[HW_MECH_LEVER_COUNT] = {
    {"calf range gained", "deg", 180.0 / HW_PI},
    {"body mass lost", "%", 100.0},
    {"shell's arch above the unloaded arch", "mm", 1e3},
};

static void levers(hw_json_out *out, const hw_mech_lever_curve *curves)
{
    hw_json_open(out, "levers", '[');
    for (int i = 0; i < HW_MECH_LEVER_COUNT; i++) {
        const lever_row *row = &lever_rows[i];
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "lever", row->name);
        hw_json_text(out, "unit", row->unit);
        hw_json_open(out, "curve", '[');
        for (int k = 0; k < HW_MECH_LEVER_STEPS; k++) {
            hw_json_open(out, NULL, '{');
            hw_json_number(out, "setting", row->factor * curves[i].setting[k], 2);
            hw_json_band(out, "midstance_over_reference", curves[i].midstance[k], 1.0, 3);
            hw_json_close(out);
        }
        hw_json_close(out);
        hw_json_maybe(out, "reaches_reference_at", curves[i].reaches_reference, row->factor, 1);
        hw_json_maybe(out, "flattens_at", curves[i].flattens_at, row->factor, 1);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void day(hw_json_out *out, const hw_mech_day *of)
{
    if (!of) {
        hw_json_null(out, "day");
        return;
    }
    hw_json_open(out, "day", '{');
    hw_json_text(out, "unit", "body weights of tension times hours, this foot");
    hw_json_band(out, "walking", of->walking, 1.0, 2);
    hw_json_band(out, "standing", of->standing, 1.0, 2);
    hw_json_number(out, "share_of_walking", of->share_of_walking, 2);
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
    if (foot->causes) {
        causes(out, foot);
        levers(out, foot->levers);
    } else {
        hw_json_null(out, "causes");
        hw_json_text(out, "causes_why", foot->causes_why);
    }
    day(out, foot->day);
    texts(out, "assumptions", load->assumptions, load->assumption_count);
    hw_json_int(out, "members", load->member_count);
    hw_json_int(out, "members_failed", load->failed_members);
    hw_json_int(out, "iterations_worst", load->iterations_worst);
    hw_json_number(out, "residual_worst", load->residual_worst, 12);
}
