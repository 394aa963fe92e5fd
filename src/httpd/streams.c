// SPDX-License-Identifier: GPL-3.0-or-later
// Event streams: a connection that sleeps until there is something to say. Suspending twice, or
// resuming one that is awake, is undefined in libmicrohttpd: one flag under one lock keeps count.
#include "httpd_internal.h"

#include <stdlib.h>
#include <string.h>

enum { PENDING_BYTES = 1 << 16, PIECE_BYTES = 4096, TAG_BYTES = 80 };

struct http_stream {
    http_stream *next, *previous;
    hw_http *server;
    struct MHD_Connection *connection;
    char tag[TAG_BYTES];
    char pending[PENDING_BYTES];
    size_t count;
    bool is_suspended, is_ended;
};

// Called by libmicrohttpd whenever the connection can take more.
static ssize_t give(void *user, uint64_t position, char *to, size_t room)
{
    (void)position;
    http_stream *stream = user;
    ssize_t given = 0;
    pthread_mutex_lock(&stream->server->lock);
    if (stream->count > 0) {
        size_t n = stream->count < room ? stream->count : room;
        memcpy(to, stream->pending, n);
        memmove(stream->pending, stream->pending + n, stream->count - n);
        stream->count -= n;
        given = (ssize_t)n;
    } else if (stream->is_ended || stream->server->is_stopping) {
        given = MHD_CONTENT_READER_END_OF_STREAM;
    } else {
        stream->is_suspended = true;
        MHD_suspend_connection(stream->connection);
    }
    pthread_mutex_unlock(&stream->server->lock);
    return given;
}

// The library is done with it: the browser left, or the stream ended.
static void forget(void *user)
{
    http_stream *stream = user;
    hw_http *server = stream->server;
    pthread_mutex_lock(&server->lock);
    if (stream->next) stream->next->previous = stream->previous;
    if (stream->previous)
        stream->previous->next = stream->next;
    else
        server->streams = stream->next;
    server->stream_count--;
    pthread_mutex_unlock(&server->lock);
    free(stream);
}

static void wake(http_stream *stream)
{
    if (!stream->is_suspended) return;
    stream->is_suspended = false;
    MHD_resume_connection(stream->connection);
}

// Under the lock.
static void push(http_stream *stream, hw_bytes text)
{
    if (text.count > PENDING_BYTES - stream->count)
        stream->is_ended = true; // it does not read: it may come again and ask for all
    else
        memcpy(stream->pending + stream->count, text.at, text.count);
    stream->count += stream->is_ended ? 0 : text.count;
    wake(stream);
}

struct MHD_Response *http_stream_open(http_exchange *exchange)
{
    hw_http *server = exchange->server;
    http_stream *stream = calloc(1, sizeof *stream);
    if (!stream) return NULL;
    stream->server = server;
    stream->connection = exchange->connection;
    strncpy(stream->tag, exchange->reply.stream, TAG_BYTES - 1);
    pthread_mutex_lock(&server->lock);
    bool has_room = server->stream_count < server->limits.streams && !server->is_stopping;
    if (has_room) {
        push(stream, exchange->reply.body);
        stream->next = server->streams;
        if (stream->next) stream->next->previous = stream;
        server->streams = stream;
        server->stream_count++;
    }
    pthread_mutex_unlock(&server->lock);
    if (!has_room) {
        free(stream);
        return NULL;
    }
    struct MHD_Response *response =
        MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, PIECE_BYTES, give, stream, forget);
    if (!response) forget(stream);
    return response;
}

void http_streams_end(hw_http *server)
{
    pthread_mutex_lock(&server->lock);
    for (http_stream *stream = server->streams; stream; stream = stream->next) {
        stream->is_ended = true;
        wake(stream);
    }
    pthread_mutex_unlock(&server->lock);
}

void hw_http_send(hw_http *server, bool (*wants)(void *user, const char *tag), void *user,
                  hw_bytes text)
{
    pthread_mutex_lock(&server->lock);
    for (http_stream *stream = server->streams; stream; stream = stream->next)
        if (!stream->is_ended && (!wants || wants(user, stream->tag))) push(stream, text);
    pthread_mutex_unlock(&server->lock);
}

void hw_http_close_streams(hw_http *server, const char *tag)
{
    pthread_mutex_lock(&server->lock);
    for (http_stream *stream = server->streams; stream; stream = stream->next) {
        if (strcmp(stream->tag, tag) != 0) continue;
        stream->is_ended = true;
        wake(stream);
    }
    pthread_mutex_unlock(&server->lock);
}
