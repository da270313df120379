/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What viewers say and hear. Each message is answered once; answers not yet sent are folded into the newest, so an
 * answer never costs more than the question did. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/clock.h"
#include "gateway/edge/edge_impl.h"
#include "gateway/show/room_json.h"

static const char core_lost[] = "{\"type\":\"notice\",\"code\":\"core-lost\",\"text\":\"The control room is not "
                                "connected: nothing moves. This page goes on trying.\"}";

static void put(struct shared_text *to, const char *text)
{
    to->len = strlen(text);
    memcpy(to->bytes + SERVE_PRE, text, to->len);
}

static bool give(const struct shared_text *text, struct serve_message *out)
{
    out->text = text->bytes + SERVE_PRE;
    out->len = text->len;
    return true;
}

static void make_welcome(struct edge *edge)
{
    const struct pace_config *pace = &edge->show->admission.pace;
    char text[EDGE_WELCOME_MAX];
    snprintf(text, sizeof text, "{\"type\":\"welcome\",\"protocol\":1,\"rate_per_s\":%.6g,\"burst\":%llu}",
             1e9 / (double)pace->interval_ns, (unsigned long long)(1 + pace->tolerance_ns / pace->interval_ns));
    put(&edge->welcome, text);
}

bool audience_init(struct edge *edge)
{
    make_welcome(edge);
    char *room = room_json_new(edge->show);
    if (!room)
        return false;
    edge->room_len = strlen(room);
    edge->room = malloc(SERVE_PRE + edge->room_len);
    if (edge->room)
        memcpy(edge->room + SERVE_PRE, room, edge->room_len);
    free(room);
    return edge->room != NULL;
}

void audience_free(struct edge *edge)
{
    free(edge->room);
    edge->room = NULL;
}

void audience_broadcast(struct edge *edge, uint64_t now_ns)
{
    if (edge->scene_waits) {
        struct shared_text *text = &edge->broadcast;
        text->len = scene_json(&edge->scene, edge->show, false, (char *)text->bytes + SERVE_PRE, SCENE_JSON_MAX);
        edge->broadcast_count += text->len > 0;
    }
    edge->scene_waits = false;
    edge->answers_wait = false;
    edge->broadcast_ns = now_ns;
    serve_want_write_all(edge->serve);
}

static bool on_open(void *ctx, struct serve_peer *peer, void *user)
{
    struct edge *edge = ctx;
    struct spectator *spectator = user;
    viewers_join(&edge->viewers, &spectator->viewer);
    serve_want_write(peer);
    return true;
}

static void on_closed(void *ctx, struct serve_peer *peer, void *user)
{
    (void)peer;
    struct edge *edge = ctx;
    struct spectator *spectator = user;
    viewers_leave(&edge->viewers, &spectator->viewer);
}

static void apply(struct edge *edge, struct viewer *viewer, const struct wish_message *wish, uint64_t now_ns)
{
    if (wish->type == WISH_VOTE)
        viewers_vote(&edge->viewers, viewer, wish->choice);
    else if (wish->type == WISH_STICK)
        viewers_stick(&edge->viewers, viewer, wish->axis, now_ns);
    else
        viewers_release(&edge->viewers, viewer);
}

/* Every message is charged to the viewer's rate, understood or not. Only letting go is done at any rate: nobody is ever
 * told to wait before they may let go. */
static struct verdict judge(struct edge *edge, struct spectator *spectator, const char *text, size_t len, bool *in_pace)
{
    struct wish_message wish = {.type = WISH_NOTHING};
    uint64_t now_ns = clock_now_ns(), wait_ns;
    enum wish_fault fault = wish_parse(text, len, &wish);
    *in_pace = pace_arrive(&edge->show->admission.pace, &spectator->pace, now_ns, &wait_ns);
    if (!*in_pace && wish.type != WISH_RELEASE)
        return verdict_limited(wish.type, wait_ns);
    if (fault != WISH_FINE)
        return verdict_malformed(fault);
    struct verdict verdict = verdict_on(&wish, edge->heard ? &edge->scene : NULL);
    if (verdict.kind == VERDICT_COUNTED)
        apply(edge, &spectator->viewer, &wish, now_ns);
    return verdict;
}

static void count(struct edge_counts *counts, enum verdict_kind kind)
{
    if (kind == VERDICT_COUNTED)
        counts->accepted++;
    else if (kind == VERDICT_LIMITED)
        counts->limited++;
    else
        counts->refused++;
}

static void on_message(void *ctx, struct serve_peer *peer, void *user, const char *text, size_t len)
{
    struct edge *edge = ctx;
    struct spectator *spectator = user;
    uint32_t unanswered = spectator->owed.kind == VERDICT_NONE ? 0 : spectator->owed.answers;
    bool in_pace;
    spectator->owed = judge(edge, spectator, text, len, &in_pace);
    if (unanswered < UINT32_MAX)
        spectator->owed.answers += unanswered;
    count(&edge->counts, spectator->owed.kind);
    if (in_pace)
        serve_want_write(peer);
    else
        edge->answers_wait = true; /* not worth a packet of its own */
}

static bool greet(struct edge *edge, struct spectator *spectator, struct serve_message *out)
{
    if (spectator->greetings++ == 0)
        return give(&edge->welcome, out);
    out->text = edge->room + SERVE_PRE;
    out->len = edge->room_len;
    return true;
}

static bool answer(struct edge *edge, struct spectator *spectator, struct serve_message *out)
{
    struct shared_text *text = &edge->scratch;
    text->len = verdict_json(&spectator->owed, (char *)text->bytes + SERVE_PRE, VERDICT_JSON_MAX);
    spectator->owed.kind = VERDICT_NONE;
    return text->len > 0 && give(text, out);
}

static bool on_compose(void *ctx, struct serve_peer *peer, void *user, struct serve_message *out)
{
    (void)peer;
    struct edge *edge = ctx;
    struct spectator *spectator = user;
    if (spectator->greetings < 2)
        return greet(edge, spectator, out);
    if (spectator->owed.kind != VERDICT_NONE)
        return answer(edge, spectator, out);
    if (!edge->heard) {
        if (spectator->outage_seen == edge->outage)
            return false;
        spectator->outage_seen = edge->outage;
        put(&edge->scratch, core_lost);
        return give(&edge->scratch, out);
    }
    if (spectator->scene_seen == edge->broadcast_count)
        return false;
    spectator->scene_seen = edge->broadcast_count;
    return give(&edge->broadcast, out);
}

void audience_handlers(struct serve_handlers *handlers)
{
    *handlers =
        (struct serve_handlers){.open = on_open, .message = on_message, .closed = on_closed, .compose = on_compose};
}
