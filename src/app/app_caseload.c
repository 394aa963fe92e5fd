// SPDX-License-Identifier: GPL-3.0-or-later
// The clinic's books read: ratings of visits and follow-ups in the order of their dates, acts really
// given, what is missing, whom to call.
#include "app/app.h"
#include "body.h"

#include <stdlib.h>
#include <string.h>

enum {
    SILENT_DAYS = 8 * 7,  // after a visit without a later rating: call; common practice
    UNSEEN_DAYS = 12 * 7, // still in pain and not seen so long: call; common practice
    LATE_DAYS = 16 * 7,   // a later rating should be there by then; common practice
    STALE_DAYS = 730,     // nobody is called after two years
};

// One rating of one heel. A heel is a person and a side.
typedef struct rating {
    const char *person;
    hw_side side;
    hw_date date;
    double score;
    int order; // as it was read: of two ratings of one day the later counts
} rating;

// A person's own facts, from their record and their visits, which are read in the order of their dates.
typedef struct member {
    const char *id, *code, *name, *sex;
    hw_maybe birth_year, bmi;
    hw_date first_visit, last_seen;
    int visits;
    bool has_red_flag; // at the newest visit
    bool has_event;    // an adverse event of an act that no rated heel counts
    // Left, right. When it began to hurt, by the first visit that says so, days since 1970; whether it does,
    // at the newest visit that speaks of it.
    hw_maybe onset_day[2];
    bool hurts[2];
    bool is_rated[2];
} member;

typedef struct reader {
    hw_job *job;
    hw_store *store;
    hw_arena *into;
    member *members; // by id
    int member_count;
    rating *ratings; // room for two of each visit, one of each score
    int rating_count;
    hw_app_given *given; // room for each treatment
    int given_count;
    hw_app_books *out;
} reader;

static bool is_before(hw_date a, hw_date b)
{
    return a.known && b.known && a.days < b.days;
}

static void see(member *who, hw_date date)
{
    if (!who->last_seen.known || is_before(who->last_seen, date)) who->last_seen = date;
}

static int by_id(const void *a, const void *b)
{
    return strcmp(((const member *)a)->id, ((const member *)b)->id);
}

static member *find_member(const reader *of, const char *id)
{
    const member key = {.id = id};
    return bsearch(&key, of->members, (size_t)of->member_count, sizeof key, by_id);
}

static hw_status list(const reader *of, const char *kind, hw_store_rows *out)
{
    const hw_store_query query = {.kind = kind};
    return hw_store_list(of->job, of->store, &query, of->into, out);
}

static hw_status read_people(reader *of)
{
    hw_store_rows rows = {0};
    HW_TRY(list(of, "person", &rows));
    HW_ALLOC(of->job, of->into, of->members, rows.count > 0 ? rows.count : 1);
    for (int i = 0; i < rows.count; i++) {
        const hw_json *body = NULL;
        HW_TRY(hw_json_read(of->job, rows.rows[i].body, of->into, &body));
        const char *code = body_text(body, "code"), *name = body_text(body, "name");
        member found = {
            .id = rows.rows[i].head.id, .code = code ? code : "", .name = name ? name : ""};
        of->members[of->member_count++] = found;
    }
    qsort(of->members, (size_t)of->member_count, sizeof *of->members, by_id);
    of->out->people = of->member_count;
    return HW_OK;
}

// -- quality

static void count_quality(hw_app_books *out, const char *what, bool has)
{
    for (int i = 0; i < out->quality_count; i++) {
        hw_report_count *row = &out->quality[i];
        if (strcmp(row->what, what) != 0) continue;
        row->of++;
        row->have += has;
        return;
    }
    HW_ASSERT(out->quality_count < HW_APP_QUALITY_ROWS);
    out->quality[out->quality_count++] = (hw_report_count){what, has, 1};
}

static bool is_answered(const hw_json *object, const char *key)
{
    const hw_json *value = hw_json_get(object, key);
    return value && !(value->kind == HW_JSON_TEXT && hw_text_same(value->text, "not asked"));
}

static bool has_all_red_flags(const hw_json *visit, bool *has_one)
{
    const hw_json *flags = hw_json_get(visit, "red_flags");
    bool has_all = true;
    *has_one = false;
    for (int i = 0; i < HW_FINDING_COUNT; i++) {
        const hw_finding_row *row = &hw_finding_rows()[i];
        if (row->scope != HW_SCOPE_RED_FLAG) continue;
        const char *word = body_text(flags, row->key);
        has_all = has_all && is_answered(flags, row->key);
        *has_one = *has_one || (word && hw_text_same(word, "yes"));
    }
    return has_all;
}

