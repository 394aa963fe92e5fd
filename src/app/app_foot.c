// SPDX-License-Identifier: GPL-3.0-or-later
#include "app/app.h"
#include "meshfile/meshfile.h"

// 20 million triangles of ASCII STL would be more; nobody has seen one.
#define SCAN_BYTES_MAX ((size_t)2 << 30)

static hw_status read_in_folder(hw_job *job, void *folder, const char *name, hw_arena *into,
                                hw_bytes *out)
{
    const char *path = NULL;
    HW_TRY(hw_file_join(job, folder, name, into, &path));
    return hw_file_read(job, path, SCAN_BYTES_MAX, into, out);
}

hw_app_source hw_app_folder(const char *folder)
{
    return (hw_app_source){.read = read_in_folder, .from = (void *)folder}; // only ever read
}

// A file as triangles.
typedef struct raw_scan {
    hw_mesh mesh;
    hw_meshfile_facts facts;
} raw_scan;

static hw_status scan_raw(hw_job *job, const raw_scan *raw, const hw_scan_ask *ask, hw_arena *into,
                          hw_scan_pair *out)
{
    hw_scan_ask full = *ask;
    full.cloud_points = raw->facts.cloud_points;
    return hw_scan_feet(job, &raw->mesh, &full, into, out);
}

static hw_status only_one(hw_job *job, const hw_scan_pair *pair, hw_scan_result *out)
{
    if (pair->count != 1)
        return hw_fail(job, HW_BAD_INPUT,
                       "the scan shows two feet; state which side is meant, or cut out one foot");
    *out = pair->feet[0];
    return HW_OK;
}

hw_status hw_app_feet(hw_job *job, hw_bytes file, const hw_scan_ask *ask, hw_arena *into,
                      hw_scan_pair *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    raw_scan raw = {0};
    HW_TRY(hw_meshfile_read(job, file, tmp.arena, &raw.mesh, &raw.facts));
    HW_TRY(scan_raw(job, &raw, ask, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_app_foot(hw_job *job, hw_bytes file, const hw_scan_ask *ask, hw_arena *into,
                      hw_scan_result *out)
{
    hw_scan_pair pair = {0};
    HW_TRY(hw_app_feet(job, file, ask, into, &pair));
    return only_one(job, &pair, out);
}

hw_status hw_app_feet_at(hw_job *job, const char *path, const hw_scan_ask *ask, hw_arena *into,
                         hw_scan_pair *out)
{
    raw_scan raw = {0};
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_bytes file = {0};
    HW_TRY(hw_file_read(job, path, SCAN_BYTES_MAX, tmp.arena, &file));
    HW_TRY(hw_meshfile_read(job, file, into, &raw.mesh, &raw.facts));
    hw_scratch_end(
        tmp); // the file's bytes go before the work begins: they are as large as the mesh
    return scan_raw(job, &raw, ask, into, out);
}

hw_status hw_app_foot_at(hw_job *job, const char *path, const hw_scan_ask *ask, hw_arena *into,
                         hw_scan_result *out)
{
    hw_scan_pair pair = {0};
    HW_TRY(hw_app_feet_at(job, path, ask, into, &pair));
    return only_one(job, &pair, out);
}

hw_status hw_app_compare_at(hw_job *job, const char *const paths[2], const hw_scan_ask *ask,
                            hw_arena *into, hw_scan_result scans[2], hw_scan_comparison *out)
{
    hw_scan_ask full = *ask;
    full.wants_spread = true; // without it no difference can be judged
    for (int i = 0; i < 2; i++) HW_TRY(hw_app_foot_at(job, paths[i], &full, into, &scans[i]));
    return hw_scan_compare(job, &scans[0], &scans[1], into, out);
}
