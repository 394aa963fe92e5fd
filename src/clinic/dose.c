// SPDX-License-Identifier: GPL-3.0-or-later
#include "dose.h"
#include <math.h>
#include <string.h>

static const hw_steroid_row steroids[] = {
    // agent, as the vial says, equal to 20 mg hydrocortisone, usual mg at one heel, mg/mL
    {"methylprednisolone", "methylprednisolone acetate", 4.0, 20.0, 40.0, 40.0,
     "mardani-kivi-2015"},
    {"triamcinolone", "triamcinolone acetonide", 4.0, 10.0, 40.0, 40.0, "common-practice"},
    {"triamcinolone", "triamcinolone hexacetonide", 4.0, 20.0, 20.0, 20.0, "fix-heel-2023"},
    {"dexamethasone", "dexamethasone sodium phosphate", 0.75, 4.0, 4.0, 4.0, "mcmillan-2012"},
    {"betamethasone", "betamethasone", 0.6, 3.0, 6.0, 6.0, "common-practice"},
    {"hydrocortisone", "hydrocortisone acetate", 20.0, 25.0, 25.0, 25.0, "common-practice"},
};

const hw_steroid_row *hw_steroid_rows(int *count)
{
    *count = (int)(sizeof steroids / sizeof *steroids);
    return steroids;
}

static bool begins_with(const char *text, const char *word)
{
    const size_t length = strlen(word);
    char head[40];
    if (strlen(text) < length || length >= sizeof head) return false;
    memcpy(head, text, length);
    head[length] = 0;
    return hw_text_same(head, word) && (text[length] == 0 || text[length] == ' ');
}

const hw_steroid_row *hw_steroid_by_agent(const char *agent)
{
    if (!agent) return NULL;
    for (size_t i = 0; i < sizeof steroids / sizeof *steroids; i++)
        if (hw_text_same(agent, steroids[i].words)) return &steroids[i];
    for (size_t i = 0; i < sizeof steroids / sizeof *steroids; i++)
        if (begins_with(agent, steroids[i].agent)) return &steroids[i];
    return NULL;
}

hw_maybe hw_hydrocortisone_mg(const char *agent, double dose_mg)
{
    const hw_steroid_row *row = hw_steroid_by_agent(agent);
    return row ? hw_known(dose_mg * 20.0 / row->equivalent_mg) : (hw_maybe){0};
}

hw_maybe hw_shockwave_total(int sessions, int pulses, hw_maybe declared_mJ_per_mm2)
{
    if (!declared_mJ_per_mm2.known) return declared_mJ_per_mm2;
    return hw_known(sessions * (double)pulses * declared_mJ_per_mm2.value);
}

hw_status hw_shockwave_check(hw_job *job, const hw_shockwave_order *order, hw_faults *faults)
{
    if (order->sessions < 1 || order->sessions > 12)
        HW_TRY(hw_faults_add(job, faults, "sessions", "%d sessions; 1 to 12", order->sessions));
    if (order->pulses < 1 || order->pulses > 6000)
        HW_TRY(hw_faults_add(job, faults, "pulses", "%d pulses; 1 to 6000", order->pulses));
    if (order->rate_Hz.known && !(order->rate_Hz.value > 0.0 && order->rate_Hz.value <= 35.0))
        HW_TRY(hw_faults_add(job, faults, "rate_Hz", "%g Hz; up to 35", order->rate_Hz.value));
    if (order->pressure_bar.known &&
        !(order->pressure_bar.value > 0.0 && order->pressure_bar.value <= 6.0))
        HW_TRY(hw_faults_add(job, faults, "pressure_bar", "%g bar; up to 6",
                             order->pressure_bar.value));
    if (!order->energy_mJ_per_mm2.known) return HW_OK;
    const double energy = order->energy_mJ_per_mm2.value;
    if (!(energy > 0.0 && energy <= 1.5))
        HW_TRY(hw_faults_add(job, faults, "energy_mJ_per_mm2", "%g mJ/mm2; up to 1.5", energy));
    if (!order->energy_declared_by || !order->energy_declared_by[0])
        HW_TRY(hw_faults_add(job, faults, "energy_declared_by",
                             "an energy needs the maker's declaration for this head; bar is not "
                             "converted"));
    return HW_OK;
}

