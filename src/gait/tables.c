// SPDX-License-Identifier: GPL-3.0-or-later
// Text files of markers and forces: TRC, "[Force Data]", and tables with named columns.
#include "gait_internal.h"

#include <math.h>
#include <stdio.h>

static bool is_empty(gait_cell line)
{
    return gait_holds_only(line, " \t");
}

static int count_lines(gait_text text)
{
    gait_cell line = {0};
    int count = 0;
    while (gait_next_line(&text, &line)) count += !is_empty(line);
    return count;
}

// -- TRC: five lines of head, then frame, time, three numbers a marker

typedef struct trc_head {
    double rate, frames, markers, m_per_unit;
} trc_head;

static hw_status read_trc_head(hw_job *job, gait_text *text, trc_head *out)
{
    gait_cell line = {0}, values = {0}, name = {0}, value = {0};
    *out = (trc_head){0};
    if (!gait_next_line(text, &line) || !gait_next_line(text, &line) ||
        !gait_next_line(text, &values))
        return hw_fail(job, HW_BAD_FORMAT, "the TRC file ends in its head");
    while (gait_next_cell(&line, false, &name) && gait_next_cell(&values, false, &value)) {
        char word[HW_GAIT_NAME];
        if (gait_cell_is(name, "DataRate")) gait_cell_number(value, &out->rate);
        if (gait_cell_is(name, "NumFrames")) gait_cell_number(value, &out->frames);
        if (gait_cell_is(name, "NumMarkers")) gait_cell_number(value, &out->markers);
        if (gait_cell_is(name, "Units"))
            gait_cell_name(value, word), out->m_per_unit = hw_gait_unit(word);
    }
    if (!(out->rate > 0.0 && out->rate < 1e5) || !(out->frames >= 1.0 && out->frames < 1e7) ||
        !(out->markers >= 1.0 && out->markers <= HW_GAIT_MARKERS))
        return hw_fail(job, HW_BAD_FORMAT,
                       "the TRC file's head (line 3) says %g frames of %g markers at %g per second",
                       out->frames, out->markers, out->rate);
    if (out->m_per_unit == 0.0)
        return hw_fail(job, HW_BAD_FORMAT, "the TRC file's unit of length is none of mm, cm and m");
    return HW_OK;
}

static hw_status read_trc_names(hw_job *job, gait_text *text, int count,
                                char (*names)[HW_GAIT_NAME])
{
    gait_cell line = {0}, cell = {0};
    int found = 0;
    if (!gait_next_line(text, &line)) line.at = NULL;
    for (int i = 0; gait_next_cell(&line, false, &cell) && found < count; i++)
        if (i >= 2 && !is_empty(cell)) gait_cell_name(cell, names[found++]);
    if (found < count)
        return hw_fail(job, HW_BAD_FORMAT, "the TRC file names %d markers of %d (line 4)", found,
                       count);
    if (!gait_next_line(text, &line)) // X1 Y1 Z1 ...
        return hw_fail(job, HW_BAD_FORMAT, "the TRC file ends in its head");
    return HW_OK;
}

// Empty cells, and any spelling of "nan", mean that the marker was not seen.
static hw_status read_coordinate(hw_job *job, gait_cell cell, int line, double *out, bool *is_seen)
{
    if (gait_cell_number(cell, out)) return HW_OK;
    if (!is_empty(cell) && !gait_cell_is(cell, "nan"))
        return hw_fail(job, HW_BAD_FORMAT, "line %d: '%.*s' is no number", line,
                       (int)(cell.length < 30 ? cell.length : 30), cell.at);
    *is_seen = false, *out = 0.0;
    return HW_OK;
}

