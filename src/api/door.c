// SPDX-License-Identifier: GPL-3.0-or-later
// From request to handler: is it meant for us, from our page, by somebody who may? What is not
// allowed by a row of the table is refused before its body is read.
#include "api_internal.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

// What the plan found, for the answer.
typedef struct ticket {
    const api_route *route; // NULL: a file of the page
    hw_http_path path;
    api_session session;
} ticket;

int64_t api_now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

int64_t api_tick_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

void api_log(hw_api *api, const char *format, ...)
{
    if (!api->log) return;
    char line[400], when[24];
    time_t now = time(NULL);
    struct tm utc;
    strftime(when, sizeof when, "%Y-%m-%dT%H:%M:%SZ", gmtime_r(&now, &utc));
    int lead = snprintf(line, sizeof line, "%s ", when);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(line + lead, sizeof line - (size_t)lead, format, arguments);
    va_end(arguments);
    api->log(api->log_user, line);
}

// -- is it meant for us

// An address in digits: no page of elsewhere can bear such a name and be sent to us by it.
static bool is_digits(const char *host, size_t length)
{
    int dots = 0;
    for (size_t i = 0; i < length; i++) {
        if (host[i] == '.')
            dots++;
        else if (host[i] < '0' || host[i] > '9')
            return false;
    }
    return dots == 3 && host[0] != '.' && host[length - 1] != '.';
}

static bool is_host_of(const hw_api *api, const char *host, size_t length)
{
    static const char *const always[] = {"127.0.0.1", "localhost", "[::1]"};
    for (int i = 0; i < 3; i++)
        if (strlen(always[i]) == length && strncmp(always[i], host, length) == 0) return true;
    for (const char *at = api->hosts; at && *at;) {
        size_t name = strcspn(at, ",");
        if (name == length && strncmp(at, host, length) == 0) return true;
        at += name + (at[name] == ',');
    }
    return api->is_open && length > 0 && is_digits(host, length);
}

// Exactly one of our names and our port: a page of elsewhere whose name was bent to our address
// (DNS rebinding) comes with its own name here.
static bool is_ours(hw_api *api, const char *host)
{
    char port[16];
    const char *colon = host ? strrchr(host, ':') : NULL;
    pthread_mutex_lock(&api->lock);
    snprintf(port, sizeof port, ":%d", api->port);
    pthread_mutex_unlock(&api->lock);
    if (!colon || strcmp(colon, port) != 0) return false;
    return is_host_of(api, host, (size_t)(colon - host));
}

// A change must come from our own page. Browsers tell either Origin or Sec-Fetch-Site.
static bool comes_from_us(hw_api *api, const hw_http_request *request)
{
    const char *origin = hw_http_header(request, "Origin");
    const char *site = hw_http_header(request, "Sec-Fetch-Site");
    bool is_change = strcmp(request->method, "GET") != 0;
    if (site && strcmp(site, "same-origin") != 0 && strcmp(site, "none") != 0) return false;
    if (!origin) return !is_change || site;
    const char *scheme = api->is_tls ? "https://" : "http://";
    size_t length = strlen(scheme);
    return strncmp(origin, scheme, length) == 0 && is_ours(api, origin + length) &&
           strcmp(origin + length, hw_http_header(request, "Host")) == 0;
}

// -- which route

static bool fits(const char *pattern, const hw_http_path *path)
{
    int i = 0;
    for (const char *at = pattern; *at; i++) {
        size_t length = strcspn(at + 1, "/");
        if (i == path->count) return false;
        bool is_same =
            strlen(path->segments[i]) == length && strncmp(at + 1, path->segments[i], length) == 0;
        if (at[1] != '{' && !is_same) return false;
        at += 1 + length;
    }
    return i == path->count;
}

// `has_path`: the address is there, though not for this method (405 rather than 404).
static const api_route *find_route(const char *method, const hw_http_path *path, bool *has_path)
{
    int count = 0;
    const api_route *routes = api_routes(&count);
    *has_path = false;
    for (int i = 0; i < count; i++) {
        if (!fits(routes[i].pattern, path)) continue;
        *has_path = true;
        if (strcmp(routes[i].method, method) == 0) return &routes[i];
    }
    return NULL;
}

