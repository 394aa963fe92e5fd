// SPDX-License-Identifier: GPL-3.0-or-later
// Landmarks placed by a person: on the skin, and in the order in which a foot has them.
#include "scan_internal.h"

// A landmark may lie in a hole, or a nudge off the skin; further off it belongs to another frame,
// to another unit or to another scan.
static const double off_skin_most = 0.015; // m

hw_status check_by_hand(hw_job *job, const hw_mesh *surface, const hw_landmarks_by_hand *hand,
                        bool is_sole_only, int *count)
{
    const hw_near *skin = NULL;
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    *count = 0;
    for (int i = 0; i < HW_LANDMARKS; i++) {
        if (!hand->is_given[i]) continue;
        const char *key = hw_landmark_key((hw_landmark)i);
        if (is_sole_only && (i == HW_LANDMARK_TOE_TIP || i == HW_LANDMARK_DORSUM))
            return hw_fail(job, HW_BAD_INPUT,
                           "landmark %s: only the sole was scanned, which does not have it", key);
        if (!skin) HW_TRY(hw_near_build(job, surface, tmp.arena, &skin));
        double off = hw_near_distance(skin, hand->at[i], NULL);
        if (!(off <= off_skin_most))
            return hw_fail(job, HW_BAD_INPUT,
                           "landmark %s lies %.0f mm off the skin, %.0f mm are accepted; it stands "
                           "in the foot frame in mm: to the toes, to the lateral side, up",
                           key, hw_mm_from_m(off), hw_mm_from_m(off_skin_most));
        ++*count;
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status check_order(hw_job *job, const hw_landmarks *at)
{
    const char *wrong = NULL;
    if (!(at->heel_back.x < at->mth1.x)) wrong = "the first metatarsal head lies behind the heel";
    if (at->complete && !(at->mth1.x < at->toe_tip.x))
        wrong = "the longest toe ends behind the first metatarsal head";
    if (!(at->mth1.y < at->mth5.y)) wrong = "the metatarsal heads have changed sides";
    if (!(at->heel_medial.y < at->heel_lateral.y))
        wrong = "the sides of the heel have changed places";
    if (!wrong) return HW_OK;
    return hw_fail(job, HW_BAD_INPUT, "landmarks placed by hand contradict each other: %s", wrong);
}

bool hw_scan_is_by_hand(const hw_scan_result *scan, hw_measure which)
{
    hw_maybe found = hw_foot_measure_of(&scan->by_hand.measures, which);
    hw_maybe now = hw_foot_measure_of(&scan->foot.measures, which);
    if (scan->by_hand.count == 0) return false;
    return now.known != found.known || (now.known && fabs(now.value - found.value) > 0.0);
}
