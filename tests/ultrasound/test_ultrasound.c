// SPDX-License-Identifier: GPL-3.0-or-later
// Lengths and refusals on the open files of shared/data/ultrasound (figures: its README), the tracing of
// bands on made-up pictures of known thickness, and on the two open grabs.
#include "demo/demo.h"
#include "files/files.h"
#include "near.h"
#include "ultrasound/ultrasound.h"

static void read_shared(hw_test_room *room, const char *name, hw_image *out)
{
    const char *path = NULL;
    hw_bytes bytes = {0};
    if (!hw_test_data()) skip();
    CHECK_OK(&room->job, hw_text_format(&room->job, room->into, &path, "%s/ultrasound/%s",
                                        hw_test_data(), name));
    CHECK_OK(&room->job, hw_file_read(&room->job, path, 1u << 28, room->into, &bytes));
    CHECK_OK(&room->job, hw_image_read(&room->job, bytes, room->into, out));
}

static hw_image_region tissue(int left, int top, int right, int bottom, double delta_x,
                              double delta_y)
{
    return (hw_image_region){1, 1, left, top, right, bottom, 3, 3, delta_x, delta_y, true};
}

// A black picture of 640 x 480 with these regions.
static hw_image with_regions(hw_test_room *room, const hw_image_region *regions, int count)
{
    hw_image image = {.columns = 640, .rows = 480, .frames = 1, .region_count = count};
    unsigned char *pixels = hw_arena_take(room->into, (size_t)640 * 480, 3);
    assert_non_null(pixels);
    image.pixels = pixels;
    for (int i = 0; i < count; i++) image.regions[i] = regions[i];
    return image;
}

static hw_status measure(hw_test_room *room, const hw_image *image, const hw_us_ask *ask, double x0,
                         double y0, double x1, double y1, hw_us_caliper *out)
{
    const hw_us_point ends[2] = {{x0, y0}, {x1, y1}};
    return hw_us_measure(&room->job, image, ask, ends, out);
}

// The burnt-in label says 1.06 cm; the cross centres by eye: README.
static void test_measure__the_burnt_in_caliper_comes_out(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0};
    hw_us_caliper caliper = {0};
    const hw_us_ask ask = {0};
    read_shared(&room, "OBXXXX1A_rle.dcm", &image);
    CHECK_OK(&room.job, measure(&room, &image, &ask, 459.5, 290.5, 498.5, 301.5, &caliper));
    CHECK_NEAR(hw_mm_from_m(caliper.length_m), 10.628, 0.0005, "mm");
    assert_int_equal(caliper.scale.from, HW_US_SCALE_REGION);
    assert_null(caliper.scale.warning);
    // The waveform under it counts seconds.
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 200, 530, 300, 540, &caliper), HW_BAD_INPUT,
                "no region of the file that has a scale of length");
    hw_test_close(&room);
}

static void test_measure__a_shrunk_film_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0};
    hw_us_caliper caliper = {0};
    const hw_us_ask ask = {0};
    read_shared(&room, "examples_ybr_color.dcm", &image);
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 100, 100, 150, 150, &caliper),
                HW_BAD_FORMAT, "was shrunk or cut");
    // Nor does a ruler by hand make its own scale trustworthy.
    const hw_us_ask ruler = {.has_ruler = true, .ruler = {{0, 0}, {0, 100}}, .ruler_m = 0.05};
    CHECK_FAILS(&room.job, measure(&room, &image, &ruler, 100, 100, 150, 150, &caliper),
                HW_BAD_FORMAT, "was shrunk or cut");
    hw_test_close(&room);
}

static void test_measure__without_a_scale_there_are_no_millimetres(void **state)
{
    (void)state;
    static const char *const names[] = {"examples_rgb_color.dcm", "color-pl.dcm",
                                        "ExplVR_BigEnd.dcm", "examples_jpeg2k.dcm",
                                        "msk_gastroc_lateral_a.png"};
    hw_test_room room = hw_test_open();
    hw_us_caliper caliper = {0};
    const hw_us_ask ask = {0};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        hw_image image = {0};
        read_shared(&room, names[i], &image);
        CHECK_FAILS(&room.job, measure(&room, &image, &ask, 10, 10, 40, 40, &caliper), HW_BAD_INPUT,
                    "has no scale");
    }
    hw_test_close(&room);
}

