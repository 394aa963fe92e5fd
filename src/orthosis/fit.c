// SPDX-License-Identifier: GPL-3.0-or-later
// The device against the shoe: rows of a table, never a refusal.
#include "orthosis_internal.h"

static const double toe_room = 0.010;  // m beyond the longest toe, standing
static const double edge_room = 0.002; // m of insole beside the device on each side
static const double laced_stack = 0.008, dress_stack = 0.004; // m that a shoe takes under the heel

// Width across of the widest section of the solid between two places along: not of all of it at once, for
// its inner and its outer side bulge at different places.
static double width_between(const hw_orthosis *device, double from, double to)
{
    enum { SLICES = 128 };
    const double slice = 0.003; // m along: more than a cell of the grid
    double low[SLICES], high[SLICES], widest = 0.0;
    double first = fmax(from, hw_mesh_box(&device->solid).low.x);
    for (int i = 0; i < SLICES; i++) low[i] = 1.0, high[i] = -1.0;
    for (int k = 0; k < device->solid.point_count; k++) {
        hw_vec3 p = device->solid.points[k];
        if (p.x < first || p.x > to) continue;
        int i = (int)fmin(SLICES - 1, (p.x - first) / slice);
        low[i] = fmin(low[i], p.y), high[i] = fmax(high[i], p.y);
    }
    for (int i = 0; i < SLICES; i++) widest = fmax(widest, high[i] - low[i]);
    return widest;
}

static hw_shoe_fit_row row(const char *name, double value, hw_maybe limit)
{
    return (hw_shoe_fit_row){name,
                             value,
                             limit.value,
                             limit.known,
                             limit.known && value > limit.value,
                             "common practice"};
}

double hw_orthosis_stack_limit(const hw_orthosis_order *order)
{
    return order->shoe.is_dress ? dress_stack : laced_stack;
}

static hw_maybe less(hw_maybe whole, double by)
{
    return (hw_maybe){whole.value - by, whole.known};
}

void hw_orthosis_shoe_fit(const hw_foot *foot, const hw_orthosis *device,
                          const hw_orthosis_order *order, hw_shoe_fit_row out[HW_SHOE_FITS])
{
    const hw_orthosis_shoe *shoe = &order->shoe;
    hw_box box = hw_mesh_box(&device->solid);
    double heel = foot->landmarks.heel_lateral.x;
    hw_maybe none = {0.0, false}, length = foot->measures.foot_length_m;
    hw_maybe stack = {hw_orthosis_stack_limit(order), true};
    out[HW_SHOE_FIT_TOE_ROOM] = row("foot in the shoe, with toe room", length.value + toe_room,
                                    length.known ? shoe->inner_length_m : none);
    out[HW_SHOE_FIT_LENGTH] = row("device along the insole", box.high.x - box.low.x,
                                  device->is_long ? less(shoe->inner_length_m, edge_room) : none);
    out[HW_SHOE_FIT_BALL_WIDTH] =
        row("device across the ball", width_between(device, 2.0 * heel, 1.0),
            less(shoe->inner_width_m, 2.0 * edge_room));
    out[HW_SHOE_FIT_HEEL_WIDTH] =
        row("device across the heel", width_between(device, -1.0, 1.3 * heel),
            less(shoe->heel_width_m, 2.0 * edge_room));
    out[HW_SHOE_FIT_HEEL_STACK] = row("under the heel, cover included",
                                      device->heel_stack_m + order->cover_thickness_m, stack);
}
