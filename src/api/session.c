// SPDX-License-Identifier: GPL-3.0-or-later
// Sessions and guessers: short tables under one lock, in memory only. A restart signs all out.
#include "api_internal.h"

#include <stdio.h>
#include <string.h>

// ASVS 3.3: idle and absolute limits; a clinic day is shorter than the second.
static const int64_t idle_ms = 60 * 60 * 1000, longest_ms = 12 * 60 * 60 * 1000;

// The first failures cost nothing (fingers slip); then 1, 2, 4 ... seconds up to the longest wait.
// A whole address may fail more often and waits less: behind it may be a clinic, and nobody in it
// shall shut the others out (ASVS 5.0 6.3.1).
static const struct {
    int free_failures;
    int64_t longest_ms;
} patience[] = {[GUESS_ONE] = {3, 300000}, [GUESS_ADDRESS] = {20, 5000}};

enum { FORGOTTEN_MS = 3600000, DOUBLINGS_MAX = 20 };

// Unused for too long, or open since before this day.
static bool is_over(const api_session *session, int64_t now)
{
    return now - session->used_ms > idle_ms || now - session->began_ms > longest_ms;
}

// A free place, or that of the session unused for longest.
static api_session *place_for_session(hw_api *api)
{
    api_session *oldest = &api->sessions[0];
    for (int i = 0; i < SESSIONS; i++) {
        if (!api->sessions[i].is_used) return &api->sessions[i];
        if (api->sessions[i].used_ms < oldest->used_ms) oldest = &api->sessions[i];
    }
    return oldest;
}

// 256 random bits in hex.
static void make_secret(char text[static SECRET_BYTES])
{
    unsigned char bytes[32];
    hw_seal_random(bytes, sizeof bytes);
    hw_seal_hex(bytes, sizeof bytes, text);
    hw_seal_wipe(bytes, sizeof bytes);
}

// Not readable by scripts, not sent along with requests of other pages, gone with the browser.
static hw_status set_cookie(api_call *call, const char *value, const char *more)
{
    const char *cookie = NULL;
    HW_TRY(hw_text_format(call->job, call->into, &cookie,
                          "%s=%s; Path=/; HttpOnly; SameSite=Strict%s%s",
                          call->api->is_tls ? "__Host-hw_session" : "hw_session", value,
                          call->api->is_tls ? "; Secure" : "", more));
    hw_http_reply_header(call->reply, "Set-Cookie", cookie);
    return HW_OK;
}

hw_status api_session_begin(api_call *call, const api_user *user)
{
    hw_api *api = call->api;
    api_session fresh = {.is_used = true, .user = *user};
    make_secret(fresh.secret);
    make_secret(fresh.token);
    hw_seal_id(fresh.tag);
    fresh.began_ms = fresh.used_ms = api_tick_ms();
    pthread_mutex_lock(&api->lock);
    *place_for_session(api) = fresh;
    pthread_mutex_unlock(&api->lock);
    call->session = fresh;
    return set_cookie(call, fresh.secret, "");
}

// All places are compared in a time that does not tell how much of a secret was right.
bool api_session_find(hw_api *api, const char *secret, api_session *out)
{
    int64_t now = api_tick_ms();
    bool found = false;
    if (strlen(secret) != SECRET_BYTES - 1) return false;
    pthread_mutex_lock(&api->lock);
    for (int i = 0; i < SESSIONS; i++) {
        api_session *session = &api->sessions[i];
        if (!session->is_used || !hw_seal_same(session->secret, secret, SECRET_BYTES - 1)) continue;
        session->is_used = !is_over(session, now);
        session->used_ms = now;
        *out = *session;
        found = session->is_used;
        break;
    }
    pthread_mutex_unlock(&api->lock);
    return found;
}

bool api_session_of_tag(hw_api *api, const char *tag, api_session *out)
{
    bool found = false;
    pthread_mutex_lock(&api->lock);
    for (int i = 0; i < SESSIONS && !found; i++) {
        const api_session *session = &api->sessions[i];
        found =
            session->is_used && strcmp(session->tag, tag) == 0 && !is_over(session, api_tick_ms());
        if (found) *out = *session;
    }
    pthread_mutex_unlock(&api->lock);
    return found;
}

