/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The simulated rig as a process: sim_rig.c on a UDP socket and the real clock. It wakes for datagrams and for its own
 * readings, 100 a second; the machine in between is computed then, in virtual time, so that a wake that comes late
 * changes nothing in the run. */
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <sched.h>
#include <signal.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "gateway/clock.h"
#include "gateway/pass/pass.h"
#include "gateway/rig/sim_rig.h"
#include "gateway/verbs.h"

enum { READS_A_WAKE = 64, NOISE_SEED = 1, PRIORITY = 40 /* SCHED_FIFO; below core's threads */ };

#define SECOND_NS      1000000000u
#define JUDGE_EVERY_NS (SECOND_NS / 20)
#define MOST_BEHIND_NS ((uint64_t)10 * SECOND_NS) /* stopped for longer: the rig's clock stood still meanwhile */

struct process {
    struct sim_rig *rig;
    int udp, signals, judge;
    uint64_t epoch_ns; /* what to take from the machine's clock to get the rig's */
    uint64_t next_line_ns;
};

static uint64_t rig_ns(struct process *p)
{
    uint64_t now = clock_now_ns() - p->epoch_ns;
    uint64_t behind = now > p->rig->now_ns ? now - p->rig->now_ns : 0;
    if (behind <= MOST_BEHIND_NS)
        return now;
    p->epoch_ns += behind - MOST_BEHIND_NS;
    return now - (behind - MOST_BEHIND_NS);
}

static bool complain(const char *what, const char *which, const char *hint)
{
    fprintf(stderr, "rig-sim: %s %s: %s. %s\n", what, which, strerror(errno), hint);
    return false;
}

static bool open_udp(struct process *p, const struct show *show)
{
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_port = htons(show->rig_port)};
    if (inet_pton(AF_INET, show->rig_host, &at.sin_addr) != 1) {
        errno = EINVAL;
        return complain("cannot listen at", show->rig_host, "/rig/link/host must be an IPv4 address.");
    }
    p->udp = socket(AF_INET, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (p->udp < 0 || bind(p->udp, (const struct sockaddr *)&at, sizeof at) < 0)
        return complain("cannot listen at", show->rig_host,
                        "Is another rig-sim running? Choose another /rig/link/port.");
    return true;
}

static bool open_signals(struct process *p)
{
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGINT);
    if (sigprocmask(SIG_BLOCK, &set, NULL) < 0)
        return complain("cannot block", "signals", "");
    p->signals = signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC);
    return p->signals >= 0 || complain("cannot open", "signalfd", "");
}

static bool open_judge(struct process *p, const char *path)
{
    if (!path)
        return true;
    p->judge = open(path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
    return p->judge >= 0 || complain("cannot write", path, "Give --judge a file in a folder you may write to.");
}

static bool build_rig(struct process *p, const struct show *show, const char *state_dir)
{
    struct pass_secrets secrets;
    struct sim_rig_options opt = {.seed = NOISE_SEED, .start_ns = SECOND_NS};
    const char *why;
    if (sodium_init() < 0 || pass_secrets_load(state_dir, &secrets) != 0)
        return false;
    p->rig = calloc(1, sizeof *p->rig);
    if (!p->rig)
        return complain("cannot allocate", "the rig", "");
    randombytes_buf(opt.nonce_key, sizeof opt.nonce_key);
    bool built = sim_rig_init(p->rig, show, secrets.rig, &opt, &why);
    sodium_memzero(&secrets, sizeof secrets);
    if (!built)
        fprintf(stderr, "rig-sim: /rig/simulated: %s\n", why);
    p->epoch_ns = clock_now_ns() - SECOND_NS;
    p->next_line_ns = SECOND_NS;
    return built;
}

/* A rig has a computer of its own: where the system permits it, load on this one does not hold the simulated one up. */
static void be_prompt(void)
{
    const struct sched_param prompt = {.sched_priority = PRIORITY};
    (void)sched_setscheduler(0, SCHED_FIFO, &prompt);
}

static void announce(const struct process *p)
{
    struct sockaddr_in at;
    socklen_t len = sizeof at;
    char host[INET_ADDRSTRLEN] = "?";
    getsockname(p->udp, (struct sockaddr *)&at, &len);
    inet_ntop(AF_INET, &at.sin_addr, host, sizeof host);
    printf("rig-sim: ready udp %s:%u\n", host, (unsigned)ntohs(at.sin_port));
    fflush(stdout);
}

static void receive(struct process *p, uint64_t now_ns)
{
    uint8_t buf[WIRE_MAX + 1];
    struct sockaddr_in from;
    for (int i = 0; i < READS_A_WAKE; i++) {
        socklen_t len = sizeof from;
        ssize_t got = recvfrom(p->udp, buf, sizeof buf, 0, (struct sockaddr *)&from, &len);
        if (got < 0)
            return;
        uint64_t peer = (uint64_t)ntohl(from.sin_addr.s_addr) << 16 | ntohs(from.sin_port);
        sim_rig_arrive(p->rig, now_ns, peer, buf, (size_t)got);
    }
}

/* What cannot be sent is lost, as on any network; core lives with that. */
static void transmit(const struct process *p, uint64_t now_ns)
{
    const struct sim_datagram *d;
    while ((d = sim_rig_depart(p->rig, now_ns))) {
        struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons((uint16_t)(d->peer & 0xffff))};
        to.sin_addr.s_addr = htonl((uint32_t)(d->peer >> 16));
        (void)sendto(p->udp, d->bytes, d->len, MSG_NOSIGNAL, (const struct sockaddr *)&to, sizeof to);
    }
}

