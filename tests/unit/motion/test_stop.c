/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/stop.h"

#include <criterion/criterion.h>
#include <string.h>

/* The shortest way to each state; `category` counts for STOP_LATCHED. */
static struct stop in_state(enum stop_state state, enum stop_category category)
{
    static const enum stop_event way[STOP_STATE_COUNT][3] = {
        [STOP_LATCHED] = {STOP_EVENT_ARM, STOP_EVENT_GO},
        [STOP_ARMED] = {STOP_EVENT_ARM},
        [STOP_RUNNING] = {STOP_EVENT_ARM, STOP_EVENT_GO},
        [STOP_HOLDING] = {STOP_EVENT_ARM, STOP_EVENT_GO, STOP_EVENT_HOLD},
    };
    struct stop stop;
    stop_init(&stop);
    for (int i = 0; i < 3; i++)
        stop_step(&stop, &(struct stop_input){.event = way[state][i], .hold_why = REASON_HOLD_SPOTTER});
    if (state == STOP_LATCHED)
        stop_step(&stop, &(struct stop_input){.inhibit = REASON_RIG_LOST, .inhibit_category = category});
    cr_assert(stop.state == state && stop_valid(&stop));
    return stop;
}

Test(stop, starts_parked_without_power)
{
    struct stop stop;
    stop_init(&stop);
    cr_assert(stop_valid(&stop));
    cr_assert(stop.state == STOP_PARKED && stop.reason == REASON_STARTED_UP);
    cr_assert(stop.count == 1 && stop.permit == 0);
    cr_assert(!stop_allows_motion(&stop) && !stop_powers(&stop) && !stop_is_armed(stop.state));
}

/* What should come of an event, from a table of its own. -1: it leads nowhere. */
static const int expected[STOP_STATE_COUNT][STOP_EVENT_COUNT] = {
    /*                none  arm           reset         go            hold           park */
    [STOP_PARKED] = {-1, STOP_ARMED, -1, -1, -1, -1},
    [STOP_LATCHED] = {-1, -1, STOP_ARMED, -1, -1, -1},
    [STOP_ARMED] = {-1, -1, -1, STOP_RUNNING, STOP_HOLDING, STOP_PARKED},
    [STOP_RUNNING] = {-1, -1, -1, -1, STOP_HOLDING, -1},
    [STOP_HOLDING] = {-1, -1, -1, STOP_RUNNING, STOP_HOLDING, STOP_PARKED},
};

/* One row of all: a state, and everything that can come in one tick. */
struct situation {
    enum stop_state state;
    enum stop_category had, asked_category, inhibit_category;
    enum stop_event event;
    bool pressed, inhibited, asserted, moving, unpowered, unconfirmed;
};

static enum stop_category worst(const struct situation *s)
{
    enum stop_category c = s->state == STOP_LATCHED ? s->had : STOP_CATEGORY_2;
    if (s->pressed)
        c = s->asked_category < c ? s->asked_category : c;
    if ((s->inhibited || s->asserted) && s->inhibit_category < c)
        c = s->inhibit_category;
    if (s->state == STOP_PARKED && c > STOP_CATEGORY_1)
        c = STOP_CATEGORY_1;
    return s->unconfirmed ? STOP_CATEGORY_0 : c;
}

static enum stop_answer answer_of(const struct situation *s)
{
    bool rests = s->event != STOP_EVENT_GO && s->event != STOP_EVENT_HOLD;
    if (s->event == STOP_EVENT_NONE)
        return STOP_NOT_ASKED;
    if (s->pressed || s->inhibited || s->asserted)
        return STOP_FORBIDDEN;
    if (expected[s->state][s->event] < 0)
        return STOP_OUT_OF_TURN;
    if (rests && s->moving)
        return STOP_MOVING;
    return s->event == STOP_EVENT_GO && s->unpowered ? STOP_UNPOWERED : STOP_DONE;
}

static enum stop_state state_after(const struct situation *s, enum stop_answer answer)
{
    bool armed = s->state != STOP_PARKED && s->state != STOP_LATCHED;
    if (s->pressed || (armed && (s->inhibited || s->asserted)))
        return STOP_LATCHED;
    if (answer != STOP_DONE)
        return s->state;
    if (s->event == STOP_EVENT_RESET && (s->had != STOP_CATEGORY_2 || s->unpowered))
        return STOP_PARKED;
    return (enum stop_state)expected[s->state][s->event];
}

