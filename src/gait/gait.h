// SPDX-License-Identifier: GPL-3.0-or-later
//
// gait: a recorded walk: markers and force plates out of C3D and TRC files and plain tables, one
// stance of it, the arch through that stance.
//
//     hw_gait_record record = {0};
//     HW_TRY(hw_gait_read(job, bytes, &ask, into, &record));       // from outside: in the sandboxed child
//     HW_TRY(hw_gait_find_stance(job, &record, &walker, &stance));
//     HW_TRY(hw_gait_arch(job, &record, &stance, &walker.names, &arch));
//
// The module mech takes hw_gait_stance in place of the norm's ground forces. It finds no markers by
// their place: which marker is where on the foot, a person says.
#ifndef HW_GAIT_H
#define HW_GAIT_H

#include "num/num.h"

enum { HW_GAIT_MARKERS = 512, HW_GAIT_PLATES = 16, HW_GAIT_NAME = 40, HW_GAIT_INSTANTS = 33 };

/// One force plate: force of the ground on the foot and where it acts.
typedef struct hw_gait_plate {
    const hw_vec3 *force;    // N, one a sample
    const hw_vec3 *pressure; // centre of pressure, m; counts only where the plate is loaded
} hw_gait_plate;

/// What was recorded.
typedef struct hw_gait_record {
    char kind[HW_GAIT_NAME]; // "C3D, Intel, float"
    double rate_Hz;
    int frame_count, marker_count, first_frame;
    const char (*names)[HW_GAIT_NAME]; // of the markers
    const hw_vec3 *points;             // frame_count x marker_count, m
    const bool *is_seen;               // likewise: false where the marker was out of sight
    double force_rate_Hz;
    int sample_count, plate_count;
    hw_gait_plate plates[HW_GAIT_PLATES];
    const char *note; // static text, what was left out; NULL: nothing
} hw_gait_record;

/// Metres of "mm", "cm" or "m"; 0: no unit of length that is read.
double hw_gait_unit(const char *word);

/// What a file does not say.
typedef struct hw_gait_ask {
    double m_per_unit; // of a table that names no unit of length; 0: not said
} hw_gait_ask;

/// Reads C3D (any of its six encodings), TRC, a table of force plates ("[Force Data]"), or a table
/// whose columns are named NAMEx NAMEy NAMEz, with Fx Fy Fz and COPx COPy COPz for one plate.
///
///   fails   HW_BAD_FORMAT what is wrong and where; HW_BAD_INPUT a unit that must be said; HW_NO_MEMORY
///   source  the public C3D specification (c3d.org, user guide); plates of type 2 only
HW_MUST_USE hw_status hw_gait_read(hw_job *job, hw_bytes bytes, const hw_gait_ask *ask,
                                   hw_arena *into, hw_gait_record *out);

/// Markers of one file and plates of another, of one trial.
///
///   fails   HW_BAD_INPUT neither has what is wanted of it, or their durations differ by more than 5 %
HW_MUST_USE hw_status hw_gait_join(hw_job *job, const hw_gait_record *markers,
                                   const hw_gait_record *plates, hw_gait_record *out);

/// The record as plain bytes, and back: what crosses from the sandboxed child.
HW_MUST_USE hw_status hw_gait_pack(hw_job *job, const hw_gait_record *record, hw_arena *into,
                                   hw_bytes *out);
/// Back from those bytes, every count checked against what is there.
HW_MUST_USE hw_status hw_gait_unpack(hw_job *job, hw_bytes bytes, hw_arena *into,
                                     hw_gait_record *out);
/// Whether the bytes are such a pack, by what they begin with.
bool hw_gait_is_packed(hw_bytes bytes);

/// The marker of this name, letters' case ignored; -1: none.
int hw_gait_marker(const hw_gait_record *record, const char *name);

/// Which markers stand where on the foot; NULL where there is none.
typedef struct hw_gait_names {
    const char *heel;   // back of the heel bone
    const char *arch;   // navicular, or what is taken for the arch's height
    const char *head_1; // first metatarsal head
    const char *head_5; // fifth; NULL: height above the line heel to first head
} hw_gait_names;

/// Who walked, on which plate.
typedef struct hw_gait_walker {
    double mass_kg;
    double foot_length_m; // of the centre of pressure's scale
    int plate;            // 0 the first
    int step;             // which of the plate's stances, 0 the first
    hw_gait_names names;  // heel and first head place the centre of pressure on the foot
} hw_gait_walker;

/// Ground forces through one stance, at HW_GAIT_INSTANTS even instants of 0..100 %. What was not
/// measured is not known and stays the norm's in mech.
typedef struct hw_gait_stance {
    bool has_force, has_fore_aft, has_pressure;
    double force_z[HW_GAIT_INSTANTS];    // up, body weights
    double force_x[HW_GAIT_INSTANTS];    // forward, body weights
    double pressure_x[HW_GAIT_INSTANTS]; // from the back of the heel, foot lengths
    double begin_s, end_s;               // in the record
    double impulse_bw_s;                 // vertical
} hw_gait_stance;

/// A stance of one plate: vertical force above 20 N for 0.25 to 2 s.
///
///   fails   HW_BAD_INPUT no such plate or step, mass or length out of range, markers that are not there;
///           HW_NO_ANSWER the plate is never loaded so
HW_MUST_USE hw_status hw_gait_find_stance(hw_job *job, const hw_gait_record *record,
                                          const hw_gait_walker *walker, hw_gait_stance *out);

/// One of the tables between its instants, at 0..100 % of stance.
double hw_gait_at(const double table[HW_GAIT_INSTANTS], double percent);

/// The arch's height through one stance.
typedef struct hw_gait_arch_course {
    double height_m[HW_GAIT_INSTANTS]; // of the arch marker above heel and heads
    double highest_m, lowest_m;
    double drop_m;             // from first contact to the lowest
    double lowering_speed_m_s; // fastest, over a sixteenth of the stance
    double lowest_percent;
} hw_gait_arch_course;

/// Height of the arch marker above the plane of heel and both heads (or the line of heel and first
/// head), from begin_s to end_s.
///
///   fails   HW_BAD_INPUT a name that is no marker; HW_NO_ANSWER a marker unseen for more than a tenth of the stance
HW_MUST_USE hw_status hw_gait_arch(hw_job *job, const hw_gait_record *record,
                                   const hw_gait_stance *stance, const hw_gait_names *names,
                                   hw_gait_arch_course *out);

#include "pressure.h" // IWYU pragma: export

#endif
