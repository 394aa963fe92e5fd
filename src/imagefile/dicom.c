// SPDX-License-Identifier: GPL-3.0-or-later
// A DICOM file to a picture: what the elements say of its shape, its colours, its scales.
#include "imagefile_internal.h"

#include <stdio.h>
#include <string.h>

enum { FRAGMENTS_MAX = 65536 };

// The last fault of a shape that cannot be.
static hw_status check_shape(hw_job *job, const dicom_pixels *how)
{
    if (how->bits != 8 && how->bits != 16)
        return hw_fail(job, HW_BAD_FORMAT, "samples of %d bits are not read; 8 and 16 are",
                       how->bits);
    if (how->stored < 1 || how->stored > how->bits)
        return hw_fail(job, HW_BAD_FORMAT, "%d bits of each sample of %d are said to count",
                       how->stored, how->bits);
    if (how->samples != 1 && how->samples != 3)
        return hw_fail(job, HW_BAD_FORMAT, "%d samples a pixel are not read; 1 and 3 are",
                       how->samples);
    if (how->samples == 3 && how->stored != 8)
        return hw_fail(job, HW_BAD_FORMAT, "colour of %d bits is not read; 8 are", how->stored);
    return HW_OK;
}

static hw_status read_shape(hw_job *job, const dicom_set *set, dicom_pixels *out)
{
    int32_t rows = 0, columns = 0, samples = 1, bits = 0, stored = 0, sign = 0, planar = 0;
    double frames = 1.0;
    if (!dicom_number(set, 0x00280010, 2, 0, &rows) ||
        !dicom_number(set, 0x00280011, 2, 0, &columns) ||
        !dicom_number(set, 0x00280100, 2, 0, &bits))
        return hw_fail(job, HW_BAD_FORMAT,
                       "the DICOM file holds no picture (rows, columns or bits are "
                       "missing)");
    dicom_number(set, 0x00280002, 2, 0, &samples);
    if (!dicom_number(set, 0x00280101, 2, 0, &stored)) stored = bits;
    dicom_number(set, 0x00280103, 2, 0, &sign);
    dicom_number(set, 0x00280006, 2, 0, &planar);
    if (dicom_find(set, 0x00280008) && dicom_find(set, 0x00280008)->value.count &&
        (!dicom_decimal(set, 0x00280008, 0, &frames) || frames < 1.0 || frames > FRAGMENTS_MAX))
        return hw_fail(job, HW_BAD_FORMAT, "the number of frames (0028,0008) makes no sense");
    *out = (dicom_pixels){.columns = columns,
                          .rows = rows,
                          .frames = (int)frames,
                          .samples = samples,
                          .bits = bits,
                          .stored = stored,
                          .is_signed = sign == 1,
                          .is_planar = planar == 1 && samples == 3,
                          .is_big = set->is_big};
    dicom_text(set, 0x00280004, out->colour);
    return check_shape(job, out);
}

static unsigned char clamped(double value)
{
    return (unsigned char)(value < 0.0 ? 0 : value > 255.0 ? 255 : value + 0.5);
}

// Full-range luma and two colour differences: PS3.3 C.7.6.3.1.2.
static void rgb_of_ybr(const uint16_t *ybr, unsigned char *rgb)
{
    double y = ybr[0], b = ybr[1] - 128.0, r = ybr[2] - 128.0;
    rgb[0] = clamped(y + 1.402 * r);
    rgb[1] = clamped(y - 0.344136 * b - 0.714136 * r);
    rgb[2] = clamped(y + 1.772 * b);
}

// All stored bits become eight.
static void rgb_of_grey(const dicom_pixels *how, unsigned sample, unsigned char *rgb)
{
    unsigned mask = (1u << how->stored) - 1, value = sample & mask;
    if (how->is_signed) value ^= 1u << (how->stored - 1);
    unsigned eight = how->stored >= 8 ? value >> (how->stored - 8) : value * 255 / mask;
    if (strcmp(how->colour, "MONOCHROME1") == 0) eight = 255 - eight;
    rgb[0] = rgb[1] = rgb[2] = (unsigned char)eight;
}

