/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/desk/desk_state.h"

#include <string.h>

#include "policy/crowd/saturate.h"

#define SECOND_NS 1000000000ull

static const struct {
    const char *code, *text;
} words[] = {
    [DESK_DONE] = {"done", "Done."},
    [DESK_NOT_ALLOWED] = {"not-allowed", "Your pass does not allow this."},
    [DESK_PASS_OVER] = {"pass-over", "Your pass has expired. You can still stop; ask the host for a new pass."},
    [DESK_GREETED_TWICE] = {"greeted-twice", "This desk has already said hello."},
    [DESK_HELD] = {"held", "Another operator has control. Ask them to release it."},
    [DESK_NOT_HELD] = {"not-held", "Take control first."},
    [DESK_ONLY_LOWER] = {"only-lower", "You may lower the audience's speed. Only an operator may raise it."},
    [DESK_ONLY_CLOSE] = {"only-close", "You may close the audience's lane. Only an operator may open it."},
    [DESK_WHILE_MOVING] = {"while-moving",
                           "Limits can be raised only while stopped or parked. Stop, raise the speed, reset, go."},
    [DESK_STOP_FIRST] = {"stop-first", "Set-up begins and ends only while stopped or parked. Stop first."},
    [DESK_SPOTTED] = {"spotted", "Another spotter holds the enabling device. Only one can: agree who."},
    [DESK_ONLY_TIGHTEN] = {"only-tighten", "You may tighten limits. Only an operator may loosen them."},
    [DESK_NO_LIMITS] = {"no-limits", "These limits leave the camera nowhere to be. Put the ceiling above the floor."},
    [DESK_BUSY] = {"busy", "Too many limits at once. Try again."},
    [DESK_MALFORMED] = {"malformed", "The desk page sent something core does not accept. Load the page again."},
    [DESK_UNKNOWN] = {"unknown", "The desk page sent something core does not know. Load the page again."},
};
_Static_assert(sizeof words / sizeof words[0] == DESK_VERDICT_COUNT, "words for every verdict");

const char *desk_state_code(enum desk_verdict verdict)
{
    return (unsigned)verdict < DESK_VERDICT_COUNT ? words[verdict].code : words[DESK_UNKNOWN].code;
}

const char *desk_state_text(enum desk_verdict verdict)
{
    return (unsigned)verdict < DESK_VERDICT_COUNT ? words[verdict].text : words[DESK_UNKNOWN].text;
}

void desk_state_init(struct desk_state *state, enum crowd_mode mode, double audience_scale, uint64_t operator_lease_ns)
{
    *state = (struct desk_state){
        .orders = {.mode = mode, .audience_scale = audience_scale},
        .operator_lease_ns = operator_lease_ns,
    };
}

static uint64_t deadline(uint64_t expires_s, const struct desk_moment *at)
{
    uint64_t left_s = expires_s > at->unix_s ? expires_s - at->unix_s : 0;
    return saturate_add64(at->now_ns, left_s < UINT64_MAX / SECOND_NS ? left_s * SECOND_NS : UINT64_MAX);
}

void desk_state_join(struct desk_state *state, const struct pass *pass, const struct desk_moment *at,
                     struct desk_member *member)
{
    *member = (struct desk_member){
        .id = ++state->last_id,
        .role = pass->role,
        .expires_ns = deadline(pass->expires_s, at),
    };
    memcpy(member->name, pass->name, sizeof member->name);
    state->desks++;
}

static void drop_stick(struct desk_state *state)
{
    state->orders.stick_ns = 0;
    state->orders.stick = (struct vec3){0, 0, 0};
}

static void drop_head(struct desk_state *state)
{
    state->orders.head_ns = 0;
    memset(state->orders.head, 0, sizeof state->orders.head);
}

/* Held still, but by nobody: the camera is not handed to the audience because somebody's line broke. */
static void lose_control(struct desk_state *state)
{
    state->holder = 0;
    state->holder_name[0] = '\0';
    drop_stick(state);
    drop_head(state);
}

static void let_go(struct desk_state *state)
{
    state->spotter = 0;
    state->spotter_name[0] = '\0';
    state->orders.spotter_ns = 0;
}

void desk_state_leave(struct desk_state *state, const struct desk_member *member)
{
    state->desks--;
    if (state->holder == member->id)
        lose_control(state);
    if (state->spotter == member->id)
        let_go(state);
}

static bool silent(uint64_t heard_ns, uint64_t now_ns, uint64_t lease_ns)
{
    return now_ns > heard_ns && now_ns - heard_ns > lease_ns;
}

