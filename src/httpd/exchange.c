// SPDX-License-Identifier: GPL-3.0-or-later
// A request's way: head, plan, body, lane, reply. libmicrohttpd calls `http_handle` again and again
// while it proceeds.
#include "exchange.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum {
    SWALLOWED_BYTES = 64 << 10, // of a refused body, so that the client sees why
    SLOWEST_BYTES_PER_MS = 16,  // a body or reply slower than 16 kB a second is given up
};

// For counting a header's values.
typedef struct wanted {
    const char *name, *value;
    int count;
} wanted;

static enum MHD_Result match(void *user, enum MHD_ValueKind kind, const char *name,
                             const char *value)
{
    (void)kind;
    wanted *want = user;
    if (strcasecmp(name, want->name) == 0) {
        want->value = value ? value : "";
        want->count++;
    }
    return MHD_YES;
}

// How often, and the last value.
static wanted find_header(const void *head, const char *name)
{
    wanted want = {.name = name};
    // The library's list is only read; its type lacks the const.
    MHD_get_connection_values((struct MHD_Connection *)head, MHD_HEADER_KIND, match, &want);
    return want;
}

const char *hw_http_header(const hw_http_request *request, const char *name)
{
    wanted want = find_header(request->head, name);
    return want.count == 1 ? want.value : NULL;
}

void hw_http_reply_header(hw_http_reply *reply, const char *name, const char *value)
{
    HW_ASSERT(reply->header_count < HW_HTTP_HEADERS_MAX);
    reply->headers[reply->header_count].name = name;
    reply->headers[reply->header_count++].value = value;
}

// The path is kept as it came: the library would cut it at the query and at a decoded zero.
void *http_begin(void *user, const char *uri, struct MHD_Connection *connection)
{
    http_exchange *exchange = calloc(1, sizeof *exchange);
    if (!exchange) return NULL;
    exchange->server = user;
    exchange->connection = connection;
    exchange->uri = strdup(uri);
    exchange->into = hw_arena_new(exchange->server->limits.work_bytes);
    exchange->began_ms = http_now_ms();
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    exchange->link = info ? info->socket_context : NULL;
    return exchange;
}

void http_end(void *user, struct MHD_Connection *connection, void **state,
              enum MHD_RequestTerminationCode how)
{
    (void)connection, (void)how;
    hw_http *server = user;
    http_exchange *exchange = *state;
    if (!exchange) return;
    pthread_mutex_lock(&server->lock);
    server->bodies_bytes -= exchange->body_capacity;
    pthread_mutex_unlock(&server->lock);
    http_guard_wait(&server->guard, exchange->link,
                    http_now_ms() + 1000 * (int64_t)server->limits.head_s);
    hw_arena_free(exchange->into);
    free(exchange->body);
    free(exchange->uri);
    free(exchange);
    *state = NULL;
}

static int64_t patience(const http_exchange *exchange, int64_t from_ms, size_t bytes)
{
    int64_t least = 1000 * (int64_t)exchange->server->limits.patience_s;
    return from_ms + least + (int64_t)(bytes / SLOWEST_BYTES_PER_MS);
}

static void refuse(http_exchange *exchange, int code)
{
    exchange->reply = (hw_http_reply){.code = code};
}

// The length a head promises: -1 where it does not say, -2 where it says so in a way that two
// readers could take for two lengths (request smuggling, RFC 9112 section 6.3).
static int64_t promised_length(const void *head)
{
    wanted length = find_header(head, "Content-Length");
    wanted coding = find_header(head, "Transfer-Encoding");
    if (coding.count > 0) return length.count == 0 && coding.count == 1 ? -1 : -2;
    if (length.count == 0) return 0;
    size_t digits = strspn(length.value, "0123456789");
    if (length.count > 1 || digits == 0 || digits > 18 || length.value[digits]) return -2;
    return strtoll(length.value, NULL, 10);
}

static void fill_request(http_exchange *exchange, const char *method)
{
    hw_http_request *request = &exchange->request;
    char *mark = strchr(exchange->uri, '?');
    if (mark) *mark = 0;
    request->method = method;
    request->path = exchange->uri;
    request->query = mark ? mark + 1 : "";
    request->address = exchange->link ? exchange->link->address : "unknown";
    request->is_tls = exchange->server->is_tls;
    request->head = exchange->connection;
    request->length = promised_length(exchange->connection);
}

// Malformed and too frequent requests do not reach the door.
static void plan(http_exchange *exchange, const char *method)
{
    hw_http *server = exchange->server;
    fill_request(exchange, method);
    exchange->is_planned = true;
    if (exchange->request.length < -1) {
        refuse(exchange, 400);
    } else if (!http_guard_allows(&server->guard, exchange->request.address)) {
        refuse(exchange, 429);
        hw_http_reply_header(&exchange->reply, "Retry-After", "1");
    } else {
        server->door->plan(server->door->user, &exchange->request, exchange->into, &exchange->plan,
                           &exchange->reply);
        if (!exchange->reply.code && exchange->request.length > (int64_t)exchange->plan.body_limit)
            refuse(exchange, 413);
    }
}

