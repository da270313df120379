/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The edge's end of the bus: snapshots up, scenes down, and coming back when core does. */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "gateway/bus/bus.h"
#include "gateway/clock.h"
#include "gateway/edge/connector.h"
#include "gateway/edge/edge_impl.h"

enum { RETRY_TICKS = 4, FRAMES_A_TURN = 32, PATH_MAX_BYTES = 108 };

/* Core sends scenes many times a second: connected but silent for this long is as good as gone. */
#define SILENCE_NS 1000000000ULL

bool line_start(struct edge *edge, const char *state_dir)
{
    char path[PATH_MAX_BYTES];
    edge->bus_fd = edge->connector = -1;
    if ((size_t)snprintf(path, sizeof path, "%s/bus.sock", state_dir) >= sizeof path) {
        fprintf(stderr, "edge: %s/bus.sock: a socket's path has at most 107 characters. Hint: a shorter --state DIR.\n",
                state_dir);
        return false;
    }
    edge->connector = connector_start(path);
    if (edge->connector < 0)
        fprintf(stderr, "edge: no connector: %s. Hint: raise the limit of processes.\n", strerror(-edge->connector));
    return edge->connector >= 0;
}

static void lose(struct edge *edge)
{
    if (edge->heard)
        edge_core_lost(edge);
    edge->heard = false;
}

static struct edge_counts counts_so_far(struct edge *edge)
{
    struct serve_counts served;
    serve_get_counts(edge->serve, &served);
    edge->counts.connects = served.opened;
    edge->counts.turned_away = served.turned_away;
    return edge->counts;
}

static void hang_up(struct edge *edge)
{
    if (edge->bus_fd >= 0) {
        serve_unwatch(edge->serve, edge->bus_fd);
        close(edge->bus_fd);
        edge->counts_before = counts_so_far(edge); /* core keeps these; on the next line they begin at 0 */
    }
    edge->bus_fd = -1;
    lose(edge);
}

void line_close(struct edge *edge)
{
    if (edge->bus_fd >= 0)
        hang_up(edge);
    if (edge->connector < 0)
        return;
    if (edge->serve)
        serve_unwatch(edge->serve, edge->connector);
    close(edge->connector);
    edge->connector = -1;
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
    edge->heard_ns = clock_now_ns();
    edge_scene_arrived(edge, edge->heard_ns);
}

static struct edge_counts counts_on_this_line(struct edge *edge)
{
    struct edge_counts now = counts_so_far(edge), before = edge->counts_before;
    return (struct edge_counts){
        .accepted = now.accepted - before.accepted,
        .limited = now.limited - before.limited,
        .refused = now.refused - before.refused,
        .connects = now.connects - before.connects,
        .turned_away = now.turned_away - before.turned_away,
    };
}

static void on_answer(void *ctx)
{
    struct edge *edge = ctx;
    int fd = connector_take(edge->connector);
    if (fd == -EAGAIN)
        return;
    edge->asked = false;
    if (fd == -EPIPE)
        edge_alone(edge);
    if (fd < 0)
        return;
    if (edge->bus_fd < 0 && serve_watch(edge->serve, fd, on_frames, edge))
        edge->bus_fd = fd;
    else
        close(fd);
}

bool line_open(struct edge *edge)
{
    return serve_watch(edge->serve, edge->connector, on_answer, edge);
}

static void publish(struct edge *edge)
{
    uint8_t frame[BUS_FRAME_MAX];
    struct snapshot snapshot = {.seq = ++edge->snapshot_seq,
                                .round = edge->viewers.round,
                                .tally = edge->viewers.tally,
                                .counts = counts_on_this_line(edge)};
    size_t len = frames_encode_snapshot(&snapshot, frame, sizeof frame);
    int sent = len > 0 ? bus_send(edge->bus_fd, frame, len) : 0;
    if (sent < 0 && sent != -EAGAIN)
        hang_up(edge);
}

void line_tick(struct edge *edge, uint64_t now_ns)
{
    if (edge->bus_fd < 0 && !edge->asked && edge->ticks % RETRY_TICKS == 0)
        edge->asked = connector_ask(edge->connector);
    edge->ticks++;
    if (edge->heard && now_ns > edge->heard_ns && now_ns - edge->heard_ns > SILENCE_NS)
        lose(edge);
    if (edge->bus_fd >= 0)
        publish(edge);
}
