// SPDX-License-Identifier: GPL-3.0-or-later
// Seeded prescriptions on seeded feet of both sides: each is made whole or refused by name, and what
// was ordered is measured back from the bytes of the written file, by rays through its triangles.
#include "base/parallel.h"
#include "demo/demo.h"
#include "meshfile/meshfile.h"
#include "suites.h"
#include "written.h"

enum { SAID = 256 };

// One prescription's fate.
typedef struct fate {
    hw_status status;
    char said[SAID]; // of a refusal
    written_tally tally;
    int letters; // 1 on its underside, -1 no room for them, 0 not asked
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

// What a file must hold, read back: one closed surface, turned outward, nowhere through itself.
static hw_status check_file(hw_job *job, const hw_orthosis *device, const hw_mesh *mesh, fate *out)
{
    hw_mesh_faults faults = {0};
    hw_mesh_crossings found = {0};
    HW_TRY(hw_mesh_check(job, mesh, &faults));
    HW_TRY(hw_mesh_cross(job, mesh, &found));
    if (faults.open_edges + faults.crowded_edges + faults.clashing_edges + faults.flat_triangles +
                faults.double_points + faults.loose_points + found.count >
            0 ||
        !(hw_mesh_volume(mesh) > 0.0) || device->rounding_radius_m < 0.0008 - 1e-9)
        snprintf(out->tally.missed, WRITTEN_MISSED, "the file's solid is not sound");
    return HW_OK;
}

// Letters on the underside of every fifth that may have them: sound as a file, or refused by name.
static hw_status try_letters(hw_job *job, const hw_foot *foot, hw_orthosis_order *order, int index,
                             hw_arena *into, hw_orthosis *device, fate *out)
{
    written file = {0};
    order->is_embossed = true;
    if (index % 5 != 2 || hw_orthosis_check(job, foot, order) != HW_OK) return HW_OK;
    hw_status status = hw_orthosis_emboss(job, foot, "HB-0042", into, device);
    out->letters = status == HW_OK ? 1 : -1;
    if (status != HW_OK) return status == HW_BAD_INPUT ? HW_OK : status;
    HW_TRY(written_of(job, foot, device, index % 2 == 1, into, &file));
    return check_file(job, device, &file.mesh, out);
}

static hw_status try_one(hw_job *job, int index, hw_arena *into, fate *out)
{
    hw_random random = hw_random_begin(7000 + (uint64_t)index);
    hw_foot foot = {0};
    hw_orthosis device = {0};
    written file = {0};
    HW_TRY(drawn_foot(job, &random, index, into, &foot));
    hw_orthosis_order order = drawn_order(&random, foot.loading);
    HW_TRY(hw_orthosis_build(job, &foot, &order, into, &device));
    HW_TRY(written_of(job, &foot, &device, index / 2 % 2 == 1, into, &file));
    HW_TRY(written_measure(job, &foot, &order, index % 5 == 0, &file, into, &out->tally));
    HW_TRY(check_file(job, &device, &file.mesh, out));
    return try_letters(job, &foot, &order, index, into, &device, out);
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
#elif defined(__clang__)
static const int slowness = 10; // the second compiler finds in fewer what it would find in all
#else
static const int slowness = 1;
#endif

static void test_orthosis__prescriptions_are_made_as_ordered_or_refused_by_name(void **state)
{
    (void)state;
    enum { WHOLE = 2000 };
    static fate fates[WHOLE];
    int rounds = hw_test_rounds(WHOLE) == WHOLE ? WHOLE : hw_test_rounds(WHOLE) / slowness;
    int made = 0, measured = 0, missed = 0, lettered = 0, without_room = 0;
    hw_parallel(rounds, try_into, fates);
    for (int i = 0; i < rounds; i++) {
        made += fates[i].status == HW_OK, measured += fates[i].tally.measured;
        lettered += fates[i].letters > 0, without_room += fates[i].letters < 0;
        if (fates[i].status != HW_OK) {
            // a sentence, and one that names a term or a place
            assert_true(fates[i].status == HW_BAD_INPUT || fates[i].status == HW_NO_ANSWER);
            assert_true(strlen(fates[i].said) > 20);
            if (getenv("TELL")) print_message("%d: %s\n", i, fates[i].said);
        }
        if (fates[i].tally.missed[0]) {
            print_error("prescription %d: %s\n", i, fates[i].tally.missed);
            missed++;
        }
    }
    print_message("%d of %d made, %d corrections measured back\n", made, rounds, measured);
    print_message("%d lettered, %d have no room for it\n", lettered, without_room);
    assert_true(lettered >= 5 * without_room);
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
