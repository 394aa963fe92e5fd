// SPDX-License-Identifier: GPL-3.0-or-later
//
// scan: from a surface in somebody's units and axes to one posed foot. It infers unit, side, pose,
// drops what is no foot (floor, strays), turns triangles outward, finds landmarks, and says what it
// did. What is not one foot is refused with a reason.
//
//     hw_scan_ask ask = hw_scan_ask_default();     // everything to be inferred
//     ask.loading = HW_LOADING_HANGING;
//     hw_scan_result scan = {0};
//     HW_TRY(hw_scan_foot(job, &raw, &ask, into, &scan));
//     if (scan.inferred_side != stated_side) ...   // make nothing
//
// Holes are filled and marked; a measure that rests on a filling is unknown. It does not smooth,
// and confirms nothing: a person does. The frame is that of foot.h.
#ifndef HW_SCAN_H
#define HW_SCAN_H

#include "compare.h" // IWYU pragma: export
#include "fit.h"     // IWYU pragma: export
#include "foot/foot.h"

/// Length units that scan files use. They never say which.
typedef enum hw_scan_unit {
    HW_SCAN_UNIT_UNKNOWN = 0,
    HW_SCAN_UNIT_M,
    HW_SCAN_UNIT_DM,
    HW_SCAN_UNIT_CM,
    HW_SCAN_UNIT_MM,
    HW_SCAN_UNIT_INCH,
} hw_scan_unit;

/// "m", "dm", "cm", "mm", "inch" or "unknown".
const char *hw_scan_unit_word(hw_scan_unit unit);

/// The unit of such a word, whatever the case; HW_SCAN_UNIT_UNKNOWN for any other.
hw_scan_unit hw_scan_unit_from_word(const char *word);

/// Metres in one unit; 0 for unknown.
double hw_scan_unit_m(hw_scan_unit unit);

/// What the surface was taken of.
typedef enum hw_scan_cast {
    HW_SCAN_CAST_UNKNOWN = 0,
    HW_SCAN_CAST_FOOT,     // the foot itself, or a positive cast
    HW_SCAN_CAST_NEGATIVE, // foam box or plaster negative, seen from where the foot was
} hw_scan_cast;

/// "unknown", "foot" or "negative".
const char *hw_scan_cast_word(hw_scan_cast cast);

/// A direction of the file's own axes.
typedef enum hw_scan_axis {
    HW_SCAN_AXIS_UNKNOWN = 0,
    HW_SCAN_AXIS_X_UP, // "+x"
    HW_SCAN_AXIS_X_DOWN,
    HW_SCAN_AXIS_Y_UP,
    HW_SCAN_AXIS_Y_DOWN,
    HW_SCAN_AXIS_Z_UP,
    HW_SCAN_AXIS_Z_DOWN,
} hw_scan_axis;

/// "unknown", "+x", "-x", "+y", "-y", "+z" or "-z"; and back, unknown for any other word.
const char *hw_scan_axis_word(hw_scan_axis axis);
/// Back from the word.
hw_scan_axis hw_scan_axis_from_word(const char *word);

/// How much of the foot there is.
typedef enum hw_scan_extent {
    HW_SCAN_EXTENT_UNKNOWN = 0,
    HW_SCAN_EXTENT_FULL, // with toes and instep, whatever there is of a leg
    HW_SCAN_EXTENT_SOLE, // of a foam box, a flat-bed: no toes' tops and no instep
} hw_scan_extent;

/// "unknown", "full" or "sole".
const char *hw_scan_extent_word(hw_scan_extent extent);

/// What is known before looking; the rest is inferred.
typedef struct hw_scan_ask {
    hw_scan_unit unit;     // HW_SCAN_UNIT_UNKNOWN: infer
    hw_side side;          // HW_SIDE_UNKNOWN: infer
    hw_loading loading;    // as stated; it cannot be inferred
    hw_maybe mass_kg;      // of the person: half of the weight presses the computed contact print
    hw_scan_cast cast;     // HW_SCAN_CAST_UNKNOWN: infer
    hw_scan_axis up, toes; // where they lie in the file, to some fifty degrees; unknown: infer
    hw_scan_extent extent; // HW_SCAN_EXTENT_UNKNOWN: infer
    bool keeps_all;        // nothing is taken for a floor or a stray
    bool leaves_holes;     // none is filled
    int cloud_points;      // of a file without triangles (hw_meshfile_facts); 0: it had some
    bool wants_spread;     // repeat the measures for hw_scan_result.spread; some tenths of a second
    hw_landmarks_by_hand by_hand; // landmarks a person has placed; on their skin
} hw_scan_ask;

/// Nothing said: everything is inferred, without the repetitions of wants_spread.
hw_scan_ask hw_scan_ask_default(void);

