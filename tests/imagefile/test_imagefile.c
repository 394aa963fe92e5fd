// SPDX-License-Identifier: GPL-3.0-or-later
// The readers of pictures: made files of every native form, damage at every byte, and the open files of
// shared/data/ultrasound (its README has the figures). tests/end_to_end/test_images.py compares all pixels
// with DCMTK's and OpenJPEG's own programs.
#include "dicom_file.h"
#include "files/files.h"
#include "imagefile/imagefile.h"

static hw_status read_file(hw_test_room *room, const dicom_file *file, hw_image *out)
{
    return hw_image_read(&room->job, (hw_bytes){file->bytes, file->count}, room->into, out);
}

static dicom_file small_file(bool is_explicit, bool is_big, bool is_open)
{
    const unsigned char pixels[12] = {0, 50, 100, 150, 200, 250, 5, 55, 105, 155, 205, 255};
    dicom_file file = dicom_begin(is_explicit, is_big, NULL);
    dicom_text_of(&file, 0x00100020, "LO", "HB-0042");
    dicom_region(&file, (const uint32_t[4]){0, 0, 3, 2}, (const double[2]){0.01, 0.005}, is_open);
    dicom_text_of(&file, 0x00200060, "CS", "L");
    dicom_shape(&file, 4, 3, 1, 8, "MONOCHROME2");
    dicom_bytes(&file, 0x7FE00010, pixels, sizeof pixels);
    return file;
}

static void test_dicom__all_native_forms_say_the_same(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    for (int form = 0; form < 6; form++) {
        dicom_file file = small_file(form / 2 > 0, form / 2 > 1, form % 2);
        hw_image image = {0};
        CHECK_OK(&room.job, read_file(&room, &file, &image));
        assert_int_equal(image.columns, 4);
        assert_int_equal(image.rows, 3);
        assert_int_equal(image.frames, 1);
        assert_int_equal(image.pixels[3 * 4], 200);
        assert_string_equal(image.about.patient_id, "HB-0042");
        assert_string_equal(image.about.laterality, "L");
        assert_int_equal(image.region_count, 1);
        assert_true(image.regions[0].is_complete);
        assert_int_equal(image.regions[0].max_x, 3);
        assert_true(image.regions[0].delta_x == 0.01 && image.regions[0].delta_y == 0.005);
    }
    hw_test_close(&room);
}

static void test_dicom__a_file_cut_at_any_byte_gives_no_picture(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    dicom_file whole = small_file(true, false, true);
    for (size_t count = 0; count < whole.count; count++) {
        hw_image image = {0};
        unsigned char *cut = malloc(count + 1); // of its size, so that a sanitizer sees an overrun
        memcpy(cut, whole.bytes, count);
        hw_status status = hw_image_read(&room.job, (hw_bytes){cut, count}, room.into, &image);
        assert_int_equal(status, HW_BAD_FORMAT);
        free(cut);
    }
    hw_test_close(&room);
}

static void test_dicom__lengths_beyond_the_file_are_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0};
    dicom_file file = dicom_begin(true, false, NULL);
    dicom_head(&file, 0x7FE00010, "OB", 0xFFFFFFFE);
    CHECK_FAILS(&room.job, read_file(&room, &file, &image), HW_BAD_FORMAT, "breaks off");
    file = dicom_begin(true, false, NULL);
    for (int i = 0; i < 40; i++) { // sequences in sequences
        dicom_head(&file, 0x00081115, "SQ", 0xFFFFFFFF);
        dicom_head(&file, 0xFFFEE000, "", 0xFFFFFFFF);
    }
    CHECK_FAILS(&room.job, read_file(&room, &file, &image), HW_BAD_FORMAT, "nested deeper");
    file = dicom_begin(true, false, NULL);
    dicom_shape(&file, 65535, 65535, 1, 8, "MONOCHROME2");
    dicom_bytes(&file, 0x7FE00010, (const unsigned char[2]){0}, 2);
    CHECK_FAILS(&room.job, read_file(&room, &file, &image), HW_BAD_FORMAT, "65535 x 65535");
    file = dicom_begin(true, false, NULL);
    dicom_shape(&file, 2, 2, 1, 8, "MONOCHROME2");
    dicom_text_of(&file, 0x00280008, "IS", "60000");
    dicom_bytes(&file, 0x7FE00010, (const unsigned char[4]){0}, 4);
    CHECK_FAILS(&room.job, read_file(&room, &file, &image), HW_BAD_FORMAT, "60000 frames need");
    hw_test_close(&room);
}

