// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

static const double s_per_min = 60.0;

const char *const *hw_report_milling_cautions(int *count)
{
    static const char *const cautions[] = {
        "The program computes and warns; whoever stands at the machine decides. The machine's own "
        "instructions and the local rules for machines go first.",
        "Dry run first: set Z0 so that the tool runs above the block, watch the whole way, then "
        "set "
        "Z0 on the bed.",
        "Measure the block's height; it must be the one told here. A higher block is hit, a lower "
        "one "
        "gives a thin part.",
        "The block sits on both pins, clamped at its ends and nowhere else.",
        "After each change of tool its length is set again. Tool number, shape and diameter "
        "are those told here.",
        "Turn the block over about X: left stays left, front becomes back. Two pins of different "
        "thickness let it lie no other way.",
        "Guard closed, eyes and ears protected, dust drawn off (foam and resin dust harms lungs), "
        "no gloves near the spindle.",
        "Cut the tabs by hand, smooth every edge, and measure thickness before it is worn.",
    };
    *count = (int)(sizeof cautions / sizeof *cautions);
    return cautions;
}

static void tool(hw_json_out *out, const char *key, const hw_mill_tool *of)
{
    hw_json_open(out, key, '{');
    hw_json_int(out, "number", of->number);
    hw_json_text(out, "cutter", of->cutter == HW_CUTTER_BALL ? "ball" : "flat");
    hw_json_number(out, "diameter_mm", hw_mm_from_m(2.0 * of->radius_m), 3);
    hw_json_number(out, "reach_mm", hw_mm_from_m(of->reach_m), 1);
    hw_json_number(out, "depth_mm", hw_mm_from_m(of->depth_m), 2);
    hw_json_number(out, "feed_mm_per_min", hw_mm_from_m(of->feed_m_per_s) * s_per_min, 0);
    hw_json_number(out, "plunge_mm_per_min", hw_mm_from_m(of->plunge_m_per_s) * s_per_min, 0);
    hw_json_number(out, "spindle_per_min", of->spindle_per_min, 0);
    hw_json_close(out);
}

static void block(hw_json_out *out, const hw_mill_block *of)
{
    hw_json_open(out, "block", '{');
    hw_json_text(out, "name", of->name);
    hw_json_text(out, "material", of->material);
    hw_json_number(out, "length_mm", hw_mm_from_m(of->length_m), 1);
    hw_json_number(out, "width_mm", hw_mm_from_m(of->width_m), 1);
    hw_json_number(out, "height_mm", hw_mm_from_m(of->height_m), 1);
    hw_json_close(out);
}

static void view(hw_json_out *out, const hw_gcode_map *map, int side_of_block)
{
    hw_json_open(out, NULL, '{');
    hw_json_int(out, "side_of_block", side_of_block + 1);
    hw_json_number(out, "cut_below_design_max_mm", hw_mm_from_m(map->gouge_m), 4);
    hw_json_number(out, "ridge_max_mm", hw_mm_from_m(map->ridge_m), 4);
    hw_json_number(out, "unreached_max_mm", hw_mm_from_m(map->unreached_m), 3);
    hw_json_number(out, "unreached_mm2", hw_mm2_from_m2(map->unreached_m2), 1);
    hw_json_number(out, "tabs_cut_max_mm", hw_mm_from_m(map->tab_cut_m), 4);
    hw_json_number(out, "at_tabs_mm2", hw_mm2_from_m2(map->held_m2), 1);
    hw_json_number(out, "seen_mm2", hw_mm2_from_m2(map->seen_m2), 0);
    hw_json_close(out);
}

static void program(hw_json_out *out, const hw_milled *of)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "file", of->name);
    hw_json_bool(out, "checked", true); // others are not handed out
    hw_json_int(out, "lines", of->program.line_count);
    hw_json_int(out, "bytes", (long)of->made.program.count);
    hw_json_number(out, "minutes_low", of->program.time_low_s / s_per_min, 1);
    hw_json_number(out, "minutes_high", of->program.time_high_s / s_per_min, 1);
    hw_json_int(out, "stops", of->program.stop_count);
    hw_json_number(out, "cut_m", of->program.cut_m, 1);
    hw_json_number(out, "travel_m", of->program.travel_m, 1);
    hw_json_number(out, "safe_z_mm", hw_mm_from_m(of->made.safe_z_m), 1);
    hw_json_open(out, "parts", '[');
    for (int part = 0; part < of->part_count; part++) {
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "side", hw_side_word(of->sides[part]));
        hw_json_int(out, "tabs", of->made.places[part].tab_count);
        hw_json_open(out, "views", '[');
        for (int side = 0; side < of->rules.side_count; side++)
            view(out, &of->cut.maps[side][part], side);
        hw_json_close(out);
        hw_json_close(out);
    }
    hw_json_close(out);
    hw_json_close(out);
}

