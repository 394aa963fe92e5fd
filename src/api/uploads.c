// SPDX-License-Identifier: GPL-3.0-or-later
// Scans in, files out. What comes from outside is read in a shut-in process; what is kept is the
// plain PLY that process wrote.
#include "api_internal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// The count in the head the child wrote; only shown, nothing relies on it.
static long faces_of(hw_bytes ply)
{
    static const char lead[] = "\nelement face ";
    const char *at = strstr((const char *)ply.at, lead); // its head has no zero byte
    return at ? strtol(at + sizeof lead - 1, NULL, 10) : 0;
}

// A name is shown and offered for saving; it never becomes a path here.
static hw_status read_name(api_call *call, const char **name)
{
    HW_TRY(hw_http_query_read(call->job, call->request->query, "name", call->into, name));
    if (!*name || !**name || strlen(*name) > 120 || strpbrk(*name, "/\\\""))
        return hw_fail(call->job, HW_BAD_INPUT, "'name' must be a file's name, without folder");
    return HW_OK;
}

// The bytes as they came are dropped: what is kept has passed our own reader.
hw_status answer_file_add(api_call *call)
{
    const char *name = NULL;
    hw_bytes kept = {0};
    hw_store_row person = {0};
    char hash[HW_STORE_HASH];
    HW_TRY(read_name(call, &name));
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"person", call->args[0], 0},
                        call->into, &person));
    HW_TRY(hw_app_read(call->job, HW_APP_READ_SCAN, call->request->body, call->into, &kept));
    hw_store_file file = {.bytes = kept, .person = call->args[0], .who = call->session.user.id};
    HW_TRY(hw_store_file_put(call->job, call->api->store, &file, hash));
    hw_json_out out = api_begin(call);
    hw_json_text(&out, "file", hash);
    hw_json_text(&out, "name", name);
    hw_json_int(&out, "triangles", faces_of(kept));
    hw_json_int(&out, "bytes", (long)call->request->body.count);
    return api_end(call, &out);
}

static const char *type_of(const char *name)
{
    static const struct {
        const char *end, *type;
    } types[] = {{".json", "application/json; charset=utf-8"},
                 {".pdf", "application/pdf"},
                 {".stl", "model/stl"},
                 {".nc", "text/plain"},
                 {".3mf", "model/3mf"}};
    size_t length = strlen(name);
    for (size_t i = 0; i < sizeof types / sizeof *types; i++) {
        size_t end = strlen(types[i].end);
        if (length > end && hw_text_same(name + length - end, types[i].end)) return types[i].type;
    }
    return "application/octet-stream";
}

// The attachment's name: anything that could end the header's text is a dash.
static hw_status add_disposition(api_call *call, const char *name)
{
    char *plain = NULL;
    const char *value = NULL;
    HW_ALLOC(call->job, call->into, plain, strlen(name) + 1);
    for (size_t i = 0; name[i]; i++)
        plain[i] =
            name[i] > 0x20 && name[i] < 0x7f && name[i] != ';' && name[i] != '%' ? name[i] : '-';
    HW_TRY(hw_text_format(call->job, call->into, &value, "attachment; filename=\"%s\"", plain));
    hw_http_reply_header(call->reply, "Content-Disposition", value);
    return HW_OK;
}

// Always an attachment: nothing that was uploaded is ever shown as a page of ours.
hw_status answer_file(api_call *call)
{
    const char *name = NULL, *device = NULL;
    HW_TRY(read_name(call, &name));
    HW_TRY(hw_http_query_read(call->job, call->request->query, "device", call->into, &device));
    if (call->session.user.role == ROLE_MAKER)
        HW_TRY(api_device_holds(call, device, call->args[0]));
    HW_TRY(hw_store_file_get(call->job, call->api->store, call->args[0], call->into,
                             &call->reply->body));
    call->reply->type = type_of(name);
    return add_disposition(call, name);
}
