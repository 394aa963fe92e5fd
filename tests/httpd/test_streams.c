// SPDX-License-Identifier: GPL-3.0-or-later
// Event streams: who gets what, who is let go.
#include "wire.h"

#include "suites.h"

static hw_http *start(hw_test_room *room, int streams)
{
    hw_http *server = NULL;
    hw_http_place place = {
        .address = "127.0.0.1", .door = &wire_door, .limits = hw_http_limits_default()};
    place.limits.streams = streams;
    CHECK_OK(&room->job, hw_http_start(&room->job, &place, &server));
    return server;
}

static int open_stream(hw_http *server, const char *tag)
{
    char request[200], text[WIRE_BYTES];
    int wire = wire_open(server);
    snprintf(request, sizeof request, "GET /stream?%s HTTP/1.1\r\nHost: h\r\n\r\n", tag);
    wire_send(wire, request);
    wire_read(wire, text, "hello", 2000);
    assert_non_null(strstr(text, "text/event-stream"));
    assert_non_null(strstr(text, "hello"));
    return wire;
}

static bool is_tag(void *user, const char *tag)
{
    return strcmp(user, tag) == 0;
}

static hw_bytes piece(const char *text)
{
    return (hw_bytes){(const unsigned char *)text, strlen(text)};
}

static void test_stream__each_gets_what_it_wants_in_order(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, 10);
    char text[WIRE_BYTES];
    int a = open_stream(server, "a"), b = open_stream(server, "b");
    hw_http_send(server, NULL, NULL, piece("data: all\n\n"));
    hw_http_send(server, is_tag, "a", piece("data: for a\n\n"));
    hw_http_send(server, is_tag, "b", piece("data: for b\n\n"));
    hw_http_send(server, NULL, NULL, piece("data: end\n\n"));
    wire_read(a, text, "end", 2000);
    assert_non_null(strstr(text, "data: all"));
    assert_non_null(strstr(text, "data: for a"));
    assert_null(strstr(text, "for b"));
    assert_true(strstr(text, "all") < strstr(text, "for a"));
    wire_read(b, text, "end", 2000);
    assert_non_null(strstr(text, "data: for b"));
    assert_null(strstr(text, "for a"));
    close(a), close(b);
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_stream__a_closed_tag_ends_and_others_go_on(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, 10);
    char text[WIRE_BYTES];
    int a = open_stream(server, "a"), b = open_stream(server, "b");
    hw_http_close_streams(server, "a");
    wire_read(a, text, "0\r\n\r\n", 2000); // the last chunk
    assert_non_null(strstr(text, "0\r\n\r\n"));
    hw_http_send(server, NULL, NULL, piece("data: on\n\n"));
    wire_read(b, text, "data: on", 2000);
    assert_non_null(strstr(text, "data: on"));
    close(a), close(b);
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_stream__beyond_the_limit_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, 2);
    char text[WIRE_BYTES];
    int a = open_stream(server, "a"), b = open_stream(server, "b");
    assert_int_equal(wire_ask(server, "GET /stream?c HTTP/1.1\r\nHost: h\r\n\r\n", text), 503);
    close(a), close(b);
    // whoever left is found out by the next word
    hw_http_send(server, NULL, NULL, piece(": beat\n\n"));
    wire_rest(200);
    hw_http_send(server, NULL, NULL, piece(": beat\n\n"));
    wire_rest(200);
    close(open_stream(server, "c"));
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_stream__one_that_does_not_read_is_let_go_and_holds_up_nobody(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, 10);
    int deaf = open_stream(server, "deaf");
    char *line = malloc(10001);
    memset(line, 'x', 10000);
    memcpy(line, "data: ", 6);
    strcpy(line + 9998, "\n\n");
    int64_t began = wire_ms();
    for (int i = 0; i < 2000; i++) hw_http_send(server, NULL, NULL, piece(line)); // 20 MB
    assert_true(wire_ms() - began < 3000);
    char text[WIRE_BYTES];
    assert_int_equal(wire_ask(server, "GET / HTTP/1.1\r\nHost: h\r\n\r\n", text), 200);
    free(line);
    close(deaf);
    hw_http_stop(server);
    hw_test_close(&room);
}

static void test_stream__stopping_the_server_ends_all(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http *server = start(&room, 10);
    int wires[5];
    for (int i = 0; i < 5; i++) wires[i] = open_stream(server, "x");
    int64_t began = wire_ms();
    hw_http_stop(server);
    assert_true(wire_ms() - began < 2000);
    for (int i = 0; i < 5; i++) close(wires[i]);
    hw_test_close(&room);
}

int run_stream_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_stream__each_gets_what_it_wants_in_order),
        cmocka_unit_test(test_stream__a_closed_tag_ends_and_others_go_on),
        cmocka_unit_test(test_stream__beyond_the_limit_is_refused),
        cmocka_unit_test(test_stream__one_that_does_not_read_is_let_go_and_holds_up_nobody),
        cmocka_unit_test(test_stream__stopping_the_server_ends_all),
    };
    return cmocka_run_group_tests_name("streams", tests, NULL, NULL);
}
