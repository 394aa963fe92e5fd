// SPDX-License-Identifier: GPL-3.0-or-later
// Trees written back and compared.
#include "json/json.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// The shortest decimals that read back as the same double; whole numbers without a point.
static void spell_number(double value, char text[static 40])
{
    for (int digits = 15; digits <= 17; digits++) {
        snprintf(text, 40, "%.*g", digits, value);
        double back = strtod(text, NULL);
        if (back >= value && back <= value) return;
    }
}

static void write_number(hw_json_out *out, const char *key, double value)
{
    char text[40] = "0";
    spell_number(value, text);
    hw_json_raw(out, key, (hw_bytes){(const unsigned char *)text, strlen(text)});
}

static void write_items(hw_json_out *out, const char *key, const hw_json *value)
{
    bool is_object = value->kind == HW_JSON_OBJECT;
    hw_json_open(out, key, is_object ? '{' : '[');
    for (int i = 0; i < value->count; i++)
        hw_json_tree(out, is_object ? value->keys[i] : NULL, &value->items[i]);
    hw_json_close(out);
}

void hw_json_tree(hw_json_out *out, const char *key, const hw_json *value)
{
    switch (value->kind) {
    case HW_JSON_NULL:
        hw_json_null(out, key);
        break;
    case HW_JSON_BOOL:
        hw_json_bool(out, key, value->truth);
        break;
    case HW_JSON_NUMBER:
        write_number(out, key, value->number);
        break;
    case HW_JSON_TEXT:
        hw_json_text(out, key, value->text);
        break;
    case HW_JSON_LIST:
    case HW_JSON_OBJECT:
        write_items(out, key, value);
        break;
    }
}

static int depth_below(const hw_json *value, int left)
{
    int deepest = 0;
    for (int i = 0; left > 0 && i < value->count; i++) {
        int depth = depth_below(&value->items[i], left - 1);
        if (depth > deepest) deepest = depth;
    }
    return deepest + 1;
}

int hw_json_depth(const hw_json *value)
{
    return depth_below(value, HW_JSON_DEPTH_MAX);
}

static bool same_items(const hw_json *a, const hw_json *b)
{
    if (a->count != b->count) return false;
    for (int i = 0; i < a->count; i++) {
        const hw_json *other =
            a->kind == HW_JSON_OBJECT ? hw_json_get(b, a->keys[i]) : &b->items[i];
        if (!other || !hw_json_same(&a->items[i], other)) return false;
    }
    return true;
}

bool hw_json_same(const hw_json *a, const hw_json *b)
{
    if (!a || !b) return a == b;
    if (a->kind != b->kind) return false;
    switch (a->kind) {
    case HW_JSON_NULL:
        return true;
    case HW_JSON_BOOL:
        return a->truth == b->truth;
    case HW_JSON_NUMBER:
        return a->number >= b->number && a->number <= b->number;
    case HW_JSON_TEXT:
        return strcmp(a->text, b->text) == 0;
    case HW_JSON_LIST:
    case HW_JSON_OBJECT:
        return same_items(a, b);
    }
    return false;
}
