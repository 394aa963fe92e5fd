// SPDX-License-Identifier: GPL-3.0-or-later
// Transfer syntaxes: one frame's bytes to samples.
#include "imagefile_internal.h"

#include <charls/charls.h>
#include <openjpeg.h>
#include <string.h>

// Samples to come.
static size_t sample_count(const dicom_pixels *how)
{
    return (size_t)how->columns * (size_t)how->rows * (size_t)how->samples;
}

// Two pixels of YBR_FULL_422 are Y Y Cb Cr.
static hw_status spread_halved_colour(hw_job *job, const dicom_pixels *how, hw_bytes frame,
                                      uint16_t *room)
{
    size_t pixels = (size_t)how->columns * (size_t)how->rows;
    if (how->bits != 8 || how->columns % 2 || frame.count < 2 * pixels)
        return hw_fail(job, HW_BAD_FORMAT,
                       "a frame of halved colour has %zu bytes where %zu are due", frame.count,
                       2 * pixels);
    for (size_t i = 0; i < pixels; i++) {
        const unsigned char *four = frame.at + i / 2 * 4;
        room[3 * i] = four[i % 2], room[3 * i + 1] = four[2], room[3 * i + 2] = four[3];
    }
    return HW_OK;
}

hw_status dicom_decode_native(hw_job *job, const dicom_pixels *how, hw_bytes frame, hw_arena *tmp,
                              uint16_t *room)
{
    (void)tmp;
    size_t count = sample_count(how), plane = count / (size_t)how->samples;
    if (strcmp(how->colour, "YBR_FULL_422") == 0)
        return spread_halved_colour(job, how, frame, room);
    size_t wide = (size_t)how->bits / 8;
    if (frame.count < count * wide)
        return hw_fail(job, HW_BAD_FORMAT, "a frame has %zu bytes where %zu are due", frame.count,
                       count * wide);
    for (size_t i = 0; i < count; i++) {
        size_t from =
            how->is_planar ? i % (size_t)how->samples * plane + i / (size_t)how->samples : i;
        const unsigned char *at = frame.at + from * wide;
        unsigned low = wide == 1 ? at[0] : at[how->is_big], high = wide == 1 ? 0 : at[!how->is_big];
        room[i] = (uint16_t)(high << 8 | low);
    }
    return HW_OK;
}

static uint32_t little_word(const unsigned char *at)
{
    return at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16 | (uint32_t)at[3] << 24;
}

// One byte plane: runs of PackBits, PS3.5 annex G.3.
static bool unpack_runs(const unsigned char *at, const unsigned char *end, unsigned char *out,
                        size_t count)
{
    size_t filled = 0;
    while (filled < count && at < end) {
        int code = *at++;
        size_t length = code < 128 ? (size_t)code + 1 : (size_t)(257 - code);
        if (code == 128) continue;
        if (length > count - filled) return false;
        if (code < 128) {
            if (length > (size_t)(end - at)) return false;
            memcpy(out + filled, at, length);
            at += length;
        } else {
            if (at >= end) return false;
            memset(out + filled, *at++, length);
        }
        filled += length;
    }
    return filled == count;
}

// Planes: of the first sample the high byte, then its low byte, then the next sample.
hw_status dicom_decode_rle(hw_job *job, const dicom_pixels *how, hw_bytes frame, hw_arena *tmp,
                           uint16_t *room)
{
    size_t pixels = (size_t)how->columns * (size_t)how->rows;
    int bytes = how->bits / 8, planes = bytes * how->samples;
    unsigned char *plane = NULL;
    if (frame.count < 64 || little_word(frame.at) != (uint32_t)planes)
        return hw_fail(job, HW_BAD_FORMAT, "a run-length frame has no head for %d planes", planes);
    HW_ALLOC(job, tmp, plane, pixels);
    memset(room, 0, sample_count(how) * sizeof *room);
    for (int p = 0; p < planes; p++) {
        size_t from = little_word(frame.at + 4 * (p + 1));
        size_t to = p + 1 < planes ? little_word(frame.at + 4 * (p + 2)) : frame.count;
        if (from < 64 || from > to || to > frame.count ||
            !unpack_runs(frame.at + from, frame.at + to, plane, pixels))
            return hw_fail(job, HW_BAD_FORMAT, "plane %d of a run-length frame is damaged", p + 1);
        int shift = 8 * (bytes - 1 - p % bytes);
        for (size_t i = 0; i < pixels; i++)
            room[i * (size_t)how->samples + (size_t)(p / bytes)] |= (uint16_t)(plane[i] << shift);
    }
    return HW_OK;
}

