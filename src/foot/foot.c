// SPDX-License-Identifier: GPL-3.0-or-later
#include "foot/foot.h"

const char *hw_loading_word(hw_loading loading)
{
    switch (loading) {
    case HW_LOADING_HANGING:
        return "hanging";
    case HW_LOADING_SITTING:
        return "sitting";
    case HW_LOADING_STANDING:
        return "standing";
    case HW_LOADING_UNKNOWN:
        break;
    }
    return "unknown";
}

hw_pose hw_foot_exit(hw_side side)
{
    hw_pose pose = hw_pose_identity();
    if (side == HW_SIDE_RIGHT) pose.rotation[4] = -1.0;
    return pose;
}

hw_mondopoint hw_foot_mondopoint(const hw_foot_measures *measures)
{
    HW_ASSERT(measures->foot_length_m.known);
    double millimetres = hw_mm_from_m(measures->foot_length_m.value);
    hw_mondopoint size = {.length = 5 * (int)ceil((millimetres - 1e-6) / 5.0)};
    if (measures->ball_breadth_m.known)
        size.breadth = (int)lround(hw_mm_from_m(measures->ball_breadth_m.value));
    return size;
}

static double nearest_half(double x)
{
    return 0.5 * round(2.0 * x);
}

hw_shoe_sizes hw_foot_shoe_sizes(const hw_foot_measures *measures)
{
    HW_ASSERT(measures->foot_length_m.known);
    const double paris_point = 20.0 / 3.0, third_inch = 25.4 / 3.0; // mm
    double millimetres = hw_mm_from_m(measures->foot_length_m.value);
    double uk = millimetres / third_inch - 23.0;
    return (hw_shoe_sizes){nearest_half(millimetres / paris_point + 2.0), nearest_half(uk),
                           nearest_half(uk + 1.0), nearest_half(uk + 2.0)};
}
