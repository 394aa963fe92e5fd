// SPDX-License-Identifier: GPL-3.0-or-later
// Paths, queries and cookies against RFC 3986, RFC 6265, RFC 3629 and the URL standard's form
// parsing; what must be refused is what served files from above other servers' folders.
#include "near.h"

#include "httpd/httpd.h"
#include "suites.h"

static void test_path__segments_are_decoded_once(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_http_path path = {0};
    CHECK_OK(&room.job,
             hw_http_path_read(&room.job, "/api/a%20b/%e2%82%ac/x+y%2525", room.into, &path));
    assert_int_equal(path.count, 4);
    assert_string_equal(path.segments[1], "a b");
    assert_string_equal(path.segments[2], "\xe2\x82\xac"); // the euro sign, RFC 3629 section 7
    assert_string_equal(path.segments[3], "x+y%25");       // a plus is a plus in a path
    CHECK_OK(&room.job, hw_http_path_read(&room.job, "/", room.into, &path));
    assert_int_equal(path.count, 0);
    hw_test_close(&room);
}

static void test_path__what_means_something_to_a_file_system_is_refused(void **state)
{
    (void)state;
    static const char *bad[] = {"",
                                "api",
                                "//",
                                "/a//b",
                                "/a/",
                                "/..",
                                "/../etc",
                                "/a/../b",
                                "/.",
                                "/a/./b",
                                "/%2e%2e/etc",
                                "/%2E%2e",
                                "/.%2e/etc",
                                "/a%2fb",
                                "/a%5cb",
                                "/a\\b",
                                "/a%00b",
                                "/%",
                                "/%4",
                                "/%zz",
                                "/a%0ab",
                                "/a\nb",
                                "/%7f",
                                "/%c0%ae%c0%ae",
                                "/%ff",
                                "/%ed%a0%80",
                                "/%e2%82",
                                "http://a/b",
                                "/1/2/3/4/5/6/7/8/9"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        hw_test_room room = hw_test_open();
        hw_http_path path = {.count = 77};
        if (hw_http_path_read(&room.job, bad[i], room.into, &path) != HW_BAD_INPUT)
            fail_msg("'%s' was taken", bad[i]);
        assert_int_equal(path.count, 77);
        hw_test_close(&room);
    }
}

static void test_query__values_are_found_and_decoded(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const char *value = NULL;
    const char *raw = "search=van+der%20Berg&from=20&empty=&searching=no&x";
    CHECK_OK(&room.job, hw_http_query_read(&room.job, raw, "search", room.into, &value));
    assert_string_equal(value, "van der Berg");
    CHECK_OK(&room.job, hw_http_query_read(&room.job, raw, "from", room.into, &value));
    assert_string_equal(value, "20");
    CHECK_OK(&room.job, hw_http_query_read(&room.job, raw, "empty", room.into, &value));
    assert_string_equal(value, "");
    CHECK_OK(&room.job, hw_http_query_read(&room.job, raw, "x", room.into, &value));
    assert_null(value);
    CHECK_OK(&room.job, hw_http_query_read(&room.job, "", "a", room.into, &value));
    assert_null(value);
    hw_test_close(&room);
}

static void test_query__a_name_twice_or_a_broken_value_is_refused(void **state)
{
    (void)state;
    static const char *bad[] = {"a=1&a=2", "a=%", "a=%g0", "a=%00", "a=1%0d%0aSet-Cookie:x",
                                "a=%ff"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        hw_test_room room = hw_test_open();
        const char *value = "untouched";
        assert_int_equal(hw_http_query_read(&room.job, bad[i], "a", room.into, &value),
                         HW_BAD_INPUT);
        assert_string_equal(value, "untouched");
        hw_test_close(&room);
    }
}

static void test_cookie__only_the_named_one_and_only_once(void **state)
{
    (void)state;
    char value[8];
    assert_true(hw_http_cookie_read("a=1; hw=abc; b=2", "hw", value, sizeof value));
    assert_string_equal(value, "abc");
    assert_true(hw_http_cookie_read("hw=abc ", "hw", value, sizeof value));
    assert_string_equal(value, "abc");
    assert_true(hw_http_cookie_read("hw=1234567", "hw", value, sizeof value));
    assert_false(hw_http_cookie_read("hw=12345678", "hw", value, sizeof value)); // no room
    assert_false(hw_http_cookie_read("hw=a; hw=b", "hw", value, sizeof value));
    assert_false(hw_http_cookie_read("xhw=abc; hwx=1", "hw", value, sizeof value));
    assert_false(hw_http_cookie_read("", "hw", value, sizeof value));
    assert_false(hw_http_cookie_read(NULL, "hw", value, sizeof value));
    assert_false(hw_http_cookie_read(";;; ;hw", "hw", value, sizeof value));
}

// RFC 3629: section 10 (overlong "/"), 3 (surrogates, beyond 10FFFF), 7 (its examples).
static void test_utf8__as_rfc_3629(void **state)
{
    (void)state;
    static const char *good[] = {"",
                                 "plain",
                                 "A\xe2\x89\xa2\xce\x91.",
                                 "\xed\x95\x9c\xea\xb5\xad\xec\x96\xb4",
                                 "\xf0\xa3\x8e\xb4",
                                 "\xf4\x8f\xbf\xbf"};
    static const char *bad[] = {"\xc0\xaf",
                                "\xe0\x80\xaf",
                                "\xf0\x80\x80\xaf",
                                "\xed\xa0\x80",
                                "\xf4\x90\x80\x80",
                                "\xf8\x88\x80\x80\x80",
                                "\x80",
                                "\xc3",
                                "\xe2\x82"};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) assert_true(hw_http_is_utf8(good[i]));
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) assert_false(hw_http_is_utf8(bad[i]));
}

int run_parse_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_path__segments_are_decoded_once),
        cmocka_unit_test(test_path__what_means_something_to_a_file_system_is_refused),
        cmocka_unit_test(test_query__values_are_found_and_decoded),
        cmocka_unit_test(test_query__a_name_twice_or_a_broken_value_is_refused),
        cmocka_unit_test(test_cookie__only_the_named_one_and_only_once),
        cmocka_unit_test(test_utf8__as_rfc_3629),
    };
    return cmocka_run_group_tests_name("parse", tests, NULL, NULL);
}
