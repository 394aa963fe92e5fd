// SPDX-License-Identifier: GPL-3.0-or-later
#include "orthosis_internal.h"

#include <float.h>

static const double least_shown = 0.90; // of the device's top that the scan must show

const char *hw_shell_material_word(hw_shell_material material)
{
    return material == HW_SHELL_PA12 ? "PA12" : "polypropylene";
}

double hw_shell_material_density(hw_shell_material material)
{
    return material == HW_SHELL_PA12 ? 970.0 : 905.0;
}

hw_orthosis_order hw_orthosis_order_default(hw_loading loading)
{
    hw_orthosis_order order = {.loading = loading};
    order.shell_thickness_m = 0.004;
    order.heel_cup_depth_m = 0.014;
    order.arch_fill_m = 0.004;
    order.distal_gap_m = 0.006;
    if (loading == HW_LOADING_HANGING)
        order.heel_expansion_m = 0.002, order.border_expansion_m = 0.003;
    if (loading == HW_LOADING_SITTING)
        order.heel_expansion_m = 0.001, order.border_expansion_m = 0.0015;
    return order;
}

typedef struct range_row {
    const char *key;
    size_t offset;
    double low, high; // m or rad
    double per_unit;  // of what is printed
    const char *unit;
} range_row;

#define MILLIMETRE 1e-3, "mm"
#define DEGREE 0.017453292519943295, "degrees"
#define AT(field) offsetof(hw_orthosis_order, field)

static const range_row ranges[] = {
    {"shell thickness", AT(shell_thickness_m), 0.002, 0.006, MILLIMETRE},
    {"heel cup depth", AT(heel_cup_depth_m), 0.006, 0.030, MILLIMETRE},
    {"arch fill", AT(arch_fill_m), 0.0, 0.008, MILLIMETRE},
    {"heel expansion", AT(heel_expansion_m), 0.0, 0.005, MILLIMETRE},
    {"border expansion", AT(border_expansion_m), 0.0, 0.006, MILLIMETRE},
    {"rearfoot post", AT(rearfoot_post_rad), -0.1745329252, 0.1745329252, DEGREE},
    {"distal gap", AT(distal_gap_m), 0.003, 0.010, MILLIMETRE},
};

static hw_status check_ranges(hw_job *job, const hw_orthosis_order *order, hw_faults *faults)
{
    const double slack = 1e-9; // a value typed at its limit is at its limit
    for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++) {
        const range_row *row = &ranges[i];
        double value = *(const double *)((const char *)order + row->offset);
        if (value >= row->low - slack && value <= row->high + slack) continue;
        HW_TRY(hw_faults_add(job, faults, row->key, "%g %s; a shell takes %g to %g",
                             value / row->per_unit, row->unit, row->low / row->per_unit,
                             row->high / row->per_unit));
    }
    return HW_OK;
}

hw_status hw_orthosis_check(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_faults faults = {.into = tmp.arena};
    const hw_landmarks *at = &foot->landmarks;
    if (foot->side == HW_SIDE_UNKNOWN)
        HW_TRY(hw_faults_add(job, &faults, "side", "the foot's side is not known"));
    if (order->length != HW_ORTHOSIS_THREE_QUARTER)
        HW_TRY(hw_faults_add(job, &faults, "length", "only a three-quarter shell can be made yet"));
    if (order->loading != foot->loading)
        HW_TRY(hw_faults_add(job, &faults, "loading",
                             "the order is for a foot scanned %s, this one was scanned %s",
                             hw_loading_word(order->loading), hw_loading_word(foot->loading)));
    if (!(at->mth1.x - at->heel_back.x > 0.06) || !(at->mth5.y - at->mth1.y > 0.03))
        HW_TRY(hw_faults_add(job, &faults, "landmarks",
                             "heel and metatarsal heads are not where a foot has them"));
    HW_TRY(check_ranges(job, order, &faults));
    hw_status status = hw_faults_status(job, &faults);
    hw_scratch_end(tmp);
    return status;
}

