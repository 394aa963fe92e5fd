// SPDX-License-Identifier: GPL-3.0-or-later
// Who may sign in: user records, and the owner's changes to them. A hash never leaves.
#include "api_internal.h"

#include <stdio.h>
#include <string.h>

static const struct {
    unsigned role;
    const char *word;
} roles[] = {{ROLE_OWNER, "owner"},
             {ROLE_CLINICIAN, "clinician"},
             {ROLE_ASSISTANT, "assistant"},
             {ROLE_MAKER, "maker"}};

static const struct {
    unsigned bit;
    const char *word;
} permissions[] = {{MAY_INJECT, "injection"}, {MAY_FOCUSED_SHOCKWAVE, "focused_shockwave"}};

enum { ROLES = 4, PERMISSIONS = 2 };

const char *api_role_word(unsigned role)
{
    for (int i = 0; i < ROLES; i++)
        if (roles[i].role == role) return roles[i].word;
    return "none";
}

unsigned api_role_of(const char *word)
{
    for (int i = 0; i < ROLES; i++)
        if (strcmp(roles[i].word, word) == 0) return roles[i].role;
    return ROLE_NONE;
}

// False: a word that is no permission. An absent list is an empty one.
static bool permissions_of(const hw_json *list, unsigned *out)
{
    *out = 0;
    if (!list || list->kind == HW_JSON_NULL) return true;
    if (list->kind != HW_JSON_LIST) return false;
    for (int i = 0; i < list->count; i++) {
        unsigned bit = 0;
        for (int k = 0; k < PERMISSIONS && list->items[i].kind == HW_JSON_TEXT; k++)
            if (strcmp(list->items[i].text, permissions[k].word) == 0) bit = permissions[k].bit;
        if (!bit) return false;
        *out |= bit;
    }
    return true;
}

// A record that says something odd gives fewer rights, never more.
hw_status api_user_read(hw_job *job, const hw_store_row *row, hw_arena *into, api_user *user,
                        const char **hash, bool *is_active)
{
    const hw_json *body = NULL;
    api_user one = {.version = row->head.version};
    HW_TRY(hw_json_read(job, row->body, into, &body));
    snprintf(one.id, sizeof one.id, "%s", row->head.id);
    snprintf(one.login, sizeof one.login, "%s", hw_json_text_at(body, "login", ""));
    snprintf(one.name, sizeof one.name, "%s", hw_json_text_at(body, "name", ""));
    one.role = api_role_of(hw_json_text_at(body, "role", ""));
    if (!permissions_of(hw_json_get(body, "permissions"), &one.permissions)) one.permissions = 0;
    const hw_json *active = hw_json_get(body, "active"),
                  *lent = hw_json_get(body, "passphrase_lent");
    one.is_lent = lent && lent->kind == HW_JSON_BOOL && lent->truth;
    *user = one;
    *hash = hw_json_text_at(body, "passphrase_hash", "");
    *is_active = one.role && active && active->kind == HW_JSON_BOOL && active->truth;
    return HW_OK;
}

void api_permissions_write(hw_json_out *out, const api_user *user)
{
    hw_json_open(out, "permissions", '[');
    for (int i = 0; i < PERMISSIONS; i++)
        if (user->permissions & permissions[i].bit) hw_json_text(out, NULL, permissions[i].word);
    hw_json_close(out);
}

hw_status api_user_body(hw_job *job, hw_arena *into, const api_user *user, const char *hash,
                        bool is_active, hw_bytes *out)
{
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "login", user->login);
    hw_json_text(&json, "name", user->name);
    hw_json_text(&json, "role", api_role_word(user->role));
    api_permissions_write(&json, user);
    hw_json_bool(&json, "active", is_active);
    if (user->is_lent) hw_json_bool(&json, "passphrase_lent", true);
    hw_json_text(&json, "passphrase_hash", hash);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}

hw_status api_user_set(api_call *call, api_user *user, const char *login, const char *name)
{
    if (strlen(login) < 2 || strspn(login, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
                                           "0123456789.-_@") != strlen(login))
        return hw_fail(call->job, HW_BAD_INPUT,
                       "a login has 2 to %d plain letters, digits, '.', '-', '_' or '@'",
                       LOGIN_BYTES - 1);
    if (!name[0]) return hw_fail(call->job, HW_BAD_INPUT, "'name' is empty");
    snprintf(user->login, sizeof user->login, "%s", login);
    snprintf(user->name, sizeof user->name, "%s", name);
    return HW_OK;
}

hw_status api_user_write(api_call *call, const api_user *user, const char *hash, bool is_active,
                         const char *why)
{
    hw_bytes body = {0};
    hw_store_head head;
    HW_TRY(api_user_body(call->job, call->into, user, hash, is_active, &body));
    hw_store_write write = {.kind = "user",
                            .id = user->id[0] ? user->id : NULL,
                            .expected_version = user->version,
                            .body = body,
                            .who = call->session.user.id,
                            .why = why};
    HW_TRY(hw_store_put(call->job, call->api->store, &write, 1, call->into, &head));
    return api_written(call, &head);
}

static hw_status list_users(api_call *call, hw_store_rows *out)
{
    return hw_store_list(call->job, call->api->store, &(hw_store_query){.kind = "user"}, call->into,
                         out);
}

