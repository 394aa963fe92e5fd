// SPDX-License-Identifier: GPL-3.0-or-later
// An invented person of an invented harbour-town clinic. Nothing here is a reference for anything.
#include "app/app.h"
#include "demo/demo.h"
#include "meshfile/meshfile.h"
#include "json/json.h"

#include <math.h>
#include <string.h>

// The person, drawn from the seed within what is ordinary.
typedef struct person {
    const char *code, *visit_date;
    hw_side hurts;
    const char *medicines[4], *conditions[3]; // NULL ends them
    const char *red_flag;                     // a key that is answered yes; NULL: none
    bool had_injection;                       // three weeks before, at the heel that hurts
    bool is_weighed;
    int triangles;
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
    person one = {.code = "HB-0042",
                  .visit_date = "2026-03-02",
                  .hurts = HW_SIDE_LEFT,
                  .medicines = {"metformin", "ibuprofen"},
                  .conditions = {"type 2 diabetes"},
                  .had_injection = true,
                  .is_weighed = true,
                  .triangles = 30000,
                  .is_female = hw_random_uniform(&random) < 0.55};
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
    order.triangles = who->triangles;
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
    hw_json_text(json, "code", who->code);
    hw_json_int(json, "birth_year", who->birth_year);
    hw_json_text(json, "sex", who->is_female ? "female" : "male");
    if (who->is_female) hw_json_text(json, "pregnancy", "no");
    if (who->conditions[0]) hw_json_number(json, "hba1c_percent", 6.9, 1);
    hw_json_close(json);
    if (who->is_weighed) {
        hw_json_number(json, "mass_kg", who->mass_kg, 0);
        hw_json_text(json, "mass_measured_on", who->visit_date);
    }
    hw_json_number(json, "height_cm", who->height_cm, 0);
    hw_json_int(json, "standing_hours_per_day", 9); // behind a stall of the fish market
    hw_json_int(json, "steps_per_day", 9000);
}

// Every red flag was asked about.
static void write_red_flags(hw_json_out *json, const person *who)
{
    hw_json_open(json, "red_flags", '{');
    for (int i = 0; i < HW_FINDING_COUNT; i++) {
        const hw_finding_row *row = &hw_finding_rows()[i];
        if (row->scope != HW_SCOPE_RED_FLAG) continue;
        bool is_there = who->red_flag && hw_text_same(row->key, who->red_flag);
        hw_json_text(json, row->key, is_there ? "yes" : "no");
    }
    hw_json_close(json);
}

static void write_names(hw_json_out *json, const char *key, const char *const *names, int most)
{
    hw_json_open(json, key, '[');
    for (int i = 0; i < most && names[i]; i++) hw_json_text(json, NULL, names[i]);
    hw_json_close(json);
}

static void write_history(hw_json_out *json, const person *who)
{
    write_names(json, "medicines", who->medicines, 4);
    write_names(json, "conditions", who->conditions, 3);
    hw_json_open(json, "allergies", '[');
    hw_json_close(json);
    hw_json_open(json, "past_treatments", '[');
    if (who->had_injection) {
        char date[HW_DATE_TEXT];
        hw_date day = {0};
        bool known = hw_date_parse(who->visit_date, &day);
        HW_ASSERT(known);
        hw_json_open(json, NULL, '{');
        hw_json_text(json, "act", "corticosteroid injection");
        hw_json_text(json, "date", hw_date_text(hw_date_plus(day, -21), date));
        hw_json_text(json, "foot", hw_side_word(who->hurts));
        hw_json_text(json, "substance", "methylprednisolone acetate");
        hw_json_int(json, "dose_mg", 40);
        hw_json_close(json);
    }
    hw_json_close(json);
}

