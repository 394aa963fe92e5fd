// SPDX-License-Identifier: GPL-3.0-or-later
#include "orders.h"
#include <math.h>

hw_past_act hw_order_as_done(const hw_order *order, hw_date date)
{
    return (hw_past_act){.act = order->act,
                         .date = date,
                         .side = order->side,
                         .substance = order->substance,
                         .dose_mg = order->dose_mg,
                         .concentration_percent = order->concentration_percent,
                         .volume_mL = order->volume_mL,
                         .with_adrenaline = order->with_adrenaline};
}

const char *hw_energy_class(double energy_mJ_per_mm2)
{
    if (hw_compare(energy_mJ_per_mm2, HW_BELOW, 0.08)) return "low";
    if (!hw_compare(energy_mJ_per_mm2, HW_ABOVE, 0.28)) return "medium";
    if (!hw_compare(energy_mJ_per_mm2, HW_ABOVE, 0.6)) return "between medium and high";
    return "high: painful, with visible lesions of tissue";
}

// Two spins of 92.0 (SD 3.1) and 84.3 (SD 10.0) per cent: relative spreads add in squares.
static const double recovery_mean = 0.920 * 0.843;

static double recovery_sd(void)
{
    const double first = 3.1 / 92.0, second = 10.0 / 84.3;
    return recovery_mean * sqrt(first * first + second * second);
}

hw_prp hw_prp_band(double count_1e9_per_L, double blood_mL, double plasma_mL, double sd_from_mean)
{
    const double recovery = recovery_mean + sd_from_mean * recovery_sd();
    return hw_prp_yield(count_1e9_per_L, blood_mL, fmin(recovery, 1.0), plasma_mL);
}

typedef struct worker {
    hw_job *job;
    const hw_findings *findings;
    const hw_order *order;
    hw_order_sheet *out;
    double given_mJ_per_mm2; // declared energy of the sessions given
} worker;

static void line(worker *at, const char *name, double value, const char *unit, const char *formula,
                 const char *source)
{
    HW_ASSERT(at->out->line_count < HW_ORDER_LINES);
    at->out->lines[at->out->line_count++] =
        (hw_order_line){name, value, value, value, unit, formula, source};
}

static hw_status need(worker *at, hw_maybe value, const char *key)
{
    if (value.known) return HW_OK;
    return hw_faults_add(at->job, &at->out->faults, key, "is missing");
}

static hw_status work_out_anaesthetic(worker *at)
{
    const hw_order *order = at->order;
    HW_TRY(need(at, order->concentration_percent, "concentration_percent"));
    HW_TRY(need(at, order->volume_mL, "volume_mL"));
    if (!order->concentration_percent.known || !order->volume_mL.known) return HW_OK;
    const bool adrenaline =
        order->with_adrenaline || order->act == HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE;
    const hw_anaesthetic_dose dose = {order->substance ? order->substance : "",
                                      order->concentration_percent.value, order->volume_mL.value,
                                      adrenaline};
    const double mg = dose.volume_mL * dose.concentration_percent * 10.0;
    line(at, "dose", mg, "mg", "mL x % x 10", "la-adult-guide");
    hw_job quiet = {0};
    hw_anaesthetic_maximum most = {0};
    if (hw_anaesthetic_limit(&quiet, at->findings, &dose, &most) != HW_OK)
        return hw_faults_add(at->job, &at->out->faults, "substance", "no maximum: %s", quiet.why);
    at->out->bound = hw_bound_word(most.bound);
    line(at, "most in a day, both feet", most.maximum_mg, "mg", "stricter of mg/kg x mass and cap",
         most.bound == HW_BOUND_CAP ? most.row->cap_source : most.row->source);
    line(at, "most in a day, both feet", most.maximum_mL, "mL", "mg / (% x 10)", most.row->source);
    line(at, "share of the most, this order alone", mg / most.maximum_mg, "", "mg / most",
         "la-adult-guide");
    if (hw_compare(mg, HW_ABOVE, most.maximum_mg))
        return hw_faults_add(at->job, &at->out->faults, "volume_mL",
                             "%.0f mg are over the most of %.0f mg (%s)", mg, most.maximum_mg,
                             hw_bound_word(most.bound));
    return HW_OK;
}

static hw_status work_out_steroid(worker *at)
{
    const hw_order *order = at->order;
    const hw_steroid_row *row = hw_steroid_by_agent(order->substance);
    HW_TRY(need(at, order->dose_mg, "dose_mg"));
    if (!row)
        return hw_faults_add(at->job, &at->out->faults, "substance",
                             "no corticosteroid of the table");
    if (!order->dose_mg.known) return HW_OK;
    const double mg = order->dose_mg.value;
    const double vial =
        order->vial_mg_per_mL.known ? order->vial_mg_per_mL.value : row->vial_mg_per_mL;
    line(at, "volume", mg / vial, "mL",
         order->vial_mg_per_mL.known ? "mg / mg per mL of the vial"
                                     : "mg / a common vial: check the one in hand",
         row->source);
    line(at, "like hydrocortisone by mouth", hw_hydrocortisone_mg(order->substance, mg).value, "mg",
         "mg x 20 / equivalent mg, for totals only", "steroid-tables");
    if (hw_compare(mg, HW_BELOW, row->usual_low_mg) || hw_compare(mg, HW_ABOVE, row->usual_high_mg))
        return hw_faults_add(at->job, &at->out->faults, "dose_mg",
                             "%g mg; usual at one heel are %g to %g mg of %s", mg,
                             row->usual_low_mg, row->usual_high_mg, row->words);
    return HW_OK;
}

