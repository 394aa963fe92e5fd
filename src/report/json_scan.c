// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

static void point(hw_json_out *out, const char *key, hw_vec3 at)
{
    hw_json_open(out, key, '[');
    hw_json_number(out, NULL, hw_mm_from_m(at.x), 1);
    hw_json_number(out, NULL, hw_mm_from_m(at.y), 1);
    hw_json_number(out, NULL, hw_mm_from_m(at.z), 1);
    hw_json_close(out);
}

static void points_of(hw_json_out *out, const char *key, const hw_landmarks *at)
{
    hw_json_open(out, key, '{');
    for (int i = 0; i < HW_LANDMARKS; i++) {
        hw_landmark which = (hw_landmark)i;
        if (hw_landmark_known(at, which))
            point(out, hw_landmark_key(which), hw_landmark_of(at, which));
        else
            hw_json_null(out, hw_landmark_key(which));
    }
    hw_json_close(out);
}

// Which landmarks a person has placed, and what stood there before.
static void by_hand(hw_json_out *out, const hw_scan_result *scan)
{
    char key[64];
    hw_json_open(out, "by_hand", '{');
    hw_json_open(out, "landmarks", '[');
    for (int i = 0; i < HW_LANDMARKS; i++)
        if (scan->foot.landmarks.is_by_hand[i])
            hw_json_text(out, NULL, hw_landmark_key((hw_landmark)i));
    hw_json_close(out);
    points_of(out, "landmarks_found", &scan->by_hand.landmarks);
    hw_json_open(out, "measures_found", '{'); // only those that are others now
    for (int i = 0; i < HW_MEASURES; i++)
        if (hw_scan_is_by_hand(scan, (hw_measure)i))
            json_measure(out, json_measure_key((hw_measure)i, "", key), (hw_measure)i,
                         hw_foot_measure_of(&scan->by_hand.measures, (hw_measure)i));
    hw_json_close(out);
    hw_json_close(out);
}

static void removed(hw_json_out *out, const hw_scan_removed *of)
{
    hw_json_open(out, "removed", '{');
    hw_json_int(out, "stray_pieces", of->stray_pieces);
    hw_json_int(out, "stray_triangles", of->stray_triangles);
    hw_json_int(out, "floor_triangles", of->floor_triangles);
    hw_json_int(out, "flat_triangles", of->flat_triangles);
    hw_json_int(out, "double_points", of->double_points);
    hw_json_int(out, "turned_triangles", of->turned_triangles);
    hw_json_number(out, "area_mm2", hw_mm2_from_m2(of->area_m2), 0);
    hw_json_close(out);
}

// Scan file -> device file: what puts the made part back onto the scan. Millimetres of the device.
static void scan_to_file(hw_json_out *out, const hw_foot *foot)
{
    hw_pose exit_pose = hw_foot_exit(foot->side);
    hw_pose pose = hw_pose_chain(&foot->from_scan, &exit_pose);
    hw_json_open(out, "scan_to_device_mm", '[');
    for (int i = 0; i < 3; i++) {
        const double shift[3] = {pose.shift.x, pose.shift.y, pose.shift.z};
        hw_json_open(out, NULL, '[');
        for (int j = 0; j < 3; j++)
            hw_json_number(out, NULL, hw_mm_from_m(pose.scale * pose.rotation[3 * i + j]), 9);
        hw_json_number(out, NULL, hw_mm_from_m(shift[i]), 6);
        hw_json_close(out);
    }
    hw_json_close(out);
}

// Half-widths of 95 % intervals, each in its measure's unit.
static void spread(hw_json_out *out, const hw_scan_spread *of)
{
    char key[64];
    hw_json_open(out, "spread", '{');
    hw_json_int(out, "repetitions", of->runs);
    hw_json_int(out, "repetitions_lost", of->lost);
    hw_json_number(out, "noise_mm", hw_mm_from_m(of->noise_m), 2);
    for (int i = 0; i < HW_MEASURES; i++)
        json_measure_half_width(out, json_measure_key((hw_measure)i, "_half_width_95", key),
                                (hw_measure)i, of->half_width_95[i]);
    hw_json_close(out);
}