static hw_status read_trc_frame(hw_job *job, gait_cell line, int number,
                                const hw_gait_record *record, double m_per_unit, hw_vec3 *points,
                                bool *is_seen)
{
    gait_cell cell = {0};
    gait_next_cell(&line, false, &cell), gait_next_cell(&line, false, &cell);
    for (int i = 0; i < record->marker_count; i++) {
        double v[3] = {0};
        is_seen[i] = true;
        for (int k = 0; k < 3; k++) {
            // A row may end early: what follows was not seen.
            if (!gait_next_cell(&line, false, &cell)) cell = (gait_cell){"", 0};
            HW_TRY(read_coordinate(job, cell, number, &v[k], &is_seen[i]));
        }
        if (is_seen[i]) points[i] = hw_vec3_scale((hw_vec3){v[0], v[1], v[2]}, m_per_unit);
    }
    return HW_OK;
}

hw_status gait_read_trc(hw_job *job, hw_bytes bytes, hw_arena *into, hw_gait_record *out)
{
    gait_text text = {(const char *)bytes.at, (const char *)bytes.at + bytes.count, 0};
    gait_room room = {0};
    trc_head head = {0};
    gait_cell line = {0};
    HW_TRY(read_trc_head(job, &text, &head));
    hw_gait_record record = {.rate_Hz = head.rate,
                             .frame_count = (int)head.frames,
                             .marker_count = (int)head.markers,
                             .first_frame = 1};
    if (record.frame_count > count_lines(text))
        return hw_fail(job, HW_BAD_FORMAT, "the TRC file says %d frames and has %d lines",
                       record.frame_count, count_lines(text) - 2);
    HW_TRY(gait_open_room(job, into, &record, &room));
    HW_TRY(read_trc_names(job, &text, record.marker_count, room.names));
    int frame = 0;
    while (frame < record.frame_count && gait_next_line(&text, &line)) {
        size_t at = (size_t)frame * (size_t)record.marker_count;
        if (is_empty(line)) continue;
        HW_TRY(read_trc_frame(job, line, text.line, &record, head.m_per_unit, room.points + at,
                              room.is_seen + at));
        frame++;
    }
    if (frame < record.frame_count)
        return hw_fail(job, HW_BAD_FORMAT, "the TRC file says %d frames and has %d",
                       record.frame_count, frame);
    snprintf(record.kind, sizeof record.kind, "TRC");
    *out = record;
    return HW_OK;
}

// -- "[Force Data]": seven columns a plate, FX FY FZ X Y Z MZ

static double value_after(gait_cell line, const char *key)
{
    size_t length = strlen(key);
    double value = 0.0;
    if (line.length <= length || memcmp(line.at, key, length) != 0) return 0.0;
    gait_cell_number((gait_cell){line.at + length, line.length - length}, &value);
    return value;
}

hw_status gait_read_forces(hw_job *job, hw_bytes bytes, const hw_gait_ask *ask, hw_arena *into,
                           hw_gait_record *out)
{
    gait_text text = {(const char *)bytes.at, (const char *)bytes.at + bytes.count, 0};
    gait_cell line = {0}, cell = {0};
    gait_room room = {0};
    double plates = 0.0, rate = 0.0, samples = 0.0;
    while (gait_next_line(&text, &line) && !(line.length && line.at[0] == '#')) {
        plates = fmax(plates, value_after(line, "NumberOfForcePlates="));
        rate = fmax(rate, value_after(line, "SampleRate="));
        samples = fmax(samples, value_after(line, "NumberOfSamples="));
    }
    if (!(plates >= 1.0 && plates <= HW_GAIT_PLATES) || !(rate > 0.0 && rate < 1e6) ||
        !(samples >= 1.0 && samples <= count_lines(text)))
        return hw_fail(
            job, HW_BAD_FORMAT,
            "the force table's head says %g plates, %g samples at %g per second; it has %d lines",
            plates, samples, rate, count_lines(text));
    if (ask->m_per_unit <= 0.0)
        return hw_fail(job, HW_BAD_INPUT,
                       "the force table does not say its unit of length; say mm, cm or m");
    hw_gait_record record = {
        .force_rate_Hz = rate, .sample_count = (int)samples, .plate_count = (int)plates};
    HW_TRY(gait_open_room(job, into, &record, &room));
    for (int s = 0; s < record.sample_count; s++) {
        if (!gait_next_line(&text, &line)) line.at = NULL;
        gait_next_cell(&line, false, &cell);
        for (int p = 0; p < record.plate_count; p++) {
            double v[7] = {0};
            for (int k = 0; k < 7; k++)
                if (!gait_next_cell(&line, false, &cell) || !gait_cell_number(cell, &v[k]))
                    return hw_fail(job, HW_BAD_FORMAT, "line %d: number %d of plate %d is missing",
                                   text.line, k + 1, p + 1);
            room.force[p][s] = (hw_vec3){v[0], v[1], v[2]};
            room.pressure[p][s] = hw_vec3_scale((hw_vec3){v[3], v[4], v[5]}, ask->m_per_unit);
        }
    }
    snprintf(record.kind, sizeof record.kind, "force table");
    *out = record;
    return HW_OK;
}

