// SPDX-License-Identifier: GPL-3.0-or-later
// The caseload without people; docs/deidentified.md says how and what remains. No code, name, date, free
// text or side leaves. What could be known of a person elsewhere (sex, age, year of treatment) is made
// coarser until at least k people share it; numbers follow the rows' content, not the clinic's order.
#include "app/app.h"
#include "csv.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LEVELS = 4, ACTS_MAX = 64 };

// A person of the export with what may be known of them elsewhere, at each level of coarseness.
typedef struct subject {
    int first_heel, heels; // in the books, which are sorted by person
    int year, age;         // 0, -1: not known
    char sex;              // 'f', 'm', '?'
    int level;             // at which k share it; LEVELS: at none, left out
    int number;
    const char *shown[2]; // what is exported of each heel, as text; in its order
    int shown_heels[2];   // of which heel
} subject;

typedef struct export
{
    const hw_app_books *books;
    int k;
    subject *subjects;
    int count;
    struct {
        const char *act;
        int people;
    } acts[ACTS_MAX]; // given to how many; one that has no room is "other"
    int act_count;
}
export;

static void gather(export *of)
{
    const hw_app_books *books = of->books;
    for (int i = 0, end = 0; i < books->heel_count; i = end) {
        const hw_app_heel *heel = &books->heels[i];
        for (end = i + 1; end < books->heel_count; end++)
            if (strcmp(books->heels[end].person, heel->person) != 0) break;
        hw_maybe age = books->courses[i].age_years;
        of->subjects[of->count++] = (subject){.first_heel = i,
                                              .heels = end - i,
                                              .year = hw_date_year(heel->first_rated),
                                              .age = age.known ? (int)floor(age.value) : -1,
                                              .sex = hw_text_same(heel->sex, "female") ? 'f'
                                                     : hw_text_same(heel->sex, "male") ? 'm'
                                                                                       : '?',
                                              .level = LEVELS};
    }
}

// Level 0: year, ten years of age, sex. 1: twenty years of age, sex. 2: sex. 3: nothing.
static const char *band_of(const subject *of, int level)
{
    static const char *const tens[] = {"0 to 9",   "10 to 19", "20 to 29", "30 to 39",   "40 to 49",
                                       "50 to 59", "60 to 69", "70 to 79", "80 and more"};
    static const char *const twenties[] = {"0 to 19", "20 to 39", "40 to 59", "60 to 79",
                                           "80 and more"};
    if (level > 1 || of->age < 0) return "";
    int age = of->age < 80 ? of->age : 80;
    return level == 0 ? tens[age / 10] : twenties[age / 20];
}

static bool is_alike(const subject *a, const subject *b, int level)
{
    if (level == 0 && a->year != b->year) return false;
    if (level <= 2 && a->sex != b->sex) return false;
    return strcmp(band_of(a, level), band_of(b, level)) == 0;
}

// Everybody goes out at the finest level at which k who are still waiting share what is shown.
static void assign_levels(export *of)
{
    for (int level = 0; level < LEVELS; level++) {
        for (int i = 0; i < of->count; i++) {
            int alike = 0;
            if (of->subjects[i].level < level) continue;
            for (int j = 0; j < of->count; j++)
                alike += of->subjects[j].level >= level &&
                         is_alike(&of->subjects[i], &of->subjects[j], level);
            if (alike >= of->k) of->subjects[i].level = level;
        }
    }
}

// One more person was given this act.
static void count_act(export *of, const char *act)
{
    int at = 0;
    while (at < of->act_count && strcmp(of->acts[at].act, act) != 0) at++;
    if (at == ACTS_MAX) return;
    if (at == of->act_count) of->acts[of->act_count++].act = act;
    of->acts[at].people++;
}

static int by_person_and_act(const void *a, const void *b)
{
    const hw_app_given *x = a, *y = b;
    int order = strcmp(x->person, y->person);
    return order ? order : strcmp(x->act, y->act);
}

static hw_status count_acts(hw_job *job, export *of, hw_arena *into)
{
    const hw_app_books *books = of->books;
    hw_app_given *given = NULL;
    HW_ALLOC(job, into, given, books->given_count > 0 ? books->given_count : 1);
    if (books->given_count > 0)
        memcpy(given, books->given, (size_t)books->given_count * sizeof *given);
    qsort(given, (size_t)books->given_count, sizeof *given, by_person_and_act);
    for (int i = 0; i < books->given_count; i++)
        if (i == 0 || by_person_and_act(&given[i - 1], &given[i]) != 0) count_act(of, given[i].act);
    return HW_OK;
}

