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

hw_status cli_followup(cli_room *room, const cli_words *words)
{
    hw_bytes file = {0}, json = {0};
    hw_follow_up found = {0};
    HW_TRY(hw_file_read(&room->job, words->subject, REQUEST_BYTES_MAX, room->into, &file));
    HW_TRY(hw_app_follow(&room->job, file, room->into, &found, &json, &room->faults));
    if (words->is_json) return cli_print(room, json);
    print_follow_up(&found);
    return HW_OK;
}
