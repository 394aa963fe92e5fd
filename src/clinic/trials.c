// SPDX-License-Identifier: GPL-3.0-or-later
// The rows. What was read, what is from memory and what is unsure stands in each.
#include "trials.h"

#include <math.h>
#include <string.h>

// clang-format off
static const hw_trial rows[] = {
    {.id = "radford2006", .source = "Radford 2006 BMC Musculoskelet Disord 7:64",
     .treatment = "tape", .control = "sham ultrasound", .outcome = "first-step pain", .unit = "mm",
     .scale_most = 100, .lower_is_better = true, .weeks = 1, .count_a = 46, .count_b = 46,
     .difference = {-12.3, true}, .low = {-22.4, true}, .high = {-2.2, true}, .events_a = -1,
     .events_b = -1, .printed_p = {0.017, true}, .pool = "tape against sham", .status = "seen",
     .note = "arms of 46 from memory"},
    {.id = "radford2007", .source = "Radford 2007 BMC Musculoskelet Disord 8:36",
     .treatment = "calf stretch", .control = "sham ultrasound", .outcome = "first-step pain",
     .unit = "mm", .scale_most = 100, .lower_is_better = true, .weeks = 2, .count_a = 46,
     .count_b = 46, .difference = {-7.9, true}, .low = {-18.3, true}, .high = {2.6, true},
     .events_a = -1, .events_b = -1, .status = "seen"},
    {.id = "hyland2006a", .source = "Hyland 2006 JOSPT", .treatment = "tape",
     .control = "sham tape", .outcome = "pain", .unit = "cm", .scale_most = 10,
     .lower_is_better = true, .weeks = 1, .count_a = 11, .count_b = 10, .mean_a = {2.7, true},
     .sd_a = {1.8, true}, .mean_b = {6.0, true}, .sd_b = {0.9, true}, .difference = {-3.3, true},
     .events_a = -1, .events_b = -1, .pool = "tape against sham", .status = "seen",
     .note = "numbers of people per arm from memory"},
    {.id = "hyland2006b", .source = "Hyland 2006 JOSPT", .treatment = "tape", .control = "nothing",
     .outcome = "pain", .unit = "cm", .scale_most = 10, .lower_is_better = true, .weeks = 1,
     .count_a = 11, .count_b = 10, .mean_a = {2.7, true}, .sd_a = {1.8, true},
     .mean_b = {6.2, true}, .sd_b = {1.0, true}, .difference = {-3.5, true}, .events_a = -1,
     .events_b = -1, .status = "seen", .note = "numbers of people per arm from memory"},
    {.id = "hyland2006c", .source = "Hyland 2006 JOSPT", .treatment = "plantar fascia stretch",
     .control = "nothing", .outcome = "pain", .unit = "cm", .scale_most = 10,
     .lower_is_better = true, .weeks = 1, .count_a = 10, .count_b = 10, .mean_a = {4.6, true},
     .sd_a = {0.7, true}, .mean_b = {6.2, true}, .sd_b = {1.0, true}, .difference = {-1.6, true},
     .events_a = -1, .events_b = -1, .status = "seen",
     .note = "numbers of people per arm from memory"},
    {.id = "cotchett2014", .source = "Cotchett 2014 Phys Ther 94:1083",
     .treatment = "dry needling", .control = "sham needling", .outcome = "first-step pain",
     .unit = "mm", .scale_most = 100, .lower_is_better = true, .weeks = 6, .count_a = 41,
     .count_b = 43, .difference = {-14.4, true}, .low = {-23.5, true}, .high = {-5.2, true},
     .events_a = -1, .events_b = -1, .printed_p = {0.002, true}, .status = "seen",
     .note = "split of the 84 from memory"},
    {.id = "cotchett2014f", .source = "Cotchett 2014 Phys Ther 94:1083",
     .treatment = "dry needling", .control = "sham needling", .outcome = "foot pain score",
     .unit = "points", .scale_most = 100, .weeks = 6, .count_a = 41, .count_b = 43,
     .difference = {10.0, true}, .low = {1.0, true}, .high = {19.1, true}, .events_a = -1,
     .events_b = -1, .printed_p = {0.029, true}, .status = "seen",
     .note = "split of the 84 from memory"},
    {.id = "mcmillan2012", .source = "McMillan 2012 BMJ 344:e3260",
     .treatment = "corticosteroid injection", .control = "saline", .outcome = "foot pain score",
     .unit = "points", .scale_most = 100, .weeks = 4, .count_a = 41, .count_b = 41,
     .difference = {10.9, true}, .low = {1.4, true}, .high = {20.4, true}, .events_a = -1,
     .events_b = -1, .printed_p = {0.03, true}, .status = "seen",
     .note = "split of the 82 from memory"},
    {.id = "mcmillan2012t", .source = "McMillan 2012 BMJ 344:e3260",
     .treatment = "corticosteroid injection", .control = "saline", .outcome = "fascia thickness",
     .unit = "mm", .lower_is_better = true, .weeks = 12, .count_a = 41, .count_b = 41,
     .difference = {-0.43, true}, .low = {-0.85, true}, .high = {-0.01, true}, .events_a = -1,
     .events_b = -1, .printed_p = {0.04, true}, .status = "seen",
     .note = "split of the 82 from memory"},
    {.id = "soothe2019-4", .source = "Whittaker 2019 JOSPT 49:491",
     .treatment = "corticosteroid injection", .control = "prefabricated insole",
     .outcome = "foot pain score", .unit = "points", .scale_most = 100, .weeks = 4,
     .difference = {8.2, true}, .low = {0.6, true}, .high = {15.8, true}, .events_a = -1,
     .events_b = -1, .status = "seen", .note = "103 people, split not known"},
    {.id = "soothe2019-12", .source = "Whittaker 2019 JOSPT 49:491",
     .treatment = "prefabricated insole", .control = "corticosteroid injection",
     .outcome = "foot pain score", .unit = "points", .scale_most = 100, .weeks = 12,
     .difference = {8.5, true}, .low = {0.2, true}, .high = {16.8, true}, .events_a = -1,
     .events_b = -1, .status = "seen", .note = "103 people, split not known"},
    {.id = "rathleff2015", .source = "Rathleff 2015 Scand J Med Sci Sports 25:e292",
     .treatment = "high-load strength", .control = "plantar fascia stretch",
     .outcome = "foot function index", .unit = "points", .lower_is_better = true, .weeks = 12,
     .count_a = 24, .count_b = 24, .difference = {-29.0, true}, .low = {-52.0, true},
     .high = {-6.0, true}, .events_a = -1, .events_b = -1, .printed_p = {0.016, true},
     .status = "seen", .note = "split of the 48 from memory; scale of 100 or 230 not settled"},
    {.id = "peerbooms2019", .source = "Peerbooms 2019 AJSM", .treatment = "platelet-rich plasma",
     .control = "corticosteroid injection", .outcome = "foot function index, pain",
     .unit = "points", .scale_most = 100, .lower_is_better = true, .weeks = 52, .count_a = 46,
     .count_b = 36, .difference = {-14.4, true}, .low = {-25.6, true}, .high = {-3.2, true},
     .events_a = -1, .events_b = -1, .status = "seen", .note = "those who completed"},
    {.id = "landorf2006p", .source = "Landorf 2006 Arch Intern Med 166:1305",
     .treatment = "prefabricated insole", .control = "sham insole", .outcome = "foot pain score",
     .unit = "points", .scale_most = 100, .weeks = 12, .count_a = 44, .count_b = 46,
     .difference = {8.7, true}, .low = {-0.1, true}, .high = {17.6, true}, .events_a = -1,
     .events_b = -1, .pool = "orthosis against sham", .status = "memory",
     .note = "interval from memory"},
    {.id = "landorf2006c", .source = "Landorf 2006 Arch Intern Med 166:1305",
     .treatment = "custom orthosis", .control = "sham insole", .outcome = "foot pain score",
     .unit = "points", .scale_most = 100, .weeks = 12, .count_a = 45, .count_b = 46,
     .difference = {7.4, true}, .low = {-1.4, true}, .high = {16.2, true}, .events_a = -1,
     .events_b = -1, .status = "memory",
     .note = "interval from memory; shares its controls with the row above"},
    {.id = "landorf2006f", .source = "Landorf 2006 Arch Intern Med 166:1305",
     .treatment = "prefabricated insole", .control = "sham insole",
     .outcome = "foot function score", .unit = "points", .scale_most = 100, .weeks = 12,
     .count_a = 44, .count_b = 46, .difference = {8.4, true}, .low = {1.0, true},
     .high = {15.8, true}, .events_a = -1, .events_b = -1, .status = "seen",
     .note = "interval from memory"},
    {.id = "buchbinder2002-6", .source = "Buchbinder 2002 JAMA", .treatment = "focused shockwave",
     .control = "low-dose shockwave", .outcome = "fall of pain", .unit = "mm", .scale_most = 100,
     .weeks = 6, .count_a = 81, .count_b = 85, .mean_a = {18.1, true}, .sd_a = {30.6, true},
     .mean_b = {19.8, true}, .sd_b = {33.7, true}, .difference = {-1.7, true}, .events_a = -1,
     .events_b = -1, .status = "memory"},
    {.id = "buchbinder2002-12", .source = "Buchbinder 2002 JAMA", .treatment = "focused shockwave",
     .control = "low-dose shockwave", .outcome = "fall of pain", .unit = "mm", .scale_most = 100,
     .weeks = 12, .count_a = 81, .count_b = 85, .mean_a = {26.3, true}, .sd_a = {34.8, true},
     .mean_b = {25.7, true}, .sd_b = {34.9, true}, .difference = {0.6, true}, .events_a = -1,
     .events_b = -1, .pool = "focused shockwave against sham", .status = "memory"},
    {.id = "rompe2003", .source = "Rompe 2003 AJSM", .treatment = "focused shockwave",
     .control = "sham shockwave", .outcome = "first-step pain", .unit = "cm", .scale_most = 10,
     .lower_is_better = true, .weeks = 26, .count_a = 22, .count_b = 23, .mean_a = {2.1, true},
     .sd_a = {2.0, true}, .mean_b = {4.7, true}, .sd_b = {1.9, true}, .difference = {-2.6, true},
     .events_a = -1, .events_b = -1, .pool = "focused shockwave against sham", .status = "memory",
     .note = "runners"},
    {.id = "fixheel2023", .source = "trial of advice, exercise and injection, NCT03804008",
     .treatment = "corticosteroid and exercise", .control = "advice", .outcome = "foot pain score",
     .unit = "points", .scale_most = 100, .weeks = 12, .count_a = 59, .count_b = 62,
     .difference = {9.1, true}, .low = {1.3, true}, .high = {16.8, true}, .events_a = -1,
     .events_b = -1, .status = "seen",
     .note = "interval from memory; printed with the sign reversed"},
    {.id = "vahdatpour2016t", .source = "Vahdatpour 2016 PMC4879850",
     .treatment = "platelet-rich plasma", .control = "whole blood",
     .outcome = "change of fascia thickness", .unit = "mm", .lower_is_better = true, .weeks = 12,
     .count_a = 17, .count_b = 17, .mean_a = {-1.74, true}, .sd_a = {1.11, true},
     .mean_b = {-1.21, true}, .sd_b = {0.73, true}, .difference = {-0.53, true}, .events_a = -1,
     .events_b = -1, .status = "seen"},
    {.id = "radial-dose-2020", .source = "radial dose trial 2020 PMC7317142",
     .treatment = "radial shockwave 3 bar", .control = "radial shockwave 2 bar", .outcome = "pain",
     .unit = "cm", .scale_most = 10, .lower_is_better = true, .weeks = 12, .count_a = 21,
     .count_b = 20, .mean_a = {0.57, true}, .sd_a = {0.68, true}, .mean_b = {0.4, true},
     .sd_b = {0.6, true}, .difference = {0.17, true}, .events_a = -1, .events_b = -1,
     .status = "seen",
     .note = "spread printed as standard error, which cannot be; people per arm unsure"},
    {.id = "wheeler2017", .source = "Wheeler 2017 BMJ Open SEM 3:e000234",
     .treatment = "night splint with exercise", .control = "exercise", .outcome = "average pain",
     .unit = "points", .scale_most = 10, .lower_is_better = true, .weeks = 13, .count_a = 20,
     .count_b = 20, .mean_a = {5.3, true}, .mean_b = {5.6, true}, .difference = {-0.3, true},
     .events_a = -1, .events_b = -1, .status = "seen", .note = "no spread printed"},
    {.id = "shetty2019a", .source = "Shetty 2019 J Foot Ankle Surg 58:42",
     .treatment = "platelet-rich plasma", .control = "placebo", .outcome = "pain", .unit = "cm",
     .scale_most = 10, .lower_is_better = true, .weeks = 78, .count_a = 30, .count_b = 30,
     .mean_a = {2.1, true}, .mean_b = {5.4, true}, .difference = {-3.3, true}, .events_a = -1,
     .events_b = -1, .status = "seen", .note = "no spread printed"},
    {.id = "shetty2019b", .source = "Shetty 2019 J Foot Ankle Surg 58:42",
     .treatment = "corticosteroid injection", .control = "placebo", .outcome = "pain",
     .unit = "cm", .scale_most = 10, .lower_is_better = true, .weeks = 78, .count_a = 30,
     .count_b = 30, .mean_a = {3.6, true}, .mean_b = {5.4, true}, .difference = {-1.8, true},
     .events_a = -1, .events_b = -1, .status = "seen", .note = "no spread printed"},
    {.id = "ogden-nice", .source = "shockwave trial quoted by NICE IPG311",
     .treatment = "focused shockwave", .control = "sham shockwave", .outcome = "success",
     .unit = "people", .weeks = 13, .count_a = 144, .count_b = 141, .events_a = 67, .events_b = 42,
     .printed_p = {0.008, true}, .pool = "shockwave against sham, success", .status = "seen"},
    {.id = "mardani2015", .source = "Mardani-Kivi 2015 J Foot Ankle Surg",
     .treatment = "focused shockwave", .control = "corticosteroid injection", .outcome = "failure",
     .unit = "people", .weeks = 13, .count_a = 34, .count_b = 34, .events_a = 19, .events_b = 5,
     .event_is_bad = true, .status = "seen"},
    {.id = "gerdesmeyer2008", .source = "Gerdesmeyer 2008 AJSM", .treatment = "radial shockwave",
     .control = "sham shockwave", .outcome = "success", .unit = "people", .weeks = 12,
     .count_a = 125, .count_b = 118, .events_a = 76, .events_b = 50, .printed_p = {0.002, true},
     .pool = "shockwave against sham, success", .status = "seen",
     .note = "counts from the printed 61.0 and 42.2 % and arm sizes from memory"},
    {.id = "ibrahim2010", .source = "Ibrahim 2010 Foot Ankle Int", .treatment = "radial shockwave",
     .control = "sham shockwave", .outcome = "good or excellent", .unit = "people", .weeks = 24,
     .count_a = 25, .count_b = 25, .events_a = 23, .events_b = 1,
     .pool = "shockwave against sham, success", .status = "memory"},
    {.id = "speed2003", .source = "Speed 2003 J Orthop Res", .treatment = "focused shockwave",
     .control = "sham shockwave", .outcome = "half better", .unit = "people", .weeks = 13,
     .count_a = 46, .count_b = 42, .events_a = 17, .events_b = 10,
     .pool = "shockwave against sham, success", .status = "memory",
     .note = "counts from 37 and 24 %"},
    {.id = "rompe2010", .source = "Rompe 2010 JBJS Am 92:2514",
     .treatment = "plantar fascia stretch", .control = "radial shockwave", .outcome = "satisfied",
     .unit = "people", .weeks = 9, .count_a = 54, .count_b = 48, .events_a = 35, .events_b = 14,
     .status = "seen", .note = "14 of 48 from memory"},
    {.id = "vahdatpour2016", .source = "Vahdatpour 2016 PMC4879850",
     .treatment = "platelet-rich plasma", .control = "whole blood", .outcome = "good or excellent",
     .unit = "people", .weeks = 13, .count_a = 17, .count_b = 17, .events_a = 14, .events_b = 13,
     .status = "seen", .note = "counts from 82.3 and 76.4 %"},
    {.id = "vahdatpour2016-4", .source = "Vahdatpour 2016 PMC4879850",
     .treatment = "platelet-rich plasma", .control = "whole blood", .outcome = "good or excellent",
     .unit = "people", .weeks = 4, .count_a = 17, .count_b = 17, .events_a = 5, .events_b = 8,
     .status = "seen", .note = "counts from 29.4 and 47.1 %"},
};
// clang-format on

