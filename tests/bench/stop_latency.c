/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * From a stop message on the desk's socket to its datagram at the rig: idle, and while viewers flood the edge, beside
 * the floor of a bare TCP-to-UDP relay measured by turns in the same run. Core, edge and relay share processor 0; the
 * flood and this program have processor 1.
 */
#include <arpa/inet.h>
#include <errno.h>
#include <getopt.h>
#include <poll.h>
#include <sched.h>
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "flood.h"
#include "gateway/core/realtime.h"
#include "gateway/show/show.h"
#include "metronome.h"
#include "probe.h"
#include "relay.h"

enum {
    SERVER_CPU = 0,
    LOAD_CPU = 1,
    RELAY_FIFO = REALTIME_DESK,
    TICK_FIFO = REALTIME_TICK,
    PROBE_FIFO = 50,
    RIG_FIFO = 55,
    OPEN_MS = 30000
};

/* The aims: in the same run, against the relay's p99, and absolute. */
static const double aim_ratio = 3, aim_p99_us = 1000, aim_max_us = 5000;

struct options {
    const char *binary, *show;
    int stops, viewers, seconds;
    bool limits;
};

struct bench {
    struct options opt;
    struct bench_show show;
    struct mini_rig rig;
    struct probe probe;
    struct metronome *metronome;
    pid_t core, edge, relay, ticker, flood;
};

struct phase {
    const char *name;
    struct probe_times core, relay;
    int64_t ticks, skipped, late_p99_us;
    uint64_t floor_skipped, floor_late_ns;
    double edge_ran, edge_waited, core_ran, seconds;
    bool ok;
};

static bool complain(const char *what)
{
    fprintf(stderr, "stop_latency: %s\n", what);
    return false;
}

static bool be_fifo(int priority)
{
    struct sched_param param = {.sched_priority = priority};
    return sched_setscheduler(0, SCHED_FIFO, &param) == 0;
}

/* A connected pair of TCP sockets on loopback. */
static bool tcp_pair(int fd[2])
{
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof at;
    int listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    fd[0] = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    bool ok = bind(listener, (struct sockaddr *)&at, sizeof at) == 0 && listen(listener, 1) == 0 &&
              getsockname(listener, (struct sockaddr *)&at, &size) == 0 &&
              connect(fd[0], (struct sockaddr *)&at, sizeof at) == 0;
    fd[1] = ok ? accept4(listener, NULL, NULL, SOCK_CLOEXEC) : -1;
    close(listener);
    return fd[1] >= 0;
}

/* fd[1] sends to fd[0], which stamps what it receives. */
static bool udp_pair(int fd[2])
{
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof at;
    int on = 1;
    fd[0] = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    fd[1] = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    return bind(fd[0], (struct sockaddr *)&at, sizeof at) == 0 &&
           setsockopt(fd[0], SOL_SOCKET, SO_TIMESTAMPNS, &on, sizeof on) == 0 &&
           getsockname(fd[0], (struct sockaddr *)&at, &size) == 0 &&
           connect(fd[1], (struct sockaddr *)&at, sizeof at) == 0;
}

static bool start_relay(struct bench *b)
{
    int tcp[2], udp[2];
    if (!tcp_pair(tcp) || !udp_pair(udp))
        return complain("no sockets for the relay");
    b->relay = fork();
    if (b->relay == 0) {
        close(tcp[0]); /* so that the relay ends when this program does */
        bench_show_pin(SERVER_CPU);
        be_fifo(RELAY_FIFO);
        relay_run(tcp[1], udp[1]);
    }
    close(tcp[1]);
    close(udp[1]);
    b->probe.relay_tcp = tcp[0];
    b->probe.relay_udp = udp[0];
    return b->relay > 0;
}

static bool start_metronome(struct bench *b)
{
    b->metronome = metronome_new();
    b->ticker = b->metronome ? fork() : -1;
    if (b->ticker == 0) {
        prctl(PR_SET_PDEATHSIG, SIGKILL);
        bench_show_pin(SERVER_CPU);
        be_fifo(TICK_FIFO);
        metronome_run(b->metronome);
    }
    return b->ticker > 0 || complain("no metronome");
}

static bool start_flood(struct bench *b)
{
    int told[2];
    char byte;
    if (pipe(told) != 0)
        return false;
    b->flood = fork();
    if (b->flood == 0) {
        const struct sched_param normal = {0};
        sched_setscheduler(0, SCHED_OTHER, &normal);
        (void)setpriority(PRIO_PROCESS, 0, -10); /* against whatever else this machine is doing */
        close(told[0]);
        flood_run(b->show.audience, b->opt.viewers, b->opt.seconds, told[1]);
    }
    close(told[1]);
    struct pollfd p = {.fd = told[0], .events = POLLIN};
    for (int waited = 0; waited < OPEN_MS && poll(&p, 1, 0) == 0; waited += 50)
        probe_listen(&b->probe, 50); /* beats go on: presence is required */
    bool open = read(told[0], &byte, 1) == 1;
    close(told[0]);
    return open || complain("the flood's viewers were not let in");
}

