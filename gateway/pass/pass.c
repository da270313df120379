/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/pass/pass.h"

#include <inttypes.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>

enum { TAG = 32, NONCE = 8, TAG_TEXT = 43, NONCE_TEXT = 11, FIELDS = 6 };

static const char *const role_names[] = {"none", "viewer", "moderator", "spotter", "operator"};
_Static_assert(sizeof role_names / sizeof role_names[0] == PASS_ROLE_COUNT, "one name a role");

const char *pass_role_name(enum pass_role role)
{
    return (unsigned)role < PASS_ROLE_COUNT ? role_names[role] : NULL;
}

enum pass_role pass_role_from(const char *name)
{
    for (int r = PASS_VIEWER; r < PASS_ROLE_COUNT; r++)
        if (strcmp(name, role_names[r]) == 0)
            return (enum pass_role)r;
    return PASS_NONE;
}

static bool name_valid(const char *name, size_t len)
{
    if (len < 1 || len >= PASS_NAME)
        return false;
    for (size_t i = 0; i < len; i++)
        if (!((name[i] >= 'a' && name[i] <= 'z') || (name[i] >= '0' && name[i] <= '9') || name[i] == '-'))
            return false;
    return true;
}

/* A key of its own for each role: a tag made for one role proves nothing about another. */
static void make_tag(const uint8_t secret[PASS_SECRET], enum pass_role role, const char *text, size_t len,
                     uint8_t tag[TAG])
{
    uint8_t key[crypto_generichash_KEYBYTES];
    _Static_assert(crypto_kdf_KEYBYTES == PASS_SECRET, "the secret is a key-derivation key");
    crypto_kdf_derive_from_key(key, sizeof key, (uint64_t)role, "passrole", secret);
    crypto_generichash(tag, TAG, (const unsigned char *)text, len, key, sizeof key);
    sodium_memzero(key, sizeof key);
}

bool pass_mint(const uint8_t secret[PASS_SECRET], const struct pass *pass, char text[PASS_MAX])
{
    if (pass->role <= PASS_NONE || pass->role >= PASS_ROLE_COUNT ||
        !name_valid(pass->name, strnlen(pass->name, PASS_NAME)) || sodium_init() < 0)
        return false;
    uint8_t nonce[NONCE], tag[TAG];
    char nonce_text[NONCE_TEXT + 1], tag_text[TAG_TEXT + 1];
    randombytes_buf(nonce, sizeof nonce);
    sodium_bin2base64(nonce_text, sizeof nonce_text, nonce, sizeof nonce, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    int signed_len = snprintf(text, PASS_MAX, "sh1.%s.%s.%" PRIu64 ".%s", role_names[pass->role], pass->name,
                              pass->expires_s, nonce_text);
    make_tag(secret, pass->role, text, (size_t)signed_len, tag);
    sodium_bin2base64(tag_text, sizeof tag_text, tag, sizeof tag, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    snprintf(text + signed_len, (size_t)(PASS_MAX - signed_len), ".%s", tag_text);
    return true;
}

struct field {
    const char *at;
    size_t len;
};

/* Exactly FIELDS fields, none empty. */
static bool split(const char *text, size_t len, struct field field[FIELDS])
{
    const char *end = text + len;
    for (int i = 0; i < FIELDS; i++) {
        const char *dot = memchr(text, '.', (size_t)(end - text));
        bool last = i == FIELDS - 1;
        if (last != (dot == NULL))
            return false;
        field[i] = (struct field){text, (size_t)((last ? end : dot) - text)};
        if (field[i].len == 0)
            return false;
        text = last ? end : dot + 1;
    }
    return true;
}

static enum pass_role role_of(struct field f)
{
    for (int r = PASS_VIEWER; r < PASS_ROLE_COUNT; r++)
        if (strlen(role_names[r]) == f.len && memcmp(role_names[r], f.at, f.len) == 0)
            return (enum pass_role)r;
    return PASS_NONE;
}

/* Plain decimal, one spelling a number: no sign, no leading zero, no overflow. */
static bool number_of(struct field f, uint64_t *out)
{
    uint64_t value = 0;
    if (f.len > 20 || (f.len > 1 && f.at[0] == '0'))
        return false;
    for (size_t i = 0; i < f.len; i++) {
        unsigned digit = (unsigned)(f.at[i] - '0');
        if (digit > 9 || value > (UINT64_MAX - digit) / 10)
            return false;
        value = value * 10 + digit;
    }
    *out = value;
    return true;
}

/* Text of the alphabet of RFC 4648, section 5. The tag is compared as text, so one tag has one spelling. */
static bool base64url(struct field f, size_t len)
{
    if (f.len != len)
        return false;
    for (size_t i = 0; i < len; i++)
        if (!((f.at[i] >= 'A' && f.at[i] <= 'Z') || (f.at[i] >= 'a' && f.at[i] <= 'z') ||
              (f.at[i] >= '0' && f.at[i] <= '9') || f.at[i] == '-' || f.at[i] == '_'))
            return false;
    return true;
}

enum pass_error pass_check(const uint8_t secret[PASS_SECRET], const char *text, size_t len, uint64_t now_s,
                           struct pass *out)
{
    struct field f[FIELDS];
    struct pass pass = {0};
    uint8_t tag[TAG];
    char right[TAG_TEXT + 1];
    if (len >= PASS_MAX || !split(text, len, f) || f[0].len != 3 || memcmp(f[0].at, "sh1", 3) != 0)
        return PASS_MALFORMED;
    pass.role = role_of(f[1]);
    if (pass.role == PASS_NONE || !name_valid(f[2].at, f[2].len) || !number_of(f[3], &pass.expires_s) ||
        !base64url(f[4], NONCE_TEXT) || !base64url(f[5], TAG_TEXT))
        return PASS_MALFORMED;
    make_tag(secret, pass.role, text, len - TAG_TEXT - 1, tag);
    sodium_bin2base64(right, sizeof right, tag, sizeof tag, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    if (sodium_memcmp(f[5].at, right, TAG_TEXT) != 0)
        return PASS_FORGED;
    if (now_s >= pass.expires_s)
        return PASS_EXPIRED;
    memcpy(pass.name, f[2].at, f[2].len);
    *out = pass;
    return PASS_OK;
}
