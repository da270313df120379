/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Inside gateway/edge only: the edge's own structs, shared by edge.c, line.c and audience.c. */
#ifndef STEADYHAND_EDGE_IMPL_H
#define STEADYHAND_EDGE_IMPL_H

#include "gateway/bus/scene_json.h"
#include "gateway/edge/verdict.h"
#include "gateway/edge/viewers.h"
#include "gateway/serve/serve.h"
#include "gateway/verbs.h"

enum { EDGE_WELCOME_MAX = 128, EDGE_NOTICE_MAX = 256 };

/* One connected viewer. */
struct spectator {
    struct viewer viewer;
    struct pace pace;
    struct verdict owed;  /* kind VERDICT_NONE: nothing to answer */
    uint64_t scene_seen;  /* number of the last broadcast sent to it */
    uint32_t outage_seen; /* number of the last outage it was told of */
    uint8_t greetings;    /* how many of welcome, room it has had */
};

/* A message made once and sent to many; the server writes frame headers into the bytes in front. */
struct shared_text {
    size_t len;
    uint8_t bytes[SERVE_PRE + SCENE_JSON_MAX];
};

struct edge {
    const struct show *show;
    struct serve *serve;
    struct viewers viewers;
    struct edge_counts counts;        /* since this process started */
    struct edge_counts counts_before; /* as they were when the line to core was last lost */

    /* The line to core. */
    int connector, bus_fd; /* -1: none */
    bool asked;            /* the connector has yet to answer */
    bool alone;            /* there is no connector any more */
    uint64_t snapshot_seq, heard_ns;
    unsigned ticks;
    bool heard; /* `scene` is fresh */
    struct scene scene;

    /* What every viewer is told. */
    struct shared_text broadcast, scratch, welcome;
    uint8_t *room; /* SERVE_PRE bytes, then the text */
    size_t room_len;
    uint64_t broadcast_count, broadcast_ns; /* number and time of the last one */
    bool scene_waits;                       /* a newer scene than the last broadcast is at hand */
    uint32_t outage;                        /* grows with every loss of core */
    bool answers_wait;                      /* somebody is owed an answer that goes with the next broadcast */
};

/* line.c. First of all, line_start splits off the connector; line_open, once there is a server, listens to it; then
 * line_tick every 50 ms. False with a line on stderr. Changes are reported through edge_scene_arrived and
 * edge_core_lost, edge_alone when the connector has died. */
bool line_start(struct edge *edge, const char *state_dir);
bool line_open(struct edge *edge);
void line_tick(struct edge *edge, uint64_t now_ns);
void line_close(struct edge *edge);
void edge_scene_arrived(struct edge *edge, uint64_t now_ns);
void edge_core_lost(struct edge *edge);
void edge_alone(struct edge *edge);

/* audience.c: the server's handlers. */
bool audience_init(struct edge *edge);
void audience_free(struct edge *edge);
void audience_handlers(struct serve_handlers *handlers);
/* Makes the broadcast from the newest scene and offers it to everybody. */
void audience_broadcast(struct edge *edge, uint64_t now_ns);

#endif
