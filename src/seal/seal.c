// SPDX-License-Identifier: GPL-3.0-or-later
#include "seal/seal.h"

#include <sodium.h>
#include <string.h>

enum { NONCE = crypto_aead_xchacha20poly1305_ietf_NPUBBYTES };
enum { TAG = crypto_aead_xchacha20poly1305_ietf_ABYTES };

_Static_assert(crypto_aead_xchacha20poly1305_ietf_KEYBYTES == HW_SEAL_KEY, "key");

hw_status hw_seal_start(hw_job *job)
{
    if (sodium_init() < 0)
        return hw_fail(job, HW_IO_FAILED, "this machine gives no random numbers; keys need them");
    return HW_OK;
}

void hw_seal_random(void *bytes, size_t count)
{
    randombytes_buf(bytes, count);
}

void hw_seal_id(char id[static 17])
{
    unsigned char bytes[8];
    randombytes_buf(bytes, sizeof bytes);
    sodium_bin2hex(id, 17, bytes, sizeof bytes);
}

void hw_seal_hex(const unsigned char *bytes, size_t count, char *text)
{
    sodium_bin2hex(text, 2 * count + 1, bytes, count);
}

bool hw_seal_unhex(const char *text, unsigned char *bytes, size_t count)
{
    size_t length = 0;
    const char *end = NULL;
    if (strlen(text) != 2 * count) return false;
    return sodium_hex2bin(bytes, count, text, 2 * count, NULL, &length, &end) == 0 &&
           length == count && *end == '\0';
}

bool hw_seal_same(const void *a, const void *b, size_t count)
{
    return sodium_memcmp(a, b, count) == 0;
}

void hw_seal_wipe(void *bytes, size_t count)
{
    sodium_memzero(bytes, count);
}

static hw_status seal_room(hw_job *job, hw_arena *into, size_t count, unsigned char **out)
{
    unsigned char *at = NULL;
    HW_ALLOC(job, into, at, count + 1); // a zero behind, so that an opened text is a C text
    *out = at;
    return HW_OK;
}

hw_status hw_seal_close(hw_job *job, const hw_seal_key *key, hw_bytes identity, hw_bytes plain,
                        hw_arena *into, hw_bytes *out)
{
    unsigned char *at = NULL;
    HW_TRY(seal_room(job, into, NONCE + plain.count + TAG, &at));
    // 192 random bits never meet their like, so no counter has to be kept
    randombytes_buf(at, NONCE);
    unsigned long long length = 0;
    crypto_aead_xchacha20poly1305_ietf_encrypt(at + NONCE, &length, plain.at, plain.count,
                                               identity.at, identity.count, NULL, at, key->bytes);
    *out = (hw_bytes){at, NONCE + (size_t)length};
    return HW_OK;
}

hw_status hw_seal_open(hw_job *job, const hw_seal_key *key, hw_bytes identity, hw_bytes sealed,
                       hw_arena *into, hw_bytes *out)
{
    if (sealed.count < NONCE + TAG)
        return hw_fail(job, HW_BAD_FORMAT, "sealed bytes are cut short: %zu", sealed.count);
    unsigned char *at = NULL;
    HW_TRY(seal_room(job, into, sealed.count - NONCE - TAG, &at));
    unsigned long long length = 0;
    if (crypto_aead_xchacha20poly1305_ietf_decrypt(at, &length, NULL, sealed.at + NONCE,
                                                   sealed.count - NONCE, identity.at,
                                                   identity.count, sealed.at, key->bytes) != 0)
        return hw_fail(job, HW_BAD_FORMAT, "sealed bytes do not open: another key, or changed");
    *out = (hw_bytes){at, (size_t)length};
    return HW_OK;
}

hw_seal_pair hw_seal_pair_new(void)
{
    hw_seal_pair pair;
    crypto_box_keypair(pair.open, pair.secret);
    return pair;
}

hw_status hw_seal_shared(hw_job *job, const unsigned char secret[static 32],
                         const unsigned char open[static 32], hw_seal_key *out)
{
    if (crypto_box_beforenm(out->bytes, open, secret) != 0)
        return hw_fail(job, HW_BAD_INPUT, "the other's key is none");
    return HW_OK;
}

hw_status hw_seal_to(hw_job *job, const unsigned char open[static 32], hw_bytes plain,
                     hw_arena *into, hw_bytes *out)
{
    unsigned char *at = NULL;
    HW_TRY(seal_room(job, into, plain.count + crypto_box_SEALBYTES, &at));
    if (crypto_box_seal(at, plain.at, plain.count, open) != 0)
        return hw_fail(job, HW_BAD_INPUT, "the receiver's key is none");
    *out = (hw_bytes){at, plain.count + crypto_box_SEALBYTES};
    return HW_OK;
}

hw_status hw_seal_from(hw_job *job, const hw_seal_pair *pair, hw_bytes sealed, hw_arena *into,
                       hw_bytes *out)
{
    if (sealed.count < crypto_box_SEALBYTES)
        return hw_fail(job, HW_BAD_FORMAT, "a sealed box is cut short: %zu bytes", sealed.count);
    unsigned char *at = NULL;
    HW_TRY(seal_room(job, into, sealed.count - crypto_box_SEALBYTES, &at));
    if (crypto_box_seal_open(at, sealed.at, sealed.count, pair->open, pair->secret) != 0)
        return hw_fail(job, HW_BAD_FORMAT, "a sealed box does not open: another key, or changed");
    *out = (hw_bytes){at, sealed.count - crypto_box_SEALBYTES};
    return HW_OK;
}
