// SPDX-License-Identifier: GPL-3.0-or-later
#include "meshfile/meshfile.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
    hw_job job;
    hw_arena *into = hw_arena_new((size_t)64 << 20);
    if (!into || hw_job_open(&job, (size_t)64 << 20) != HW_OK) abort();
    hw_mesh mesh = {0};
    hw_mesh_faults faults = {0};
    hw_status status = hw_meshfile_read(&job, (hw_bytes){data, size}, into, &mesh, NULL);
    // What is read must stand: triangles of points that are there.
    if (status == HW_OK && hw_mesh_check(&job, &mesh, &faults) == HW_OK &&
        (mesh.triangle_count < 1 || faults.bad_indices > 0))
        abort();
    if (status != HW_OK && !job.why[0]) abort();
    hw_job_close(&job);
    hw_arena_free(into);
    return 0;
}
