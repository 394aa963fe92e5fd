// SPDX-License-Identifier: GPL-3.0-or-later
// Where the parts stand in the block: along its middle, a pair side by side, as low as both sides
// allow; with the tabs that hold each until it is cut out by hand.
#include "toolpath_internal.h"

static const double skin = 0.5e-3;     // of stock that stays over and under everything
static const double base = 5e-3;       // that a part cut on one side stands on
static const double clearance = 10e-3; // of travel over the block
static const double rib = 6e-3;        // of stock between two channels
static const double edge = 4e-3;       // of stock outside a channel
static const double tab_width = 8e-3, tab_height = 3e-3;
static const double tab_inside = 1.5e-3;          // how far a tab reaches into the part
static const double tab_places[2] = {0.28, 0.74}; // of the part's length
static const double tip_air = 0.5e-3;             // under the ball when it goes round the outline

// What the block must have room for, and why.
typedef struct need {
    hw_box box;               // of the part, its own frame
    double rim_low, rim_high; // heights of the outline seen from above
    const hw_vec3 *rim;
    int rim_count;
} need;

static hw_status look_at_part(hw_job *job, const hw_mesh *shape, hw_arena *into, need *out)
{
    const hw_drop *drop = NULL;
    hw_vec3 *rim = NULL;
    int count = 0;
    HW_TRY(hw_drop_build(job, shape, 1e-3, into, &drop));
    HW_TRY(drop_rim(job, drop, into, &rim, &count));
    if (count == 0) return hw_fail(job, HW_BAD_INPUT, "the solid has no outline seen from above");
    *out = (need){.box = hw_mesh_box(shape),
                  .rim_low = rim[0].z,
                  .rim_high = rim[0].z,
                  .rim = rim,
                  .rim_count = count};
    for (int i = 0; i < count; i++) {
        out->rim_low = fmin(out->rim_low, rim[i].z);
        out->rim_high = fmax(out->rim_high, rim[i].z);
    }
    return HW_OK;
}

static hw_status refuse_size(hw_job *job, const hw_toolpath_ask *ask, const hw_toolpath_part *part,
                             const char *what, const double needs_and_has[2])
{
    return hw_fail(job, HW_BAD_INPUT,
                   "%s does not fit the block '%s': with its channel it needs %.1f mm of %s, and "
                   "%.1f mm are there",
                   part->label, ask->block->name, hw_mm_from_m(needs_and_has[0]), what,
                   hw_mm_from_m(needs_and_has[1]));
}

// Heights below and above the part's origin that the cut needs.
static void heights_needed(const hw_toolpath_ask *ask, const need *of, double *below, double *above)
{
    double round_tip = ask->finish->radius_m + tip_air + skin;
    *below = (ask->side_count == 1 ? base : skin) - of->box.low.z;
    *above = of->box.high.z + skin;
    if (ask->side_count == 2) {
        *below = fmax(*below, round_tip - of->rim_low);
        *above = fmax(*above, of->rim_high + round_tip);
    }
}

// Of a block whose middle line is y = 0, for a part that lies from low_y to high_y.
static double width_needed(double low_y, double high_y, double channel)
{
    return 2.0 * (fmax(high_y, -low_y) + channel + edge);
}

