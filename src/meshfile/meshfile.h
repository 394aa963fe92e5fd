// SPDX-License-Identifier: GPL-3.0-or-later
//
// meshfile: surfaces from and to bytes. STL (binary, ASCII), OBJ, PLY, 3MF and XYZ text in, each
// also gzipped; binary STL, PLY and 3MF out. Points without faces get a surface laid through them.
// It owns zlib, libzip and libxml2.
//
//     hw_mesh raw = {0};
//     HW_TRY(hw_meshfile_read(job, bytes, into, &raw, NULL));
//     HW_TRY(hw_meshfile_stl(job, &solid, "HB-0042 left", into, &file));
//
// It infers no unit: points keep the numbers of the file. It does not repair: see scan.
#ifndef HW_MESHFILE_H
#define HW_MESHFILE_H

#include "geom/geom.h"

/// Limits that cost a hostile file its reading before they cost the machine.
enum { HW_MESHFILE_TRIANGLES_MAX = 20000000 };

/// What the reader found, for the report of what was inferred.
typedef struct hw_meshfile_facts {
    const char
        *format; // "STL binary", "STL ASCII", "OBJ", "PLY ASCII", "PLY little-endian", ... (static)
    bool gzipped;
    int polygons_split;   // faces of more than three corners cut into triangles
    int faces_dropped;    // repeated corners in the file
    int cloud_points;     // of a file without faces, whose surface was laid through them; else 0
    double cloud_spacing; // distance between those, file units
} hw_meshfile_facts;

/// A surface, triangles as they stand (STL: corners at the very same place are one point; see
/// hw_mesh_weld for those that are only nearly there).
///
///   file    the whole file; the format is recognised by content, never by name
///   facts   may be NULL
///   out     points in the file's own units and axes, in `into`; colours of points where PLY, OBJ or
///           3MF have them and there are triangles
///   fails   HW_BAD_FORMAT empty, truncated, counts beyond the bytes, indices beyond the points, no
///           faces and fewer than 3,000 points, not a number or infinite, |coordinate| > 1e6,
///           unknown format; HW_NO_MEMORY
///   source  docs of the formats as in facts: STL 84 + 50 n; OBJ 1-based and negative indices;
///           PLY declared property order
HW_MUST_USE hw_status hw_meshfile_read(hw_job *job, hw_bytes file, hw_arena *into, hw_mesh *out,
                                       hw_meshfile_facts *facts);

/// Binary STL in millimetres. Normals are computed from the corners.
///
///   solid   metres
///   title   at most 79 bytes of ASCII, no patient name: code and side
HW_MUST_USE hw_status hw_meshfile_stl(hw_job *job, const hw_mesh *solid, const char *title,
                                      hw_arena *into, hw_bytes *out);

/// 3MF core in millimetres, one object of type model, moved into the positive octant by the build
/// item's transform. The same bytes for the same input (fixed zip times).
///
///   title         part number and title: code and side, no patient name
///   fails         HW_BAD_INPUT when the solid is not a closed, consistent manifold (hw_mesh_check)
///   source        3MF Consortium, core specification 1.4.0
HW_MUST_USE hw_status hw_meshfile_3mf(hw_job *job, const hw_mesh *solid, const char *title,
                                      hw_arena *into, hw_bytes *out);

/// Binary little-endian PLY with the numbers as they stand, no unit: hw_meshfile_read gives the
/// same points (bit for bit), triangles and colours back. For keeping what an upload held, in one
/// plain layout.
///
///   fails   HW_BAD_INPUT no triangle, too many
///   source  the PLY format as read_ply.c reads it: vertices, then lists of corners
HW_MUST_USE hw_status hw_meshfile_ply(hw_job *job, const hw_mesh *surface, hw_arena *into,
                                      hw_bytes *out);

/// For the screen: "HWM1", uint32 points, uint32 triangles, float32 x y z in mm, uint32 corners;
/// little-endian; with colours "HWM2", and at the end red, green and blue of each point, a byte
/// each. Not a file anybody else reads.
HW_MUST_USE hw_status hw_meshfile_page(hw_job *job, const hw_mesh *surface, hw_arena *into,
                                       hw_bytes *out);

#endif
