/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the tests of core's threads stand on: the demo show on free ports, a folder, mailboxes, a link and a least rig.
 */
#ifndef STEADYHAND_TEST_STAND_H
#define STEADYHAND_TEST_STAND_H

#include "gateway/core/shared.h"
#include "tests/bench/bench_show.h"
#include "tests/bench/mini_rig.h"
#include "tests/bench/ws_client.h"

struct stand {
    struct bench_show files;
    struct show show;
    struct shared shared;
    struct mini_rig rig;
};

/* Fails the running test if anything is missing. */
struct stand *stand_new(void);
void stand_free(struct stand *s);

/* Parts of these, for a test that brings its own rig: the mailboxes, and the end of them and of the link. */
void stand_mailboxes(struct shared *shared);
void stand_close(struct shared *shared);

/* A pass for this show. */
void stand_pass(const struct stand *s, enum pass_role role, const char *name, uint64_t expires_s, char text[PASS_MAX]);

/* Hears the rig and this desk until the desk is told something with `part` in it; false if that does not come. */
bool stand_told(struct stand *s, struct ws_client *ws, const char *part);

uint64_t stand_now_ns(void);
void stand_sleep_ms(int ms);

#endif
