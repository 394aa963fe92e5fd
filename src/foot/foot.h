// SPDX-License-Identifier: GPL-3.0-or-later
//
// foot: the posed foot. Its frame, landmarks, measures and sizes; what scan, orthosis and mech
// share.
//
// The foot frame (docs/frames.md): right-handed, metres; origin on the support plane under the most
// posterior point of the heel; +X towards the toes along the line from the middle of the heel to
// the second metatarsal head; +Z up; +Y lateral. Every foot is held as a LEFT foot: a right one is
// mirrored once on entry (y -> -y in the frame) and once on exit, and its side travels with it.
//
//     hw_foot foot = {0};
//     HW_TRY(hw_scan_foot(job, &raw, &ask, into, &foot));      // scan.h
//     double length_m = foot.measures.foot_length_m.value;
//
// It reads no files and infers nothing from a scan: that is scan's work.
#ifndef HW_FOOT_H
#define HW_FOOT_H

#include "geom/geom.h"
#include "measures.h" // IWYU pragma: export
#include "norms.h"    // IWYU pragma: export
#include "print.h"    // IWYU pragma: export

/// A posed foot.
typedef struct hw_foot {
    hw_side side;       // whose foot it is; the points are always those of a left foot
    hw_loading loading; // as stated by the clinician
    hw_mesh surface;    // foot frame
    hw_landmarks landmarks;
    hw_foot_measures measures;
    hw_pose from_scan; // scan file coordinates (file units, file axes) -> foot frame; mirrors for
                       // a right foot. Its inverse puts a design back onto the scan.
} hw_foot;

/// The pose that turns a design in the foot frame into its own side's shape: identity for a left
/// foot, y -> -y for a right one. The one place where mirroring on exit happens.
hw_pose hw_foot_exit(hw_side side);

#endif
