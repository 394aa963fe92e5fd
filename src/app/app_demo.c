// SPDX-License-Identifier: GPL-3.0-or-later
// An invented person of an invented harbour-town clinic. Nothing here is a reference for anything.
#include "app/app.h"
#include "demo/demo.h"
#include "meshfile/meshfile.h"
#include "json/json.h"

// The person, drawn from the seed within what is ordinary.
typedef struct person {
    bool is_female;
    int birth_year;
    double mass_kg, height_cm;
    double foot_length_m, arch_apex_height_m;
    int weeks, first_step_pain, posture_index;
    double lunge_deg, knee_extended_deg;
} person;

static double within(hw_random *random, double low, double high)
{
    return low + (high - low) * hw_random_uniform(random);
}

static person draw_person(unsigned seed)
{
    hw_random random = hw_random_begin(seed);
    person one = {.is_female = hw_random_uniform(&random) < 0.55};
    one.birth_year = (int)within(&random, 1962, 1988);
    one.height_cm = floor(one.is_female ? within(&random, 158, 174) : within(&random, 170, 188));
    one.mass_kg = floor(within(&random, 25.0, 31.0) * one.height_cm * one.height_cm * 1e-4);
    one.foot_length_m = 0.001 * floor(1.52 * one.height_cm + within(&random, -6, 6));
    one.arch_apex_height_m = within(&random, 0.012, 0.020);
    one.weeks = (int)within(&random, 8, 40);
    one.first_step_pain = (int)within(&random, 5, 9);
    one.posture_index = (int)within(&random, 2, 9);
    one.lunge_deg = floor(within(&random, 28, 40));
    one.knee_extended_deg = floor(within(&random, -2, 6));
    return one;
}

static hw_status add_scan(hw_job *job, const person *who, hw_side side, unsigned seed,
                          hw_arena *into, hw_file_set *out)
{
    hw_demo_foot_order order = hw_demo_foot_order_default();
    order.side = side;
    order.seed = 2 * (uint64_t)seed + (side == HW_SIDE_RIGHT);
    order.foot_length_m = who->foot_length_m + (side == HW_SIDE_RIGHT ? 0.001 : 0.0);
    order.ball_breadth_m = 0.385 * order.foot_length_m;
    order.heel_breadth_m = 0.66 * order.ball_breadth_m;
    order.arch_apex_height_m = who->arch_apex_height_m;
    order.dorsum_height_m = 0.232 * order.foot_length_m;
    order.noise_m = 0.0002;
    order.strays = 12;
    order.open_top = true;
    order.turned = true;
    hw_mesh scan = {0};
    hw_demo_truth truth = {0};
    hw_bytes file = {0};
    HW_TRY(hw_demo_foot(job, &order, into, &scan, &truth));
    HW_TRY(hw_meshfile_stl(job, &scan, "invented foot scan, millimetres", into, &file));
    return hw_file_set_add(job, out, side == HW_SIDE_RIGHT ? "right-scan.stl" : "left-scan.stl",
                           file);
}

static void write_person(hw_json_out *json, const person *who)
{
    hw_json_open(json, "person", '{');
    hw_json_text(json, "code", "HB-0042");
    hw_json_int(json, "birth_year", who->birth_year);
    hw_json_text(json, "sex", who->is_female ? "female" : "male");
    if (who->is_female) hw_json_text(json, "pregnancy", "no");
    hw_json_number(json, "hba1c_percent", 6.9, 1);
    hw_json_close(json);
    hw_json_number(json, "mass_kg", who->mass_kg, 0);
    hw_json_text(json, "mass_measured_on", "2026-03-02");
    hw_json_number(json, "height_cm", who->height_cm, 0);
    hw_json_int(json, "standing_hours_per_day", 9); // behind a stall of the fish market
    hw_json_int(json, "steps_per_day", 9000);
}

// Every red flag was asked about, and none is there.
static void write_red_flags(hw_json_out *json)
{
    hw_json_open(json, "red_flags", '{');
    for (int i = 0; i < HW_FINDING_COUNT; i++)
        if (hw_finding_rows()[i].scope == HW_SCOPE_RED_FLAG)
            hw_json_text(json, hw_finding_rows()[i].key, "no");
    hw_json_close(json);
}

