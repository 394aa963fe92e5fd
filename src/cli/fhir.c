// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/cli.h"

#include <stdio.h>

static hw_status write_all(cli_room *room, const cli_words *words, const hw_file_set *files)
{
    HW_TRY(hw_file_set_write(&room->job, files, words->out));
    for (int i = 0; i < files->count; i++) printf("%s/%s\n", words->out, files->files[i].name);
    return HW_OK;
}

hw_status cli_fhir(cli_room *room, const cli_words *words)
{
    hw_file_set files = {0};
    HW_TRY(hw_app_fhir_at(&room->job, words->subject, room->into, &files, &room->faults));
    return write_all(room, words, &files);
}

hw_status cli_fhir_read(cli_room *room, const cli_words *words)
{
    hw_file_set files = {0};
    HW_TRY(hw_app_fhir_read_at(&room->job, words->subject, room->into, &files, &room->faults));
    return write_all(room, words, &files);
}
