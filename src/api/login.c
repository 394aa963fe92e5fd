// SPDX-License-Identifier: GPL-3.0-or-later
// Signing in and out, and the first owner.
#include "api_internal.h"

#include <stdio.h>
#include <string.h>

enum { PASSPHRASE_LEAST = 12, PASSPHRASE_MOST = 128, PASSPHRASE_BYTES = 512 };

// What the page needs to know of who is signed in.
static void write_user(hw_json_out *out, const api_user *user)
{
    hw_json_open(out, "user", '{');
    hw_json_text(out, "id", user->id);
    hw_json_text(out, "login", user->login);
    hw_json_text(out, "name", user->name);
    hw_json_text(out, "role", api_role_word(user->role));
    api_permissions_write(out, user);
    hw_json_bool(out, "must_set_passphrase", user->is_lent);
    hw_json_close(out);
}

// Name and whether it is invented: shown before anybody signs in.
static hw_status write_clinic(api_call *call, hw_json_out *out)
{
    hw_store_row row = {0};
    const hw_json *body = NULL;
    hw_status status = hw_store_get(call->job, call->api->store,
                                    (hw_store_ref){"clinic", "clinic", 0}, call->into, &row);
    if (status != HW_OK && status != HW_NOT_FOUND) return status;
    if (status == HW_OK) HW_TRY(hw_json_read(call->job, row.body, call->into, &body));
    const hw_json *invented = hw_json_get(body, "invented");
    hw_json_open(out, "clinic", '{');
    hw_json_text(out, "name", hw_json_text_at(body, "name", ""));
    hw_json_bool(out, "invented", invented && invented->kind == HW_JSON_BOOL && invented->truth);
    hw_json_close(out);
    return HW_OK;
}

// The first thing a page asks; says nothing of people.
hw_status answer_session(api_call *call)
{
    hw_json_out out = api_begin(call);
    pthread_mutex_lock(&call->api->lock);
    bool is_first_use = call->api->first_use[0] != 0;
    pthread_mutex_unlock(&call->api->lock);
    if (call->session.is_used)
        write_user(&out, &call->session.user);
    else
        hw_json_null(&out, "user");
    hw_json_text(&out, "token", call->session.is_used ? call->session.token : "");
    hw_json_bool(&out, "first_use", is_first_use);
    hw_json_text(&out, "program", HW_VERSION);
    HW_TRY(write_clinic(call, &out));
    return api_end(call, &out);
}

// Ends it on the server; the browser is asked to drop cookie and cache (H35: the back button).
hw_status answer_logout(api_call *call)
{
    api_session_end(call->api, call->session.tag);
    call->session.is_used = false;
    hw_http_reply_header(
        call->reply, "Set-Cookie",
        call->api->is_tls
            ? "__Host-hw_session=; Path=/; HttpOnly; SameSite=Strict; Secure; Max-Age=0"
            : "hw_session=; Path=/; HttpOnly; SameSite=Strict; Max-Age=0");
    hw_http_reply_header(call->reply, "Clear-Site-Data", "\"cache\"");
    return api_done(call);
}

// The user of this login, whatever the letters' case. Not found: out stays as it was.
static hw_status find_login(api_call *call, const char *login, api_user *out, const char **hash,
                            bool *is_active)
{
    hw_store_rows rows = {0};
    HW_TRY(hw_store_list(call->job, call->api->store, &(hw_store_query){.kind = "user"}, call->into,
                         &rows));
    for (int i = 0; i < rows.count; i++) {
        api_user user = {0};
        const char *one_hash = NULL;
        bool active = false;
        HW_TRY(api_user_read(call->job, &rows.rows[i], call->into, &user, &one_hash, &active));
        if (!hw_text_same(user.login, login)) continue;
        *out = user;
        *hash = one_hash;
        *is_active = active;
    }
    return HW_OK;
}

// A wait that is running answers even the right passphrase: else the answer would tell.
hw_status api_wait_first(api_call *call, const char *key)
{
    int64_t wait = api_guess_wait(call->api, key);
    if (wait == 0) return HW_OK;
    const char *seconds = NULL;
    call->reply->code = 429;
    HW_TRY(hw_text_format(call->job, call->into, &seconds, "%lld", (long long)(wait / 1000 + 1)));
    hw_http_reply_header(call->reply, "Retry-After", seconds);
    return hw_fail(call->job, HW_NO_ACCESS, "too many failed attempts: try again in %s s", seconds);
}

