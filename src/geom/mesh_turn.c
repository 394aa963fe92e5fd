// SPDX-License-Identifier: GPL-3.0-or-later
// Triangles turned alike: neighbours over an edge must run along it in opposite directions.
#include "geom_internal.h"

// Per side of a triangle (3 i + k in no order): the triangle beyond it and whether the two clash.
typedef struct neighbour {
    int twice; // 2 triangle + 1 where they clash
} neighbour;

typedef struct turner {
    neighbour *neighbours; // up to three per triangle
    unsigned char *neighbour_count;
    int *patch; // per triangle, -1 = not reached
    bool *turn; // per triangle
    int *queue;
} turner;

static hw_status list_neighbours(hw_job *job, const hw_mesh *mesh, hw_arena *scratch, turner *t)
{
    hw_edge_use *uses = NULL;
    int count = 0;
    HW_ALLOC(job, scratch, t->neighbours, 3 * (size_t)mesh->triangle_count);
    HW_ALLOC(job, scratch, t->neighbour_count, mesh->triangle_count);
    // The largest here, and soon of no more use.
    const hw_arena_mark before_uses = hw_arena_here(scratch);
    HW_TRY(hw_mesh_edge_uses(job, mesh, scratch, &uses, &count));
    for (int at = 0; at < count;) {
        int run = hw_edge_use_run(uses, count, at);
        // An edge of three and more triangles tells nothing about which sides belong together.
        if (run == 2) {
            int a = hw_edge_use_triangle(uses[at]), b = hw_edge_use_triangle(uses[at + 1]);
            bool clashes = hw_edge_use_rises(uses[at]) == hw_edge_use_rises(uses[at + 1]);
            t->neighbours[3 * a + t->neighbour_count[a]++] = (neighbour){2 * b + clashes};
            t->neighbours[3 * b + t->neighbour_count[b]++] = (neighbour){2 * a + clashes};
        }
        at += run;
    }
    hw_arena_rewind(scratch, before_uses);
    return HW_OK;
}

static void spread(turner *t, int seed, int patch)
{
    int head = 0, tail = 0;
    t->queue[tail++] = seed;
    t->patch[seed] = patch;
    while (head < tail) {
        int at = t->queue[head++];
        for (int k = 0; k < t->neighbour_count[at]; k++) {
            int next = t->neighbours[3 * at + k].twice / 2;
            bool clashes = t->neighbours[3 * at + k].twice % 2;
            if (t->patch[next] >= 0) continue;
            t->patch[next] = patch;
            t->turn[next] = t->turn[at] != clashes;
            t->queue[tail++] = next;
        }
    }
}

typedef struct centre {
    hw_vec3 weighted; // m3
    double area;
} centre;

static hw_vec3 triangle_middle(const hw_mesh *mesh, int triangle)
{
    const int *corner = mesh->triangles[triangle];
    hw_vec3 sum = hw_vec3_add(mesh->points[corner[0]], mesh->points[corner[1]]);
    return hw_vec3_scale(hw_vec3_add(sum, mesh->points[corner[2]]), 1.0 / 3.0);
}

// Outward flux of (place - centre of the whole piece) through each patch: positive where most of
// it faces outward, also when the surface is open at the top.
static hw_status find_inside_out(hw_job *job, const hw_mesh *mesh, hw_arena *scratch,
                                 const turner *t, double *flux)
{
    int *piece = NULL, piece_count = 0;
    HW_TRY(hw_mesh_pieces(job, mesh, scratch, &piece, &piece_count));
    centre *centres = NULL;
    HW_ALLOC(job, scratch, centres, piece_count);
    for (int i = 0; i < mesh->triangle_count; i++) {
        double area = hw_vec3_norm(hw_triangle_normal(mesh, i));
        centre *c = &centres[piece[i]];
        c->weighted = hw_vec3_add(c->weighted, hw_vec3_scale(triangle_middle(mesh, i), area));
        c->area += area;
    }
    for (int i = 0; i < mesh->triangle_count; i++) {
        const centre *c = &centres[piece[i]];
        if (c->area <= 0.0) continue;
        hw_vec3 from = hw_vec3_scale(c->weighted, 1.0 / c->area);
        hw_vec3 arm = hw_vec3_sub(triangle_middle(mesh, i), from);
        double through = hw_vec3_dot(arm, hw_triangle_normal(mesh, i));
        flux[t->patch[i]] += t->turn[i] ? -through : through;
    }
    return HW_OK;
}

hw_status hw_mesh_turn(hw_job *job, const hw_mesh *mesh, hw_arena *into, hw_mesh *out,
                       int *turned_count)
{
    hw_mesh turned = *mesh;
    HW_ALLOC(job, into, turned.triangles, mesh->triangle_count);
    hw_scratch tmp = hw_scratch_begin(job, into);
    turner t = {0};
    HW_ALLOC(job, tmp.arena, t.patch, mesh->triangle_count);
    HW_ALLOC(job, tmp.arena, t.turn, mesh->triangle_count);
    const hw_arena_mark before_neighbours = hw_arena_here(tmp.arena);
    HW_TRY(list_neighbours(job, mesh, tmp.arena, &t));
    HW_ALLOC(job, tmp.arena, t.queue, mesh->triangle_count);
    int patch_count = 0;
    for (int i = 0; i < mesh->triangle_count; i++) t.patch[i] = -1;
    for (int i = 0; i < mesh->triangle_count; i++)
        if (t.patch[i] < 0) spread(&t, i, patch_count++);
    hw_arena_rewind(tmp.arena, before_neighbours);
    double *flux = NULL;
    HW_ALLOC(job, tmp.arena, flux, patch_count);
    HW_TRY(find_inside_out(job, mesh, tmp.arena, &t, flux));
    int count = 0;
    for (int i = 0; i < mesh->triangle_count; i++) {
        bool turn = t.turn[i] != (flux[t.patch[i]] < 0.0);
        turned.triangles[i][0] = mesh->triangles[i][0];
        turned.triangles[i][1] = mesh->triangles[i][turn ? 2 : 1];
        turned.triangles[i][2] = mesh->triangles[i][turn ? 1 : 2];
        count += turn;
    }
    hw_scratch_end(tmp);
    *out = turned;
    if (turned_count) *turned_count = count;
    return HW_OK;
}
