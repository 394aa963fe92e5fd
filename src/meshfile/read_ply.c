// SPDX-License-Identifier: GPL-3.0-or-later
// PLY: elements and properties in whatever order and type the header declares.
#include "read_internal.h"

#include <limits.h>
#include <string.h>

enum { ELEMENTS_MAX = 16, PROPERTIES_MAX = 64 };

typedef enum body_kind { TEXT, LITTLE, BIG } body_kind;

typedef enum number_type { I8, U8, I16, U16, I32, U32, F32, F64, NO_TYPE } number_type;

static const struct {
    const char *name, *sized_name;
    size_t bytes;
} number_types[] = {
    {"char", "int8", 1}, {"uchar", "uint8", 1}, {"short", "int16", 2},   {"ushort", "uint16", 2},
    {"int", "int32", 4}, {"uint", "uint32", 4}, {"float", "float32", 4}, {"double", "float64", 8},
};

typedef enum role { PASSED_OVER, X, Y, Z, RED, GREEN, BLUE, CORNERS } role;

typedef struct property {
    number_type type;
    number_type count_type; // NO_TYPE for a single value
    role role;
} property;

typedef enum element_kind { OTHER, VERTICES, FACES } element_kind;

typedef struct element {
    element_kind kind;
    long long count;
    property properties[PROPERTIES_MAX];
    int property_count;
} element;

typedef struct header {
    body_kind encoding;
    element elements[ELEMENTS_MAX];
    int element_count;
} header;

static number_type type_of(span token)
{
    for (int i = 0; i < NO_TYPE; i++)
        if (token_is(token, number_types[i].name) || token_is(token, number_types[i].sized_name))
            return (number_type)i;
    return NO_TYPE;
}

static hw_status bad_header(hw_job *job, const char *what)
{
    return hw_fail(job, HW_BAD_FORMAT, "the header of the PLY file is damaged: %s", what);
}

static hw_status read_format(hw_job *job, span line, header *h, hw_meshfile_facts *facts)
{
    static const struct {
        const char *word, *shown;
    } rows[] = {{"ascii", "PLY ASCII"},
                {"binary_little_endian", "PLY little-endian"},
                {"binary_big_endian", "PLY big-endian"}};
    span word = next_token(&line);
    for (int i = 0; i < 3; i++) {
        if (!token_is(word, rows[i].word)) continue;
        h->encoding = (body_kind)i;
        facts->format = rows[i].shown;
        return HW_OK;
    }
    return bad_header(job, "its format is none of ascii, little and big endian");
}

static hw_status read_element(hw_job *job, span line, header *h)
{
    if (h->element_count == ELEMENTS_MAX) return bad_header(job, "too many elements");
    element *e = &h->elements[h->element_count];
    span name = next_token(&line);
    if (token_is(name, "vertex")) e->kind = VERTICES;
    if (token_is(name, "face")) e->kind = FACES;
    if (!token_integer(next_token(&line), &e->count) || e->count < 0 || e->count > INT_MAX / 3)
        return bad_header(job, "an element has no sensible count");
    for (int i = 0; i < h->element_count; i++)
        if (e->kind != OTHER && h->elements[i].kind == e->kind)
            return bad_header(job, "points or faces are declared twice");
    h->element_count++;
    return HW_OK;
}

static role role_of(element_kind kind, span name, bool is_list)
{
    if (kind == FACES && is_list) {
        bool corners = token_is(name, "vertex_indices") || token_is(name, "vertex_index");
        return corners ? CORNERS : PASSED_OVER;
    }
    if (kind != VERTICES || is_list) return PASSED_OVER;
    if (token_is(name, "x")) return X;
    if (token_is(name, "y")) return Y;
    if (token_is(name, "z")) return Z;
    static const char *const colours[3] = {"red", "green", "blue"};
    for (int i = 0; i < 3; i++)
        if (token_is(name, colours[i])) return (role)(RED + i);
    return PASSED_OVER;
}

static hw_status read_property(hw_job *job, span line, header *h)
{
    if (h->element_count == 0) return bad_header(job, "a property before the first element");
    element *e = &h->elements[h->element_count - 1];
    if (e->property_count == PROPERTIES_MAX) return bad_header(job, "too many properties");
    property p = {.count_type = NO_TYPE};
    span word = next_token(&line);
    bool is_list = token_is(word, "list");
    if (is_list) {
        p.count_type = type_of(next_token(&line));
        if (p.count_type >= F32) return bad_header(job, "a list is counted by no integer");
        word = next_token(&line);
    }
    p.type = type_of(word);
    span name = next_token(&line);
    if (p.type == NO_TYPE || name.at == name.end)
        return bad_header(job, "a property of unknown type");
    p.role = role_of(e->kind, name, is_list);
    for (int i = 0; i < e->property_count; i++)
        if (p.role != PASSED_OVER && e->properties[i].role == p.role)
            return bad_header(job, "a property is declared twice");
    e->properties[e->property_count++] = p;
    return HW_OK;
}