const hw_trial *hw_trials(int *count)
{
    *count = sizeof rows / sizeof rows[0];
    return rows;
}

bool hw_trial_standardised(const hw_trial *trial, hw_trial_effect *out)
{
    double better = trial->lower_is_better ? -1.0 : 1.0, n = trial->count_a, m = trial->count_b;
    if (trial->events_a >= 0 || n < 2.0 || m < 2.0) return false;
    if (trial->sd_a.known && trial->sd_b.known) {
        hw_arm a = {n, trial->mean_a.value, trial->sd_a.value};
        hw_arm b = {m, trial->mean_b.value, trial->sd_b.value};
        *out = hw_effect_standardised(&a, &b);
        out->effect *= better;
        return true;
    }
    hw_trial_effect printed;
    if (!trial->low.known || !hw_effect_from_interval(trial->difference.value, trial->low.value,
                                                      trial->high.value, &printed))
        return false;
    double sd = sqrt(printed.variance / (1.0 / n + 1.0 / m)); // of one person, behind the interval
    hw_arm a = {n, trial->difference.value, sd}, b = {m, 0.0, sd};
    *out = hw_effect_standardised(&a, &b);
    out->effect *= better;
    return true;
}

bool hw_trial_log_odds(const hw_trial *trial, hw_trial_effect *out)
{
    if (trial->events_a < 0) return false;
    hw_two_by_two table = {trial->events_a, trial->count_a - trial->events_a, trial->events_b,
                           trial->count_b - trial->events_b};
    *out = hw_effect_log_odds_ratio(&table);
    if (trial->event_is_bad) out->effect = -out->effect;
    return true;
}

