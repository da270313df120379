/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>

#include "gateway/core/homing.h"

#define S 1000000000ull

struct bench {
    struct homing homing;
    struct policy_head config;
    struct rig_report rig;
    double wish[HEAD_AXES];
    struct homing_input in;
};

/* Away from home, at rest, and free to go. */
static void begin(struct bench *b)
{
    *b = (struct bench){.rig = {.ever = true, .head_known = true, .head = {0.5, 0, 0, 2}}};
    b->config = (struct policy_head){.there = true, .config = {.arrived = 0.01, .recover_s = 20}};
    b->config.config.axis[HEAD_ZOOM].home = 1;
    b->in = (struct homing_input){
        .now_ns = 10 * S, .may_move = true, .wish = b->wish, .config = &b->config, .rig = &b->rig};
}

static bool step(struct bench *b)
{
    return homing_step(&b->homing, &b->in);
}

Test(homing, goes_on_from_a_press_until_it_is_there)
{
    struct bench b;
    begin(&b);
    cr_assert_not(step(&b));
    b.in.presses = 1;
    cr_assert(step(&b));
    b.in.now_ns += 5 * S;
    b.rig.head[HEAD_PAN] = 0.009;
    cr_assert(step(&b), "the zoom is still on its way");
    b.rig.head[HEAD_ZOOM] = 1.005;
    cr_assert_not(step(&b));
    b.rig.head[HEAD_PAN] = 0.5;
    cr_assert_not(step(&b), "turned away again it stays there");
    b.in.presses = 2;
    cr_assert(step(&b));
}

Test(homing, ends_with_a_stop_with_control_with_a_hand_and_with_its_time)
{
    static const char *const what[] = {"a stop", "a hand", "a head that does not answer", "no head"};
    for (int k = 0; k < 4; k++) {
        struct bench b;
        begin(&b);
        b.in.presses = 1;
        cr_assert(step(&b));
        if (k == 0)
            b.in.may_move = false;
        else if (k == 1)
            b.wish[HEAD_TILT] = -0.1;
        else if (k == 2)
            b.in.now_ns += 20 * S + 1;
        else
            b.config.there = false;
        cr_assert_not(step(&b), "%s", what[k]);
        b.in.may_move = b.config.there = true;
        b.wish[HEAD_TILT] = 0;
        cr_assert_not(step(&b), "%s: not begun again by itself", what[k]);
    }
}

Test(homing, a_press_that_came_while_nothing_may_move_is_not_kept)
{
    struct bench b;
    begin(&b);
    b.in.may_move = false;
    b.in.presses = 3;
    cr_assert_not(step(&b));
    b.in.may_move = true;
    cr_assert_not(step(&b));
}

Test(homing, where_it_is_not_known_it_goes_on_trying)
{
    struct bench b;
    begin(&b);
    b.rig.head[HEAD_PAN] = 0;
    b.rig.head[HEAD_ZOOM] = 1;
    b.rig.head_known = false;
    b.in.presses = 1;
    cr_assert(step(&b));
    b.rig.head_known = true;
    cr_assert_not(step(&b));
}