static void choice(hw_json_out *out, const hw_mill *mill)
{
    hw_json_text(out, "make", hw_mill_kind_word(mill->kind));
    hw_json_number(out, "scallop_mm", hw_mm_from_m(mill->scallop_m), 3);
    hw_json_number(out, "allowance_mm", hw_mm_from_m(mill->allowance_m), 2);
    hw_json_text(out, "machine", mill->machine.name);
    block(out, &mill->blocks[mill->block]);
    tool(out, "rough_tool", &mill->tools[mill->rough]);
    tool(out, "finish_tool", &mill->tools[mill->finish]);
}

hw_status hw_report_milling_json(hw_job *job, const hw_report *report, hw_arena *into,
                                 hw_bytes *out)
{
    const hw_milling *milling = report->milling;
    int count = 0;
    if (!milling) return hw_fail(job, HW_BAD_INPUT, "no milling program was made");
    const char *const *cautions = hw_report_milling_cautions(&count);
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    json_head(&json, report);
    choice(&json, milling->mill);
    hw_json_open(&json, "programs", '[');
    for (int i = 0; i < milling->count; i++) program(&json, &milling->programs[i]);
    hw_json_close(&json);
    hw_json_open(&json, "cautions", '[');
    for (int i = 0; i < count; i++) hw_json_text(&json, NULL, cautions[i]);
    hw_json_close(&json);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}

// -- the maps, coarser: the worst of each square

typedef struct square {
    double off; // m
    unsigned char state;
    bool is_seen;
} square;

static square worst_of(const hw_gcode_map *map, int per, int column, int row)
{
    square worst = {0};
    for (int j = row * per; j < (row + 1) * per && j < map->rows; j++)
        for (int i = column * per; i < (column + 1) * per && i < map->columns; i++) {
            size_t at = (size_t)j * (size_t)map->columns + (size_t)i;
            if (map->state[at] == HW_GCODE_NOTHING) continue;
            bool is_worse =
                map->state[at] > worst.state ||
                (map->state[at] == worst.state && fabs((double)map->off_m[at]) > fabs(worst.off));
            if (worst.is_seen && !is_worse) continue;
            worst = (square){(double)map->off_m[at], map->state[at], true};
        }
    return worst;
}

// Lists of thousands of numbers on one line each.
static hw_status write_map(hw_job *job, hw_json_out *out, const hw_gcode_map *map, hw_arena *into)
{
    int per = (int)fmax(1.0, round(1e-3 / map->step));
    int columns = (map->columns + per - 1) / per, rows = (map->rows + per - 1) / per;
    hw_writer off = hw_writer_begin(into), state = hw_writer_begin(into);
    hw_bytes off_text = {0}, state_text = {0};
    for (int k = 0; k < rows * columns; k++) {
        square of = worst_of(map, per, k % columns, k / columns);
        hw_writer_print(&off, "%s", k ? "," : "[");
        hw_writer_print(&off, of.is_seen ? "%ld" : "null", lround(of.off * 1e6));
        hw_writer_print(&state, "%c", '0' + of.state);
    }
    hw_writer_print(&off, "]");
    HW_TRY(hw_writer_end(job, &off, &off_text));
    HW_TRY(hw_writer_end(job, &state, &state_text));
    hw_json_open(out, NULL, '{');
    hw_json_number(out, "step_mm", hw_mm_from_m(per * map->step), 4);
    hw_json_number(out, "low_x_mm", hw_mm_from_m(map->low_x), 3);
    hw_json_number(out, "low_y_mm", hw_mm_from_m(map->low_y), 3);
    hw_json_int(out, "columns", columns);
    hw_json_int(out, "rows", rows);
    hw_json_raw(out, "off_um", off_text);
    hw_json_text(out, "state", (const char *)state_text.at); // a digit a square
    hw_json_close(out);
    return HW_OK;
}

static hw_status write_maps(hw_job *job, hw_json_out *out, const hw_milled *of, hw_arena *into)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "file", of->name);
    hw_json_open(out, "parts", '[');
    for (int part = 0; part < of->part_count; part++) {
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "side", hw_side_word(of->sides[part]));
        hw_json_open(out, "views", '[');
        for (int side = 0; side < of->rules.side_count; side++)
            HW_TRY(write_map(job, out, &of->cut.maps[side][part], into));
        hw_json_close(out);
        hw_json_close(out);
    }
    hw_json_close(out);
    hw_json_close(out);
    return HW_OK;
}

hw_status hw_report_milling_map_json(hw_job *job, const hw_report *report, hw_arena *into,
                                     hw_bytes *out)
{
    if (!report->milling) return hw_fail(job, HW_BAD_INPUT, "no milling program was made");
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    json_head(&json, report);
    hw_json_open(&json, "programs", '[');
    for (int i = 0; i < report->milling->count; i++)
        HW_TRY(write_maps(job, &json, &report->milling->programs[i], into));
    hw_json_close(&json);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
