// SPDX-License-Identifier: GPL-3.0-or-later
// What may be ordered, and what a foot forbids without a look at its surface.
#include "orthosis_internal.h"

const char *hw_shell_material_word(hw_shell_material material)
{
    return material == HW_SHELL_PA12 ? "PA12" : "polypropylene";
}

double hw_shell_material_density(hw_shell_material material)
{
    return material == HW_SHELL_PA12 ? 970.0 : 905.0;
}

hw_orthosis_order hw_orthosis_order_default(hw_loading loading)
{
    hw_orthosis_order order = {.loading = loading};
    order.shell_thickness_m = 0.004;
    order.heel_cup_depth_m = 0.014;
    order.arch_fill_m = 0.004;
    order.distal_gap_m = 0.006;
    if (loading == HW_LOADING_HANGING)
        order.heel_expansion_m = 0.002, order.border_expansion_m = 0.003;
    if (loading == HW_LOADING_SITTING)
        order.heel_expansion_m = 0.001, order.border_expansion_m = 0.0015;
    return order;
}

typedef struct range_row {
    const char *key;
    size_t offset;
    double low, high; // m or rad
    double per_unit;  // of what is printed
    const char *unit;
} range_row;

#define MILLIMETRE (1.0 / HW_MM_PER_M), "mm"
#define DEGREE (HW_PI / 180.0), "degrees"
#define AT(field) offsetof(hw_orthosis_order, field)

static const range_row ranges[] = {
    {"shell thickness", AT(shell_thickness_m), 0.002, 0.006, MILLIMETRE},
    {"heel cup depth", AT(heel_cup_depth_m), 0.006, 0.030, MILLIMETRE},
    {"arch fill", AT(arch_fill_m), 0.0, 0.008, MILLIMETRE},
    {"heel expansion", AT(heel_expansion_m), 0.0, 0.005, MILLIMETRE},
    {"border expansion", AT(border_expansion_m), 0.0, 0.006, MILLIMETRE},
    {"rearfoot post", AT(rearfoot_post_rad), -0.1745329252, 0.1745329252, DEGREE},
    {"distal gap", AT(distal_gap_m), 0.003, 0.010, MILLIMETRE},
};

static hw_status check_ranges(hw_job *job, const hw_orthosis_order *order, hw_faults *faults)
{
    const double slack = 1e-9; // a value typed at its limit is at its limit
    for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++) {
        const range_row *row = &ranges[i];
        double value = *(const double *)((const char *)order + row->offset);
        if (value >= row->low - slack && value <= row->high + slack) continue;
        HW_TRY(hw_faults_add(job, faults, row->key, "%g %s; a shell takes %g to %g",
                             value / row->per_unit, row->unit, row->low / row->per_unit,
                             row->high / row->per_unit));
    }
    return HW_OK;
}

// An arch fill as high as the arch would put the device below the ground the foot stands on.
static hw_status check_fill(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                            hw_faults *faults)
{
    const hw_landmarks *at = &foot->landmarks;
    if (!at->arch_apex_known || order->arch_fill_m <= fmax(0.0, at->arch_apex.z)) return HW_OK;
    return hw_faults_add(job, faults, "arch fill",
                         "%g mm is more than this arch is high (%.1f mm); order less",
                         hw_mm_from_m(order->arch_fill_m), hw_mm_from_m(at->arch_apex.z));
}

hw_status order_check(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_faults faults = {.into = tmp.arena};
    const hw_landmarks *at = &foot->landmarks;
    if (foot->side == HW_SIDE_UNKNOWN)
        HW_TRY(hw_faults_add(job, &faults, "side", "the foot's side is not known"));
    if (order->length != HW_ORTHOSIS_THREE_QUARTER)
        HW_TRY(hw_faults_add(job, &faults, "length", "only a three-quarter shell can be made yet"));
    if (order->loading != foot->loading)
        HW_TRY(hw_faults_add(job, &faults, "loading",
                             "the order is for a foot scanned %s, this one was scanned %s",
                             hw_loading_word(order->loading), hw_loading_word(foot->loading)));
    if (!(at->mth1.x - at->heel_back.x > 0.06) || !(at->mth5.y - at->mth1.y > 0.03))
        HW_TRY(hw_faults_add(job, &faults, "landmarks",
                             "heel and metatarsal heads are not where a foot has them"));
    HW_TRY(check_ranges(job, order, &faults));
    HW_TRY(check_fill(job, foot, order, &faults));
    hw_status status = hw_faults_status(job, &faults);
    hw_scratch_end(tmp);
    return status;
}
