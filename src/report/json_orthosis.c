// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

#include <string.h>

// Every term: what was not asked for is 0. Keys are those of the case file.
static void order_as_made(hw_json_out *out, const hw_orthosis_order *of)
{
    char key[HW_ORDER_KEY];
    hw_json_open(out, "order", '{');
    hw_json_text(out, "length", hw_orthosis_length_word(of->length));
    hw_json_text(out, "shell", hw_shell_material_word(of->material));
    hw_json_text(out, "loading", hw_loading_word(of->loading));
    hw_json_text(out, "metatarsal_pad", hw_met_pad_word(of->met_pad));
    hw_json_text(out, "top_cover", hw_top_cover_word(of->cover));
    hw_json_text(out, "rearfoot_post_kind", of->rearfoot_intrinsic ? "intrinsic" : "extrinsic");
    hw_json_text(out, "forefoot_post_kind", of->forefoot_intrinsic ? "intrinsic" : "extrinsic");
    hw_json_bool(out, "heel_balanced", of->balances_heel);
    hw_json_bool(out, "recess_plugged", of->recess_is_plugged);
    hw_json_bool(out, "embossed", of->is_embossed);
    for (int i = 0; i < HW_TERMS; i++) {
        hw_order_key((hw_order_term)i, key);
        hw_json_number(out, key, hw_order_typed(of, (hw_order_term)i), 2);
    }
    hw_json_close(out);
}

// Where each number of the order comes from.
static void order_whys(hw_json_out *out, const hw_report_foot *foot)
{
    char key[HW_ORDER_KEY];
    hw_json_open(out, "order_why", '{');
    for (int i = 0; i < HW_TERMS; i++) {
        hw_order_key((hw_order_term)i, key);
        if (foot->order_whys[i]) hw_json_text(out, key, foot->order_whys[i]);
    }
    hw_json_close(out);
}

// The device against the shoe; a limit that the case does not say is null.
static void fit(hw_json_out *out, const hw_report_foot *foot)
{
    hw_json_open(out, "shoe_fit", '[');
    for (int i = 0; i < HW_SHOE_FITS; i++) {
        const hw_shoe_fit_row *row = &foot->shoe_fit[i];
        if (!row->name) continue;
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "name", row->name);
        hw_json_number(out, "value_mm", hw_mm_from_m(row->value), 1);
        if (row->is_known)
            hw_json_number(out, "limit_mm", hw_mm_from_m(row->limit), 1);
        else
            hw_json_null(out, "limit_mm");
        hw_json_bool(out, "over", row->is_over);
        hw_json_text(out, "source", row->source);
        hw_json_close(out);
    }
    hw_json_close(out);
}

// The earlier device, where one was given. Its place as the page has it: the side's own shape.
static void against(hw_json_out *out, const hw_report_foot *foot)
{
    const hw_orthosis_against *of = foot->against;
    double mirror = foot->orthosis->side == HW_SIDE_RIGHT ? -1.0 : 1.0;
    if (!of) return;
    hw_json_open(out, "against_previous", '{');
    hw_json_text(out, "of", "the top against the earlier device's top: + stands higher");
    hw_json_number(out, "compared_share", (double)of->compared / of->count, 3);
    hw_json_number(out, "mean_mm", hw_mm_from_m(of->mean), 2);
    hw_json_number(out, "mean_size_mm", hw_mm_from_m(of->mean_size), 2);
    hw_json_number(out, "most_higher_mm", hw_mm_from_m(of->most_higher), 2);
    hw_json_number(out, "most_lower_mm", hw_mm_from_m(of->most_lower), 2);
    hw_json_open(out, "where_mm", '[');
    hw_json_number(out, NULL, hw_mm_from_m(of->where.x), 1);
    hw_json_number(out, NULL, hw_mm_from_m(mirror * of->where.y), 1);
    hw_json_number(out, NULL, hw_mm_from_m(of->where.z), 1);
    hw_json_close(out);
    hw_json_number(out, "share_within_1_mm", of->within_1, 3);
    hw_json_open(out, "thirds", '[');
    for (int p = 0; p < HW_AGAINST_PARTS; p++) {
        if (of->part[p].compared == 0) continue;
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "third", hw_against_part_word(p));
        hw_json_number(out, "mean_mm", hw_mm_from_m(of->part[p].mean), 2);
        hw_json_number(out, "most_mm", hw_mm_from_m(of->part[p].most), 2);
        hw_json_close(out);
    }
    hw_json_close(out);
    hw_json_close(out);
}

