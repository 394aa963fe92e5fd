// SPDX-License-Identifier: GPL-3.0-or-later
// Parts of the JSON results, each written into an open object. Internal to report.
#ifndef HW_REPORT_JSON_PARTS_H
#define HW_REPORT_JSON_PARTS_H

#include "report/report.h"
#include "json/json.h"

/// Program and case: what every result carries so that it can be traced.
void json_head(hw_json_out *out, const hw_report *report);

void json_scan(hw_json_out *out, const hw_scan_result *scan);
void json_measures(hw_json_out *out, const hw_foot_measures *measures);

/// "ball_girth" + more + "_mm", by the measure's unit.
const char *json_measure_key(hw_measure which, const char *more, char text[static 64]);

/// A value of that measure in the unit its key names.
void json_measure(hw_json_out *out, const char *key, hw_measure which, hw_maybe value);

/// The same with one more decimal.
void json_measure_half_width(hw_json_out *out, const char *key, hw_measure which, hw_maybe value);

void json_load(hw_json_out *out, const hw_report_foot *foot);
void json_walk(hw_json_out *out, const hw_report_foot *foot);
void json_fit(hw_json_out *out, const hw_report_foot *foot);
void json_fit_map(hw_json_out *out, const hw_report_foot *foot);
void json_press(hw_json_out *out, const hw_report_foot *foot);
void json_press_map(hw_json_out *out, const hw_report_foot *foot);
void json_search(hw_json_out *out, const hw_report_foot *foot);
void json_orthosis(hw_json_out *out, const hw_report_foot *foot);
void json_scale(hw_json_out *out, const hw_scale *scale);
void json_options(hw_json_out *out, const hw_report *report);
void json_risk(hw_json_out *out, const hw_findings *findings);
void json_orders(hw_json_out *out, const hw_plan *plan);
void json_screen(hw_json_out *out, const hw_plan *plan); // red flags, questions, differential
void json_differential(hw_json_out *out, const hw_plan *plan);
void json_plan(hw_json_out *out, const hw_report *report);

#endif
