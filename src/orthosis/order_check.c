// SPDX-License-Identifier: GPL-3.0-or-later
// What may be ordered, and what a foot forbids without a look at its surface.
#include "orthosis_internal.h"

static const double slack = 1e-9; // m or rad; a value typed at its limit is at its limit

static hw_status check_range(hw_job *job, const hw_orthosis_order *order, hw_order_term term,
                             hw_faults *faults)
{
    const hw_order_row *row = &hw_order_rows()[term];
    const hw_shell_row *shell = hw_shell_row_of(order->material);
    double value = hw_order_value(order, term), low = row->low, high = row->high;
    if (term == HW_TERM_THICKNESS) low = shell->thinnest, high = shell->thickest;
    if (row->zero_is_none && fabs(value) <= slack) return HW_OK;
    if (value >= low - slack && value <= high + slack) return HW_OK;
    double per_unit = row->is_angle ? HW_PI / 180.0 : hw_m_from_mm(1.0);
    return hw_faults_add(job, faults, row->name, "%g %s; a shell of %s takes %g to %g",
                         value / per_unit, row->is_angle ? "degrees" : "mm", shell->word,
                         low / per_unit, high / per_unit);
}

static bool asked(double value)
{
    return fabs(value) > slack;
}

// An arch fill as high as the arch would put the device below the ground the foot stands on.
static hw_status check_fill(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                            hw_faults *faults)
{
    const hw_landmarks *at = &foot->landmarks;
    bool is_by_hand = asked(order->arch_height_m);
    double arch = is_by_hand ? order->arch_height_m : fmax(0.0, at->arch_apex.z);
    if ((!at->arch_apex_known && !is_by_hand) || order->arch_fill_m <= arch) return HW_OK;
    return hw_faults_add(job, faults, "arch fill",
                         "%g mm is more than this arch is high (%.1f mm); order less",
                         hw_mm_from_m(order->arch_fill_m), hw_mm_from_m(arch));
}

// A sole that shows no arch, or not enough of itself, is shaped by hand or not at all.
static hw_status check_by_hand(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                               hw_faults *faults)
{
    bool is_cup = order->length == HW_ORTHOSIS_HEEL_CUP, by_hand = asked(order->arch_height_m);
    if (foot->landmarks.is_flat_sole && !is_cup && !by_hand)
        HW_TRY(hw_faults_add(job, faults, "arch height by hand",
                             "the sole of this scan is flat (loaded, or closed by the scanner) and "
                             "shows no arch to shape on: scan the foot unloaded, give its arch's "
                             "height and the heel cup's depth by hand, or order a heel cup"));
    if (by_hand && is_cup)
        HW_TRY(hw_faults_add(job, faults, "arch height by hand", "a heel cup has no arch"));
    if (by_hand && !order->cup_is_by_hand)
        HW_TRY(hw_faults_add(job, faults, "heel cup depth",
                             "where the arch is given by hand, it must be given too"));
    return HW_OK;
}

// One pair of terms that cannot stand together.
typedef struct contradiction {
    const char *key;
    bool holds;
    const char *sentence;
} contradiction;

