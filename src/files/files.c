// SPDX-License-Identifier: GPL-3.0-or-later
#include "files/files_internal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

hw_status hw_files_status(void)
{
    if (errno == ENOENT || errno == ENOTDIR) return HW_NOT_FOUND;
    return errno == EACCES || errno == EPERM || errno == EROFS ? HW_NO_ACCESS : HW_IO_FAILED;
}

static hw_status read_open_file(hw_job *job, int file, const char *path, size_t limit_bytes,
                                hw_arena *into, hw_bytes *out)
{
    struct stat facts;
    if (fstat(file, &facts) != 0)
        return hw_fail(job, hw_files_status(), "%.150s: %s", path, strerror(errno));
    if (!S_ISREG(facts.st_mode))
        return hw_fail(job, HW_BAD_INPUT, "%.150s is not a file that can be read whole", path);
    size_t size = (size_t)facts.st_size;
    if (size > limit_bytes)
        return hw_fail(job, HW_BAD_INPUT, "%.150s has %zu MB; the limit is %zu MB", path,
                       size >> 20, limit_bytes >> 20);
    unsigned char *at = NULL;
    HW_ALLOC(job, into, at, size + 1);
    size_t have = 0;
    while (have < size) {
        ssize_t got = read(file, at + have, size - have);
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) return hw_fail(job, hw_files_status(), "%.150s: %s", path, strerror(errno));
        if (got == 0) break; // it became shorter while it was read
        have += (size_t)got;
    }
    *out = (hw_bytes){at, have};
    return HW_OK;
}

hw_status hw_file_read(hw_job *job, const char *path, size_t limit_bytes, hw_arena *into,
                       hw_bytes *out)
{
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (file < 0) return hw_fail(job, hw_files_status(), "%.150s: %s", path, strerror(errno));
    hw_status status = read_open_file(job, file, path, limit_bytes, into, out);
    close(file);
    return status;
}

hw_status hw_file_set_add(hw_job *job, hw_file_set *set, const char *name, hw_bytes bytes)
{
    if (!name[0] || strchr(name, '/') || name[0] == '.' || strlen(name) > 200)
        return hw_fail(job, HW_BAD_INPUT, "'%.100s' is not a name for a file", name);
    if (set->count == HW_FILE_SET_MAX)
        return hw_fail(job, HW_BAD_INPUT, "more than %d files at once", HW_FILE_SET_MAX);
    for (int i = 0; i < set->count; i++)
        if (strcmp(set->files[i].name, name) == 0)
            return hw_fail(job, HW_BAD_INPUT, "two files are called %.100s", name);
    set->files[set->count].name = name;
    set->files[set->count].bytes = bytes;
    set->count++;
    return HW_OK;
}

// The name a file bears while it is incomplete; it starts with a dot, so no finished file has it.
static bool spell(char *path, const char *folder, const char *name, bool incomplete)
{
    int length = snprintf(path, HW_FILES_PATH, "%s/%s%s%s", folder, incomplete ? "." : "", name,
                          incomplete ? ".incomplete" : "");
    return length > 0 && length < HW_FILES_PATH;
}

bool hw_files_write_all(int file, hw_bytes bytes)
{
    size_t done = 0;
    while (done < bytes.count) {
        ssize_t put = write(file, bytes.at + done, bytes.count - done);
        if (put < 0 && errno == EINTR) continue;
        if (put < 0) return false;
        done += (size_t)put;
    }
    return fsync(file) == 0;
}

static bool write_beside(const char *folder, const char *name, hw_bytes bytes)
{
    char path[HW_FILES_PATH];
    if (!spell(path, folder, name, true)) {
        errno = ENAMETOOLONG;
        return false;
    }
    int file = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
    if (file < 0) return false;
    bool written = hw_files_write_all(file, bytes);
    return (close(file) == 0) && written;
}

// A folder in the way of the last rename would leave the earlier files standing: look first.
static bool is_folder(const char *folder, const char *name)
{
    char path[HW_FILES_PATH];
    struct stat facts;
    return spell(path, folder, name, false) && stat(path, &facts) == 0 && S_ISDIR(facts.st_mode);
}

static bool put_in_place(const char *folder, const char *name)
{
    char from[HW_FILES_PATH], to[HW_FILES_PATH];
    if (!spell(from, folder, name, true) || !spell(to, folder, name, false)) return false;
    return rename(from, to) == 0;
}

static void remove_incomplete(const char *folder, const hw_file_set *set)
{
    char path[HW_FILES_PATH];
    for (int i = 0; i < set->count; i++)
        if (spell(path, folder, set->files[i].name, true)) unlink(path);
}

static bool write_set(const hw_file_set *set, const char *folder)
{
    for (int i = 0; i < set->count; i++) {
        if (is_folder(folder, set->files[i].name)) {
            errno = EISDIR;
            return false;
        }
        if (!write_beside(folder, set->files[i].name, set->files[i].bytes)) return false;
    }
    for (int i = 0; i < set->count; i++)
        if (!put_in_place(folder, set->files[i].name)) return false;
    return true;
}

hw_status hw_file_set_write(hw_job *job, const hw_file_set *set, const char *folder)
{
    if (mkdir(folder, 0777) != 0 && errno != EEXIST)
        return hw_fail(job, hw_files_status() == HW_NOT_FOUND ? HW_IO_FAILED : hw_files_status(),
                       "the folder %.150s cannot be made: %s", folder, strerror(errno));
    if (write_set(set, folder)) return HW_OK;
    int problem = errno;
    remove_incomplete(folder, set);
    errno = problem;
    return hw_fail(job, hw_files_status() == HW_NO_ACCESS ? HW_NO_ACCESS : HW_IO_FAILED,
                   "nothing was written to %.150s: %s", folder, strerror(problem));
}

hw_status hw_file_folder(hw_job *job, const char *path, hw_arena *into, const char **out)
{
    const char *slash = strrchr(path, '/');
    if (!slash) return hw_text_copy(job, into, ".", out);
    if (slash == path) return hw_text_copy(job, into, "/", out);
    return hw_text_format(job, into, out, "%.*s", (int)(slash - path), path);
}

hw_status hw_file_join(hw_job *job, const char *folder, const char *name, hw_arena *into,
                       const char **out)
{
    if (name[0] == '/') return hw_text_copy(job, into, name, out);
    return hw_text_format(job, into, out, "%s/%s", folder, name);
}
