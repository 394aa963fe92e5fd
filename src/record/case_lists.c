// SPDX-License-Identifier: GPL-3.0-or-later
// The lists of a case file: past treatments, medicines, conditions, allergies, overruled rows, what
// the clinician has chosen.
#include "record/record_internal.h"

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

enum { LONGEST_LIST = 400 };

hw_status case_each_item(case_reader *reader, const hw_json *list,
                         hw_status (*read)(case_reader *, const hw_json *, void *), void *items,
                         size_t item_size)
{
    const char *outer = reader->path;
    for (int i = 0; i < list->count; i++) {
        HW_TRY(hw_text_format(reader->job, reader->into, &reader->path, "%s[%d]", outer, i));
        HW_TRY(read(reader, &list->items[i], (char *)items + (size_t)i * item_size));
    }
    reader->path = outer;
    return HW_OK;
}

hw_status case_check_list(case_reader *reader, const hw_json *value, int most, bool *is_list)
{
    *is_list = value->kind == HW_JSON_LIST && value->count <= most;
    if (value->kind != HW_JSON_LIST)
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "is %s; it must be a list ([] says there are none) or \"not asked\"",
                             hw_json_kind_word(value->kind));
    if (!*is_list)
        return hw_faults_add(reader->job, reader->faults, reader->path, "has more than %d entries",
                             most);
    return HW_OK;
}

static hw_status read_groups(case_reader *reader, const hw_json *value, void *target)
{
    hw_named *named = target;
    bool is_list = false;
    HW_TRY(case_check_list(reader, value, LONGEST_LIST, &is_list));
    named->by_hand = is_list;
    for (int i = 0; is_list && i < value->count; i++) {
        const hw_json *item = &value->items[i];
        unsigned group = item->kind == HW_JSON_TEXT ? reader->group_by_word(item->text) : 0;
        if (!group)
            HW_TRY(hw_faults_add(reader->job, reader->faults, reader->path,
                                 "\"%.60s\" is not a group; docs/case.md lists them",
                                 item->kind == HW_JSON_TEXT ? item->text
                                                            : hw_json_kind_word(item->kind)));
        named->groups |= group;
    }
    return HW_OK;
}

static hw_status read_name(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_named *)target)->name);
}

// "apixaban", or {"name": "...", "groups": ["anticoagulant"]} for one classified by hand.
static hw_status read_named(case_reader *reader, const hw_json *value, void *target)
{
    static const case_field fields[] = {{"name", read_name}, {"groups", read_groups}};
    static const case_shape shape = {fields, COUNT(fields), NULL, 0, false, 0};
    hw_named *named = target;
    if (value->kind != HW_JSON_OBJECT) return case_read_text(reader, value, &named->name);
    HW_TRY(case_read_object(reader, value, &shape, named, NULL));
    if (!named->name)
        return hw_faults_add(reader->job, reader->faults, reader->path, "has no \"name\"");
    return HW_OK;
}

static hw_status read_names(case_reader *reader, const hw_json *value, hw_names *out)
{
    if (case_is_not_asked(value)) {
        out->given = HW_GIVEN_NOT_ASKED;
        return HW_OK;
    }
    bool is_list = false;
    HW_TRY(case_check_list(reader, value, LONGEST_LIST, &is_list));
    if (!is_list) return HW_OK;
    hw_named *rows = NULL;
    HW_ALLOC(reader->job, reader->into, rows, value->count + 1);
    HW_TRY(case_each_item(reader, value, read_named, rows, sizeof *rows));
    *out = (hw_names){HW_GIVEN_VALUE, rows, value->count};
    return HW_OK;
}

hw_status case_read_medicines(case_reader *reader, const hw_json *value, void *target)
{
    reader->group_by_word = hw_medicine_group_by_word;
    return read_names(reader, value, &((hw_visit *)target)->findings.medicines);
}

hw_status case_read_conditions(case_reader *reader, const hw_json *value, void *target)
{
    reader->group_by_word = hw_condition_group_by_word;
    return read_names(reader, value, &((hw_visit *)target)->findings.conditions);
}

hw_status case_read_allergies(case_reader *reader, const hw_json *value, void *target)
{
    reader->group_by_word = hw_allergen_by_word;
    return read_names(reader, value, &((hw_visit *)target)->findings.allergies);
}

// While it is read, a past act also needs to know whether an act was named: the first act is 0.
typedef struct past_target {
    hw_past_act act;
    bool has_act;
} past_target;

hw_status case_read_act(case_reader *reader, const hw_json *value, hw_act *out, bool *is_named)
{
    const char *word = NULL;
    HW_TRY(case_read_text(reader, value, &word));
    if (!word) return HW_OK;
    *is_named = true;
    const hw_act_row *row = hw_act_by_word(word);
    if (!row)
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "\"%.60s\" is not a known treatment; docs/case.md lists them", word);
    *out = row->act;
    return HW_OK;
}

hw_status case_read_side(case_reader *reader, const hw_json *value, hw_side *out)
{
    static const char *const sides[] = {"left", "right"};
    int side = -1;
    HW_TRY(case_read_word(reader, value, sides, COUNT(sides), &side));
    if (side >= 0) *out = side ? HW_SIDE_RIGHT : HW_SIDE_LEFT;
    return HW_OK;
}

static hw_status read_act(case_reader *reader, const hw_json *value, void *target)
{
    past_target *past = target;
    return case_read_act(reader, value, &past->act.act, &past->has_act);
}

static hw_status read_act_date(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_date(reader, value, &((past_target *)target)->act.date);
}

