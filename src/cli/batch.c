// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/cli.h"

#include <stdio.h>

static void tell(void *user, int done, int all, int failed)
{
    (void)user;
    fprintf(stderr, "%d of %d files, %d failed\n", done, all, failed);
}

hw_status cli_batch(cli_room *room, const cli_words *words)
{
    const hw_app_batch_ask ask = {
        .folder = words->subject, .out = words->out, .tell = tell, .processes = words->processes};
    hw_app_batch_sum sum = {0};
    HW_TRY(words->data || words->store ? cli_batch_queue(room, words, &ask, &sum)
                                       : hw_app_batch(&room->job, &ask, room->into, &sum));
    printf("%d files read, %d of them failed, %d stood already: %s\n", sum.done, sum.failed,
           sum.kept, words->out);
    return HW_OK;
}
