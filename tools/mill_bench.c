// SPDX-License-Identifier: GPL-3.0-or-later
// Times the milling of a case's pair, for bench/milling.py: mill_bench CASE [TABLE]. Prints JSON: seconds of wall
// clock and of all cores for making the program, and for making, reading again, cutting in memory and comparing.
#include "app/app.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static double now(clockid_t clock)
{
    struct timespec at;
    clock_gettime(clock, &at);
    return (double)at.tv_sec + 1e-9 * (double)at.tv_nsec;
}

static int give_up(const hw_job *job)
{
    fprintf(stderr, "mill_bench: %s\n", job->why);
    return 1;
}

// The program alone, of both devices.
static hw_status make_only(hw_job *job, const hw_report *report, const hw_mill *mill,
                           hw_arena *into, hw_toolpath *out)
{
    static const char *const labels[] = {"LEFT FOOT", "RIGHT FOOT"};
    hw_toolpath_part parts[2];
    hw_mesh *solids = NULL;
    HW_ALLOC(job, into, solids, 2);
    for (int i = 0; i < 2; i++) {
        HW_TRY(hw_orthosis_exit(job, report->feet[i].orthosis, into, &solids[i]));
        parts[i] = (hw_toolpath_part){&solids[i], labels[i]};
    }
    hw_toolpath_ask ask = {.machine = &mill->machine,
                           .block = &mill->blocks[mill->block],
                           .rough = &mill->tools[mill->rough],
                           .finish = &mill->tools[mill->finish],
                           .scallop_m = mill->scallop_m,
                           .allowance_m = mill->allowance_m,
                           .side_count = 2,
                           .code = "BENCH",
                           .date = "2026-03-02"};
    return hw_toolpath_make(job, parts, 2, &ask, into, out);
}

int main(int count, char **texts)
{
    hw_job job;
    hw_arena *into = hw_arena_new(HW_APP_MEMORY_BYTES);
    hw_report report = {0};
    hw_mill mill = {0};
    hw_toolpath made = {0};
    hw_bytes table = {0};
    if (count < 2 || !into || hw_job_open(&job, HW_APP_MEMORY_BYTES) != HW_OK) return 2;
    hw_faults faults = {.into = into};
    if (count > 2 && hw_file_read(&job, texts[2], 1u << 20, into, &table) != HW_OK)
        return give_up(&job);
    if (hw_mill_read(&job, table, into, &mill, &faults) != HW_OK ||
        hw_app_visit_at(&job, texts[1], HW_APP_ORTHOSIS, into, &report, &faults) != HW_OK)
        return give_up(&job);
    if (!report.feet[0].orthosis || !report.feet[1].orthosis) return 2;
    double wall = now(CLOCK_MONOTONIC), work = now(CLOCK_PROCESS_CPUTIME_ID);
    if (make_only(&job, &report, &mill, into, &made) != HW_OK) return give_up(&job);
    double made_wall = now(CLOCK_MONOTONIC) - wall,
           made_work = now(CLOCK_PROCESS_CPUTIME_ID) - work;
    wall = now(CLOCK_MONOTONIC), work = now(CLOCK_PROCESS_CPUTIME_ID);
    if (hw_app_mill(&job, &mill, into, &report) != HW_OK) return give_up(&job);
    printf("{\"make_s\": %.3f, \"make_cpu_s\": %.3f, \"all_s\": %.3f, \"all_cpu_s\": %.3f, "
           "\"lines\": %d, "
           "\"programs\": %d}\n",
           made_wall, made_work, now(CLOCK_MONOTONIC) - wall, now(CLOCK_PROCESS_CPUTIME_ID) - work,
           made.line_count, report.milling->count);
    hw_job_close(&job);
    hw_arena_free(into);
    return 0;
}
