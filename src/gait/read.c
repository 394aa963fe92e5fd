// SPDX-License-Identifier: GPL-3.0-or-later
// Which kind of file a walk came in; two files of one trial; the plain form.
#include "gait_internal.h"

#include <math.h>

static bool begins(hw_bytes bytes, const char *with)
{
    size_t count = strlen(with);
    return bytes.count >= count && memcmp(bytes.at, with, count) == 0;
}

hw_status hw_gait_read(hw_job *job, hw_bytes bytes, const hw_gait_ask *ask, hw_arena *into,
                       hw_gait_record *out)
{
    if (bytes.count >= 1024 && bytes.at[1] == 0x50 && bytes.at[0] < 32)
        return gait_read_c3d(job, bytes, into, out);
    if (begins(bytes, "PathFileType")) return gait_read_trc(job, bytes, into, out);
    if (begins(bytes, "[Force Data]")) return gait_read_forces(job, bytes, ask, into, out);
    return gait_read_table(job, bytes, ask, into, out);
}

hw_status hw_gait_join(hw_job *job, const hw_gait_record *markers, const hw_gait_record *plates,
                       hw_gait_record *out)
{
    if (markers->marker_count == 0 || plates->plate_count == 0)
        return hw_fail(job, HW_BAD_INPUT, "one file must have markers and the other force plates");
    double of_markers = markers->frame_count / markers->rate_Hz;
    double of_plates = plates->sample_count / plates->force_rate_Hz;
    if (fabs(of_markers - of_plates) > 0.05 * fmax(of_markers, of_plates))
        return hw_fail(job, HW_BAD_INPUT,
                       "the markers last %.2f s and the forces %.2f s: they are not of one trial",
                       of_markers, of_plates);
    hw_gait_record joined = *markers;
    joined.force_rate_Hz = plates->force_rate_Hz;
    joined.sample_count = plates->sample_count, joined.plate_count = plates->plate_count;
    memcpy(joined.plates, plates->plates, sizeof joined.plates);
    *out = joined;
    return HW_OK;
}

int hw_gait_marker(const hw_gait_record *record, const char *name)
{
    for (int i = 0; name && i < record->marker_count; i++)
        if (hw_text_same(record->names[i], name)) return i;
    return -1;
}

// -- the plain form

static const char magic[4] = {'H', 'W', 'G', '1'};

typedef struct packed_head {
    char magic[4];
    int32_t counts[5]; // frames, markers, first frame, samples, plates
    double rates[2];
    char kind[HW_GAIT_NAME];
    int64_t has_note;
} packed_head;

static const char left_out[] = "force plates of a type other than 2 were left out";

hw_status hw_gait_pack(hw_job *job, const hw_gait_record *record, hw_arena *into, hw_bytes *out)
{
    hw_writer writer = hw_writer_begin(into);
    packed_head head = {.counts = {record->frame_count, record->marker_count, record->first_frame,
                                   record->sample_count, record->plate_count},
                        .rates = {record->rate_Hz, record->force_rate_Hz},
                        .has_note = record->note != NULL};
    memcpy(head.magic, magic, sizeof magic);
    memcpy(head.kind, record->kind, sizeof head.kind);
    size_t points = (size_t)record->frame_count * (size_t)record->marker_count;
    hw_writer_bytes(&writer, &head, sizeof head);
    hw_writer_bytes(&writer, record->names, (size_t)record->marker_count * HW_GAIT_NAME);
    hw_writer_bytes(&writer, record->points, points * sizeof *record->points);
    hw_writer_bytes(&writer, record->is_seen, points * sizeof *record->is_seen);
    for (int i = 0; i < record->plate_count; i++) {
        size_t count = (size_t)record->sample_count * sizeof(hw_vec3);
        hw_writer_bytes(&writer, record->plates[i].force, count);
        hw_writer_bytes(&writer, record->plates[i].pressure, count);
    }
    return hw_writer_end(job, &writer, out);
}

bool hw_gait_is_packed(hw_bytes bytes)
{
    return bytes.count >= sizeof(packed_head) && memcmp(bytes.at, magic, sizeof magic) == 0;
}

// Copies the next bytes; false when too few are left.
static bool take(hw_bytes *from, void *to, size_t count)
{
    if (from->count < count) return false;
    memcpy(to, from->at, count);
    from->at += count, from->count -= count;
    return true;
}

static bool is_sound(const packed_head *head)
{
    for (int i = 0; i < 5; i++)
        if (head->counts[i] < 0) return false;
    return isfinite(head->rates[0]) && isfinite(head->rates[1]) &&
           (head->counts[1] == 0 || head->rates[0] > 0.0) &&
           (head->counts[4] == 0 || head->rates[1] > 0.0);
}

// Every byte of a truth value is 0 or 1, and every coordinate a number.
static bool are_numbers(const hw_vec3 *points, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (!isfinite(points[i].x) || !isfinite(points[i].y) || !isfinite(points[i].z))
            return false;
    return true;
}

static bool take_points(hw_bytes *left, const hw_gait_record *record, gait_room *room)
{
    size_t points = (size_t)record->frame_count * (size_t)record->marker_count;
    if (!take(left, room->names, (size_t)record->marker_count * HW_GAIT_NAME) ||
        !take(left, room->points, points * sizeof *room->points) || left->count < points)
        return false;
    for (int i = 0; i < record->marker_count; i++) room->names[i][HW_GAIT_NAME - 1] = 0;
    for (size_t i = 0; i < points; i++) room->is_seen[i] = left->at[i] != 0;
    left->at += points, left->count -= points;
    return are_numbers(room->points, points);
}

static bool take_plates(hw_bytes *left, const hw_gait_record *record, gait_room *room)
{
    size_t samples = (size_t)record->sample_count;
    for (int i = 0; i < record->plate_count; i++)
        if (!take(left, room->force[i], samples * sizeof(hw_vec3)) ||
            !take(left, room->pressure[i], samples * sizeof(hw_vec3)) ||
            !are_numbers(room->force[i], samples) || !are_numbers(room->pressure[i], samples))
            return false;
    return true;
}

hw_status hw_gait_unpack(hw_job *job, hw_bytes bytes, hw_arena *into, hw_gait_record *out)
{
    packed_head head;
    gait_room room = {0};
    hw_bytes left = bytes;
    if (!hw_gait_is_packed(bytes) || !take(&left, &head, sizeof head) || !is_sound(&head))
        return hw_fail(job, HW_BAD_FORMAT, "this is no walk of this program's own form");
    hw_gait_record record = {.rate_Hz = head.rates[0],
                             .frame_count = head.counts[0],
                             .marker_count = head.counts[1],
                             .first_frame = head.counts[2],
                             .force_rate_Hz = head.rates[1],
                             .sample_count = head.counts[3],
                             .plate_count = head.counts[4],
                             .note = head.has_note ? left_out : NULL};
    memcpy(record.kind, head.kind, sizeof record.kind);
    record.kind[HW_GAIT_NAME - 1] = 0;
    HW_TRY(gait_open_room(job, into, &record, &room));
    if (!take_points(&left, &record, &room) || !take_plates(&left, &record, &room) || left.count)
        return hw_fail(job, HW_BAD_FORMAT, "the kept walk's head does not fit its %zu bytes",
                       bytes.count);
    *out = record;
    return HW_OK;
}