static hw_status place_part(hw_job *job, const hw_toolpath_part *part, const need *of,
                            const hw_toolpath_ask *ask, double part_low_y, hw_toolpath_place *out)
{
    const hw_mill_block *block = ask->block;
    double channel = rough_channel(ask), below = 0.0, above = 0.0;
    double long_needs[2] = {of->box.high.x - of->box.low.x + 2.0 * channel,
                            block->length_m - 2.0 * block->clamp_inset_m};
    double part_high_y = part_low_y + of->box.high.y - of->box.low.y;
    double wide_needs[2] = {width_needed(part_low_y, part_high_y, channel), block->width_m};
    heights_needed(ask, of, &below, &above);
    double high_needs[2] = {below + above, block->height_m};
    if (long_needs[0] > long_needs[1])
        return refuse_size(job, ask, part, "length between the clamps", long_needs);
    if (wide_needs[0] > wide_needs[1]) return refuse_size(job, ask, part, "width", wide_needs);
    if (high_needs[0] > high_needs[1]) return refuse_size(job, ask, part, "height", high_needs);
    double middle_x = 0.5 * block->length_m - block->pin_inset_m;
    double spare = high_needs[1] - high_needs[0];
    out->shift.x = middle_x - 0.5 * (of->box.low.x + of->box.high.x);
    out->shift.y = part_low_y - of->box.low.y;
    // On two sides in the middle, so that both are cut equally deep; on one, on its base.
    out->shift.z = ask->side_count == 2 ? below + 0.5 * spare : high_needs[1] - above;
    return HW_OK;
}

// The outline's outermost point across, near x; `across` is +1 or -1.
static hw_vec3 outermost(const need *of, double x, double across)
{
    const double near = 4e-3;
    hw_vec3 best = of->rim[0];
    double best_y = -INFINITY;
    for (int i = 0; i < of->rim_count; i++)
        if (fabs(of->rim[i].x - x) < near && across * of->rim[i].y > best_y) {
            best = of->rim[i];
            best_y = across * best.y;
        }
    return best;
}

static void add_tabs(const need *of, double channel, hw_toolpath_place *place)
{
    for (int k = 0; k < HW_TOOLPATH_TABS; k++) {
        double across = k % 2 ? 1.0 : -1.0;
        double x = of->box.low.x + tab_places[k / 2] * (of->box.high.x - of->box.low.x);
        hw_vec3 at = hw_vec3_add(outermost(of, x, across), place->shift);
        double inner = at.y - across * tab_inside, outer = at.y + across * (channel + 1e-3);
        place->tabs[place->tab_count++] =
            (hw_box){{at.x - 0.5 * tab_width, fmin(inner, outer), at.z - 0.5 * tab_height},
                     {at.x + 0.5 * tab_width, fmax(inner, outer), at.z + 0.5 * tab_height}};
    }
}

// -- the sides as meshes

static hw_status mesh_of_tabs(hw_job *job, const hw_toolpath_place *place, hw_arena *into,
                              hw_mesh *out)
{
    // Corner k of a box has x high for bit 0, y for bit 1, z for bit 2.
    static const int faces[12][3] = {{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6},
                                     {0, 1, 5}, {0, 5, 4}, {2, 6, 7}, {2, 7, 3},
                                     {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}};
    hw_mesh mesh = {.point_count = 8 * place->tab_count, .triangle_count = 12 * place->tab_count};
    HW_ALLOC(job, into, mesh.points, mesh.point_count);
    HW_ALLOC(job, into, mesh.triangles, mesh.triangle_count);
    for (int t = 0; t < place->tab_count; t++) {
        hw_box box = place->tabs[t];
        for (int k = 0; k < 8; k++)
            mesh.points[8 * t + k] =
                (hw_vec3){k & 1 ? box.high.x : box.low.x, k & 2 ? box.high.y : box.low.y,
                          k & 4 ? box.high.z : box.low.z};
        for (int f = 0; f < 12; f++)
            for (int c = 0; c < 3; c++) mesh.triangles[12 * t + f][c] = 8 * t + faces[f][c];
    }
    *out = mesh;
    return HW_OK;
}

// Turned over about X: (x, y, z) -> (x, -y, height - z).
static hw_pose turned(double height)
{
    hw_pose pose = hw_pose_identity();
    pose.rotation[4] = pose.rotation[8] = -1.0;
    pose.shift.z = height;
    return pose;
}

