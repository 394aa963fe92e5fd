// SPDX-License-Identifier: GPL-3.0-or-later
// Devices that were issued, and what a maker may see of them. A device's record names the files it
// is made from; each must be one of the visit's result, under a name that is not marked NOT
// RELEASED. They are sealed again with the device's own key, which outlives the person's.
#include "api_internal.h"

#include <stdio.h>
#include <string.h>

enum { DEVICE_FILES_MAX = 8 };

static bool is_same_text(const hw_json *value, const char *text)
{
    return value && value->kind == HW_JSON_TEXT && strcmp(value->text, text) == 0;
}

// The files of the visit's newest result; the visit must be the same person's.
static hw_status read_result(api_call *call, const char *person, const char *visit,
                             const hw_json **files)
{
    hw_store_row row = {0};
    const hw_json *body = NULL;
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"result", visit, 0}, call->into,
                        &row));
    if (strcmp(row.head.person, person) != 0)
        return hw_fail(call->job, HW_BAD_INPUT, "the device's visit is another person's");
    HW_TRY(hw_json_read(call->job, row.body, call->into, &body));
    *files = hw_json_get(body, "files");
    return HW_OK;
}

// The files of an issued device stay: a remake is a new device.
static hw_status check_kept(api_call *call, const hw_json *body, const hw_json *old)
{
    static const char *const kept[] = {"files", "sealed_files", "visit", "foot"};
    for (int i = 0; i < 4; i++)
        if (!hw_json_same(hw_json_get(body, kept[i]), hw_json_get(old, kept[i])))
            return hw_fail(call->job, HW_BAD_INPUT,
                           "'%s' of an issued device cannot change: a remake is a new device",
                           kept[i]);
    return HW_OK;
}

hw_status api_device_check(api_call *call, const char *person, const hw_json *body,
                           const hw_json *old)
{
    const hw_json *files = hw_json_get(body, "files"), *made = NULL;
    if (old) return check_kept(call, body, old);
    if (hw_json_get(body, "sealed_files"))
        return hw_fail(call->job, HW_BAD_INPUT, "'sealed_files' is the server's to write");
    if (!files) return HW_OK;
    if (files->kind != HW_JSON_OBJECT || files->count > DEVICE_FILES_MAX)
        return hw_fail(call->job, HW_BAD_INPUT, "'files' names at most %d files by their hash",
                       DEVICE_FILES_MAX);
    HW_TRY(read_result(call, person, hw_json_text_at(body, "visit", ""), &made));
    for (int i = 0; i < files->count; i++) {
        const char *name = files->keys[i];
        if (strstr(name, "NOT-RELEASED"))
            return hw_fail(call->job, HW_BAD_INPUT,
                           "a device is not made from what is not released");
        if (files->items[i].kind != HW_JSON_TEXT ||
            !is_same_text(hw_json_get(made, name), files->items[i].text))
            return hw_fail(call->job, HW_BAD_INPUT, "'%.80s' is not a file of the visit's result",
                           name);
    }
    return HW_OK;
}

// The same bytes under the device's key, which erasing the person does not destroy.
static hw_status seal_again(api_call *call, const hw_store_head *head, const char *hash,
                            char fresh[static HW_STORE_HASH])
{
    hw_bytes bytes = {0};
    HW_TRY(hw_store_file_get(call->job, call->api->store, hash, call->into, &bytes));
    hw_store_file file = {
        .bytes = bytes, .person = head->person, .device = head->id, .who = call->session.user.id};
    return hw_store_file_put(call->job, call->api->store, &file, fresh);
}

static hw_status write_files(api_call *call, const hw_store_head *head, const hw_json *files,
                             hw_json_out *json)
{
    hw_json_open(json, "sealed_files", '{');
    for (int i = 0; i < files->count; i++) {
        char fresh[HW_STORE_HASH];
        HW_TRY(seal_again(call, head, files->items[i].text, fresh));
        hw_json_text(json, files->keys[i], fresh);
    }
    hw_json_close(json);
    return HW_OK;
}

hw_status api_device_files(api_call *call, hw_store_head *head, const hw_json *body)
{
    const hw_json *files = hw_json_get(body, "files");
    hw_json_out json = hw_json_begin(call->into);
    hw_store_write write = {.kind = "device",
                            .id = head->id,
                            .person = head->person,
                            .expected_version = head->version,
                            .who = call->session.user.id,
                            .why = "files sealed with the device"};
    if (!files || files->count == 0) return HW_OK;
    hw_json_open(&json, NULL, '{');
    for (int i = 0; i < body->count; i++) hw_json_tree(&json, body->keys[i], &body->items[i]);
    HW_TRY(write_files(call, head, files, &json));
    hw_json_close(&json);
    HW_TRY(hw_json_end(call->job, &json, &write.body));
    return hw_store_put(call->job, call->api->store, &write, 1, call->into, head);
}

hw_status api_device_holds(api_call *call, const char *device, const char *hash)
{
    hw_store_row row = {0};
    const hw_json *body = NULL;
    hw_status status = HW_NOT_FOUND;
    if (device)
        status = hw_store_get(call->job, call->api->store, (hw_store_ref){"device", device, 0},
                              call->into, &row);
    if (status == HW_OK) HW_TRY(hw_json_read(call->job, row.body, call->into, &body));
    const hw_json *files = hw_json_get(body, "sealed_files");
    for (int i = 0; files && files->kind == HW_JSON_OBJECT && i < files->count; i++)
        if (is_same_text(&files->items[i], hash)) return HW_OK;
    return hw_fail(call->job, HW_NOT_FOUND, "no file of a released device");
}

// What a maker needs of a device's record, and nothing that says who wears it.
static void write_device(hw_json_out *out, const hw_store_row *row, const hw_json *body)
{
    static const char *const shown[] = {"code", "foot",        "order",  "serial",      "issued",
                                        "made", "adjustments", "remake", "sealed_files"};
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "id", row->head.id);
    hw_json_int(out, "version", (long)row->head.version);
    for (size_t i = 0; i < sizeof shown / sizeof *shown; i++) {
        const hw_json *value = hw_json_get(body, shown[i]);
        if (value) hw_json_tree(out, shown[i], value);
    }
    hw_json_close(out);
}

// By the code on the order sheet; a maker has no other way to ask.
hw_status answer_devices(api_call *call)
{
    const char *code = NULL;
    hw_store_rows rows = {0};
    HW_TRY(hw_http_query_read(call->job, call->request->query, "code", call->into, &code));
    if (!code || !*code)
        return hw_fail(call->job, HW_BAD_INPUT, "whose devices? '?code=' is missing");
    HW_TRY(hw_store_list(call->job, call->api->store, &(hw_store_query){.kind = "device"},
                         call->into, &rows));
    hw_json_out out = api_begin(call);
    hw_json_open(&out, "devices", '[');
    for (int i = 0; i < rows.count; i++) {
        const hw_json *body = NULL;
        HW_TRY(hw_json_read(call->job, rows.rows[i].body, call->into, &body));
        if (hw_text_same(hw_json_text_at(body, "code", ""), code))
            write_device(&out, &rows.rows[i], body);
    }
    hw_json_close(&out);
    return api_end(call, &out);
}
