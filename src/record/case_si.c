// SPDX-License-Identifier: GPL-3.0-or-later
// The one crossing from what was typed to SI.
#include "record/record_internal.h"

#include <math.h>
#include <string.h>

hw_scan_ask hw_visit_scan_ask(const hw_visit *visit, hw_side side)
{
    const hw_visit_scan *scan = &hw_visit_foot_of(visit, side)->scan;
    hw_scan_ask ask = hw_scan_ask_default();
    ask.side = side;
    ask.loading = scan->loading;
    ask.mass_kg = hw_finding_number(visit->findings.values[HW_FINDING_MASS_KG]);
    ask.up = scan->up;
    ask.toes = scan->toes;
    ask.extent = scan->extent;
    ask.cast = scan->cast;
    ask.keeps_all = scan->keeps_all;
    ask.leaves_holes = scan->leaves_holes;
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
    subject.speed_m_s = hw_finding_number(visit->findings.values[HW_FINDING_WALKING_SPEED_M_PER_S]);
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

// The material etc. whose word this is; 0 where none is given.
static int index_of(const char *word, const char *(*word_of)(int), int count)
{
    for (int i = 0; word && i < count; i++)
        if (strcmp(word, word_of(i)) == 0) return i;
    return 0;
}

// What decides a default thickness, and the source of each.
typedef enum thickness_rule {
    BY_POSTURE_AND_MASS,
    BY_MASS,
    BY_MATERIAL,
} thickness_rule;

static const char *const thickness_whys[] = {
    [BY_POSTURE_AND_MASS] =
        ("default by foot posture index and mass (shell-protocol-2013); of PA12 "
         "the thickness of equal stiffness"),
    [BY_MASS] = "default by mass alone (common practice); of PA12 the thickness of equal stiffness",
    [BY_MATERIAL] = "default of the material (common practice)",
};

// Polypropylene by mass, kg and mm: common practice, middles of its bands.
static const double ladder[][2] = {{55, 3.0}, {75, 3.75}, {95, 4.25}, {115, 4.75}, {1e9, 5.0}};

static thickness_rule default_thickness(const hw_visit *visit, hw_side side, double *mm)
{
    const hw_visit_orthosis *asked = &hw_visit_foot_of(visit, side)->orthosis;
    const hw_foot_findings *found = hw_foot_of(&visit->findings, side);
    hw_maybe posture = hw_finding_number(found->values[HW_FINDING_FOOT_POSTURE_INDEX]);
    hw_maybe mass = hw_finding_number(visit->findings.values[HW_FINDING_MASS_KG]);
    int shell = index_of(asked->shell, order_shell_word, HW_SHELL_MATERIALS);
    bool edge = false; // of the published rule
    if ((shell != HW_SHELL_POLYPROPYLENE && shell != HW_SHELL_PA12) || !mass.known)
        return BY_MATERIAL;
    if (posture.known) {
        *mm = hw_clinic_shell_thickness_mm(posture.value, mass.value, &edge);
        return BY_POSTURE_AND_MASS;
    }
    int i = 0;
    while (mass.value >= ladder[i][0]) i++;
    *mm = ladder[i][1];
    return BY_MASS;
}

static hw_orthosis_shoe shoe_of(const hw_visit_shoe *shoe)
{
    return (hw_orthosis_shoe){
        .inner_length_m = metres(shoe->inner_length_mm),
        .inner_width_m = metres(shoe->inner_width_mm),
        .heel_width_m = metres(shoe->heel_width_mm),
        .pitch_m = metres(shoe->pitch_mm),
        .toe_spring_m = metres(shoe->toe_spring_mm),
        .is_dress = shoe->kind && strstr(shoe->kind, "dress"),
    };
}

// Words and switches.
static void take_kinds(const hw_visit_orthosis *asked, hw_orthosis_order *order)
{
    order->length =
        (hw_orthosis_length)index_of(asked->length, order_length_word, HW_ORTHOSIS_LENGTHS);
    order->met_pad = (hw_met_pad)index_of(asked->met_pad, order_pad_word, HW_MET_PADS);
    order->cover = (hw_top_cover)index_of(asked->cover, order_cover_word, HW_COVERS);
    order->rearfoot_intrinsic = asked->rearfoot_intrinsic;
    order->forefoot_intrinsic = asked->forefoot_intrinsic;
    order->balances_heel = asked->balances_heel;
    order->recess_is_plugged = asked->recess_is_plugged;
    order->is_embossed = asked->is_embossed;
    order->cup_is_by_hand = asked->terms[HW_TERM_HEEL_CUP].known;
}

static bool takes_deep_cup(const hw_visit_orthosis *asked)
{
    return asked->terms[HW_TERM_SKIVE].known && !asked->terms[HW_TERM_HEEL_CUP].known;
}

hw_orthosis_order hw_visit_orthosis_order(const hw_visit *visit, hw_side side)
{
    const hw_visit_foot *foot = hw_visit_foot_of(visit, side);
    const hw_visit_orthosis *asked = &foot->orthosis;
    hw_orthosis_order order = hw_orthosis_order_default(foot->scan.loading);
    double mm = hw_mm_from_m(order.shell_thickness_m);
    default_thickness(visit, side, &mm);
    order.shell_thickness_m = hw_m_from_mm(mm);
    hw_orthosis_order_of_material(
        &order, (hw_shell_material)index_of(asked->shell, order_shell_word, HW_SHELL_MATERIALS));
    take_kinds(asked, &order);
    if (takes_deep_cup(asked)) {
        double tilt = asked->rearfoot_intrinsic ? asked->terms[HW_TERM_REARFOOT_POST].value : 0.0;
        order.heel_cup_depth_m =
            hw_m_from_mm(hw_clinic_heel_cup_mm(asked->terms[HW_TERM_SKIVE].value, fmax(0.0, tilt)));
    }
    for (int i = 0; i < HW_TERMS; i++) {
        double value = asked->terms[i].value;
        if (!asked->terms[i].known) continue;
        hw_order_set(&order, (hw_order_term)i,
                     hw_order_rows()[i].is_angle ? hw_rad_from_deg(value) : hw_m_from_mm(value));
    }
    order.shoe = shoe_of(&visit->shoe);
    return order;
}

const char *hw_visit_order_why(const hw_visit *visit, hw_side side, hw_order_term term)
{
    const hw_visit_orthosis *asked = &hw_visit_foot_of(visit, side)->orthosis;
    double mm = 0.0;
    if (asked->terms[term].known) return "as asked";
    if (term == HW_TERM_THICKNESS) return thickness_whys[default_thickness(visit, side, &mm)];
    if (term == HW_TERM_ARCH_HEIGHT) return "none: the arch is the scan's";
    if (term == HW_TERM_HEEL_CUP && takes_deep_cup(asked))
        return "default by skive and inversion (trade column)";
    if (term == HW_TERM_HEEL_EXPANSION || term == HW_TERM_BORDER_EXPANSION)
        return "default by how the foot was held when captured (common practice)";
    return "default (common practice)";
}

hw_gait_walker hw_visit_walker(const hw_visit *visit, hw_side side, hw_maybe foot_length_m)
{
    const hw_visit_walk *walk = &hw_visit_foot_of(visit, side)->walk;
    hw_maybe mass = hw_finding_number(visit->findings.values[HW_FINDING_MASS_KG]);
    return (hw_gait_walker){
        .mass_kg = mass.known ? mass.value : 0.0,
        .foot_length_m = foot_length_m.known ? foot_length_m.value : 0.0,
        .plate = walk->plate.known ? (int)walk->plate.value - 1 : 0,
        .step = walk->step.known ? (int)walk->step.value - 1 : 0,
        .names = walk->markers,
    };
}

hw_gait_ask hw_visit_gait_ask(const hw_visit *visit, hw_side side)
{
    const char *unit = hw_visit_foot_of(visit, side)->walk.unit;
    return (hw_gait_ask){.m_per_unit = unit ? hw_gait_unit(unit) : 0.0};
}

hw_pressure_ask hw_visit_pressure_ask(const hw_visit *visit, hw_side side)
{
    const hw_visit_pressure *typed = &hw_visit_foot_of(visit, side)->pressure;
    hw_pressure_ask ask = {.cell_m = {hw_m_from_mm(typed->cell_length_mm.value),
                                      hw_m_from_mm(typed->cell_breadth_mm.value)},
                           .frame_s = 1e-3 * typed->frame_ms.value};
    if (typed->unit) ask.Pa_per_unit = hw_pressure_unit(typed->unit);
    return ask;
}

hw_us_reading hw_visit_us_reading(const hw_visit *visit, hw_side side)
{
    const hw_visit_ultrasound *of = &hw_visit_foot_of(visit, side)->ultrasound;
    return (hw_us_reading){.side = side,
                           .site = of->site,
                           .plane = of->plane,
                           .thickness_m = hw_m_from_mm(of->thickness_mm.value),
                           .sd_m = hw_m_from_mm(of->half_width_95_mm.value) / 1.96,
                           .is_accepted =
                               of->thickness_mm.known && of->is_accepted[0] && of->is_accepted[1]};
}
