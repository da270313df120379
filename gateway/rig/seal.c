/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/seal.h"

#include <sodium.h>

#include "gateway/rig/wire.h"

_Static_assert(SEAL_KEY == crypto_kdf_KEYBYTES, "the master is a crypto_kdf key");

void seal_derive(struct seal_keys *keys, const uint8_t master[SEAL_KEY])
{
    crypto_kdf_derive_from_key(keys->to_rig, SEAL_KEY, 1, "rig-link", master);
    crypto_kdf_derive_from_key(keys->to_core, SEAL_KEY, 2, "rig-link", master);
}

void seal_write(const uint8_t key[SEAL_KEY], uint8_t *datagram, size_t len)
{
    size_t covered = len - WIRE_TAG;
    crypto_generichash(datagram + covered, WIRE_TAG, datagram, covered, key, SEAL_KEY);
}

bool seal_check(const uint8_t key[SEAL_KEY], const uint8_t *datagram, size_t len)
{
    uint8_t tag[WIRE_TAG];
    if (len < WIRE_HEADER + WIRE_TAG)
        return false;
    crypto_generichash(tag, sizeof tag, datagram, len - WIRE_TAG, key, SEAL_KEY);
    return sodium_memcmp(tag, datagram + len - WIRE_TAG, WIRE_TAG) == 0;
}
