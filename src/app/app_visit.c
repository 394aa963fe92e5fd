// SPDX-License-Identifier: GPL-3.0-or-later
#include "app/app_internal.h"

#include <math.h>

enum { CASE_BYTES_MAX = 4 << 20 };

// Below this the scan does not say which side it is, and cannot contradict the case.
static const double side_is_said = 0.6;

// What is asked of the model for every foot, with the option each stands for. Spreads are how unsure a
// treatment is of itself: an order is made to a millimetre, a shell is as stiff as computed to a third
// (friction, shoe), an insole off the shelf fits as it may, stretching gains 2 to 3 degrees after weeks
// (from memory: Radford 2006), fresh tape holds well or less well and has mostly let go by the next day.
typedef struct change_row {
    const char *name;
    hw_load_change tag;
    bool orthosis, insole;
    double heel_raise_m, cushion_m, stretch_deg, tape_hold, forefoot_wedge_deg;
    double mass_less, slower, toes_less; // parts of today's
} change_row;

static const change_row change_rows[] = {
    {"orthosis as ordered", HW_LOAD_ARCH_ORTHOSIS, .orthosis = true},
    {"prefabricated insole", HW_LOAD_ARCH_INSOLE, .insole = true},
    {"calf stretch, 2 to 3 degrees gained over weeks", HW_LOAD_CALF_RANGE, .stretch_deg = 2.5},
    {"arch tape, fresh", HW_LOAD_ARCH_TAPE, .tape_hold = 1},
    {"arch tape, the next day", HW_LOAD_NONE, .tape_hold = 0.25},
    {"heel raise 6 mm", HW_LOAD_HEEL_RAISE, .heel_raise_m = 0.006},
    {"heel cushion", HW_LOAD_NONE, .heel_raise_m = 0.003, .cushion_m = 0.0015},
    {"body mass less 10 %", HW_LOAD_BODY_MASS, .mass_less = 0.1},
    {"walking a fifth slower", HW_LOAD_NONE, .slower = 0.2},
    {"stiff forefoot, toes extend to 60 %", HW_LOAD_NONE, .toes_less = 0.4},
    {"lateral forefoot wedge 4 degrees", HW_LOAD_NONE, .forefoot_wedge_deg = 4},
    {"orthosis and calf stretch", HW_LOAD_NONE, .orthosis = true, .stretch_deg = 2.5},
    {"insole, calf stretch and fresh tape", HW_LOAD_NONE, .insole = true, .stretch_deg = 2.5,
     .tape_hold = 1},
    {"orthosis, calf stretch and fresh tape", HW_LOAD_NONE, .orthosis = true, .stretch_deg = 2.5,
     .tape_hold = 1},
    {"orthosis, calf stretch, heel raise 6 mm", HW_LOAD_NONE, .orthosis = true, .stretch_deg = 2.5,
     .heel_raise_m = 0.006},
    {"orthosis, calf stretch, stiff forefoot", HW_LOAD_NONE, .orthosis = true, .stretch_deg = 2.5,
     .toes_less = 0.4},
};

enum { CHANGES = sizeof change_rows / sizeof *change_rows };

static void put_insole(hw_mech_change *change)
{
    change->has_orthosis = true;
    change->arch_fill_m = -0.004;
    change->arch_fill_spread_m = 0.003;
    change->shell_N_per_m = 15e3;
    change->shell_spread = 0.5;
}

static int count_treatments(const change_row *row)
{
    return row->orthosis + row->insole + (row->heel_raise_m > 0.0) + (row->stretch_deg > 0.0) +
           (row->tape_hold > 0.0) + (row->mass_less > 0.0) + (row->slower > 0.0) +
           (row->toes_less > 0.0) + (row->forefoot_wedge_deg > 0.0);
}

// Where the numbers of change_rows, and their spreads, come from.
static const char *numbers_from(const change_row *row)
{
    bool is_combined = count_treatments(row) > 1;
    if (row->stretch_deg > 0.0)
        return is_combined ? "stretch from memory: Radford 2006; the rest own choice"
                           : "from memory: Radford 2006";
    if (row->orthosis && !is_combined) return "as ordered; how exactly it is made: own choice";
    return "own choice";
}

