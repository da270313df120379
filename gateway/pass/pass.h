/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Passes: signed credentials with a role. Text, one line:
 *   sh1.<role>.<name>.<expiry, unix seconds>.<nonce, 8 bytes base64url>.<tag, 32 bytes base64url>
 * tag = keyed BLAKE2b-256 over everything before the last dot, with a key derived for that role (crypto_kdf) from the
 * show's secret: a spotter's pass can never become an operator's. Compared in constant time. Carried in a URL's
 * fragment and in the first message of a socket, never in a request line that ends up in a log.
 */
#ifndef STEADYHAND_PASS_PASS_H
#define STEADYHAND_PASS_PASS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum pass_role { PASS_NONE, PASS_VIEWER, PASS_MODERATOR, PASS_SPOTTER, PASS_OPERATOR, PASS_ROLE_COUNT };

enum { PASS_SECRET = 32, PASS_NAME = 32, PASS_MAX = 192 };

struct pass {
    enum pass_role role;
    char name[PASS_NAME]; /* [a-z0-9-]{1,31} */
    uint64_t expires_s;   /* unix time */
};

enum pass_error { PASS_OK, PASS_MALFORMED, PASS_FORGED, PASS_EXPIRED };

/* The secrets of a show, kept in its state folder: `secret` is made on first use with mode 0600; a file that others can
 * read is refused. master keys: one for passes, one for the rig link, both derived (crypto_kdf). Returns 0 or -errno,
 * with a line on stderr. */
struct pass_secrets {
    uint8_t passes[PASS_SECRET];
    uint8_t rig[PASS_SECRET];
};
int pass_secrets_load(const char *state_dir, struct pass_secrets *out);

/* Writes a NUL-terminated pass into text[PASS_MAX]. False for a bad role or name. */
bool pass_mint(const uint8_t secret[PASS_SECRET], const struct pass *pass, char text[PASS_MAX]);

/* now_s: unix time. *out is filled only on PASS_OK. */
enum pass_error pass_check(const uint8_t secret[PASS_SECRET], const char *text, size_t len, uint64_t now_s,
                           struct pass *out);

const char *pass_role_name(enum pass_role role); /* "viewer", ...; NULL out of range */
enum pass_role pass_role_from(const char *name); /* PASS_NONE if unknown */

#endif
