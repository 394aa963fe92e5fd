// SPDX-License-Identifier: GPL-3.0-or-later
#include "sheet.h"

static const char *sides_of(const hw_report *report)
{
    bool left = report->feet[0].is_given, right = report->feet[1].is_given;
    if (left && right) return "left and right foot";
    return left ? "left foot" : "right foot";
}

static hw_status plan_pages(sheet *on)
{
    on->pages = 2;
    HW_TRY(sheet_findings_page(on));
    return sheet_plan_page(on);
}

static hw_status load_pages(sheet *on)
{
    static const char *const words[2] = {"Left", "Right"};
    for (int i = 0; i < 2; i++) on->pages += on->report->feet[i].is_given;
    for (int i = 0; i < 2; i++)
        if (on->report->feet[i].is_given) sheet_load_page(on, &on->report->feet[i], words[i]);
    return HW_OK;
}

static hw_status letter_pages(sheet *on)
{
    on->pages = 1;
    sheet_letter_page(on);
    return HW_OK;
}

static hw_status print(hw_job *job, const hw_report *report, const char *what,
                       hw_status (*pages)(sheet *on), hw_arena *into, hw_bytes *out)
{
    HW_ASSERT(report->plan != NULL);
    char date[HW_DATE_TEXT];
    hw_date_text(report->visit->findings.visit_date, date);
    const char *title = NULL;
    HW_TRY(hw_text_format(job, into, &title, "%s %s, %s", what, report->visit->code,
                          sides_of(report)));
    const hw_pdf_about about = {title, "en-GB", date, SHEET_WIDTH, SHEET_HEIGHT};
    hw_scratch tmp = hw_scratch_begin(job, into);
    sheet on = {
        .job = job, .into = tmp.arena, .report = report, .what = what, .sides = sides_of(report)};
    HW_TRY(hw_pdf_begin(job, &about, &on.pdf));
    hw_status drawn = pages(&on);
    hw_bytes file = {0};
    hw_status ended = hw_pdf_end(job, on.pdf, into, &file); // frees it on every path
    HW_TRY(drawn);
    HW_TRY(ended);
    hw_scratch_end(tmp);
    *out = file;
    return HW_OK;
}

hw_status hw_report_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Plan for", plan_pages, into, out);
}

hw_status hw_report_letter_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Letter about", letter_pages, into, out);
}

hw_status hw_report_load_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Load for", load_pages, into, out);
}

hw_status hw_report_patient_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "What to do, for", sheet_patient_pages, into, out);
}

hw_status hw_report_order_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Order for", sheet_order_pages, into, out);
}

hw_status hw_report_fit_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Fit for", sheet_fit_pages, into, out);
}

hw_status hw_report_consent_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Consent record of", sheet_consent_pages, into, out);
}

hw_status hw_report_milling_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Milling for", sheet_milling_pages, into, out);
}
