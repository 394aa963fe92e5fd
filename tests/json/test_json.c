// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "json/json.h"

static const hw_json *read_text(hw_test_room *room, const char *text)
{
    const hw_json *root = NULL;
    hw_bytes bytes = {(const unsigned char *)text, strlen(text)};
    CHECK_OK(&room->job, hw_json_read(&room->job, bytes, room->into, &root));
    return root;
}

static void test_json__a_tree_keeps_order_kinds_and_values(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const hw_json *root = read_text(
        &room, "{\"b\": 1.5, \"a\": [true, null, \"x\\u00e9\"], \"c\": {\"d\": -3}, \"e\": []}");
    assert_int_equal(root->count, 4);
    assert_string_equal(root->keys[0], "b");
    CHECK_NEAR(hw_json_get(root, "b")->number, 1.5, 0.0, "");
    const hw_json *list = hw_json_get(root, "a");
    assert_true(list->items[0].truth);
    assert_int_equal(list->items[1].kind, HW_JSON_NULL);
    assert_string_equal(list->items[2].text, "x\xc3\xa9");
    CHECK_NEAR(hw_json_get(hw_json_get(root, "c"), "d")->number, -3.0, 0.0, "");
    assert_null(hw_json_get(root, "absent"));
    assert_null(hw_json_get(NULL, "b"));
    hw_test_close(&room);
}

static void test_json__what_is_not_json_is_refused_with_its_place(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const char *bad[] = {"",
                         "{",
                         "{\"a\":1,\"a\":2}",
                         "{} x",
                         "{\"a\": 1,}",
                         "[1e999]",
                         "\"a\\u0000\"",
                         "{'a': 1}",
                         "nul",
                         "\xff"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        const hw_json *root = NULL;
        hw_bytes bytes = {(const unsigned char *)bad[i], strlen(bad[i])};
        CHECK_FAILS(&room.job, hw_json_read(&room.job, bytes, room.into, &root), HW_BAD_FORMAT,
                    "line");
        assert_null(root);
    }
    hw_test_close(&room);
}

static void test_json__what_is_written_can_be_read(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_json_out out = hw_json_begin(room.into);
    hw_json_open(&out, NULL, '{');
    hw_json_number(&out, "length", 264.2000001, 3);
    hw_json_number(&out, "zero", -0.00001, 2);
    hw_json_number(&out, "ten", 10.0, 0);
    hw_json_number(&out, "missing", NAN, 2);
    hw_json_text(&out, "text", "a \"quote\",\n\ttab \\ \x01");
    hw_json_open(&out, "empty", '[');
    hw_json_close(&out);
    hw_json_band(&out, "band", (hw_band){1, -2, 3, true, NULL}, 100.0, 1);
    hw_json_band(&out, "peak_pct", (hw_band){.why = "not said"}, 1.0, 1);
    hw_json_close(&out);
    hw_bytes bytes = {0};
    CHECK_OK(&room.job, hw_json_end(&room.job, &out, &bytes));
    const hw_json *root = read_text(&room, (const char *)bytes.at);
    CHECK_NEAR(hw_json_get(root, "length")->number, 264.2, 0.0, "");
    assert_non_null(strstr((const char *)bytes.at, "\"zero\": 0,"));
    assert_non_null(strstr((const char *)bytes.at, "\"ten\": 10,"));
    assert_int_equal(hw_json_get(root, "missing")->kind, HW_JSON_NULL);
    assert_string_equal(hw_json_get(root, "text")->text, "a \"quote\",\n\ttab \\ \x01");
    CHECK_NEAR(hw_json_get(hw_json_get(root, "band"), "p05")->number, -200.0, 0.0, "");
    assert_string_equal(hw_json_get(root, "peak_pct_why")->text, "not said");
    hw_test_close(&room);
}

static void test_json__every_failed_allocation_is_reported(void **state)
{
    (void)state;
    const char *text = "{\"a\": [1, 2, {\"b\": \"text\"}], \"c\": null}";
    hw_bytes bytes = {(const unsigned char *)text, strlen(text)};
    bool finished = false;
    for (size_t n = 1; !finished && n < 100; n++) {
        hw_test_room room = hw_test_open();
        const hw_json *root = NULL;
        hw_arena_fail_at(room.into, n);
        hw_status status = hw_json_read(&room.job, bytes, room.into, &root);
        assert_true(status == HW_OK || (status == HW_NO_MEMORY && !root));
        finished = status == HW_OK;
        hw_test_close(&room);
    }
    assert_true(finished);
}

static void test_json__a_tree_is_written_back_as_it_was_read(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const hw_json *root =
        read_text(&room, "{\"a\": [1, 0.1, 1e300, -2.5e-7, 123456789012345],"
                         " \"b\": {\"c\": null, \"d\": [true, \"x\"]}, \"e\": []}");
    hw_json_out out = hw_json_begin(room.into);
    hw_bytes bytes = {0};
    hw_json_tree(&out, NULL, root);
    CHECK_OK(&room.job, hw_json_end(&room.job, &out, &bytes));
    const hw_json *back = read_text(&room, (const char *)bytes.at);
    assert_true(hw_json_same(root, back));
    assert_int_equal(hw_json_depth(root), 4);
    assert_non_null(strstr((const char *)bytes.at, " 0.1,"));
    assert_non_null(strstr((const char *)bytes.at, " 123456789012345\n"));
    hw_test_close(&room);
}

static void test_json__trees_are_the_same_whatever_the_order_of_keys(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const hw_json *one = read_text(&room, "{\"a\": 1, \"b\": [1, 2]}");
    assert_true(hw_json_same(one, read_text(&room, "{\"b\": [1, 2], \"a\": 1}")));
    assert_true(hw_json_same(NULL, NULL));
    const char *others[] = {"{\"a\": 1, \"b\": [2, 1]}", "{\"a\": 1}", "[]",
                            "{\"a\": \"1\", \"b\": [1, 2]}",
                            "{\"a\": 1, \"b\": [1, 2], \"c\": null}"};
    for (size_t i = 0; i < sizeof others / sizeof *others; i++)
        assert_false(hw_json_same(one, read_text(&room, others[i])));
    assert_false(hw_json_same(one, NULL));
    hw_test_close(&room);
}

static void test_json__a_text_of_json_is_set_in_as_it_stands(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_json_out out = hw_json_begin(room.into);
    hw_bytes bytes = {0}, inner = {(const unsigned char *)"{\"x\": 1}\n", 9};
    hw_json_open(&out, NULL, '{');
    hw_json_raw(&out, "body", inner);
    hw_json_int(&out, "version", 2);
    hw_json_close(&out);
    CHECK_OK(&room.job, hw_json_end(&room.job, &out, &bytes));
    const hw_json *root = read_text(&room, (const char *)bytes.at);
    CHECK_NEAR(hw_json_get(hw_json_get(root, "body"), "x")->number, 1.0, 0.0, "");
    hw_test_close(&room);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_json__a_tree_keeps_order_kinds_and_values),
        cmocka_unit_test(test_json__what_is_not_json_is_refused_with_its_place),
        cmocka_unit_test(test_json__what_is_written_can_be_read),
        cmocka_unit_test(test_json__a_tree_is_written_back_as_it_was_read),
        cmocka_unit_test(test_json__trees_are_the_same_whatever_the_order_of_keys),
        cmocka_unit_test(test_json__a_text_of_json_is_set_in_as_it_stands),
        cmocka_unit_test(test_json__every_failed_allocation_is_reported),
    };
    return cmocka_run_group_tests_name("json", tests, NULL, NULL);
}
