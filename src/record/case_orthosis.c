// SPDX-License-Identifier: GPL-3.0-or-later
// The order of a device as the case file has it: words, switches, and a number for each row of the
// order's own table. Impossible values only; whether they suit the foot is orthosis' to say.
#include "record/record_internal.h"

#include <stdio.h>

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

// Reads one of `count` words and gives the word of the table.
static hw_status read_word_of(case_reader *reader, const hw_json *value, const char *(*word)(int),
                              int count, const char **out)
{
    enum { MOST = 12 };
    const char *words[MOST];
    int found = -1;
    HW_ASSERT(count <= MOST);
    for (int i = 0; i < count; i++) words[i] = word(i);
    HW_TRY(case_read_word(reader, value, words, count, &found));
    if (found >= 0) *out = words[found];
    return HW_OK;
}

const char *order_shell_word(int i)
{
    return hw_shell_material_word((hw_shell_material)i);
}

const char *order_length_word(int i)
{
    return hw_orthosis_length_word((hw_orthosis_length)i);
}

const char *order_pad_word(int i)
{
    return hw_met_pad_word((hw_met_pad)i);
}

const char *order_cover_word(int i)
{
    return hw_top_cover_word((hw_top_cover)i);
}

static hw_status read_shell(case_reader *reader, const hw_json *value, void *target)
{
    hw_visit_orthosis *of = target;
    return read_word_of(reader, value, order_shell_word, HW_SHELL_MATERIALS, &of->shell);
}

static hw_status read_length(case_reader *reader, const hw_json *value, void *target)
{
    hw_visit_orthosis *of = target;
    return read_word_of(reader, value, order_length_word, HW_ORTHOSIS_LENGTHS, &of->length);
}

static hw_status read_pad(case_reader *reader, const hw_json *value, void *target)
{
    hw_visit_orthosis *of = target;
    return read_word_of(reader, value, order_pad_word, HW_MET_PADS, &of->met_pad);
}

static hw_status read_cover(case_reader *reader, const hw_json *value, void *target)
{
    hw_visit_orthosis *of = target;
    return read_word_of(reader, value, order_cover_word, HW_COVERS, &of->cover);
}

static hw_status read_post_kind(case_reader *reader, const hw_json *value, bool *is_intrinsic)
{
    static const char *const kinds[] = {"extrinsic", "intrinsic"};
    int found = -1;
    HW_TRY(case_read_word(reader, value, kinds, COUNT(kinds), &found));
    if (found >= 0) *is_intrinsic = found == 1;
    return HW_OK;
}

static hw_status read_rearfoot_kind(case_reader *reader, const hw_json *value, void *target)
{
    return read_post_kind(reader, value, &((hw_visit_orthosis *)target)->rearfoot_intrinsic);
}

static hw_status read_forefoot_kind(case_reader *reader, const hw_json *value, void *target)
{
    return read_post_kind(reader, value, &((hw_visit_orthosis *)target)->forefoot_intrinsic);
}

static hw_status read_balanced(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_bool(reader, value, &((hw_visit_orthosis *)target)->balances_heel);
}

static hw_status read_plugged(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_bool(reader, value, &((hw_visit_orthosis *)target)->recess_is_plugged);
}

static hw_status read_embossed(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_bool(reader, value, &((hw_visit_orthosis *)target)->is_embossed);
}

void hw_order_key(hw_order_term term, char key[static HW_ORDER_KEY])
{
    const hw_order_row *row = &hw_order_rows()[term];
    snprintf(key, HW_ORDER_KEY, "%s_%s", row->key, row->is_angle ? "deg" : "mm");
}

double hw_order_in_unit(const hw_order_row *row, double value)
{
    return row->is_angle ? hw_deg_from_rad(value) : hw_mm_from_m(value);
}

double hw_order_typed(const hw_orthosis_order *order, hw_order_term term)
{
    return hw_order_in_unit(&hw_order_rows()[term], hw_order_value(order, term));
}

hw_status case_read_orthosis(case_reader *reader, const hw_json *value, hw_visit_orthosis *out)
{
    static const case_field fields[] = {
        {"shell", read_shell},
        {"length", read_length},
        {"metatarsal_pad", read_pad},
        {"top_cover", read_cover},
        {"rearfoot_post_kind", read_rearfoot_kind},
        {"forefoot_post_kind", read_forefoot_kind},
        {"heel_balanced", read_balanced},
        {"recess_plugged", read_plugged},
        {"embossed", read_embossed},
    };
    char keys[HW_TERMS][HW_ORDER_KEY];
    case_number numbers[HW_TERMS];
    for (int i = 0; i < HW_TERMS; i++) {
        const hw_order_row *row = &hw_order_rows()[i];
        double high = hw_order_in_unit(row, row->high);
        hw_order_key((hw_order_term)i, keys[i]);
        numbers[i] = (case_number){
            keys[i], offsetof(hw_visit_orthosis, terms) + (size_t)i * sizeof(hw_maybe),
            row->low < 0.0 ? -2.0 * high : 0.0, 2.0 * high, row->is_angle ? "deg" : "mm"};
    }
    const case_shape shape = {fields, COUNT(fields), numbers, HW_TERMS, false, 0};
    out->is_given = true;
    return case_read_object(reader, value, &shape, out, NULL);
}