static void test_measure__across_two_regions_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0};
    hw_us_caliper caliper = {0};
    const hw_us_ask ask = {0};
    read_shared(&room, "gdcm-US-ALOKA-16.dcm", &image);
    CHECK_OK(&room.job, measure(&room, &image, &ask, 100, 200, 200, 200, &caliper));
    CHECK_NEAR(hw_mm_from_m(caliper.length_m), 38.2653, 0.00005, "mm"); // 100 x 0.0382653 cm
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 300, 200, 400, 200, &caliper), HW_BAD_INPUT,
                "different regions");
    // The grey bar lies inside the left picture's region and has no length of its own: not a fault.
    CHECK_OK(&room.job, measure(&room, &image, &ask, 40, 50, 60, 60, &caliper));
    hw_test_close(&room);
}

// facts/standards.md 2.1: 10*hypot(0.03, 0.04) = 0.5 mm exactly.
static void test_measure__pixels_need_not_be_square(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_us_caliper caliper = {0};
    const hw_us_ask ask = {0};
    const hw_image_region regions[2] = {tissue(0, 0, 319, 479, 0.01, 0.005),
                                        tissue(320, 0, 639, 479, -0.02, 0.01)};
    hw_image image = with_regions(&room, regions, 2);
    CHECK_OK(&room.job, measure(&room, &image, &ask, 100, 100, 103, 108, &caliper));
    CHECK_NEAR(hw_mm_from_m(caliper.length_m), 0.5, 1e-12, "mm");
    // The other half of a dual image has other pixels, and a negative step is a length all the same.
    CHECK_OK(&room.job, measure(&room, &image, &ask, 400, 100, 403, 108, &caliper));
    CHECK_NEAR(hw_mm_from_m(caliper.length_m), 1.0, 1e-12, "mm");
    hw_test_close(&room);
}

static void test_measure__regions_that_cannot_be_are_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_us_caliper caliper = {0};
    const hw_us_ask ask = {0};
    hw_image_region region = tissue(0, 0, 639, 479, 0.01, 0.01);
    region.units_x = 0;
    hw_image image = with_regions(&room, &region, 1);
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 1, 1, 9, 9, &caliper), HW_BAD_INPUT,
                "no scale");
    region = tissue(0, 0, 639, 479, 0.0, 0.01);
    image = with_regions(&room, &region, 1);
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 1, 1, 9, 9, &caliper), HW_BAD_FORMAT,
                "which no picture has");
    region = tissue(0, 0, 639, 479, 0.01, 0.01);
    region.is_complete = false;
    image = with_regions(&room, &region, 1);
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 1, 1, 9, 9, &caliper), HW_BAD_INPUT,
                "no scale");
    const hw_image_region both[2] = {tissue(0, 0, 639, 479, 0.01, 0.01),
                                     tissue(0, 0, 320, 479, 0.02, 0.02)};
    image = with_regions(&room, both, 2);
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 1, 1, 9, 9, &caliper), HW_BAD_INPUT,
                "overlap");
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 1, 1, 900, 9, &caliper), HW_BAD_INPUT,
                "outside the picture");
    hw_test_close(&room);
}

static void test_measure__spacing_counts_when_it_is_meant_for_it(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_us_caliper caliper = {0};
    hw_us_ask ask = {0};
    hw_image image = with_regions(&room, NULL, 0);
    image.row_spacing_m = hw_known(0.2e-3), image.column_spacing_m = hw_known(0.1e-3);
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 0, 0, 10, 0, &caliper), HW_BAD_INPUT,
                "when you confirm");
    ask.is_spacing_confirmed = true;
    CHECK_OK(&room.job, measure(&room, &image, &ask, 0, 0, 10, 0, &caliper));
    CHECK_NEAR(caliper.length_m, 1e-3, 1e-15, "m"); // the column spacing is across
    assert_non_null(caliper.scale.warning);
    ask.has_ruler = true, ask.ruler[1] = (hw_us_point){0, 100}, ask.ruler_m = 0.03;
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 0, 0, 10, 0, &caliper), HW_BAD_INPUT,
                "one of them is wrong");
    ask.ruler_m = 0.0203; // within 3 %
    CHECK_OK(&room.job, measure(&room, &image, &ask, 0, 0, 10, 0, &caliper));
    hw_test_close(&room);
}

