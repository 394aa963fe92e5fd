// SPDX-License-Identifier: GPL-3.0-or-later
// One person's acts and ratings out of the store, for the treatment record.
#include "app/app.h"
#include "body.h"

#include <stdlib.h>
#include <string.h>

// What is written down of an act beside act, date and foot; in the order of the page.
static const struct {
    const char *key, *before, *after;
} details[] = {{"substance", "", ""},
               {"dose_mg", "", " mg"},
               {"concentration_percent", "", " %"},
               {"volume_mL", "", " mL"},
               {"batch", "batch ", ""},
               {"expiry", "expires ", ""},
               {"serial", "handpiece ", ""},
               {"pulses", "", " pulses"},
               {"shot_count", "shot count ", ""},
               {"frequency_Hz", "", " Hz"},
               {"pressure_bar", "", " bar"},
               {"energy_mJ_per_mm2", "", " mJ/mm2"},
               {"pain_0_10", "pain ", " of 10"},
               {"sessions", "session ", ""}};

static hw_status describe(hw_job *job, const hw_json *body, hw_arena *into, const char **out)
{
    hw_writer to = hw_writer_begin(into);
    hw_bytes text = {0};
    for (size_t i = 0; i < sizeof details / sizeof *details; i++) {
        const hw_json *value = hw_json_get(body, details[i].key);
        if (!value || (value->kind != HW_JSON_TEXT && value->kind != HW_JSON_NUMBER)) continue;
        hw_writer_print(&to, "%s%s", to.count ? ", " : "", details[i].before);
        if (value->kind == HW_JSON_TEXT)
            hw_writer_print(&to, "%s", value->text);
        else
            hw_writer_print(&to, "%g", value->number);
        hw_writer_print(&to, "%s", details[i].after);
    }
    HW_TRY(hw_writer_end(job, &to, &text));
    *out = (const char *)text.at;
    return HW_OK;
}

typedef struct course {
    hw_job *job;
    hw_store *store;
    const hw_app_course_ask *ask;
    hw_arena *into;
    hw_report_given *given;
    hw_report_rating *ratings;
    int given_count, rating_count;
} course;

static hw_status rows_of(const course *of, const char *kind, hw_store_rows *out)
{
    const hw_store_query query = {.kind = kind, .person = of->ask->person};
    return hw_store_list(of->job, of->store, &query, of->into, out);
}

static hw_status read_given(course *of)
{
    hw_store_rows rows = {0};
    HW_TRY(rows_of(of, "treatment", &rows));
    HW_ALLOC(of->job, of->into, of->given, rows.count > 0 ? rows.count : 1);
    for (int i = 0; i < rows.count; i++) {
        const hw_json *body = NULL;
        hw_report_given *act = &of->given[of->given_count++];
        HW_TRY(hw_json_read(of->job, rows.rows[i].body, of->into, &body));
        const char *word = body_text(body, "act");
        *act = (hw_report_given){.date = body_date(body, "date"),
                                 .act = word ? word : "not said",
                                 .side = body_side(body),
                                 .event = body_text(body, "adverse_event")};
        HW_TRY(describe(of->job, body, of->into, &act->details));
        HW_TRY(of->ask->who(of->ask->user, rows.rows[i].head.who, &act->who));
    }
    return HW_OK;
}

static void add_rating(course *of, hw_date date, hw_side side, const hw_json *from)
{
    const hw_json *score = hw_json_get(from, "first_step_pain_0_10");
    if (!date.known || side == HW_SIDE_UNKNOWN || !score || score->kind != HW_JSON_NUMBER) return;
    of->ratings[of->rating_count++] = (hw_report_rating){date, side, score->number};
}

static hw_status read_ratings(course *of)
{
    hw_store_rows visits = {0}, scores = {0};
    HW_TRY(rows_of(of, "visit", &visits));
    HW_TRY(rows_of(of, "score", &scores));
    HW_ALLOC(of->job, of->into, of->ratings, 2 * visits.count + scores.count + 1);
    for (int i = 0; i < visits.count; i++) {
        const hw_json *body = NULL;
        HW_TRY(hw_json_read(of->job, visits.rows[i].body, of->into, &body));
        const hw_json *feet = hw_json_get(body, "feet");
        for (int side = 0; side < 2; side++)
            add_rating(of, body_date(body, "visit_date"), side ? HW_SIDE_RIGHT : HW_SIDE_LEFT,
                       hw_json_get(hw_json_get(feet, side ? "right" : "left"), "heel_pain"));
    }
    for (int i = 0; i < scores.count; i++) {
        const hw_json *body = NULL;
        HW_TRY(hw_json_read(of->job, scores.rows[i].body, of->into, &body));
        const hw_json *inner = hw_json_get(body, "scores"), *from = inner ? inner : body;
        hw_date date = body_date(from, "date");
        add_rating(of, date.known ? date : body_date(body, "entered"), body_side(from), from);
    }
    return HW_OK;
}

static int given_by_date(const void *a, const void *b)
{
    const hw_report_given *x = a, *y = b;
    return x->date.days != y->date.days ? x->date.days - y->date.days : strcmp(x->act, y->act);
}

static int rating_by_date(const void *a, const void *b)
{
    const hw_report_rating *x = a, *y = b;
    return x->date.days != y->date.days ? x->date.days - y->date.days : (int)x->side - (int)y->side;
}

hw_status hw_app_course_pdf(hw_job *job, hw_store *store, const hw_app_course_ask *ask,
                            hw_arena *into, hw_bytes *out)
{
    hw_store_row row = {0};
    const hw_json *person = NULL;
    course of = {.job = job, .store = store, .ask = ask, .into = into};
    HW_TRY(hw_store_get(job, store, (hw_store_ref){"person", ask->person, 0}, into, &row));
    HW_TRY(hw_json_read(job, row.body, into, &person));
    HW_TRY(read_given(&of));
    HW_TRY(read_ratings(&of));
    qsort(of.given, (size_t)of.given_count, sizeof *of.given, given_by_date);
    qsort(of.ratings, (size_t)of.rating_count, sizeof *of.ratings, rating_by_date);
    const hw_json *invented = hw_json_get(person, "invented");
    const hw_report_course shown = {
        .code = body_text(person, "code") ? body_text(person, "code") : "no code",
        .today = ask->today,
        .is_invented = invented && invented->kind == HW_JSON_BOOL && invented->truth,
        .given = of.given,
        .given_count = of.given_count,
        .ratings = of.ratings,
        .rating_count = of.rating_count};
    return hw_report_course_pdf(job, &shown, ask->paper, into, out);
}
