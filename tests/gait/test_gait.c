// SPDX-License-Identifier: GPL-3.0-or-later
// Readers of recorded walks on the open files of shared/data/gait (its README has the figures) and on files made here
// in all six C3D encodings; stances, arches and pressures against values by hand.
#include "files/files.h"
#include "gait/gait.h"
#include "near.h"

#include <zlib.h>

static const hw_gait_ask in_mm = {.m_per_unit = 1e-3};

static hw_bytes shared(hw_test_room *room, const char *name)
{
    const char *path = NULL;
    hw_bytes bytes = {0};
    if (!hw_test_data()) skip();
    CHECK_OK(&room->job,
             hw_text_format(&room->job, room->into, &path, "%s/%s", hw_test_data(), name));
    CHECK_OK(&room->job, hw_file_read(&room->job, path, 1u << 28, room->into, &bytes));
    return bytes;
}

static hw_vec3 point(const hw_gait_record *record, int frame, const char *name)
{
    int marker = hw_gait_marker(record, name);
    assert_true(marker >= 0);
    return record->points[(size_t)frame * (size_t)record->marker_count + (size_t)marker];
}

// -- made C3D files: 2 points, 2 frames, one unseen, in any encoding

enum { INTEL = 84, DEC = 85, MIPS = 86 };

typedef struct maker {
    unsigned char bytes[4 * 512];
    size_t at;
    int processor;
} maker;

static void put_word(maker *to, size_t at, int value)
{
    unsigned low = (unsigned)value & 0xff, high = ((unsigned)value >> 8) & 0xff;
    to->bytes[at] = (unsigned char)(to->processor == MIPS ? high : low);
    to->bytes[at + 1] = (unsigned char)(to->processor == MIPS ? low : high);
}

// DEC's F_floating is IEEE's bits with the exponent two higher and the halves swapped.
static void put_float(maker *to, size_t at, float value)
{
    uint32_t bits = 0;
    if (to->processor == DEC) value *= 4.0F;
    memcpy(&bits, &value, sizeof bits);
    const unsigned char b[4] = {(unsigned char)bits, (unsigned char)(bits >> 8),
                                (unsigned char)(bits >> 16), (unsigned char)(bits >> 24)};
    static const int orders[3][4] = {{0, 1, 2, 3}, {2, 3, 0, 1}, {3, 2, 1, 0}};
    for (int i = 0; i < 4; i++) to->bytes[at + (size_t)i] = b[orders[to->processor - INTEL][i]];
}

static void put_entry(maker *to, const char *name, int group, const unsigned char *data,
                      size_t count)
{
    size_t length = strlen(name);
    to->bytes[to->at] = (unsigned char)length;
    to->bytes[to->at + 1] = (unsigned char)group;
    memcpy(to->bytes + to->at + 2, name, length);
    put_word(to, to->at + 2 + length, (int)(2 + count));
    memcpy(to->bytes + to->at + 4 + length, data, count);
    to->at += 4 + length + count;
}

static maker make_c3d(int processor, bool is_float)
{
    maker file = {.processor = processor};
    file.bytes[0] = 2, file.bytes[1] = 0x50;
    put_word(&file, 2, 2), put_word(&file, 4, 0), put_word(&file, 6, 1), put_word(&file, 8, 2);
    put_float(&file, 12, is_float ? -0.1F : 0.1F);
    put_word(&file, 16, 3), put_word(&file, 18, 0), put_float(&file, 20, 100.0F);
    file.bytes[514] = 1, file.bytes[515] = (unsigned char)processor;
    file.at = 516;
    // The group's name after its parameters, as the format allows.
    put_entry(&file, "UNITS", 1, (const unsigned char[]){0xff, 1, 2, 'm', 'm', 0}, 6);
    put_entry(&file, "LABELS", 1,
              (const unsigned char[]){0xff, 2, 4, 2, 'H', 'E', 'E', 'L', 'M', 'T', '1', ' ', 0},
              13);
    put_entry(&file, "POINT", -1, (const unsigned char[]){0}, 1);
    static const double values[2][2][4] = {{{100.5, -200.3, 1500.1, 0}, {1.5, 2.5, -3.5, 0}},
                                           {{101.5, -201.3, 1501.1, 0}, {0, 0, 0, -1}}};
    size_t at = 1024, wide = is_float ? 4 : 2;
    for (int k = 0; k < 16; k++, at += wide) {
        double value = values[k / 8][k / 4 % 2][k % 4];
        if (is_float)
            put_float(&file, at, (float)value);
        else
            put_word(&file, at, k % 4 == 3 ? (int)value : (int)lround(value / 0.1));
    }
    file.at = at;
    return file;
}

