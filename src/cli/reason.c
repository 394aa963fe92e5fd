// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/cli.h"

#include <stdio.h>

static void print_flags(const hw_plan *plan)
{
    for (int i = 0; i < plan->red_flag_count; i++)
        printf("RED FLAG (%s) %s: %s [%s]\n", hw_urgency_word(plan->red_flags[i].rule->urgency),
               plan->red_flags[i].reading, plan->red_flags[i].rule->sentence,
               plan->red_flags[i].rule->id);
    if (plan->red_flag_count == 0) printf("No red flag stands.\n");
    for (int i = 0; i < plan->question_count; i++)
        printf("  open: %s: %s\n", plan->questions[i].key, plan->questions[i].text);
}

static void print_result(const hw_test_result *of)
{
    printf("  %s %s: likelihood ratio %.3g (%.3g to %.3g)%s%s, for the %s [%s]\n", of->row->name,
           of->is_positive ? "positive" : "negative", of->ratio.value, of->ratio.low,
           of->ratio.high, of->ratio.is_corrected ? ", zero cell" : "",
           of->is_used ? "" : ", not multiplied: same tissue", hw_cause_rows()[of->row->cause].name,
           of->row->source);
}

void cli_print_differential(const hw_differential *of)
{
    static const char *const words[] = {"does not fit", "fits", "cannot be said"};
    printf("%s\n", of->sentence);
    printf("  plantar fascia: %.0f %% before any test, %.0f %% (%.0f to %.0f) after\n",
           100.0 * of->before.value, 100.0 * of->after.value, 100.0 * of->after.low,
           100.0 * of->after.high);
    for (int i = 0; i < of->result_count; i++) print_result(&of->results[i]);
    for (int i = 0; i < HW_CAUSE_COUNT; i++) {
        printf("  %-14s %s", words[of->causes[i].fits], of->causes[i].row->name);
        if (i > 0 && of->causes[i].fits == HW_VERDICT_YES)
            printf(": %s", of->causes[i].row->next_step);
        printf("\n");
    }
    if (of->tells_most)
        printf("  the test that would tell most: %s (%.2f bits)\n", of->tells_most->name,
               of->tells_bits);
    if (of->missing)
        printf("  %d patterns wait for: %s?\n", of->missing_patterns, of->missing->text);
}

hw_status cli_redflags(cli_room *room, const cli_words *words)
{
    hw_report report = {0};
    hw_bytes text = {0};
    HW_TRY(hw_app_visit_at(&room->job, words->subject, HW_APP_PLAN, room->into, &report,
                           &room->faults));
    if (words->is_json) {
        HW_TRY(hw_report_screen_json(&room->job, &report, room->into, &text));
        return cli_print(room, text);
    }
    print_flags(report.plan);
    for (int i = 0; i < report.plan->differential_count; i++)
        cli_print_differential(&report.plan->differentials[i]);
    return HW_OK;
}

static void print_order(const hw_order_sheet *of)
{
    printf("ORDERED %s%s%s%s%s\n", hw_act_rows()[of->order->act].word,
           of->order->side == HW_SIDE_UNKNOWN ? "" : ", ",
           of->order->side == HW_SIDE_UNKNOWN ? "" : hw_side_word(of->order->side),
           of->bound ? "; bound by the " : "", of->bound ? of->bound : "");
    for (int i = 0; i < of->line_count; i++) {
        const hw_order_line *line = &of->lines[i];
        printf("  %s: %.4g %s", line->name, line->value, line->unit);
        if (line->low < line->high) printf(" (%.4g to %.4g)", line->low, line->high);
        printf("  [%s; %s]\n", line->formula, line->source);
    }
    for (int i = 0; i < of->faults.count; i++)
        printf("  WRONG %s: %s\n", of->faults.rows[i].key, of->faults.rows[i].sentence);
}

static void print_dose(const hw_option *option)
{
    const hw_dose_row *dose = option->dose;
    printf("%s%s%s: %s\n", hw_act_rows()[option->act].word,
           option->side == HW_SIDE_UNKNOWN ? "" : ", ",
           option->side == HW_SIDE_UNKNOWN ? "" : hw_side_word(option->side),
           hw_eligibility_word(option->state));
    for (int i = 0; i < option->reason_count; i++)
        printf("  %s [%s]: %s (%s)\n", option->reasons[i].overruled ? "overruled" : "stands",
               option->reasons[i].rule->id, option->reasons[i].rule->sentence,
               option->reasons[i].reading);
    if (dose) printf("  %s [%s]\n", dose->text, dose->source);
    if (option->dose_for_this_person) printf("  here: %s\n", option->dose_for_this_person);
    for (int i = 0; dose && i < HW_DOSE_STEPS && dose->steps[i].text; i++)
        printf("  week %d: %s%s%s\n", dose->steps[i].from_week, dose->steps[i].text,
               dose->steps[i].when ? " Go on to it when: " : "",
               dose->steps[i].when ? dose->steps[i].when : "");
    if (dose && dose->after) printf("  after: %s\n", dose->after);
}

hw_status cli_dose(cli_room *room, const cli_words *words)
{
    hw_report report = {0};
    hw_bytes text = {0};
    HW_TRY(hw_app_visit_at(&room->job, words->subject, HW_APP_PLAN, room->into, &report,
                           &room->faults));
    if (words->is_json) {
        HW_TRY(hw_report_dose_json(&room->job, &report, room->into, &text));
        return cli_print(room, text);
    }
    for (int i = 0; i < report.plan->order_count; i++) print_order(&report.plan->orders[i]);
    for (int i = 0; i < report.plan->option_count; i++) print_dose(&report.plan->options[i]);
    printf("Local rules and the product's own leaflet go first.\n");
    return HW_OK;
}