// The body starts right behind the end of the line end_header. Where the header's lines end in CR
// alone, a following LF belongs to the body.
static void skip_line_end(span *text, bool only_cr)
{
    bool is_cr = text->at < text->end && *text->at == '\r';
    if (is_cr) text->at++;
    if (is_cr && only_cr) return;
    if (text->at < text->end && *text->at == '\n') text->at++;
}

static hw_status read_header(hw_job *job, span *text, header *h, hw_meshfile_facts *facts)
{
    span line = next_line(text);
    bool only_cr = line.end + 1 < text->end && line.end[0] == '\r' && line.end[1] != '\n';
    bool has_format = false;
    while (text->at < text->end) {
        line = next_line(text);
        const char *line_end = line.end;
        span word = next_token(&line);
        if (token_is(word, "end_header")) {
            if (!has_format) return bad_header(job, "it names no format");
            text->at = line_end;
            skip_line_end(text, only_cr);
            return HW_OK;
        }
        has_format = has_format || token_is(word, "format");
        if (token_is(word, "format")) HW_TRY(read_format(job, line, h, facts));
        if (token_is(word, "element")) HW_TRY(read_element(job, line, h));
        if (token_is(word, "property")) HW_TRY(read_property(job, line, h));
    }
    return bad_header(job, "it has no end_header");
}

static hw_status cut_off(hw_job *job)
{
    return hw_fail(job, HW_BAD_FORMAT,
                   "the PLY file ends before all the points and faces it announces: it is cut off");
}

static double number_from(const unsigned char *at, number_type type, bool is_big)
{
    size_t count = number_types[type].bytes;
    uint64_t bits = 0;
    for (size_t i = 0; i < count; i++) bits |= (uint64_t)at[is_big ? count - 1 - i : i] << 8 * i;
    float f32;
    double f64;
    uint32_t low = (uint32_t)bits;
    switch (type) {
    case I8:
        return (double)(int8_t)bits;
    case I16:
        return (double)(int16_t)bits;
    case I32:
        return (double)(int32_t)low;
    case F32:
        memcpy(&f32, &low, sizeof f32);
        return (double)f32;
    case F64:
        memcpy(&f64, &bits, sizeof f64);
        return f64;
    default:
        return (double)bits; // U8, U16, U32
    }
}

static hw_status read_number(hw_job *job, span *body, body_kind encoding, number_type type,
                             double *out)
{
    if (encoding == TEXT) {
        span token = next_token(body);
        if (token.at == token.end) return cut_off(job);
        return read_coordinate(job, token, out);
    }
    size_t bytes = number_types[type].bytes;
    if (span_length(*body) < bytes) return cut_off(job);
    *out = number_from((const unsigned char *)body->at, type, encoding == BIG);
    body->at += bytes;
    return HW_OK;
}

// Values nobody asked for: in a text they may be nan.
static hw_status pass_over(hw_job *job, span *body, body_kind encoding, number_type type,
                           long long count)
{
    if (encoding != TEXT) {
        size_t bytes = number_types[type].bytes;
        if ((unsigned long long)count > span_length(*body) / bytes) return cut_off(job);
        body->at += bytes * (size_t)count;
        return HW_OK;
    }
    for (long long i = 0; i < count; i++) {
        span token = next_token(body);
        if (token.at == token.end) return cut_off(job);
    }
    return HW_OK;
}

// What a walk over the body fills. Without arrays it only counts.
typedef struct walk {
    span body;
    body_kind encoding;
    face_list *list; // NULL in the counting walk
    size_t face_ints;
} walk;

static hw_status read_list(hw_job *job, walk *w, const property *p)
{
    double count = 0.0;
    HW_TRY(read_number(job, &w->body, w->encoding, p->count_type, &count));
    if (!(count >= 0.0 && count <= (double)span_length(w->body)))
        return hw_fail(job, HW_BAD_FORMAT, "a list of the PLY file has a count beyond its bytes");
    long long length = (long long)count;
    if (p->role != CORNERS || !w->list) {
        if (p->role == CORNERS) w->face_ints += (size_t)length + 1;
        return pass_over(job, &w->body, w->encoding, p->type, length);
    }
    int *face = &w->list->faces[w->list->face_ints];
    face[0] = (int)length;
    for (long long i = 1; i <= length; i++) {
        double corner = 0.0;
        HW_TRY(read_number(job, &w->body, w->encoding, p->type, &corner));
        face[i] = corner >= 0.0 && corner < (double)INT_MAX ? (int)corner : -1;
    }
    w->list->face_ints += (size_t)length + 1;
    return HW_OK;
}

