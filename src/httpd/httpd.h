// SPDX-License-Identifier: GPL-3.0-or-later
//
// httpd: HTTP/1.1 requests in, replies and event streams out, all of it bounded. It owns
// libmicrohttpd.
//
//     hw_http_door door = {.plan = plan, .answer = answer, .user = &mine};
//     hw_http *server = NULL;
//     HW_TRY(hw_http_start(job, &(hw_http_place){.address = "127.0.0.1", .door = &door}, &server));
//     printf("http://127.0.0.1:%d/\n", hw_http_port(server));
//     ...
//     hw_http_stop(server);
//
// Two calls a request. `plan` sees the head alone and says how large a body may come and which lane
// does the work, or refuses at once; `answer` has the whole body and is called in the lane's own
// threads, so that slow work never holds up quick answers or the network. Counts, sizes, times and
// rates have limits. It knows nothing of feet, records or roles.
#ifndef HW_HTTPD_H
#define HW_HTTPD_H

#include "base/base.h"
#include "http_parse.h" // IWYU pragma: export
#include <stdint.h>

typedef struct hw_http hw_http;

/// What was asked. Texts live as long as the request.
typedef struct hw_http_request {
    const char *method;
    const char *path;    // as it came, before the '?', not decoded: see hw_http_path_read
    const char *query;   // as it came, behind the '?'; "" without
    const char *address; // of the peer: "127.0.0.1"
    bool is_tls;
    int64_t length; // what Content-Length says; 0 without a body; -1 where it is not told
    hw_bytes body;  // empty in `plan`
    const void *head;
} hw_http_request;

/// A header's value, name in any case; NULL when it is absent or given twice.
const char *hw_http_header(const hw_http_request *request, const char *name);

enum { HW_HTTP_HEADERS_MAX = 16 };

typedef struct hw_http_reply {
    int code;         // 200, 404, ...
    const char *type; // Content-Type; NULL: none
    hw_bytes body;    // in the request's `into`, or static
    struct {
        const char *name, *value;
    } headers[HW_HTTP_HEADERS_MAX];
    int header_count;
    const char
        *stream; // not NULL: an event stream of this tag stays open, `body` is its first piece
} hw_http_reply;

/// Adds a header; name and value stay the caller's as long as the request.
void hw_http_reply_header(hw_http_reply *reply, const char *name, const char *value);

typedef enum hw_http_lane {
    HW_HTTP_QUICK = 0, // milliseconds
    HW_HTTP_SLOW,      // whatever computes, hashes passwords, reads files from outside
    HW_HTTP_LANES,
} hw_http_lane;

typedef struct hw_http_plan {
    size_t body_limit; // bytes; more is refused with 413
    hw_http_lane lane;
    void *note; // handed to `answer`
} hw_http_plan;

/// Who answers. Both are called from several threads.
typedef struct hw_http_door {
    /// Must not block. Sets reply->code to refuse; `into` lives as long as the request.
    void (*plan)(void *user, const hw_http_request *request, hw_arena *into, hw_http_plan *plan,
                 hw_http_reply *reply);
    /// `job` is the thread's own, rewound after each request.
    void (*answer)(void *user, const hw_http_request *request, const hw_http_plan *plan,
                   hw_job *job, hw_arena *into, hw_http_reply *reply);
    /// Dresses a refusal of the server's own (400, 413, 429, 500, 503): headers, a body; or NULL.
    void (*dress)(void *user, hw_http_reply *reply);
    void *user;
} hw_http_door;

typedef struct hw_http_limits {
    int connections;      // at once
    int connections_each; // of one address
    int rate;             // requests a second and address, for long
    int burst;            // and at once
    int head_s;           // until a request's head is complete; also idle between two requests
    int patience_s;       // for a body or reply, on top of a second for each 16 kB
    size_t bodies_bytes;  // of all requests together
    size_t work_bytes;    // scratch and result memory of one request
    int streams;          // open at once
    int threads[HW_HTTP_LANES];
} hw_http_limits;

/// Made for a clinic: up to some fifty pages open.
hw_http_limits hw_http_limits_default(void);

typedef struct hw_http_place {
    const char *address;           // "127.0.0.1" (only this machine), "0.0.0.0"
    int port;                      // 0: any that is free
    const char *certificate, *key; // PEM texts: TLS 1.2 and 1.3; NULL: none
    const hw_http_door *door;      // outlives the server
    hw_http_limits limits;         // zero-initialised: the default
} hw_http_place;

/// Serves from now on, in threads of its own.
///
///   fails   HW_IO_FAILED the port is taken, certificate and key do not fit;  HW_NO_MEMORY
HW_MUST_USE hw_status hw_http_start(hw_job *job, const hw_http_place *place, hw_http **out);

/// Ends the streams, lets requests that are being answered end, closes. May be called with NULL.
void hw_http_stop(hw_http *server);

/// The port it listens at: the one the system chose where 0 was asked for.
int hw_http_port(const hw_http *server);

/// Sends a piece of text to the open streams that want it; a stream that does not read is closed.
///
///   wants   asked with each stream's tag; must be quick and not call the server; NULL: all
void hw_http_send(hw_http *server, bool (*wants)(void *user, const char *tag), void *user,
                  hw_bytes text);

/// Closes the streams of that tag.
void hw_http_close_streams(hw_http *server, const char *tag);

#endif
