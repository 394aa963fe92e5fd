// SPDX-License-Identifier: GPL-3.0-or-later
// For the person who has the pain: what to do this week, exercises drawn, when to call, next dates.
// Letters of 12 points and more; nothing depends on colour. A plan that is not released gives one
// page that says so and shows no exercise.
#include "plain_words.h"
#include "sheet.h"

#include <stdio.h>
#include <string.h>

static const hw_pdf_ink title = {22.0, true, 0.08, 0.08, 0.08, 0.0};
static const hw_pdf_ink heading = {15.0, true, 0.08, 0.08, 0.08, 0.0};
static const hw_pdf_ink strong = {12.0, true, 0.06, 0.06, 0.06, 0.0};
static const hw_pdf_ink plain = {12.0, false, 0.06, 0.06, 0.06, 0.0};
static const hw_pdf_ink foot_ink = {9.0, false, 0.17, 0.17, 0.17, 0.0};
static const hw_pdf_ink frame = {0.0, false, 0.06, 0.06, 0.06, 0.7};

// The same on A4 and on US Letter: laid out on what both have, so that no letter shrinks.
static const double left_edge = 16.0, inner = SHEET_WIDTH - 32.0;
static const double picture_width = 56.0;

// Above the foot of the page.
static double lowest(const sheet *on)
{
    return sheet_height(on) - 19.0;
}

enum { WEEK_DAYS = 7, ITEMS_MAX = 64 };

// What a person is told of one treatment: all its dates, of either foot, are one item.
typedef struct item {
    const plain_act *words; // NULL: a review
    const char *only_if;
    hw_date dates[6];
    int date_count, more;
    bool left, right;
} item;

typedef struct items {
    item rows[ITEMS_MAX];
    int count;
} items;

static double paragraph(sheet *on, const hw_pdf_ink *ink, double y, const char *text)
{
    return sheet_text(on, ink, "P", (const double[3]){left_edge, y, inner}, text) + 1.2;
}

static double head(sheet *on, double y, const char *text)
{
    return sheet_text(on, &heading, "H2", (const double[3]){left_edge, y + 3.0, inner}, text) + 1.2;
}

static const char *heels_of(const hw_report *report)
{
    const hw_foot_findings *feet = report->visit->findings.feet;
    bool left = feet[0].heel_pain == HW_ANSWER_YES, right = feet[1].heel_pain == HW_ANSWER_YES;
    if (left && right) return "left and right heel";
    return left ? "left heel" : right ? "right heel" : "no painful heel recorded";
}

static double page(sheet *on)
{
    char date[40], line[300];
    const hw_visit *visit = on->report->visit;
    hw_pdf_page(on->pdf);
    on->page++;
    snprintf(
        line, sizeof line,
        "%.60s, %s, visit of %s, page %d of %d%s. heelwright %s. Your podiatrist decides; this "
        "sheet does not replace talking to them.",
        visit->code, heels_of(on->report), plain_date(visit->findings.visit_date, date), on->page,
        on->pages, visit->is_invented ? ", INVENTED DATA" : "", HW_VERSION);
    double y = 12.0;
    if (visit->is_invented)
        y = paragraph(on, &strong, y, "INVENTED PERSON, for demonstration only");
    y = sheet_text(on, &title, on->page == 1 ? "H1" : "P", (const double[3]){left_edge, y, inner},
                   on->page == 1 ? "Your heel: what to do" : "Your exercises, aids and dates");
    char whose[160];
    snprintf(whose, sizeof whose, "%.60s, %s, visit of %s", visit->code, heels_of(on->report),
             date);
    y = paragraph(on, &plain, y + 0.5, whose);
    sheet_text(on, &foot_ink, "P", (const double[3]){left_edge, sheet_height(on) - 16.0, inner},
               line);
    return y;
}

// A new page where `height` has no room below `y` any more.
static double room_for(sheet *on, double y, double height)
{
    return y + height > lowest(on) ? page(on) + 2.0 : y;
}

static bool is_same_thing(const item *one, const plain_act *words, const char *only_if)
{
    if (one->words != words) return false;
    return one->only_if == only_if || (one->only_if && only_if && !strcmp(one->only_if, only_if));
}

static item *item_for(items *of, const plain_act *words, const char *only_if)
{
    for (int i = 0; i < of->count; i++)
        if (is_same_thing(&of->rows[i], words, only_if)) return &of->rows[i];
    if (of->count == ITEMS_MAX) return NULL;
    item *fresh = &of->rows[of->count++];
    *fresh = (item){.words = words, .only_if = only_if};
    return fresh;
}