static void rgb_of_palette(const dicom_palette *palette, unsigned sample, unsigned char *rgb)
{
    int entry = (int)sample - palette->first;
    if (entry < 0) entry = 0;
    if (entry >= palette->count) entry = palette->count - 1;
    memcpy(rgb, palette->colours + 3 * (size_t)entry, 3);
}

typedef enum colours { GREY, PALETTE, RGB, YBR } colours;

// The JPEG codecs give RGB whatever the file names its colours; the others leave them as they are.
static hw_status find_colours(hw_job *job, const dicom_pixels *how, bool codec_gives_rgb,
                              colours *out)
{
    const char *name = how->colour;
    if (how->samples == 1 && (strcmp(name, "MONOCHROME1") == 0 || strcmp(name, "MONOCHROME2") == 0))
        *out = GREY;
    else if (how->samples == 1 && strcmp(name, "PALETTE COLOR") == 0)
        *out = PALETTE;
    else if (how->samples == 3 && (strcmp(name, "RGB") == 0 || codec_gives_rgb))
        *out = RGB;
    else if (how->samples == 3 &&
             (strcmp(name, "YBR_FULL") == 0 || strcmp(name, "YBR_FULL_422") == 0))
        *out = YBR;
    else
        return hw_fail(job, HW_BAD_FORMAT,
                       "colours written as '%s' with %d samples a pixel are not read", name,
                       how->samples);
    return HW_OK;
}

// How a frame's samples become pixels.
typedef struct painter {
    const dicom_pixels *how;
    dicom_palette palette;
    colours colours;
} painter;

static void paint(const painter *with, const uint16_t *samples, unsigned char *rgb)
{
    size_t pixels = (size_t)with->how->columns * (size_t)with->how->rows;
    for (size_t i = 0; i < pixels; i++, rgb += 3) {
        switch (with->colours) {
        case GREY:
            rgb_of_grey(with->how, samples[i], rgb);
            break;
        case PALETTE:
            rgb_of_palette(&with->palette, samples[i], rgb);
            break;
        case YBR:
            rgb_of_ybr(samples + 3 * i, rgb);
            break;
        case RGB:
            for (int c = 0; c < 3; c++) rgb[c] = (unsigned char)samples[3 * i + (size_t)c];
            break;
        }
    }
}

// Fragments of one frame joined: one a frame, or all of them the only frame's. What some writers do
// besides (several fragments a frame in a film) needs the offset table, which is not trusted.
static hw_status join_fragments(hw_job *job, const hw_bytes *fragments, int count, hw_arena *tmp,
                                hw_bytes *out)
{
    size_t bytes = 0, at = 0;
    unsigned char *joined = NULL;
    if (count == 1) {
        *out = fragments[0];
        return HW_OK;
    }
    for (int i = 0; i < count; i++) bytes += fragments[i].count;
    HW_ALLOC(job, tmp, joined, bytes + 1);
    for (int i = 0; i < count; i++) {
        memcpy(joined + at, fragments[i].at, fragments[i].count);
        at += fragments[i].count;
    }
    *out = (hw_bytes){joined, bytes};
    return HW_OK;
}

// Bytes written as 16-bit words of a big-endian file stand in swapped pairs: PS3.5 8.1.2 and annex
// A.3.
static hw_status unswap(hw_job *job, hw_bytes value, hw_arena *tmp, hw_bytes *out)
{
    unsigned char *bytes = NULL;
    HW_ALLOC(job, tmp, bytes, value.count + 1);
    for (size_t i = 0; i + 1 < value.count; i += 2)
        bytes[i] = value.at[i + 1], bytes[i + 1] = value.at[i];
    *out = (hw_bytes){bytes, value.count & ~(size_t)1};
    return HW_OK;
}