// The row's own, with the orthosis where it has one.
static hw_mech_change change_of(const change_row *row, const hw_orthosis_order *order,
                                const hw_press *press)
{
    hw_mech_change change =
        row->orthosis ? app_change_of(row->name, order, press) : hw_mech_change_none(row->name);
    if (row->insole) put_insole(&change);
    change.numbers_from = numbers_from(row);
    change.is_combined = count_treatments(row) > 1;
    change.heel_raise_m += row->heel_raise_m;
    change.heel_give_m = row->cushion_m;
    change.calf_gain_rad = hw_rad_from_deg(row->stretch_deg);
    if (row->stretch_deg > 0.0) change.calf_gain_spread_rad = hw_rad_from_deg(0.5);
    change.mass_factor = 1.0 - row->mass_less;
    change.toe_factor = 1.0 - row->toes_less;
    if (row->toes_less > 0.0) change.toe_spread = 0.15;
    change.is_taped = row->tape_hold > 0.0;
    change.tape_hold = row->tape_hold;
    change.tape_spread = fmin(0.4, row->tape_hold);
    change.forefoot_wedge_rad += hw_rad_from_deg(row->forefoot_wedge_deg);
    change.speed_factor = 1.0 - row->slower;
    return change;
}

static hw_status keep_why(hw_job *job, hw_arena *into, const char **why)
{
    return hw_text_copy(job, into, job->why, why);
}

// Computed is optional here: a foot whose load cannot be computed still gets its plan, with the reason.
static bool is_fatal(hw_status status)
{
    return status == HW_NO_MEMORY || status == HW_CANCELLED || status == HW_IO_FAILED;
}

// The forces this foot walks with where they were recorded; read once for all that is computed of its load.
static hw_status add_own_walk(hw_job *job, const hw_visit *visit, hw_side side,
                              const hw_app_source *source, hw_arena *into, hw_report_foot *foot)
{
    hw_mech_own_walk *walk = NULL;
    bool is_own = false;
    if (!foot->measures) return HW_OK;
    HW_ALLOC(job, into, walk, 1);
    hw_status status = hw_app_own_walk(job, visit, side, foot->measures->foot_length_m, source,
                                       into, walk, &is_own);
    if (is_fatal(status)) return status;
    if (status != HW_OK) return keep_why(job, into, &foot->load_why);
    if (is_own) foot->own_walk = walk;
    return HW_OK;
}

hw_status app_subject(hw_job *job, const hw_visit *visit, hw_side side, const hw_report_foot *foot,
                      hw_mech_subject *out)
{
    if (foot->load_why) return hw_fail(job, HW_BAD_INPUT, "%s", foot->load_why);
    HW_TRY(hw_visit_subject(job, visit, side, foot->measures, out));
    out->own_walk = foot->own_walk;
    return HW_OK;
}

static hw_status add_load(hw_job *job, const hw_visit *visit, hw_side side, hw_arena *into,
                          hw_report_foot *foot)
{
    _Static_assert((int)CHANGES <= (int)HW_REPORT_CHANGES_MAX, "room for a tag each");
    hw_mech_subject subject = {0};
    hw_mech_result *load = NULL;
    hw_mech_change changes[CHANGES];
    hw_orthosis_order order = hw_visit_orthosis_order(visit, side);
    for (int i = 0; i < CHANGES; i++) {
        changes[i] = change_of(&change_rows[i], &order, foot->press);
        foot->change_tags[i] = change_rows[i].tag;
    }
    if (!foot->measures) {
        foot->load_why = "neither a scan nor typed measures";
        return HW_OK;
    }
    HW_ALLOC(job, into, load, 1);
    hw_status status = app_subject(job, visit, side, foot, &subject);
    if (status == HW_OK) status = hw_mech_assess(job, &subject, changes, CHANGES, into, load);
    if (status == HW_OK)
        foot->load = load;
    else if (is_fatal(status))
        return status;
    else
        HW_TRY(keep_why(job, into, &foot->load_why));
    return HW_OK;
}