static void add_date(item *to, hw_date date)
{
    for (int i = 0; i < to->date_count; i++)
        if (to->dates[i].days == date.days) return;
    if (to->date_count < (int)(sizeof to->dates / sizeof *to->dates))
        to->dates[to->date_count++] = date;
    else
        to->more++;
}

static void gather(const hw_plan *plan, items *out)
{
    for (int i = 0; i < plan->entry_count; i++) {
        const hw_entry *entry = &plan->timeline[i];
        const plain_act *words = entry->kind == HW_ENTRY_ACT ? plain_act_of(entry->act) : NULL;
        if (entry->kind == HW_ENTRY_ACT && !words) continue;
        item *to = item_for(out, words, entry->only_if);
        if (!to) continue;
        add_date(to, entry->date);
        to->left |= entry->side == HW_SIDE_LEFT;
        to->right |= entry->side == HW_SIDE_RIGHT;
    }
}

static const char *side_words(const item *of)
{
    if (of->left && of->right) return ", both feet";
    if (of->left) return ", left foot";
    return of->right ? ", right foot" : "";
}

static bool is_this_week(const sheet *on, const item *of)
{
    return of->words && of->words->is_at_home && !of->only_if &&
           hw_date_days(on->report->visit->findings.visit_date, of->dates[0]) < WEEK_DAYS;
}

static bool has_drawing(const item *of)
{
    return of->words && of->words->pictures[0].figure != FIGURE_NONE && of->words->is_at_home;
}

static bool is_drawn(const items *all, int index)
{
    // A custom device that comes later, if at all, has no place beside what is worn now.
    const item *of = &all->rows[index];
    return has_drawing(of) && !(of->only_if && of->words->act == HW_ACT_ORTHOSIS);
}

static double what_it_is(sheet *on, double y)
{
    y = head(on, y, "What hurts");
    return paragraph(
        on, &plain, y,
        "The strong band under your foot is overloaded where it joins the heel bone. It stiffens "
        "while you rest, so the first steps hurt most. It needs months, not days: by most reports "
        "about 8 of 10 people are well within a year, but in one hospital group half still felt "
        "it after five years.");
}

static hw_status this_week(sheet *on, const items *all, double *y)
{
    *y = head(on, *y, "This week");
    for (int i = 0; i < all->count; i++) {
        const item *of = &all->rows[i];
        if (!is_this_week(on, of)) continue;
        char name[120];
        const char *text = NULL;
        snprintf(name, sizeof name, "%s%s%s", of->words->title, side_words(of),
                 has_drawing(of) ? ": see the drawing" : "");
        *y = sheet_text(on, &strong, "P", (const double[3]){left_edge, *y, inner}, name) + 0.4;
        if (has_drawing(of)) continue;
        HW_TRY(plain_text(on->job, of->words, of->words->text, on->into, &text));
        if (of->words->warning)
            HW_TRY(hw_text_format(on->job, on->into, &text, "%s %s", text, of->words->warning));
        *y =
            sheet_text(on, &plain, "P", (const double[3]){left_edge + 5.0, *y, inner - 5.0}, text) +
            1.6;
    }
    return HW_OK;
}

// silbernagel-2007, adapted: the same three bands as hw_pain_rule.
static double pain_rule(sheet *on, double y)
{
    static const char *const bands[3][2] = {
        {"0 to 2 of 10", "Go on."},
        {"3 to 5 of 10", "Stay as you are. It must settle by next morning."},
        {"above 5 of 10", "Too much. Do less."}};
    const double width = inner / 3.0, height = 25.0;
    y = head(on, y, "Let pain guide you");
    y = paragraph(on, &plain, y, "Nothing is 0, the worst pain you can think of is 10.");
    for (int i = 0; i < 3; i++) {
        double x = left_edge + i * width;
        hw_pdf_box(on->pdf, &frame, x, y, width - 4.0, height, false);
        double low = sheet_text(on, &strong, "P", (const double[3]){x + 3.0, y + 2.0, width - 9.0},
                                bands[i][0]);
        sheet_text(on, &plain, "P", (const double[3]){x + 3.0, low + 0.6, width - 9.0},
                   bands[i][1]);
    }
    return paragraph(
        on, &plain, y + height + 2.0,
        "First steps clearly worse next morning (2 points or more): go one step back.");
}

