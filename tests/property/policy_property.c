/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The invariants of the policy over random rooms, rigs, networks and hostile inputs, held against the truth: a rig that
 * answers late, reports noisily and loses intents, watched by a judge with geometry of its own.
 *
 * policy_property [--seed N] [--ticks N]: TAP. The same seed gives the same run everywhere. A failure names the
 * room's own seed and the tick; `--seed THAT --ticks 1` runs that room alone.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/property/digest.h"
#include "tests/property/options.h"

enum { TICKS_A_ROOM = 2000, REPLAY_ONE_IN = 4, SCRAMBLE_ONE_IN = 8 };

struct verdicts {
    struct tally_of_run tally;
    char failed[CHECK_COUNT][160]; /* empty: it held */
    bool any;
};

static void hold(struct verdicts *v, enum check check, bool holds, uint64_t seed, int tick, double number)
{
    if (holds || v->failed[check][0])
        return;
    snprintf(v->failed[check], sizeof v->failed[check], "room seed %llu, tick %d (%.6g)", (unsigned long long)seed,
             tick, number);
    v->any = true;
}

static void count(struct tally_of_run *t, const struct run *run, const struct policy_output *out)
{
    const reason_set walls = reason_bit(REASON_KEEPOUT) | reason_bit(REASON_STAGE_EDGE);
    t->ticks++;
    t->running += out->intent.motion;
    t->moving += out->intent.motion && vec_norm(out->intent.velocity) > 0.01;
    t->blocked += out->intent.motion && (out->reasons & walls);
    t->fallback += out->intent.motion && out->guard.fallback;
    t->inside += out->intent.motion && out->guard.nearest.distance_m < out->guard.margin_m;
    t->nudging += out->intent.motion && out->goal_set;
    t->swinging += out->intent.motion && (out->reasons & reason_bit(REASON_SWING));
    t->shaped += out->intent.motion && (run->room.cfg.swing.taps > 1 || out->limits.jerk_mps3 < LIMITS_JERK_FREE);
    t->slowed += out->intent.motion && (out->reasons & reason_bit(REASON_SLOW_ZONE));
    t->low += out->intent.motion && out->mode == LIMITS_LOW;
    t->turning += out->intent.head_rate[HEAD_PAN] > 0.01;
    t->least_m = fmin(t->least_m, run->rig.least);
}

/* Mostly as planned; in some rooms early, late, or after a pause in which the rig is on its own. */
static int steps_to_next(const struct room *room, struct random *r)
{
    if (random_chance(r, room->uneven))
        return 1 + random_below(r, 5 * STEPS_A_TICK);
    return room->uneven > 0 && random_chance(r, 0.001) ? 400 : STEPS_A_TICK;
}

static void one_tick(struct run *run, struct verdicts *v, uint64_t seed, int tick, struct policy_input *in)
{
    struct hostile_told told;
    struct policy_output out;
    struct policy before = run->policy;
    const double kept = run->room.cfg.guard.margin_m;
    hostile_input(&run->hostile, &run->room, &run->rig, &run->random, in, &told);
    policy_step(&run->room.cfg, &run->policy, in, &out);
    rig_send(&run->rig, &run->room, &run->random, &out.intent, ++run->seq);

    hold(v, CHECK_BOUNDED, check_bounded(run, in, &out), seed, tick, vec_norm(out.intent.velocity));
    hold(v, CHECK_STOP_WINS, check_stop_wins(run, in, &told, &out), seed, tick, out.intent.motion);
    hold(v, CHECK_FRESH, check_fresh(run, in, &out), seed, tick, out.lane);
    hold(v, CHECK_EXPLAINED, check_explained(run, &out), seed, tick, vec_norm(out.intent.velocity));
    hold(v, CHECK_SMOOTH, options_smooth(run, in, &out) && options_tighten(run, &out), seed, tick,
         vec_norm(run->last_accel));
    hold(v, CHECK_HEAD, options_head(run, &out), seed, tick, 0);
    hold(v, CHECK_LOW, options_low(run, in, &out), seed, tick, run->least_left);
    if (tick % SCRAMBLE_ONE_IN == 0)
        hold(v, CHECK_AUTHORITY, check_authority(run, &before, in, &out, &run->random), seed, tick, out.lane);
    double silence = rig_silence(&run->rig, &run->room);
    hold(v, CHECK_STOPPABLE, silence >= kept, seed, tick, silence - kept);

    run->digest = digest_output(run->digest, &out);
    run->last_velocity = out.intent.velocity;
    run->last_ns = run->rig.now_ns;
    for (int i = steps_to_next(&run->room, &run->random); i > 0; i--) {
        rig_step(&run->rig, &run->room);
        hold(v, CHECK_SLOW, options_slow(run), seed, tick, vec_norm(run->rig.velocity));
    }
    hold(v, CHECK_UNTOUCHED, run->rig.least >= kept, seed, tick, run->rig.least - kept);
    count(&v->tally, run, &out);
}

