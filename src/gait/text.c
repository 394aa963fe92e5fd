// SPDX-License-Identifier: GPL-3.0-or-later
// Lines, cells, and the room for what they hold.
#include "gait_internal.h"

bool gait_next_line(gait_text *text, gait_cell *line)
{
    if (text->at >= text->end) return false;
    const char *feed = memchr(text->at, '\n', (size_t)(text->end - text->at));
    const char *stop = feed ? feed : text->end;
    *line = (gait_cell){text->at, (size_t)(stop - text->at)};
    if (line->length && line->at[line->length - 1] == '\r') line->length--;
    text->at = feed ? feed + 1 : text->end;
    text->line++;
    return true;
}

static bool is_blank(char one)
{
    return one == ' ' || one == '\t';
}

static bool parts(char one, bool blanks)
{
    return blanks ? is_blank(one) : one == '\t' || one == ',' || one == ';';
}

bool gait_next_cell(gait_cell *line, bool blanks, gait_cell *cell)
{
    if (!line->at) return false;
    while (blanks && line->length && is_blank(*line->at)) line->at++, line->length--;
    if (blanks && !line->length) return false;
    size_t length = 0;
    while (length < line->length && !parts(line->at[length], blanks)) length++;
    *cell = (gait_cell){line->at, length};
    bool is_last = length == line->length;
    line->at = is_last ? NULL : line->at + length + 1;
    line->length = is_last ? 0 : line->length - length - 1;
    return true;
}

bool gait_holds_only(gait_cell line, const char *letters)
{
    for (size_t i = 0; i < line.length; i++)
        if (!memchr(letters, line.at[i], strlen(letters))) return false;
    return true;
}

static gait_cell trimmed(gait_cell cell)
{
    while (cell.length && is_blank(*cell.at)) cell.at++, cell.length--;
    while (cell.length && is_blank(cell.at[cell.length - 1])) cell.length--;
    return cell;
}

bool gait_cell_number(gait_cell cell, double *out)
{
    cell = trimmed(cell);
    return cell.length > 0 && hw_text_number(cell.at, cell.length, out);
}

bool gait_cell_is(gait_cell cell, const char *word)
{
    char text[HW_GAIT_NAME];
    gait_cell_name(cell, text);
    return strlen(word) == trimmed(cell).length && hw_text_same(text, word);
}

// Printable ASCII; other bytes become '?'.
void gait_cell_name(gait_cell cell, char out[static HW_GAIT_NAME])
{
    cell = trimmed(cell);
    size_t count = cell.length < HW_GAIT_NAME - 1 ? cell.length : HW_GAIT_NAME - 1;
    for (size_t i = 0; i < count; i++)
        out[i] = cell.at[i] >= 0x20 && cell.at[i] < 0x7f ? cell.at[i] : '?';
    out[count] = 0;
}

double hw_gait_unit(const char *word)
{
    static const struct {
        const char *word;
        double m;
    } units[] = {{"mm", 1e-3}, {"cm", 1e-2}, {"m", 1.0}};
    for (size_t i = 0; i < sizeof units / sizeof *units; i++)
        if (hw_text_same(units[i].word, word)) return units[i].m;
    return 0.0;
}

hw_status gait_open_room(hw_job *job, hw_arena *into, hw_gait_record *record, gait_room *out)
{
    const long most = 1L << 24;
    *out = (gait_room){0};
    if (record->marker_count > HW_GAIT_MARKERS || record->plate_count > HW_GAIT_PLATES ||
        (long)record->marker_count * record->frame_count > most || record->sample_count > most)
        return hw_fail(
            job, HW_BAD_FORMAT,
            "%d markers in %d frames and %d plates with %d samples are more than is read",
            record->marker_count, record->frame_count, record->plate_count, record->sample_count);
    size_t points = (size_t)record->marker_count * (size_t)record->frame_count;
    HW_ALLOC(job, into, out->names, record->marker_count + 1);
    HW_ALLOC(job, into, out->points, points + 1);
    HW_ALLOC(job, into, out->is_seen, points + 1);
    for (int i = 0; i < record->plate_count; i++) {
        HW_ALLOC(job, into, out->force[i], record->sample_count + 1);
        HW_ALLOC(job, into, out->pressure[i], record->sample_count + 1);
        record->plates[i] = (hw_gait_plate){out->force[i], out->pressure[i]};
    }
    record->names = (const char(*)[HW_GAIT_NAME])out->names;
    record->points = out->points, record->is_seen = out->is_seen;
    return HW_OK;
}
