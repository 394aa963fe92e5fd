// SPDX-License-Identifier: GPL-3.0-or-later
#include "csv.h"

#include <string.h>

// clang-format off
static const csv_column columns[] = {
    {"heels.csv", "code", "text", "", "the person's code in this clinic"},
    {"heels.csv", "side", "word", "", "left or right"},
    {"heels.csv", "sex", "word", "", "female, male, other; empty: not said"},
    {"heels.csv", "age_years", "number", "years", "at the first visit, from the birth year alone: up to one year less"},
    {"heels.csv", "bmi", "number", "kg/m2", "of the first visit with mass and height"},
    {"heels.csv", "onset_weeks", "number", "weeks", "since the pain began, at the first rating of this heel"},
    {"heels.csv", "first_visit", "date", "", "first visit of the person"},
    {"heels.csv", "first_rated", "date", "", "first rating of this heel; week 0 of its scores"},
    {"heels.csv", "last_rated", "date", "", "newest rating of this heel"},
    {"heels.csv", "ratings", "count", "", "of first-step pain"},
    {"heels.csv", "first_score", "number", "0 to 10", "first-step pain at week 0; 10 is worst"},
    {"heels.csv", "last_score", "number", "0 to 10", "the newest"},
    {"heels.csv", "weeks_followed", "number", "weeks", "from the first rating to the newest"},
    {"heels.csv", "better", "yes or no", "",
     "fallen by the change that matters to patients (1.9 points, Landorf 2010); empty: no later rating"},
    {"heels.csv", "gone", "yes or no", "", "newest score 2 or less; empty: no later rating"},
    {"heels.csv", "weeks_until_gone", "number", "weeks", "first score of 2 or less; empty: not yet"},
    {"heels.csv", "first_treatment", "word", "",
     "first act given to this heel on a known day; the group it is counted under"},
    {"heels.csv", "acts_given", "count", "", "acts written down for this heel"},
    {"heels.csv", "adverse_events", "count", "", "of these with an adverse event written down"},

    {"scores.csv", "code", "text", "", "the person's code in this clinic"},
    {"scores.csv", "side", "word", "", "left or right"},
    {"scores.csv", "week", "number", "weeks", "since this heel's first rating"},
    {"scores.csv", "first_step_pain", "number", "0 to 10", "pain at the first steps of the morning; 10 is worst"},

    {"treatments.csv", "code", "text", "", "the person's code in this clinic"},
    {"treatments.csv", "side", "word", "", "left or right; empty: the person as a whole, or not said"},
    {"treatments.csv", "date", "date", "", "as written down"},
    {"treatments.csv", "act", "word", "", "what was given"},
    {"treatments.csv", "adverse_event", "text", "", "as written down; empty: none written"},

    {"summary.csv", "group", "word", "",
     "all, or the first treatment given: groups are not comparable, see their first columns"},
    {"summary.csv", "heels", "count", "", "in the group, also those never rated again"},
    {"summary.csv", "followed", "count", "", "with a later rating: the denominator of shares"},
    {"summary.csv", "lost", "count", "", "rated once and never again: not counted as better"},
    {"summary.csv", "first_score_median", "number", "0 to 10", "where the group began"},
    {"summary.csv", "onset_weeks_median", "number", "weeks", "of those known"},
    {"summary.csv", "age_median", "number", "years", "of those known"},
    {"summary.csv", "better", "count", "", "fallen by what matters"},
    {"summary.csv", "better_share", "number", "0 to 1", "better of followed"},
    {"summary.csv", "better_low", "number", "0 to 1", "95 % interval, Wilson"},
    {"summary.csv", "better_high", "number", "0 to 1", "95 % interval, Wilson"},
    {"summary.csv", "gone", "count", "", "newest score 2 or less"},
    {"summary.csv", "gone_share", "number", "0 to 1", "gone of followed"},
    {"summary.csv", "gone_low", "number", "0 to 1", "95 % interval, Wilson"},
    {"summary.csv", "gone_high", "number", "0 to 1", "95 % interval, Wilson"},
    {"summary.csv", "median_change", "number", "points", "newest less first score; negative is better"},
    {"summary.csv", "median_weeks_until_gone", "number", "weeks", "Kaplan and Meier; empty: half are not there yet"},
    {"summary.csv", "against_forecast", "number", "points",
     "mean of newest score less the forecast from the first; negative is better"},
    {"summary.csv", "against_low", "number", "points", "95 % interval"},
    {"summary.csv", "against_high", "number", "points", "95 % interval"},
    {"summary.csv", "funnel_low", "number", "0 to 1", "95 % limit of chance around the clinic's share of better heels"},
    {"summary.csv", "funnel_high", "number", "0 to 1", "the same, upper"},
    {"summary.csv", "outside_funnel", "yes or no", "", "by the exact tail"},

    {"control.csv", "first_rated", "date", "", "of the heel: the chart's order"},
    {"control.csv", "better", "yes or no", "", "fallen by what matters"},
    {"control.csv", "sum", "number", "", "log-likelihood CUSUM for a doubling of the odds of not getting better"},
    {"control.csv", "signal", "yes or no", "", "the sum has reached its limit of 4 and starts anew"},

    {"harms.csv", "act", "word", "", "what was given"},
    {"harms.csv", "given", "count", "", "times it is written down"},
    {"harms.csv", "events", "count", "", "adverse events written down with it"},
    {"harms.csv", "share", "number", "0 to 1", "events of given"},
    {"harms.csv", "low", "number", "0 to 1", "95 % interval, Clopper and Pearson"},
    {"harms.csv", "high", "number", "0 to 1", "95 % interval, Clopper and Pearson"},

    {"quality.csv", "what", "text", "", "what should be there"},
    {"quality.csv", "have", "count", "", "rows that have it"},
    {"quality.csv", "of", "count", "", "rows that should"},

    {"recalls.csv", "code", "text", "", "the person's code in this clinic"},
    {"recalls.csv", "name", "text", "", "the person's name: keep this table inside the clinic"},
    {"recalls.csv", "side", "word", "", "left or right; empty: the person as a whole"},
    {"recalls.csv", "last_seen", "date", "", "newest visit, rating or act"},
    {"recalls.csv", "why", "text", "", "why to call"},

    {"deid_heels.csv", "heel", "count", "", "row number, from 1; not the order of the clinic's books"},
    {"deid_heels.csv", "person", "count", "", "number of the person in this export: both heels of one person share it"},
    {"deid_heels.csv", "year", "number", "", "of the first rating; empty: left out so that nobody stands alone"},
    {"deid_heels.csv", "age_band", "word", "years", "at the first visit; empty: left out or not known"},
    {"deid_heels.csv", "sex", "word", "", "female or male; empty: left out, other, or not said"},
    {"deid_heels.csv", "bmi_band", "word", "kg/m2", "under 25, 25 to 29, 30 to 34, 35 and more; empty: not known"},
    {"deid_heels.csv", "onset_band", "word", "weeks",
     "at the first rating: under 6, 6 to 12, 13 to 26, 27 to 52, over 52; empty: not known"},
    {"deid_heels.csv", "first_treatment", "word", "", "given to fewer than k people: other"},
    {"deid_heels.csv", "adverse_event", "yes or no", "", "any written down for this heel"},

    {"deid_scores.csv", "heel", "count", "", "row number of deid_heels.csv"},
    {"deid_scores.csv", "week", "count", "weeks", "since its first rating, whole"},
    {"deid_scores.csv", "first_step_pain", "count", "0 to 10", "rounded to whole points"},

    {"deid_treatments.csv", "heel", "count", "", "row number of deid_heels.csv"},
    {"deid_treatments.csv", "week", "count", "weeks", "since its first rating, whole"},
    {"deid_treatments.csv", "act", "word", "", "given to fewer than k people: other"},

    {"dictionary.csv", "table", "text", "", "the file"},
    {"dictionary.csv", "column", "text", "", "its column"},
    {"dictionary.csv", "kind", "word", "", "of the values"},
    {"dictionary.csv", "unit", "text", "", "of the values"},
    {"dictionary.csv", "meaning", "text", "", "what it is; an empty field is unknown, never zero and never no"},
};
// clang-format on

