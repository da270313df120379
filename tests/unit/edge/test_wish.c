/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/edge/wish.h"

#include <criterion/criterion.h>
#include <criterion/parameterized.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "tests/unit/crowd/random.h"
#include "tests/unit/edge/wish_oracle.h"

static enum wish_fault parse(const char *text, struct wish_message *out)
{
    return wish_parse(text, strlen(text), out);
}

static void expect(const char *text, enum wish_fault fault)
{
    struct wish_message out = {.type = WISH_STICK, .round = 77, .choice = CHOICE_DOLLY_IN, .axis = {1, 2, 3}},
                        kept = out;
    enum wish_fault got = parse(text, &out);
    cr_expect_eq(got, fault, "%s: %d, expected %d", text, got, fault);
    if (fault != WISH_FINE)
        cr_expect(oracle_same(&out, &kept), "%s: refused, and yet something was written", text);
}

Test(wish, vote)
{
    struct wish_message out;
    cr_assert_eq(parse("{\"type\":\"vote\",\"round\":12,\"choice\":\"truck-left\"}", &out), WISH_FINE);
    cr_expect_eq(out.type, WISH_VOTE);
    cr_expect_eq(out.round, 12);
    cr_expect_eq(out.choice, CHOICE_TRUCK_LEFT);
}

Test(wish, every_choice)
{
    for (int c = 0; c < CHOICE_COUNT; c++) {
        char text[128];
        struct wish_message out;
        snprintf(text, sizeof text, "{\"choice\":\"%s\",\"round\":0,\"type\":\"vote\"}", choice_name((enum choice)c));
        cr_assert_eq(parse(text, &out), WISH_FINE, "%s", text);
        cr_expect_eq((int)out.choice, c);
    }
}

Test(wish, stick)
{
    struct wish_message out;
    cr_assert_eq(parse(" {\t\"z\" : -1,\r\n\"y\": 5e-1 , \"x\":0.123456789012345678,\"type\":\"stick\" } ", &out),
                 WISH_FINE);
    cr_expect_eq(out.type, WISH_STICK);
    cr_expect_eq(out.axis[0], 0.123456789012345678);
    cr_expect_eq(out.axis[1], 0.5);
    cr_expect_eq(out.axis[2], -1.0);
}

Test(wish, release_and_escapes)
{
    struct wish_message out;
    cr_assert_eq(parse("{\"type\":\"release\"}", &out), WISH_FINE);
    cr_expect_eq(out.type, WISH_RELEASE);
    cr_assert_eq(parse("{\"\\u0074yp\\u0065\":\"rel\\u0065ase\"}", &out), WISH_FINE);
    cr_expect_eq(out.type, WISH_RELEASE);
}

Test(wish, round_limits)
{
    struct wish_message out;
    cr_assert_eq(parse("{\"type\":\"vote\",\"round\":4294967295,\"choice\":\"stay\"}", &out), WISH_FINE);
    cr_expect_eq(out.round, UINT32_MAX);
    expect("{\"type\":\"vote\",\"round\":4294967296,\"choice\":\"stay\"}", WISH_BAD_ROUND);
    expect("{\"type\":\"vote\",\"round\":18446744073709551617,\"choice\":\"stay\"}", WISH_BAD_ROUND);
    expect("{\"type\":\"vote\",\"round\":-1,\"choice\":\"stay\"}", WISH_BAD_ROUND);
    expect("{\"type\":\"vote\",\"round\":1.0,\"choice\":\"stay\"}", WISH_BAD_ROUND);
    expect("{\"type\":\"vote\",\"round\":1e0,\"choice\":\"stay\"}", WISH_BAD_ROUND);
    expect("{\"type\":\"vote\",\"round\":\"1\",\"choice\":\"stay\"}", WISH_BAD_ROUND);
    expect("{\"type\":\"vote\",\"round\":null,\"choice\":\"stay\"}", WISH_BAD_ROUND);
}

Test(wish, axis_limits)
{
    static const char *const bad[] = {"1.0000000000000002",
                                      "-1.0000000000000002",
                                      "2",
                                      "-1e999",
                                      "1e999",
                                      "NaN",
                                      "Infinity",
                                      "-Infinity",
                                      "\"0\"",
                                      "true",
                                      "[0]",
                                      "0x0",
                                      ".5",
                                      "5.",
                                      "00",
                                      "-",
                                      "+0",
                                      "1e"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        char text[128];
        snprintf(text, sizeof text, "{\"type\":\"stick\",\"x\":%s,\"y\":0,\"z\":0}", bad[i]);
        struct wish_message out;
        cr_expect_neq(parse(text, &out), WISH_FINE, "%s", text);
    }
    expect("{\"type\":\"stick\",\"x\":1,\"y\":-1,\"z\":-0.0}", WISH_FINE);
    expect("{\"type\":\"stick\",\"x\":-1e-999,\"y\":1e0,\"z\":10e-1}", WISH_FINE);
    expect("{\"type\":\"stick\",\"x\":2,\"y\":0,\"z\":0}", WISH_BAD_AXIS);
}