// One box of signs, one a line; returns its lower edge.
static double signs_of(sheet *on, const double place[3], plain_urgency urgency, const char *what)
{
    int count = 0;
    const plain_sign *signs = plain_signs(&count);
    const double x = place[0] + 4.0, wide = place[2] - 7.0;
    double y = sheet_text(on, &strong, "P", (const double[3]){x, place[1] + 2.5, wide}, what) + 1.0;
    for (int i = 0; i < count; i++) {
        if (signs[i].urgency != urgency) continue;
        hw_pdf_text(on->pdf, &plain, x, y, 4.0, "\xe2\x80\xa2");
        y = sheet_text(on, &plain, "P", (const double[3]){x + 4.0, y, wide - 4.0}, signs[i].text) +
            0.6;
    }
    return y + 1.5;
}

static const double calls_height = 86.0; // of the two boxes with their heading, at least

static double when_to_call(sheet *on, double y)
{
    const double wide = inner / 2.0 - 2.0, right = left_edge + inner / 2.0 + 2.0;
    y = head(on, y, "When to call");
    double low = signs_of(on, (const double[3]){left_edge, y, wide}, PLAIN_EMERGENCY,
                          "Ring the emergency number (999 in Britain, 112 in most of Europe) if");
    // The clinic's own telephone number is not in the record: there is room to write it.
    low = sheet_text(on, &strong, "P", (const double[3]){left_edge + 4.0, low + 3.0, wide - 7.0},
                     "The clinic's telephone:") +
          10.0;
    const double rule[2][2] = {{left_edge + 4.0, low}, {left_edge + wide - 4.0, low}};
    hw_pdf_path(on->pdf, &frame, rule, 2, false);
    low =
        fmax(low + 4.0, signs_of(on, (const double[3]){right, y, wide}, PLAIN_RING_TODAY,
                                 "The same day ring the clinic, or a doctor if it is closed, if"));
    hw_pdf_box(on->pdf, &frame, left_edge, y, wide, low - y, false);
    hw_pdf_box(on->pdf, &frame, right, y, wide, low - y, false);
    return low;
}

// Feet that do not feel a blister must be looked at.
static bool must_watch_skin(const hw_findings *findings)
{
    for (int i = 0; i < 2; i++) {
        const hw_finding *felt = &findings->feet[i].values[HW_FINDING_MONOFILAMENT];
        const hw_finding *ulcer = &findings->feet[i].values[HW_FINDING_PAST_ULCER];
        if (felt->given == HW_GIVEN_VALUE && felt->word == HW_FILAMENT_NOT_FELT) return true;
        if (ulcer->given == HW_GIVEN_VALUE && ulcer->word == HW_WORD_YES) return true;
    }
    return false;
}

static double skin(sheet *on, double y)
{
    if (!must_watch_skin(&on->report->visit->findings)) return y;
    return paragraph(on, &strong, y,
                     "Your feet do not feel everything. Look at the skin of both feet every day, "
                     "also between the toes; ring us at any blister, redness or wound.");
}

static hw_status steps_of(sheet *on, const hw_dose_row *dose, const char **text)
{
    for (int i = 0; dose && i < HW_DOSE_STEPS && dose->steps[i].text; i++) {
        if (dose->act != HW_ACT_STRENGTH) return HW_OK;
        HW_TRY(hw_text_format(on->job, on->into, text, "%s From week %d: %s", *text,
                              dose->steps[i].from_week + 1, dose->steps[i].text));
    }
    return HW_OK;
}

static double line_beside(sheet *on, const hw_pdf_ink *ink, double y, const char *text)
{
    const double x = left_edge + picture_width + 6.0;
    return sheet_text(on, ink, "P", (const double[3]){x, y, left_edge + inner - x}, text) + 0.6;
}

// From when: nothing for what begins this week.
static double beginning(sheet *on, const item *of, double y)
{
    char when[300], date[40];
    plain_date(of->dates[0], date);
    if (of->only_if)
        snprintf(when, sizeof when, "NOT YET: start only when we tell you, not before %s.", date);
    else if (!is_this_week(on, of))
        snprintf(when, sizeof when, "From %s.", date);
    else
        return y;
    return line_beside(on, &strong, y, when);
}

