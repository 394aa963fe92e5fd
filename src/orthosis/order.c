// SPDX-License-Identifier: GPL-3.0-or-later
// The tables of an order: materials, words, terms with their ranges, defaults.
#include "orthosis_internal.h"

// Moduli, strengths: docs/orthosis.md 2; what a shell endures is derived by us (docs/press.md 6). EVA: between
// what a hardness formula for rubbers gives a firm sheet and what the trade states of a milled shell, which
// differ by an order of magnitude.
static const hw_shell_row shells[HW_SHELL_MATERIALS] = {
    [HW_SHELL_POLYPROPYLENE] = {"polypropylene", 1300e6, 1100e6, 1600e6, 0.42, 905.0, 30e6, 9e6,
                                14e6, 0.002, 0.006, 0.004, false, false,
                                "common practice; fatigue unsure"},
    [HW_SHELL_PA12] = {"PA12", 1650e6, 1200e6, 1800e6, 0.39, 970.0, 42e6, 10.8e6, 20e6, 0.002,
                       0.006, 0.0037, false, false,
                       "common practice; fatigue: ours, from the abstract of Munguia & Dalgarno"},
    [HW_SHELL_CARBON] = {"carbon", 45000e6, 20000e6, 60000e6, 0.30, 1500.0, 200e6, 100e6, 300e6,
                         0.0016, 0.003, 0.0018, false, false, "common practice; fatigue unsure"},
    [HW_SHELL_EVA] = {"EVA", 5e6, 2e6, 30e6, 0.10, 200.0, 0.0, 0.0, 0.0, 0.005, 0.015, 0.008, true,
                      true, "common practice, unsure"},
    [HW_SHELL_CORK] = {"cork", 12e6, 5e6, 20e6, 0.05, 300.0, 0.0, 0.0, 0.0, 0.005, 0.015, 0.008,
                       true, true, "unsure"},
    [HW_SHELL_TPU] = {"TPU", 50e6, 20e6, 100e6, 0.45, 1100.0, 0.0, 0.0, 0.0, 0.002, 0.008, 0.004,
                      false, true, "common practice"},
};

const hw_shell_row *hw_shell_row_of(hw_shell_material material)
{
    return &shells[material];
}

const char *hw_shell_material_word(hw_shell_material material)
{
    return shells[material].word;
}

double hw_shell_material_density(hw_shell_material material)
{
    return shells[material].density;
}

const char *hw_orthosis_length_word(hw_orthosis_length length)
{
    static const char *const words[HW_ORTHOSIS_LENGTHS] = {"three-quarter", "heel cup", "sulcus",
                                                           "full"};
    return words[length];
}

const char *hw_met_pad_word(hw_met_pad pad)
{
    static const char *const words[HW_MET_PADS] = {"none", "dome", "bar"};
    return words[pad];
}

const char *hw_top_cover_word(hw_top_cover cover)
{
    static const char *const words[HW_COVERS] = {"none", "EVA", "PU foam", "leather", "microfibre"};
    return words[cover];
}

#define AT(field) offsetof(hw_orthosis_order, field)
#define DEGREES(n) ((n)*HW_PI / 180.0)
#define TRADE "common practice"

static const hw_order_row rows[HW_TERMS] = {
    {"thickness", "shell thickness", AT(shell_thickness_m), 0.0016, 0.015, false, false, TRADE},
    {"heel_cup", "heel cup depth", AT(heel_cup_depth_m), 0.006, 0.030, false, false, TRADE},
    {"arch_fill", "arch fill", AT(arch_fill_m), 0.0, 0.008, false, true, TRADE},
    {"heel_expansion", "heel expansion", AT(heel_expansion_m), 0.0, 0.005, false, true, TRADE},
    {"border_expansion", "border expansion", AT(border_expansion_m), 0.0, 0.006, false, true,
     TRADE},
    {"rearfoot_post", "rearfoot post", AT(rearfoot_post_rad), DEGREES(-10), DEGREES(10), true, true,
     TRADE},
    {"forefoot_post", "forefoot post", AT(forefoot_post_rad), DEGREES(-6), DEGREES(6), true, true,
     TRADE},
    {"heel_raise", "heel raise", AT(heel_raise_m), 0.0, 0.012, false, true, TRADE},
    {"skive", "medial heel skive", AT(skive_depth_m), 0.001, 0.008, false, true,
     "depths: Bonanno 2012; 15 degrees: from memory: Kirby 1992"},
    {"groove_depth", "fascia groove depth", AT(groove_depth_m), 0.001, 0.004, false, true, TRADE},
    {"groove_width", "fascia groove width", AT(groove_width_m), 0.008, 0.012, false, false, TRADE},
    {"recess_depth", "heel recess depth", AT(recess_depth_m), 0.002, 0.006, false, true, TRADE},
    {"recess_width", "heel recess width", AT(recess_width_m), 0.025, 0.040, false, false, TRADE},
    {"tender_x", "tender point from the heel's back", AT(tender_x_m), 0.015, 0.080, false, false,
     "of this foot"},
    {"tender_y", "tender point to the outer side", AT(tender_y_m), -0.025, 0.025, false, true,
     "of this foot"},
    {"met_pad", "metatarsal pad height", AT(met_height_m), 0.002, 0.008, false, true, TRADE},
    {"medial_flange", "medial flange", AT(medial_flange_m), 0.004, 0.025, false, true, TRADE},
    {"lateral_flange", "lateral flange", AT(lateral_flange_m), 0.004, 0.015, false, true, TRADE},
    {"ray_cut", "first-ray cut-out", AT(ray_cut_m), 0.005, 0.030, false, true, TRADE},
    {"cover_thickness", "top cover thickness", AT(cover_thickness_m), 0.001, 0.006, false, true,
     TRADE},
    {"distal_gap", "distal gap", AT(distal_gap_m), 0.003, 0.010, false, false, TRADE},
    {"arch_height", "arch height by hand", AT(arch_height_m), 0.008, 0.035, false, true,
     "of this foot, measured by hand"},
};

const hw_order_row *hw_order_rows(void)
{
    return rows;
}

double hw_order_value(const hw_orthosis_order *order, hw_order_term term)
{
    return *(const double *)((const char *)order + rows[term].offset);
}

void hw_order_set(hw_orthosis_order *order, hw_order_term term, double value)
{
    *(double *)((char *)order + rows[term].offset) = value;
}

hw_orthosis_order hw_orthosis_order_default(hw_loading loading)
{
    hw_orthosis_order order = {.loading = loading};
    order.shell_thickness_m = 0.004;
    order.heel_cup_depth_m = 0.014;
    order.arch_fill_m = 0.004;
    order.distal_gap_m = 0.006;
    order.groove_width_m = 0.010;
    order.recess_width_m = 0.030;
    order.tender_x_m = 0.040; // where the fascia begins on a foot of 250 mm
    if (loading == HW_LOADING_HANGING)
        order.heel_expansion_m = 0.002, order.border_expansion_m = 0.003;
    if (loading == HW_LOADING_SITTING)
        order.heel_expansion_m = 0.001, order.border_expansion_m = 0.0015;
    return order;
}

void hw_orthosis_order_of_material(hw_orthosis_order *order, hw_shell_material material)
{
    const double plastic = shells[HW_SHELL_POLYPROPYLENE].young;
    if (material == HW_SHELL_PA12) // bending stiffness of a plate goes by E t3
        order->shell_thickness_m *= cbrt(plastic / shells[HW_SHELL_PA12].young);
    else if (material != HW_SHELL_POLYPROPYLENE)
        order->shell_thickness_m = shells[material].usual;
    order->material = material;
}
