// SPDX-License-Identifier: GPL-3.0-or-later
// One stance out of a record, and the arch through it.
#include "gait_internal.h"

#include <math.h>

static const double sure_pressure_bw =
    0.05; // below, the centre of pressure is noise and the last sure one is held
static const double flat_share = 0.3; // of the stance: the foot stands flat

typedef struct span {
    int first, last; // samples
} span;

static hw_vec3 mean_force(const hw_gait_record *record, int plate)
{
    hw_vec3 sum = {0};
    for (int s = 0; s < record->sample_count; s++)
        sum = hw_vec3_add(sum, record->plates[plate].force[s]);
    return sum;
}

// The laboratory's axis nearest to the mean force; the plates push up.
static hw_vec3 up_of(hw_vec3 force)
{
    double x = fabs(force.x), y = fabs(force.y), z = fabs(force.z);
    if (z >= x && z >= y) return (hw_vec3){0.0, 0.0, force.z < 0.0 ? -1.0 : 1.0};
    if (y >= x) return (hw_vec3){0.0, force.y < 0.0 ? -1.0 : 1.0, 0.0};
    return (hw_vec3){force.x < 0.0 ? -1.0 : 1.0, 0.0, 0.0};
}

// The `step`-th time the plate was loaded for as long as a stance lasts; one that is cut by the
// record's end is none.
static bool find_span(const hw_gait_record *record, const hw_gait_plate *plate, hw_vec3 up,
                      int step, span *out)
{
    int begin = -1, found = 0;
    for (int s = 0; s < record->sample_count; s++) {
        bool is_loaded = hw_vec3_dot(plate->force[s], up) > GAIT_LOADED_N;
        if (is_loaded && begin < 0) begin = s;
        if (is_loaded || begin < 0) continue;
        double lasts = (s - begin) / record->force_rate_Hz;
        bool is_whole = begin > 0 && lasts >= GAIT_SHORTEST_S && lasts <= GAIT_LONGEST_S;
        if (is_whole && found++ == step) {
            *out = (span){begin, s - 1};
            return true;
        }
        begin = -1;
    }
    return false;
}

static hw_status check_walker(hw_job *job, const hw_gait_record *record,
                              const hw_gait_walker *walker)
{
    if (!(walker->mass_kg >= 10.0 && walker->mass_kg <= 300.0))
        return hw_fail(job, HW_BAD_INPUT, "a body mass of %g kg is out of range, 10 to 300 kg",
                       walker->mass_kg);
    if (record->plate_count == 0)
        return hw_fail(job, HW_BAD_INPUT, "the record holds no force plate");
    if (walker->plate < 0 || walker->plate >= record->plate_count)
        return hw_fail(job, HW_BAD_INPUT, "there is no plate %d; the record has %d",
                       walker->plate + 1, record->plate_count);
    return HW_OK;
}

// A sample between two, by its place.
static double between(const double *values, int count, double place)
{
    int i = (int)place;
    if (i >= count - 1) return values[count - 1];
    return values[i] + (place - i) * (values[i + 1] - values[i]);
}

static hw_status marker_of(hw_job *job, const hw_gait_record *record, const char *name, int *out)
{
    *out = hw_gait_marker(record, name);
    if (*out >= 0) return HW_OK;
    return hw_fail(job, HW_BAD_INPUT, "there is no marker '%.30s' in the record", name ? name : "");
}

// The marker's place at a time; false where it was not seen on both sides of it.
static bool point_at(const hw_gait_record *record, int marker, double time_s, hw_vec3 *out)
{
    double place = time_s * record->rate_Hz;
    int frame = (int)place;
    if (frame < 0 || frame >= record->frame_count) return false;
    int next = frame + 1 < record->frame_count ? frame + 1 : frame;
    size_t a = (size_t)frame * (size_t)record->marker_count + (size_t)marker;
    size_t b = (size_t)next * (size_t)record->marker_count + (size_t)marker;
    if (!record->is_seen[a] || !record->is_seen[b]) return false;
    *out = hw_vec3_mix(record->points[a], record->points[b], place - frame);
    return true;
}

