// SPDX-License-Identifier: GPL-3.0-or-later
// The case file's shape, from the top down. docs/case.md says the same for people.
#include "record/record_internal.h"

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

static const char *const units[] = {"mm", "cm", "dm", "m", "inch"};
static const char *const loadings[] = {"hanging", "sitting", "standing"};

static hw_status read_version(case_reader *reader, const hw_json *value, void *target)
{
    (void)target;
    if (value->kind == HW_JSON_NUMBER && value->number == 1.0) return HW_OK;
    return hw_faults_add(reader->job, reader->faults, reader->path,
                         "must be 1, the version of the case file this program reads");
}

static hw_status read_visit_date(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_date(reader, value, &((hw_visit *)target)->findings.visit_date);
}

static hw_status read_mass_date(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_date(reader, value, &((hw_visit *)target)->findings.mass_measured_on);
}

static hw_status read_invented(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_bool(reader, value, &((hw_visit *)target)->is_invented);
}

static hw_status read_code(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_visit *)target)->code);
}

static hw_status read_person(case_reader *reader, const hw_json *value, void *target)
{
    static const case_field fields[] = {{"code", read_code}};
    static const case_shape shape = {fields, COUNT(fields), NULL, 0, true, HW_SCOPE_PERSON};
    return case_read_object(reader, value, &shape, target, ((hw_visit *)target)->findings.values);
}

static hw_status read_red_flags(case_reader *reader, const hw_json *value, void *target)
{
    static const case_shape shape = {NULL, 0, NULL, 0, true, HW_SCOPE_RED_FLAG};
    return case_read_object(reader, value, &shape, target, ((hw_visit *)target)->findings.values);
}

static hw_status read_shoe_kind(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_visit_shoe *)target)->kind);
}

static hw_status read_shoe(case_reader *reader, const hw_json *value, void *target)
{
    static const case_field fields[] = {{"kind", read_shoe_kind}};
    static const case_number numbers[] = {
        {"inner_length_mm", offsetof(hw_visit_shoe, inner_length_mm), 100, 400, "mm"},
        {"inner_width_mm", offsetof(hw_visit_shoe, inner_width_mm), 40, 160, "mm"},
        {"heel_width_mm", offsetof(hw_visit_shoe, heel_width_mm), 30, 120, "mm"},
        {"pitch_mm", offsetof(hw_visit_shoe, pitch_mm), -5, 120, "mm"},
        {"toe_spring_mm", offsetof(hw_visit_shoe, toe_spring_mm), 0, 60, "mm"},
    };
    static const case_shape shape = {fields, COUNT(fields), numbers, COUNT(numbers), false, 0};
    hw_visit_shoe *shoe = &((hw_visit *)target)->shoe;
    shoe->is_given = true;
    return case_read_object(reader, value, &shape, shoe, NULL);
}

// What the keys of one foot fill: its part of the case and its part of the findings.
typedef struct foot_target {
    hw_visit_foot *foot;
    hw_foot_findings *findings;
} foot_target;

static hw_status read_scan_file(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_visit_scan *)target)->file);
}

static hw_status read_scan_unit(case_reader *reader, const hw_json *value, void *target)
{
    int unit = -1;
    HW_TRY(case_read_word(reader, value, units, COUNT(units), &unit));
    if (unit >= 0) ((hw_visit_scan *)target)->unit = units[unit];
    return HW_OK;
}

static hw_status read_loading_into(case_reader *reader, const hw_json *value, hw_loading *out)
{
    int loading = -1;
    if (case_is_not_asked(value)) return HW_OK;
    HW_TRY(case_read_word(reader, value, loadings, COUNT(loadings), &loading));
    if (loading >= 0) *out = (hw_loading)(HW_LOADING_HANGING + loading);
    return HW_OK;
}

static hw_status read_scan_loading(case_reader *reader, const hw_json *value, void *target)
{
    return read_loading_into(reader, value, &((hw_visit_scan *)target)->loading);
}

