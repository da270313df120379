/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* While the core of a session lives, the rig is its alone. */
#include <sodium.h>

#include "session_bench.h"

static struct wire_challenge hello_from(struct bench *b, bool elsewhere)
{
    b->rig.elsewhere = elsewhere;
    return hello(b);
}

static bool offers_none(const struct wire_challenge *c)
{
    return sodium_is_zero(c->rig_nonce, WIRE_NONCE);
}

Test(one_core, a_second_core_gets_nothing_while_the_first_one_lives)
{
    struct bench b;
    connected(&b);
    for (int ticks = 0; ticks < 100; ticks++) {
        struct wire_message i = intent(&b);
        b.rig.elsewhere = false;
        cr_assert_eq(give(&b, &i), SIM_INTENT);
        b.now += 10 * MS;
        struct wire_challenge c = hello_from(&b, true);
        cr_assert(offers_none(&c));
        cr_assert_eq(c.session, b.core.session, "and is told which session the rig is in");
    }
    b.now += LEASE;
    struct wire_challenge c = hello_from(&b, true);
    cr_assert(!offers_none(&c) && c.session != b.core.session);
    struct wire_message m = confirm_of(&b, &c), late = intent(&b);
    cr_assert_eq(give(&b, &m), SIM_STARTED);
    REFUSES(&b, &late, session); /* the first one comes round, and is no longer heard */
    c = hello_from(&b, true);
    cr_assert(offers_none(&c), "one that has just begun keeps it too");
}

Test(one_core, an_offer_is_void_when_the_first_core_comes_round_before_it_is_taken_up)
{
    struct bench b;
    connected(&b);
    b.now += 3 * LEASE;
    struct wire_challenge c = hello_from(&b, true);
    cr_assert_not(offers_none(&c));
    struct wire_message i = intent(&b), m = confirm_of(&b, &c);
    b.rig.elsewhere = false;
    cr_assert_eq(give(&b, &i), SIM_INTENT);
    b.rig.elsewhere = true;
    REFUSES(&b, &m, session);
    cr_assert_eq(b.rig.id, b.core.session);
}

/* It has lost its telemetry, or was started again at once on the same port. */
Test(one_core, the_same_core_may_begin_anew_at_any_time)
{
    struct bench b;
    connected(&b);
    struct wire_message i = intent(&b);
    cr_assert_eq(give(&b, &i), SIM_INTENT);
    struct wire_challenge c = hello_from(&b, false);
    struct wire_message m = confirm_of(&b, &c);
    cr_assert_eq(give(&b, &m), SIM_STARTED);
}