// Field by field, so that a hash cannot slip out with the body.
hw_status answer_users(api_call *call)
{
    hw_store_rows rows = {0};
    hw_json_out out = api_begin(call);
    HW_TRY(list_users(call, &rows));
    hw_json_open(&out, "users", '[');
    for (int i = 0; i < rows.count; i++) {
        api_user user;
        const char *hash = NULL;
        bool is_active = false;
        HW_TRY(api_user_read(call->job, &rows.rows[i], call->into, &user, &hash, &is_active));
        hw_json_open(&out, NULL, '{');
        hw_json_text(&out, "id", user.id);
        hw_json_int(&out, "version", (long)user.version);
        hw_json_text(&out, "login", user.login);
        hw_json_text(&out, "name", user.name);
        hw_json_text(&out, "role", api_role_word(user.role));
        api_permissions_write(&out, &user);
        hw_json_bool(&out, "active", is_active);
        hw_json_close(&out);
    }
    hw_json_close(&out);
    return api_end(call, &out);
}

hw_status api_is_treating(api_call *call, const char *login, bool *out)
{
    hw_store_rows rows = {0};
    *out = false;
    HW_TRY(list_users(call, &rows));
    for (int i = 0; i < rows.count; i++) {
        api_user user;
        const char *hash = NULL;
        bool is_active = false;
        HW_TRY(api_user_read(call->job, &rows.rows[i], call->into, &user, &hash, &is_active));
        const bool is_self = strcmp(user.login, call->session.user.login) == 0;
        if (is_active && !is_self && (user.role & ROLES_TREATING) && strcmp(user.login, login) == 0)
            *out = true;
    }
    return HW_OK;
}

// No two users of one login; at least one owner who can sign in stays.
static hw_status check_others(api_call *call, const api_user *changed, bool is_active)
{
    hw_store_rows rows = {0};
    int owners = changed->role == ROLE_OWNER && is_active;
    HW_TRY(list_users(call, &rows));
    for (int i = 0; i < rows.count; i++) {
        api_user user;
        const char *hash = NULL;
        bool active = false;
        HW_TRY(api_user_read(call->job, &rows.rows[i], call->into, &user, &hash, &active));
        if (strcmp(user.id, changed->id) == 0) continue;
        owners += user.role == ROLE_OWNER && active;
        if (hw_text_same(user.login, changed->login))
            return hw_fail(call->job, HW_BAD_INPUT, "there is a user of this login");
    }
    if (owners > 0) return HW_OK;
    return hw_fail(call->job, HW_BAD_INPUT, "one owner who can sign in must stay");
}

// What the body says of role and permissions; what it does not say stays.
static hw_status take_rights(api_call *call, api_user *user)
{
    const char *role = NULL;
    HW_TRY(api_text(call, "role", 20, api_role_word(user->role), &role));
    user->role = api_role_of(role);
    if (!user->role)
        return hw_fail(call->job, HW_BAD_INPUT,
                       "'role' must be owner, clinician, assistant or maker");
    const hw_json *list = hw_json_get(call->body, "permissions");
    if (list && !permissions_of(list, &user->permissions))
        return hw_fail(call->job, HW_BAD_INPUT,
                       "'permissions' may hold injection and focused_shockwave");
    return HW_OK;
}

hw_status answer_user_add(api_call *call)
{
    const char *login = NULL, *name = NULL, *passphrase = NULL, *hash = NULL;
    api_user user = {0};
    HW_TRY(api_text(call, "login", LOGIN_BYTES - 1, NULL, &login));
    HW_TRY(api_text(call, "name", NAME_BYTES - 1, NULL, &name));
    HW_TRY(api_text(call, "passphrase", 512, NULL, &passphrase));
    HW_TRY(api_user_set(call, &user, login, name));
    HW_TRY(take_rights(call, &user));
    HW_TRY(check_others(call, &user, true));
    HW_TRY(api_passphrase_hash(call, passphrase, login, &hash));
    user.is_lent = true;
    return api_user_write(call, &user, hash, true, "new user");
}

// What is not said stays; the version must be the newest.
hw_status answer_user_change(api_call *call)
{
    hw_store_row row = {0};
    api_user user = {0};
    const char *login = NULL, *name = NULL, *passphrase = NULL, *hash = NULL;
    bool is_active = false;
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"user", call->args[0], 0},
                        call->into, &row));
    HW_TRY(api_user_read(call->job, &row, call->into, &user, &hash, &is_active));
    const api_user old = user;
    HW_TRY(api_version(call, "version", &user.version));
    HW_TRY(api_text(call, "login", LOGIN_BYTES - 1, old.login, &login));
    HW_TRY(api_text(call, "name", NAME_BYTES - 1, old.name, &name));
    HW_TRY(api_text(call, "passphrase", 512, "", &passphrase));
    HW_TRY(api_user_set(call, &user, login, name));
    HW_TRY(take_rights(call, &user));
    const hw_json *active = hw_json_get(call->body, "active");
    if (active && active->kind == HW_JSON_BOOL) is_active = active->truth;
    HW_TRY(check_others(call, &user, is_active));
    if (passphrase[0]) {
        HW_TRY(api_passphrase_hash(call, passphrase, user.login, &hash));
        user.is_lent = strcmp(user.id, call->session.user.id) != 0;
    }
    HW_TRY(api_user_write(call, &user, hash, is_active, "user changed"));
    // Rights change at once, not when the news comes round.
    api_user_changed(call->api, call->job, call->into, user.id);
    if (passphrase[0]) api_sessions_end(call->api, user.id, call->session.tag);
    return HW_OK;
}

hw_status api_has_users(hw_job *job, hw_store *store, hw_arena *into, bool *out)
{
    hw_store_rows rows = {0};
    hw_store_query any = {.kind = "user", .limit = 1, .is_heads_only = true};
    HW_TRY(hw_store_list(job, store, &any, into, &rows));
    *out = rows.count > 0;
    return HW_OK;
}
