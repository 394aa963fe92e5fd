// SPDX-License-Identifier: GPL-3.0-or-later
// How the device bears the foot: where it is pressed, how far it gives, how hard it is stressed.
// Included by orthosis.h.
//
// The shell is a sheet of quadratic bricks (fem) of the device's own shape. It stands on a smooth
// floor that it may lift from, held softly by the shoe around the heel. Above it is the foot's soft
// tissue, which presses and never pulls, and behind the tissue bone, whose sink is a blend of four
// pieces' (heel, medial arch, lateral border, forefoot edge), each under its part of the weight.
// Loads and tissue are proposals of docs/press.md with wide bands; the numbers compare designs.
// They are not what this patient will feel, and never a reason to thicken a shell by themselves.
#ifndef HW_ORTHOSIS_PRESS_H
#define HW_ORTHOSIS_PRESS_H

#include "foot/foot.h"

typedef enum hw_press_region {
    HW_PRESS_HEEL = 0,
    HW_PRESS_ARCH,    // medial
    HW_PRESS_LATERAL, // border
    HW_PRESS_EDGE,    // the forefoot edge of the shell
    HW_PRESS_REGIONS,
} hw_press_region;

/// "heel", "medial arch", "lateral border", "forefoot edge".
const char *hw_press_region_word(hw_press_region region);

typedef enum hw_press_moment {
    HW_PRESS_STANDING = 0, // at ease on both feet
    HW_PRESS_MIDSTANCE,    // of a walking step: the shell's hardest moment
    HW_PRESS_PUSHOFF,      // heel off the ground, held down by the shoe
    HW_PRESS_MOMENTS,
} hw_press_moment;

/// "standing", "mid-stance", "push-off".
const char *hw_press_moment_word(hw_press_moment moment);

/// What the tissue of a region bears, Pa. 0: no such limit is known.
typedef struct hw_press_limit {
    double mean_low, mean_high; // mean pressure; the low end is the one that is held
    double peak_low, peak_high;
    const char *source;
} hw_press_limit;

/// The limits of a region, with their source.
hw_press_limit hw_press_limit_of(hw_press_region region);

typedef enum hw_press_effort {
    HW_PRESS_PREVIEW = 0,  // 30 x 10 bricks, small rotations, mid-stance only
    HW_PRESS_FINAL,        // 60 x 15 bricks, large rotations, all three moments
    HW_PRESS_FINAL_STANCE, // as the final, mid-stance only
} hw_press_effort;

typedef struct hw_press_ask {
    double mass_kg; // 20..250
    double young;   // of the shell, Pa; 0: of the material, short-term at room temperature
    hw_press_effort effort;
    double arch_bw; // borne by the arch in mid-stance, body weights, 0.01..1; 0: docs/press.md's
} hw_press_ask;

typedef struct hw_press_part {
    double load_N;     // that the foot's piece puts on, down
    double borne_N;    // what presses within the region, down
    double contact_m2; // of the top that is pressed there
    double mean_Pa;    // over the contact
    double peak_Pa;    // greatest mean over 1 cm2, wherever in the region it lies
    bool over_mean;    // over the low end of its limit
    bool over_peak;
} hw_press_part;

/// One moment.
typedef struct hw_press_answer {
    bool is_solved; // only the final solves other moments than mid-stance
    hw_press_part part[HW_PRESS_REGIONS];
    double arch_sink_m;    // most that the top goes down under the medial arch
    double arch_N_per_m;   // load on the medial arch over that sink
    double tissue_squeeze; // of the arch's soft tissue, part of its thickness, where most
    double von_mises_Pa;   // greatest stress of the shell
    hw_vec3 von_mises_at;  // there, foot frame
    double *pressure_Pa;   // top grid, as hw_orthosis.top
    double *sink_m;        // top grid, down
    double *stress_Pa;     // top grid: von Mises, the greater of top and bottom
    int iterations;
    double residual; // force out of balance, part of the load
} hw_press_answer;

enum { HW_PRESS_PATCHES = 4, HW_PRESS_CAUTIONS = 8 };

typedef struct hw_press {
    hw_press_answer at[HW_PRESS_MOMENTS];
    double young; // that was used, Pa
    double poisson;
    double
        patch_N_per_m[HW_PRESS_PATCHES]; // a quarter of the arch's load in mid-stance over the sink
                                         // of the top at each patch of mech's shell
    double shell_N_per_m;                // of their mean sink: for hw_mech_change.shell_N_per_m
    hw_band fatigue; // greatest mid-stance stress over what the material bears a million times;
                     // > 1: over it. Not calibrated on returned devices.
    const char *cautions[HW_PRESS_CAUTIONS]; // static text
    int caution_count;
} hw_press;

#endif
