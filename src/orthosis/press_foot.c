// SPDX-License-Identifier: GPL-3.0-or-later
// The foot above the device, as tables: pieces, tissue, loads, limits, materials. docs/press.md has
// where each number comes from and how sure it is.
#include "orthosis_internal.h"
#include "press_internal.h"

const char *hw_press_region_word(hw_press_region region)
{
    static const char *const words[HW_PRESS_REGIONS] = {"heel", "medial arch", "lateral border",
                                                        "forefoot edge"};
    return words[region];
}

const char *hw_press_moment_word(hw_press_moment moment)
{
    static const char *const words[HW_PRESS_MOMENTS] = {"standing", "mid-stance", "push-off"};
    return words[moment];
}

// Pain on a probe of 1 cm2 begins at 400 to 700 kPa, discomfort at about half; the medial arch is
// the most sensitive part of the sole, the heel the least (Xiong 2011).
static const hw_press_limit limits[HW_PRESS_REGIONS] = {
    [HW_PRESS_HEEL] = {0.0, 0.0, 400e3, 700e3, "from memory: order of pain thresholds, Xiong 2011"},
    [HW_PRESS_ARCH] = {60e3, 100e3, 150e3, 150e3, "common practice"},
    [HW_PRESS_LATERAL] = {0.0, 0.0, 200e3, 350e3, "from memory: half of pain thresholds"},
    [HW_PRESS_EDGE] = {0.0, 0.0, 200e3, 350e3, "from memory: half of pain thresholds"},
};

hw_press_limit hw_press_limit_of(hw_press_region region)
{
    return limits[region];
}

// Loads as parts of body weight, and in newtons beside them.
typedef struct load_row {
    double weights[HW_PRESS_REGIONS];
    double newtons[HW_PRESS_REGIONS];
} load_row;

// Standing: half the weight a foot, three fifths of it at the heel (Cavanagh 1987), the rest of the
// device's share moved from ball to arch. Mid-stance: 380 and 180 N at 80 kg, the case of the table
// in docs/press.md. Push-off: heel lifted, 40 N of the shoe's upper on it. All: proposals.
static const load_row load_rows[HW_PRESS_MOMENTS] = {
    [HW_PRESS_STANDING] = {{0.300, 0.050, 0.040, 0.020}, {0.0, 0.0, 0.0, 0.0}},
    [HW_PRESS_MIDSTANCE] = {{0.484, 0.229, 0.060, 0.030}, {0.0, 0.0, 0.0, 0.0}},
    [HW_PRESS_PUSHOFF] = {{0.0, 0.100, 0.060, 0.200}, {40.0, 0.0, 0.0, 0.0}},
};

void press_loads(hw_press_moment moment, const hw_press_ask *ask, double loads[HW_PRESS_REGIONS])
{
    const load_row *row = &load_rows[moment];
    double weight = ask->mass_kg * HW_STANDARD_GRAVITY;
    for (int k = 0; k < HW_PRESS_REGIONS; k++)
        loads[k] = row->weights[k] * weight + row->newtons[k];
    if (moment == HW_PRESS_MIDSTANCE && ask->arch_bw > 0.0)
        loads[HW_PRESS_ARCH] = ask->arch_bw * weight;
}

// Thickness m, modulus Pa and exponent of each piece's tissue. The arch's 45 kPa are times 1.8, the
// shape factor of a thin wide pad (half width 30 mm).
static const double tissues[HW_PRESS_REGIONS][3] = {
    [HW_PRESS_HEEL] = {0.017, 100e3, 6.0},
    [HW_PRESS_ARCH] = {0.024, 81e3, 5.0},
    [HW_PRESS_LATERAL] = {0.0135, 80e3, 6.0},
    [HW_PRESS_EDGE] = {0.0115, 150e3, 6.0},
};

press_tissue press_tissue_at(double along, double u, double v)
{
    press_tissue tissue = {0};
    double edge = smooth_step((u - 0.80) / 0.15);
    double heel = (1.0 - edge) * (1.0 - smooth_step((along - 0.18) / 0.16));
    double lateral = smooth_step((v - 0.30) / 0.40), middle = 1.0 - edge - heel;
    tissue.shares[HW_PRESS_HEEL] = heel;
    tissue.shares[HW_PRESS_ARCH] = middle * (1.0 - lateral);
    tissue.shares[HW_PRESS_LATERAL] = middle * lateral;
    tissue.shares[HW_PRESS_EDGE] = edge;
    for (int k = 0; k < HW_PRESS_REGIONS; k++) {
        tissue.thickness += tissue.shares[k] * tissues[k][0];
        tissue.modulus += tissue.shares[k] * tissues[k][1];
        tissue.exponent += tissue.shares[k] * tissues[k][2];
    }
    return tissue;
}

hw_press_region press_region_of(const press_tissue *tissue)
{
    int best = 0;
    for (int k = 1; k < HW_PRESS_REGIONS; k++)
        if (tissue->shares[k] > tissue->shares[best]) best = k;
    return (hw_press_region)best;
}
