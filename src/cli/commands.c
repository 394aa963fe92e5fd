// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/cli.h"

#include <stdio.h>

hw_status cli_print(cli_room *room, hw_bytes text)
{
    if (fwrite(text.at, 1, text.count, stdout) == text.count) return HW_OK;
    return hw_fail(&room->job, HW_IO_FAILED, "standard output cannot be written");
}

static const char *foot_word(int index)
{
    return index ? "right" : "left";
}

static void print_change(const char *name, hw_band change)
{
    if (change.known)
        printf("    %-10s %+6.0f %%  (%+.0f to %+.0f)\n", name, 100.0 * change.median,
               100.0 * change.p05, 100.0 * change.p95);
    else
        printf("    %-10s not known: %s\n", name, change.why);
}

static void print_load(const hw_report_foot *foot, const char *side)
{
    const hw_mech_result *load = foot->load;
    if (!load) {
        printf("%s foot: load not computed: %s\n", side, foot->load_why);
        return;
    }
    printf("%s foot: peak %.2f body weights (%.2f to %.2f) at %.0f %% of stance\n", side,
           load->peak_bw.median, load->peak_bw.p05, load->peak_bw.p95, load->peak_percent.median);
    for (int i = 0; i < load->effect_count; i++) {
        printf("  %s, grade %c\n", load->effects[i].name, (char)load->effects[i].grade);
        print_change("mid-stance", load->effects[i].midstance.change);
        print_change("peak", load->effects[i].peak.change);
        print_change("impulse", load->effects[i].impulse.change);
    }
}

hw_status cli_load(cli_room *room, const cli_words *words)
{
    hw_report report = {0};
    hw_bytes text = {0};
    HW_TRY(hw_app_visit_at(&room->job, words->subject, HW_APP_LOAD | HW_APP_CAUSES, room->into,
                           &report, &room->faults));
    if (words->out) {
        hw_file_set files = {0};
        HW_TRY(hw_report_load_pdf(&room->job, &report, room->into, &text));
        HW_TRY(hw_file_set_add(&room->job, &files, "load.pdf", text));
        HW_TRY(hw_file_set_write(&room->job, &files, words->out));
    }
    if (words->is_json) {
        HW_TRY(hw_report_load_json(&room->job, &report, room->into, &text));
        return cli_print(room, text);
    }
    for (int i = 0; i < 2; i++)
        if (report.feet[i].is_given) print_load(&report.feet[i], foot_word(i));
    return HW_OK;
}

static void print_paths(const hw_file_set *files, const char *folder)
{
    for (int i = 0; i < files->count; i++) printf("%s/%s\n", folder, files->files[i].name);
}

static void print_orthosis(const hw_report_foot *foot, const char *side)
{
    if (foot->orthosis)
        printf("%s orthosis: %.1f cm3, %.0f g\n", side, hw_cm3_from_m3(foot->orthosis->volume_m3),
               hw_g_from_kg(foot->orthosis->mass_kg));
    else
        printf("%s orthosis: not made: %s\n", side, foot->orthosis_why);
    const hw_orthosis_against *of = foot->against;
    if (of)
        printf("%s orthosis against the earlier one: %+.1f mm on average, at most %.1f mm higher, "
               "%.1f mm lower; most %.0f mm from the heel's back\n",
               side, hw_mm_from_m(of->mean), hw_mm_from_m(of->most_higher),
               hw_mm_from_m(of->most_lower),
               hw_mm_from_m(of->where.x - foot->scan->foot.landmarks.heel_back.x));
}

// Both commands that write files: results on standard output, files in the folder.
static hw_status write_and_print(cli_room *room, const cli_words *words, const hw_report *report,
                                 const hw_file_set *files)
{
    hw_bytes text = files->files[files->count - 1].bytes; // the JSON is the last of both sets
    HW_TRY(hw_file_set_write(&room->job, files, words->out));
    if (words->is_json) return cli_print(room, text);
    printf("%s\n", report->plan->verdict);
    for (int i = 0; i < 2; i++)
        if (report->feet[i].is_given) print_orthosis(&report->feet[i], foot_word(i));
    if (report->note) printf("%s\n", report->note);
    print_paths(files, words->out);
    return HW_OK;
}

