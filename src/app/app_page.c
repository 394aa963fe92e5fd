// SPDX-License-Identifier: GPL-3.0-or-later
#include "app/app.h"
#include "meshfile/meshfile.h"

static hw_status add_mesh(hw_job *job, const hw_mesh *surface, hw_side side, const char *what,
                          hw_arena *into, hw_file_set *out)
{
    const char *name = NULL;
    hw_bytes bytes = {0};
    HW_TRY(hw_text_format(job, into, &name, "%s_%s.mesh", hw_side_word(side), what));
    HW_TRY(hw_meshfile_page(job, surface, into, &bytes));
    return hw_file_set_add(job, out, name, bytes);
}

static hw_status add_meshes(hw_job *job, const hw_report_foot *of, hw_arena *into, hw_file_set *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    if (of->scan) {
        const hw_foot *foot = &of->scan->foot;
        hw_pose exit_pose = hw_foot_exit(foot->side);
        hw_mesh shown = {0};
        HW_TRY(hw_mesh_place(job, &foot->surface, &exit_pose, tmp.arena, &shown));
        HW_TRY(add_mesh(job, &shown, foot->side, "foot", into, out));
    }
    if (of->orthosis) {
        hw_mesh shown = {0};
        HW_TRY(hw_orthosis_exit(job, of->orthosis, tmp.arena, &shown));
        HW_TRY(add_mesh(job, &shown, of->orthosis->side, "orthosis", into, out));
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_app_sketch_files(hw_job *job, const hw_report *report, hw_arena *into,
                              hw_file_set *out)
{
    hw_file_set files = {0};
    hw_bytes visit = {0}, press = {0};
    HW_TRY(hw_report_visit_json(job, report, into, &visit));
    HW_TRY(hw_file_set_add(job, &files, "visit.json", visit));
    HW_TRY(hw_report_press_json(job, report, into, &press));
    HW_TRY(hw_file_set_add(job, &files, "press.json", press));
    for (int i = 0; i < 2; i++) HW_TRY(add_meshes(job, &report->feet[i], into, &files));
    *out = files;
    return HW_OK;
}

hw_status hw_app_page_files(hw_job *job, const hw_report *report, hw_bytes case_file,
                            hw_arena *into, hw_file_set *out)
{
    hw_file_set files = {0};
    hw_bytes walk = {0}, picture = {0}, press = {0}, fit = {0};
    HW_TRY(hw_app_visit_files(job, report, into, &files));
    if (case_file.count > 0) {
        hw_bytes bundle = {0};
        HW_TRY(hw_app_fhir(job, report, case_file, &files, into, &bundle));
        HW_TRY(hw_file_set_add(job, &files, "visit-bundle.json", bundle));
    }
    HW_TRY(hw_report_walk_json(job, report, into, &walk));
    HW_TRY(hw_report_load_pdf(job, report, into, &picture));
    HW_TRY(hw_file_set_add(job, &files, "walk.json", walk));
    HW_TRY(hw_report_press_json(job, report, into, &press));
    HW_TRY(hw_file_set_add(job, &files, "press.json", press));
    HW_TRY(hw_report_fit_json(job, report, into, &fit));
    HW_TRY(hw_file_set_add(job, &files, "fit.json", fit));
    HW_TRY(hw_file_set_add(job, &files, "load.pdf", picture));
    for (int i = 0; i < 2; i++) HW_TRY(add_meshes(job, &report->feet[i], into, &files));
    *out = files;
    return HW_OK;
}
