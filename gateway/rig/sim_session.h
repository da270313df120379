/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The rig's end of the link, as wire.h lays it down: hello and challenge, tag, session, sequence, expiry, stop count.
 * Everything refused is counted and changes nothing else. Pure: datagrams and the rig's time come in, verdicts and
 * datagrams go out.
 *
 * One core. While the core of the present session lives, that is until its newest intent expires, a hello from
 * elsewhere is answered by a challenge whose nonce is zero: it offers none, and names the session that the rig is in. A
 * confirm from there is refused. So a second core cannot take the rig from under a show, and is told why; one that
 * stands by gets it once the first is dead. Where a datagram comes from decides only this: what it may do is decided by
 * its tag and session.
 */
#ifndef STEADYHAND_RIG_SIM_SESSION_H
#define STEADYHAND_RIG_SIM_SESSION_H

#include "gateway/rig/seal.h"
#include "gateway/rig/wire.h"

enum sim_verdict {
    SIM_REFUSED, /* counted, nothing changed */
    SIM_ANSWER,  /* a hello: send the reply to whoever sent it */
    SIM_STARTED, /* a session began, stopped; its telemetry goes to whoever sent this */
    SIM_INTENT,  /* m->body.intent is in force, its expiry capped */
    SIM_STOP,    /* stop_count may have risen */
};

struct sim_refused {
    uint32_t tag, session, seq, late, form;
};

struct sim_session {
    struct seal_keys keys;
    uint8_t nonce_key[SEAL_KEY]; /* secret: nonces and session numbers are drawn from it */
    uint64_t draws;
    uint64_t longest_ns; /* no intent lives longer */
    uint64_t id;         /* 0 = none */
    uint64_t pending;    /* session offered and not confirmed, 0 = none */
    uint64_t held_ns;    /* the core of the present session has the rig to itself until then */
    bool elsewhere;      /* the caller's to set: what is received next does not come from that core's address */
    uint8_t pending_nonce[WIRE_NONCE];
    uint64_t stop_count; /* highest heard in this session */
    uint64_t intent_seq, stop_seq, sent_seq;
    struct sim_refused refused;
};

struct sim_reply {
    size_t len;
    uint8_t bytes[WIRE_MAX];
};

/* nonce_key: fresh random bytes on every start, or a constant in a test that has to be repeatable. */
void sim_session_init(struct sim_session *s, const uint8_t master[SEAL_KEY], const uint8_t nonce_key[SEAL_KEY],
                      uint64_t lease_ns);

/* True if the tag is genuine; counts it if it is not. */
bool sim_session_genuine(struct sim_session *s, const uint8_t *bytes, size_t len);

/* Judges one datagram. *m is what it said, unless it was refused; reply->len > 0 only with SIM_ANSWER. */
enum sim_verdict sim_session_receive(struct sim_session *s, uint64_t now_ns, const uint8_t *bytes, size_t len,
                                     struct wire_message *m, struct sim_reply *reply);

/* Seals telemetry for the present session: fills in the session's own part (stop count, seq, refusals). 0 without a
 * session. */
size_t sim_session_telemetry(struct sim_session *s, const struct wire_telemetry *t, uint8_t *buf, size_t size);

#endif
