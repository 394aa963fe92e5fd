// SPDX-License-Identifier: GPL-3.0-or-later
#include "seal/seal.h"

#include <sodium.h>

_Static_assert(sizeof(crypto_secretstream_xchacha20poly1305_state) <= 64, "stream");
_Static_assert(crypto_secretstream_xchacha20poly1305_HEADERBYTES == HW_SEAL_STREAM_HEADER, "head");
_Static_assert(crypto_secretstream_xchacha20poly1305_ABYTES == HW_SEAL_STREAM_MORE, "chunk");

static crypto_secretstream_xchacha20poly1305_state *state_of(hw_seal_stream *stream)
{
    return (crypto_secretstream_xchacha20poly1305_state *)(void *)stream->state;
}

void hw_seal_stream_write(hw_seal_stream *stream, const hw_seal_key *key,
                          unsigned char header[static HW_SEAL_STREAM_HEADER])
{
    *stream = (hw_seal_stream){0};
    crypto_secretstream_xchacha20poly1305_init_push(state_of(stream), header, key->bytes);
}

void hw_seal_stream_put(hw_seal_stream *stream, hw_bytes identity, hw_bytes plain, bool is_last,
                        unsigned char *out)
{
    HW_ASSERT(!stream->is_ended);
    unsigned char tag = is_last ? crypto_secretstream_xchacha20poly1305_TAG_FINAL : 0;
    crypto_secretstream_xchacha20poly1305_push(state_of(stream), out, NULL, plain.at, plain.count,
                                               identity.at, identity.count, tag);
    stream->is_ended = is_last;
}

hw_status hw_seal_stream_read(hw_job *job, hw_seal_stream *stream, const hw_seal_key *key,
                              const unsigned char header[static HW_SEAL_STREAM_HEADER])
{
    *stream = (hw_seal_stream){0};
    if (crypto_secretstream_xchacha20poly1305_init_pull(state_of(stream), header, key->bytes) != 0)
        return hw_fail(job, HW_BAD_FORMAT, "a sealed stream's header is none");
    return HW_OK;
}

hw_status hw_seal_stream_get(hw_job *job, hw_seal_stream *stream, hw_bytes identity,
                             hw_bytes sealed, unsigned char *out)
{
    if (stream->is_ended)
        return hw_fail(job, HW_BAD_FORMAT, "a sealed stream goes on behind its end");
    if (sealed.count < HW_SEAL_STREAM_MORE)
        return hw_fail(job, HW_BAD_FORMAT, "a sealed chunk is cut short: %zu bytes", sealed.count);
    unsigned char tag = 0;
    if (crypto_secretstream_xchacha20poly1305_pull(state_of(stream), out, NULL, &tag, sealed.at,
                                                   sealed.count, identity.at, identity.count) != 0)
        return hw_fail(job, HW_BAD_FORMAT,
                       "a sealed chunk does not open: another key, changed or out of its place");
    stream->is_ended = tag == crypto_secretstream_xchacha20poly1305_TAG_FINAL;
    return HW_OK;
}