static bool differs(hw_maybe given, hw_maybe ordered)
{
    return given.known && ordered.known && !hw_compare(given.value, HW_IS, ordered.value);
}

static hw_status compare_session(worker *at, const hw_past_act *given)
{
    const hw_order *order = at->order;
    hw_faults *faults = &at->out->faults;
    char day[HW_DATE_TEXT];
    hw_date_text(given->date, day);
    if (differs(given->pulses, order->pulses))
        HW_TRY(hw_faults_add(at->job, faults, "pulses", "%s: %g given, %g ordered", day,
                             given->pulses.value, order->pulses.value));
    if (differs(given->rate_Hz, order->rate_Hz))
        HW_TRY(hw_faults_add(at->job, faults, "rate_Hz", "%s: %g Hz given, %g ordered", day,
                             given->rate_Hz.value, order->rate_Hz.value));
    // Pain guides the pressure up to what is ordered: less is as planned, more is not.
    if (given->pressure_bar.known && order->pressure_bar.known &&
        hw_compare(given->pressure_bar.value, HW_ABOVE, order->pressure_bar.value))
        HW_TRY(hw_faults_add(at->job, faults, "pressure_bar", "%s: %g bar given, at most %g", day,
                             given->pressure_bar.value, order->pressure_bar.value));
    if (differs(given->energy_mJ_per_mm2, order->energy_mJ_per_mm2))
        HW_TRY(hw_faults_add(at->job, faults, "energy_mJ_per_mm2", "%s: %g given, %g ordered", day,
                             given->energy_mJ_per_mm2.value, order->energy_mJ_per_mm2.value));
    if (given->head && order->head && !hw_text_same(given->head, order->head))
        HW_TRY(hw_faults_add(at->job, faults, "head",
                             "%s: %s; sessions of another head cannot be added up", day,
                             given->head));
    return HW_OK;
}

// Sessions of this act and heel since the order. One row may stand for several of them.
static hw_status compare_log(worker *at)
{
    const hw_order *order = at->order;
    const hw_findings *findings = at->findings;
    const hw_date from = order->ordered_on.known ? order->ordered_on : findings->visit_date;
    for (int i = 0; i < findings->past_count; i++) {
        const hw_past_act *past = &findings->past[i];
        if (past->act != order->act || past->side != order->side || !past->date.known) continue;
        if (hw_date_days(from, past->date) < 0) continue;
        const double sessions = past->sessions.known ? past->sessions.value : 1.0;
        const hw_maybe energy =
            past->energy_mJ_per_mm2.known ? past->energy_mJ_per_mm2 : order->energy_mJ_per_mm2;
        at->out->given += (int)sessions;
        if (past->pulses.known && energy.known)
            at->given_mJ_per_mm2 += sessions * past->pulses.value * energy.value;
        HW_TRY(compare_session(at, past));
    }
    if (order->sessions.known && at->out->given > order->sessions.value)
        return hw_faults_add(at->job, &at->out->faults, "sessions", "%d given, %g ordered",
                             at->out->given, order->sessions.value);
    return HW_OK;
}

static hw_status work_out_shockwave(worker *at)
{
    const hw_order *order = at->order;
    HW_TRY(need(at, order->sessions, "sessions"));
    HW_TRY(need(at, order->pulses, "pulses"));
    if (!order->sessions.known || !order->pulses.known) return HW_OK;
    const hw_shockwave_order settings = {.focused = order->act == HW_ACT_SHOCKWAVE_FOCUSED,
                                         .sessions = (int)order->sessions.value,
                                         .pulses = (int)order->pulses.value,
                                         .rate_Hz = order->rate_Hz,
                                         .pressure_bar = order->pressure_bar,
                                         .energy_mJ_per_mm2 = order->energy_mJ_per_mm2,
                                         .energy_declared_by = order->energy_declared_by};
    HW_TRY(hw_shockwave_check(at->job, &settings, &at->out->faults));
    HW_TRY(compare_log(at));
    const double pulses = order->pulses.value, sessions = order->sessions.value;
    line(at, "pulses of the course", pulses * sessions, "", "sessions x pulses", "design-rule");
    if (order->rate_Hz.known && order->rate_Hz.value > 0.0)
        line(at, "a session lasts", pulses / order->rate_Hz.value / 60.0, "min", "pulses / rate",
             "design-rule");
    if (!settings.focused && order->pressure_bar.known) {
        const double start = fmin(1.5, order->pressure_bar.value);
        line(at, "start of the ramp", start, "bar", "then up while pain is 6 of 10 or less",
             "common-practice");
        line(at, "each step up", 0.2, "bar", "every 200 pulses, up to what is ordered",
             "common-practice");
    }
    const hw_maybe energy = order->energy_mJ_per_mm2;
    if (!energy.known || !order->energy_declared_by) return HW_OK;
    line(at, "declared energy of a session", pulses * energy.value, "mJ/mm2",
         "pulses x energy as the maker declares it, not measured", "mardani-kivi-2015");
    line(at, "declared energy of the course",
         hw_shockwave_total(settings.sessions, settings.pulses, energy).value, "mJ/mm2",
         hw_energy_class(energy.value), "mardani-kivi-2015");
    line(at, "declared energy given so far", at->given_mJ_per_mm2, "mJ/mm2",
         "pulses given x energy", "mardani-kivi-2015");
    return HW_OK;
}

