// SPDX-License-Identifier: GPL-3.0-or-later
#define _DEFAULT_SOURCE // in_addr's inet_pton and friends beside the strict C of the build
#include "exchange.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <stdlib.h>
#include <string.h>

enum { HEAD_BYTES = 32 << 10, NETWORK_THREADS = 2, TRICKLE_S = 120 };

hw_http_limits hw_http_limits_default(void)
{
    return (hw_http_limits){
        .connections = 600,
        .connections_each = 400, // one browser has seven; a whole clinic may sit behind one proxy
        .rate = 300,
        .burst = 1500,
        .head_s = 30,
        .patience_s = 20,
        .bodies_bytes = (size_t)1 << 30,
        .work_bytes = (size_t)2 << 30,
        .streams = 200,
        .threads = {4, 2},
    };
}

static void address_text(const struct sockaddr *from, char text[static ADDRESS_TEXT])
{
    strcpy(text, "unknown");
    if (from && from->sa_family == AF_INET)
        inet_ntop(AF_INET, &((const struct sockaddr_in *)(const void *)from)->sin_addr, text,
                  ADDRESS_TEXT);
    if (from && from->sa_family == AF_INET6)
        inet_ntop(AF_INET6, &((const struct sockaddr_in6 *)(const void *)from)->sin6_addr, text,
                  ADDRESS_TEXT);
}

// The link is made with the connection and leaves before its descriptor is closed.
static void note_connection(void *user, struct MHD_Connection *connection, void **context,
                            enum MHD_ConnectionNotificationCode what)
{
    hw_http *server = user;
    if (what == MHD_CONNECTION_NOTIFY_CLOSED) {
        http_guard_leave(&server->guard, *context);
        *context = NULL;
        return;
    }
    char address[ADDRESS_TEXT];
    const union MHD_ConnectionInfo *peer =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    address_text(peer ? peer->client_addr : NULL, address);
    const union MHD_ConnectionInfo *descriptor =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    if (descriptor) *context = http_guard_enter(&server->guard, descriptor->connect_fd, address);
}

// The path stays as it came: decoding is http_parse's, once.
static size_t leave_escaped(void *user, struct MHD_Connection *connection, char *text)
{
    (void)user, (void)connection;
    return strlen(text);
}

// Two threads move bytes and never compute; heads up to 32 kB.
static hw_status start_daemon(hw_job *job, const hw_http_place *place, hw_http *server)
{
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_port = htons((uint16_t)place->port)};
    if (place->port < 0 || place->port > 65535 ||
        inet_pton(AF_INET, place->address, &at.sin_addr) != 1)
        return hw_fail(job, HW_BAD_INPUT, "%s:%d is no address to serve at", place->address,
                       place->port);
    const struct MHD_OptionItem tls[] = {
        {MHD_OPTION_HTTPS_MEM_CERT, 0, (void *)place->certificate},
        {MHD_OPTION_HTTPS_MEM_KEY, 0, (void *)place->key},
        {MHD_OPTION_HTTPS_PRIORITIES, 0, "SECURE128:-VERS-ALL:+VERS-TLS1.3:+VERS-TLS1.2"},
        {MHD_OPTION_END, 0, NULL}};
    const struct MHD_OptionItem plain[] = {{MHD_OPTION_END, 0, NULL}};
    unsigned flags = MHD_USE_EPOLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_ITC;
    if (server->is_tls) flags |= MHD_USE_TLS;
    server->daemon = MHD_start_daemon(
        flags, 0, NULL, NULL, http_handle, server, MHD_OPTION_SOCK_ADDR, &at,
        MHD_OPTION_THREAD_POOL_SIZE, (unsigned)NETWORK_THREADS, MHD_OPTION_CONNECTION_LIMIT,
        (unsigned)server->limits.connections, MHD_OPTION_PER_IP_CONNECTION_LIMIT,
        (unsigned)server->limits.connections_each, MHD_OPTION_CONNECTION_TIMEOUT,
        (unsigned)TRICKLE_S, MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)HEAD_BYTES,
        MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_URI_LOG_CALLBACK, http_begin, server,
        MHD_OPTION_NOTIFY_COMPLETED, http_end, server, MHD_OPTION_NOTIFY_CONNECTION,
        note_connection, server, MHD_OPTION_UNESCAPE_CALLBACK, leave_escaped, NULL,
        MHD_OPTION_ARRAY, server->is_tls ? tls : plain, MHD_OPTION_END);
    if (server->daemon) return HW_OK;
    return hw_fail(job, HW_IO_FAILED, "cannot serve at %s:%d: %s%s", place->address, place->port,
                   errno ? strerror(errno) : "refused",
                   server->is_tls ? " (or certificate and key do not fit)" : "");
}

hw_status hw_http_start(hw_job *job, const hw_http_place *place, hw_http **out)
{
    hw_http *server = calloc(1, sizeof *server);
    if (!server) return hw_fail(job, HW_NO_MEMORY, "no memory for a server");
    server->door = place->door;
    server->limits = place->limits.connections ? place->limits : hw_http_limits_default();
    server->is_tls = place->certificate != NULL;
    pthread_mutex_init(&server->lock, NULL);
    hw_status status = http_guard_start(job, &server->guard, &server->limits);
    if (status == HW_OK) status = http_lanes_start(job, server);
    errno = 0;
    if (status == HW_OK) status = start_daemon(job, place, server);
    if (status != HW_OK) {
        hw_http_stop(server);
        return status;
    }
    const union MHD_DaemonInfo *info =
        MHD_get_daemon_info(server->daemon, MHD_DAEMON_INFO_BIND_PORT);
    server->port = info ? info->port : place->port;
    *out = server;
    return HW_OK;
}

void hw_http_stop(hw_http *server)
{
    if (!server) return;
    pthread_mutex_lock(&server->lock);
    server->is_stopping = true;
    pthread_mutex_unlock(&server->lock);
    http_streams_end(server);
    http_lanes_stop(server); // every sleeping connection is awake after this
    if (server->daemon) MHD_stop_daemon(server->daemon);
    http_guard_stop(&server->guard);
    pthread_mutex_destroy(&server->lock);
    free(server);
}

int hw_http_port(const hw_http *server)
{
    return server->port;
}