static hw_status read_side_confirmed(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_bool(reader, value, &((hw_visit_scan *)target)->is_side_confirmed);
}

static hw_status read_axis(case_reader *reader, const hw_json *value, hw_scan_axis *out)
{
    static const char *const axes[] = {"+x", "-x", "+y", "-y", "+z", "-z"};
    int axis = -1;
    HW_TRY(case_read_word(reader, value, axes, COUNT(axes), &axis));
    if (axis >= 0) *out = hw_scan_axis_from_word(axes[axis]);
    return HW_OK;
}

static hw_status read_up(case_reader *reader, const hw_json *value, void *target)
{
    return read_axis(reader, value, &((hw_visit_scan *)target)->up);
}

static hw_status read_toes(case_reader *reader, const hw_json *value, void *target)
{
    return read_axis(reader, value, &((hw_visit_scan *)target)->toes);
}

static hw_status read_extent(case_reader *reader, const hw_json *value, void *target)
{
    static const char *const extents[] = {"full", "sole"};
    int extent = -1;
    HW_TRY(case_read_word(reader, value, extents, COUNT(extents), &extent));
    if (extent >= 0)
        ((hw_visit_scan *)target)->extent = (hw_scan_extent)(HW_SCAN_EXTENT_FULL + extent);
    return HW_OK;
}

static hw_status read_cast(case_reader *reader, const hw_json *value, void *target)
{
    static const char *const casts[] = {"foot", "negative"};
    int cast = -1;
    HW_TRY(case_read_word(reader, value, casts, COUNT(casts), &cast));
    if (cast >= 0) ((hw_visit_scan *)target)->cast = (hw_scan_cast)(HW_SCAN_CAST_FOOT + cast);
    return HW_OK;
}

static hw_status read_keep_all(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_bool(reader, value, &((hw_visit_scan *)target)->keeps_all);
}

static hw_status read_leave_holes(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_bool(reader, value, &((hw_visit_scan *)target)->leaves_holes);
}

// Landmarks placed by hand: {"metatarsal_head_1": [x, y, z], ...}.
static hw_status read_landmarks(case_reader *reader, const hw_json *value, void *target)
{
    hw_visit_scan *scan = target;
    const char *outer = reader->path;
    if (value->kind != HW_JSON_OBJECT)
        return hw_faults_add(reader->job, reader->faults, outer, "is %s; it must be an object",
                             hw_json_kind_word(value->kind));
    for (int i = 0; i < value->count; i++) {
        hw_landmark which = hw_landmark_from_key(value->keys[i]);
        HW_TRY(hw_text_format(reader->job, reader->into, &reader->path, "%s.%s", outer,
                              value->keys[i]));
        if (which == HW_LANDMARKS)
            HW_TRY(hw_faults_add(reader->job, reader->faults, reader->path, "is no landmark"));
        else
            HW_TRY(case_read_point(reader, &value->items[i], &scan->has_landmark[which],
                                   scan->landmarks_mm[which]));
    }
    reader->path = outer;
    return HW_OK;
}

static hw_status read_scan(case_reader *reader, const hw_json *value, void *target)
{
    static const case_field fields[] = {
        {"file", read_scan_file},
        {"unit", read_scan_unit},
        {"loading", read_scan_loading},
        {"side_confirmed", read_side_confirmed},
        {"landmarks_mm", read_landmarks},
        {"up", read_up},
        {"toes", read_toes},
        {"extent", read_extent},
        {"cast", read_cast},
        {"keep_all", read_keep_all},
        {"leave_holes", read_leave_holes},
    };
    static const case_shape shape = {fields, COUNT(fields), NULL, 0, false, 0};
    hw_visit_scan *scan = &((foot_target *)target)->foot->scan;
    HW_TRY(case_read_object(reader, value, &shape, scan, NULL));
    if (!scan->file && value->kind == HW_JSON_OBJECT)
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "has no key \"file\": which scan is it?");
    return HW_OK;
}