static void test_c3d__six_encodings_say_the_same(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    for (int form = 0; form < 6; form++) {
        maker file = make_c3d(INTEL + form / 2, form % 2);
        hw_gait_record record = {0};
        CHECK_OK(&room.job, hw_gait_read(&room.job, (hw_bytes){file.bytes, file.at}, &in_mm,
                                         room.into, &record));
        assert_int_equal(record.frame_count, 2);
        assert_int_equal(record.marker_count, 2);
        assert_string_equal(record.names[0], "HEEL");
        assert_string_equal(record.names[1], "MT1");
        CHECK_NEAR(record.rate_Hz, 100.0, 1e-9, "Hz");
        CHECK_NEAR(point(&record, 0, "heel").x, 0.1005, 1e-8, "m");
        CHECK_NEAR(point(&record, 0, "heel").y, -0.2003, 1e-8, "m");
        CHECK_NEAR(point(&record, 1, "heel").z, 1.5011, 1e-7, "m");
        CHECK_NEAR(point(&record, 0, "mt1").z, -0.0035, 1e-8, "m");
        assert_true(record.is_seen[2] && !record.is_seen[3]);
        for (size_t count = 0; count < file.at; count++) { // cut at any byte: a sentence
            unsigned char *cut = malloc(count + 1);
            memcpy(cut, file.bytes, count);
            assert_int_equal(
                hw_gait_read(&room.job, (hw_bytes){cut, count}, &in_mm, room.into, &record),
                HW_BAD_FORMAT);
            free(cut);
        }
    }
    hw_test_close(&room);
}

static void test_c3d__what_cannot_be_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_gait_record record = {0};
    maker file = make_c3d(INTEL, true);
    hw_bytes bytes = {file.bytes, sizeof file.bytes};
    file.bytes[515] = 90;
    CHECK_FAILS(&room.job, hw_gait_read(&room.job, bytes, &in_mm, room.into, &record),
                HW_BAD_FORMAT, "processor 90");
    file = make_c3d(INTEL, true), put_word(&file, 8, 60000);
    CHECK_FAILS(&room.job, hw_gait_read(&room.job, bytes, &in_mm, room.into, &record),
                HW_BAD_FORMAT, "fewer than");
    file = make_c3d(INTEL, true), put_word(&file, 8, 0);
    CHECK_FAILS(&room.job, hw_gait_read(&room.job, bytes, &in_mm, room.into, &record),
                HW_BAD_FORMAT, "no frames");
    file = make_c3d(INTEL, true), file.bytes[514] = 200;
    CHECK_FAILS(&room.job, hw_gait_read(&room.job, bytes, &in_mm, room.into, &record),
                HW_BAD_FORMAT, "inside its parameters");
    file = make_c3d(INTEL, true), file.bytes[525] = 'k', file.bytes[526] = 'm';
    file.bytes[527] = 'k';
    CHECK_FAILS(&room.job, hw_gait_read(&room.job, bytes, &in_mm, room.into, &record),
                HW_BAD_FORMAT, "unit of length");
    hw_test_close(&room);
}

// -- the capture system's own export of a trial: every point of every frame to the export's digits

static char *unpacked(hw_test_room *room, const char *name)
{
    const char *path = NULL;
    if (!hw_test_data()) skip();
    CHECK_OK(&room->job,
             hw_text_format(&room->job, room->into, &path, "%s/%s", hw_test_data(), name));
    gzFile file = gzopen(path, "rb");
    assert_non_null(file);
    char *text = hw_arena_take(room->into, (size_t)16 << 20, 1);
    assert_non_null(text);
    int count = gzread(file, text, (16 << 20) - 1);
    gzclose(file);
    assert_true(count > 1000);
    return text;
}

// Half of the last digit printed, in metres.
static double last_digit(const char *number)
{
    size_t length = strcspn(number, ",\r\n"), dot = strcspn(number, ".");
    int decimals = dot < length ? (int)(length - dot) - 1 : 0;
    return 0.5e-3 * pow(10.0, -decimals) * 1.0001;
}

static void test_c3d__every_point_equals_the_exported_table(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_gait_record record = {0};
    CHECK_OK(&room.job, hw_gait_read(&room.job, shared(&room, "gait/static_fullbody_onefp.c3d"),
                                     &in_mm, room.into, &record));
    char *text = unpacked(&room, "gait/static_fullbody_onefp_export.csv.gz");
    char *line = strstr(text, "TRAJECTORIES");
    assert_non_null(line);
    for (int i = 0; i < 4; i++) line = strchr(line, '\n') + 1; // to the first row of numbers
    const char *names = strstr(text, ",LFHD,");
    int compared = 0;
    for (int frame = 0; frame < 275; frame++, line = strchr(line, '\n') + 1) {
        const char *at = strchr(line, ',') + 1, *name = names + 1;
        while (*name && *name != '\n' && *name != '\r') {
            char word[40] = "";
            size_t length = strcspn(name, ",\r\n");
            memcpy(word, name, length < 39 ? length : 39);
            name += length;
            for (int k = 0; k < 3 && *name == ','; k++) name++;
            int marker = hw_gait_marker(&record, word);
            assert_true(marker >= 0);
            hw_vec3 want = record.points[(size_t)frame * 141 + (size_t)marker];
            const double got[3] = {want.x, want.y, want.z};
            for (int k = 0; k < 3; k++) {
                // 10 digits are printed of a float, which has fewer: half its last bit counts as well.
                double told = strtod(at, NULL) * 1e-3, bit = fabs(told) * 6e-8;
                CHECK_NEAR(got[k], told, last_digit(at) + bit, "m");
                at += strcspn(at, ",\r\n");
                if (*at == ',') at++;
                compared++;
            }
        }
    }
    print_message("%d coordinates compared\n", compared);
    assert_true(compared >= 275 * 3 * 39);
    CHECK_NEAR(point(&record, 0, "LFHD").x, 0.1745749207, 1e-9, "m"); // README
    hw_test_close(&room);
}

