// SPDX-License-Identifier: GPL-3.0-or-later
// Points as lines of text: x y z and whatever follows, parted by blanks, commas or semicolons.
#include "read_internal.h"

#include <limits.h>
#include <string.h>

enum { LINES_LOOKED_AT = 40, LINES_LIKE_POINTS = 5 };

static bool is_part(char c)
{
    return is_blank_byte(c) || c == ',' || c == ';';
}

static span next_number(span *line)
{
    while (line->at < line->end && is_part(*line->at)) line->at++;
    span token = {line->at, line->at};
    while (token.end < line->end && !is_part(*token.end)) token.end++;
    line->at = token.end;
    return token;
}

static bool is_point(span line, hw_vec3 *out)
{
    double xyz[3];
    for (int k = 0; k < 3; k++) {
        span token = next_number(&line);
        if (token.at == token.end || !hw_text_number(token.at, span_length(token), &xyz[k]))
            return false;
    }
    *out = (hw_vec3){xyz[0], xyz[1], xyz[2]};
    return true;
}

static bool is_comment(span line)
{
    span word = next_token(&line);
    return word.at == word.end || *word.at == '#' || *word.at == '%' ||
           (word.end - word.at >= 2 && memcmp(word.at, "//", 2) == 0);
}

bool looks_like_points(span text)
{
    if (memchr(text.at, 0, span_length(text))) return false;
    int points = 0, others = 0;
    hw_vec3 p;
    for (int i = 0; i < LINES_LOOKED_AT && text.at < text.end; i++) {
        span line = next_line(&text);
        if (is_comment(line)) continue;
        if (is_point(line, &p))
            points++;
        else
            others++;
    }
    return points >= LINES_LIKE_POINTS && others <= 2; // a heading, a count
}

// "12,5 3,1 7,0": a comma inside every number, and no point in any.
static bool has_decimal_commas(span line)
{
    int words = 0;
    for (span word = next_token(&line); word.at < word.end; word = next_token(&line), words++) {
        const char *comma = memchr(word.at, ',', span_length(word));
        if (!comma || comma == word.at || comma + 1 == word.end) return false;
        if (memchr(word.at, '.', span_length(word))) return false;
        if (memchr(comma + 1, ',', (size_t)(word.end - comma - 1))) return false;
    }
    return words >= 3;
}

static hw_status read_line(hw_job *job, span line, bool is_early, hw_mesh *mesh)
{
    if (is_comment(line)) return HW_OK;
    if (has_decimal_commas(line))
        return hw_fail(job, HW_BAD_FORMAT,
                       "the numbers of the point file have decimal commas; export it with decimal "
                       "points");
    if (is_point(line, &mesh->points[mesh->point_count])) {
        mesh->point_count++;
        return HW_OK;
    }
    if (is_early) return HW_OK; // a heading or a count
    return hw_fail(job, HW_BAD_FORMAT, "line %d or later of the point file is no point",
                   mesh->point_count + 1);
}

hw_status read_points(hw_job *job, span text, hw_arena *into, hw_mesh *out)
{
    size_t lines = 1;
    for (span rest = text; rest.at < rest.end; lines++) next_line(&rest);
    if (lines > INT_MAX / 3)
        return hw_fail(job, HW_BAD_FORMAT, "the point file has more points than can be read (%zu)",
                       lines);
    hw_mesh mesh = {0};
    HW_ALLOC(job, into, mesh.points, lines);
    for (int i = 0; text.at < text.end; i += i < LINES_LOOKED_AT)
        HW_TRY(read_line(job, next_line(&text), i < LINES_LOOKED_AT, &mesh));
    if (mesh.point_count < CLOUD_POINTS_LEAST) return refuse_points(job, mesh.point_count);
    *out = mesh;
    return HW_OK;
}
