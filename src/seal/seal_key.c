// SPDX-License-Identifier: GPL-3.0-or-later
// Passwords, keys from passphrases, keyed hashes.
#include "seal/seal.h"

#include <sodium.h>
#include <string.h>

enum { PASSES = 3, MEMORY_KIB = 65536 }; // standards.md 7.3: the vault's choice

_Static_assert(crypto_pwhash_STRBYTES == HW_SEAL_PASSWORD, "password hash");
_Static_assert(crypto_pwhash_SALTBYTES == HW_SEAL_SALT, "salt");
_Static_assert(sizeof(crypto_generichash_state) <= sizeof(hw_seal_sum), "sum");

static hw_status check_length(hw_job *job, const char *password)
{
    if (strlen(password) > HW_SEAL_PASSWORD_MAX)
        return hw_fail(job, HW_BAD_INPUT, "a passphrase has at most %d bytes",
                       HW_SEAL_PASSWORD_MAX);
    return HW_OK;
}

hw_status hw_seal_password(hw_job *job, const char *password, char hash[static HW_SEAL_PASSWORD])
{
    HW_TRY(check_length(job, password));
    if (crypto_pwhash_str(hash, password, strlen(password), PASSES, (size_t)MEMORY_KIB * 1024) != 0)
        return hw_fail(job, HW_NO_MEMORY, "hashing a password takes %d MiB of memory",
                       MEMORY_KIB / 1024);
    return HW_OK;
}

bool hw_seal_password_holds(const char *hash, const char *password)
{
    char copy[HW_SEAL_PASSWORD] = {0}; // libsodium reads the whole field
    if (strlen(hash) >= sizeof copy || strlen(password) > HW_SEAL_PASSWORD_MAX) return false;
    memcpy(copy, hash, strlen(hash));
    return crypto_pwhash_str_verify(copy, password, strlen(password)) == 0;
}

hw_seal_stretch hw_seal_stretch_new(void)
{
    hw_seal_stretch stretch = {.passes = PASSES, .memory_KiB = MEMORY_KIB};
    randombytes_buf(stretch.salt, sizeof stretch.salt);
    return stretch;
}

hw_status hw_seal_key_of(hw_job *job, const char *passphrase, const hw_seal_stretch *stretch,
                         hw_seal_key *out)
{
    HW_TRY(check_length(job, passphrase));
    if (stretch->passes < 1 || stretch->passes > 16 || stretch->memory_KiB < 8 ||
        stretch->memory_KiB > 1u << 20)
        return hw_fail(job, HW_BAD_INPUT, "a key of %u passes over %u KiB is out of bounds",
                       stretch->passes, stretch->memory_KiB);
    if (crypto_pwhash(out->bytes, sizeof out->bytes, passphrase, strlen(passphrase), stretch->salt,
                      stretch->passes, (size_t)stretch->memory_KiB * 1024,
                      crypto_pwhash_ALG_ARGON2ID13) != 0)
        return hw_fail(job, HW_NO_MEMORY, "the passphrase's key takes %u KiB of memory",
                       stretch->memory_KiB);
    return HW_OK;
}

hw_seal_key hw_seal_derive(const hw_seal_key *key, const char *purpose)
{
    hw_seal_key out;
    crypto_generichash(out.bytes, sizeof out.bytes, (const unsigned char *)purpose, strlen(purpose),
                       key->bytes, sizeof key->bytes);
    return out;
}

void hw_seal_sum_begin(hw_seal_sum *sum, const hw_seal_key *key)
{
    crypto_generichash_init((crypto_generichash_state *)(void *)sum->state, key->bytes,
                            sizeof key->bytes, HW_SEAL_HASH);
}

void hw_seal_sum_add(hw_seal_sum *sum, const void *bytes, size_t count)
{
    crypto_generichash_update((crypto_generichash_state *)(void *)sum->state, bytes, count);
}

void hw_seal_sum_end(hw_seal_sum *sum, unsigned char out[static HW_SEAL_HASH])
{
    crypto_generichash_final((crypto_generichash_state *)(void *)sum->state, out, HW_SEAL_HASH);
}

void hw_seal_hash(const hw_seal_key *key, const hw_bytes *parts, int count,
                  unsigned char out[static HW_SEAL_HASH])
{
    hw_seal_sum sum;
    hw_seal_sum_begin(&sum, key);
    for (int i = 0; i < count; i++) {
        unsigned char length[8];
        for (int j = 0; j < 8; j++) length[j] = (unsigned char)((uint64_t)parts[i].count >> 8 * j);
        hw_seal_sum_add(&sum, length, sizeof length);
        hw_seal_sum_add(&sum, parts[i].at, parts[i].count);
    }
    hw_seal_sum_end(&sum, out);
}