static void write_history(hw_json_out *json)
{
    hw_json_open(json, "medicines", '[');
    hw_json_text(json, NULL, "metformin");
    hw_json_text(json, NULL, "ibuprofen");
    hw_json_close(json);
    hw_json_open(json, "conditions", '[');
    hw_json_text(json, NULL, "type 2 diabetes");
    hw_json_close(json);
    hw_json_open(json, "allergies", '[');
    hw_json_close(json);
    hw_json_open(json, "past_treatments", '[');
    hw_json_open(json, NULL, '{');
    hw_json_text(json, "act", "corticosteroid injection");
    hw_json_text(json, "date", "2026-02-09");
    hw_json_text(json, "foot", "left");
    hw_json_text(json, "substance", "methylprednisolone acetate");
    hw_json_int(json, "dose_mg", 40);
    hw_json_close(json);
    hw_json_close(json);
}

static void write_foot(hw_json_out *json, const person *who, hw_side side)
{
    bool hurts = side == HW_SIDE_LEFT;
    hw_json_open(json, hw_side_word(side), '{');
    hw_json_open(json, "scan", '{');
    hw_json_text(json, "file", hurts ? "left-scan.stl" : "right-scan.stl");
    hw_json_text(json, "unit", "mm");
    hw_json_text(json, "loading", "hanging");
    hw_json_bool(json, "side_confirmed", true);
    hw_json_close(json);
    if (hurts) {
        hw_json_open(json, "heel_pain", '{');
        hw_json_int(json, "weeks_since_onset", who->weeks);
        hw_json_int(json, "first_step_pain_0_10", who->first_step_pain);
        hw_json_close(json);
    } else {
        hw_json_text(json, "heel_pain", "none");
    }
    hw_json_number(json, "lunge_deg", who->lunge_deg + (hurts ? 0 : 3), 0);
    hw_json_number(json, "dorsiflexion_knee_extended_deg", who->knee_extended_deg + (hurts ? 0 : 2),
                   0);
    hw_json_int(json, "foot_posture_index", who->posture_index);
    hw_json_text(json, "monofilament", "felt");
    hw_json_text(json, "pulses", "present");
    hw_json_open(json, "orthosis", '{');
    hw_json_text(json, "shell", "polypropylene");
    hw_json_int(json, "heel_cup_mm", 14);
    hw_json_int(json, "rearfoot_post_deg", hurts ? 4 : 0);
    hw_json_close(json);
    hw_json_close(json);
}

static hw_status write_case(hw_job *job, const person *who, hw_arena *into, hw_bytes *out)
{
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_int(&json, "heelwright_case", 1);
    hw_json_bool(&json, "invented", true);
    hw_json_text(&json, "visit_date", "2026-03-02");
    write_person(&json, who);
    write_red_flags(&json);
    write_history(&json);
    hw_json_open(&json, "feet", '{');
    write_foot(&json, who, HW_SIDE_LEFT);
    write_foot(&json, who, HW_SIDE_RIGHT);
    hw_json_close(&json);
    hw_json_open(&json, "shoe", '{');
    hw_json_number(&json, "inner_length_mm", hw_mm_from_m(who->foot_length_m) + 14.0, 0);
    hw_json_int(&json, "pitch_mm", 10);
    hw_json_text(&json, "kind", "work boot");
    hw_json_close(&json);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}

hw_status hw_app_demo_files(hw_job *job, unsigned seed, hw_arena *into, hw_file_set *out)
{
    person who = draw_person(seed);
    hw_file_set files = {0};
    hw_bytes text = {0};
    HW_TRY(write_case(job, &who, into, &text));
    HW_TRY(hw_file_set_add(job, &files, "case.json", text));
    HW_TRY(add_scan(job, &who, HW_SIDE_LEFT, seed, into, &files));
    HW_TRY(add_scan(job, &who, HW_SIDE_RIGHT, seed, into, &files));
    *out = files;
    return HW_OK;
}
