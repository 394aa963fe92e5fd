// SPDX-License-Identifier: GPL-3.0-or-later
// The invented clinic's visits as FHIR bundles, for tests: demo_bundles FOLDER COUNT writes case-NN.json and
// bundle-NN.json of its first COUNT people.
#include "app/app.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static hw_status read_scan(hw_job *job, void *from, const char *name, hw_arena *into, hw_bytes *out)
{
    const hw_file_set *files = from;
    (void)into;
    for (int i = 0; i < files->count; i++) {
        if (strcmp(files->files[i].name, name) != 0) continue;
        *out = files->files[i].bytes;
        return HW_OK;
    }
    return hw_fail(job, HW_NOT_FOUND, "no scan %s", name);
}

static hw_status write_person(hw_job *job, int index, const char *folder, hw_arena *into)
{
    hw_demo_person person = {0};
    hw_report report = {0};
    hw_faults faults = {.into = into};
    hw_file_set papers = {0}, files = {0};
    hw_bytes bundle = {0};
    const char *names[2] = {0};
    HW_TRY(hw_app_demo_person(job, 1, index, into, &person));
    const hw_bytes case_file = person.visit.files[0].bytes;
    const hw_app_source source = {.read = read_scan, .from = &person.visit};
    HW_TRY(hw_app_visit(job, case_file, &source, HW_APP_ORTHOSIS | HW_APP_PLAN, into, &report,
                        &faults));
    HW_TRY(hw_app_visit_files(job, &report, into, &papers));
    HW_TRY(hw_app_fhir(job, &report, case_file, &papers, into, &bundle));
    HW_TRY(hw_text_format(job, into, &names[0], "case-%02d.json", index));
    HW_TRY(hw_text_format(job, into, &names[1], "bundle-%02d.json", index));
    HW_TRY(hw_file_set_add(job, &files, names[0], case_file));
    HW_TRY(hw_file_set_add(job, &files, names[1], bundle));
    return hw_file_set_write(job, &files, folder);
}

int main(int count, char **texts)
{
    int people = count == 3 ? atoi(texts[2]) : 0;
    if (people < 1 || people > HW_DEMO_PEOPLE) {
        fprintf(stderr, "demo_bundles FOLDER COUNT\n");
        return 2;
    }
    hw_status status = HW_OK;
    for (int i = 0; i < people && status == HW_OK; i++) {
        hw_job job = {0};
        hw_arena *into = hw_arena_new(HW_APP_MEMORY_BYTES);
        status = into ? hw_job_open(&job, HW_APP_MEMORY_BYTES) : HW_NO_MEMORY;
        if (status == HW_OK) status = write_person(&job, i, texts[1], into);
        if (status != HW_OK) fprintf(stderr, "person %d: %s\n", i, job.why);
        hw_job_close(&job);
        hw_arena_free(into);
    }
    return status == HW_OK ? 0 : 1;
}
