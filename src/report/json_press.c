// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

static void limit(hw_json_out *out, hw_press_region region)
{
    hw_press_limit of = hw_press_limit_of(region);
    hw_json_open(out, "limit", '{');
    if (of.mean_low > 0.0) hw_json_number(out, "mean_low_kPa", hw_kPa_from_Pa(of.mean_low), 0);
    if (of.mean_high > 0.0) hw_json_number(out, "mean_high_kPa", hw_kPa_from_Pa(of.mean_high), 0);
    if (of.peak_low > 0.0) hw_json_number(out, "peak_low_kPa", hw_kPa_from_Pa(of.peak_low), 0);
    if (of.peak_high > 0.0) hw_json_number(out, "peak_high_kPa", hw_kPa_from_Pa(of.peak_high), 0);
    hw_json_text(out, "source", of.source);
    hw_json_close(out);
}

static void part(hw_json_out *out, hw_press_region region, const hw_press_part *of)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "region", hw_press_region_word(region));
    hw_json_number(out, "load_N", of->load_N, 0);
    hw_json_number(out, "contact_cm2", 0.01 * hw_mm2_from_m2(of->contact_m2), 1);
    hw_json_number(out, "mean_kPa", hw_kPa_from_Pa(of->mean_Pa), 0);
    hw_json_number(out, "peak_kPa", hw_kPa_from_Pa(of->peak_Pa), 0);
    hw_json_bool(out, "over_mean_limit", of->over_mean);
    hw_json_bool(out, "over_peak_limit", of->over_peak);
    limit(out, region);
    hw_json_close(out);
}

static void moment(hw_json_out *out, hw_press_moment which, const hw_press_answer *of)
{
    if (!of->is_solved) return;
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "moment", hw_press_moment_word(which));
    hw_json_number(out, "arch_sink_mm", hw_mm_from_m(of->arch_sink_m), 2);
    hw_json_number(out, "arch_stiffness_N_per_mm", 1e-3 * of->arch_N_per_m, 1);
    hw_json_number(out, "tissue_squeeze_percent", 100.0 * of->tissue_squeeze, 0);
    hw_json_number(out, "stress_max_MPa", 1e-3 * hw_kPa_from_Pa(of->von_mises_Pa), 1);
    hw_json_open(out, "parts", '[');
    for (int i = 0; i < HW_PRESS_REGIONS; i++) part(out, (hw_press_region)i, &of->part[i]);
    hw_json_close(out);
    hw_json_int(out, "iterations", of->iterations);
    hw_json_number(out, "out_of_balance", of->residual, 9);
    hw_json_close(out);
}

void json_press(hw_json_out *out, const hw_report_foot *foot)
{
    const hw_press *press = foot->press;
    if (!press) {
        hw_json_null(out, "press");
        hw_json_text(out, "press_why", foot->press_why);
        return;
    }
    hw_json_open(out, "press", '{');
    hw_json_text(out, "effort", foot->is_in_full ? "final" : "preview");
    hw_json_number(out, "young_MPa", 1e-3 * hw_kPa_from_Pa(press->young), 0);
    hw_json_number(out, "poisson", press->poisson, 2);
    hw_json_number(out, "shell_stiffness_N_per_mm", 1e-3 * press->shell_N_per_m, 2);
    hw_json_band(out, "stress_over_fatigue_limit", press->fatigue, 1.0, 2);
    hw_json_open(out, "moments", '[');
    for (int i = 0; i < HW_PRESS_MOMENTS; i++) moment(out, (hw_press_moment)i, &press->at[i]);
    hw_json_close(out);
    hw_json_open(out, "cautions", '[');
    for (int i = 0; i < press->caution_count; i++) hw_json_text(out, NULL, press->cautions[i]);
    hw_json_close(out);
    hw_json_close(out);
}

static void field(hw_json_out *out, const char *key, const double *values, int count, double factor,
                  int decimals)
{
    hw_json_open(out, key, '[');
    for (int i = 0; i < count; i++) hw_json_number(out, NULL, factor * values[i], decimals);
    hw_json_close(out);
}

// The top grid in the side's own shape with what is drawn on it in mid-stance.
void json_press_map(hw_json_out *out, const hw_report_foot *foot)
{
    const hw_orthosis *made = foot->orthosis;
    const hw_press *press = foot->press;
    if (!made || !press) {
        hw_json_text(out, "why", foot->press_why);
        return;
    }
    int count = made->nu * made->nv;
    double mirror = made->side == HW_SIDE_RIGHT ? -1.0 : 1.0;
    const hw_press_answer *of = &press->at[HW_PRESS_MIDSTANCE];
    hw_json_text(out, "moment", hw_press_moment_word(HW_PRESS_MIDSTANCE));
    hw_json_int(out, "rows", made->nu);
    hw_json_int(out, "columns", made->nv);
    hw_json_open(out, "top_mm", '[');
    for (int i = 0; i < count; i++) {
        hw_json_number(out, NULL, hw_mm_from_m(made->top[i].x), 2);
        hw_json_number(out, NULL, hw_mm_from_m(mirror * made->top[i].y), 2);
        hw_json_number(out, NULL, hw_mm_from_m(made->top[i].z), 2);
    }
    hw_json_close(out);
    field(out, "pressure_kPa", of->pressure_Pa, count, hw_kPa_from_Pa(1.0), 1);
    field(out, "sink_mm", of->sink_m, count, hw_mm_from_m(1.0), 3);
    field(out, "stress_MPa", of->stress_Pa, count, 1e-3 * hw_kPa_from_Pa(1.0), 2);
}
