// SPDX-License-Identifier: GPL-3.0-or-later
// What a case orders (injections, shockwave, platelet-rich plasma, each with what its dose stands on), and
// which acts were moved by hand.
#include "record/record_internal.h"

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

enum { MOST_ORDERS = 20 };

typedef struct order_target {
    hw_order order;
    bool has_act;
} order_target;

static hw_status read_act(case_reader *reader, const hw_json *value, void *target)
{
    order_target *to = target;
    const char *word = NULL;
    HW_TRY(case_read_text(reader, value, &word));
    if (!word) return HW_OK;
    to->has_act = true;
    const hw_act_row *row = hw_act_by_word(word);
    if (!row)
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "\"%.60s\" is not a known treatment; docs/case.md lists them", word);
    to->order.act = row->act;
    return HW_OK;
}

static hw_status read_foot(case_reader *reader, const hw_json *value, void *target)
{
    static const char *const sides[] = {"left", "right"};
    int side = -1;
    HW_TRY(case_read_word(reader, value, sides, COUNT(sides), &side));
    if (side >= 0) ((order_target *)target)->order.side = side ? HW_SIDE_RIGHT : HW_SIDE_LEFT;
    return HW_OK;
}

static hw_status read_ordered_on(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_date(reader, value, &((order_target *)target)->order.ordered_on);
}

static hw_status read_substance(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((order_target *)target)->order.substance);
}

static hw_status read_declared_by(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((order_target *)target)->order.energy_declared_by);
}

static hw_status read_head(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((order_target *)target)->order.head);
}

static hw_status read_with_adrenaline(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_bool(reader, value, &((order_target *)target)->order.with_adrenaline);
}

#define NUMBER(key, low, high, unit)                                                               \
    {                                                                                              \
#key, offsetof(order_target, order.key), low, high, unit                                   \
    }

static hw_status read_order(case_reader *reader, const hw_json *value, hw_order *out)
{
    static const case_field fields[] = {
        {"act", read_act},
        {"foot", read_foot},
        {"ordered_on", read_ordered_on},
        {"substance", read_substance},
        {"with_adrenaline", read_with_adrenaline},
        {"energy_declared_by", read_declared_by},
        {"head", read_head},
    };
    static const case_number numbers[] = {
        NUMBER(dose_mg, 0, 5000, "mg"),
        NUMBER(vial_mg_per_mL, 0.1, 500, "mg/mL"),
        NUMBER(concentration_percent, 0, 100, "%"),
        NUMBER(volume_mL, 0, 200, "mL"),
        NUMBER(sessions, 1, 60, "sessions"),
        NUMBER(pulses, 1, 20000, "pulses"),
        NUMBER(rate_Hz, 0.5, 40, "Hz"),
        NUMBER(pressure_bar, 0, 10, "bar"),
        NUMBER(energy_mJ_per_mm2, 0, 2, "mJ/mm2"),
        NUMBER(blood_mL, 1, 200, "mL"),
        NUMBER(citrate_mL, 0, 50, "mL"),
        NUMBER(plasma_mL, 0.1, 50, "mL"),
        NUMBER(radius_cm, 1, 50, "cm"),
        NUMBER(first_spin_rpm, 100, 20000, "rpm"),
        NUMBER(second_spin_rpm, 100, 20000, "rpm"),
    };
    static const case_shape shape = {fields, COUNT(fields), numbers, COUNT(numbers), false, 0};
    order_target target = {0};
    HW_TRY(case_read_object(reader, value, &shape, &target, NULL));
    if (value->kind == HW_JSON_OBJECT && !target.has_act)
        HW_TRY(hw_faults_add(reader->job, reader->faults, reader->path, "has no \"act\""));
    if (target.has_act && hw_act_rows()[target.order.act].per_heel &&
        target.order.side == HW_SIDE_UNKNOWN)
        HW_TRY(hw_faults_add(reader->job, reader->faults, reader->path,
                             "has no \"foot\": left or right"));
    *out = target.order;
    return HW_OK;
}

hw_status case_read_orders(case_reader *reader, const hw_json *value, void *target)
{
    hw_findings *found = &((hw_visit *)target)->findings;
    const char *outer = reader->path;
    hw_order *orders = NULL;
    if (value->kind != HW_JSON_LIST || value->count > MOST_ORDERS)
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "must be a list of at most %d orders", MOST_ORDERS);
    HW_ALLOC(reader->job, reader->into, orders, value->count + 1);
    for (int i = 0; i < value->count; i++) {
        HW_TRY(hw_text_format(reader->job, reader->into, &reader->path, "%s[%d]", outer, i));
        HW_TRY(read_order(reader, &value->items[i], &orders[i]));
    }
    reader->path = outer;
    found->orders = orders, found->order_count = value->count;
    return HW_OK;
}

typedef struct moved_target {
    hw_moved moved;
    hw_maybe session;
    bool has_act;
} moved_target;

static hw_status read_moved_act(case_reader *reader, const hw_json *value, void *target)
{
    order_target named = {0};
    moved_target *to = target;
    HW_TRY(read_act(reader, value, &named));
    to->moved.act = named.order.act, to->has_act = named.has_act;
    return HW_OK;
}

static hw_status read_moved_foot(case_reader *reader, const hw_json *value, void *target)
{
    order_target named = {0};
    HW_TRY(read_foot(reader, value, &named));
    ((moved_target *)target)->moved.side = named.order.side;
    return HW_OK;
}

static hw_status read_moved_date(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_date(reader, value, &((moved_target *)target)->moved.date);
}

static hw_status read_moved(case_reader *reader, const hw_json *value, hw_moved *out)
{
    static const case_field fields[] = {
        {"act", read_moved_act}, {"foot", read_moved_foot}, {"date", read_moved_date}};
    static const case_number numbers[] = {
        {"session", offsetof(moved_target, session), 1, 60, "sessions"}};
    static const case_shape shape = {fields, COUNT(fields), numbers, COUNT(numbers), false, 0};
    moved_target target = {0};
    HW_TRY(case_read_object(reader, value, &shape, &target, NULL));
    if (value->kind == HW_JSON_OBJECT && (!target.has_act || !hw_json_get(value, "date")))
        HW_TRY(
            hw_faults_add(reader->job, reader->faults, reader->path, "needs \"act\" and \"date\""));
    target.moved.session = target.session.known ? (int)target.session.value : 1;
    *out = target.moved;
    return HW_OK;
}

hw_status case_read_moved(case_reader *reader, const hw_json *value, void *target)
{
    enum { MOST_MOVED = 60 };
    hw_findings *found = &((hw_visit *)target)->findings;
    const char *outer = reader->path;
    hw_moved *moved = NULL;
    if (value->kind != HW_JSON_LIST || value->count > MOST_MOVED)
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "must be a list of at most %d acts moved by hand", MOST_MOVED);
    HW_ALLOC(reader->job, reader->into, moved, value->count + 1);
    for (int i = 0; i < value->count; i++) {
        HW_TRY(hw_text_format(reader->job, reader->into, &reader->path, "%s[%d]", outer, i));
        HW_TRY(read_moved(reader, &value->items[i], &moved[i]));
    }
    reader->path = outer;
    found->moved = moved, found->moved_count = value->count;
    return HW_OK;
}
