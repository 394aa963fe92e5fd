// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "pdf/pdf.h"

static const hw_pdf_ink plain = {.size = 10};

static hw_bytes small_file(hw_test_room *room)
{
    const hw_pdf_about about = {"Plan for HB-0042", "en-GB", "2026-03-02", 210, 297, 0, 0};
    hw_pdf *pdf = NULL;
    CHECK_OK(&room->job, hw_pdf_begin(&room->job, &about, &pdf));
    hw_pdf_page(pdf);
    hw_pdf_tag(pdf, "H1");
    hw_pdf_text(pdf, &plain, 20, 20, 170, "Plan for HB-0042, left foot");
    hw_pdf_untag(pdf);
    hw_pdf_tag(pdf, "P");
    hw_pdf_text(pdf, &plain, 20, 30, 170,
                "\xce\xa0\xce\xad\xce\xbb\xce\xbc\xce\xb1, Gr\xc3\xb6\xc3\x9f"
                "e 265/102");
    hw_pdf_untag(pdf);
    const unsigned char pixels[4][3] = {{255, 0, 0}, {0, 255, 0}, {0, 0, 255}, {9, 9, 9}};
    CHECK_OK(&room->job, hw_pdf_picture(&room->job, pdf, pixels, (const int[2]){2, 2},
                                        (const double[4]){20, 50, 40, 40}));
    const double line[3][2] = {{20, 100}, {60, 120}, {100, 100}};
    hw_pdf_path(pdf, &plain, line, 3, false);
    const double ring[5][2] = {{20, 140}, {40, 130}, {60, 140}, {40, 150}, {20, 140}};
    hw_pdf_curve(pdf, &plain, ring, 5, true);
    hw_pdf_curve(pdf, &plain, line, 2, false);
    hw_pdf_page(pdf);
    hw_pdf_text(pdf, &plain, 20, 20, 170, "Second page");
    hw_bytes file = {0};
    CHECK_OK(&room->job, hw_pdf_end(&room->job, pdf, room->into, &file));
    return file;
}

// An A4 sheet, begun.
static hw_pdf *first_page(hw_test_room *room)
{
    const hw_pdf_about about = {"t", "en-GB", "2026-03-02", 210, 297, 0, 0};
    hw_pdf *pdf = NULL;
    CHECK_OK(&room->job, hw_pdf_begin(&room->job, &about, &pdf));
    hw_pdf_page(pdf);
    return pdf;
}

static void test_pdf__the_same_calls_give_the_same_bytes(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_bytes one = small_file(&room), two = small_file(&room);
    assert_int_equal(one.count, two.count);
    assert_memory_equal(one.at, two.at, one.count);
    assert_memory_equal(one.at, "%PDF-1.", 7);
    hw_test_close(&room);
}

static void test_pdf__long_text_wraps_and_its_height_is_known_before(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_pdf *pdf = first_page(&room);
    const char *text = "stretch the calf with the knee straight, then with the knee bent";
    double one_line = hw_pdf_text_height(pdf, &plain, 170, text);
    double wrapped = hw_pdf_text_height(pdf, &plain, 40, text);
    CHECK_NEAR(hw_pdf_text(pdf, &plain, 20, 20, 40, text), wrapped, 1e-9, "mm");
    // Letters of 10 pt in lines of about 1.16 times that (DejaVu Sans): 4.1 mm.
    CHECK_NEAR(one_line, 4.1, 0.4, "mm");
    assert_true(wrapped > 2.5 * one_line);
    hw_bytes file = {0};
    CHECK_OK(&room.job, hw_pdf_end(&room.job, pdf, room.into, &file));
    hw_test_close(&room);
}

