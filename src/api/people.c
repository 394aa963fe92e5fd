// SPDX-License-Identifier: GPL-3.0-or-later
// People: search, make, change, erase; and the one-time code of the waiting room's form.
#include "api_internal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PAGE_OF_PEOPLE = 100, CODE_LETTERS = 8, CODE_MS = 30 * 60 * 1000, CODE_BYTES = 20 };

// One more than is shown is asked for, to know whether there are more.
hw_status answer_people(api_call *call)
{
    const char *search = NULL, *from = NULL;
    hw_store_rows rows = {0};
    HW_TRY(hw_http_query_read(call->job, call->request->query, "search", call->into, &search));
    HW_TRY(hw_http_query_read(call->job, call->request->query, "from", call->into, &from));
    long skip = from ? strtol(from, NULL, 10) : 0;
    hw_store_query query = {.kind = "person",
                            .text = search && search[0] ? search : NULL,
                            .skip = skip > 0 && skip < 10000000 ? (int)skip : 0,
                            .limit = PAGE_OF_PEOPLE + 1};
    HW_TRY(hw_store_list(call->job, call->api->store, &query, call->into, &rows));
    hw_json_out out = api_begin(call);
    hw_json_open(&out, "people", '[');
    for (int i = 0; i < rows.count && i < PAGE_OF_PEOPLE; i++)
        api_row(call, &out, NULL, &rows.rows[i]);
    hw_json_close(&out);
    hw_json_bool(&out, "more", rows.count > PAGE_OF_PEOPLE);
    hw_json_int(&out, "change", (long)rows.change);
    return api_end(call, &out);
}

// `least` 0: it may be absent.
static bool is_text(const hw_json *body, const char *key, size_t least, size_t most)
{
    const hw_json *value = hw_json_get(body, key);
    if (!value) return least == 0;
    return value->kind == HW_JSON_TEXT && strlen(value->text) >= least &&
           strlen(value->text) <= most;
}

// The two keys the program itself reads; the rest of a person is the clinic's own.
static hw_status check_person(api_call *call, const hw_json *body)
{
    hw_date born = {0};
    const hw_json *typed = hw_json_get(body, "born");
    if (!is_text(body, "code", 1, 40))
        HW_TRY(hw_faults_add(call->job, &call->faults, "code",
                             "a code of 1 to 40 letters is needed: it stands on every page"));
    if (!is_text(body, "name", 0, 200))
        HW_TRY(hw_faults_add(call->job, &call->faults, "name",
                             "a name is a text of at most 200 letters"));
    if (typed && (typed->kind != HW_JSON_TEXT || !hw_date_parse(typed->text, &born)))
        HW_TRY(hw_faults_add(call->job, &call->faults, "born", "a date is written 1979-05-31"));
    return hw_faults_status(call->job, &call->faults);
}

// Two people of one code would be two names for one file of a device.
static hw_status check_code(api_call *call, const hw_json *body, const char *self)
{
    hw_store_rows rows = {0};
    const char *code = hw_json_get(body, "code")->text;
    hw_store_query query = {.kind = "person", .text = code};
    HW_TRY(hw_store_list(call->job, call->api->store, &query, call->into, &rows));
    for (int i = 0; i < rows.count; i++) {
        const hw_json *other = NULL;
        HW_TRY(hw_json_read(call->job, rows.rows[i].body, call->into, &other));
        const hw_json *theirs = hw_json_get(other, "code");
        if (strcmp(rows.rows[i].head.id, self) == 0 || !theirs || theirs->kind != HW_JSON_TEXT)
            continue;
        if (!hw_text_same(theirs->text, code)) continue;
        HW_TRY(hw_faults_add(call->job, &call->faults, "code",
                             "another person has this code already"));
        break;
    }
    return hw_faults_status(call->job, &call->faults);
}

hw_status answer_person_add(api_call *call)
{
    const hw_json *body = NULL;
    const char *why = NULL;
    hw_store_head head;
    hw_store_write write = {.kind = "person", .who = call->session.user.id};
    HW_TRY(api_body(call, &body, &write.body));
    HW_TRY(api_text(call, "why", 400, "new person", &why));
    HW_TRY(check_person(call, body));
    HW_TRY(check_code(call, body, ""));
    write.why = why;
    HW_TRY(hw_store_put(call->job, call->api->store, &write, 1, call->into, &head));
    return api_written(call, &head);
}

hw_status answer_person(api_call *call)
{
    hw_store_row row = {0};
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"person", call->args[0], 0},
                        call->into, &row));
    hw_json_out out = api_begin(call);
    api_head(call, &out, &row.head);
    hw_json_raw(&out, "body", row.body);
    return api_end(call, &out);
}

hw_status answer_person_change(api_call *call)
{
    const hw_json *body = NULL;
    hw_store_write write = {.kind = "person", .id = call->args[0]};
    HW_TRY(api_body(call, &body, &write.body));
    HW_TRY(check_person(call, body));
    HW_TRY(check_code(call, body, call->args[0]));
    return api_change(call, &write);
}

