/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * No voice lost or doubled where one round ends and the next begins: edges that hear of it late, snapshots under way,
 * repeated ones, and a core whose bus thread and tick are a step apart. Simulated in milliseconds.
 */
#include <criterion/criterion.h>
#include <string.h>

#include "gateway/bus/crowds.h"
#include "tests/unit/crowd/random.h"

enum {
    EDGES = 5,
    VIEWERS = 30,
    PERIOD = 50,
    TICK = 10,
    ROUND_MS = 1000,
    GRACE_MS = 200,
    QUEUE = 64,
    MOST_ROUNDS = 512
};

struct delays {
    uint32_t down, up;     /* greatest delay of a scene and of a snapshot */
    uint32_t reconnect_in; /* 0: never; else one connection in so many ms is made anew */
};

struct flight {
    uint64_t arrives;
    uint32_t round;
    enum poll_phase phase;
    struct snapshot snapshot;
};

/* In order, as a SEQPACKET socket is. */
struct pipe_line {
    struct flight flight[QUEUE];
    int first, count;
    uint64_t last;
};

struct edge {
    int slot, vote[VIEWERS];
    uint64_t seq;
    uint32_t round, phase_offset;
    enum poll_phase phase;
    struct pipe_line up, down;
};

struct world {
    struct random r;
    struct delays delays;
    uint64_t now;
    struct crowds crowds;
    struct crowds_sum sum; /* what the bus thread last handed to the tick */
    struct crowd crowd;
    struct edge edge[EDGES];
    uint32_t accepted[MOST_ROUNDS]; /* voices the edges took, by round */
    uint32_t rounds, exact, short_of;
};

static const struct crowd_config cfg = {
    .poll = {.round_ns = ROUND_MS, .grace_ns = GRACE_MS, .sigma = 0.1, .quorum = 1}, .step_m = 0.4, .blend_quorum = 1};

static void put_in(struct world *w, struct pipe_line *line, struct flight f, uint32_t delay)
{
    f.arrives = w->now + random_below(&w->r, delay + 1);
    if (f.arrives < line->last)
        f.arrives = line->last;
    line->last = f.arrives;
    cr_assert_lt(line->count, QUEUE);
    line->flight[(line->first + line->count++) % QUEUE] = f;
}

static const struct flight *take_out(struct world *w, struct pipe_line *line)
{
    const struct flight *f = &line->flight[line->first];
    if (line->count == 0 || f->arrives > w->now)
        return NULL;
    line->first = (line->first + 1) % QUEUE;
    line->count--;
    return f;
}

static void hear_scenes(struct world *w, struct edge *e)
{
    for (const struct flight *f; (f = take_out(w, &e->down));) {
        if (f->round != e->round)
            for (int v = 0; v < VIEWERS; v++)
                e->vote[v] = -1;
        e->round = f->round;
        e->phase = f->phase;
    }
}

/* A viewer votes, or thinks better of it and votes again: one voice. */
static void vote(struct world *w, struct edge *e)
{
    int *mine = &e->vote[random_below(&w->r, VIEWERS)];
    if (e->phase != POLL_OPEN || random_below(&w->r, 20))
        return;
    w->accepted[e->round] += *mine < 0;
    *mine = (int)random_below(&w->r, CHOICE_COUNT);
}

static void send_snapshot(struct world *w, struct edge *e)
{
    struct flight f = {.snapshot = {.seq = ++e->seq, .round = e->round, .tally = {.viewers = VIEWERS}}};
    for (int v = 0; v < VIEWERS; v++)
        if (e->vote[v] >= 0)
            f.snapshot.tally.votes[e->vote[v]]++;
    put_in(w, &e->up, f, w->delays.up);
    if (random_below(&w->r, 10) == 0)
        put_in(w, &e->up, f, w->delays.up); /* repeated */
}

static void reconnect(struct world *w, struct edge *e)
{
    crowds_leave(&w->crowds, e->slot);
    e->slot = crowds_join(&w->crowds);
    e->up.count = e->down.count = 0;
    e->seq = 0;
}

