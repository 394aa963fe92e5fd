// SPDX-License-Identifier: GPL-3.0-or-later
// Seeded prescriptions on seeded feet of both sides: each is made whole or refused by name, and what
// was ordered is measured back from the bytes of the written file, by rays through its triangles.
#include "base/parallel.h"
#include "demo/demo.h"
#include "meshfile/meshfile.h"
#include "suites.h"

enum { SAID = 256, MISSED = 160 };

// One prescription's fate.
typedef struct fate {
    hw_status status;
    char said[SAID];     // of a refusal
    char missed[MISSED]; // what did not measure as ordered
    int measured;        // corrections measured back
} fate;

static double between(hw_random *random, double low, double high)
{
    return low + (high - low) * hw_random_uniform(random);
}

static bool happens(hw_random *random, double chance)
{
    return hw_random_uniform(random) < chance;
}

// Terms that cannot stand together are kept apart, so that most prescriptions can be made.
static void keep_apart(hw_orthosis_order *order)
{
    bool is_long = order->length == HW_ORTHOSIS_SULCUS || order->length == HW_ORTHOSIS_FULL;
    if (order->length == HW_ORTHOSIS_HEEL_CUP) {
        order->groove_depth_m = order->forefoot_post_rad = order->ray_cut_m = 0.0;
        order->medial_flange_m = order->lateral_flange_m = order->met_height_m = 0.0;
        order->met_pad = HW_MET_NONE;
    }
    if (is_long) order->forefoot_intrinsic = true, order->ray_cut_m = 0.0;
    if (order->skive_depth_m > 0.0) {
        order->heel_cup_depth_m = fmax(0.014, order->heel_cup_depth_m);
        order->rearfoot_post_rad = fabs(order->rearfoot_post_rad);
        order->recess_depth_m = 0.0;
    }
    if (order->ray_cut_m > 0.0) order->forefoot_post_rad = -fabs(order->forefoot_post_rad);
    if (order->balances_heel) order->rearfoot_intrinsic = false;
}

static hw_orthosis_order drawn_order(hw_random *random, hw_loading loading)
{
    static const double chance[HW_TERMS] = {
        [HW_TERM_THICKNESS] = 0.5,        [HW_TERM_HEEL_CUP] = 0.8,
        [HW_TERM_ARCH_FILL] = 0.5,        [HW_TERM_HEEL_EXPANSION] = 0.3,
        [HW_TERM_BORDER_EXPANSION] = 0.3, [HW_TERM_REARFOOT_POST] = 0.5,
        [HW_TERM_FOREFOOT_POST] = 0.25,   [HW_TERM_HEEL_RAISE] = 0.3,
        [HW_TERM_SKIVE] = 0.25,           [HW_TERM_GROOVE_DEPTH] = 0.25,
        [HW_TERM_GROOVE_WIDTH] = 0.5,     [HW_TERM_RECESS_DEPTH] = 0.2,
        [HW_TERM_MEDIAL_FLANGE] = 0.1,    [HW_TERM_LATERAL_FLANGE] = 0.1,
        [HW_TERM_RAY_CUT] = 0.15};
    hw_orthosis_order order = hw_orthosis_order_default(loading);
    hw_orthosis_order_of_material(
        &order, (hw_shell_material)(HW_SHELL_MATERIALS * hw_random_uniform(random)));
    order.length = (hw_orthosis_length)(HW_ORTHOSIS_LENGTHS * hw_random_uniform(random));
    for (int i = 0; i < HW_TERMS; i++) {
        const hw_order_row *row = &hw_order_rows()[i];
        const hw_shell_row *shell = hw_shell_row_of(order.material);
        bool is_thickness = i == HW_TERM_THICKNESS;
        if (!happens(random, chance[i])) continue;
        hw_order_set(&order, (hw_order_term)i,
                     between(random, is_thickness ? shell->thinnest : row->low,
                             is_thickness ? shell->thickest : row->high));
    }
    order.rearfoot_intrinsic = happens(random, 0.4);
    order.forefoot_intrinsic = happens(random, 0.6);
    order.balances_heel = happens(random, 0.1);
    order.cover = HW_COVER_EVA, order.cover_thickness_m = 0.003;
    order.recess_width_m = 0.025;
    if (happens(random, 0.2)) {
        order.met_pad = happens(random, 0.4) ? HW_MET_BAR : HW_MET_DOME;
        order.met_height_m = between(random, 0.002, 0.008);
    }
    keep_apart(&order);
    return order;
}

