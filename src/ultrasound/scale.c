// SPDX-License-Identifier: GPL-3.0-or-later
// Whether a length may be read off a picture, and by which scale.
#include "ultrasound/ultrasound.h"

#include <math.h>
#include <stddef.h>

enum { FORMAT_2D = 1, UNITS_CM = 3 };

static const double ruler_pixels_least = 40.0; // half a pixel at each end is then 2 %
static const double disagreement_most = 0.03;  // between a ruler by hand and the file
static const double pixel_m_least = 1e-6, pixel_m_most = 2e-3; // a pixel of a picture of the body

const char *hw_us_scale_word(hw_us_scale_from from)
{
    static const char *const words[] = {"region of the file", "pixel spacing of the file",
                                        "depth scale marked by hand"};
    return words[from];
}

static bool has_length(const hw_image_region *region)
{
    return region->is_complete && region->spatial_format == FORMAT_2D &&
           region->units_x == UNITS_CM && region->units_y == UNITS_CM;
}

static bool is_pixel_size(double size_m)
{
    return isfinite(size_m) && fabs(size_m) >= pixel_m_least && fabs(size_m) <= pixel_m_most;
}

// A region's last pixel may be given as the one after it: both are seen. A region that leaves the
// picture means that its pixels were cut or shrunk after the machine wrote the scale.
static hw_status check_region(hw_job *job, const hw_image *image, int index)
{
    const hw_image_region *region = &image->regions[index];
    if (region->min_x < 0 || region->min_y < 0 || region->max_x <= region->min_x ||
        region->max_y <= region->min_y || region->max_x > image->columns ||
        region->max_y > image->rows)
        return hw_fail(
            job, HW_BAD_FORMAT,
            "region %d of the file, (%d, %d) to (%d, %d), does not fit the picture of %d x %d "
            "pixels: it was shrunk or cut, so its scale cannot be trusted; export it again",
            index + 1, region->min_x, region->min_y, region->max_x, region->max_y, image->columns,
            image->rows);
    if (!is_pixel_size(hw_m_from_cm(region->delta_x)) ||
        !is_pixel_size(hw_m_from_cm(region->delta_y)))
        return hw_fail(job, HW_BAD_FORMAT,
                       "region %d of the file says %g by %g cm a pixel, which no picture has",
                       index + 1, region->delta_x, region->delta_y);
    return HW_OK;
}

static bool holds(const hw_image_region *region, hw_us_point at)
{
    return at.x >= region->min_x && at.x <= region->max_x && at.y >= region->min_y &&
           at.y <= region->max_y;
}

static int region_of(const hw_image *image, const hw_us_point *places, int count)
{
    for (int i = 0; i < image->region_count; i++) {
        int inside = 0;
        for (int k = 0; k < count; k++) inside += holds(&image->regions[i], places[k]);
        if (inside == count && has_length(&image->regions[i])) return i;
    }
    return -1;
}

// Another region of length around the same places may not say otherwise.
static hw_status refuse_second(hw_job *job, const hw_image *image, const hw_us_point *places,
                               int count, int chosen)
{
    const hw_image_region *first = &image->regions[chosen];
    for (int i = chosen + 1; i < image->region_count; i++) {
        const hw_image_region *other = &image->regions[i];
        for (int k = 0; k < count; k++)
            if (has_length(other) && holds(other, places[k]) &&
                (other->delta_x != first->delta_x || other->delta_y != first->delta_y))
                return hw_fail(job, HW_BAD_INPUT,
                               "regions %d and %d overlap there and have different scales",
                               chosen + 1, i + 1);
    }
    return HW_OK;
}

// The region of the file all places lie in; the caller knows that there are regions of length.
static hw_status scale_of_region(hw_job *job, const hw_image *image, const hw_us_point *places,
                                 int count, hw_us_scale *out)
{
    int index = region_of(image, places, count);
    if (index < 0) {
        for (int k = 0; k < count; k++)
            if (region_of(image, &places[k], 1) < 0)
                return hw_fail(
                    job, HW_BAD_INPUT,
                    "the place (%.1f, %.1f) lies in no region of the file that has a scale of "
                    "length",
                    places[k].x, places[k].y);
        return hw_fail(
            job, HW_BAD_INPUT,
            "the places lie in different regions of the picture: no length runs across them");
    }
    HW_TRY(refuse_second(job, image, places, count, index));
    const hw_image_region *region = &image->regions[index];
    *out = (hw_us_scale){.from = HW_US_SCALE_REGION,
                         .x_m = fabs(hw_m_from_cm(region->delta_x)),
                         .y_m = fabs(hw_m_from_cm(region->delta_y)),
                         .region = index};
    return HW_OK;
}

