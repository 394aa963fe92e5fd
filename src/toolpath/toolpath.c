// SPDX-License-Identifier: GPL-3.0-or-later
#include "toolpath_internal.h"

static hw_status refuse_tool(hw_job *job, const hw_mill_tool *tool, const char *what)
{
    return hw_fail(job, HW_BAD_INPUT, "tool %d cannot be used: %s", tool->number, what);
}

static hw_status check_tool(hw_job *job, const hw_mill_tool *tool, const hw_mill_machine *machine)
{
    if (tool->number < 1 || tool->number > 99) return refuse_tool(job, tool, "numbers are 1 to 99");
    if (!(tool->radius_m >= 0.5e-3 && tool->radius_m <= 25e-3))
        return refuse_tool(job, tool, "its diameter must be 1 to 50 mm");
    if (!(tool->depth_m > 0.0 && tool->depth_m <= tool->reach_m))
        return refuse_tool(job, tool, "its depth of cut must be above 0 and within its reach");
    if (!(tool->feed_m_per_s > 0.0 && tool->feed_m_per_s <= machine->feed_max_m_per_s))
        return refuse_tool(job, tool, "its feed must be above 0 and within the machine's");
    if (!(tool->plunge_m_per_s > 0.0 && tool->plunge_m_per_s <= tool->feed_m_per_s))
        return refuse_tool(job, tool, "its plunge feed must be above 0 and within its feed");
    if (!(tool->spindle_per_min >= machine->spindle_min_per_min &&
          tool->spindle_per_min <= machine->spindle_max_per_min))
        return refuse_tool(job, tool, "its spindle speed is not one of the machine's");
    return HW_OK;
}

static hw_status check_ask(hw_job *job, const hw_toolpath_ask *ask)
{
    HW_TRY(check_tool(job, ask->rough, ask->machine));
    HW_TRY(check_tool(job, ask->finish, ask->machine));
    if (ask->rough->cutter != HW_CUTTER_FLAT)
        return refuse_tool(job, ask->rough, "roughing takes a flat end mill");
    if (ask->finish->cutter != HW_CUTTER_BALL)
        return refuse_tool(job, ask->finish, "finishing takes a ball end mill");
    if (ask->rough->number == ask->finish->number)
        return refuse_tool(job, ask->finish, "both tools have this number");
    if (!(ask->rough->step_share > 0.0 && ask->rough->step_share <= 0.7))
        return refuse_tool(job, ask->rough, "passes must be 0 to 0.7 of its diameter apart");
    if (!(ask->scallop_m >= 5e-6 && ask->scallop_m <= 5e-4))
        return hw_fail(job, HW_BAD_INPUT, "a scallop of %.4f mm: it must be 0.005 to 0.5 mm",
                       hw_mm_from_m(ask->scallop_m));
    if (!(ask->allowance_m >= 2e-4 && ask->allowance_m <= 2e-3))
        return hw_fail(job, HW_BAD_INPUT, "an allowance of %.2f mm: it must be 0.2 to 2 mm",
                       hw_mm_from_m(ask->allowance_m));
    return HW_OK;
}

// The stock under the holder stays: a tool that goes deeper than it reaches would rub there.
static hw_status check_reach(hw_job *job, const hw_toolpath_ask *ask, const mill_layout *layout,
                             int part_count)
{
    double lowest = INFINITY;
    for (int side = 0; side < ask->side_count; side++)
        for (int i = 0; i < part_count; i++) lowest = fmin(lowest, layout->sides[side][i].floor);
    double deep = ask->block->height_m - lowest;
    const hw_mill_tool *tools[2] = {ask->rough, ask->finish};
    for (int k = 0; k < 2; k++)
        if (tools[k]->reach_m < deep)
            return hw_fail(
                job, HW_BAD_INPUT,
                "tool %d reaches %.1f mm, and %.1f mm of the block are cut from one side: "
                "take a longer tool or a lower block",
                tools[k]->number, hw_mm_from_m(tools[k]->reach_m), hw_mm_from_m(deep));
    return HW_OK;
}

static hw_status check_travel(hw_job *job, const hw_toolpath_ask *ask, const mill_layout *layout)
{
    const hw_mill_block *block = ask->block;
    const hw_box *travel = &ask->machine->travel;
    double over = ask->rough->radius_m; // the tip's middle stays within the block but for this
    const double needs[3][2] = {{-block->pin_inset_m, block->length_m - block->pin_inset_m},
                                {-0.5 * block->width_m - over, 0.5 * block->width_m + over},
                                {0.0, layout->safe}};
    const double has[3][2] = {{travel->low.x, travel->high.x},
                              {travel->low.y, travel->high.y},
                              {travel->low.z, travel->high.z}};
    for (int k = 0; k < 3; k++)
        if (needs[k][0] < has[k][0] || needs[k][1] > has[k][1])
            return hw_fail(
                job, HW_BAD_INPUT,
                "the block '%s' needs %c from %.0f to %.0f mm, and the machine '%s' goes "
                "from %.0f to %.0f mm",
                block->name, "XYZ"[k], hw_mm_from_m(needs[k][0]), hw_mm_from_m(needs[k][1]),
                ask -> machine -> name, hw_mm_from_m(has[k][0]), hw_mm_from_m(has[k][1]));
    return HW_OK;
}

static hw_status do_sides(hw_job *job, mill_layout *layout, int part_count,
                          const hw_toolpath_ask *ask, hw_arena *into, mill_work *work,
                          hw_toolpath *facts)
{
    for (int side = 0; side < ask->side_count; side++)
        for (int i = 0; i < part_count; i++) {
            mill_side *of = &layout->sides[side][i];
            HW_TRY(rough_side(job, of, ask, into, &work->rough[side][i]));
            HW_TRY(finish_side(job, of, ask, into, &work->finish[side][i], facts));
        }
    return HW_OK;
}

hw_status hw_toolpath_make(hw_job *job, const hw_toolpath_part *parts, int part_count,
                           const hw_toolpath_ask *ask, hw_arena *into, hw_toolpath *out)
{
    HW_ASSERT(part_count >= 1 && part_count <= HW_TOOLPATH_PARTS_MAX);
    HW_ASSERT(ask->side_count == 1 || ask->side_count == 2);
    mill_layout layout = {0};
    mill_work work = {0};
    hw_toolpath made = {0};
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_TRY(check_ask(job, ask));
    HW_TRY(lay_out_parts(job, parts, part_count, ask, tmp.arena, &layout));
    HW_TRY(check_reach(job, ask, &layout, part_count));
    HW_TRY(check_travel(job, ask, &layout));
    made.safe_z_m = layout.safe;
    made.base_m = layout.base;
    for (int i = 0; i < part_count; i++) made.places[i] = layout.places[i];
    HW_TRY(do_sides(job, &layout, part_count, ask, tmp.arena, &work, &made));
    HW_TRY(write_program(job, parts, part_count, ask, &work, into, &made));
    hw_scratch_end(tmp);
    *out = made;
    return HW_OK;
}
