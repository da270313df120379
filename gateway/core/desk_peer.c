/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/desk_peer.h"

#include <string.h>

void desk_peer_refuse(struct desk_peer *peer, const char *of, const char *code, const char *text)
{
    if (peer->refusals < DESK_PEER_REFUSALS)
        peer->refusal[peer->refusals++] = (struct desk_refusal){of, code, text};
    serve_want_write(peer->socket);
}

static size_t next_refusal(struct desk_peer *peer, char *buf)
{
    struct desk_refusal r = peer->refusal[0];
    peer->refusals--;
    memmove(peer->refusal, peer->refusal + 1, (size_t)peer->refusals * sizeof r);
    return desk_json_refused(r.of, r.code, r.text, buf, DESK_JSON_SMALL);
}

/* A small message, made in the thread's scratch; 0 if there is none to send. */
static size_t next_small(struct desk_peer *peer, char *buf)
{
    if (peer->stopped != 0) {
        uint64_t count = peer->stopped;
        peer->stopped = 0;
        return desk_json_stopped(count, buf, DESK_JSON_SMALL);
    }
    if (peer->owe_welcome) {
        peer->owe_welcome = false;
        return desk_json_welcome(&peer->member, buf, DESK_JSON_SMALL);
    }
    if (peer->refusals > 0) /* before the beat: what was sent before a beat is answered before it */
        return next_refusal(peer, buf);
    if (!peer->owe_beat)
        return 0;
    peer->owe_beat = false;
    return desk_json_beat(peer->beat, buf, DESK_JSON_SMALL);
}

bool desk_peer_compose(struct desk_thread *thread, struct desk_peer *peer, struct serve_message *out)
{
    const char *text = thread->small + SERVE_PRE;
    size_t len = next_small(peer, thread->small + SERVE_PRE);
    if (len == 0 && peer->owe_room) {
        peer->owe_room = false;
        text = thread->room + SERVE_PRE;
        len = thread->room_len;
    }
    if (len == 0 && peer->greeted && peer->scene_seq != thread->scene_seq) {
        int holds = peer->member.id == thread->state.holder;
        peer->scene_seq = thread->scene_seq;
        text = thread->scene[holds] + SERVE_PRE;
        len = thread->scene_len[holds];
    }
    *out = (struct serve_message){(const uint8_t *)text, len};
    return len > 0;
}
