// SPDX-License-Identifier: GPL-3.0-or-later
// The table of measures, those that follow from landmarks, and the order in which the rest is
// taken.
#include "foot_internal.h"

static const hw_measure_row rows[HW_MEASURES] = {
    {"foot_length", "foot length", HW_MEASURE_IS_LENGTH, false,
     "From the back of the heel to the tip of the longest toe, along the axis from the middle of "
     "the heel to the second metatarsal head.",
     "ISO 7250-1, ISO 9407; axis: docs/frames.md"},
    {"truncated_length", "truncated length", HW_MEASURE_IS_LENGTH, false,
     "From the back of the heel to the first metatarsal head, along the axis.",
     "from memory: Williams 2000 Phys Ther"},
    {"ball_breadth", "ball breadth", HW_MEASURE_IS_LENGTH, false,
     "Across the axis, from the first to the fifth metatarsal head.", "ISO 7250-1"},
    {"heel_breadth", "heel breadth", HW_MEASURE_IS_LENGTH, false,
     "Across the axis, where the heel is widest between 0.12 and 0.20 of foot length.",
     "common practice"},
    {"ball_girth", "ball girth", HW_MEASURE_IS_LENGTH, false,
     "Around both metatarsal heads in an upright plane: the length of the section's convex hull, "
     "as "
     "a tape bridges hollows.",
     "common practice"},
    {"instep_girth", "instep girth", HW_MEASURE_IS_LENGTH, false,
     "Around the foot across its axis at half foot length: the length of the section's convex "
     "hull.",
     "common practice"},
    {"dorsum_height", "dorsum height", HW_MEASURE_IS_LENGTH, false,
     "Top of the instep at half foot length above the support plane.",
     "from memory: Williams 2000 Phys Ther"},
    {"arch_height_index", "arch height index", HW_MEASURE_IS_INDEX, false,
     "Dorsum height divided by truncated length.", "from memory: Williams 2000 Phys Ther"},
    {"arch_apex_height", "arch apex height", HW_MEASURE_IS_LENGTH, false,
     "Highest point of the sole along the medial arch above the support plane.", "docs/frames.md"},
    {"navicular_height", "navicular-region height", HW_MEASURE_IS_LENGTH, false,
     "Height of the most medial skin above the arch at 0.41 of foot length; the bone is not "
     "palpated.",
     "place of the navicular: from memory, facts of mechanics 1.3"},
    {"arch_index", "arch index", HW_MEASURE_IS_INDEX, true,
     "Contact area of the middle third over that of all three thirds, toes left out. The print is "
     "computed at half body weight with an arch that comes down by 8 mm; how far this person's "
     "does "
     "is in the interval.",
     "from memory: Cavanagh & Rodgers 1987 J Biomech"},
    {"staheli_index", "Staheli index", HW_MEASURE_IS_INDEX, true,
     "Narrowest contact of the midfoot over widest contact of the heel.",
     "from memory: Staheli 1987 JBJS Am"},
    {"chippaux_smirak_index", "Chippaux-Smirak index", HW_MEASURE_IS_INDEX, true,
     "Narrowest contact of the midfoot over widest contact of the forefoot, across the axis.",
     "from memory: Chippaux-Smirak, as quoted in footprint papers"},
    {"heel_bisection", "heel bisection angle", HW_MEASURE_IS_ANGLE, false,
     "Line through the middles of the back of the heel against the perpendicular to the support "
     "plane; + everted (the top leans medially).",
     "common practice; heights 0.05 to 0.17 of foot length"},
    {"forefoot_to_rearfoot", "forefoot-to-rearfoot angle", HW_MEASURE_IS_ANGLE, false,
     "Line under both sides of the ball against the perpendicular to the heel bisection, foot "
     "hanging; + inverted (varus).",
     "common practice"},
    {"hallux_angle", "hallux angle", HW_MEASURE_IS_ANGLE, false,
     "Medial border of the first toe against that from heel to first metatarsal head, on the skin; "
     "+ towards the lateral side (valgus). No joint angle.",
     "common practice"},
    {"plantar_area", "plantar area", HW_MEASURE_IS_AREA, false,
     "Area of the foot seen from below, as far as it lies below 0.16 of foot length.",
     "common practice"},
    {"volume_below_ankle", "volume below the ankle", HW_MEASURE_IS_VOLUME, false,
     "Volume of the foot below 0.30 of foot length above the support plane, about the height of "
     "the "
     "malleoli.",
     "ankle height: facts of mechanics 1.3"},
};

const hw_measure_row *hw_measure_rows(void)
{
    return rows;
}