// The bytes of each frame of a picture that is not encapsulated.
static hw_status cut_frames(hw_job *job, const dicom_element *pixels, const dicom_pixels *how,
                            hw_arena *tmp, hw_bytes *frames)
{
    hw_bytes value = pixels->value;
    size_t due =
        (size_t)how->columns * (size_t)how->rows * (size_t)how->samples * (size_t)(how->bits / 8);
    if (strcmp(how->colour, "YBR_FULL_422") == 0) due = due / 3 * 2;
    if (how->is_big && how->bits == 8 && strcmp(pixels->kind, "OW") == 0)
        HW_TRY(unswap(job, value, tmp, &value));
    if (value.count / (size_t)how->frames < due)
        return hw_fail(job, HW_BAD_FORMAT, "the pixels are %zu bytes; %d frames need %zu",
                       value.count, how->frames, due * (size_t)how->frames);
    for (int i = 0; i < how->frames; i++) frames[i] = (hw_bytes){value.at + (size_t)i * due, due};
    return HW_OK;
}

// The bytes of each frame.
static hw_status find_frames(hw_job *job, const dicom_set *set, const dicom_pixels *how,
                             const dicom_syntax *syntax, hw_arena *tmp, hw_bytes *frames)
{
    const dicom_element *pixels = dicom_find(set, 0x7FE00010);
    hw_bytes *fragments = NULL;
    int count = 0;
    if (!pixels) return hw_fail(job, HW_BAD_FORMAT, "the DICOM file has no pixels (7fe0,0010)");
    if (pixels->is_open != syntax->is_encapsulated)
        return hw_fail(job, HW_BAD_FORMAT, "the pixels are not packed as the file's head says (%s)",
                       syntax->name);
    if (!syntax->is_encapsulated) return cut_frames(job, pixels, how, tmp, frames);
    HW_ALLOC(job, tmp, fragments, FRAGMENTS_MAX);
    HW_TRY(dicom_items(job, set, pixels, FRAGMENTS_MAX, fragments, &count));
    // The first item is the offset table.
    if (count - 1 == how->frames) {
        for (int i = 0; i < how->frames; i++) frames[i] = fragments[i + 1];
        return HW_OK;
    }
    if (how->frames == 1 && count > 1)
        return join_fragments(job, fragments + 1, count - 1, tmp, &frames[0]);
    return hw_fail(job, HW_BAD_FORMAT,
                   "the pixels come in %d pieces for %d frames; that is not read", count - 1,
                   how->frames);
}

