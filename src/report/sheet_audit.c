// SPDX-License-Identifier: GPL-3.0-or-later
// The audit report of a clinic: counts with denominators and intervals, never a cause. It may leave
// the clinic, so groups of fewer than five heels are not shown.
#include "sheet.h"

#include <math.h>
#include <stdio.h>

enum { FEWEST = 5, TEXT = 80, GROUP_COLUMNS = 8, BESIDE_COLUMNS = 5, HARM_COLUMNS = 4 };

static const double right = SHEET_WIDTH - SHEET_MARGIN;

static double head(sheet *on, double y, const char *text, double height)
{
    if (y + height > SHEET_FLOOR) y = sheet_page(on);
    return sheet_head(on, y, text);
}

static const char *share_text(const hw_heel_share *of, char text[static TEXT])
{
    if (of->of < FEWEST)
        snprintf(text, TEXT, "fewer than %d", FEWEST);
    else
        snprintf(text, TEXT, "%d of %d: %.0f %% (%.0f to %.0f)", of->count, of->of,
                 100.0 * of->share.estimate, 100.0 * of->share.low, 100.0 * of->share.high);
    return text;
}

static const char *number_text(hw_maybe value, const char *format, char text[static TEXT])
{
    double shown = value.value + 0.0;
    if (!value.known)
        snprintf(text, TEXT, "unknown");
    else
        snprintf(text, TEXT, *format == '1' ? "%.1f" : "%.0f", shown);
    return text;
}

