/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Little-endian bytes, written and read one field after another, whatever the machine's own order. Running over the
 * end clears `ok` and touches nothing, so that a whole frame is checked once, at its end.
 */
#ifndef STEADYHAND_BUS_BYTES_H
#define STEADYHAND_BUS_BYTES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

struct bytes_out {
    uint8_t *at, *end;
    bool ok;
};

struct bytes_in {
    const uint8_t *at, *end;
    bool ok;
};

static inline void bytes_put(struct bytes_out *out, uint64_t value, int width)
{
    if (!out->ok || out->end - out->at < width) {
        out->ok = false;
        return;
    }
    for (int i = 0; i < width; i++)
        *out->at++ = (uint8_t)(value >> (8 * i));
}

static inline void bytes_put_double(struct bytes_out *out, double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    bytes_put(out, bits, 8);
}

/* 0 once the frame has run out. */
static inline uint64_t bytes_get(struct bytes_in *in, int width)
{
    uint64_t value = 0;
    if (!in->ok || in->end - in->at < width) {
        in->ok = false;
        return 0;
    }
    for (int i = 0; i < width; i++)
        value |= (uint64_t)*in->at++ << (8 * i);
    return value;
}

static inline uint8_t bytes_get_u8(struct bytes_in *in)
{
    return (uint8_t)bytes_get(in, 1);
}

static inline uint32_t bytes_get_u32(struct bytes_in *in)
{
    return (uint32_t)bytes_get(in, 4);
}

static inline double bytes_get_double(struct bytes_in *in)
{
    uint64_t bits = bytes_get(in, 8);
    double value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

/* Nothing missing and nothing left over. */
static inline bool bytes_done(const struct bytes_in *in)
{
    return in->ok && in->at == in->end;
}

#endif
