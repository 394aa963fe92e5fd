// SPDX-License-Identifier: GPL-3.0-or-later
#include "app/app.h"
#include "json/json.h"

hw_status hw_app_follow(hw_job *job, hw_bytes request, hw_arena *into, hw_follow_up *out,
                        hw_bytes *json, hw_faults *faults)
{
    hw_follow_request asked = {0};
    hw_follow_up found = {0};
    HW_TRY(hw_follow_read(job, request, into, &asked, faults));
    HW_TRY(hw_follow_pain(job, asked.kind, asked.scores, asked.count, &found));
    if (json) HW_TRY(hw_report_follow_json(job, &asked, &found, into, json));
    if (out) *out = found;
    return HW_OK;
}

bool hw_app_is_scores(hw_job *job, hw_bytes request, hw_arena *into)
{
    const hw_json *root = NULL;
    if (hw_json_read(job, request, into, &root) != HW_OK)
        return false; // its reader says what is wrong
    return hw_json_get(root, "scale") || hw_json_get(root, "questionnaire");
}

hw_status hw_app_scores(hw_job *job, hw_bytes request, hw_arena *into, hw_bytes *json,
                        hw_faults *faults)
{
    hw_score_request asked = {0};
    HW_TRY(hw_score_read(job, request, into, &asked, faults));
    return hw_report_scores_json(job, &asked, into, json);
}

hw_status hw_app_trials(hw_job *job, hw_bytes file, hw_arena *into, hw_trial **out, int *count,
                        hw_faults *faults)
{
    const hw_json *root = NULL, **bodies = NULL;
    HW_TRY(hw_json_read(job, file, into, &root));
    const int found = root->kind == HW_JSON_LIST ? root->count : 1;
    HW_ALLOC(job, into, bodies, found + 1);
    for (int i = 0; i < found; i++) bodies[i] = root->kind == HW_JSON_LIST ? &root->items[i] : root;
    HW_TRY(hw_trials_read(job, bodies, found, into, out, faults));
    *count = found;
    return HW_OK;
}
