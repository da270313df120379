/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <jansson.h>
#include <sodium.h>
#include <string.h>

#include "gateway/pass/pass.h"

static const uint8_t secret[PASS_SECRET] = {0,  1,  2,  3,  4,  5,  6,  7,  8,  9,  10, 11, 12, 13, 14, 15,
                                            16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31};

/* Made outside this program, with the BLAKE2b of Python's hashlib (salt = role number, person = "passrole"). */
static const char operator_dana[] =
    "sh1.operator.dana.2000000000.AAECAwQFBgc.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM";
static const char spotter_sam[] =
    "sh1.spotter.sam-2.2000000000.AAECAwQFBgc._3fxVR3v_P3kS9OC13RdEr9yzkxgtFVO442UnorDWGU";

static enum pass_error check(const char *text, uint64_t now_s, struct pass *out)
{
    return pass_check(secret, text, strlen(text), now_s, out);
}

/* Published values of RFC 7693's BLAKE2b, keyed and not: the function the tags are made with is that one. */
Test(pass, blake2b_is_the_published_one)
{
    json_t *c = json_load_file(REFERENCE "/blake2b.json", 0, NULL);
    json_t *rows = json_object_get(json_object_get(c, "expect"), "rows"), *row;
    size_t i, keyed = 0;
    cr_assert_gt(json_array_size(rows), 4);
    json_array_foreach(rows, i, row)
    {
        uint8_t key[64], msg[64], want[64], got[64];
        size_t key_len = 0, msg_len = 0, want_len = 0;
        const char *k = json_string_value(json_object_get(row, "key"));
        const char *m = json_string_value(json_object_get(row, "msg"));
        const char *o = json_string_value(json_object_get(row, "out"));
        cr_assert(k && m && o);
        cr_assert_eq(sodium_hex2bin(key, sizeof key, k, strlen(k), NULL, &key_len, NULL), 0);
        cr_assert_eq(sodium_hex2bin(msg, sizeof msg, m, strlen(m), NULL, &msg_len, NULL), 0);
        cr_assert_eq(sodium_hex2bin(want, sizeof want, o, strlen(o), NULL, &want_len, NULL), 0);
        cr_assert_eq(want_len, (size_t)json_integer_value(json_object_get(row, "outlen")));
        crypto_generichash(got, want_len, msg, msg_len, key_len ? key : NULL, key_len);
        cr_assert_arr_eq(got, want, want_len, "row %zu", i);
        keyed += key_len > 0;
    }
    cr_assert_gt(keyed, 4);
    json_decref(c);
}

Test(pass, reads_a_pass_made_by_another_program)
{
    struct pass p = {0};
    cr_assert_eq(check(operator_dana, 1999999999, &p), PASS_OK);
    cr_assert_eq(p.role, PASS_OPERATOR);
    cr_assert_str_eq(p.name, "dana");
    cr_assert_eq(p.expires_s, 2000000000u);
    cr_assert_eq(check(spotter_sam, 0, &p), PASS_OK);
    cr_assert_eq(p.role, PASS_SPOTTER);
    cr_assert_str_eq(p.name, "sam-2");
}

Test(pass, mints_what_it_accepts)
{
    char text[PASS_MAX], again[PASS_MAX];
    for (int role = PASS_VIEWER; role < PASS_ROLE_COUNT; role++) {
        struct pass want = {.role = (enum pass_role)role, .name = "a-name-of-thirty-one-characters", .expires_s = 77};
        struct pass got = {0};
        cr_assert(pass_mint(secret, &want, text));
        cr_assert_eq(check(text, 76, &got), PASS_OK);
        cr_assert_eq(got.role, want.role);
        cr_assert_str_eq(got.name, want.name);
        cr_assert_eq(got.expires_s, 77u);
        cr_assert(pass_mint(secret, &want, again));
        cr_assert_str_neq(text, again, "two passes for one person differ");
    }
}

Test(pass, expires_at_its_second)
{
    struct pass p = {.role = PASS_VIEWER}, before = p;
    cr_assert_eq(check(operator_dana, 2000000000, &p), PASS_EXPIRED);
    cr_assert_eq(check(operator_dana, UINT64_MAX, &p), PASS_EXPIRED);
    cr_assert_eq(memcmp(&p, &before, sizeof p), 0, "unchanged on failure");
}

/* Every single-bit change of every character of a pass is refused, and leaves the output alone. */
Test(pass, no_bit_can_be_changed)
{
    char text[PASS_MAX];
    size_t len = strlen(operator_dana);
    for (size_t i = 0; i < len; i++)
        for (int bit = 0; bit < 8; bit++) {
            struct pass p = {.role = PASS_VIEWER}, before = p;
            memcpy(text, operator_dana, len + 1);
            text[i] = (char)(text[i] ^ (1 << bit));
            cr_assert_neq(pass_check(secret, text, len, 0, &p), PASS_OK, "bit %d of character %zu", bit, i);
            cr_assert_eq(memcmp(&p, &before, sizeof p), 0);
        }
}