static hw_status drawn_foot(hw_job *job, hw_random *random, int index, hw_arena *into, hw_foot *out)
{
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    demo.triangles = 12000;
    demo.side = index % 2 ? HW_SIDE_RIGHT : HW_SIDE_LEFT;
    demo.foot_length_m = between(random, 0.220, 0.290);
    demo.arch_apex_height_m = between(random, 0.009, 0.028);
    HW_TRY(hw_demo_posed(job, &demo, into, out));
    out->measures.heel_bisection_rad = hw_known(between(random, -0.1, 0.1));
    return HW_OK;
}

enum { BINS = 512 };

// A file's triangles by where along the foot they lie, 1 mm a bin, so that a ray looks at few.
typedef struct written {
    hw_mesh mesh;
    int start[BINS + 1];
    int *list;
} written;

static int bin_of(double x)
{
    int bin = (int)floor(1e3 * x) + 100;
    return bin < 0 ? 0 : bin >= BINS ? BINS - 1 : bin;
}

static void span(const hw_mesh *mesh, int t, int *from, int *to)
{
    const int *c = mesh->triangles[t];
    double a = mesh->points[c[0]].x, b = mesh->points[c[1]].x, d = mesh->points[c[2]].x;
    *from = bin_of(fmin(a, fmin(b, d))), *to = bin_of(fmax(a, fmax(b, d)));
}

static hw_status sort_into_bins(hw_job *job, hw_arena *into, written *out)
{
    int from = 0, to = 0, counts[BINS + 1] = {0};
    for (int t = 0; t < out->mesh.triangle_count; t++) {
        span(&out->mesh, t, &from, &to);
        for (int k = from; k <= to; k++) counts[k + 1]++;
    }
    for (int k = 0; k < BINS; k++) counts[k + 1] += counts[k];
    memcpy(out->start, counts, sizeof counts);
    HW_ALLOC(job, into, out->list, counts[BINS] + 1);
    for (int t = 0; t < out->mesh.triangle_count; t++) {
        span(&out->mesh, t, &from, &to);
        for (int k = from; k <= to; k++) out->list[counts[k]++] = t;
    }
    return HW_OK;
}

// The written file of a device, read back and turned into a left foot's: nothing of the struct is
// looked at but its solid on the way out.
static hw_status as_written(hw_job *job, const hw_foot *foot, const hw_orthosis *device,
                            hw_arena *into, written *out)
{
    hw_mesh solid = {0}, back = {0};
    hw_bytes file = {0};
    hw_pose to_metres = hw_pose_identity(), mirror = hw_foot_exit(foot->side);
    to_metres.scale = 1e-3;
    HW_TRY(hw_orthosis_exit(job, device, into, &solid));
    HW_TRY(hw_meshfile_stl(job, &solid, "test", into, &file));
    HW_TRY(hw_meshfile_read(job, file, into, &back, NULL));
    hw_pose whole = hw_pose_chain(&to_metres, &mirror);
    HW_TRY(hw_mesh_place(job, &back, &whole, into, &out->mesh));
    return sort_into_bins(job, into, out);
}

