// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

static void point(hw_json_out *out, const char *key, hw_vec3 at)
{
    hw_json_open(out, key, '[');
    hw_json_number(out, NULL, hw_mm_from_m(at.x), 2);
    hw_json_number(out, NULL, hw_mm_from_m(at.y), 2);
    hw_json_number(out, NULL, hw_mm_from_m(at.z), 2);
    hw_json_close(out);
}

static void skeleton(hw_json_out *out, const hw_mech_skeleton *of)
{
    hw_json_text(out, "frame",
                 "foot frame of a left foot, mm, scan pose: x to the toes, y lateral");
    hw_json_number(out, "foot_length_mm", hw_mm_from_m(of->foot_length), 2);
    point(out, "arch_mm", of->arch);
    hw_json_number(out, "heel_x_mm", hw_mm_from_m(of->heel_x), 2);
    point(out, "origin_mm", of->origin);
    hw_json_open(out, "rays", '[');
    for (int i = 0; i < HW_MECH_RAYS; i++) {
        hw_json_open(out, NULL, '{');
        point(out, "hinge_mm", of->hinge[i]);
        point(out, "head_mm", of->head[i]);
        hw_json_number(out, "windlass_radius_mm", hw_mm_from_m(of->windlass_radius_m[i]), 2);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void pose(hw_json_out *out, double percent, const hw_mech_pose *of)
{
    hw_json_open(out, NULL, '{');
    hw_json_number(out, "percent", percent, 1);
    hw_json_bool(out, "solved", of->is_settled);
    if (of->is_settled) {
        hw_json_number(out, "heel_height_mm", hw_mm_from_m(of->heel_height_m), 3);
        hw_json_number(out, "hindfoot_deg", hw_deg_from_rad(of->pitch_rad), 3);
        hw_json_number(out, "roll_deg", hw_deg_from_rad(of->roll_rad), 3);
        hw_json_number(out, "toes_deg", hw_deg_from_rad(of->toes_rad), 3);
        hw_json_open(out, "hinges_down_mm", '[');
        for (int i = 0; i < HW_MECH_RAYS; i++)
            hw_json_number(out, NULL, hw_mm_from_m(of->hinge_drop_m[i]), 3);
        hw_json_close(out);
        hw_json_open(out, "rays_deg", '[');
        for (int i = 0; i < HW_MECH_RAYS; i++)
            hw_json_number(out, NULL, hw_deg_from_rad(of->flattening_rad[i]), 3);
        hw_json_close(out);
        hw_json_open(out, "slips_bw", '[');
        for (int i = 0; i < HW_MECH_RAYS; i++) hw_json_number(out, NULL, of->slip_bw[i], 4);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void poses(hw_json_out *out, const hw_mech_result *load, const hw_mech_walk *walk)
{
    hw_json_open(out, "poses", '[');
    for (int i = 0; i < HW_MECH_SOLVED; i++)
        pose(out, load->percent[HW_MECH_FIRST + i], &walk->pose[i]);
    hw_json_close(out);
}

static void curve(hw_json_out *out, const hw_band *points)
{
    hw_json_open(out, "tension_bw", '[');
    for (int i = 0; i < HW_MECH_POINTS; i++) {
        hw_json_open(out, NULL, '[');
        if (points[i].known) {
            hw_json_number(out, NULL, points[i].p05, 3);
            hw_json_number(out, NULL, points[i].median, 3);
            hw_json_number(out, NULL, points[i].p95, 3);
        }
        hw_json_close(out);
    }
    hw_json_close(out);
}

// What a picture can show of a change.
static void drawn(hw_json_out *out, const hw_mech_change *change)
{
    hw_json_open(out, "drawn", '{');
    hw_json_bool(out, "shell", change->has_orthosis);
    hw_json_number(out, "arch_fill_mm", hw_mm_from_m(change->arch_fill_m), 1);
    hw_json_number(out, "heel_raise_mm", hw_mm_from_m(change->heel_raise_m), 1);
    hw_json_bool(out, "tape", change->is_taped && change->tape_hold >= 0.5);
    hw_json_close(out);
}

void json_walk(hw_json_out *out, const hw_report_foot *foot)
{
    const hw_mech_result *load = foot->load;
    if (!load) {
        hw_json_text(out, "why", foot->load_why);
        return;
    }
    hw_json_int(out, "member", load->walk.member);
    skeleton(out, &load->skeleton);
    hw_json_open(out, "today", '{');
    poses(out, load, &load->walk);
    curve(out, load->tension_bw);
    hw_json_close(out);
    hw_json_open(out, "changes", '[');
    for (int i = 0; i < load->effect_count; i++) {
        const hw_mech_effect *effect = &load->effects[i];
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "name", effect->name);
        drawn(out, &effect->change);
        poses(out, load, &effect->walk);
        curve(out, effect->tension_bw);
        hw_json_close(out);
    }
    hw_json_close(out);
}