// Refuses a scan that shows too little of the sole; the area it does not show, m2.
static hw_status check_shown(hw_job *job, const sole_chart *chart, const chart_place *places,
                             double *filled_area_m2)
{
    int shown = 0, all = GRID_U * GRID_V;
    double area = 0.0;
    for (int k = 0; k < all; k++) shown += sole_seen(chart, places[k]);
    for (int i = 0; i < chart->na; i++)
        for (int j = 0; j < chart->nb; j++) {
            chart_place at = {chart->a_first + i * CHART_STEP, chart->b_first + j * CHART_STEP};
            double along = along_device(chart, at);
            bool under = sole_angle(&chart->axis, at) < 1.0 && along < 0.95;
            if (under && !chart->seen[i * chart->nb + j]) area += CHART_STEP * CHART_STEP;
        }
    if (shown < least_shown * all)
        return hw_fail(
            job, HW_BAD_INPUT,
            "the scan shows %.0f %% of the sole the shell would lie on; it takes %.0f %%",
            100.0 * shown / all, 100.0 * least_shown);
    *filled_area_m2 = area;
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

static hw_status measure_walls(hw_job *job, const hw_foot *foot, hw_orthosis *device)
{
    const int grid = GRID_U * GRID_V;
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_mesh lower = {
        .points = device->bottom, .point_count = grid, .triangle_count = GRID_TRIANGLES};
    const hw_near *to_lower = NULL, *to_foot = NULL;
    HW_ALLOC(job, tmp.arena, lower.triangles, GRID_TRIANGLES);
    grid_triangles(lower.triangles);
    HW_TRY(hw_near_build(job, &lower, tmp.arena, &to_lower));
    HW_TRY(hw_near_build(job, &foot->surface, tmp.arena, &to_foot));
    device->thickness_min_m = DBL_MAX;
    for (int k = 0; k < grid; k++) {
        double wall = hw_near_distance(to_lower, device->top[k], NULL);
        double away = hw_near_distance(to_foot, device->top[k], NULL);
        device->thickness_min_m = fmin(device->thickness_min_m, wall);
        device->deviation_max_m = fmax(device->deviation_max_m, away);
        device->deviation_mean_m += away / grid;
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

static void measure_distal(const hw_foot *foot, hw_orthosis *device)
{
    const hw_landmarks *at = &foot->landmarks;
    double slope = (at->mth5.x - at->mth1.x) / (at->mth5.y - at->mth1.y);
    device->distal_gap_min_m = DBL_MAX;
    device->distal_gap_max_m = -DBL_MAX;
    const int corner = GRID_V / 5; // rounded, so further behind
    for (int j = corner; j < GRID_V - corner; j++) {
        hw_vec3 edge = device->top[grid_index(GRID_U - 1, j)];
        double line_x = at->mth1.x + slope * (edge.y - at->mth1.y);
        double gap = line_x - edge.x - device->rounding_radius_m;
        device->distal_gap_min_m = fmin(device->distal_gap_min_m, gap);
        device->distal_gap_max_m = fmax(device->distal_gap_max_m, gap);
    }
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

static hw_status describe(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                          hw_arena *into, hw_orthosis *device)
{
    device->volume_m3 = hw_mesh_volume(&device->solid);
    device->mass_kg = device->volume_m3 * hw_shell_material_density(order->material);
    device->lift_m = -hw_mesh_box(&device->solid).low.z;
    device->outline_count = GRID_LOOP;
    HW_ALLOC(job, into, device->outline, GRID_LOOP);
    for (int k = 0; k < GRID_LOOP; k++) device->outline[k] = device->top[grid_loop(k)];
    HW_TRY(measure_walls(job, foot, device));
    measure_distal(foot, device);
    return list_steps(job, order, into, device);
}

hw_status hw_orthosis_build(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                            hw_arena *into, hw_orthosis *out)
{
    const int grid = GRID_U * GRID_V;
    HW_TRY(hw_orthosis_check(job, foot, order));
    hw_scratch tmp = hw_scratch_begin(job, into);
    sole_chart chart = {0};
    chart_place *places = NULL;
    hw_orthosis device = {.side = foot->side,
                          .nu = GRID_U,
                          .nv = GRID_V,
                          .top_triangle_count = GRID_TRIANGLES,
                          .rounding_radius_m = 0.5 * order->shell_thickness_m};
    HW_ALLOC(job, tmp.arena, places, grid);
    HW_ALLOC(job, into, device.top, grid);
    HW_TRY(sole_cast(job, foot, tmp.arena, &chart));
    HW_TRY(sole_finish(job, &chart));
    HW_TRY(trim_grid(job, foot, order, &chart, places));
    HW_TRY(check_shown(job, &chart, places, &device.filled_area_m2));
    for (int k = 0; k < grid; k++) device.top[k] = sole_point(&chart, places[k]);
    shape_correct(order, &chart, places, device.top);
    HW_TRY(shape_bottom(job, order, &chart, device.top, into, &device.bottom));
    HW_TRY(check_bends(job, device.top, device.bottom));
    HW_TRY(solid_close(job, device.top, device.bottom, into, &device.solid));
    HW_TRY(describe(job, foot, order, into, &device));
    hw_scratch_end(tmp);
    *out = device;
    return HW_OK;
}

hw_status hw_orthosis_exit(hw_job *job, const hw_orthosis *device, hw_arena *into, hw_mesh *out)
{
    hw_pose exit_pose = hw_foot_exit(device->side);
    return hw_mesh_place(job, &device->solid, &exit_pose, into, out);
}