// Highest (or lowest) place of the solid on the upright through x, y.
static double height_at(const written *file, double x, double y, bool is_top)
{
    double best = NAN;
    const hw_mesh *mesh = &file->mesh;
    for (int m = file->start[bin_of(x)]; m < file->start[bin_of(x) + 1]; m++) {
        const int *c = mesh->triangles[file->list[m]];
        hw_vec3 p[3] = {mesh->points[c[0]], mesh->points[c[1]], mesh->points[c[2]]};
        double share[3], whole = 0.0;
        if (fmin(p[0].x, fmin(p[1].x, p[2].x)) > x || fmax(p[0].x, fmax(p[1].x, p[2].x)) < x)
            continue;
        for (int k = 0; k < 3; k++) {
            hw_vec3 a = p[(k + 1) % 3], b = p[(k + 2) % 3];
            share[k] = (a.x - x) * (b.y - y) - (b.x - x) * (a.y - y);
            whole += share[k];
        }
        if (fabs(whole) < 1e-16) continue;
        if (share[0] / whole < 0.0 || share[1] / whole < 0.0 || share[2] / whole < 0.0) continue;
        double z = (share[0] * p[0].z + share[1] * p[1].z + share[2] * p[2].z) / whole;
        if (isnan(best) || (is_top ? z > best : z < best)) best = z;
    }
    return best;
}

// Tilt across, varus +, of top or bottom between two uprights `half` to each side.
static double tilt_at(const written *mesh, double x, double y, double half, bool is_top)
{
    double medial = height_at(mesh, x, y - half, is_top);
    double lateral = height_at(mesh, x, y + half, is_top);
    double rise = is_top ? medial - lateral : lateral - medial;
    return atan(rise / (2.0 * half));
}

typedef struct measuring {
    hw_job *job;
    hw_arena *into;
    const hw_foot *foot;
    const hw_orthosis_order *order;
    written file;
    double x, y; // the heel's middle
    double back; // of the heel
    fate *fate;
} measuring;

static void compare(measuring *of, const char *what, double got, double want, double tolerance)
{
    of->fate->measured++;
    if (fabs(got - want) <= tolerance) return; // false for NaN
    snprintf(of->fate->missed, MISSED, "%s: %.6g, ordered %.6g +- %.2g (%s, %s)", what, got, want,
             tolerance, hw_shell_material_word(of->order->material),
             hw_orthosis_length_word(of->order->length));
}

// The file of the same prescription without one of its terms.
static hw_status file_without(measuring *of, hw_order_term term, written *out)
{
    hw_orthosis_order less = *of->order;
    hw_orthosis device = {0};
    hw_order_set(&less, term, 0.0);
    HW_TRY(hw_orthosis_build(of->job, of->foot, &less, of->into, &device));
    return as_written(of->job, of->foot, &device, of->into, out);
}

// Greatest rise of the top against another file, on a lattice over the medial heel.
static double greatest_rise(const measuring *of, const written *without)
{
    double most = 0.0;
    for (int i = -6; i <= 6; i++)
        for (int j = 0; j <= 12; j++) {
            double x = of->x + 0.0025 * i, y = of->y - 0.0025 * j;
            double rise = height_at(&of->file, x, y, true) - height_at(without, x, y, true);
            if (rise > most) most = rise;
        }
    return most;
}

static double lowest_top(const measuring *of)
{
    double low = 1.0;
    for (int i = -8; i <= 8; i++)
        for (int j = -8; j <= 8; j++)
            low = fmin(low, height_at(&of->file, of->x + 0.002 * i, of->y + 0.002 * j, true));
    return low;
}

static void measure_cup(measuring *of)
{
    double crest = -1.0, back = of->foot->landmarks.heel_back.x + 0.015;
    for (int k = 0; k < of->file.mesh.point_count; k++)
        if (of->file.mesh.points[k].x < back) crest = fmax(crest, of->file.mesh.points[k].z);
    compare(of, "cup depth", crest - lowest_top(of), of->order->heel_cup_depth_m, 0.0003);
}