Test(wish, says_what_is_wrong)
{
    expect("", WISH_NOT_JSON);
    expect("[]", WISH_NOT_JSON);
    expect("\"\\u0000\"", WISH_NOT_JSON);
    expect("{", WISH_UNKNOWN_FIELD);
    expect("{}", WISH_UNKNOWN_TYPE);
    expect("{\"x\":0}", WISH_UNKNOWN_TYPE);
    expect("{\"type\":\"stop\"}", WISH_UNKNOWN_TYPE);
    expect("{\"type\":7}", WISH_UNKNOWN_TYPE);
    expect("{\"type\":\"release\\u0000\"}", WISH_UNKNOWN_TYPE);
    expect("{\"type\":\"vote\",\"round\":1}", WISH_MISSING_FIELD);
    expect("{\"type\":\"vote\",\"round\":1,\"choice\":\"fly\"}", WISH_BAD_CHOICE);
    expect("{\"type\":\"vote\",\"round\":1,\"choice\":\"stay\",\"x\":1}", WISH_UNKNOWN_FIELD);
    expect("{\"type\":\"release\",\"name\":1}", WISH_UNKNOWN_FIELD);
    expect("{\"type\":\"release\",\"type\":\"release\"}", WISH_TWICE);
    expect("{\"type\":\"release\"} x", WISH_NOT_JSON);
    expect("{\"type\":\"release\",}", WISH_NOT_JSON);
    expect("{\"type\":\"release\"", WISH_NOT_JSON);
    expect("\xef\xbb\xbf{\"type\":\"release\"}", WISH_NOT_JSON);
}

Test(wish, size_limit)
{
    char text[WISH_TEXT_MAX + 2];
    memset(text, ' ', sizeof text);
    memcpy(text, "{\"type\":\"release\"}", 18);
    struct wish_message out;
    cr_expect_eq(wish_parse(text, WISH_TEXT_MAX, &out), WISH_FINE);
    cr_expect_eq(wish_parse(text, WISH_TEXT_MAX + 1, &out), WISH_TOO_BIG);
}

Test(wish, every_fault_has_its_sentence)
{
    for (int a = 0; a < WISH_FAULT_COUNT; a++) {
        cr_expect(strlen(wish_fault_text((enum wish_fault)a)) > 5);
        for (int b = 0; b < a; b++)
            cr_expect_str_neq(wish_fault_text((enum wish_fault)a), wish_fault_text((enum wish_fault)b));
    }
}

static size_t unhex(const char *hex, char *out)
{
    size_t n = strlen(hex) / 2;
    for (size_t i = 0; i < n; i++) {
        unsigned byte;
        cr_assert_eq(sscanf(hex + 2 * i, "%2x", &byte), 1);
        out[i] = (char)byte;
    }
    return n;
}

/* "[X]" becomes a stick whose x is X. */
static size_t as_axis(const char *text, size_t len, char *out)
{
    static const char before[] = "{\"type\":\"stick\",\"y\":0,\"z\":0,\"x\":";
    memcpy(out, before, sizeof before - 1);
    memcpy(out + sizeof before - 1, text + 1, len - 2);
    out[sizeof before - 1 + len - 2] = '}';
    return sizeof before + len - 2;
}

/* Texts and verdicts: tests/reference/json.json (RFC 8259; RFC 7493). */
Test(wish, published_json_texts)
{
    json_t *one = json_load_file(REFERENCE, 0, NULL), *row;
    cr_assert(one, "%s", REFERENCE);
    size_t i, rejected = 0;
    json_array_foreach(json_object_get(json_object_get(one, "expect"), "rows"), i, row)
    {
        static char text[1 << 17], inside[1 << 17];
        const char *why = json_string_value(json_object_get(row, "why"));
        const char *verdict = json_string_value(json_object_get(row, "rfc8259"));
        size_t len = unhex(json_string_value(json_object_get(row, "hex")), text);
        struct wish_message out;
        cr_expect_neq(wish_parse(text, len, &out), WISH_FINE, "%s: no wish of ours", why);
        if (strcmp(verdict, "reject") != 0 || len < 2 || text[0] != '[' || text[len - 1] != ']')
            continue;
        rejected++;
        cr_expect_neq(wish_parse(inside, as_axis(text, len, inside), &out), WISH_FINE, "%s, as an axis", why);
    }
    json_decref(one);
    cr_expect_geq(rejected, 8);
}

/* The same texts where they say something: minus zero is a number, an overflow is not. */
Test(wish, published_numbers)
{
    expect("{\"type\":\"stick\",\"x\":-0,\"y\":0,\"z\":0}", WISH_FINE);
    expect("{\"type\":\"vote\",\"round\":-0,\"choice\":\"stay\"}", WISH_FINE);
    expect("{\"type\":\"stick\",\"x\":1e400,\"y\":0,\"z\":0}", WISH_BAD_AXIS);
    expect("{\"type\":\"vote\",\"round\":9007199254740993,\"choice\":\"stay\"}", WISH_BAD_ROUND);
}

