// SPDX-License-Identifier: GPL-3.0-or-later
// A shell of an invented foot for bench/fem.py.
//   fem_bench time               times of the pressed shell and of one factor, JSON
//   fem_bench deck FILE NU NV    the shell clamped at the heel, loaded on the arch, as input for a
//                                general finite element program; our own moves to standard output
#include "demo/demo.h"
#include "orthosis/press_internal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

typedef struct bench {
    hw_job job;
    hw_arena *into;
    hw_foot foot;
    hw_orthosis device;
} bench;

static double seconds(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static hw_status make(bench *of)
{
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    HW_TRY(hw_demo_posed(&of->job, &demo, of->into, &of->foot));
    hw_orthosis_order order = hw_orthosis_order_default(of->foot.loading);
    order.shell_thickness_m = 0.003;
    return hw_orthosis_build(&of->job, &of->foot, &order, of->into, &of->device);
}

static hw_status time_press(bench *of, hw_press_effort effort, double *took)
{
    hw_press press = {0};
    hw_press_ask ask = {.mass_kg = 80.0, .effort = effort};
    double start = seconds();
    HW_TRY(hw_orthosis_press(&of->job, &of->foot, &of->device, &ask, of->into, &press));
    *took = seconds() - start;
    return HW_OK;
}

// The shell without contact: heel third of the lower face clamped, 100 N down on the medial arch.
typedef struct clamped {
    press_model model;
    hw_fem_hold *holds;
    hw_vec3 *forces;
} clamped;

static hw_status clamp(bench *of, press_fineness fineness, clamped *out)
{
    HW_TRY(press_model_make(&of->job, &of->foot, &of->device, fineness, of->into, &out->model));
    hw_fem_model *fem = &out->model.fem;
    const hw_fem_mesh *mesh = &out->model.mesh;
    HW_ALLOC(&of->job, of->into, out->holds, 3 * mesh->node_count);
    HW_ALLOC(&of->job, of->into, out->forces, mesh->node_count);
    fem->mesh = mesh, fem->holds = out->holds;
    fem->bed_count = fem->spring_count = fem->rider_count = 0;
    hw_fem_spread load = {.traction = {0.0, 0.0, -1e5}};
    for (int e = 0; e < mesh->element_count; e++) {
        double x = mesh->nodes[mesh->elements[e][4]].x;
        if (x < 0.06)
            for (int k = 0; k < 8; k++)
                for (int axis = 0; axis < 3; axis++)
                    out->holds[fem->hold_count++] =
                        (hw_fem_hold){hw_fem_face_node(mesh, e, HW_FEM_LOW, k), axis, 0.0};
        if (fem->hold_count > 3 * mesh->node_count - 24) break;
        if (x > 0.09 && x < 0.14 && e % out->model.nv < out->model.nv / 2)
            hw_fem_spread_on(mesh, e, HW_FEM_HIGH, &load, out->forces);
    }
    return HW_OK;
}

// Fields of a deck are read to 20 characters.
static void write_deck(FILE *file, const clamped *of)
{
    const hw_fem_mesh *mesh = &of->model.mesh;
    const hw_fem_material *material = &of->model.fem.material;
    fputs("*NODE, NSET=ALL\n", file);
    for (int n = 0; n < mesh->node_count; n++)
        fprintf(file, "%d, %.12e, %.12e, %.12e\n", n + 1, mesh->nodes[n].x, mesh->nodes[n].y,
                mesh->nodes[n].z);
    fputs("*ELEMENT, TYPE=C3D20R, ELSET=SHELL\n", file);
    for (int e = 0; e < mesh->element_count; e++) {
        fprintf(file, "%d", e + 1);
        for (int a = 0; a < HW_FEM_NODES; a++)
            fprintf(file, ",%s%d", a == 14 ? "\n" : " ", mesh->elements[e][a] + 1);
        fputc('\n', file);
    }
    fprintf(file, "*MATERIAL, NAME=M\n*ELASTIC\n%.12e, %.12e\n", material->young,
            material->poisson);
    fputs("*SOLID SECTION, ELSET=SHELL, MATERIAL=M\n*STEP\n*STATIC\n*BOUNDARY\n", file);
    for (int h = 0; h < of->model.fem.hold_count; h++)
        fprintf(file, "%d, %d, %d, 0\n", of->holds[h].node + 1, of->holds[h].axis + 1,
                of->holds[h].axis + 1);
    fputs("*CLOAD\n", file);
    for (int n = 0; n < mesh->node_count; n++)
        if (of->forces[n].z < 0.0 || of->forces[n].z > 0.0)
            fprintf(file, "%d, 3, %.12e\n", n + 1, of->forces[n].z);
    fputs("*NODE PRINT, NSET=ALL\nU\n*END STEP\n", file);
}

static hw_status run_clamped(bench *of, press_fineness fineness, const char *path, double *took)
{
    clamped shell = {0};
    hw_fem_answer answer = {0};
    HW_TRY(clamp(of, fineness, &shell));
    hw_fem_case load = {.forces = shell.forces};
    double start = seconds();
    HW_TRY(hw_fem_solve(&of->job, &shell.model.fem, &load, 1, of->into, &answer));
    *took = seconds() - start;
    if (!path) return HW_OK;
    FILE *file = fopen(path, "w");
    if (!file) return hw_fail(&of->job, HW_IO_FAILED, "cannot write the deck");
    write_deck(file, &shell);
    fclose(file);
    for (int n = 0; n < shell.model.mesh.node_count; n++)
        printf("%d %.12e %.12e %.12e\n", n + 1, answer.moves[n].x, answer.moves[n].y,
               answer.moves[n].z);
    return HW_OK;
}

static hw_status run(bench *of, int argc, char **argv)
{
    double preview = 0.0, final = 0.0, linear = 0.0;
    HW_TRY(make(of));
    if (argc == 5 && strcmp(argv[1], "deck") == 0)
        return run_clamped(of, (press_fineness){atoi(argv[3]), atoi(argv[4])}, argv[2], &linear);
    HW_TRY(time_press(of, HW_PRESS_PREVIEW, &preview));
    HW_TRY(time_press(of, HW_PRESS_FINAL, &final));
    HW_TRY(run_clamped(of, (press_fineness){60, 15}, NULL, &linear));
    printf("{\"preview_s\": %.6f, \"final_s\": %.6f, \"linear_s\": %.6f}\n", preview, final,
           linear);
    return HW_OK;
}

int main(int argc, char **argv)
{
    bench of = {.into = hw_arena_new((size_t)2 << 30)};
    if (!of.into || hw_job_open(&of.job, (size_t)1 << 30) != HW_OK) return 1;
    hw_status status = run(&of, argc, argv);
    if (status != HW_OK) fprintf(stderr, "%s\n", of.job.why);
    hw_arena_free(of.into), hw_job_close(&of.job);
    return status == HW_OK ? 0 : 1;
}