hw_maybe *hw_foot_measure_at(hw_foot_measures *of, hw_measure which)
{
    hw_maybe *const places[HW_MEASURES] = {
        &of->foot_length_m,         &of->truncated_length_m, &of->ball_breadth_m,
        &of->heel_breadth_m,        &of->ball_girth_m,       &of->instep_girth_m,
        &of->dorsum_height_m,       &of->arch_height_index,  &of->arch_apex_height_m,
        &of->navicular_height_m,    &of->arch_index,         &of->staheli_index,
        &of->chippaux_smirak_index, &of->heel_bisection_rad, &of->forefoot_angle_rad,
        &of->hallux_angle_rad,      &of->plantar_area_m2,    &of->volume_m3,
    };
    HW_ASSERT(which >= 0 && which < HW_MEASURES);
    return places[which];
}

hw_maybe hw_foot_measure_of(const hw_foot_measures *of, hw_measure which)
{
    hw_foot_measures copy = *of;
    return *hw_foot_measure_at(&copy, which);
}

hw_foot_measures hw_foot_measure(const hw_landmarks *at)
{
    hw_foot_measures out = {0};
    out.ball_breadth_m = hw_known(at->mth5.y - at->mth1.y);
    out.heel_breadth_m = hw_known(at->heel_lateral.y - at->heel_medial.y);
    out.truncated_length_m = hw_known(at->mth1.x - at->heel_back.x);
    if (at->arch_apex_known) out.arch_apex_height_m = hw_known(at->arch_apex.z);
    if (at->complete) {
        out.foot_length_m = hw_known(at->toe_tip.x - at->heel_back.x);
        out.dorsum_height_m = hw_known(at->dorsum.z);
        out.arch_height_index = hw_known(at->dorsum.z / out.truncated_length_m.value);
    }
    return out;
}

void settle_measure(hw_foot_measures *out, hw_measure which, hw_maybe value, const char *why)
{
    *hw_foot_measure_at(out, which) = value;
    out->why[which] = value.known ? NULL : why;
}

double working_length(const hw_landmarks *at)
{
    const double first_joint = 0.73; // of foot length; facts of mechanics 1.3, common practice
    if (at->complete) return at->toe_tip.x - at->heel_back.x;
    return (at->mth1.x - at->heel_back.x) / first_joint;
}

static void say_what_landmarks_lack(const hw_landmarks *at, hw_foot_measures *out)
{
    static const char sole_only[] = "only the sole was scanned";
    if (!at->complete) {
        out->why[HW_MEASURE_FOOT_LENGTH] = sole_only;
        out->why[HW_MEASURE_DORSUM_HEIGHT] = sole_only;
        out->why[HW_MEASURE_ARCH_HEIGHT_INDEX] = sole_only;
    }
    if (!at->arch_apex_known)
        out->why[HW_MEASURE_ARCH_APEX_HEIGHT] =
            "the sole is flat: loaded, or closed by the scanner";
}

static const char *why_no_print(const hw_landmarks *at, const hw_foot_load *load)
{
    if (at->is_flat_sole) return "the sole is flat: loaded, or closed by the scanner";
    if (load->loading == HW_LOADING_STANDING || load->loading == HW_LOADING_SITTING)
        return "the foot was scanned under load: a print is computed of a hanging foot only";
    return NULL;
}

static hw_status take_print(hw_job *job, const hw_mesh *surface, const hw_landmarks *at,
                            const hw_foot_load *load, hw_foot_measures *out)
{
    const char *why = why_no_print(at, load);
    hw_print_indices got = {0};
    if (!why) {
        hw_scratch tmp = hw_scratch_begin(job, NULL);
        hw_foot_print print = {0};
        hw_status status =
            hw_foot_print_press(job, surface, at, working_length(at), load, tmp.arena, &print);
        if (status != HW_OK && status != HW_NO_ANSWER) return status;
        if (status == HW_OK)
            got = hw_foot_print_indices(&print);
        else
            why = "no contact on a flat floor can carry the foot's load";
        hw_scratch_end(tmp);
    }
    const char *gap = why ? why : "a part of the contact print is missing";
    settle_measure(out, HW_MEASURE_ARCH_INDEX, got.arch_index, gap);
    settle_measure(out, HW_MEASURE_STAHELI_INDEX, got.staheli, gap);
    settle_measure(out, HW_MEASURE_CHIPPAUX_SMIRAK_INDEX, got.chippaux_smirak, gap);
    return HW_OK;
}

hw_status hw_foot_measure_surface(hw_job *job, const hw_mesh *surface, const hw_landmarks *at,
                                  const hw_foot_load *load, hw_foot_measures *out)
{
    hw_foot_measures found = hw_foot_measure(at);
    say_what_landmarks_lack(at, &found);
    HW_TRY(measure_sections(job, surface, at, &found));
    HW_TRY(take_print(job, surface, at, load, &found));
    measure_angles(surface, at, load->loading, &found);
    HW_TRY(measure_sole_area(job, surface, at, &found));
    measure_volume(surface, at, &found);
    *out = found;
    return HW_OK;
}
