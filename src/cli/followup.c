// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/cli.h"

#include <stdio.h>

enum { REQUEST_BYTES_MAX = 1 << 20 };

static void print_follow_up(const hw_follow_up *of)
{
    printf("%d ratings; the last, %.1f, in week %.0f\n", of->scores, of->last_score, of->last_week);
    for (int i = 0; i < HW_FOLLOW_POINTS; i += 3)
        printf("  week %5.1f: %4.1f (%.1f to %.1f)\n", of->week[i], of->view[i].mean,
               of->view[i].low, of->view[i].high);
    printf("chance that the pain is %.0f or less: in 12 weeks %.2f, in 26 weeks %.2f\n", of->gone,
           of->chance_gone_12, of->chance_gone_26);
    if (of->chance_matters_12.known)
        printf("chance that in 12 weeks it has fallen by %.1f, which matters to people: %.2f\n",
               of->scale.matters.value, of->chance_matters_12.value);
    for (int i = 0; i < of->signal_count; i++) printf("SIGNAL %s\n", of->signals[i]);
}

static void print_value(const hw_scale *scale, int index, const hw_scored *now,
                        const hw_scored *first)
{
    const char *name = scale->values[index].name;
    if (!now->values[index].known) {
        printf("  %s: no score: %s\n", name, now->why[index]);
        return;
    }
    printf("  %s: %.1f", name, now->values[index].value);
    if (first && first->values[index].known) {
        const double from = first->values[index].value, to = now->values[index].value;
        printf(" (%+.1f since the first: %s)", to - from,
               hw_change_word(hw_change_of(scale, index, from, to)));
    }
    printf("\n");
}

static hw_status print_scores(cli_room *room, hw_bytes file)
{
    hw_score_request asked = {0};
    hw_scored first = {0}, now = {0};
    char date[HW_DATE_TEXT];
    HW_TRY(hw_score_read(&room->job, file, room->into, &asked, &room->faults));
    const hw_scale *scale = asked.questionnaire.scale;
    printf("%s, %s is better\n", scale->name, scale->higher_is_better ? "higher" : "lower");
    for (int i = 0; i < asked.count; i++) {
        HW_TRY(
            hw_score_items(&room->job, scale, asked.sheets[i].items, asked.sheets[i].count, &now));
        if (asked.is_highest_best && now.values[0].known)
            now.values[0].value = hw_grade_from_best(scale, now.values[0].value, true);
        if (i == 0) first = now;
        printf("%s: %d answered, %d missing, %d not applicable\n",
               hw_date_text(asked.sheets[i].date, date), now.answered, now.missing,
               now.not_applicable);
        for (int k = 0; k < now.value_count; k++)
            print_value(scale, k, &now, i > 0 ? &first : NULL);
    }
    return HW_OK;
}

static hw_status do_scores(cli_room *room, const cli_words *words, hw_bytes file)
{
    hw_bytes json = {0};
    if (!words->is_json) return print_scores(room, file);
    HW_TRY(hw_app_scores(&room->job, file, room->into, &json, &room->faults));
    return cli_print(room, json);
}

hw_status cli_followup(cli_room *room, const cli_words *words)
{
    hw_bytes file = {0}, json = {0};
    hw_follow_up found = {0};
    HW_TRY(hw_file_read(&room->job, words->subject, REQUEST_BYTES_MAX, room->into, &file));
    if (hw_app_is_scores(&room->job, file, room->into)) return do_scores(room, words, file);
    HW_TRY(hw_app_follow(&room->job, file, room->into, &found, &json, &room->faults));
    if (words->is_json) return cli_print(room, json);
    print_follow_up(&found);
    return HW_OK;
}