// -- a table with named columns

enum { COLUMNS_MAX = 3 * HW_GAIT_MARKERS };

// Which column is what: 3 * marker + axis, or one of the plate's, or the time.
typedef struct columns {
    int count, markers, time;
    int marker_of[COLUMNS_MAX];                          // -1: none
    int force_of[COLUMNS_MAX], pressure_of[COLUMNS_MAX]; // axis, or -1
} columns;

static int axis_of(char letter)
{
    return letter == 'x' || letter == 'X'   ? 0
           : letter == 'y' || letter == 'Y' ? 1
           : letter == 'z' || letter == 'Z' ? 2
                                            : -1;
}

// Names of three columns in a row that end in x, y and z make a marker.
static void sort_columns(const char (*names)[HW_GAIT_NAME], columns *out,
                         char (*markers)[HW_GAIT_NAME])
{
    for (int i = 0; i < out->count; i++) {
        size_t length = strlen(names[i]);
        int axis = length > 1 ? axis_of(names[i][length - 1]) : -1;
        out->marker_of[i] = out->force_of[i] = out->pressure_of[i] = -1;
        if (hw_text_same(names[i], "time")) out->time = i;
        if (axis < 0) continue;
        char stem[HW_GAIT_NAME];
        memcpy(stem, names[i], length), stem[length - 1] = 0;
        if (hw_text_same(stem, "F")) {
            out->force_of[i] = axis;
        } else if (hw_text_same(stem, "COP")) {
            out->pressure_of[i] = axis;
        } else if (axis == 0 && out->markers < HW_GAIT_MARKERS) {
            memcpy(markers[out->markers], stem, sizeof stem);
            out->marker_of[i] = 3 * out->markers++;
        } else if (axis > 0 && i > 0 &&
                   out->marker_of[i - 1] == 3 * (out->markers - 1) + axis - 1) {
            out->marker_of[i] = 3 * (out->markers - 1) + axis;
        }
    }
}

static int axes_in(const int *of, int count)
{
    unsigned seen = 0;
    for (int i = 0; i < count; i++)
        if (of[i] >= 0) seen |= 1u << of[i];
    return seen == 7u;
}

static hw_status read_columns(hw_job *job, gait_text *text, hw_arena *tmp, columns *out,
                              char (**markers)[HW_GAIT_NAME])
{
    char(*names)[HW_GAIT_NAME] = NULL;
    gait_cell line = {0}, cell = {0};
    double number = 0.0;
    HW_ALLOC(job, tmp, names, COLUMNS_MAX);
    HW_ALLOC(job, tmp, *markers, HW_GAIT_MARKERS);
    out->time = -1;
    if (!gait_next_line(text, &line)) line.at = NULL;
    while (out->count < COLUMNS_MAX && gait_next_cell(&line, false, &cell)) {
        if (gait_cell_number(cell, &number))
            return hw_fail(job, HW_BAD_FORMAT,
                           "the table has no line of column names: its first line holds numbers, "
                           "and what they "
                           "are cannot be known");
        gait_cell_name(cell, names[out->count++]);
    }
    sort_columns((const char(*)[HW_GAIT_NAME])names, out, *markers);
    if (out->time < 0 || (out->markers == 0 && !axes_in(out->force_of, out->count)))
        return hw_fail(
            job, HW_BAD_FORMAT,
            "this is no C3D, TRC or force table, nor a table with columns Time and NAMEx, NAMEy, "
            "NAMEz or Fx, Fy, Fz");
    return HW_OK;
}

