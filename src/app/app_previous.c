// SPDX-License-Identifier: GPL-3.0-or-later
// A device against the one before it: from that one's case, or from its file.
#include "app/app.h"
#include "meshfile/meshfile.h"

#include <string.h>

enum { PREVIOUS_BYTES_MAX = 256 << 20 };

static bool is_case(const char *path)
{
    size_t length = strlen(path);
    return length > 5 && strcmp(path + length - 5, ".json") == 0;
}

static hw_status lay(hw_job *job, const hw_mesh *previous, hw_arena *into, hw_report_foot *foot)
{
    hw_orthosis_against *found = NULL;
    HW_ALLOC(job, into, found, 1);
    HW_TRY(hw_orthosis_lay_on(job, foot->orthosis, previous, into, found));
    foot->against = found;
    return HW_OK;
}

static hw_status lay_on_report(hw_job *job, const hw_report *earlier, hw_arena *into,
                               hw_report *report)
{
    int laid = 0;
    for (int i = 0; i < 2; i++) {
        if (!report->feet[i].orthosis || !earlier->feet[i].orthosis) continue;
        HW_TRY(lay(job, &earlier->feet[i].orthosis->solid, into, &report->feet[i]));
        laid++;
    }
    if (laid > 0) return HW_OK;
    return hw_fail(job, HW_BAD_INPUT, "the earlier case makes no device for a foot of this one");
}

static hw_status lay_on_case(hw_job *job, const char *path, hw_arena *into, hw_report *report,
                             hw_faults *faults)
{
    hw_report *earlier = NULL;
    HW_ALLOC(job, into, earlier, 1);
    HW_TRY(hw_app_visit_at(job, path, HW_APP_ORTHOSIS, into, earlier, faults));
    return lay_on_report(job, earlier, into, report);
}

hw_status hw_app_lay_on_visit(hw_job *job, hw_bytes case_file, const hw_app_source *source,
                              int parts, hw_arena *into, hw_report *report)
{
    hw_report *earlier = NULL;
    hw_faults faults = {.into = into};
    HW_ALLOC(job, into, earlier, 1);
    parts = HW_APP_ORTHOSIS | (parts & (HW_APP_LEFT_ALONE | HW_APP_RIGHT_ALONE));
    HW_TRY(hw_app_visit(job, case_file, source, parts, into, earlier, &faults));
    return lay_on_report(job, earlier, into, report);
}

// Of two devices a mesh alone does not say which one it was.
static hw_status only_foot(hw_job *job, hw_report *report, hw_report_foot **out)
{
    hw_report_foot *left = &report->feet[0], *right = &report->feet[1];
    if (left->orthosis && right->orthosis)
        return hw_fail(
            job, HW_BAD_INPUT,
            "this case makes two devices and one STL was given as the earlier one: is it "
            "the left's or the right's? Give its case, or a case with one foot");
    *out = left->orthosis ? left : right;
    if ((*out)->orthosis) return HW_OK;
    return hw_fail(job, HW_BAD_INPUT, "no device was made to be laid on it");
}

static hw_status read_mesh(hw_job *job, hw_bytes file, hw_arena *into, hw_mesh *out)
{
    char why[sizeof job->why];
    hw_status status = hw_meshfile_read(job, file, into, out, NULL);
    if (status == HW_OK) return HW_OK;
    memcpy(why, job->why, sizeof why);
    return hw_fail(job, status, "the earlier device's file: %.180s", why);
}

// An STL of ours, mm, in its side's own shape. What is wrong with the file is said first.
static hw_status lay_on_file(hw_job *job, const char *path, hw_arena *into, hw_report *report)
{
    hw_report_foot *foot = NULL;
    hw_bytes file = {0};
    hw_mesh raw = {0}, solid = {0};
    HW_TRY(hw_file_read(job, path, PREVIOUS_BYTES_MAX, into, &file));
    HW_TRY(read_mesh(job, file, into, &raw));
    HW_TRY(only_foot(job, report, &foot));
    hw_pose to_metres = hw_pose_identity(), mirror = hw_foot_exit(foot->orthosis->side);
    to_metres.scale = hw_m_from_mm(1.0);
    hw_pose whole = hw_pose_chain(&to_metres, &mirror);
    HW_TRY(hw_mesh_place(job, &raw, &whole, into, &solid));
    return lay(job, &solid, into, foot);
}

hw_status hw_app_lay_on_previous(hw_job *job, const char *path, hw_arena *into, hw_report *report,
                                 hw_faults *faults)
{
    return is_case(path) ? lay_on_case(job, path, into, report, faults)
                         : lay_on_file(job, path, into, report);
}
