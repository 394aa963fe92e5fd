// SPDX-License-Identifier: GPL-3.0-or-later
//
// mech: the plantar fascia's tension through stance, and what each treatment changes of it.
//
//     hw_mech_change changes[2] = {hw_mech_change_none("shell"), hw_mech_change_none("tape")};
//     changes[0].has_orthosis = true;
//     changes[1].is_taped = true;
//     hw_mech_result load = {0};
//     HW_TRY(hw_mech_assess(job, &subject, changes, 2, into, &load));
//     hw_band midstance = load.effects[0].midstance.change;  // -0.12: 12 % less than today
//
// A five-ray quasi-static foot on normative walking loads, run over 200 calibrated tissue sets.
// Changes are far better known than newtons, and load is not pain. What the model is, each detail
// chosen, and where it fails: docs/mechanics.md.
//
// It will not run, climb stairs, grip, or say anything before 12 % and after 94 % of stance. It
// takes no first-toe range and no foot posture index (docs/mechanics.md says why).
#ifndef HW_MECH_H
#define HW_MECH_H

#include "foot/foot.h"

enum {
    HW_MECH_RAYS = 5,
    HW_MECH_MEMBERS = 200,  // tissue sets in the ensemble
    HW_MECH_SOLVED = 33,    // instants solved: 12.5 to 92.5 % of stance by 2.5 %
    HW_MECH_FIRST = 5,      // where they begin among the points
    HW_MECH_POINTS = 41,    // 0 to 100 % by 2.5 %; the others are tapered, not computed
    HW_MECH_CHANGES = 64,   // the most changes of one assessment
    HW_MECH_SENTENCES = 10, // the most assumptions, or cautions of one effect
};

/// How the ankle's dorsiflexion was measured. Each test has its own norm.
typedef enum hw_calf_test {
    HW_CALF_TEST_NONE = 0,
    HW_CALF_TEST_KNEE_STRAIGHT,        // not bearing weight; the scale of the model's calf limit
    HW_CALF_TEST_KNEE_STRAIGHT_LOADED, // bearing weight
    HW_CALF_TEST_LUNGE,                // bearing weight, knee bent
    HW_CALF_TEST_KNEE_BENT,            // not bearing weight
    HW_CALF_TEST_COUNT,
} hw_calf_test;

/// A walk of this person's own in place of the norm's forces: a mean stance, at the solved instants
/// (12.5 to 92.5 % by 2.5 %). Ankle, toes and heel still move as the norm's do.
typedef struct hw_mech_own_walk {
    double force_z_bw[HW_MECH_SOLVED]; // of the ground on the foot, up, body weights; 0.05..3
    double force_x_bw[HW_MECH_SOLVED]; // forward +, -1..1
    double
        pressure_x[HW_MECH_SOLVED]; // centre of pressure, foot lengths from the heel's back, 0..1
} hw_mech_own_walk;

/// The norm's, to stand in for what a recording does not hold.
hw_mech_own_walk hw_mech_norm_walk(void);

/// Whom to compute. Unknown measures are allowed but for the foot length.
typedef struct hw_mech_subject {
    double mass_kg;                              // 20..250
    hw_foot_measures measures;                   // foot_length_m 0.10..0.40
    hw_loading loading;                          // of the foot when it was measured
    hw_maybe calf_range_rad[HW_CALF_TEST_COUNT]; // by test
    double shoe_pitch_m;                         // heel above forefoot in the usual shoe, 0..0.04
    const hw_mech_own_walk *own_walk;            // NULL: the norm's; lives as long as the subject
    hw_maybe speed_m_s;                          // of walking, 0.7..2.0; else the norm's 1.3
} hw_mech_subject;

/// One treatment or a combination; a combination is run as such, effects do not add. A spread is how
/// unsure a treatment is of itself: evenly from - to + of it over the tissue sets.
typedef struct hw_mech_change {
    const char *name;
    const char *numbers_from; // static text: source of the treatment's own numbers; NULL: not said
    bool is_combined;         // several treatments at once
    bool has_idle_post;       // a forefoot post that ends behind the heads: it lifts nothing
    bool has_orthosis;        // shell under the arch, fixed to the floor
    bool orthosis_reaches_heads; // false: it ends behind the metatarsal heads
    double arch_fill_m;          // shell above (+) or below the unloaded arch, -0.010..0.010
    double arch_fill_spread_m;   // 0..0.005
    double shell_N_per_m;        // stiffness of the shell under each of four patches
    double shell_spread;         // part of the stiffness, 0..0.8
    double heel_raise_m;         // 0..0.020
    double heel_give_m;    // a cushion: added to the heel pad's 4 mm of e-fold depth, 0..0.006
    double heel_wedge_rad; // + lifts the lateral side, -0.2..0.2
    double calf_gain_rad;  // added to the calf's limit, -0.6..0.6
    double calf_gain_spread_rad; // 0..0.2
    bool calf_at_norm;           // the calf's limit set to its norm, to see what the calf costs
    bool is_taped;               // arch tape
    double tape_hold;            // of a fresh tape's, 0..1.5
    double tape_spread;          // 0..1
    double mass_factor;          // 0.5..1.5
    double toe_factor;           // of the toes' extension in push-off, 0.2..1: a stiff forefoot
    double toe_spread;           // 0..0.3
    double forefoot_wedge_rad;   // + lifts the lateral heads, -0.2..0.2
    double speed_factor;         // of the walking speed, 0.6..1.4
} hw_mech_change;

