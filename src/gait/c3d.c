// SPDX-License-Identifier: GPL-3.0-or-later
// C3D: integers or floats, written by three kinds of processor. The header says where things are,
// the parameter section what they are; where the two differ the file is refused.
#include "gait_internal.h"

#include <math.h>
#include <stdio.h>

enum { BLOCK = 512, INTEL = 84, DEC = 85, MIPS = 86, GROUPS = 128 };

// The whole file and how its numbers are written.
typedef struct c3d {
    hw_bytes file;
    int processor;
    hw_bytes parameters;
    char groups[GROUPS][HW_GAIT_NAME];
} c3d;

static unsigned word_at(const c3d *in, const unsigned char *at)
{
    return in->processor == MIPS ? (unsigned)at[0] << 8 | at[1] : (unsigned)at[1] << 8 | at[0];
}

static int integer_at(const c3d *in, const unsigned char *at)
{
    return (int16_t)word_at(in, at);
}

// DEC's float: 16-bit halves swapped, exponent biased by two more: a quarter of what IEEE would
// read.
static double float_at(const c3d *in, const unsigned char *at)
{
    uint32_t bits = 0;
    float value = 0.0F;
    if (in->processor == MIPS)
        bits = (uint32_t)at[0] << 24 | (uint32_t)at[1] << 16 | (uint32_t)at[2] << 8 | at[3];
    else if (in->processor == DEC)
        bits = (uint32_t)at[1] << 24 | (uint32_t)at[0] << 16 | (uint32_t)at[3] << 8 | at[2];
    else
        bits = (uint32_t)at[3] << 24 | (uint32_t)at[2] << 16 | (uint32_t)at[1] << 8 | at[0];
    if (in->processor == DEC && (bits & 0x7F800000u) == 0) return 0.0;
    memcpy(&value, &bits, sizeof value);
    return in->processor == DEC ? 0.25 * (double)value : (double)value;
}

// One parameter: `size` bytes a value (1 text and bytes, 2 integers, 4 floats).
typedef struct parameter {
    const unsigned char *values;
    int size, count;
    int dimensions[7], dimension_count;
} parameter;

// One entry of the parameter section: its name, its group, where its data and the next one are.
typedef struct entry {
    char name[HW_GAIT_NAME];
    int group; // negative: it names a group
    const unsigned char *data, *next;
} entry;

// False at the section's end or where a entry leaves it.
static bool next_entry(const c3d *in, const unsigned char *at, entry *out)
{
    const unsigned char *end = in->parameters.at + in->parameters.count;
    if (at + 2 > end) return false;
    int length = (signed char)at[0];
    if (length < 0) length = -length; // a locked one
    if (length == 0 || length >= HW_GAIT_NAME || at + 2 + length + 2 > end) return false;
    gait_cell_name((gait_cell){(const char *)at + 2, (size_t)length}, out->name);
    out->group = (signed char)at[1];
    const unsigned char *offset = at + 2 + length;
    int step = integer_at(in, offset);
    out->data = offset + 2;
    out->next = step > 0 && step < end - offset ? offset + step : NULL;
    return true;
}

// A parameter's type, dimensions and values; false where they leave the section.
static bool open_parameter(const c3d *in, const entry *from, parameter *out)
{
    const unsigned char *at = from->data, *end = in->parameters.at + in->parameters.count;
    *out = (parameter){0};
    if (at + 2 > end) return false;
    int type = (signed char)at[0];
    out->dimension_count = at[1];
    out->size = type < 0 ? 1 : type;
    if ((type != -1 && type != 1 && type != 2 && type != 4) || out->dimension_count > 7 ||
        at + 2 + out->dimension_count > end)
        return false;
    out->count = 1;
    for (int i = 0; i < out->dimension_count; i++) {
        out->dimensions[i] = at[2 + i];
        if (out->dimensions[i] && out->count > (1 << 22) / out->dimensions[i]) return false;
        out->count *= out->dimensions[i];
    }
    out->values = at + 2 + out->dimension_count;
    return (size_t)out->count * (size_t)out->size <= (size_t)(end - out->values);
}

static bool find_parameter(const c3d *in, const char *group, const char *name, parameter *out)
{
    entry one = {0};
    const unsigned char *at = in->parameters.at + 4;
    for (int k = 0; k < 20000 && at && next_entry(in, at, &one); k++, at = one.next)
        if (one.group > 0 && hw_text_same(in->groups[one.group], group) &&
            hw_text_same(one.name, name))
            return open_parameter(in, &one, out);
    return false;
}

