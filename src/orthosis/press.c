// SPDX-License-Identifier: GPL-3.0-or-later
// Runs the moments and reads off what a clinician asks.
#include "orthosis_internal.h"
#include "press_internal.h"

#include <string.h>

static const press_fineness preview_bricks = {30, 10}, final_bricks = {60, 15};
static const double pressed = 1e3; // Pa; less than this is no contact

static hw_status check_ask(hw_job *job, const hw_press_ask *ask)
{
    if (!(ask->mass_kg >= 20.0 && ask->mass_kg <= 250.0))
        return hw_fail(job, HW_BAD_INPUT, "a body mass of %.4g kg: 20 to 250 kg can be computed",
                       ask->mass_kg);
    if (ask->young != 0.0 && !(ask->young >= 1e6 && ask->young <= 1e11)) // as asked: 0 is none
        return hw_fail(job, HW_BAD_INPUT, "a modulus of %.4g Pa: 1 MPa to 100 GPa can be computed",
                       ask->young);
    if (ask->arch_bw != 0.0 && !(ask->arch_bw >= 0.01 && ask->arch_bw <= 1.0)) // as asked
        return hw_fail(job, HW_BAD_INPUT,
                       "%.4g body weights on the arch: 0.01 to 1 can be computed", ask->arch_bw);
    return HW_OK;
}

// Area of the top that belongs to a grid point, m2: half of the two triangles between its
// neighbours' diagonals.
static double area_at(const hw_orthosis *device, int k)
{
    int i = k / device->nv, j = k % device->nv;
    int back = i > 0 ? k - device->nv : k, front = i + 1 < device->nu ? k + device->nv : k;
    int medial = j > 0 ? k - 1 : k, lateral = j + 1 < device->nv ? k + 1 : k;
    hw_vec3 along = hw_vec3_sub(device->top[front], device->top[back]);
    hw_vec3 across = hw_vec3_sub(device->top[lateral], device->top[medial]);
    return 0.25 * hw_vec3_norm(hw_vec3_cross(along, across));
}

hw_status press_areas(hw_job *job, const hw_orthosis *device, hw_arena *into, double **out)
{
    const int grid = device->nu * device->nv;
    double *areas = NULL;
    HW_ALLOC(job, into, areas, grid);
    for (int k = 0; k < grid; k++) areas[k] = area_at(device, k);
    *out = areas;
    return HW_OK;
}

static void sum_parts(const press_model *model, const double *areas, hw_press_answer *answer)
{
    const int grid = model->device->nu * model->device->nv;
    double forces[HW_PRESS_REGIONS] = {0};
    for (int k = 0; k < grid; k++) {
        hw_press_region region = press_region_of(&model->tissue[k]);
        hw_press_part *part = &answer->part[region];
        double pressure = answer->pressure_Pa[k], area = areas[k];
        part->borne_N -= pressure * area * hw_vec3_dot(model->down[k], model->up);
        if (pressure < pressed) continue;
        part->contact_m2 += area;
        forces[region] += pressure * area;
    }
    for (int r = 0; r < HW_PRESS_REGIONS; r++) {
        hw_press_part *part = &answer->part[r];
        hw_press_limit limit = hw_press_limit_of((hw_press_region)r);
        if (part->contact_m2 > 0.0) part->mean_Pa = forces[r] / part->contact_m2;
        part->over_mean = limit.mean_low > 0.0 && part->mean_Pa > limit.mean_low;
        part->over_peak = limit.peak_low > 0.0 && part->peak_Pa > limit.peak_low;
    }
}

static void read_arch(const press_model *model, hw_press_answer *answer)
{
    const int grid = model->device->nu * model->device->nv;
    for (int k = 0; k < grid; k++) {
        const press_tissue *tissue = &model->tissue[k];
        if (press_region_of(tissue) != HW_PRESS_ARCH) continue;
        answer->arch_sink_m = fmax(answer->arch_sink_m, answer->sink_m[k]);
        double strain = log1p(answer->pressure_Pa[k] * tissue->exponent / tissue->modulus);
        answer->tissue_squeeze = fmax(answer->tissue_squeeze, strain / tissue->exponent);
    }
    if (answer->arch_sink_m > 0.0)
        answer->arch_N_per_m = answer->part[HW_PRESS_ARCH].load_N / answer->arch_sink_m;
}

static void read_stress(const press_model *model, const hw_fem_answer *solved,
                        hw_press_answer *answer)
{
    for (int n = 0; n < model->mesh.node_count; n++)
        if (solved->von_mises[n] > answer->von_mises_Pa) {
            answer->von_mises_Pa = solved->von_mises[n];
            answer->von_mises_at = model->mesh.nodes[n];
        }
}

