// SPDX-License-Identifier: GPL-3.0-or-later
// The record of consent to an injection or to shockwave, a page an act: what, benefit as found,
// risks as counted with source and status, alternatives, what was talked about, signatures. It
// records a talk; it does not replace it.
#include "sheet.h"

#include <stdio.h>

static const hw_pdf_ink strong = {10.0, true, 0.06, 0.06, 0.06, 0.0};
static const hw_pdf_ink plain = {10.0, false, 0.06, 0.06, 0.06, 0.0};

static const hw_acts asked = 1u << HW_ACT_CORTICOSTEROID | 1u << HW_ACT_PRP |
                             1u << HW_ACT_LOCAL_ANAESTHETIC |
                             1u << HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE |
                             1u << HW_ACT_SHOCKWAVE_RADIAL | 1u << HW_ACT_SHOCKWAVE_FOCUSED;

static bool needs_consent(const hw_option *option)
{
    return option->state == HW_AVAILABLE && (asked & (1u << option->act));
}

// The first option of its act: the other heel's joins its page.
static bool is_first(const hw_plan *plan, int index)
{
    for (int i = 0; i < index; i++)
        if (needs_consent(&plan->options[i]) && plan->options[i].act == plan->options[index].act)
            return false;
    return needs_consent(&plan->options[index]);
}

int hw_report_consent_count(const hw_report *report)
{
    int count = 0;
    for (int i = 0; report->plan->released && i < report->plan->option_count; i++)
        count += is_first(report->plan, i);
    return count;
}

static double line(sheet *on, const hw_pdf_ink *ink, double y, const char *text)
{
    return sheet_text(on, ink, "P", (const double[3]){SHEET_MARGIN, y, SHEET_INNER}, text) + 0.6;
}

static double head(sheet *on, double y, const char *text)
{
    static const hw_pdf_ink ink = {11.5, true, 0.06, 0.06, 0.06, 0.0};
    return sheet_text(on, &ink, "H2", (const double[3]){SHEET_MARGIN, y + 1.6, SHEET_INNER}, text) +
           0.4;
}

static const char *heels(const hw_plan *plan, hw_act act)
{
    bool left = false, right = false;
    for (int i = 0; i < plan->option_count; i++) {
        const hw_option *option = &plan->options[i];
        if (option->act != act || !needs_consent(option)) continue;
        left |= option->side == HW_SIDE_LEFT;
        right |= option->side == HW_SIDE_RIGHT;
    }
    return left && right ? "left and right heel"
           : left        ? "left heel"
           : right       ? "right heel"
                         : "side not said";
}

static double what(sheet *on, const hw_option *option, double y)
{
    char text[600];
    snprintf(text, sizeof text, "%s, %s", hw_act_rows()[option->act].word,
             heels(on->report->plan, option->act));
    y = head(on, y, "What is proposed");
    y = line(on, &strong, y, text);
    if (option->dose) y = line(on, &plain, y, option->dose->text);
    if (option->dose_for_this_person) y = line(on, &plain, y, option->dose_for_this_person);
    for (int i = 0; i < option->reason_count && i < 3; i++) {
        snprintf(text, sizeof text, "For this person: %s%s", option->reasons[i].rule->sentence,
                 option->reasons[i].overruled ? " (overruled by the clinician, see the plan)" : "");
        y = line(on, &strong, y, text);
    }
    return y;
}

static double benefit(sheet *on, const hw_option *option, double y)
{
    char text[600];
    y = head(on, y, "What it did for others");
    for (int i = 0; i < option->evidence_count && i < 5; i++) {
        const hw_source *source = hw_source_by_key(option->evidence[i]->source);
        snprintf(text, sizeof text, "%s (%s)", option->evidence[i]->text,
                 source ? source->citation : option->evidence[i]->source);
        y = line(on, &plain, y, text);
    }
    if (option->evidence_count == 0) y = line(on, &plain, y, "No trial is known to this program.");
    return y;
}

static double harm_row(sheet *on, const char *const cells[3], double y, bool is_head)
{
    static const double widths[3] = {64.0, 66.0, SHEET_INNER - 130.0};
    double x = SHEET_MARGIN, low = y;
    hw_pdf_tag(on->pdf, "TR");
    for (int i = 0; i < 3; i++) {
        low = fmax(low, sheet_text(on, is_head ? &strong : &plain, is_head ? "TH" : "TD",
                                   (const double[3]){x, y, widths[i] - 3.0}, cells[i]));
        x += widths[i];
    }
    hw_pdf_untag(on->pdf);
    const double rule[2][2] = {{SHEET_MARGIN, low + 0.5}, {SHEET_MARGIN + SHEET_INNER, low + 0.5}};
    hw_pdf_path(on->pdf, &sheet_rule, rule, 2, false);
    return low + 1.0;
}