static void write_foot(hw_json_out *json, const person *who, hw_side side)
{
    bool hurts = side == who->hurts;
    bool is_pad = who->weeks % 11 == 7; // a few have a sore fat pad, not a sore fascia
    hw_json_open(json, hw_side_word(side), '{');
    hw_json_open(json, "scan", '{');
    hw_json_text(json, "file", side == HW_SIDE_LEFT ? "left-scan.stl" : "right-scan.stl");
    hw_json_text(json, "unit", "mm");
    hw_json_text(json, "loading", "hanging");
    hw_json_bool(json, "side_confirmed", true);
    hw_json_close(json);
    if (hurts) {
        hw_json_open(json, "heel_pain", '{');
        hw_json_int(json, "weeks_since_onset", who->weeks);
        hw_json_int(json, "first_step_pain_0_10", who->first_step_pain);
        hw_json_text(json, "pain_pattern",
                     is_pad ? "with long standing" : "first steps, then eases");
        hw_json_close(json);
        hw_json_text(json, "tender_at", is_pad ? "heel pad" : "fascia origin");
        hw_json_text(json, "windlass_test_standing",
                     is_pad || who->weeks % 3 ? "negative" : "positive");
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
    hw_json_text(&json, "visit_date", who->visit_date);
    write_person(&json, who);
    write_red_flags(&json, who);
    write_history(&json, who);
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

static hw_status make_visit(hw_job *job, const person *who, unsigned seed, hw_arena *into,
                            hw_file_set *out)
{
    hw_file_set files = {0};
    hw_bytes text = {0};
    HW_TRY(write_case(job, who, into, &text));
    HW_TRY(hw_file_set_add(job, &files, "case.json", text));
    HW_TRY(add_scan(job, who, HW_SIDE_LEFT, seed, into, &files));
    HW_TRY(add_scan(job, who, HW_SIDE_RIGHT, seed, into, &files));
    *out = files;
    return HW_OK;
}

hw_status hw_app_demo_files(hw_job *job, unsigned seed, hw_arena *into, hw_file_set *out)
{
    person who = draw_person(seed);
    return make_visit(job, &who, seed, into, out);
}

// What they have and take, so that the rules have something to say.
typedef struct history_row {
    const char *medicines[4], *conditions[3], *red_flag;
    bool had_injection, is_weighed;
} history_row;

static const history_row histories[] = {
    {{NULL}, {NULL}, NULL, false, true},
    {{"ibuprofen"}, {"hypertension"}, NULL, false, true},
    {{"apixaban", "bisoprolol"}, {"atrial fibrillation"}, NULL, false, true},
    {{"metformin"}, {"type 2 diabetes"}, NULL, true, true},
    {{"levothyroxine"}, {"hypothyroidism"}, NULL, false, true},
    {{"sertraline"}, {NULL}, NULL, true, true},
    {{NULL}, {NULL}, "night_pain", false, true},
    {{"prednisolone", "methotrexate"}, {"rheumatoid arthritis"}, NULL, false, true},
    {{"omeprazole", "naproxen"}, {NULL}, NULL, false, false},
    {{"amlodipine"}, {"hypertension"}, NULL, false, true},
};
enum { HISTORIES = sizeof histories / sizeof histories[0] };

static const char *const first_names[15] = {"Mara",  "Jonas", "Elke",  "Piet", "Sanne",
                                            "Ruben", "Tilda", "Henk",  "Ylva", "Bastian",
                                            "Noor",  "Arvid", "Femke", "Lars", "Greta"};
static const char *const last_names[12] = {"Tideway",  "Sandbar",    "Netmaker", "Lockkeeper",
                                           "Gullwing", "Brackwater", "Fairlead", "Seawall",
                                           "Foghorn",  "Marlin",     "Bollard",  "Ebb"};

// The clinic's books end here: nothing is written of the days after.
static bool is_in_the_books(hw_date day)
{
    hw_date end = {0};
    bool known = hw_date_parse("2026-11-20", &end);
    HW_ASSERT(known);
    return hw_date_days(day, end) >= 0;
}

// The pain of one heel as it might have gone: a level, a fall, what one rating varies by.
static hw_status add_scores(hw_job *job, const person *who, hw_random *random, hw_date day,
                            hw_arena *into, hw_demo_person *out)
{
    static const int weeks[HW_DEMO_SCORES] = {3, 6, 12, 18, 26, 40};
    double level = who->first_step_pain, fall = fmax(-1.0, 4.5 + 2.2 * hw_random_normal(random));
    int count = (int)within(random, 1, HW_DEMO_SCORES + 1); // some are lost on the way
    for (int i = 0; i < count; i++) {
        char date[HW_DATE_TEXT];
        if (!is_in_the_books(hw_date_plus(day, 7 * weeks[i]))) break;
        double pain = level + fall * expm1(-weeks[i] / 11.0) + 0.7 * hw_random_normal(random);
        double first = fmin(10.0, fmax(0.0, round(pain)));
        hw_json_out json = hw_json_begin(into);
        hw_json_open(&json, NULL, '{');
        hw_json_text(&json, "date", hw_date_text(hw_date_plus(day, 7 * weeks[i]), date));
        hw_json_text(&json, "foot", hw_side_word(who->hurts));
        hw_json_number(&json, "first_step_pain_0_10", first, 0);
        hw_json_number(&json, "average_pain_0_10", fmax(0.0, first - 1.0), 0);
        hw_json_text(&json, "from", "follow-up");
        hw_json_close(&json);
        HW_TRY(hw_json_end(job, &json, &out->scores[out->score_count++]));
    }
    return HW_OK;
}

static void write_act(hw_json_out *json, const char *act)
{
    if (hw_text_same(act, "radial shockwave")) {
        hw_json_text(json, "serial", "RW-1180");
        hw_json_int(json, "pulses", 2000);
        hw_json_int(json, "frequency_Hz", 10);
        hw_json_number(json, "pressure_bar", 2.5, 1);
    }
    if (hw_text_same(act, "corticosteroid injection")) {
        hw_json_text(json, "substance", "methylprednisolone acetate");
        hw_json_int(json, "dose_mg", 40);
        hw_json_text(json, "batch", "M4471");
        hw_json_text(json, "expiry", "2028-01-31");
    }
}

static hw_status add_treatments(hw_job *job, const person *who, int index, hw_date day,
                                hw_arena *into, hw_demo_person *out)
{
    static const char *const courses[5][HW_DEMO_TREATMENTS] = {
        {"tape", "plantar fascia stretch"},
        {"plantar fascia stretch", "radial shockwave", "radial shockwave", "radial shockwave"},
        {"plantar fascia stretch", "high-load strength"},
        {"tape", "prefabricated insole", "calf stretch"},
        {"plantar fascia stretch", "manual therapy", "manual therapy"},
    };
    if (who->red_flag || !who->is_weighed) return HW_OK; // referred, or not yet released
    for (int i = 0; i < HW_DEMO_TREATMENTS && courses[index % 5][i]; i++) {
        char date[HW_DATE_TEXT];
        // The first of them at the visit, later ones a week apart once the injection is six weeks by.
        int wait = i == 0 ? 0 : (who->had_injection ? 28 : 0) + 7 * i;
        if (!is_in_the_books(hw_date_plus(day, wait))) break;
        hw_json_out json = hw_json_begin(into);
        hw_json_open(&json, NULL, '{');
        hw_json_text(&json, "act", courses[index % 5][i]);
        hw_json_text(&json, "foot", hw_side_word(who->hurts));
        hw_json_text(&json, "date", hw_date_text(hw_date_plus(day, wait), date));
        write_act(&json, courses[index % 5][i]);
        if (index == 3 && i == 0)
            hw_json_text(&json, "adverse_event",
                         "itching under the tape, gone when it was taken off");
        if (index == 11 && i == 2)
            hw_json_text(&json, "adverse_event", "bruise over the heel, gone after five days");
        hw_json_close(&json);
        HW_TRY(hw_json_end(job, &json, &out->treatments[out->treatment_count++]));
    }
    return HW_OK;
}

hw_status hw_app_demo_person(hw_job *job, unsigned seed, int index, hw_arena *into,
                             hw_demo_person *out)
{
    HW_ASSERT(index >= 0 && index < HW_DEMO_PEOPLE);
    const history_row *history = &histories[index % HISTORIES];
    hw_random random = hw_random_begin(1000u * (uint64_t)seed + (uint64_t)index);
    hw_demo_person found = {0};
    person who = draw_person(seed + 17u * (unsigned)index);
    char *date = NULL;
    hw_date start = {0};
    bool known = hw_date_parse("2024-12-03", &start);
    HW_ASSERT(known);
    hw_date day = hw_date_plus(start, 24 * index); // thirty people over two years
    HW_ALLOC(job, into, date, HW_DATE_TEXT);
    who.visit_date = hw_date_text(day, date);
    HW_TRY(hw_text_format(job, into, &who.code, "HB-%04d", 101 + 7 * index));
    HW_TRY(hw_text_format(job, into, &found.name, "%s %s (invented)", first_names[(index + 1) % 15],
                          last_names[(index * 5 + 3) % 12]));
    memcpy(who.medicines, history->medicines, sizeof who.medicines);
    memcpy(who.conditions, history->conditions, sizeof who.conditions);
    who.red_flag = history->red_flag;
    who.had_injection = history->had_injection;
    who.is_weighed = history->is_weighed;
    who.hurts = hw_random_uniform(&random) < 0.5 ? HW_SIDE_LEFT : HW_SIDE_RIGHT;
    who.triangles = 8000;
    found.code = who.code;
    HW_TRY(make_visit(job, &who, seed + 17u * (unsigned)index, into, &found.visit));
    HW_TRY(add_treatments(job, &who, index, day, into, &found));
    HW_TRY(add_scores(job, &who, &random, day, into, &found));
    *out = found;
    return HW_OK;
}
