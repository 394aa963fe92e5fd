// SPDX-License-Identifier: GPL-3.0-or-later
// 3MF core: the model part of a zip, read as a stream; objects, components and build items.
// source  3MF Consortium, core specification 1.4.0
#include "read_internal.h"

#include <libxml/xmlreader.h>
#include <limits.h>
#include <string.h>
#include <zlib.h>

enum { OBJECTS_MAX = 512, PLACINGS_MAX = 2048, DEPTH_MAX = 8, RATIO_MAX = 200, GROUPS_MAX = 64 };
static const size_t allowance = (size_t)4 << 20, model_bytes_max = (size_t)2 << 30;

bool is_zip(hw_bytes file)
{
    return file.count >= 4 && memcmp(file.at, "PK\x03\x04", 4) == 0;
}

static hw_status damaged(hw_job *job)
{
    return hw_fail(job, HW_BAD_FORMAT, "the 3MF file is damaged or cut off; export it again");
}

static unsigned long little(const unsigned char *at, int bytes)
{
    unsigned long value = 0;
    for (int i = 0; i < bytes; i++) value |= (unsigned long)at[i] << 8 * i;
    return value;
}

// A part as the central directory lists it.
typedef struct zip_part {
    unsigned long method, crc, packed, size, start;
} zip_part;

// The end of the directory: in the last 64 KB, behind it only a comment.
static size_t find_end(hw_bytes file)
{
    size_t least = file.count > 65557 ? file.count - 65557 : 0;
    for (size_t at = file.count < 22 ? 0 : file.count - 22 + 1; at-- > least;)
        if (memcmp(file.at + at, "PK\5\6", 4) == 0) return at;
    return file.count;
}

// The model part: by convention the first whose name ends so.
static bool find_model(hw_bytes file, zip_part *out)
{
    static const char ending[] = ".model";
    size_t end = find_end(file), length = sizeof ending - 1;
    if (end == file.count) return false;
    size_t at = little(file.at + end + 16, 4), count = little(file.at + end + 10, 2);
    for (size_t i = 0; i < count && at + 46 <= end; i++) {
        const unsigned char *e = file.at + at;
        size_t name = little(e + 28, 2);
        if (memcmp(e, "PK\1\2", 4) != 0 || at + 46 + name > end) return false;
        *out = (zip_part){little(e + 10, 2), little(e + 16, 4), little(e + 20, 4),
                          little(e + 24, 4), little(e + 42, 4)};
        if (name > length && memcmp(e + 46 + name - length, ending, length) == 0) return true;
        at += 46 + name + little(e + 30, 2) + little(e + 32, 2);
    }
    return false;
}

static bool inflate_raw(hw_bytes packed, unsigned char *room, size_t size)
{
    z_stream z;
    memset(&z, 0, sizeof z);
    if (inflateInit2(&z, -15) != Z_OK) return false;   // no wrapper
    z.next_in = (unsigned char *)(uintptr_t)packed.at; // zlib reads only
    z.avail_in = (uInt)packed.count;
    z.next_out = room;
    z.avail_out = (uInt)size;
    int end = inflate(&z, Z_FINISH);
    bool is_whole = end == Z_STREAM_END && z.total_out == size;
    inflateEnd(&z);
    return is_whole;
}

// Read here and not by libzip: that one turns the parts' times into local ones, and for it opens
// the zone's file, which the shut-in reader of uploads may not.
static hw_status open_zip(hw_job *job, hw_bytes file, hw_arena *into, hw_bytes *out)
{
    zip_part part = {0};
    if (!find_model(file, &part))
        return hw_fail(job, HW_BAD_FORMAT,
                       "the file is a zip archive without a 3MF model inside, or is cut off");
    size_t limit = file.count * RATIO_MAX + allowance;
    if (limit > model_bytes_max) limit = model_bytes_max;
    if (part.size > limit)
        return hw_fail(job, HW_BAD_FORMAT,
                       "the 3MF model grows beyond %zu bytes when opened, which no scan does",
                       limit);
    if (part.start + 30 > file.count) return damaged(job);
    const unsigned char *head = file.at + part.start;
    size_t body = part.start + 30 + little(head + 26, 2) + little(head + 28, 2);
    if (body > file.count || part.packed > file.count - body) return damaged(job);
    unsigned char *room = NULL;
    HW_ALLOC(job, into, room, part.size + 1);
    const hw_bytes packed = {file.at + body, part.packed};
    bool is_whole = part.method == 0 && part.packed == part.size;
    if (is_whole) memcpy(room, packed.at, part.size);
    if (part.method == 8) is_whole = inflate_raw(packed, room, part.size);
    if (!is_whole || crc32(0, room, (uInt)part.size) != part.crc) return damaged(job);
    *out = (hw_bytes){room, part.size};
    return HW_OK;
}

