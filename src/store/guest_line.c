// SPDX-License-Identifier: GPL-3.0-or-later
// The two lines that are carried once between a guest and its clinic, in words without a blank.
#include "store/guest_internal.h"

static const char worker_word[] = "heelwright-worker.1.";
static const char clinic_word[] = "heelwright-clinic.1.";
enum { CHECK = 4, KEY_HEX = 64, CHECK_HEX = 2 * CHECK, ID_HEX = HW_STORE_ID - 1, PROOF_HEX = 64 };

hw_status hw_guest_keys_of(hw_job *job, const unsigned char secret[32],
                           const unsigned char open[32], hw_guest_keys *out)
{
    hw_seal_key shared;
    HW_TRY(hw_seal_shared(job, secret, open, &shared));
    out->jobs = hw_seal_derive(&shared, "heelwright keys of jobs");
    out->parcels = hw_seal_derive(&shared, "heelwright parcels");
    out->line = hw_seal_derive(&shared, "heelwright clinic's line");
    hw_seal_wipe(&shared, sizeof shared);
    return HW_OK;
}

// Finds slips of copying; everybody can make it.
static void check_of(const unsigned char open[32], unsigned char check[CHECK])
{
    const hw_seal_key none = {{0}};
    unsigned char hash[HW_SEAL_HASH];
    hw_bytes parts[] = {hw_bytes_of(worker_word), {open, 32}};
    hw_seal_hash(&none, parts, 2, hash);
    memcpy(check, hash, CHECK);
}

hw_status hw_guest_line_write(hw_job *job, const unsigned char open[32], hw_arena *into,
                              const char **out)
{
    unsigned char check[CHECK];
    char key_hex[KEY_HEX + 1], check_hex[CHECK_HEX + 1];
    check_of(open, check);
    hw_seal_hex(open, 32, key_hex);
    hw_seal_hex(check, CHECK, check_hex);
    return hw_text_format(job, into, out, "%s%s.%s", worker_word, key_hex, check_hex);
}

// Takes `digits` hex digits and the point or the end behind them off the line.
static bool take_hex(const char **at, size_t digits, unsigned char *bytes)
{
    char hex[KEY_HEX + 1] = "";
    if (strlen(*at) < digits) return false;
    memcpy(hex, *at, digits);
    *at += digits;
    if (!hw_seal_unhex(hex, bytes, digits / 2) || (**at && **at != '.')) return false;
    if (**at) ++*at;
    return true;
}

static bool take_id(const char **at, char id[HW_STORE_ID])
{
    unsigned char bytes[ID_HEX / 2];
    if (!take_hex(at, ID_HEX, bytes)) return false;
    hw_seal_hex(bytes, sizeof bytes, id);
    return true;
}

static bool take_word(const char **at, const char *word)
{
    size_t length = strlen(word);
    if (strncmp(*at, word, length) != 0) return false;
    *at += length;
    return true;
}

hw_status hw_guest_line_read(hw_job *job, const char *line, unsigned char open[32])
{
    const char *at = line;
    unsigned char check[CHECK], want[CHECK];
    bool is_line = take_word(&at, worker_word) && take_hex(&at, KEY_HEX, open) &&
                   take_hex(&at, CHECK_HEX, check) && !*at;
    if (is_line) check_of(open, want);
    if (is_line && memcmp(check, want, CHECK) == 0) return HW_OK;
    return hw_fail(job, HW_BAD_INPUT,
                   "this is not a worker's line as 'heelwright work --join' prints it, or a "
                   "character of it is wrong: copy it anew");
}

static void prove(const hw_guest_keys *keys, const char *store_id, const char *guest,
                  unsigned char proof[HW_SEAL_HASH])
{
    hw_bytes parts[] = {hw_bytes_of(clinic_word), hw_bytes_of(store_id), hw_bytes_of(guest)};
    hw_seal_hash(&keys->line, parts, 3, proof);
}

hw_status hw_clinic_line_write(hw_job *job, const hw_store *store, const char *guest,
                               const hw_guest_keys *keys, hw_arena *into, const char **out)
{
    unsigned char proof[HW_SEAL_HASH];
    char key_hex[KEY_HEX + 1], proof_hex[PROOF_HEX + 1];
    prove(keys, store->store_id, guest, proof);
    hw_seal_hex(store->worker.open, 32, key_hex);
    hw_seal_hex(proof, sizeof proof, proof_hex);
    return hw_text_format(job, into, out, "%s%s.%s.%s.%s", clinic_word, store->store_id, guest,
                          key_hex, proof_hex);
}

hw_status hw_clinic_line_read(hw_job *job, const char *line, const unsigned char secret[32],
                              hw_clinic_line *out, hw_guest_keys *keys)
{
    const char *at = line;
    unsigned char want[HW_SEAL_HASH];
    bool is_line = take_word(&at, clinic_word) && take_id(&at, out->store_id) &&
                   take_id(&at, out->guest) && take_hex(&at, KEY_HEX, out->open) &&
                   take_hex(&at, PROOF_HEX, out->proof) && !*at;
    if (!is_line)
        return hw_fail(job, HW_BAD_INPUT,
                       "this is not a clinic's line as it was given for a worker: copy it anew");
    HW_TRY(hw_guest_keys_of(job, secret, out->open, keys));
    prove(keys, out->store_id, out->guest, want);
    if (hw_seal_same(out->proof, want, sizeof want)) return HW_OK;
    return hw_fail(job, HW_BAD_INPUT,
                   "this clinic's line was made for another worker, or a character of it is wrong");
}
