// SPDX-License-Identifier: GPL-3.0-or-later
// The owner's part: the clinic's settings, who did what, backup, proof that nothing was changed.
#include "api_internal.h"

#include <stdlib.h>
#include <string.h>

enum { AUDIT_ROWS = 500 };

hw_status answer_clinic(api_call *call)
{
    hw_store_row row = {0};
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"clinic", "clinic", 0},
                        call->into, &row));
    hw_json_out out = api_begin(call);
    api_head(call, &out, &row.head);
    hw_json_raw(&out, "body", row.body);
    return api_end(call, &out);
}

// An invented clinic stays one: nobody shall take its people for real ones, or the other way round.
static hw_status keep_invented(api_call *call, const hw_json *body)
{
    hw_store_row row = {0};
    const hw_json *old = NULL;
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"clinic", "clinic", 0},
                        call->into, &row));
    HW_TRY(hw_json_read(call->job, row.body, call->into, &old));
    if (hw_json_same(hw_json_get(old, "invented"), hw_json_get(body, "invented"))) return HW_OK;
    return hw_fail(call->job, HW_BAD_INPUT, "'invented' cannot be changed");
}

hw_status answer_clinic_change(api_call *call)
{
    const hw_json *body = NULL;
    hw_store_write write = {.kind = "clinic", .id = "clinic"};
    HW_TRY(api_body(call, &body, &write.body));
    HW_TRY(keep_invented(call, body));
    HW_TRY(api_mill_check(call, hw_json_get(body, "milling")));
    return api_change(call, &write);
}

// Heads alone: who, what, when. Why stands with the record, sealed.
hw_status answer_audit(api_call *call)
{
    const char *since = NULL;
    int64_t newest = 0;
    hw_store_rows rows = {0};
    HW_TRY(hw_http_query_read(call->job, call->request->query, "since", call->into, &since));
    HW_TRY(hw_store_change(call->job, call->api->store, &newest));
    // Without 'since' the newest.
    int64_t from = since ? strtoll(since, NULL, 10) : newest - AUDIT_ROWS;
    hw_store_query query = {
        .since = from > 0 ? from : 0, .limit = AUDIT_ROWS, .is_heads_only = true};
    HW_TRY(hw_store_changes(call->job, call->api->store, &query, call->into, &rows));
    hw_json_out out = api_begin(call);
    hw_json_open(&out, "audit", '[');
    for (int i = 0; i < rows.count; i++) api_row(call, &out, NULL, &rows.rows[i]);
    hw_json_close(&out);
    hw_json_int(&out, "change", (long)rows.change);
    hw_json_bool(&out, "more", rows.change < newest);
    return api_end(call, &out);
}

// Only the file's name goes back: where the server keeps it is no page's business.
hw_status answer_backup(api_call *call)
{
    const char *name = NULL;
    if (!call->api->backups)
        return hw_fail(call->job, HW_BAD_INPUT, "this server was given no folder for backups");
    HW_TRY(hw_store_backup(call->job, call->api->store, call->api->backups, call->into, &name));
    hw_json_out out = api_begin(call);
    const char *slash = strrchr(name, '/');
    hw_json_text(&out, "file", slash ? slash + 1 : name);
    hw_json_text(&out, "note", "the key file is not in it: keep that one elsewhere");
    return api_end(call, &out);
}

// Faults found are an answer, not a failure.
hw_status answer_verify(api_call *call)
{
    hw_store_report report = {0};
    hw_status status = hw_store_verify(call->job, call->api->store, NULL, call->into, &report);
    if (status != HW_OK && (status != HW_BAD_FORMAT || report.fault_count == 0)) return status;
    hw_json_out out = api_begin(call);
    hw_json_bool(&out, "holds", report.fault_count == 0);
    hw_json_int(&out, "records", (long)report.records);
    hw_json_int(&out, "files", (long)report.files);
    hw_json_int(&out, "jobs", (long)report.jobs);
    hw_json_int(&out, "keys", (long)report.keys);
    hw_json_int(&out, "fault_count", report.fault_count);
    hw_json_open(&out, "faults", '[');
    for (int i = 0; i < report.listed; i++) hw_json_text(&out, NULL, report.faults[i]);
    hw_json_close(&out);
    hw_json_int(&out, "change", (long)report.mark.change);
    hw_json_text(&out, "link", report.mark.link);
    return api_end(call, &out);
}
