// SPDX-License-Identifier: GPL-3.0-or-later
// Structured meshes, and loads spread over faces.
#include "fem_internal.h"

// A sheet's nodes stand on a grid twice as fine as its elements, at places of which at most one
// coordinate is odd.
typedef struct fine_grid {
    int nu, nv, nw; // points along each
    int *node;      // of each point, -1: none
} fine_grid;

static int fine_at(const fine_grid *grid, int i, int j, int k)
{
    return (i * grid->nv + j) * grid->nw + k;
}

static int number_nodes(const fine_grid *grid)
{
    int count = 0;
    for (int i = 0; i < grid->nu; i++)
        for (int j = 0; j < grid->nv; j++)
            for (int k = 0; k < grid->nw; k++) {
                bool is_node = (i & 1) + (j & 1) + (k & 1) <= 1;
                grid->node[fine_at(grid, i, j, k)] = is_node ? count++ : -1;
            }
    return count;
}

static void place_nodes(const hw_fem_sheet *sheet, const fine_grid *grid, hw_vec3 *nodes)
{
    for (int i = 0; i < grid->nu; i++)
        for (int j = 0; j < grid->nv; j++)
            for (int k = 0; k < grid->nw; k++) {
                int node = grid->node[fine_at(grid, i, j, k)], at = i * grid->nv + j;
                double up = (double)k / (grid->nw - 1);
                if (node >= 0) nodes[node] = hw_vec3_mix(sheet->low[at], sheet->high[at], up);
            }
}

static void name_elements(const hw_fem_sheet *sheet, const fine_grid *grid, hw_fem_mesh *mesh)
{
    int element = 0;
    for (int i = 0; i < sheet->nu; i++)
        for (int j = 0; j < sheet->nv; j++)
            for (int k = 0; k < sheet->layers; k++, element++)
                for (int a = 0; a < NODES; a++) {
                    const signed char *place = hex_places[a];
                    int at = fine_at(grid, 2 * i + 1 + place[0], 2 * j + 1 + place[1],
                                     2 * k + 1 + place[2]);
                    mesh->elements[element][a] = grid->node[at];
                }
}

static hw_status name_faces(hw_job *job, const fine_grid *grid, hw_arena *into,
                            hw_fem_sheet_nodes *faces)
{
    HW_ALLOC(job, into, faces->low, grid->nu * grid->nv);
    HW_ALLOC(job, into, faces->high, grid->nu * grid->nv);
    for (int at = 0; at < grid->nu * grid->nv; at++) {
        faces->low[at] = grid->node[at * grid->nw];
        faces->high[at] = grid->node[at * grid->nw + grid->nw - 1];
    }
    return HW_OK;
}

hw_status hw_fem_sheet_mesh(hw_job *job, const hw_fem_sheet *sheet, hw_arena *into,
                            hw_fem_mesh *out, hw_fem_sheet_nodes *faces)
{
    HW_ASSERT(sheet->nu >= 1 && sheet->nv >= 1 && sheet->layers >= 1);
    HW_ASSERT(sheet->nu <= 4096 && sheet->nv <= 4096 && sheet->layers <= 64);
    hw_scratch tmp = hw_scratch_begin(job, into);
    fine_grid grid = {2 * sheet->nu + 1, 2 * sheet->nv + 1, 2 * sheet->layers + 1, NULL};
    hw_fem_mesh mesh = {.element_count = sheet->nu * sheet->nv * sheet->layers};
    HW_ALLOC(job, tmp.arena, grid.node, (size_t)grid.nu * (size_t)grid.nv * (size_t)grid.nw);
    mesh.node_count = number_nodes(&grid);
    HW_ALLOC(job, into, mesh.nodes, mesh.node_count);
    HW_ALLOC(job, into, mesh.elements, mesh.element_count);
    place_nodes(sheet, &grid, mesh.nodes);
    name_elements(sheet, &grid, &mesh);
    if (faces) HW_TRY(name_faces(job, &grid, into, faces));
    hw_scratch_end(tmp);
    *out = mesh;
    return HW_OK;
}

