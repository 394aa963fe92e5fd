// SPDX-License-Identifier: GPL-3.0-or-later
// RFC 5545: lines of at most 75 octets ended by CR LF, folded without splitting a letter; whole
// days, so that no time zone can move them. The n-th session of an act on a side, the n-th review,
// keep their identifier whatever becomes of their date, and the sequence rises with the visit and
// its revision: a calendar program that opens a later plan moves the events it has.
#include "report.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum { FOLD = 75, LINE = 2048 };

// Bytes of the letter that begins at `at`.
static size_t letter_bytes(const char *at)
{
    size_t count = 1;
    while (((unsigned char)at[count] & 0xC0) == 0x80) count++;
    return count;
}

static void put_line(hw_writer *to, const char *line)
{
    size_t used = 0;
    while (*line) {
        size_t count = letter_bytes(line);
        if (used + count > FOLD) {
            hw_writer_bytes(to, "\r\n ", 3);
            used = 1;
        }
        hw_writer_bytes(to, line, count);
        line += count;
        used += count;
    }
    hw_writer_bytes(to, "\r\n", 2);
}

// NAME:text with commas, semicolons, backslashes and line feeds escaped.
static void put_text(hw_writer *to, const char *name, const char *text)
{
    char line[LINE];
    int used = snprintf(line, sizeof line, "%s:", name);
    for (; *text && used < LINE - 8; text++) {
        if (*text == '\n') {
            used += snprintf(line + used, sizeof line - (size_t)used, "\\n");
            continue;
        }
        if (*text == ',' || *text == ';' || *text == '\\') line[used++] = '\\';
        line[used++] = *text;
    }
    // A cut text must not end inside a letter.
    while (*text && used > 0 && ((unsigned char)line[used - 1] & 0xC0) == 0x80) used--;
    if (*text && used > 0 && ((unsigned char)line[used - 1] & 0x80)) used--;
    line[used] = 0;
    put_line(to, line);
}

static void put_date(hw_writer *to, const char *name, hw_date date)
{
    char text[HW_DATE_TEXT], line[64];
    hw_date_text(date, text); // YYYY-MM-DD
    snprintf(line, sizeof line, "%s;VALUE=DATE:%.4s%.2s%.2s", name, text, text + 5, text + 8);
    put_line(to, line);
}

static const char *side_words(hw_side side)
{
    if (side == HW_SIDE_LEFT) return ", left foot";
    return side == HW_SIDE_RIGHT ? ", right foot" : "";
}

// Exercises of the home programme are there every day until the next review; others on their day.
static bool is_daily(hw_act act)
{
    return act == HW_ACT_FASCIA_STRETCH || act == HW_ACT_CALF_STRETCH;
}

static int days_to_review(const hw_plan *plan, hw_date from)
{
    for (int i = 0; i < plan->entry_count; i++) {
        int days = hw_date_days(from, plan->timeline[i].date);
        if (plan->timeline[i].kind == HW_ENTRY_REVIEW && days > 0) return days;
    }
    return 42; // no review stands: six weeks
}

static void put_stamp(hw_writer *to, hw_date visit)
{
    char text[HW_DATE_TEXT], line[64];
    hw_date_text(visit, text);
    // Of the visit, not of the clock: the same plan is the same file.
    snprintf(line, sizeof line, "DTSTAMP:%.4s%.2s%.2sT000000Z", text, text + 5, text + 8);
    put_line(to, line);
}

// Which one of its like in the plan an entry is, from 0.
static int ordinal_of(const hw_plan *plan, int index)
{
    const hw_entry *entry = &plan->timeline[index];
    int before = 0;
    for (int i = 0; i < index; i++) {
        const hw_entry *other = &plan->timeline[i];
        before +=
            other->kind == entry->kind && other->act == entry->act && other->side == entry->side;
    }
    return before;
}

// Says nothing of the person: a digest (FNV-1a, two seeds) of whose act, which, which side, the
// how-many-th.
static void put_uid(hw_writer *to, const hw_report *report, int index)
{
    const hw_entry *entry = &report->plan->timeline[index];
    char name[256], line[80];
    uint64_t digests[2] = {0xcbf29ce484222325u, 0x84222325cbf29ce4u};
    snprintf(name, sizeof name, "%.100s/%d/%d/%s/%d", report->visit->code, (int)entry->kind,
             (int)entry->act, hw_side_word(entry->side), ordinal_of(report->plan, index));
    for (int i = 0; i < 2; i++)
        for (const char *at = name; *at; at++)
            digests[i] = (digests[i] ^ (unsigned char)*at) * 0x100000001b3u;
    snprintf(line, sizeof line, "UID:%016" PRIx64 "%016" PRIx64, digests[0], digests[1]);
    put_line(to, line);
}