// An act given to fewer than k people would point at them.
static const char *act_word(const export *of, const char *act)
{
    for (int i = 0; act && i < of->act_count; i++)
        if (strcmp(of->acts[i].act, act) == 0 && of->acts[i].people >= of->k) return act;
    return act ? "other" : NULL;
}

static const char *band(hw_maybe value, const double *limits, const char *const *words)
{
    if (!value.known) return NULL;
    while (value.value >= *limits) limits++, words++;
    return *words;
}

static const char *bmi_band(hw_maybe bmi)
{
    static const double limits[] = {25, 30, 35, HUGE_VAL};
    static const char *const words[] = {"under 25", "25 to 29", "30 to 34", "35 and more"};
    return band(bmi, limits, words);
}

static const char *onset_band(hw_maybe weeks)
{
    static const double limits[] = {6, 13, 27, 53, HUGE_VAL};
    static const char *const words[] = {"under 6", "6 to 12", "13 to 26", "27 to 52", "over 52"};
    return band(weeks, limits, words);
}

static void heel_row(csv *to, const export *of, const subject *who, int index, int number)
{
    const hw_app_heel *heel = &of->books->heels[index];
    const hw_heel_course *course = &of->books->courses[index];
    csv_int(to, number);
    csv_int(to, who->number);
    csv_maybe(to, (hw_maybe){who->year, who->level == 0}, 0);
    csv_text(to, band_of(who, who->level));
    csv_text(to, who->level > 2 || who->sex == '?' ? NULL : who->sex == 'f' ? "female" : "male");
    csv_text(to, bmi_band(heel->bmi));
    csv_text(to, onset_band(course->onset_weeks));
    csv_text(to, act_word(of, course->act));
    csv_text(to, heel->events > 0 ? "yes" : "no");
    csv_row(to);
}

typedef struct tables {
    csv heels, scores, treatments;
} tables;

static void write_heel(tables *to, const export *of, const subject *who, int index, int number)
{
    const hw_app_books *books = of->books;
    const hw_app_heel *heel = &books->heels[index];
    const hw_heel_course *course = &books->courses[index];
    heel_row(&to->heels, of, who, index, number);
    for (int i = 0; i < course->count; i++) {
        csv_int(&to->scores, number);
        csv_int(&to->scores, lround(course->scores[i].week));
        csv_int(&to->scores, lround(course->scores[i].score));
        csv_row(&to->scores);
    }
    for (int i = 0; i < books->given_count; i++) {
        const hw_app_given *act = &books->given[i];
        if (!act->date.known || !hw_app_is_on(act, heel)) continue;
        csv_int(&to->treatments, number);
        csv_int(&to->treatments, lround(hw_date_days(heel->first_rated, act->date) / 7.0));
        csv_text(&to->treatments, act_word(of, act->act));
        csv_row(&to->treatments);
    }
}

// Everything that is exported of a heel but its number.
static hw_status show_heel(hw_job *job, const export *of, const subject *who, int index,
                           hw_arena *into, const char **out)
{
    tables to = {csv_begin("deid_heels.csv", into), csv_begin("deid_scores.csv", into),
                 csv_begin("deid_treatments.csv", into)};
    hw_bytes parts[3] = {0};
    write_heel(&to, of, who, index, 0);
    HW_TRY(csv_end(job, &to.heels, &parts[0]));
    HW_TRY(csv_end(job, &to.scores, &parts[1]));
    HW_TRY(csv_end(job, &to.treatments, &parts[2]));
    return hw_text_format(job, into, out, "%.*s%.*s%.*s", (int)parts[0].count,
                          (const char *)parts[0].at, (int)parts[1].count, (const char *)parts[1].at,
                          (int)parts[2].count, (const char *)parts[2].at);
}

// A person's heels in the order of what is shown of them: left and right would tell the side.
static hw_status show_person(hw_job *job, const export *of, subject *who, hw_arena *into)
{
    HW_ASSERT(who->heels <= 2);
    for (int h = 0; h < who->heels; h++) {
        who->shown_heels[h] = who->first_heel + h;
        HW_TRY(show_heel(job, of, who, who->first_heel + h, into, &who->shown[h]));
    }
    if (who->heels < 2 || strcmp(who->shown[0], who->shown[1]) <= 0) return HW_OK;
    const char *text = who->shown[0];
    who->shown[0] = who->shown[1], who->shown[1] = text;
    who->shown_heels[0]++, who->shown_heels[1]--;
    return HW_OK;
}

