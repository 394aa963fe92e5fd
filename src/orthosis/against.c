// SPDX-License-Identifier: GPL-3.0-or-later
#include "orthosis_internal.h"

const char *hw_against_part_word(int part)
{
    static const char *const words[HW_AGAINST_PARTS] = {"heel", "arch", "forefoot"};
    return words[part];
}

// Of a closed solid what faces up: its top and the inner half of its rim.
static hw_status facing_up(hw_job *job, const hw_mesh *solid, hw_arena *into, hw_mesh *out)
{
    const double flattest = 0.17; // of a unit normal: walls up to 80 degrees
    hw_mesh top = {.points = solid->points, .point_count = solid->point_count};
    HW_ALLOC(job, into, top.triangles, solid->triangle_count + 1);
    for (int t = 0; t < solid->triangle_count; t++) {
        hw_vec3 normal = hw_triangle_normal(solid, t);
        if (!(normal.z > flattest * hw_vec3_norm(normal))) continue;
        int *row = top.triangles[top.triangle_count++];
        for (int k = 0; k < 3; k++) row[k] = solid->triangles[t][k];
    }
    *out = top;
    return HW_OK;
}

// An earlier device must lie in the same frame: nothing is moved to make it fit.
static hw_status check_place(hw_job *job, const hw_orthosis *device, const hw_mesh *previous)
{
    const double apart = 0.030, twice = 2.0; // m between the ends; times as long
    hw_box new = hw_mesh_box(&device->solid), old = hw_mesh_box(previous);
    double length = new.high.x - new.low.x, was = old.high.x - old.low.x;
    double behind = fabs(new.low.x - old.low.x), below = fabs(new.low.z - old.low.z);
    double middle = fabs(0.5 * (new.low.y + new.high.y) - 0.5 * (old.low.y + old.high.y));
    if (was > twice * length || length > twice * was)
        return hw_fail(job, HW_BAD_INPUT,
                       "the earlier device is %.0f mm long, this one %.0f mm; is its file in mm?",
                       hw_mm_from_m(was), hw_mm_from_m(length));
    if (behind < apart && middle < 0.5 * apart && below < apart) return HW_OK;
    return hw_fail(job, HW_BAD_INPUT,
                   "the earlier device does not lie where this one does (%.0f mm behind, %.0f mm "
                   "aside, %.0f mm below): give the case it was made from, or its STL as it was "
                   "written (a 3MF stands on its plate), of the same side",
                   hw_mm_from_m(behind), hw_mm_from_m(middle), hw_mm_from_m(below));
}

static hw_vec3 grid_up(const hw_vec3 *top, int i, int j)
{
    int back = i > 0 ? i - 1 : i, ahead = i + 1 < GRID_U ? i + 1 : i;
    int medial = j > 0 ? j - 1 : j, lateral = j + 1 < GRID_V ? j + 1 : j;
    hw_vec3 along = hw_vec3_sub(top[grid_index(ahead, j)], top[grid_index(back, j)]);
    hw_vec3 across = hw_vec3_sub(top[grid_index(i, lateral)], top[grid_index(i, medial)]);
    return hw_vec3_unit(hw_vec3_cross(along, across));
}

static void take_part(hw_against_part *of, double gap)
{
    of->compared++;
    of->mean += gap; // a sum until all are taken
    if (fabs(gap) > fabs(of->most)) of->most = gap;
}

static void take(hw_orthosis_against *of, hw_vec3 place, double gap)
{
    const double within = 0.001; // m
    double most = fmax(of->most_higher, of->most_lower);
    of->compared++;
    of->mean += gap, of->mean_size += fabs(gap); // sums until all are taken
    of->within_1 += fabs(gap) < within;
    of->most_higher = fmax(of->most_higher, gap);
    of->most_lower = fmax(of->most_lower, -gap);
    if (fabs(gap) > most) of->where = place;
}

hw_status hw_orthosis_lay_on(hw_job *job, const hw_orthosis *device, const hw_mesh *previous,
                             hw_arena *into, hw_orthosis_against *out)
{
    const double square = 0.8, same = 1e-4; // cosine between gap and normal; m
    hw_orthosis_against of = {.count = GRID_U * GRID_V};
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_mesh old = {0};
    hw_box ends = hw_mesh_box(&device->solid);
    const hw_near *near = NULL;
    HW_TRY(check_place(job, device, previous));
    HW_ALLOC(job, into, of.gaps, of.count);
    HW_TRY(facing_up(job, previous, tmp.arena, &old));
    HW_TRY(hw_near_build(job, &old, tmp.arena, &near));
    for (int k = 0; k < of.count; k++) {
        hw_vec3 onto, place = device->top[k];
        double away = hw_near_distance(near, place, &onto);
        double over =
            hw_vec3_dot(hw_vec3_sub(place, onto), grid_up(device->top, k / GRID_V, k % GRID_V));
        // The nearest place of the other lies aside: it has an edge there, or a wall too steep to tell.
        bool is_beyond = away > same && fabs(over) < square * away;
        of.gaps[k] = is_beyond ? NAN : (float)(over < 0.0 ? -away : away);
        if (is_beyond) continue;
        take(&of, place, (double)of.gaps[k]);
        int third = (int)(HW_AGAINST_PARTS * (place.x - ends.low.x) / (ends.high.x - ends.low.x));
        take_part(&of.part[third < HW_AGAINST_PARTS ? third : HW_AGAINST_PARTS - 1],
                  (double)of.gaps[k]);
    }
    hw_scratch_end(tmp);
    if (of.compared == 0)
        return hw_fail(job, HW_NO_ANSWER, "no place of the device lies over the earlier one");
    for (int p = 0; p < HW_AGAINST_PARTS; p++)
        if (of.part[p].compared > 0) of.part[p].mean /= of.part[p].compared;
    of.mean /= of.compared, of.mean_size /= of.compared, of.within_1 /= of.compared;
    *out = of;
    return HW_OK;
}
