/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The pass verb: one pass on stdout, for scripts; the page it opens on stderr, for people. */
#include <string.h>
#include <time.h>

#include "gateway/pass/pass.h"
#include "gateway/run/addresses.h"
#include "gateway/verbs.h"

static bool fill(const struct verb_options *opt, struct pass *pass)
{
    pass->role = opt->role ? pass_role_from(opt->role) : PASS_NONE;
    pass->expires_s = (uint64_t)time(NULL) + (uint64_t)opt->hours * 3600;
    if (pass->role == PASS_NONE) {
        fprintf(stderr, "steadyhand: --role: expected viewer, moderator, spotter or operator, found %s\n",
                opt->role ? opt->role : "nothing");
        return false;
    }
    const char *name = opt->name ? opt->name : opt->role;
    size_t len = strlen(name);
    if (len < 1 || len >= PASS_NAME || strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789-") != len) {
        fprintf(stderr, "steadyhand: --name: expected 1 to %d of a-z, 0-9 and -, found \"%s\"\n", PASS_NAME - 1, name);
        return false;
    }
    memcpy(pass->name, name, len + 1);
    return true;
}

int pass_main(const struct show *show, const struct verb_options *opt)
{
    struct pass pass = {0};
    struct pass_secrets secrets;
    char text[PASS_MAX], desk[64], url[ADDRESSES_URL];
    if (!fill(opt, &pass))
        return 2;
    if (pass_secrets_load(opt->state_dir, &secrets) != 0)
        return 1;
    bool minted = pass_mint(secrets.passes, &pass, text);
    explicit_bzero(&secrets, sizeof secrets);
    if (!minted) {
        fprintf(stderr, "steadyhand: the pass cannot be made\n");
        return 1;
    }
    printf("%s\n", text);
    addresses_base(&show->desk, desk);
    addresses_url(desk, pass.role, text, url);
    if (pass.role != PASS_VIEWER)
        fprintf(stderr, "%s, %s, for %d h: %s\n", pass.name, pass_role_name(pass.role), opt->hours, url);
    return 0;
}