// pdftotext, pdffonts and qpdf (general tools) read the file back.
static void test_pdf__other_programs_read_it(void **state)
{
    (void)state;
    if (system("command -v pdftotext pdffonts pdfinfo qpdf > /dev/null 2>&1") != 0) skip();
    hw_test_room room = hw_test_open();
    hw_bytes file = small_file(&room);
    FILE *out = fopen("/tmp/hw_test_pdf.pdf", "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(file.at, 1, file.count, out), file.count);
    fclose(out);
    const char *checks[] = {
        "qpdf --check /tmp/hw_test_pdf.pdf > /dev/null",
        "pdftotext /tmp/hw_test_pdf.pdf - | grep -q 'Plan for HB-0042, left foot'",
        ("pdftotext /tmp/hw_test_pdf.pdf - | grep -q 'Gr\xc3\xb6\xc3\x9f"
         "e 265/102'"),
        "pdfinfo /tmp/hw_test_pdf.pdf | grep -q 'Pages: *2'",
        "pdfinfo /tmp/hw_test_pdf.pdf | grep -q 'Tagged: *yes'",
        "pdfinfo -struct-text /tmp/hw_test_pdf.pdf | grep -q H1",
        // every font embedded and with Unicode: columns "emb sub uni" all yes
        "test -z \"$(pdffonts /tmp/hw_test_pdf.pdf | tail -n +3 | grep -v 'yes yes yes')\"",
    };
    for (size_t i = 0; i < sizeof checks / sizeof *checks; i++)
        if (system(checks[i]) != 0) fail_msg("%s", checks[i]);
    remove("/tmp/hw_test_pdf.pdf");
    hw_test_close(&room);
}

// Names of people are not Latin everywhere: Hebrew and Arabic run from the right, Arabic letters join,
// Greek, Cyrillic and Polish stand as they are, and so do the scripts of Asia; a long word breaks inside the line. Read back by pdftotext.
static void test_pdf__names_of_other_scripts_come_back_as_they_were(void **state)
{
    (void)state;
    if (system("command -v pdftotext pdffonts > /dev/null 2>&1") != 0) skip();
    static const char *const names[] = {
        "\xd7\xa0\xd7\x9e\xd7\x9c",                         // Hebrew: harbour
        "\xd9\x85\xd8\xb1\xd9\x81\xd8\xa3",                 // Arabic: harbour
        "\xd0\xb3\xd0\xb0\xd0\xb2\xd0\xb0\xd0\xbd\xd1\x8c", // Russian: harbour
        "\xce\xbb\xce\xb9\xce\xbc\xce\xac\xce\xbd\xce\xb9", // Greek: harbour
        "\xc5\x81\xc3\xb3\x64\xc5\xba",                     // Polish: a boat, and a town
        "\xe6\xb8\xaf",                                     // Chinese and Japanese: harbour
        "\xed\x95\xad\xea\xb5\xac",                         // Korean: harbour
        "\xe0\xa4\xa8\xe0\xa5\x8c\xe0\xa4\x95\xe0\xa4\xbe", // Hindi: boat
        "\xe0\xb8\x97\xe0\xb9\x88\xe0\xb8\xb2",             // Thai: landing
    };
    enum { name_count = sizeof names / sizeof *names };
    hw_test_room room = hw_test_open();
    hw_pdf *pdf = first_page(&room);
    hw_bytes file = {0};
    char longest[121], line[200], check[300];
    memset(longest, 'W', 120);
    longest[120] = 0;
    for (int i = 0; i < name_count; i++) {
        snprintf(line, sizeof line, "Plan for %s, left foot", names[i]);
        hw_pdf_tag(pdf, "P");
        hw_pdf_text(pdf, &plain, 20, 20 + 10 * i, 170, line);
        hw_pdf_untag(pdf);
    }
    double one = hw_pdf_text_height(pdf, &plain, 100, "W");
    assert_true(hw_pdf_text(pdf, &plain, 20, 140, 100, longest) >
                2.5 * one); // broken, not beyond the edge
    CHECK_OK(&room.job, hw_pdf_end(&room.job, pdf, room.into, &file));
    FILE *out = fopen("/tmp/hw_test_names.pdf", "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(file.at, 1, file.count, out), file.count);
    fclose(out);
    for (int i = 0; i < name_count; i++) {
        snprintf(check, sizeof check, "pdftotext /tmp/hw_test_names.pdf - | grep -q '%s'",
                 names[i]);
        if (system(check) != 0) fail_msg("%s", check);
    }
    assert_int_equal(
        system(
            "test -z \"$(pdffonts /tmp/hw_test_names.pdf | tail -n +3 | grep -v 'yes yes yes')\""),
        0);
    remove("/tmp/hw_test_names.pdf");
    hw_test_close(&room);
}

// Whoever cannot see a picture must be told what it shows: a figure without words makes no file.
static void test_pdf__a_figure_without_words_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_pdf *pdf = first_page(&room);
    hw_bytes file = {0};
    hw_pdf_tag(pdf, "Figure");
    hw_pdf_box(pdf, &plain, 20, 20, 30, 30, true);
    hw_pdf_untag(pdf);
    CHECK_FAILS(&room.job, hw_pdf_end(&room.job, pdf, room.into, &file), HW_NO_ANSWER, "no words");
    hw_test_close(&room);
}

// A box in place of a letter could be anybody's name: U+10FFFD, a private letter, is in no font.
static void test_pdf__a_letter_that_no_font_has_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_pdf *pdf = first_page(&room);
    hw_bytes file = {0};
    hw_pdf_tag(pdf, "P");
    hw_pdf_text(pdf, &plain, 20, 20, 100, "Liv Ness \xf4\x8f\xbf\xbd");
    hw_pdf_untag(pdf);
    CHECK_FAILS(&room.job, hw_pdf_end(&room.job, pdf, room.into, &file), HW_BAD_INPUT, "U+10FFFD");
    hw_test_close(&room);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pdf__the_same_calls_give_the_same_bytes),
        cmocka_unit_test(test_pdf__long_text_wraps_and_its_height_is_known_before),
        cmocka_unit_test(test_pdf__other_programs_read_it),
        cmocka_unit_test(test_pdf__names_of_other_scripts_come_back_as_they_were),
        cmocka_unit_test(test_pdf__a_figure_without_words_is_refused),
        cmocka_unit_test(test_pdf__a_letter_that_no_font_has_is_refused),
    };
    return cmocka_run_group_tests_name("pdf", tests, NULL, NULL);
}
