// SPDX-License-Identifier: GPL-3.0-or-later
// Wavefront OBJ: v and f lines; textures, normals, groups, lines and points are passed over.
#include "read_internal.h"

#include <limits.h>
#include <string.h>

// A line that goes on after a backslash at its end.
static span next_logical_line(span *text)
{
    span line = next_line(text);
    if (line.at < line.end && *line.at == '#') return line; // a comment may end in a folder's name
    while (line.end > line.at && line.end[-1] == '\\' && text->at < text->end) {
        span more = next_line(text);
        line.end = more.end;
    }
    return line;
}

// Inside such a line the backslash is a blank.
static span next_word(span *line)
{
    span word = next_token(line);
    while (word.end - word.at == 1 && *word.at == '\\') word = next_token(line);
    if (word.end > word.at && word.end[-1] == '\\') word.end--;
    return word;
}

// Colours as they stand in the file; `rows` NULL: there are none.
typedef struct coloured {
    double (*rows)[3];
    int count;
} coloured;

static hw_status count_lines(hw_job *job, span text, size_t *points, size_t *face_ints)
{
    while (text.at < text.end) {
        span line = next_logical_line(&text), word = next_word(&line);
        if (token_is(word, "v")) ++*points;
        if (!token_is(word, "f")) continue;
        ++*face_ints;
        while (word = next_word(&line), word.at < word.end) ++*face_ints;
    }
    if (*points > INT_MAX / 3 || *face_ints > INT_MAX)
        return hw_fail(job, HW_BAD_FORMAT, "the OBJ file has more points than can be read (%zu)",
                       *points);
    return HW_OK;
}

// "7", "7/1", "7//3", "7/1/3", "-1": the point is what stands before the first slash.
static hw_status read_corner(hw_job *job, span word, int points_so_far, int *out)
{
    const char *slash = memchr(word.at, '/', span_length(word));
    span number = {word.at, slash ? slash : word.end};
    long long index = 0;
    if (!token_integer(number, &index) || index == 0 || index > INT_MAX)
        return hw_fail(job, HW_BAD_FORMAT, "a face of the OBJ file has a corner that is no number");
    if (index < 0) index += points_so_far + 1LL;
    if (index < 1)
        return hw_fail(job, HW_BAD_FORMAT, "a face of the OBJ file names a point before the first");
    *out = (int)index - 1;
    return HW_OK;
}

static hw_status read_face(hw_job *job, span line, face_list *list)
{
    size_t start = list->face_ints++;
    span word;
    while (word = next_word(&line), word.at < word.end)
        HW_TRY(read_corner(job, word, list->point_count, &list->faces[list->face_ints++]));
    list->faces[start] = (int)(list->face_ints - start - 1);
    return HW_OK;
}

// What follows a point: nothing, a weight, or a colour of three numbers up to 1, or up to 255 where
// one is greater; then a weight.
static bool read_colour(span line, double colour[3])
{
    for (int i = 0; i < 3; i++) {
        span word = next_word(&line);
        if (!hw_text_number(word.at, span_length(word), &colour[i])) return false;
    }
    return true;
}

static hw_status read_point(hw_job *job, span line, coloured *into, face_list *list)
{
    hw_vec3 point = {0};
    double colour[3];
    HW_TRY(read_coordinate(job, next_word(&line), &point.x));
    HW_TRY(read_coordinate(job, next_word(&line), &point.y));
    HW_TRY(read_coordinate(job, next_word(&line), &point.z));
    bool is_coloured = into->rows && read_colour(line, colour);
    if (is_coloured) memcpy(into->rows[list->point_count], colour, sizeof colour);
    into->count += is_coloured;
    list->points[list->point_count++] = point;
    return HW_OK;
}

// Colours of all points or of none.
static hw_status take_colours(hw_job *job, const coloured *from, hw_arena *into, face_list *list)
{
    double most = 0.0;
    if (from->count == 0 || from->count < list->point_count) return HW_OK;
    for (int i = 0; i < 3 * from->count; i++) most = fmax(most, from->rows[i / 3][i % 3]);
    double full = most > 1.0 ? 1.0 : 255.0;
    HW_ALLOC(job, into, list->colours, list->point_count);
    for (int i = 0; i < 3 * from->count; i++) {
        double value = full * from->rows[i / 3][i % 3];
        list->colours[i / 3][i % 3] = value > 0.0 ? (unsigned char)fmin(255.0, value + 0.5) : 0;
    }
    return HW_OK;
}

// Whether the first point has a colour: then room is made for all.
static bool is_coloured(span text)
{
    double ignored[3];
    while (text.at < text.end) {
        span line = next_logical_line(&text), word = next_word(&line);
        if (!token_is(word, "v")) continue;
        for (int i = 0; i < 3; i++) next_word(&line);
        return read_colour(line, ignored);
    }
    return false;
}

hw_status read_obj(hw_job *job, span text, hw_arena *into, hw_mesh *out, hw_meshfile_facts *facts)
{
    size_t points = 0, face_ints = 0;
    HW_TRY(count_lines(job, text, &points, &face_ints));
    hw_scratch tmp = hw_scratch_begin(job, into);
    face_list list = {0};
    HW_ALLOC(job, into, list.points, points);
    HW_ALLOC(job, tmp.arena, list.faces, face_ints);
    coloured colours = {0};
    if (is_coloured(text)) HW_ALLOC(job, tmp.arena, colours.rows, points);
    while (text.at < text.end) {
        span line = next_logical_line(&text), word = next_word(&line);
        if (token_is(word, "v")) HW_TRY(read_point(job, line, &colours, &list));
        if (token_is(word, "f")) HW_TRY(read_face(job, line, &list));
    }
    HW_TRY(take_colours(job, &colours, into, &list));
    HW_TRY(split_faces(job, &list, into, out, facts));
    hw_scratch_end(tmp);
    return HW_OK;
}