// README: bytes orders, counts and rates.
static void test_gait__the_open_files_are_what_their_readme_says(void **state)
{
    (void)state;
    static const struct {
        const char *name, *kind;
        int frames, markers, plates, samples;
        double rate;
    } files[] = {
        {"gait/foot_markers_dec_int.c3d", "C3D, DEC, integer", 3361, 12, 0, 0, 160},
        {"gait/static_fullbody_onefp.c3d", "C3D, Intel, float", 275, 141, 1, 275, 100},
        {"gait/treadmill_walk5.c3d", "C3D, Intel, float", 1103, 40, 2, 8824, 250},
        {"gait/walk1.trc", "TRC", 364, 28, 0, 0, 150},
        {"gait/walk1.forces", "force table", 0, 0, 7, 1092, 0},
        {"gait/odd_dataWithEformat.trc", "TRC", 5, 14, 0, 0, 119.88012},
        {"gait/odd_dataWithNaNsOfDifferentCases.trc", "TRC", 5, 14, 0, 0, 250},
        {"gait/odd_exampleFormat.trc", "TRC", 5, 3, 0, 0, 100},
        {"gait/stance_markers_grf_cop_n.txt", "table", 182, 10, 1, 182, 149.96},
    };
    hw_test_room room = hw_test_open();
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        hw_gait_record record = {0}, back = {0};
        hw_bytes plain = {0};
        CHECK_OK(&room.job,
                 hw_gait_read(&room.job, shared(&room, files[i].name), &in_mm, room.into, &record));
        assert_string_equal(record.kind, files[i].kind);
        assert_int_equal(record.frame_count, files[i].frames);
        assert_int_equal(record.marker_count, files[i].markers);
        assert_int_equal(record.plate_count, files[i].plates);
        assert_int_equal(record.sample_count, files[i].samples);
        CHECK_NEAR(record.rate_Hz, files[i].rate, 0.01, "Hz");
        CHECK_OK(&room.job, hw_gait_pack(&room.job, &record, room.into, &plain));
        CHECK_OK(&room.job, hw_gait_unpack(&room.job, plain, room.into, &back));
        assert_int_equal(back.marker_count, record.marker_count);
        if (record.marker_count)
            assert_memory_equal(back.points, record.points,
                                (size_t)record.frame_count * (size_t)record.marker_count *
                                    sizeof(hw_vec3));
        plain.count--;
        CHECK_FAILS(&room.job, hw_gait_unpack(&room.job, plain, room.into, &back), HW_BAD_FORMAT,
                    "does not fit");
    }
    // Tables of numbers without names say nothing of what they are.
    static const char *const refused[] = {
        "gait/cop_mediolateral_stance.csv", "gait/cop_anteroposterior_stance.csv",
        "gait/grf_running_x.csv", "gait/grf_running_y.csv", "gait/grf_running_z.csv"};
    for (size_t i = 0; i < sizeof refused / sizeof *refused; i++) {
        hw_gait_record record = {0};
        CHECK_FAILS(&room.job,
                    hw_gait_read(&room.job, shared(&room, refused[i]), &in_mm, room.into, &record),
                    HW_BAD_FORMAT, "no line of column names");
    }
    hw_test_close(&room);
}

static void test_trc__gaps_and_spellings(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_gait_record record = {0};
    CHECK_OK(&room.job, hw_gait_read(&room.job, shared(&room, "gait/odd_exampleFormat.trc"), &in_mm,
                                     room.into, &record));
    assert_false(record.is_seen[0]);         // empty cells
    assert_false(record.is_seen[2 * 3 + 1]); // Nan nan NAN
    assert_true(record.is_seen[1]);
    CHECK_NEAR(point(&record, 1, "marker1").z, -1.57, 1e-12, "m");
    CHECK_OK(&room.job, hw_gait_read(&room.job, shared(&room, "gait/odd_dataWithEformat.trc"),
                                     &in_mm, room.into, &record));
    CHECK_NEAR(point(&record, 0, "RFAsuperior").y, 0.0746, 1e-12, "m"); // 7.46E-02 m
    static const char wrong[] =
        "PathFileType\t4\nDataRate\tNumFrames\tNumMarkers\tUnits\n100\t1\t1\tmm\n"
        "Frame#\tTime\tA\n\t\tX1\tY1\tZ1\n1\t0\t1\t2\tx3\n";
    CHECK_FAILS(&room.job,
                hw_gait_read(&room.job, (hw_bytes){(const unsigned char *)wrong, sizeof wrong - 1},
                             &in_mm, room.into, &record),
                HW_BAD_FORMAT, "line 6: 'x3' is no number");
    hw_test_close(&room);
}

