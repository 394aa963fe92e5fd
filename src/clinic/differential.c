// SPDX-License-Identifier: GPL-3.0-or-later
#include "differential.h"
#include "readings.h"
#include <math.h>
#include <string.h>

static const double z95 = 1.959964; // two-sided 95 % of the normal

// How often heel pain was the fascia before any test: 53.2 % of 250 people of one clinic (yi-2011).
static const double series_people = 250.0, series_share = 0.532;

static double logit(double p)
{
    return log(p / (1.0 - p));
}

static double inverse_logit(double x)
{
    return 1.0 / (1.0 + exp(-x));
}

hw_estimate hw_likelihood_ratio(const hw_accuracy_row *row, bool is_positive)
{
    double a = is_positive ? row->hits : row->with - row->hits;
    double b = is_positive ? row->false_alarms : row->without - row->false_alarms;
    double n1 = row->with, n0 = row->without;
    const bool corrected = !(a > 0.0) || !(b > 0.0);
    if (corrected) a += 0.5, b += 0.5, n1 += 1.0, n0 += 1.0;
    const double ratio = (a / n1) / (b / n0);
    const double spread = sqrt(1.0 / a - 1.0 / n1 + 1.0 / b - 1.0 / n0);
    return (hw_estimate){ratio, ratio * exp(-z95 * spread), ratio * exp(z95 * spread), corrected};
}

double hw_probability_after(double before, double ratio)
{
    HW_ASSERT(before > 0.0 && before < 1.0 && ratio > 0.0);
    const double odds = before / (1.0 - before) * ratio;
    return odds / (1.0 + odds);
}

static double entropy(double p)
{
    if (!(p > 0.0) || !(p < 1.0)) return 0.0;
    return -p * log2(p) - (1.0 - p) * log2(1.0 - p);
}

double hw_expected_bits(const hw_accuracy_row *row, double before)
{
    const double plus = hw_likelihood_ratio(row, true).value;
    const double minus = hw_likelihood_ratio(row, false).value;
    // The shares of positives with and without the cause that give these two ratios.
    const double without = (1.0 - minus) / (plus - minus), with = plus * without;
    const double positive = before * with + (1.0 - before) * without;
    return entropy(before) - positive * entropy(hw_probability_after(before, plus)) -
           (1.0 - positive) * entropy(hw_probability_after(before, minus));
}

const char *hw_outcome_word(hw_outcome outcome)
{
    static const char *const words[] = {"cannot be said", "plantar fascia",
                                        "plantar fascia and more", "not the plantar fascia"};
    return words[outcome];
}

static hw_verdict judge_feature(const hw_test *test, const hw_situation *one)
{
    const hw_reading reading = hw_read(test, one);
    if (reading.given != HW_GIVEN_VALUE) return HW_VERDICT_UNKNOWN;
    if (hw_compare(reading.number, test->comparison, test->limit)) return HW_VERDICT_YES;
    return reading.may_be_graver ? HW_VERDICT_UNKNOWN : HW_VERDICT_NO;
}

static hw_cause_fit judge_cause(const hw_cause_row *row, const hw_situation *one)
{
    hw_cause_fit fit = {.row = row};
    int there = 0, possible = 0;
    for (int i = 0; i < HW_CAUSE_FEATURES && row->features[i].weight; i++) {
        fit.features[i] = judge_feature(&row->features[i].test, one);
        if (fit.features[i] == HW_VERDICT_YES) there += row->features[i].weight;
        if (fit.features[i] != HW_VERDICT_NO) possible += row->features[i].weight;
    }
    fit.fits = there >= row->needed      ? HW_VERDICT_YES
               : possible >= row->needed ? HW_VERDICT_UNKNOWN
                                         : HW_VERDICT_NO;
    return fit;
}

hw_verdict hw_fits_fascia(const hw_situation *one)
{
    return judge_cause(&hw_cause_rows()[HW_CAUSE_FASCIA], one).fits;
}

const hw_feature *hw_fascia_missing(const hw_situation *one)
{
    const hw_cause_row *row = &hw_cause_rows()[HW_CAUSE_FASCIA];
    for (int i = 0; i < HW_CAUSE_FEATURES && row->features[i].weight; i++)
        if (judge_feature(&row->features[i].test, one) == HW_VERDICT_UNKNOWN)
            return &row->features[i];
    return NULL;
}

// Tests that were made; of several of one tissue the first of the table counts.
static void read_results(const hw_situation *one, hw_differential *out)
{
    int count = 0;
    const hw_accuracy_row *rows = hw_accuracy_rows(&count);
    bool is_taken[HW_CAUSE_COUNT][HW_TISSUE_SCIATIC_NERVE + 1] = {{false}};
    HW_ASSERT(count <= HW_CAUSE_RATIOS);
    for (int i = 0; i < count; i++) {
        const hw_verdict verdict = judge_feature(&rows[i].positive, one);
        if (verdict == HW_VERDICT_UNKNOWN) continue;
        bool *taken = &is_taken[rows[i].cause][rows[i].tissue];
        const bool is_positive = verdict == HW_VERDICT_YES;
        out->results[out->result_count++] = (hw_test_result){
            &rows[i], is_positive, !*taken, hw_likelihood_ratio(&rows[i], is_positive)};
        *taken = true;
    }
}

static hw_estimate band_of(double log_odds, double variance)
{
    const double reach = z95 * sqrt(variance);
    return (hw_estimate){inverse_logit(log_odds), inverse_logit(log_odds - reach),
                         inverse_logit(log_odds + reach), false};
}