static void check_foot(hw_app_books *out, const hw_json *foot)
{
    const hw_json *pain = hw_json_get(foot, "heel_pain");
    count_quality(out, "painful heels: weeks since it began",
                  body_number(pain, "weeks_since_onset").known);
    count_quality(out, "painful heels: first-step pain rated",
                  body_number(pain, "first_step_pain_0_10").known);
    count_quality(out, "painful heels: protective sensation", is_answered(foot, "monofilament"));
    count_quality(out, "painful heels: pulses", is_answered(foot, "pulses"));
    count_quality(out, "painful heels: ankle range",
                  body_number(foot, "lunge_deg").known ||
                      body_number(foot, "dorsiflexion_knee_extended_deg").known);
}

// -- visits, ratings, acts

static void add_rating(reader *of, const char *person, hw_side side, hw_date date,
                       const hw_json *from)
{
    hw_maybe score = body_number(from, "first_step_pain_0_10");
    bool is_known = score.known && score.value >= 0.0 && score.value <= 10.0 && date.known;
    int at = of->rating_count;
    if (!is_known) return;
    of->ratings[at] = (rating){person, side, date, score.value, at};
    of->rating_count++;
}

static hw_maybe bmi_of(const hw_json *visit)
{
    hw_maybe mass = body_number(visit, "mass_kg"), height = body_number(visit, "height_cm");
    if (!mass.known || !height.known || height.value < 50.0) return (hw_maybe){0};
    return hw_known(mass.value * 1e4 / (height.value * height.value));
}

static void read_foot(reader *of, member *who, const hw_json *visit, int side, hw_date date)
{
    const hw_json *foot = hw_json_get(hw_json_get(visit, "feet"), side ? "right" : "left");
    const hw_json *pain = hw_json_get(foot, "heel_pain");
    if (pain) who->hurts[side] = pain->kind == HW_JSON_OBJECT;
    if (!pain || pain->kind != HW_JSON_OBJECT) return;
    hw_maybe weeks = body_number(pain, "weeks_since_onset");
    if (weeks.known && !who->onset_day[side].known)
        who->onset_day[side] = hw_known(date.days - 7.0 * weeks.value);
    add_rating(of, who->id, side ? HW_SIDE_RIGHT : HW_SIDE_LEFT, date, pain);
    check_foot(of->out, foot);
}

static void read_visit(reader *of, const hw_store_row *row, const hw_json *visit)
{
    member *who = find_member(of, row->head.person);
    hw_date date = body_date(visit, "visit_date");
    const hw_json *person = hw_json_get(visit, "person");
    bool has_flag = false;
    if (!who || !date.known) return;
    if (!who->birth_year.known) who->birth_year = body_number(person, "birth_year");
    if (!who->sex) who->sex = body_text(person, "sex");
    if (!who->bmi.known) who->bmi = bmi_of(visit);
    if (!who->first_visit.known) who->first_visit = date;
    count_quality(of->out, "visits: every red flag answered", has_all_red_flags(visit, &has_flag));
    count_quality(of->out, "visits: birth year", body_number(person, "birth_year").known);
    count_quality(of->out, "visits: body mass", body_number(visit, "mass_kg").known);
    count_quality(of->out, "visits: height", body_number(visit, "height_cm").known);
    count_quality(of->out, "visits: allergies answered", is_answered(visit, "allergies"));
    count_quality(of->out, "visits: medicines answered", is_answered(visit, "medicines"));
    who->has_red_flag = has_flag;
    who->visits++;
    of->out->visits++;
    see(who, date);
    for (int side = 0; side < 2; side++) read_foot(of, who, visit, side, date);
}

// A follow-up, or a form handed in on the tablet, which wraps its answers.
static void read_score(reader *of, const hw_store_row *row, const hw_json *body)
{
    member *who = find_member(of, row->head.person);
    const hw_json *inner = hw_json_get(body, "scores"), *from = inner ? inner : body;
    hw_date date = body_date(from, "date");
    hw_side side = body_side(from);
    if (!date.known) date = body_date(body, "entered");
    count_quality(of->out, "ratings: which foot is said", side != HW_SIDE_UNKNOWN);
    if (!who || !date.known || side == HW_SIDE_UNKNOWN) return; // whose heel is not said
    see(who, date);
    add_rating(of, who->id, side, date, from);
}

