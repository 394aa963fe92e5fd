// SPDX-License-Identifier: GPL-3.0-or-later
// Screen grabs: PNG, JPEG and TIFF. None says how large a pixel is; what some of them claim of
// dots per inch is about paper and is not read.
#include "imagefile_internal.h"

#include <png.h>
#include <stdio.h>
#include <string.h>
#include <tiffio.h>
#include <turbojpeg.h>

static void drop_alpha(const unsigned char *rgba, size_t count, unsigned char *rgb)
{
    for (size_t i = 0; i < count; i++) memcpy(rgb + 3 * i, rgba + 4 * i, 3);
}

hw_status image_read_png(hw_job *job, hw_bytes bytes, hw_arena *into, hw_image *out)
{
    png_image png = {.version = PNG_IMAGE_VERSION};
    unsigned char *pixels = NULL, *rgba = NULL;
    if (!png_image_begin_read_from_memory(&png, bytes.at, bytes.count))
        return hw_fail(job, HW_BAD_FORMAT, "the PNG cannot be read: %s", png.message);
    png.format = PNG_FORMAT_RGBA;
    const long size[3] = {(long)png.width, (long)png.height, 1};
    hw_status status = image_alloc(job, into, size, out, &pixels);
    hw_scratch tmp = hw_scratch_begin(job, into);
    size_t count = (size_t)out->columns * (size_t)out->rows;
    if (status == HW_OK) rgba = hw_arena_take(tmp.arena, count, 4);
    if (status == HW_OK && !rgba)
        status = hw_fail(job, HW_NO_MEMORY, "no memory for a picture of %zu pixels", count);
    // A truncated file is an error of the library's, never a picture half black.
    if (status == HW_OK && !png_image_finish_read(&png, NULL, rgba, 0, NULL))
        status = hw_fail(job, HW_BAD_FORMAT, "the PNG cannot be read: %s", png.message);
    png_image_free(&png);
    if (status != HW_OK) return status;
    drop_alpha(rgba, count, pixels);
    hw_scratch_end(tmp);
    snprintf(out->about.kind, HW_IMAGE_TEXT, "PNG");
    return HW_OK;
}

// Whatever the library warns of (bytes missing, say) is a failure here.
static hw_status decompress(hw_job *job, tjhandle reader, hw_bytes bytes, const int size[2],
                            int samples, unsigned char *out)
{
    int format = samples == 1 ? TJPF_GRAY : TJPF_RGB;
    if (tjDecompress2(reader, bytes.at, bytes.count, out, size[0], 0, size[1], format,
                      TJFLAG_ACCURATEDCT | TJFLAG_STOPONWARNING) == 0)
        return HW_OK;
    return hw_fail(job, HW_BAD_FORMAT, "the JPEG cannot be read: %s", tjGetErrorStr2(reader));
}

static hw_status read_jpeg_size(hw_job *job, tjhandle reader, hw_bytes bytes, int size[2])
{
    int sampling = 0, colours = 0;
    if (tjDecompressHeader3(reader, bytes.at, bytes.count, &size[0], &size[1], &sampling,
                            &colours) == 0)
        return HW_OK;
    return hw_fail(job, HW_BAD_FORMAT, "the JPEG's head cannot be read: %s",
                   tjGetErrorStr2(reader));
}

hw_status image_decode_jpeg(hw_job *job, hw_bytes bytes, const int size[2], int samples,
                            unsigned char *out)
{
    int found[2] = {0};
    tjhandle reader = tjInitDecompress();
    if (!reader) return hw_fail(job, HW_NO_MEMORY, "no memory to read a JPEG");
    hw_status status = read_jpeg_size(job, reader, bytes, found);
    if (status == HW_OK && (found[0] != size[0] || found[1] != size[1]))
        status = hw_fail(job, HW_BAD_FORMAT,
                         "the JPEG inside has %d x %d pixels where the file's head says %d x %d",
                         found[0], found[1], size[0], size[1]);
    if (status == HW_OK) status = decompress(job, reader, bytes, size, samples, out);
    tjDestroy(reader);
    return status;
}

hw_status image_read_jpeg(hw_job *job, hw_bytes bytes, hw_arena *into, hw_image *out)
{
    int size[2] = {0};
    unsigned char *pixels = NULL;
    tjhandle reader = tjInitDecompress();
    if (!reader) return hw_fail(job, HW_NO_MEMORY, "no memory to read a JPEG");
    hw_status status = read_jpeg_size(job, reader, bytes, size);
    if (status == HW_OK)
        status = image_alloc(job, into, (const long[3]){size[0], size[1], 1}, out, &pixels);
    if (status == HW_OK) status = decompress(job, reader, bytes, size, 3, pixels);
    tjDestroy(reader);
    snprintf(out->about.kind, HW_IMAGE_TEXT, "JPEG");
    out->is_lossy = true;
    return status;
}