// Shortest way between top and base: the base touches the wall and lies a raise below it.
static void measure_base(measuring *of)
{
    const hw_orthosis_order *order = of->order;
    double middle = height_at(&of->file, of->x, of->y, false);
    double across = tilt_at(&of->file, of->x, of->y, 0.006, false);
    double along = (height_at(&of->file, of->x + 0.006, of->y, false) -
                    height_at(&of->file, of->x - 0.006, of->y, false)) /
                   0.012;
    double slope = tan(across), least = 1.0;
    double length = 0.6 * of->x, width = 0.1 * (of->foot->landmarks.mth1.x - of->back);
    for (int i = -20; i <= 20; i++)
        for (int j = -20; j <= 20; j++) { // over the base
            double u = 0.05 * i, v = 0.05 * j, x = of->x + length * u, y = of->y + width * v;
            if (pow(u, 4.0) + pow(v, 4.0) > 1.0) continue;
            double above = height_at(&of->file, x, y, true) - middle - along * (x - of->x) -
                           slope * (y - of->y);
            least = fmin(least, above / sqrt(1.0 + along * along + slope * slope));
        }
    compare(of, "rearfoot post", across, order->rearfoot_intrinsic ? 0.0 : order->rearfoot_post_rad,
            hw_rad_from_deg(0.2));
    bool is_hollow = order->recess_depth_m > 0.0 || order->groove_depth_m > 0.0;
    if (!hw_shell_row_of(order->material)->is_block && !is_hollow)
        compare(of, "thickness and raise", least, order->shell_thickness_m + order->heel_raise_m,
                0.0001);
}

// Thickness along the outward normal in front of the heel, where no base, pad or hollow is.
static void measure_wall(measuring *of)
{
    double x = 0.48 * (of->foot->landmarks.mth1.x - of->foot->landmarks.heel_back.x), h = 0.002;
    double y = of->y + 0.004, z = height_at(&of->file, x, y, true), best = 1.0;
    hw_vec3 normal = hw_vec3_unit((hw_vec3){
        -(height_at(&of->file, x + h, y, true) - height_at(&of->file, x - h, y, true)) / (2 * h),
        -(height_at(&of->file, x, y + h, true) - height_at(&of->file, x, y - h, true)) / (2 * h),
        1.0});
    for (double depth = 0.0; depth < 0.02; depth += 2e-5) {
        hw_vec3 p = hw_vec3_sub((hw_vec3){x, y, z}, hw_vec3_scale(normal, depth));
        double away = p.z - height_at(&of->file, p.x, p.y, false);
        if (away <= 0.0) {
            best = depth;
            break;
        }
    }
    compare(of, "thickness", best, of->order->shell_thickness_m, 0.0001);
}

static hw_status measure_tilted(measuring *of)
{
    written plain = {0};
    HW_TRY(file_without(of, HW_TERM_REARFOOT_POST, &plain));
    double with = tilt_at(&of->file, of->x, of->y, 0.006, true);
    double without = tilt_at(&plain, of->x, of->y, 0.006, true);
    compare(of, "built-in rearfoot post", with - without, of->order->rearfoot_post_rad,
            hw_rad_from_deg(0.2));
    return HW_OK;
}

static void measure_forefoot(measuring *of)
{
    const hw_landmarks *at = &of->foot->landmarks;
    double y = 0.5 * (at->mth1.y + at->mth5.y) + 0.004, front = 0.0;
    for (double x = of->x; !isnan(height_at(&of->file, x, y, false)); x += 0.001) front = x;
    compare(of, "forefoot post", tilt_at(&of->file, front - 0.013, y, 0.005, false),
            of->order->forefoot_post_rad, hw_rad_from_deg(0.2));
}

static hw_status measure_all(measuring *of)
{
    const hw_orthosis_order *order = of->order;
    bool tilts =
        order->balances_heel || (order->rearfoot_intrinsic && order->rearfoot_post_rad != 0.0);
    bool is_plain_heel = !tilts && !(order->groove_depth_m > 0.0) &&
                         !(order->skive_depth_m > 0.0) && !(order->recess_depth_m > 0.0);
    bool has_base = order->heel_raise_m > 0.0 ||
                    (!order->rearfoot_intrinsic && order->rearfoot_post_rad != 0.0);
    bool is_shell = !hw_shell_row_of(order->material)->is_block;
    if (is_plain_heel) measure_cup(of);
    if (has_base) measure_base(of);
    if (is_shell && order->length != HW_ORTHOSIS_HEEL_CUP && !(order->groove_depth_m > 0.0))
        measure_wall(of);
    if (tilts && !order->balances_heel && is_shell && !(order->groove_depth_m > 0.0))
        HW_TRY(measure_tilted(of));
    if (!order->forefoot_intrinsic && order->forefoot_post_rad != 0.0 && !(order->ray_cut_m > 0.0))
        measure_forefoot(of);
    if (order->skive_depth_m > 0.0 && !tilts) {
        written plain = {0};
        HW_TRY(file_without(of, HW_TERM_SKIVE, &plain));
        compare(of, "medial heel skive", greatest_rise(of, &plain), order->skive_depth_m, 0.0002);
    }
    return HW_OK;
}

