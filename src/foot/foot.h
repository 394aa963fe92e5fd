// SPDX-License-Identifier: GPL-3.0-or-later
//
// foot: the posed foot. Its frame, landmarks, measures and sizes; what scan, orthosis and mech share.
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

/// How the foot was held while it was captured; part of every measure.
typedef enum hw_loading {
    HW_LOADING_UNKNOWN = 0,
    HW_LOADING_HANGING,  // no weight
    HW_LOADING_SITTING,  // partly loaded
    HW_LOADING_STANDING, // full or half weight
} hw_loading;

/// "unknown", "hanging", "sitting", "standing".
const char *hw_loading_word(hw_loading loading);

/// Landmarks on the skin, foot frame, m (y lateral: as of a left foot).
typedef struct hw_landmarks {
    hw_vec3 heel_back;   // most posterior point of the heel
    hw_vec3 toe_tip;     // tip of the longest toe
    hw_vec3 mth1;        // most medial point at the first metatarsal head
    hw_vec3 mth5;        // most lateral point at the fifth metatarsal head
    hw_vec3 heel_medial; // heel breadth points
    hw_vec3 heel_lateral;
    hw_vec3 arch_apex;    // highest point of the sole along the medial arch
    hw_vec3 dorsum;       // highest point of the instep at half foot length
    bool arch_apex_known; // false on a flat, loaded or closed sole
    bool complete;        // false for a sole-only scan: toe_tip and dorsum mean nothing
} hw_landmarks;

/// Measures with the standard's definition beside each; all m but the index. A measure that the
/// scan cannot give is unknown.
typedef struct hw_foot_measures {
    hw_maybe foot_length_m;      // heel back to longest toe along +X; ISO 7250-1, ISO 9407
    hw_maybe truncated_length_m; // heel back to first metatarsal head along +X; Williams 2000
    hw_maybe ball_breadth_m;     // mth1 to mth5 across (y); ISO 7250-1 foot breadth
    hw_maybe heel_breadth_m;     // heel_medial to heel_lateral across (y)
    hw_maybe dorsum_height_m;    // top of the instep at half foot length above the support plane
    hw_maybe arch_height_index;  // dorsum height / truncated length; Williams 2000
    hw_maybe arch_apex_height_m; // arch apex above the support plane
} hw_foot_measures;

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

/// Measures that follow from landmarks alone, by the definitions above.
hw_foot_measures hw_foot_measure(const hw_landmarks *landmarks);

/// The pose that turns a design in the foot frame into its own side's shape: identity for a left
/// foot, y -> -y for a right one. The one place where mirroring on exit happens.
hw_pose hw_foot_exit(hw_side side);

/// Mondopoint, ISO 9407: length and breadth in whole millimetres, length on the 5 mm step at or
/// above the foot.
typedef struct hw_mondopoint {
    int length;  // mm; the standard writes it without a unit: 265/102
    int breadth; // mm; 0 where the breadth is unknown
} hw_mondopoint;

/// Needs a known foot length.
hw_mondopoint hw_foot_mondopoint(const hw_foot_measures *measures);

#endif