// The mass that counts as no cause: BMI 23.5, the middle of 22 to 25.
static hw_maybe reference_mass(const hw_visit *visit)
{
    hw_maybe height = hw_finding_number(visit->findings.values[HW_FINDING_HEIGHT_CM]);
    double height_m = hw_m_from_mm(10.0 * height.value);
    return (hw_maybe){23.5 * height_m * height_m, height.known};
}

static hw_status find_causes(hw_job *job, const hw_mech_subject *subject, hw_maybe reference,
                             hw_arena *into, hw_report_foot *foot)
{
    hw_mech_causes *causes = NULL;
    hw_mech_lever_curve *levers = NULL;
    HW_ALLOC(job, into, causes, 1);
    HW_ALLOC(job, into, levers, HW_MECH_LEVER_COUNT);
    HW_TRY(hw_mech_find_causes(job, subject, reference, into, causes));
    HW_TRY(hw_mech_try_levers(job, subject, reference, into, levers));
    foot->causes = causes;
    foot->levers = levers;
    return HW_OK;
}

// Why this foot is loaded as it is. What cannot be said of it has its reason.
static hw_status add_causes(hw_job *job, const hw_visit *visit, hw_side side, hw_arena *into,
                            hw_report_foot *foot)
{
    hw_mech_subject subject = {0};
    hw_maybe steps = hw_finding_number(visit->findings.values[HW_FINDING_STEPS_PER_DAY]);
    hw_maybe hours = hw_finding_number(visit->findings.values[HW_FINDING_STANDING_HOURS_PER_DAY]);
    if (!foot->load) return HW_OK;
    foot->reference_mass_kg = reference_mass(visit);
    HW_TRY(app_subject(job, visit, side, foot, &subject));
    hw_status status = find_causes(job, &subject, foot->reference_mass_kg, into, foot);
    if (is_fatal(status)) return status;
    if (status != HW_OK) HW_TRY(keep_why(job, into, &foot->causes_why));
    if (!steps.known || !hours.known) return HW_OK;
    hw_mech_day *day = NULL;
    HW_ALLOC(job, into, day, 1);
    status = hw_mech_sum_day(job, &subject, steps.value, hours.value, into, day);
    if (is_fatal(status)) return status;
    if (status == HW_OK) foot->day = day;
    return HW_OK;
}

// How the device bears this foot. A reason where it cannot be said.
static hw_status add_press(hw_job *job, const hw_visit *visit, hw_arena *into, hw_report_foot *foot)
{
    hw_maybe mass = hw_finding_number(visit->findings.values[HW_FINDING_MASS_KG]);
    hw_press *press = NULL;
    if (!foot->orthosis) return HW_OK;
    if (foot->order->arch_height_m > 0.0) {
        foot->press_why = "the arch is by hand: the scan shows no sole that could be pressed on it";
        return HW_OK;
    }
    if (!mass.known) {
        foot->press_why = "the body mass is not known";
        return HW_OK;
    }
    hw_press_ask ask = {.mass_kg = mass.value,
                        .effort = foot->is_in_full ? HW_PRESS_FINAL : HW_PRESS_PREVIEW};
    HW_ALLOC(job, into, press, 1);
    hw_status status = hw_orthosis_press(job, &foot->scan->foot, foot->orthosis, &ask, into, press);
    if (is_fatal(status)) return status;
    if (status != HW_OK) return keep_why(job, into, &foot->press_why);
    foot->press = press;
    return HW_OK;
}

static hw_status add_orthosis(hw_job *job, const hw_visit *visit, hw_side side, hw_arena *into,
                              hw_report_foot *foot)
{
    hw_orthosis *made = NULL;
    hw_orthosis_order *order = NULL;
    if (!foot->scan) {
        foot->orthosis_why = "it is shaped on a scan, and this foot has none";
        return HW_OK;
    }
    HW_ALLOC(job, into, made, 1);
    HW_ALLOC(job, into, order, 1);
    *order = hw_visit_orthosis_order(visit, side);
    hw_status status = hw_orthosis_build(job, &foot->scan->foot, order, into, made);
    if (status == HW_OK && order->is_embossed)
        status = hw_orthosis_emboss(job, &foot->scan->foot, visit->code, into, made);
    // What was asked for and cannot be made is an error; a default that does not fit is a reason.
    if (status != HW_OK && (is_fatal(status) || hw_visit_foot_of(visit, side)->orthosis.is_given))
        return status;
    if (status != HW_OK) return keep_why(job, into, &foot->orthosis_why);
    foot->orthosis = made;
    foot->order = order;
    hw_orthosis_shoe_fit(&foot->scan->foot, made, order, foot->shoe_fit);
    for (int i = 0; i < HW_TERMS; i++)
        foot->order_whys[i] = hw_visit_order_why(visit, side, (hw_order_term)i);
    return HW_OK;
}