void api_session_end(hw_api *api, const char *tag)
{
    pthread_mutex_lock(&api->lock);
    for (int i = 0; i < SESSIONS; i++)
        if (api->sessions[i].is_used && strcmp(api->sessions[i].tag, tag) == 0)
            hw_seal_wipe(&api->sessions[i], sizeof api->sessions[i]);
    pthread_mutex_unlock(&api->lock);
    hw_http_close_streams(api->http, tag);
}

void api_sessions_end(hw_api *api, const char *user, const char *but_tag)
{
    for (;;) {
        char tag[HW_STORE_ID] = "";
        pthread_mutex_lock(&api->lock);
        for (int i = 0; i < SESSIONS && !tag[0]; i++) {
            const api_session *session = &api->sessions[i];
            if (session->is_used && strcmp(session->user.id, user) == 0 &&
                strcmp(session->tag, but_tag) != 0)
                memcpy(tag, session->tag, sizeof tag);
        }
        pthread_mutex_unlock(&api->lock);
        if (!tag[0]) return;
        api_session_end(api, tag); // takes the lock itself, and closes the streams without it
    }
}

// Gives the sessions of a user the new rights; where `user` is NULL they end.
static void renew_sessions(hw_api *api, const char *id, const api_user *user)
{
    pthread_mutex_lock(&api->lock);
    for (int i = 0; i < SESSIONS; i++) {
        api_session *session = &api->sessions[i];
        if (!session->is_used || strcmp(session->user.id, id) != 0) continue;
        if (user)
            session->user = *user;
        else
            hw_seal_wipe(session, sizeof *session);
    }
    pthread_mutex_unlock(&api->lock);
}

// Rights are of the record, not of the moment of signing in.
void api_user_changed(hw_api *api, hw_job *job, hw_arena *into, const char *id)
{
    hw_store_row row = {0};
    api_user user = {0};
    const char *hash = NULL;
    bool is_active = false;
    hw_status status = hw_store_get(job, api->store, (hw_store_ref){"user", id, 0}, into, &row);
    if (status == HW_OK) status = api_user_read(job, &row, into, &user, &hash, &is_active);
    renew_sessions(api, id, status == HW_OK && is_active ? &user : NULL);
}

// -- guessers

static api_guesser *find_guesser(hw_api *api, const char *key)
{
    for (int i = 0; i < GUESSERS; i++)
        if (strcmp(api->guessers[i].key, key) == 0) return &api->guessers[i];
    return NULL;
}

int64_t api_guess_wait(hw_api *api, const char *key)
{
    pthread_mutex_lock(&api->lock);
    const api_guesser *guesser = find_guesser(api, key);
    int64_t wait = guesser ? guesser->until_ms - api_tick_ms() : 0;
    pthread_mutex_unlock(&api->lock);
    return wait > 0 ? wait : 0;
}

// The one that has been quiet for longest makes room: a flood of made-up logins forgets old
// guessers, which is why the address counts too.
static api_guesser *place_for_guesser(hw_api *api, const char *key)
{
    api_guesser *oldest = &api->guessers[0];
    for (int i = 0; i < GUESSERS; i++)
        if (api->guessers[i].last_ms < oldest->last_ms) oldest = &api->guessers[i];
    *oldest = (api_guesser){0};
    snprintf(oldest->key, sizeof oldest->key, "%s", key);
    return oldest;
}

void api_guess_failed(hw_api *api, const char *key, api_guess kind)
{
    int64_t now = api_tick_ms();
    pthread_mutex_lock(&api->lock);
    api_guesser *guesser = find_guesser(api, key);
    if (!guesser) guesser = place_for_guesser(api, key);
    if (now - guesser->last_ms > FORGOTTEN_MS) guesser->failures = 0;
    guesser->failures++;
    guesser->last_ms = now;
    int over = guesser->failures - patience[kind].free_failures;
    int64_t wait = over <= 0 ? 0 : 1000LL << (over < DOUBLINGS_MAX ? over - 1 : DOUBLINGS_MAX);
    if (wait > patience[kind].longest_ms) wait = patience[kind].longest_ms;
    guesser->until_ms = now + wait;
    pthread_mutex_unlock(&api->lock);
}

void api_guess_forget(hw_api *api, const char *key)
{
    pthread_mutex_lock(&api->lock);
    api_guesser *guesser = find_guesser(api, key);
    if (guesser) *guesser = (api_guesser){0};
    pthread_mutex_unlock(&api->lock);
}