// (2 pi / 60)^2 / (100 * 9.80665) = 1.11824e-5, printed and used as 1.118e-5.
static const double rcf_factor = 1.118e-5;

double hw_rcf_from_rpm(double radius_cm, double rpm)
{
    return rcf_factor * radius_cm * rpm * rpm;
}

double hw_rpm_from_rcf(double radius_cm, double rcf)
{
    return sqrt(rcf / (rcf_factor * radius_cm));
}

hw_prp hw_prp_yield(double count_1e9_per_L, double blood_mL, double recovery, double plasma_mL)
{
    const double factor = recovery * blood_mL / plasma_mL;
    return (hw_prp){.factor = factor,
                    .concentration_1e9_per_L = factor * count_1e9_per_L,
                    .dose_1e9 = count_1e9_per_L * recovery * blood_mL / 1000.0}; // mL to L
}

double hw_next_run_km(double longest_km)
{
    return 1.10 * longest_km; // frandsen-2025: more than a tenth longer carries the risk
}

double hw_run_hazard(double longest_km, double next_km, double *low, double *high)
{
    static const struct {
        double above; // of the longest
        double ratio, low, high;
    } bands[] = {{2.0, 2.28, 1.50, 3.48}, {1.3, 1.52, 1.16, 2.00}, {1.1, 1.64, 1.31, 2.05}};
    HW_ASSERT(longest_km > 0.0);
    *low = *high = 1.0;
    for (size_t i = 0; i < sizeof bands / sizeof *bands; i++) {
        if (!hw_compare(next_km / longest_km, HW_ABOVE, bands[i].above)) continue;
        *low = bands[i].low, *high = bands[i].high;
        return bands[i].ratio;
    }
    return 1.0;
}

hw_pain_advice hw_pain_rule(double pain_0_10)
{
    // silbernagel-2007, adapted: 0 to 2, 3 to 5, above; between the whole numbers the stricter.
    if (!hw_compare(pain_0_10, HW_ABOVE, 2.0)) return HW_PAIN_GO_ON;
    return hw_compare(pain_0_10, HW_ABOVE, 5.0) ? HW_PAIN_CUT_BACK : HW_PAIN_HOLD;
}

const char *hw_pain_advice_word(hw_pain_advice advice)
{
    static const char *const words[] = {"go on", "hold: it must settle by next morning",
                                        "cut back"};
    return words[advice];
}

double hw_clinic_shell_thickness_mm(double foot_posture_index, double mass_kg, bool *edge)
{
    // shell-protocol-2013. Above 0: 4.0 under 75 kg, else 4.5. Below 0: 3.0 under, 4.0 over 75 kg.
    const bool is_zero = hw_compare(foot_posture_index, HW_IS, 0.0);
    const bool is_negative = foot_posture_index < 0.0 && !is_zero;
    *edge = is_zero || (is_negative && hw_compare(mass_kg, HW_IS, 75.0));
    const bool is_heavy = hw_compare(mass_kg, HW_AT_LEAST, 75.0);
    if (is_negative) return is_heavy ? 4.0 : 3.0;
    return is_heavy ? 4.5 : 4.0;
}

double hw_clinic_heel_cup_mm(double medial_skive_mm, double inversion_deg)
{
    // cup-column: over 5 together 20 to 22 mm (its example, 6 together, 22); any skive at least 14.
    if (hw_compare(medial_skive_mm + inversion_deg, HW_ABOVE, 5.0)) return 22.0;
    return 14.0; // also the deeper end of a standard cup, common practice 12 to 14
}
