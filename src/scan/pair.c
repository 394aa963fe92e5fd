// SPDX-License-Identifier: GPL-3.0-or-later
// Two feet in one file.
#include "scan_internal.h"

static bool has_landmarks(const hw_scan_ask *ask)
{
    bool has = false;
    for (int i = 0; i < HW_LANDMARKS; i++) has = has || ask->by_hand.is_given[i];
    return has;
}

static hw_status scan_both(hw_job *job, const hw_mesh parts[2], const hw_scan_ask *ask,
                           hw_arena *into, hw_scan_pair *out)
{
    hw_scan_ask each = *ask;
    hw_scan_pair found = {.count = 2};
    each.side = HW_SIDE_UNKNOWN;
    each.by_hand = (hw_landmarks_by_hand){0}; // one foot's
    hw_scan_result got[2] = {0};
    for (int i = 0; i < 2; i++) HW_TRY(hw_scan_foot(job, &parts[i], &each, into, &got[i]));
    if (got[0].foot.side == got[1].foot.side)
        return hw_fail(job, HW_NO_ANSWER,
                       "the scan shows two feet, and both look like a %s one; cut out one foot and "
                       "state its side",
                       hw_side_word(got[0].foot.side));
    int left = got[0].foot.side == HW_SIDE_LEFT ? 0 : 1;
    found.feet[0] = got[left];
    found.feet[1] = got[1 - left];
    if (ask->side == HW_SIDE_UNKNOWN && has_landmarks(ask))
        return hw_fail(
            job, HW_BAD_INPUT,
            "the scan shows two feet; with landmarks by hand, state which side they are of");
    if (ask->side != HW_SIDE_UNKNOWN) {
        int asked = ask->side == HW_SIDE_LEFT ? left : 1 - left;
        found.count = 1;
        HW_TRY(hw_scan_foot(job, &parts[asked], ask, into, &found.feet[0]));
    }
    *out = found;
    return HW_OK;
}

hw_status hw_scan_feet(hw_job *job, const hw_mesh *raw, const hw_scan_ask *ask, hw_arena *into,
                       hw_scan_pair *out)
{
    hw_scan_pair one = {.count = 1};
    hw_status status = hw_scan_foot(job, raw, ask, into, &one.feet[0]);
    if (status == HW_OK) *out = one;
    if (status != HW_BAD_INPUT) return status;
    hw_scratch tmp = hw_scratch_begin(job, into);
    const hw_job before = *job; // its sentence, should there not be two either
    hw_mesh parts[2] = {0};
    int count = 0;
    HW_TRY(split_surfaces(job, raw, tmp.arena, parts, &count));
    if (count == 2) status = scan_both(job, parts, ask, into, out);
    if (status == HW_BAD_INPUT) *job = before; // two of something, but not two feet
    hw_scratch_end(tmp);
    return status;
}
