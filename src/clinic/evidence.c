// SPDX-License-Identifier: GPL-3.0-or-later
// What was found about each treatment, horizon by horizon. Trials that disagree stand side by side.
#include "clinic.h"

#define ACT(name) (1u << HW_ACT_##name)
#define SHOCKWAVE (ACT(SHOCKWAVE_RADIAL) | ACT(SHOCKWAVE_FOCUSED))

static const hw_evidence lines[] = {
    {ACT(SURGERY), 26, 52, "Series report 70 to 90 % success; few randomised trials.",
     "common-practice"},
    {ACT(ACTIVITY) | ACT(FOOTWEAR) | ACT(FASCIA_STRETCH) | ACT(TAPE), 0, 6,
     "Core of the best-practice guide: education, fascia stretch and tape from the first day.",
     "morrissey-2021"},
    {ACT(ACTIVITY), 52, 260,
     "Half of a hospital cohort still had it after 5 years; other reviews quote 80 % well in a "
     "year.",
     "hansen-2018"},
    {ACT(TAPE), 1, 1, "First-step pain 12.3 mm of 100 lower than sham after a week.",
     "radford-2006"},
    {ACT(TAPE) | ACT(NIGHT_SPLINT) | ACT(MANUAL_THERAPY) | ACT(FASCIA_STRETCH) | ACT(CALF_STRETCH),
     0, 12, "Recommended, grade A, by the physical-therapy guideline.", "koc-2023"},
    {ACT(INSOLE) | ACT(ORTHOSIS), 7, 12,
     "Orthoses better than sham by 0.27 of a standard deviation; custom equals prefabricated.",
     "whittaker-2018"},
    {ACT(INSOLE) | ACT(ORTHOSIS), 0, 6, "Prefabricated and custom alike.", "rasenberg-2018"},
    {ACT(INSOLE) | ACT(ORTHOSIS), 12, 52,
     "Better function than sham at 3 months, none at 12; custom and prefabricated alike.",
     "landorf-2006"},
    {ACT(ORTHOSIS), 12, 12, "Custom insole no better than sham insole.", "rasenberg-2021"},
    {ACT(ORTHOSIS), 12, 12, "Custom orthoses with new shoes better than shoes or sham.",
     "bishop-2018"},
    {ACT(ORTHOSIS), 12, 12, "Guide: at about 12 weeks if not satisfied.", "morrissey-2021"},
    {ACT(CALF_STRETCH), 2, 2, "Two weeks of calf stretch: no significant benefit.", "radford-2007"},
    {ACT(NIGHT_SPLINT), 6, 12, "Splint with exercise no better than exercise.", "wheeler-2017"},
    {ACT(NSAID), 4, 26, "No benefit over placebo shown, 29 people.", "donley-2007"},
    {ACT(DRY_NEEDLING), 6, 6, "First-step pain 14.4 mm of 100 lower than sham; small.",
     "cotchett-2014"},
    {ACT(CORTICOSTEROID), 4, 4, "Pain 10.9 points of 100 better than saline at 4 weeks.",
     "mcmillan-2012"},
    {ACT(CORTICOSTEROID), 8, 12, "No better than saline at 8 and 12 weeks.", "mcmillan-2012"},
    {ACT(CORTICOSTEROID), 12, 12, "Orthoses better than corticosteroid at 12 weeks.",
     "soothe-2019"},
    {ACT(CORTICOSTEROID), 12, 26,
     "With exercise 9.1 points better than advice at 12 weeks, below what matters; gone by 26.",
     "fix-heel-2023"},
    {ACT(CORTICOSTEROID), 0, 52, "Pooled against placebo: not significant.", "whittaker-2019"},
    {ACT(FASCIA_STRETCH), 8, 8, "Better than calf stretch on worst and first-step pain.",
     "digiovanni-2003"},
    {ACT(FASCIA_STRETCH), 8, 8, "Within six weeks of onset better than radial shockwave.",
     "rompe-2010"},
    {ACT(STRENGTH), 12, 12, "Better than stretch at 3 months, not at 1, 6 or 12.", "rathleff-2015"},
    {ACT(STRENGTH), 12, 52, "No better than advice.", "fix-heel-2023"},
    {ACT(STRENGTH) | SHOCKWAVE, 26, 26,
     "On top of advice and custom orthoses neither radial shockwave, sham nor exercise added "
     "anything.",
     "heide-2024"},
    {ACT(SHOCKWAVE_RADIAL), 12, 52, "Success 61 % against 42 % with placebo at 12 weeks.",
     "gerdesmeyer-2008"},
    {ACT(SHOCKWAVE_FOCUSED), 12, 12, "Success 54 % against 37 % with placebo.", "gollwitzer-2015"},
    {ACT(SHOCKWAVE_FOCUSED), 12, 12, "With local anaesthetic no better than placebo.",
     "haake-2003"},
    {ACT(SHOCKWAVE_FOCUSED), 12, 12,
     "Within six weeks of onset failure 56 % against 15 % with corticosteroid.",
     "mardani-kivi-2015"},
    {SHOCKWAVE, 12, 52, "Pooled odds of improvement 2.58 times those of placebo.", "sun-2017"},
    {SHOCKWAVE, 4, 12, "Guide: at about 4 to 12 weeks if not satisfied.", "morrissey-2021"},
    {SHOCKWAVE, 0, 52, "No major safety concern; evidence on efficacy inconsistent.",
     "nice-ipg311"},
    {ACT(PRP), 52, 52, "Pain 14.4 points of 100 lower than with corticosteroid at a year.",
     "peerbooms-2019"},
    {ACT(PRP), 26, 26, "No better than saline.", "johnson-lynn-2019"},
    {ACT(PRP), 12, 12, "No better than whole blood.", "vahdatpour-2016"},
    {ACT(RETURN_TO_IMPACT), 0, 78,
     "A run more than 10 % longer than the longest of 30 days: 1.64 times the injuries (any site).",
     "frandsen-2025"},
    {ACT(WEIGHT) | ACT(HEEL_RAISE) | ACT(BOOT) | ACT(LOCAL_ANAESTHETIC) |
         ACT(LOCAL_ANAESTHETIC_ADRENALINE),
     0, 52, "No trial in heel pain known here.", "common-practice"},
};

const hw_evidence *hw_evidence_rows(int *count)
{
    *count = (int)(sizeof lines / sizeof *lines);
    return lines;
}
