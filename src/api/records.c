// SPDX-License-Identifier: GPL-3.0-or-later
// Records of a person: read, write, undo. Which kinds there are, who writes which, and what an
// assistant's hand may not change.
#include "api_internal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct kind_row {
    const char *kind;
    unsigned read, write; // roles
    bool is_persons;
} kind_row;

// What no row names cannot be reached by these routes: users, the clinic, codes.
static const kind_row kinds[] = {
    {"person", ROLES_MEDICAL, ROLES_MEDICAL, true},
    {"visit", ROLES_MEDICAL, ROLES_MEDICAL, true},
    {"treatment", ROLES_MEDICAL, ROLES_TREATING, true},
    {"device", ROLES_MEDICAL, ROLES_TREATING, true},
    {"score", ROLES_MEDICAL, ROLES_MEDICAL, true},
    {"appointment", ROLES_MEDICAL, ROLES_MEDICAL, true},
    {"result", ROLES_MEDICAL, ROLE_NONE, true}, // written by workers alone
    {"trial", ROLES_MEDICAL, ROLES_TREATING, false},
};

// NULL where there is none, also for a kind of the store's own.
static const kind_row *find_kind(const char *kind)
{
    for (size_t i = 0; kind && i < sizeof kinds / sizeof *kinds; i++)
        if (strcmp(kinds[i].kind, kind) == 0) return &kinds[i];
    return NULL;
}

// Finer than the table of routes: the kind decides.
static hw_status may(api_call *call, const char *kind, bool writes)
{
    const kind_row *row = find_kind(kind);
    if (!row) return hw_fail(call->job, HW_NOT_FOUND, "there are no records of this kind");
    if ((writes ? row->write : row->read) & call->session.user.role) return HW_OK;
    return hw_fail(call->job, HW_NO_ACCESS, "your role does not include this");
}

// -- what a body must be

// An assistant writes findings; what releases or overrules is a clinician's.
static hw_status check_assistant(api_call *call, const hw_json *body, const hw_json *old)
{
    static const char *const reserved[] = {"overruled", "chosen",   "moved",
                                           "orders",    "released", "signed"};
    if (call->session.user.role != ROLE_ASSISTANT) return HW_OK;
    for (size_t i = 0; i < sizeof reserved / sizeof *reserved; i++)
        if (!hw_json_same(hw_json_get(body, reserved[i]), hw_json_get(old, reserved[i])))
            return hw_fail(call->job, HW_NO_ACCESS, "'%s' is for a clinician to change",
                           reserved[i]);
    return HW_OK;
}

static bool is_same_but(const hw_json *a, const hw_json *b, const char *key)
{
    for (int i = 0; i < a->count; i++)
        if (strcmp(a->keys[i], key) != 0 && !hw_json_same(&a->items[i], hw_json_get(b, a->keys[i])))
            return false;
    return true;
}

static bool is_todays(const hw_json *date)
{
    hw_date day = {0};
    const int64_t ms_per_day = 86400000;
    if (!date || date->kind != HW_JSON_TEXT || !hw_date_parse(date->text, &day)) return false;
    return llabs(api_now_ms() / ms_per_day - day.days) <= 1; // the clinic's zone may be another
}

// A visit is signed as it stands saved, by the one who is signed in, in their own name; whatever changes
// later makes a new version, which nobody has signed.
static hw_status check_signature(api_call *call, const hw_json *body, const hw_json *old)
{
    const hw_json *now = hw_json_get(body, "signed"), *was = hw_json_get(old, "signed");
    if (!now || hw_json_same(body, old)) return HW_OK;
    const bool is_same = old && old->kind == HW_JSON_OBJECT && is_same_but(body, old, "signed") &&
                         is_same_but(old, body, "signed");
    if (was && hw_json_same(now, was))
        return hw_fail(call->job, HW_BAD_INPUT,
                       "a visit that was edited is no longer signed: leave out 'signed'");
    if (!is_same)
        return hw_fail(call->job, HW_BAD_INPUT, "a visit is signed as it is saved, not with edits");
    if (!(call->session.user.role & ROLES_TREATING))
        return hw_fail(call->job, HW_NO_ACCESS, "'signed' is for a clinician to change");
    const hw_json *by = hw_json_get(now, "by");
    if (!by || by->kind != HW_JSON_TEXT || strcmp(by->text, call->session.user.login) != 0)
        return hw_fail(call->job, HW_BAD_INPUT, "a visit is signed in one's own name only");
    if (!is_todays(hw_json_get(now, "on")))
        return hw_fail(call->job, HW_BAD_INPUT, "a signature bears today's date");
    return HW_OK;
}