static double outcome(sheet *on, double y)
{
    char better[TEXT], gone[TEXT], median[TEXT];
    const hw_caseload *of = on->audit->caseload;
    const hw_heel_group *all = &of->all;
    y = head(on, y, "Outcome", 40.0);
    y = sheet_print(
        on, &sheet_plain, (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
        "%d people, %d visits, %d heels rated; %d of them followed (rated again), %d rated "
        "once and never again: what became of those is not known and not counted as better.",
        on->audit->people, on->audit->visits, all->heels, all->followed, all->lost);
    y = sheet_print(
        on, &sheet_strong, (const double[3]){SHEET_MARGIN, y + 0.6, SHEET_INNER},
        "Better by what matters to patients (%.1f points or more): %s. Pain gone (%.0f or "
        "less): %s.",
        of->matters, share_text(&all->better, better), of->gone, share_text(&all->gone, gone));
    if (all->followed < FEWEST) return y;
    y = sheet_print(
        on, &sheet_plain, (const double[3]){SHEET_MARGIN, y + 0.6, SHEET_INNER},
        "Median change %+.1f points. Half are free of pain after %s weeks (Kaplan and Meier; "
        "\"unknown\": half are not there yet).",
        all->median_change, number_text(all->until_gone.median, "0", median));
    if (all->against_forecast.known)
        y = sheet_print(
            on, &sheet_plain, (const double[3]){SHEET_MARGIN, y + 0.6, SHEET_INNER},
            "Against the course forecast from each first rating (%s): %+.1f points (95 %% "
            "%+.1f to %+.1f); negative is better than forecast.",
            hw_pain_scale_of(HW_PAIN_FIRST_STEP).prior_source, all->against_forecast.value,
            all->against_low, all->against_high);
    return y;
}

// The tests of the two largest groups, and the rate held level for what they began from.
static double two_groups(sheet *on, double y, const hw_two_groups *of)
{
    if (!of->acts[0]) return y;
    y = sheet_print(on, &sheet_plain, (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                    "Time until the pain is gone, %s against %s, adjusted for nothing:",
                    of->acts[0], of->acts[1]);
    if (of->test.is_known)
        y = sheet_print(on, &sheet_plain, (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                        "log-rank chi2 %.2f, p %.3f; Peto and Peto, where early weeks weigh more, "
                        "chi2 %.2f, p %.3f.",
                        of->test.chi2, of->test.p, of->test.early_chi2, of->test.early_p);
    else
        y = sheet_line(on, y,
                       "no test: no heel became free of pain while heels of both were watched.");
    if (of->not_adjusted)
        return sheet_print(on, &sheet_plain, (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                           "Not adjusted for what they began from: %s.", of->not_adjusted);
    const hw_hazards *cox = &of->adjusted[HW_TIES_EFRON];
    return sheet_print(
        on, &sheet_plain, (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
        "With first score, weeks of pain and age held level (Cox, ties by Efron; %d heels, %d free "
        "of pain) the first becomes free of pain %.2f times as fast (95 %% %.2f to %.2f; above 1 "
        "is sooner). What else differs between them, and why each was chosen, is not in it.",
        cox->people, cox->events, exp(cox->log_ratio[HW_ADJUSTED_ACT]), cox->low[HW_ADJUSTED_ACT],
        cox->high[HW_ADJUSTED_ACT]);
}

static double group_table(sheet *on, double y)
{
    static const double column[GROUP_COLUMNS] = {13.0, 48.0, 62.0, 82.0, 98.0, 115.0, 127.0, 163.0};
    static const char *const titles[GROUP_COLUMNS] = {
        "First treatment given", "Heels", "Followed", "First score",
        "Weeks of pain",         "Age",   "Better",   "Pain gone"};
    const hw_caseload *of = on->audit->caseload;
    int small = 0;
    y = head(on, y, "By treatment, with what each group began from", 40.0);
    hw_pdf_tag(on->pdf, "Table");
    y = sheet_row(on, &sheet_strong, "TH", column, GROUP_COLUMNS, right, y, titles);
    for (int i = 0; i < of->act_count; i++) {
        const hw_heel_group *group = &of->acts[i];
        char texts[GROUP_COLUMNS][TEXT];
        if (group->followed < FEWEST) {
            small++;
            continue;
        }
        snprintf(texts[1], TEXT, "%d", group->heels);
        snprintf(texts[2], TEXT, "%d", group->followed);
        const char *const cells[GROUP_COLUMNS] = {group->act,
                                                  texts[1],
                                                  texts[2],
                                                  number_text(group->first_score, "1", texts[3]),
                                                  number_text(group->onset_weeks, "0", texts[4]),
                                                  number_text(group->age_years, "0", texts[5]),
                                                  share_text(&group->better, texts[6]),
                                                  share_text(&group->gone, texts[7])};
        if (y > SHEET_FLOOR - 12.0) y = sheet_page(on);
        y = sheet_row(on, group->outside_funnel ? &sheet_strong : &sheet_plain, "TD", column,
                      GROUP_COLUMNS, right, y, cells);
    }
    hw_pdf_untag(on->pdf);
    if (small)
        y = sheet_print(on, &sheet_plain, (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                        "%d treatments with fewer than %d followed heels are not shown.", small,
                        FEWEST);
    y = sheet_line(
        on, y,
        "Medians; 95 % intervals after Wilson. In bold: the share of better heels lies outside the "
        "funnel, the 95 % limits of chance around the clinic's own share. Heels are not assigned "
        "to "
        "treatments by chance: severity, how long it has hurt, age, and what else was given differ "
        "between the groups and with them the outcome. These are counts; they say nothing about "
        "which "
        "treatment works.");
    return two_groups(on, y, &of->first_two);
}

static double beside_table(sheet *on, double y)
{
    static const double column[BESIDE_COLUMNS] = {13.0, 50.0, 88.0, 126.0, 158.0};
    static const char *const titles[BESIDE_COLUMNS] = {
        "Treatment", "Better here", "Success in trials", "Difference, points of %", "Trials"};
    const hw_caseload *of = on->audit->caseload;
    if (of->beside_count == 0) return y;
    y = head(on, y, "Beside published results", 40.0);
    hw_pdf_tag(on->pdf, "Table");
    y = sheet_row(on, &sheet_strong, "TH", column, BESIDE_COLUMNS, right, y, titles);
    for (int i = 0; i < of->beside_count; i++) {
        const hw_beside_trials *row = &of->beside[i];
        char here[TEXT], there[TEXT], difference[TEXT] = "not shown", trials[TEXT];
        if (row->here.of >= FEWEST)
            snprintf(difference, TEXT, "%+.0f (%+.0f to %+.0f)", 100.0 * row->difference.estimate,
                     100.0 * row->difference.low, 100.0 * row->difference.high);
        snprintf(trials, TEXT, "%d: %.40s%s", row->trials, row->first_source,
                 row->trials > 1 ? " ..." : "");
        const char *const cells[BESIDE_COLUMNS] = {row->act, share_text(&row->here, here),
                                                   share_text(&row->published, there), difference,
                                                   trials};
        if (y > SHEET_FLOOR - 12.0) y = sheet_page(on);
        y = sheet_row(on, &sheet_plain, "TD", column, BESIDE_COLUMNS, right, y, cells);
    }
    hw_pdf_untag(on->pdf);
    return sheet_line(
        on, y,
        "Trials chose their people, gave other care beside, and each counted success in its own "
        "way; several of their numbers are from memory (see the table of trials). Interval after "
        "Newcombe.");
}

static double harm_table(sheet *on, double y)
{
    static const double column[HARM_COLUMNS] = {13.0, 75.0, 95.0, 120.0};
    static const char *const titles[HARM_COLUMNS] = {"Act", "Given", "Adverse events",
                                                     "Share, 95 % (Clopper and Pearson)"};
    const hw_caseload *of = on->audit->caseload;
    y = head(on, y, "Adverse events written down", 40.0);
    hw_pdf_tag(on->pdf, "Table");
    y = sheet_row(on, &sheet_strong, "TH", column, HARM_COLUMNS, right, y, titles);
    for (int i = 0; i < of->harm_count; i++) {
        const hw_act_harm *harm = &of->harms[i];
        char given[TEXT], events[TEXT], share[TEXT];
        if (harm->given < FEWEST && harm->events == 0) continue;
        const bool is_small = harm->given < FEWEST; // that there was one is said, not how many
        snprintf(given, TEXT, is_small ? "fewer than 5" : "%d", harm->given);
        snprintf(events, TEXT, is_small ? "some" : "%d", harm->events);
        snprintf(share, TEXT, "%.1f %% (%.1f to %.1f)", 100.0 * harm->share.estimate,
                 100.0 * harm->share.low, 100.0 * harm->share.high);
        const char *const cells[HARM_COLUMNS] = {harm->act, given, events,
                                                 is_small ? "not shown" : share};
        if (y > SHEET_FLOOR - 12.0) y = sheet_page(on);
        y = sheet_row(on, harm->events ? &sheet_strong : &sheet_plain, "TD", column, HARM_COLUMNS,
                      right, y, cells);
    }
    hw_pdf_untag(on->pdf);
    return sheet_line(on, y, "None written down is not none: only what somebody wrote is counted.");
}

// The sum over heels in the order in which they began, its limit dashed by a thinner line.
static double control_chart(sheet *on, double y)
{
    const hw_caseload *of = on->audit->caseload;
    const double wide = SHEET_INNER - 14.0, high = 32.0, left = SHEET_MARGIN + 12.0;
    y = head(on, y, "Over time", 60.0);
    if (of->control_count < FEWEST) return sheet_line(on, y, "Too few heels for a chart.");
    const hw_pdf_ink curve = {0.0, false, 0.1, 0.16, 0.24, 0.5},
                     limit = {0.0, false, 0.55, 0.2, 0.02, 0.3};
    double most = of->control_limit * 1.15;
    double bottom = y + high;
    hw_pdf_tag_figure(on->pdf,
                      "Chart: the CUSUM over the heels in the order of their first ratings, with "
                      "its limit; signals are told in the text below");
    hw_pdf_box(on->pdf, &sheet_rule, left, y, wide, high, false);
    double at = bottom - high * of->control_limit / most;
    const double across[2][2] = {{left, at}, {left + wide, at}};
    hw_pdf_path(on->pdf, &limit, across, 2, false);
    double last[2] = {left, bottom};
    int signals = 0;
    for (int i = 0; i < of->control_count; i++) {
        const hw_control_step *step = &of->control[i];
        double next[2] = {left + wide * (i + 1) / of->control_count,
                          bottom - high * fmin(step->sum, most) / most};
        const double piece[2][2] = {{last[0], last[1]}, {next[0], next[1]}};
        hw_pdf_path(on->pdf, &curve, piece, 2, false);
        last[0] = next[0], last[1] = step->signal ? bottom : next[1];
        signals += step->signal;
    }
    hw_pdf_text(on->pdf, &sheet_small, SHEET_MARGIN, at - 1.5, 12.0, "limit");
    hw_pdf_text(on->pdf, &sheet_small, SHEET_MARGIN, bottom - 2.0, 12.0, "0");
    hw_pdf_untag(on->pdf);
    y = sheet_print(
        on, &sheet_plain, (const double[3]){SHEET_MARGIN, bottom + 1.5, SHEET_INNER},
        "Log-likelihood CUSUM for a doubling of the odds of not getting better, against the "
        "clinic's own share of %.0f %%; limit %.0f, a choice of this program. It signalled %d "
        "time%s.",
        100.0 * of->control_target, of->control_limit, signals, signals == 1 ? "" : "s");
    return y;
}

static void quality_table(sheet *on, double y)
{
    static const double column[2] = {13.0, 120.0};
    static const char *const titles[2] = {"What should be there", "Is there"};
    y = head(on, y, "What the books hold", 40.0);
    hw_pdf_tag(on->pdf, "Table");
    y = sheet_row(on, &sheet_strong, "TH", column, 2, right, y, titles);
    for (int i = 0; i < on->audit->quality_count; i++) {
        const hw_report_count *row = &on->audit->quality[i];
        char text[TEXT];
        snprintf(text, TEXT, "%d of %d (%.0f %%)", row->have, row->of,
                 row->of ? 100.0 * row->have / row->of : 0.0);
        const char *const cells[2] = {row->what, text};
        if (y > SHEET_FLOOR - 8.0) y = sheet_page(on);
        y = sheet_row(on, &sheet_plain, "TD", column, 2, right, y, cells);
    }
    hw_pdf_untag(on->pdf);
}

hw_status sheet_audit_pages(sheet *on)
{
    double y = outcome(on, sheet_page(on));
    y = group_table(on, y);
    y = beside_table(on, y);
    y = harm_table(on, y);
    y = control_chart(on, y);
    quality_table(on, y);
    return hw_job_ask(on->job);
}
