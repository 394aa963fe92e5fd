// SPDX-License-Identifier: GPL-3.0-or-later
// The letters on the underside, read back from the written file by an alphabet of the test's own: the 5 x 7
// dots of displays (common practice), where those have several forms of a letter the one that is ours.
#include "demo/demo.h"
#include "suites.h"
#include "written.h"

// Rows from the top, five bits each.
typedef struct dots {
    char letter;
    unsigned char rows[7];
} dots;

static const dots alphabet[] = {
    {'A', {0x04, 0x0a, 0x11, 0x11, 0x1f, 0x11, 0x11}},
    {'B', {0x1e, 0x11, 0x11, 0x1e, 0x11, 0x11, 0x1e}},
    {'C', {0x0e, 0x11, 0x10, 0x10, 0x10, 0x11, 0x0e}},
    {'D', {0x1c, 0x12, 0x11, 0x11, 0x11, 0x12, 0x1c}},
    {'E', {0x1f, 0x10, 0x10, 0x1e, 0x10, 0x10, 0x1f}},
    {'F', {0x1f, 0x10, 0x10, 0x1e, 0x10, 0x10, 0x10}},
    {'G', {0x0e, 0x11, 0x10, 0x17, 0x11, 0x11, 0x0e}},
    {'H', {0x11, 0x11, 0x11, 0x1f, 0x11, 0x11, 0x11}},
    {'I', {0x04, 0x04, 0x04, 0x04, 0x04, 0x04, 0x04}},
    {'J', {0x01, 0x01, 0x01, 0x01, 0x01, 0x11, 0x0e}},
    {'K', {0x11, 0x12, 0x14, 0x18, 0x14, 0x12, 0x11}},
    {'L', {0x10, 0x10, 0x10, 0x10, 0x10, 0x10, 0x1f}},
    {'M', {0x11, 0x1b, 0x15, 0x15, 0x11, 0x11, 0x11}},
    {'N', {0x11, 0x11, 0x19, 0x15, 0x13, 0x11, 0x11}},
    {'O', {0x0e, 0x11, 0x11, 0x11, 0x11, 0x11, 0x0e}},
    {'P', {0x1e, 0x11, 0x11, 0x1e, 0x10, 0x10, 0x10}},
    {'Q', {0x0e, 0x11, 0x11, 0x11, 0x15, 0x12, 0x0d}},
    {'R', {0x1e, 0x11, 0x11, 0x1e, 0x14, 0x12, 0x11}},
    {'S', {0x0e, 0x11, 0x10, 0x0e, 0x01, 0x11, 0x0e}},
    {'T', {0x1f, 0x04, 0x04, 0x04, 0x04, 0x04, 0x04}},
    {'U', {0x11, 0x11, 0x11, 0x11, 0x11, 0x11, 0x0e}},
    {'V', {0x11, 0x11, 0x11, 0x11, 0x11, 0x0a, 0x04}},
    {'W', {0x11, 0x11, 0x11, 0x15, 0x15, 0x15, 0x0a}},
    {'X', {0x11, 0x11, 0x0a, 0x04, 0x0a, 0x11, 0x11}},
    {'Y', {0x11, 0x11, 0x0a, 0x04, 0x04, 0x04, 0x04}},
    {'Z', {0x1f, 0x01, 0x02, 0x04, 0x08, 0x10, 0x1f}},
    {'0', {0x0e, 0x11, 0x13, 0x15, 0x19, 0x11, 0x0e}},
    {'1', {0x04, 0x0c, 0x04, 0x04, 0x04, 0x04, 0x0e}},
    {'2', {0x0e, 0x11, 0x01, 0x02, 0x04, 0x08, 0x1f}},
    {'3', {0x0e, 0x11, 0x01, 0x06, 0x01, 0x11, 0x0e}},
    {'4', {0x02, 0x06, 0x0a, 0x12, 0x1f, 0x02, 0x02}},
    {'5', {0x1f, 0x10, 0x10, 0x1e, 0x01, 0x11, 0x0e}},
    {'6', {0x0e, 0x11, 0x10, 0x1e, 0x11, 0x11, 0x0e}},
    {'7', {0x1f, 0x01, 0x02, 0x04, 0x04, 0x08, 0x08}},
    {'8', {0x0e, 0x11, 0x11, 0x0e, 0x11, 0x11, 0x0e}},
    {'9', {0x0e, 0x11, 0x11, 0x0f, 0x01, 0x11, 0x0e}},
    {'-', {0x00, 0x00, 0x00, 0x0e, 0x00, 0x00, 0x00}},
};
enum { ALPHABET = sizeof alphabet / sizeof *alphabet, LONGEST = 40 };