static hw_status scale_of_ruler(hw_job *job, const hw_us_ask *ask, hw_us_scale *out)
{
    double dx = ask->ruler[1].x - ask->ruler[0].x, dy = ask->ruler[1].y - ask->ruler[0].y;
    double pixels = hypot(dx, dy);
    if (!(pixels >= ruler_pixels_least))
        return hw_fail(
            job, HW_BAD_INPUT,
            "the two marks on the depth scale are %.1f pixels apart; take two at least %.0f apart",
            pixels, ruler_pixels_least);
    double pixel_m = ask->ruler_m / pixels;
    if (!is_pixel_size(pixel_m) || pixel_m < 0.0)
        return hw_fail(
            job, HW_BAD_INPUT,
            "%g mm between marks %.1f pixels apart cannot be: look at the unit of the depth scale",
            hw_mm_from_m(ask->ruler_m), pixels);
    *out = (hw_us_scale){.from = HW_US_SCALE_RULER,
                         .x_m = pixel_m,
                         .y_m = pixel_m,
                         .region = -1,
                         .relative_sd = 0.5 * sqrt(2.0) / pixels,
                         .warning = "pixels taken as square"};
    return HW_OK;
}

// A second opinion on a scale the file states.
static hw_status check_ruler(hw_job *job, const hw_us_ask *ask, hw_us_scale *scale)
{
    hw_us_scale ruler = {0};
    if (!ask->has_ruler) return HW_OK;
    HW_TRY(scale_of_ruler(job, ask, &ruler));
    double dx = ask->ruler[1].x - ask->ruler[0].x, dy = ask->ruler[1].y - ask->ruler[0].y;
    double file_m = hypot(dx * scale->x_m, dy * scale->y_m);
    if (fabs(file_m / ask->ruler_m - 1.0) <= disagreement_most) return HW_OK;
    return hw_fail(
        job, HW_BAD_INPUT,
        "the file's scale makes %.2f mm of what was marked as %.2f mm: one of them is wrong, so "
        "nothing is measured",
        hw_mm_from_m(file_m), hw_mm_from_m(ask->ruler_m));
}

static hw_status scale_of_spacing(hw_job *job, const hw_image *image, hw_us_scale *out)
{
    double x = image->column_spacing_m.value, y = image->row_spacing_m.value;
    if (!is_pixel_size(x) || !is_pixel_size(y) || x < 0.0 || y < 0.0)
        return hw_fail(job, HW_BAD_FORMAT, "the file's pixel spacing of %g by %g mm cannot be",
                       hw_mm_from_m(y), hw_mm_from_m(x));
    *out = (hw_us_scale){.from = HW_US_SCALE_SPACING,
                         .x_m = x,
                         .y_m = y,
                         .region = -1,
                         .warning = "the file gives a pixel spacing and no ultrasound region"};
    return HW_OK;
}

static hw_status check_places(hw_job *job, const hw_image *image, const hw_us_point *places,
                              int count)
{
    for (int i = 0; i < count; i++)
        if (!(places[i].x >= -0.5 && places[i].y >= -0.5 && places[i].x <= image->columns &&
              places[i].y <= image->rows))
            return hw_fail(job, HW_BAD_INPUT,
                           "the place (%.1f, %.1f) lies outside the picture of %d x %d",
                           places[i].x, places[i].y, image->columns, image->rows);
    return HW_OK;
}

hw_status hw_us_scale_at(hw_job *job, const hw_image *image, const hw_us_ask *ask,
                         const hw_us_point *places, int count, hw_us_scale *out)
{
    int with_length = 0;
    bool has_spacing = image->row_spacing_m.known && image->column_spacing_m.known &&
                       (image->is_spacing_calibrated || ask->is_spacing_confirmed);
    HW_TRY(check_places(job, image, places, count));
    if (ask->has_ruler) HW_TRY(check_places(job, image, ask->ruler, 2));
    for (int i = 0; i < image->region_count; i++) {
        if (!has_length(&image->regions[i])) continue;
        HW_TRY(check_region(job, image, i));
        with_length++;
    }
    if (with_length) {
        HW_TRY(scale_of_region(job, image, places, count, out));
        return check_ruler(job, ask, out);
    }
    if (has_spacing) {
        HW_TRY(scale_of_spacing(job, image, out));
        return check_ruler(job, ask, out);
    }
    if (ask->has_ruler) return scale_of_ruler(job, ask, out);
    return hw_fail(
        job, HW_BAD_INPUT,
        "the picture has no scale: mark two points of its depth scale and say what lies between "
        "them, or export it as DICOM with its ultrasound regions%s",
        image->row_spacing_m.known
            ? "; its pixel spacing counts only when you confirm that it is meant for this"
            : "");
}

hw_status hw_us_measure(hw_job *job, const hw_image *image, const hw_us_ask *ask,
                        const hw_us_point ends[2], hw_us_caliper *out)
{
    hw_us_scale scale = {0};
    HW_TRY(hw_us_scale_at(job, image, ask, ends, 2, &scale));
    double dx = (ends[1].x - ends[0].x) * scale.x_m, dy = (ends[1].y - ends[0].y) * scale.y_m;
    double length = hypot(dx, dy);
    double pixel = fmax(scale.x_m, scale.y_m);
    *out = (hw_us_caliper){.ends = {ends[0], ends[1]},
                           .length_m = length,
                           .sd_m = hypot(sqrt(2.0) * 0.5 * pixel, length * scale.relative_sd),
                           .scale = scale};
    return HW_OK;
}