// The store refuses where the record says "hold" (a complaint, a lawsuit).
hw_status answer_person_erase(api_call *call)
{
    const char *why = NULL;
    HW_TRY(api_text(call, "why", 400, NULL, &why));
    HW_TRY(hw_store_erase(call->job, call->api->store, call->args[0], call->session.user.id, why));
    api_log(call->api, "erased person=%s user=%s", call->args[0], call->session.user.id);
    return api_done(call);
}

// -- the waiting room

// Letters that are not taken for one another when read aloud or copied.
static void make_code(char code[static 16])
{
    static const char letters[] = "abcdefghjkmnpqrstuvwxyz23456789"; // 31
    for (int i = 0; i < CODE_LETTERS;) {
        unsigned char byte;
        hw_seal_random(&byte, 1);
        if (byte < 248) code[i++] = letters[byte % 31]; // 248 = 8 * 31: no letter is likelier
    }
    code[CODE_LETTERS] = 0;
}

// A free place, or that of the code that ends soonest.
static api_code *place_for_code(hw_api *api, int64_t now)
{
    api_code *soonest = &api->codes[0];
    for (int i = 0; i < CODES; i++) {
        if (api->codes[i].until_ms <= now) return &api->codes[i];
        if (api->codes[i].until_ms < soonest->until_ms) soonest = &api->codes[i];
    }
    return soonest;
}

// In memory only: a restart makes a code worthless, and it never stands in a backup.
hw_status answer_person_code(api_call *call)
{
    api_code fresh = {.until_ms = api_tick_ms() + CODE_MS};
    hw_store_row row = {0};
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"person", call->args[0], 0},
                        call->into, &row));
    make_code(fresh.code);
    snprintf(fresh.person, sizeof fresh.person, "%s", row.head.id);
    snprintf(fresh.issuer, sizeof fresh.issuer, "%s", call->session.user.id);
    pthread_mutex_lock(&call->api->lock);
    *place_for_code(call->api, api_tick_ms()) = fresh;
    pthread_mutex_unlock(&call->api->lock);
    hw_json_out out = api_begin(call);
    hw_json_text(&out, "code", fresh.code);
    hw_json_int(&out, "minutes", CODE_MS / 60000);
    api_time(&out, "until", api_now_ms() + CODE_MS);
    return api_end(call, &out);
}

// Finds a code that still holds; `use` uses it up.
static bool find_code(hw_api *api, const char *typed, bool use, api_code *out)
{
    bool found = false;
    int64_t now = api_tick_ms();
    if (strlen(typed) != CODE_LETTERS) return false;
    pthread_mutex_lock(&api->lock);
    for (int i = 0; i < CODES; i++) {
        api_code *code = &api->codes[i];
        if (code->until_ms <= now || !hw_seal_same(code->code, typed, CODE_LETTERS)) continue;
        *out = *code;
        found = true;
        if (use) *code = (api_code){0};
    }
    pthread_mutex_unlock(&api->lock);
    return found;
}

// Written in the name of whoever issued the code; the body says that the person entered it.
static hw_status write_scores(api_call *call, const api_code *code, const hw_json *scores)
{
    hw_store_head head;
    hw_json_out json = hw_json_begin(call->into);
    hw_store_write write = {.kind = "score",
                            .person = code->person,
                            .who = code->issuer,
                            .why = "filled in by the person, with a one-time code"};
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "entered_by", "person");
    api_time(&json, "entered", api_now_ms());
    hw_json_tree(&json, "scores", scores);
    hw_json_close(&json);
    HW_TRY(hw_json_end(call->job, &json, &write.body));
    return hw_store_put(call->job, call->api->store, &write, 1, call->into, &head);
}

// Without "scores" the code is only looked at, so that the form can open; nothing of the person
// comes back either way.
hw_status answer_score_form(api_call *call)
{
    const char *typed = NULL, *key = NULL;
    api_code code = {0};
    const hw_json *scores = hw_json_get(call->body, "scores");
    HW_TRY(api_text(call, "code", CODE_BYTES, NULL, &typed));
    HW_TRY(hw_text_format(call->job, call->into, &key, "form from %s", call->request->address));
    HW_TRY(api_wait_first(call, key));
    if (scores && scores->kind != HW_JSON_OBJECT)
        return hw_fail(call->job, HW_BAD_INPUT, "'scores' must be an object");
    if (!find_code(call->api, typed, scores != NULL, &code)) {
        api_guess_failed(call->api, key, GUESS_ONE);
        return hw_fail(call->job, HW_NO_ACCESS, "this code is not known, or it has been used");
    }
    if (scores) HW_TRY(write_scores(call, &code, scores));
    hw_json_out out = api_begin(call);
    hw_json_bool(&out, "taken", scores != NULL);
    return api_end(call, &out);
}