// The body stays the exchange's, which lives until the reply has left.
static struct MHD_Response *make_response(http_exchange *exchange)
{
    hw_http_reply *reply = &exchange->reply;
    if (reply->stream) {
        struct MHD_Response *response = http_stream_open(exchange);
        if (response) return response;
        refuse(exchange, 503);
    }
    return MHD_create_response_from_buffer(reply->body.count, (void *)reply->body.at,
                                           MHD_RESPMEM_PERSISTENT);
}

// Called once an exchange; what the door left undone is a 500.
static enum MHD_Result send_reply(http_exchange *exchange)
{
    hw_http_reply *reply = &exchange->reply;
    hw_http *server = exchange->server;
    if (reply->code < 200 || reply->code > 599) refuse(exchange, 500);
    if (reply->code >= 400 && reply->body.count == 0 && server->door->dress)
        server->door->dress(server->door->user, reply);
    struct MHD_Response *response = make_response(exchange);
    if (!response) return MHD_NO;
    if (reply->type) MHD_add_response_header(response, "Content-Type", reply->type);
    for (int i = 0; i < reply->header_count; i++)
        MHD_add_response_header(response, reply->headers[i].name, reply->headers[i].value);
    http_guard_wait(&server->guard, exchange->link,
                    reply->stream ? 0 : patience(exchange, http_now_ms(), reply->body.count));
    enum MHD_Result done =
        MHD_queue_response(exchange->connection, (unsigned)reply->code, response);
    MHD_destroy_response(response);
    return done;
}

// Room for `more` bytes of body: doubled as they come, so that a promised length costs nothing.
static bool make_room(http_exchange *exchange, size_t more)
{
    hw_http *server = exchange->server;
    size_t need = exchange->body_count + more + 1, room = exchange->body_capacity;
    if (need <= room) return true;
    while (room < need) room = room ? 2 * room : 4096;
    pthread_mutex_lock(&server->lock);
    size_t others = server->bodies_bytes - exchange->body_capacity;
    bool fits = room <= server->limits.bodies_bytes && others <= server->limits.bodies_bytes - room;
    if (fits) server->bodies_bytes = others + room;
    pthread_mutex_unlock(&server->lock);
    if (!fits) return false;
    unsigned char *wider = realloc(exchange->body, room);
    if (!wider) {
        pthread_mutex_lock(&server->lock);
        server->bodies_bytes -= room - exchange->body_capacity;
        pthread_mutex_unlock(&server->lock);
        return false;
    }
    exchange->body = wider;
    exchange->body_capacity = room;
    return true;
}

// The next piece of a body. False: the connection is given up.
static bool take_piece(http_exchange *exchange, const char *piece, size_t count)
{
    if (!exchange->reply.code && count > exchange->plan.body_limit - exchange->body_count)
        refuse(exchange, 413);
    if (!exchange->reply.code && !make_room(exchange, count)) refuse(exchange, 503);
    if (exchange->reply.code) {
        exchange->dropped += count;
        return exchange->dropped <= SWALLOWED_BYTES;
    }
    memcpy(exchange->body + exchange->body_count, piece, count);
    exchange->body_count += count;
    exchange->body[exchange->body_count] = 0;
    http_guard_wait(&exchange->server->guard, exchange->link,
                    patience(exchange, exchange->began_ms, exchange->body_count));
    return true;
}

// The first call of a request: a refusal goes out at once where waiting for the body costs more
// than the client's understanding is worth.
static enum MHD_Result begin(http_exchange *exchange, const char *method)
{
    plan(exchange, method);
    bool is_long = exchange->request.length > SWALLOWED_BYTES || exchange->request.length < 0;
    http_guard_wait(&exchange->server->guard, exchange->link, patience(exchange, http_now_ms(), 0));
    if (exchange->reply.code && is_long) {
        hw_http_reply_header(&exchange->reply, "Connection", "close");
        return send_reply(exchange);
    }
    return MHD_YES;
}

enum MHD_Result http_handle(void *user, struct MHD_Connection *connection, const char *url,
                            const char *method, const char *version, const char *piece,
                            size_t *piece_bytes, void **state)
{
    (void)user, (void)connection, (void)url, (void)version;
    http_exchange *exchange = *state;
    if (!exchange || !exchange->uri || !exchange->into) return MHD_NO;
    if (!exchange->is_planned) return begin(exchange, method);
    if (*piece_bytes > 0) {
        bool goes_on = take_piece(exchange, piece, *piece_bytes);
        *piece_bytes = 0;
        return goes_on ? MHD_YES : MHD_NO;
    }
    if (exchange->reply.code || exchange->is_answered) return send_reply(exchange);
    exchange->request.body = (hw_bytes){exchange->body, exchange->body_count};
    http_guard_wait(&exchange->server->guard, exchange->link, 0);
    if (http_lane_take(exchange)) return MHD_YES;
    refuse(exchange, 503);
    return send_reply(exchange);
}