static double risks(sheet *on, const hw_option *option, double y)
{
    int count = 0;
    const hw_harm *rows = hw_harm_rows(&count);
    y = head(on, y, "What can go wrong, and how often");
    hw_pdf_tag(on->pdf, "Table");
    y = harm_row(on, (const char *const[3]){"What", "How often", "Who says so"}, y, true);
    for (int i = 0; i < count; i++) {
        char source[200];
        if (!(rows[i].acts & (1u << option->act))) continue;
        const hw_source *of = hw_source_by_key(rows[i].source);
        HW_ASSERT(of != NULL);                                  // every row is tested
        bool is_plain = hw_text_same(of->citation, of->status); // "common practice"
        snprintf(source, sizeof source, "%.120s%s%.40s%s", of->citation, is_plain ? "" : " [",
                 is_plain ? "" : of->status, is_plain ? "" : "]");
        y = harm_row(
            on,
            (const char *const[3]){
                rows[i].what, rows[i].how_often ? rows[i].how_often : "no count found", source},
            y, false);
    }
    hw_pdf_untag(on->pdf);
    return line(on, &plain, y,
                "\"No count found\" does not mean rare. \"memory\": the paper was not read again "
                "for this program.");
}

static double alternatives(sheet *on, const hw_option *option, double y)
{
    const hw_plan *plan = on->report->plan;
    char text[700];
    int used = snprintf(text, sizeof text, "Doing nothing more and waiting");
    for (int i = 0; i < plan->option_count && used < 560; i++) {
        const hw_option *other = &plan->options[i];
        bool is_twin = i > 0 && plan->options[i - 1].act == other->act;
        if (other->state != HW_AVAILABLE || other->act == option->act || is_twin) continue;
        used += snprintf(text + used, sizeof text - (size_t)used, "; %s",
                         hw_act_rows()[other->act].word);
    }
    snprintf(text + used, sizeof text - (size_t)used, ".");
    y = head(on, y, "What can be done instead");
    return line(on, &plain, y, text);
}

static double tick(sheet *on, double y, const char *text)
{
    static const hw_pdf_ink frame = {0.0, false, 0.06, 0.06, 0.06, 0.35};
    hw_pdf_box(on->pdf, &frame, SHEET_MARGIN + 0.5, y + 0.6, 3.0, 3.0, false);
    return sheet_text(on, &plain, "P", (const double[3]){SHEET_MARGIN + 6.0, y, SHEET_INNER - 6.0},
                      text) +
           0.5;
}

static void talk(sheet *on, const hw_option *option, double y)
{
    bool is_wave =
        option->act == HW_ACT_SHOCKWAVE_RADIAL || option->act == HW_ACT_SHOCKWAVE_FOCUSED;
    y = head(on, y, "Talked about (tick what was)");
    y = tick(on, y, "the diagnosis and how sure it is; what happens if the treatment fails");
    y = tick(on, y,
             "who does it, what it costs, what becomes of the data; the right to stop at any time");
    y = tick(on, y, "the person can decide; interpreter, chaperone or guardian where needed");
    if (is_wave)
        y = tick(
            on, y,
            "written information given; governance lead told; the result is audited (NICE IPG311)");
    if (option->act == HW_ACT_PRP) y = tick(on, y, "the preparation is not licensed");
    y += 7.0;
    y = line(on, &plain, y, "Person: ______________________________   Date: ______________");
    line(on, &plain, y + 5.0, "Clinician: ____________________________   Date: ______________");
}

hw_status sheet_consent_pages(sheet *on)
{
    const hw_plan *plan = on->report->plan;
    if (hw_report_consent_count(on->report) == 0)
        return hw_fail(
            on->job, HW_BAD_INPUT,
            "no injection or shockwave is available in this plan: nothing to consent to");
    for (int i = 0; i < plan->option_count; i++) {
        const hw_option *option = &plan->options[i];
        if (!is_first(plan, i)) continue;
        on->sides = heels(plan, option->act); // the other foot has no part in this page
        double y = what(on, option, sheet_page(on) - 2.0);
        y = risks(on, option, benefit(on, option, y));
        y = alternatives(on, option, y);
        if (option->dose && option->dose->after) {
            y = head(on, y, "Afterwards");
            y = line(on, &plain, y, option->dose->after);
        }
        talk(on, option, y);
    }
    return hw_job_ask(on->job);
}