bool desk_state_lapse(struct desk_state *state, uint64_t now_ns)
{
    if (state->spotter != 0 && silent(state->orders.spotter_ns, now_ns, DESK_ENABLE_MS * (SECOND_NS / 1000)))
        let_go(state);
    if (state->holder == 0 || !silent(state->orders.held_ns, now_ns, state->operator_lease_ns))
        return false;
    lose_control(state);
    return true;
}

static enum desk_verdict take_control(struct desk_state *state, const struct desk_member *member, uint64_t now_ns)
{
    if (state->holder == member->id)
        return DESK_DONE;
    if (state->holder != 0)
        return DESK_HELD;
    state->holder = member->id;
    memcpy(state->holder_name, member->name, sizeof state->holder_name);
    state->orders.held = true;
    state->orders.held_ns = now_ns;
    state->stick = state->head = (struct desk_hand){.heard_ns = 0};
    drop_stick(state);
    drop_head(state);
    return DESK_DONE;
}

/* One's own, or what nobody holds any more: that too is an explicit act. */
static enum desk_verdict release_control(struct desk_state *state, const struct desk_member *member)
{
    bool lost = state->orders.held && state->holder == 0;
    if (state->holder != member->id && !lost)
        return DESK_NOT_HELD;
    lose_control(state);
    state->orders.held = false;
    return DESK_DONE;
}

static bool centred(struct vec3 stick)
{
    return stick.x == 0 && stick.y == 0 && stick.z == 0;
}

static bool rests(const double rate[HEAD_AXES])
{
    return rate[HEAD_PAN] == 0 && rate[HEAD_TILT] == 0 && rate[HEAD_ROLL] == 0 && rate[HEAD_ZOOM] == 0;
}

static bool is_fresh(const struct desk_state *state, const struct desk_hand *hand, uint64_t now_ns)
{
    return hand->heard_ns != 0 && saturate_sub64(now_ns, hand->heard_ns) <= state->operator_lease_ns;
}

/* What is held over through a stop moves nothing at the go that ends it, before it was let go once. */
static bool heed(const struct desk_state *state, struct desk_hand *hand, bool rest, uint64_t now_ns)
{
    if (rest || !is_fresh(state, hand, now_ns))
        hand->held_over = false;
    hand->heard_ns = now_ns;
    return !hand->held_over;
}

static enum desk_verdict move_stick(struct desk_state *state, const struct desk_member *member, struct vec3 stick,
                                    uint64_t now_ns)
{
    if (state->holder != member->id)
        return DESK_NOT_HELD;
    if (!heed(state, &state->stick, centred(stick), now_ns))
        return DESK_DONE;
    state->orders.stick = stick;
    state->orders.stick_ns = now_ns;
    return DESK_DONE;
}

static enum desk_verdict move_head(struct desk_state *state, const struct desk_member *member,
                                   const double rate[HEAD_AXES], uint64_t now_ns)
{
    if (state->holder != member->id)
        return DESK_NOT_HELD;
    if (!heed(state, &state->head, rests(rate), now_ns))
        return DESK_DONE;
    memcpy(state->orders.head, rate, sizeof state->orders.head);
    state->orders.head_ns = now_ns;
    return DESK_DONE;
}

static enum desk_verdict home_head(struct desk_state *state, const struct desk_member *member)
{
    if (state->holder != member->id)
        return DESK_NOT_HELD;
    state->orders.homes++;
    return DESK_DONE;
}

/* Said again and again while the enabling device is held; a release needs nobody's leave. */
static enum desk_verdict enable(struct desk_state *state, const struct desk_member *member, bool on, uint64_t now_ns)
{
    if (state->spotter != 0 && state->spotter != member->id)
        return on ? DESK_SPOTTED : DESK_DONE;
    if (!on) {
        let_go(state);
        return DESK_DONE;
    }
    state->spotter = member->id;
    memcpy(state->spotter_name, member->name, sizeof state->spotter_name);
    state->orders.spotter_ns = now_ns;
    return DESK_DONE;
}

/* Who may loosen what is for the tick to say: it knows what holds now. */
static enum desk_verdict ask_limit(struct desk_state *state, const struct desk_member *member,
                                   const struct desk_limit *limit, const struct desk_moment *at)
{
    if (state->orders.limits - at->limits >= DESK_ORDERS_EVENTS)
        return DESK_BUSY;
    desk_orders_ask(&state->orders, &(struct desk_asked_limit){*limit, member->role == PASS_OPERATOR});
    return DESK_DONE;
}

