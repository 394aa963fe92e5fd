// SPDX-License-Identifier: GPL-3.0-or-later
//
// seal: keys, passwords, sealed bytes. It owns libsodium.
//
//     hw_seal_key key;
//     HW_TRY(hw_seal_start(job));
//     hw_seal_random(&key, sizeof key);
//     HW_TRY(hw_seal_close(job, &key, identity, body, into, &sealed));
//     HW_TRY(hw_seal_open(job, &key, identity, sealed, into, &body));   // HW_BAD_FORMAT if changed
//
// Sealed bytes are XChaCha20-Poly1305 with a random nonce in front; what they belong to goes into
// the additional data (`identity`), so that a sealed row put in another row's place does not open.
// It stores nothing and knows nothing of records.
#ifndef HW_SEAL_H
#define HW_SEAL_H

#include "base/base.h"
#include <stdint.h>

enum {
    HW_SEAL_KEY = 32,
    HW_SEAL_HASH = 32,
    HW_SEAL_SALT = 16,
    HW_SEAL_CHUNK = 1 << 16, // plain bytes of a stream's chunk
    HW_SEAL_PASSWORD = 128,  // bytes of a password's hash as text, with its zero
    HW_SEAL_PASSWORD_MAX = 1024,
};

typedef struct hw_seal_key {
    unsigned char bytes[HW_SEAL_KEY];
} hw_seal_key;

/// A key pair: anyone with `open` seals, who has `secret` opens.
typedef struct hw_seal_pair {
    unsigned char open[32];
    unsigned char secret[32];
} hw_seal_pair;

/// To be called before anything else here; again is harmless, also from several threads.
///
///   fails   HW_IO_FAILED no random source
HW_MUST_USE hw_status hw_seal_start(hw_job *job);

/// Unpredictable bytes.
void hw_seal_random(void *bytes, size_t count);

/// 16 lower-case hex digits nobody has seen before, and a zero: 64 random bits.
void hw_seal_id(char id[static 17]);

/// Writes 2 * count digits and a zero.
void hw_seal_hex(const unsigned char *bytes, size_t count, char *text);

/// Reads exactly 2 * count lower- or upper-case digits; false for anything else.
bool hw_seal_unhex(const char *text, unsigned char *bytes, size_t count);

/// Equal, in a time that does not tell where they differ.
bool hw_seal_same(const void *a, const void *b, size_t count);

/// Zeroes so that no optimiser leaves it out.
void hw_seal_wipe(void *bytes, size_t count);

/// The hash to keep of a password: Argon2id, 64 MiB, 3 passes (RFC 9106, section 4, second choice,
/// one lane). About 0.12 s: bound how many run at once.
///
///   fails   HW_BAD_INPUT longer than HW_SEAL_PASSWORD_MAX;  HW_NO_MEMORY
HW_MUST_USE hw_status hw_seal_password(hw_job *job, const char *password,
                                       char hash[static HW_SEAL_PASSWORD]);

/// Whether `password` is the one `hash` was made from. A hash that is none holds for no password.
bool hw_seal_password_holds(const char *hash, const char *password);

/// A key from a passphrase by Argon2id. passes 3 and KiB 65,536 are ours; stored with the salt, so
/// that they can grow.
typedef struct hw_seal_stretch {
    unsigned char salt[HW_SEAL_SALT];
    uint32_t passes;
    uint32_t memory_KiB;
} hw_seal_stretch;

/// A fresh salt and our present cost.
hw_seal_stretch hw_seal_stretch_new(void);

///   fails   HW_BAD_INPUT cost out of bounds (1..16 passes, 8 KiB..1 GiB) or too long a passphrase;
///           HW_NO_MEMORY
HW_MUST_USE hw_status hw_seal_key_of(hw_job *job, const char *passphrase,
                                     const hw_seal_stretch *stretch, hw_seal_key *out);

/// A key for one purpose out of another: keyed BLAKE2b of `purpose`. Neither tells the other.
hw_seal_key hw_seal_derive(const hw_seal_key *key, const char *purpose);

