// SPDX-License-Identifier: GPL-3.0-or-later
//
// files: whole files in, whole sets of files out. It owns the operating system's file calls.
//
//     HW_TRY(hw_file_read(job, "left.stl", 1u << 30, into, &bytes));
//     hw_file_set set = {0};
//     HW_TRY(hw_file_set_add(job, &set, "plan.pdf", pdf));
//     HW_TRY(hw_file_set_write(job, &set, "out"));      // all of them or none
//
#ifndef HW_FILES_H
#define HW_FILES_H

#include "base/base.h"

/// A whole file, followed by one zero byte that is not counted.
///
///   limit_bytes  larger files are refused before they are read
///   fails        HW_NOT_FOUND, HW_NO_ACCESS, HW_IO_FAILED, HW_BAD_INPUT not a plain file or too
///                large, HW_NO_MEMORY
HW_MUST_USE hw_status hw_file_read(hw_job *job, const char *path, size_t limit_bytes,
                                   hw_arena *into, hw_bytes *out);

enum { HW_FILE_SET_MAX = 16 };

/// Files that belong together.
typedef struct hw_file_set {
    struct {
        const char *name; // without folder
        hw_bytes bytes;
    } files[HW_FILE_SET_MAX];
    int count;
} hw_file_set;

/// Names one more file; name and bytes stay the caller's.
///
///   fails   HW_BAD_INPUT a name with a slash, a name twice, more than HW_FILE_SET_MAX
HW_MUST_USE hw_status hw_file_set_add(hw_job *job, hw_file_set *set, const char *name,
                                      hw_bytes bytes);

/// Writes all files into `folder` (made when absent, one level). Each is written beside its place,
/// synced and renamed only when all are complete; on failure none of them is left behind.
///
///   fails   HW_IO_FAILED, HW_NO_ACCESS
HW_MUST_USE hw_status hw_file_set_write(hw_job *job, const hw_file_set *set, const char *folder);

/// The folder part of `path`, "." where it has none, in `into`.
HW_MUST_USE hw_status hw_file_folder(hw_job *job, const char *path, hw_arena *into,
                                     const char **out);

/// `name` seen from `folder`; an absolute name stays.
HW_MUST_USE hw_status hw_file_join(hw_job *job, const char *folder, const char *name,
                                   hw_arena *into, const char **out);

#endif