static void check(const struct situation *s)
{
    struct stop stop = in_state(s->state, s->had), before = stop;
    struct stop_input in = {
        .asked = s->pressed,
        .asked_why = REASON_STOP_SPOTTER,
        .asked_category = s->asked_category,
        .inhibit = s->inhibited ? REASON_RIG_LOST : REASON_NONE,
        .inhibit_category = s->inhibit_category,
        .asserted = s->asserted,
        .moving = s->moving,
        .unpowered = s->unpowered,
        .unconfirmed = s->unconfirmed,
        .event = s->event,
        .hold_why = REASON_HOLD_MODERATOR,
    };
    enum stop_answer want = answer_of(s), answer = stop_step(&stop, &in);
    enum stop_state state = state_after(s, want);
    bool latched_anew = s->pressed || (state == STOP_LATCHED && s->state != STOP_LATCHED);
    bool held = want == STOP_DONE && s->event == STOP_EVENT_HOLD;
    cr_assert(stop_valid(&stop));
    cr_assert_eq(answer, want, "state %d event %d: %d not %d", s->state, s->event, answer, want);
    cr_assert_eq(stop.state, state, "state %d event %d: %d not %d", s->state, s->event, stop.state, state);
    cr_assert_eq(stop.count > before.count, latched_anew || held);
    cr_assert_geq(stop.count, 1 + in.asked);
    cr_assert_eq(stop_allows_motion(&stop), state == STOP_RUNNING);
    if (state == STOP_LATCHED)
        cr_assert_eq(stop.category, worst(s), "state %d: %d not %d", s->state, stop.category, worst(s));
    cr_assert_eq(stop_powers(&stop), stop_is_armed(state) || (state == STOP_LATCHED && stop.category == 2));
    if (s->state == state && (state == STOP_LATCHED || state == STOP_HOLDING))
        cr_assert_eq(stop.reason, before.reason, "the first reason is kept");
    if (s->state == STOP_PARKED || (s->state == STOP_LATCHED && s->had != STOP_CATEGORY_2))
        cr_assert(!stop_powers(&stop) || s->event == STOP_EVENT_ARM, "only arming powers what has no power");
}

/* The whole table of the code as it ships: every state x event x whatever else there is in a tick. */
Test(stop, every_state_and_event_leads_where_it_should)
{
    uint64_t checked = 0;
    for (unsigned n = 0; n < 5 * 3 * 3 * 3 * STOP_EVENT_COUNT * 64; n++) {
        unsigned bits = n % 64, rest = n / 64;
        struct situation s = {
            .pressed = bits & 1,
            .inhibited = bits & 2,
            .asserted = bits & 4,
            .moving = bits & 8,
            .unpowered = bits & 16,
            .unconfirmed = bits & 32,
            .event = (enum stop_event)(rest % STOP_EVENT_COUNT),
            .state = (enum stop_state)(rest / STOP_EVENT_COUNT % 5),
            .had = (enum stop_category)(rest / STOP_EVENT_COUNT / 5 % 3),
            .asked_category = (enum stop_category)(rest / STOP_EVENT_COUNT / 15 % 3),
            .inhibit_category = (enum stop_category)(rest / STOP_EVENT_COUNT / 45 % 3),
        };
        check(&s);
        checked++;
    }
    cr_assert_eq(checked, 51840);
}

Test(stop, keeps_its_first_reason)
{
    struct stop stop = in_state(STOP_RUNNING, STOP_CATEGORY_2);
    struct stop_input in = {.asked = 1, .asked_why = REASON_STOP_SPOTTER, .inhibit = REASON_RIG_LOST};
    in.asked_category = in.inhibit_category = STOP_CATEGORY_2;
    stop_step(&stop, &in);
    cr_assert_eq(stop.reason, REASON_STOP_SPOTTER, "a person's before a condition's");
    in = (struct stop_input){.asked = 2, .asked_why = REASON_STOP_OPERATOR, .asked_category = STOP_CATEGORY_2};
    stop_step(&stop, &in);
    cr_assert_eq(stop.reason, REASON_STOP_SPOTTER);
    stop_step(&stop, &(struct stop_input){.asked = 2, .event = STOP_EVENT_RESET});
    cr_assert(stop.state == STOP_ARMED && stop.reason == REASON_AWAIT_GO);
    stop_step(&stop, &(struct stop_input){.asked = 3, .asked_why = REASON_STOP_MODERATOR});
    cr_assert_eq(stop.reason, REASON_STOP_MODERATOR);
}