static void test_dicom__encodings_not_read_are_named(void **state)
{
    (void)state;
    static const char *const refused[][2] = {
        {"1.2.840.10008.1.2.1.99", "deflated"},
        {"1.2.840.10008.1.2.4.70", "lossless JPEG"},
        {"1.2.840.10008.1.2.4.102", "MPEG-4 video"},
        {"1.2.840.10008.1.2.4.201", "high-throughput"},
        {"1.2.3.4", "an unknown syntax"},
    };
    hw_test_room room = hw_test_open();
    for (size_t i = 0; i < sizeof refused / sizeof *refused; i++) {
        hw_image image = {0};
        dicom_file file = dicom_begin(true, false, refused[i][0]);
        CHECK_FAILS(&room.job, read_file(&room, &file, &image), HW_BAD_FORMAT, refused[i][1]);
        assert_non_null(strstr(room.job.why, "export it"));
    }
    hw_image image = {0};
    CHECK_FAILS(
        &room.job,
        hw_image_read(&room.job, (hw_bytes){(const unsigned char *)"GIF89a", 6}, room.into, &image),
        HW_BAD_FORMAT, "neither DICOM");
    hw_test_close(&room);
}

static void test_dicom__colours_become_what_the_standard_says(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0};
    // PS3.3 C.7.6.3.1.2: full-range red is Y 76, Cb 85, Cr 255.
    const unsigned char red[6] = {76, 85, 255, 255, 128, 128};
    dicom_file file = dicom_begin(true, false, NULL);
    dicom_shape(&file, 2, 1, 3, 8, "YBR_FULL");
    dicom_bytes(&file, 0x7FE00010, red, sizeof red);
    CHECK_OK(&room.job, read_file(&room, &file, &image));
    CHECK_NEAR(image.pixels[0], 254.0, 1.0, "red");
    CHECK_NEAR(image.pixels[1], 0.0, 1.0, "green");
    CHECK_NEAR(image.pixels[2], 0.0, 1.0, "blue");
    assert_int_equal(image.pixels[3] + image.pixels[4] + image.pixels[5], 3 * 255);

    const unsigned char halved[4] = {76, 255, 128, 128}; // two pixels, one pair of colours
    file = dicom_begin(true, false, NULL);
    dicom_shape(&file, 2, 1, 3, 8, "YBR_FULL_422");
    dicom_bytes(&file, 0x7FE00010, halved, sizeof halved);
    CHECK_OK(&room.job, read_file(&room, &file, &image));
    assert_int_equal(image.pixels[0], 76);
    assert_int_equal(image.pixels[3], 255);

    const unsigned char planes[6] = {1, 2, 3, 4, 5, 6};
    file = dicom_begin(true, false, NULL);
    dicom_shape(&file, 2, 1, 3, 8, "RGB");
    dicom_short(&file, 0x00280006, 1);
    dicom_bytes(&file, 0x7FE00010, planes, sizeof planes);
    CHECK_OK(&room.job, read_file(&room, &file, &image));
    assert_memory_equal(image.pixels, ((const unsigned char[6]){1, 3, 5, 2, 4, 6}), 6);

    file = dicom_begin(true, false, NULL);
    dicom_shape(&file, 2, 1, 1, 8, "MONOCHROME1"); // 0 is white
    dicom_bytes(&file, 0x7FE00010, (const unsigned char[2]){0, 200}, 2);
    CHECK_OK(&room.job, read_file(&room, &file, &image));
    assert_int_equal(image.pixels[0], 255);
    assert_int_equal(image.pixels[3], 55);
    hw_test_close(&room);
}

