// SPDX-License-Identifier: GPL-3.0-or-later
// A client of bare sockets, so that the requests may be as wrong as they like, and a door that
// echoes.
#ifndef HW_TESTS_HTTPD_WIRE_H
#define HW_TESTS_HTTPD_WIRE_H

#include "near.h"

#include "httpd/httpd.h"
#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { WIRE_BYTES = 1 << 17 };

static inline int64_t wire_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static inline void wire_rest(int ms)
{
    nanosleep(&(struct timespec){ms / 1000, ms % 1000 * 1000000L}, NULL);
}

static inline int wire_open(const hw_http *server)
{
    struct sockaddr_in at = {.sin_family = AF_INET,
                             .sin_port = htons((uint16_t)hw_http_port(server))};
    at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    int wire = socket(AF_INET, SOCK_STREAM, 0);
    assert_true(wire >= 0);
    assert_int_equal(connect(wire, (struct sockaddr *)&at, sizeof at), 0);
    return wire;
}

static inline void wire_send(int wire, const char *text)
{
    size_t left = strlen(text);
    while (left > 0) {
        ssize_t put = send(wire, text, left, MSG_NOSIGNAL);
        if (put <= 0) return; // the server shut it: the test looks at the answer
        text += put;
        left -= (size_t)put;
    }
}

/// Reads until the peer closes, `until` has come, or `ms` are over. The text ends in a zero.
static inline size_t wire_read(int wire, char *to, const char *until, int ms)
{
    size_t have = 0;
    int64_t end = wire_ms() + ms;
    to[0] = 0;
    while (have < WIRE_BYTES - 1 && !(until && strstr(to, until))) {
        int64_t left = end - wire_ms();
        struct pollfd one = {wire, POLLIN, 0};
        if (left <= 0 || poll(&one, 1, (int)left) <= 0) break;
        ssize_t got = recv(wire, to + have, WIRE_BYTES - 1 - have, 0);
        if (got <= 0) break;
        have += (size_t)got;
        to[have] = 0;
    }
    return have;
}

/// The status of one request sent as it stands; 0: no answer.
static inline int wire_ask(const hw_http *server, const char *request, char *answer)
{
    int wire = wire_open(server);
    wire_send(wire, request);
    wire_read(wire, answer, "\r\n\r\n", 3000);
    // what follows the head is small in these tests and comes with it, or a moment later
    size_t have = strlen(answer);
    wire_read(wire, answer + have, NULL, 30);
    close(wire);
    return strncmp(answer, "HTTP/1.1 ", 9) == 0 ? atoi(answer + 9) : 0;
}

extern hw_http_door wire_door; // echoes; see test_server.c

#endif