// One thing that was inferred: what it is, how sure, and whether it was stated instead.
static void inferred(hw_json_out *out, const char *key, const char *word, double confidence,
                     bool is_given)
{
    hw_json_open(out, key, '{');
    hw_json_text(out, "is", word);
    hw_json_number(out, "confidence", confidence, 2);
    hw_json_bool(out, "given", is_given);
    hw_json_close(out);
}

static void position(hw_json_out *out, const hw_scan_result *scan)
{
    hw_json_open(out, "inferred", '{');
    inferred(out, "side", hw_side_word(scan->inferred_side), scan->side_confidence,
             scan->side_given);
    inferred(out, "unit", hw_scan_unit_word(scan->inferred_unit), scan->unit_confidence,
             scan->unit_given);
    inferred(out, "up", hw_scan_axis_word(scan->up), scan->up_confidence, scan->up_given);
    inferred(out, "toes", hw_scan_axis_word(scan->toes), scan->toes_confidence, scan->toes_given);
    inferred(out, "extent",
             hw_scan_extent_word(scan->is_sole_only ? HW_SCAN_EXTENT_SOLE : HW_SCAN_EXTENT_FULL),
             scan->extent_confidence, scan->extent_given);
    inferred(out, "cast", hw_scan_cast_word(scan->inferred_cast), scan->cast_confidence,
             scan->cast_given);
    // A flat sole was loaded, or closed by the scanner; an arched one may have hung or not.
    inferred(out, "loading",
             hw_loading_word(scan->looks_loaded ? HW_LOADING_STANDING : HW_LOADING_UNKNOWN),
             scan->looks_loaded ? 0.5 : 0.0, scan->foot.loading != HW_LOADING_UNKNOWN);
    hw_json_close(out);
}

void json_scan(hw_json_out *out, const hw_scan_result *scan)
{
    const hw_foot *foot = &scan->foot;
    hw_json_text(out, "side", hw_side_word(foot->side));
    hw_json_number(out, "side_confidence", scan->side_confidence, 2);
    hw_json_text(out, "side_inferred", hw_side_word(scan->inferred_side));
    hw_json_bool(out, "side_given", scan->side_given);
    hw_json_text(out, "unit", hw_scan_unit_word(scan->unit));
    hw_json_number(out, "unit_confidence", scan->unit_confidence, 2);
    hw_json_text(out, "unit_inferred", hw_scan_unit_word(scan->inferred_unit));
    hw_json_bool(out, "unit_given", scan->unit_given);
    hw_json_text(out, "loading", hw_loading_word(foot->loading));
    hw_json_bool(out, "sole_only", scan->is_sole_only);
    hw_json_int(out, "triangles", scan->triangle_count);
    hw_json_int(out, "triangles_kept", foot->surface.triangle_count);
    hw_json_int(out, "open_edges", scan->open_edges);
    hw_json_int(out, "holes_filled", scan->holes_filled);
    hw_json_int(out, "holes_left_open", scan->holes_left);
    hw_json_number(out, "filled_mm2", hw_mm2_from_m2(scan->filled_m2), 0);
    position(out, scan);
    json_measures(out, &foot->measures);
    if (scan->spread.is_known) spread(out, &scan->spread);
    hw_box box = hw_mesh_box(&foot->surface);
    point(out, "extent_mm", hw_vec3_sub(box.high, box.low)); // of all that was kept, ankle included
    hw_json_text(out, "landmarks_frame", "foot frame, mm: x to the toes, y lateral, z up");
    points_of(out, "landmarks", &foot->landmarks);
    if (scan->by_hand.count > 0) by_hand(out, scan);
    scan_to_file(out, foot);
    removed(out, &scan->removed);
    hw_json_open(out, "warnings", '[');
    for (int i = 0; i < scan->warning_count; i++) hw_json_text(out, NULL, scan->warnings[i]);
    hw_json_close(out);
}