// What stands where the pattern has a {name}, in its order.
static void take_arguments(const char *pattern, const hw_http_path *path, const char **args)
{
    int i = 0, n = 0;
    for (const char *at = pattern; *at; i++) {
        if (at[1] == '{') args[n++] = path->segments[i];
        at += 1 + strcspn(at + 1, "/");
    }
}

// -- may they

static bool lacks_token(const hw_http_request *request, const api_session *session)
{
    const char *token = hw_http_header(request, "X-Heelwright-Token");
    return !token || strlen(token) != SECRET_BYTES - 1 ||
           !hw_seal_same(token, session->token, SECRET_BYTES - 1);
}

// With TLS the cookie bears the __Host- prefix: no other host, not even a subdomain, can set it.
static void find_session(hw_api *api, const hw_http_request *request, api_session *out)
{
    char secret[SECRET_BYTES + 8];
    const char *name = api->is_tls ? "__Host-hw_session" : "hw_session";
    out->is_used =
        hw_http_cookie_read(hw_http_header(request, "Cookie"), name, secret, sizeof secret) &&
        api_session_find(api, secret, out);
}

// A form of another page can send text or form data without asking first, but not JSON (ASVS 5.0
// 3.5.2).
static bool is_body_kind(const api_route *route, const hw_http_request *request)
{
    const char *want = route->is_binary ? "application/octet-stream" : "application/json";
    const char *type = hw_http_header(request, "Content-Type");
    size_t length = strlen(want);
    if (request->length == 0) return true;
    return type && strncmp(type, want, length) == 0 && (!type[length] || type[length] == ';');
}

// 0, or the code and sentence of why not.
static int judge(const api_route *route, const hw_http_request *request, const api_session *session,
                 const char **sentence)
{
    bool is_change = strcmp(route->method, "GET") != 0;
    if (route->who && !session->is_used) {
        *sentence = "sign in first";
        return 401;
    }
    if (route->who && is_change && lacks_token(request, session)) {
        *sentence = "the page's token is missing or old: load the page again";
        return 403;
    }
    if (route->who && !(route->who & session->user.role)) {
        *sentence = "your role does not include this";
        return 403;
    }
    if (route->who && session->user.is_lent && route->answer != answer_new_passphrase &&
        route->answer != answer_logout) {
        *sentence =
            "set a passphrase of your own first: the one you have was given by somebody else";
        return 403;
    }
    if (!is_body_kind(route, request)) {
        *sentence = route->is_binary ? "send the file's bytes as application/octet-stream"
                                     : "send JSON as application/json";
        return 415;
    }
    return 0;
}

// Rights before bodies: nobody without them makes the server read or keep a byte.
static void plan_api(hw_api *api, const hw_http_request *request, hw_arena *into, ticket *mine,
                     hw_http_plan *plan, hw_http_reply *reply)
{
    bool has_path = false;
    const char *sentence = NULL;
    mine->route = find_route(request->method, &mine->path, &has_path);
    if (!mine->route) {
        api_refuse(reply, into, has_path ? 405 : 404, "there is no such address here");
        return;
    }
    find_session(api, request, &mine->session);
    int code = judge(mine->route, request, &mine->session, &sentence);
    if (code) {
        api_refuse(reply, into, code, sentence);
        return;
    }
    plan->body_limit = mine->route->limit;
    plan->lane = mine->route->lane;
}