/// No change: factors 1, the rest 0; a shell of 30 N/mm for when has_orthosis is set.
hw_mech_change hw_mech_change_none(const char *name);

/// A: statics and a match with data that were held out; B: calibrated, one data set;
/// C: patched or contradicted. A combination has its weakest part's.
typedef enum hw_mech_grade {
    HW_MECH_GRADE_A = 'A',
    HW_MECH_GRADE_B = 'B',
    HW_MECH_GRADE_C = 'C',
} hw_mech_grade;

/// Change of one quantity in newtons against the subject today, as a fraction, member by member.
typedef struct hw_mech_shift {
    hw_band change;
    double chance_of_tenth_less; // share of members with a fall of 10 % or more; 0 where not known
} hw_mech_shift;

/// The foot at one solved instant. Rays turn with the hindfoot and against it: ray i stands at
/// pitch + flattening[i] to its place in the scan pose.
typedef struct hw_mech_pose {
    bool is_settled;      // else nothing below means anything
    double heel_height_m; // of the heel's pad against the scan pose; negative: squashed
    double pitch_rad;     // of the hindfoot about the heel, nose up +; negative with the heel up
    double roll_rad;      // lateral side up +
    double hinge_drop_m[HW_MECH_RAYS];   // with the talus, against the hindfoot
    double flattening_rad[HW_MECH_RAYS]; // about the hinges, head up +
    double toes_rad;                     // of the toes to the floor, up +
    double slip_bw[HW_MECH_RAYS];        // tension of each slip, body weights of today
} hw_mech_pose;

/// The places the poses turn about, scan pose, foot frame as a left foot's, m.
typedef struct hw_mech_skeleton {
    double foot_length;
    hw_vec3 arch;   // where a shell meets the inner arch
    double heel_x;  // the heel pad's middle, on the floor
    hw_vec3 origin; // of the fascia at the heel
    hw_vec3 hinge[HW_MECH_RAYS];
    hw_vec3 head[HW_MECH_RAYS];
    double windlass_radius_m[HW_MECH_RAYS];
} hw_mech_skeleton;

/// What a moving picture is drawn from: one tissue set through stance, every frame a solved instant.
typedef struct hw_mech_walk {
    int member; // the set whose tension today lies nearest to the median; the same for all changes
    hw_mech_pose pose[HW_MECH_SOLVED];
} hw_mech_walk;

typedef struct hw_mech_effect {
    const char *name; // in `into`
    hw_mech_change change;
    hw_mech_shift peak;
    hw_mech_shift midstance;            // mean of 30..55 %
    hw_mech_shift impulse;              // 12..94 %
    hw_band tension_bw[HW_MECH_POINTS]; // in body weights of today
    hw_band device_bw;                  // what the device bears under the arch, mean of 30..55 %
    hw_mech_grade grade;
    const char *cautions[HW_MECH_SENTENCES]; // static text
    int caution_count;
    int failed_members; // left out of the bands: an instant did not converge in one of the arms
    hw_mech_walk walk;
} hw_mech_effect;

typedef struct hw_mech_result {
    double percent[HW_MECH_POINTS];         // of stance
    bool is_solved[HW_MECH_POINTS];         // else tapered to zero at 0 and 100 %
    hw_band tension_bw[HW_MECH_POINTS];     // all slips together, body weights
    hw_band flattening_rad[HW_MECH_POINTS]; // of the first ray against the unloaded foot
    hw_band heel_load_bw[HW_MECH_POINTS];
    hw_band peak_bw;
    hw_band peak_percent;
    hw_band midstance_bw;      // mean of 30..55 %
    hw_band impulse;           // body weights times fraction of stance, 12..94 %
    hw_mech_skeleton skeleton; // of the set drawn
    hw_mech_walk walk;
    hw_mech_effect *effects; // one per change, in `into`
    int effect_count;
    hw_calf_test calf_test; // which one was used
    int member_count;
    int failed_members; // of today's arm
    int iterations_worst;
    double residual_worst;                      // scaled, of accepted instants
    const char *assumptions[HW_MECH_SENTENCES]; // static text: what was not measured and taken
    int assumption_count;
} hw_mech_result;