bool hw_trial_p(const hw_trial *trial, double *p, bool *contradicts)
{
    hw_trial_effect effect;
    bool known =
        trial->low.known && hw_effect_from_interval(trial->difference.value, trial->low.value,
                                                    trial->high.value, &effect);
    if (!known && trial->events_a >= 0) {
        hw_two_by_two table = {trial->events_a, trial->count_a - trial->events_a, trial->events_b,
                               trial->count_b - trial->events_b};
        effect = hw_effect_log_odds_ratio(&table);
        known = true;
    }
    if (!known) return false;
    *p = hw_effect_p(&effect);
    double off = fabs(*p - trial->printed_p.value);
    *contradicts = trial->printed_p.known && off > 0.5 * trial->printed_p.value && off > 0.003;
    return true;
}

hw_status hw_trials_with(hw_job *job, const hw_trial *own, int own_count, hw_arena *into,
                         const hw_trial **out, int *count)
{
    int table = 0;
    hw_trial *all = NULL;
    const hw_trial *known = hw_trials(&table);
    HW_ALLOC(job, into, all, table + own_count);
    memcpy(all, known, (size_t)table * sizeof *all);
    if (own_count > 0) memcpy(all + table, own, (size_t)own_count * sizeof *all);
    *out = all, *count = table + own_count;
    return HW_OK;
}
