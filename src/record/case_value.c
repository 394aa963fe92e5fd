// SPDX-License-Identifier: GPL-3.0-or-later
#include "record/record_internal.h"

#include <stdio.h>

#include <string.h>

static hw_status wrong_kind(case_reader *reader, const hw_json *value, const char *wanted)
{
    return hw_faults_add(reader->job, reader->faults, reader->path, "is %s; it must be %s",
                         hw_json_kind_word(value->kind), wanted);
}

bool case_is_not_asked(const hw_json *value)
{
    return value->kind == HW_JSON_TEXT && hw_text_same(value->text, "not asked");
}

hw_status case_read_text(case_reader *reader, const hw_json *value, const char **out)
{
    enum { LONGEST = 200 };
    if (value->kind != HW_JSON_TEXT) return wrong_kind(reader, value, "a text");
    if (!value->text[0])
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "is empty; leave the key out");
    if (strlen(value->text) > LONGEST)
        return hw_faults_add(reader->job, reader->faults, reader->path, "is longer than %d bytes",
                             LONGEST);
    *out = value->text;
    return HW_OK;
}

hw_status case_read_bool(case_reader *reader, const hw_json *value, bool *out)
{
    if (value->kind != HW_JSON_BOOL) return wrong_kind(reader, value, "true or false");
    *out = value->truth;
    return HW_OK;
}

hw_status case_read_date(case_reader *reader, const hw_json *value, hw_date *out)
{
    if (value->kind != HW_JSON_TEXT) return wrong_kind(reader, value, "a date as \"2026-03-02\"");
    if (!hw_date_parse(value->text, out))
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "\"%.40s\" is not a date; write year-month-day as 2026-03-02",
                             value->text);
    return HW_OK;
}

hw_status case_read_point(case_reader *reader, const hw_json *value, bool *is_given,
                          double out_mm[static 3])
{
    enum { FURTHEST = 500 }; // mm: more than any foot
    bool is_point = value->kind == HW_JSON_LIST && value->count == 3;
    for (int i = 0; i < 3 && is_point; i++)
        is_point = value->items[i].kind == HW_JSON_NUMBER && value->items[i].number >= -FURTHEST &&
                   value->items[i].number <= FURTHEST;
    if (!is_point)
        return wrong_kind(reader, value, "three numbers in mm: to the toes, laterally, up");
    for (int i = 0; i < 3; i++) out_mm[i] = value->items[i].number;
    *is_given = true;
    return HW_OK;
}

// "one, two or three", for sentences.
static const char *list_words(const char *const *words, int count, char *text, size_t size)
{
    size_t used = 0;
    text[0] = 0;
    for (int i = 0; i < count && used < size; i++)
        used += (size_t)snprintf(text + used, size - used, "%s%s",
                                 i == 0 ? "" : (i == count - 1 ? " or " : ", "), words[i]);
    return text;
}

hw_status case_read_word(case_reader *reader, const hw_json *value, const char *const *words,
                         int count, int *out)
{
    char allowed[300];
    list_words(words, count, allowed, sizeof allowed);
    if (value->kind != HW_JSON_TEXT) return wrong_kind(reader, value, allowed);
    for (int i = 0; i < count; i++)
        if (hw_text_same(value->text, words[i])) {
            *out = i;
            return HW_OK;
        }
    return hw_faults_add(reader->job, reader->faults, reader->path,
                         "\"%.60s\" is not known; write %s", value->text, allowed);
}

static hw_status read_finding_word(case_reader *reader, const hw_json *value,
                                   const hw_finding_row *row, hw_finding *out)
{
    if (value->kind == HW_JSON_TEXT && hw_finding_from_word(row, value->text, out)) return HW_OK;
    char allowed[300];
    int count = 0;
    while (count < HW_FINDING_WORDS && row->words[count]) count++;
    list_words(row->words, count, allowed, sizeof allowed);
    if (value->kind != HW_JSON_TEXT)
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "is %s; write %s, or \"not asked\"", hw_json_kind_word(value->kind),
                             allowed);
    return hw_faults_add(reader->job, reader->faults, reader->path,
                         "\"%.60s\" is not known; write %s, or \"not asked\"", value->text,
                         allowed);
}

hw_status case_read_finding(case_reader *reader, const hw_json *value, const hw_finding_row *row,
                            hw_finding *out)
{
    if (row->kind != HW_KIND_NUMBER || case_is_not_asked(value))
        return read_finding_word(reader, value, row, out);
    if (value->kind != HW_JSON_NUMBER)
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "is %s; it must be a number%s%s, or \"not asked\"",
                             hw_json_kind_word(value->kind), row->unit[0] ? " in " : "", row->unit);
    if (!hw_finding_possible(row, value->number))
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "%g %s is not possible; it must lie between %g and %g", value->number,
                             row->unit, row->low, row->high);
    *out = hw_finding_of_number(value->number);
    return HW_OK;
}

static hw_status read_number(case_reader *reader, const hw_json *value, const case_number *number,
                             void *target)
{
    if (value->kind != HW_JSON_NUMBER)
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "is %s; it must be a number in %s", hw_json_kind_word(value->kind),
                             number->unit);
    if (!(value->number >= number->low && value->number <= number->high))
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "%g %s is not possible; it must lie between %g and %g", value->number,
                             number->unit, number->low, number->high);
    *(hw_maybe *)((char *)target + number->offset) = hw_known(value->number);
    return HW_OK;
}

static hw_status read_key(case_reader *reader, const hw_json *value, const case_shape *shape,
                          void *target, hw_finding *values)
{
    const char *key = reader->key;
    for (int i = 0; i < shape->field_count; i++)
        if (strcmp(shape->fields[i].key, key) == 0)
            return shape->fields[i].read(reader, value, target);
    for (int i = 0; i < shape->number_count; i++)
        if (strcmp(shape->numbers[i].key, key) == 0)
            return read_number(reader, value, &shape->numbers[i], target);
    const hw_finding_row *row = shape->has_findings ? hw_finding_by_key(shape->scope, key) : NULL;
    if (row) return case_read_finding(reader, value, row, &values[row->id]);
    return hw_faults_add(reader->job, reader->faults, reader->path,
                         "is not a key of the case file");
}

hw_status case_read_object(case_reader *reader, const hw_json *object, const case_shape *shape,
                           void *target, hw_finding *values)
{
    const char *outer = reader->path;
    if (object->kind != HW_JSON_OBJECT) return wrong_kind(reader, object, "an object");
    for (int i = 0; i < object->count; i++) {
        reader->key = object->keys[i];
        HW_TRY(hw_text_format(reader->job, reader->into, &reader->path, "%s%s%s", outer,
                              outer[0] ? "." : "", object->keys[i]));
        HW_TRY(read_key(reader, &object->items[i], shape, target, values));
    }
    reader->path = outer;
    return HW_OK;
}
