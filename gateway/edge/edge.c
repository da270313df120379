/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The edge's process: it serves the audience, keeps their present wishes, and tells core their sum 20 times a second.
 */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "gateway/clock.h"
#include "gateway/edge/edge_impl.h"
#include "gateway/edge/sandbox.h"

enum { TICK_MS = 50 };

/* Scenes go out about ten times a second, whatever rate core makes them at. */
#define BROADCAST_GAP_NS 80000000ULL

static bool broadcast_due(const struct edge *edge, uint64_t now_ns)
{
    return (edge->scene_waits || edge->answers_wait) && now_ns - edge->broadcast_ns >= BROADCAST_GAP_NS;
}

/* Who may not be heard now holds nothing: an old stick is never taken up again when the camera may move again. */
void edge_scene_arrived(struct edge *edge, uint64_t now_ns)
{
    const struct scene *scene = &edge->scene;
    viewers_set_round(&edge->viewers, scene->round);
    if (scene->mode != CROWD_POLL || scene->stop_state != STOP_RUNNING)
        viewers_drop_votes(&edge->viewers);
    if (scene->mode != CROWD_BLEND || scene->stop_state != STOP_RUNNING)
        viewers_drop_sticks(&edge->viewers);
    edge->scene_waits = true;
    if (broadcast_due(edge, now_ns))
        audience_broadcast(edge, now_ns);
}

void edge_core_lost(struct edge *edge)
{
    edge->heard = false;
    edge->scene_waits = false;
    edge->outage++;
    viewers_drop_votes(&edge->viewers);
    viewers_drop_sticks(&edge->viewers);
    serve_want_write_all(edge->serve);
}

/* Without it this edge would never find core again: one that is started anew does. */
void edge_alone(struct edge *edge)
{
    fprintf(stderr, "edge: its connector has died, so it ends\n");
    edge->alone = true;
    serve_unwatch(edge->serve, edge->connector);
    serve_stop(edge->serve);
}

static void on_tick(void *ctx)
{
    struct edge *edge = ctx;
    uint64_t now_ns = clock_now_ns();
    viewers_lapse(&edge->viewers, now_ns);
    line_tick(edge, now_ns);
    if (broadcast_due(edge, now_ns))
        audience_broadcast(edge, now_ns);
}

static void on_signal(void *ctx)
{
    struct edge *edge = ctx;
    serve_stop(edge->serve);
}

/* SIGINT and SIGTERM become readable instead of interrupting anything. */
static int open_signals(void)
{
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGINT);
    sigaddset(&set, SIGTERM);
    sigprocmask(SIG_BLOCK, &set, NULL);
    signal(SIGPIPE, SIG_IGN);
    return signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC);
}

static struct serve *open_server(struct edge *edge, const struct verb_options *opt)
{
    struct serve_config cfg = {
        .listen = &edge->show->audience,
        .share_port = edge->show->edges > 1,
        .path = "/audience",
        .subprotocol = "steadyhand.audience.1",
        .web_root = opt->web_root,
        .index = "index.html",
        .admission = edge->show->admission,
        .user_bytes = sizeof(struct spectator),
        .ctx = edge,
    };
    audience_handlers(&cfg.handlers);
    return serve_open(&cfg);
}

static int run(struct edge *edge, const struct verb_options *opt)
{
    int signals = open_signals();
    if (signals < 0 || !serve_watch(edge->serve, signals, on_signal, edge) || !line_open(edge) ||
        !serve_every(edge->serve, TICK_MS, on_tick, edge)) {
        fprintf(stderr, "edge %d: cannot watch for signals. Hint: raise the limit of open files.\n", opt->edge_index);
        return 1;
    }
    (void)sandbox_enter();
    printf("edge %d: ready http://%s:%u\n", opt->edge_index, edge->show->audience.host, edge->show->audience.port);
    fflush(stdout);
    serve_run(edge->serve);
    line_close(edge);
    serve_unwatch(edge->serve, signals);
    close(signals);
    return edge->alone ? 1 : 0;
}

int edge_main(const struct show *show, const struct verb_options *opt)
{
    struct edge *edge = calloc(1, sizeof *edge);
    if (!edge)
        return 1;
    sandbox_limits(show->admission.max_viewers); /* before the server: its tables are as large as the limit */
    edge->show = show;
    edge->outage = 1; /* nobody has heard core yet: whoever comes now is told so */
    viewers_init(&edge->viewers);
    int status = 1;
    if (line_start(edge, opt->state_dir) && audience_init(edge) && (edge->serve = open_server(edge, opt)))
        status = run(edge, opt);
    line_close(edge);
    serve_free(edge->serve);
    audience_free(edge);
    free(edge);
    return status;
}