static void run_edge(struct world *w, struct edge *e)
{
    hear_scenes(w, e);
    vote(w, e);
    if (w->now % PERIOD == e->phase_offset)
        send_snapshot(w, e);
    if (w->delays.reconnect_in && random_below(&w->r, w->delays.reconnect_in) == 0)
        reconnect(w, e);
    for (const struct flight *f; (f = take_out(w, &e->up));)
        crowds_put(&w->crowds, e->slot, &f->snapshot, w->now);
}

static void check_round(struct world *w, uint32_t round)
{
    uint32_t heard = w->crowd.poll.outcome_voices, taken = w->accepted[round];
    cr_assert_leq(heard, taken, "round %u: %u voices of %u: doubled", round, heard, taken);
    w->rounds++;
    w->exact += heard == taken;
    w->short_of += taken - heard;
}

static void run_core(struct world *w)
{
    uint32_t round = w->crowd.poll.round;
    struct crowd_input in = {.mode = CROWD_POLL, .fresh = w->sum.edges > 0, .running = true, .now_ns = w->now};
    struct crowd_output out;
    in.round = w->sum.round;
    in.tally = w->sum.tally;
    crowd_step(&cfg, &w->crowd, &in, &out);
    if (out.round_decided)
        check_round(w, round);
    crowds_total(&w->crowds, round, w->now, &w->sum); /* for the round before this step: the bus thread is behind */
    if (w->now % PERIOD != 0)
        return;
    struct flight scene = {.round = w->crowd.poll.round, .phase = w->crowd.poll.phase};
    for (int e = 0; e < EDGES; e++)
        put_in(w, &w->edge[e].down, scene, w->delays.down);
}

static struct world w;

static void simulate(uint64_t seed, struct delays delays, uint64_t ms)
{
    memset(&w, 0, sizeof w);
    w.r.state = seed;
    w.delays = delays;
    crowds_init(&w.crowds, 500);
    crowd_init(&w.crowd);
    for (int e = 0; e < EDGES; e++) {
        w.edge[e].slot = crowds_join(&w.crowds);
        w.edge[e].phase_offset = random_below(&w.r, PERIOD);
        memset(w.edge[e].vote, -1, sizeof w.edge[e].vote);
    }
    for (w.now = 0; w.now < ms; w.now++) {
        for (int e = 0; e < EDGES; e++)
            run_edge(&w, &w.edge[e]);
        if (w.now % TICK == 0)
            run_core(&w);
    }
    cr_assert_gt(w.rounds, ms / (ROUND_MS + GRACE_MS) - 2);
}

/* The grace must cover: a scene period and its way down until the last edge has heard of the close, a snapshot period
 * and its way up, and two ticks of hand-over. 50 + 20 + 50 + 20 + 20 = 160 of 200 ms here. */
Test(rounds, within_the_grace_every_voice_counts_exactly_once)
{
    for (uint64_t seed = 1; seed <= 10; seed++) {
        simulate(seed, (struct delays){.down = 20, .up = 20}, 60000);
        cr_assert_eq(w.exact, w.rounds, "seed %lu: %u voices lost in %u rounds", seed, w.short_of, w.rounds);
        cr_assert_gt(w.accepted[3], 50, "there were voices to lose");
    }
}

/* Beyond it voices are lost, which shows that the check above can fail; none is ever doubled. */
Test(rounds, beyond_the_grace_voices_are_late_but_never_doubled)
{
    uint32_t lost = 0;
    for (uint64_t seed = 1; seed <= 10; seed++) {
        simulate(seed, (struct delays){.down = 150, .up = 400}, 60000);
        lost += w.short_of;
    }
    cr_assert_gt(lost, 100);
}

Test(rounds, edges_that_connect_anew_do_not_double_their_voices)
{
    for (uint64_t seed = 1; seed <= 10; seed++)
        simulate(seed, (struct delays){.down = 20, .up = 20, .reconnect_in = 300}, 60000);
}