/// The load of one foot through stance, and what each change does to it.
///
///   changes  change_count, 0..HW_MECH_CHANGES; NULL when 0
///   fails    HW_BAD_INPUT a value outside its range; HW_NO_ANSWER fewer than nine in ten of the tissue sets
///            settled today; HW_NO_MEMORY; HW_CANCELLED
///   cost     about 40 core-ms for today and for each change, over all cores; nothing random: the
///            same input gives the same bits, however many cores there are
///   source   docs/mechanics.md
HW_MUST_USE hw_status hw_mech_assess(hw_job *job, const hw_mech_subject *subject,
                                     const hw_mech_change *changes, int change_count,
                                     hw_arena *into, hw_mech_result *out);

/// What a foot's load may be put down to. Findings that change nothing in the model are not here.
typedef enum hw_mech_cause {
    HW_MECH_CAUSE_MASS,         // against the reference mass
    HW_MECH_CAUSE_CALF,         // the calf's range against the norm of the very test
    HW_MECH_CAUSE_ARCH,         // the instep's height against that of a foot of this length
    HW_MECH_CAUSE_BALL_LENGTH,  // the length to the first head, likewise
    HW_MECH_CAUSE_BALL_BREADTH, // likewise
    HW_MECH_CAUSE_SHOE,         // the usual shoe's pitch against a flat one
    HW_MECH_CAUSE_SPEED,        // of walking, as timed, against the norm's 1.3 m/s
    HW_MECH_CAUSE_WALK,         // recorded forces and pressure against the norm's at that speed
    HW_MECH_CAUSE_COUNT,
} hw_mech_cause;

/// "body mass", "calf range", "arch height", "length to the ball", "ball breadth", "shoe pitch", "walking
/// speed", "recorded walk".
const char *hw_mech_cause_word(hw_mech_cause cause);

/// Which of the three numbers of a walk.
typedef enum hw_mech_number {
    HW_MECH_MIDSTANCE,
    HW_MECH_PEAK,
    HW_MECH_IMPULSE,
    HW_MECH_NUMBERS,
} hw_mech_number;

/// Part of one cause in the load above the reference foot's, as a fraction of the latter.
typedef struct hw_mech_part {
    double mean; // over the tissue sets: the means of all causes add up to the total's exactly
    hw_band band;
} hw_mech_part;

typedef struct hw_mech_causes {
    bool is_known[HW_MECH_CAUSE_COUNT]; // false: not measured, so taken as at the reference
    hw_mech_part part[HW_MECH_CAUSE_COUNT][HW_MECH_NUMBERS];
    hw_mech_part total[HW_MECH_NUMBERS];
    int member_count; // tissue sets used
    int failed_members;
} hw_mech_causes;

/// How much of this foot's load above a reference foot's each finding accounts for: Shapley values
/// over all subsets of the known causes, the same tissue sets in each, in newtons. The reference
/// has this foot's length, each test at its norm, a flat shoe, the norm's walk and `reference_mass`.
///
///   reference_mass  kg; unknown: the mass is no cause
///   fails           as hw_mech_assess
///   cost            at most 256 walks of every fourth tissue set: 1.3 core-seconds; each cause less halves it
///   source          Shapley 1953 (the one division that is symmetric and adds up)
HW_MUST_USE hw_status hw_mech_find_causes(hw_job *job, const hw_mech_subject *subject,
                                          hw_maybe reference_mass, hw_arena *into,
                                          hw_mech_causes *out);

/// One thing that could be changed, tried over its range.
typedef enum hw_mech_lever {
    HW_MECH_LEVER_CALF, // gain of calf range, rad
    HW_MECH_LEVER_MASS, // part of the mass lost
    HW_MECH_LEVER_ARCH, // height of a shell's arch against the unloaded arch, m
    HW_MECH_LEVER_COUNT,
} hw_mech_lever;

enum { HW_MECH_LEVER_STEPS = 8 };

typedef struct hw_mech_lever_curve {
    double setting[HW_MECH_LEVER_STEPS];    // rad, part, m; the first is the least help
    hw_band midstance[HW_MECH_LEVER_STEPS]; // over the reference foot's; 1: at the reference
    hw_maybe reaches_reference;             // setting at which the median comes down to 1
    hw_maybe flattens_at; // setting with nine tenths of what the whole range gives
} hw_mech_lever_curve;