// A step's value in the unit a clinician reads.
static void step(hw_json_out *out, const hw_orthosis_step *of)
{
    bool is_length = strcmp(of->unit, "m") == 0, is_angle = strcmp(of->unit, "rad") == 0;
    bool is_area = strcmp(of->unit, "m2") == 0;
    double value = is_length  ? hw_mm_from_m(of->value)
                   : is_angle ? hw_deg_from_rad(of->value)
                   : is_area  ? hw_mm2_from_m2(of->value)
                              : of->value;
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "name", of->name);
    hw_json_number(out, "value", value, 3);
    hw_json_text(out, "unit", is_length ? "mm" : is_angle ? "deg" : is_area ? "mm2" : of->unit);
    hw_json_close(out);
}

void json_orthosis(hw_json_out *out, const hw_report_foot *foot)
{
    const hw_orthosis *made = foot->orthosis;
    if (!made) {
        hw_json_null(out, "orthosis");
        hw_json_text(out, "orthosis_why", foot->orthosis_why);
        return;
    }
    hw_json_open(out, "orthosis", '{');
    hw_json_text(out, "side", hw_side_word(made->side));
    order_as_made(out, foot->order);
    order_whys(out, foot);
    if (foot->order->arch_height_m > 0.0) {
        hw_json_open(out, "by_hand", '[');
        hw_json_text(out, NULL, "arch height");
        hw_json_text(out, NULL, "heel cup depth");
        hw_json_close(out);
    }
    fit(out, foot);
    against(out, foot);
    hw_json_number(out, "volume_cm3", hw_cm3_from_m3(made->volume_m3), 2);
    hw_json_number(out, "mass_g", hw_g_from_kg(made->mass_kg), 1);
    hw_json_int(out, "triangles", (made->mark ? &made->marked : &made->solid)->triangle_count);
    if (made->mark) {
        hw_json_text(out, "embossed", made->mark);
        hw_json_number(out, "letters_mm", hw_mm_from_m(made->mark_height_m), 1);
        hw_json_number(out, "raised_mm", hw_mm_from_m(made->mark_raised_m), 1);
    }
    hw_json_number(out, "thickness_min_mm", hw_mm_from_m(made->thickness_min_m), 2);
    hw_json_number(out, "heel_cup_measured_mm", hw_mm_from_m(made->cup_depth_m), 2);
    hw_json_number(out, "heel_stack_mm", hw_mm_from_m(made->heel_stack_m), 2);
    if (made->post_rad.known)
        hw_json_number(out, "rearfoot_post_measured_deg", hw_deg_from_rad(made->post_rad.value), 2);
    hw_json_number(out, "rim_radius_mm", hw_mm_from_m(made->rounding_radius_m), 2);
    hw_json_number(out, "deviation_from_scan_max_mm", hw_mm_from_m(made->deviation_max_m), 2);
    hw_json_number(out, "deviation_from_scan_mean_mm", hw_mm_from_m(made->deviation_mean_m), 2);
    if (!made->is_long && !made->is_cup) {
        hw_json_number(out, "distal_edge_behind_heads_min_mm", hw_mm_from_m(made->distal_gap_min_m),
                       1);
        hw_json_number(out, "distal_edge_behind_heads_max_mm", hw_mm_from_m(made->distal_gap_max_m),
                       1);
    }
    hw_json_number(out, "sole_filled_mm2", hw_mm2_from_m2(made->filled_area_m2), 0);
    hw_json_number(out, "lift_mm", hw_mm_from_m(made->lift_m), 2);
    hw_json_open(out, "steps", '[');
    for (int i = 0; i < made->step_count; i++) step(out, &made->steps[i]);
    hw_json_close(out);
    json_press(out, foot);
    json_search(out, foot);
    hw_json_close(out);
}