/// Keyed BLAKE2b, 32 bytes, of parts one after the other. A part's length goes in before it, so
/// that ("ab", "c") and ("a", "bc") differ.
void hw_seal_hash(const hw_seal_key *key, const hw_bytes *parts, int count,
                  unsigned char out[static HW_SEAL_HASH]);

/// Keyed BLAKE2b, bit by bit as the bytes come (no lengths).
typedef struct hw_seal_sum {
    _Alignas(64) unsigned char state[384];
} hw_seal_sum;

/// A keyed digest of bytes that come piece by piece (BLAKE2b).
void hw_seal_sum_begin(hw_seal_sum *sum, const hw_seal_key *key);
/// The next piece.
void hw_seal_sum_add(hw_seal_sum *sum, const void *bytes, size_t count);
/// The digest; the sum is spent.
void hw_seal_sum_end(hw_seal_sum *sum, unsigned char out[static HW_SEAL_HASH]);

/// Seals: nonce, ciphertext, tag; 40 bytes longer than `plain`.
HW_MUST_USE hw_status hw_seal_close(hw_job *job, const hw_seal_key *key, hw_bytes identity,
                                    hw_bytes plain, hw_arena *into, hw_bytes *out);

/// Opens; a zero byte follows, not counted.
///
///   fails   HW_BAD_FORMAT wrong key, changed bytes or another identity
HW_MUST_USE hw_status hw_seal_open(hw_job *job, const hw_seal_key *key, hw_bytes identity,
                                   hw_bytes sealed, hw_arena *into, hw_bytes *out);

/// A new pair of keys, random.
hw_seal_pair hw_seal_pair_new(void);

/// The key that two pairs share: the same from one's secret and the other's open half, and known to
/// nobody else. Derive one key for each purpose from it (hw_seal_derive).
///
///   fails   HW_BAD_INPUT an open half that is none: all would share a key with it
///   source  X25519 (RFC 7748) and HSalsa20, as libsodium's crypto_box_beforenm
HW_MUST_USE hw_status hw_seal_shared(hw_job *job, const unsigned char secret[static 32],
                                     const unsigned char open[static 32], hw_seal_key *out);

/// Seals to whoever holds the secret of `open`; 48 bytes longer.
HW_MUST_USE hw_status hw_seal_to(hw_job *job, const unsigned char open[static 32], hw_bytes plain,
                                 hw_arena *into, hw_bytes *out);

///   fails   HW_BAD_FORMAT not sealed to this pair, or changed
HW_MUST_USE hw_status hw_seal_from(hw_job *job, const hw_seal_pair *pair, hw_bytes sealed,
                                   hw_arena *into, hw_bytes *out);

enum { HW_SEAL_STREAM_HEADER = 24, HW_SEAL_STREAM_MORE = 17 }; // bytes a chunk grows by

/// A stream of chunks that only open in their order, to their end: a cut stream has no last chunk.
typedef struct hw_seal_stream {
    _Alignas(16) unsigned char state[64];
    bool is_ended;
} hw_seal_stream;

/// Begins a sealed stream; its header is kept with it.
void hw_seal_stream_write(hw_seal_stream *stream, const hw_seal_key *key,
                          unsigned char header[static HW_SEAL_STREAM_HEADER]);

/// out: plain.count + HW_SEAL_STREAM_MORE bytes.
void hw_seal_stream_put(hw_seal_stream *stream, hw_bytes identity, hw_bytes plain, bool is_last,
                        unsigned char *out);

/// Opens a sealed stream by its header.
HW_MUST_USE hw_status hw_seal_stream_read(hw_job *job, hw_seal_stream *stream,
                                          const hw_seal_key *key,
                                          const unsigned char header[static HW_SEAL_STREAM_HEADER]);

/// out: sealed.count - HW_SEAL_STREAM_MORE bytes. stream->is_ended after the last chunk.
///
///   fails   HW_BAD_FORMAT changed, out of order, too short, or behind the end
HW_MUST_USE hw_status hw_seal_stream_get(hw_job *job, hw_seal_stream *stream, hw_bytes identity,
                                         hw_bytes sealed, unsigned char *out);

#endif
