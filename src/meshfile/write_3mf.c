// SPDX-License-Identifier: GPL-3.0-or-later
// 3MF core 1.4.0: three parts in a zip, one object, millimetres.
#include "write_internal.h"

#include <string.h>
#include <zip.h>

static const char content_types[] =
    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
    "<Types xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\">\n"
    " <Default Extension=\"rels\" "
    "ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/>\n"
    " <Default Extension=\"model\" "
    "ContentType=\"application/vnd.ms-package.3dmanufacturing-3dmodel+xml\"/>\n"
    "</Types>\n";

static const char relationships[] =
    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
    "<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\">\n"
    " <Relationship Target=\"/3D/3dmodel.model\" Id=\"rel0\" "
    "Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/>\n"
    "</Relationships>\n";

static void write_escaped(hw_writer *writer, const char *text)
{
    for (; *text; text++) {
        if (*text == '&')
            hw_writer_print(writer, "&amp;");
        else if (*text == '<')
            hw_writer_print(writer, "&lt;");
        else if (*text == '"')
            hw_writer_print(writer, "&quot;");
        else
            hw_writer_bytes(writer, text, 1);
    }
}

// m: the last of five decimals of a millimetre. 10 nm is far below any machine, and what is checked
// below is the rounded mesh, the one that is written.
static const double grain = 1e-8;

static hw_vec3 on_grain(hw_vec3 p)
{
    return (hw_vec3){grain * round(p.x / grain), grain * round(p.y / grain),
                     grain * round(p.z / grain)};
}

static hw_status round_points(hw_job *job, const hw_mesh *solid, hw_arena *into, hw_mesh *out)
{
    hw_mesh rounded = *solid;
    HW_ALLOC(job, into, rounded.points, solid->point_count);
    for (int i = 0; i < solid->point_count; i++) rounded.points[i] = on_grain(solid->points[i]);
    *out = rounded;
    return HW_OK;
}

// A length in millimetres by whole numbers: printf would use the locale's comma, which 3MF forbids.
static void write_length(hw_writer *writer, const char *before, double metres)
{
    long long grains = llround(metres / grain);
    long long size = grains < 0 ? -grains : grains;
    hw_writer_print(writer, "%s%s%lld.%05lld", before, grains < 0 ? "-" : "", size / 100000,
                    size % 100000);
}

static void write_mesh(hw_writer *writer, const hw_mesh *solid)
{
    hw_writer_print(writer, "   <mesh>\n    <vertices>\n");
    for (int i = 0; i < solid->point_count; i++) {
        hw_vec3 p = solid->points[i];
        write_length(writer, "     <vertex x=\"", p.x);
        write_length(writer, "\" y=\"", p.y);
        write_length(writer, "\" z=\"", p.z);
        hw_writer_print(writer, "\"/>\n");
    }
    hw_writer_print(writer, "    </vertices>\n    <triangles>\n");
    for (int i = 0; i < solid->triangle_count; i++) {
        const int *t = solid->triangles[i];
        hw_writer_print(writer, "     <triangle v1=\"%d\" v2=\"%d\" v3=\"%d\"/>\n", t[0], t[1],
                        t[2]);
    }
    hw_writer_print(writer, "    </triangles>\n   </mesh>\n");
}

// Into the positive octant: a machine's bed begins at its corner.
static void write_build(hw_writer *writer, const hw_mesh *solid, const char *title)
{
    hw_vec3 low = hw_mesh_box(solid).low;
    hw_writer_print(writer, " <build>\n  <item objectid=\"1\" partnumber=\"");
    write_escaped(writer, title);
    hw_writer_print(writer, "\" transform=\"1 0 0 0 1 0 0 0 1");
    write_length(writer, " ", -low.x);
    write_length(writer, " ", -low.y);
    write_length(writer, " ", -low.z);
    hw_writer_print(writer, "\"/>\n </build>\n");
}

static hw_status write_model(hw_job *job, const hw_mesh *solid, const char *title, hw_arena *into,
                             hw_bytes *out)
{
    hw_writer writer = hw_writer_begin(into);
    hw_writer_print(&writer, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                             "<model unit=\"millimeter\" xml:lang=\"en-GB\" xmlns=\""
                             "http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">\n"
                             " <metadata name=\"Title\">");
    write_escaped(&writer, title);
    hw_writer_print(&writer, "</metadata>\n <metadata name=\"Application\">heelwright " HW_VERSION
                             "</metadata>\n <resources>\n"
                             "  <object id=\"1\" type=\"model\" partnumber=\"");
    write_escaped(&writer, title);
    hw_writer_print(&writer, "\">\n");
    write_mesh(&writer, solid);
    hw_writer_print(&writer, "  </object>\n </resources>\n");
    write_build(&writer, solid, title);
    hw_writer_print(&writer, "</model>\n");
    return hw_writer_end(job, &writer, out);
}

