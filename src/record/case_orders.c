// SPDX-License-Identifier: GPL-3.0-or-later
// What a case orders (injections, shockwave, platelet-rich plasma, each with what its dose stands
// on), and which acts were moved by hand.
#include "record/record_internal.h"

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

enum { MOST_ORDERS = 20, MOST_MOVED = 60 };

typedef struct order_target {
    hw_order order;
    bool has_act;
} order_target;

static hw_status read_act(case_reader *reader, const hw_json *value, void *target)
{
    order_target *to = target;
    return case_read_act(reader, value, &to->order.act, &to->has_act);
}

static hw_status read_foot(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_side(reader, value, &((order_target *)target)->order.side);
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

static hw_status read_order(case_reader *reader, const hw_json *value, void *out)
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
    *(hw_order *)out = target.order;
    return HW_OK;
}

hw_status case_read_orders(case_reader *reader, const hw_json *value, void *target)
{
    hw_findings *found = &((hw_visit *)target)->findings;
    hw_order *orders = NULL;
    bool is_list = false;
    HW_TRY(case_check_list(reader, value, MOST_ORDERS, &is_list));
    if (!is_list) return HW_OK;
    HW_ALLOC(reader->job, reader->into, orders, value->count + 1);
    HW_TRY(case_each_item(reader, value, read_order, orders, sizeof *orders));
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
    moved_target *to = target;
    return case_read_act(reader, value, &to->moved.act, &to->has_act);
}

static hw_status read_moved_foot(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_side(reader, value, &((moved_target *)target)->moved.side);
}

static hw_status read_moved_date(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_date(reader, value, &((moved_target *)target)->moved.date);
}

static hw_status read_moved(case_reader *reader, const hw_json *value, void *out)
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
    *(hw_moved *)out = target.moved;
    return HW_OK;
}

hw_status case_read_moved(case_reader *reader, const hw_json *value, void *target)
{
    hw_findings *found = &((hw_visit *)target)->findings;
    hw_moved *moved = NULL;
    bool is_list = false;
    HW_TRY(case_check_list(reader, value, MOST_MOVED, &is_list));
    if (!is_list) return HW_OK;
    HW_ALLOC(reader->job, reader->into, moved, value->count + 1);
    HW_TRY(case_each_item(reader, value, read_moved, moved, sizeof *moved));
    found->moved = moved, found->moved_count = value->count;
    return HW_OK;
}
