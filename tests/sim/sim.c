/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The real policy against a physical rig with faults, in virtual time, from a seed.
 *
 *   sim [--seed N] [--ticks M] [--fault NAME] [--keep-going]     TAP; M ticks in runs of RUN_TICKS
 *   sim --seed N --fault NAME --trail FROM TO                    ticks FROM..TO of that run, readable
 *   sim --list                                                   the faults
 *
 * A failure names the run's own seed, its fault and the tick, and prints the second before it.
 */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/property/digest.h"
#include "tests/sim/figures.h"
#include "tests/sim/trail.h"

enum { REPLAY_ONE_IN = 16, BEFORE = 100, ENOUGH = 400 * RUN_TICKS };

#define NEAR_M 0.003 /* runs in which less was left are told */

struct options {
    uint64_t seed, ticks;
    enum fault fault;
    bool keep_going, trail;
    int from, to;
};

struct outcome {
    struct check_fault first;
    int tick;
};

struct verdicts {
    uint64_t failures[CHECK_COUNT];
    char where[CHECK_COUNT][200];
    bool any;
    bool busy_judged; /* there were enough ticks to say */
};

/* The run in progress, too large for a stack. Only main's thread uses it. */
static struct run run;
static struct policy_input inputs[RUN_TICKS];

static struct check_fault one_tick(struct figures *figures, struct policy_input *in, bool show, uint64_t *digest)
{
    struct policy_output out;
    struct check_fault found = {CHECK_COUNT, 0, 0};
    bool alive = run_input(&run, in);
    if (alive) {
        run_core(&run, in, &out);
        *digest = digest_output(*digest, &out);
        if (show)
            trail_tick(&run, in, &out);
        if (figures)
            figures_tick(figures, &run, &out);
        found = check_tick(&run, in, &out);
    } else if (show) {
        trail_tick(&run, in, NULL);
    }
    run_on(&run);
    return found.check != CHECK_COUNT ? found : check_truth(&run);
}

/* Everything that the policy is told, once more, to a new one. */
static bool replays(int count, uint64_t digest)
{
    struct policy policy;
    struct policy_output out;
    uint64_t again = 0;
    policy_init(&run.scene.cfg, &policy);
    for (int i = 0; i < count; i++) {
        policy_step(&run.scene.cfg, &policy, &inputs[i], &out);
        again = digest_output(again, &out);
    }
    return again == digest;
}

static struct outcome one_run(uint64_t seed, enum fault fault, struct figures *figures, int from, int to)
{
    uint64_t digest = 0;
    int heard = 0;
    run_init(&run, seed, fault);
    if (from < to)
        trail_scene(&run);
    while (run.tick < RUN_TICKS) {
        uint64_t last_ns = run.core.last_ns;
        struct check_fault found = one_tick(figures, &inputs[heard], run.tick >= from && run.tick < to, &digest);
        heard += run.core.last_ns != last_ns;
        if (found.check != CHECK_COUNT)
            return (struct outcome){found, run.tick - 1};
    }
    if (figures)
        figures_run(figures, &run);
    if (figures && run.least_m < NEAR_M)
        printf("# near: --seed %" PRIu64 " --fault %s: %.6f m, part %d, bound %d\n", seed,
               fault_kinds[run.scene.trouble.fault].name, run.least_m, run.truth.part, run.truth.bound);
    if (figures && seed % REPLAY_ONE_IN == 0 && !replays(heard, digest))
        return (struct outcome){{CHECK_REPLAYED, 0, 0}, run.tick};
    return (struct outcome){{CHECK_COUNT, 0, 0}, run.tick};
}