// Groups may stand behind their parameters, so they are read first.
static void read_groups(c3d *in)
{
    entry one = {0};
    const unsigned char *at = in->parameters.at + 4;
    for (int k = 0; k < 20000 && at && next_entry(in, at, &one); k++, at = one.next)
        if (one.group < 0 && one.group > -GROUPS)
            memcpy(in->groups[-one.group], one.name, sizeof one.name);
}

static double value_of(const c3d *in, const parameter *of, int index, double otherwise)
{
    if (!of->values || index >= of->count || of->size == 1) return otherwise;
    const unsigned char *at = of->values + (size_t)index * (size_t)of->size;
    return of->size == 4 ? float_at(in, at) : integer_at(in, at);
}

static double number_of(const c3d *in, const char *group, const char *name, double otherwise)
{
    parameter found = {0};
    return find_parameter(in, group, name, &found) ? value_of(in, &found, 0, otherwise) : otherwise;
}

// A count or an index; anything that is no such number becomes 0.
static int count_of(double number)
{
    return number >= 1.0 && number <= (double)(1 << 24) ? (int)number : 0;
}

static void text_of(const c3d *in, const char *group, const char *name, int index,
                    char out[static HW_GAIT_NAME])
{
    parameter found = {0};
    out[0] = 0;
    if (!find_parameter(in, group, name, &found) || found.size != 1 || found.dimension_count < 1)
        return;
    int length = found.dimensions[0];
    if ((index + 1) * length > found.count) return;
    gait_cell_name((gait_cell){(const char *)found.values + index * length, (size_t)length}, out);
}

// What the header says.
typedef struct shape {
    int points, analogs; // analogs: values a frame, all channels
    int first, frames;
    int analog_times; // samples of a channel a frame
    double scale;     // negative: floats
    size_t data;      // byte
    size_t frame_bytes;
    double m_per_unit;
} shape;

static hw_status open_file(hw_job *job, hw_bytes bytes, c3d *out)
{
    *out = (c3d){.file = bytes, .processor = INTEL};
    if (bytes.count < 2 * BLOCK || bytes.at[1] != 0x50 || bytes.at[0] < 2)
        return hw_fail(job, HW_BAD_FORMAT,
                       "this is no C3D file (%zu bytes; its second byte must be 0x50)",
                       bytes.count);
    size_t begin = ((size_t)bytes.at[0] - 1) * BLOCK;
    if (begin + 4 > bytes.count)
        return hw_fail(job, HW_BAD_FORMAT, "the C3D file ends before its parameters");
    const unsigned char *head = bytes.at + begin;
    size_t length = (size_t)head[2] * BLOCK;
    out->processor = head[3];
    if (out->processor < INTEL || out->processor > MIPS)
        return hw_fail(job, HW_BAD_FORMAT,
                       "the C3D file names processor %d; 84, 85 and 86 are known", head[3]);
    if (length == 0 || length > bytes.count - begin)
        return hw_fail(job, HW_BAD_FORMAT, "the C3D file ends inside its parameters");
    out->parameters = (hw_bytes){head, length};
    read_groups(out);
    return HW_OK;
}

static unsigned unsigned_of(const c3d *in, const parameter *of, int index)
{
    if (!of->values || of->size != 2 || index >= of->count) return 0;
    return word_at(in, of->values + 2 * index);
}

// First or last frame in two words, the lower one first.
static double field_of(const c3d *in, const char *name)
{
    parameter found = {0};
    if (!find_parameter(in, "TRIAL", name, &found) || found.count < 2) return 0.0;
    return unsigned_of(in, &found, 0) + 65536.0 * unsigned_of(in, &found, 1);
}

// Frames of a record that is longer than the header's 16 bits can say; 0: no parameter says it. In
// the order of the public C3D specification's chapter on long recordings (from memory: c3d.org,
// user guide).
static int frames_of_long(const c3d *in)
{
    parameter found = {0};
    double first = field_of(in, "ACTUAL_START_FIELD"), last = field_of(in, "ACTUAL_END_FIELD");
    if (first >= 1.0 && last - first + 1.0 > 65535.0) return count_of(last - first + 1.0);
    double more = number_of(in, "POINT", "LONG_FRAMES", 0.0);
    if (more > 65535.0) return count_of(more);
    if (find_parameter(in, "POINT", "FRAMES", &found) && found.size == 4)
        return count_of(value_of(in, &found, 0, 0.0));
    return 0;
}

