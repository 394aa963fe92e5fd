// SPDX-License-Identifier: GPL-3.0-or-later
// The load on a plantar fascia from C: who, what is tried, what comes out.
//
//     build/release/example_load
#include "mech/mech.h"

#include <stdio.h>

static void print_change(const hw_mech_effect *effect)
{
    hw_band change = effect->midstance.change;
    if (change.known)
        printf("%-22s mid-stance %+.0f %% (%+.0f to %+.0f), grade %c\n", effect->name,
               100.0 * change.median, 100.0 * change.p05, 100.0 * change.p95, (char)effect->grade);
    else
        printf("%-22s not known: %s\n", effect->name, change.why);
}

static hw_status try_it(hw_job *job, hw_arena *into)
{
    hw_mech_subject subject = {.mass_kg = 82.0, .loading = HW_LOADING_STANDING};
    subject.measures.foot_length_m = hw_known(0.262);
    subject.measures.dorsum_height_m = hw_known(0.061);
    subject.calf_range_rad[HW_CALF_TEST_LUNGE] = hw_known(hw_rad_from_deg(29.0));

    hw_mech_change changes[3] = {hw_mech_change_none("shell, total contact"),
                                 hw_mech_change_none("calf stretch, 4 deg"),
                                 hw_mech_change_none("fresh tape")};
    changes[0].has_orthosis = true;
    changes[1].calf_gain_rad = hw_rad_from_deg(4.0);
    changes[2].is_taped = true;

    hw_mech_result load = {0};
    hw_mech_causes causes = {0};
    HW_TRY(hw_mech_assess(job, &subject, changes, 3, into, &load));
    HW_TRY(hw_mech_find_causes(job, &subject, hw_known(72.0), into, &causes));
    printf("peak %.2f body weights at %.0f %% of stance\n", load.peak_bw.median,
           load.peak_percent.median);
    for (int i = 0; i < load.effect_count; i++) print_change(&load.effects[i]);
    for (int i = 0; i < HW_MECH_CAUSE_COUNT; i++)
        if (causes.is_known[i])
            printf("%-22s accounts for %+.1f %% of a reference foot's mid-stance load\n",
                   hw_mech_cause_word((hw_mech_cause)i),
                   100.0 * causes.part[i][HW_MECH_MIDSTANCE].mean);
    return HW_OK;
}

int main(void)
{
    hw_job job;
    hw_arena *into = hw_arena_new((size_t)1 << 24);
    if (!into || hw_job_open(&job, (size_t)1 << 26) != HW_OK) return 1;
    hw_status status = try_it(&job, into);
    if (status != HW_OK) fprintf(stderr, "%s\n", job.why);
    hw_job_close(&job);
    hw_arena_free(into);
    return status == HW_OK ? 0 : 1;
}
