/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Arbitrary text as a pass: it is refused, or it is exactly what was minted; a refusal changes nothing. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/pass/pass.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool ok, const char *what)
{
    if (ok)
        return;
    fprintf(stderr, "fuzz_pass: %s\n", what);
    abort();
}

/* The key the corpus was signed with: an accepted input is within the fuzzer's reach. */
static void signed_with(uint8_t secret[PASS_SECRET])
{
    for (int i = 0; i < PASS_SECRET; i++)
        secret[i] = (uint8_t)i;
}

static void check_accepted(const uint8_t *secret, const char *text, size_t size, const struct pass *p)
{
    char head[PASS_MAX], changed[PASS_MAX];
    struct pass again;
    int len = snprintf(head, sizeof head, "sh1.%s.%s.%llu.", pass_role_name(p->role), p->name,
                       (unsigned long long)p->expires_s);
    must((size_t)len < size && memcmp(head, text, (size_t)len) == 0, "the fields read are the fields written");
    memcpy(changed, text, size);
    changed[size / 2] = (char)(changed[size / 2] ^ 1);
    must(pass_check(secret, changed, size, 0, &again) != PASS_OK, "a changed pass is refused");
    must(pass_check(secret, text, size, p->expires_s, &again) == PASS_EXPIRED, "it expires");
}

static void check_mint(const uint8_t *secret, const uint8_t *data, size_t size)
{
    struct pass p = {.role = PASS_SPOTTER, .expires_s = 1000}, got;
    char text[PASS_MAX];
    memcpy(p.name, data, size < PASS_NAME ? size : PASS_NAME);
    if (pass_mint(secret, &p, text))
        must(pass_check(secret, text, strlen(text), 999, &got) == PASS_OK && strcmp(got.name, p.name) == 0,
             "a minted pass is accepted");
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    uint8_t secret[PASS_SECRET];
    struct pass p, before;
    const char *text = (const char *)data;
    signed_with(secret);
    memset(&p, 0x5a, sizeof p);
    before = p;
    if (pass_check(secret, text, size, 0, &p) == PASS_OK)
        check_accepted(secret, text, size, &p);
    else
        must(memcmp(&p, &before, sizeof p) == 0, "unchanged on failure");
    check_mint(secret, data, size);
    return 0;
}
