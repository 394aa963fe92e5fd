// SPDX-License-Identifier: GPL-3.0-or-later
// Machines that compute for the clinic without holding its key: who they are, by whom they came.
#include "api_internal.h"

static void write_guest(api_call *call, hw_json_out *out, const char *key,
                        const hw_store_guest *guest)
{
    hw_json_open(out, key, '{');
    hw_json_text(out, "id", guest->id);
    hw_json_text(out, "name", guest->name);
    hw_json_text(out, "line", guest->line);
    api_time(out, "registered", guest->added_ms);
    hw_json_text(out, "registered_by", api_user_name(call, guest->added_by));
    if (guest->withdrawn_ms) {
        api_time(out, "withdrawn", guest->withdrawn_ms);
        hw_json_text(out, "withdrawn_by", api_user_name(call, guest->withdrawn_by));
    }
    hw_json_close(out);
}

hw_status answer_guests(api_call *call)
{
    hw_store_guests all = {0};
    HW_TRY(hw_store_guest_list(call->job, call->api->store, call->into, &all));
    hw_json_out out = api_begin(call);
    hw_json_open(&out, "workers", '[');
    for (int i = 0; i < all.count; i++) write_guest(call, &out, NULL, &all.guests[i]);
    hw_json_close(&out);
    return api_end(call, &out);
}

hw_status answer_guest_add(api_call *call)
{
    const char *name = NULL, *line = NULL;
    hw_store_guest added = {0};
    HW_TRY(api_text(call, "name", HW_STORE_GUEST_NAME, NULL, &name));
    HW_TRY(api_text(call, "line", HW_STORE_LINE_MAX, NULL, &line));
    HW_TRY(hw_store_guest_add(call->job, call->api->store, name, line, call->session.user.id,
                              call->into, &added));
    hw_json_out out = api_begin(call);
    write_guest(call, &out, "worker", &added);
    return api_end(call, &out);
}

hw_status answer_guest_withdraw(api_call *call)
{
    HW_TRY(
        hw_store_guest_withdraw(call->job, call->api->store, call->args[0], call->session.user.id));
    return api_done(call);
}