static hw_status read_frames(hw_job *job, const dicom_set *set, const dicom_syntax *syntax,
                             hw_arena *into, hw_image *out)
{
    dicom_pixels how = {0};
    unsigned char *pixels = NULL;
    HW_TRY(read_shape(job, set, &how));
    painter with = {.how = &how};
    bool gives_rgb = syntax->decode == dicom_decode_jpeg || syntax->decode == dicom_decode_jpeg2000;
    HW_TRY(find_colours(job, &how, gives_rgb, &with.colours));
    HW_TRY(
        image_alloc(job, into, (const long[3]){how.columns, how.rows, how.frames}, out, &pixels));
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_bytes *frames = NULL;
    uint16_t *samples = NULL;
    if (with.colours == PALETTE) HW_TRY(dicom_read_palette(job, set, into, &with.palette));
    HW_ALLOC(job, tmp.arena, frames, how.frames);
    HW_ALLOC(job, tmp.arena, samples, (size_t)how.columns * (size_t)how.rows * (size_t)how.samples);
    HW_TRY(find_frames(job, set, &how, syntax, tmp.arena, frames));
    for (int i = 0; i < how.frames; i++) {
        hw_arena_mark mark = hw_arena_here(tmp.arena);
        HW_TRY(hw_job_ask(job));
        HW_TRY(syntax->decode(job, &how, frames[i], tmp.arena, samples));
        paint(&with, samples, pixels + (size_t)i * (size_t)how.columns * (size_t)how.rows * 3);
        hw_arena_rewind(tmp.arena, mark);
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

// Places are unsigned in the file; one beyond 2^31 comes out negative and so outside the picture.
static void read_region(const dicom_set *item, hw_image_region *out)
{
    *out = (hw_image_region){0};
    const struct {
        uint32_t tag;
        int bytes;
        int32_t *place;
    } numbers[] = {
        {0x00186012, 2, &out->spatial_format}, {0x00186014, 2, &out->data_type},
        {0x00186018, 4, &out->min_x},          {0x0018601A, 4, &out->min_y},
        {0x0018601C, 4, &out->max_x},          {0x0018601E, 4, &out->max_y},
        {0x00186024, 2, &out->units_x},        {0x00186026, 2, &out->units_y},
    };
    bool is_complete = true;
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        is_complete &= dicom_number(item, numbers[i].tag, numbers[i].bytes, 0, numbers[i].place);
    is_complete &= dicom_double(item, 0x0018602C, &out->delta_x);
    is_complete &= dicom_double(item, 0x0018602E, &out->delta_y);
    out->is_complete = is_complete;
}

static hw_status read_regions(hw_job *job, const dicom_set *set, hw_arena *into, hw_image *out)
{
    const dicom_element *sequence = dicom_find(set, 0x00186011);
    hw_bytes items[HW_IMAGE_REGIONS];
    int count = 0;
    if (!sequence) return HW_OK;
    HW_TRY(dicom_items(job, set, sequence, HW_IMAGE_REGIONS, items, &count));
    hw_scratch tmp = hw_scratch_begin(job, into);
    for (int i = 0; i < count; i++) {
        dicom_set item = {0};
        dicom_set how = {.is_explicit = set->is_explicit && memcmp(sequence->kind, "UN", 2) != 0,
                         .is_big = set->is_big};
        HW_TRY(dicom_read_set(job, items[i], how, tmp.arena, &item));
        read_region(&item, &out->regions[i]);
    }
    out->region_count = count;
    hw_scratch_end(tmp);
    return HW_OK;
}

// Row spacing stands before column spacing, in millimetres: PS3.3 10.7.1.3.
static void read_spacing(const dicom_set *set, hw_image *out)
{
    double rows = 0.0, columns = 0.0;
    bool known =
        dicom_decimal(set, 0x00280030, 0, &rows) && dicom_decimal(set, 0x00280030, 1, &columns);
    out->row_spacing_m = (hw_maybe){hw_m_from_mm(rows), known};
    out->column_spacing_m = (hw_maybe){hw_m_from_mm(columns), known};
    out->is_spacing_calibrated = dicom_find(set, 0x00280A02) != NULL;
}

static void read_about(const dicom_set *set, const dicom_syntax *syntax, hw_image *out)
{
    char lossy[HW_IMAGE_TEXT] = "";
    hw_image_about *about = &out->about;
    snprintf(about->kind, HW_IMAGE_TEXT, "DICOM, %s", syntax->name);
    dicom_text(set, 0x00100010, about->patient_name);
    dicom_text(set, 0x00100020, about->patient_id);
    dicom_text(set, 0x00100030, about->birth_date);
    dicom_text(set, 0x00080020, about->study_date);
    dicom_text(set, 0x00200062, about->laterality);
    if (!about->laterality[0]) dicom_text(set, 0x00200060, about->laterality);
    dicom_text(set, 0x00180015, about->body_part);
    dicom_text(set, 0x00280301, about->burned_in);
    dicom_text(set, 0x00282110, lossy);
    out->is_lossy =
        strcmp(lossy, "01") == 0 || strcmp(lossy, "1") == 0 || syntax->decode == dicom_decode_jpeg;
}

hw_status image_read_dicom(hw_job *job, hw_bytes bytes, hw_arena *into, hw_image *out)
{
    char uid[HW_IMAGE_TEXT] = "";
    dicom_set set = {0};
    hw_image image = {0};
    HW_TRY(dicom_open(job, bytes, into, &set, uid));
    const dicom_syntax *syntax = dicom_syntax_of(uid);
    HW_TRY(read_frames(job, &set, syntax, into, &image));
    HW_TRY(read_regions(job, &set, into, &image));
    read_spacing(&set, &image);
    read_about(&set, syntax, &image);
    *out = image;
    return HW_OK;
}