static bool is_given_here(hw_act act)
{
    switch (act) {
    case HW_ACT_SHOCKWAVE_RADIAL:
    case HW_ACT_SHOCKWAVE_FOCUSED:
    case HW_ACT_CORTICOSTEROID:
    case HW_ACT_PRP:
    case HW_ACT_DRY_NEEDLING:
    case HW_ACT_MANUAL_THERAPY:
    case HW_ACT_ORTHOSIS:
        return true;
    default:
        return false;
    }
}

// What a passer-by may read: no treatment, no diagnosis.
static const char *summary_of(const hw_entry *entry)
{
    if (entry->kind == HW_ENTRY_REVIEW) return "Foot clinic: review";
    return is_given_here(entry->act) ? "Foot clinic: appointment" : "Foot programme";
}

static const hw_option *option_of(const hw_plan *plan, const hw_entry *entry)
{
    for (int i = 0; i < plan->option_count; i++)
        if (plan->options[i].act == entry->act && plan->options[i].side == entry->side)
            return &plan->options[i];
    return NULL;
}

static void put_description(hw_writer *to, const hw_report *report, const hw_entry *entry)
{
    char text[LINE];
    const hw_option *option = entry->kind == HW_ENTRY_ACT ? option_of(report->plan, entry) : NULL;
    const char *what = entry->kind == HW_ENTRY_REVIEW ? "review" : hw_act_rows()[entry->act].word;
    int used = snprintf(text, sizeof text, "%s%s", what, side_words(entry->side));
    if (entry->sessions > 1)
        used += snprintf(text + used, sizeof text - (size_t)used, ", %d of %d", entry->session,
                         entry->sessions);
    if (option && option->dose)
        used += snprintf(text + used, sizeof text - (size_t)used, "\n%.1000s", option->dose->text);
    if (entry->only_if)
        snprintf(text + used, sizeof text - (size_t)used, "\nOnly if: %.400s", entry->only_if);
    put_text(to, "DESCRIPTION", text);
}

static void put_event(hw_writer *to, const hw_report *report, int index)
{
    const hw_entry *entry = &report->plan->timeline[index];
    char line[64];
    hw_date start = {0};
    bool known = hw_date_parse("2000-01-01", &start);
    HW_ASSERT(known);
    put_line(to, "BEGIN:VEVENT");
    put_uid(to, report, index);
    put_stamp(to, report->visit->findings.visit_date);
    // Days since 2000 with three places for the revisions of one visit.
    int revision = report->revision < 999 ? report->revision : 999;
    snprintf(line, sizeof line, "SEQUENCE:%d",
             1000 * hw_date_days(start, report->visit->findings.visit_date) + revision);
    put_line(to, line);
    put_date(to, "DTSTART", entry->date);
    put_date(to, "DTEND", hw_date_plus(entry->date, 1));
    if (entry->kind == HW_ENTRY_ACT && is_daily(entry->act)) {
        snprintf(line, sizeof line, "RRULE:FREQ=DAILY;COUNT=%d",
                 days_to_review(report->plan, entry->date));
        put_line(to, line);
    }
    put_text(to, "SUMMARY", summary_of(entry));
    put_description(to, report, entry);
    put_line(to, "CLASS:PRIVATE");
    put_line(to, "TRANSP:TRANSPARENT");
    put_line(to, entry->only_if ? "STATUS:TENTATIVE" : "STATUS:CONFIRMED");
    put_line(to, "END:VEVENT");
}

hw_status hw_report_calendar(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    HW_ASSERT(report->plan != NULL);
    if (!report->plan->released)
        return hw_fail(job, HW_BAD_INPUT, "the plan is not released: no calendar is made of it");
    hw_writer to = hw_writer_begin(into);
    put_line(&to, "BEGIN:VCALENDAR");
    put_line(&to, "VERSION:2.0");
    put_line(&to, "PRODID:-//heelwright//plan//EN");
    put_line(&to, "CALSCALE:GREGORIAN");
    put_line(&to, "METHOD:PUBLISH");
    put_text(&to, "X-WR-CALNAME",
             report->visit->is_invented ? "Heel plan (INVENTED)" : "Heel plan");
    for (int i = 0; i < report->plan->entry_count; i++) put_event(&to, report, i);
    put_line(&to, "END:VCALENDAR");
    return hw_writer_end(job, &to, out);
}