// The drawing at the left, beside it name, way and dose; what to watch for under the first one.
static hw_status drawn(sheet *on, const item *of, int index, double *y)
{
    const plain_picture *shown = &of->words->pictures[index];
    char name[160];
    const char *dose = NULL;
    HW_TRY(plain_text(on->job, of->words, shown->dose, on->into, &dose));
    if (index == 0) HW_TRY(steps_of(on, hw_dose_of(of->words->act), &dose));
    *y = room_for(on, *y, picture_width * FIGURE_ASPECT + 8.0);
    snprintf(name, sizeof name, "%s%s", shown->title, side_words(of));
    figure_draw(on->pdf, shown->figure, left_edge, *y + 1.0, picture_width);
    double at = sheet_text(on, &heading, "H2",
                           (const double[3]){left_edge + picture_width + 6.0, *y,
                                             inner - picture_width - 6.0},
                           name) +
                0.6;
    at = beginning(on, of, at);
    at = line_beside(on, &plain, at, shown->how);
    at = line_beside(on, &strong, at, dose);
    if (index == 0 && of->words->warning) at = line_beside(on, &plain, at, of->words->warning);
    *y = fmax(at, *y + picture_width * FIGURE_ASPECT) + 4.0;
    return HW_OK;
}

static hw_status drawn_item(sheet *on, const item *of, double *y)
{
    for (int i = 0; i < PLAIN_PICTURES && of->words->pictures[i].figure; i++)
        HW_TRY(drawn(on, of, i, y));
    return HW_OK;
}

static double date_row(sheet *on, const item *of, double y)
{
    char dates[400], date[40], what[800];
    int used = 0;
    for (int i = 0; i < of->date_count; i++)
        used += snprintf(dates + used, sizeof dates - (size_t)used, "%s%s", i ? ", " : "",
                         plain_date(of->dates[i], date));
    if (of->more) snprintf(dates + used, sizeof dates - (size_t)used, " and %d more", of->more);
    snprintf(what, sizeof what, "%s%s: %s.", of->words ? of->words->title : "Review at the clinic",
             side_words(of), dates);
    return sheet_text(on, &plain, "P", (const double[3]){left_edge, y, inner}, what) + 0.8;
}

// What waits for a review or an answer, in one sentence: a date only for what surely comes.
static double perhaps_later(sheet *on, const items *all, double y)
{
    char text[600];
    int used = 0;
    for (int i = 0; i < all->count; i++) {
        const item *of = &all->rows[i];
        if (!of->only_if || !of->words || is_drawn(all, i) || used > 440) continue;
        used += snprintf(text + used, sizeof text - (size_t)used, "%s%s%s", used ? "; " : "",
                         of->words->title, side_words(of));
    }
    if (!used) return y;
    y = sheet_text(on, &strong, "P", (const double[3]){left_edge, y + 1.0, inner},
                   "Later, only if needed and agreed with you:");
    snprintf(text + used, sizeof text - (size_t)used, ".");
    return sheet_text(on, &plain, "P", (const double[3]){left_edge, y, inner}, text);
}

static void next_dates(sheet *on, const items *all, double y)
{
    y = head(on, room_for(on, y, 45.0), "Next dates");
    for (int i = 0; i < all->count; i++) {
        const item *of = &all->rows[i];
        if (of->only_if || is_drawn(all, i) || is_this_week(on, of)) continue;
        y = date_row(on, of, room_for(on, y, 12.0));
    }
    perhaps_later(on, all, room_for(on, y, 20.0));
}

static hw_status exercises(sheet *on, const items *all, double y)
{
    for (int i = 0; i < all->count; i++)
        if (is_drawn(all, i)) HW_TRY(drawn_item(on, &all->rows[i], &y));
    next_dates(on, all, y);
    return HW_OK;
}

static hw_status unreleased(sheet *on)
{
    double y = page(on), top = y + 2.0;
    y = sheet_text(on, &heading, "P", (const double[3]){left_edge + 4.0, top + 3.0, inner - 8.0},
                   "NOT RELEASED: do not hand this out");
    y = sheet_text(on, &plain, "P", (const double[3]){left_edge + 4.0, y + 1.0, inner - 8.0},
                   on->report->plan->verdict) +
        3.0;
    hw_pdf_box(on->pdf, &frame, left_edge, top, inner, y - top, false);
    when_to_call(on, y + 2.0);
    return hw_job_ask(on->job);
}

hw_status sheet_patient_pages(sheet *on)
{
    items *all = NULL;
    HW_ALLOC(on->job, on->into, all, 1);
    if (!on->report->plan->released) return unreleased(on);
    gather(on->report->plan, all);
    double y = what_it_is(on, page(on));
    HW_TRY(this_week(on, all, &y));
    y = pain_rule(on, skin(on, y));
    when_to_call(on, room_for(on, y, calls_height));
    HW_TRY(exercises(on, all, page(on) + 2.0));
    return hw_job_ask(on->job);
}