// Row-vector convention of the standard: x' = x m0 + y m3 + z m6 + m9.
typedef struct placing {
    int object; // id
    double m[12];
} placing;

typedef struct object {
    int id, first_point, first_triangle, point_count, triangle_count;
    int first_placing, placing_count; // its components
} object;

// Colours that triangles name by the group's id and a place in it: "colorgroup" of the materials
// extension, "basematerials" of the core.
typedef struct colour_group {
    int id, first, count;
} colour_group;

typedef struct model {
    hw_vec3 *points;
    int (*triangles)[3];
    unsigned char (*colours)[3]; // of the points
    unsigned char (*palette)[3]; // of all groups, one after the other
    int point_count, triangle_count, palette_count, capacity;
    colour_group groups[GROUPS_MAX];
    int group_count;
    bool is_past_groups; // in a group that there is no room for
    bool has_colours;
    object objects[OBJECTS_MAX];
    int object_count;
    placing placings[PLACINGS_MAX]; // components of objects, then build items
    int placing_count, first_item;
    double scale; // millimetres in a unit
    bool has_build;
} model;

static bool attribute(xmlTextReaderPtr at, const char *name, double *out)
{
    xmlChar *text = xmlTextReaderGetAttribute(at, (const xmlChar *)name);
    bool is_number = text && hw_text_number((const char *)text, strlen((const char *)text), out);
    xmlFree(text);
    return is_number;
}

static bool whole(xmlTextReaderPtr at, const char *name, int *out)
{
    double number = 0.0;
    if (!attribute(at, name, &number) || !(number >= 0.0 && number <= INT_MAX)) return false;
    *out = (int)number;
    return (double)*out == number;
}

static bool read_unit(xmlTextReaderPtr at, double *scale)
{
    static const struct {
        const char *word;
        double millimetres;
    } units[] = {{"micron", 0.001}, {"millimeter", 1.0}, {"centimeter", 10.0},
                 {"inch", 25.4},    {"foot", 304.8},     {"meter", 1000.0}};
    xmlChar *text = xmlTextReaderGetAttribute(at, (const xmlChar *)"unit");
    *scale = text ? 0.0 : 1.0; // the standard's default is the millimetre
    for (size_t i = 0; text && i < sizeof units / sizeof *units; i++)
        if (strcmp((const char *)text, units[i].word) == 0) *scale = units[i].millimetres;
    xmlFree(text);
    return *scale > 0.0;
}

static bool read_transform(xmlTextReaderPtr at, double m[12])
{
    static const double none[12] = {1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0};
    memcpy(m, none, sizeof none);
    xmlChar *text = xmlTextReaderGetAttribute(at, (const xmlChar *)"transform");
    if (!text) return true;
    span rest = {(const char *)text, (const char *)text + strlen((const char *)text)};
    bool is_read = true;
    for (int k = 0; k < 12 && is_read; k++) {
        span token = next_token(&rest);
        is_read = hw_text_number(token.at, span_length(token), &m[k]);
    }
    xmlFree(text);
    return is_read;
}

static bool read_placing(xmlTextReaderPtr at, model *of)
{
    if (of->placing_count == PLACINGS_MAX) return false;
    placing *p = &of->placings[of->placing_count++];
    return whole(at, "objectid", &p->object) && read_transform(at, p->m);
}

static bool read_object(xmlTextReaderPtr at, model *of)
{
    if (of->object_count == OBJECTS_MAX) return false;
    object *o = &of->objects[of->object_count++];
    *o = (object){.first_point = of->point_count, .first_triangle = of->triangle_count};
    o->first_placing = of->placing_count;
    return whole(at, "id", &o->id);
}

static bool read_vertex(xmlTextReaderPtr at, model *of)
{
    if (of->object_count == 0 || of->point_count == of->capacity) return false;
    hw_vec3 *p = &of->points[of->point_count++];
    of->objects[of->object_count - 1].point_count++;
    return attribute(at, "x", &p->x) && attribute(at, "y", &p->y) && attribute(at, "z", &p->z);
}

static bool read_group(xmlTextReaderPtr at, model *of)
{
    of->is_past_groups = of->group_count == GROUPS_MAX;
    if (of->is_past_groups)
        return true; // its colours are passed over: what bears them stays without
    colour_group *group = &of->groups[of->group_count++];
    *group = (colour_group){.first = of->palette_count};
    return whole(at, "id", &group->id);
}

