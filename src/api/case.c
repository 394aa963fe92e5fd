// SPDX-License-Identifier: GPL-3.0-or-later
// A visit's record is the case file but for three things: the person's code stands in the person's
// record, a scan is named by its hash (and bears its old name beside it), and some keys are the
// page's own.
#include "api_internal.h"

#include <string.h>

// Kept in the record, not part of a case.
static bool is_own_key(const char *key)
{
    static const char *const own[] = {"notes", "page", "released", "signed"};
    for (size_t i = 0; i < sizeof own / sizeof *own; i++)
        if (strcmp(own[i], key) == 0) return true;
    return false;
}

static const hw_json *object_at(const hw_json *tree, const char *key)
{
    const hw_json *value = hw_json_get(tree, key);
    return value && value->kind == HW_JSON_OBJECT ? value : NULL;
}

// H27: a device on another person's foot.
static hw_status check_file(api_call *call, const char *person, const char *hash)
{
    hw_store_head owner = {0};
    hw_status status = hw_store_file_owner(call->job, call->api->store, hash, call->into, &owner);
    if (status != HW_OK && status != HW_NOT_FOUND && status != HW_BAD_INPUT) return status;
    if (status == HW_OK && strcmp(owner.person, person) == 0) return HW_OK;
    return hw_fail(call->job, HW_BAD_INPUT, "a file of this visit is not one of this person's");
}

// The keys of a foot that name files kept in the store. A picture is for eyes: no computation reads it,
// and a name may be burnt into it, so that it goes to no worker.
static const struct {
    const char *key;
    bool is_computed_from;
} recordings[] = {{"scan", true}, {"ultrasound", false}, {"walk", true}, {"pressure", true}};
enum { RECORDINGS = sizeof recordings / sizeof *recordings };

// Two keys of each, of two feet.
_Static_assert(2 * 2 * RECORDINGS <= HW_STORE_JOB_FILES, "files of a job");

static hw_status check_files(api_call *call, const char *person, const hw_json *foot,
                             api_files *files)
{
    static const char *const keys[] = {"file", "forces_file"};
    for (int i = 0; i < 2 * RECORDINGS; i++) {
        const hw_json *file = hw_json_get(object_at(foot, recordings[i / 2].key), keys[i % 2]);
        // The case's reader says what is wrong with a value that is no text.
        if (!file || file->kind != HW_JSON_TEXT) continue;
        HW_TRY(check_file(call, person, file->text));
        if (recordings[i / 2].is_computed_from) files->hashes[files->count++] = file->text;
    }
    return HW_OK;
}

static bool is_recording(const char *key)
{
    for (int i = 0; i < RECORDINGS; i++)
        if (strcmp(key, recordings[i].key) == 0) return true;
    return false;
}

// The name a file was uploaded under may say whose it is; it stays out, and so does what the page alone keeps.
static void write_recording(hw_json_out *out, const char *key, const hw_json *of)
{
    hw_json_open(out, key, '{');
    for (int i = 0; i < of->count; i++)
        if (strcmp(of->keys[i], "name") != 0 && !is_own_key(of->keys[i]))
            hw_json_tree(out, of->keys[i], &of->items[i]);
    hw_json_close(out);
}

static void write_foot(hw_json_out *out, const char *side, const hw_json *foot)
{
    hw_json_open(out, side, '{');
    for (int i = 0; i < foot->count; i++) {
        if (is_recording(foot->keys[i]) && foot->items[i].kind == HW_JSON_OBJECT)
            write_recording(out, foot->keys[i], &foot->items[i]);
        else
            hw_json_tree(out, foot->keys[i], &foot->items[i]);
    }
    hw_json_close(out);
}

static void write_feet(hw_json_out *out, const hw_json *feet)
{
    hw_json_open(out, "feet", '{');
    for (int i = 0; i < feet->count; i++) {
        if (feet->items[i].kind == HW_JSON_OBJECT)
            write_foot(out, feet->keys[i], &feet->items[i]);
        else
            hw_json_tree(out, feet->keys[i], &feet->items[i]);
    }
    hw_json_close(out);
}

// The medical keys of the visit, with the code of the person's record, whatever the visit says.
static void write_person(hw_json_out *out, const hw_json *given, const char *code)
{
    hw_json_open(out, "person", '{');
    hw_json_text(out, "code", code);
    for (int i = 0; given && i < given->count; i++)
        if (strcmp(given->keys[i], "code") != 0)
            hw_json_tree(out, given->keys[i], &given->items[i]);
    hw_json_close(out);
}

// The code alone; the name never leaves the person's record.
static hw_status read_person(api_call *call, const char *person, const char **code)
{
    hw_store_row row = {0};
    const hw_json *body = NULL;
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"person", person, 0},
                        call->into, &row));
    HW_TRY(hw_json_read(call->job, row.body, call->into, &body));
    const hw_json *typed = hw_json_get(body, "code");
    if (!typed || typed->kind != HW_JSON_TEXT)
        return hw_fail(call->job, HW_BAD_INPUT, "the person has no code");
    *code = typed->text;
    return HW_OK;
}

// Keys the case does not know pass: its reader refuses them by name.
static void write_member(hw_json_out *out, const char *key, const hw_json *value)
{
    if (is_own_key(key) || strcmp(key, "person") == 0) return;
    if (strcmp(key, "feet") == 0 && value->kind == HW_JSON_OBJECT)
        write_feet(out, value);
    else
        hw_json_tree(out, key, value);
}

hw_status api_case_of(api_call *call, const char *person, const hw_json *visit, hw_bytes *out,
                      api_files *files)
{
    const char *code = NULL;
    const hw_json *feet = object_at(visit, "feet");
    HW_TRY(read_person(call, person, &code));
    files->count = 0;
    HW_TRY(check_files(call, person, hw_json_get(feet, "left"), files));
    HW_TRY(check_files(call, person, hw_json_get(feet, "right"), files));
    hw_json_out json = hw_json_begin(call->into);
    hw_json_open(&json, NULL, '{');
    if (!hw_json_get(visit, "heelwright_case")) hw_json_int(&json, "heelwright_case", 1);
    for (int i = 0; i < visit->count; i++) write_member(&json, visit->keys[i], &visit->items[i]);
    write_person(&json, object_at(visit, "person"), code);
    hw_json_close(&json);
    return hw_json_end(call->job, &json, out);
}