// README: 115.5 pixels per cm (0.0866 mm per pixel) and 20.5 pixels per mm (0.0487 mm per pixel).
static void test_measure__rulers_marked_by_hand(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_us_caliper caliper = {0};
    hw_image image = {0};
    read_shared(&room, "msk_gastroc_lateral_a.png", &image);
    hw_us_ask ask = {.has_ruler = true, .ruler = {{795, 59.5}, {795, 521.5}}, .ruler_m = 0.04};
    CHECK_OK(&room.job, measure(&room, &image, &ask, 100, 100, 100, 215.5, &caliper));
    CHECK_NEAR(hw_mm_from_m(caliper.length_m), 10.0, 1e-9, "mm"); // 115.5 pixels
    CHECK_NEAR(hw_mm_from_m(caliper.scale.y_m), 0.0866, 0.00005, "mm");
    read_shared(&room, "msk_gastroc_medial_b.png", &image);
    ask = (hw_us_ask){.has_ruler = true, .ruler = {{5, 204}, {5, 1025}}, .ruler_m = 0.04};
    CHECK_OK(&room.job, measure(&room, &image, &ask, 100, 100, 120.5, 100, &caliper));
    CHECK_NEAR(hw_mm_from_m(caliper.length_m), 1.0, 0.002, "mm"); // 20.5 pixels, by marks of 20.525
    CHECK_NEAR(hw_mm_from_m(caliper.scale.x_m), 0.0487, 0.00005, "mm");
    ask.ruler[1].y = 230;
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 0, 0, 9, 9, &caliper), HW_BAD_INPUT,
                "at least 40 apart");
    ask.ruler[1].y = 1025, ask.ruler_m = 40.0; // millimetres typed for metres
    CHECK_FAILS(&room.job, measure(&room, &image, &ask, 0, 0, 9, 9, &caliper), HW_BAD_INPUT,
                "unit of the depth scale");
    hw_test_close(&room);
}

// -- tracing

// A picture of a random band, in three kinds: brighter, darker, between two bright lines.
static hw_demo_band_order random_band(hw_random *random, int index)
{
    hw_demo_band_order order = hw_demo_band_order_default();
    double contrast = 8.0 + 8.0 * hw_random_uniform(random);
    order.seed = 100 + (uint64_t)index;
    order.thickness_m = (2.0 + 6.0 * hw_random_uniform(random)) * 1e-3;
    order.slope = 0.3 * (hw_random_uniform(random) - 0.5);
    order.depth_m = (5.0 + 3.0 * hw_random_uniform(random)) * 1e-3;
    order.sag_m = 2e-3 * (hw_random_uniform(random) - 0.5);
    order.pixel_m = (0.05 + 0.05 * hw_random_uniform(random)) * 1e-3;
    order.above = -34.0, order.below = -36.0, order.inside = -34.0 + contrast;
    if (index % 3 == 1) order.above = order.below = -24.0, order.inside = -24.0 - contrast;
    if (index % 3 == 2) order.inside = -34.0, order.line = -12.0;
    return order;
}

static hw_us_ask ruler_of(const hw_demo_band_order *order)
{
    return (hw_us_ask){
        .has_ruler = true, .ruler = {{0, 0}, {0, 100}}, .ruler_m = 100.0 * order->pixel_m};
}

// As a person would draw it: about 2.5 mm around the band.
static hw_us_box box_of(const hw_demo_band_order *order, const hw_image *image)
{
    double top = order->height_m, bottom = 0.0, wide = order->width_m / order->pixel_m;
    for (double x = 3e-3; x < 22e-3; x += 1e-3) {
        top = fmin(top, hw_demo_band_edge(order, 0, x));
        bottom = fmax(bottom, hw_demo_band_edge(order, 1, x));
    }
    hw_us_box box =
        hw_us_box_default(0.15 * wide, fmax(0.0, (top - 2.5e-3) / order->pixel_m), 0.85 * wide,
                          fmin(image->rows - 1.0, (bottom + 2.5e-3) / order->pixel_m));
    if (order->line > -60.0) box.edge = HW_US_EDGE_LINE;
    return box;
}