// The letters as one sees them who looks straight at them: right is towards the toes, up is up for a reader
// from below.
enum { WIDE = 480, HIGH = 72 };
static const double dot = 0.00015; // m
typedef struct picture {
    bool ink[HIGH][WIDE];
    double raised; // m, the most
} picture;

// Turns the left foot's frame so that all that stands out of the plain surface lies about (0.1, 0) and faces
// straight down.
static hw_pose facing(const written *marked, const written *plain)
{
    const double step = 0.0012, reach = 0.008; // m
    double count = 0.0, x = 0.0, y = 0.0;
    for (double at = 0.04; at < 0.20; at += step)
        for (double across = -0.05; across < 0.05; across += step) {
            double was = written_height(plain, at, across, false);
            if (!(fabs(was - written_height(marked, at, across, false)) > 0.0001)) continue;
            x += at, y += across, count += 1.0;
        }
    assert_true(count > 10.0);
    x /= count, y /= count;
    double along =
        written_height(plain, x + reach, y, false) - written_height(plain, x - reach, y, false);
    double across =
        written_height(plain, x, y + reach, false) - written_height(plain, x, y - reach, false);
    hw_vec3 right = hw_vec3_unit((hw_vec3){2.0 * reach, 0.0, along});
    hw_vec3 in = hw_vec3_unit(hw_vec3_cross(right, (hw_vec3){0.0, 2.0 * reach, across}));
    hw_vec3 left = hw_vec3_cross(in, right);
    hw_vec3 middle = {x, y, written_height(plain, x, y, false)};
    hw_pose pose = hw_pose_identity();
    const hw_vec3 rows[3] = {right, left, in};
    for (int k = 0; k < 3; k++)
        pose.rotation[3 * k] = rows[k].x, pose.rotation[3 * k + 1] = rows[k].y,
                          pose.rotation[3 * k + 2] = rows[k].z;
    pose.shift = (hw_vec3){0.1 - hw_vec3_dot(right, middle), -hw_vec3_dot(left, middle),
                           -hw_vec3_dot(in, middle)};
    return pose;
}

static void look(hw_test_room *room, const written *marked, const written *plain, hw_side side,
                 picture *out)
{
    hw_pose pose = facing(marked, plain);
    double up = side == HW_SIDE_LEFT ? -1.0 : 1.0; // in y of the left foot's frame
    written before = {0}, after = {0};
    CHECK_OK(&room->job, written_turned(&room->job, plain, &pose, room->into, &before));
    CHECK_OK(&room->job, written_turned(&room->job, marked, &pose, room->into, &after));
    memset(out, 0, sizeof *out);
    for (int r = 0; r < HIGH; r++)
        for (int c = 0; c < WIDE; c++) {
            double x = 0.1 + dot * (c - WIDE / 2), y = up * dot * (r - HIGH / 2);
            double rise =
                written_height(&before, x, y, false) - written_height(&after, x, y, false);
            out->ink[r][c] = rise > 0.0004;
            if (rise > out->raised) out->raised = rise;
        }
}

static bool column_has_ink(const picture *of, int c)
{
    for (int r = 0; r < HIGH; r++)
        if (of->ink[r][c]) return true;
    return false;
}

// Lowest and highest row with ink from a column to another; false where there is none.
static bool rows_of(const picture *of, int from, int to, int rows[2])
{
    rows[0] = HIGH, rows[1] = -1;
    for (int r = 0; r < HIGH; r++)
        for (int c = from < 0 ? 0 : from; c <= to && c < WIDE; c++)
            if (of->ink[r][c]) rows[0] = r < rows[0] ? r : rows[0], rows[1] = r;
    return rows[1] >= 0;
}

static char nearest_letter(bool seen[7][5])
{
    int best = 99, second = 99;
    char letter = '?';
    for (int n = 0; n < ALPHABET; n++) {
        int differ = 0;
        for (int r = 0; r < 7; r++)
            for (int c = 0; c < 5; c++)
                differ += seen[r][c] != (bool)(alphabet[n].rows[r] >> (4 - c) & 1);
        if (differ < best)
            second = best, best = differ, letter = alphabet[n].letter;
        else if (differ < second)
            second = differ;
    }
    return best < second ? letter : '?'; // two as near: not to be read
}