static bool set_up(struct bench *b)
{
    static struct show show;
    if (sodium_init() < 0 || !bench_show_secrets(&b->show))
        return complain("no folder for the show");
    if (!mini_rig_open(&b->rig, b->show.secrets.rig, (double[]){0, 0, 0}))
        return complain("no socket for the rig");
    if (!bench_show_write(&b->show, b->opt.show, b->rig.port) || show_load(b->show.file, &show, stderr) != 0)
        return complain("no show file");
    memcpy(b->rig.position, (double[]){show.home.x, show.home.y, show.home.z}, sizeof b->rig.position);
    if (!mini_rig_start(&b->rig, RIG_FIFO))
        return complain("no thread for the rig");
    b->core = bench_show_start(&b->show, b->opt.binary, "core", SERVER_CPU);
    b->edge = bench_show_start(&b->show, b->opt.binary, "edge", SERVER_CPU);
    if (b->core < 0 || b->edge < 0)
        return false;
    if (!probe_open(&b->probe, &b->rig, &b->show))
        return complain("core does not let the desk in");
    return start_relay(b) && start_metronome(b);
}

/* A core that is told to end stops the rig first. */
static bool end_core(struct bench *b)
{
    uint64_t before = atomic_load(&b->rig.stops);
    if (bench_show_end(b->core) != 0)
        return complain("core did not end cleanly");
    return atomic_load(&b->rig.stops) > before || complain("core ended without a last stop to the rig");
}

static bool tear_down(struct bench *b)
{
    bool good = true;
    if (b->flood > 0)
        bench_show_end(b->flood);
    probe_close(&b->probe);
    if (b->relay > 0)
        bench_show_end(b->relay);
    if (b->ticker > 0)
        bench_show_end(b->ticker);
    if (b->edge > 0)
        bench_show_end(b->edge);
    if (b->core > 0)
        good = end_core(b);
    if (b->rig.thread)
        mini_rig_stop(&b->rig);
    bench_show_remove(&b->show);
    return good;
}

static double seconds_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static void measure(struct bench *b, struct phase *phase, const char *name)
{
    phase->name = name;
    probe_listen(&b->probe, 500);
    int64_t ticks = probe_number(&b->probe, "tick", "count"), skipped = probe_number(&b->probe, "tick", "skipped");
    struct bench_load edge = bench_show_load(b->edge), core = bench_show_load(b->core);
    double began = seconds_now();
    uint64_t floor = atomic_load(&b->metronome->skipped);
    atomic_store(&b->metronome->latest_ns, 0);
    phase->ok = probe_run(&b->probe, b->opt.stops, &phase->core, &phase->relay);
    phase->seconds = seconds_now() - began;
    phase->edge_ran = (bench_show_load(b->edge).ran - edge.ran) / phase->seconds;
    phase->edge_waited = (bench_show_load(b->edge).waited - edge.waited) / phase->seconds;
    phase->core_ran = (bench_show_load(b->core).ran - core.ran) / phase->seconds;
    phase->floor_skipped = atomic_load(&b->metronome->skipped) - floor;
    phase->floor_late_ns = atomic_load(&b->metronome->latest_ns);
    probe_listen(&b->probe, 200);
    phase->ticks = probe_number(&b->probe, "tick", "count") - ticks;
    phase->skipped = probe_number(&b->probe, "tick", "skipped") - skipped;
    phase->late_p99_us = probe_number(&b->probe, "tick", "late_p99_us");
}

static double us(const struct probe_times *t, double share)
{
    return t->count == 0 ? 0 : (double)t->ns[(int)(share * (t->count - 1))] / 1e3;
}

static void print_times(const char *phase, const char *way, const struct probe_times *t)
{
    printf("%-6s %-6s %6d stops  p50 %7.1f us  p99 %7.1f us  p99.9 %7.1f us  max %7.1f us  lost %d\n", phase, way,
           t->count, us(t, 0.5), us(t, 0.99), us(t, 0.999), us(t, 1), t->lost);
}

static void print_phase(const struct phase *p)
{
    print_times(p->name, "core", &p->core);
    print_times(p->name, "relay", &p->relay);
    printf(
        "%-6s core's p99 is %.2f x the relay's; of %lld ticks %lld skipped, p99 late by %lld us; a bare timer skipped "
        "%llu, at most %.1f ms late\n",
        p->name, us(&p->core, 0.99) / us(&p->relay, 0.99), (long long)p->ticks, (long long)p->skipped,
        (long long)p->late_p99_us, (unsigned long long)p->floor_skipped, (double)p->floor_late_ns / 1e6);
    printf("%-6s %.1f s: core ran %.0f %%, the edge ran %.0f %% and waited for a processor %.0f %% of the time\n",
           p->name, p->seconds, p->core_ran * 100, p->edge_ran * 100, p->edge_waited * 100);
}