/// What was taken away or turned. Counts are of the file's triangles and points.
typedef struct hw_scan_removed {
    int stray_pieces;     // loose pieces beside the foot
    int stray_triangles;  // theirs
    int floor_triangles;  // of a floor or table the foot stands on
    int flat_triangles;   // without area
    int double_points;    // points at the place of another, now shared
    int turned_triangles; // turned over so that all face outward
    double area_m2;       // of strays and floor
} hw_scan_removed;

enum { HW_SCAN_WARNINGS_MAX = 12 };

/// How far measures would have come out differently: from repetitions with noise, another sampling
/// and another pose, seeded; for the contact print also with another lowering of the arch. It says
/// nothing of the scanner's scale, of how the foot was held, or of how well a definition fits a
/// person. How often its intervals held on perturbed feet: docs/repeatability.md. Where software
/// has cut a noisy scan finer they are too narrow: the cut hides the noise.
typedef struct hw_scan_spread {
    bool is_known;                       // asked for and computed
    int runs, lost;                      // repetitions, and those that found no stance
    double noise_m;                      // sd across the surface, seen on it; at least 0.2 mm
    hw_maybe half_width_95[HW_MEASURES]; // of a 95 % interval, in the measure's SI unit
} hw_scan_spread;

/// What the landmarks placed by hand have changed. The pose is that of the surface either way.
typedef struct hw_scan_by_hand {
    int count;                 // of such landmarks; at 0 the rest means nothing
    hw_landmarks landmarks;    // as they were found
    hw_foot_measures measures; // with those
} hw_scan_by_hand;

/// A posed foot and all that was inferred on the way. Confidences run from 0 to 1; they order
/// cases, they are no probabilities.
typedef struct hw_scan_result {
    hw_foot foot; // foot.side: the side asked for, else the inferred one
    hw_scan_unit unit;
    hw_scan_unit inferred_unit; // unknown when the size fits several
    double unit_confidence;
    bool unit_given;
    hw_side inferred_side; // kept beside a given side, so that callers can refuse a contradiction
    double side_confidence;
    bool side_given;
    hw_scan_axis up, toes; // the file's axes nearest to the foot's
    double up_confidence, toes_confidence;
    bool up_given, toes_given;
    bool is_sole_only; // no toes' tops and no instep: length and dorsum are unknown
    double extent_confidence;
    bool extent_given;
    bool looks_loaded;          // a flat sole: loaded, or closed by the scanner
    int triangle_count;         // of the file
    int open_edges;             // of the kept surface: holes and the cut at the top
    int holes_filled;           // up to 42 mm across, closed along the curvature around them
    int holes_left;             // wider, folded, or the cut at the top
    double filled_m2;           // area of the filling; those triangles are the surface's last
    int filled_from;            // the first of them
    hw_scan_cast inferred_cast; // a negative only of a sole; its shape is the foot's either way
    double cast_confidence;
    bool cast_given;
    hw_scan_removed removed;
    const char *warnings[HW_SCAN_WARNINGS_MAX]; // sentences, in the result's arena
    int warning_count;
    hw_scan_spread spread;
    hw_scan_by_hand by_hand;
} hw_scan_result;

/// Whether a measure is another one by the landmarks placed by hand.
bool hw_scan_is_by_hand(const hw_scan_result *scan, hw_measure which);

/// Makes a posed foot of a scan.
///
///   raw      as hw_meshfile_read gives it: file units, any axes, any pose; indices inside points
///   into     receives the surface and the warnings
///   fails    HW_BAD_INPUT not one foot: two feet, a whole body, another object, nearly no
///            triangles, or a size that is no foot's in the unit given; HW_NO_ANSWER unit or side
///            cannot be told and must be given (why: the candidates), or heel and ball carry no
///            steady plane; HW_NO_MEMORY; HW_CANCELLED; HW_BAD_INPUT also for a landmark by hand that
///            lies off the skin
///   cost     about 2 us a triangle and 0.05 s on one core; figures in docs/real-scans.md
///   source   landmarks at shares of foot length: docs/frames.md and foot.h; pose and side: ours
HW_MUST_USE hw_status hw_scan_foot(hw_job *job, const hw_mesh *raw, const hw_scan_ask *ask,
                                   hw_arena *into, hw_scan_result *out);

/// One or both feet of a file.
typedef struct hw_scan_pair {
    hw_scan_result feet[2]; // where two: left, then right
    int count;
} hw_scan_pair;

/// Like hw_scan_foot, but a file of two feet is split and both are returned, with a side asked for
/// only that one.
///
///   fails   as hw_scan_foot; HW_NO_ANSWER two feet that look of the same side
HW_MUST_USE hw_status hw_scan_feet(hw_job *job, const hw_mesh *raw, const hw_scan_ask *ask,
                                   hw_arena *into, hw_scan_pair *out);

#endif
