// SPDX-License-Identifier: GPL-3.0-or-later
#include "json/json.h"

#include <jansson.h>
#include <string.h>

static hw_status copy_tree(hw_job *job, json_t *from, hw_arena *into, hw_json *out);

static hw_status copy_list(hw_job *job, json_t *from, hw_arena *into, hw_json *out)
{
    hw_json *items = NULL;
    out->count = (int)json_array_size(from);
    HW_ALLOC(job, into, items, out->count + 1);
    for (int i = 0; i < out->count; i++)
        HW_TRY(copy_tree(job, json_array_get(from, (size_t)i), into, &items[i]));
    out->items = items;
    return HW_OK;
}

static hw_status copy_object(hw_job *job, json_t *from, hw_arena *into, hw_json *out)
{
    hw_json *items = NULL;
    const char **keys = NULL;
    out->count = (int)json_object_size(from);
    HW_ALLOC(job, into, items, out->count + 1);
    HW_ALLOC(job, into, keys, out->count + 1);
    const char *key = NULL;
    json_t *value = NULL;
    int i = 0;
    json_object_foreach(from, key, value)
    {
        HW_TRY(hw_text_copy(job, into, key, &keys[i]));
        HW_TRY(copy_tree(job, value, into, &items[i]));
        i++;
    }
    out->items = items;
    out->keys = keys;
    return HW_OK;
}

// jansson has bounded the depth before this recursion runs.
static hw_status copy_tree(hw_job *job, json_t *from, hw_arena *into, hw_json *out)
{
    switch (json_typeof(from)) {
    case JSON_OBJECT:
        out->kind = HW_JSON_OBJECT;
        return copy_object(job, from, into, out);
    case JSON_ARRAY:
        out->kind = HW_JSON_LIST;
        return copy_list(job, from, into, out);
    case JSON_STRING:
        out->kind = HW_JSON_TEXT;
        return hw_text_copy(job, into, json_string_value(from), &out->text);
    case JSON_INTEGER:
    case JSON_REAL:
        out->kind = HW_JSON_NUMBER;
        out->number = json_number_value(from);
        return HW_OK;
    case JSON_TRUE:
    case JSON_FALSE:
        out->kind = HW_JSON_BOOL;
        out->truth = json_is_true(from);
        return HW_OK;
    case JSON_NULL:
        out->kind = HW_JSON_NULL;
        return HW_OK;
    }
    return hw_fail(job, HW_BAD_FORMAT, "the text holds a value of no JSON kind");
}

hw_status hw_json_read(hw_job *job, hw_bytes bytes, hw_arena *into, const hw_json **out)
{
    json_error_t error;
    json_t *tree = json_loadb((const char *)bytes.at, bytes.count, JSON_REJECT_DUPLICATES, &error);
    if (!tree)
        return hw_fail(job, HW_BAD_FORMAT, "not a JSON text: line %d, column %d: %s", error.line,
                       error.column, error.text);
    hw_json *root = hw_arena_take(into, 1, sizeof *root);
    hw_status status = root ? copy_tree(job, tree, into, root)
                            : hw_fail(job, HW_NO_MEMORY, "no memory to read the JSON text");
    json_decref(tree);
    if (status == HW_OK) *out = root;
    return status;
}

const hw_json *hw_json_get(const hw_json *object, const char *key)
{
    if (!object || object->kind != HW_JSON_OBJECT) return NULL;
    for (int i = 0; i < object->count; i++)
        if (strcmp(object->keys[i], key) == 0) return &object->items[i];
    return NULL;
}

const char *hw_json_text_at(const hw_json *object, const char *key, const char *otherwise)
{
    const hw_json *value = hw_json_get(object, key);
    return value && value->kind == HW_JSON_TEXT ? value->text : otherwise;
}

const char *hw_json_kind_word(hw_json_kind kind)
{
    static const char *const words[] = {"nothing", "true or false", "a number",
                                        "a text",  "a list",        "an object"};
    return words[kind];
}
