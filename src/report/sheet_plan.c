// SPDX-License-Identifier: GPL-3.0-or-later
// The second page: the three principles side by side, then the weeks, what is ordered, who signs.
#include "sheet.h"

#include <stdio.h>
#include <string.h>

static const char *const principle_words[HW_PRINCIPLE_COUNT] = {
    "Unload the fascia", "Settle the symptoms", "Let it heal"};

// The same treatment of both feet in the same state is one entry on paper.
static const hw_option *twin_of(const hw_plan *plan, const hw_option *option)
{
    if (option->side == HW_SIDE_UNKNOWN) return NULL;
    for (int i = 0; i < plan->option_count; i++) {
        const hw_option *other = &plan->options[i];
        if (other != option && other->act == option->act && other->side != HW_SIDE_UNKNOWN &&
            other->state == option->state)
            return other;
    }
    return NULL;
}

static const char *side_of_option(const hw_plan *plan, const hw_option *option)
{
    if (option->side == HW_SIDE_UNKNOWN) return "";
    if (twin_of(plan, option)) return ", both feet";
    return option->side == HW_SIDE_LEFT ? ", left foot" : ", right foot";
}

static const hw_mech_effect *load_of(const hw_report *report, const hw_option *option)
{
    if (option->changes == HW_LOAD_NONE) return NULL;
    for (int i = 0; i < 2; i++) {
        const hw_report_foot *foot = &report->feet[i];
        if (!foot->load || (option->side == HW_SIDE_LEFT && i == 1) ||
            (option->side == HW_SIDE_RIGHT && i == 0))
            continue;
        for (int k = 0; k < foot->load->effect_count; k++)
            if (foot->change_tags[k] == option->changes) return &foot->load->effects[k];
    }
    return NULL;
}

static double option_reasons(sheet *on, const hw_option *option, const double place[3])
{
    double y = place[1];
    int shown = 0;
    for (int i = 0; i < option->reason_count && shown < 2; i++) {
        const hw_reason *reason = &option->reasons[i];
        if (option->state > HW_HELD && reason->rule->kind == HW_RULE_CAUTION) continue;
        y = sheet_print(on, &sheet_small, (const double[3]){place[0], y, place[2]}, "%s%s",
                        reason->overruled ? "(overruled) " : "", reason->rule->sentence);
        shown++;
    }
    if (option->state == HW_HELD && !option->question_count)
        y = sheet_text(on, &sheet_small, "P", (const double[3]){place[0], y, place[2]},
                       "Held until the red flags are cleared.");
    if (option->state == HW_HELD && option->question_count)
        y = sheet_print(on, &sheet_small, (const double[3]){place[0], y, place[2]},
                        "Held: %d open question%s, the first %s.", option->question_count,
                        option->question_count == 1 ? "" : "s", option->questions[0].key);
    return y;
}

static double option_entry(sheet *on, const hw_option *option, const double place[3])
{
    const hw_plan *plan = on->report->plan;
    double y =
        sheet_print(on, &sheet_small_strong, place, "%s%s: %s", hw_act_rows()[option->act].word,
                    side_of_option(plan, option), hw_eligibility_word(option->state));
    const double below[3] = {place[0], y, place[2]};
    y = below[1];
    if (option->state <= HW_HELD && option->dose)
        y = sheet_text(on, &sheet_small, "P", (const double[3]){place[0], y, place[2]},
                       option->dose->text);
    if (option->state <= HW_HELD && option->dose_for_this_person)
        y = sheet_text(on, &sheet_small, "P", (const double[3]){place[0], y, place[2]},
                       option->dose_for_this_person);
    y = option_reasons(on, option, (const double[3]){place[0], y, place[2]});
    const hw_mech_effect *load = load_of(on->report, option);
    char midstance[64];
    if (option->state <= HW_HELD && load)
        y = sheet_print(on, &sheet_small, (const double[3]){place[0], y, place[2]},
                        "Mid-stance fascia load %s, grade %c.",
                        sheet_change(load->midstance.change, midstance), (char)load->grade);
    return y + 1.2;
}

static bool is_second_twin(const hw_plan *plan, const hw_option *option)
{
    const hw_option *twin = twin_of(plan, option);
    return twin && option->side == HW_SIDE_RIGHT;
}

