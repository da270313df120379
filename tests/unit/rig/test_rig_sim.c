/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The simulated rig as a process, with the real link on the other end, on the real clock. */
#include <criterion/criterion.h>
#include <errno.h>
#include <jansson.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "gateway/pass/pass.h"
#include "gateway/rig/link.h"
#include "gateway/verbs.h"
#include "tests/unit/rig/rig_bench.h"

#define LEASE (300 * MS)

struct bench {
    struct show show;
    char dir[64], judge[96];
    pid_t pid;
    FILE *out; /* what the process says */
    uint16_t port;
    struct link link;
    struct rig_report report;
    uint64_t telemetry;
};

static uint64_t now_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (uint64_t)t.tv_sec * SECOND + (uint64_t)t.tv_nsec;
}

static void be_rig(struct bench *b, const int out[2])
{
    struct verb_options opt = {.state_dir = b->dir, .judge_path = b->judge};
    dup2(out[1], STDOUT_FILENO);
    close(out[0]);
    _exit(rig_sim_main(&b->show, &opt));
}

static void launch(struct bench *b)
{
    int out[2];
    char line[128], host[32];
    unsigned port = 0;
    cr_assert_eq(pipe(out), 0);
    fflush(NULL);
    b->pid = fork();
    cr_assert_geq(b->pid, 0);
    if (b->pid == 0)
        be_rig(b, out);
    close(out[1]);
    b->out = fdopen(out[0], "r");
    cr_assert(fgets(line, sizeof line, b->out), "the process said nothing");
    cr_assert_eq(sscanf(line, "rig-sim: ready udp %31[0-9.]:%u", host, &port), 2, "%s", line);
    cr_assert_str_eq(host, "127.0.0.1");
    b->port = (uint16_t)port;
}

static void begin(struct bench *b)
{
    struct pass_secrets secrets;
    memset(b, 0, sizeof *b);
    rig_bench_show(&b->show); /* port 0: any that is free */
    snprintf(b->dir, sizeof b->dir, "/tmp/rig-sim-XXXXXX");
    cr_assert(mkdtemp(b->dir));
    snprintf(b->judge, sizeof b->judge, "%s/judge.jsonl", b->dir);
    launch(b);
    cr_assert_eq(pass_secrets_load(b->dir, &secrets), 0);
    cr_assert_eq(link_open(&b->link, "127.0.0.1", b->port, secrets.rig, b->show.sensor), 0);
}

/* 100 ticks a second of a core that asks for this velocity; no intents at all where permit is UINT64_MAX. */
static void drive(struct bench *b, double vx, uint64_t permit, double seconds)
{
    bool fresh;
    for (int i = (int)(seconds * 100); i > 0; i--) {
        struct intent intent = {.velocity = {vx, 0, 0}, .motion = permit > 0, .permit = permit};
        intent.stop_count = permit > 0 ? permit : 1;
        intent.power = permit > 0;
        intent.category = STOP_CATEGORY_2;
        b->telemetry += link_poll(&b->link, now_ns(), false, &b->report, &fresh);
        if (permit != UINT64_MAX)
            link_send_intent(&b->link, &intent, LEASE, now_ns());
        nanosleep(&(struct timespec){.tv_nsec = 10000000}, NULL);
    }
}

static int finish(struct bench *b, int signal, struct rusage *used)
{
    int status = -1;
    uint64_t asked = now_ns();
    cr_assert_eq(kill(b->pid, signal), 0);
    cr_assert_eq(wait4(b->pid, &status, 0, used), b->pid);
    cr_assert_lt(now_ns() - asked, 20 * SECOND);
    fclose(b->out);
    link_close(&b->link);
    cr_assert(WIFEXITED(status), "ended by itself, not by the signal");
    return WEXITSTATUS(status);
}

static void clean(struct bench *b)
{
    char secret[96];
    snprintf(secret, sizeof secret, "%s/secret", b->dir);
    unlink(secret);
    unlink(b->judge);
    rmdir(b->dir);
}

static json_t *last_line(const struct bench *b, int *lines)
{
    char line[1024];
    json_t *last = NULL;
    FILE *f = fopen(b->judge, "r");
    cr_assert(f);
    for (*lines = 0; fgets(line, sizeof line, f) && strchr(line, '\n'); ++*lines) { /* the last may be half written */
        json_decref(last);
        last = json_loads(line, 0, NULL);
        cr_assert(last, "line %d: %s", *lines + 1, line);
    }
    fclose(f);
    return last;
}