static hw_status turn_mesh(hw_job *job, const hw_mesh *mesh, double height, hw_arena *into,
                           const hw_mesh **out)
{
    hw_mesh *copy = NULL;
    hw_pose pose = turned(height);
    HW_ALLOC(job, into, copy, 1);
    HW_TRY(hw_mesh_place(job, mesh, &pose, into, copy));
    *out = copy;
    return HW_OK;
}

static hw_status make_sides(hw_job *job, const hw_mesh *shape, const need *of,
                            const hw_toolpath_ask *ask, int index, hw_arena *into, mill_layout *out)
{
    const hw_mill_block *block = ask->block;
    const hw_toolpath_place *place = &out->places[index];
    hw_pose shift = hw_pose_identity();
    hw_mesh *first = NULL, *tabs = NULL;
    double tip = ask->finish->radius_m + tip_air;
    HW_ALLOC(job, into, first, 1);
    shift.shift = place->shift;
    HW_TRY(hw_mesh_place(job, shape, &shift, into, first));
    hw_box stock = {{-block->pin_inset_m, -0.5 * block->width_m, 0.0},
                    {block->length_m - block->pin_inset_m, 0.5 * block->width_m, block->height_m}};
    mill_side *sides[2] = {&out->sides[0][index], &out->sides[1][index]};
    *sides[0] = (mill_side){.shape = first, .stock = stock, .clamp = block->clamp_inset_m};
    if (ask->side_count == 1) {
        sides[0]->is_open = true;
        sides[0]->floor = place->shift.z + of->box.low.z;
        return HW_OK;
    }
    HW_ALLOC(job, into, tabs, 1);
    HW_TRY(mesh_of_tabs(job, place, into, tabs));
    sides[0]->tabs = tabs;
    sides[0]->floor = place->shift.z + of->rim_low - tip;
    *sides[1] = *sides[0];
    sides[1]->floor = block->height_m - (place->shift.z + of->rim_high + tip);
    HW_TRY(turn_mesh(job, first, block->height_m, into, &sides[1]->shape));
    return turn_mesh(job, tabs, block->height_m, into, &sides[1]->tabs);
}

// The first of a pair lies towards +Y, on both sides of a rib.
static double pair_low_y(int index, double wide, double channel)
{
    return index == 0 ? 0.5 * rib + channel : -0.5 * rib - channel - wide;
}

static double wide_of(const hw_toolpath_part *part)
{
    hw_box box = hw_mesh_box(part->shape);
    return box.high.y - box.low.y;
}

bool hw_toolpath_pair_fits(const hw_toolpath_part parts[2], const hw_toolpath_ask *ask)
{
    double channel = rough_channel(ask);
    for (int i = 0; i < 2; i++) {
        double wide = wide_of(&parts[i]), low_y = pair_low_y(i, wide, channel);
        if (width_needed(low_y, low_y + wide, channel) > ask->block->width_m) return false;
    }
    return true;
}

hw_status lay_out_parts(hw_job *job, const hw_toolpath_part *parts, int part_count,
                        const hw_toolpath_ask *ask, hw_arena *into, mill_layout *out)
{
    mill_layout made = {.safe = ask->block->height_m + clearance};
    double channel = rough_channel(ask);
    hw_scratch tmp = hw_scratch_begin(job, into);
    for (int i = 0; i < part_count; i++) {
        need of = {0};
        HW_TRY(look_at_part(job, parts[i].shape, tmp.arena, &of));
        double wide = of.box.high.y - of.box.low.y, low_y = -0.5 * wide;
        if (part_count == 2) low_y = pair_low_y(i, wide, channel);
        HW_TRY(place_part(job, &parts[i], &of, ask, low_y, &made.places[i]));
        if (ask->side_count == 2) add_tabs(&of, channel, &made.places[i]);
        HW_TRY(make_sides(job, parts[i].shape, &of, ask, i, into, &made));
        made.base = ask->side_count == 1 ? made.sides[0][i].floor : 0.0;
    }
    hw_scratch_end(tmp);
    *out = made;
    return HW_OK;
}