// Available and held first: what can be done stands above what cannot.
static double column(sheet *on, hw_principle principle, const double place[3], double floor)
{
    const hw_plan *plan = on->report->plan;
    double y = sheet_text(on, &sheet_heading, "H2", place, principle_words[principle]) + 0.8;
    int left_out = 0;
    for (int state = HW_AVAILABLE; state <= HW_REFUSED; state++)
        for (int i = 0; i < plan->option_count; i++) {
            const hw_option *option = &plan->options[i];
            if (option->principle != principle || (int)option->state != state ||
                is_second_twin(plan, option))
                continue;
            if (y > floor - 14.0)
                left_out++;
            else
                y = option_entry(on, option, (const double[3]){place[0], y, place[2]});
        }
    if (left_out)
        y = sheet_print(on, &sheet_small_strong, (const double[3]){place[0], y, place[2]},
                        "and %d more in the visit file", left_out);
    return y;
}

// Left and right of the same thing on the same day are one row.
static bool is_twin_of_next(const hw_plan *plan, int index)
{
    if (index + 1 >= plan->entry_count) return false;
    const hw_entry *a = &plan->timeline[index], *b = a + 1;
    bool is_pair = a->side == HW_SIDE_LEFT && b->side == HW_SIDE_RIGHT;
    return is_pair && a->kind == b->kind && a->act == b->act && a->date.days == b->date.days &&
           a->session == b->session &&
           (a->only_if == b->only_if ||
            (a->only_if && b->only_if && strcmp(a->only_if, b->only_if) == 0));
}

// The text of an entry, of a pair with "both heels" for "left heel".
static const char *entry_text(const hw_entry *entry, bool is_pair, char text[static 200])
{
    const char *words = entry->text ? entry->text : hw_act_rows()[entry->act].word;
    const char *left = is_pair ? strstr(words, "left heel") : NULL;
    if (!left) return words;
    snprintf(text, 200, "%.*sboth heels%.90s", (int)(left - words), words,
             left + strlen("left heel"));
    return text;
}

static double timeline_row(sheet *on, const hw_entry *entry, bool is_pair, double y)
{
    char date[HW_DATE_TEXT], text[200];
    double widths[4] = {12.0, 20.0, 110.0, SHEET_INNER - 142.0};
    double x = SHEET_MARGIN, low = y;
    char week[12];
    snprintf(week, sizeof week, "week %d", entry->week);
    const char *cells[4] = {week, hw_date_text(entry->date, date), entry_text(entry, is_pair, text),
                            entry->only_if ? entry->only_if : ""};
    hw_pdf_tag(on->pdf, "TR");
    for (int i = 0; i < 4; i++) {
        low = fmax(low, sheet_text(on, &sheet_small, "TD", (const double[3]){x, y, widths[i] - 2.0},
                                   cells[i]));
        x += widths[i];
    }
    hw_pdf_untag(on->pdf);
    return low + 0.4;
}

static double timeline(sheet *on, double y)
{
    const hw_plan *plan = on->report->plan;
    y = sheet_text(on, &sheet_heading, "H2", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                   "Week by week") +
        0.8;
    hw_pdf_tag(on->pdf, "Table");
    for (int i = 0; i < plan->entry_count; i++) {
        bool is_pair = is_twin_of_next(plan, i);
        if (y > SHEET_FLOOR - 8.0) y = sheet_page(on);
        y = timeline_row(on, &plan->timeline[i], is_pair, y);
        i += is_pair;
    }
    hw_pdf_untag(on->pdf);
    return y;
}

// One number of an order with its band and where it comes from.
static double order_line(sheet *on, const hw_order_line *line, double y)
{
    char value[80];
    if (line->low < line->high)
        snprintf(value, sizeof value, "%.4g (%.4g to %.4g)", line->value, line->low, line->high);
    else
        snprintf(value, sizeof value, "%.4g", line->value);
    if (y > SHEET_FLOOR - 5.0) y = sheet_page(on);
    return sheet_print(on, &sheet_small,
                       (const double[3]){SHEET_MARGIN + 4.0, y, SHEET_INNER - 4.0},
                       "%s: %s%s%s = %s [%s]", line->name, value, line->unit[0] ? " " : "",
                       line->unit, line->formula, line->source);
}

