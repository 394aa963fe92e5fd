// SPDX-License-Identifier: GPL-3.0-or-later
// The plain form of a picture, from the sandboxed child to its parent and into the store. Written
// and read by this program on one machine or its like: little-endian, checked by a magic word and
// sizes.
#include "imagefile_internal.h"

#include <math.h>
#include <string.h>

static const char magic[4] = {'H', 'W', 'I', '1'};

typedef struct packed_head {
    char magic[4];
    int32_t size[3]; // columns, rows, frames
    int32_t region_count, is_lossy, is_spacing_calibrated, has_spacing;
    double spacing[2]; // between rows, between columns, m
    hw_image_about about;
    struct {
        int32_t codes[8];
        double delta[2];
        int64_t is_complete;
    } regions[HW_IMAGE_REGIONS];
} packed_head;

static void pack_regions(const hw_image *image, packed_head *head)
{
    for (int i = 0; i < image->region_count; i++) {
        const hw_image_region *from = &image->regions[i];
        const int32_t codes[8] = {from->spatial_format, from->data_type, from->min_x,
                                  from->min_y,          from->max_x,     from->max_y,
                                  from->units_x,        from->units_y};
        memcpy(head->regions[i].codes, codes, sizeof codes);
        head->regions[i].delta[0] = from->delta_x;
        head->regions[i].delta[1] = from->delta_y;
        head->regions[i].is_complete = from->is_complete;
    }
}

hw_status hw_image_pack(hw_job *job, const hw_image *image, hw_arena *into, hw_bytes *out)
{
    packed_head head = {.size = {image->columns, image->rows, image->frames},
                        .region_count = image->region_count,
                        .is_lossy = image->is_lossy,
                        .is_spacing_calibrated = image->is_spacing_calibrated,
                        .has_spacing = image->row_spacing_m.known && image->column_spacing_m.known,
                        .spacing = {image->row_spacing_m.value, image->column_spacing_m.value},
                        .about = image->about};
    memcpy(head.magic, magic, sizeof magic);
    pack_regions(image, &head);
    size_t pixels = (size_t)image->columns * (size_t)image->rows * (size_t)image->frames * 3;
    unsigned char *bytes = NULL;
    HW_ALLOC(job, into, bytes, sizeof head + pixels);
    memcpy(bytes, &head, sizeof head);
    memcpy(bytes + sizeof head, image->pixels, pixels);
    *out = (hw_bytes){bytes, sizeof head + pixels};
    return HW_OK;
}

bool hw_image_is_packed(hw_bytes bytes)
{
    return bytes.count >= sizeof(packed_head) && memcmp(bytes.at, magic, sizeof magic) == 0;
}

static void unpack_regions(const packed_head *head, hw_image *image)
{
    for (int i = 0; i < image->region_count; i++) {
        const int32_t *codes = head->regions[i].codes;
        const double *delta = head->regions[i].delta;
        image->regions[i] = (hw_image_region){codes[0],
                                              codes[1],
                                              codes[2],
                                              codes[3],
                                              codes[4],
                                              codes[5],
                                              codes[6],
                                              codes[7],
                                              delta[0],
                                              delta[1],
                                              head->regions[i].is_complete != 0};
    }
}

// Texts end inside their fields, whatever the bytes are.
static void end_texts(hw_image_about *about)
{
    char *texts[] = {about->kind,       about->patient_name, about->patient_id, about->birth_date,
                     about->study_date, about->laterality,   about->body_part,  about->burned_in};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) texts[i][HW_IMAGE_TEXT - 1] = 0;
}

static bool is_sound(const packed_head *head, size_t count)
{
    for (int i = 0; i < 3; i++)
        if (head->size[i] < 1 || (i < 2 && head->size[i] > HW_IMAGE_SIDE_MAX)) return false;
    size_t frame = (size_t)head->size[0] * (size_t)head->size[1] * 3;
    return head->region_count >= 0 && head->region_count <= HW_IMAGE_REGIONS &&
           count % frame == 0 && count / frame == (size_t)head->size[2];
}

hw_status hw_image_unpack(hw_job *job, hw_bytes bytes, hw_image *out)
{
    packed_head head;
    if (!hw_image_is_packed(bytes))
        return hw_fail(job, HW_BAD_FORMAT, "this is no picture of this program's own form");
    memcpy(&head, bytes.at, sizeof head);
    if (!is_sound(&head, bytes.count - sizeof head))
        return hw_fail(job, HW_BAD_FORMAT, "the kept picture's head does not fit its %zu bytes",
                       bytes.count);
    bool has_spacing = head.has_spacing && isfinite(head.spacing[0]) && isfinite(head.spacing[1]);
    hw_image image = {.columns = head.size[0],
                      .rows = head.size[1],
                      .frames = head.size[2],
                      .pixels = bytes.at + sizeof head,
                      .about = head.about,
                      .region_count = head.region_count,
                      .is_spacing_calibrated = head.is_spacing_calibrated != 0,
                      .is_lossy = head.is_lossy != 0};
    image.row_spacing_m = (hw_maybe){head.spacing[0], has_spacing};
    image.column_spacing_m = (hw_maybe){head.spacing[1], has_spacing};
    end_texts(&image.about);
    unpack_regions(&head, &image);
    *out = image;
    return HW_OK;
}