// Spreads add in log odds: that of the series, and of each ratio used.
static void weigh_fascia(hw_differential *out)
{
    double log_odds = logit(series_share);
    double variance = 1.0 / (series_people * series_share * (1.0 - series_share));
    out->before = band_of(log_odds, variance);
    for (int i = 0; i < out->result_count; i++) {
        const hw_test_result *result = &out->results[i];
        if (!result->is_used || result->row->cause != HW_CAUSE_FASCIA) continue;
        const double spread = log(result->ratio.high / result->ratio.low) / (2.0 * z95);
        log_odds += log(result->ratio.value);
        variance += spread * spread;
    }
    out->after = band_of(log_odds, variance);
}

static bool is_tissue_known(const hw_differential *out, const hw_accuracy_row *row)
{
    for (int i = 0; i < out->result_count; i++)
        if (out->results[i].row->cause == row->cause && out->results[i].row->tissue == row->tissue)
            return true;
    return false;
}

static void find_best_test(hw_differential *out)
{
    int count = 0;
    const hw_accuracy_row *rows = hw_accuracy_rows(&count);
    for (int i = 0; i < count; i++) {
        if (rows[i].cause != HW_CAUSE_FASCIA || is_tissue_known(out, &rows[i])) continue;
        const double bits = hw_expected_bits(&rows[i], out->after.value);
        if (bits > out->tells_bits) out->tells_bits = bits, out->tells_most = &rows[i];
    }
}

static bool same_test(const hw_test *a, const hw_test *b)
{
    return a->subject == b->subject && a->key == b->key;
}

// How many patterns that cannot be said wait for what this feature reads.
static int patterns_waiting(const hw_differential *out, const hw_test *test)
{
    int waiting = 0;
    for (int i = 0; i < HW_CAUSE_COUNT; i++) {
        const hw_cause_fit *fit = &out->causes[i];
        bool waits = false;
        for (int k = 0; k < HW_CAUSE_FEATURES && fit->row->features[k].weight; k++)
            waits |= fit->features[k] == HW_VERDICT_UNKNOWN &&
                     same_test(&fit->row->features[k].test, test);
        waiting += waits && fit->fits == HW_VERDICT_UNKNOWN;
    }
    return waiting;
}

static void find_missing(hw_differential *out)
{
    for (int i = 0; i < HW_CAUSE_COUNT; i++)
        for (int k = 0; k < HW_CAUSE_FEATURES && out->causes[i].row->features[k].weight; k++) {
            const hw_feature *feature = &out->causes[i].row->features[k];
            const int waiting = patterns_waiting(out, &feature->test);
            if (waiting > out->missing_patterns)
                out->missing_patterns = waiting, out->missing = feature;
        }
}

static hw_outcome outcome_of(const hw_differential *out)
{
    bool another = false;
    for (int i = HW_CAUSE_FASCIA + 1; i < HW_CAUSE_COUNT; i++)
        another |= out->causes[i].fits == HW_VERDICT_YES;
    switch (out->causes[HW_CAUSE_FASCIA].fits) {
    case HW_VERDICT_YES:
        return another ? HW_OUTCOME_FASCIA_AND_MORE : HW_OUTCOME_FASCIA;
    case HW_VERDICT_NO:
        return HW_OUTCOME_NOT_FASCIA;
    case HW_VERDICT_UNKNOWN:
        break;
    }
    return HW_OUTCOME_CANNOT_BE_SAID;
}

// The others that fit, in the order of the table.
static hw_status list_others(hw_job *job, const hw_differential *of, hw_arena *into,
                             const char **out)
{
    *out = "";
    for (int i = HW_CAUSE_FASCIA + 1; i < HW_CAUSE_COUNT; i++) {
        if (of->causes[i].fits != HW_VERDICT_YES) continue;
        HW_TRY(hw_text_format(job, into, out, "%s%s%s", *out, **out ? "; " : "",
                              of->causes[i].row->name));
    }
    return HW_OK;
}

static hw_status write_sentence(hw_job *job, hw_arena *into, hw_differential *out)
{
    const char *others = NULL, *side = hw_side_word(out->side);
    HW_TRY(list_others(job, out, into, &others));
    const bool any = others[0] != 0;
    switch (out->outcome) {
    case HW_OUTCOME_FASCIA:
        return hw_text_format(job, into, &out->sentence,
                              "%s heel: the findings fit the plantar fascia and no other pattern",
                              side);
    case HW_OUTCOME_FASCIA_AND_MORE:
        return hw_text_format(job, into, &out->sentence,
                              "%s heel: the findings fit the plantar fascia, and also: %s", side,
                              others);
    case HW_OUTCOME_NOT_FASCIA:
        return hw_text_format(job, into, &out->sentence, "%s heel: not the plantar fascia; %s%s",
                              side, any ? "the findings fit: " : "no pattern here fits, look again",
                              others);
    case HW_OUTCOME_CANNOT_BE_SAID:
        break;
    }
    return hw_text_format(job, into, &out->sentence,
                          "%s heel: whether it is the plantar fascia cannot be said, findings are "
                          "missing%s%s",
                          side, any ? "; the findings fit: " : "", others);
}

hw_status hw_differ(hw_job *job, const hw_situation *one, hw_arena *into, hw_differential *out)
{
    HW_ASSERT(one->side == HW_SIDE_LEFT || one->side == HW_SIDE_RIGHT);
    hw_differential found = {.side = one->side};
    for (int i = 0; i < HW_CAUSE_COUNT; i++) {
        found.causes[i] = judge_cause(&hw_cause_rows()[i], one);
        if (found.causes[i].fits == HW_VERDICT_YES && found.causes[i].row->urgency > found.urgency)
            found.urgency = found.causes[i].row->urgency;
    }
    read_results(one, &found);
    weigh_fascia(&found);
    find_best_test(&found);
    find_missing(&found);
    found.outcome = outcome_of(&found);
    HW_TRY(write_sentence(job, into, &found));
    *out = found;
    return HW_OK;
}