// Guesses count for a login from an address (so that nobody can lock a colleague out from another
// machine) and for the address alone.
static hw_status guesser_keys(api_call *call, const char *login, const char *keys[2])
{
    HW_TRY(hw_text_format(call->job, call->into, &keys[0], "login %s from %s", login,
                          call->request->address));
    HW_TRY(hw_text_format(call->job, call->into, &keys[1], "any from %s", call->request->address));
    for (char *at = (char *)keys[0]; *at; at++)
        if (*at >= 'A' && *at <= 'Z') *at = (char)(*at + 'a' - 'A');
    return HW_OK;
}

// Hashed for an unknown login too: the time tells nothing.
hw_status api_prove(api_call *call, api_user *user, bool *holds)
{
    const char *login = NULL, *passphrase = NULL, *hash = call->api->dummy_hash, *keys[2];
    api_user found = {0};
    bool is_active = false;
    HW_TRY(api_text(call, "login", LOGIN_BYTES - 1, NULL, &login));
    HW_TRY(api_text(call, "passphrase", PASSPHRASE_BYTES, NULL, &passphrase));
    HW_TRY(guesser_keys(call, login, keys));
    HW_TRY(api_wait_first(call, keys[0]));
    HW_TRY(api_wait_first(call, keys[1]));
    HW_TRY(find_login(call, login, &found, &hash, &is_active));
    *holds = hw_seal_password_holds(hash, passphrase) && is_active && found.id[0];
    if (*holds) {
        api_guess_forget(call->api, keys[0]);
        *user = found;
        return HW_OK;
    }
    api_guess_failed(call->api, keys[0], GUESS_ONE);
    api_guess_failed(call->api, keys[1], GUESS_ADDRESS);
    api_log(call->api, "passphrase refused from %s", call->request->address);
    return HW_OK;
}

hw_status answer_login(api_call *call)
{
    api_user user = {0};
    bool holds = false;
    HW_TRY(api_prove(call, &user, &holds));
    if (!holds) {
        call->reply->code = 401;
        return hw_fail(call->job, HW_NO_ACCESS, "login and passphrase do not fit together");
    }
    HW_TRY(api_session_begin(call, &user)); // a new one: no session survives a sign-in
    api_log(call->api, "signed in user=%s from %s", user.id, call->request->address);
    return answer_session(call);
}

// -- passphrases

static size_t letters_of(const char *text)
{
    size_t count = 0;
    for (; *text; text++) count += ((unsigned char)*text & 0xc0) != 0x80; // UTF-8 leads
    return count;
}

// ASVS 2.1: length counts, composition does not.
hw_status api_passphrase_hash(api_call *call, const char *passphrase, const char *login,
                              const char **hash)
{
    size_t letters = letters_of(passphrase);
    char *text = NULL;
    if (letters < PASSPHRASE_LEAST || letters > PASSPHRASE_MOST)
        return hw_fail(call->job, HW_BAD_INPUT,
                       "a passphrase of %zu letters; it must have %d to %d", letters,
                       PASSPHRASE_LEAST, PASSPHRASE_MOST);
    if (strspn(passphrase, (char[2]){passphrase[0], 0}) == strlen(passphrase) ||
        hw_text_same(passphrase, login))
        return hw_fail(call->job, HW_BAD_INPUT, "this passphrase is too easy to guess");
    HW_ALLOC(call->job, call->into, text, HW_SEAL_PASSWORD);
    HW_TRY(hw_seal_password(call->job, passphrase, text));
    *hash = text;
    return HW_OK;
}

// The old one is asked again: an unattended screen shall not be enough.
hw_status answer_new_passphrase(api_call *call)
{
    const char *old = NULL, *fresh = NULL, *hash = "", *new_hash = NULL;
    api_user user = {0};
    bool is_active = false;
    HW_TRY(api_text(call, "old", PASSPHRASE_BYTES, NULL, &old));
    HW_TRY(api_text(call, "new", PASSPHRASE_BYTES, NULL, &fresh));
    HW_TRY(api_wait_first(call, call->session.user.id));
    HW_TRY(find_login(call, call->session.user.login, &user, &hash, &is_active));
    if (!hw_seal_password_holds(hash, old)) {
        api_guess_failed(call->api, call->session.user.id, GUESS_ONE);
        return hw_fail(call->job, HW_NO_ACCESS, "the old passphrase is not right");
    }
    api_guess_forget(call->api, call->session.user.id);
    if (user.is_lent && strcmp(old, fresh) == 0)
        return hw_fail(call->job, HW_BAD_INPUT, "the new passphrase is the one that was given");
    HW_TRY(api_passphrase_hash(call, fresh, user.login, &new_hash));
    user.is_lent = false;
    HW_TRY(api_user_write(call, &user, new_hash, true, "own passphrase"));
    api_user_changed(call->api, call->job, call->into, user.id);
    // Whoever knew the old one is out (ASVS 3.3.3).
    api_sessions_end(call->api, user.id, call->session.tag);
    return HW_OK;
}

