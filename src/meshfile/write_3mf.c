// SPDX-License-Identifier: GPL-3.0-or-later
// 3MF core 1.4.0: three parts in a zip, one object, millimetres.
#include "meshfile/meshfile.h"

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

static void write_mesh(hw_writer *writer, const hw_mesh *solid)
{
    hw_writer_print(writer, "   <mesh>\n    <vertices>\n");
    for (int i = 0; i < solid->point_count; i++) {
        hw_vec3 p = solid->points[i];
        // 0.1 um: far below any machine, so that rounding joins no two points of a shell
        hw_writer_print(writer, "     <vertex x=\"%.4f\" y=\"%.4f\" z=\"%.4f\"/>\n",
                        hw_mm_from_m(p.x), hw_mm_from_m(p.y), hw_mm_from_m(p.z));
    }
    hw_writer_print(writer, "    </vertices>\n    <triangles>\n");
    for (int i = 0; i < solid->triangle_count; i++) {
        const int *t = solid->triangles[i];
        hw_writer_print(writer, "     <triangle v1=\"%d\" v2=\"%d\" v3=\"%d\"/>\n", t[0], t[1],
                        t[2]);
    }
    hw_writer_print(writer, "    </triangles>\n   </mesh>\n");
}

static hw_status write_model(hw_job *job, const hw_mesh *solid, const char *title, hw_arena *into,
                             hw_bytes *out)
{
    hw_writer writer = hw_writer_begin(into);
    hw_box box = hw_mesh_box(solid);
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
    hw_writer_print(&writer,
                    "  </object>\n </resources>\n <build>\n"
                    "  <item objectid=\"1\" transform=\"1 0 0 0 1 0 0 0 1 %.4f %.4f %.4f\"/>\n"
                    " </build>\n</model>\n",
                    hw_mm_from_m(-box.low.x), hw_mm_from_m(-box.low.y), hw_mm_from_m(-box.low.z));
    return hw_writer_end(job, &writer, out);
}

// One part, deflated, with the same time always (1 January 1980, DOS's first day).
static bool add_part(zip_t *zip, const char *name, hw_bytes part)
{
    zip_source_t *source = zip_source_buffer(zip, part.at, part.count, 0);
    if (!source) return false;
    zip_int64_t index = zip_file_add(zip, name, source, ZIP_FL_ENC_UTF_8);
    if (index < 0) {
        zip_source_free(source);
        return false;
    }
    return zip_file_set_dostime(zip, (zip_uint64_t)index, 0, 0x21, 0) == 0 &&
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

static hw_status check_solid(hw_job *job, const hw_mesh *solid)
{
    hw_mesh_faults faults = {0};
    HW_TRY(hw_mesh_check(job, solid, &faults));
    if (faults.bad_indices) return hw_fail(job, HW_BAD_INPUT, "%d bad indices", faults.bad_indices);
    if (faults.open_edges || faults.crowded_edges || faults.clashing_edges ||
        faults.flat_triangles || faults.double_points || faults.loose_points)
        return hw_fail(job, HW_BAD_INPUT,
                       "not a closed solid: %d open, %d crowded, %d clashing edges, %d flat "
                       "triangles, %d double and %d loose points",
                       faults.open_edges, faults.crowded_edges, faults.clashing_edges,
                       faults.flat_triangles, faults.double_points, faults.loose_points);
    if (solid->triangle_count < 4 || hw_mesh_volume(solid) <= 0.0)
        return hw_fail(job, HW_BAD_INPUT, "the solid is empty or turned inside out");
    return HW_OK;
}

hw_status hw_meshfile_3mf(hw_job *job, const hw_mesh *solid, const char *title, hw_arena *into,
                          hw_bytes *out)
{
    hw_bytes model = {0};
    HW_TRY(check_solid(job, solid));
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_TRY(write_model(job, solid, title, tmp.arena, &model));
    HW_TRY(pack(job, model, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}