// The last frame's number has 16 bits in the header. A file that holds more and does not say how
// many would be read cut short.
static hw_status count_frames(hw_job *job, const c3d *in, shape *out)
{
    unsigned last = word_at(in, in->file.at + 8);
    out->frames = (int)last - out->first + 1;
    if (last != 65535) return HW_OK;
    int more = frames_of_long(in);
    if (more > out->frames) out->frames = more;
    if (more > 0 || out->frames < 1 || out->frame_bytes == 0 || out->data > in->file.count)
        return HW_OK;
    size_t needed = (size_t)out->frames * out->frame_bytes, held = in->file.count - out->data;
    if (held < needed + BLOCK + out->frame_bytes) return HW_OK;
    return hw_fail(job, HW_BAD_FORMAT,
                   "the C3D file has room for %zu frames; its header can say no more than %d and "
                   "no parameter says how many there are",
                   held / out->frame_bytes, out->frames);
}

static hw_status read_shape(hw_job *job, const c3d *in, shape *out)
{
    const unsigned char *at = in->file.at;
    char unit[HW_GAIT_NAME];
    out->points = (int)word_at(in, at + 2), out->analogs = (int)word_at(in, at + 4);
    out->first = (int)word_at(in, at + 6);
    out->scale = float_at(in, at + 12);
    out->data = ((size_t)word_at(in, at + 16) - 1) * BLOCK;
    out->analog_times = (int)word_at(in, at + 18);
    size_t wide = out->scale < 0.0 ? 4 : 2;
    out->frame_bytes = wide * (4 * (size_t)out->points + (size_t)out->analogs);
    HW_TRY(count_frames(job, in, out));
    text_of(in, "POINT", "UNITS", 0, unit);
    out->m_per_unit = hw_gait_unit(unit);
    if (out->frames < 1 || out->frame_bytes == 0 || !isfinite(out->scale) || out->scale == 0.0)
        return hw_fail(job, HW_BAD_FORMAT, "the C3D file holds no frames");
    if (word_at(in, at + 16) < 2 || out->data > in->file.count ||
        (size_t)out->frames > (in->file.count - out->data) / out->frame_bytes)
        return hw_fail(
            job, HW_BAD_FORMAT,
            "the C3D file has %zu bytes, fewer than its %d frames of %d points and %d analog "
            "values need",
            in->file.count, out->frames, out->points, out->analogs);
    if (out->points > 0 && out->m_per_unit == 0.0)
        return hw_fail(job, HW_BAD_FORMAT,
                       "the C3D file's unit of length is '%s'; mm, cm and m are read", unit);
    return HW_OK;
}

// Labels beyond 255 stand in LABELS2, LABELS3.
static void read_names(const c3d *in, int count, char (*names)[HW_GAIT_NAME])
{
    for (int i = 0; i < count; i++) {
        char more[HW_GAIT_NAME] = "LABELS";
        if (i >= 255) snprintf(more, sizeof more, "LABELS%d", 1 + i / 255);
        text_of(in, "POINT", more, i % 255, names[i]);
        if (!names[i][0]) snprintf(names[i], HW_GAIT_NAME, "point %d", i + 1);
    }
}

static hw_vec3 point_at(const c3d *in, const shape *of, const unsigned char *at, bool *is_seen)
{
    double v[3];
    bool is_float = of->scale < 0.0;
    for (int k = 0; k < 3; k++)
        v[k] = is_float ? float_at(in, at + 4 * k) : of->scale * integer_at(in, at + 2 * k);
    // The fourth value is -1 where the point was not seen; else camera bits and a residual.
    double fourth = is_float ? float_at(in, at + 12) : integer_at(in, at + 6);
    *is_seen = fourth >= 0.0 && isfinite(v[0]) && isfinite(v[1]) && isfinite(v[2]);
    if (!*is_seen) return (hw_vec3){0.0, 0.0, 0.0};
    return hw_vec3_scale((hw_vec3){v[0], v[1], v[2]}, of->m_per_unit);
}

static void read_points(const c3d *in, const shape *of, gait_room *room)
{
    size_t wide = of->scale < 0.0 ? 4 : 2;
    for (int f = 0; f < of->frames; f++) {
        const unsigned char *frame = in->file.at + of->data + (size_t)f * of->frame_bytes;
        for (int i = 0; i < of->points; i++) {
            size_t k = (size_t)f * (size_t)of->points + (size_t)i;
            room->points[k] = point_at(in, of, frame + 4 * wide * (size_t)i, &room->is_seen[k]);
        }
    }
}