static hw_status read_measures_loading(case_reader *reader, const hw_json *value, void *target)
{
    return read_loading_into(reader, value, &((hw_visit_measures *)target)->loading);
}

static hw_status read_measures(case_reader *reader, const hw_json *value, void *target)
{
    static const case_field fields[] = {{"loading", read_measures_loading}};
    static const case_number numbers[] = {
        {"foot_length_mm", offsetof(hw_visit_measures, foot_length_mm), 90, 380, "mm"},
        {"truncated_length_mm", offsetof(hw_visit_measures, truncated_length_mm), 60, 300, "mm"},
        {"ball_breadth_mm", offsetof(hw_visit_measures, ball_breadth_mm), 35, 150, "mm"},
        {"heel_breadth_mm", offsetof(hw_visit_measures, heel_breadth_mm), 20, 110, "mm"},
        {"dorsum_height_mm", offsetof(hw_visit_measures, dorsum_height_mm), 20, 120, "mm"},
        {"arch_apex_height_mm", offsetof(hw_visit_measures, arch_apex_height_mm), 0, 60, "mm"},
    };
    static const case_shape shape = {fields, COUNT(fields), numbers, COUNT(numbers), false, 0};
    hw_visit_foot *foot = ((foot_target *)target)->foot;
    foot->has_measures = true;
    return case_read_object(reader, value, &shape, &foot->measures, NULL);
}

static hw_status read_orthosis(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_orthosis(reader, value, &((foot_target *)target)->foot->orthosis);
}

static hw_status read_ultrasound(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_ultrasound(reader, value, &((foot_target *)target)->foot->ultrasound);
}

static hw_status read_walk(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_walk(reader, value, &((foot_target *)target)->foot->walk);
}

static hw_status read_pressure(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_pressure(reader, value, &((foot_target *)target)->foot->pressure);
}

// "none", "not asked", or what the pain is like.
static hw_status read_heel_pain(case_reader *reader, const hw_json *value, void *target)
{
    static const case_shape shape = {NULL, 0, NULL, 0, true, HW_SCOPE_HEEL_PAIN};
    hw_foot_findings *findings = ((foot_target *)target)->findings;
    if (value->kind == HW_JSON_OBJECT) {
        findings->heel_pain = HW_ANSWER_YES;
        return case_read_object(reader, value, &shape, findings, findings->values);
    }
    static const char *const words[] = {"none", "not asked"};
    int word = -1;
    HW_TRY(case_read_word(reader, value, words, COUNT(words), &word));
    if (word >= 0) findings->heel_pain = word == 0 ? HW_ANSWER_NO : HW_ANSWER_NOT_ASKED;
    return HW_OK;
}

static hw_status read_foot(case_reader *reader, const hw_json *value, hw_visit *visit, int index)
{
    static const case_field fields[] = {
        {"scan", read_scan},         {"measures", read_measures},     {"heel_pain", read_heel_pain},
        {"orthosis", read_orthosis}, {"ultrasound", read_ultrasound}, {"walk", read_walk},
        {"pressure", read_pressure},
    };
    static const case_shape shape = {fields, COUNT(fields), NULL, 0, true, HW_SCOPE_FOOT};
    foot_target target = {&visit->feet[index], &visit->findings.feet[index]};
    target.foot->is_given = true;
    return case_read_object(reader, value, &shape, &target, target.findings->values);
}

static hw_status read_left(case_reader *reader, const hw_json *value, void *target)
{
    return read_foot(reader, value, target, 0);
}

static hw_status read_right(case_reader *reader, const hw_json *value, void *target)
{
    return read_foot(reader, value, target, 1);
}

static hw_status read_feet(case_reader *reader, const hw_json *value, void *target)
{
    static const case_field fields[] = {{"left", read_left}, {"right", read_right}};
    static const case_shape shape = {fields, COUNT(fields), NULL, 0, false, 0};
    return case_read_object(reader, value, &shape, target, NULL);
}

