// SPDX-License-Identifier: GPL-3.0-or-later
#include "app/app.h"
#include "meshfile/meshfile.h"

#include <string.h>

hw_status hw_app_code_in_name(hw_job *job, const char *code, hw_arena *into, const char **out)
{
    enum { LONGEST = 40 };
    char *copy = NULL;
    HW_ALLOC(job, into, copy, LONGEST + 1);
    for (int i = 0; i < LONGEST && code[i]; i++) {
        bool plain = (code[i] >= '0' && code[i] <= '9') || (code[i] >= 'A' && code[i] <= 'Z') ||
                     (code[i] >= 'a' && code[i] <= 'z');
        copy[i] = plain ? code[i] : '-';
    }
    *out = copy;
    return HW_OK;
}

static hw_status add_device(hw_job *job, const hw_report *report, int index, hw_arena *into,
                            hw_file_set *out)
{
    const hw_orthosis *made = report->feet[index].orthosis;
    const char *mark = hw_report_device_released(report, made->side) ? "" : "-NOT-RELEASED";
    const char *by_hand = report->feet[index].order->arch_height_m > 0.0 ? " arch by hand" : "";
    const char *code = NULL, *name = NULL, *title = NULL, *stl_name = NULL, *model_name = NULL;
    hw_mesh solid = {0};
    hw_bytes stl = {0}, model = {0};
    HW_TRY(hw_app_code_in_name(job, report->visit->code, into, &code));
    // A binary STL must not begin with "solid", whatever a clinic's codes look like.
    HW_TRY(hw_text_format(job, into, &name, "%s%s-%s%s", strncmp(code, "solid", 5) ? "" : "person-",
                          code, hw_side_word(made->side), mark));
    HW_TRY(hw_text_format(job, into, &stl_name, "%s.stl", name));
    HW_TRY(hw_text_format(job, into, &model_name, "%s.3mf", name));
    HW_TRY(hw_text_format(job, into, &title, "%s%s", name, by_hand));
    HW_TRY(hw_orthosis_exit(job, made, into, &solid));
    HW_TRY(hw_meshfile_stl(job, &solid, title, into, &stl));
    HW_TRY(hw_meshfile_3mf(job, &solid, title, into, &model));
    HW_TRY(hw_file_set_add(job, out, stl_name, stl));
    return hw_file_set_add(job, out, model_name, model);
}

static hw_status add_devices(hw_job *job, const hw_report *report, hw_arena *into, hw_file_set *out)
{
    for (int i = 0; i < 2; i++)
        if (report->feet[i].orthosis) HW_TRY(add_device(job, report, i, into, out));
    return HW_OK;
}

static hw_status add_fit_picture(hw_job *job, const hw_report *report, hw_arena *into,
                                 hw_file_set *out)
{
    hw_bytes picture = {0};
    if (!report->feet[0].fit && !report->feet[1].fit) return HW_OK; // an arch by hand
    HW_TRY(hw_report_fit_pdf(job, report, into, &picture));
    return hw_file_set_add(job, out, "fit.pdf", picture);
}

hw_status hw_app_orthosis_files(hw_job *job, const hw_report *report, hw_arena *into,
                                hw_file_set *out)
{
    hw_file_set files = {0};
    hw_bytes json = {0};
    if (!report->feet[0].orthosis && !report->feet[1].orthosis)
        return hw_fail(job, HW_BAD_INPUT, "no orthosis can be made: %s",
                       report->feet[0].is_given ? report->feet[0].orthosis_why
                                                : report->feet[1].orthosis_why);
    HW_TRY(add_devices(job, report, into, &files));
    HW_TRY(add_fit_picture(job, report, into, &files));
    HW_TRY(hw_report_orthosis_json(job, report, into, &json));
    HW_TRY(hw_file_set_add(job, &files, "orthosis.json", json));
    *out = files;
    return HW_OK;
}

static hw_status add_papers(hw_job *job, const hw_report *report, hw_arena *into, hw_file_set *out)
{
    hw_bytes patient = {0}, order = {0}, consent = {0};
    HW_TRY(hw_report_patient_pdf(job, report, into, &patient));
    HW_TRY(hw_file_set_add(job, out, "patient.pdf", patient));
    if (report->feet[0].orthosis || report->feet[1].orthosis) {
        HW_TRY(hw_report_order_pdf(job, report, into, &order));
        HW_TRY(hw_file_set_add(job, out, "order.pdf", order));
        HW_TRY(add_fit_picture(job, report, into, out));
    }
    if (hw_report_consent_count(report) == 0) return HW_OK;
    HW_TRY(hw_report_consent_pdf(job, report, into, &consent));
    return hw_file_set_add(job, out, "consent.pdf", consent);
}

hw_status hw_app_visit_files(hw_job *job, const hw_report *report, hw_arena *into, hw_file_set *out)
{
    hw_file_set files = {0};
    hw_bytes pdf = {0}, letter = {0}, json = {0};
    HW_TRY(add_devices(job, report, into, &files));
    HW_TRY(hw_report_pdf(job, report, into, &pdf));
    HW_TRY(hw_report_visit_json(job, report, into, &json));
    HW_TRY(hw_file_set_add(job, &files, "plan.pdf", pdf));
    HW_TRY(hw_report_letter_pdf(job, report, into, &letter));
    HW_TRY(hw_file_set_add(job, &files, "letter.pdf", letter));
    HW_TRY(add_papers(job, report, into, &files));
    if (report->plan->released) {
        hw_bytes calendar = {0};
        HW_TRY(hw_report_calendar(job, report, into, &calendar));
        HW_TRY(hw_file_set_add(job, &files, "plan.ics", calendar));
    }
    HW_TRY(hw_file_set_add(job, &files, "visit.json", json));
    *out = files;
    return HW_OK;
}
