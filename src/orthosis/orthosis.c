// SPDX-License-Identifier: GPL-3.0-or-later
#include "orthosis_internal.h"

// Of the device's top that the scan must show; the same where the clinician gives arch and cup by hand.
static const double least_shown = 0.90, least_shown_by_hand = 0.60;

// The grid laid onto the sole, before any correction.
typedef struct layout {
    sole_chart chart;
    chart_place *places;  // grid
    unsigned char *shown; // grid: sole_sight
} layout;

// Refuses a scan that shows too little of the sole, and what is given by hand of one that shows enough.
static hw_status check_shown(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                             const layout *of)
{
    const int all = GRID_U * GRID_V;
    const bool by_hand = order->arch_height_m > 0.0;
    const double least = by_hand ? least_shown_by_hand : least_shown;
    int shown = 0;
    for (int k = 0; k < all; k++) shown += of->shown[k] != SOLE_HIDDEN;
    if (shown < least * all)
        return hw_fail(job, HW_BAD_INPUT,
                       "the scan shows %.1f %% of the sole the shell would lie on; it takes %.0f "
                       "%%, or %.0f %% with arch height and heel cup depth given by hand",
                       100.0 * shown / all, 100.0 * least_shown, 100.0 * least_shown_by_hand);
    if (by_hand && !foot->landmarks.is_flat_sole && shown >= least_shown * all)
        return hw_fail(
            job, HW_BAD_INPUT,
            "arch height by hand: this scan shows its sole and an arch of %.1f mm; leave "
            "it out, and order arch fill for a lower one",
            hw_mm_from_m(foot->landmarks.arch_apex.z));
    return HW_OK;
}

static hw_status lay_out(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                         hw_arena *into, layout *out)
{
    const int grid = GRID_U * GRID_V;
    HW_TRY(order_check(job, foot, order));
    HW_ALLOC(job, into, out->places, grid);
    HW_ALLOC(job, into, out->shown, grid);
    HW_TRY(sole_cast(job, foot, order, into, &out->chart));
    HW_TRY(sole_finish(job, &out->chart));
    HW_TRY(trim_grid(job, foot, order, &out->chart, out->places));
    for (int k = 0; k < grid; k++)
        out->shown[k] = (unsigned char)sole_seen(&out->chart, out->places[k]);
    return check_shown(job, foot, order, out);
}

hw_status hw_orthosis_check(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    layout of = {0};
    HW_TRY(lay_out(job, foot, order, tmp.arena, &of));
    hw_scratch_end(tmp);
    return HW_OK;
}

static const double least_wall = 0.85; // of what was ordered; at the rim, of the rim's

// What a file must not hold: a surface through itself, a wall thinner than ordered.
static hw_status check_solid(hw_job *job, const hw_orthosis_order *order, const hw_orthosis *device)
{
    hw_mesh_crossings found = {0};
    HW_TRY(hw_mesh_cross(job, &device->solid, &found));
    if (found.count > 0)
        return hw_fail(job, HW_NO_ANSWER,
                       "the device's surface goes through itself near x = %.0f, y = %.0f mm; order "
                       "less there",
                       hw_mm_from_m(found.where.x), hw_mm_from_m(found.where.y));
    if (device->thickness_min_m < least_wall * order_rim(order))
        return hw_fail(job, HW_NO_ANSWER,
                       "the wall would be %.1f mm thick in places, of %.1f mm ordered; order less",
                       hw_mm_from_m(device->thickness_min_m), hw_mm_from_m(order_rim(order)));
    return HW_OK;
}

