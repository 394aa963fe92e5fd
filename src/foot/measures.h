// SPDX-License-Identifier: GPL-3.0-or-later
// Landmarks and measures of a posed foot: what each is, by whose definition, and why it is unknown
// where it is. Part of foot.h.
#ifndef HW_FOOT_MEASURES_H
#define HW_FOOT_MEASURES_H

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

/// Every landmark, in the order in which they are shown.
typedef enum hw_landmark {
    HW_LANDMARK_HEEL_BACK = 0,
    HW_LANDMARK_TOE_TIP,
    HW_LANDMARK_MTH1,
    HW_LANDMARK_MTH5,
    HW_LANDMARK_HEEL_MEDIAL,
    HW_LANDMARK_HEEL_LATERAL,
    HW_LANDMARK_ARCH_APEX,
    HW_LANDMARK_DORSUM,
    HW_LANDMARKS,
} hw_landmark;

/// Landmarks on the skin, foot frame, m (y lateral: as of a left foot).
typedef struct hw_landmarks {
    hw_vec3 heel_back;   // most posterior point of the heel
    hw_vec3 toe_tip;     // tip of the longest toe
    hw_vec3 mth1;        // most medial point at the first metatarsal head
    hw_vec3 mth5;        // most lateral point at the fifth metatarsal head
    hw_vec3 heel_medial; // heel breadth points
    hw_vec3 heel_lateral;
    hw_vec3 arch_apex;             // highest point of the sole along the medial arch
    hw_vec3 dorsum;                // highest point of the instep at half foot length
    bool arch_apex_known;          // false on a flat, loaded or closed sole
    bool complete;                 // false for a sole-only scan: toe_tip and dorsum mean nothing
    bool is_flat_sole;             // no arch to be found: no contact print can be computed
    bool is_by_hand[HW_LANDMARKS]; // placed by a person, not found
} hw_landmarks;

/// Landmarks that a person has placed, in the same frame; the others are found.
typedef struct hw_landmarks_by_hand {
    bool is_given[HW_LANDMARKS];
    hw_vec3 at[HW_LANDMARKS]; // m
} hw_landmarks_by_hand;

/// "heel_back", "metatarsal_head_1", ...: its key in files, results and on the command line.
const char *hw_landmark_key(hw_landmark which);

/// The landmark of such a key; HW_LANDMARKS for any other word.
hw_landmark hw_landmark_from_key(const char *key);

/// The landmark by its number, whether it means anything on this scan, and its place for writing.
hw_vec3 hw_landmark_of(const hw_landmarks *landmarks, hw_landmark which);
/// Whether it means anything on this scan.
bool hw_landmark_known(const hw_landmarks *landmarks, hw_landmark which);
/// Its place, for writing.
hw_vec3 *hw_landmark_at(hw_landmarks *landmarks, hw_landmark which);

/// Every measure, in the order in which they are shown.
typedef enum hw_measure {
    HW_MEASURE_FOOT_LENGTH = 0,
    HW_MEASURE_TRUNCATED_LENGTH,
    HW_MEASURE_BALL_BREADTH,
    HW_MEASURE_HEEL_BREADTH,
    HW_MEASURE_BALL_GIRTH,
    HW_MEASURE_INSTEP_GIRTH,
    HW_MEASURE_DORSUM_HEIGHT,
    HW_MEASURE_ARCH_HEIGHT_INDEX,
    HW_MEASURE_ARCH_APEX_HEIGHT,
    HW_MEASURE_NAVICULAR_HEIGHT,
    HW_MEASURE_ARCH_INDEX,
    HW_MEASURE_STAHELI_INDEX,
    HW_MEASURE_CHIPPAUX_SMIRAK_INDEX,
    HW_MEASURE_HEEL_BISECTION,
    HW_MEASURE_FOREFOOT_TO_REARFOOT,
    HW_MEASURE_HALLUX_ANGLE,
    HW_MEASURE_PLANTAR_AREA,
    HW_MEASURE_VOLUME_BELOW_ANKLE,
    HW_MEASURES,
} hw_measure;

/// What a measure's number is: the edges write mm, degrees, cm2 and cm3.
typedef enum hw_measure_kind {
    HW_MEASURE_IS_LENGTH, // m
    HW_MEASURE_IS_INDEX,  // no unit
    HW_MEASURE_IS_ANGLE,  // rad
    HW_MEASURE_IS_AREA,   // m2
    HW_MEASURE_IS_VOLUME, // m3
} hw_measure_kind;

