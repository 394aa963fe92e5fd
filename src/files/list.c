// SPDX-License-Identifier: GPL-3.0-or-later
#include "files/files_internal.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { DEEP_MAX = 32, FILES_MAX = 1 << 20 };

typedef struct listing {
    hw_job *job;
    hw_arena *into;
    const char *root;
    const char **names;
    int count, capacity;
} listing;

static hw_status add_name(listing *to, const char *name)
{
    if (to->count == FILES_MAX)
        return hw_fail(to->job, HW_BAD_INPUT, "more than %d files in one folder tree", FILES_MAX);
    if (to->count == to->capacity) {
        const char **wider = NULL;
        int capacity = to->capacity ? 2 * to->capacity : 64;
        HW_ALLOC(to->job, to->into, wider, (size_t)capacity);
        if (to->count) memcpy(wider, to->names, (size_t)to->count * sizeof *wider);
        to->names = wider, to->capacity = capacity;
    }
    return hw_text_copy(to->job, to->into, name, &to->names[to->count++]);
}

static hw_status walk(listing *to, const char *below, int depth);

static hw_status take(listing *to, const char *below, const char *name, int depth)
{
    const char *inner = NULL, *path = NULL;
    struct stat facts;
    if (name[0] == '.') return HW_OK; // hidden, and the folder itself
    HW_TRY(hw_text_format(to->job, to->into, &inner, "%s%s%s", below, below[0] ? "/" : "", name));
    HW_TRY(hw_file_join(to->job, to->root, inner, to->into, &path));
    if (lstat(path, &facts) != 0) return HW_OK; // gone meanwhile
    if (S_ISDIR(facts.st_mode)) return walk(to, inner, depth + 1);
    return S_ISREG(facts.st_mode) ? add_name(to, inner) : HW_OK;
}

static hw_status walk(listing *to, const char *below, int depth)
{
    const char *path = NULL;
    hw_status status = HW_OK;
    if (depth > DEEP_MAX)
        return hw_fail(to->job, HW_BAD_INPUT, "folders lie more than %d deep", DEEP_MAX);
    HW_TRY(hw_file_join(to->job, to->root, below[0] ? below : ".", to->into, &path));
    DIR *folder = opendir(path);
    if (!folder) return hw_fail(to->job, hw_files_status(), "%.150s: %s", path, strerror(errno));
    for (struct dirent *one; status == HW_OK && (one = readdir(folder));)
        status = take(to, below, one->d_name, depth);
    closedir(folder);
    return status;
}

static int by_bytes(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

hw_status hw_file_list(hw_job *job, const char *folder, hw_arena *into, hw_file_names *out)
{
    listing to = {.job = job, .into = into, .root = folder};
    HW_TRY(walk(&to, "", 0));
    if (to.count) qsort(to.names, (size_t)to.count, sizeof *to.names, by_bytes);
    *out = (hw_file_names){to.names, to.count};
    return HW_OK;
}