// What was typed, as it was typed.
static double ordered_values(sheet *on, const hw_order *of, double y)
{
    const struct {
        hw_maybe value;
        const char *unit;
    } all[] = {{of->dose_mg, "mg"},
               {of->concentration_percent, "%"},
               {of->volume_mL, "mL"},
               {of->sessions, "sessions"},
               {of->pulses, "pulses"},
               {of->rate_Hz, "Hz"},
               {of->pressure_bar, "bar"},
               {of->energy_mJ_per_mm2, "mJ/mm2 as declared"},
               {of->blood_mL, "mL of blood"},
               {of->citrate_mL, "mL of citrate"},
               {of->plasma_mL, "mL of plasma"}};
    char text[300] = "";
    for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
        const size_t used = strlen(text);
        if (all[i].value.known)
            snprintf(text + used, sizeof text - used, "%s%.6g %s",
                     used ? ", " : "ordered: ", all[i].value.value, all[i].unit);
    }
    if (!text[0]) return y;
    return sheet_text(on, &sheet_small, "P",
                      (const double[3]){SHEET_MARGIN + 4.0, y, SHEET_INNER - 4.0}, text);
}

static double order_entry(sheet *on, const hw_order_sheet *of, double y)
{
    const hw_order *order = of->order;
    if (y > SHEET_FLOOR - 10.0) y = sheet_page(on);
    y = sheet_print(on, &sheet_small_strong, (const double[3]){SHEET_MARGIN, y + 0.6, SHEET_INNER},
                    "%s, %s%s%s%s%s", hw_act_rows()[order->act].word,
                    order->side == HW_SIDE_UNKNOWN ? "no foot said"
                    : order->side == HW_SIDE_LEFT  ? "left foot"
                                                   : "right foot",
                    order->substance ? ": " : "", order->substance ? order->substance : "",
                    of->bound ? "; the limit that bound: " : "", of->bound ? of->bound : "");
    y = ordered_values(on, order, y);
    for (int i = 0; i < of->line_count; i++) y = order_line(on, &of->lines[i], y);
    for (int i = 0; i < of->faults.count; i++) {
        if (y > SHEET_FLOOR - 5.0) y = sheet_page(on);
        y = sheet_print(
            on, &sheet_small_strong, (const double[3]){SHEET_MARGIN + 4.0, y, SHEET_INNER - 4.0},
            "TO BE SETTLED, %s: %s", of->faults.rows[i].key, of->faults.rows[i].sentence);
    }
    return y;
}

static double orders(sheet *on, double y)
{
    const hw_plan *plan = on->report->plan;
    if (plan->order_count == 0) return y;
    if (y > SHEET_FLOOR - 20.0) y = sheet_page(on);
    y = sheet_head(on, y, "Ordered, worked out for this person");
    for (int i = 0; i < plan->order_count; i++) y = order_entry(on, &plan->orders[i], y);
    return y;
}

static bool hurts_on_both(const hw_report *report)
{
    const hw_foot_findings *feet = report->visit->findings.feet;
    return feet[0].heel_pain == HW_ANSWER_YES && feet[1].heel_pain == HW_ANSWER_YES;
}

hw_status sheet_plan_page(sheet *on)
{
    double y = sheet_page(on), low = y;
    // The weeks need about 3.6 mm each; the options get what is left above them. Of two painful
    // heels there is so much that both get a page.
    double weeks = 16.0;
    for (int i = 0; i < on->report->plan->entry_count; i++)
        weeks += is_twin_of_next(on->report->plan, i) ? 0.0 : 3.6;
    bool has_own_page = hurts_on_both(on->report);
    weeks = has_own_page ? 0.0 : fmin(95.0, weeks);
    double width = SHEET_INNER / HW_PRINCIPLE_COUNT;
    for (int i = 0; i < HW_PRINCIPLE_COUNT; i++) {
        const double place[3] = {SHEET_MARGIN + i * width, y, width - 4.0};
        low = fmax(low, column(on, (hw_principle)i, place, SHEET_FLOOR - weeks));
    }
    y = orders(on, timeline(on, has_own_page ? sheet_page(on) : low + 2.0));
    sheet_signature(on, y, "Clinician, name and registration");
    return hw_job_ask(on->job);
}
