// SPDX-License-Identifier: GPL-3.0-or-later
// Ultrasound pictures, recorded walks, plantar pressure: kept in our own plain form, looked at, measured.
#include "api_internal.h"

#include <math.h>
#include <string.h>

// -- what was sent

static hw_maybe number_of(const hw_json *object, const char *key)
{
    const hw_json *value = hw_json_get(object, key);
    bool is_known = value && value->kind == HW_JSON_NUMBER;
    return (hw_maybe){is_known ? value->number : 0.0, is_known};
}

static const char *text_of(const hw_json *object, const char *key)
{
    const char *text = hw_json_text_at(object, key, "");
    return text[0] ? text : NULL;
}

// A list of just so many numbers; absent: false, another shape: HW_BAD_INPUT.
static hw_status numbers_of(api_call *call, const hw_json *list, const char *key, int count,
                            double *out, bool *is_there)
{
    *is_there = list && list->kind != HW_JSON_NULL;
    if (!*is_there) return HW_OK;
    bool is_right = list->kind == HW_JSON_LIST && list->count == count;
    for (int i = 0; is_right && i < count; i++) {
        is_right = list->items[i].kind == HW_JSON_NUMBER;
        out[i] = is_right ? list->items[i].number : 0.0;
    }
    if (is_right) return HW_OK;
    return hw_fail(call->job, HW_BAD_INPUT, "'%s' must be a list of %d numbers", key, count);
}

static int whole_of(hw_maybe number, int otherwise)
{
    return number.known && number.value >= 1.0 && number.value <= 1e6 ? (int)number.value
                                                                      : otherwise;
}

static hw_status read_kept(api_call *call, const char *hash, hw_bytes *out)
{
    return hw_store_file_get(call->job, call->api->store, hash, call->into, out);
}

// Parses what was uploaded in the shut-in process and keeps what that made of it. m_per_unit: of walks.
static hw_status keep(api_call *call, hw_app_kind kind, double m_per_unit, hw_bytes *plain,
                      char hash[static HW_STORE_HASH])
{
    hw_bytes file = call->request->body;
    hw_store_row person = {0};
    HW_TRY(hw_store_get(call->job, call->api->store, (hw_store_ref){"person", call->args[0], 0},
                        call->into, &person));
    if (kind == HW_APP_READ_WALK)
        HW_TRY(hw_app_read_walk(call->job, file, m_per_unit, call->into, plain));
    else
        HW_TRY(hw_app_read(call->job, kind, file, call->into, plain));
    hw_store_file kept = {.bytes = *plain, .person = call->args[0], .who = call->session.user.id};
    return hw_store_file_put(call->job, call->api->store, &kept, hash);
}

static hw_status say_kept(api_call *call, const char *hash, hw_bytes about)
{
    hw_json_out out = api_begin(call);
    hw_json_text(&out, "file", hash);
    hw_json_raw(&out, "about", about);
    return api_end(call, &out);
}

// -- pictures

hw_status answer_image_add(api_call *call)
{
    char hash[HW_STORE_HASH];
    hw_bytes plain = {0}, about = {0};
    hw_image_result result = {0};
    HW_TRY(keep(call, HW_APP_READ_IMAGE, 0.0, &plain, hash));
    HW_TRY(hw_app_image(call->job, plain, &result.ask, call->into, &result));
    HW_TRY(hw_report_image_json(call->job, &result, call->into, &about));
    return say_kept(call, hash, about);
}

// Pixels only, encoded anew by us; never the bytes that came.
hw_status answer_image(api_call *call)
{
    const char *frame = NULL;
    double number = 1.0;
    hw_bytes plain = {0};
    hw_image_result result = {0};
    HW_TRY(hw_http_query_read(call->job, call->request->query, "frame", call->into, &frame));
    if (frame &&
        (!hw_text_number(frame, strlen(frame), &number) || !(number >= 1.0 && number <= 1e5)))
        return hw_fail(call->job, HW_BAD_INPUT, "'frame' must be the number of a frame");
    HW_TRY(read_kept(call, call->args[0], &plain));
    hw_image_ask ask = {.measure = {.frame = (int)number - 1}};
    HW_TRY(hw_app_image(call->job, plain, &ask, call->into, &result));
    HW_TRY(hw_app_image_png(call->job, &result, call->into, &call->reply->body));
    call->reply->type = "image/png";
    return HW_OK;
}

