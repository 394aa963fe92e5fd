// SPDX-License-Identifier: GPL-3.0-or-later
// SHA-1 (Attachment.hash is one: identity, not secrecy) and base64.
#include "fhir_internal.h"

#include <stdint.h>
#include <string.h>

static uint32_t turn(uint32_t x, int bits)
{
    return x << bits | x >> (32 - bits);
}

static void sha1_block(uint32_t h[static 5], const unsigned char *at)
{
    uint32_t w[80], a = h[0], b = h[1], c = h[2], d = h[3], e = h[4];
    for (int t = 0; t < 16; t++)
        w[t] = (uint32_t)at[4 * t] << 24 | (uint32_t)at[4 * t + 1] << 16 |
               (uint32_t)at[4 * t + 2] << 8 | at[4 * t + 3];
    for (int t = 16; t < 80; t++) w[t] = turn(w[t - 3] ^ w[t - 8] ^ w[t - 14] ^ w[t - 16], 1);
    for (int t = 0; t < 80; t++) {
        uint32_t f = t < 20   ? (b & c) | (~b & d)
                     : t < 40 ? b ^ c ^ d
                     : t < 60 ? (b & c) | (b & d) | (c & d)
                              : b ^ c ^ d;
        uint32_t k = t < 20   ? 0x5a827999u
                     : t < 40 ? 0x6ed9eba1u
                     : t < 60 ? 0x8f1bbcdcu
                              : 0xca62c1d6u;
        uint32_t next = turn(a, 5) + f + e + k + w[t];
        e = d, d = c, c = turn(b, 30), b = a, a = next;
    }
    h[0] += a, h[1] += b, h[2] += c, h[3] += d, h[4] += e;
}

void fhir_sha1(hw_bytes bytes, unsigned char digest[static FHIR_SHA1])
{
    uint32_t h[5] = {0x67452301u, 0xefcdab89u, 0x98badcfeu, 0x10325476u, 0xc3d2e1f0u};
    size_t whole = bytes.count / 64, rest = bytes.count % 64;
    unsigned char last[128] = {0};
    for (size_t i = 0; i < whole; i++) sha1_block(h, bytes.at + 64 * i);
    if (rest) memcpy(last, bytes.at + 64 * whole, rest);
    last[rest] = 0x80;
    size_t padded = rest < 56 ? 64 : 128;
    uint64_t bits = (uint64_t)bytes.count * 8;
    for (size_t i = 0; i < 8; i++) last[padded - 1 - i] = (unsigned char)(bits >> (8 * i));
    for (size_t i = 0; i < padded; i += 64) sha1_block(h, last + i);
    for (int i = 0; i < FHIR_SHA1; i++) digest[i] = (unsigned char)(h[i / 4] >> (24 - 8 * (i % 4)));
}

static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

hw_status fhir_base64(hw_job *job, hw_bytes bytes, hw_arena *into, const char **out)
{
    char *text = NULL;
    HW_ALLOC(job, into, text, bytes.count / 3 * 4 + 5);
    size_t used = 0;
    for (size_t i = 0; i < bytes.count; i += 3) {
        size_t left = bytes.count - i;
        unsigned three = (unsigned)bytes.at[i] << 16 |
                         (left > 1 ? (unsigned)bytes.at[i + 1] << 8 : 0u) |
                         (left > 2 ? bytes.at[i + 2] : 0u);
        text[used++] = letters[three >> 18];
        text[used++] = letters[three >> 12 & 63];
        text[used++] = left > 1 ? letters[three >> 6 & 63] : '=';
        text[used++] = left > 2 ? letters[three & 63] : '=';
    }
    *out = text;
    return HW_OK;
}

hw_status fhir_unbase64(hw_job *job, const char *text, hw_arena *into, hw_bytes *out)
{
    size_t count = strlen(text), used = 0;
    unsigned char *bytes = NULL;
    HW_ALLOC(job, into, bytes, count / 4 * 3 + 4);
    if (count % 4) return hw_fail(job, HW_BAD_FORMAT, "the case file in the bundle is cut off");
    for (size_t i = 0; i < count; i += 4) {
        unsigned four = 0;
        int pads = 0;
        for (size_t k = 0; k < 4; k++) {
            const char *at = text[i + k] == '=' ? NULL : strchr(letters, text[i + k]);
            bool is_pad = text[i + k] == '=' && i + 4 == count && k > 1;
            if ((!at && !is_pad) || (at && pads))
                return hw_fail(job, HW_BAD_FORMAT, "the case file in the bundle is not base64");
            pads += is_pad;
            four = four << 6 | (at ? (unsigned)(at - letters) : 0u);
        }
        for (int k = 0; k < 3 - pads; k++) bytes[used++] = (unsigned char)(four >> (16 - 8 * k));
    }
    *out = (hw_bytes){bytes, used};
    return HW_OK;
}