// The moments that are asked: first..first + count - 1.
typedef struct moments {
    int first, count;
} moments;

static moments moments_of(const hw_press_ask *ask)
{
    if (ask->effort == HW_PRESS_FINAL) return (moments){0, HW_PRESS_MOMENTS};
    return (moments){HW_PRESS_MIDSTANCE, 1};
}

// With small rotations on the model it is given.
static hw_status solve_small(hw_job *job, press_model *model, const hw_press_ask *ask,
                             hw_arena *into, hw_fem_answer solved[HW_PRESS_MOMENTS])
{
    moments asked = moments_of(ask);
    hw_fem_case cases[HW_PRESS_MOMENTS] = {0};
    for (int k = 0; k < HW_PRESS_MOMENTS; k++)
        press_loads((hw_press_moment)k, ask, cases[k].rider_loads);
    model->fem.mesh = &model->mesh;
    return hw_fem_solve(job, &model->fem, cases + asked.first, asked.count, into,
                        solved + asked.first);
}

// With large rotations on a finer model, beginning with the coarser one's answers.
static hw_status solve_large(hw_job *job, const press_model *coarse, press_model *model,
                             const hw_press_ask *ask, hw_fem_answer solved[HW_PRESS_MOMENTS],
                             hw_arena *into)
{
    moments asked = moments_of(ask);
    hw_fem_case cases[HW_PRESS_MOMENTS] = {0};
    for (int k = asked.first; k < asked.first + asked.count; k++) {
        hw_vec3 *start = NULL;
        HW_TRY(press_carry_over(job, coarse, &solved[k], model, into, &start));
        press_loads((hw_press_moment)k, ask, cases[k].rider_loads);
        cases[k].start = start;
        memcpy(cases[k].rider_start, solved[k].rider_travel, sizeof cases[k].rider_start);
    }
    model->fem.mesh = &model->mesh;
    model->fem.large = true;
    return hw_fem_solve(job, &model->fem, cases + asked.first, asked.count, into,
                        solved + asked.first);
}

// Where mech's shell bears on the foot: foot lengths from the back of the heel, and ball breadths
// to the lateral side (docs/mechanics.md, patches).
static const double patch_places[HW_PRESS_PATCHES][2] = {
    {0.33, -0.10}, {0.46, -0.26}, {0.46, -0.08}, {0.46, 0.07}};

static const double patch_radius = 0.010; // m

// Stiffness under each patch: its quarter of the arch's load over the mean sink around it.
static void read_patches(const press_model *model, const hw_foot *foot, hw_press *out)
{
    const hw_press_answer *answer = &out->at[HW_PRESS_MIDSTANCE];
    const hw_orthosis *device = model->device;
    double breadth = foot->landmarks.mth5.y - foot->landmarks.mth1.y, sinks = 0.0;
    int found = 0;
    double quarter = answer->part[HW_PRESS_ARCH].load_N / HW_PRESS_PATCHES;
    for (int p = 0; p < HW_PRESS_PATCHES; p++) {
        double x = foot->landmarks.heel_back.x + patch_places[p][0] * model->foot_length;
        double y = patch_places[p][1] * breadth, sink = 0.0, area = 0.0;
        for (int k = 0; k < device->nu * device->nv; k++) {
            double away = hypot(device->top[k].x - x, device->top[k].y - y);
            if (away > 2.0 * patch_radius) continue;
            double part = area_at(device, k) * press_disc_share(away, patch_radius);
            sink += part * answer->sink_m[k], area += part;
        }
        if (!(area > 0.0 && sink > 0.0)) continue;
        out->patch_N_per_m[p] = quarter * area / sink;
        sinks += sink / area;
        found++;
    }
    if (sinks > 0.0) out->shell_N_per_m = quarter * found / sinks;
}

static void caution(hw_press *out, bool holds, const char *text)
{
    if (holds && out->caution_count < HW_PRESS_CAUTIONS) out->cautions[out->caution_count++] = text;
}