// -- stances

// The open walk: a right foot on plate 6 and 3, a left one on 5 (which foot is on which is seen from the markers).
static void test_stance__of_the_open_walk(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_gait_record markers = {0}, forces = {0}, walk = {0};
    CHECK_OK(&room.job,
             hw_gait_read(&room.job, shared(&room, "gait/walk1.trc"), &in_mm, room.into, &markers));
    CHECK_OK(&room.job, hw_gait_read(&room.job, shared(&room, "gait/walk1.forces"), &in_mm,
                                     room.into, &forces));
    CHECK_OK(&room.job, hw_gait_join(&room.job, &markers, &forces, &walk));
    int tried = 0;
    for (int plate = 2; plate <= 5; plate++) {
        if (plate == 3) continue; // nobody stepped on it
        for (int side = 0; side < 2; side++) {
            hw_gait_walker walker = {.mass_kg = 75, .foot_length_m = 0.26, .plate = plate};
            walker.names.heel = side ? "R.Heel" : "L.Heel",
            walker.names.head_1 = side ? "R.MT1" : "L.MT1";
            hw_gait_stance stance = {0};
            // The foot in the air is nowhere near the plate.
            if (hw_gait_find_stance(&room.job, &walk, &walker, &stance) != HW_OK) continue;
            tried++;
            assert_true(stance.has_force && stance.has_fore_aft && stance.has_pressure);
            CHECK_NEAR(stance.end_s - stance.begin_s, 0.64, 0.03, "s");
            // Two humps with a valley; braking before propulsion; heel to toes.
            assert_true(stance.force_z[8] > stance.force_z[16] &&
                        stance.force_z[24] > stance.force_z[16]);
            assert_true(stance.force_x[6] < -0.08 && stance.force_x[27] > 0.08);
            assert_true(stance.pressure_x[2] < 0.25 && stance.pressure_x[29] > 0.6);
            for (int i = 3; i < 30; i++)
                assert_true(stance.pressure_x[i] >= stance.pressure_x[i - 1] - 0.02);
        }
    }
    assert_int_equal(tried, 3);
    hw_gait_walker light = {.mass_kg = 20, .plate = 2};
    hw_gait_stance stance = {0};
    CHECK_FAILS(&room.job, hw_gait_find_stance(&room.job, &walk, &light, &stance), HW_BAD_INPUT,
                "mass, plate or unit");
    light.mass_kg = 75, light.plate = 9;
    CHECK_FAILS(&room.job, hw_gait_find_stance(&room.job, &walk, &light, &stance), HW_BAD_INPUT,
                "no plate 10");
    light.plate = 3;
    CHECK_FAILS(&room.job, hw_gait_find_stance(&room.job, &walk, &light, &stance), HW_NO_ANSWER,
                "not loaded");
    hw_test_close(&room);
}

// Two type-2 plates of a C3D file: the force's place runs from the heel to the first head under each foot.
static void test_stance__of_the_open_c3d_plates(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_gait_record walk = {0};
    CHECK_OK(&room.job, hw_gait_read(&room.job, shared(&room, "gait/treadmill_walk5.c3d"), &in_mm,
                                     room.into, &walk));
    hw_gait_walker walker = {.mass_kg = 75, .foot_length_m = 0.26, .plate = 1};
    hw_gait_stance stance = {0};
    walker.names.heel = "RCAL", walker.names.head_1 = "RMT1";
    CHECK_OK(&room.job, hw_gait_find_stance(&room.job, &walk, &walker, &stance));
    assert_true(stance.pressure_x[3] < 0.4 && stance.pressure_x[28] > 0.85);
    assert_true(stance.force_x[4] < -0.1 && stance.force_x[28] > 0.1);
    walker.names.heel = "LCAL", walker.names.head_1 = "LMT1"; // the other foot is in the air
    assert_int_equal(hw_gait_find_stance(&room.job, &walk, &walker, &stance), HW_BAD_INPUT);
    hw_test_close(&room);
}

