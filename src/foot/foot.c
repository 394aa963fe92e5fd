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

hw_foot_measures hw_foot_measure(const hw_landmarks *at)
{
    hw_foot_measures out = {0};
    out.ball_breadth_m = hw_known(at->mth5.y - at->mth1.y);
    out.heel_breadth_m = hw_known(at->heel_lateral.y - at->heel_medial.y);
    out.truncated_length_m = hw_known(at->mth1.x - at->heel_back.x);
    if (at->arch_apex_known) out.arch_apex_height_m = hw_known(at->arch_apex.z);
    if (at->complete) {
        out.foot_length_m = hw_known(at->toe_tip.x - at->heel_back.x);
        out.dorsum_height_m = hw_known(at->dorsum.z);
        out.arch_height_index = hw_known(at->dorsum.z / out.truncated_length_m.value);
    }
    return out;
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