static bool write_line(const struct process *p)
{
    char line[1024];
    double t_s = (double)(p->next_line_ns + p->epoch_ns) * 1e-9; /* the machine's clock: what a test can compare with */
    int len = sim_rig_report(p->rig, t_s, line, sizeof line);
    return write(p->judge, line, (size_t)len) == len ||
           complain("cannot write to", "the judge's file", "Is the disk full?");
}

static bool run_to(struct process *p, uint64_t now_ns)
{
    for (; p->next_line_ns <= now_ns; p->next_line_ns += JUDGE_EVERY_NS) {
        sim_rig_run(p->rig, p->next_line_ns);
        if (p->judge >= 0 && !write_line(p))
            return false;
    }
    sim_rig_run(p->rig, now_ns);
    return true;
}

/* True when told to end, false on an error. */
static bool serve(struct process *p)
{
    struct pollfd on[] = {{.fd = p->udp, .events = POLLIN}, {.fd = p->signals, .events = POLLIN}};
    for (;;) {
        uint64_t now = rig_ns(p), next = sim_rig_next_ns(p->rig), wait = next > now ? next - now : 0;
        struct timespec nap = {.tv_sec = (time_t)(wait / SECOND_NS), .tv_nsec = (long)(wait % SECOND_NS)};
        if (ppoll(on, 2, &nap, NULL) < 0 && errno != EINTR)
            return complain("cannot wait for", "datagrams", "");
        if (on[1].revents)
            return true;
        now = rig_ns(p);
        receive(p, now);
        if (!run_to(p, now))
            return false;
        transmit(p, now);
    }
}

static void summary(const struct sim_rig *rig)
{
    const struct sim_controller *c = &rig->controller;
    printf(
        "rig-sim: ended after %llu intents, %llu stops, %llu lapses; least true clearance %.3f m, touched %llu times\n",
        (unsigned long long)c->intents, (unsigned long long)c->stops, (unsigned long long)c->lapses,
        rig->judge.min_clearance_m, (unsigned long long)rig->judge.touched);
}

static void close_all(struct process *p)
{
    int fds[] = {p->udp, p->signals, p->judge};
    for (size_t i = 0; i < sizeof fds / sizeof *fds; i++)
        if (fds[i] >= 0)
            close(fds[i]);
    if (p->rig)
        sodium_memzero(p->rig, sizeof *p->rig);
    free(p->rig);
}

int rig_sim_main(const struct show *show, const struct verb_options *opt)
{
    struct process p = {.udp = -1, .signals = -1, .judge = -1};
    bool ended = open_signals(&p) && open_judge(&p, opt->judge_path) && open_udp(&p, show) &&
                 build_rig(&p, show, opt->state_dir);
    if (ended) {
        be_prompt();
        announce(&p);
        ended = serve(&p);
        if (!opt->quiet)
            summary(p.rig);
    }
    close_all(&p);
    return ended ? 0 : 1;
}
