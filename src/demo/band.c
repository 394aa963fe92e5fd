// SPDX-License-Identifier: GPL-3.0-or-later
// A made-up B-mode picture. Scatterers far smaller than the beam give a complex normal field; its
// magnitude after blurring with the beam is Rayleigh distributed speckle (Burckhardt 1978), which
// machines show on a scale of decibels.
#include "demo/demo.h"
#include "num/num.h"

#include <stdio.h>

static const double axial_sd_m = 0.10e-3, lateral_sd_m = 0.25e-3; // of the beam's blur
static const double line_sd_m = 0.09e-3;                          // of a bright line across it
static const double range_dB = 60.0;
enum { BLUR_MAX = 64 };

hw_demo_band_order hw_demo_band_order_default(void)
{
    return (hw_demo_band_order){.width_m = 25e-3,
                                .height_m = 20e-3,
                                .pixel_m = 0.08e-3,
                                .depth_m = 8e-3,
                                .thickness_m = 4e-3,
                                .above = -34.0,
                                .inside = -22.0,
                                .below = -36.0,
                                .line = -60.0,
                                .seed = 1};
}

// The middle line is a parabola; edges stand half the thickness off it, along its normal.
double hw_demo_band_edge(const hw_demo_band_order *order, int edge, double x_m)
{
    double share = x_m / order->width_m,
           tilt = order->slope + 4.0 * order->sag_m * (1.0 - 2.0 * share) / order->width_m;
    double middle = order->depth_m + 0.5 * order->thickness_m + order->slope * x_m +
                    4.0 * order->sag_m * share * (1.0 - share);
    return middle + (edge ? 0.5 : -0.5) * order->thickness_m * sqrt(1.0 + tilt * tilt);
}

// Blurs along one direction: `count` values `stride` apart.
static void blur(double *at, int count, int stride, double sd, double *line)
{
    double weights[2 * BLUR_MAX + 1], sum = 0.0;
    int reach = (int)ceil(3.0 * sd);
    if (reach > BLUR_MAX) reach = BLUR_MAX;
    for (int k = -reach; k <= reach; k++) {
        weights[k + reach] = exp(-0.5 * k * k / (sd * sd));
        sum += weights[k + reach] * weights[k + reach];
    }
    for (int i = 0; i < count; i++) {
        line[i] = 0.0;
        for (int k = -reach; k <= reach; k++)
            if (i + k >= 0 && i + k < count) line[i] += weights[k + reach] * at[(i + k) * stride];
    }
    // The power stays what it was.
    for (int i = 0; i < count; i++) at[i * stride] = line[i] / sqrt(sum);
}

static double amplitude(double dB)
{
    return pow(10.0, dB / 20.0);
}

// One of the field's two parts: scatterers, each layer's at its level.
static void scatter(const hw_demo_band_order *order, const int size[2], hw_random *random,
                    double *field, double *line)
{
    for (int j = 0; j < size[1]; j++)
        for (int i = 0; i < size[0]; i++) {
            double x = i * order->pixel_m, y = j * order->pixel_m;
            double level = y < hw_demo_band_edge(order, 0, x)   ? order->above
                           : y < hw_demo_band_edge(order, 1, x) ? order->inside
                                                                : order->below;
            field[j * size[0] + i] = amplitude(level) * hw_random_normal(random) / sqrt(2.0);
        }
    for (int j = 0; j < size[1]; j++)
        blur(field + j * size[0], size[0], 1, lateral_sd_m / order->pixel_m, line);
    for (int i = 0; i < size[0]; i++)
        blur(field + i, size[1], size[0], axial_sd_m / order->pixel_m, line);
}

static double line_at(const hw_demo_band_order *order, double x, double y)
{
    double sum = 0.0;
    for (int e = 0; e < 2; e++) {
        double off = (y - hw_demo_band_edge(order, e, x)) / line_sd_m;
        sum += exp(-0.5 * off * off);
    }
    return order->line > -range_dB ? amplitude(order->line) * sum : 0.0;
}

hw_status hw_demo_band(hw_job *job, const hw_demo_band_order *order, hw_arena *into, hw_image *out)
{
    const int size[2] = {(int)lround(order->width_m / order->pixel_m),
                         (int)lround(order->height_m / order->pixel_m)};
    HW_ASSERT(size[0] > 1 && size[1] > 1 && size[0] < 4096 && size[1] < 4096);
    size_t count = (size_t)size[0] * (size_t)size[1];
    hw_random random = hw_random_begin(order->seed);
    double *parts[2], *line = NULL;
    unsigned char *pixels = NULL;
    HW_ALLOC(job, into, pixels, 3 * count);
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_ALLOC(job, tmp.arena, line, size[0] > size[1] ? size[0] : size[1]);
    for (int k = 0; k < 2; k++) {
        HW_ALLOC(job, tmp.arena, parts[k], count);
        scatter(order, size, &random, parts[k], line);
    }
    for (size_t k = 0; k < count; k++) {
        double x = (double)(k % (size_t)size[0]) * order->pixel_m;
        double y = (double)(k / (size_t)size[0]) * order->pixel_m;
        double size_now = hypot(parts[0][k] + line_at(order, x, y), parts[1][k]);
        double shown = 255.0 * (1.0 + 20.0 * log10(size_now + 1e-9) / range_dB);
        unsigned char grey = (unsigned char)fmin(255.0, fmax(0.0, shown + 0.5));
        pixels[3 * k] = pixels[3 * k + 1] = pixels[3 * k + 2] = grey;
    }
    hw_scratch_end(tmp);
    *out = (hw_image){.columns = size[0], .rows = size[1], .frames = 1, .pixels = pixels};
    snprintf(out->about.kind, HW_IMAGE_TEXT, "invented");
    return HW_OK;
}