static hw_status read_act_until(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_date(reader, value, &((past_target *)target)->act.until);
}

static hw_status read_act_foot(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_side(reader, value, &((past_target *)target)->act.side);
}

static hw_status read_substance(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((past_target *)target)->act.substance);
}

static hw_status read_head(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((past_target *)target)->act.head);
}

static hw_status read_with_adrenaline(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_bool(reader, value, &((past_target *)target)->act.with_adrenaline);
}

static hw_status read_past_act(case_reader *reader, const hw_json *value, void *target)
{
    static const case_field fields[] = {
        {"act", read_act},
        {"date", read_act_date},
        {"until", read_act_until},
        {"foot", read_act_foot},
        {"substance", read_substance},
        {"head", read_head},
        {"with_adrenaline", read_with_adrenaline},
    };
    static const case_number numbers[] = {
        {"dose_mg", offsetof(past_target, act.dose_mg), 0, 5000, "mg"},
        {"concentration_percent", offsetof(past_target, act.concentration_percent), 0, 100, "%"},
        {"volume_mL", offsetof(past_target, act.volume_mL), 0, 200, "mL"},
        {"sessions", offsetof(past_target, act.sessions), 1, 60, "sessions"},
        {"pulses", offsetof(past_target, act.pulses), 1, 20000, "pulses"},
        {"rate_Hz", offsetof(past_target, act.rate_Hz), 0.5, 40, "Hz"},
        {"pressure_bar", offsetof(past_target, act.pressure_bar), 0, 10, "bar"},
        {"energy_mJ_per_mm2", offsetof(past_target, act.energy_mJ_per_mm2), 0, 2, "mJ/mm2"},
    };
    static const case_shape shape = {fields, COUNT(fields), numbers, COUNT(numbers), false, 0};
    past_target past = {0};
    HW_TRY(case_read_object(reader, value, &shape, &past, NULL));
    *(hw_past_act *)target = past.act;
    if (value->kind == HW_JSON_OBJECT && !past.has_act)
        HW_TRY(hw_faults_add(reader->job, reader->faults, reader->path, "has no \"act\""));
    if (value->kind == HW_JSON_OBJECT && !hw_json_get(value, "date"))
        HW_TRY(hw_faults_add(reader->job, reader->faults, reader->path,
                             "has no \"date\"; spacing is counted from it"));
    return HW_OK;
}

hw_status case_read_past(case_reader *reader, const hw_json *value, void *target)
{
    hw_findings *found = &((hw_visit *)target)->findings;
    bool is_list = false;
    if (case_is_not_asked(value)) {
        found->past_given = HW_GIVEN_NOT_ASKED;
        return HW_OK;
    }
    HW_TRY(case_check_list(reader, value, LONGEST_LIST, &is_list));
    if (!is_list) return HW_OK;
    hw_past_act *acts = NULL;
    HW_ALLOC(reader->job, reader->into, acts, value->count + 1);
    HW_TRY(case_each_item(reader, value, read_past_act, acts, sizeof *acts));
    found->past_given = HW_GIVEN_VALUE;
    found->past = acts;
    found->past_count = value->count;
    return HW_OK;
}

static hw_status read_rule_id(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_overrule *)target)->rule_id);
}

static hw_status read_reason(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_overrule *)target)->reason);
}

static hw_status read_clinician(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_overrule *)target)->clinician);
}

static hw_status read_second(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_overrule *)target)->second);
}

static hw_status read_overrule(case_reader *reader, const hw_json *value, void *target)
{
    static const case_field fields[] = {
        {"rule", read_rule_id},
        {"reason", read_reason},
        {"clinician", read_clinician},
        {"second", read_second},
    };
    static const case_shape shape = {fields, COUNT(fields), NULL, 0, false, 0};
    hw_overrule *overrule = target;
    HW_TRY(case_read_object(reader, value, &shape, overrule, NULL));
    if (!overrule->rule_id || !overrule->reason || !overrule->clinician)
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "needs \"rule\", \"reason\" and \"clinician\"");
    return HW_OK;
}

hw_status case_read_overrules(case_reader *reader, const hw_json *value, void *target)
{
    hw_findings *found = &((hw_visit *)target)->findings;
    bool is_list = false;
    HW_TRY(case_check_list(reader, value, LONGEST_LIST, &is_list));
    if (!is_list) return HW_OK;
    hw_overrule *rows = NULL;
    HW_ALLOC(reader->job, reader->into, rows, value->count + 1);
    HW_TRY(case_each_item(reader, value, read_overrule, rows, sizeof *rows));
    found->overrules = rows;
    found->overrule_count = value->count;
    return HW_OK;
}

static hw_status read_choice(case_reader *reader, const hw_json *value, void *target)
{
    hw_act act = 0;
    bool is_named = false;
    (void)target; // the list's reader keeps what is known
    return case_read_act(reader, value, &act, &is_named);
}

hw_status case_read_chosen(case_reader *reader, const hw_json *value, void *target)
{
    hw_findings *found = &((hw_visit *)target)->findings;
    bool is_list = false;
    HW_TRY(case_check_list(reader, value, LONGEST_LIST, &is_list));
    if (!is_list) return HW_OK;
    HW_TRY(case_each_item(reader, value, read_choice, found, 0));
    for (int i = 0; i < value->count; i++) {
        const hw_json *item = &value->items[i];
        const hw_act_row *row = item->kind == HW_JSON_TEXT ? hw_act_by_word(item->text) : NULL;
        if (row) found->chosen |= 1u << row->act;
    }
    return HW_OK;
}