// One part, deflated, with the same time always: noon of DOS's first day, 1 January 1980. libzip
// takes it through local time and back; no zone skips noon, so that the bytes depend on none.
static bool add_part(zip_t *zip, const char *name, hw_bytes part)
{
    zip_source_t *source = zip_source_buffer(zip, part.at, part.count, 0);
    if (!source) return false;
    zip_int64_t index = zip_file_add(zip, name, source, ZIP_FL_ENC_UTF_8);
    if (index < 0) {
        zip_source_free(source);
        return false;
    }
    const zip_uint16_t noon = 12 << 11, new_year_1980 = 1 << 5 | 1;
    return zip_file_set_dostime(zip, (zip_uint64_t)index, noon, new_year_1980, 0) == 0 &&
           zip_set_file_compression(zip, (zip_uint64_t)index, ZIP_CM_DEFLATE, 6) == 0;
}

static hw_bytes bytes_of(const char *text)
{
    return (hw_bytes){(const unsigned char *)text, strlen(text)};
}

// Reads the finished archive out of its memory source.
static hw_status read_back(hw_job *job, zip_source_t *archive, hw_arena *into, hw_bytes *out)
{
    zip_stat_t facts;
    unsigned char *at = NULL;
    if (zip_source_stat(archive, &facts) != 0 || zip_source_open(archive) != 0)
        return hw_fail(job, HW_NO_ANSWER, "the 3MF package cannot be read back");
    at = hw_arena_take(into, facts.size + 1, 1);
    bool whole = at && zip_source_read(archive, at, facts.size) == (zip_int64_t)facts.size;
    zip_source_close(archive);
    if (!at) return hw_fail(job, HW_NO_MEMORY, "no memory for the 3MF package");
    if (!whole) return hw_fail(job, HW_NO_ANSWER, "the 3MF package cannot be read back");
    *out = (hw_bytes){at, facts.size};
    return HW_OK;
}

static hw_status pack(hw_job *job, hw_bytes model, hw_arena *into, hw_bytes *out)
{
    zip_error_t error;
    zip_error_init(&error);
    zip_source_t *archive = zip_source_buffer_create(NULL, 0, 0, &error);
    zip_t *zip = archive ? zip_open_from_source(archive, ZIP_CREATE | ZIP_TRUNCATE, &error) : NULL;
    zip_error_fini(&error);
    if (!zip) {
        if (archive) zip_source_free(archive);
        return hw_fail(job, HW_NO_MEMORY, "no memory for the 3MF package");
    }
    zip_source_keep(archive); // outlives the close, which writes into it
    hw_status status = HW_OK;
    if (!add_part(zip, "[Content_Types].xml", bytes_of(content_types)) ||
        !add_part(zip, "_rels/.rels", bytes_of(relationships)) ||
        !add_part(zip, "3D/3dmodel.model", model) || zip_close(zip) != 0) {
        status =
            hw_fail(job, HW_NO_ANSWER, "the 3MF package cannot be written: %s", zip_strerror(zip));
        zip_discard(zip);
    }
    if (status == HW_OK) status = read_back(job, archive, into, out);
    zip_source_free(archive);
    return status;
}

typedef struct fault_word {
    int count;
    const char *what;
} fault_word;

// The core's rules for an object of type model, worst first.
static hw_status check_solid(hw_job *job, const hw_mesh *solid)
{
    hw_mesh_faults found = {0};
    HW_TRY(hw_mesh_check(job, solid, &found));
    const fault_word words[] = {
        {found.open_edges, "open edges"},
        {found.crowded_edges, "edges of more than two triangles"},
        {found.clashing_edges, "edges whose two triangles are turned against each other"},
        {found.flat_triangles, "triangles without area"},
        {found.double_points, "points at the place of another"},
        {found.loose_points, "points without a triangle"},
    };
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (words[i].count)
            return hw_fail(job, HW_BAD_INPUT, "not a closed solid: %d %s; no 3MF is made of it",
                           words[i].count, words[i].what);
    if (hw_mesh_volume(solid) <= 0.0)
        return hw_fail(job, HW_BAD_INPUT,
                       "the solid is turned inside out (volume %.6g m3); no 3MF is made of it",
                       hw_mesh_volume(solid));
    return HW_OK;
}

hw_status hw_meshfile_3mf(hw_job *job, const hw_mesh *solid, const char *title, hw_arena *into,
                          hw_bytes *out)
{
    hw_mesh rounded = {0};
    hw_bytes model = {0};
    HW_TRY(write_check(job, solid, title));
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_TRY(round_points(job, solid, tmp.arena, &rounded));
    HW_TRY(check_solid(job, &rounded));
    HW_TRY(write_model(job, &rounded, title, tmp.arena, &model));
    HW_TRY(pack(job, model, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}