// An overrule is written in one's own name, and the second is somebody else who may treat and who agreed to just this,
// by their own passphrase.
static hw_status check_overrule(api_call *call, const char *person, const hw_json *row)
{
    const hw_json *second = hw_json_get(row, "second");
    if (strcmp(hw_json_text_at(row, "clinician", ""), call->session.user.login) != 0)
        return hw_fail(call->job, HW_BAD_INPUT, "a rule is overruled in one's own name only");
    if (!second) return HW_OK; // a caution needs none; the rules ask for a stop's
    bool is_treating = false;
    const char *login = hw_json_text_at(row, "second", "");
    const api_overrule of = {person, hw_json_text_at(row, "rule", ""),
                             hw_json_text_at(row, "reason", "")};
    HW_TRY(api_is_treating(call, login, &is_treating));
    if (!is_treating)
        return hw_fail(call->job, HW_BAD_INPUT,
                       "the second clinician is nobody who signs in here as one");
    if (api_has_agreed(call, login, &of)) return HW_OK;
    return hw_fail(
        call->job, HW_BAD_INPUT,
        "%.60s has not agreed to overrule %.60s for this reason: their passphrase is asked for it",
        login, of.rule);
}

static hw_status check_overrules(api_call *call, const char *person, const hw_json *body,
                                 const hw_json *old)
{
    const hw_json *now = hw_json_get(body, "overruled"), *was = hw_json_get(old, "overruled");
    for (int i = 0; now && now->kind == HW_JSON_LIST && i < now->count; i++) {
        bool is_new = true;
        for (int k = 0; was && was->kind == HW_JSON_LIST && k < was->count; k++)
            is_new &= !hw_json_same(&now->items[i], &was->items[k]);
        if (is_new) HW_TRY(check_overrule(call, person, &now->items[i]));
    }
    return HW_OK;
}

// A visit is read as the computation will read it: all faults at once, nothing kept that cannot be.
static hw_status check_visit(api_call *call, const char *person, const hw_json *body,
                             const hw_json *old)
{
    api_files files;
    hw_bytes case_file = {0};
    hw_visit *visit = NULL;
    HW_TRY(check_assistant(call, body, old));
    // An older body is what was signed and overruled then.
    if (call->route->answer != answer_record_undo) {
        HW_TRY(check_signature(call, body, old));
        HW_TRY(check_overrules(call, person, body, old));
    }
    HW_TRY(api_case_of(call, person, body, &case_file, &files));
    HW_ALLOC(call->job, call->into, visit, 1);
    return hw_visit_read(call->job, case_file, call->into, visit, &call->faults);
}

static hw_status need(api_call *call, unsigned permission, const char *what)
{
    if (call->session.user.permissions & permission) return HW_OK;
    return hw_fail(call->job, HW_NO_ACCESS, "logging %s needs a permission you do not have", what);
}

// What was really given: an act of the table, by somebody permitted to give it.
static hw_status check_treatment(api_call *call, const hw_json *body)
{
    const hw_json *word = hw_json_get(body, "act");
    const hw_act_row *act = word && word->kind == HW_JSON_TEXT ? hw_act_by_word(word->text) : NULL;
    if (!act) {
        HW_TRY(hw_faults_add(call->job, &call->faults, "act", "no treatment of this name"));
        return hw_faults_status(call->job, &call->faults);
    }
    switch (act->act) {
    case HW_ACT_CORTICOSTEROID:
    case HW_ACT_LOCAL_ANAESTHETIC:
    case HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE:
    case HW_ACT_PRP:
        return need(call, MAY_INJECT, "an injection");
    case HW_ACT_SHOCKWAVE_FOCUSED:
        return need(call, MAY_FOCUSED_SHOCKWAVE, "focused shockwave");
    default:
        return HW_OK;
    }
}