static void read_treatment(reader *of, const hw_store_row *row, const hw_json *body)
{
    member *who = find_member(of, row->head.person);
    const char *act = body_text(body, "act"), *event = body_text(body, "adverse_event");
    hw_date date = body_date(body, "date");
    if (!act || !who) return;
    const hw_act_row *known = hw_act_by_word(act);
    count_quality(of->out, "acts given: date", date.known);
    if (known && known->per_heel)
        count_quality(of->out, "acts given to a heel: which foot is said",
                      body_side(body) != HW_SIDE_UNKNOWN);
    if (date.known) see(who, date);
    of->given[of->given_count++] = (hw_app_given){.person = who->id,
                                                  .code = who->code,
                                                  .act = act,
                                                  .side = body_side(body),
                                                  .is_of_person = known && !known->per_heel,
                                                  .date = date,
                                                  .event = event && *event ? event : NULL};
}

// A record's body as it was read.
typedef struct filed {
    const hw_store_row *row;
    const hw_json *body;
    hw_date date; // of a visit
    int order;
} filed;

static int by_visit_day(const void *a, const void *b)
{
    const filed *x = a, *y = b;
    return x->date.days != y->date.days ? x->date.days - y->date.days : x->order - y->order;
}

// Records of a kind, visits in the order of their dates, so that first and newest are what they say; others have no
// such date and stay as they are.
static hw_status read_kind(reader *of, const hw_store_rows *rows,
                           void (*read)(reader *, const hw_store_row *, const hw_json *))
{
    filed *all = NULL;
    HW_ALLOC(of->job, of->into, all, rows->count > 0 ? rows->count : 1);
    for (int i = 0; i < rows->count; i++) {
        all[i] = (filed){.row = &rows->rows[i], .order = i};
        HW_TRY(hw_json_read(of->job, rows->rows[i].body, of->into, &all[i].body));
        all[i].date = body_date(all[i].body, "visit_date");
    }
    qsort(all, (size_t)rows->count, sizeof *all, by_visit_day);
    for (int i = 0; i < rows->count; i++) read(of, all[i].row, all[i].body);
    return HW_OK;
}

static hw_status read_clinic(reader *of)
{
    hw_store_row row = {0};
    const hw_json *body = NULL;
    hw_status status =
        hw_store_get(of->job, of->store, (hw_store_ref){"clinic", "clinic", 0}, of->into, &row);
    of->out->clinic = "";
    if (status == HW_NOT_FOUND) return HW_OK;
    HW_TRY(status);
    HW_TRY(hw_json_read(of->job, row.body, of->into, &body));
    const hw_json *invented = hw_json_get(body, "invented");
    of->out->is_invented = invented && invented->kind == HW_JSON_BOOL && invented->truth;
    if (body_text(body, "name")) of->out->clinic = body_text(body, "name");
    return HW_OK;
}

// -- heels

static int by_heel_and_day(const void *a, const void *b)
{
    const rating *x = a, *y = b;
    int order = strcmp(x->person, y->person);
    if (!order) order = (int)x->side - (int)y->side;
    if (!order) order = x->date.days - y->date.days;
    return order ? order : x->order - y->order;
}

// What has no date stands last.
static int by_date(const void *a, const void *b)
{
    const hw_app_given *x = a, *y = b;
    int order = (int)y->date.known - (int)x->date.known;
    if (!order) order = x->date.days - y->date.days;
    if (!order) order = strcmp(x->code, y->code);
    if (!order) order = strcmp(x->act, y->act);
    return order ? order : (int)x->side - (int)y->side;
}

bool hw_app_is_on(const hw_app_given *act, const hw_app_heel *heel)
{
    const bool is_of_both = act->side == HW_SIDE_UNKNOWN && act->is_of_person;
    return (is_of_both || act->side == heel->side) && strcmp(act->person, heel->person) == 0;
}

// The first treatment is the first that has a date: one without may have been any.
static void count_acts(hw_app_books *of, hw_app_heel *heel, hw_heel_course *course)
{
    for (int i = 0; i < of->given_count; i++) {
        hw_app_given *act = &of->given[i];
        if (!hw_app_is_on(act, heel)) continue;
        if (!course->act && act->date.known) course->act = act->act;
        act->is_counted = true;
        heel->given++;
        heel->events += act->event != NULL;
    }
}

