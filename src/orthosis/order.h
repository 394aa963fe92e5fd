// SPDX-License-Identifier: GPL-3.0-or-later
// What the clinician asks of the device, by the trade's terms. Included by orthosis.h.
//
// The numbers of an order are the rows of one table, hw_order_rows: what a case file, a slider, an
// order sheet and a search call them and between what they lie. Ranges: common practice, but where
// a row names more.
#ifndef HW_ORTHOSIS_ORDER_H
#define HW_ORTHOSIS_ORDER_H

#include "foot/foot.h"

typedef enum hw_orthosis_length {
    HW_ORTHOSIS_THREE_QUARTER = 0, // ends behind the metatarsal heads
    HW_ORTHOSIS_HEEL_CUP,          // ends behind the arch
    HW_ORTHOSIS_SULCUS,            // to the toes' roots: soft blocks; of a hard shell, its cover
    HW_ORTHOSIS_FULL,              // to the toes' tips, likewise
    HW_ORTHOSIS_LENGTHS,
} hw_orthosis_length;

typedef enum hw_shell_material {
    HW_SHELL_POLYPROPYLENE = 0,
    HW_SHELL_PA12,
    HW_SHELL_CARBON,
    HW_SHELL_EVA,
    HW_SHELL_CORK,
    HW_SHELL_TPU,
    HW_SHELL_MATERIALS,
} hw_shell_material;

/// What is known of a material: the middle is computed with, low and high are its uncertainty.
typedef struct hw_shell_row {
    const char *word;                    // "polypropylene", "PA12", ...
    double young, young_low, young_high; // Pa; short-term at room temperature
    double poisson;
    double density;                   // kg/m3
    double yields;                    // von Mises, Pa, the low end of what is stated; 0: not known
    double endures_low, endures_high; // von Mises, Pa, at 10^6..10^7 loadings; 0: not known
    double thinnest, thickest, usual; // of a shell, m
    bool is_block;                    // filled down to a flat base, its rim feathered
    bool is_soft;                     // may lie under the heads
    const char *source;
} hw_shell_row;

/// Its row: moduli, density, ranges, with their sources.
const hw_shell_row *hw_shell_row_of(hw_shell_material material);

/// As a case file writes it.
const char *hw_shell_material_word(hw_shell_material material);
/// kg/m3.
double hw_shell_material_density(hw_shell_material material);

typedef enum hw_met_pad {
    HW_MET_NONE = 0,
    HW_MET_DOME, // behind the second to fourth heads
    HW_MET_BAR,  // across, behind all heads
    HW_MET_PADS,
} hw_met_pad;

typedef enum hw_top_cover {
    HW_COVER_NONE = 0,
    HW_COVER_EVA,
    HW_COVER_FOAM,
    HW_COVER_LEATHER,
    HW_COVER_MICROFIBRE,
    HW_COVERS,
} hw_top_cover;

const char *hw_orthosis_length_word(hw_orthosis_length length); // "three-quarter", "heel cup", ...
const char *hw_met_pad_word(hw_met_pad pad);                    // "none", "dome", "bar"
const char *hw_top_cover_word(hw_top_cover cover);              // "none", "EVA", "PU foam", ...

/// The shoe it goes into. What is not known is not held against the device.
typedef struct hw_orthosis_shoe {
    hw_maybe inner_length_m;
    hw_maybe inner_width_m; // of its insole at the ball
    hw_maybe heel_width_m;  // of its insole at the heel
    hw_maybe pitch_m;       // heel above forefoot
    hw_maybe toe_spring_m;  // tip of its sole above the floor
    bool is_dress;          // takes 4 mm under the heel; a laced shoe 8
} hw_orthosis_shoe;