static void put_table(dicom_file *file, uint32_t tag, const uint32_t *words, int count)
{
    dicom_head(file, tag, "OW", (uint32_t)(2 * count));
    for (int i = 0; i < count; i++) dicom_put(file, words[i], 2);
}

static void test_palette__segments_expand_as_the_standard_says(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0};
    // PS3.3 C.7.9.2: two entries as they stand, a line of four to 0x6000, then the first segment again.
    const uint32_t segments[] = {0, 2, 0x1000, 0x2000, 1, 4, 0x6000, 2, 1, 0, 0};
    dicom_file file = dicom_begin(true, false, NULL);
    dicom_shape(&file, 8, 1, 1, 8, "PALETTE COLOR");
    for (uint32_t c = 0; c < 3; c++) {
        dicom_head(&file, 0x00281101 + c, "US", 6);
        dicom_put(&file, 8, 2), dicom_put(&file, 0, 2), dicom_put(&file, 16, 2);
        put_table(&file, 0x00281221 + c, segments, 11);
    }
    dicom_bytes(&file, 0x7FE00010, (const unsigned char[8]){0, 1, 2, 3, 4, 5, 6, 7}, 8);
    CHECK_OK(&room.job, read_file(&room, &file, &image));
    const unsigned char want[8] = {0x10, 0x20, 0x30, 0x40, 0x50, 0x60, 0x10, 0x20};
    for (int i = 0; i < 8; i++) assert_int_equal(image.pixels[3 * i], want[i]);
    hw_test_close(&room);
}

static void test_rle__runs_beyond_the_picture_are_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0};
    unsigned char frame[70] = {1, 0, 0, 0, 64};
    memcpy(frame + 64, (const unsigned char[6]){0xFD, 7, 1, 8, 9, 0}, 6); // four 7s, then 8 and 9
    for (int columns = 5; columns <= 7; columns++) {
        dicom_file file = dicom_begin(true, false, "1.2.840.10008.1.2.5");
        dicom_shape(&file, columns, 1, 1, 8, "MONOCHROME2");
        dicom_head(&file, 0x7FE00010, "OB", 0xFFFFFFFF);
        dicom_head(&file, 0xFFFEE000, "", 0);
        dicom_head(&file, 0xFFFEE000, "", 70);
        memcpy(file.bytes + file.count, frame, 70);
        file.count += 70;
        dicom_head(&file, 0xFFFEE0DD, "", 0);
        hw_status status = read_file(&room, &file, &image);
        assert_int_equal(status, columns == 6 ? HW_OK : HW_BAD_FORMAT);
    }
    hw_test_close(&room);
}

static void test_pack__comes_back_as_it_was_and_refuses_damage(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0}, back = {0};
    hw_bytes plain = {0};
    dicom_file file = small_file(true, false, false);
    CHECK_OK(&room.job, read_file(&room, &file, &image));
    CHECK_OK(&room.job, hw_image_pack(&room.job, &image, room.into, &plain));
    assert_true(hw_image_is_packed(plain));
    CHECK_OK(&room.job, hw_image_unpack(&room.job, plain, &back));
    assert_memory_equal(back.pixels, image.pixels, 36);
    assert_memory_equal(&back.regions[0], &image.regions[0], sizeof back.regions[0]);
    assert_string_equal(back.about.patient_id, "HB-0042");
    plain.count--;
    CHECK_FAILS(&room.job, hw_image_unpack(&room.job, plain, &back), HW_BAD_FORMAT, "does not fit");
    hw_test_close(&room);
}

