// SPDX-License-Identifier: GPL-3.0-or-later
#include "orthosis_internal.h"

static const double least_shown = 0.90; // of the device's top that the scan must show

// The grid laid onto the sole, before any correction.
typedef struct layout {
    sole_chart chart;
    chart_place *places;  // grid
    unsigned char *shown; // grid: 1 where the scan shows the sole
} layout;

// Refuses a scan that shows too little of the sole.
static hw_status check_shown(hw_job *job, const layout *of)
{
    const int all = GRID_U * GRID_V;
    int shown = 0;
    for (int k = 0; k < all; k++) shown += of->shown[k];
    if (shown >= least_shown * all) return HW_OK;
    return hw_fail(job, HW_BAD_INPUT,
                   "the scan shows %.1f %% of the sole the shell would lie on; it takes %.0f %%",
                   100.0 * shown / all, 100.0 * least_shown);
}

static hw_status lay_out(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                         hw_arena *into, layout *out)
{
    const int grid = GRID_U * GRID_V;
    HW_TRY(order_check(job, foot, order));
    HW_ALLOC(job, into, out->places, grid);
    HW_ALLOC(job, into, out->shown, grid);
    HW_TRY(sole_cast(job, foot, into, &out->chart));
    HW_TRY(sole_finish(job, &out->chart));
    HW_TRY(trim_grid(job, foot, order, &out->chart, out->places));
    for (int k = 0; k < grid; k++) out->shown[k] = sole_seen(&out->chart, out->places[k]);
    return check_shown(job, out);
}

hw_status hw_orthosis_check(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    layout of = {0};
    HW_TRY(lay_out(job, foot, order, tmp.arena, &of));
    hw_scratch_end(tmp);
    return HW_OK;
}

// Fails where neighbours on the bottom have changed places: the wall is thicker than the bend.
static hw_status check_bends(hw_job *job, const hw_vec3 *top, const hw_vec3 *bottom)
{
    for (int i = 0; i + 1 < GRID_U; i++)
        for (int j = 0; j + 1 < GRID_V; j++) {
            int here = grid_index(i, j), next = grid_index(i + 1, j), side = grid_index(i, j + 1);
            hw_vec3 along = hw_vec3_sub(top[next], top[here]);
            hw_vec3 across = hw_vec3_sub(top[side], top[here]);
            if (hw_vec3_dot(along, hw_vec3_sub(bottom[next], bottom[here])) <= 0.0 ||
                hw_vec3_dot(across, hw_vec3_sub(bottom[side], bottom[here])) <= 0.0)
                return hw_fail(
                    job, HW_NO_ANSWER,
                    "the sole is bent too sharply near x = %.0f mm for a shell of %.1f mm",
                    hw_mm_from_m(top[here].x),
                    hw_mm_from_m(hw_vec3_distance(top[here], bottom[here])));
        }
    return HW_OK;
}

static hw_status list_steps(hw_job *job, const hw_orthosis_order *order, hw_arena *into,
                            hw_orthosis *device)
{
    const hw_orthosis_step all[] = {
        {"sole not shown by the scan, filled smoothly", device->filled_area_m2, "m2"},
        {"arch fill", order->arch_fill_m, "m"},
        {"heel expansion on each side", order->heel_expansion_m, "m"},
        {"border expansion, lateral", order->border_expansion_m, "m"},
        {"border expansion, medial", 0.5 * order->border_expansion_m, "m"},
        {"rearfoot post, varus positive", order->rearfoot_post_rad, "rad"},
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

static hw_status make_shape(hw_job *job, const hw_orthosis_order *order, const layout *of,
                            hw_arena *into, hw_orthosis *device)
{
    const int grid = GRID_U * GRID_V;
    HW_ALLOC(job, into, device->top, grid);
    HW_ALLOC(job, into, device->sole, grid);
    HW_ALLOC(job, into, device->outline, GRID_LOOP);
    for (int k = 0; k < grid; k++)
        device->sole[k] = device->top[k] = sole_point(&of->chart, of->places[k]);
    shape_correct(order, &of->chart, of->places, device->top);
    HW_TRY(shape_bottom(job, order, &of->chart, device->top, into, &device->bottom));
    HW_TRY(check_bends(job, device->top, device->bottom));
    return solid_close(job, device->top, device->bottom, into, &device->solid);
}

hw_status hw_orthosis_build(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                            hw_arena *into, hw_orthosis *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    layout of = {0};
    hw_orthosis device = {.side = foot->side,
                          .material = order->material,
                          .nu = GRID_U,
                          .nv = GRID_V,
                          .top_triangle_count = GRID_TRIANGLES,
                          .outline_count = GRID_LOOP,
                          .rounding_radius_m = 0.5 * order->shell_thickness_m};
    HW_TRY(lay_out(job, foot, order, tmp.arena, &of));
    HW_TRY(make_shape(job, order, &of, into, &device));
    HW_TRY(measure_device(job, foot, order, of.shown, &device));
    HW_TRY(list_steps(job, order, into, &device));
    hw_scratch_end(tmp);
    *out = device;
    return HW_OK;
}

hw_status hw_orthosis_exit(hw_job *job, const hw_orthosis *device, hw_arena *into, hw_mesh *out)
{
    hw_pose exit_pose = hw_foot_exit(device->side);
    return hw_mesh_place(job, &device->solid, &exit_pose, into, out);
}