static void fail(struct verdicts *v, uint64_t seed, const struct outcome *o, enum fault fault)
{
    enum check c = o->first.check;
    v->any = true;
    if (v->failures[c]++ == 0) {
        snprintf(v->where[c], sizeof v->where[c], "--seed %" PRIu64 " --fault %s, tick %d: %.6g against %.6g", seed,
                 fault_kinds[fault].name, o->tick, o->first.value, o->first.limit);
        printf("# %s\n# FAILED: %s\n", v->where[c], check_names[c]);
        one_run(seed, fault, NULL, o->tick - BEFORE, o->tick + 1);
    } else
        printf("# again %d: --seed %" PRIu64 " --fault %s, tick %d: %.6g against %.6g\n", c, seed,
               fault_kinds[fault].name, o->tick, o->first.value, o->first.limit);
}

static void print(const struct verdicts *v)
{
    for (int c = 0; c < CHECK_COUNT; c++)
        printf("%s %d - %s%s%s\n", v->failures[c] > 0 ? "not ok" : "ok", c + 1, check_names[c],
               c == CHECK_BUSY && !v->busy_judged ? " # SKIP too few ticks to say"
               : v->failures[c] > 0               ? ": "
                                                  : "",
               v->where[c]);
}

static void judge_busy(struct verdicts *v, const struct figures *figures, const struct options *opt)
{
    const char *what;
    v->busy_judged = opt->fault == FAULT_COUNT && figures->ticks >= ENOUGH;
    if (v->any || !v->busy_judged || figures_busy(figures, &what))
        return;
    v->failures[CHECK_BUSY]++;
    v->any = true;
    snprintf(v->where[CHECK_BUSY], sizeof v->where[CHECK_BUSY], "too little of %s", what);
}

static int run_all(const struct options *opt)
{
    static struct figures figures;
    static struct verdicts v;
    figures_init(&figures);
    printf("TAP version 13\n1..%d\n# seed %" PRIu64 "\n", CHECK_COUNT, opt->seed);
    for (uint64_t seed = opt->seed; figures.ticks < opt->ticks && (opt->keep_going || !v.any); seed++) {
        struct outcome o = one_run(seed, opt->fault, &figures, 0, 0);
        if (o.first.check != CHECK_COUNT)
            fail(&v, seed, &o, run.scene.trouble.fault);
    }
    judge_busy(&v, &figures, opt);
    print(&v);
    figures_print(&figures);
    figures_json(&figures);
    return v.any ? 1 : 0;
}

static int list(void)
{
    for (int f = 0; f < FAULT_COUNT; f++)
        printf("%-14s %s\n", fault_kinds[f].name, fault_kinds[f].what);
    return 0;
}

static int usage(const char *why)
{
    fprintf(stderr, "sim: %s\nsim [--seed N] [--ticks M] [--fault NAME] [--keep-going] [--trail FROM TO] [--list]\n",
            why);
    return 2;
}

int main(int argc, char **argv)
{
    struct options opt = {.seed = 20260101, .ticks = 1000000, .fault = FAULT_COUNT};
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--list") == 0)
            return list();
        if (strcmp(argv[i], "--keep-going") == 0)
            opt.keep_going = true;
        else if (strcmp(argv[i], "--seed") == 0 && i + 1 < argc)
            opt.seed = strtoull(argv[++i], NULL, 10);
        else if (strcmp(argv[i], "--ticks") == 0 && i + 1 < argc)
            opt.ticks = strtoull(argv[++i], NULL, 10);
        else if (strcmp(argv[i], "--fault") == 0 && i + 1 < argc) {
            opt.fault = fault_named(argv[++i]);
            if (opt.fault == FAULT_COUNT)
                return usage("no such fault; --list shows them");
        } else if (strcmp(argv[i], "--trail") == 0 && i + 2 < argc) {
            opt.trail = true;
            opt.from = (int)strtol(argv[++i], NULL, 10);
            opt.to = (int)strtol(argv[++i], NULL, 10);
        } else
            return usage("an argument that is not known, or lacks its value");
    }
    if (!opt.trail)
        return run_all(&opt);
    one_run(opt.seed, opt.fault, NULL, opt.from, opt.to);
    return 0;
}