// "#RRGGBB" or "#RRGGBBAA"; anything else is black.
static bool read_colour(xmlTextReaderPtr at, const char *name, model *of)
{
    static const char digits[] = "0123456789abcdef0123456789ABCDEF";
    if (of->group_count == 0 || of->is_past_groups || of->palette_count == of->capacity)
        return true;
    unsigned char *colour = of->palette[of->palette_count++];
    of->groups[of->group_count - 1].count++;
    xmlChar *text = xmlTextReaderGetAttribute(at, (const xmlChar *)name);
    for (int i = 0; text && text[0] == '#' && i < 6 && text[i + 1]; i++) {
        const char *digit = strchr(digits, text[i + 1]);
        if (digit) colour[i / 2] = (unsigned char)(16 * colour[i / 2] + (digit - digits) % 16);
    }
    xmlFree(text);
    return true;
}

// A triangle's colours onto its points; where two triangles differ, the later one stands.
static void colour_triangle(xmlTextReaderPtr at, model *of, const int t[3])
{
    int id = 0, place[3];
    if (!whole(at, "pid", &id) || !whole(at, "p1", &place[0])) return;
    if (!whole(at, "p2", &place[1]) || !whole(at, "p3", &place[2])) place[1] = place[2] = place[0];
    for (int i = 0; i < of->group_count; i++) {
        const colour_group *group = &of->groups[i];
        int first = of->objects[of->object_count - 1].first_point;
        if (group->id != id) continue;
        for (int k = 0; k < 3; k++)
            if (place[k] < group->count)
                memcpy(of->colours[first + t[k]], of->palette[group->first + place[k]], 3);
        of->has_colours = true;
    }
}

static bool read_triangle(xmlTextReaderPtr at, model *of)
{
    if (of->object_count == 0 || of->triangle_count == of->capacity) return false;
    object *o = &of->objects[of->object_count - 1];
    int *t = of->triangles[of->triangle_count++];
    o->triangle_count++;
    bool is_right = whole(at, "v1", &t[0]) && whole(at, "v2", &t[1]) && whole(at, "v3", &t[2]) &&
                    t[0] < o->point_count && t[1] < o->point_count && t[2] < o->point_count;
    if (is_right && of->palette_count > 0) colour_triangle(at, of, t);
    return is_right;
}

// One element; false where it breaks the standard.
static bool read_element(xmlTextReaderPtr at, model *of)
{
    const char *name = (const char *)xmlTextReaderConstLocalName(at);
    if (strcmp(name, "vertex") == 0) return read_vertex(at, of);
    if (strcmp(name, "triangle") == 0) return read_triangle(at, of);
    if (strcmp(name, "model") == 0) return read_unit(at, &of->scale);
    if (strcmp(name, "object") == 0) return read_object(at, of);
    if (strcmp(name, "colorgroup") == 0 || strcmp(name, "basematerials") == 0)
        return read_group(at, of);
    if (strcmp(name, "color") == 0) return read_colour(at, "color", of);
    if (strcmp(name, "base") == 0) return read_colour(at, "displaycolor", of);
    if (strcmp(name, "component") == 0) {
        if (of->object_count == 0 || of->has_build) return false;
        of->objects[of->object_count - 1].placing_count++;
        return read_placing(at, of);
    }
    if (strcmp(name, "build") == 0) {
        if (of->has_build) return false;
        of->has_build = true;
        of->first_item = of->placing_count;
        return true;
    }
    return strcmp(name, "item") != 0 || (of->has_build && read_placing(at, of));
}

static hw_status walk_model(hw_job *job, xmlTextReaderPtr at, model *of)
{
    int more = 0;
    while ((more = xmlTextReaderRead(at)) == 1) {
        int kind = xmlTextReaderNodeType(at);
        if (kind == XML_READER_TYPE_DOCUMENT_TYPE)
            return hw_fail(job, HW_BAD_FORMAT,
                           "the 3MF model declares a document type, which the "
                           "standard forbids");
        if (kind == XML_READER_TYPE_ELEMENT && !read_element(at, of))
            return hw_fail(job, HW_BAD_FORMAT,
                           "the 3MF model has a '%.40s' that breaks the standard",
                           (const char *)xmlTextReaderConstLocalName(at));
    }
    return more == 0 ? HW_OK : damaged(job);
}

static const object *object_of(const model *of, int id)
{
    for (int i = 0; i < of->object_count; i++)
        if (of->objects[i].id == id) return &of->objects[i];
    return NULL;
}

static void chain(const double first[12], const double then[12], double out[12])
{
    for (int row = 0; row < 4; row++)
        for (int k = 0; k < 3; k++) {
            const double *f = &first[3 * row];
            out[3 * row + k] = f[0] * then[k] + f[1] * then[3 + k] + f[2] * then[6 + k] +
                               (row == 3 ? then[9 + k] : 0.0);
        }
}

// Triangles and points of a placed object and its components, counted or, with `out`, copied.
typedef struct total {
    long long points, triangles;
} total;