/// The inverse question: what calf range, mass or arch support would bring the mid-stance load down
/// to the reference foot's, and from where on more of it gives little.
///
///   fails   as hw_mech_assess
HW_MUST_USE hw_status hw_mech_try_levers(hw_job *job, const hw_mech_subject *subject,
                                         hw_maybe reference_mass, hw_arena *into,
                                         hw_mech_lever_curve out[HW_MECH_LEVER_COUNT]);

/// A day on the feet.
typedef struct hw_mech_day {
    hw_band walking;         // body weights times hours, tension summed over the day, this foot
    hw_band standing;        // both feet on the floor, half the weight on this one
    double share_of_walking; // median
} hw_mech_day;

/// What a day's steps and standing put on this fascia: tension times time.
///
///   steps           both feet together; half are this foot's, each a stance of 0.7 s
///   standing_hours  0..24
HW_MUST_USE hw_status hw_mech_sum_day(hw_job *job, const hw_mech_subject *subject, double steps,
                                      double standing_hours, hw_arena *into, hw_mech_day *out);

/// One set of tissue properties.
typedef struct hw_mech_tissue {
    double fascia_N_per_m;  // all five slips
    double windlass;        // factor on the windlass radii
    double ligament;        // factor on the ligament springs
    double toe_strain;      // where the fascia's law turns linear
    double pre_strain;      // in the unloaded scan pose
    double muscle_share;    // of the arch moment at full activity
    double hinge;           // factor on the hinge heights where no dorsum height is known
    double contact_offset;  // of the heads' pads behind the heads, foot lengths
    double stiffening_rad;  // of the ligaments
    double dorsal_free_rad; // extension before the dorsal side tightens
    double dorsal_share;    // its stiffness
    double active_share;    // of the normal calf moment that stays, kappa
    double calf_slope_rad;  // of the passive calf curve, beta
    double calf_moment_Nm;  // at the calf's limit
    double calf_limit_rad;  // dorsiflexion limit, knee straight, not bearing weight
    double raise_to_toes;   // share of a heel raise that becomes toe extension, eta
    double talus_sink_m;    // of the medial hinges against the heel bone under a full load
} hw_mech_tissue;

/// One uncalibrated set, in the middle of published ranges.
hw_mech_tissue hw_mech_tissue_default(void);

/// Set `member`, 0..HW_MECH_MEMBERS-1, with the calf at its norm.
hw_mech_tissue hw_mech_tissue_member(int member);

/// One stance of one tissue set.
typedef struct hw_mech_run {
    double tension_bw[HW_MECH_SOLVED];
    double flattening_rad[HW_MECH_SOLVED];
    double heel_load_bw[HW_MECH_SOLVED];
    hw_mech_pose pose[HW_MECH_SOLVED];
    double peak_bw, peak_percent, midstance_bw, impulse;
    double device_bw;    // what a device bears under the arch, mean of 30..55 %
    int failed_instants; // 0 in all that hw_mech_stance returns
    int iterations_worst, iterations_total;
    double residual_worst;
} hw_mech_run;

/// Runs one tissue set through stance. The calf's limit is the tissue's: the subject's tests are
/// not read here. `change` may be NULL.
///
///   fails   HW_BAD_INPUT; HW_NO_ANSWER an instant did not converge
HW_MUST_USE hw_status hw_mech_stance(hw_job *job, const hw_mech_subject *subject,
                                     const hw_mech_tissue *tissue, const hw_mech_change *change,
                                     hw_mech_run *out);

/// A still foot under a load, muscles silent: what cadaver tests and standing are compared with.
typedef struct hw_mech_still {
    double load_N;            // through the ankle
    double achilles_N;        // moves the centre of pressure forward
    double toe_extension_rad; // toes lifted off the floor
    double toe_share;         // of the load
} hw_mech_still;

typedef struct hw_mech_still_result {
    double tension_N;
    double heel_load_N;
    double head_load_N[HW_MECH_RAYS];
    double device_load_N;
    double hinge_height_m; // of the first ray above the floor
    double flattening_rad[HW_MECH_RAYS];
    double roll_rad;
    double residual; // scaled
    int iterations;
} hw_mech_still_result;

/// Standing at ease: Achilles force 0.75 times the foot's load (Cheung 2006).
hw_mech_still hw_mech_standing(double load_N);

/// Solves it. `change` may be NULL.
///
///   fails   HW_BAD_INPUT; HW_NO_ANSWER not converged
HW_MUST_USE hw_status hw_mech_stand(hw_job *job, const hw_mech_subject *subject,
                                    const hw_mech_tissue *tissue, const hw_mech_still *still,
                                    const hw_mech_change *change, hw_mech_still_result *out);

#endif
