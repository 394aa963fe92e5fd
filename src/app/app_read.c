// SPDX-License-Identifier: GPL-3.0-or-later
// What comes from outside is parsed in a shut-in process; what comes back is our own plain form.
#include "app/app.h"
#include "meshfile/meshfile.h"

#include <math.h>
#include <string.h>

static hw_status read_scan(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    hw_mesh mesh = {0};
    HW_TRY(hw_meshfile_read(job, in, into, &mesh, NULL));
    return hw_meshfile_ply(job, &mesh, into, out);
}

static hw_status read_image(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    hw_image image = {0};
    HW_TRY(hw_image_read(job, in, into, &image));
    return hw_image_pack(job, &image, into, out);
}

// A byte of the unit stands before the file: the child knows nothing else of what was asked.
static const double walk_units_m[] = {0.0, 1e-3, 1e-2, 1.0};
enum { WALK_UNITS = sizeof walk_units_m / sizeof *walk_units_m };

static hw_status read_walk(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    hw_gait_record record = {0};
    if (in.count < 1 || in.at[0] >= WALK_UNITS)
        return hw_fail(job, HW_BAD_FORMAT, "the walk has no bytes");
    const hw_gait_ask ask = {.m_per_unit = walk_units_m[in.at[0]]};
    HW_TRY(hw_gait_read(job, (hw_bytes){in.at + 1, in.count - 1}, &ask, into, &record));
    return hw_gait_pack(job, &record, into, out);
}

// What the file does not say of its cells is asked later (HW_BAD_INPUT); here it must only be a matrix.
static hw_status read_pressure(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    hw_pressure_map map = {0};
    const hw_pressure_ask nothing = {0};
    hw_status status = hw_pressure_read(job, in, &nothing, into, &map);
    if (status != HW_OK && status != HW_BAD_INPUT) return status;
    *out = in;
    return HW_OK;
}

// 5 million triangles of STL: 250 MB in, 800 MB of points and corners, 250 MB out. A film: 400 MB of pixels
// decoded, and once more as they go out.
static const hw_sandbox_task tasks[HW_APP_READS] = {
    [HW_APP_READ_SCAN] = {"scan", read_scan, {(size_t)4 << 30, 60, 90, (size_t)400 << 20}},
    [HW_APP_READ_IMAGE] = {"image", read_image, {(size_t)4 << 30, 60, 90, (size_t)420 << 20}},
    [HW_APP_READ_PRESSURE] = {"pressure",
                              read_pressure,
                              {(size_t)1 << 30, 20, 30, (size_t)300 << 20}},
    [HW_APP_READ_WALK] = {"walk", read_walk, {(size_t)2 << 30, 30, 45, (size_t)400 << 20}},
};

const hw_sandbox_task *hw_app_tasks(int *count)
{
    *count = HW_APP_READS;
    return tasks;
}

hw_status hw_app_read(hw_job *job, hw_app_kind kind, hw_bytes bytes, hw_arena *into, hw_bytes *out)
{
    return hw_sandbox_run(job, &tasks[kind], bytes, into, out);
}

hw_status hw_app_read_walk(hw_job *job, hw_bytes file, double m_per_unit, hw_arena *into,
                           hw_bytes *out)
{
    unsigned char *bytes = NULL, unit = 0;
    HW_ALLOC(job, into, bytes, file.count + 1);
    while (unit < WALK_UNITS && fabs(walk_units_m[unit] - m_per_unit) > 1e-9) unit++;
    if (unit == WALK_UNITS)
        return hw_fail(job, HW_BAD_INPUT, "a walk's unit of length is mm, cm or m, not one of %g m",
                       m_per_unit);
    bytes[0] = unit;
    if (file.count) memcpy(bytes + 1, file.at, file.count);
    return hw_app_read(job, HW_APP_READ_WALK, (hw_bytes){bytes, file.count + 1}, into, out);
}