static void test_trace__made_up_bands_of_2_to_8_mm(void **state)
{
    (void)state;
    int count = hw_test_rounds(60), within = 0, covered = 0;
    double bias = 0.0, bias_of[3] = {0};
    hw_random random = hw_random_begin(7);
    for (int i = 0; i < count; i++) {
        hw_test_room room = hw_test_open();
        hw_image image = {0};
        hw_us_traced *trace = NULL;
        hw_demo_band_order order = random_band(&random, i);
        CHECK_OK(&room.job, hw_demo_band(&room.job, &order, room.into, &image));
        const hw_us_ask ask = ruler_of(&order);
        const hw_us_box box = box_of(&order, &image);
        CHECK_OK(&room.job, hw_us_trace(&room.job, &image, &ask, &box, room.into, &trace));
        double error = trace->thickness_m.median - order.thickness_m;
        bias += error / count, bias_of[i % 3] += 3.0 * error / count;
        within += fabs(error) <= 0.4e-3, covered += fabs(error) <= 1.96 * trace->sd_m;
        if (i % 3 < 2) assert_int_equal(trace->brighter_inside[0], i % 3 == 0);
        hw_test_close(&room);
    }
    print_message(
        "%d bands: bias %+.3f mm (bright %+.3f, dark %+.3f, lines %+.3f), %d within 0.4 mm, %d in "
        "their own interval\n",
        count, 1e3 * bias, 1e3 * bias_of[0], 1e3 * bias_of[1], 1e3 * bias_of[2], within, covered);
    CHECK_NEAR(bias, 0.0, 0.1e-3, "m");
    if (count >= 30)
        for (int k = 0; k < 3; k++) CHECK_NEAR(bias_of[k], 0.0, 0.1e-3, "m");
    // docs/ultrasound.md: of 60 all within 0.4 mm, 58 within their own interval. The same input gives the same result.
    assert_int_equal(within, count);
    assert_true(covered >= 58 * count / 60);
}

static void test_trace__the_same_picture_gives_the_same_bits(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0};
    hw_us_traced *one = NULL, *two = NULL;
    hw_demo_band_order order = hw_demo_band_order_default();
    order.width_m = 16e-3;
    CHECK_OK(&room.job, hw_demo_band(&room.job, &order, room.into, &image));
    const hw_us_ask ask = ruler_of(&order);
    const hw_us_box box = hw_us_box_default(30, 70, 170, 190);
    CHECK_OK(&room.job, hw_us_trace(&room.job, &image, &ask, &box, room.into, &one));
    CHECK_OK(&room.job, hw_us_trace(&room.job, &image, &ask, &box, room.into, &two));
    assert_memory_equal(one, two, sizeof *one);
    hw_test_close(&room);
}

static void test_trace__speckle_alone_has_no_edges(void **state)
{
    (void)state;
    for (uint64_t i = 0; i < 2; i++) {
        hw_test_room room = hw_test_open();
        hw_image image = {0};
        hw_us_traced *trace = NULL;
        hw_demo_band_order order = hw_demo_band_order_default();
        order.seed = 500 + i, order.above = order.inside = order.below = -24.0;
        CHECK_OK(&room.job, hw_demo_band(&room.job, &order, room.into, &image));
        const hw_us_ask ask = ruler_of(&order);
        hw_us_box box = hw_us_box_default(40, 60, 200, 170);
        if (i) box.edge = HW_US_EDGE_LINE;
        CHECK_FAILS(&room.job, hw_us_trace(&room.job, &image, &ask, &box, room.into, &trace),
                    HW_NO_ANSWER, "no two edges stand out");
        hw_test_close(&room);
    }
}