// -- force plates

typedef struct plate {
    int channel[6];            // 0 the first
    hw_vec3 corner[4], origin; // m; origin: of the plate's sensors in its own frame
    hw_vec3 axes[3];
} plate;

static hw_vec3 vector_of(const c3d *in, const parameter *of, int index, double m_per_unit)
{
    return hw_vec3_scale((hw_vec3){value_of(in, of, 3 * index, 0.0),
                                   value_of(in, of, 3 * index + 1, 0.0),
                                   value_of(in, of, 3 * index + 2, 0.0)},
                         m_per_unit);
}

// Corners run (+x+y), (-x+y), (-x-y), (+x-y) in the plate's own frame, whose z points down into the
// floor.
static bool read_plate(const c3d *in, const shape *of, int index, plate *out)
{
    parameter channels = {0}, corners = {0}, origin = {0}, type = {0};
    if (!find_parameter(in, "FORCE_PLATFORM", "CHANNEL", &channels) ||
        !find_parameter(in, "FORCE_PLATFORM", "CORNERS", &corners) ||
        !find_parameter(in, "FORCE_PLATFORM", "ORIGIN", &origin) ||
        !find_parameter(in, "FORCE_PLATFORM", "TYPE", &type) ||
        value_of(in, &type, index, 0.0) != 2.0 || of->analog_times < 1)
        return false;
    int count = of->analogs / of->analog_times;
    for (int k = 0; k < 6; k++) {
        out->channel[k] = count_of(value_of(in, &channels, 6 * index + k, 0.0)) - 1;
        if (out->channel[k] < 0 || out->channel[k] >= count) return false;
    }
    for (int k = 0; k < 4; k++)
        out->corner[k] = vector_of(in, &corners, 4 * index + k, of->m_per_unit);
    out->origin = vector_of(in, &origin, index, of->m_per_unit);
    hw_vec3 x = hw_vec3_sub(out->corner[0], out->corner[1]);
    hw_vec3 y = hw_vec3_sub(out->corner[0], out->corner[3]);
    out->axes[0] = hw_vec3_unit(x), out->axes[1] = hw_vec3_unit(y);
    out->axes[2] = hw_vec3_unit(hw_vec3_cross(out->axes[0], out->axes[1]));
    return hw_vec3_norm(x) > 0.05 && hw_vec3_norm(y) > 0.05;
}

// SCALE and OFFSET of a channel; moments come in their own unit of length.
typedef struct channel {
    double scale, offset;
    double m_per_unit; // of a moment's
} channel;

static channel read_channel(const c3d *in, int index, double m_per_unit)
{
    parameter scale = {0}, offset = {0};
    char unit[HW_GAIT_NAME];
    channel out = {number_of(in, "ANALOG", "GEN_SCALE", 1.0), 0.0, m_per_unit};
    if (find_parameter(in, "ANALOG", "SCALE", &scale))
        out.scale *= value_of(in, &scale, index, 1.0);
    if (find_parameter(in, "ANALOG", "OFFSET", &offset))
        out.offset = value_of(in, &offset, index, 0.0);
    text_of(in, "ANALOG", "UNITS", index, unit);
    if (hw_text_same(unit, "Nm")) out.m_per_unit = 1.0;
    if (hw_text_same(unit, "Nmm")) out.m_per_unit = 1e-3;
    return out;
}

static double analog_at(const c3d *in, const shape *of, int sample, int index, const channel *how)
{
    bool is_float = of->scale < 0.0;
    int count = of->analogs / of->analog_times, frame = sample / of->analog_times;
    size_t wide = is_float ? 4 : 2;
    size_t at = of->data + (size_t)frame * of->frame_bytes + 4 * wide * (size_t)of->points +
                wide * ((size_t)(sample % of->analog_times) * (size_t)count + (size_t)index);
    double raw = is_float ? float_at(in, in->file.at + at) : integer_at(in, in->file.at + at);
    double value = (raw - how->offset) * how->scale;
    return isfinite(value) ? value : 0.0;
}

