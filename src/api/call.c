// SPDX-License-Identifier: GPL-3.0-or-later
// Reading what was sent, writing the answer: what every handler does.
#include "api_internal.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

hw_status api_text(api_call *call, const char *key, size_t most, const char *fallback,
                   const char **out)
{
    const hw_json *value = hw_json_get(call->body, key);
    if (!value || value->kind == HW_JSON_NULL) {
        if (!fallback) return hw_fail(call->job, HW_BAD_INPUT, "'%s' is missing", key);
        *out = fallback;
        return HW_OK;
    }
    if (value->kind != HW_JSON_TEXT)
        return hw_fail(call->job, HW_BAD_INPUT, "'%s' must be a text", key);
    if (strlen(value->text) > most)
        return hw_fail(call->job, HW_BAD_INPUT, "'%s' is longer than %zu bytes", key, most);
    *out = value->text;
    return HW_OK;
}

// JSON has only one kind of number; a version is a whole one.
hw_status api_version(api_call *call, const char *key, int64_t *out)
{
    const hw_json *value = hw_json_get(call->body, key);
    double number = value && value->kind == HW_JSON_NUMBER ? value->number : -1.0;
    if (!(number >= 1.0 && number < 9e15) || number > floor(number))
        return hw_fail(call->job, HW_BAD_INPUT, "'%s' must be the number of a version", key);
    *out = (int64_t)number;
    return HW_OK;
}

hw_status api_body(api_call *call, const hw_json **tree, hw_bytes *text)
{
    const hw_json *body = hw_json_get(call->body, "body");
    if (!body || body->kind != HW_JSON_OBJECT)
        return hw_fail(call->job, HW_BAD_INPUT, "'body' is missing or no object");
    hw_json_out out = hw_json_begin(call->into);
    hw_json_tree(&out, NULL, body);
    *tree = body;
    return hw_json_end(call->job, &out, text);
}

hw_json_out api_begin(api_call *call)
{
    hw_json_out out = hw_json_begin(call->into);
    hw_json_open(&out, NULL, '{');
    return out;
}

hw_status api_end(api_call *call, hw_json_out *out)
{
    hw_json_close(out);
    call->reply->type = "application/json; charset=utf-8";
    return hw_json_end(call->job, out, &call->reply->body);
}

hw_status api_json(api_call *call, hw_bytes text)
{
    call->reply->type = "application/json; charset=utf-8";
    call->reply->body = text;
    return HW_OK;
}

hw_status api_done(api_call *call)
{
    hw_json_out out = api_begin(call);
    return api_end(call, &out);
}

void api_time(hw_json_out *out, const char *key, int64_t at_ms)
{
    char text[32];
    time_t seconds = (time_t)(at_ms / 1000);
    struct tm utc;
    strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", gmtime_r(&seconds, &utc));
    hw_json_text(out, key, text);
}

// Names stay readable for a user who left: the record stays.
const char *api_user_name(api_call *call, const char *id)
{
    hw_store_row row = {0};
    const hw_json *body = NULL;
    if (strcmp(id, call->session.user.id) == 0) return call->session.user.name;
    if (strlen(id) != HW_STORE_ID - 1 ||
        hw_store_get(call->job, call->api->store, (hw_store_ref){"user", id, 0}, call->into,
                     &row) != HW_OK ||
        hw_json_read(call->job, row.body, call->into, &body) != HW_OK)
        return id;
    return hw_json_text_at(body, "name", id);
}

void api_head(api_call *call, hw_json_out *out, const hw_store_head *head)
{
    hw_json_text(out, "kind", head->kind);
    hw_json_text(out, "id", head->id);
    hw_json_text(out, "person", head->person);
    hw_json_int(out, "version", (long)head->version);
    hw_json_int(out, "change", (long)head->change);
    api_time(out, "when", head->at_ms);
    hw_json_text(out, "who", api_user_name(call, head->who));
    hw_json_text(out, "who_id", head->who);
    hw_json_text(out, "why", head->why);
}

void api_row(api_call *call, hw_json_out *out, const char *key, const hw_store_row *row)
{
    hw_json_open(out, key, '{');
    api_head(call, out, &row->head);
    if (row->body.count > 0) hw_json_raw(out, "body", row->body);
    hw_json_close(out);
}

hw_status api_written(api_call *call, const hw_store_head *head)
{
    hw_json_out out = api_begin(call);
    hw_json_text(&out, "kind", head->kind);
    hw_json_text(&out, "id", head->id);
    hw_json_int(&out, "version", (long)head->version);
    hw_json_int(&out, "change", (long)head->change);
    return api_end(call, &out);
}
