// SPDX-License-Identifier: GPL-3.0-or-later
// The caseload for the page, the audit report, a person's treatment record, and tables to take away.
#include "api_internal.h"

#include <stdio.h>
#include <string.h>

static hw_date today(void)
{
    return (hw_date){(int)(api_now_ms() / 86400000), true};
}

static hw_status read_books(api_call *call, hw_app_books *out)
{
    return hw_app_books_read(call->job, call->api->store, today(), call->into, out);
}

hw_status answer_caseload(api_call *call)
{
    hw_app_books *books = NULL;
    hw_bytes text = {0};
    HW_ALLOC(call->job, call->into, books, 1);
    HW_TRY(read_books(call, books));
    HW_TRY(hw_app_books_json(call->job, books, call->into, &text));
    return api_json(call, text);
}

static hw_status attach(api_call *call, const char *name, const char *type, hw_bytes bytes)
{
    const char *value = NULL;
    HW_TRY(hw_text_format(call->job, call->into, &value, "attachment; filename=\"%s\"", name));
    hw_http_reply_header(call->reply, "Content-Disposition", value);
    call->reply->type = type;
    call->reply->body = bytes;
    return HW_OK;
}

hw_status answer_audit_report(api_call *call)
{
    hw_app_books *books = NULL;
    hw_paper paper = HW_PAPER_A4;
    hw_bytes pdf = {0};
    HW_ALLOC(call->job, call->into, books, 1);
    HW_TRY(api_paper(call, &paper));
    HW_TRY(read_books(call, books));
    HW_TRY(hw_app_audit_pdf(call->job, books, paper, call->into, &pdf));
    return attach(call, "audit.pdf", "application/pdf", pdf);
}

// One table of an export at a time; that it was taken is written down before it goes out.
hw_status answer_export(api_call *call)
{
    const char *name = NULL, *why = NULL;
    hw_app_books *books = NULL;
    hw_file_set tables = {0};
    HW_ALLOC(call->job, call->into, books, 1);
    HW_TRY(api_text(call, "table", 40, NULL, &name));
    HW_TRY(api_text(call, "why", 200, "", &why));
    HW_TRY(read_books(call, books));
    hw_bytes found = {0};
    for (int set = 0; set < 2 && !found.at; set++) {
        HW_TRY(set ? hw_app_books_deidentified(call->job, books, HW_APP_K, call->into, &tables)
                   : hw_app_books_tables(call->job, books, call->into, &tables));
        for (int i = 0; i < tables.count; i++)
            if (strcmp(tables.files[i].name, name) == 0) found = tables.files[i].bytes;
    }
    if (!found.at) return hw_fail(call->job, HW_NOT_FOUND, "there is no table of this name");
    HW_TRY(hw_app_export_noted(call->job, call->api->store, call->session.user.id, name, why,
                               call->into));
    bool is_csv = strstr(name, ".csv") != NULL;
    return attach(call, name, is_csv ? "text/csv; charset=utf-8" : "text/plain; charset=utf-8",
                  found);
}

// -- a person's treatment record

static hw_status who_wrote(void *user, const char *id, const char **out)
{
    *out = api_user_name(user, id);
    return HW_OK;
}

hw_status answer_treatment_record(api_call *call)
{
    hw_paper paper = HW_PAPER_A4;
    hw_bytes pdf = {0};
    HW_TRY(api_paper(call, &paper));
    const hw_app_course_ask ask = {
        .person = call->args[0], .today = today(), .paper = paper, .who = who_wrote, .user = call};
    HW_TRY(hw_app_course_pdf(call->job, call->api->store, &ask, call->into, &pdf));
    return attach(call, "treatment-record.pdf", "application/pdf", pdf);
}