static hw_status read_anchors(api_call *call, const hw_json *list, hw_us_box *box)
{
    if (!list || list->kind != HW_JSON_LIST) return HW_OK;
    if (list->count > HW_US_ANCHORS)
        return hw_fail(call->job, HW_BAD_INPUT, "more than %d corrections of an edge",
                       HW_US_ANCHORS);
    for (int i = 0; i < list->count; i++) {
        double n[3] = {0}; // edge, x, y
        bool is_there = false;
        HW_TRY(numbers_of(call, &list->items[i], "corrections", 3, n, &is_there));
        box->anchors[box->anchor_count++] = (hw_us_anchor){n[0] > 0.5, {n[1], n[2]}};
    }
    return HW_OK;
}

static hw_status read_box(api_call *call, hw_image_ask *ask)
{
    double n[4] = {0}, range[2] = {0};
    bool has_range = false;
    const char *edges = text_of(call->body, "edges");
    hw_maybe site = number_of(call->body, "site_x");
    HW_TRY(numbers_of(call, hw_json_get(call->body, "box"), "box", 4, n, &ask->has_box));
    if (!ask->has_box) return HW_OK;
    ask->box = hw_us_box_default(n[0], n[1], n[2], n[3]);
    if (edges && strcmp(edges, "lines") == 0) ask->box.edge = HW_US_EDGE_LINE;
    if (site.known) ask->box.site_x = site.value;
    HW_TRY(numbers_of(call, hw_json_get(call->body, "thickness_range_mm"), "thickness_range_mm", 2,
                      range, &has_range));
    if (has_range)
        ask->box.least_m = hw_m_from_mm(range[0]), ask->box.most_m = hw_m_from_mm(range[1]);
    return read_anchors(call, hw_json_get(call->body, "corrections"), &ask->box);
}

static hw_status read_image_ask(api_call *call, hw_image_ask *ask)
{
    double n[4] = {0};
    const hw_json *confirmed = hw_json_get(call->body, "spacing_confirmed");
    *ask = (hw_image_ask){.measure = {.frame = whole_of(number_of(call->body, "frame"), 1) - 1}};
    ask->measure.is_spacing_confirmed =
        confirmed && confirmed->kind == HW_JSON_BOOL && confirmed->truth;
    HW_TRY(
        numbers_of(call, hw_json_get(call->body, "ruler"), "ruler", 4, n, &ask->measure.has_ruler));
    for (int i = 0; i < 2; i++) ask->measure.ruler[i] = (hw_us_point){n[2 * i], n[2 * i + 1]};
    ask->measure.ruler_m = hw_m_from_mm(number_of(call->body, "ruler_mm").value);
    HW_TRY(
        numbers_of(call, hw_json_get(call->body, "caliper"), "caliper", 4, n, &ask->has_caliper));
    for (int i = 0; i < 2; i++) ask->caliper[i] = (hw_us_point){n[2 * i], n[2 * i + 1]};
    return read_box(call, ask);
}

hw_status answer_image_measure(api_call *call)
{
    hw_bytes plain = {0}, text = {0};
    hw_image_ask ask = {0};
    hw_image_result result = {0};
    HW_TRY(read_image_ask(call, &ask));
    HW_TRY(read_kept(call, call->args[0], &plain));
    HW_TRY(hw_app_image(call->job, plain, &ask, call->into, &result));
    HW_TRY(hw_report_image_json(call->job, &result, call->into, &text));
    return api_json(call, text);
}

// A reading as the visit keeps it.
static hw_us_reading reading_of(const hw_json *kept, hw_side side)
{
    const char *site = text_of(kept, "site"), *plane = text_of(kept, "plane");
    const hw_json *one = hw_json_get(kept, "superficial_edge_accepted");
    const hw_json *other = hw_json_get(kept, "deep_edge_accepted");
    hw_maybe thickness = number_of(kept, "thickness_mm");
    hw_us_reading out = {.side = side,
                         .thickness_m = hw_m_from_mm(thickness.value),
                         .sd_m = hw_m_from_mm(number_of(kept, "half_width_95_mm").value) / 1.96};
    out.is_accepted = thickness.known && one && one->truth && other && other->truth;
    for (int i = HW_US_SITE_ORIGIN; i <= HW_US_SITE_OTHER; i++)
        if (site && hw_text_same(site, hw_us_site_word((hw_us_site)i))) out.site = (hw_us_site)i;
    for (int i = HW_US_PLANE_LONG; i <= HW_US_PLANE_SHORT; i++)
        if (plane && hw_text_same(plane, hw_us_plane_word((hw_us_plane)i)))
            out.plane = (hw_us_plane)i;
    return out;
}

static hw_side side_of(const hw_json *body, const char *key)
{
    const char *word = text_of(body, key);
    if (word && strcmp(word, "left") == 0) return HW_SIDE_LEFT;
    return word && strcmp(word, "right") == 0 ? HW_SIDE_RIGHT : HW_SIDE_UNKNOWN;
}