static void test_trace__a_correction_is_kept_to(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0};
    hw_us_traced *trace = NULL;
    hw_demo_band_order order = hw_demo_band_order_default();
    order.width_m = 16e-3;
    CHECK_OK(&room.job, hw_demo_band(&room.job, &order, room.into, &image));
    const hw_us_ask ask = ruler_of(&order);
    hw_us_box box = hw_us_box_default(30, 70, 170, 190);
    box.anchor_count = 1,
    box.anchors[0] = (hw_us_anchor){0, {100, 110}}; // the edge lies at row 100
    CHECK_OK(&room.job, hw_us_trace(&room.job, &image, &ask, &box, room.into, &trace));
    double nearest = 1e9;
    for (int i = 0; i < trace->column_count; i++)
        if (fabs(trace->x[i] - 100) < 2.0) nearest = fmin(nearest, fabs(trace->y[0][i] - 110));
    assert_true(nearest < 2.0);
    box.anchors[0].at.y = 300;
    CHECK_FAILS(&room.job, hw_us_trace(&room.job, &image, &ask, &box, room.into, &trace),
                HW_BAD_INPUT, "correction");
    box.anchors[0].at.y = 180;                                           // upper edge below
    box.anchor_count = 2, box.anchors[1] = (hw_us_anchor){1, {100, 90}}; // the lower one
    CHECK_FAILS(&room.job, hw_us_trace(&room.job, &image, &ask, &box, room.into, &trace),
                HW_BAD_INPUT, "no two edges keep to");
    hw_test_close(&room);
}

static void test_trace__no_scale_or_no_room_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_image image = {0};
    hw_us_traced *trace = NULL;
    hw_demo_band_order order = hw_demo_band_order_default();
    order.width_m = 16e-3;
    CHECK_OK(&room.job, hw_demo_band(&room.job, &order, room.into, &image));
    hw_us_ask ask = {0};
    hw_us_box box = hw_us_box_default(30, 70, 170, 190);
    CHECK_FAILS(&room.job, hw_us_trace(&room.job, &image, &ask, &box, room.into, &trace),
                HW_BAD_INPUT, "has no scale");
    ask = ruler_of(&order);
    box.right = 40;
    CHECK_FAILS(&room.job, hw_us_trace(&room.job, &image, &ask, &box, room.into, &trace),
                HW_BAD_INPUT, "3 mm wide");
    ask.frame = 1, box.right = 170;
    CHECK_FAILS(&room.job, hw_us_trace(&room.job, &image, &ask, &box, room.into, &trace),
                HW_BAD_INPUT, "no frame 2");
    hw_test_close(&room);
}

// Where a person sees the two bright layers of the calf, rows read off the pictures by eye at five columns, to
// be met within 1.2 mm, about the layers' own thickness.
static void test_trace__the_layers_of_two_open_grabs(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        double box[4], pixel, range[2];
        double seen[5][3]; // column, upper layer, lower layer
    } grabs[] = {
        {"msk_gastroc_lateral_a.png",
         {130, 110, 670, 510},
         10e-3 / 115.5,
         {15e-3, 30e-3},
         {{160, 141, 380}, {260, 153, 400}, {400, 165, 433}, {500, 174, 448}, {640, 181, 458}}},
        {"msk_gastroc_medial_b.png",
         {70, 200, 1000, 800},
         1e-3 / 20.5,
         {8e-3, 25e-3},
         {{160, 366, 632}, {300, 343, 620}, {450, 327, 619}, {600, 305, 617}, {930, 270, 655}}},
    };
    for (int g = 0; g < 2; g++) {
        hw_test_room room = hw_test_open();
        hw_image image = {0};
        hw_us_traced *trace = NULL;
        read_shared(&room, grabs[g].name, &image);
        hw_us_ask ask = {
            .has_ruler = true, .ruler = {{0, 0}, {0, 400}}, .ruler_m = 400 * grabs[g].pixel};
        const double *at = grabs[g].box;
        hw_us_box box = hw_us_box_default(at[0], at[1], at[2], at[3]);
        box.least_m = grabs[g].range[0], box.most_m = grabs[g].range[1], box.edge = HW_US_EDGE_LINE;
        CHECK_OK(&room.job, hw_us_trace(&room.job, &image, &ask, &box, room.into, &trace));
        for (int k = 0; k < 5; k++)
            for (int i = 0; i < trace->column_count; i++) {
                if (fabs(trace->x[i] - grabs[g].seen[k][0]) > 2.0) continue;
                for (int e = 0; e < 2; e++)
                    CHECK_NEAR(trace->y[e][i] * grabs[g].pixel,
                               grabs[g].seen[k][1 + e] * grabs[g].pixel, 1.2e-3, "m");
            }
        hw_test_close(&room);
    }
}