// The device's top against the skin it was shaped on.
static hw_status add_fit(hw_job *job, hw_arena *into, hw_report_foot *foot)
{
    const hw_orthosis *made = foot->orthosis;
    hw_scan_fit *fit = NULL;
    if (!made || foot->order->arch_height_m > 0.0) return HW_OK; // by hand: no skin to lie against
    const hw_fit_top top = {made->top, made->nu, made->nv};
    HW_ALLOC(job, into, fit, 1);
    HW_TRY(hw_scan_fit_of(job, &foot->scan->foot, &top, into, fit));
    foot->fit = fit;
    return HW_OK;
}

// Long, and asked for by name; a reason where there is nothing to find.
static hw_status add_search(hw_job *job, const hw_visit *visit, hw_arena *into,
                            hw_report_foot *foot)
{
    const hw_search_ask ask = {0};
    hw_search *search = NULL;
    if (foot->order && foot->order->arch_height_m > 0.0) {
        foot->search_why = "the arch is by hand: nothing can be pressed";
        return HW_OK;
    }
    HW_ALLOC(job, into, search, 1);
    hw_status status = hw_app_search(job, visit, foot, &ask, into, search);
    if (is_fatal(status)) return status;
    if (status != HW_OK) return keep_why(job, into, &foot->search_why);
    foot->search = search;
    return HW_OK;
}

static hw_status check_side(hw_job *job, hw_side side, const hw_scan_result *scan)
{
    if (scan->inferred_side == side || scan->inferred_side == HW_SIDE_UNKNOWN ||
        scan->side_confidence < side_is_said)
        return HW_OK;
    return hw_fail(job, HW_BAD_INPUT,
                   "feet.%s.scan.file: the scan looks like a %s foot (confidence %.2f), the case "
                   "says %s; nothing is made until the case or the scan is put right",
                   hw_side_word(side), hw_side_word(scan->inferred_side), scan->side_confidence,
                   hw_side_word(side));
}

static hw_status add_scan(hw_job *job, const hw_visit *visit, hw_side side,
                          const hw_app_source *source, hw_arena *into, hw_report_foot *foot)
{
    const hw_visit_scan *named = &hw_visit_foot_of(visit, side)->scan;
    hw_scan_ask ask = hw_visit_scan_ask(visit, side);
    hw_scan_result *scan = NULL;
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_bytes file = {0};
    HW_ALLOC(job, into, scan, 1);
    ask.wants_spread = foot->is_in_full;
    HW_TRY(source->read(job, source->from, named->file, tmp.arena, &file));
    HW_TRY(hw_app_foot(job, file, &ask, into, scan));
    hw_scratch_end(tmp);
    HW_TRY(check_side(job, side, scan));
    foot->scan = scan;
    foot->measures = &scan->foot.measures;
    return HW_OK;
}

static hw_status add_typed(hw_job *job, const hw_visit *visit, hw_side side, hw_arena *into,
                           hw_report_foot *foot)
{
    hw_foot_measures *typed = NULL;
    HW_ALLOC(job, into, typed, 1);
    *typed = hw_visit_typed_measures(visit, side);
    foot->measures = typed;
    return HW_OK;
}

static hw_status add_foot(hw_job *job, const hw_visit *visit, hw_side side,
                          const hw_app_source *source, hw_arena *into, hw_report_foot *foot)
{
    const hw_visit_foot *given = hw_visit_foot_of(visit, side);
    foot->is_given = given->is_given;
    if (given->scan.file)
        HW_TRY(add_scan(job, visit, side, source, into, foot));
    else if (given->has_measures)
        HW_TRY(add_typed(job, visit, side, into, foot));
    return HW_OK;
}