static void test_png__written_and_read_again(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0};
    hw_bytes png = {0}, again = {0};
    unsigned char pixels[5 * 4 * 3];
    for (size_t i = 0; i < sizeof pixels; i++) pixels[i] = (unsigned char)(7 * i);
    CHECK_OK(&room.job, hw_image_png(&room.job, pixels, (const int[2]){5, 4}, room.into, &png));
    CHECK_OK(&room.job, hw_image_png(&room.job, pixels, (const int[2]){5, 4}, room.into, &again));
    assert_int_equal(png.count, again.count);
    assert_memory_equal(png.at, again.at, png.count);
    CHECK_OK(&room.job, hw_image_read(&room.job, png, room.into, &image));
    assert_memory_equal(image.pixels, pixels, sizeof pixels);
    for (size_t count = 1; count + 12 < png.count; count++) // all but the end mark
        assert_int_equal(hw_image_read(&room.job, (hw_bytes){png.at, count}, room.into, &image),
                         HW_BAD_FORMAT);
    hw_test_close(&room);
}

static hw_status read_shared(hw_test_room *room, const char *name, hw_image *out)
{
    const char *path = NULL;
    hw_bytes bytes = {0};
    if (!hw_test_data()) skip();
    CHECK_OK(&room->job, hw_text_format(&room->job, room->into, &path, "%s/ultrasound/%s",
                                        hw_test_data(), name));
    CHECK_OK(&room->job, hw_file_read(&room->job, path, 1u << 28, room->into, &bytes));
    return hw_image_read(&room->job, bytes, room->into, out);
}

// Sizes, frames, kinds and regions as shared/data/ultrasound/README.md states them.
static void test_dicom__the_open_files_are_what_their_readme_says(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int columns, rows, frames, regions;
        const char *kind;
    } files[] = {
        {"ExplVR_BigEnd.dcm", 80, 60, 1, 0, "DICOM, explicit big-endian"},
        {"OBXXXX1A_rle.dcm", 800, 600, 1, 2, "DICOM, RLE"},
        {"color-pl.dcm", 256, 120, 1, 0, "DICOM, explicit little-endian"},
        {"examples_jpeg2k.dcm", 640, 480, 1, 0, "DICOM, JPEG 2000 lossless"},
        {"examples_rgb_color.dcm", 320, 240, 1, 0, "DICOM, explicit little-endian"},
        {"examples_ybr_color.dcm", 320, 240, 30, 1, "DICOM, JPEG baseline"},
        {"gdcm-US-ALOKA-16.dcm", 640, 480, 1, 3, "DICOM, implicit little-endian"},
        {"msk_gastroc_lateral_a.png", 800, 600, 1, 0, "PNG"},
        {"msk_gastroc_medial_b.png", 1012, 1230, 1, 0, "PNG"},
    };
    hw_test_room room = hw_test_open();
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        hw_image image = {0};
        CHECK_OK(&room.job, read_shared(&room, files[i].name, &image));
        assert_int_equal(image.columns, files[i].columns);
        assert_int_equal(image.rows, files[i].rows);
        assert_int_equal(image.frames, files[i].frames);
        assert_int_equal(image.region_count, files[i].regions);
        assert_string_equal(image.about.kind, files[i].kind);
    }
    hw_test_close(&room);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dicom__all_native_forms_say_the_same),
        cmocka_unit_test(test_dicom__a_file_cut_at_any_byte_gives_no_picture),
        cmocka_unit_test(test_dicom__lengths_beyond_the_file_are_refused),
        cmocka_unit_test(test_dicom__encodings_not_read_are_named),
        cmocka_unit_test(test_dicom__colours_become_what_the_standard_says),
        cmocka_unit_test(test_palette__segments_expand_as_the_standard_says),
        cmocka_unit_test(test_rle__runs_beyond_the_picture_are_refused),
        cmocka_unit_test(test_pack__comes_back_as_it_was_and_refuses_damage),
        cmocka_unit_test(test_png__written_and_read_again),
        cmocka_unit_test(test_dicom__the_open_files_are_what_their_readme_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