// One heel's ratings; those of one day count once, the last written.
static void fill_heel(reader *of, const rating *first, int count, hw_pain_score *scores)
{
    hw_app_books *out = of->out;
    member *who = find_member(of, first->person);
    hw_app_heel *heel = &out->heels[out->heel_count];
    hw_heel_course *course = &out->courses[out->heel_count++];
    int side = first->side == HW_SIDE_RIGHT;
    const hw_maybe began = who->onset_day[side];
    *course = (hw_heel_course){.scores = scores, .first_day = first->date.days};
    if (began.known && began.value <= first->date.days)
        course->onset_weeks = hw_known((first->date.days - began.value) / 7.0);
    who->is_rated[side] = true;
    for (int i = 0; i < count; i++) {
        double week = hw_date_days(first->date, first[i].date) / 7.0;
        bool is_same_day = i > 0 && first[i].date.days == first[i - 1].date.days;
        if (!is_same_day) course->count++;
        scores[course->count - 1] = (hw_pain_score){week, first[i].score};
    }
    if (who->birth_year.known && who->first_visit.known)
        course->age_years = hw_known(hw_date_year(who->first_visit) - who->birth_year.value);
    *heel = (hw_app_heel){.person = who->id,
                          .code = who->code,
                          .name = who->name,
                          .side = first->side,
                          .sex = who->sex ? who->sex : "",
                          .bmi = who->bmi,
                          .first_rated = first->date,
                          .last_rated = first[count - 1].date,
                          .last_seen = who->last_seen,
                          .first_visit = who->first_visit,
                          .visits = who->visits};
    count_acts(out, heel, course);
}

static hw_status gather_heels(reader *of)
{
    hw_app_books *out = of->out;
    hw_pain_score *scores = NULL;
    int room = of->rating_count > 0 ? of->rating_count : 1;
    HW_ALLOC(of->job, of->into, scores, room);
    HW_ALLOC(of->job, of->into, out->heels, room);
    HW_ALLOC(of->job, of->into, out->courses, room);
    qsort(of->ratings, (size_t)of->rating_count, sizeof *of->ratings, by_heel_and_day);
    for (int i = 0, end = 0; i < of->rating_count; i = end) {
        const rating *first = &of->ratings[i];
        for (end = i; end < of->rating_count; end++)
            if (strcmp(of->ratings[end].person, first->person) != 0 ||
                of->ratings[end].side != first->side)
                break;
        fill_heel(of, first, end - i, &scores[i]);
    }
    return HW_OK;
}

static hw_status gather_acts(reader *of)
{
    hw_app_books *out = of->out;
    qsort(of->given, (size_t)of->given_count, sizeof *of->given, by_date);
    out->given = of->given;
    out->given_count = of->given_count;
    HW_ALLOC(of->job, of->into, out->given_acts, of->given_count > 0 ? of->given_count : 1);
    for (int i = 0; i < of->given_count; i++)
        out->given_acts[i] = (hw_given_act){of->given[i].act, of->given[i].event != NULL};
    return HW_OK;
}

// -- recalls

static void add_recall(hw_app_books *out, const member *who, hw_side side, int urgency,
                       const char *why)
{
    out->recalls[out->recall_count++] =
        (hw_app_recall){.person = who->id,
                        .code = who->code,
                        .name = who->name,
                        .side = side,
                        .last_seen = who->last_seen,
                        .why = why,
                        .urgency = urgency,
                        .days = hw_date_days(who->last_seen, out->today)};
}

// Somebody to be called for themselves or for a heel that was never rated; true where a call about
// them as a person is already listed, which their heels need not repeat.
static bool recall_person(hw_app_books *out, const member *who, int unseen)
{
    if (who->has_red_flag && unseen >= 7) {
        add_recall(out, who, HW_SIDE_UNKNOWN, 0,
                   "a red flag stood at the newest visit, and nothing is written since");
        return true;
    }
    if (unseen < SILENT_DAYS) return false;
    if (who->has_event)
        add_recall(out, who, HW_SIDE_UNKNOWN, 1,
                   "an adverse event is written down of no rated heel, not seen for eight weeks");
    for (int side = 0; side < 2; side++)
        if (who->hurts[side] && !who->is_rated[side])
            add_recall(out, who, side ? HW_SIDE_RIGHT : HW_SIDE_LEFT, 2,
                       "the heel hurt and its pain was never rated, not seen for eight weeks");
    return false;
}

