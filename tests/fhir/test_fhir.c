// SPDX-License-Identifier: GPL-3.0-or-later
#include "fhir/fhir.h"
#include "fhir/fhir_internal.h"
#include "near.h"

#include <string.h>

static hw_bytes bytes_of(const char *text)
{
    return (hw_bytes){(const unsigned char *)text, strlen(text)};
}

// The examples of FIPS 180-1, appendices A and B; the empty text as every sha1sum prints it.
static void test_sha1__agrees_with_the_standards_examples(void **state)
{
    (void)state;
    static const unsigned char abc[20] = {0xa9, 0x99, 0x3e, 0x36, 0x47, 0x06, 0x81,
                                          0x6a, 0xba, 0x3e, 0x25, 0x71, 0x78, 0x50,
                                          0xc2, 0x6c, 0x9c, 0xd0, 0xd8, 0x9d};
    static const unsigned char two_blocks[20] = {0x84, 0x98, 0x3e, 0x44, 0x1c, 0x3b, 0xd2,
                                                 0x6e, 0xba, 0xae, 0x4a, 0xa1, 0xf9, 0x51,
                                                 0x29, 0xe5, 0xe5, 0x46, 0x70, 0xf1};
    static const unsigned char none[20] = {0xda, 0x39, 0xa3, 0xee, 0x5e, 0x6b, 0x4b,
                                           0x0d, 0x32, 0x55, 0xbf, 0xef, 0x95, 0x60,
                                           0x18, 0x90, 0xaf, 0xd8, 0x07, 0x09};
    unsigned char digest[FHIR_SHA1];
    fhir_sha1(bytes_of("abc"), digest);
    assert_memory_equal(digest, abc, 20);
    fhir_sha1(bytes_of("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"), digest);
    assert_memory_equal(digest, two_blocks, 20);
    fhir_sha1(bytes_of(""), digest);
    assert_memory_equal(digest, none, 20);
}

// RFC 4648, section 10.
static void test_base64__agrees_with_the_standards_examples(void **state)
{
    (void)state;
    static const char *const rows[][2] = {{"", ""},
                                          {"f", "Zg=="},
                                          {"fo", "Zm8="},
                                          {"foo", "Zm9v"},
                                          {"foob", "Zm9vYg=="},
                                          {"fooba", "Zm9vYmE="},
                                          {"foobar", "Zm9vYmFy"}};
    hw_test_room room = hw_test_open();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const char *text = NULL;
        hw_bytes back = {0};
        CHECK_OK(&room.job, fhir_base64(&room.job, bytes_of(rows[i][0]), room.into, &text));
        assert_string_equal(text, rows[i][1]);
        CHECK_OK(&room.job, fhir_unbase64(&room.job, text, room.into, &back));
        assert_int_equal(back.count, strlen(rows[i][0]));
        assert_memory_equal(back.at, rows[i][0], back.count);
    }
    static const char *const wrong[] = {"Zg=",      "Z===", "Zm9v=AAA",
                                        "Zg==Zg==", "Zm 9", "\xc3\xa4gg"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        hw_bytes back = {0};
        assert_int_equal(fhir_unbase64(&room.job, wrong[i], room.into, &back), HW_BAD_FORMAT);
    }
    hw_test_close(&room);
}

static void test_fhir__what_is_no_bundle_of_ours_is_refused(void **state)
{
    (void)state;
    static const char *const wrong[] = {
        "",
        "[]",
        "{}",
        "{\"resourceType\": \"Patient\"}",
        "{\"resourceType\": \"Bundle\"}",
        "{\"resourceType\": \"Bundle\", \"entry\": [1, {\"resource\": {\"content\": []}}]}",
        ("{\"resourceType\": \"Bundle\", \"entry\": [{\"resource\": {\"content\": [{\"attachment\":"
         " {\"title\": \"heelwright case file\", \"data\": \"Zg==\"}}]}}]}")};
    hw_test_room room = hw_test_open();
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        hw_bytes out = {0};
        assert_int_equal(hw_fhir_case(&room.job, bytes_of(wrong[i]), room.into, &out),
                         HW_BAD_FORMAT);
        assert_null(out.at);
    }
    hw_test_close(&room);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sha1__agrees_with_the_standards_examples),
        cmocka_unit_test(test_base64__agrees_with_the_standards_examples),
        cmocka_unit_test(test_fhir__what_is_no_bundle_of_ours_is_refused),
    };
    return cmocka_run_group_tests_name("fhir", tests, NULL, NULL);
}