// To so many tenths or ones, without a minus before nothing.
static double rounded(double value, double per_unit)
{
    return round(value * per_unit) / per_unit + 0.0;
}

// Millimetres by which one heel stands higher than the other, and what else a pair has different.
static hw_status describe_pair(hw_job *job, hw_arena *into, hw_report *report)
{
    const hw_report_foot *left = &report->feet[0], *right = &report->feet[1];
    if (!left->orthosis || !right->orthosis) return HW_OK;
    double lift = hw_mm_from_m(left->orthosis->lift_m - right->orthosis->lift_m);
    double thickness =
        hw_mm_from_m(left->order->shell_thickness_m - right->order->shell_thickness_m);
    double post = hw_deg_from_rad(left->order->rearfoot_post_rad - right->order->rearfoot_post_rad);
    return hw_text_format(
        job, into, &report->note,
        "A pair. Left against right: heel height %+.1f mm, shell thickness "
        "%+.1f mm, rearfoot post %+.0f deg, mass %+.0f g.",
        rounded(lift, 10.0), rounded(thickness, 10.0), rounded(post, 1.0),
        rounded(hw_g_from_kg(left->orthosis->mass_kg - right->orthosis->mass_kg), 1.0));
}

static hw_status add_plan(hw_job *job, const hw_visit *visit, hw_arena *into, hw_report *report)
{
    hw_plan *plan = NULL;
    HW_ALLOC(job, into, plan, 1);
    HW_TRY(hw_clinic_plan(job, &visit->findings, into, plan));
    report->plan = plan;
    return HW_OK;
}

hw_status hw_app_visit(hw_job *job, hw_bytes case_file, const hw_app_source *source, int parts,
                       hw_arena *into, hw_report *out, hw_faults *faults)
{
    static const hw_side sides[2] = {HW_SIDE_LEFT, HW_SIDE_RIGHT};
    hw_visit *visit = NULL;
    hw_report report = {0};
    bool is_alone = parts & (HW_APP_LEFT_ALONE | HW_APP_RIGHT_ALONE);
    HW_ALLOC(job, into, visit, 1);
    HW_TRY(hw_visit_read(job, case_file, into, visit, faults));
    report.visit = visit;
    for (int i = 0; i < 2; i++) {
        hw_report_foot *foot = &report.feet[i];
        if (parts & (i ? HW_APP_LEFT_ALONE : HW_APP_RIGHT_ALONE)) continue;
        foot->is_in_full = parts & HW_APP_PRESS;
        HW_TRY(add_foot(job, visit, sides[i], source, into, foot));
        if (!foot->is_given) continue;
        if (parts & (HW_APP_LOAD | HW_APP_CAUSES | HW_APP_SEARCH_LEFT | HW_APP_SEARCH_RIGHT))
            HW_TRY(add_own_walk(job, visit, sides[i], source, into, foot));
        if (parts & HW_APP_ORTHOSIS) {
            HW_TRY(add_orthosis(job, visit, sides[i], into, foot));
            if (!is_alone) HW_TRY(add_fit(job, into, foot));
            HW_TRY(add_press(job, visit, into, foot));
            if (parts & (i ? HW_APP_SEARCH_RIGHT : HW_APP_SEARCH_LEFT))
                HW_TRY(add_search(job, visit, into, foot));
        }
        if (parts & HW_APP_LOAD) HW_TRY(add_load(job, visit, sides[i], into, foot));
        if (parts & HW_APP_CAUSES) HW_TRY(add_causes(job, visit, sides[i], into, foot));
    }
    HW_TRY(add_plan(job, visit, into, &report));
    HW_TRY(describe_pair(job, into, &report));
    *out = report;
    return HW_OK;
}

hw_status hw_app_visit_at(hw_job *job, const char *case_path, int parts, hw_arena *into,
                          hw_report *out, hw_faults *faults)
{
    const char *folder = NULL;
    hw_bytes case_file = {0};
    HW_TRY(hw_file_read(job, case_path, CASE_BYTES_MAX, into, &case_file));
    HW_TRY(hw_file_folder(job, case_path, into, &folder));
    hw_app_source source = hw_app_folder(folder);
    return hw_app_visit(job, case_file, &source, parts, into, out, faults);
}