static void list_cautions(hw_press *out)
{
    const hw_press_answer *walk = &out->at[HW_PRESS_MIDSTANCE], *push = &out->at[HW_PRESS_PUSHOFF];
    const hw_press_part *arch = &walk->part[HW_PRESS_ARCH];
    bool edge = walk->part[HW_PRESS_EDGE].over_peak || push->part[HW_PRESS_EDGE].over_peak;
    caution(out, arch->over_mean,
            "The mean pressure under the medial arch in mid-stance is over 60 kPa, the low end of "
            "what an arch gets used to: consider a lower arch or a longer wearing-in.");
    caution(out, arch->over_peak,
            "The pressure under the medial arch in mid-stance exceeds 150 kPa in places: expect "
            "soreness there.");
    caution(out, walk->part[HW_PRESS_HEEL].over_peak,
            "The pressure under the heel in mid-stance exceeds 400 kPa in places, where pain on a "
            "probe begins.");
    caution(out, walk->part[HW_PRESS_LATERAL].over_peak,
            "The pressure under the lateral border exceeds 200 kPa in places.");
    caution(out, edge, "The forefoot edge presses over 200 kPa in places: look at its end.");
    caution(out, out->fatigue.known && out->fatigue.p95 > 1.0,
            "Repeated stress may exceed what the material bears a million times. The case is a "
            "harsh one and not calibrated on returned devices: look for cracks at reviews; it is "
            "no reason by itself to thicken the shell.");
}

// Friction, a shoe and the shell's rim take 20 to 40 % off the stress: the band's low end has 40 %.
static void read_fatigue(const hw_orthosis *device, hw_press *out)
{
    const hw_shell_row *shell = hw_shell_row_of(device->material);
    double stress = out->at[HW_PRESS_MIDSTANCE].von_mises_Pa;
    if (out->at[HW_PRESS_PUSHOFF].is_solved)
        stress = fmax(stress, out->at[HW_PRESS_PUSHOFF].von_mises_Pa);
    if (!(shell->endures_low > 0.0)) { // foams and cork pack down; they do not crack
        out->fatigue = hw_band_unknown("no endurance of this material is known");
        return;
    }
    double low = 0.6 * stress / shell->endures_high, high = stress / shell->endures_low;
    out->fatigue = (hw_band){.median = sqrt(low * high), .p05 = low, .p95 = high, .known = true};
}

static hw_status read_moment(hw_job *job, const press_model *model, const hw_fem_answer *solved,
                             hw_arena *into, hw_press_answer *out)
{
    double *areas = NULL, *means = NULL;
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_TRY(press_fill(job, model, solved, into, out));
    HW_TRY(press_areas(job, model->device, tmp.arena, &areas));
    HW_TRY(press_probe(job, model->device, areas, out->pressure_Pa, tmp.arena, &means));
    press_peaks(model, means, out);
    sum_parts(model, areas, out);
    hw_scratch_end(tmp);
    read_arch(model, out);
    read_stress(model, solved, out);
    out->iterations = solved->iterations;
    out->residual = solved->residual;
    out->is_solved = true;
    return HW_OK;
}

hw_status hw_orthosis_press(hw_job *job, const hw_foot *foot, const hw_orthosis *device,
                            const hw_press_ask *ask, hw_arena *into, hw_press *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_fem_answer solved[HW_PRESS_MOMENTS] = {0};
    press_model model = {0};
    hw_press press = {0};
    HW_TRY(check_ask(job, ask));
    if (device->is_cup)
        return hw_fail(job, HW_BAD_INPUT,
                       "a heel cup bears no arch: how it bears the foot is not computed");
    HW_TRY(press_model_make(job, foot, device, preview_bricks, tmp.arena, &model));
    if (ask->young > 0.0) model.fem.material.young = ask->young;
    HW_TRY(solve_small(job, &model, ask, tmp.arena, solved));
    if (ask->effort != HW_PRESS_PREVIEW) {
        press_model coarse = model;
        HW_TRY(press_model_make(job, foot, device, final_bricks, tmp.arena, &model));
        model.fem.material = coarse.fem.material;
        HW_TRY(solve_large(job, &coarse, &model, ask, solved, tmp.arena));
    }
    press.young = model.fem.material.young, press.poisson = model.fem.material.poisson;
    for (int k = 0; k < HW_PRESS_MOMENTS; k++) {
        double loads[HW_PRESS_REGIONS];
        press_loads((hw_press_moment)k, ask, loads);
        for (int r = 0; r < HW_PRESS_REGIONS; r++) press.at[k].part[r].load_N = loads[r];
        if (solved[k].moves) HW_TRY(read_moment(job, &model, &solved[k], into, &press.at[k]));
    }
    read_patches(&model, foot, &press);
    read_fatigue(device, &press);
    list_cautions(&press);
    hw_scratch_end(tmp);
    *out = press;
    return HW_OK;
}
