// SPDX-License-Identifier: GPL-3.0-or-later
// The trade-off of a search: every design with its numbers, its state and why.
#include "json_parts.h"

const char *hw_search_limit_word(hw_search_limit limit)
{
    static const char *const words[HW_SEARCH_LIMITS] = {"mean pressure under the arch",
                                                        "pressure under the heel",
                                                        "pressure under the lateral border",
                                                        "pressure at the forefoot edge",
                                                        "stress of the shell",
                                                        "room in the shoe under the heel"};
    return words[limit];
}

static const char *state_word(hw_search_state state)
{
    static const char *const words[] = {"not made", "over a limit", "possible", "confirmed",
                                        "dropped"};
    return words[state];
}

static double limit_in_unit(hw_search_limit limit, double value)
{
    if (limit == HW_SEARCH_STACK) return hw_mm_from_m(value);
    return limit == HW_SEARCH_STRESS ? 1e-3 * hw_kPa_from_Pa(value) : hw_kPa_from_Pa(value);
}

static const char *const limit_keys[HW_SEARCH_LIMITS] = {"arch_mean_kPa",    "heel_peak_kPa",
                                                         "lateral_peak_kPa", "edge_peak_kPa",
                                                         "stress_MPa",       "stack_mm"};

static void numbers(hw_json_out *out, const char *key, const hw_search_numbers *of)
{
    hw_json_open(out, key, '{');
    hw_json_band(out, "relief_pct", of->relief, 100.0, 2);
    hw_json_number(out, "arch_peak_kPa", hw_kPa_from_Pa(of->arch_peak_Pa), 1);
    for (int i = 0; i < HW_SEARCH_LIMITS; i++)
        hw_json_number(out, limit_keys[i], limit_in_unit((hw_search_limit)i, of->held[i]), 2);
    hw_json_number(out, "shell_stiffness_N_per_mm", 1e-3 * of->shell_N_per_m, 2);
    hw_json_close(out);
}

static void design(hw_json_out *out, const char *key, const hw_search *of,
                   const hw_search_design *one)
{
    char term[HW_ORDER_KEY];
    hw_json_open(out, key, '{');
    hw_json_open(out, "order", '{');
    for (int k = 0; k < of->term_count; k++) {
        hw_order_key(of->terms[k], term);
        hw_json_number(out, term, hw_order_in_unit(&hw_order_rows()[of->terms[k]], one->value[k]),
                       2);
    }
    hw_json_close(out);
    hw_json_text(out, "state", state_word(one->state));
    hw_json_text(out, "why", one->why);
    hw_json_text(out, "binds", one->binds);
    hw_json_text(out, "solved",
                 one->is_final                      ? "finally"
                 : one->state != HW_SEARCH_NOT_MADE ? "as a preview"
                                                    : "not");
    if (one->state != HW_SEARCH_NOT_MADE) numbers(out, "preview", &one->preview);
    if (one->is_final) numbers(out, "final", &one->final);
    hw_json_close(out);
}

void json_search(hw_json_out *out, const hw_report_foot *foot)
{
    const hw_search *of = foot->search;
    if (!of) {
        if (foot->search_why) hw_json_text(out, "search_why", foot->search_why);
        return;
    }
    hw_json_open(out, "search", '{');
    hw_json_open(out, "ranges", '[');
    for (int k = 0; k < of->term_count; k++) {
        const hw_order_row *row = &hw_order_rows()[of->terms[k]];
        char key[HW_ORDER_KEY];
        hw_order_key(of->terms[k], key);
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "key", key);
        hw_json_text(out, "name", row->name);
        hw_json_number(out, "low", hw_order_in_unit(row, of->low[k]), 2);
        hw_json_number(out, "high", hw_order_in_unit(row, of->high[k]), 2);
        hw_json_close(out);
    }
    hw_json_close(out);
    hw_json_open(out, "limits", '{');
    for (int i = 0; i < HW_SEARCH_LIMITS; i++)
        if (isfinite(of->limits[i]))
            hw_json_number(out, limit_keys[i], limit_in_unit((hw_search_limit)i, of->limits[i]), 2);
    hw_json_number(out, "arch_peak_kPa", hw_kPa_from_Pa(hw_press_limit_of(HW_PRESS_ARCH).peak_low),
                   1);
    hw_json_close(out);
    design(out, "now", of, &of->now);
    hw_json_open(out, "front", '[');
    for (int i = 0; i < of->front_count; i++) design(out, NULL, of, &of->front[i]);
    hw_json_close(out);
    hw_json_int(out, "looked_at", of->looked_at);
    hw_json_int(out, "possible", of->possible);
    hw_json_int(out, "confirmed", of->confirmed_count);
    hw_json_number(out, "final_over_preview_pressure_pct", 100.0 * of->final_bias, 1);
    hw_json_close(out);
}
