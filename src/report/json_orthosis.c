// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

#include <string.h>

static void order_as_made(hw_json_out *out, const hw_orthosis_order *of)
{
    hw_json_open(out, "order", '{');
    hw_json_text(out, "length", hw_orthosis_length_word(of->length));
    hw_json_text(out, "shell", hw_shell_material_word(of->material));
    hw_json_text(out, "loading", hw_loading_word(of->loading));
    hw_json_number(out, "thickness_mm", hw_mm_from_m(of->shell_thickness_m), 2);
    hw_json_number(out, "heel_cup_mm", hw_mm_from_m(of->heel_cup_depth_m), 2);
    hw_json_number(out, "arch_fill_mm", hw_mm_from_m(of->arch_fill_m), 2);
    hw_json_number(out, "heel_expansion_mm", hw_mm_from_m(of->heel_expansion_m), 2);
    hw_json_number(out, "border_expansion_mm", hw_mm_from_m(of->border_expansion_m), 2);
    hw_json_number(out, "rearfoot_post_deg", hw_deg_from_rad(of->rearfoot_post_rad), 2);
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
    hw_json_number(out, "volume_cm3", hw_cm3_from_m3(made->volume_m3), 2);
    hw_json_number(out, "mass_g", hw_g_from_kg(made->mass_kg), 1);
    hw_json_int(out, "triangles", made->solid.triangle_count);
    hw_json_number(out, "thickness_min_mm", hw_mm_from_m(made->thickness_min_m), 2);
    hw_json_number(out, "rim_radius_mm", hw_mm_from_m(made->rounding_radius_m), 2);
    hw_json_number(out, "deviation_from_scan_max_mm", hw_mm_from_m(made->deviation_max_m), 2);
    hw_json_number(out, "deviation_from_scan_mean_mm", hw_mm_from_m(made->deviation_mean_m), 2);
    hw_json_number(out, "distal_edge_behind_heads_min_mm", hw_mm_from_m(made->distal_gap_min_m), 1);
    hw_json_number(out, "distal_edge_behind_heads_max_mm", hw_mm_from_m(made->distal_gap_max_m), 1);
    hw_json_number(out, "sole_filled_mm2", hw_mm2_from_m2(made->filled_area_m2), 0);
    hw_json_number(out, "lift_mm", hw_mm_from_m(made->lift_m), 2);
    hw_json_open(out, "steps", '[');
    for (int i = 0; i < made->step_count; i++) step(out, &made->steps[i]);
    hw_json_close(out);
    json_press(out, foot);
    hw_json_close(out);
}