// A made walk: heel at 0, first head at 170 mm, fifth beside it, the arch marker sinking and rising as a sine.
static void make_walk(hw_test_room *room, hw_gait_record *out)
{
    enum { FRAMES = 201 };
    static const char names[4][HW_GAIT_NAME] = {"heel", "navicular", "mt1", "mt5"};
    hw_vec3 *points = hw_arena_take(room->into, 4 * FRAMES, sizeof *points);
    bool *is_seen = hw_arena_take(room->into, 4 * FRAMES, sizeof *is_seen);
    hw_vec3 *force = hw_arena_take(room->into, FRAMES, sizeof *force);
    hw_vec3 *pressure = hw_arena_take(room->into, FRAMES, sizeof *pressure);
    for (int f = 0; f < FRAMES; f++) {
        double share = (f - 50) / 100.0; // of a stance of 1 s
        double sunk = share > 0.0 && share < 1.0 ? 6e-3 * sin(HW_PI * share) : 0.0;
        const hw_vec3 at[4] = {
            {1.0, 2.0, 0.02}, {1.08, 2.02, 0.06 - sunk}, {1.17, 2.03, 0.02}, {1.14, 1.95, 0.02}};
        for (int k = 0; k < 4; k++) points[4 * f + k] = at[k], is_seen[4 * f + k] = true;
        bool is_on = share > 0.0 && share < 1.0;
        force[f] = is_on ? (hw_vec3){-50.0 + 100.0 * share, 0.0, 700.0} : (hw_vec3){0};
        pressure[f] = (hw_vec3){1.0 + 0.2 * share, 2.0, 0.0};
    }
    *out = (hw_gait_record){.rate_Hz = 100,
                            .frame_count = FRAMES,
                            .marker_count = 4,
                            .names = names,
                            .points = points,
                            .is_seen = is_seen,
                            .force_rate_Hz = 100,
                            .sample_count = FRAMES,
                            .plate_count = 1,
                            .plates = {{force, pressure}}};
}

static void test_arch__of_a_made_walk_sinks_as_it_was_made(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_gait_record walk = {0};
    hw_gait_stance stance = {0};
    hw_gait_arch_course arch = {0};
    make_walk(&room, &walk);
    hw_gait_walker walker = {
        .mass_kg = 80, .foot_length_m = 0.25, .names = {"heel", "navicular", "mt1", "mt5"}};
    CHECK_OK(&room.job, hw_gait_find_stance(&room.job, &walk, &walker, &stance));
    CHECK_NEAR(stance.force_z[16], 700.0 / (80.0 * 9.80665), 1e-12, "BW");
    CHECK_NEAR(stance.end_s - stance.begin_s, 0.98, 1e-9, "s");
    CHECK_OK(&room.job, hw_gait_arch(&room.job, &walk, &stance, &walker.names, &arch));
    CHECK_NEAR(arch.lowest_m, 0.034, 1e-5, "m"); // all heights over the plane z = 20 mm
    CHECK_NEAR(arch.highest_m, 0.04, 0.0003, "m");
    CHECK_NEAR(arch.lowest_percent, 50.0, 0.01, "%");
    // Fastest at contact: 6 mm * pi per second, over a sixteenth of it a little less.
    CHECK_NEAR(arch.lowering_speed_m_s, 6e-3 * HW_PI, 0.0005, "m/s");
    walker.names.head_5 = NULL; // beside the line: the marker lies off it, so higher
    CHECK_OK(&room.job, hw_gait_arch(&room.job, &walk, &stance, &walker.names, &arch));
    assert_true(arch.lowest_m > 0.034);
    walker.names.arch = "knee";
    CHECK_FAILS(&room.job, hw_gait_arch(&room.job, &walk, &stance, &walker.names, &arch),
                HW_BAD_INPUT, "'knee'");
    hw_test_close(&room);
}

// The arch of the made walk with its navicular marker out of sight from one frame to before another.
static hw_status arch_hiding(hw_test_room *room, int first, int end, const char *head_5,
                             hw_gait_arch_course *out)
{
    hw_gait_record walk = {0};
    make_walk(room, &walk);
    const hw_gait_stance stance = {.begin_s = 0.5, .end_s = 1.5};
    const hw_gait_names names = {"heel", "navicular", "mt1", head_5};
    bool *is_seen = (bool *)walk.is_seen;
    for (int f = first; f < end; f++) is_seen[4 * f + 1] = false;
    return hw_gait_arch(&room->job, &walk, &stance, &names, out);
}

// Out of sight at contact: the first height seen is held backwards, never taken for the ground.
static void test_arch__an_unseen_contact_is_no_height_of_zero(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_gait_arch_course arch = {0};
    CHECK_OK(&room.job, arch_hiding(&room, 48, 55, "mt5", &arch));
    CHECK_NEAR(arch.height_m[0], arch.height_m[2], 1e-12, "m"); // 2 of 32: at frame 56.25, seen
    CHECK_NEAR(arch.highest_m, 0.04, 0.0015, "m");
    CHECK_NEAR(arch.lowest_m, 0.034, 1e-5, "m");
    CHECK_NEAR(arch.lowest_percent, 50.0, 0.01, "%");
    CHECK_NEAR(arch.drop_m, arch.height_m[0] - 0.034, 1e-5, "m");
    assert_true(arch.drop_m > 0.004); // 6 mm as made, less what was not seen of it
    hw_test_close(&room);
}

static void test_arch__markers_out_of_sight_give_no_height(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_gait_arch_course arch = {0};
    CHECK_FAILS(&room.job, arch_hiding(&room, 80, 100, NULL, &arch), HW_NO_ANSWER, "out of sight");
    hw_test_close(&room);
}

// -- pressure

