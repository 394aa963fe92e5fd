// SPDX-License-Identifier: GPL-3.0-or-later
// Invented scans for bench/batch.py: invented_scans COUNT FOLDER writes scan-0000.stl ..., each another foot.
#include "demo/demo.h"
#include "files/files.h"
#include "meshfile/meshfile.h"

#include <stdio.h>
#include <stdlib.h>

enum { TRIANGLES = 6000 };

static hw_status write_scan(hw_job *job, int index, const char *folder, hw_arena *into)
{
    hw_random random = hw_random_begin((uint64_t)index + 1);
    hw_demo_foot_order order = hw_demo_foot_order_default();
    hw_mesh scan = {0};
    hw_demo_truth truth = {0};
    hw_file_set file = {0};
    hw_bytes bytes = {0};
    const char *name = NULL;
    order.side = index % 2 ? HW_SIDE_RIGHT : HW_SIDE_LEFT;
    order.seed = (uint64_t)index;
    order.foot_length_m = 0.22 + 0.07 * hw_random_uniform(&random);
    order.ball_breadth_m = 0.385 * order.foot_length_m;
    order.heel_breadth_m = 0.66 * order.ball_breadth_m;
    order.dorsum_height_m = 0.232 * order.foot_length_m;
    order.arch_apex_height_m = 0.006 + 0.02 * hw_random_uniform(&random);
    order.triangles = TRIANGLES;
    order.noise_m = 0.0002;
    order.strays = 12;
    order.open_top = true;
    order.turned = true;
    HW_TRY(hw_demo_foot(job, &order, into, &scan, &truth));
    HW_TRY(hw_meshfile_stl(job, &scan, "invented foot scan, millimetres", into, &bytes));
    HW_TRY(hw_text_format(job, into, &name, "scan-%04d.stl", index));
    HW_TRY(hw_file_set_add(job, &file, name, bytes));
    return hw_file_set_write(job, &file, folder);
}

int main(int count, char **texts)
{
    hw_job job = {0};
    hw_arena *into = hw_arena_new((size_t)1 << 30);
    int wanted = count == 3 ? atoi(texts[1]) : 0;
    hw_status status = HW_BAD_INPUT;
    if (wanted < 1 || !into || hw_job_open(&job, (size_t)1 << 30) != HW_OK) {
        fprintf(stderr, "invented_scans COUNT FOLDER\n");
        return 2;
    }
    for (int i = 0; i < wanted; i++) {
        hw_arena_mark mark = hw_arena_here(into);
        status = write_scan(&job, i, texts[2], into);
        if (status != HW_OK) break;
        hw_arena_rewind(into, mark);
    }
    if (status != HW_OK) fprintf(stderr, "%s\n", job.why);
    hw_job_close(&job);
    hw_arena_free(into);
    return status == HW_OK ? 0 : 1;
}
