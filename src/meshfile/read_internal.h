// SPDX-License-Identifier: GPL-3.0-or-later
// What the readers share: bytes being walked over, and faces of any number of corners on their way
// to triangles.
#ifndef HW_MESHFILE_READ_INTERNAL_H
#define HW_MESHFILE_READ_INTERNAL_H

#include "meshfile/meshfile.h"

/// What is left of a text or body.
typedef struct span {
    const char *at, *end;
} span;

/// Points and faces as a file lists them. `faces` runs [n, corner 1 .. corner n] and so on.
typedef struct face_list {
    hw_vec3 *points;
    int point_count;
    int *faces;
    size_t face_ints;
    unsigned char (*colours)[3]; // of the points; NULL: none
} face_list;

static inline bool is_blank_byte(char c)
{
    return c == ' ' || c == '\t' || c == '\r' || c == '\n' || c == '\v' || c == '\f';
}

/// The next run of bytes that are not blank; empty at the end.
static inline span next_token(span *text)
{
    while (text->at < text->end && is_blank_byte(*text->at)) text->at++;
    span token = {text->at, text->at};
    while (token.end < text->end && !is_blank_byte(*token.end)) token.end++;
    text->at = token.end;
    return token;
}

static inline size_t span_length(span s)
{
    return (size_t)(s.end - s.at);
}

/// The next line without its end; lines end in LF, CR LF or CR.
span next_line(span *text);

/// Whether a token is `word`, whatever the case of its letters.
bool token_is(span token, const char *word);

/// A plain decimal integer, maybe negative, that fills the token.
bool token_integer(span token, long long *out);

/// One coordinate; says whether the trouble is a NaN, an infinity or no number at all.
HW_MUST_USE hw_status read_coordinate(hw_job *job, span token, double *out);

/// Fewer points without faces make no surface of a foot.
enum { CLOUD_POINTS_LEAST = 3000 };

/// Fails: points but no surface.
hw_status refuse_points(hw_job *job, int count);

/// Cuts the faces into triangles. A cloud of points without any face comes out without triangles.
/// Convex faces become fans, others lose one ear after the other.
///
///   fails   HW_BAD_FORMAT an index beyond the points, no face left, too many triangles
HW_MUST_USE hw_status split_faces(hw_job *job, const face_list *list, hw_arena *into, hw_mesh *out,
                                  hw_meshfile_facts *facts);

/// The bytes inside a gzip file, in `into`.
///
///   fails   HW_BAD_FORMAT damaged, cut off, or it grows beyond any mesh's share
HW_MUST_USE hw_status gunzip(hw_job *job, hw_bytes file, hw_arena *into, hw_bytes *out);

/// Points met so far, each once, and a table to find them in.
typedef struct sharer {
    hw_arena *into;
    hw_vec3 *points;
    int *slots; // 1 + a point; 0: free
    size_t slot_count;
    int point_count, capacity;
} sharer;

/// For a file of so many corners; all of it lives in `into`, scratch of the caller's.
HW_MUST_USE hw_status sharer_begin(hw_job *job, int corner_count, hw_arena *into, sharer *out);

/// The number of the point at `p`, which is taken up where there was none. NaN is never the same
/// place.
HW_MUST_USE hw_status sharer_take(hw_job *job, sharer *of, hw_vec3 p, int *out);

bool is_binary_stl(hw_bytes file);

HW_MUST_USE hw_status read_stl_binary(hw_job *job, hw_bytes file, hw_arena *into, hw_mesh *out);
HW_MUST_USE hw_status read_stl_text(hw_job *job, span text, hw_arena *into, hw_mesh *out);
HW_MUST_USE hw_status read_obj(hw_job *job, span text, hw_arena *into, hw_mesh *out,
                               hw_meshfile_facts *facts);
/// Whether a text is lines of at least three numbers, but for a heading and comments.
bool looks_like_points(span text);
HW_MUST_USE hw_status read_points(hw_job *job, span text, hw_arena *into, hw_mesh *out);

bool is_zip(hw_bytes file);

/// A 3MF package: all its build items, in millimetres whatever unit it declares.
///
///   fails   HW_BAD_FORMAT damaged, no model inside, a document type, too deep, too large
HW_MUST_USE hw_status read_3mf(hw_job *job, hw_bytes file, hw_arena *into, hw_mesh *out,
                               hw_meshfile_facts *facts);

HW_MUST_USE hw_status read_ply(hw_job *job, hw_bytes file, hw_arena *into, hw_mesh *out,
                               hw_meshfile_facts *facts);

#endif
