/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The tag of a rig datagram: keyed BLAKE2b-128 over everything before it (RFC 7693, libsodium crypto_generichash). One
 * key a direction, derived from the show's rig secret, so that a datagram cannot be reflected. */
#ifndef STEADYHAND_RIG_SEAL_H
#define STEADYHAND_RIG_SEAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { SEAL_KEY = 32 };

struct seal_keys {
    uint8_t to_rig[SEAL_KEY], to_core[SEAL_KEY];
};

/* Derives both from the 32-byte master secret (crypto_kdf). sodium_init() must have succeeded. */
void seal_derive(struct seal_keys *keys, const uint8_t master[SEAL_KEY]);

/* Writes the tag into the last WIRE_TAG bytes of a datagram of len bytes. len > WIRE_TAG. */
void seal_write(const uint8_t key[SEAL_KEY], uint8_t *datagram, size_t len);

/* Constant-time check of the last WIRE_TAG bytes; false for anything shorter than a header and a tag. */
bool seal_check(const uint8_t key[SEAL_KEY], const uint8_t *datagram, size_t len);

#endif
