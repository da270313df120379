/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Who is at the desks and what they may do now: roles, the one holder of control, the one spotter who holds the
 * enabling device, the audience's mode and speed, the session's limits. No I/O, no clock, no sockets: messages and
 * times are passed in, a verdict comes out, and the orders for the tick are kept ready. Owned by the desk thread.
 */
#ifndef STEADYHAND_DESK_DESK_STATE_H
#define STEADYHAND_DESK_DESK_STATE_H

#include "gateway/desk/desk_orders.h"

enum { DESK_ENABLE_MS = 1000 }; /* an enabling device that is not heard of for longer is let go */

/* One person's connection, once greeted. */
struct desk_member {
    uint32_t id; /* 1.., never used twice */
    enum pass_role role;
    char name[PASS_NAME];
    uint64_t expires_ns; /* monotonic: a wall clock that is set later changes nothing */
};

/* The holder's hand on the stick, or on the head. */
struct desk_hand {
    uint64_t heard_ns; /* last, heeded or not; 0 = not since control was taken */
    bool held_over;    /* it was deflected at the last go and has not been let go since: not heeded */
};

struct desk_state {
    struct desk_orders orders;
    uint64_t operator_lease_ns;
    uint32_t last_id, desks; /* greeted and still connected */
    uint32_t holder;         /* id, 0 = nobody */
    char holder_name[PASS_NAME];
    struct desk_hand stick, head;
    uint32_t spotter; /* id of whoever holds the enabling device, 0 = nobody */
    char spotter_name[PASS_NAME];
};

enum desk_verdict {
    DESK_DONE,
    DESK_NOT_ALLOWED, /* not with this role */
    DESK_PASS_OVER,   /* the pass has expired meanwhile: it can still stop, nothing else */
    DESK_GREETED_TWICE,
    DESK_HELD,         /* another desk has control */
    DESK_NOT_HELD,     /* this desk has not */
    DESK_ONLY_LOWER,   /* this role may lower the audience's speed, not raise it */
    DESK_ONLY_CLOSE,   /* this role may close the audience's lane, not open it */
    DESK_WHILE_MOVING, /* nothing is loosened while motion is allowed */
    DESK_STOP_FIRST,   /* nor set up */
    DESK_SPOTTED,      /* another spotter holds the enabling device */
    DESK_ONLY_TIGHTEN, /* this role may tighten the session's limits, not loosen them */
    DESK_NO_LIMITS,    /* limits that leave the camera nowhere to be */
    DESK_BUSY,         /* so many limits were asked for that the tick has not looked at them all */
    DESK_MALFORMED,    /* fields missing, unknown or out of range */
    DESK_UNKNOWN,      /* no such message */
    DESK_VERDICT_COUNT
};

/* The words for a refusal: stable code, and a sentence for the page. */
const char *desk_state_code(enum desk_verdict verdict);
const char *desk_state_text(enum desk_verdict verdict);

void desk_state_init(struct desk_state *state, enum crowd_mode mode, double audience_scale, uint64_t operator_lease_ns);

struct desk_moment {
    uint64_t now_ns; /* monotonic */
    uint64_t unix_s; /* looked at when a pass is shown, never again */
    uint64_t asked;  /* stops asked for so far, to stamp events with */
    bool running;    /* motion is allowed, as the tick last said */
    bool armed;      /* it was reset, or more */
    uint64_t limits; /* of the limits asked for, how many the tick has said it looked at */
};

/* A pass was accepted: fills *member. */
void desk_state_join(struct desk_state *state, const struct pass *pass, const struct desk_moment *at,
                     struct desk_member *member);

/* The connection is gone. A holder's control is lost: held by nobody, until an operator takes or releases it. */
void desk_state_leave(struct desk_state *state, const struct desk_member *member);

/* One message of a greeted member, other than a stop. */
enum desk_verdict desk_state_take(struct desk_state *state, const struct desk_member *member,
                                  const struct desk_message *m, const struct desk_moment *at);

/* Control whose holder was silent for too long is lost, as above, true if it was; and an enabling device is let go. */
bool desk_state_lapse(struct desk_state *state, uint64_t now_ns);

#endif