typedef struct hw_orthosis_order {
    hw_orthosis_length length;
    hw_shell_material material;
    hw_loading loading;      // of the capture these values were chosen for; must be the foot's
    hw_met_pad met_pad;      // with met_height_m
    hw_top_cover cover;      // with cover_thickness_m; glued on, no part of the solid
    bool rearfoot_intrinsic; // the post tilts the cup itself; else a flat base under it
    bool forefoot_intrinsic; // the post tilts the distal part (balancing); else a base under it
    bool balances_heel;      // tilts the cup by the measured heel bisection, to the vertical
    bool recess_is_plugged;  // the recess is filled with soft material
    bool is_embossed;        // side and code on the underside: hw_orthosis_emboss
    bool cup_is_by_hand;     // its depth was stated, no default: goes with arch_height_m
    double shell_thickness_m;
    double heel_cup_depth_m;   // lowest point of the heel to the crest of the rim
    double arch_fill_m;        // lowers the device's arch below the foot's
    double heel_expansion_m;   // on each side and behind: the fat pad spreads under load
    double border_expansion_m; // along the lateral border, half of it medially
    double rearfoot_post_rad;  // varus +, valgus -; 0: no post
    double forefoot_post_rad;  // varus + (medial side thicker), valgus -; 0: none
    double heel_raise_m;       // under the heel; the base stays level with the distal edge
    double skive_depth_m;      // medial heel skive, its plane 15 degrees varus (Kirby 1992)
    double groove_depth_m;     // along this foot's fascia, from heel to first head
    double groove_width_m;
    double recess_depth_m; // round, under the tender point
    double recess_width_m;
    double tender_x_m;       // tender point from the back of the heel
    double tender_y_m;       // from the heel's middle, lateral +
    double met_height_m;     // of dome or bar
    double medial_flange_m;  // height of the flange above the plain edge, along the arch
    double lateral_flange_m; // likewise on the lateral border
    double ray_cut_m;        // the distal edge under the first ray, so far back
    double cover_thickness_m;
    double distal_gap_m;  // rim of the distal edge behind the metatarsal heads
    double arch_height_m; // by hand, of a sole whose arch the scan does not show; 0: as scanned
    hw_orthosis_shoe shoe;
} hw_orthosis_order;

/// The numbers of an order.
typedef enum hw_order_term {
    HW_TERM_THICKNESS = 0,
    HW_TERM_HEEL_CUP,
    HW_TERM_ARCH_FILL,
    HW_TERM_HEEL_EXPANSION,
    HW_TERM_BORDER_EXPANSION,
    HW_TERM_REARFOOT_POST,
    HW_TERM_FOREFOOT_POST,
    HW_TERM_HEEL_RAISE,
    HW_TERM_SKIVE,
    HW_TERM_GROOVE_DEPTH,
    HW_TERM_GROOVE_WIDTH,
    HW_TERM_RECESS_DEPTH,
    HW_TERM_RECESS_WIDTH,
    HW_TERM_TENDER_X,
    HW_TERM_TENDER_Y,
    HW_TERM_MET_HEIGHT,
    HW_TERM_MEDIAL_FLANGE,
    HW_TERM_LATERAL_FLANGE,
    HW_TERM_RAY_CUT,
    HW_TERM_COVER,
    HW_TERM_DISTAL_GAP,
    HW_TERM_ARCH_HEIGHT,
    HW_TERMS,
} hw_order_term;

typedef struct hw_order_row {
    const char *key;  // without unit: "heel_cup"
    const char *name; // for people
    size_t offset;    // of the double in hw_orthosis_order
    double low, high; // m or rad; the thickness' are the material's
    bool is_angle;
    bool zero_is_none; // 0 is allowed and means: not asked for
    const char *source;
} hw_order_row;

/// HW_TERMS rows.
const hw_order_row *hw_order_rows(void);

/// The term's value in the order: m, rad or a share, as hw_order_rows says.
double hw_order_value(const hw_orthosis_order *order, hw_order_term term);
/// Sets it; the range is judged later, with all the others.
void hw_order_set(hw_orthosis_order *order, hw_order_term term, double value);

/// Polypropylene 4 mm, cup 14 mm, standard arch fill 4 mm, nothing else; expansions by how the foot
/// was held (common practice: a foot captured without weight spreads under it): 2 and 3 mm for
/// hanging, 1 and 1.5 mm for sitting, none for standing and for unknown.
hw_orthosis_order hw_orthosis_order_default(hw_loading loading);

/// The same of another material: its usual thickness; of PA12 that of equal bending stiffness.
void hw_orthosis_order_of_material(hw_orthosis_order *order, hw_shell_material material);

#endif
