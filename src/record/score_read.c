// SPDX-License-Identifier: GPL-3.0-or-later
#include "record/record.h"
#include "json/json.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SHEETS_MAX = 400 };

static hw_status read_item(hw_job *job, const hw_json *value, const char *key, hw_faults *faults,
                           hw_item *out)
{
    *out = (hw_item){HW_ITEM_MISSING, 0.0};
    if (value->kind == HW_JSON_NULL) return HW_OK;
    if (value->kind == HW_JSON_TEXT && hw_text_same(value->text, "not applicable")) {
        out->kind = HW_ITEM_NOT_APPLICABLE;
        return HW_OK;
    }
    if (value->kind != HW_JSON_NUMBER)
        return hw_faults_add(job, faults, key, "must be a number, null or \"not applicable\"");
    *out = (hw_item){HW_ITEM_ANSWERED, value->number};
    return HW_OK;
}

static hw_status read_sheet(hw_job *job, const hw_json *row, int index, hw_arena *into,
                            hw_faults *faults, hw_score_sheet *out)
{
    char key[48];
    const hw_json *date = hw_json_get(row, "date"), *items = hw_json_get(row, "items");
    snprintf(key, sizeof key, "sheets[%d]", index);
    if (!date || date->kind != HW_JSON_TEXT || !hw_date_parse(date->text, &out->date))
        return hw_faults_add(job, faults, key, "needs a date as YYYY-MM-DD");
    if (!items || items->kind != HW_JSON_LIST || items->count < 1 || items->count > HW_SCALE_ITEMS)
        return hw_faults_add(job, faults, key, "needs its items, 1 to %d", (int)HW_SCALE_ITEMS);
    HW_ALLOC(job, into, out->items, items->count);
    out->count = items->count;
    for (int i = 0; i < items->count; i++) {
        snprintf(key, sizeof key, "sheets[%d].items[%d]", index, i);
        HW_TRY(read_item(job, &items->items[i], key, faults, &out->items[i]));
    }
    return HW_OK;
}

static hw_status read_scale(hw_job *job, const hw_json *root, hw_arena *into, hw_faults *faults,
                            hw_questionnaire *out)
{
    const hw_json *text = hw_json_get(root, "questionnaire"), *scale = hw_json_get(root, "scale");
    if (text && text->kind == HW_JSON_TEXT) {
        const hw_bytes bytes = {(const unsigned char *)text->text, strlen(text->text)};
        return hw_questionnaire_read(job, bytes, into, out, faults);
    }
    if (scale && scale->kind == HW_JSON_TEXT) out->scale = hw_scale_by_key(scale->text);
    if (out->scale) return HW_OK;
    return hw_faults_add(job, faults, "scale",
                         "is none this program scores; docs/questionnaires.md lists them");
}

// A grade without its direction means its opposite in half of the papers.
static hw_status read_direction(hw_job *job, const hw_json *root, const hw_scale *scale,
                                hw_faults *faults, bool *out)
{
    if (!hw_text_same(scale->key, "roles-maudsley")) return HW_OK;
    const hw_json *best = hw_json_get(root, "best_grade");
    const bool is_said = best && best->kind == HW_JSON_NUMBER &&
                         (best->number == scale->item_low || best->number == scale->item_high);
    if (!is_said)
        return hw_faults_add(job, faults, "best_grade", "must be 1 or 4: papers count both ways");
    *out = best->number == scale->item_high;
    return HW_OK;
}

static int by_date(const void *a, const void *b)
{
    int days = hw_date_days(((const hw_score_sheet *)b)->date, ((const hw_score_sheet *)a)->date);
    return (days > 0) - (days < 0);
}

hw_status hw_score_read(hw_job *job, hw_bytes bytes, hw_arena *into, hw_score_request *out,
                        hw_faults *faults)
{
    const hw_json *root = NULL;
    hw_score_request request = {0};
    HW_TRY(hw_json_read(job, bytes, into, &root));
    HW_TRY(read_scale(job, root, into, faults, &request.questionnaire));
    HW_TRY(hw_faults_status(job, faults));
    HW_TRY(
        read_direction(job, root, request.questionnaire.scale, faults, &request.is_highest_best));
    const hw_json *sheets = hw_json_get(root, "sheets");
    if (!sheets || sheets->kind != HW_JSON_LIST || sheets->count > SHEETS_MAX)
        HW_TRY(
            hw_faults_add(job, faults, "sheets", "must be a list of at most %d", (int)SHEETS_MAX));
    else {
        HW_ALLOC(job, into, request.sheets, sheets->count + 1);
        request.count = sheets->count;
        for (int i = 0; i < sheets->count; i++)
            HW_TRY(read_sheet(job, &sheets->items[i], i, into, faults, &request.sheets[i]));
    }
    HW_TRY(hw_faults_status(job, faults));
    qsort(request.sheets, (size_t)request.count, sizeof *request.sheets, by_date);
    *out = request;
    return HW_OK;
}