static enum desk_verdict set_up(struct desk_state *state, bool on, bool armed)
{
    if (armed && on != state->orders.setup)
        return DESK_STOP_FIRST;
    state->orders.setup = on;
    return DESK_DONE;
}

/* Anyone responsible may tighten; only the operator may loosen, and never while motion is allowed. */
static enum desk_verdict set_scale(struct desk_state *state, const struct desk_member *member, double value,
                                   bool running)
{
    bool raises = value > state->orders.audience_scale;
    if (raises && member->role != PASS_OPERATOR)
        return DESK_ONLY_LOWER;
    if (raises && running)
        return DESK_WHILE_MOVING;
    state->orders.audience_scale = value;
    return DESK_DONE;
}

static enum desk_verdict set_mode(struct desk_state *state, const struct desk_member *member, enum crowd_mode mode)
{
    if (mode != CROWD_CLOSED && member->role != PASS_OPERATOR)
        return DESK_ONLY_CLOSE;
    state->orders.mode = mode;
    return DESK_DONE;
}

static enum desk_verdict press(struct desk_state *state, enum stop_event what, uint64_t count,
                               const struct desk_moment *at)
{
    desk_orders_press(&state->orders, &(struct desk_event){what, count, at->asked});
    if (what != STOP_EVENT_GO)
        return DESK_DONE;
    if (!centred(state->orders.stick) && is_fresh(state, &state->stick, at->now_ns)) {
        state->stick.held_over = true;
        drop_stick(state);
    }
    if (!rests(state->orders.head) && is_fresh(state, &state->head, at->now_ns)) {
        state->head.held_over = true;
        drop_head(state);
    }
    return DESK_DONE;
}

static enum desk_verdict hold(struct desk_state *state, const struct desk_member *member)
{
    state->orders.holds++;
    state->orders.hold_why = member->role == PASS_OPERATOR  ? REASON_HOLD_OPERATOR
                             : member->role == PASS_SPOTTER ? REASON_HOLD_SPOTTER
                                                            : REASON_HOLD_MODERATOR;
    return DESK_DONE;
}

/* What a person does shows that they are there, whether or not it is granted. */
static void note_presence(struct desk_state *state, const struct desk_member *member, uint64_t now_ns)
{
    if (member->role == PASS_OPERATOR)
        state->orders.presence_ns = now_ns;
    if (state->holder == member->id)
        state->orders.held_ns = now_ns;
}

static enum desk_verdict act(struct desk_state *state, const struct desk_member *member, const struct desk_message *m,
                             const struct desk_moment *at)
{
    switch (m->type) {
    case DESK_BEAT:
        return DESK_DONE;
    case DESK_ARM:
        return press(state, STOP_EVENT_ARM, m->n, at);
    case DESK_RESET:
        return press(state, STOP_EVENT_RESET, m->n, at);
    case DESK_GO:
        return press(state, STOP_EVENT_GO, m->n, at);
    case DESK_HOLD:
        return hold(state, member);
    case DESK_PARK:
        return press(state, STOP_EVENT_PARK, 0, at);
    case DESK_TAKE:
        return take_control(state, member, at->now_ns);
    case DESK_RELEASE:
        return release_control(state, member);
    case DESK_STICK:
        return move_stick(state, member, m->stick, at->now_ns);
    case DESK_MODE:
        return set_mode(state, member, m->mode);
    case DESK_SCALE:
        return set_scale(state, member, m->value, at->running);
    case DESK_ENABLE:
        return enable(state, member, m->on, at->now_ns);
    case DESK_HEAD:
        return move_head(state, member, m->head, at->now_ns);
    case DESK_HEAD_HOME:
        return home_head(state, member);
    case DESK_LIMIT:
        return ask_limit(state, member, &m->limit, at);
    case DESK_SETUP:
        return set_up(state, m->on, at->armed);
    case DESK_HELLO:
        return DESK_GREETED_TWICE;
    case DESK_STOP: /* never comes this way */
    case DESK_TYPE_COUNT:
        break;
    }
    return DESK_UNKNOWN;
}

enum desk_verdict desk_state_take(struct desk_state *state, const struct desk_member *member,
                                  const struct desk_message *m, const struct desk_moment *at)
{
    if (at->now_ns >= member->expires_ns && m->type != DESK_BEAT)
        return DESK_PASS_OVER;
    if (at->now_ns < member->expires_ns)
        note_presence(state, member, at->now_ns);
    if (!desk_message_allowed(m->type, member->role))
        return DESK_NOT_ALLOWED;
    return act(state, member, m, at);
}