/// One row of the table of measures.
typedef struct hw_measure_row {
    const char *key;  // without unit: "ball_girth"
    const char *name; // for people
    hw_measure_kind kind;
    bool is_computed;       // from the contact print: a model, not a distance on the scan
    const char *definition; // one sentence
    const char *source;
} hw_measure_row;

/// HW_MEASURES rows.
const hw_measure_row *hw_measure_rows(void);

/// All measures, SI. One that the scan cannot give is unknown, with the reason in `why`.
typedef struct hw_foot_measures {
    hw_maybe foot_length_m;         // heel back to longest toe along +X; ISO 7250-1, ISO 9407
    hw_maybe truncated_length_m;    // heel back to first metatarsal head along +X; Williams 2000
    hw_maybe ball_breadth_m;        // mth1 to mth5 across (y); ISO 7250-1 foot breadth
    hw_maybe heel_breadth_m;        // heel_medial to heel_lateral across (y)
    hw_maybe dorsum_height_m;       // top of the instep at half foot length above the support plane
    hw_maybe arch_height_index;     // dorsum height / truncated length; Williams 2000
    hw_maybe arch_apex_height_m;    // arch apex above the support plane
    hw_maybe ball_girth_m;          // round both metatarsal heads, hollows bridged as by a tape
    hw_maybe instep_girth_m;        // across the axis at half foot length, hollows bridged
    hw_maybe navicular_height_m;    // most medial skin above the arch at 0.41 of foot length
    hw_maybe arch_index;            // middle third over whole contact area, toes left out
    hw_maybe staheli_index;         // narrowest midfoot over widest heel contact
    hw_maybe chippaux_smirak_index; // narrowest midfoot over widest forefoot contact
    hw_maybe heel_bisection_rad;    // + everted (top leans medially)
    hw_maybe forefoot_angle_rad;    // forefoot to rearfoot, + inverted (varus)
    hw_maybe hallux_angle_rad;      // + turned to the lateral side (valgus)
    hw_maybe plantar_area_m2;       // the sole seen from below
    hw_maybe volume_m3;             // below the ankle's height
    const char *why[HW_MEASURES];   // static text; NULL where known or where nothing was asked
} hw_foot_measures;

/// The measure by its number, and its place for writing.
hw_maybe hw_foot_measure_of(const hw_foot_measures *measures, hw_measure which);
/// Its place, for writing.
hw_maybe *hw_foot_measure_at(hw_foot_measures *measures, hw_measure which);

/// Measures that follow from landmarks alone, by the definitions above; the others stay unknown.
hw_foot_measures hw_foot_measure(const hw_landmarks *landmarks);

/// What is known of the person for the contact print.
typedef struct hw_foot_load {
    hw_loading loading;
    hw_maybe mass_kg;         // unknown: HW_FOOT_PRINT_FORCE stands for half of the weight
    hw_maybe arch_lowering_m; // at the navicular; set by the repetitions of the spread alone, as no
                              // finding says it of this scan; unknown: HW_FOOT_ARCH_LOWERING
} hw_foot_load;

/// All measures of a posed surface.
///
///   surface  foot frame, m; indices inside points
///   out      the landmarks' measures and those of sections, print, angles, area and volume
///   fails    HW_NO_MEMORY
///   cost     about 0.2 us a triangle and 3 ms for the contact print
HW_MUST_USE hw_status hw_foot_measure_surface(hw_job *job, const hw_mesh *surface,
                                              const hw_landmarks *landmarks,
                                              const hw_foot_load *load, hw_foot_measures *out);

/// Mondopoint, ISO 9407: length and breadth in whole millimetres, length on the 5 mm step at or
/// above the foot.
typedef struct hw_mondopoint {
    int length;  // mm; the standard writes it without a unit: 265/102
    int breadth; // mm; 0 where the breadth is unknown
} hw_mondopoint;

/// Needs a known foot length.
hw_mondopoint hw_foot_mondopoint(const hw_foot_measures *measures);

/// Shoe sizes from foot length: approximations, because shoe sizes are made on lasts and makers
/// differ. To the nearest half; EU to the nearest half as well.
///
///   source  facts of standards 4: EUR = FL / (20/3) + 2; UK = 3 FL / 25.4 - 23; US men one more,
///           US women two more than UK (FL in mm). Each holds an allowance of about 13 mm.
typedef struct hw_shoe_sizes {
    double eu, uk, us_men, us_women;
} hw_shoe_sizes;

/// Needs a known foot length.
hw_shoe_sizes hw_foot_shoe_sizes(const hw_foot_measures *measures);

#endif
