// SPDX-License-Identifier: GPL-3.0-or-later
#include "figure_pen.h"

static hw_pdf_ink ink_of(const pen *with, double shade, double thickness)
{
    return (hw_pdf_ink){
        .red = shade, .green = shade, .blue = shade, .thickness = thickness * with->scale};
}

static void place(const pen *with, const double (*points)[2], int count, double (*out)[2])
{
    HW_ASSERT(count <= PEN_POINTS);
    for (int i = 0; i < count; i++) {
        out[i][0] = with->x + with->scale * points[i][0];
        out[i][1] = with->y + with->scale * points[i][1];
    }
}

void pen_curve(const pen *with, const double (*points)[2], int count, double width, double shade)
{
    double placed[PEN_POINTS][2];
    hw_pdf_ink ink = ink_of(with, shade, width);
    place(with, points, count, placed);
    hw_pdf_curve(with->pdf, &ink, (const double(*)[2])placed, count, false);
}

void pen_line(const pen *with, const double (*points)[2], int count, double width, double shade)
{
    double placed[PEN_POINTS][2];
    hw_pdf_ink ink = ink_of(with, shade, width);
    place(with, points, count, placed);
    hw_pdf_path(with->pdf, &ink, (const double(*)[2])placed, count, false);
}

void pen_shape(const pen *with, const double (*points)[2], int count, double shade)
{
    double placed[PEN_POINTS][2];
    hw_pdf_ink ink = ink_of(with, shade, 0.0);
    place(with, points, count, placed);
    hw_pdf_curve(with->pdf, &ink, (const double(*)[2])placed, count, true);
    pen_curve(with, points, count, PEN_RIM, PEN_DARK);
}

void pen_area(const pen *with, const double (*points)[2], int count, double shade)
{
    double placed[PEN_POINTS][2];
    hw_pdf_ink fill = ink_of(with, shade, 0.0);
    place(with, points, count, placed);
    hw_pdf_path(with->pdf, &fill, (const double(*)[2])placed, count, true);
}

void pen_block(const pen *with, const double (*points)[2], int count, double shade)
{
    pen_area(with, points, count, shade);
    pen_line(with, points, count, PEN_RIM, PEN_DARK);
}

void pen_disc(const pen *with, double x, double y, double radius, double shade)
{
    double points[17][2];
    for (int i = 0; i < 17; i++) {
        double angle = (i % 16) * 3.14159265358979 / 8.0;
        points[i][0] = x + radius * cos(angle);
        points[i][1] = y + radius * sin(angle);
    }
    pen_shape(with, (const double(*)[2])points, 17, shade);
}

void pen_arrow(const pen *with, const double (*points)[2], int count)
{
    const double *tip = points[count - 1], *before = points[count - 2];
    double along[2] = {tip[0] - before[0], tip[1] - before[1]};
    double length = hypot(along[0], along[1]);
    along[0] /= length, along[1] /= length;
    const double head = 4.2, half = 2.5;
    const double head_points[3][2] = {
        {tip[0] + along[0] * head, tip[1] + along[1] * head},
        {tip[0] - along[1] * half, tip[1] + along[0] * half},
        {tip[0] + along[1] * half, tip[1] - along[0] * half},
    };
    double placed[3][2];
    hw_pdf_ink ink = ink_of(with, PEN_DARK, 0.0);
    pen_curve(with, points, count, 1.5, PEN_DARK);
    place(with, head_points, 3, placed);
    hw_pdf_path(with->pdf, &ink, (const double(*)[2])placed, 3, true);
}

void pen_floor(const pen *with, double from, double to, double y)
{
    const double line[2][2] = {{from, y}, {to, y}};
    pen_line(with, line, 2, 1.0, PEN_DARK);
}
