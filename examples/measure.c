// SPDX-License-Identifier: GPL-3.0-or-later
// A thousand scans measured from C: files in, one line of CSV each out, on all cores. What is no foot,
// or asks a question, has its sentence in its line; the rest goes on.
//
//     build/release/example_measure scans/*.stl >measures.csv
#include "foot/foot.h"
#include "meshfile/meshfile.h"
#include "scan/scan.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LINE = 400 };
static const size_t memory_bytes = (size_t)2 << 30; // a scan of five million triangles takes half

typedef struct batch {
    char *const *paths;
    char (*lines)[LINE];
    bool *is_good;
} batch;

static hw_status read_file(hw_job *job, const char *path, hw_arena *into, hw_bytes *out)
{
    FILE *file = fopen(path, "rb");
    unsigned char *bytes = NULL;
    if (!file) return hw_fail(job, HW_NOT_FOUND, "cannot be opened");
    long size = fseek(file, 0, SEEK_END) ? -1 : ftell(file);
    rewind(file);
    hw_status status = size < 0 ? HW_IO_FAILED : HW_OK;
    if (status == HW_OK) bytes = hw_arena_take(into, (size_t)size + 1, 1);
    if (!bytes || fread(bytes, 1, (size_t)size, file) != (size_t)size) status = HW_IO_FAILED;
    fclose(file);
    if (status != HW_OK) return hw_fail(job, status, "cannot be read");
    *out = (hw_bytes){bytes, (size_t)size};
    return HW_OK;
}

// Of a whole foot or of a sole alone; side and unit are inferred.
static hw_status measure(hw_job *job, const char *path, hw_arena *into, char line[static LINE])
{
    hw_bytes file = {0};
    hw_mesh raw = {0};
    hw_scan_ask ask = hw_scan_ask_default(); // everything to be inferred
    hw_scan_result scan = {0};
    HW_TRY(read_file(job, path, into, &file));
    HW_TRY(hw_meshfile_read(job, file, into, &raw, NULL));
    HW_TRY(hw_scan_foot(job, &raw, &ask, into, &scan));
    const hw_foot_measures *of = &scan.foot.measures;
    int used = snprintf(line, LINE, "%s,%.2f,%s", hw_side_word(scan.foot.side),
                        scan.side_confidence, hw_scan_unit_word(scan.unit));
    const hw_maybe lengths[] = {of->foot_length_m, of->ball_breadth_m, of->heel_breadth_m,
                                of->arch_apex_height_m};
    for (size_t i = 0; i < sizeof lengths / sizeof *lengths; i++)
        used += lengths[i].known ? snprintf(line + used, LINE - (size_t)used, ",%.1f",
                                            hw_mm_from_m(lengths[i].value))
                                 : snprintf(line + used, LINE - (size_t)used, ",");
    snprintf(line + used, LINE - (size_t)used, ",");
    return HW_OK;
}

// In a thread of its own, with memory of its own that goes with it.
static void measure_one(void *with, int i)
{
    batch *all = with;
    hw_job job;
    hw_arena *into = hw_arena_new(memory_bytes);
    if (!into || hw_job_open(&job, memory_bytes) != HW_OK) abort();
    all->is_good[i] = measure(&job, all->paths[i], into, all->lines[i]) == HW_OK;
    for (char *at = job.why; *at; at++)
        if (*at == '"') *at = '\''; // it stands in quotes
    if (!all->is_good[i]) snprintf(all->lines[i], LINE, ",,,,,,,\"%s\"", job.why);
    hw_job_close(&job);
    hw_arena_free(into);
}

int main(int count, char **words)
{
    int files = count - 1, good = 0;
    batch all = {.paths = words + 1};
    all.lines = calloc((size_t)files + 1, sizeof *all.lines);
    all.is_good = calloc((size_t)files + 1, sizeof *all.is_good);
    if (!all.lines || !all.is_good) return 1;
    hw_parallel(files, measure_one, &all);
    printf("file,side,confidence,unit,foot_length_mm,ball_breadth_mm,heel_breadth_mm,"
           "arch_apex_height_mm,why\n");
    for (int i = 0; i < files; i++) {
        printf("\"%s\",%s\n", all.paths[i], all.lines[i]);
        good += all.is_good[i];
    }
    fprintf(stderr, "%d of %d scans measured\n", good, files);
    free(all.lines);
    free(all.is_good);
    return good == files ? 0 : 1;
}