/* Pauses of the machine itself, which the bare relay or the bare timer shows in the same run, are not core's. */
static bool within_aims(const struct phase *p)
{
    double p99 = us(&p->core, 0.99), max = us(&p->core, 1), machine = us(&p->relay, 1);
    bool fast = p99 <= aim_ratio * us(&p->relay, 0.99) && p99 <= aim_p99_us;
    bool never_slow = max <= aim_max_us || max <= machine;
    bool on_time = p->skipped <= (int64_t)p->floor_skipped;
    printf("%-6s p99 at most %.0f x the relay's and %.0f us: %s; max at most %.0f us: %s; no tick skipped: %s\n",
           p->name, aim_ratio, aim_p99_us, fast ? "yes" : "NO", aim_max_us,
           max <= aim_max_us ? "yes"
           : never_slow      ? "no, nor does the relay manage"
                             : "NO",
           p->skipped == 0 ? "yes"
           : on_time       ? "no, nor does the bare timer manage"
                           : "NO");
    return fast && never_slow && on_time;
}

static bool report(const struct phase *p, const char *scene, bool limits)
{
    print_phase(p);
    if (!p->ok)
        printf("%-6s a stop went astray; core's newest scene: %s\n", p->name, scene);
    return p->ok && (!limits || within_aims(p));
}

static bool run(struct bench *b)
{
    struct phase idle = {0}, flood = {0};
    bool pinned = bench_show_pin(LOAD_CPU); /* threads and the flood inherit it; the others choose their own */
    if (!set_up(b))
        return false;
    bool fifo = be_fifo(PROBE_FIFO);
    printf("core, edge and relay on processor %d%s; relay %s\n", SERVER_CPU,
           pinned ? ", load and probe on processor 1" : " with the load: there is only one",
           fifo ? "SCHED_FIFO" : "without real-time priority (not permitted): take the figures with care");
    measure(b, &idle, "idle");
    bool good = report(&idle, b->probe.scene, b->opt.limits);
    if (!start_flood(b))
        return false;
    measure(b, &flood, "flood");
    printf("flood  %d viewers sent %lld messages that the edge judged\n", b->opt.viewers,
           (long long)(probe_number(&b->probe, "counts", "accepted") + probe_number(&b->probe, "counts", "limited") +
                       probe_number(&b->probe, "counts", "refused")));
    good = report(&flood, b->probe.scene, b->opt.limits) && good;
    if (flood.edge_ran + flood.edge_waited < 0.9)
        printf("flood  the edge was not saturated: the figures under flood say less than they should\n");
    probe_free(&idle.core, &idle.relay);
    probe_free(&flood.core, &flood.relay);
    return good;
}

static bool positive(const char *text, int *out)
{
    char *end;
    long v = strtol(text, &end, 10);
    *out = (int)v;
    return *text && !*end && v >= 1 && v <= 1000000;
}

static bool read_options(int argc, char **argv, struct options *o)
{
    static const struct option known[] = {{"binary", 1, 0, 'b'},  {"show", 1, 0, 's'},      {"stops", 1, 0, 'n'},
                                          {"viewers", 1, 0, 'v'}, {"no-limits", 0, 0, 'l'}, {0, 0, 0, 0}};
    *o = (struct options){.stops = 2000, .viewers = 300, .limits = true};
    for (int c; (c = getopt_long(argc, argv, "", known, NULL)) != -1;) {
        bool ok = c != '?';
        if (c == 'b')
            o->binary = optarg;
        else if (c == 's')
            o->show = optarg;
        else if (c == 'l')
            o->limits = false;
        else if (ok)
            ok = positive(optarg, c == 'n' ? &o->stops : &o->viewers);
        if (!ok)
            return false;
    }
    o->seconds = 60 + o->stops / 10;
    return o->binary && o->show && optind == argc && o->viewers <= 1000;
}

int main(int argc, char **argv)
{
    static struct bench b;
    if (!read_options(argc, argv, &b.opt)) {
        fprintf(stderr, "usage: stop_latency --binary STEADYHAND --show SHOW.json [--stops 2000] [--viewers 300] "
                        "[--no-limits]\n");
        return 2;
    }
    signal(SIGPIPE, SIG_IGN);
    setvbuf(stdout, NULL, _IOLBF, 0);
    bool good = run(&b);
    return tear_down(&b) && good ? 0 : 1;
}
