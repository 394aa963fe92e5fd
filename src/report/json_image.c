// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

static const char validated[] = "The assistant is not validated on plantar fascia. Look at both "
                                "edges; a thickness counts only when a "
                                "clinician has accepted both.";

static void write_scale(hw_json_out *out, const hw_us_scale *scale)
{
    hw_json_open(out, "scale", '{');
    hw_json_text(out, "from", hw_us_scale_word(scale->from));
    hw_json_number(out, "mm_per_pixel_x", hw_mm_from_m(scale->x_m), 6);
    hw_json_number(out, "mm_per_pixel_y", hw_mm_from_m(scale->y_m), 6);
    if (scale->region >= 0) hw_json_int(out, "region", scale->region + 1);
    hw_json_text(out, "warning", scale->warning);
    hw_json_close(out);
}

static void write_about(hw_json_out *out, const hw_image *image)
{
    const hw_image_about *about = &image->about;
    hw_json_text(out, "kind", about->kind);
    hw_json_int(out, "columns", image->columns);
    hw_json_int(out, "rows", image->rows);
    hw_json_int(out, "frames", image->frames);
    hw_json_bool(out, "is_lossy", image->is_lossy);
    hw_json_open(out, "file_says", '{');
    hw_json_text(out, "patient_name", about->patient_name);
    hw_json_text(out, "patient_id", about->patient_id);
    hw_json_text(out, "birth_date", about->birth_date);
    hw_json_text(out, "study_date", about->study_date);
    hw_json_text(out, "laterality", about->laterality);
    hw_json_text(out, "body_part", about->body_part);
    hw_json_text(out, "burned_in", about->burned_in);
    hw_json_close(out);
}

static void write_regions(hw_json_out *out, const hw_image *image)
{
    hw_json_open(out, "regions", '[');
    for (int i = 0; i < image->region_count; i++) {
        const hw_image_region *region = &image->regions[i];
        const int32_t place[4] = {region->min_x, region->min_y, region->max_x, region->max_y};
        hw_json_open(out, NULL, '{');
        hw_json_int(out, "spatial_format", region->spatial_format);
        hw_json_open(out, "place_pixels", '[');
        for (int k = 0; k < 4; k++) hw_json_int(out, NULL, place[k]);
        hw_json_close(out);
        hw_json_int(out, "units_x", region->units_x);
        hw_json_int(out, "units_y", region->units_y);
        hw_json_number(out, "delta_x", region->delta_x, 12);
        hw_json_number(out, "delta_y", region->delta_y, 12);
        hw_json_close(out);
    }
    hw_json_close(out);
}

// What the file says of its pixels outside any region, and whether it says that this is meant for
// lengths.
static void write_spacing(hw_json_out *out, const hw_image *image)
{
    if (!image->row_spacing_m.known || !image->column_spacing_m.known) return;
    hw_json_open(out, "pixel_spacing", '{');
    hw_json_number(out, "between_rows_mm", hw_mm_from_m(image->row_spacing_m.value), 4);
    hw_json_number(out, "between_columns_mm", hw_mm_from_m(image->column_spacing_m.value), 4);
    hw_json_bool(out, "is_calibrated", image->is_spacing_calibrated);
    hw_json_close(out);
}

static void write_caliper(hw_json_out *out, const hw_us_caliper *caliper)
{
    hw_json_open(out, "caliper", '{');
    hw_json_open(out, "ends_pixels", '[');
    for (int i = 0; i < 2; i++) {
        hw_json_number(out, NULL, caliper->ends[i].x, 2);
        hw_json_number(out, NULL, caliper->ends[i].y, 2);
    }
    hw_json_close(out);
    hw_json_number(out, "length_mm", hw_mm_from_m(caliper->length_m), 3);
    hw_json_number(out, "half_width_95_mm", hw_mm_from_m(1.96 * caliper->sd_m), 3);
    write_scale(out, &caliper->scale);
    hw_json_close(out);
}

static void write_share(hw_json_out *out, const char *key, double value)
{
    if (value < 0.0)
        hw_json_null(out, key);
    else
        hw_json_number(out, key, value, 3);
}

static void write_edge(hw_json_out *out, const char *key, const hw_us_traced *trace, int edge)
{
    hw_json_open(out, key, '[');
    for (int i = 0; i < trace->column_count; i++) {
        hw_json_open(out, NULL, '[');
        hw_json_number(out, NULL, trace->x[i], 1);
        hw_json_number(out, NULL, trace->y[edge][i], 2);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void write_trace(hw_json_out *out, const hw_us_traced *trace)
{
    bool is_line = trace->edge == HW_US_EDGE_LINE;
    hw_json_open(out, "trace", '{');
    hw_json_text(out, "note", validated);
    hw_json_number(out, "thickness_mm", hw_mm_from_m(trace->thickness_m.median), 2);
    hw_json_number(out, "half_width_95_mm", hw_mm_from_m(1.96 * trace->sd_m), 2);
    hw_json_band(out, "repeats_mm", trace->thickness_m, HW_MM_PER_M, 3);
    hw_json_int(out, "repeats", trace->repeat_count);
    hw_json_number(out, "site_x_pixels", trace->box.site_x, 1);
    hw_json_number(out, "least_mm", hw_mm_from_m(trace->least_m), 2);
    hw_json_number(out, "most_mm", hw_mm_from_m(trace->most_m), 2);
    hw_json_number(out, "mean_mm", hw_mm_from_m(trace->mean_m), 2);
    write_share(out, "echo_ratio", trace->echo_ratio);
    write_share(out, "dark_share", trace->dark_share);
    hw_json_number(out, "strength", trace->strength, 2);
    hw_json_text(out, "edges", is_line ? "lines" : "steps");
    if (!is_line) {
        hw_json_bool(out, "brighter_inside_superficial", trace->brighter_inside[0]);
        hw_json_bool(out, "brighter_inside_deep", trace->brighter_inside[1]);
    }
    write_scale(out, &trace->scale);
    write_edge(out, "superficial_edge_pixels", trace, 0);
    write_edge(out, "deep_edge_pixels", trace, 1);
    hw_json_close(out);
}

hw_status hw_report_image_json(hw_job *job, const hw_image_result *result, hw_arena *into,
                               hw_bytes *out)
{
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    write_about(&json, &result->image);
    hw_json_int(&json, "frame", result->ask.measure.frame + 1);
    write_regions(&json, &result->image);
    write_spacing(&json, &result->image);
    if (result->ask.has_caliper) write_caliper(&json, &result->caliper);
    if (result->trace) write_trace(&json, result->trace);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