const csv_column *csv_columns(int *count)
{
    *count = (int)(sizeof columns / sizeof *columns);
    return columns;
}

csv csv_begin(const char *table, hw_arena *into)
{
    csv begun = {.writer = hw_writer_begin(into)};
    for (size_t i = 0; i < sizeof columns / sizeof *columns; i++) {
        if (strcmp(columns[i].table, table) != 0) continue;
        hw_writer_print(&begun.writer, "%s%s", begun.columns++ ? "," : "", columns[i].name);
    }
    HW_ASSERT(begun.columns > 0);
    hw_writer_print(&begun.writer, "\r\n");
    return begun;
}

static void comma(csv *to)
{
    if (to->at++) hw_writer_bytes(&to->writer, ",", 1);
}

void csv_quoted(hw_writer *to, const char *text)
{
    hw_writer_bytes(to, "\"", 1);
    for (; *text; text++) {
        if (*text == '"') hw_writer_bytes(to, "\"", 1);
        hw_writer_bytes(to, text, 1);
    }
    hw_writer_bytes(to, "\"", 1);
}

// A spreadsheet takes these for the start of a formula (OWASP, CSV injection).
static bool looks_like_formula(const char *text)
{
    return *text && strchr("=+-@\t\r", *text) != NULL;
}

void csv_text(csv *to, const char *text)
{
    comma(to);
    if (!text || !*text) return;
    if (!looks_like_formula(text)) {
        csv_quoted(&to->writer, text);
        return;
    }
    hw_writer_bytes(&to->writer, "\"'", 2);
    for (; *text; text++)
        hw_writer_bytes(&to->writer, *text == '"' ? "\"\"" : text, *text == '"' ? 2 : 1);
    hw_writer_bytes(&to->writer, "\"", 1);
}

void csv_int(csv *to, long value)
{
    comma(to);
    hw_writer_print(&to->writer, "%ld", value);
}

void csv_maybe(csv *to, hw_maybe value, int decimals)
{
    comma(to);
    if (value.known) hw_writer_print(&to->writer, "%.*f", decimals, value.value + 0.0);
}

void csv_date(csv *to, hw_date date)
{
    char text[HW_DATE_TEXT];
    comma(to);
    if (date.known) hw_writer_print(&to->writer, "%s", hw_date_text(date, text));
}

void csv_row(csv *to)
{
    HW_ASSERT(to->at == to->columns);
    hw_writer_print(&to->writer, "\r\n");
    to->at = 0;
}

hw_status csv_end(hw_job *job, csv *to, hw_bytes *out)
{
    return hw_writer_end(job, &to->writer, out);
}

hw_status csv_dictionary(hw_job *job, const char *const *tables, hw_arena *into, hw_bytes *out)
{
    csv to = csv_begin("dictionary.csv", into);
    for (; *tables; tables++)
        for (size_t i = 0; i < sizeof columns / sizeof *columns; i++) {
            if (strcmp(columns[i].table, *tables) != 0) continue;
            csv_text(&to, columns[i].table);
            csv_text(&to, columns[i].name);
            csv_text(&to, columns[i].kind);
            csv_text(&to, columns[i].unit);
            csv_text(&to, columns[i].meaning);
            csv_row(&to);
        }
    return csv_end(job, &to, out);
}
