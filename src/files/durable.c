// SPDX-License-Identifier: GPL-3.0-or-later
// Files that must survive a power cut in the middle: each call returns when the disk has it.
#include "files/files_internal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static hw_status fail(hw_job *job, const char *path)
{
    return hw_fail(job, hw_files_status(), "%.150s: %s", path, strerror(errno));
}

// A new name is on the disk only once its folder is synced.
static bool sync_folder_of(const char *path)
{
    char folder[HW_FILES_PATH];
    const char *slash = strrchr(path, '/');
    size_t length = slash ? (size_t)(slash - path) : 0;
    if (length >= sizeof folder) return false;
    memcpy(folder, path, length);
    folder[length] = '\0';
    int file = open(slash ? (length ? folder : "/") : ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (file < 0) return false;
    bool is_synced = fsync(file) == 0;
    close(file);
    return is_synced;
}

bool hw_file_exists(const char *path)
{
    struct stat facts;
    return stat(path, &facts) == 0;
}

hw_status hw_file_make_folder(hw_job *job, const char *folder)
{
    if (mkdir(folder, 0700) != 0 && errno != EEXIST) return fail(job, folder);
    return sync_folder_of(folder) ? HW_OK : fail(job, folder);
}

hw_status hw_file_make_private(hw_job *job, const char *path, hw_bytes bytes)
{
    char beside[HW_FILES_PATH];
    int length = snprintf(beside, sizeof beside, "%s.%ld.incomplete", path, (long)getpid());
    if (length < 0 || length >= (int)sizeof beside)
        return hw_fail(job, HW_BAD_INPUT, "a file's path is too long");
    int file = open(beside, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    if (file < 0) return fail(job, path);
    bool is_made = hw_files_write_all(file, bytes);
    is_made = close(file) == 0 && is_made;
    // a link, not a rename: it never replaces a file somebody else made meanwhile
    is_made = is_made && link(beside, path) == 0;
    int problem = errno;
    unlink(beside);
    errno = problem;
    if (!is_made && problem == EEXIST)
        return hw_fail(job, HW_CLASH, "%.150s is there already", path);
    return is_made && sync_folder_of(path) ? HW_OK : fail(job, path);
}

hw_status hw_file_write_at(hw_job *job, const char *path, size_t offset, hw_bytes bytes)
{
    bool is_new = !hw_file_exists(path);
    int file = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
    if (file < 0) return fail(job, path);
    size_t done = 0;
    bool is_fine = true;
    while (is_fine && done < bytes.count) {
        ssize_t put = pwrite(file, bytes.at + done, bytes.count - done, (off_t)(offset + done));
        if (put >= 0) done += (size_t)put;
        is_fine = put >= 0 || errno == EINTR;
    }
    is_fine = is_fine && fdatasync(file) == 0;
    hw_status status = is_fine ? HW_OK : fail(job, path);
    close(file);
    if (status == HW_OK && is_new && !sync_folder_of(path)) status = fail(job, path);
    return status;
}

hw_status hw_file_remove(hw_job *job, const char *path)
{
    return unlink(path) == 0 ? HW_OK : fail(job, path);
}

struct hw_file_stream {
    FILE *file;
    char path[HW_FILES_PATH];   // its name when it is complete
    char beside[HW_FILES_PATH]; // "" when reading
};

static hw_status open_stream(hw_job *job, const char *path, bool is_writing, hw_file_stream **out)
{
    hw_file_stream *stream = calloc(1, sizeof *stream);
    if (!stream) return hw_fail(job, HW_NO_MEMORY, "no memory for a file");
    int length = snprintf(stream->path, sizeof stream->path, "%s", path);
    if (is_writing)
        length = snprintf(stream->beside, sizeof stream->beside, "%s.%ld.incomplete", path,
                          (long)getpid());
    bool fits = length >= 0 && length < HW_FILES_PATH;
    errno = ENAMETOOLONG;
    int file = -1;
    if (fits && is_writing)
        file = open(stream->beside, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    else if (fits)
        file = open(path, O_RDONLY | O_CLOEXEC);
    stream->file = file < 0 ? NULL : fdopen(file, is_writing ? "w" : "r");
    if (!stream->file) {
        hw_status status = fail(job, path);
        if (file >= 0) close(file);
        free(stream);
        return status;
    }
    *out = stream;
    return HW_OK;
}

hw_status hw_file_stream_write(hw_job *job, const char *path, hw_file_stream **out)
{
    return open_stream(job, path, true, out);
}

hw_status hw_file_stream_read(hw_job *job, const char *path, hw_file_stream **out)
{
    return open_stream(job, path, false, out);
}

hw_status hw_file_stream_put(hw_job *job, hw_file_stream *stream, hw_bytes bytes)
{
    if (bytes.count == 0) return HW_OK;
    if (fwrite(bytes.at, 1, bytes.count, stream->file) == bytes.count) return HW_OK;
    return fail(job, stream->path);
}

hw_status hw_file_stream_get(hw_job *job, hw_file_stream *stream, void *bytes, size_t count)
{
    if (count == 0 || fread(bytes, 1, count, stream->file) == count) return HW_OK;
    if (ferror(stream->file)) return fail(job, stream->path);
    return hw_fail(job, HW_BAD_FORMAT, "%.150s ends too early", stream->path);
}

bool hw_file_stream_is_at_end(hw_file_stream *stream)
{
    int next = getc(stream->file);
    if (next != EOF) ungetc(next, stream->file);
    return next == EOF;
}

size_t hw_file_stream_at(hw_file_stream *stream)
{
    off_t at = ftello(stream->file);
    return at < 0 ? 0 : (size_t)at;
}

hw_status hw_file_stream_rewind(hw_job *job, hw_file_stream *stream)
{
    return fseeko(stream->file, 0, SEEK_SET) == 0 ? HW_OK : fail(job, stream->path);
}

hw_status hw_file_stream_keep(hw_job *job, hw_file_stream *stream)
{
    HW_ASSERT(stream->beside[0]);
    if (fflush(stream->file) != 0 || fsync(fileno(stream->file)) != 0 ||
        rename(stream->beside, stream->path) != 0 || !sync_folder_of(stream->path))
        return fail(job, stream->path);
    stream->beside[0] = '\0';
    return HW_OK;
}

const char *hw_file_stream_name(const hw_file_stream *stream)
{
    return stream->beside[0] ? stream->beside : stream->path;
}

hw_status hw_file_stream_flush(hw_job *job, hw_file_stream *stream)
{
    return fflush(stream->file) == 0 ? HW_OK : fail(job, stream->path);
}

void hw_file_stream_close(hw_file_stream *stream)
{
    if (!stream) return;
    fclose(stream->file);
    if (stream->beside[0]) unlink(stream->beside);
    free(stream);
}

hw_status hw_file_cut(hw_job *job, const char *path, size_t size_bytes)
{
    if (!hw_file_exists(path)) return HW_OK;
    if (truncate(path, (off_t)size_bytes) == 0) return HW_OK;
    return hw_fail(job, hw_files_status(), "%.150s: %s", path, strerror(errno));
}
