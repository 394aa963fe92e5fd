// SPDX-License-Identifier: GPL-3.0-or-later
#include "picture.h"

#include <float.h>

picture_view picture_from_below(double metre_per_pixel)
{
    // Looking up at the sole with the toes at the top, +Y (the person's left) is at the right.
    return (picture_view){{0, 1, 0}, {1, 0, 0}, {0, 0, -1}, metre_per_pixel, 0.006, 0.005};
}

picture_view picture_from_medial(hw_side side, double metre_per_pixel)
{
    // Medial is -Y of a left foot and +Y of a right one; turning round the foot turns x over.
    double turn = side == HW_SIDE_RIGHT ? -1.0 : 1.0;
    return (picture_view){{turn, 0, 0}, {0, 0, 1}, {0, -turn, 0}, metre_per_pixel, 0.006, 0.0};
}

// A point in the view's own coordinates: columns, rows (down), depth towards the eye in metres.
static hw_vec3 to_view(const picture *on, hw_vec3 point)
{
    hw_vec3 from_corner = hw_vec3_sub(point, on->corner);
    return (hw_vec3){hw_vec3_dot(from_corner, on->view.right) / on->view.metre_per_pixel,
                     -hw_vec3_dot(from_corner, on->view.up) / on->view.metre_per_pixel,
                     hw_vec3_dot(point, on->view.towards)};
}

// Places the picture's corner and size so that the surface and its margin fit.
static void frame(const hw_mesh *surface, picture *out)
{
    const picture_view *view = &out->view;
    double low[2] = {DBL_MAX, DBL_MAX}, high[2] = {-DBL_MAX, -DBL_MAX};
    for (int i = 0; i < surface->point_count; i++) {
        double along[2] = {hw_vec3_dot(surface->points[i], view->right),
                           hw_vec3_dot(surface->points[i], view->up)};
        for (int k = 0; k < 2; k++) {
            low[k] = fmin(low[k], along[k]);
            high[k] = fmax(high[k], along[k]);
        }
    }
    for (int k = 0; k < 2; k++)
        out->size[k] = (int)ceil((high[k] - low[k] + 2.0 * view->margin) / view->metre_per_pixel);
    out->corner = hw_vec3_add(hw_vec3_scale(view->right, low[0] - view->margin),
                              hw_vec3_scale(view->up, high[1] + view->margin));
}

// Nearest surface per pixel.
typedef struct layer {
    double *depth; // -DBL_MAX where nothing is
    double *slant; // cosine between the surface's normal and the eye, 0..1
    int *triangle; // which
    int columns, rows;
} layer;

static double edge(hw_vec3 a, hw_vec3 b, double x, double y)
{
    return (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x);
}

static void cover(layer *onto, const hw_vec3 corner[3], double slant, int triangle)
{
    double area = edge(corner[0], corner[1], corner[2].x, corner[2].y);
    if (fabs(area) < 1e-12) return;
    double left = fmin(corner[0].x, fmin(corner[1].x, corner[2].x));
    double right = fmax(corner[0].x, fmax(corner[1].x, corner[2].x));
    double top = fmin(corner[0].y, fmin(corner[1].y, corner[2].y));
    double bottom = fmax(corner[0].y, fmax(corner[1].y, corner[2].y));
    int first_row = (int)fmax(0.0, ceil(top - 0.5));
    int last_row = (int)fmin(onto->rows - 1.0, floor(bottom - 0.5));
    int first_column = (int)fmax(0.0, ceil(left - 0.5));
    int last_column = (int)fmin(onto->columns - 1.0, floor(right - 0.5));
    for (int row = first_row; row <= last_row; row++)
        for (int column = first_column; column <= last_column; column++) {
            double x = column + 0.5, y = row + 0.5;
            double w0 = edge(corner[1], corner[2], x, y) / area;
            double w1 = edge(corner[2], corner[0], x, y) / area;
            double w2 = 1.0 - w0 - w1;
            if (w0 < 0.0 || w1 < 0.0 || w2 < 0.0) continue;
            double depth = w0 * corner[0].z + w1 * corner[1].z + w2 * corner[2].z;
            int at = row * onto->columns + column;
            if (depth <= onto->depth[at]) continue;
            onto->depth[at] = depth;
            onto->slant[at] = slant;
            onto->triangle[at] = triangle;
        }
}