Test(pass, no_cut_or_longer_pass_is_taken)
{
    char text[PASS_MAX + 8] = {0};
    struct pass p;
    size_t len = strlen(operator_dana);
    for (size_t n = 0; n < len; n++)
        cr_assert_neq(pass_check(secret, operator_dana, n, 0, &p), PASS_OK, "%zu characters", n);
    memcpy(text, operator_dana, len);
    cr_assert_eq(pass_check(secret, text, len, 0, &p), PASS_OK);
    for (int c = 0; c < 256; c++) {
        text[len] = (char)c;
        cr_assert_neq(pass_check(secret, text, len + 1, 0, &p), PASS_OK, "with %d added", c);
    }
    memset(text, 'a', sizeof text);
    cr_assert_eq(pass_check(secret, text, sizeof text, 0, &p), PASS_MALFORMED);
}

/* The last character of a tag carries two bits that decoders ignore: that spelling is refused too. */
Test(pass, a_tag_has_one_spelling)
{
    char text[PASS_MAX];
    struct pass p;
    memcpy(text, operator_dana, sizeof operator_dana);
    text[strlen(text) - 1] = 'N';
    cr_assert_eq(check(text, 0, &p), PASS_FORGED);
}

/* A valid spotter's pass with the word "operator" put in is a forgery: roles have keys of their own. */
Test(pass, a_role_cannot_become_another)
{
    const char *rest = spotter_sam + strlen("sh1.spotter");
    char text[PASS_MAX];
    struct pass p;
    for (int role = PASS_VIEWER; role < PASS_ROLE_COUNT; role++) {
        snprintf(text, sizeof text, "sh1.%s%s", pass_role_name((enum pass_role)role), rest);
        cr_assert_eq(check(text, 0, &p), role == PASS_SPOTTER ? PASS_OK : PASS_FORGED);
    }
}

Test(pass, another_show_s_pass_is_forged)
{
    uint8_t other[PASS_SECRET];
    struct pass p;
    memcpy(other, secret, sizeof other);
    other[31] ^= 1;
    cr_assert_eq(pass_check(other, operator_dana, strlen(operator_dana), 0, &p), PASS_FORGED);
}

Test(pass, malformed_passes_are_told_from_forged_ones)
{
    static const char *const bad[] = {
        "",
        ".",
        ".....",
        "sh1",
        "sh2.operator.dana.2000000000.AAECAwQFBgc.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM",
        "sh1.none.dana.2000000000.AAECAwQFBgc.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM",
        "sh1.Operator.dana.2000000000.AAECAwQFBgc.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM",
        "sh1.operator.Dana.2000000000.AAECAwQFBgc.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM",
        "sh1.operator..2000000000.AAECAwQFBgc.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM",
        ("sh1.operator.a-name-of-thirty-two-characters-.2000000000.AAECAwQFBgc."
         "d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM"),
        "sh1.operator.dana.02000000000.AAECAwQFBgc.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM",
        "sh1.operator.dana.+2000000000.AAECAwQFBgc.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM",
        "sh1.operator.dana.18446744073709551616.AAECAwQFBgc.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM",
        "sh1.operator.dana.2000000000.AAECAwQFBg.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM",
        "sh1.operator.dana.2000000000.AAECAwQFBgc=.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM",
        "sh1.operator.dana.2000000000.AAECAwQFBgc.d1Li/sJkwcpceqFC3c+1YF140wBNMfxgoagU9YrvagM",
        "sh1.operator.dana.2000000000.AAECAwQFBgc.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM.x",
        "sh1.operator.dana.2000000000.AAECAwQFBgc.d1Li_sJkwcpceqFC3c-1YF140wBNMfxgoagU9YrvagM ",
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct pass p = {.role = PASS_VIEWER}, before = p;
        cr_assert_eq(check(bad[i], 0, &p), PASS_MALFORMED, "%s", bad[i]);
        cr_assert_eq(memcmp(&p, &before, sizeof p), 0);
    }
    struct pass p;
    cr_assert_eq(pass_check(secret, "sh1.operator.da\0a.1.AAECAwQFBgc.d1", 33, 0, &p), PASS_MALFORMED);
}

Test(pass, mint_refuses_bad_roles_and_names)
{
    char text[PASS_MAX];
    struct pass p = {.role = PASS_OPERATOR, .name = "dana", .expires_s = 1};
    cr_assert(pass_mint(secret, &p, text));
    p.role = PASS_NONE;
    cr_assert_not(pass_mint(secret, &p, text));
    p.role = PASS_ROLE_COUNT;
    cr_assert_not(pass_mint(secret, &p, text));
    p.role = PASS_OPERATOR;
    memset(p.name, 'a', sizeof p.name); /* no NUL */
    cr_assert_not(pass_mint(secret, &p, text));
    static const char *const bad[] = {"", "Dana", "da na", "da.na", "d\xc3\xa4na", "da\nna"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        memset(p.name, 0, sizeof p.name);
        memcpy(p.name, bad[i], strlen(bad[i]));
        cr_assert_not(pass_mint(secret, &p, text), "%s", bad[i]);
    }
}

Test(pass, role_names_go_both_ways)
{
    for (int r = PASS_VIEWER; r < PASS_ROLE_COUNT; r++)
        cr_assert_eq((int)pass_role_from(pass_role_name((enum pass_role)r)), r);
    cr_assert_eq(pass_role_from("none"), PASS_NONE);
    cr_assert_eq(pass_role_from("admin"), PASS_NONE);
    cr_assert_null(pass_role_name(PASS_ROLE_COUNT));
    cr_assert_null(pass_role_name((enum pass_role)99));
}