// Left and right are never guessed: H01 of the hazards.
static hw_status check_side(api_call *call, const hw_json *body)
{
    const hw_json *foot = hw_json_get(body, "foot");
    bool is_side = foot && foot->kind == HW_JSON_TEXT &&
                   (strcmp(foot->text, "left") == 0 || strcmp(foot->text, "right") == 0);
    if (!is_side)
        HW_TRY(hw_faults_add(call->job, &call->faults, "foot", "left or right must be said"));
    return hw_faults_status(call->job, &call->faults);
}

hw_status api_record_check(api_call *call, const char *kind, const char *person,
                           const hw_json *body, const hw_json *old)
{
    if (strcmp(kind, "visit") == 0) return check_visit(call, person, body, old);
    if (strcmp(kind, "treatment") == 0) return check_treatment(call, body);
    if (strcmp(kind, "trial") == 0) {
        hw_trial *trial = NULL;
        return hw_trials_read(call->job, &body, 1, call->into, &trial, &call->faults);
    }
    if (strcmp(kind, "device") != 0) return HW_OK;
    HW_TRY(check_side(call, body));
    return api_device_check(call, person, body, old);
}

// -- reading

hw_status answer_records(api_call *call)
{
    const char *kind = NULL;
    hw_store_rows rows = {0};
    HW_TRY(hw_http_query_read(call->job, call->request->query, "kind", call->into, &kind));
    HW_TRY(may(call, kind, false));
    hw_store_query query = {.kind = kind, .person = call->args[0]};
    HW_TRY(hw_store_list(call->job, call->api->store, &query, call->into, &rows));
    hw_json_out out = api_begin(call);
    hw_json_open(&out, "records", '[');
    for (int i = 0; i < rows.count; i++) api_row(call, &out, NULL, &rows.rows[i]);
    hw_json_close(&out);
    return api_end(call, &out);
}

static hw_status get(api_call *call, int64_t version, hw_store_row *out)
{
    return hw_store_get(call->job, call->api->store,
                        (hw_store_ref){call->args[0], call->args[1], version}, call->into, out);
}

hw_status answer_record(api_call *call)
{
    const char *version = NULL;
    hw_store_row row = {0};
    HW_TRY(may(call, call->args[0], false));
    HW_TRY(hw_http_query_read(call->job, call->request->query, "version", call->into, &version));
    long long number = version ? strtoll(version, NULL, 10) : 0;
    HW_TRY(get(call, number > 0 ? number : 0, &row));
    hw_json_out out = api_begin(call);
    api_head(call, &out, &row.head);
    hw_json_raw(&out, "body", row.body);
    return api_end(call, &out);
}

hw_status answer_record_history(api_call *call)
{
    hw_store_rows rows = {0};
    HW_TRY(may(call, call->args[0], false));
    HW_TRY(hw_store_history(call->job, call->api->store,
                            (hw_store_ref){call->args[0], call->args[1], 0}, call->into, &rows));
    hw_json_out out = api_begin(call);
    hw_json_open(&out, "history", '[');
    for (int i = 0; i < rows.count; i++) api_row(call, &out, NULL, &rows.rows[i]);
    hw_json_close(&out);
    return api_end(call, &out);
}

// -- writing

// The row that stands, for the merge in the page.
static void show_current(api_call *call, const char *kind, const char *id)
{
    char why[sizeof call->job->why];
    hw_store_row row = {0};
    memcpy(why, call->job->why, sizeof why);
    if (hw_store_get(call->job, call->api->store, (hw_store_ref){kind, id, 0}, call->into, &row) ==
        HW_OK) {
        hw_json_out out = hw_json_begin(call->into);
        api_row(call, &out, NULL, &row);
        if (hw_json_end(call->job, &out, &call->current) != HW_OK) call->current = (hw_bytes){0};
    }
    memcpy(call->job->why, why, sizeof why);
}

hw_status api_change(api_call *call, hw_store_write *write)
{
    const char *why = NULL;
    hw_store_head head;
    HW_TRY(api_version(call, "version", &write->expected_version));
    HW_TRY(api_text(call, "why", 400, "", &why));
    if (!write->why) write->why = why;
    write->who = call->session.user.id;
    hw_status status = hw_store_put(call->job, call->api->store, write, 1, call->into, &head);
    if (status == HW_CLASH) show_current(call, write->kind, write->id);
    if (status != HW_OK) return status;
    return api_written(call, &head);
}

