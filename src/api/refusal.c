// SPDX-License-Identifier: GPL-3.0-or-later
// How a reply that is no answer looks, and what stands on every reply.
#include "api_internal.h"

#include <string.h>

void api_security_headers(const hw_api *api, hw_http_reply *reply)
{
    static const char policy[] =
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
        "connect-src 'self'; frame-src blob:; font-src 'self'; worker-src 'self'; form-action "
        "'self'; "
        "base-uri 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'";
    hw_http_reply_header(reply, "Content-Security-Policy", policy);
    hw_http_reply_header(reply, "X-Content-Type-Options", "nosniff");
    hw_http_reply_header(reply, "Referrer-Policy", "no-referrer");
    hw_http_reply_header(reply, "Cross-Origin-Opener-Policy", "same-origin");
    hw_http_reply_header(reply, "Cross-Origin-Resource-Policy", "same-origin");
    hw_http_reply_header(reply, "X-Frame-Options", "DENY");
    hw_http_reply_header(reply, "Permissions-Policy",
                         "camera=(), microphone=(), geolocation=(), interest-cohort=()");
    hw_http_reply_header(reply, "Cache-Control", "no-store");
    if (api->is_tls) hw_http_reply_header(reply, "Strict-Transport-Security", "max-age=31536000");
}

// The whole list of codes a status becomes.
int api_code_of(hw_status status)
{
    switch (status) {
    case HW_OK:
        return 200;
    case HW_BAD_FORMAT:
        return 400;
    case HW_NO_ACCESS:
        return 403;
    case HW_NOT_FOUND:
        return 404;
    case HW_CLASH:
        return 409;
    case HW_BAD_INPUT:
    case HW_NO_ANSWER:
        return 422;
    case HW_CANCELLED:
    case HW_NO_MEMORY:
        return 503;
    case HW_IO_FAILED:
        return 500;
    }
    return 500;
}

// Each fault by its key, so that the page shows it beside the field.
static void write_faults(hw_json_out *out, const hw_faults *faults)
{
    hw_json_open(out, "faults", '[');
    for (int i = 0; i < faults->count; i++) {
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "key", faults->rows[i].key);
        hw_json_text(out, "sentence", faults->rows[i].sentence);
        hw_json_close(out);
    }
    hw_json_close(out);
}

// {"error", "faults", "current"}: the same shape for every refusal, also when memory has run out.
void api_error(hw_http_reply *reply, hw_job *job, hw_arena *into, const char *sentence,
               const api_call *call)
{
    static const char plain[] = "{\"error\": \"the server has no memory left\", \"faults\": []}";
    static const hw_faults none = {0};
    hw_json_out out = hw_json_begin(into);
    hw_json_open(&out, NULL, '{');
    hw_json_text(&out, "error", sentence);
    write_faults(&out, call ? &call->faults : &none);
    if (call && call->current.count) hw_json_raw(&out, "current", call->current);
    hw_json_close(&out);
    reply->type = "application/json; charset=utf-8";
    if (hw_json_end(job, &out, &reply->body) != HW_OK)
        reply->body = (hw_bytes){(const unsigned char *)plain, sizeof plain - 1};
}

void api_refuse(hw_http_reply *reply, hw_arena *into, int code, const char *sentence)
{
    hw_job no_job = {0}; // only its sentence is written to
    reply->code = code;
    api_error(reply, &no_job, into, sentence, NULL);
}

// Refusals that the server below makes by itself.
void api_dress(void *user, hw_http_reply *reply)
{
    static const struct {
        int code;
        const char *body;
    } bodies[] = {
        {400, "{\"error\": \"the request is malformed\", \"faults\": []}"},
        {413, "{\"error\": \"this is more than may be sent here\", \"faults\": []}"},
        {429, "{\"error\": \"too many requests: wait a second\", \"faults\": []}"},
        {500, "{\"error\": \"the server could not do this\", \"faults\": []}"},
        {503, "{\"error\": \"the server is busy: try again\", \"faults\": []}"},
    };
    api_security_headers(user, reply);
    for (size_t i = 0; i < sizeof bodies / sizeof *bodies; i++) {
        if (bodies[i].code != reply->code) continue;
        reply->body = (hw_bytes){(const unsigned char *)bodies[i].body, strlen(bodies[i].body)};
        reply->type = "application/json; charset=utf-8";
    }
    api_log(user, "- - %d refused by the server", reply->code);
}