static hw_bytes text_bytes(const char *text)
{
    return (hw_bytes){(const unsigned char *)text, strlen(text)};
}

// 12 rows of 4: heel, narrow midfoot, forefoot, an empty-ish row, toes. Counted by hand.
static const char print_text[] = "# kPa; cell 10 mm x 10 mm\n"
                                 "0,100,100,0\n0,200,200,0\n0,100,100,0\n" // 3 rows: heel, 6 cells
                                 "0,0,50,0\n0,0,50,0\n0,0,50,0\n"          // 3 cells
                                 "50,50,50,50\n100,100,100,100\n50,50,50,50\n" // 12 cells
                                 "0,0,20,0\n0,0,80,0\n0,0,60,0\n";             // valley, toes

static void test_pressure__a_print_by_hand(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_pressure_map map = {0};
    hw_pressure_measures of = {0};
    const hw_pressure_ask ask = {0};
    CHECK_OK(&room.job, hw_pressure_read(&room.job, text_bytes(print_text), &ask, room.into, &map));
    CHECK_OK(&room.job, hw_pressure_measure(&room.job, &map, room.into, &of));
    assert_int_equal(of.toe_row, 10); // the valley's row still counts as ball
    CHECK_NEAR(of.whole.area_m2, 24e-4, 1e-12, "m2");
    CHECK_NEAR(of.whole.peak_Pa, 200e3, 1e-6, "Pa");
    CHECK_NEAR(of.part[HW_PRESSURE_TOES].area_m2, 2e-4, 1e-12, "m2");
    // Ten rows without toes: thirds of 3 1/3 rows. Midfoot: 2/3 of row 3, rows 4 and 5, 2/3 of row 6 with four cells.
    CHECK_NEAR(of.part[HW_PRESSURE_MIDFOOT].area_m2, (2.0 / 3.0 + 1 + 1 + 4 * 2.0 / 3.0) * 1e-4,
               1e-9, "m2");
    CHECK_NEAR(of.arch_index, (2.0 / 3.0 + 2 + 8.0 / 3.0) / 22.0, 1e-9, "");
    CHECK_NEAR(of.length_m, 0.12, 1e-12, "m");
    double sum = 0.0;
    for (int k = 0; k < HW_PRESSURE_REGIONS; k++) sum += of.part[k].force_N;
    CHECK_NEAR(sum, of.whole.force_N, 1e-9, "N");
    hw_test_close(&room);
}

static void test_pressure__nothing_is_guessed(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_pressure_map map = {0};
    hw_pressure_measures of = {0};
    hw_gait_stance stance = {0};
    hw_pressure_ask ask = {0};
    const char *bare = strchr(print_text, '\n') + 1;
    CHECK_FAILS(&room.job, hw_pressure_read(&room.job, text_bytes(bare), &ask, room.into, &map),
                HW_BAD_INPUT, "nothing is guessed");
    ask.cell_m[0] = ask.cell_m[1] = 0.008;
    CHECK_FAILS(&room.job,
                hw_pressure_read(&room.job, text_bytes(print_text), &ask, room.into, &map),
                HW_BAD_INPUT, "was given");
    CHECK_FAILS(&room.job, hw_pressure_read(&room.job, text_bytes(bare), &ask, room.into, &map),
                HW_BAD_INPUT, "unit of pressure");
    ask.Pa_per_unit = 1e3;
    CHECK_OK(&room.job, hw_pressure_read(&room.job, text_bytes(bare), &ask, room.into, &map));
    CHECK_FAILS(&room.job, hw_pressure_stance(&room.job, &map, 80, room.into, &stance),
                HW_BAD_INPUT, "need a film");
    CHECK_FAILS(&room.job,
                hw_pressure_read(&room.job, text_bytes("1,2,3\n1,2\n"), &ask, room.into, &map),
                HW_BAD_FORMAT, "line 2 has 2 cells");
    CHECK_FAILS(&room.job,
                hw_pressure_read(&room.job, text_bytes("1,2,3\n1,x,3\n"), &ask, room.into, &map),
                HW_BAD_FORMAT, "'x' is no pressure");
    CHECK_OK(&room.job, hw_pressure_read(&room.job, text_bytes("0,0,0\n0,0,0\n0,5,0\n0,0,0\n"),
                                         &ask, room.into, &map));
    CHECK_FAILS(&room.job, hw_pressure_measure(&room.job, &map, room.into, &of), HW_NO_ANSWER,
                "too few cells");
    hw_test_close(&room);
}

