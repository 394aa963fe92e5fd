// SPDX-License-Identifier: GPL-3.0-or-later
// The server over real sockets. RFC 9112 says which requests are malformed; the rest are the limits
// of httpd.h.
#include "wire.h"

#include "suites.h"

enum { BODY_LIMIT = 1000 };

static void plan(void *user, const hw_http_request *request, hw_arena *into, hw_http_plan *out,
                 hw_http_reply *reply)
{
    (void)user, (void)into;
    out->body_limit = BODY_LIMIT;
    if (strcmp(request->path, "/slow") == 0) out->lane = HW_HTTP_SLOW;
    if (strcmp(request->path, "/no") == 0) reply->code = 403;
}

static void answer(void *user, const hw_http_request *request, const hw_http_plan *planned,
                   hw_job *job, hw_arena *into, hw_http_reply *reply)
{
    (void)user, (void)planned;
    const char *text = NULL;
    const char *given = hw_http_header(request, "X-Given");
    if (strcmp(request->path, "/slow") == 0) wire_rest(400);
    if (strcmp(request->path, "/stream") == 0) {
        reply->code = 200;
        reply->type = "text/event-stream";
        reply->stream = request->query;
        reply->body = (hw_bytes){(const unsigned char *)"hello\n\n", 7};
        return;
    }
    if (hw_text_format(job, into, &text, "%s %s ? %s given=%s length=%lld body=%s", request->method,
                       request->path, request->query, given ? given : "none",
                       (long long)request->length,
                       request->body.count ? (const char *)request->body.at : "") != HW_OK)
        return; // code 0 becomes 500
    reply->code = 200;
    reply->type = "text/plain";
    hw_http_reply_header(reply, "X-Extra", "yes");
    reply->body = (hw_bytes){(const unsigned char *)text, strlen(text)};
}

hw_http_door wire_door = {.plan = plan, .answer = answer};

static hw_http *start(hw_test_room *room, const hw_http_limits *limits)
{
    hw_http *server = NULL;
    hw_http_place place = {.address = "127.0.0.1", .door = &wire_door};
    if (limits) place.limits = *limits;
    CHECK_OK(&room->job, hw_http_start(&room->job, &place, &server));
    assert_true(hw_http_port(server) > 0);
    return server;
}

static void test_http__a_request_and_its_body_come_to_the_door(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, NULL);
    char text[WIRE_BYTES];
    assert_int_equal(
        wire_ask(server, "GET /a%20b?x=1&y=%2f HTTP/1.1\r\nHost: h\r\nX-GIVEN: z\r\n\r\n", text),
        200);
    assert_non_null(strstr(text, "GET /a%20b ? x=1&y=%2f given=z length=0 body="));
    assert_non_null(strstr(text, "X-Extra: yes\r\n"));
    assert_int_equal(
        wire_ask(server, "POST /p HTTP/1.1\r\nHost: h\r\nContent-Length: 5\r\n\r\nhello", text),
        200);
    assert_non_null(strstr(text, "POST /p ?  given=none length=5 body=hello"));
    assert_int_equal(wire_ask(server,
                              "POST /p HTTP/1.1\r\nHost: h\r\nTransfer-Encoding: chunked\r\n\r\n"
                              "3\r\nhel\r\n2\r\nlo\r\n0\r\n\r\n",
                              text),
                     200);
    assert_non_null(strstr(text, "length=-1 body=hello"));
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_http__a_header_given_twice_counts_as_absent(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, NULL);
    char text[WIRE_BYTES];
    wire_ask(server, "GET / HTTP/1.1\r\nHost: h\r\nX-Given: a\r\nx-given: b\r\n\r\n", text);
    assert_non_null(strstr(text, "given=none"));
    hw_http_stop(server);
    hw_test_close(&room);
}

