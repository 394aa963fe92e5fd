// SPDX-License-Identifier: GPL-3.0-or-later
// What machines recorded of a foot: an ultrasound picture with its reading, a walk, plantar
// pressure.
#include "record/record_internal.h"

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

// A word of a list, as the list spells it.
static hw_status read_listed(case_reader *reader, const hw_json *value, const char *const *words,
                             int count, const char **out)
{
    int word = -1;
    HW_TRY(case_read_word(reader, value, words, count, &word));
    if (word >= 0) *out = words[word];
    return HW_OK;
}

static hw_status need_file(case_reader *reader, const hw_json *value, const char *file)
{
    if (file || value->kind != HW_JSON_OBJECT) return HW_OK;
    return hw_faults_add(reader->job, reader->faults, reader->path,
                         "has no key \"file\": which recording is it?");
}

// -- ultrasound

static hw_status read_us_file(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_visit_ultrasound *)target)->file);
}

static hw_status read_us_site(case_reader *reader, const hw_json *value, void *target)
{
    const char *words[HW_US_SITE_OTHER] = {0};
    int word = -1;
    for (int i = 0; i < HW_US_SITE_OTHER; i++) words[i] = hw_us_site_word((hw_us_site)(i + 1));
    HW_TRY(case_read_word(reader, value, words, COUNT(words), &word));
    if (word >= 0) ((hw_visit_ultrasound *)target)->site = (hw_us_site)(word + 1);
    return HW_OK;
}

static hw_status read_us_plane(case_reader *reader, const hw_json *value, void *target)
{
    const char *words[HW_US_PLANE_SHORT] = {0};
    int word = -1;
    for (int i = 0; i < HW_US_PLANE_SHORT; i++) words[i] = hw_us_plane_word((hw_us_plane)(i + 1));
    HW_TRY(case_read_word(reader, value, words, COUNT(words), &word));
    if (word >= 0) ((hw_visit_ultrasound *)target)->plane = (hw_us_plane)(word + 1);
    return HW_OK;
}

static hw_status read_us_scale(case_reader *reader, const hw_json *value, void *target)
{
    const char *words[HW_US_SCALE_RULER + 1] = {0};
    for (int i = 0; i < COUNT(words); i++) words[i] = hw_us_scale_word((hw_us_scale_from)i);
    return read_listed(reader, value, words, COUNT(words), &((hw_visit_ultrasound *)target)->scale);
}

static hw_status read_us_method(case_reader *reader, const hw_json *value, void *target)
{
    static const char *const words[] = {"traced", "calipers"};
    return read_listed(reader, value, words, COUNT(words),
                       &((hw_visit_ultrasound *)target)->method);
}

static hw_status read_superficial(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_bool(reader, value, &((hw_visit_ultrasound *)target)->is_accepted[0]);
}

static hw_status read_deep(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_bool(reader, value, &((hw_visit_ultrasound *)target)->is_accepted[1]);
}

// Whatever the picture shows: without both edges accepted, a scale and a site there is no
// thickness.
static hw_status check_reading(case_reader *reader, const hw_visit_ultrasound *of)
{
    if (!of->thickness_mm.known) return HW_OK;
    if (!of->is_accepted[0] || !of->is_accepted[1])
        return hw_faults_add(
            reader->job, reader->faults, reader->path,
            "has a thickness, but its %s edge is not accepted: look at it on the picture "
            "and accept both edges",
            of->is_accepted[0] ? "deep" : "superficial");
    if (!of->scale || of->site == HW_US_SITE_UNKNOWN || of->plane == HW_US_PLANE_UNKNOWN)
        return hw_faults_add(reader->job, reader->faults, reader->path,
                             "has a thickness without %s; nobody could compare it later",
                             !of->scale                       ? "the source of its scale"
                             : of->site == HW_US_SITE_UNKNOWN ? "its site"
                                                              : "its plane");
    return HW_OK;
}

