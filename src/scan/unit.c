// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan_internal.h"

#include <stdio.h>
#include <string.h>

static const struct {
    const char *word;
    double m;
} units[] = {{"unknown", 0.0}, {"m", 1.0},    {"dm", 0.1},
             {"cm", 0.01},     {"mm", 0.001}, {"inch", 0.0254}};

enum { UNITS = sizeof units / sizeof units[0] };

// Foot lengths, m. Adults: facts of standards, ISO 7250 range widened; below it children.
static const double adult_from = 0.2, adult_to = 0.32;
static const double inferred_from = 0.13, inferred_to = 0.34; // outside, nothing is inferred
static const double given_from = 0.1, given_to = 0.36; // outside, a stated unit is not believed

const char *hw_scan_unit_word(hw_scan_unit unit)
{
    return units[unit].word;
}

hw_scan_unit hw_scan_unit_from_word(const char *word)
{
    for (int i = 1; i < UNITS; i++)
        if (hw_text_same(word, units[i].word)) return (hw_scan_unit)i;
    return HW_SCAN_UNIT_UNKNOWN;
}

double hw_scan_unit_m(hw_scan_unit unit)
{
    return units[unit].m;
}

// All units in which this length is a foot's, as words; the only one, or unknown.
static hw_scan_unit candidates(double length, char *words, size_t size)
{
    hw_scan_unit found = HW_SCAN_UNIT_UNKNOWN;
    int count = 0;
    words[0] = 0;
    for (int i = 1; i < UNITS; i++) {
        double m = length * units[i].m;
        if (m < inferred_from || m > inferred_to) continue;
        size_t used = strlen(words);
        snprintf(words + used, size - used, "%s%s (%.0f mm)", count ? " or " : "", units[i].word,
                 hw_mm_from_m(m));
        found = (hw_scan_unit)i;
        count++;
    }
    return count == 1 ? found : HW_SCAN_UNIT_UNKNOWN;
}

hw_status settle_unit(hw_job *job, double length, hw_scan_unit given, hw_scan_result *out)
{
    char words[120];
    out->inferred_unit = candidates(length, words, sizeof words);
    double m = length * hw_scan_unit_m(out->inferred_unit);
    bool is_adult = m >= adult_from && m <= adult_to;
    out->unit_confidence = out->inferred_unit == HW_SCAN_UNIT_UNKNOWN ? 0.0 : is_adult ? 0.95 : 0.7;
    out->unit_given = given != HW_SCAN_UNIT_UNKNOWN;
    out->unit = out->unit_given ? given : out->inferred_unit;
    if (out->unit == HW_SCAN_UNIT_UNKNOWN && words[0])
        return hw_fail(job, HW_NO_ANSWER,
                       "the foot is %.4g units long: is the unit %s? It must be given", length,
                       words);
    if (out->unit == HW_SCAN_UNIT_UNKNOWN)
        return hw_fail(
            job, HW_BAD_INPUT,
            "the foot is %.4g units long, which is a foot's length neither in m, dm, cm, "
            "mm nor inch; give the unit or check the scan",
            length);
    m = length * hw_scan_unit_m(out->unit);
    if (m >= given_from && m <= given_to) return HW_OK;
    return hw_fail(job, HW_BAD_INPUT,
                   "with unit %s the foot would be %.4g mm long; %.0f to %.0f mm are accepted",
                   hw_scan_unit_word(out->unit), hw_mm_from_m(m), hw_mm_from_m(given_from),
                   hw_mm_from_m(given_to));
}