static const case_field top_fields[] = {
    {"heelwright_case", read_version},
    {"visit_date", read_visit_date},
    {"invented", read_invented},
    {"person", read_person},
    {"mass_measured_on", read_mass_date},
    {"red_flags", read_red_flags},
    {"medicines", case_read_medicines},
    {"conditions", case_read_conditions},
    {"allergies", case_read_allergies},
    {"past_treatments", case_read_past},
    {"overruled", case_read_overrules},
    {"orders", case_read_orders},
    {"moved", case_read_moved},
    {"chosen", case_read_chosen},
    {"feet", read_feet},
    {"shoe", read_shoe},
};

static hw_status need(case_reader *reader, bool is_there, const char *key, const char *sentence)
{
    return is_there ? HW_OK : hw_faults_add(reader->job, reader->faults, key, "%s", sentence);
}

static hw_status need_what_all_stands_on(case_reader *reader, const hw_json *root,
                                         const hw_visit *visit)
{
    HW_TRY(need(reader, hw_json_get(root, "heelwright_case") != NULL, "heelwright_case",
                "is missing; a case file says \"heelwright_case\": 1"));
    HW_TRY(need(reader, hw_json_get(root, "visit_date") != NULL, "visit_date",
                "is missing; spacing and ages are counted from it"));
    HW_TRY(need(reader, hw_json_get(hw_json_get(root, "person"), "code") != NULL, "person.code",
                "is missing; every page and file bears it"));
    return need(reader, visit->feet[0].is_given || visit->feet[1].is_given, "feet",
                "has neither \"left\" nor \"right\"");
}

// An accepted thickness of the usual site is a finding.
static void pass_thickness(const hw_visit_ultrasound *of, hw_foot_findings *findings)
{
    hw_finding *found = &findings->values[HW_FINDING_FASCIA_THICKNESS_MM];
    if (of->thickness_mm.known && of->site == HW_US_SITE_ORIGIN && found->given != HW_GIVEN_VALUE)
        *found = (hw_finding){.given = HW_GIVEN_VALUE, .number = of->thickness_mm.value};
}

// The clinic's rules ask these of each foot; the case knows them from its scan.
static void pass_scan_facts(hw_visit *visit)
{
    for (int i = 0; i < 2; i++) {
        const hw_visit_foot *foot = &visit->feet[i];
        hw_foot_findings *findings = &visit->findings.feet[i];
        findings->scan_used = foot->scan.file != NULL;
        findings->loading_known = foot->scan.loading != HW_LOADING_UNKNOWN;
        findings->side_confirmed = foot->scan.is_side_confirmed;
        pass_thickness(&foot->ultrasound, findings);
    }
}

hw_status hw_visit_read(hw_job *job, hw_bytes bytes, hw_arena *into, hw_visit *out,
                        hw_faults *faults)
{
    static const case_shape shape = {top_fields, COUNT(top_fields), NULL, 0, true, HW_SCOPE_VISIT};
    case_reader reader = {.job = job, .into = into, .faults = faults, .path = "", .key = ""};
    const hw_json *root = NULL;
    hw_visit *visit = NULL;
    HW_TRY(hw_json_read(job, bytes, into, &root));
    if (root->kind != HW_JSON_OBJECT)
        return hw_fail(job, HW_BAD_FORMAT, "a case file is a JSON object; this is %s",
                       hw_json_kind_word(root->kind));
    HW_ALLOC(job, into, visit, 1);
    HW_TRY(case_read_object(&reader, root, &shape, visit, visit->findings.values));
    HW_TRY(need_what_all_stands_on(&reader, root, visit));
    HW_TRY(case_find_contradictions(&reader, visit));
    HW_TRY(hw_faults_status(job, faults));
    pass_scan_facts(visit);
    *out = *visit;
    return HW_OK;
}

const hw_visit_foot *hw_visit_foot_of(const hw_visit *visit, hw_side side)
{
    HW_ASSERT(side == HW_SIDE_LEFT || side == HW_SIDE_RIGHT);
    return &visit->feet[side == HW_SIDE_RIGHT];
}