// -- first use

static hw_status check_first_use(api_call *call)
{
    const char *code = NULL;
    HW_TRY(api_text(call, "code", 40, NULL, &code));
    HW_TRY(api_wait_first(call, "first use"));
    pthread_mutex_lock(&call->api->lock);
    const char *want = call->api->first_use;
    bool holds = want[0] && strlen(code) == strlen(want) && hw_seal_same(code, want, strlen(want));
    pthread_mutex_unlock(&call->api->lock);
    if (holds) return HW_OK;
    api_guess_failed(call->api, "first use", GUESS_ONE);
    return hw_fail(call->job, HW_NO_ACCESS,
                   "this is not the code the program printed, or it was used");
}

// Two requests with the right code: one gets it.
static hw_status use_up_code(api_call *call)
{
    pthread_mutex_lock(&call->api->lock);
    bool was_there = call->api->first_use[0] != 0;
    call->api->first_use[0] = 0;
    pthread_mutex_unlock(&call->api->lock);
    if (was_there) return HW_OK;
    return hw_fail(call->job, HW_NO_ACCESS, "the code was used");
}

static void give_code_back(hw_api *api, const char *code)
{
    pthread_mutex_lock(&api->lock);
    snprintf(api->first_use, sizeof api->first_use, "%s", code);
    pthread_mutex_unlock(&api->lock);
}

// Owner and clinic in one transaction: there is never one without the other.
static hw_status write_first(api_call *call, api_user *user, const char *hash)
{
    const char *clinic = NULL;
    hw_bytes user_body = {0}, clinic_body = {0};
    hw_store_head heads[2];
    HW_TRY(api_text(call, "clinic", NAME_BYTES - 1, "", &clinic));
    HW_TRY(api_user_body(call->job, call->into, user, hash, true, &user_body));
    hw_json_out out = api_begin(call);
    hw_json_text(&out, "name", clinic);
    hw_json_bool(&out, "invented", false);
    hw_json_close(&out);
    HW_TRY(hw_json_end(call->job, &out, &clinic_body));
    hw_seal_id(user->id);
    hw_store_write writes[2] = {
        {.kind = "user", .id = user->id, .body = user_body, .who = user->id, .why = "first use"},
        {.kind = "clinic",
         .id = "clinic",
         .body = clinic_body,
         .who = user->id,
         .why = "first use"}};
    HW_TRY(hw_store_put(call->job, call->api->store, writes, 2, call->into, heads));
    user->version = heads[0].version;
    return HW_OK;
}

hw_status answer_first_use(api_call *call)
{
    const char *login = NULL, *name = NULL, *passphrase = NULL, *hash = NULL, *code = NULL;
    api_user user = {.role = ROLE_OWNER, .permissions = MAY_INJECT | MAY_FOCUSED_SHOCKWAVE};
    HW_TRY(check_first_use(call));
    HW_TRY(api_text(call, "code", 40, NULL, &code));
    HW_TRY(api_text(call, "login", LOGIN_BYTES - 1, NULL, &login));
    HW_TRY(api_text(call, "name", NAME_BYTES - 1, NULL, &name));
    HW_TRY(api_text(call, "passphrase", PASSPHRASE_BYTES, NULL, &passphrase));
    HW_TRY(api_user_set(call, &user, login, name));
    HW_TRY(api_passphrase_hash(call, passphrase, login, &hash));
    HW_TRY(use_up_code(call));
    hw_status status = write_first(call, &user, hash);
    if (status != HW_OK) {
        give_code_back(call->api, code);
        return status;
    }
    HW_TRY(api_session_begin(call, &user));
    return answer_session(call);
}