// Force of the ground on the foot in the laboratory, and the place where it acts without a moment
// about x and y.
static void read_plate_samples(const c3d *in, const shape *of, const plate *from, int samples,
                               hw_vec3 *force, hw_vec3 *pressure)
{
    channel how[6];
    for (int k = 0; k < 6; k++) how[k] = read_channel(in, from->channel[k], of->m_per_unit);
    hw_vec3 middle = {0};
    for (int k = 0; k < 4; k++) middle = hw_vec3_add(middle, hw_vec3_scale(from->corner[k], 0.25));
    // ORIGIN runs from the sensors to the middle of the surface, up against the plate's z: writers
    // that give it a positive z mean the way back.
    double turn = from->origin.z > 0.0 ? -1.0 : 1.0;
    double rise = -fabs(from->origin.z);
    for (int s = 0; s < samples; s++) {
        double v[6];
        for (int k = 0; k < 6; k++) v[k] = analog_at(in, of, s, from->channel[k], &how[k]);
        for (int k = 3; k < 6; k++) v[k] *= how[k].m_per_unit;
        double x = 0.0, y = 0.0;
        if (fabs(v[2]) > 1.0) {
            x = (rise * v[0] - v[4]) / v[2] - turn * from->origin.x;
            y = (v[3] + rise * v[1]) / v[2] - turn * from->origin.y;
        }
        // The plate is pushed; the ground pushes back.
        force[s] = hw_vec3_scale(hw_vec3_add(hw_vec3_add(hw_vec3_scale(from->axes[0], v[0]),
                                                         hw_vec3_scale(from->axes[1], v[1])),
                                             hw_vec3_scale(from->axes[2], v[2])),
                                 -1.0);
        pressure[s] = hw_vec3_add(
            middle, hw_vec3_add(hw_vec3_scale(from->axes[0], x), hw_vec3_scale(from->axes[1], y)));
    }
}

// The sign of a recorded force is the maker's: a plate a person walks on pushes up in the mean.
static void point_upwards(hw_vec3 *force, int samples, hw_vec3 up)
{
    double sum = 0.0;
    for (int s = 0; s < samples; s++) sum += hw_vec3_dot(force[s], up);
    for (int s = 0; sum < 0.0 && s < samples; s++) force[s] = hw_vec3_scale(force[s], -1.0);
}

static hw_vec3 up_of(const plate *from)
{
    hw_vec3 up =
        from->axes[2]; // of the floor; whichever way round, the laboratory's up is positive
    return up.x + up.y + up.z < 0.0 ? hw_vec3_scale(up, -1.0) : up;
}

static hw_status read_plates(hw_job *job, const c3d *in, const shape *of, const plate *plates,
                             gait_room *room, const hw_gait_record *record)
{
    for (int i = 0; i < record->plate_count; i++) {
        HW_TRY(hw_job_ask(job));
        read_plate_samples(in, of, &plates[i], record->sample_count, room->force[i],
                           room->pressure[i]);
        point_upwards(room->force[i], record->sample_count, up_of(&plates[i]));
    }
    return HW_OK;
}

hw_status gait_read_c3d(hw_job *job, hw_bytes bytes, hw_arena *into, hw_gait_record *out)
{
    static const char *const words[] = {"Intel", "DEC", "MIPS"};
    c3d in;
    shape of = {0};
    plate plates[HW_GAIT_PLATES];
    gait_room room = {0};
    HW_TRY(open_file(job, bytes, &in));
    HW_TRY(read_shape(job, &in, &of));
    hw_gait_record record = {.frame_count = of.frames,
                             .marker_count = of.points,
                             .first_frame = of.first,
                             .rate_Hz =
                                 number_of(&in, "POINT", "RATE", float_at(&in, bytes.at + 20))};
    if (!(record.rate_Hz > 0.0 && record.rate_Hz < 1e5))
        return hw_fail(job, HW_BAD_FORMAT, "the C3D file's frame rate is %g per second",
                       record.rate_Hz);
    int used = count_of(number_of(&in, "FORCE_PLATFORM", "USED", 0.0));
    for (int i = 0; i < used && record.plate_count < HW_GAIT_PLATES; i++)
        if (read_plate(&in, &of, i, &plates[record.plate_count])) record.plate_count++;
    if (record.plate_count < used)
        record.note = "force plates of a type other than 2 were left out";
    if (record.plate_count) {
        record.sample_count = of.frames * of.analog_times;
        record.force_rate_Hz = record.rate_Hz * of.analog_times;
    }
    HW_TRY(gait_open_room(job, into, &record, &room));
    read_names(&in, of.points, room.names);
    read_points(&in, &of, &room);
    HW_TRY(read_plates(job, &in, &of, plates, &room, &record));
    snprintf(record.kind, sizeof record.kind, "C3D, %s, %s", words[in.processor - INTEL],
             of.scale < 0.0 ? "float" : "integer");
    *out = record;
    return HW_OK;
}