// What a file must be: closed, turned outward, nowhere through itself.
static hw_status check_file(measuring *of, const hw_orthosis *device)
{
    hw_mesh_faults faults = {0};
    hw_mesh_crossings found = {0};
    HW_TRY(hw_mesh_check(of->job, &device->solid, &faults));
    HW_TRY(hw_mesh_cross(of->job, &device->solid, &found));
    if (faults.open_edges + faults.crowded_edges + faults.clashing_edges + faults.flat_triangles +
                faults.double_points + faults.loose_points + found.count >
            0 ||
        !(hw_mesh_volume(&of->file.mesh) > 0.0) || device->rounding_radius_m < 0.0008 - 1e-9)
        snprintf(of->fate->missed, MISSED, "the solid is not sound");
    return HW_OK;
}

static hw_status try_one(hw_job *job, int index, hw_arena *into, fate *out)
{
    hw_random random = hw_random_begin(7000 + (uint64_t)index);
    hw_foot foot = {0};
    hw_orthosis device = {0};
    HW_TRY(drawn_foot(job, &random, index, into, &foot));
    hw_orthosis_order order = drawn_order(&random, foot.loading);
    HW_TRY(hw_orthosis_build(job, &foot, &order, into, &device));
    measuring of = {.job = job, .into = into, .foot = &foot, .order = &order, .fate = out};
    of.back = foot.landmarks.heel_back.x;
    of.x = 0.5 * (foot.landmarks.heel_medial.x + foot.landmarks.heel_lateral.x);
    of.y = 0.5 * (foot.landmarks.heel_medial.y + foot.landmarks.heel_lateral.y);
    HW_TRY(as_written(job, &foot, &device, into, &of.file));
    HW_TRY(check_file(&of, &device));
    return measure_all(&of);
}

static void try_into(void *with, int index)
{
    hw_test_room room = hw_test_open();
    fate *out = (fate *)with + index;
    out->status = try_one(&room.job, index, room.into, out);
    snprintf(out->said, SAID, "%s", out->status == HW_OK ? "" : room.job.why);
    hw_test_close(&room);
}

#if defined(__SANITIZE_ADDRESS__)
static const int slowness = 10; // the sanitizers' build looks at fewer
#else
static const int slowness = 2;
#endif

static void test_orthosis__prescriptions_are_made_as_ordered_or_refused_by_name(void **state)
{
    (void)state;
    enum { WHOLE = 2000 };
    static fate fates[WHOLE];
    int rounds = hw_test_rounds(WHOLE) == WHOLE ? WHOLE : hw_test_rounds(WHOLE) / slowness;
    int made = 0, measured = 0, missed = 0;
    hw_parallel(rounds, try_into, fates);
    for (int i = 0; i < rounds; i++) {
        made += fates[i].status == HW_OK, measured += fates[i].measured;
        if (fates[i].status != HW_OK) {
            // a sentence, and one that names a term or a place
            assert_true(fates[i].status == HW_BAD_INPUT || fates[i].status == HW_NO_ANSWER);
            assert_true(strlen(fates[i].said) > 20);
            if (getenv("TELL")) print_message("%d: %s\n", i, fates[i].said);
        }
        if (fates[i].missed[0]) {
            print_error("prescription %d: %s\n", i, fates[i].missed);
            missed++;
        }
    }
    print_message("%d of %d made, %d corrections measured back\n", made, rounds, measured);
    assert_int_equal(missed, 0);
    assert_true(made > 0.85 * rounds);
    assert_true(measured > rounds);
}

int run_prescription_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_orthosis__prescriptions_are_made_as_ordered_or_refused_by_name),
    };
    return cmocka_run_group_tests_name("prescriptions", tests, NULL, NULL);
}
