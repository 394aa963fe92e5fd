// SPDX-License-Identifier: GPL-3.0-or-later
// A second clinician agrees to overrule a stop: by their own passphrase, to this rule, for this reason and person.
// What was agreed is kept in memory until the visit is written; the visit then names them.
#include "api_internal.h"

#include <stdio.h>
#include <string.h>

// A draft is sent within seconds; a broken line takes longer.
static const int64_t agreed_ms = 30 * 60 * 1000;

// One agreement, as one digest: nothing of the person stands in memory for it.
static void digest_of(const char *tag, const char *second, const api_overrule *of,
                      unsigned char out[HW_SEAL_HASH])
{
    static const hw_seal_key open; // it hides nothing and proves nothing to others
    const char *texts[] = {tag, second, of->person, of->rule, of->reason};
    hw_bytes parts[5];
    for (int i = 0; i < 5; i++)
        parts[i] = (hw_bytes){(const unsigned char *)texts[i], strlen(texts[i])};
    hw_seal_hash(&open, parts, 5, out);
}

static void keep(hw_api *api, const unsigned char digest[HW_SEAL_HASH])
{
    pthread_mutex_lock(&api->lock);
    api_agreement *oldest = &api->agreements[0];
    for (int i = 0; i < AGREEMENTS; i++)
        if (api->agreements[i].until_ms < oldest->until_ms) oldest = &api->agreements[i];
    memcpy(oldest->digest, digest, HW_SEAL_HASH);
    oldest->until_ms = api_tick_ms() + agreed_ms;
    pthread_mutex_unlock(&api->lock);
}

bool api_has_agreed(api_call *call, const char *second, const api_overrule *of)
{
    unsigned char digest[HW_SEAL_HASH];
    bool is_there = false;
    digest_of(call->session.tag, second, of, digest);
    pthread_mutex_lock(&call->api->lock);
    for (int i = 0; i < AGREEMENTS; i++) {
        const api_agreement *one = &call->api->agreements[i];
        is_there |=
            one->until_ms > api_tick_ms() && hw_seal_same(one->digest, digest, sizeof digest);
    }
    pthread_mutex_unlock(&call->api->lock);
    return is_there;
}

hw_status answer_second(api_call *call)
{
    const char *login = NULL;
    api_overrule of = {0};
    api_user user = {0};
    unsigned char digest[HW_SEAL_HASH];
    HW_TRY(api_text(call, "login", LOGIN_BYTES - 1, NULL, &login));
    HW_TRY(api_text(call, "person", HW_STORE_ID - 1, NULL, &of.person));
    HW_TRY(api_text(call, "rule", 100, NULL, &of.rule));
    HW_TRY(api_text(call, "reason", 4000, NULL, &of.reason));
    if (hw_text_same(login, call->session.user.login))
        return hw_fail(call->job, HW_BAD_INPUT, "the second clinician is somebody else");
    bool holds = false;
    HW_TRY(api_prove(call, &user, &holds));
    if (!holds)
        return hw_fail(call->job, HW_NO_ACCESS,
                       "login and passphrase of the second do not fit together");
    if (!(user.role & ROLES_TREATING))
        return hw_fail(call->job, HW_NO_ACCESS, "the second must be a clinician");
    if (user.is_lent)
        return hw_fail(call->job, HW_NO_ACCESS,
                       "the second has not set a passphrase of their own yet");
    digest_of(call->session.tag, user.login, &of, digest);
    keep(call->api, digest);
    // Of what was typed nothing goes into the log: the visit keeps rule and reason, sealed.
    api_log(call->api, "overrule: user=%s agrees with user=%s", user.id, call->session.user.id);
    hw_json_out out = api_begin(call);
    hw_json_text(&out, "second", user.login); // as the record shall name them
    return api_end(call, &out);
}