// The trade-off of a search, a line a design: what it gives, what it costs, what stops it.
static void print_search(const hw_report_foot *foot, const char *side)
{
    const hw_search *of = foot->search;
    if (!of) {
        printf("%s foot: no search: %s\n", side, foot->search_why);
        return;
    }
    printf("%s foot: %d designs looked at, %d within all limits, %d of %d of the trade-off "
           "confirmed; pressure: greatest mean over 1 cm2 under the arch\n",
           side, of->looked_at, of->possible, of->confirmed_count, of->front_count);
    for (int i = 0; i < of->front_count; i++) {
        const hw_search_design *one = &of->front[i];
        const hw_search_numbers *at = one->is_final ? &one->final : &one->preview;
        printf("  relief %4.1f %% (%.1f to %.1f) at %3.0f kPa%s:", -100.0 * at->relief.median,
               -100.0 * at->relief.p95, -100.0 * at->relief.p05, hw_kPa_from_Pa(at->arch_peak_Pa),
               one->is_final ? "" : " (preview)");
        for (int k = 0; k < of->term_count; k++)
            printf(" %s %.1f", hw_order_rows()[of->terms[k]].name,
                   hw_order_in_unit(&hw_order_rows()[of->terms[k]], one->value[k]));
        printf("%s%s%s%s\n", one->state == HW_SEARCH_CONFIRMED ? "" : "  DROPPED: ", one->why,
               one->binds[0] ? "  stopped by: " : "", one->binds);
    }
}

hw_status cli_orthosis(cli_room *room, const cli_words *words)
{
    hw_report report = {0};
    hw_file_set files = {0};
    int search = words->is_searching ? HW_APP_SEARCH_LEFT | HW_APP_SEARCH_RIGHT : 0;
    HW_TRY(hw_app_visit_at(&room->job, words->subject, HW_APP_ORTHOSIS | HW_APP_PRESS | search,
                           room->into, &report, &room->faults));
    for (int i = 0; search && !words->is_json && i < 2; i++)
        if (report.feet[i].is_given) print_search(&report.feet[i], foot_word(i));
    if (words->previous)
        HW_TRY(hw_app_lay_on_previous(&room->job, words->previous, room->into, &report,
                                      &room->faults));
    HW_TRY(hw_app_orthosis_files(&room->job, &report, room->into, &files));
    return write_and_print(room, words, &report, &files);
}

static void print_questions(const hw_plan *plan)
{
    for (int i = 0; i < plan->red_flag_count; i++)
        printf("RED FLAG %s: %s\n", plan->red_flags[i].reading, plan->red_flags[i].rule->sentence);
    for (int i = 0; i < plan->question_count; i++)
        printf("  open: %s: %s\n", plan->questions[i].key, plan->questions[i].text);
}

hw_status cli_plan(cli_room *room, const cli_words *words)
{
    hw_report report = {0};
    hw_bytes text = {0};
    HW_TRY(hw_app_visit_at(&room->job, words->subject, HW_APP_LOAD | HW_APP_PLAN, room->into,
                           &report, &room->faults));
    if (words->is_json) {
        HW_TRY(hw_report_plan_json(&room->job, &report, room->into, &text));
        return cli_print(room, text);
    }
    printf("%s\n", report.plan->verdict);
    print_questions(report.plan);
    for (int i = 0; i < report.plan->differential_count; i++)
        printf("%s\n", report.plan->differentials[i].sentence);
    for (int i = 0; i < report.plan->option_count; i++) {
        const hw_option *option = &report.plan->options[i];
        printf("  %-34s %-8s %s\n", hw_act_rows()[option->act].word,
               option->side == HW_SIDE_UNKNOWN ? "" : hw_side_word(option->side),
               hw_eligibility_word(option->state));
    }
    return HW_OK;
}

static hw_status do_visit(cli_room *room, const cli_words *words, const char *case_path)
{
    hw_report report = {0};
    hw_file_set files = {0};
    HW_TRY(hw_app_visit_at(&room->job, case_path, HW_APP_ALL, room->into, &report, &room->faults));
    report.paper = words->paper;
    HW_TRY(hw_app_visit_files(&room->job, &report, room->into, &files));
    return write_and_print(room, words, &report, &files);
}

hw_status cli_visit(cli_room *room, const cli_words *words)
{
    return do_visit(room, words, words->subject);
}

hw_status cli_demo(cli_room *room, const cli_words *words)
{
    hw_file_set files = {0};
    const char *case_path = NULL;
    HW_TRY(hw_app_demo_files(&room->job, words->seed, room->into, &files));
    HW_TRY(hw_file_set_write(&room->job, &files, words->out));
    HW_TRY(hw_file_join(&room->job, words->out, "case.json", room->into, &case_path));
    if (!words->is_json) {
        printf("An invented person of an invented harbour-town clinic:\n");
        print_paths(&files, words->out);
    }
    return do_visit(room, words, case_path);
}