// A line is 1.1 mm wide where it is 0.4 mm high.
static double unit_of(const int rows[2])
{
    return (rows[1] - rows[0] - 0.0011 / dot) / 6.0; // dots
}

// One letter between two columns, looked at in 7 rows of 5 points. The surface bends along the text, so that
// each letter has its own line; a low one has its neighbours'.
static char read_letter(const picture *of, int from, int to, double about)
{
    bool seen[7][5];
    int beside = (int)(7.0 * about), rows[2];
    double middle = 0.5 * (from + to);
    rows_of(of, from, to, rows);
    if (unit_of(rows) < 0.8 * about) rows_of(of, from - beside, to + beside, rows);
    double unit = unit_of(rows), across = (to - from - 0.0011 / dot) / 4.0;
    if (fabs(across - unit) > 0.25 * unit) across = unit; // a narrow letter
    for (int r = 0; r < 7; r++)
        for (int c = 0; c < 5; c++) {
            bool is_corner = r % 3 == 0 && c % 4 == 0; // a cut corner is told further out
            double outer = is_corner ? 1.1 : 1.0;
            int column = (int)lround(middle + outer * (c - 2) * across);
            int row = (int)lround(0.5 * (rows[0] + rows[1]) + outer * (3 - r) * unit);
            bool is_in = column >= 0 && column < WIDE && row >= 0 && row < HIGH;
            seen[r][c] = is_in && of->ink[row][column];
        }
    return nearest_letter(seen);
}

static void read_text(const picture *of, char out[LONGEST])
{
    int count = 0, last = -1, rows[2];
    *out = 0;
    if (!rows_of(of, 0, WIDE - 1, rows)) return;
    double unit = unit_of(rows);
    for (int c = 0; c < WIDE && count < LONGEST - 2; c++) {
        if (!column_has_ink(of, c)) continue;
        int from = c;
        while (c < WIDE && column_has_ink(of, c)) c++;
        if (last >= 0 && from - last > 4.2 * unit) out[count++] = ' ';
        out[count++] = read_letter(of, from, c - 1, unit);
        last = c - 1;
    }
    out[count] = 0;
}

static hw_foot foot_of(hw_test_room *room, hw_side side, int seed)
{
    hw_demo_foot_order order = hw_demo_foot_order_default();
    hw_foot foot = {0};
    order.side = side, order.seed = (uint64_t)seed;
    CHECK_OK(&room->job, hw_demo_posed(&room->job, &order, room->into, &foot));
    return foot;
}

// Writes, reads back, and compares the text with what was to stand there.
static void check_text(hw_side side, const char *code, const char *want, double thickness_m)
{
    static picture seen;
    hw_test_room room = hw_test_open();
    hw_job *job = &room.job;
    hw_foot foot = foot_of(&room, side, 3);
    hw_orthosis_order order = hw_orthosis_order_default(foot.loading);
    written plain = {0}, marked = {0};
    hw_mesh_faults faults = {0};
    hw_mesh_crossings crossings = {0};
    char text[LONGEST];
    order.shell_thickness_m = thickness_m;
    hw_orthosis device = built(&room, &foot, &order);
    CHECK_OK(job, written_of(job, &foot, &device, false, room.into, &plain));
    CHECK_OK(job, hw_orthosis_emboss(job, &foot, code, room.into, &device));
    CHECK_OK(job, written_of(job, &foot, &device, side == HW_SIDE_RIGHT, room.into, &marked));
    look(&room, &marked, &plain, side, &seen);
    read_text(&seen, text);
    print_message("%s, letters of %.1f mm\n", text, hw_mm_from_m(device.mark_height_m));
    assert_string_equal(text, want);
    assert_string_equal(device.mark, want);
    CHECK_NEAR(seen.raised, 0.0006, 0.0001, "m");
    CHECK_OK(job, hw_mesh_check(job, &marked.mesh, &faults));
    CHECK_OK(job, hw_mesh_cross(job, &marked.mesh, &crossings));
    assert_int_equal(faults.open_edges + faults.crowded_edges + faults.clashing_edges +
                         faults.flat_triangles + faults.double_points + faults.loose_points +
                         crossings.count,
                     0);
    // who holds it up to a mirror does not read it
    for (int r = 0; r < HIGH / 2; r++)
        for (int c = 0; c < WIDE; c++) {
            bool kept = seen.ink[r][c];
            seen.ink[r][c] = seen.ink[HIGH - 1 - r][c], seen.ink[HIGH - 1 - r][c] = kept;
        }
    read_text(&seen, text);
    assert_string_not_equal(text, want);
    hw_test_close(&room);
}