// -- readings

static void test_accept__both_edges_or_nothing(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_us_reading reading = {0};
    hw_us_traced trace = {.thickness_m = {.median = 4e-3, .known = true}, .sd_m = 0.1e-3};
    CHECK_FAILS(&room.job, hw_us_accept(&room.job, &trace, (const bool[2]){true, false}, &reading),
                HW_BAD_INPUT, "deep edge is not accepted");
    CHECK_FAILS(&room.job, hw_us_accept(&room.job, &trace, (const bool[2]){false, true}, &reading),
                HW_BAD_INPUT, "superficial edge is not accepted");
    assert_false(reading.is_accepted);
    CHECK_OK(&room.job, hw_us_accept(&room.job, &trace, (const bool[2]){true, true}, &reading));
    assert_true(reading.is_accepted && reading.thickness_m == 4e-3);
    hw_test_close(&room);
}

static void test_compare__only_like_with_like(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_us_change change = {0};
    const hw_us_reading before = {HW_SIDE_LEFT, HW_US_SITE_ORIGIN, HW_US_PLANE_LONG, 5e-3, 0.1e-3,
                                  true};
    hw_us_reading after = before;
    after.thickness_m = 4.5e-3;
    CHECK_OK(&room.job, hw_us_compare(&room.job, &before, &after, &change));
    CHECK_NEAR(change.change_m, -0.5e-3, 1e-12, "m");
    CHECK_NEAR(change.half_width_95_m, 1.96 * sqrt(2.0) * 0.1e-3, 1e-9, "m");
    assert_true(change.is_beyond_tracing);
    after.side = HW_SIDE_RIGHT;
    CHECK_FAILS(&room.job, hw_us_compare(&room.job, &before, &after, &change), HW_BAD_INPUT,
                "right");
    after = before, after.site = HW_US_SITE_MIDFOOT;
    CHECK_FAILS(&room.job, hw_us_compare(&room.job, &before, &after, &change), HW_BAD_INPUT,
                "sites differ");
    after = before, after.plane = HW_US_PLANE_SHORT;
    CHECK_FAILS(&room.job, hw_us_compare(&room.job, &before, &after, &change), HW_BAD_INPUT,
                "planes differ");
    after = before, after.plane = HW_US_PLANE_UNKNOWN;
    CHECK_FAILS(&room.job, hw_us_compare(&room.job, &after, &after, &change), HW_BAD_INPUT,
                "unknown");
    after = before, after.is_accepted = false;
    CHECK_FAILS(&room.job, hw_us_compare(&room.job, &before, &after, &change), HW_BAD_INPUT,
                "nobody accepted");
    hw_test_close(&room);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_measure__the_burnt_in_caliper_comes_out),
        cmocka_unit_test(test_measure__a_shrunk_film_is_refused),
        cmocka_unit_test(test_measure__without_a_scale_there_are_no_millimetres),
        cmocka_unit_test(test_measure__across_two_regions_is_refused),
        cmocka_unit_test(test_measure__pixels_need_not_be_square),
        cmocka_unit_test(test_measure__regions_that_cannot_be_are_refused),
        cmocka_unit_test(test_measure__spacing_counts_when_it_is_meant_for_it),
        cmocka_unit_test(test_measure__rulers_marked_by_hand),
        cmocka_unit_test(test_trace__made_up_bands_of_2_to_8_mm),
        cmocka_unit_test(test_trace__the_same_picture_gives_the_same_bits),
        cmocka_unit_test(test_trace__speckle_alone_has_no_edges),
        cmocka_unit_test(test_trace__a_correction_is_kept_to),
        cmocka_unit_test(test_trace__no_scale_or_no_room_is_refused),
        cmocka_unit_test(test_trace__the_layers_of_two_open_grabs),
        cmocka_unit_test(test_accept__both_edges_or_nothing),
        cmocka_unit_test(test_compare__only_like_with_like),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