static hw_status read_row(hw_job *job, gait_cell line, int number, const columns *of,
                          double *values)
{
    gait_cell cell = {0};
    for (int i = 0; i < of->count; i++)
        if (!gait_next_cell(&line, false, &cell) || !gait_cell_number(cell, &values[i]))
            return hw_fail(job, HW_BAD_FORMAT, "line %d: column %d holds no number", number, i + 1);
    return HW_OK;
}

static void put_row(const columns *of, const double *values, double m_per_unit, int frame,
                    const gait_room *room, const hw_gait_record *record)
{
    hw_vec3 *points = room->points + (size_t)frame * (size_t)record->marker_count;
    for (int i = 0; i < of->count; i++) {
        if (of->marker_of[i] >= 0) {
            double *at = &points[of->marker_of[i] / 3].x;
            at[of->marker_of[i] % 3] = values[i] * m_per_unit;
        }
        if (record->plate_count && of->force_of[i] >= 0)
            (&room->force[0][frame].x)[of->force_of[i]] = values[i];
        if (record->plate_count && of->pressure_of[i] >= 0)
            (&room->pressure[0][frame].x)[of->pressure_of[i]] = values[i] * m_per_unit;
    }
    for (int k = 0; k < record->marker_count; k++)
        room->is_seen[(size_t)frame * (size_t)record->marker_count + (size_t)k] = true;
}

hw_status gait_read_table(hw_job *job, hw_bytes bytes, const hw_gait_ask *ask, hw_arena *into,
                          hw_gait_record *out)
{
    gait_text text = {(const char *)bytes.at, (const char *)bytes.at + bytes.count, 0};
    hw_scratch tmp = hw_scratch_begin(job, into);
    char(*markers)[HW_GAIT_NAME] = NULL;
    columns *of = NULL;
    double *values = NULL, first = 0.0, last = 0.0;
    gait_cell line = {0};
    gait_room room = {0};
    HW_ALLOC(job, tmp.arena, of, 1);
    HW_ALLOC(job, tmp.arena, values, COLUMNS_MAX);
    HW_TRY(read_columns(job, &text, tmp.arena, of, &markers));
    if (ask->m_per_unit <= 0.0)
        return hw_fail(job, HW_BAD_INPUT,
                       "the table does not say its unit of length; say mm, cm or m");
    hw_gait_record record = {
        .frame_count = count_lines(text), .marker_count = of->markers, .first_frame = 1};
    record.plate_count = axes_in(of->force_of, of->count) && axes_in(of->pressure_of, of->count);
    record.sample_count = record.plate_count ? record.frame_count : 0;
    HW_TRY(gait_open_room(job, into, &record, &room));
    memcpy(room.names, markers, (size_t)of->markers * sizeof *markers);
    for (int frame = 0; frame < record.frame_count && gait_next_line(&text, &line);) {
        if (is_empty(line)) continue;
        HW_TRY(read_row(job, line, text.line, of, values));
        put_row(of, values, ask->m_per_unit, frame, &room, &record);
        if (frame == 0) first = values[of->time];
        last = values[of->time];
        frame++;
    }
    if (record.frame_count < 2 || !(last > first))
        return hw_fail(job, HW_BAD_FORMAT, "the table's time does not run on");
    record.rate_Hz = (record.frame_count - 1) / (last - first);
    if (record.plate_count) record.force_rate_Hz = record.rate_Hz;
    snprintf(record.kind, sizeof record.kind, "table");
    hw_scratch_end(tmp);
    *out = record;
    return HW_OK;
}