// A person's record is sealed by the person's key; a trial of the literature by the clinic's.
hw_status answer_record_add(api_call *call)
{
    const hw_json *body = NULL;
    const char *kind = call->args[1], *why = NULL;
    hw_store_head head;
    hw_store_write write = {.kind = kind, .who = call->session.user.id};
    HW_TRY(may(call, kind, true));
    if (strcmp(kind, "person") == 0)
        return hw_fail(call->job, HW_NOT_FOUND, "a person is made at /api/people");
    HW_TRY(api_body(call, &body, &write.body));
    HW_TRY(api_text(call, "why", 400, "", &why));
    HW_TRY(api_record_check(call, kind, call->args[0], body, NULL));
    write.why = why;
    if (find_kind(kind)->is_persons) write.person = call->args[0];
    HW_TRY(hw_store_put(call->job, call->api->store, &write, 1, call->into, &head));
    if (strcmp(kind, "device") == 0) HW_TRY(api_device_files(call, &head, body));
    return api_written(call, &head);
}

// A bundle of our own export becomes a visit of the person it names: the same case, checked as if typed.
hw_status answer_import(api_call *call)
{
    hw_bytes case_file = {0};
    const hw_json *visit = NULL, *body = NULL;
    hw_store_row row = {0};
    hw_store_head head;
    hw_store_write write = {.kind = "visit",
                            .person = call->args[0],
                            .who = call->session.user.id,
                            .why = "imported from a bundle"};
    HW_TRY(hw_app_fhir_read(call->job, call->request->body, call->into, &case_file));
    HW_TRY(hw_json_read(call->job, case_file, call->into, &visit));
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"person", call->args[0], 0},
                        call->into, &row));
    HW_TRY(hw_json_read(call->job, row.body, call->into, &body));
    if (!hw_json_same(hw_json_get(hw_json_get(visit, "person"), "code"), hw_json_get(body, "code")))
        return hw_fail(call->job, HW_BAD_INPUT,
                       "the bundle is of another code than this person's: nothing was imported");
    HW_TRY(api_record_check(call, "visit", call->args[0], visit, NULL));
    write.body = case_file;
    HW_TRY(hw_store_put(call->job, call->api->store, &write, 1, call->into, &head));
    return api_written(call, &head);
}

// The record's own person is kept: a change cannot move it to somebody else.
hw_status answer_record_change(api_call *call)
{
    const hw_json *body = NULL, *old = NULL;
    hw_store_row row = {0};
    hw_store_write write = {.kind = call->args[0], .id = call->args[1]};
    HW_TRY(may(call, call->args[0], true));
    if (strcmp(call->args[0], "person") == 0)
        return hw_fail(call->job, HW_NOT_FOUND, "a person is changed at /api/people");
    HW_TRY(get(call, 0, &row));
    HW_TRY(hw_json_read(call->job, row.body, call->into, &old));
    HW_TRY(api_body(call, &body, &write.body));
    HW_TRY(api_record_check(call, call->args[0], row.head.person, body, old));
    write.person = row.head.person;
    return api_change(call, &write);
}

// An older body is checked like any other: rules and rights may have changed since.
hw_status answer_record_undo(api_call *call)
{
    const hw_json *body = NULL, *now = NULL;
    hw_store_row old = {0}, newest = {0};
    int64_t to = 0;
    hw_store_write write = {.kind = call->args[0], .id = call->args[1]};
    HW_TRY(may(call, call->args[0], true));
    HW_TRY(api_version(call, "to", &to));
    HW_TRY(get(call, to, &old));
    HW_TRY(get(call, 0, &newest));
    HW_TRY(hw_json_read(call->job, old.body, call->into, &body));
    HW_TRY(hw_json_read(call->job, newest.body, call->into, &now));
    HW_TRY(api_record_check(call, call->args[0], newest.head.person, body, now));
    write.body = old.body;
    if (strcmp(call->args[0], "person") != 0) write.person = newest.head.person;
    HW_TRY(
        hw_text_format(call->job, call->into, &write.why, "undone to version %lld", (long long)to));
    return api_change(call, &write);
}
