// SPDX-License-Identifier: GPL-3.0-or-later
// The one crossing from what was typed to SI.
#include "record/record.h"

#include <string.h>

hw_scan_ask hw_visit_scan_ask(const hw_visit *visit, hw_side side)
{
    const hw_visit_scan *scan = &hw_visit_foot_of(visit, side)->scan;
    hw_scan_ask ask = hw_scan_ask_default();
    ask.side = side;
    ask.loading = scan->loading;
    ask.mass_kg = hw_finding_number(visit->findings.values[HW_FINDING_MASS_KG]);
    if (scan->unit) ask.unit = hw_scan_unit_from_word(scan->unit);
    for (int i = 0; i < HW_LANDMARKS; i++) {
        const double *mm = scan->landmarks_mm[i];
        ask.by_hand.is_given[i] = scan->has_landmark[i];
        ask.by_hand.at[i] =
            (hw_vec3){hw_m_from_mm(mm[0]), hw_m_from_mm(mm[1]), hw_m_from_mm(mm[2])};
    }
    return ask;
}

static hw_maybe metres(hw_maybe millimetres)
{
    return (hw_maybe){hw_m_from_mm(millimetres.value), millimetres.known};
}

hw_foot_measures hw_visit_typed_measures(const hw_visit *visit, hw_side side)
{
    const hw_visit_measures *typed = &hw_visit_foot_of(visit, side)->measures;
    hw_foot_measures out = {
        .foot_length_m = metres(typed->foot_length_mm),
        .truncated_length_m = metres(typed->truncated_length_mm),
        .ball_breadth_m = metres(typed->ball_breadth_mm),
        .heel_breadth_m = metres(typed->heel_breadth_mm),
        .dorsum_height_m = metres(typed->dorsum_height_mm),
        .arch_apex_height_m = metres(typed->arch_apex_height_mm),
    };
    if (out.dorsum_height_m.known && out.truncated_length_m.known)
        out.arch_height_index = hw_known(out.dorsum_height_m.value / out.truncated_length_m.value);
    return out;
}

static hw_maybe radians(const hw_foot_findings *foot, hw_finding_id id)
{
    hw_maybe degrees = hw_finding_number(foot->values[id]);
    return (hw_maybe){hw_rad_from_deg(degrees.value), degrees.known};
}

hw_status hw_visit_subject(hw_job *job, const hw_visit *visit, hw_side side,
                           const hw_foot_measures *measures, hw_mech_subject *out)
{
    const hw_visit_foot *foot = hw_visit_foot_of(visit, side);
    const hw_foot_findings *found = hw_foot_of(&visit->findings, side);
    hw_maybe mass = hw_finding_number(visit->findings.values[HW_FINDING_MASS_KG]);
    if (!mass.known) return hw_fail(job, HW_BAD_INPUT, "mass_kg is not known");
    if (!measures->foot_length_m.known)
        return hw_fail(job, HW_BAD_INPUT, "the %s foot's length is not known", hw_side_word(side));
    hw_mech_subject subject = {.mass_kg = mass.value, .measures = *measures};
    subject.loading = foot->scan.file ? foot->scan.loading : foot->measures.loading;
    subject.calf_range_rad[HW_CALF_TEST_KNEE_STRAIGHT] =
        radians(found, HW_FINDING_DORSIFLEXION_KNEE_EXTENDED_DEG);
    subject.calf_range_rad[HW_CALF_TEST_KNEE_STRAIGHT_LOADED] =
        radians(found, HW_FINDING_WEIGHT_BEARING_KNEE_STRAIGHT_DEG);
    subject.calf_range_rad[HW_CALF_TEST_LUNGE] = radians(found, HW_FINDING_LUNGE_DEG);
    subject.calf_range_rad[HW_CALF_TEST_KNEE_BENT] =
        radians(found, HW_FINDING_DORSIFLEXION_KNEE_BENT_DEG);
    if (visit->shoe.pitch_mm.known && visit->shoe.pitch_mm.value > 0.0)
        subject.shoe_pitch_m = hw_m_from_mm(visit->shoe.pitch_mm.value);
    *out = subject;
    return HW_OK;
}

static void take(hw_maybe asked, double per_unit, double *value)
{
    if (asked.known) *value = asked.value * per_unit;
}

hw_orthosis_order hw_visit_orthosis_order(const hw_visit *visit, hw_side side)
{
    const hw_visit_foot *foot = hw_visit_foot_of(visit, side);
    const hw_foot_findings *found = hw_foot_of(&visit->findings, side);
    const hw_visit_orthosis *asked = &foot->orthosis;
    hw_orthosis_order order = hw_orthosis_order_default(foot->scan.loading);
    if (asked->shell && strcmp(asked->shell, "PA12") == 0) order.material = HW_SHELL_PA12;
    hw_maybe posture = hw_finding_number(found->values[HW_FINDING_FOOT_POSTURE_INDEX]);
    hw_maybe mass = hw_finding_number(visit->findings.values[HW_FINDING_MASS_KG]);
    bool edge = false; // of the published rule, which is for polypropylene only
    if (order.material == HW_SHELL_POLYPROPYLENE && posture.known && mass.known)
        order.shell_thickness_m =
            hw_m_from_mm(hw_clinic_shell_thickness_mm(posture.value, mass.value, &edge));
    const double per_mm = hw_m_from_mm(1.0), per_deg = hw_rad_from_deg(1.0);
    take(asked->thickness_mm, per_mm, &order.shell_thickness_m);
    take(asked->heel_cup_mm, per_mm, &order.heel_cup_depth_m);
    take(asked->arch_fill_mm, per_mm, &order.arch_fill_m);
    take(asked->heel_expansion_mm, per_mm, &order.heel_expansion_m);
    take(asked->border_expansion_mm, per_mm, &order.border_expansion_m);
    take(asked->rearfoot_post_deg, per_deg, &order.rearfoot_post_rad);
    return order;
}