/* Stopped for good while parked: whoever pressed it finds it in force, and nobody's arm that was under way counts. */
Test(stop, can_be_stopped_while_parked)
{
    struct stop stop = in_state(STOP_PARKED, STOP_CATEGORY_2);
    uint64_t count = stop.count;
    stop_step(&stop, &(struct stop_input){.inhibit = REASON_RIG_LOST, .event = STOP_EVENT_ARM});
    cr_assert(stop.state == STOP_PARKED && stop.count == count && stop.reason == REASON_STARTED_UP);
    stop_step(&stop, &(struct stop_input){.asked = 1,
                                          .asked_why = REASON_STOP_SPOTTER,
                                          .asked_category = STOP_CATEGORY_2,
                                          .event = STOP_EVENT_ARM});
    cr_assert(stop.state == STOP_LATCHED && stop.count == count + 1 && stop.category == STOP_CATEGORY_1);
    cr_assert(stop.reason == REASON_STOP_SPOTTER && !stop_powers(&stop));
    stop_step(&stop, &(struct stop_input){.asked = 1, .event = STOP_EVENT_RESET});
    cr_assert(stop.state == STOP_PARKED && stop.reason == REASON_PARKED);
}

/* The permit of a go is for the stops counted so far: each further one, heard in any order, is above it. */
Test(stop, counts_every_stop_above_the_permit)
{
    struct stop stop = in_state(STOP_RUNNING, STOP_CATEGORY_2);
    cr_assert_eq(stop.permit, stop.count);
    stop_step(&stop, &(struct stop_input){.asked = 7});
    cr_assert_geq(stop.count, 8);
    cr_assert_lt(stop.permit, stop.count);
    uint64_t count = stop.count;
    stop_step(&stop, &(struct stop_input){.asked = 7});
    cr_assert_eq(stop.count, count, "the same press is one stop");
    stop_step(&stop, &(struct stop_input){.asked = 3});
    cr_assert(stop.count == count && stop.asked == 7, "and a count that goes back is none");
}

Test(stop, takes_values_out_of_range_as_the_safe_ones)
{
    struct stop stop = in_state(STOP_RUNNING, STOP_CATEGORY_2);
    stop_step(&stop, &(struct stop_input){.inhibit = (enum reason)1000, .inhibit_category = (enum stop_category)3});
    cr_assert(stop.state == STOP_LATCHED && stop.reason == REASON_RIG_FAULT && stop.category == STOP_CATEGORY_0);
    stop = in_state(STOP_RUNNING, STOP_CATEGORY_2);
    stop_step(&stop, &(struct stop_input){.asked = 1, .asked_why = (enum reason) - 3, .asked_category = 77u});
    cr_assert(stop.state == STOP_LATCHED && stop.reason == REASON_STOP_OPERATOR && stop.category == STOP_CATEGORY_0);
    stop = in_state(STOP_RUNNING, STOP_CATEGORY_2);
    stop_step(&stop, &(struct stop_input){.event = STOP_EVENT_HOLD, .hold_why = REASON_COUNT});
    cr_assert(stop.state == STOP_HOLDING && stop.reason == REASON_HOLD_OPERATOR);
    for (int s = 0; s < STOP_STATE_COUNT; s++) {
        stop = in_state((enum stop_state)s, STOP_CATEGORY_2);
        cr_assert_eq(stop_step(&stop, &(struct stop_input){.event = (enum stop_event)77}), STOP_NOT_ASKED);
        cr_assert_eq(stop_step(&stop, &(struct stop_input){.event = STOP_EVENT_COUNT}), STOP_NOT_ASKED);
        cr_assert_eq(stop.state, (enum stop_state)s);
    }
}

/* The rig may have heard the count that was asked for, whatever ours was by then. */
Test(stop, counts_past_whatever_was_asked_for)
{
    for (uint64_t count = 1; count < 5; count++)
        for (uint64_t asked = 1; asked < 9; asked++) {
            struct stop stop = in_state(STOP_RUNNING, STOP_CATEGORY_2);
            stop.count = stop.permit = count;
            stop_step(&stop, &(struct stop_input){.asked = asked, .asked_why = REASON_STOP_OPERATOR});
            cr_assert(stop.count > asked && stop.count > count, "%d asked of %d", (int)asked, (int)count);
        }
}