// The foot on the plate: its markers, where it points while it stands flat, and how far apart they
// are then, level.
typedef struct footing {
    int heel, head;
    int first, count; // samples of the stance
    double flat_s, reach;
    hw_vec3 forward;
} footing;

static hw_status find_foot(hw_job *job, const hw_gait_record *record, const hw_gait_names *names,
                           hw_vec3 up, footing *on)
{
    hw_vec3 a = {0}, b = {0};
    HW_TRY(marker_of(job, record, names->heel, &on->heel));
    HW_TRY(marker_of(job, record, names->head_1, &on->head));
    if (!point_at(record, on->heel, on->flat_s, &a) || !point_at(record, on->head, on->flat_s, &b))
        return hw_fail(job, HW_NO_ANSWER, "heel or first head was out of sight at %.2f s",
                       on->flat_s);
    hw_vec3 along = hw_vec3_sub(b, a);
    along = hw_vec3_sub(along, hw_vec3_scale(up, hw_vec3_dot(along, up)));
    on->reach = hw_vec3_norm(along);
    on->forward = hw_vec3_unit(along);
    if (on->reach < 0.08 || on->reach > 0.30)
        return hw_fail(job, HW_BAD_INPUT,
                       "heel and first head are %.0f mm apart: these are not a foot's",
                       hw_mm_from_m(on->reach));
    return HW_OK;
}

// Before the foot is flat the heel marker stands over the ground, from then on the first head's
// does, until the toes push off; on a moving belt too.
static hw_status fill_pressure(hw_job *job, const hw_gait_record *record,
                               const hw_gait_walker *walker, const footing *on,
                               const double *force_z, double *place)
{
    double held = NAN;
    for (int k = 0; k < on->count; k++) {
        hw_vec3 at = {0};
        double time_s = (on->first + k) / record->force_rate_Hz;
        bool is_early = time_s < on->flat_s;
        if (force_z[k] >= sure_pressure_bw &&
            point_at(record, is_early ? on->heel : on->head, time_s, &at)) {
            hw_vec3 off = hw_vec3_sub(record->plates[walker->plate].pressure[on->first + k], at);
            double from_heel = hw_vec3_dot(off, on->forward) + (is_early ? 0.0 : on->reach);
            held = from_heel / walker->foot_length_m;
        }
        place[k] = held;
    }
    for (int k = on->count - 2; k >= 0; k--)
        if (isnan(place[k])) place[k] = place[k + 1];
    // While the foot lands and leaves, forces are small and their place is unsure: it is kept on
    // the foot. In between it lies there by itself, or plate and markers are not of one foot.
    for (int k = 0; k < on->count; k++) {
        bool is_sure = k > on->count / 5 && k < on->count - on->count / 5;
        if (is_sure && !(place[k] > -0.2 && place[k] < 1.2))
            return hw_fail(
                job, HW_BAD_INPUT,
                "the centre of pressure lies %.2f foot lengths from the heel: plate and markers do "
                "not belong together",
                place[k]);
        place[k] = fmin(1.0, fmax(0.0, place[k]));
    }
    return HW_OK;
}

static void resample(const double *values, int count, double *out)
{
    for (int i = 0; i < HW_GAIT_INSTANTS; i++)
        out[i] = between(values, count, (double)i / (HW_GAIT_INSTANTS - 1) * (count - 1));
}