struct draft {
    char text[2 * WISH_TEXT_MAX];
    size_t len;
};

static void add(struct draft *d, const char *text)
{
    size_t n = strlen(text);
    if (d->len + n > sizeof d->text)
        return;
    memcpy(d->text + d->len, text, n);
    d->len += n;
}

static void add_space(struct draft *d, struct random *r)
{
    static const char *const space[] = {"", "", "", "", " ", "\t", "\n", "\r\n "};
    add(d, space[random_below(r, 8)]);
}

static void add_string(struct draft *d, struct random *r, const char *word)
{
    add(d, "\"");
    for (; *word; word++) {
        char c[8] = {*word, 0};
        if (random_below(r, 24) == 0)
            snprintf(c, sizeof c, random_below(r, 2) ? "\\u%04x" : "\\u%04X", (unsigned)*word);
        add(d, c);
    }
    add(d, "\"");
}

static void add_number(struct draft *d, struct random *r)
{
    static const char *const odd[] = {"0",    "-0", "1",          "-1",         "1.0", "0.5e0", "1E-1", "0.1e+1",
                                      "1e-9", "2",  "4294967295", "4294967296", "-7",  "1e400", "0e0",  "0.0e-400"};
    char c[64];
    double value;
    switch (random_below(r, 5)) {
    case 0:
        add(d, odd[random_below(r, sizeof odd / sizeof *odd)]);
        return;
    case 1:
        snprintf(c, sizeof c, "%u", (unsigned)random_below(r, 100));
        break;
    case 2:
        value = random_between(r, -1.01, 1.01);
        snprintf(c, sizeof c, "%.*f", (int)random_below(r, 22), value);
        break;
    case 3:
        value = random_between(r, -1, 1) * exp2(-(double)random_below(r, 60));
        snprintf(c, sizeof c, "%.17e", value);
        break;
    default:
        snprintf(c, sizeof c, "%.17g", random_between(r, -1, 1));
        break;
    }
    add(d, c);
}

static void add_member(struct draft *d, struct random *r, const char *name, const char *word, bool first)
{
    add_space(d, r);
    if (!first)
        add(d, ",");
    add_space(d, r);
    add_string(d, r, name);
    add_space(d, r);
    add(d, ":");
    add_space(d, r);
    if (word)
        add_string(d, r, word);
    else
        add_number(d, r);
}

/* A message of ours, its members in any order, now and then with one too many, one too few or one twice. */
static void write_draft(struct draft *d, struct random *r)
{
    static const char *const types[] = {"vote", "stick", "release", "stop"};
    static const char *const names[][4] = {{"type", "round", "choice"}, {"type", "x", "y", "z"}, {"type"}, {"type"}};
    static const int counts[] = {3, 4, 1, 1};
    uint32_t t = random_below(r, 15) == 0 ? 3 : random_below(r, 3), from = random_below(r, 4);
    int members = counts[t] + (random_below(r, 12) == 0) - (random_below(r, 12) == 0);
    d->len = 0;
    add_space(d, r);
    add(d, "{");
    for (int i = 0; i < members; i++) {
        const char *name = names[t][(from + (uint32_t)i) % (uint32_t)counts[t]];
        const char *word = strcmp(name, "type") == 0     ? types[t]
                           : strcmp(name, "choice") == 0 ? choice_name((enum choice)random_below(r, CHOICE_COUNT))
                                                         : NULL;
        add_member(d, r, name, word, i == 0);
    }
    add_space(d, r);
    add(d, "}");
    add_space(d, r);
}

static void spoil(struct draft *d, struct random *r)
{
    static const char bytes[] = "{}[]\",:.-+eE019 \t\n\\/utrxyz\x7f\x01\xc3\xa9\xff";
    uint32_t edits = 1 + random_below(r, 2);
    while (edits-- > 0 && d->len > 1) {
        size_t at = random_below(r, (uint32_t)d->len);
        char c = bytes[random_below(r, sizeof bytes)];
        if (random_below(r, 3) == 0)
            d->len = at + 1;
        d->text[at] = c;
    }
}

Test(wish, says_the_same_as_a_general_parser, .timeout = 100)
{
    struct random r = {2024};
    unsigned fine = 0, refused = 0;
    for (int i = 0; i < 300000; i++) {
        struct draft d;
        struct wish_message a = {0}, b;
        write_draft(&d, &r);
        if (random_below(&r, 3) == 0)
            spoil(&d, &r);
        bool ours = wish_parse(d.text, d.len, &a) == WISH_FINE, theirs = oracle_parse(d.text, d.len, &b);
        cr_assert_eq(ours, theirs, "text %d: ours %d, theirs %d: %.*s", i, ours, theirs, (int)d.len, d.text);
        cr_assert(!ours || oracle_same(&a, &b), "text %d: other values: %.*s", i, (int)d.len, d.text);
        *(ours ? &fine : &refused) += 1;
    }
    cr_expect_gt(fine, 60000, "%u fine", fine);
    cr_expect_gt(refused, 60000, "%u refused", refused);
}
