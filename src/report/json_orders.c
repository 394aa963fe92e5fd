// SPDX-License-Identifier: GPL-3.0-or-later
// Orders worked out: every number with its formula, source and band.
#include "json_parts.h"

static void line(hw_json_out *out, const hw_order_line *of)
{
    const hw_source *source = hw_source_by_key(of->source);
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "name", of->name);
    hw_json_number(out, "value", of->value, 4);
    if (of->low < of->high) hw_json_number(out, "low", of->low, 4);
    if (of->low < of->high) hw_json_number(out, "high", of->high, 4);
    hw_json_text(out, "unit", of->unit);
    hw_json_text(out, "formula", of->formula);
    hw_json_text(out, "source", of->source);
    hw_json_text(out, "source_status", source ? source->status : NULL);
    hw_json_close(out);
}

static void order(hw_json_out *out, const hw_order_sheet *of)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "act", hw_act_rows()[of->order->act].word);
    hw_json_text(out, "foot",
                 of->order->side == HW_SIDE_UNKNOWN ? NULL : hw_side_word(of->order->side));
    hw_json_text(out, "substance", of->order->substance);
    hw_json_text(out, "limit_that_bound", of->bound);
    hw_json_int(out, "sessions_given", of->given);
    hw_json_open(out, "lines", '[');
    for (int i = 0; i < of->line_count; i++) line(out, &of->lines[i]);
    hw_json_close(out);
    hw_json_open(out, "faults", '[');
    for (int i = 0; i < of->faults.count; i++) {
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "key", of->faults.rows[i].key);
        hw_json_text(out, "sentence", of->faults.rows[i].sentence);
        hw_json_close(out);
    }
    hw_json_close(out);
    hw_json_close(out);
}

void json_orders(hw_json_out *out, const hw_plan *plan)
{
    hw_json_open(out, "orders", '[');
    for (int i = 0; i < plan->order_count; i++) order(out, &plan->orders[i]);
    hw_json_close(out);
}
