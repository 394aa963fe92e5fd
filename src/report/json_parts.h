// SPDX-License-Identifier: GPL-3.0-or-later
// Parts of the JSON results, each written into an open object. Internal to report.
#ifndef HW_REPORT_JSON_PARTS_H
#define HW_REPORT_JSON_PARTS_H

#include "report/report.h"
#include "json/json.h"

void json_scan(hw_json_out *out, const hw_scan_result *scan);
void json_measures(hw_json_out *out, const hw_foot_measures *measures);
void json_load(hw_json_out *out, const hw_report_foot *foot);
void json_walk(hw_json_out *out, const hw_report_foot *foot);
void json_orthosis(hw_json_out *out, const hw_report_foot *foot);
void json_plan(hw_json_out *out, const hw_report *report);

#endif
