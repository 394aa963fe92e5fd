// SPDX-License-Identifier: GPL-3.0-or-later
// Plantar pressure: matrices of cells, one picture or a film of them.
#ifndef HW_GAIT_PRESSURE_H
#define HW_GAIT_PRESSURE_H

struct hw_gait_stance;

typedef enum hw_pressure_region {
    HW_PRESSURE_HEEL,     // rear third of the print without toes
    HW_PRESSURE_MIDFOOT,  // middle third
    HW_PRESSURE_FOREFOOT, // front third
    HW_PRESSURE_TOES,
    HW_PRESSURE_REGIONS,
} hw_pressure_region;

const char *
hw_pressure_region_word(hw_pressure_region region); // "heel", "midfoot", "forefoot", "toes"

/// Pascals of "kPa" or "N/cm2"; 0: no unit of pressure that is read.
double hw_pressure_unit(const char *word);

/// What a matrix file does not say, or says in a comment line only.
typedef struct hw_pressure_ask {
    double cell_m[2];   // of rows and of columns; 0: not said
    double Pa_per_unit; // 0: not said
    double frame_s;     // between the frames of a film; 0: not said
} hw_pressure_ask;

/// Rows run from the heel (row 0) to the toes.
typedef struct hw_pressure_map {
    int rows, columns, frames;
    double cell_m[2];
    double frame_s;   // 0: one picture, or not said
    const double *Pa; // frames x rows x columns; 0 where unloaded
} hw_pressure_map;

typedef struct hw_pressure_part {
    double area_m2, peak_Pa, mean_Pa; // mean over the loaded cells
    double force_N;
} hw_pressure_part;

typedef struct hw_pressure_measures {
    hw_pressure_part whole, part[HW_PRESSURE_REGIONS];
    double arch_index; // midfoot's area over that of the print without toes
    double length_m, breadth_m;
    int toe_row;                          // first row of the toes
    double pressure_row, pressure_column; // centre of pressure of the peak map, cells
} hw_pressure_measures;

/// Reads a matrix of numbers, cells parted by commas, semicolons, tabs or blanks; frames by an
/// empty line. A line that begins with # may say the cell ("cell 5 mm x 5 mm") and the unit
/// ("N/cm2", "kPa"). Negative cells are unloaded sensors.
///
///   fails   HW_BAD_FORMAT not a matrix, rows of different lengths, a cell that is no number; HW_BAD_INPUT cell size
///           or unit neither in the file nor said, or both and different
HW_MUST_USE hw_status hw_pressure_read(hw_job *job, hw_bytes bytes, const hw_pressure_ask *ask,
                                       hw_arena *into, hw_pressure_map *out);

/// Contact, peaks and means by region, arch index of the peak map (Cavanagh and Rodgers 1987: from
/// memory).
///
///   fails   HW_NO_ANSWER too few loaded cells to be a foot
HW_MUST_USE hw_status hw_pressure_measure(hw_job *job, const hw_pressure_map *map, hw_arena *into,
                                          hw_pressure_measures *out);

/// Vertical force and centre of pressure through the film's stance, for mech: the longest run of
/// frames loaded above 20 N, as of a force plate.
///
///   fails   HW_BAD_INPUT one picture only, no time between frames, mass out of range, no run as long as a step lasts
HW_MUST_USE hw_status hw_pressure_stance(hw_job *job, const hw_pressure_map *map, double mass_kg,
                                         hw_arena *into, struct hw_gait_stance *out);

#endif