static uint64_t replay(const struct room *room, const struct policy_input *inputs, int ticks)
{
    struct policy policy;
    struct policy_output out;
    uint64_t digest = 0;
    policy_init(&room->cfg, &policy);
    for (int i = 0; i < ticks; i++) {
        policy_step(&room->cfg, &policy, &inputs[i], &out);
        digest = digest_output(digest, &out);
    }
    return digest;
}

static void one_room(struct verdicts *v, uint64_t seed)
{
    static struct policy_input inputs[TICKS_A_ROOM];
    struct run run = {.random = {seed}};
    room_make(&run.room, &run.random);
    rig_init(&run.rig, &run.room);
    hostile_init(&run.hostile);
    policy_init(&run.room.cfg, &run.policy);
    run.last_ns = run.rig.now_ns;
    for (int tick = 0; tick < TICKS_A_ROOM && !v->any; tick++)
        one_tick(&run, v, seed, tick, &inputs[tick]);
    if (seed % REPLAY_ONE_IN == 0 && !v->any)
        hold(v, CHECK_REPLAYED, replay(&run.room, inputs, TICKS_A_ROOM) == run.digest, seed, TICKS_A_ROOM, 0);
}

static void print(const struct verdicts *v)
{
    for (int c = 0; c < CHECK_COUNT; c++)
        printf("%s %d - %s%s%s\n", v->failed[c][0] ? "not ok" : "ok", c + 1, check_names[c],
               v->failed[c][0] ? ": " : "", v->failed[c]);
    const struct tally_of_run *t = &v->tally;
    printf("# %llu ticks: running %llu, moving %llu, slowed by a boundary %llu, fallback %llu, inside the margin %llu, "
           "with a goal %llu, swinging %llu, shaped %llu, in or at slow zones %llu, low %llu, turning the head %llu; "
           "least clearance %.4f m\n",
           (unsigned long long)t->ticks, (unsigned long long)t->running, (unsigned long long)t->moving,
           (unsigned long long)t->blocked, (unsigned long long)t->fallback, (unsigned long long)t->inside,
           (unsigned long long)t->nudging, (unsigned long long)t->swinging, (unsigned long long)t->shaped,
           (unsigned long long)t->slowed, (unsigned long long)t->low, (unsigned long long)t->turning, t->least_m);
}

static uint64_t number_after(int argc, char **argv, const char *option, uint64_t otherwise)
{
    for (int i = 1; i + 1 < argc; i++) {
        if (strcmp(argv[i], option) == 0)
            return strtoull(argv[i + 1], NULL, 10);
    }
    return otherwise;
}

int main(int argc, char **argv)
{
    uint64_t seed = number_after(argc, argv, "--seed", 20250101), ticks = number_after(argc, argv, "--ticks", 1000000);
    struct verdicts v = {.tally = {.least_m = INFINITY}};
    printf("TAP version 13\n1..%d\n# seed %llu\n", CHECK_COUNT, (unsigned long long)seed);
    for (uint64_t room = 0; v.tally.ticks < ticks && !v.any; room++)
        one_room(&v, seed + room);
    if (!v.any && ticks >= 100 * TICKS_A_ROOM)
        hold(&v, CHECK_BUSY, check_busy(&v.tally), seed, 0, 0);
    print(&v);
    return v.any ? 1 : 0;
}