// RFC 9112 section 6.3: two lengths, or a length beside a coding, may be two requests to a proxy.
static void test_http__two_readings_of_a_length_are_refused(void **state)
{
    (void)state;
    static const char *const heads[] = {
        "Content-Length: 5\r\nContent-Length: 6", "Content-Length: 5\r\nTransfer-Encoding: chunked",
        "Content-Length: -5", "Content-Length: 5x", "Content-Length: 99999999999999999999"};
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, NULL);
    char text[WIRE_BYTES], request[300];
    for (size_t i = 0; i < sizeof heads / sizeof *heads; i++) {
        snprintf(request, sizeof request, "POST /p HTTP/1.1\r\nHost: h\r\n%s\r\n\r\nhello",
                 heads[i]);
        int code = wire_ask(server, request, text);
        if (code != 400 && code != 413 && code != 0) fail_msg("%s: %d", heads[i], code);
    }
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_http__a_body_beyond_its_limit_is_refused_told_or_not(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, NULL);
    char text[WIRE_BYTES], request[3000];
    // told small, and so swallowed before the answer
    int lead =
        snprintf(request, sizeof request,
                 "POST /p HTTP/1.1\r\nHost: h\r\nContent-Length: %d\r\n\r\n", BODY_LIMIT + 1);
    memset(request + lead, 'x', BODY_LIMIT + 1);
    request[lead + BODY_LIMIT + 1] = 0;
    assert_int_equal(wire_ask(server, request, text), 413);
    // told large: refused before a byte of it
    assert_int_equal(
        wire_ask(server, "POST /p HTTP/1.1\r\nHost: h\r\nContent-Length: 5000000000\r\n\r\n", text),
        413);
    assert_non_null(strstr(text, "Connection: close"));
    // not told
    lead = snprintf(request, sizeof request,
                    "POST /p HTTP/1.1\r\nHost: h\r\nTransfer-Encoding: chunked\r\n\r\n%x\r\n",
                    BODY_LIMIT + 1);
    memset(request + lead, 'x', BODY_LIMIT + 1);
    strcpy(request + lead + BODY_LIMIT + 1, "\r\n0\r\n\r\n");
    assert_int_equal(wire_ask(server, request, text), 413);
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_http__a_refusal_needs_no_body_and_no_lane(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, NULL);
    char text[WIRE_BYTES];
    assert_int_equal(wire_ask(server, "GET /no HTTP/1.1\r\nHost: h\r\n\r\n", text), 403);
    assert_int_equal(
        wire_ask(server, "POST /no HTTP/1.1\r\nHost: h\r\nContent-Length: 3\r\n\r\nabc", text),
        403);
    assert_int_equal(
        wire_ask(server, "POST /no HTTP/1.1\r\nHost: h\r\nContent-Length: 900000\r\n\r\n", text),
        403);
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_http__a_cut_body_never_reaches_the_door(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, NULL);
    char text[WIRE_BYTES];
    int wire = wire_open(server);
    wire_send(wire, "POST /p HTTP/1.1\r\nHost: h\r\nContent-Length: 500\r\n\r\nonly this");
    shutdown(wire, SHUT_WR);
    wire_read(wire, text, NULL, 1000);
    assert_null(strstr(text, "body="));
    close(wire);
    assert_int_equal(wire_ask(server, "GET / HTTP/1.1\r\nHost: h\r\n\r\n", text), 200);
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_http__slow_work_does_not_hold_up_quick_answers(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, NULL);
    char text[WIRE_BYTES];
    int slow[6];
    for (int i = 0; i < 6; i++) {
        slow[i] = wire_open(server);
        wire_send(slow[i], "GET /slow HTTP/1.1\r\nHost: h\r\n\r\n");
    }
    int64_t began = wire_ms();
    assert_int_equal(wire_ask(server, "GET / HTTP/1.1\r\nHost: h\r\n\r\n", text), 200);
    // six times 400 ms in two threads are 1.2 s
    assert_true(wire_ms() - began < 350);
    for (int i = 0; i < 6; i++) {
        assert_true(wire_read(slow[i], text, "/slow", 5000) > 0);
        assert_non_null(strstr(text, "200 OK"));
        close(slow[i]);
    }
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_http__clients_that_drip_are_shut_and_hold_up_nobody(void **state)
{
    (void)state;
    enum { DRIPS = 30 };
    hw_test_room room = hw_test_open();
    hw_http_limits limits = hw_http_limits_default();
    limits.head_s = limits.patience_s = 1;
    hw_http *server = start(&room, &limits);
    char text[WIRE_BYTES];
    int drips[DRIPS];
    for (int i = 0; i < DRIPS; i++) {
        drips[i] = wire_open(server);
        wire_send(drips[i], i % 2 ? "GET / HTTP/1.1\r\nHost: h\r\nX-Lo"
                                  : "POST /p HTTP/1.1\r\nHost: h\r\nContent-Length: 900\r\n\r\nx");
    }
    for (int round = 0; round < 4; round++) { // a byte each 400 ms: never idle for a second
        for (int i = 0; i < DRIPS; i++) wire_send(drips[i], "n");
        int64_t began = wire_ms();
        assert_int_equal(wire_ask(server, "GET / HTTP/1.1\r\nHost: h\r\n\r\n", text), 200);
        assert_true(wire_ms() - began < 300);
        wire_rest(400);
    }
    for (int i = 0; i < DRIPS; i++) {
        struct pollfd one = {drips[i], POLLIN, 0};
        assert_int_equal(poll(&one, 1, 1000), 1); // shut: readable at once
        close(drips[i]);
    }
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_http__more_requests_than_the_rate_are_told_to_wait(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http_limits limits = hw_http_limits_default();
    limits.rate = 1;
    limits.burst = 5;
    hw_http *server = start(&room, &limits);
    char text[WIRE_BYTES];
    int codes[2] = {0, 0};
    for (int i = 0; i < 8; i++) {
        int code = wire_ask(server, "GET / HTTP/1.1\r\nHost: h\r\n\r\n", text);
        codes[code == 429] += code == 200 || code == 429;
    }
    assert_true(codes[0] >= 5 && codes[0] <= 6); // one may come back meanwhile
    assert_int_equal(codes[0] + codes[1], 8);
    assert_non_null(strstr(text, "Retry-After"));
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_http__bodies_together_have_a_limit(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http_limits limits = hw_http_limits_default();
    limits.bodies_bytes = 6000; // one body of 4096 fits, a second does not
    hw_http *server = start(&room, &limits);
    char text[WIRE_BYTES];
    int holder = wire_open(server);
    wire_send(holder, "POST /p HTTP/1.1\r\nHost: h\r\nContent-Length: 900\r\n\r\nx");
    wire_rest(100);
    const char *second = "POST /p HTTP/1.1\r\nHost: h\r\nContent-Length: 5\r\n\r\nhello";
    assert_int_equal(wire_ask(server, second, text), 503);
    close(holder);
    wire_rest(200);
    assert_int_equal(wire_ask(server, second, text), 200);
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_http__noise_is_refused_and_the_server_lives(void **state)
{
    (void)state;
    static const char *const noise[] = {
        "\r\n\r\n",
        "GET\r\n\r\n",
        "GET / HTTP/9.9\r\n\r\n",
        "\x16\x03\x01\x02 hello TLS",
        "GET / HTTP/1.1\r\nHost : h\r\n\r\n",
        "GET / HTTP/1.1\r\n: x\r\n\r\n",
        "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"};
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, NULL);
    char text[WIRE_BYTES];
    for (size_t i = 0; i < sizeof noise / sizeof *noise; i++) {
        int wire = wire_open(server);
        wire_send(wire, noise[i]);
        shutdown(wire, SHUT_WR);
        wire_read(wire, text, NULL, 500);
        close(wire);
    }
    char *huge = malloc(200000); // a head larger than any head may be
    strcpy(huge, "GET / HTTP/1.1\r\nHost: h\r\nX-Long: ");
    size_t lead = strlen(huge);
    memset(huge + lead, 'a', 199000 - lead);
    strcpy(huge + 199000, "\r\n\r\n");
    int code = wire_ask(server, huge, text);
    free(huge);
    if (code != 0 && code != 431 && code != 413 && code != 414) fail_msg("%d", code);
    assert_int_equal(wire_ask(server, "GET / HTTP/1.1\r\nHost: h\r\n\r\n", text), 200);
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_http__a_port_in_use_is_said(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, NULL), *second = NULL;
    hw_http_place place = {
        .address = "127.0.0.1", .port = hw_http_port(server), .door = &wire_door};
    CHECK_FAILS(&room.job, hw_http_start(&room.job, &place, &second), HW_IO_FAILED,
                "cannot serve at 127.0.0.1");
    assert_null(second);
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_http__stopping_lets_answers_out(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, NULL);
    char text[WIRE_BYTES];
    int wire = wire_open(server);
    wire_send(wire, "GET /slow HTTP/1.1\r\nHost: h\r\n\r\n");
    wire_rest(100);
    int64_t began = wire_ms();
    hw_http_stop(server);
    assert_true(wire_ms() - began < 3000);
    wire_read(wire, text, NULL, 500);
    close(wire);
    hw_test_close(&room);
}

int run_server_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_http__a_request_and_its_body_come_to_the_door),
        cmocka_unit_test(test_http__a_header_given_twice_counts_as_absent),
        cmocka_unit_test(test_http__two_readings_of_a_length_are_refused),
        cmocka_unit_test(test_http__a_body_beyond_its_limit_is_refused_told_or_not),
        cmocka_unit_test(test_http__a_refusal_needs_no_body_and_no_lane),
        cmocka_unit_test(test_http__a_cut_body_never_reaches_the_door),
        cmocka_unit_test(test_http__slow_work_does_not_hold_up_quick_answers),
        cmocka_unit_test(test_http__clients_that_drip_are_shut_and_hold_up_nobody),
        cmocka_unit_test(test_http__more_requests_than_the_rate_are_told_to_wait),
        cmocka_unit_test(test_http__bodies_together_have_a_limit),
        cmocka_unit_test(test_http__noise_is_refused_and_the_server_lives),
        cmocka_unit_test(test_http__a_port_in_use_is_said),
        cmocka_unit_test(test_http__stopping_lets_answers_out),
    };
    return cmocka_run_group_tests_name("server", tests, NULL, NULL);
}