// Shape of a face's corner or middle (serendipity of 8) at (x, y), and its slopes.
static double face_shape(int node, double x, double y, double slopes[2])
{
    static const double px[8] = {-1, 1, 1, -1, 0, 1, 0, -1}, py[8] = {-1, -1, 1, 1, -1, 0, 1, 0};
    double sx = px[node] * x, sy = py[node] * y;
    if (node < 4) {
        slopes[0] = px[node] * (1.0 + sy) * (2.0 * sx + sy) / 4.0;
        slopes[1] = py[node] * (1.0 + sx) * (2.0 * sy + sx) / 4.0;
        return (1.0 + sx) * (1.0 + sy) * (sx + sy - 1.0) / 4.0;
    }
    bool along_x = node == 4 || node == 6;
    double bubble = along_x ? 1.0 - x * x : 1.0 - y * y, other = along_x ? 1.0 + sy : 1.0 + sx;
    slopes[0] = along_x ? -x * other : bubble * px[node] / 2.0;
    slopes[1] = along_x ? bubble * py[node] / 2.0 : -y * other;
    return bubble * other / 2.0;
}

void hw_fem_face_shares(const double at[2], double shares[8])
{
    double slopes[2];
    for (int k = 0; k < 8; k++) shares[k] = face_shape(k, at[0], at[1], slopes);
}

int hw_fem_face_node(const hw_fem_mesh *mesh, int element, hw_fem_face face, int k)
{
    return mesh->elements[element][hex_faces[face][k]];
}

// Shapes of a face at (x, y), where that is, and its outward normal as long as the area is large.
static hw_fem_bed_place face_at(const hw_fem_mesh *mesh, int element, hw_fem_face face,
                                const double at[2], double shapes[8])
{
    const int *nodes = mesh->elements[element];
    hw_fem_bed_place place = {0};
    hw_vec3 along = {0}, across = {0};
    for (int a = 0; a < 8; a++) {
        double slopes[2];
        hw_vec3 x = mesh->nodes[nodes[hex_faces[face][a]]];
        shapes[a] = face_shape(a, at[0], at[1], slopes);
        place.point = hw_vec3_add(place.point, hw_vec3_scale(x, shapes[a]));
        along = hw_vec3_add(along, hw_vec3_scale(x, slopes[0]));
        across = hw_vec3_add(across, hw_vec3_scale(x, slopes[1]));
    }
    place.outward = hw_vec3_cross(along, across);
    return place;
}

void hw_fem_spread_on(const hw_fem_mesh *mesh, int element, hw_fem_face face,
                      const hw_fem_spread *spread, hw_vec3 *forces)
{
    // Gauss's rule of three, exact for these shapes on a flat face
    static const double places[3] = {-0.77459666924148337704, 0.0, 0.77459666924148337704};
    static const double weights[3] = {5.0 / 9.0, 8.0 / 9.0, 5.0 / 9.0};
    const int *nodes = mesh->elements[element];
    for (int p = 0; p < 9; p++) {
        const double at[2] = {places[p / 3], places[p % 3]};
        double shapes[8], weight = weights[p / 3] * weights[p % 3];
        hw_vec3 outward = face_at(mesh, element, face, at, shapes).outward;
        hw_vec3 load = hw_vec3_sub(hw_vec3_scale(spread->traction, hw_vec3_norm(outward)),
                                   hw_vec3_scale(outward, spread->pressure));
        for (int a = 0; a < 8; a++) {
            hw_vec3 *force = &forces[nodes[hex_faces[face][a]]];
            *force = hw_vec3_add(*force, hw_vec3_scale(load, weight * shapes[a]));
        }
    }
}

// A face's four points carry an even pressure to its nodes exactly as its shapes do, and each of
// them has a positive area: its corner nodes have not.
void hw_fem_beds_on(const hw_fem_mesh *mesh, int element, hw_fem_face face,
                    hw_fem_bed beds[HW_FEM_FACE_BEDS], hw_fem_bed_place places[HW_FEM_FACE_BEDS])
{
    for (int p = 0; p < HW_FEM_FACE_BEDS; p++) {
        const double at[2] = {(p & 1) ? HEX_GAUSS : -HEX_GAUSS, (p & 2) ? HEX_GAUSS : -HEX_GAUSS};
        places[p] = face_at(mesh, element, face, at, beds[p].shares);
        beds[p].element = element;
        beds[p].face = face;
        beds[p].area = hw_vec3_norm(places[p].outward);
        places[p].outward = hw_vec3_unit(places[p].outward);
        beds[p].push = hw_vec3_scale(places[p].outward, -1.0);
    }
}