// README: 32 x 13, 31 x 12 and 32 x 15 cells of 8.46591 mm; highest 28.5, 29.0 and 27.0 N/cm2.
static void test_pressure__the_open_steps(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int rows, columns;
        double peak;
    } steps[] = {{"pressure/walk_step1_peak_Ncm2.csv", 32, 13, 285e3},
                 {"pressure/walk_step2_peak_Ncm2.csv", 31, 12, 290e3},
                 {"pressure/walk_step4_peak_Ncm2.csv", 32, 15, 270e3}};
    hw_test_room room = hw_test_open();
    const hw_pressure_ask ask = {0};
    for (int i = 0; i < 3; i++) {
        hw_pressure_map map = {0};
        hw_pressure_measures of = {0};
        CHECK_OK(&room.job,
                 hw_pressure_read(&room.job, shared(&room, steps[i].name), &ask, room.into, &map));
        assert_int_equal(map.rows, steps[i].rows);
        assert_int_equal(map.columns, steps[i].columns);
        CHECK_OK(&room.job, hw_pressure_measure(&room.job, &map, room.into, &of));
        CHECK_NEAR(of.whole.peak_Pa, steps[i].peak, 1e-6, "Pa");
        CHECK_NEAR(of.length_m, steps[i].rows * 8.46591e-3, 0.009, "m");
        assert_true(of.arch_index > 0.05 && of.arch_index < 0.40);
        assert_true(of.part[HW_PRESSURE_HEEL].peak_Pa > 100e3);
        // Heel contact of healthy adults: 35 +- 5 cm2 (facts/clinical.md 9.5), three spreads of it.
        CHECK_NEAR(of.part[HW_PRESSURE_HEEL].area_m2, 35e-4, 15e-4, "m2");
        print_message("step %d: length %.0f mm, toes from row %d, arch index %.3f, heel %.1f cm2\n",
                      i + 1, 1e3 * of.length_m, of.toe_row, of.arch_index,
                      1e4 * of.part[HW_PRESSURE_HEEL].area_m2);
    }
    hw_pressure_map map = {0};
    CHECK_FAILS(&room.job,
                hw_pressure_read(&room.job, shared(&room, "pressure/mun104_left.csv"), &ask,
                                 room.into, &map),
                HW_BAD_INPUT, "nothing is guessed");
    CHECK_FAILS(&room.job,
                hw_pressure_read(&room.job, shared(&room, "pressure/foot_zone_polygons_left.csv"),
                                 &ask, room.into, &map),
                HW_BAD_FORMAT, "is no pressure");
    hw_test_close(&room);
}

// A film: a block of two rows and four columns that walks from row 0 to row 18 in 21 frames.
static void test_pressure__a_film_gives_force_and_its_place(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_writer writer = hw_writer_begin(room.into);
    hw_bytes text = {0};
    hw_pressure_map map = {0};
    hw_gait_stance stance = {0};
    for (int f = 0; f < 19; f++) {
        for (int row = 0; row < 20; row++)
            hw_writer_print(&writer, row == f || row == f + 1 ? "8,8,8,8\n" : "0,0,0,0\n");
        hw_writer_print(&writer, "\n");
    }
    CHECK_OK(&room.job, hw_writer_end(&room.job, &writer, &text));
    const hw_pressure_ask ask = {{0.01, 0.01}, 1e5, 0.04}; // 8 cells of 80 N
    CHECK_OK(&room.job, hw_pressure_read(&room.job, text, &ask, room.into, &map));
    assert_int_equal(map.frames, 19);
    CHECK_OK(&room.job, hw_pressure_stance(&room.job, &map, 80, room.into, &stance));
    for (int i = 0; i < HW_GAIT_INSTANTS; i++) {
        CHECK_NEAR(stance.force_z[i], 640.0 / (80 * 9.80665), 1e-9, "BW");
        CHECK_NEAR(stance.pressure_x[i], (1.0 + 18.0 * i / 32) / 20.0, 1e-9, "foot lengths");
    }
    assert_true(stance.has_force && stance.has_pressure && !stance.has_fore_aft);
    CHECK_FAILS(&room.job, hw_pressure_stance(&room.job, &map, 20, room.into, &stance),
                HW_BAD_INPUT, "mass, unit or cell");
    hw_test_close(&room);
}

// The same film with the plate empty before and after, and a last frame of 12 N: the stance is the loaded frames alone.
static void test_pressure__a_film_is_cut_to_the_loaded_frames(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_writer writer = hw_writer_begin(room.into);
    hw_bytes text = {0};
    hw_pressure_map map = {0};
    hw_gait_stance stance = {0};
    for (int f = -7; f < 30; f++) {
        bool is_on = f >= 0 && f < 19;
        for (int row = 0; row < 20; row++)
            hw_writer_print(&writer, is_on && (row == f || row == f + 1) ? "8,8,8,8\n"
                                     : f == 19 && row == 19              ? "1.2,0,0,0\n"
                                                                         : "0,0,0,0\n");
        hw_writer_print(&writer, "\n");
    }
    CHECK_OK(&room.job, hw_writer_end(&room.job, &writer, &text));
    hw_pressure_ask ask = {{0.01, 0.01}, 1e5, 0.04};
    CHECK_OK(&room.job, hw_pressure_read(&room.job, text, &ask, room.into, &map));
    assert_int_equal(map.frames, 37);
    CHECK_OK(&room.job, hw_pressure_stance(&room.job, &map, 80, room.into, &stance));
    CHECK_NEAR(stance.begin_s, 7 * 0.04, 1e-12, "s");
    CHECK_NEAR(stance.end_s, 25 * 0.04, 1e-12, "s");
    for (int i = 0; i < HW_GAIT_INSTANTS; i++) {
        CHECK_NEAR(stance.force_z[i], 640.0 / (80 * 9.80665), 1e-9, "BW");
        CHECK_NEAR(stance.pressure_x[i], (1.0 + 18.0 * i / 32) / 20.0, 1e-9, "foot lengths");
    }
    map.frame_s = 0.1; // 1.8 s would still be a slow step; 4.5 s is standing
    CHECK_OK(&room.job, hw_pressure_stance(&room.job, &map, 80, room.into, &stance));
    map.frame_s = 0.25;
    CHECK_FAILS(&room.job, hw_pressure_stance(&room.job, &map, 80, room.into, &stance),
                HW_BAD_INPUT, "a step lasts");
    hw_test_close(&room);
}