hw_status dicom_decode_jpeg(hw_job *job, const dicom_pixels *how, hw_bytes frame, hw_arena *tmp,
                            uint16_t *room)
{
    size_t count = sample_count(how);
    unsigned char *bytes = NULL;
    if (how->bits != 8)
        return hw_fail(job, HW_BAD_FORMAT, "a JPEG of %d bits is not read; 8 bits are", how->bits);
    HW_ALLOC(job, tmp, bytes, count);
    HW_TRY(image_decode_jpeg(job, frame, (const int[2]){how->columns, how->rows}, how->samples,
                             bytes));
    for (size_t i = 0; i < count; i++) room[i] = bytes[i];
    return HW_OK;
}

// Checks what the stream says of itself, then decodes into `bytes`; false: damaged or of another
// shape.
static bool decode_jpegls(charls_jpegls_decoder *decoder, const dicom_pixels *how, hw_bytes frame,
                          hw_bytes *bytes, hw_arena *tmp, charls_interleave_mode *order)
{
    charls_frame_info info = {0};
    size_t count = 0, want = sample_count(how) * (size_t)how->bits / 8;
    if (charls_jpegls_decoder_set_source_buffer(decoder, frame.at, frame.count) ||
        charls_jpegls_decoder_read_header(decoder) ||
        charls_jpegls_decoder_get_frame_info(decoder, &info) ||
        charls_jpegls_decoder_get_interleave_mode(decoder, order) ||
        charls_jpegls_decoder_get_destination_size(decoder, 0, &count))
        return false;
    if (info.width != (uint32_t)how->columns || info.height != (uint32_t)how->rows ||
        info.component_count != how->samples || count != want)
        return false;
    unsigned char *room = hw_arena_take(tmp, count, 1);
    if (!room || charls_jpegls_decoder_decode_to_buffer(decoder, room, count, 0)) return false;
    *bytes = (hw_bytes){room, count};
    return true;
}

hw_status dicom_decode_jpegls(hw_job *job, const dicom_pixels *how, hw_bytes frame, hw_arena *tmp,
                              uint16_t *room)
{
    charls_interleave_mode order = CHARLS_INTERLEAVE_MODE_NONE;
    hw_bytes bytes = {0};
    charls_jpegls_decoder *decoder = charls_jpegls_decoder_create();
    if (!decoder) return hw_fail(job, HW_NO_MEMORY, "no memory to read a JPEG-LS frame");
    bool is_read = decode_jpegls(decoder, how, frame, &bytes, tmp, &order);
    charls_jpegls_decoder_destroy(decoder);
    if (!is_read)
        return hw_fail(job, HW_BAD_FORMAT, "a JPEG-LS frame is damaged or not %d x %d x %d samples",
                       how->columns, how->rows, how->samples);
    dicom_pixels plain = *how; // what came out are native samples, in one of two orders
    plain.is_planar = order == CHARLS_INTERLEAVE_MODE_NONE;
    plain.is_big = false;
    strcpy(plain.colour, "");
    return dicom_decode_native(job, &plain, bytes, tmp, room);
}

// A frame in memory, as the JPEG 2000 library asks for one.
typedef struct j2k_memory {
    hw_bytes bytes;
    size_t at;
} j2k_memory;

static OPJ_SIZE_T j2k_read(void *to, OPJ_SIZE_T count, void *user)
{
    j2k_memory *memory = user;
    size_t left = memory->bytes.count - memory->at, take = count < left ? count : left;
    if (take == 0) return (OPJ_SIZE_T)-1;
    memcpy(to, memory->bytes.at + memory->at, take);
    memory->at += take;
    return take;
}

static OPJ_OFF_T j2k_skip(OPJ_OFF_T count, void *user)
{
    j2k_memory *memory = user;
    size_t left = memory->bytes.count - memory->at;
    if (count < 0) return -1;
    if ((size_t)count > left) count = (OPJ_OFF_T)left;
    memory->at += (size_t)count;
    return count;
}

static OPJ_BOOL j2k_seek(OPJ_OFF_T to, void *user)
{
    j2k_memory *memory = user;
    if (to < 0 || (size_t)to > memory->bytes.count) return OPJ_FALSE;
    memory->at = (size_t)to;
    return OPJ_TRUE;
}

static opj_stream_t *open_j2k(j2k_memory *memory)
{
    opj_stream_t *stream = opj_stream_create(1 << 16, OPJ_TRUE);
    if (!stream) return NULL;
    opj_stream_set_user_data(stream, memory, NULL);
    opj_stream_set_user_data_length(stream, memory->bytes.count);
    opj_stream_set_read_function(stream, j2k_read);
    opj_stream_set_skip_function(stream, j2k_skip);
    opj_stream_set_seek_function(stream, j2k_seek);
    return stream;
}

