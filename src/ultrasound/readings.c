// SPDX-License-Identifier: GPL-3.0-or-later
// What a person has accepted, and what may be compared.
#include "ultrasound/ultrasound.h"

#include <math.h>
#include <string.h>

const char *hw_us_site_word(hw_us_site site)
{
    static const char *const words[] = {"unknown", "heel bone's front edge", "midfoot", "other"};
    return words[site];
}

const char *hw_us_plane_word(hw_us_plane plane)
{
    static const char *const words[] = {"unknown", "longitudinal", "transverse"};
    return words[plane];
}

hw_status hw_us_accept(hw_job *job, const hw_us_traced *trace, const bool accepted[2],
                       hw_us_reading *out)
{
    for (int i = 0; i < 2; i++)
        if (!accepted[i])
            return hw_fail(
                job, HW_BAD_INPUT,
                "the %s edge is not accepted: look at it, correct it where it is wrong, then "
                "accept both",
                i ? "deep" : "superficial");
    *out = (hw_us_reading){
        .thickness_m = trace->thickness_m.median, .sd_m = trace->sd_m, .is_accepted = true};
    return HW_OK;
}

hw_status hw_us_compare(hw_job *job, const hw_us_reading *earlier, const hw_us_reading *later,
                        hw_us_change *out)
{
    if (!earlier->is_accepted || !later->is_accepted)
        return hw_fail(job, HW_BAD_INPUT,
                       "a thickness whose edges nobody accepted is not compared");
    if (earlier->side == HW_SIDE_UNKNOWN || earlier->side != later->side)
        return hw_fail(job, HW_BAD_INPUT,
                       "the earlier picture is of the %s foot, the later of the %s",
                       hw_side_word(earlier->side), hw_side_word(later->side));
    if (earlier->site == HW_US_SITE_UNKNOWN || earlier->site != later->site)
        return hw_fail(job, HW_BAD_INPUT,
                       "the sites differ (%s, then %s): no change can be read from them",
                       hw_us_site_word(earlier->site), hw_us_site_word(later->site));
    if (earlier->plane == HW_US_PLANE_UNKNOWN || earlier->plane != later->plane)
        return hw_fail(job, HW_BAD_INPUT,
                       "the planes differ (%s, then %s): no change can be read from them",
                       hw_us_plane_word(earlier->plane), hw_us_plane_word(later->plane));
    double change = later->thickness_m - earlier->thickness_m;
    double half = 1.96 * hypot(earlier->sd_m, later->sd_m);
    *out = (hw_us_change){change, half, fabs(change) > half};
    return HW_OK;
}

// -- the picture with the trace

typedef struct canvas {
    unsigned char *pixels;
    int columns, rows;
} canvas;

static void dot(const canvas *on, double x, double y, const unsigned char colour[3])
{
    int column = (int)lround(x), row = (int)lround(y);
    if (column >= 0 && row >= 0 && column < on->columns && row < on->rows)
        memcpy(on->pixels + 3 * ((size_t)row * (size_t)on->columns + (size_t)column), colour, 3);
}

static void line(const canvas *on, hw_us_point from, hw_us_point to, const unsigned char colour[3])
{
    int steps = 1 + (int)fmax(fabs(to.x - from.x), fabs(to.y - from.y));
    for (int i = 0; i <= steps; i++) {
        double share = (double)i / steps;
        dot(on, from.x + share * (to.x - from.x), from.y + share * (to.y - from.y), colour);
    }
}

hw_status hw_us_draw(hw_job *job, const hw_image *image, int frame, const hw_us_traced *trace,
                     hw_arena *into, unsigned char **out)
{
    // Told apart in grey too: the deep edge is drawn broken.
    static const unsigned char inks[2][3] = {{255, 200, 40}, {80, 220, 255}};
    static const unsigned char pale[3] = {150, 150, 150};
    size_t bytes = 3 * (size_t)image->columns * (size_t)image->rows;
    canvas on = {NULL, image->columns, image->rows};
    HW_ALLOC(job, into, on.pixels, bytes);
    memcpy(on.pixels, hw_image_frame(image, frame), bytes);
    const hw_us_box *box = &trace->box;
    const hw_us_point corners[5] = {{box->left, box->top},
                                    {box->right, box->top},
                                    {box->right, box->bottom},
                                    {box->left, box->bottom},
                                    {box->left, box->top}};
    for (int i = 0; i < 4; i++) line(&on, corners[i], corners[i + 1], pale);
    for (int e = 0; e < 2; e++)
        for (int i = 1; i < trace->column_count; i++)
            if (e == 0 || i % 3)
                line(&on, (hw_us_point){trace->x[i - 1], trace->y[e][i - 1]},
                     (hw_us_point){trace->x[i], trace->y[e][i]}, inks[e]);
    line(&on, (hw_us_point){box->site_x, box->top}, (hw_us_point){box->site_x, box->bottom}, pale);
    *out = on.pixels;
    return HW_OK;
}