static void recall_heel(hw_app_books *out, const member *who, int index, int unseen)
{
    const hw_app_heel *heel = &out->heels[index];
    const hw_heel_course *course = &out->courses[index];
    const bool hurts = course->scores[course->count - 1].score > out->caseload.gone;
    if (heel->events > 0 && hurts && unseen >= SILENT_DAYS)
        add_recall(
            out, who, heel->side, 1,
            "an adverse event is written down, the heel still hurts, not seen for eight weeks");
    else if (course->count == 1 && unseen >= SILENT_DAYS)
        add_recall(out, who, heel->side, 2, "rated once and never again, not seen for eight weeks");
    else if (hurts && unseen >= UNSEEN_DAYS)
        add_recall(out, who, heel->side, 3,
                   "still in pain when last rated, not seen for twelve weeks");
}

static int by_urgency(const void *a, const void *b)
{
    const hw_app_recall *x = a, *y = b;
    int order = x->urgency - y->urgency;
    if (!order) order = y->days - x->days;
    if (!order) order = strcmp(x->code, y->code);
    return order ? order : (int)x->side - (int)y->side;
}

// Heels stand by person, as the people do: one walk over both.
static hw_status gather_recalls(reader *of)
{
    hw_app_books *out = of->out;
    int next = 0;
    HW_ALLOC(of->job, of->into, out->recalls, 4 * of->member_count + 1);
    for (int i = 0; i < out->given_count; i++)
        if (out->given[i].event && !out->given[i].is_counted)
            find_member(of, out->given[i].person)->has_event = true;
    for (int i = 0; i < of->member_count; i++) {
        const member *who = &of->members[i];
        const int first = next;
        while (next < out->heel_count && strcmp(out->heels[next].person, who->id) == 0) next++;
        const int unseen = who->last_seen.known ? hw_date_days(who->last_seen, out->today) : -1;
        if (unseen < 0 || unseen > STALE_DAYS || recall_person(out, who, unseen)) continue;
        for (int h = first; h < next; h++) recall_heel(out, who, h, unseen);
    }
    qsort(out->recalls, (size_t)out->recall_count, sizeof *out->recalls, by_urgency);
    return HW_OK;
}

static void count_late_ratings(hw_app_books *out)
{
    for (int i = 0; i < out->heel_count; i++)
        if (hw_date_days(out->heels[i].first_rated, out->today) >= LATE_DAYS)
            count_quality(out, "heels: rated again, of those begun 16 weeks ago or more",
                          out->courses[i].count > 1);
}

hw_status hw_app_books_read(hw_job *job, hw_store *store, hw_date today, hw_arena *into,
                            hw_app_books *out)
{
    hw_app_books books = {.today = today};
    reader of = {.job = job, .store = store, .into = into, .out = &books};
    hw_store_rows visits = {0}, scores = {0}, treatments = {0};
    HW_ASSERT(today.known);
    HW_TRY(read_clinic(&of));
    HW_TRY(read_people(&of));
    HW_TRY(list(&of, "visit", &visits));
    HW_TRY(list(&of, "score", &scores));
    HW_TRY(list(&of, "treatment", &treatments));
    HW_ALLOC(job, into, of.ratings, 2 * visits.count + scores.count + 1);
    HW_ALLOC(job, into, of.given, treatments.count + 1);
    HW_TRY(read_kind(&of, &visits, read_visit));
    HW_TRY(read_kind(&of, &scores, read_score));
    HW_TRY(read_kind(&of, &treatments, read_treatment));
    HW_TRY(gather_acts(&of));
    HW_TRY(gather_heels(&of));
    const hw_caseload_books counted = {books.courses, books.heel_count, books.given_acts,
                                       books.given_count};
    HW_TRY(hw_count_caseload(job, &counted, into, &books.caseload));
    HW_TRY(gather_recalls(&of));
    count_late_ratings(&books);
    *out = books;
    return HW_OK;
}

hw_status hw_app_export_noted(hw_job *job, hw_store *store, const char *who, const char *what,
                              const char *why, hw_arena *into)
{
    hw_json_out json = hw_json_begin(into);
    hw_store_write write = {.kind = "export", .who = who, .why = why};
    hw_store_head head = {0};
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "what", what);
    hw_json_close(&json);
    HW_TRY(hw_json_end(job, &json, &write.body));
    return hw_store_put(job, store, &write, 1, into, &head);
}

hw_status hw_app_audit_pdf(hw_job *job, const hw_app_books *of, hw_paper paper, hw_arena *into,
                           hw_bytes *out)
{
    const hw_report_audit audit = {.clinic = of->clinic,
                                   .today = of->today,
                                   .is_invented = of->is_invented,
                                   .people = of->people,
                                   .visits = of->visits,
                                   .caseload = &of->caseload,
                                   .quality = of->quality,
                                   .quality_count = of->quality_count};
    return hw_report_audit_pdf(job, &audit, paper, into, out);
}