// Forces along the foot, and the centre of pressure on it: what needs markers.
static hw_status place_on_foot(hw_job *job, const hw_gait_record *record,
                               const hw_gait_walker *walker, hw_vec3 up, const span *of,
                               const double *vertical, double *room, hw_gait_stance *out)
{
    footing on = {.first = of->first, .count = of->last - of->first + 1};
    double weight = walker->mass_kg * HW_STANDARD_GRAVITY;
    on.flat_s = out->begin_s + flat_share * (out->end_s - out->begin_s);
    HW_TRY(find_foot(job, record, &walker->names, up, &on));
    for (int k = 0; k < on.count; k++)
        room[k] =
            hw_vec3_dot(record->plates[walker->plate].force[of->first + k], on.forward) / weight;
    resample(room, on.count, out->force_x);
    out->has_fore_aft = true;
    if (walker->foot_length_m < 0.1) return HW_OK; // not said
    HW_TRY(fill_pressure(job, record, walker, &on, vertical, room));
    resample(room, on.count, out->pressure_x);
    out->has_pressure = true;
    return HW_OK;
}

hw_status hw_gait_find_stance(hw_job *job, const hw_gait_record *record,
                              const hw_gait_walker *walker, hw_gait_stance *out)
{
    hw_gait_stance stance = {0};
    span of = {0};
    double *vertical = NULL, *room = NULL, sum = 0.0;
    HW_TRY(check_walker(job, record, walker));
    const hw_gait_plate *plate = &record->plates[walker->plate];
    hw_vec3 up = up_of(mean_force(record, walker->plate));
    if (!find_span(record, plate, up, walker->step, &of))
        return hw_fail(job, HW_NO_ANSWER,
                       "plate %d is not loaded above %.0f N for %.2f to %.0f s a %s time",
                       walker->plate + 1, GAIT_LOADED_N, GAIT_SHORTEST_S, GAIT_LONGEST_S,
                       walker->step ? "further" : "first");
    int count = of.last - of.first + 1;
    stance.begin_s = of.first / record->force_rate_Hz,
    stance.end_s = of.last / record->force_rate_Hz;
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    HW_ALLOC(job, tmp.arena, vertical, count);
    HW_ALLOC(job, tmp.arena, room, count);
    for (int k = 0; k < count; k++) {
        vertical[k] =
            hw_vec3_dot(plate->force[of.first + k], up) / (walker->mass_kg * HW_STANDARD_GRAVITY);
        sum += vertical[k];
    }
    // The mean of a whole stance in walking is about 0.75 to 0.95 body weights.
    if (!(sum / count > 0.45 && sum / count < 1.6))
        return hw_fail(job, HW_BAD_INPUT,
                       "the mean force is %.2f body weights of %g kg: mass, plate or unit is wrong",
                       sum / count, walker->mass_kg);
    resample(vertical, count, stance.force_z);
    stance.has_force = true;
    stance.impulse_bw_s = sum / record->force_rate_Hz;
    if (walker->names.heel && walker->names.head_1 && record->marker_count > 0)
        HW_TRY(place_on_foot(job, record, walker, up, &of, vertical, room, &stance));
    hw_scratch_end(tmp);
    *out = stance;
    return HW_OK;
}

double hw_gait_at(const double table[HW_GAIT_INSTANTS], double percent)
{
    return between(table, HW_GAIT_INSTANTS, percent / 100.0 * (HW_GAIT_INSTANTS - 1));
}

// -- the arch

typedef struct arch_markers {
    int heel, arch, head_1, head_5; // head_5 -1: none
} arch_markers;

// Above the plane of three, or beside the line of two; `up` tells the sides of a plane apart.
static bool height_at(const hw_gait_record *record, const arch_markers *of, double time_s,
                      double *out)
{
    hw_vec3 heel, arch, first, fifth;
    if (!point_at(record, of->heel, time_s, &heel) || !point_at(record, of->arch, time_s, &arch) ||
        !point_at(record, of->head_1, time_s, &first))
        return false;
    hw_vec3 along = hw_vec3_sub(first, heel), to_arch = hw_vec3_sub(arch, heel);
    if (of->head_5 < 0) {
        *out = hw_vec3_norm(hw_vec3_cross(hw_vec3_unit(along), to_arch));
        return true;
    }
    if (!point_at(record, of->head_5, time_s, &fifth)) return false;
    hw_vec3 normal = hw_vec3_unit(hw_vec3_cross(along, hw_vec3_sub(fifth, heel)));
    *out = hw_vec3_dot(to_arch, normal);
    return true;
}