Test(rig_sim, drives_reports_and_judges)
{
    struct bench b;
    int lines;
    begin(&b);
    uint64_t begun = now_ns();
    drive(&b, 0, 0, 0.5);
    cr_assert(b.report.ever);
    uint64_t from = now_ns();
    b.telemetry = 0;
    drive(&b, 0.2, 1, 1.0);
    double took = (double)(now_ns() - from) * 1e-9;
    drive(&b, 0, 1, 1.0);
    cr_assert_float_eq(b.report.position.x - b.show.home.x, 0.2 * took, 0.02);
    drive(&b, 0, UINT64_MAX, 0.1);
    cr_assert_eq(finish(&b, SIGTERM, NULL), 0);
    json_t *last = last_line(&b, &lines);
    cr_assert_geq(lines, 50);
    cr_assert_leq(lines, 20 + (int)((now_ns() - begun) / (SECOND / 20)));
    cr_assert_float_eq(json_number_value(json_array_get(json_object_get(last, "pos"), 0)) - b.show.home.x, 0.2 * took,
                       0.02);
    cr_assert(json_is_true(json_object_get(last, "at_rest")));
    cr_assert_eq(json_integer_value(json_object_get(last, "touched")), 0);
    cr_assert_gt(json_integer_value(json_object_get(last, "intents")), 150);
    json_decref(last);
    clean(&b);
}

Test(rig_sim, brakes_by_itself_when_core_falls_silent)
{
    struct bench b;
    int lines;
    begin(&b);
    drive(&b, 0, 0, 0.4);
    drive(&b, 0.2, 1, 0.6);
    drive(&b, 0, UINT64_MAX, 1.0);
    cr_assert_eq(finish(&b, SIGTERM, NULL), 0);
    json_t *last = last_line(&b, &lines);
    cr_assert_eq(json_integer_value(json_object_get(last, "lapses")), 1);
    cr_assert(json_is_true(json_object_get(last, "at_rest")));
    cr_assert(b.report.fault);
    json_decref(last);
    clean(&b);
}

Test(rig_sim, ends_on_an_interrupt_and_takes_little_of_a_core)
{
    struct bench b;
    struct rusage used;
    begin(&b);
    uint64_t from = now_ns();
    drive(&b, 0.05, 1, 2.0);
    double took = (double)(now_ns() - from) * 1e-9;
    cr_assert_eq(finish(&b, SIGINT, &used), 0);
    double cpu = (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
                 (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec) * 1e-6;
    cr_log_info("%.1f %% of a core", 100 * cpu / took);
    cr_assert_lt(cpu / took, 0.2); /* that it sleeps; a loop that does not takes all it is given */
    clean(&b);
}

/* Stopped and continued, it catches up with the time that has passed: its lease lapsed meanwhile. */
Test(rig_sim, a_process_that_was_halted_has_lapsed)
{
    struct bench b;
    int lines;
    begin(&b);
    drive(&b, 0, 0, 0.4);
    uint64_t from = now_ns();
    drive(&b, 0.2, 1, 0.4);
    double took = (double)(now_ns() - from) * 1e-9;
    kill(b.pid, SIGSTOP);
    nanosleep(&(struct timespec){.tv_nsec = 900000000}, NULL);
    kill(b.pid, SIGCONT);
    bool rests = false;
    json_t *last = NULL;
    for (int i = 0; i < 1000 && !rests; i++) {
        nanosleep(&(struct timespec){.tv_nsec = 20000000}, NULL);
        json_decref(last);
        last = last_line(&b, &lines);
        rests =
            json_integer_value(json_object_get(last, "lapses")) > 0 && json_is_true(json_object_get(last, "at_rest"));
    }
    cr_assert_eq(finish(&b, SIGTERM, NULL), 0);
    cr_assert_eq(json_integer_value(json_object_get(last, "lapses")), 1);
    cr_assert(json_is_true(json_object_get(last, "at_rest")));
    double x = json_number_value(json_array_get(json_object_get(last, "pos"), 0)) - b.show.home.x;
    cr_assert_lt(x, 0.2 * (took + 0.1) + 0.2 * 0.3 + 0.2 * 0.2 / 1.2 + 0.02);
    json_decref(last);
    clean(&b);
}

static int run_refused(struct bench *b, const char *judge)
{
    int status = -1;
    fflush(NULL);
    pid_t pid = fork();
    if (pid == 0) {
        struct verb_options opt = {.state_dir = b->dir, .judge_path = judge};
        alarm(5);
        _exit(freopen("/dev/null", "w", stderr) ? rig_sim_main(&b->show, &opt) : 9);
    }
    waitpid(pid, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

Test(rig_sim, what_it_cannot_open_is_an_error)
{
    struct bench b;
    begin(&b);
    b.show.rig_port = b.port; /* taken by the first */
    cr_assert_eq(run_refused(&b, NULL), 1);
    b.show.rig_port = 0;
    cr_assert_eq(run_refused(&b, "/nowhere/judge"), 1);
    snprintf(b.show.rig_host, sizeof b.show.rig_host, "localhost");
    cr_assert_eq(run_refused(&b, NULL), 1);
    cr_assert_eq(finish(&b, SIGTERM, NULL), 0);
    clean(&b);
}
