// SPDX-License-Identifier: GPL-3.0-or-later
// Shell, floor and foot as fem takes them.
#include "orthosis_internal.h"
#include "press_internal.h"

// The floor: hard, but no harder than the solver likes: 0.1 mm under 1 MPa, and first tried
// as pressed where it is within the thickness.
static const double floor_thickness = 1e-3, floor_modulus = 1e7;
// The shoe's hold around the heel and along the middle line, N/m in all.
static const double shoe_hold = 40e3;

// The device's grid and the bricks' finer grid: one is every `step_u`-th, `step_v`-th of the other.
typedef struct strides {
    int u, v;
} strides;

static strides strides_of(const press_model *model)
{
    return (strides){(model->device->nu - 1) / (2 * model->nu),
                     (model->device->nv - 1) / (2 * model->nv)};
}

static hw_status make_mesh(hw_job *job, hw_arena *into, press_model *model)
{
    const hw_orthosis *device = model->device;
    const int fine_u = 2 * model->nu + 1, fine_v = 2 * model->nv + 1;
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_vec3 *low = NULL, *high = NULL;
    HW_ALLOC(job, tmp.arena, low, fine_u * fine_v);
    HW_ALLOC(job, tmp.arena, high, fine_u * fine_v);
    strides step = strides_of(model);
    for (int i = 0; i < fine_u; i++)
        for (int j = 0; j < fine_v; j++) {
            int at = i * step.u * device->nv + j * step.v;
            low[i * fine_v + j] = device->bottom[at];
            high[i * fine_v + j] = device->top[at];
        }
    hw_fem_sheet sheet = {low, high, model->nu, model->nv, 1};
    HW_TRY(hw_fem_sheet_mesh(job, &sheet, into, &model->mesh, &model->faces));
    hw_scratch_end(tmp);
    return HW_OK;
}

// Normals, gaps and tissue at the device's grid.
static hw_status make_fields(hw_job *job, const hw_foot *foot, hw_arena *into, press_model *model)
{
    const hw_orthosis *device = model->device;
    const int grid = device->nu * device->nv;
    double heel_back = foot->landmarks.heel_back.x;
    HW_TRY(grid_normals(job, device->top, into, &model->down));
    HW_ALLOC(job, into, model->gaps, grid);
    HW_ALLOC(job, into, model->tissue, grid);
    for (int k = 0; k < grid; k++) {
        double u = (double)(k / device->nv) / (device->nu - 1);
        double v = (double)(k % device->nv) / (device->nv - 1);
        hw_vec3 away = hw_vec3_sub(device->top[k], device->sole[k]);
        model->gaps[k] = hw_vec3_dot(away, model->down[k]);
        double along = (device->top[k].x - heel_back) / model->foot_length;
        if (device->is_long) u = fmin(1.0, along / 0.70); // as if it ended behind the heads
        model->tissue[k] = press_tissue_at(along, u, v);
    }
    return HW_OK;
}

// A value of the device's grid at a bed of a brick's upper face: linear between grid points.
static double at_bed(const press_model *model, int element, int bed,
                     double (*value)(const press_model *, int))
{
    const hw_orthosis *device = model->device;
    strides step = strides_of(model);
    double s = 0.5 - 0.5 / sqrt(3.0); // where Gauss's rule of two stands in 0..1
    double u = 2.0 * step.u * (element / model->nv + ((bed & 1) ? 1.0 - s : s));
    double v = 2.0 * step.v * (element % model->nv + ((bed & 2) ? 1.0 - s : s));
    int i = (int)u, j = (int)v, k = i * device->nv + j;
    double du = u - i, dv = v - j;
    return (1.0 - du) * ((1.0 - dv) * value(model, k) + dv * value(model, k + 1)) +
           du * ((1.0 - dv) * value(model, k + device->nv) + dv * value(model, k + device->nv + 1));
}

static double gap_value(const press_model *model, int k)
{
    return model->gaps[k];
}

// The grid point nearest to a bed: its tissue changes little from one to the next.
static int grid_near_bed(const press_model *model, int element, int bed)
{
    strides step = strides_of(model);
    double s = 0.5 - 0.5 / sqrt(3.0);
    int i = (int)lround(2.0 * step.u * (element / model->nv + ((bed & 1) ? 1.0 - s : s)));
    int j = (int)lround(2.0 * step.v * (element % model->nv + ((bed & 2) ? 1.0 - s : s)));
    return i * model->device->nv + j;
}