static void prp_line(worker *at, const char *name, const char *unit, const double values[3],
                     const char *formula)
{
    line(at, name, values[1], unit, formula, "prp-optimisation-2013");
    hw_order_line *last = &at->out->lines[at->out->line_count - 1];
    last->low = values[0], last->high = values[2];
}

static void spin_lines(worker *at)
{
    const hw_order *order = at->order;
    const hw_maybe speeds[2] = {order->first_spin_rpm, order->second_spin_rpm};
    static const char *const forces[2] = {"first spin", "second spin"};
    static const char *const wanted[2] = {"first spin for 900 g", "second spin for 1500 g"};
    static const double target[2] = {900.0, 1500.0}; // for 5 and 15 minutes
    for (int i = 0; i < 2 && order->radius_cm.known && order->radius_cm.value > 0.0; i++) {
        if (speeds[i].known)
            line(at, forces[i], hw_rcf_from_rpm(order->radius_cm.value, speeds[i].value), "g",
                 "1.118e-5 x radius in cm x rpm squared", "rcf-physics");
        line(at, wanted[i], hw_rpm_from_rcf(order->radius_cm.value, target[i]), "rpm",
             "square root of g / (1.118e-5 x radius in cm)", "rcf-physics");
    }
}

static hw_status work_out_prp(worker *at)
{
    const hw_order *order = at->order;
    HW_TRY(need(at, order->blood_mL, "blood_mL"));
    HW_TRY(need(at, order->citrate_mL, "citrate_mL"));
    HW_TRY(need(at, order->plasma_mL, "plasma_mL"));
    spin_lines(at);
    if (order->blood_mL.known && order->citrate_mL.known && order->blood_mL.value > 0.0) {
        const double share = order->citrate_mL.value / order->blood_mL.value;
        line(at, "citrate to blood", share, "", "mL / mL; 5 to 55 in the heel trial",
             "peerbooms-thesis");
        if (share < 0.08 || share > 0.13)
            HW_TRY(hw_faults_add(at->job, &at->out->faults, "citrate_mL",
                                 "%.2f of the blood; 0.09 to 0.11 are usual", share));
    }
    const hw_maybe count = hw_finding_number(at->findings->values[HW_FINDING_PLATELET_COUNT]);
    if (!count.known)
        return hw_faults_add(at->job, &at->out->faults, "person.platelet_count",
                             "is missing: without it no dose of platelets can be said");
    if (!order->blood_mL.known || !order->plasma_mL.known || !(order->plasma_mL.value > 0.0))
        return HW_OK;
    double factor[3], dose[3];
    for (int i = 0; i < 3; i++) { // 5th percentile, mean, 95th
        const hw_prp of = hw_prp_band(count.value, order->blood_mL.value, order->plasma_mL.value,
                                      1.645 * (i - 1));
        factor[i] = of.factor, dose[i] = of.dose_1e9;
    }
    prp_line(at, "platelets, times those of blood", "", factor, "recovery x blood / plasma");
    prp_line(at, "platelets injected", "10^9", dose, "count x recovery x blood");
    return HW_OK;
}

hw_status hw_work_out(hw_job *job, const hw_findings *findings, const hw_order *order,
                      hw_arena *into, hw_order_sheet *out)
{
    hw_order_sheet sheet = {.order = order, .faults = {.into = into}};
    worker at = {.job = job, .findings = findings, .order = order, .out = &sheet};
    switch (order->act) {
    case HW_ACT_LOCAL_ANAESTHETIC:
    case HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE:
        HW_TRY(work_out_anaesthetic(&at));
        break;
    case HW_ACT_CORTICOSTEROID:
        HW_TRY(work_out_steroid(&at));
        break;
    case HW_ACT_SHOCKWAVE_RADIAL:
    case HW_ACT_SHOCKWAVE_FOCUSED:
        HW_TRY(work_out_shockwave(&at));
        break;
    case HW_ACT_PRP:
        HW_TRY(work_out_prp(&at));
        break;
    default:
        break; // its usual dose says it
    }
    *out = sheet;
    return HW_OK;
}