Test(stop, never_moves_again_once_it_cannot_count)
{
    struct stop stop = in_state(STOP_RUNNING, STOP_CATEGORY_2);
    stop_step(&stop, &(struct stop_input){.asked = UINT64_MAX});
    cr_assert_eq(stop.count, UINT64_MAX);
    for (int e = 0; e < 3 * STOP_EVENT_COUNT; e++) {
        stop_step(&stop, &(struct stop_input){.asked = UINT64_MAX, .event = (enum stop_event)(e % STOP_EVENT_COUNT)});
        cr_assert(!stop_allows_motion(&stop) && stop_valid(&stop));
    }
    stop = in_state(STOP_RUNNING, STOP_CATEGORY_2);
    stop.count = stop.permit = UINT64_MAX - 1;
    stop_step(&stop, &(struct stop_input){.event = STOP_EVENT_HOLD});
    cr_assert(stop.state == STOP_HOLDING && stop_valid(&stop));
    stop_step(&stop, &(struct stop_input){.event = STOP_EVENT_GO});
    cr_assert_not(stop_allows_motion(&stop), "a hold cannot use the last count up for a go");
}

/* Whatever the state was: after a step it is one that can be, and nothing moves. */
Test(stop, a_state_that_cannot_be_is_stopped)
{
    static const uint64_t counts[] = {0, 1, 2, UINT64_MAX - 1, UINT64_MAX};
    for (int n = 0; n < 7 * 3 * 5 * 5 * 5; n++) {
        struct stop stop = {.state = (enum stop_state)(n % 7),
                            .reason = n / 7 % 3 == 0   ? REASON_NONE
                                      : n / 7 % 3 == 1 ? REASON_RIG_LOST
                                                       : REASON_COUNT,
                            .category = (enum stop_category)(n / 21 % 5),
                            .count = counts[n / 105 % 5],
                            .permit = counts[n / 525 % 5]};
        bool valid = stop_valid(&stop);
        stop_step(&stop, &(struct stop_input){.event = STOP_EVENT_NONE});
        cr_assert(stop_valid(&stop), "%d", n);
        if (!valid)
            cr_assert(stop.state == STOP_LATCHED && stop.category == STOP_CATEGORY_0, "%d", n);
    }
}

Test(stop, valid_looks_at_every_field)
{
    const struct stop good = in_state(STOP_ARMED, STOP_CATEGORY_2);
    struct stop bad[7] = {good, good, good, good, in_state(STOP_RUNNING, STOP_CATEGORY_2), good, good};
    bad[0].reason = REASON_COUNT;
    bad[1].count = 0;
    bad[2].permit = bad[2].count + 1;
    bad[3].reason = REASON_NONE;
    bad[4].reason = REASON_AWAIT_GO;
    bad[5].category = STOP_CATEGORY_0;
    bad[6].category = (enum stop_category)3;
    cr_assert(stop_valid(&good));
    for (int i = 0; i < 7; i++)
        cr_assert_not(stop_valid(&bad[i]), "%d", i);
}

Test(stop, states_have_stable_names)
{
    static const char *const name[] = {"parked", "stopped", "armed", "running", "holding", "unknown"};
    for (int s = 0; s <= STOP_STATE_COUNT; s++)
        cr_assert_str_eq(stop_state_name((enum stop_state)s), name[s]);
}

/* What an onlooker knows, without looking into the machine: which acts came since the last thing that stopped it? */
struct onlooker {
    bool latched, armed, going;
    enum stop_category category; /* of the stop in force */
};

static void look(struct onlooker *o, const struct stop_input *in, bool pressed)
{
    bool inhibited = in->inhibit != REASON_NONE;
    enum stop_category now = pressed && in->asked_category < 2 ? in->asked_category : STOP_CATEGORY_2;
    if (inhibited && in->inhibit_category < now)
        now = in->inhibit_category;
    bool stops = pressed || (inhibited && (o->armed || o->latched));
    if (stops) {
        enum stop_category least = o->latched ? o->category : o->armed ? STOP_CATEGORY_2 : STOP_CATEGORY_1;
        *o = (struct onlooker){true, false, false, now < least ? now : least};
    } else if (inhibited) {
        return;
    } else if (in->event == STOP_EVENT_RESET && o->latched && !in->moving) {
        *o = (struct onlooker){false, o->category == STOP_CATEGORY_2 && !in->unpowered, false, STOP_CATEGORY_2};
    } else if (in->event == STOP_EVENT_ARM && !o->latched && !in->moving) {
        o->armed = true;
    } else if (in->event == STOP_EVENT_GO && o->armed && !in->unpowered) {
        o->going = true;
    } else if (in->event == STOP_EVENT_HOLD) {
        o->going = false;
    } else if (in->event == STOP_EVENT_PARK && !o->going && !o->latched && !in->moving) {
        o->armed = false;
    }
}

