// SPDX-License-Identifier: GPL-3.0-or-later
// The table of landmarks: their keys, and where each stands in hw_landmarks.
#include "foot/foot.h"

static const char *const keys[HW_LANDMARKS] = {
    "heel_back",   "toe_tip",      "metatarsal_head_1", "metatarsal_head_5",
    "heel_medial", "heel_lateral", "arch_apex",         "dorsum",
};

const char *hw_landmark_key(hw_landmark which)
{
    HW_ASSERT(which >= 0 && which < HW_LANDMARKS);
    return keys[which];
}

hw_landmark hw_landmark_from_key(const char *key)
{
    int i = 0;
    while (i < HW_LANDMARKS && !hw_text_same(key, keys[i])) i++;
    return (hw_landmark)i;
}

hw_vec3 *hw_landmark_at(hw_landmarks *of, hw_landmark which)
{
    hw_vec3 *const places[HW_LANDMARKS] = {
        &of->heel_back,   &of->toe_tip,      &of->mth1,      &of->mth5,
        &of->heel_medial, &of->heel_lateral, &of->arch_apex, &of->dorsum,
    };
    HW_ASSERT(which >= 0 && which < HW_LANDMARKS);
    return places[which];
}

hw_vec3 hw_landmark_of(const hw_landmarks *of, hw_landmark which)
{
    hw_landmarks copy = *of;
    return *hw_landmark_at(&copy, which);
}

bool hw_landmark_known(const hw_landmarks *of, hw_landmark which)
{
    if (which == HW_LANDMARK_ARCH_APEX) return of->arch_apex_known;
    return of->complete || (which != HW_LANDMARK_TOE_TIP && which != HW_LANDMARK_DORSUM);
}