static hw_status list_steps(hw_job *job, const hw_orthosis_order *order, hw_arena *into,
                            hw_orthosis *device)
{
    const double heel_tilt = order->rearfoot_intrinsic ? order->rearfoot_post_rad : 0.0;
    const double fore_tilt = order->forefoot_intrinsic ? order->forefoot_post_rad : 0.0;
    const hw_orthosis_step all[] = {
        {"sole not shown by the scan, filled smoothly", device->filled_area_m2, "m2"},
        {"arch raised to a height given by hand", order->arch_height_m, "m"},
        {"arch fill", order->arch_fill_m, "m"},
        {"heel expansion on each side", order->heel_expansion_m, "m"},
        {"border expansion, lateral", order->border_expansion_m, "m"},
        {"border expansion, medial", 0.5 * order->border_expansion_m, "m"},
        {"medial heel skive of 15 degrees", order->skive_depth_m, "m"},
        {"heel balanced to the vertical by", device->balance_rad, "rad"},
        {"cup tilted, varus positive", heel_tilt, "rad"},
        {"forefoot balanced, varus positive", fore_tilt, "rad"},
        {"fascia groove", order->groove_depth_m, "m"},
        {"heel recess", order->recess_depth_m, "m"},
        {order->met_pad == HW_MET_BAR ? "metatarsal bar" : "metatarsal dome", order->met_height_m,
         "m"},
        {"medial flange", order->medial_flange_m, "m"},
        {"lateral flange", order->lateral_flange_m, "m"},
        {"first ray cut back", order->ray_cut_m, "m"},
        {"rearfoot post, varus positive", order->rearfoot_post_rad - heel_tilt, "rad"},
        {"forefoot post, varus positive", order->forefoot_post_rad - fore_tilt, "rad"},
        {"heel raise", order->heel_raise_m, "m"},
        {"rim rounded to a radius of", device->rounding_radius_m, "m"},
    };
    const int count = sizeof all / sizeof *all;
    hw_orthosis_step *steps = NULL;
    HW_ALLOC(job, into, steps, count);
    for (int i = 0; i < count; i++)
        if (fabs(all[i].value) > 0.0) steps[device->step_count++] = all[i];
    device->steps = steps;
    return HW_OK;
}

static hw_status make_shape(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                            const layout *of, hw_arena *into, hw_orthosis *device)
{
    const int grid = GRID_U * GRID_V;
    HW_ALLOC(job, into, device->top, grid);
    HW_ALLOC(job, into, device->sole, grid);
    HW_ALLOC(job, into, device->outline, GRID_LOOP);
    for (int k = 0; k < grid; k++)
        device->sole[k] = device->top[k] = sole_point(&of->chart, of->places[k]);
    const shape_plan plan = {foot, order, &of->chart, of->places};
    HW_TRY(shape_raise_arch(job, &plan, device->top));
    shape_correct(&plan, device->top);
    HW_TRY(shape_finish(job, &plan, device->top, into, &device->bottom));
    HW_TRY(grid_check(job, device->top, device->bottom));
    return solid_close(job, device->top, device->bottom, into, &device->solid);
}

hw_status hw_orthosis_build(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                            hw_arena *into, hw_orthosis *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    layout of = {0};
    hw_orthosis device = {.side = foot->side,
                          .material = order->material,
                          .is_cup = order->length == HW_ORTHOSIS_HEEL_CUP,
                          .is_long = order_is_long(order),
                          .nu = GRID_U,
                          .nv = GRID_V,
                          .top_triangle_count = GRID_TRIANGLES,
                          .outline_count = GRID_LOOP,
                          .rounding_radius_m = 0.5 * order_rim(order)};
    if (order->balances_heel) device.balance_rad = foot->measures.heel_bisection_rad.value;
    HW_TRY(lay_out(job, foot, order, tmp.arena, &of));
    HW_TRY(make_shape(job, foot, order, &of, into, &device));
    HW_TRY(measure_device(job, foot, order, of.shown, &device));
    HW_TRY(check_solid(job, order, &device));
    HW_TRY(list_steps(job, order, into, &device));
    hw_scratch_end(tmp);
    *out = device;
    return HW_OK;
}

hw_status hw_orthosis_exit(hw_job *job, const hw_orthosis *device, hw_arena *into, hw_mesh *out)
{
    hw_pose exit_pose = hw_foot_exit(device->side);
    const hw_mesh *solid = device->mark ? &device->marked : &device->solid;
    return hw_mesh_place(job, solid, &exit_pose, into, out);
}
