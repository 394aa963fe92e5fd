// SPDX-License-Identifier: GPL-3.0-or-later
#include "app/app.h"
#include "fhir/fhir.h"

enum { CASE_BYTES_MAX = 4 << 20, BUNDLE_BYTES_MAX = 64 << 20 };

hw_status hw_app_fhir(hw_job *job, const hw_report *report, hw_bytes case_file,
                      const hw_file_set *papers, hw_arena *into, hw_bytes *out)
{
    hw_fhir_visit visit = {
        .visit = report->visit, .plan = report->plan, .case_file = case_file, .papers = papers};
    for (int i = 0; i < 2; i++) {
        const hw_report_foot *foot = &report->feet[i];
        visit.feet[i] =
            (hw_fhir_foot){foot->measures, foot->orthosis, foot->order,
                           hw_report_device_released(report, i ? HW_SIDE_RIGHT : HW_SIDE_LEFT)};
    }
    return hw_fhir_bundle(job, &visit, into, out);
}

hw_status hw_app_fhir_at(hw_job *job, const char *case_path, hw_arena *into, hw_file_set *out,
                         hw_faults *faults)
{
    hw_bytes case_file = {0}, bundle = {0};
    const char *folder = NULL;
    hw_report report = {0};
    hw_file_set papers = {0}, files = {0};
    HW_TRY(hw_file_read(job, case_path, CASE_BYTES_MAX, into, &case_file));
    HW_TRY(hw_file_folder(job, case_path, into, &folder));
    const hw_app_source source = hw_app_folder(folder);
    HW_TRY(hw_app_visit(job, case_file, &source, HW_APP_ALL, into, &report, faults));
    HW_TRY(hw_app_visit_files(job, &report, into, &papers));
    HW_TRY(hw_app_fhir(job, &report, case_file, &papers, into, &bundle));
    HW_TRY(hw_file_set_add(job, &files, "visit-bundle.json", bundle));
    *out = files;
    return HW_OK;
}

hw_status hw_app_fhir_read(hw_job *job, hw_bytes bundle, hw_arena *into, hw_bytes *out)
{
    return hw_fhir_case(job, bundle, into, out);
}

hw_status hw_app_fhir_read_at(hw_job *job, const char *bundle_path, hw_arena *into,
                              hw_file_set *out, hw_faults *faults)
{
    hw_bytes bundle = {0}, case_file = {0};
    hw_visit visit = {0};
    hw_file_set files = {0};
    HW_TRY(hw_file_read(job, bundle_path, BUNDLE_BYTES_MAX, into, &bundle));
    HW_TRY(hw_fhir_case(job, bundle, into, &case_file));
    HW_TRY(hw_visit_read(job, case_file, into, &visit, faults)); // written only if it can be read
    HW_TRY(hw_file_set_add(job, &files, "case.json", case_file));
    *out = files;
    return HW_OK;
}