hw_status case_read_ultrasound(case_reader *reader, const hw_json *value, hw_visit_ultrasound *out)
{
    static const case_field fields[] = {
        {"file", read_us_file},
        {"site", read_us_site},
        {"plane", read_us_plane},
        {"scale", read_us_scale},
        {"method", read_us_method},
        {"superficial_edge_accepted", read_superficial},
        {"deep_edge_accepted", read_deep},
    };
    static const case_number numbers[] = {
        {"frame", offsetof(hw_visit_ultrasound, frame), 1, 65536, ""},
        {"thickness_mm", offsetof(hw_visit_ultrasound, thickness_mm), 0.5, 20, "mm"},
        {"half_width_95_mm", offsetof(hw_visit_ultrasound, half_width_95_mm), 0, 10, "mm"},
    };
    static const case_shape shape = {fields, COUNT(fields), numbers, COUNT(numbers), false, 0};
    HW_TRY(case_read_object(reader, value, &shape, out, NULL));
    HW_TRY(need_file(reader, value, out->file));
    return check_reading(reader, out);
}

// -- walk

static hw_status read_walk_file(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_visit_walk *)target)->file);
}

static hw_status read_forces_file(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_visit_walk *)target)->forces_file);
}

static hw_status read_walk_unit(case_reader *reader, const hw_json *value, void *target)
{
    static const char *const words[] = {"mm", "cm", "m"};
    return read_listed(reader, value, words, COUNT(words), &((hw_visit_walk *)target)->unit);
}

static hw_status read_heel_marker(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_visit_walk *)target)->markers.heel);
}

static hw_status read_arch_marker(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_visit_walk *)target)->markers.arch);
}

static hw_status read_head_1_marker(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_visit_walk *)target)->markers.head_1);
}

static hw_status read_head_5_marker(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_visit_walk *)target)->markers.head_5);
}

hw_status case_read_walk(case_reader *reader, const hw_json *value, hw_visit_walk *out)
{
    static const case_field fields[] = {
        {"file", read_walk_file},
        {"forces_file", read_forces_file},
        {"unit", read_walk_unit},
        {"heel_marker", read_heel_marker},
        {"arch_marker", read_arch_marker},
        {"first_head_marker", read_head_1_marker},
        {"fifth_head_marker", read_head_5_marker},
    };
    static const case_number numbers[] = {
        {"plate", offsetof(hw_visit_walk, plate), 1, HW_GAIT_PLATES, ""},
        {"step", offsetof(hw_visit_walk, step), 1, 1000, ""},
    };
    static const case_shape shape = {fields, COUNT(fields), numbers, COUNT(numbers), false, 0};
    HW_TRY(case_read_object(reader, value, &shape, out, NULL));
    return need_file(reader, value, out->file);
}

// -- pressure

static hw_status read_pressure_file(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((hw_visit_pressure *)target)->file);
}

static hw_status read_pressure_unit(case_reader *reader, const hw_json *value, void *target)
{
    static const char *const words[] = {"kPa", "N/cm2"};
    return read_listed(reader, value, words, COUNT(words), &((hw_visit_pressure *)target)->unit);
}

hw_status case_read_pressure(case_reader *reader, const hw_json *value, hw_visit_pressure *out)
{
    static const case_field fields[] = {{"file", read_pressure_file}, {"unit", read_pressure_unit}};
    static const case_number numbers[] = {
        {"cell_length_mm", offsetof(hw_visit_pressure, cell_length_mm), 1, 30, "mm"},
        {"cell_breadth_mm", offsetof(hw_visit_pressure, cell_breadth_mm), 1, 30, "mm"},
        {"frame_ms", offsetof(hw_visit_pressure, frame_ms), 1, 100, "ms"},
    };
    static const case_shape shape = {fields, COUNT(fields), numbers, COUNT(numbers), false, 0};
    HW_TRY(case_read_object(reader, value, &shape, out, NULL));
    return need_file(reader, value, out->file);
}