static hw_status find_markers(hw_job *job, const hw_gait_record *record, const hw_gait_names *names,
                              arch_markers *out)
{
    HW_TRY(marker_of(job, record, names->heel, &out->heel));
    HW_TRY(marker_of(job, record, names->arch, &out->arch));
    HW_TRY(marker_of(job, record, names->head_1, &out->head_1));
    out->head_5 = -1;
    if (names->head_5) HW_TRY(marker_of(job, record, names->head_5, &out->head_5));
    return HW_OK;
}

static void sum_up(const hw_gait_stance *stance, hw_gait_arch_course *out)
{
    double step_s = (stance->end_s - stance->begin_s) / (HW_GAIT_INSTANTS - 1);
    const int reach = (HW_GAIT_INSTANTS - 1) / 16;
    out->highest_m = -INFINITY, out->lowest_m = INFINITY;
    for (int i = 0; i < HW_GAIT_INSTANTS; i++) {
        out->highest_m = fmax(out->highest_m, out->height_m[i]);
        if (out->height_m[i] < out->lowest_m) {
            out->lowest_m = out->height_m[i];
            out->lowest_percent = 100.0 * i / (HW_GAIT_INSTANTS - 1);
        }
        if (i >= reach)
            out->lowering_speed_m_s =
                fmax(out->lowering_speed_m_s,
                     (out->height_m[i - reach] - out->height_m[i]) / (reach * step_s));
    }
    out->drop_m = out->height_m[0] - out->lowest_m;
}

// For an instant out of sight the last height is held; before the first that was seen, that one is.
static void hold_unseen(double height_m[HW_GAIT_INSTANTS])
{
    int first = 0;
    while (first < HW_GAIT_INSTANTS - 1 && isnan(height_m[first])) first++;
    for (int i = 0; i < first; i++) height_m[i] = height_m[first];
    for (int i = first + 1; i < HW_GAIT_INSTANTS; i++)
        if (isnan(height_m[i])) height_m[i] = height_m[i - 1];
}

hw_status hw_gait_arch(hw_job *job, const hw_gait_record *record, const hw_gait_stance *stance,
                       const hw_gait_names *names, hw_gait_arch_course *out)
{
    arch_markers of = {0};
    hw_gait_arch_course course = {0};
    int unseen = 0;
    double sum = 0.0;
    HW_TRY(find_markers(job, record, names, &of));
    if (!(stance->end_s > stance->begin_s))
        return hw_fail(job, HW_BAD_INPUT, "the stance has no length");
    for (int i = 0; i < HW_GAIT_INSTANTS; i++) {
        double share = (double)i / (HW_GAIT_INSTANTS - 1);
        double time_s = stance->begin_s + share * (stance->end_s - stance->begin_s);
        if (height_at(record, &of, time_s, &course.height_m[i])) continue;
        course.height_m[i] = NAN;
        unseen++;
    }
    if (unseen > HW_GAIT_INSTANTS / 10)
        return hw_fail(job, HW_NO_ANSWER,
                       "the arch's markers were out of sight at %d of %d instants", unseen,
                       HW_GAIT_INSTANTS);
    hold_unseen(course.height_m);
    for (int i = 0; i < HW_GAIT_INSTANTS; i++) sum += course.height_m[i];
    // Heights over a plane are positive on the side the arch is on.
    for (int i = 0; sum < 0.0 && i < HW_GAIT_INSTANTS; i++)
        course.height_m[i] = -course.height_m[i];
    sum_up(stance, &course);
    *out = course;
    return HW_OK;
}
