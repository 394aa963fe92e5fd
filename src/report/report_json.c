// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

void json_head(hw_json_out *out, const hw_report *report)
{
    char date[HW_DATE_TEXT];
    hw_json_text(out, "program", "heelwright " HW_VERSION);
    hw_json_text(out, "person", report->visit->code);
    hw_json_text(out, "visit_date", hw_date_text(report->visit->findings.visit_date, date));
    if (report->visit->is_invented) hw_json_bool(out, "invented", true);
}

// The root object with its head; `end` closes it.
static hw_json_out begin(const hw_report *report, hw_arena *into)
{
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    json_head(&json, report);
    return json;
}

static hw_status end(hw_job *job, hw_json_out *json, hw_bytes *out)
{
    hw_json_close(json);
    return hw_json_end(job, json, out);
}

static void each_foot(hw_json_out *out, const hw_report *report,
                      void (*part)(hw_json_out *, const hw_report_foot *))
{
    hw_json_open(out, "feet", '{');
    for (int i = 0; i < 2; i++) {
        if (!report->feet[i].is_given) continue;
        hw_json_open(out, i ? "right" : "left", '{');
        part(out, &report->feet[i]);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void json_device(hw_json_out *out, const hw_report_foot *foot)
{
    json_orthosis(out, foot);
    json_fit(out, foot);
}

static void whole_foot(hw_json_out *out, const hw_report_foot *foot)
{
    if (foot->scan) {
        hw_json_open(out, "scan", '{');
        json_scan(out, foot->scan);
        hw_json_close(out);
    }
    if (foot->measures) {
        hw_json_open(out, "measures", '{');
        json_measures(out, foot->measures);
        hw_json_close(out);
    }
    json_load(out, foot);
    json_device(out, foot);
}

hw_status hw_report_foot_json(hw_job *job, const hw_scan_result *scan, hw_arena *into,
                              hw_bytes *out)
{
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "program", "heelwright " HW_VERSION);
    json_scan(&json, scan);
    return end(job, &json, out);
}

hw_status hw_report_load_json(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    hw_json_out json = begin(report, into);
    each_foot(&json, report, json_load);
    return end(job, &json, out);
}

hw_status hw_report_walk_json(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    hw_json_out json = begin(report, into);
    each_foot(&json, report, json_walk);
    return end(job, &json, out);
}

hw_status hw_report_fit_json(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    hw_json_out json = begin(report, into);
    each_foot(&json, report, json_fit_map);
    return end(job, &json, out);
}

hw_status hw_report_press_json(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    hw_json_out json = begin(report, into);
    each_foot(&json, report, json_press_map);
    return end(job, &json, out);
}

hw_status hw_report_orthosis_json(hw_job *job, const hw_report *report, hw_arena *into,
                                  hw_bytes *out)
{
    hw_json_out json = begin(report, into);
    hw_json_text(&json, "pair", report->note);
    if (report->plan) hw_json_bool(&json, "released", report->plan->released);
    if (report->plan) hw_json_text(&json, "verdict", report->plan->verdict);
    each_foot(&json, report, json_device);
    return end(job, &json, out);
}

hw_status hw_report_screen_json(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    hw_json_out json = begin(report, into);
    json_screen(&json, report->plan);
    return end(job, &json, out);
}

hw_status hw_report_dose_json(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    hw_json_out json = begin(report, into);
    json_options(&json, report);
    json_orders(&json, report->plan);
    hw_json_text(&json, "caution", "Local rules and the product's own leaflet go first.");
    return end(job, &json, out);
}

hw_status hw_report_plan_json(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    hw_json_out json = begin(report, into);
    json_plan(&json, report);
    return end(job, &json, out);
}

hw_status hw_report_visit_json(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    hw_json_out json = begin(report, into);
    each_foot(&json, report, whole_foot);
    hw_json_text(&json, "pair", report->note);
    hw_json_open(&json, "plan", '{');
    json_plan(&json, report);
    hw_json_close(&json);
    return end(job, &json, out);
}