// A file in memory, as the TIFF library asks for one.
typedef struct tiff_memory {
    hw_bytes bytes;
    uint64_t at;
} tiff_memory;

static tmsize_t tiff_read(thandle_t handle, void *to, tmsize_t count)
{
    tiff_memory *memory = handle;
    if (count < 0 || memory->at >= memory->bytes.count) return 0;
    size_t left = memory->bytes.count - (size_t)memory->at;
    size_t take = (size_t)count < left ? (size_t)count : left;
    memcpy(to, memory->bytes.at + memory->at, take);
    memory->at += take;
    return (tmsize_t)take;
}

static tmsize_t tiff_write(thandle_t handle, void *from, tmsize_t count)
{
    (void)handle, (void)from, (void)count;
    return 0;
}

static toff_t tiff_seek(thandle_t handle, toff_t to, int whence)
{
    tiff_memory *memory = handle;
    if (whence == SEEK_CUR) to += memory->at;
    if (whence == SEEK_END) to += memory->bytes.count;
    return memory->at = to;
}

static int tiff_close(thandle_t handle)
{
    (void)handle;
    return 0;
}

static toff_t tiff_size(thandle_t handle)
{
    return ((tiff_memory *)handle)->bytes.count;
}

// The library packs a pixel as 0xAABBGGRR.
static void unpack_tiff(const uint32_t *packed, size_t count, unsigned char *rgb)
{
    for (size_t i = 0; i < count; i++) {
        rgb[3 * i] = (unsigned char)TIFFGetR(packed[i]);
        rgb[3 * i + 1] = (unsigned char)TIFFGetG(packed[i]);
        rgb[3 * i + 2] = (unsigned char)TIFFGetB(packed[i]);
    }
}

static hw_status decode_tiff(hw_job *job, TIFF *tiff, hw_arena *into, hw_image *out)
{
    uint32_t columns = 0, rows = 0, *packed = NULL;
    unsigned char *pixels = NULL;
    char why[1024] = "";
    TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &columns);
    TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &rows);
    HW_TRY(image_alloc(job, into, (const long[3]){(long)columns, (long)rows, 1}, out, &pixels));
    if (!TIFFRGBAImageOK(tiff, why))
        return hw_fail(job, HW_BAD_FORMAT, "the TIFF is of a kind that is not read: %.150s", why);
    hw_scratch tmp = hw_scratch_begin(job, into);
    size_t count = (size_t)columns * rows;
    HW_ALLOC(job, tmp.arena, packed, count);
    if (!TIFFReadRGBAImageOriented(tiff, columns, rows, packed, ORIENTATION_TOPLEFT, 1))
        return hw_fail(job, HW_BAD_FORMAT, "the TIFF breaks off or is damaged");
    unpack_tiff(packed, count, pixels);
    hw_scratch_end(tmp);
    snprintf(out->about.kind, HW_IMAGE_TEXT, "TIFF");
    return HW_OK;
}

hw_status image_read_tiff(hw_job *job, hw_bytes bytes, hw_arena *into, hw_image *out)
{
    tiff_memory memory = {bytes, 0};
    TIFFSetErrorHandler(NULL); // else it prints what a hostile file makes it say
    TIFFSetWarningHandler(NULL);
    TIFF *tiff = TIFFClientOpen("grab", "rm", &memory, tiff_read, tiff_write, tiff_seek, tiff_close,
                                tiff_size, NULL, NULL);
    if (!tiff) return hw_fail(job, HW_BAD_FORMAT, "the TIFF's directory cannot be read");
    hw_status status = decode_tiff(job, tiff, into, out);
    TIFFClose(tiff);
    return status;
}

hw_status hw_image_png(hw_job *job, const unsigned char *pixels, const int size[2], hw_arena *into,
                       hw_bytes *out)
{
    png_image png = {.version = PNG_IMAGE_VERSION,
                     .width = (png_uint_32)size[0],
                     .height = (png_uint_32)size[1],
                     .format = PNG_FORMAT_RGB};
    png_alloc_size_t count = PNG_IMAGE_PNG_SIZE_MAX(png);
    unsigned char *bytes = NULL;
    HW_ALLOC(job, into, bytes, count);
    if (!png_image_write_to_memory(&png, bytes, &count, 0, pixels, 0, NULL))
        return hw_fail(job, HW_NO_ANSWER, "the picture cannot be written as PNG: %s", png.message);
    *out = (hw_bytes){bytes, count};
    return HW_OK;
}