// In the order of cost: whom it is for, where it comes from, what it asks for, who asks.
static void plan_request(hw_api *api, const hw_http_request *request, hw_arena *into,
                         hw_http_plan *plan, hw_http_reply *reply)
{
    hw_job no_job = {0};
    const char *host = hw_http_header(request, "Host");
    ticket *mine = hw_arena_take(into, 1, sizeof *mine);
    if (!mine) {
        api_refuse(reply, into, 503, "the server has no memory left");
        return;
    }
    plan->note = mine;
    if (!host)
        api_refuse(reply, into, 400, "the request does not say whom it is for");
    else if (!is_ours(api, host))
        api_refuse(reply, into, 421, "this server is not called by that name");
    else if (!comes_from_us(api, request))
        api_refuse(reply, into, 403, "the request does not come from this server's own page");
    else if (hw_http_path_read(&no_job, request->path, into, &mine->path) != HW_OK)
        api_refuse(reply, into, 400, "the address is malformed");
    else if (mine->path.count > 0 && strcmp(mine->path.segments[0], "api") == 0)
        plan_api(api, request, into, mine, plan, reply);
    else if (strcmp(request->method, "GET") != 0)
        api_refuse(reply, into, 405, "there is no such address here");
}

// Refusals are logged here, answers in `answer`; neither line holds a path as it came, since a path
// or query may hold a name.
static void plan(void *user, const hw_http_request *request, hw_arena *into, hw_http_plan *out,
                 hw_http_reply *reply)
{
    hw_api *api = user;
    plan_request(api, request, into, out, reply);
    if (!reply->code) return;
    const ticket *mine = out->note;
    api_security_headers(api, reply);
    api_log(api, "%s %s %d refused user=%s", mine && mine->route ? mine->route->method : "-",
            mine && mine->route ? mine->route->pattern : "-", reply->code,
            mine && mine->session.is_used ? mine->session.user.id : "-");
}

// -- the answer

static hw_status read_json_body(api_call *call)
{
    if (call->route->is_binary || call->request->body.count == 0) return HW_OK;
    HW_TRY(hw_json_read(call->job, call->request->body, call->into, &call->body));
    if (call->body->kind != HW_JSON_OBJECT)
        return hw_fail(call->job, HW_BAD_FORMAT, "send an object, not %s",
                       hw_json_kind_word(call->body->kind));
    if (hw_json_depth(call->body) > HW_JSON_DEPTH_MAX - 8)
        return hw_fail(call->job, HW_BAD_FORMAT, "the JSON is nested too deep");
    return HW_OK;
}

// A handler may have set its own code (429, 401); else the status decides.
static void answer_api(api_call *call)
{
    hw_status status = read_json_body(call);
    if (status == HW_OK) status = call->route->answer(call);
    if (status == HW_OK) {
        if (!call->reply->code) call->reply->code = 200;
        return;
    }
    if (!call->reply->code) call->reply->code = api_code_of(status);
    // What went wrong inside is for the log; it may name a file or a database.
    bool is_inside = status == HW_IO_FAILED;
    if (is_inside) api_log(call->api, "error: %s", call->job->why);
    api_error(call->reply, call->job, call->into,
              is_inside ? "the server could not do this; see its log" : call->job->why, call);
}

static void answer(void *user, const hw_http_request *request, const hw_http_plan *plan_made,
                   hw_job *job, hw_arena *into, hw_http_reply *reply)
{
    hw_api *api = user;
    const ticket *mine = plan_made->note;
    int64_t began = api_tick_ms();
    if (!mine->route) {
        api_page_file(api, &mine->path, job, into, reply);
        api_security_headers(api, reply);
        return;
    }
    api_call call = {.api = api,
                     .route = mine->route,
                     .request = request,
                     .job = job,
                     .into = into,
                     .session = mine->session,
                     .reply = reply,
                     .faults = {.into = into}};
    take_arguments(mine->route->pattern, &mine->path, call.args);
    answer_api(&call);
    api_security_headers(api, reply);
    api_log(api, "%s %s %d %lld ms user=%s", mine->route->method, mine->route->pattern, reply->code,
            (long long)(api_tick_ms() - began), call.session.is_used ? call.session.user.id : "-");
}

hw_http_door api_door(hw_api *api)
{
    return (hw_http_door){.plan = plan, .answer = answer, .dress = api_dress, .user = api};
}