static hw_status check_together(hw_job *job, const hw_orthosis_order *of, hw_faults *faults)
{
    const hw_shell_row *shell = hw_shell_row_of(of->material);
    bool is_cup = of->length == HW_ORTHOSIS_HEEL_CUP, is_dress = of->shoe.is_dress;
    bool is_long = of->length == HW_ORTHOSIS_SULCUS || of->length == HW_ORTHOSIS_FULL;
    bool has_pad = of->met_pad != HW_MET_NONE, has_cover = of->cover != HW_COVER_NONE;
    const contradiction all[] = {
        {"length", is_long && !shell->is_soft && !has_cover,
         "a hard shell ends behind the heads; beyond them goes a top cover: order one, or EVA, "
         "cork or TPU"},
        {"fascia groove depth", is_cup && asked(of->groove_depth_m),
         "a heel cup ends before the fascia's band; order three-quarter or more"},
        {"metatarsal pad", is_cup && has_pad, "a heel cup ends before the heads"},
        {"forefoot post", is_cup && asked(of->forefoot_post_rad),
         "a heel cup ends before the forefoot"},
        {"first-ray cut-out", is_cup && asked(of->ray_cut_m), "a heel cup ends before the ray"},
        {"medial flange", is_cup && asked(of->medial_flange_m), "a heel cup has no arch"},
        {"lateral flange", is_cup && asked(of->lateral_flange_m), "a heel cup has no border"},
        {"medial heel skive", asked(of->skive_depth_m) && of->heel_cup_depth_m < 0.014 - slack,
         "it takes a heel cup of at least 14 mm (trade column)"},
        {"medial heel skive", asked(of->skive_depth_m) && is_dress,
         "unsuited to a dress shoe, whose cup is under 14 mm (trade column)"},
        {"medial heel skive", asked(of->skive_depth_m) && of->rearfoot_post_rad < -slack,
         "it lifts the inner side of the heel and a valgus post the outer: order one of them"},
        {"forefoot post",
         of->forefoot_post_rad > slack && !of->forefoot_intrinsic && asked(of->ray_cut_m),
         "a varus post stands under the first ray, which is cut out"},
        {"forefoot post", asked(of->forefoot_post_rad) && !of->forefoot_intrinsic && is_long,
         "a base behind the heads would make a step under a device this long: balance it instead"},
        {"first-ray cut-out", asked(of->ray_cut_m) && is_long && shell->is_soft,
         "it is cut from a shell that ends behind the heads"},
        {"metatarsal pad", has_pad != asked(of->met_height_m),
         "its kind (dome or bar) and its height go together"},
        {"top cover", has_cover != asked(of->cover_thickness_m),
         "its kind and its thickness go together"},
        {"heel recess depth", asked(of->recess_depth_m) && asked(of->skive_depth_m),
         "recess and skive are asked of the same part of the heel"},
        {"embossing", of->is_embossed && shell->is_block,
         "a block is milled, and no ball cuts letters of this size: write on it by hand"},
        {"embossing", of->is_embossed && is_cup,
         "a heel cup stands on all of its underside: write on it by hand"},
        {"balance of the heel", of->balances_heel && of->rearfoot_intrinsic,
         "the cup is tilted either by the measured bisection or by degrees ordered"},
    };
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        if (all[i].holds) HW_TRY(hw_faults_add(job, faults, all[i].key, "%s", all[i].sentence));
    return HW_OK;
}

// What this foot's measures say to the order.
static hw_status check_foot(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                            hw_faults *faults)
{
    const hw_landmarks *at = &foot->landmarks;
    bool is_long = order->length == HW_ORTHOSIS_SULCUS || order->length == HW_ORTHOSIS_FULL;
    const double wall = 0.008; // m of the heel that must stand beside a recess
    double room = at->heel_lateral.y - at->heel_medial.y - 2.0 * wall;
    if (foot->side == HW_SIDE_UNKNOWN)
        HW_TRY(hw_faults_add(job, faults, "side", "the foot's side is not known"));
    if (order->loading != foot->loading)
        HW_TRY(hw_faults_add(job, faults, "loading",
                             "the order is for a foot scanned %s, this one was scanned %s",
                             hw_loading_word(order->loading), hw_loading_word(foot->loading)));
    if (!(at->mth1.x - at->heel_back.x > 0.06) || !(at->mth5.y - at->mth1.y > 0.03))
        HW_TRY(hw_faults_add(job, faults, "landmarks",
                             "heel and metatarsal heads are not where a foot has them"));
    if (is_long && !at->complete)
        HW_TRY(hw_faults_add(job, faults, "length", "the scan does not show where the toes end"));
    if (asked(order->recess_depth_m) && order->recess_width_m > room)
        HW_TRY(hw_faults_add(job, faults, "heel recess width",
                             "%g mm; this heel leaves room for %.0f mm",
                             hw_mm_from_m(order->recess_width_m), hw_mm_from_m(room)));
    if (order->balances_heel && !foot->measures.heel_bisection_rad.known)
        HW_TRY(hw_faults_add(job, faults, "balance of the heel",
                             "the heel bisection of this scan is not known"));
    HW_TRY(check_by_hand(job, foot, order, faults));
    return check_fill(job, foot, order, faults);
}

hw_status order_check(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_faults faults = {.into = tmp.arena};
    HW_ASSERT((unsigned)order->material < HW_SHELL_MATERIALS &&
              (unsigned)order->length < HW_ORTHOSIS_LENGTHS);
    HW_TRY(check_foot(job, foot, order, &faults));
    for (int i = 0; i < HW_TERMS; i++) HW_TRY(check_range(job, order, (hw_order_term)i, &faults));
    HW_TRY(check_together(job, order, &faults));
    hw_status status = hw_faults_status(job, &faults);
    hw_scratch_end(tmp);
    return status;
}