// Integers run to 255, reals to 1.
static unsigned char colour_of(double value, number_type type)
{
    double full = type >= F32 ? 255.0 * value : value;
    return full > 0.0 ? (unsigned char)fmin(255.0, full + 0.5) : 0; // NaN is none
}

// A colour that is no number is black, not a fault: nothing is measured by it.
static hw_status read_colour(hw_job *job, walk *w, number_type type, unsigned char *out)
{
    double value = 0.0;
    if (w->encoding == TEXT) {
        span token = next_token(&w->body);
        if (token.at == token.end) return cut_off(job);
        if (!hw_text_number(token.at, span_length(token), &value)) value = 0.0;
    } else {
        HW_TRY(read_number(job, &w->body, w->encoding, type, &value));
    }
    *out = colour_of(value, type);
    return HW_OK;
}

static hw_status read_row(hw_job *job, walk *w, const element *e)
{
    double row[Z + 1] = {0}; // by role
    unsigned char colour[3] = {0};
    for (int i = 0; i < e->property_count; i++) {
        const property *p = &e->properties[i];
        bool is_colour = p->role >= RED && p->role <= BLUE;
        if (p->count_type != NO_TYPE)
            HW_TRY(read_list(job, w, p));
        else if (p->role == PASSED_OVER || !w->list || (is_colour && !w->list->colours))
            HW_TRY(pass_over(job, &w->body, w->encoding, p->type, 1));
        else if (is_colour)
            HW_TRY(read_colour(job, w, p->type, &colour[p->role - RED]));
        else
            HW_TRY(read_number(job, &w->body, w->encoding, p->type, &row[p->role]));
    }
    if (e->kind != VERTICES || !w->list) return HW_OK;
    if (w->list->colours) memcpy(w->list->colours[w->list->point_count], colour, sizeof colour);
    w->list->points[w->list->point_count++] = (hw_vec3){row[X], row[Y], row[Z]};
    return HW_OK;
}

static hw_status walk_body(hw_job *job, const header *h, walk *w)
{
    for (int i = 0; i < h->element_count; i++) {
        const element *e = &h->elements[i];
        // Each property takes a byte at least, so a count that lies is found within the file.
        for (long long row = 0; e->property_count > 0 && row < e->count; row++)
            HW_TRY(read_row(job, w, e));
    }
    return HW_OK;
}

static hw_status check_header(hw_job *job, const header *h, size_t body_bytes, int *point_count)
{
    bool has_corners = false;
    for (int i = 0; i < h->element_count; i++) {
        const element *e = &h->elements[i];
        int places = 0;
        for (int k = 0; k < e->property_count; k++) {
            places += e->properties[k].role == X || e->properties[k].role == Y ||
                      e->properties[k].role == Z;
            has_corners = has_corners || e->properties[k].role == CORNERS;
        }
        if (e->kind == VERTICES && e->count > 0 && places != 3)
            return bad_header(job, "points lack x, y or z");
        if (e->kind == VERTICES) *point_count = (int)e->count;
    }
    if ((size_t)*point_count > body_bytes) return cut_off(job);
    if (has_corners || *point_count == 0 || *point_count >= CLOUD_POINTS_LEAST) return HW_OK;
    return refuse_points(job, *point_count);
}

// All three of them, for each point.
static bool has_colours(const header *h)
{
    int found = 0;
    for (int i = 0; i < h->element_count; i++)
        for (int k = 0; h->elements[i].kind == VERTICES && k < h->elements[i].property_count; k++) {
            role of = h->elements[i].properties[k].role;
            found += of >= RED && of <= BLUE;
        }
    return found == 3;
}

hw_status read_ply(hw_job *job, hw_bytes file, hw_arena *into, hw_mesh *out,
                   hw_meshfile_facts *facts)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    header *h = NULL;
    HW_ALLOC(job, tmp.arena, h, 1);
    span body = {(const char *)file.at, (const char *)file.at + file.count};
    HW_TRY(read_header(job, &body, h, facts));
    int point_count = 0;
    HW_TRY(check_header(job, h, span_length(body), &point_count));
    walk counting = {.body = body, .encoding = h->encoding};
    HW_TRY(walk_body(job, h, &counting));
    face_list list = {0};
    HW_ALLOC(job, into, list.points, point_count);
    HW_ALLOC(job, tmp.arena, list.faces, counting.face_ints);
    if (has_colours(h)) HW_ALLOC(job, into, list.colours, point_count);
    walk reading = {.body = body, .encoding = h->encoding, .list = &list};
    HW_TRY(walk_body(job, h, &reading));
    HW_TRY(split_faces(job, &list, into, out, facts));
    hw_scratch_end(tmp);
    return HW_OK;
}