static void cover_all(const hw_mesh *surface, const picture *on, layer *onto)
{
    for (int i = 0; i < surface->triangle_count; i++) {
        const int *t = surface->triangles[i];
        hw_vec3 a = surface->points[t[0]], b = surface->points[t[1]], c = surface->points[t[2]];
        hw_vec3 normal = hw_vec3_unit(hw_vec3_cross(hw_vec3_sub(b, a), hw_vec3_sub(c, a)));
        const hw_vec3 corner[3] = {to_view(on, a), to_view(on, b), to_view(on, c)};
        cover(onto, corner, fabs(hw_vec3_dot(normal, on->view.towards)), i);
    }
}

static bool crosses_contour(const layer *of, int at, int other, double step)
{
    if (of->depth[at] == -DBL_MAX || of->depth[other] == -DBL_MAX) return false;
    return floor(of->depth[at] / step) != floor(of->depth[other] / step);
}

// A triangle's own colour lit only a little: it is read against a scale.
static void own_colour(const hw_mesh *surface, int triangle, double light, unsigned char pixel[3])
{
    for (int k = 0; k < 3; k++) {
        double sum = 0.0;
        for (int c = 0; c < 3; c++) sum += surface->colours[surface->triangles[triangle][c]][k];
        pixel[k] = (unsigned char)lround(sum / 3.0 * (0.8 + 0.2 * light));
    }
}

// Skin in one hue whose lightness alone carries the form, so that it reads in grey; contours
// darker.
static void colour(const layer *of, const hw_mesh *surface, const picture_view *view,
                   unsigned char (*pixels)[3])
{
    static const double skin[3] = {0.93, 0.87, 0.80};
    for (int row = 0; row < of->rows; row++)
        for (int column = 0; column < of->columns; column++) {
            int at = row * of->columns + column;
            double light = 0.42 + 0.58 * of->slant[at];
            bool line = view->contour_step > 0.0 && row + 1 < of->rows &&
                        column + 1 < of->columns &&
                        (crosses_contour(of, at, at + 1, view->contour_step) ||
                         crosses_contour(of, at, at + of->columns, view->contour_step));
            if (line) light *= 0.72;
            if (surface->colours && of->depth[at] > -DBL_MAX) {
                own_colour(surface, of->triangle[at], of->slant[at], pixels[at]);
                continue;
            }
            for (int k = 0; k < 3; k++)
                pixels[at][k] = of->depth[at] == -DBL_MAX
                                    ? 255
                                    : (unsigned char)lround(255.0 * fmin(1.0, skin[k] * light));
        }
}

hw_status picture_draw(hw_job *job, const hw_mesh *surface, const picture_view *view,
                       hw_arena *into, picture *out)
{
    picture drawn = {.view = *view};
    frame(surface, &drawn);
    HW_ASSERT(drawn.size[0] > 0 && drawn.size[1] > 0 && drawn.size[0] < 8000 &&
              drawn.size[1] < 8000);
    int count = drawn.size[0] * drawn.size[1];
    hw_scratch tmp = hw_scratch_begin(job, into);
    layer nearest = {.columns = drawn.size[0], .rows = drawn.size[1]};
    HW_ALLOC(job, into, drawn.pixels, count);
    HW_ALLOC(job, tmp.arena, nearest.depth, count);
    HW_ALLOC(job, tmp.arena, nearest.slant, count);
    HW_ALLOC(job, tmp.arena, nearest.triangle, count);
    for (int i = 0; i < count; i++) nearest.depth[i] = -DBL_MAX;
    cover_all(surface, &drawn, &nearest);
    colour(&nearest, surface, view, drawn.pixels);
    hw_scratch_end(tmp);
    *out = drawn;
    return HW_OK;
}

void picture_place(const picture *on, hw_vec3 point, double place[2])
{
    hw_vec3 at = to_view(on, point);
    place[0] = at.x / on->size[0];
    place[1] = at.y / on->size[1];
}
