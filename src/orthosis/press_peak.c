// SPDX-License-Identifier: GPL-3.0-or-later
// The greatest pressure as a probe feels it: the mean over 1 cm2, wherever it is put.
#include "orthosis_internal.h"
#include "press_internal.h"

#include <string.h>

// Pain on pressing is measured with probes of 1 cm2 (facts of docs/press.md 5). A point's pressure would
// go with the grid. The disc's edge is soft, twice as wide as the grid's spacing, so that no grid point
// comes in at a blow.
static const double probe_area = 1e-4; // m2
static const double soft_edge = 3e-3;  // m

// A disc whose weight falls evenly from 1 to 0 over the soft edge around this radius has the area.
static double probe_radius(void)
{
    return sqrt(probe_area / HW_PI - soft_edge * soft_edge / 12.0);
}

double press_disc_share(double distance, double radius)
{
    return fmin(1.0, fmax(0.0, 0.5 + (radius - distance) / soft_edge));
}

// Grid points by square cells in plan, as wide as the probe reaches.
typedef struct plan_cells {
    double width, low_x, low_y;
    int nx, ny;
    int *starts, *order; // per cell and one more: where its points begin in `order`
} plan_cells;

static int cell_of(const plan_cells *of, hw_vec3 p)
{
    return (int)((p.x - of->low_x) / of->width) * of->ny + (int)((p.y - of->low_y) / of->width);
}

static hw_status sort_points(hw_job *job, const hw_vec3 *points, int count, hw_arena *into,
                             plan_cells *out)
{
    hw_vec3 low = points[0], high = points[0];
    for (int k = 1; k < count; k++) {
        low.x = fmin(low.x, points[k].x), low.y = fmin(low.y, points[k].y);
        high.x = fmax(high.x, points[k].x), high.y = fmax(high.y, points[k].y);
    }
    plan_cells cells = {.width = probe_radius() + 0.5 * soft_edge, .low_x = low.x, .low_y = low.y};
    cells.nx = 1 + (int)((high.x - low.x) / cells.width);
    cells.ny = 1 + (int)((high.y - low.y) / cells.width);
    HW_ALLOC(job, into, cells.starts, cells.nx * cells.ny + 2);
    HW_ALLOC(job, into, cells.order, count);
    int *next = cells.starts + 1; // counts, then where each cell's next point goes
    for (int k = 0; k < count; k++) next[cell_of(&cells, points[k]) + 1]++;
    for (int c = 0; c < cells.nx * cells.ny; c++) next[c + 1] += next[c];
    for (int k = 0; k < count; k++) cells.order[next[cell_of(&cells, points[k])]++] = k;
    *out = cells;
    return HW_OK;
}

static bool is_border(const hw_orthosis *device, int k)
{
    int i = k / device->nv, j = k % device->nv;
    return i == 0 || j == 0 || i + 1 == device->nu || j + 1 == device->nv;
}

// Where the disc hangs over the device's edge, the skin there is not pressed. A disc that lies wholly on
// the device is divided by its own summed area: summed over a grid, 1 cm2 comes out up to 0.6 % wrong.
static double probe_mean(const hw_orthosis *device, const plan_cells *cells, const double *areas,
                         const double *pressures, int centre)
{
    const hw_vec3 *points = device->top;
    double radius = probe_radius(), area = 0.0, force = 0.0;
    bool hangs_over = false;
    int cell = cell_of(cells, points[centre]), cx = cell / cells->ny, cy = cell % cells->ny;
    for (int x = cx > 0 ? cx - 1 : 0; x <= cx + 1 && x < cells->nx; x++)
        for (int y = cy > 0 ? cy - 1 : 0; y <= cy + 1 && y < cells->ny; y++)
            for (int n = cells->starts[x * cells->ny + y]; n < cells->starts[x * cells->ny + y + 1];
                 n++) {
                int k = cells->order[n];
                double share =
                    press_disc_share(hw_vec3_distance(points[k], points[centre]), radius);
                area += areas[k] * share, force += areas[k] * share * pressures[k];
                hangs_over |= share > 0.0 && is_border(device, k);
            }
    return force / (hangs_over ? fmax(area, probe_area) : area);
}

hw_status press_probe(hw_job *job, const hw_orthosis *device, const double *areas,
                      const double *pressures, hw_arena *into, double **out)
{
    const int grid = device->nu * device->nv;
    double *means = NULL;
    plan_cells cells = {0};
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_ALLOC(job, into, means, grid);
    HW_TRY(sort_points(job, device->top, grid, tmp.arena, &cells));
    for (int k = 0; k < grid; k++) means[k] = probe_mean(device, &cells, areas, pressures, k);
    hw_scratch_end(tmp);
    *out = means;
    return HW_OK;
}

static void raise_peak(hw_press_answer *answer, hw_press_region region, double value)
{
    hw_press_part *part = &answer->part[region];
    part->peak_Pa = fmax(part->peak_Pa, value);
}

// Between two grid points of different regions the border lies where their shares are alike. Without it
// the peak of a region that is pressed hardest at its border would jump from grid point to grid point.
static void peak_between(const press_model *model, const double *means, int k, int n,
                         hw_press_answer *answer)
{
    const press_tissue *here = &model->tissue[k], *there = &model->tissue[n];
    hw_press_region a = press_region_of(here), b = press_region_of(there);
    if (a == b) return;
    double at_here = here->shares[a] - here->shares[b],
           at_there = there->shares[b] - there->shares[a];
    if (!(at_here + at_there > 0.0)) return;
    double way = at_here / (at_here + at_there), value = (1.0 - way) * means[k] + way * means[n];
    raise_peak(answer, a, value);
    raise_peak(answer, b, value);
}

void press_peaks(const press_model *model, const double *means, hw_press_answer *answer)
{
    const int nu = model->device->nu, nv = model->device->nv;
    for (int k = 0; k < nu * nv; k++) {
        raise_peak(answer, press_region_of(&model->tissue[k]), means[k]);
        if (k % nv + 1 < nv) peak_between(model, means, k, k + 1, answer);
        if (k / nv + 1 < nu) peak_between(model, means, k, k + nv, answer);
    }
}
