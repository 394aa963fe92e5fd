// SPDX-License-Identifier: GPL-3.0-or-later
// Everybody's heels for the caseload: ratings of visits and follow-ups in the order of their dates.
// Nothing that names a person leaves here.
#include "api_internal.h"

#include <stdlib.h>
#include <string.h>

enum { HEELS_MAX = 20000, SCORES_MAX = 200000 };

// One rating of one heel. A heel is a person and a side.
typedef struct rating {
    const char *person;
    bool is_right;
    int day; // since 2000-01-01
    double score;
} rating;

typedef struct given {
    const char *person, *act;
    bool is_right, is_left;
} given;

typedef struct books {
    rating *ratings;
    int rating_count;
    given *acts;
    int act_count;
} books;

static bool read_day(const hw_json *text, int *day)
{
    hw_date date = {0}, start = {0};
    if (!text || text->kind != HW_JSON_TEXT || !hw_date_parse("2000-01-01", &start)) return false;
    char first[11] = {0}; // a time may follow the day
    strncpy(first, text->text, 10);
    if (!hw_date_parse(first, &date)) return false;
    *day = hw_date_days(start, date);
    return true;
}

static void add_rating(books *to, const char *person, bool is_right, int day, const hw_json *from)
{
    const hw_json *score = hw_json_get(from, "first_step_pain_0_10");
    bool known =
        score && score->kind == HW_JSON_NUMBER && score->number >= 0.0 && score->number <= 10.0;
    if (!known || to->rating_count == SCORES_MAX) return;
    to->ratings[to->rating_count++] = (rating){person, is_right, day, score->number};
}

static void read_visit(books *to, const hw_store_row *row, const hw_json *body)
{
    int day = 0;
    if (!read_day(hw_json_get(body, "visit_date"), &day)) return;
    const hw_json *feet = hw_json_get(body, "feet");
    for (int i = 0; i < 2; i++) {
        const hw_json *pain = hw_json_get(hw_json_get(feet, i ? "right" : "left"), "heel_pain");
        add_rating(to, row->head.person, i == 1, day, pain);
    }
}

// A follow-up, or a form handed in on the tablet, which wraps its answers.
static void read_score(books *to, const hw_store_row *row, const hw_json *body)
{
    int day = 0;
    const hw_json *inner = hw_json_get(body, "scores"), *from = inner ? inner : body;
    const hw_json *foot = hw_json_get(from, "foot"), *date = hw_json_get(from, "date");
    if (!read_day(date ? date : hw_json_get(body, "entered"), &day)) return;
    if (!foot || foot->kind != HW_JSON_TEXT) return; // whose heel is not said
    add_rating(to, row->head.person, hw_text_same(foot->text, "right"), day, from);
}

static void read_treatment(books *to, const hw_store_row *row, const hw_json *body)
{
    const hw_json *act = hw_json_get(body, "act"), *foot = hw_json_get(body, "foot");
    if (!act || act->kind != HW_JSON_TEXT || to->act_count == SCORES_MAX) return;
    bool said = foot && foot->kind == HW_JSON_TEXT;
    to->acts[to->act_count++] = (given){.person = row->head.person,
                                        .act = act->text,
                                        .is_left = !said || !hw_text_same(foot->text, "right"),
                                        .is_right = !said || !hw_text_same(foot->text, "left")};
}

static hw_status read_kind(api_call *call, books *to, const char *kind,
                           void (*read)(books *, const hw_store_row *, const hw_json *))
{
    hw_store_rows rows = {0};
    hw_store_query query = {.kind = kind};
    HW_TRY(hw_store_list(call->job, call->api->store, &query, call->into, &rows));
    for (int i = 0; i < rows.count; i++) {
        const hw_json *body = NULL;
        HW_TRY(hw_json_read(call->job, rows.rows[i].body, call->into, &body));
        read(to, &rows.rows[i], body);
    }
    return HW_OK;
}

static int by_heel_and_day(const void *a, const void *b)
{
    const rating *x = a, *y = b;
    int order = strcmp(x->person, y->person);
    if (!order) order = (int)x->is_right - (int)y->is_right;
    return order ? order : x->day - y->day;
}

// A heel is counted under the first treatment it was given: a fact, where the main one would be a
// judgement.
static const char *first_act(const books *of, const rating *heel)
{
    for (int i = 0; i < of->act_count; i++) {
        const given *act = &of->acts[i];
        bool same_side = heel->is_right ? act->is_right : act->is_left;
        if (same_side && strcmp(act->person, heel->person) == 0) return act->act;
    }
    return NULL;
}

static hw_status gather_heels(api_call *call, books *of, hw_heel_course *heels, int *count)
{
    hw_pain_score *scores = NULL;
    HW_ALLOC(call->job, call->into, scores, of->rating_count > 0 ? of->rating_count : 1);
    qsort(of->ratings, (size_t)of->rating_count, sizeof *of->ratings, by_heel_and_day);
    *count = 0;
    for (int i = 0; i < of->rating_count;) {
        const rating *first = &of->ratings[i];
        int end = i;
        for (; end < of->rating_count; end++) {
            const rating *next = &of->ratings[end];
            if (strcmp(next->person, first->person) != 0 || next->is_right != first->is_right)
                break;
            scores[end] = (hw_pain_score){(next->day - first->day) / 7.0, next->score};
        }
        if (*count < HEELS_MAX)
            heels[(*count)++] = (hw_heel_course){&scores[i], end - i, first_act(of, first)};
        i = end;
    }
    return HW_OK;
}

hw_status answer_caseload(api_call *call)
{
    books of = {0};
    hw_heel_course *heels = NULL;
    hw_caseload caseload = {0};
    hw_bytes text = {0};
    int count = 0;
    HW_ALLOC(call->job, call->into, of.ratings, SCORES_MAX);
    HW_ALLOC(call->job, call->into, of.acts, SCORES_MAX);
    HW_ALLOC(call->job, call->into, heels, HEELS_MAX);
    HW_TRY(read_kind(call, &of, "visit", read_visit));
    HW_TRY(read_kind(call, &of, "score", read_score));
    HW_TRY(read_kind(call, &of, "treatment", read_treatment));
    HW_TRY(gather_heels(call, &of, heels, &count));
    HW_TRY(hw_count_caseload(call->job, heels, count, call->into, &caseload));
    HW_TRY(hw_report_caseload_json(call->job, &caseload, call->into, &text));
    return api_json(call, text);
}