static void copy_object(const model *of, const object *o, const double m[12], hw_mesh *out)
{
    double turn = m[0] * (m[4] * m[8] - m[5] * m[7]) - m[1] * (m[3] * m[8] - m[5] * m[6]) +
                  m[2] * (m[3] * m[7] - m[4] * m[6]); // < 0 mirrors: triangles turn over
    for (int i = 0; i < o->triangle_count; i++) {
        const int *t = of->triangles[o->first_triangle + i];
        int *row = out->triangles[out->triangle_count++];
        row[0] = out->point_count + t[0];
        row[1] = out->point_count + t[turn < 0.0 ? 2 : 1];
        row[2] = out->point_count + t[turn < 0.0 ? 1 : 2];
    }
    for (int i = 0; i < o->point_count; i++) {
        hw_vec3 p = of->points[o->first_point + i];
        hw_vec3 q = {p.x * m[0] + p.y * m[3] + p.z * m[6] + m[9],
                     p.x * m[1] + p.y * m[4] + p.z * m[7] + m[10],
                     p.x * m[2] + p.y * m[5] + p.z * m[8] + m[11]};
        if (out->colours)
            memcpy(out->colours[out->point_count], of->colours[o->first_point + i], 3);
        out->points[out->point_count++] = hw_vec3_scale(q, of->scale);
    }
}

static bool place(const model *of, const placing *p, const double by[12], int depth, total *sum,
                  hw_mesh *out)
{
    const object *o = object_of(of, p->object);
    double m[12];
    if (!o || depth > DEPTH_MAX || sum->triangles > HW_MESHFILE_TRIANGLES_MAX ||
        sum->points > 3LL * HW_MESHFILE_TRIANGLES_MAX)
        return false;
    chain(p->m, by, m);
    sum->points += o->point_count;
    sum->triangles += o->triangle_count;
    if (out) copy_object(of, o, m, out);
    for (int i = 0; i < o->placing_count; i++)
        if (!place(of, &of->placings[o->first_placing + i], m, depth + 1, sum, out)) return false;
    return true;
}

static hw_status build(hw_job *job, const model *of, hw_arena *into, hw_mesh *out)
{
    static const double none[12] = {1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0};
    hw_mesh mesh = {0};
    for (int pass = 0; pass < 2; pass++) {
        total sum = {0};
        for (int i = of->first_item; of->has_build && i < of->placing_count; i++)
            if (!place(of, &of->placings[i], none, 0, &sum, pass ? &mesh : NULL))
                return hw_fail(job, HW_BAD_FORMAT,
                               "an item of the 3MF model names an object that is "
                               "not there, or too many");
        if (pass) break;
        if (sum.triangles > HW_MESHFILE_TRIANGLES_MAX)
            return hw_fail(job, HW_BAD_FORMAT, "the scan has %lld triangles; %d are the limit",
                           sum.triangles, HW_MESHFILE_TRIANGLES_MAX);
        if (sum.triangles == 0)
            return hw_fail(job, HW_BAD_FORMAT, "the 3MF model builds no triangles");
        HW_ALLOC(job, into, mesh.points, sum.points);
        HW_ALLOC(job, into, mesh.triangles, sum.triangles);
        if (of->has_colours) HW_ALLOC(job, into, mesh.colours, sum.points);
    }
    *out = mesh;
    return HW_OK;
}

hw_status read_3mf(hw_job *job, hw_bytes file, hw_arena *into, hw_mesh *out,
                   hw_meshfile_facts *facts)
{
    facts->format = "3MF";
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_bytes text = {0};
    HW_TRY(open_zip(job, file, tmp.arena, &text));
    model *of = NULL;
    HW_ALLOC(job, tmp.arena, of, 1);
    of->scale = 1.0;
    if (text.count > INT_MAX) return damaged(job);
    for (size_t i = 0; i < text.count; i++) of->capacity += text.at[i] == '<';
    HW_ALLOC(job, tmp.arena, of->points, of->capacity + 1);
    HW_ALLOC(job, tmp.arena, of->triangles, of->capacity + 1);
    HW_ALLOC(job, tmp.arena, of->colours, of->capacity + 1);
    HW_ALLOC(job, tmp.arena, of->palette, of->capacity + 1);
    xmlTextReaderPtr reader =
        xmlReaderForMemory((const char *)text.at, (int)text.count, NULL, NULL,
                           XML_PARSE_NONET | XML_PARSE_NOERROR | XML_PARSE_NOWARNING);
    if (!reader) return hw_fail(job, HW_NO_MEMORY, "no memory to open a 3MF model");
    hw_status status = walk_model(job, reader, of);
    xmlFreeTextReader(reader);
    HW_TRY(status);
    HW_TRY(build(job, of, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}
