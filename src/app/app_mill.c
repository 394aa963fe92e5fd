// SPDX-License-Identifier: GPL-3.0-or-later
// Milling programs of a visit's devices. What toolpath writes is read again by gcode, held to the same table
// in words of its own, cut in memory and compared with the design; only a program that passes leaves.
#include "app/app.h"

#include <stdio.h>
#include <string.h>

static const double gouge_max = 20e-6;  // m below the design
static const double clear_over = 5e-3;  // m over the block: lowest travel that is accepted
static const double cast_below = 10e-3; // m of wall under a cast's edge

static const char *label_of(hw_side side, hw_mill_kind kind)
{
    if (kind == HW_MILL_CAST) return side == HW_SIDE_LEFT ? "LEFT FOOT, CAST" : "RIGHT FOOT, CAST";
    return side == HW_SIDE_LEFT ? "LEFT FOOT" : "RIGHT FOOT";
}

// The corrected sole as a positive, sole up, turned over about X.
static hw_status make_cast(hw_job *job, const hw_orthosis *device, const hw_mesh *solid,
                           hw_arena *into, hw_mesh *out)
{
    hw_mesh sole = {.point_count = solid->point_count,
                    .triangle_count = device->top_triangle_count};
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_ALLOC(job, tmp.arena, sole.points, sole.point_count);
    HW_ALLOC(job, tmp.arena, sole.triangles, sole.triangle_count);
    for (int i = 0; i < sole.point_count; i++)
        sole.points[i] = (hw_vec3){solid->points[i].x, -solid->points[i].y, -solid->points[i].z};
    for (int t = 0; t < sole.triangle_count; t++) { // the foot's side of the surface is up now
        sole.triangles[t][0] = solid->triangles[t][0];
        sole.triangles[t][1] = solid->triangles[t][2];
        sole.triangles[t][2] = solid->triangles[t][1];
    }
    HW_TRY(hw_toolpath_stand(job, &sole, cast_below, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status make_shape(hw_job *job, const hw_orthosis *device, hw_mill_kind kind,
                            hw_arena *into, const hw_mesh **out)
{
    hw_mesh *shape = NULL, solid = {0};
    hw_orthosis plain = *device;
    plain.mark = NULL; // no ball cuts letters
    HW_ALLOC(job, into, shape, 1);
    HW_TRY(hw_orthosis_exit(job, &plain, into, &solid));
    *shape = solid;
    if (kind == HW_MILL_CAST) HW_TRY(make_cast(job, device, &solid, into, shape));
    *out = shape;
    return HW_OK;
}

// -- the same table, for the one that checks

static hw_gcode_tool tool_told(const hw_mill_tool *tool)
{
    return (hw_gcode_tool){.number = tool->number,
                           .is_ball = tool->cutter == HW_CUTTER_BALL,
                           .radius_m = tool->radius_m,
                           .reach_m = tool->reach_m,
                           .depth_m = tool->depth_m,
                           .feed_max_m_per_s = tool->feed_m_per_s,
                           .plunge_max_m_per_s = tool->plunge_m_per_s,
                           .spindle_per_min = tool->spindle_per_min};
}

static hw_gcode_rules rules_of(const hw_mill *mill)
{
    const hw_mill_block *block = &mill->blocks[mill->block];
    const hw_mill_machine *machine = &mill->machine;
    hw_gcode_rules rules = {
        .travel = machine->travel,
        .stock = {{-block->pin_inset_m, -0.5 * block->width_m, 0.0},
                  {block->length_m - block->pin_inset_m, 0.5 * block->width_m, block->height_m}},
        .clear_z_m = block->height_m + clear_over,
        .feed_max_m_per_s = machine->feed_max_m_per_s,
        .rapid_m_per_s = machine->rapid_m_per_s,
        .acceleration_m_per_s2 = machine->acceleration_m_per_s2,
        .spindle_min_per_min = machine->spindle_min_per_min,
        .spindle_max_per_min = machine->spindle_max_per_min,
        .dwell_min_s = machine->spindle_start_s,
        .dwells_in_ms = machine->dwells_in_ms,
        .tools = {tool_told(&mill->tools[mill->rough]), tool_told(&mill->tools[mill->finish])},
        .tool_count = 2,
        .side_count = mill->kind == HW_MILL_SHELL ? 2 : 1,
        .keep_out_count = 2};
    // Pins and clamps take the whole of both ends, from the bed to over the block.
    rules.keep_outs[0] = rules.keep_outs[1] = rules.stock;
    rules.keep_outs[0].high.x = rules.stock.low.x + block->clamp_inset_m;
    rules.keep_outs[1].low.x = rules.stock.high.x - block->clamp_inset_m;
    return rules;
}

static hw_status must_say(hw_job *job, hw_gcode_rules *rules, hw_arena *into, const char *text)
{
    HW_ASSERT(rules->must_say_count < HW_GCODE_WORDS_MAX);
    return hw_text_copy(job, into, text, &rules->must_say[rules->must_say_count++]);
}

// What must stand in the head: which foot, released or not.
static hw_status say_head(hw_job *job, const hw_milled *of, hw_mill_kind kind, hw_arena *into,
                          hw_gcode_rules *rules)
{
    for (int i = 0; i < of->part_count; i++) {
        char text[64];
        snprintf(text, sizeof text, "PART %d: %s", i + 1, label_of(of->sides[i], kind));
        HW_TRY(must_say(job, rules, into, text));
    }
    return of->is_released ? HW_OK : must_say(job, rules, into, "NOT RELEASED: DO NOT MILL");
}

static hw_status place_design(hw_job *job, const hw_mesh *shape, const hw_toolpath_place *place,
                              hw_arena *into, hw_gcode_design *out)
{
    hw_mesh *placed = NULL;
    hw_pose shift = hw_pose_identity();
    shift.shift = place->shift;
    HW_ALLOC(job, into, placed, 1);
    HW_TRY(hw_mesh_place(job, shape, &shift, into, placed));
    *out = (hw_gcode_design){.shape = placed, .hold_count = place->tab_count};
    for (int i = 0; i < place->tab_count; i++) out->holds[i] = place->tabs[i];
    return HW_OK;
}

static hw_status check(hw_job *job, const hw_toolpath_part *parts, const hw_mill *mill,
                       hw_arena *into, hw_milled *of)
{
    hw_faults faults = {.into = into};
    hw_gcode_ask ask = {.design_count = of->part_count,
                        .gouge_max_m = gouge_max,
                        .ridge_max_m = mill->scallop_m,
                        .finish_tool = 1};
    hw_gcode_rules rules = rules_of(mill);
    HW_TRY(say_head(job, of, mill->kind, into, &rules));
    for (int i = 0; i < of->part_count; i++)
        HW_TRY(place_design(job, parts[i].shape, &of->made.places[i], into, &ask.designs[i]));
    hw_status status = hw_gcode_read(job, of->made.program, &rules, into, &of->program, &faults);
    if (status == HW_OK)
        status = hw_gcode_carve(job, &of->program, &rules, &ask, into, &of->cut, &faults);
    of->rules = rules;
    if (status != HW_BAD_INPUT) return status;
    char why[sizeof job->why];
    memcpy(why, job->why, sizeof why);
    return hw_fail(job, HW_NO_ANSWER, "the milling program did not pass its check: %.180s", why);
}

// -- one program

// What one program is made of: one foot's device, or both.
typedef struct making {
    const hw_report *report;
    const hw_mill *mill;
    hw_toolpath_part parts[HW_TOOLPATH_PARTS_MAX];
    hw_side sides[HW_TOOLPATH_PARTS_MAX];
    int count;
} making;

static hw_status add_foot(hw_job *job, const hw_orthosis *device, hw_arena *into, making *of)
{
    hw_toolpath_part *part = &of->parts[of->count];
    part->label = label_of(device->side, of->mill->kind);
    of->sides[of->count++] = device->side;
    return make_shape(job, device, of->mill->kind, into, &part->shape);
}

static making only(const making *both, int index)
{
    making one = *both;
    one.parts[0] = both->parts[index], one.sides[0] = both->sides[index], one.count = 1;
    return one;
}

static hw_toolpath_ask ask_of(const making *of, bool is_released, char date[HW_DATE_TEXT])
{
    const hw_mill *mill = of->mill;
    const hw_visit *visit = of->report->visit;
    return (hw_toolpath_ask){.machine = &mill->machine,
                             .block = &mill->blocks[mill->block],
                             .rough = &mill->tools[mill->rough],
                             .finish = &mill->tools[mill->finish],
                             .scallop_m = mill->scallop_m,
                             .allowance_m = mill->allowance_m,
                             .side_count = mill->kind == HW_MILL_SHELL ? 2 : 1,
                             .code = visit->code,
                             .is_released = is_released,
                             .date = hw_date_text(visit->findings.visit_date, date)};
}

static hw_status name_program(hw_job *job, const making *from, hw_arena *into, hw_milled *of)
{
    const char *code = NULL;
    HW_TRY(hw_app_code_in_name(job, from->report->visit->code, into, &code));
    return hw_text_format(job, into, &of->name, "%s-%s%s%s-%s%s.nc", code,
                          hw_side_word(of->sides[0]), of->part_count == 2 ? "-and-" : "",
                          of->part_count == 2 ? hw_side_word(of->sides[1]) : "",
                          from->mill->kind == HW_MILL_CAST ? "cast" : "shell",
                          of->is_released ? "" : "-NOT-RELEASED");
}

static hw_status make_program(hw_job *job, const making *from, hw_arena *into, hw_milled *out)
{
    char date[HW_DATE_TEXT];
    hw_milled made = {.part_count = from->count, .is_released = true};
    for (int i = 0; i < from->count; i++) {
        made.sides[i] = from->sides[i];
        made.is_released &= hw_report_device_released(from->report, from->sides[i]);
    }
    hw_toolpath_ask ask = ask_of(from, made.is_released, date);
    HW_TRY(name_program(job, from, into, &made));
    HW_TRY(hw_toolpath_make(job, from->parts, from->count, &ask, into, &made.made));
    HW_TRY(check(job, from->parts, from->mill, into, &made));
    *out = made;
    return HW_OK;
}

// A pair in one block where it has room, else a program each. What else is wrong with table or devices is
// told, and not tried again foot by foot.
hw_status hw_app_mill(hw_job *job, const hw_mill *mill, hw_arena *into, hw_report *report)
{
    char date[HW_DATE_TEXT];
    making all = {.report = report, .mill = mill};
    hw_milling *milling = NULL;
    for (int i = 0; i < 2; i++)
        if (report->feet[i].orthosis) HW_TRY(add_foot(job, report->feet[i].orthosis, into, &all));
    if (all.count == 0)
        return hw_fail(job, HW_BAD_INPUT, "no orthosis was made: there is nothing to mill");
    HW_ALLOC(job, into, milling, 1);
    milling->mill = mill;
    hw_toolpath_ask ask = ask_of(&all, false, date);
    milling->count = all.count == 2 && !hw_toolpath_pair_fits(all.parts, &ask) ? 2 : 1;
    for (int i = 0; i < milling->count; i++) {
        making one = milling->count == 2 ? only(&all, i) : all;
        HW_TRY(make_program(job, &one, into, &milling->programs[i]));
    }
    report->milling = milling;
    return HW_OK;
}

hw_status hw_app_mill_files(hw_job *job, const hw_report *report, hw_arena *into, hw_file_set *out)
{
    hw_bytes json = {0}, maps = {0}, sheet = {0};
    HW_TRY(hw_report_milling_json(job, report, into, &json));
    HW_TRY(hw_report_milling_map_json(job, report, into, &maps));
    HW_TRY(hw_report_milling_pdf(job, report, into, &sheet));
    for (int i = 0; i < report->milling->count; i++)
        HW_TRY(hw_file_set_add(job, out, report->milling->programs[i].name,
                               report->milling->programs[i].made.program));
    HW_TRY(hw_file_set_add(job, out, "milling.pdf", sheet));
    HW_TRY(hw_file_set_add(job, out, "milling-map.json", maps));
    return hw_file_set_add(job, out, "milling.json", json);
}
