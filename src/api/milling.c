// SPDX-License-Identifier: GPL-3.0-or-later
// The milling table: the clinic's own where its settings have one, else the one to begin with.
#include "api_internal.h"

static const char *const table_keys[] = {"machine", "blocks", "tools", "choice"};

enum { TABLE_KEYS = sizeof table_keys / sizeof *table_keys };

// The clinic's table, or that of record.
static hw_status read_table(api_call *call, const hw_json **out)
{
    hw_store_row row = {0};
    const hw_json *settings = NULL;
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"clinic", "clinic", 0},
                        call->into, &row));
    HW_TRY(hw_json_read(call->job, row.body, call->into, &settings));
    *out = hw_json_get(settings, "milling");
    if (*out) return HW_OK;
    return hw_json_read(call->job, hw_mill_table(), call->into, out);
}

// One JSON of both; `choice` NULL: the table's.
static hw_status join(api_call *call, const hw_json *table, const hw_json *choice, hw_bytes *out)
{
    hw_json_out json = hw_json_begin(call->into);
    hw_json_open(&json, NULL, '{');
    hw_json_int(&json, "heelwright_mill", 1);
    for (int i = 0; i < TABLE_KEYS; i++) {
        const hw_json *value = hw_json_get(table, table_keys[i]);
        if (choice && i == TABLE_KEYS - 1) value = choice;
        if (value) hw_json_tree(&json, table_keys[i], value);
    }
    hw_json_close(&json);
    return hw_json_end(call->job, &json, out);
}

hw_status api_mill_of(api_call *call, const hw_json *choice, hw_bytes *out)
{
    const hw_json *table = NULL;
    hw_mill *mill = NULL;
    HW_ALLOC(call->job, call->into, mill, 1);
    HW_TRY(read_table(call, &table));
    HW_TRY(join(call, table, choice, out));
    // Faults are told now, not by a job that fails later.
    return hw_mill_read(call->job, *out, call->into, mill, &call->faults);
}

hw_status api_mill_check(api_call *call, const hw_json *table)
{
    hw_bytes text = {0};
    hw_mill *mill = NULL;
    if (!table) return HW_OK;
    if (hw_json_depth(table) > HW_JSON_DEPTH_MAX / 2)
        return hw_fail(call->job, HW_BAD_INPUT, "'milling' is nested too deep");
    hw_json_out json = hw_json_begin(call->into);
    hw_json_tree(&json, NULL, table); // as it is: a key that is none of it is a fault
    HW_TRY(hw_json_end(call->job, &json, &text));
    HW_ALLOC(call->job, call->into, mill, 1);
    return hw_mill_read(call->job, text, call->into, mill, &call->faults);
}

hw_status answer_milling(api_call *call)
{
    const hw_json *table = NULL;
    hw_bytes text = {0};
    HW_TRY(read_table(call, &table));
    HW_TRY(join(call, table, NULL, &text));
    return api_json(call, text);
}