static void set_tissue(hw_fem_bed *bed, const press_tissue *tissue)
{
    bed->thickness = tissue->thickness;
    bed->modulus = tissue->modulus;
    bed->exponent = tissue->exponent;
    for (int r = 0; r < HW_PRESS_REGIONS; r++) bed->rides[r] = tissue->shares[r];
}

static hw_status make_beds(hw_job *job, hw_arena *into, const press_plane *ground,
                           press_model *model)
{
    const int count = model->mesh.element_count * HW_FEM_FACE_BEDS;
    hw_fem_bed_place places[HW_FEM_FACE_BEDS];
    HW_ALLOC(job, into, model->beds, 2 * count);
    for (int e = 0; e < model->mesh.element_count; e++) {
        hw_fem_bed *below = model->beds + e * HW_FEM_FACE_BEDS, *above = below + count;
        hw_fem_beds_on(&model->mesh, e, HW_FEM_HIGH, above, places);
        for (int k = 0; k < HW_FEM_FACE_BEDS; k++) {
            above[k].gap = at_bed(model, e, k, gap_value);
            set_tissue(&above[k], &model->tissue[grid_near_bed(model, e, k)]);
        }
        hw_fem_beds_on(&model->mesh, e, HW_FEM_LOW, below, places);
        for (int k = 0; k < HW_FEM_FACE_BEDS; k++) {
            hw_vec3 p = places[k].point;
            double above_ground = p.z - ground->at - ground->along_x * p.x - ground->along_y * p.y;
            below[k].push = model->up;
            below[k].gap = above_ground * model->up.z;
            below[k].thickness = floor_thickness, below[k].modulus = floor_modulus;
        }
    }
    model->fem.beds = model->beds;
    model->fem.bed_count = 2 * count;
    return HW_OK;
}

// Springs along the middle line: across everywhere, lengthwise at the heel.
static hw_status make_springs(hw_job *job, hw_arena *into, press_model *model)
{
    const int fine_v = 2 * model->nv + 1, middle = 2 * (model->nv / 2);
    const int all = 2 * model->nu + 1, heel = all / 3;
    HW_ALLOC(job, into, model->springs, 2 * all);
    for (int i = 0; i < all; i++) {
        int node = model->faces.low[i * fine_v + middle];
        HW_ASSERT(node >= 0); // an even column has nodes all along
        model->springs[model->fem.spring_count++] =
            (hw_fem_spring){node, {0.0, 1.0, 0.0}, shoe_hold / all};
        if (i < heel)
            model->springs[model->fem.spring_count++] =
                (hw_fem_spring){node, {1.0, 0.0, 0.0}, shoe_hold / heel};
    }
    model->fem.springs = model->springs;
    return HW_OK;
}

hw_status press_model_make(hw_job *job, const hw_foot *foot, const hw_orthosis *device,
                           press_fineness fineness, hw_arena *into, press_model *out)
{
    press_model model = {.device = device, .nu = fineness.nu, .nv = fineness.nv};
    const hw_shell_row *shell = hw_shell_row_of(device->material);
    HW_ASSERT((device->nu - 1) % (2 * model.nu) == 0 && (device->nv - 1) % (2 * model.nv) == 0);
    press_plane ground = {0};
    model.foot_length = press_foot_length(foot);
    HW_TRY(press_ground(job, foot, device, &ground));
    model.up = hw_vec3_unit((hw_vec3){-ground.along_x, -ground.along_y, 1.0});
    HW_TRY(make_mesh(job, into, &model));
    HW_TRY(make_fields(job, foot, into, &model));
    HW_TRY(make_beds(job, into, &ground, &model));
    HW_TRY(make_springs(job, into, &model));
    model.fem.material = (hw_fem_material){shell->young, shell->poisson};
    model.fem.rider_count = HW_PRESS_REGIONS;
    for (int r = 0; r < HW_PRESS_REGIONS; r++)
        model.fem.rider_ways[r] = hw_vec3_scale(model.up, -1.0);
    *out = model;
    return HW_OK;
}

// The brick that holds a grid point, and where in it: -1..1.
static int brick_at(const press_model *model, int i, int j, double at[2])
{
    strides step = strides_of(model);
    int e = i / (2 * step.u), f = j / (2 * step.v);
    e -= e == model->nu, f -= f == model->nv;
    at[0] = (double)i / step.u - 2.0 * e - 1.0;
    at[1] = (double)j / step.v - 2.0 * f - 1.0;
    return e * model->nv + f;
}

