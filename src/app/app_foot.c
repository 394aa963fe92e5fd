// SPDX-License-Identifier: GPL-3.0-or-later
#include "app/app.h"
#include "meshfile/meshfile.h"

#include <stdio.h>
#include <string.h>

// 20 million triangles of ASCII STL would be more; nobody has seen one.
#define SCAN_BYTES_MAX ((size_t)2 << 30)

hw_status hw_app_foot(hw_job *job, const char *path, const hw_scan_ask *ask, hw_arena *into,
                      hw_scan_result *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_bytes file = {0};
    hw_mesh raw = {0};
    HW_TRY(hw_file_read(job, path, SCAN_BYTES_MAX, tmp.arena, &file));
    HW_TRY(hw_meshfile_read(job, file, tmp.arena, &raw, NULL));
    HW_TRY(hw_scan_foot(job, &raw, ask, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}
