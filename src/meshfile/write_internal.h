// SPDX-License-Identifier: GPL-3.0-or-later
// What both writers ask of a surface and its title.
#ifndef HW_MESHFILE_WRITE_INTERNAL_H
#define HW_MESHFILE_WRITE_INTERNAL_H

#include "meshfile/meshfile.h"

/// That a file can hold it: 1 to HW_MESHFILE_TRIANGLES_MAX triangles, corners inside the points,
/// coordinates that are numbers up to 100 m; a title of 1 to 79 printable ASCII letters that does
/// not begin with "solid".
///
///   fails   HW_BAD_INPUT
HW_MUST_USE hw_status write_check(hw_job *job, const hw_mesh *solid, const char *title);

#endif
