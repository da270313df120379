/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <jansson.h>
#include <sodium.h>
#include <string.h>

#include "gateway/rig/seal.h"
#include "gateway/rig/wire.h"

enum { MOST = 128 };

static size_t unhex(const char *hex, uint8_t *out)
{
    size_t len = 0;
    cr_assert_eq(sodium_hex2bin(out, MOST, hex, strlen(hex), NULL, &len, NULL), 0);
    return len;
}

/* Read once, kept to the end. */
static json_t *rows(void)
{
    static json_t *doc;
    json_error_t error;
    if (!doc)
        doc = json_load_file(REFERENCE "/blake2b.json", 0, &error);
    cr_assert(doc, "%s:%d: %s", error.source, error.line, error.text);
    json_t *found = json_object_get(json_object_get(doc, "expect"), "rows");
    cr_assert_gt(json_array_size(found), 0);
    return found;
}

/* RFC 7693 and the official known answers: the hash under the seal, called as seal.c calls it. */
Test(seal, blake2b_gives_the_published_answers)
{
    size_t i, published = 0;
    json_t *row;
    json_array_foreach(rows(), i, row)
    {
        uint8_t key[MOST], msg[MOST], out[MOST], got[MOST];
        size_t key_len = unhex(json_string_value(json_object_get(row, "key")), key);
        size_t msg_len = unhex(json_string_value(json_object_get(row, "msg")), msg);
        size_t out_len = unhex(json_string_value(json_object_get(row, "out")), out);
        cr_assert_eq(crypto_generichash(got, out_len, msg, msg_len, key_len ? key : NULL, key_len), 0);
        cr_assert_eq(memcmp(got, out, out_len), 0, "row %zu", i);
        published += json_is_true(json_object_get(row, "published"));
    }
    cr_assert_geq(published, 4);
}

/* The row with a 32-byte key and 16 bytes out is a datagram's tag, except for its length: seal_write must put exactly
 * that after the message. */
Test(seal, the_tag_is_keyed_blake2b_128_of_all_before_it)
{
    size_t i, seen = 0;
    json_t *row;
    json_array_foreach(rows(), i, row)
    {
        uint8_t key[MOST], datagram[MOST], out[MOST];
        size_t key_len = unhex(json_string_value(json_object_get(row, "key")), key);
        size_t out_len = unhex(json_string_value(json_object_get(row, "out")), out);
        if (key_len != SEAL_KEY || out_len != WIRE_TAG)
            continue;
        size_t len = unhex(json_string_value(json_object_get(row, "msg")), datagram) + WIRE_TAG;
        seal_write(key, datagram, len);
        cr_assert_eq(memcmp(datagram + len - WIRE_TAG, out, WIRE_TAG), 0);
        seen++;
    }
    cr_assert_eq(seen, 1);
}

Test(seal, keys_differ_by_direction_and_by_secret)
{
    static const uint8_t master[2][SEAL_KEY] = {{1}, {2}};
    struct seal_keys a, again, b;
    cr_assert_geq(sodium_init(), 0);
    seal_derive(&a, master[0]);
    seal_derive(&again, master[0]);
    seal_derive(&b, master[1]);
    cr_assert_eq(memcmp(&a, &again, sizeof a), 0);
    cr_assert_neq(memcmp(a.to_rig, a.to_core, SEAL_KEY), 0);
    cr_assert_neq(memcmp(a.to_rig, b.to_rig, SEAL_KEY), 0);
    cr_assert_neq(memcmp(a.to_core, b.to_core, SEAL_KEY), 0);
    cr_assert_neq(memcmp(a.to_rig, master[0], SEAL_KEY), 0);
}

Test(seal, another_key_or_length_does_not_open_it)
{
    static const uint8_t key[SEAL_KEY] = {1}, other[SEAL_KEY] = {1, 1};
    uint8_t datagram[100] = {0};
    seal_write(key, datagram, sizeof datagram);
    cr_assert(seal_check(key, datagram, sizeof datagram));
    cr_assert_not(seal_check(other, datagram, sizeof datagram));
    for (size_t len = 0; len < sizeof datagram; len++)
        cr_assert_not(seal_check(key, datagram, len), "%zu bytes", len);
}