hw_status answer_thickness_change(api_call *call)
{
    hw_us_change change = {0};
    hw_side side = side_of(call->body, "side");
    hw_us_reading earlier = reading_of(hw_json_get(call->body, "earlier"), side);
    hw_us_reading later = reading_of(hw_json_get(call->body, "later"), side);
    HW_TRY(hw_us_compare(call->job, &earlier, &later, &change));
    hw_json_out out = api_begin(call);
    hw_json_number(&out, "change_mm", hw_mm_from_m(change.change_m), 2);
    hw_json_number(&out, "half_width_95_mm", hw_mm_from_m(change.half_width_95_m), 2);
    hw_json_bool(&out, "is_beyond_tracing", change.is_beyond_tracing);
    return api_end(call, &out);
}

// -- walks

// The unit of a table that names none: said, or not; never another one.
static hw_status read_unit(api_call *call, double *m_per_unit)
{
    const char *unit = NULL;
    HW_TRY(hw_http_query_read(call->job, call->request->query, "unit", call->into, &unit));
    *m_per_unit = unit ? hw_gait_unit(unit) : 0.0;
    if (!unit || *m_per_unit > 0.0) return HW_OK;
    return hw_fail(call->job, HW_BAD_INPUT, "'unit' may be mm, cm or m, not '%.20s'", unit);
}

hw_status answer_walk_add(api_call *call)
{
    char hash[HW_STORE_HASH];
    double m_per_unit = 0.0;
    hw_bytes plain = {0}, about = {0};
    hw_walk_result result = {0};
    HW_TRY(read_unit(call, &m_per_unit));
    HW_TRY(keep(call, HW_APP_READ_WALK, m_per_unit, &plain, hash));
    HW_TRY(hw_gait_unpack(call->job, plain, call->into, &result.record));
    HW_TRY(hw_report_gait_json(call->job, &result, call->into, &about));
    return say_kept(call, hash, about);
}

hw_status answer_walk(api_call *call)
{
    const hw_json *body = call->body;
    const char *forces_hash = text_of(body, "forces_file");
    hw_bytes file = {0}, forces = {0}, text = {0};
    hw_walk_result result = {0};
    const hw_walk_ask ask = {
        .walker = {.mass_kg = number_of(body, "mass_kg").value,
                   .foot_length_m = hw_m_from_mm(number_of(body, "foot_length_mm").value),
                   .plate = whole_of(number_of(body, "plate"), 1) - 1,
                   .step = whole_of(number_of(body, "step"), 1) - 1,
                   .names = {text_of(body, "heel_marker"), text_of(body, "arch_marker"),
                             text_of(body, "first_head_marker"),
                             text_of(body, "fifth_head_marker")}}};
    HW_TRY(read_kept(call, call->args[0], &file));
    if (forces_hash) HW_TRY(read_kept(call, forces_hash, &forces));
    HW_TRY(hw_app_walk(call->job, file, forces, &ask, call->into, &result));
    HW_TRY(hw_report_gait_json(call->job, &result, call->into, &text));
    return api_json(call, text);
}

// -- pressure

hw_status answer_pressure_add(api_call *call)
{
    char hash[HW_STORE_HASH];
    hw_bytes plain = {0};
    HW_TRY(keep(call, HW_APP_READ_PRESSURE, 0.0, &plain, hash));
    hw_json_out out = api_begin(call);
    hw_json_text(&out, "file", hash);
    return api_end(call, &out);
}

hw_status answer_pressure(api_call *call)
{
    const hw_json *body = call->body;
    const char *unit = text_of(body, "unit");
    hw_bytes file = {0}, text = {0};
    hw_pressure_result result = {0};
    hw_pressure_ask ask = {.cell_m = {hw_m_from_mm(number_of(body, "cell_length_mm").value),
                                      hw_m_from_mm(number_of(body, "cell_breadth_mm").value)},
                           .frame_s = 1e-3 * number_of(body, "frame_ms").value};
    if (unit) ask.Pa_per_unit = hw_pressure_unit(unit);
    if (unit && ask.Pa_per_unit <= 0.0)
        return hw_fail(call->job, HW_BAD_INPUT, "'unit' may be kPa or N/cm2, not '%.20s'", unit);
    HW_TRY(read_kept(call, call->args[0], &file));
    HW_TRY(hw_app_pressure(call->job, file, &ask, number_of(body, "mass_kg").value, call->into,
                           &result));
    HW_TRY(hw_report_pressure_json(call->job, &result, call->into, &text));
    return api_json(call, text);
}