enum { KINDS = STOP_EVENT_COUNT * 4 * 4 * 4, DEPTH = 9, MOST = 4096 };

static struct stop_input kind(int n, const struct stop *stop)
{
    static const enum stop_category asked[] = {STOP_CATEGORY_2, STOP_CATEGORY_2, STOP_CATEGORY_1, STOP_CATEGORY_0};
    int press = n % 4, inhibit = n / 4 % 4;
    return (struct stop_input){.asked = stop->asked + (press > 0),
                               .asked_why = REASON_STOP_OPERATOR,
                               .asked_category = asked[press],
                               .inhibit = inhibit ? REASON_DESK_LOST : REASON_NONE,
                               .inhibit_category = asked[inhibit],
                               .moving = n / 16 % 2,
                               .unpowered = n / 32 % 2,
                               .event = (enum stop_event)(n / 64),
                               .hold_why = REASON_HOLD_SPOTTER};
}

struct node {
    struct stop stop;
    struct onlooker o;
};

/* Counts only matter by how they compare, so a node is known by all but their size. */
static bool same(const struct node *a, const struct node *b)
{
    return a->stop.state == b->stop.state && a->stop.reason == b->stop.reason && a->stop.category == b->stop.category &&
           a->o.latched == b->o.latched && a->o.armed == b->o.armed && a->o.going == b->o.going &&
           a->o.category == b->o.category && (a->stop.permit == a->stop.count) == (b->stop.permit == b->stop.count);
}

static void hold_true(const struct node *before, const struct stop_input *in, const struct node *n)
{
    const struct stop *s = &n->stop;
    cr_assert(stop_valid(s));
    cr_assert_eq(stop_allows_motion(s), n->o.going, "motion exactly when the onlooker expects it");
    cr_assert_eq(s->state == STOP_LATCHED, n->o.latched);
    cr_assert_eq(stop_powers(s), n->o.armed || (n->o.latched && n->o.category == STOP_CATEGORY_2));
    if (n->o.latched)
        cr_assert_eq(s->category, n->o.category);
    cr_assert(s->count >= before->stop.count && s->count > s->asked && s->permit >= before->stop.permit);
    if (before->stop.state == STOP_LATCHED && s->state == STOP_LATCHED)
        cr_assert(s->category <= before->stop.category && s->reason == before->stop.reason);
    if (!stop_allows_motion(&before->stop) && stop_allows_motion(s))
        cr_assert(in->event == STOP_EVENT_GO && stop_is_armed(before->stop.state), "go alone never moves");
    if (!stop_powers(&before->stop) && stop_powers(s))
        cr_assert_eq(in->event, STOP_EVENT_ARM);
}

/* Breadth first over the real code, every input in every state that can be reached in DEPTH ticks; no new one is found
 * after the fifth, so what holds on all of them holds for sequences of any length. */
Test(stop, no_sequence_of_inputs_moves_anything_without_the_acts_it_needs)
{
    static struct node node[MOST];
    int known = 1, level = 0, from = 0;
    stop_init(&node[0].stop);
    node[0].o = (struct onlooker){.category = STOP_CATEGORY_2};
    for (; level < DEPTH && from < known; level++) {
        int to = known;
        for (; from < to; from++)
            for (int k = 0; k < KINDS; k++) {
                struct stop_input in = kind(k, &node[from].stop);
                struct node next = node[from];
                stop_step(&next.stop, &in);
                look(&next.o, &in, in.asked > node[from].stop.asked);
                hold_true(&node[from], &in, &next);
                int seen = 0;
                while (seen < known && !same(&node[seen], &next))
                    seen++;
                cr_assert_lt(known, MOST);
                if (seen == known)
                    node[known++] = next;
            }
    }
    cr_assert_eq(from, known, "nothing new after %d ticks", level);
    cr_assert_geq(known, 10, "%d states", known);
    cr_assert_leq(level, 6);
}
