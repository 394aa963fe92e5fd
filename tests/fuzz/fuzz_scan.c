// SPDX-License-Identifier: GPL-3.0-or-later
// The bytes spoil an invented foot: which points move where, which triangles point elsewhere. A file's
// bytes would nearly never become enough triangles to get past the first question.
#include "demo/demo.h"
#include "scan/scan.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

// Five bytes a change: place (two), kind, value (two).
static void spoil(hw_mesh *mesh, const unsigned char *at)
{
    int place = at[0] | at[1] << 8, value = at[3] | at[4] << 8;
    hw_vec3 *p = &mesh->points[place % mesh->point_count];
    int *corner = mesh->triangles[place % mesh->triangle_count];
    switch (at[2] % 6) {
    case 0:
        p->x += (value - 32768) * 1e-6;
        break;
    case 1:
        p->y = (value - 32768) * 1e3;
        break;
    case 2:
        memcpy(&p->z, at, 5); // any bits: also not a number
        break;
    case 3:
        corner[value % 3] = value - 100;
        break;
    case 4:
        corner[0] = value % mesh->point_count;
        break;
    default:
        mesh->triangle_count = 1 + place % mesh->triangle_count;
    }
}

// The foot as it was before it is spoilt, made once.
static const hw_mesh *whole_foot(void)
{
    static hw_mesh raw;
    static hw_arena *into; // kept until the end
    if (into) return &raw;
    hw_job job;
    into = hw_arena_new((size_t)64 << 20);
    if (!into || hw_job_open(&job, (size_t)64 << 20) != HW_OK) abort();
    hw_demo_foot_order order = hw_demo_foot_order_default();
    order.triangles = 2000;
    hw_demo_truth truth = {0};
    if (hw_demo_foot(&job, &order, into, &raw, &truth) != HW_OK) abort();
    hw_job_close(&job);
    return &raw;
}

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
    hw_job job;
    hw_arena *into = hw_arena_new((size_t)64 << 20);
    if (!into || hw_job_open(&job, (size_t)64 << 20) != HW_OK) abort();
    hw_mesh raw = *whole_foot();
    raw.points = hw_arena_take(into, (size_t)raw.point_count, sizeof *raw.points);
    raw.triangles = hw_arena_take(into, (size_t)raw.triangle_count, sizeof *raw.triangles);
    memcpy(raw.points, whole_foot()->points, (size_t)raw.point_count * sizeof *raw.points);
    memcpy(raw.triangles, whole_foot()->triangles,
           (size_t)raw.triangle_count * sizeof *raw.triangles);
    for (size_t i = 0; i + 5 <= size && i < 500; i += 5) spoil(&raw, data + i);
    hw_scan_ask ask = hw_scan_ask_default();
    ask.side = size % 2 ? HW_SIDE_LEFT : HW_SIDE_UNKNOWN;
    hw_scan_result scan = {0};
    hw_status status = hw_scan_foot(&job, &raw, &ask, into, &scan);
    if (status != HW_OK && !job.why[0]) abort();
    if (status == HW_OK && !(scan.foot.landmarks.mth5.y > scan.foot.landmarks.mth1.y)) abort();
    hw_job_close(&job);
    hw_arena_free(into);
    return 0;
}