// The order in which people stand in the export: by all that is exported of them, never by the clinic's.
// Where it is all the same they are the same rows.
static int by_content(const void *a, const void *b)
{
    const subject *x = a, *y = b;
    int order = x->level - y->level;
    if (!order) order = x->heels - y->heels;
    for (int h = 0; !order && h < x->heels; h++) order = strcmp(x->shown[h], y->shown[h]);
    return order;
}

static hw_status write_method(hw_job *job, const export *of, hw_arena *into, hw_bytes *out)
{
    int at_level[LEVELS + 1] = {0};
    hw_writer to = hw_writer_begin(into);
    for (int i = 0; i < of->count; i++) at_level[of->subjects[i].level]++;
    hw_writer_print(
        &to,
        "Made by heelwright %s from a clinic's caseload%s. How: docs/deidentified.md of the "
        "program.\n\n"
        "Left out: names, codes, dates, sides, free text, scans, findings.\n"
        "Year, age and sex are shown only as far as at least %d people of this export share them:\n"
        "  %d people with year of treatment, ten years of age, sex\n"
        "  %d people with twenty years of age, sex\n"
        "  %d people with sex\n"
        "  %d people with none of these\n"
        "  %d people left out, because fewer than %d remained\n\n",
        HW_VERSION, of->books->is_invented ? " (INVENTED DATA)" : "", of->k, at_level[0],
        at_level[1], at_level[2], at_level[3], at_level[4], of->k);
    hw_writer_print(&to,
                    "What remains a risk: who knows somebody's ratings week by week, or a rare "
                    "course, may find them;\n"
                    "all who share an age and sex may share an outcome; this export joined with "
                    "another of the same\n"
                    "clinic may tell more than either. It is not anonymous in law by itself: hand "
                    "it only to people\n"
                    "bound not to look for anybody, keep it no longer than needed, publish no "
                    "table with a count below\n"
                    "%d. Somebody responsible for data protection decides.\n",
                    of->k);
    return hw_writer_end(job, &to, out);
}

hw_status hw_app_books_deidentified(hw_job *job, const hw_app_books *books, int k, hw_arena *into,
                                    hw_file_set *out)
{
    static const char *const names[] = {"deid_heels.csv", "deid_scores.csv", "deid_treatments.csv",
                                        "dictionary.csv", NULL};
    export of = {.books = books, .k = k};
    tables to = {csv_begin(names[0], into), csv_begin(names[1], into), csv_begin(names[2], into)};
    hw_file_set files = {0};
    hw_bytes bytes[5] = {0};
    int number = 0;
    if (k < 2) return hw_fail(job, HW_BAD_INPUT, "k is %d: at least 2 people must share a row", k);
    HW_ALLOC(job, into, of.subjects, books->heel_count > 0 ? books->heel_count : 1);
    gather(&of);
    HW_TRY(count_acts(job, &of, into));
    assign_levels(&of);
    for (int i = 0; i < of.count; i++) HW_TRY(show_person(job, &of, &of.subjects[i], into));
    qsort(of.subjects, (size_t)of.count, sizeof *of.subjects, by_content);
    for (int i = 0; i < of.count && of.subjects[i].level < LEVELS; i++) {
        subject *who = &of.subjects[i];
        who->number = i + 1;
        for (int h = 0; h < who->heels; h++)
            write_heel(&to, &of, who, who->shown_heels[h], ++number);
    }
    HW_TRY(csv_end(job, &to.heels, &bytes[0]));
    HW_TRY(csv_end(job, &to.scores, &bytes[1]));
    HW_TRY(csv_end(job, &to.treatments, &bytes[2]));
    HW_TRY(csv_dictionary(job, names, into, &bytes[3]));
    HW_TRY(write_method(job, &of, into, &bytes[4]));
    for (int i = 0; i < 4; i++) HW_TRY(hw_file_set_add(job, &files, names[i], bytes[i]));
    HW_TRY(hw_file_set_add(job, &files, "deid_method.txt", bytes[4]));
    *out = files;
    return HW_OK;
}
