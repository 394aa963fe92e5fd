// SPDX-License-Identifier: GPL-3.0-or-later
// Ultrasound pictures: what the file says, calipers, the traced band.
#include "cli/cli.h"

#include <stdio.h>
#include <string.h>

// As many numbers, parted by commas; false for anything else.
static bool read_numbers(const char *text, int count, double *out)
{
    for (int i = 0; i < count; i++) {
        size_t length = strcspn(text, ",");
        if (!hw_text_number(text, length, &out[i])) return false;
        text += length;
        if (*text != (i + 1 < count ? ',' : 0)) return false;
        text++;
    }
    return true;
}

static bool read_edges(const char *text, hw_us_edge *out)
{
    *out = strcmp(text, "lines") == 0 ? HW_US_EDGE_LINE : HW_US_EDGE_STEP;
    return strcmp(text, "lines") == 0 || strcmp(text, "steps") == 0;
}

bool cli_image_option(const char *option, const char *value, hw_image_ask *ask, bool *is_one)
{
    double n[5] = {0};
    hw_us_box *box = &ask->box;
    *is_one = true;
    if (strcmp(option, "--edges") == 0) return read_edges(value, &box->edge);
    if (strcmp(option, "--frame") == 0) {
        bool is_read = read_numbers(value, 1, n) && n[0] >= 1.0 && n[0] <= 1e5;
        ask->measure.frame = (int)n[0] - 1;
        return is_read && n[0] == (int)n[0];
    }
    if (strcmp(option, "--caliper") == 0) {
        ask->has_caliper = read_numbers(value, 4, n);
        for (int i = 0; i < 2; i++) ask->caliper[i] = (hw_us_point){n[2 * i], n[2 * i + 1]};
        return ask->has_caliper;
    }
    if (strcmp(option, "--ruler") == 0) {
        ask->measure.has_ruler = read_numbers(value, 5, n);
        for (int i = 0; i < 2; i++) ask->measure.ruler[i] = (hw_us_point){n[2 * i], n[2 * i + 1]};
        ask->measure.ruler_m = hw_m_from_mm(n[4]);
        return ask->measure.has_ruler;
    }
    if (strcmp(option, "--box") == 0) {
        const hw_us_box before = *box; // what other options have said already
        ask->has_box = read_numbers(value, 4, n);
        *box = hw_us_box_default(n[0], n[1], n[2], n[3]);
        box->edge = before.edge;
        if (before.site_x > 0.0) box->site_x = before.site_x;
        if (before.most_m > 0.0) box->least_m = before.least_m, box->most_m = before.most_m;
        return ask->has_box;
    }
    if (strcmp(option, "--site") == 0) return read_numbers(value, 1, &box->site_x);
    if (strcmp(option, "--thickness") == 0) {
        bool is_read = read_numbers(value, 2, n);
        box->least_m = hw_m_from_mm(n[0]), box->most_m = hw_m_from_mm(n[1]);
        return is_read;
    }
    *is_one = false;
    return false;
}

static void print_scale(const hw_us_scale *scale)
{
    printf("  scale: %s, %.4f x %.4f mm a pixel%s%s\n", hw_us_scale_word(scale->from),
           hw_mm_from_m(scale->x_m), hw_mm_from_m(scale->y_m), scale->warning ? "; " : "",
           scale->warning ? scale->warning : "");
}

static void print_image(const hw_image_result *result)
{
    const hw_image *image = &result->image;
    printf("%s, %d x %d pixels, %d frame%s, %d region%s\n", image->about.kind, image->columns,
           image->rows, image->frames, image->frames == 1 ? "" : "s", image->region_count,
           image->region_count == 1 ? "" : "s");
    if (result->ask.has_caliper) {
        const hw_us_caliper *caliper = &result->caliper;
        printf("caliper %.2f mm, 95 %% within %.2f mm\n", hw_mm_from_m(caliper->length_m),
               hw_mm_from_m(1.96 * caliper->sd_m));
        print_scale(&caliper->scale);
    }
    if (result->trace) {
        const hw_us_traced *trace = result->trace;
        printf("thickness at the site %.2f mm, 95 %% within %.2f mm; along the trace %.2f to %.2f "
               "mm\n",
               hw_mm_from_m(trace->thickness_m.median), hw_mm_from_m(1.96 * trace->sd_m),
               hw_mm_from_m(trace->least_m), hw_mm_from_m(trace->most_m));
        print_scale(&trace->scale);
        printf(
            "  a proposal, not validated on plantar fascia: look at both edges before it counts\n");
    }
}

hw_status cli_image(cli_room *room, const cli_words *words)
{
    hw_image_result result = {0};
    hw_bytes text = {0};
    HW_TRY(hw_app_image_at(&room->job, words->subject, &words->image, room->into, &result));
    if (words->out) {
        hw_file_set files = {0};
        HW_TRY(hw_app_image_png(&room->job, &result, room->into, &text));
        HW_TRY(hw_file_set_add(&room->job, &files, "image.png", text));
        HW_TRY(hw_file_set_write(&room->job, &files, words->out));
    }
    if (!words->is_json) {
        print_image(&result);
        return HW_OK;
    }
    HW_TRY(hw_report_image_json(&room->job, &result, room->into, &text));
    return cli_print(room, text);
}
