// SPDX-License-Identifier: GPL-3.0-or-later
// The parts of the server: exchanges and their lanes, streams, and the guard over connections.
//
// Locks: `server->lock` guards lanes, streams, counts; `guard.lock` guards connections and rates.
// Neither is held while the other is taken.
#ifndef HW_HTTPD_INTERNAL_H
#define HW_HTTPD_INTERNAL_H

#include "httpd/httpd.h"
#include <microhttpd.h>
#include <pthread.h>

enum { THREADS_MAX = 16, RATES = 512, ADDRESS_TEXT = 64 };

/// One connection, as far as its patience goes.
typedef struct http_link {
    struct http_link *next, *previous;
    int descriptor;
    int64_t deadline_ms; // 0: none now
    char address[ADDRESS_TEXT];
} http_link;

/// Requests of one address that may still come.
typedef struct http_rate {
    char address[ADDRESS_TEXT];
    double left;
    int64_t at_ms;
} http_rate;

typedef struct http_guard {
    pthread_mutex_t lock;
    pthread_t thread;
    bool is_stopping, is_running;
    http_link *links;
    http_rate rates[RATES];
    const hw_http_limits *limits;
} http_guard;

/// One request on its way through.
typedef struct http_exchange {
    struct http_exchange *next; // in a lane's queue
    hw_http *server;
    struct MHD_Connection *connection;
    http_link *link;
    hw_http_request request;
    hw_http_plan plan;
    hw_http_reply reply;
    hw_arena *into;
    char *uri;
    unsigned char *body;
    size_t body_count, body_capacity;
    size_t dropped; // bytes of a refused request's body
    int64_t began_ms;
    bool is_planned, is_answered;
} http_exchange;

/// A queue and its threads.
typedef struct http_lane {
    http_exchange *first, **last;
    pthread_cond_t more;
    pthread_t threads[THREADS_MAX];
    int thread_count;
} http_lane;

typedef struct http_stream http_stream;

struct hw_http {
    struct MHD_Daemon *daemon;
    const hw_http_door *door;
    hw_http_limits limits;
    bool is_tls;
    int port;
    pthread_mutex_t lock;
    bool is_stopping;
    http_lane lanes[HW_HTTP_LANES];
    size_t bodies_bytes; // held now
    http_stream *streams;
    int stream_count;
    http_guard guard;
};

int64_t http_now_ms(void); // monotonic

/// Starts the lanes' threads; on failure those already running are stopped by http_lanes_stop.
HW_MUST_USE hw_status http_lanes_start(hw_job *job, hw_http *server);
void http_lanes_stop(hw_http *server); // after is_stopping was set: ends when the queues are empty

/// Suspends the connection and puts the exchange into its lane. False when the server is stopping.
bool http_lane_take(http_exchange *exchange);

/// Opens a stream as the reply of this exchange; NULL at the limit.
struct MHD_Response *http_stream_open(http_exchange *exchange);
void http_streams_end(hw_http *server);

HW_MUST_USE hw_status http_guard_start(hw_job *job, http_guard *guard,
                                       const hw_http_limits *limits);
void http_guard_stop(http_guard *guard);
http_link *http_guard_enter(http_guard *guard, int descriptor, const char *address);
void http_guard_leave(http_guard *guard, http_link *link);
void http_guard_wait(http_guard *guard, http_link *link, int64_t deadline_ms);
bool http_guard_allows(http_guard *guard, const char *address); // counts one request

#endif
