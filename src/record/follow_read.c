// SPDX-License-Identifier: GPL-3.0-or-later
#include "record/record.h"
#include "json/json.h"

#include <stdio.h>
#include <stdlib.h>

enum { SCORES_MAX = 2000 };

static hw_status read_score(hw_job *job, const hw_json *row, int index, hw_faults *faults,
                            hw_dated_score *out)
{
    char key[32];
    const hw_json *date = hw_json_get(row, "date"), *score = hw_json_get(row, "score");
    snprintf(key, sizeof key, "scores[%d]", index);
    if (!date || date->kind != HW_JSON_TEXT || !hw_date_parse(date->text, &out->date))
        return hw_faults_add(job, faults, key, "needs a date as YYYY-MM-DD");
    if (!score || score->kind != HW_JSON_NUMBER || !(score->number >= 0.0 && score->number <= 10.0))
        return hw_faults_add(job, faults, key, "needs a score from 0 to 10");
    out->score = score->number;
    return HW_OK;
}

static int by_date(const void *a, const void *b)
{
    int days = hw_date_days(((const hw_dated_score *)b)->date, ((const hw_dated_score *)a)->date);
    return (days > 0) - (days < 0);
}

static hw_status put_weeks(hw_job *job, hw_follow_request *request, hw_arena *into)
{
    hw_pain_score *weeks = NULL;
    HW_ALLOC(job, into, weeks, request->count > 0 ? request->count : 1);
    qsort(request->dated, (size_t)request->count, sizeof *request->dated, by_date);
    for (int i = 0; i < request->count; i++)
        weeks[i] =
            (hw_pain_score){hw_date_days(request->dated[0].date, request->dated[i].date) / 7.0,
                            request->dated[i].score};
    request->scores = weeks;
    return HW_OK;
}

hw_status hw_follow_read(hw_job *job, hw_bytes bytes, hw_arena *into, hw_follow_request *out,
                         hw_faults *faults)
{
    const hw_json *root = NULL;
    hw_follow_request request = {.kind = HW_PAIN_KINDS};
    HW_TRY(hw_json_read(job, bytes, into, &root));
    const hw_json *pain = hw_json_get(root, "pain"), *scores = hw_json_get(root, "scores");
    if (pain && pain->kind == HW_JSON_TEXT) request.kind = hw_pain_from_word(pain->text);
    if (request.kind == HW_PAIN_KINDS)
        HW_TRY(hw_faults_add(job, faults, "pain",
                             "must be \"first step\", \"average\" or \"activity\""));
    if (!scores || scores->kind != HW_JSON_LIST || scores->count < 1 || scores->count > SCORES_MAX)
        HW_TRY(hw_faults_add(job, faults, "scores", "must be a list of 1 to %d scores",
                             (int)SCORES_MAX));
    else {
        HW_ALLOC(job, into, request.dated, scores->count);
        request.count = scores->count;
        for (int i = 0; i < scores->count; i++)
            HW_TRY(read_score(job, &scores->items[i], i, faults, &request.dated[i]));
    }
    HW_TRY(hw_faults_status(job, faults));
    HW_TRY(put_weeks(job, &request, into));
    *out = request;
    return HW_OK;
}
