/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The edge's end of the bus: snapshots up, scenes down, and coming back when core does. */
#include <errno.h>
#include <stdio.h>
#include <unistd.h>

#include "gateway/bus/bus.h"
#include "gateway/edge/edge_impl.h"

enum { RETRY_TICKS = 4, FRAMES_A_TURN = 32 };

/* Core sends scenes many times a second: connected but silent for this long is as good as gone. */
#define SILENCE_NS 1000000000ULL

void line_init(struct edge *edge, const char *state_dir)
{
    edge->bus_fd = -1;
    if ((size_t)snprintf(edge->bus_path, sizeof edge->bus_path, "%s/bus.sock", state_dir) >= sizeof edge->bus_path)
        edge->bus_path[0] = '\0'; /* a socket's path cannot be that long: connecting says so */
}

static void lose(struct edge *edge)
{
    if (edge->heard)
        edge_core_lost(edge);
    edge->heard = false;
}

static void hang_up(struct edge *edge)
{
    if (edge->bus_fd >= 0) {
        serve_unwatch(edge->serve, edge->bus_fd);
        close(edge->bus_fd);
    }
    edge->bus_fd = -1;
    lose(edge);
}

void line_close(struct edge *edge)
{
    hang_up(edge);
}

/* Takes what core has sent and keeps the newest whole scene. Frames that do not decode change nothing. */
static void on_frames(void *ctx)
{
    struct edge *edge = ctx;
    uint8_t frame[BUS_FRAME_MAX];
    bool news = false;
    for (int i = 0; i < FRAMES_A_TURN; i++) {
        ssize_t n = bus_receive(edge->bus_fd, frame, sizeof frame);
        if (n == -EAGAIN)
            break;
        if (n == 0 || (n < 0 && n != -EMSGSIZE)) {
            hang_up(edge);
            return;
        }
        news = (n > 0 && frames_decode_scene(frame, (size_t)n, &edge->scene)) || news;
    }
    if (!news)
        return;
    edge->heard = true;
    edge->heard_ns = edge_now_ns();
    edge_scene_arrived(edge, edge->heard_ns);
}

static void connect_to_core(struct edge *edge)
{
    int fd = bus_connect(edge->bus_path);
    if (fd < 0)
        return;
    if (!serve_watch(edge->serve, fd, on_frames, edge)) {
        close(fd);
        return;
    }
    edge->bus_fd = fd;
}

static void publish(struct edge *edge)
{
    struct serve_counts served;
    uint8_t frame[BUS_FRAME_MAX];
    serve_get_counts(edge->serve, &served);
    edge->counts.connects = served.opened;
    edge->counts.turned_away = served.turned_away;
    struct snapshot snapshot = {.seq = ++edge->snapshot_seq,
                                .round = edge->viewers.round,
                                .tally = edge->viewers.tally,
                                .counts = edge->counts};
    size_t len = frames_encode_snapshot(&snapshot, frame, sizeof frame);
    int sent = len > 0 ? bus_send(edge->bus_fd, frame, len) : 0;
    if (sent < 0 && sent != -EAGAIN)
        hang_up(edge);
}

void line_tick(struct edge *edge, uint64_t now_ns)
{
    if (edge->bus_fd < 0 && edge->ticks % RETRY_TICKS == 0)
        connect_to_core(edge);
    edge->ticks++;
    if (edge->heard && now_ns > edge->heard_ns && now_ns - edge->heard_ns > SILENCE_NS)
        lose(edge);
    if (edge->bus_fd >= 0)
        publish(edge);
}