static bool is_of_shape(const opj_image_t *image, const dicom_pixels *how)
{
    if (image->numcomps != (OPJ_UINT32)how->samples) return false;
    for (OPJ_UINT32 i = 0; i < image->numcomps; i++) {
        const opj_image_comp_t *one = &image->comps[i];
        if (one->w != (OPJ_UINT32)how->columns || one->h != (OPJ_UINT32)how->rows ||
            one->prec > (OPJ_UINT32)how->bits)
            return false;
    }
    return true;
}

static bool decode_j2k(opj_codec_t *codec, opj_stream_t *stream, const dicom_pixels *how,
                       uint16_t *room)
{
    opj_dparameters_t options;
    opj_image_t *image = NULL;
    opj_set_default_decoder_parameters(&options);
    // The head alone is looked at first: its size decides what the decoder would take of memory.
    bool is_read = opj_setup_decoder(codec, &options) &&
                   opj_decoder_set_strict_mode(codec, OPJ_TRUE) &&
                   opj_read_header(stream, codec, &image) && is_of_shape(image, how) &&
                   opj_decode(codec, stream, image) && opj_end_decompress(codec, stream) &&
                   is_of_shape(image, how);
    size_t pixels = (size_t)how->columns * (size_t)how->rows, samples = (size_t)how->samples;
    for (size_t c = 0; is_read && c < samples; c++) {
        is_read = image->comps[c].data != NULL;
        for (size_t i = 0; is_read && i < pixels; i++)
            room[i * samples + c] = (uint16_t)image->comps[c].data[i];
    }
    if (image) opj_image_destroy(image);
    return is_read;
}

hw_status dicom_decode_jpeg2000(hw_job *job, const dicom_pixels *how, hw_bytes frame, hw_arena *tmp,
                                uint16_t *room)
{
    (void)tmp;
    j2k_memory memory = {frame, 0};
    static const unsigned char boxed[4] = {0, 0, 0,
                                           12}; // a JP2 file's first box; else a bare stream
    bool is_boxed = frame.count > 4 && memcmp(frame.at, boxed, 4) == 0;
    opj_codec_t *codec = opj_create_decompress(is_boxed ? OPJ_CODEC_JP2 : OPJ_CODEC_J2K);
    opj_stream_t *stream = open_j2k(&memory);
    bool is_read = codec && stream && decode_j2k(codec, stream, how, room);
    if (stream) opj_stream_destroy(stream);
    if (codec) opj_destroy_codec(codec);
    if (is_read) return HW_OK;
    return hw_fail(job, HW_BAD_FORMAT, "a JPEG 2000 frame is damaged or not %d x %d x %d samples",
                   how->columns, how->rows, how->samples);
}

// PS3.6 annex A. Those without a decoder are refused by name.
static const dicom_syntax syntaxes[] = {
    {"1.2.840.10008.1.2", "implicit little-endian", dicom_decode_native, false},
    {"1.2.840.10008.1.2.1", "explicit little-endian", dicom_decode_native, false},
    {"1.2.840.10008.1.2.2", "explicit big-endian", dicom_decode_native, false},
    {"1.2.840.10008.1.2.1.99", "deflated", NULL, false},
    {"1.2.840.10008.1.2.5", "RLE", dicom_decode_rle, true},
    {"1.2.840.10008.1.2.4.50", "JPEG baseline", dicom_decode_jpeg, true},
    {"1.2.840.10008.1.2.4.51", "JPEG extended, 8 bits", dicom_decode_jpeg, true},
    {"1.2.840.10008.1.2.4.57", "lossless JPEG", NULL, true},
    {"1.2.840.10008.1.2.4.70", "lossless JPEG", NULL, true},
    {"1.2.840.10008.1.2.4.80", "JPEG-LS", dicom_decode_jpegls, true},
    {"1.2.840.10008.1.2.4.81", "JPEG-LS near lossless", dicom_decode_jpegls, true},
    {"1.2.840.10008.1.2.4.90", "JPEG 2000 lossless", dicom_decode_jpeg2000, true},
    {"1.2.840.10008.1.2.4.91", "JPEG 2000", dicom_decode_jpeg2000, true},
    {"1.2.840.10008.1.2.4.100", "MPEG-2 video", NULL, true},
    {"1.2.840.10008.1.2.4.102", "MPEG-4 video", NULL, true},
    {"1.2.840.10008.1.2.4.103", "MPEG-4 video", NULL, true},
    {"1.2.840.10008.1.2.4.201", "high-throughput JPEG 2000", NULL, true},
    {"1.2.840.10008.1.2.4.202", "high-throughput JPEG 2000", NULL, true},
    {"1.2.840.10008.1.2.4.203", "high-throughput JPEG 2000", NULL, true},
};

const dicom_syntax *dicom_syntax_of(const char *uid)
{
    for (size_t i = 0; i < sizeof syntaxes / sizeof *syntaxes; i++)
        if (strcmp(syntaxes[i].uid, uid) == 0) return &syntaxes[i];
    return NULL;
}