// 70,000 frames of one point: more than the header's 16 bits can say. `said`: how the file says it.
static hw_bytes make_long_c3d(hw_test_room *room, const char *said)
{
    enum { FRAMES = 70000, HEAD = 1024 };
    maker file = make_c3d(INTEL, true);
    size_t count = HEAD + 16 * (size_t)FRAMES;
    unsigned char *bytes = hw_arena_take(room->into, count, 1);
    put_word(&file, 2, 1), put_word(&file, 8, 65535);
    file.at = 516;
    put_entry(&file, "POINT", -1, (const unsigned char[]){0}, 1);
    put_entry(&file, "TRIAL", -2, (const unsigned char[]){0}, 1);
    put_entry(&file, "UNITS", 1, (const unsigned char[]){0xff, 1, 2, 'm', 'm', 0}, 6);
    unsigned char number[7] = {4, 0};
    const float frames = FRAMES;
    memcpy(number + 2, &frames, sizeof frames); // a little-endian machine's float
    if (strcmp(said, "LONG_FRAMES") == 0 || strcmp(said, "FRAMES") == 0)
        put_entry(&file, said, 1, number, 7);
    if (strcmp(said, "ACTUAL_END_FIELD") == 0) {
        const unsigned char first[] = {2, 1, 2, 1, 0, 0, 0, 0};
        const unsigned char last[] = {2, 1, 2, FRAMES & 0xff, FRAMES >> 8 & 0xff, FRAMES >> 16,
                                      0, 0};
        put_entry(&file, "ACTUAL_START_FIELD", 2, first, 8);
        put_entry(&file, said, 2, last, 8);
    }
    memset(bytes, 0, count);
    memcpy(bytes, file.bytes, HEAD);
    maker last = {.processor = INTEL};
    put_float(&last, 0, 123.0F);
    memcpy(bytes + count - 16, last.bytes, 4);
    return (hw_bytes){bytes, count};
}

static void test_c3d__a_long_record_is_whole_or_refused(void **state)
{
    (void)state;
    static const char *const said[] = {"ACTUAL_END_FIELD", "LONG_FRAMES", "FRAMES"};
    for (int i = 0; i < 3; i++) {
        hw_test_room room = hw_test_open();
        hw_gait_record record = {0};
        CHECK_OK(&room.job, hw_gait_read(&room.job, make_long_c3d(&room, said[i]), &in_mm,
                                         room.into, &record));
        assert_int_equal(record.frame_count, 70000);
        CHECK_NEAR(record.points[69999].x, 0.123, 1e-9, "m");
        hw_test_close(&room);
    }
    hw_test_room room = hw_test_open();
    hw_gait_record record = {0};
    CHECK_FAILS(&room.job,
                hw_gait_read(&room.job, make_long_c3d(&room, ""), &in_mm, room.into, &record),
                HW_BAD_FORMAT, "no parameter says how many");
    hw_test_close(&room);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_c3d__six_encodings_say_the_same),
        cmocka_unit_test(test_c3d__a_long_record_is_whole_or_refused),
        cmocka_unit_test(test_c3d__what_cannot_be_is_refused),
        cmocka_unit_test(test_c3d__every_point_equals_the_exported_table),
        cmocka_unit_test(test_gait__the_open_files_are_what_their_readme_says),
        cmocka_unit_test(test_trc__gaps_and_spellings),
        cmocka_unit_test(test_stance__of_the_open_walk),
        cmocka_unit_test(test_stance__of_the_open_c3d_plates),
        cmocka_unit_test(test_arch__of_a_made_walk_sinks_as_it_was_made),
        cmocka_unit_test(test_arch__an_unseen_contact_is_no_height_of_zero),
        cmocka_unit_test(test_arch__markers_out_of_sight_give_no_height),
        cmocka_unit_test(test_pressure__a_print_by_hand),
        cmocka_unit_test(test_pressure__nothing_is_guessed),
        cmocka_unit_test(test_pressure__the_open_steps),
        cmocka_unit_test(test_pressure__a_film_gives_force_and_its_place),
        cmocka_unit_test(test_pressure__a_film_is_cut_to_the_loaded_frames),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