static void test_emboss__side_and_code_are_read_back_from_the_file(void **state)
{
    (void)state;
    check_text(HW_SIDE_LEFT, "HB-0042", "L HB-0042", 0.004);
    check_text(HW_SIDE_RIGHT, "hb-0042", "R HB-0042", 0.003);
}

static void test_emboss__every_letter_can_be_told(void **state)
{
    (void)state;
#if defined(__SANITIZE_ADDRESS__) || defined(__clang__)
    skip(); // slow: the first compiler's plain build reads the whole alphabet
#endif
    static const char *const codes[] = {"ABCDEFG", "HIJKLMN", "OPQRSTU",
                                        "VWXYZ-1", "0123456", "789-B8S"};
    for (int k = 0; k < (int)(sizeof codes / sizeof *codes); k++) {
        char want[LONGEST];
        snprintf(want, sizeof want, "%c %s", k % 2 ? 'R' : 'L', codes[k]);
        check_text(k % 2 ? HW_SIDE_RIGHT : HW_SIDE_LEFT, codes[k], want, 0.003);
    }
}

// Nothing but the underside of the arch moves, and only outwards.
static void test_emboss__the_rest_stays_to_the_last_bit(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_foot foot = foot_of(&room, HW_SIDE_LEFT, 3);
    hw_orthosis_order order = hw_orthosis_order_default(foot.loading);
    hw_orthosis device = built(&room, &foot, &order);
    const int grid = device.nu * device.nv;
    CHECK_OK(&room.job, hw_orthosis_emboss(&room.job, &foot, "HB-0042", room.into, &device));
    assert_int_equal(memcmp(device.marked.triangles, device.solid.triangles,
                            (size_t)device.top_triangle_count * sizeof *device.solid.triangles),
                     0);
    int moved = 0;
    for (int k = 0; k < device.solid.point_count; k++) {
        hw_vec3 was = device.solid.points[k], is = device.marked.points[k];
        if (memcmp(&was, &is, sizeof was) == 0) continue;
        moved++;
        assert_true(k >= grid && k < 2 * grid && is.z < was.z);
        assert_true(was.x > 0.25 * 0.15 && hw_vec3_distance(was, is) < 0.00061);
    }
    assert_true(moved > 10);
    double added = hw_mesh_volume(&device.marked) - hw_mesh_volume(&device.solid);
    // The strokes of this text by hand: 128 mm at 6 mm letters, 1.2 mm wide at half their 0.6 mm.
    CHECK_NEAR(device.mark_height_m, 0.006, 1e-12, "m");
    CHECK_NEAR(added, 128e-3 * 1.2e-3 * 0.6e-3, 0.08 * 92e-9, "m3");
    hw_test_close(&room);
}

static void test_emboss__what_cannot_be_lettered_is_refused_by_name(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_job *job = &room.job;
    hw_foot foot = foot_of(&room, HW_SIDE_LEFT, 3);
    hw_orthosis_order order = hw_orthosis_order_default(foot.loading);
    hw_orthosis device = built(&room, &foot, &order);
    CHECK_FAILS(job, hw_orthosis_emboss(job, &foot, "H\xc3\x84-1", room.into, &device),
                HW_BAD_INPUT, "no letter");
    CHECK_FAILS(job, hw_orthosis_emboss(job, &foot, "HB-0000000000000000042", room.into, &device),
                HW_BAD_INPUT, "no such room");
    assert_null(device.mark);
    order.is_embossed = true;
    hw_orthosis_order_of_material(&order, HW_SHELL_EVA);
    CHECK_FAILS(job, hw_orthosis_check(job, &foot, &order), HW_BAD_INPUT, "embossing");
    order = hw_orthosis_order_default(foot.loading);
    order.is_embossed = true, order.length = HW_ORTHOSIS_HEEL_CUP;
    CHECK_FAILS(job, hw_orthosis_check(job, &foot, &order), HW_BAD_INPUT, "embossing");
    hw_test_close(&room);
}

int run_emboss_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_emboss__side_and_code_are_read_back_from_the_file),
        cmocka_unit_test(test_emboss__every_letter_can_be_told),
        cmocka_unit_test(test_emboss__the_rest_stays_to_the_last_bit),
        cmocka_unit_test(test_emboss__what_cannot_be_lettered_is_refused_by_name),
    };
    return cmocka_run_group_tests_name("emboss", tests, NULL, NULL);
}
