/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* One desk's connection: who it is, and what it has yet to be told. Nothing is queued but flags and the newest values,
 * so a page that does not read costs nothing. */
#ifndef STEADYHAND_CORE_DESK_PEER_H
#define STEADYHAND_CORE_DESK_PEER_H

#include "gateway/core/desk_thread.h"
#include "policy/crowd/pace.h"

enum { DESK_PEER_REFUSALS = 4 };

struct desk_refusal {
    const char *of, *code, *text; /* static strings */
};

struct desk_peer {
    struct serve_peer *socket;
    struct desk_peer *next, **link;
    uint64_t heard_ns; /* opened, or last message */
    bool greeted;
    struct desk_member member;
    struct pace pace;
    bool owe_welcome, owe_room, owe_beat;
    uint64_t beat;
    uint64_t stop_wait; /* count to be told of once the rig has confirmed it, 0 = none */
    uint64_t stopped;   /* count to tell now, 0 = none */
    int refusals;
    struct desk_refusal refusal[DESK_PEER_REFUSALS];
    uint64_t scene_seq; /* last one sent */
};

/* Beyond DESK_PEER_REFUSALS waiting ones the newest is dropped. */
void desk_peer_refuse(struct desk_peer *peer, const char *of, const char *code, const char *text);

/* The next thing to say, most urgent first; false if there is nothing. The text stays valid until the next call. */
bool desk_peer_compose(struct desk_thread *thread, struct desk_peer *peer, struct serve_message *out);

#endif
