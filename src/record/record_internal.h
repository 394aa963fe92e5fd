// SPDX-License-Identifier: GPL-3.0-or-later
// Reading one JSON value into one field, faults collected. Shared by the case_*.c files.
#ifndef HW_RECORD_INTERNAL_H
#define HW_RECORD_INTERNAL_H

#include "record/record.h"
#include "json/json.h"

typedef struct case_reader {
    hw_job *job;
    hw_arena *into;
    hw_faults *faults;
    const char *path; // of the value being read: "feet.left.lunge_deg"; "" at the top
    const char *key;  // its last part
    unsigned (*group_by_word)(const char *word); // of the list of names being read
} case_reader;

/// One key of an object that is not a finding. `read` gets the value and the object's struct.
typedef struct case_field {
    const char *key;
    hw_status (*read)(case_reader *reader, const hw_json *value, void *target);
} case_field;

/// A number with a range, at an hw_maybe of the object's struct.
typedef struct case_number {
    const char *key;
    size_t offset;
    double low, high;
    const char *unit;
} case_number;

/// What an object may hold: fields, numbers, and the findings of one scope.
typedef struct case_shape {
    const case_field *fields;
    int field_count;
    const case_number *numbers;
    int number_count;
    bool has_findings;
    hw_scope scope;
} case_shape;

/// Reads every key of `object` by its shape; keys the shape does not have are faults.
///
///   values  where findings go (HW_FINDING_COUNT), or NULL
hw_status case_read_object(case_reader *reader, const hw_json *object, const case_shape *shape,
                           void *target, hw_finding *values);

// Each adds a fault when the value is of another kind or not allowed, and then leaves `out` alone.
hw_status case_read_text(case_reader *reader, const hw_json *value, const char **out);
hw_status case_read_bool(case_reader *reader, const hw_json *value, bool *out);
hw_status case_read_date(case_reader *reader, const hw_json *value, hw_date *out);
hw_status case_read_point(case_reader *reader, const hw_json *value, bool *is_given,
                          double out_mm[static 3]);
hw_status case_read_finding(case_reader *reader, const hw_json *value, const hw_finding_row *row,
                            hw_finding *out);

/// One of `count` words (letters' case ignored); its index in `out`.
hw_status case_read_word(case_reader *reader, const hw_json *value, const char *const *words,
                         int count, int *out);

/// The name of a treatment. `is_named` also where it is not known: one fault is enough.
hw_status case_read_act(case_reader *reader, const hw_json *value, hw_act *out, bool *is_named);
hw_status case_read_side(case_reader *reader, const hw_json *value, hw_side *out);

/// Whether a value is a list of at most `most` entries; else a fault.
hw_status case_check_list(case_reader *reader, const hw_json *value, int most, bool *is_list);

/// Reads every item of a list with `read`, which gets the item's own struct.
hw_status case_each_item(case_reader *reader, const hw_json *list,
                         hw_status (*read)(case_reader *, const hw_json *, void *), void *items,
                         size_t item_size);

/// "not asked", for keys that may hold it in place of their own kind.
bool case_is_not_asked(const hw_json *value);

/// Read into an hw_visit_foot's recordings (case_recordings.c).
hw_status case_read_ultrasound(case_reader *reader, const hw_json *value, hw_visit_ultrasound *out);
hw_status case_read_walk(case_reader *reader, const hw_json *value, hw_visit_walk *out);
hw_status case_read_pressure(case_reader *reader, const hw_json *value, hw_visit_pressure *out);

/// Reads the past treatments, names and overrules (case_lists.c).
hw_status case_read_past(case_reader *reader, const hw_json *value, void *target);
hw_status case_read_medicines(case_reader *reader, const hw_json *value, void *target);
hw_status case_read_conditions(case_reader *reader, const hw_json *value, void *target);
hw_status case_read_allergies(case_reader *reader, const hw_json *value, void *target);
hw_status case_read_overrules(case_reader *reader, const hw_json *value, void *target);
hw_status case_read_orders(case_reader *reader, const hw_json *value, void *target);
hw_status case_read_moved(case_reader *reader, const hw_json *value, void *target);
hw_status case_read_chosen(case_reader *reader, const hw_json *value, void *target);

/// Reads what is asked of an orthosis (case_orthosis.c).
hw_status case_read_orthosis(case_reader *reader, const hw_json *value, hw_visit_orthosis *out);

/// Adds a fault for each pair of values that cannot both be true (case_contradict.c).
hw_status case_find_contradictions(case_reader *reader, const hw_visit *visit);

/// Words of an order by number, for reading and for looking up.
const char *order_shell_word(int i);
const char *order_length_word(int i);
const char *order_pad_word(int i);
const char *order_cover_word(int i);

#endif