// Move of a face at grid point i, j.
static hw_vec3 face_move(const press_model *model, const hw_fem_answer *solved, hw_fem_face face,
                         int i, int j)
{
    double at[2], shares[8];
    int element = brick_at(model, i, j, at);
    const double turned[2] = {at[1], at[0]}; // the lower face counts the other way round
    hw_vec3 move = {0};
    hw_fem_face_shares(face == HW_FEM_HIGH ? at : turned, shares);
    for (int n = 0; n < 8; n++) {
        int node = hw_fem_face_node(&model->mesh, element, face, n);
        move = hw_vec3_add(move, hw_vec3_scale(solved->moves[node], shares[n]));
    }
    return move;
}

// Von Mises' stress of a face at grid point i, j.
static double face_stress(const press_model *model, const hw_fem_answer *solved, hw_fem_face face,
                          int i, int j)
{
    double at[2], shares[8], stress = 0.0;
    int element = brick_at(model, i, j, at);
    const double turned[2] = {at[1], at[0]};
    hw_fem_face_shares(face == HW_FEM_HIGH ? at : turned, shares);
    for (int n = 0; n < 8; n++)
        stress += shares[n] * solved->von_mises[hw_fem_face_node(&model->mesh, element, face, n)];
    return fmax(0.0, stress);
}

hw_status press_carry_over(hw_job *job, const press_model *coarse, const hw_fem_answer *solved,
                           const press_model *fine, hw_arena *into, hw_vec3 **out)
{
    const int fine_v = 2 * fine->nv + 1;
    strides step = strides_of(fine);
    hw_vec3 *moves = NULL;
    HW_ALLOC(job, into, moves, fine->mesh.node_count);
    for (int i = 0; i <= 2 * fine->nu; i++)
        for (int j = 0; j < fine_v; j++) {
            int low = fine->faces.low[i * fine_v + j], high = fine->faces.high[i * fine_v + j];
            if (low < 0) continue;
            moves[low] = face_move(coarse, solved, HW_FEM_LOW, i * step.u, j * step.v);
            moves[high] = face_move(coarse, solved, HW_FEM_HIGH, i * step.u, j * step.v);
        }
    for (int e = 0; e < fine->mesh.element_count; e++)
        for (int k = 0; k < 4; k++) { // nodes between the faces
            const int *nodes = fine->mesh.elements[e];
            moves[nodes[16 + k]] = hw_vec3_mix(moves[nodes[k]], moves[nodes[4 + k]], 0.5);
        }
    *out = moves;
    return HW_OK;
}

static double bone_sink(const press_model *model, int k, const double *travel)
{
    double sink = 0.0;
    for (int r = 0; r < HW_PRESS_REGIONS; r++) sink += model->tissue[k].shares[r] * travel[r];
    return sink;
}

static void fill_point(const press_model *model, const hw_fem_answer *solved, int k,
                       hw_press_answer *out)
{
    int nv = model->device->nv, i = k / nv, j = k % nv;
    hw_vec3 move = face_move(model, solved, HW_FEM_HIGH, i, j);
    hw_fem_bed bed = {0};
    set_tissue(&bed, &model->tissue[k]);
    double pressing =
        -model->gaps[k] - hw_vec3_dot(model->down[k], move) -
        bone_sink(model, k, solved->rider_travel) * hw_vec3_dot(model->down[k], model->up);
    out->pressure_Pa[k] = hw_fem_bed_pressure(&bed, pressing / bed.thickness, NULL);
    out->sink_m[k] = -hw_vec3_dot(move, model->up);
    out->stress_Pa[k] = fmax(face_stress(model, solved, HW_FEM_HIGH, i, j),
                             face_stress(model, solved, HW_FEM_LOW, i, j));
}

hw_status press_fill(hw_job *job, const press_model *model, const hw_fem_answer *solved,
                     hw_arena *into, hw_press_answer *out)
{
    const int grid = model->device->nu * model->device->nv;
    HW_ALLOC(job, into, out->pressure_Pa, grid);
    HW_ALLOC(job, into, out->sink_m, grid);
    HW_ALLOC(job, into, out->stress_Pa, grid);
    for (int k = 0; k < grid; k++) fill_point(model, solved, k, out);
    return HW_OK;
}
