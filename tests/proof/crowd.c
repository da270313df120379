/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The crowd's side: every count, time, stick, mode and state anything, coherent or not; the config anything too, but
 * for the length of a step, which crowd_config_valid wants finite.
 *
 * analyse: policy/crowd/blend.c policy/crowd/choice.c policy/crowd/crowd.c policy/crowd/pace.c
 * analyse: policy/crowd/poll.c policy/crowd/tally.c
 * options: -eva-precision 3
 */
#include "policy/crowd/crowd.h"
#include "policy/crowd/pace.h"
#include "policy/crowd/saturate.h"
#include "tests/proof/any.h"

static void pace(void)
{
    ANY(struct pace_config, cfg);
    ANY(struct pace, pace);
    ANY(uint64_t, now_ns);
    uint64_t wait_ns;
    if (pace_arrive(&cfg, &pace, now_ns, &wait_ns))
        must_hold(pace.tat_ns >= 0);
    must_hold(wait_ns >= 0);
    pace_arrive(&cfg, &pace, now_ns, NULL);
}

static void tally(void)
{
    ANY(struct tally, into);
    ANY(struct tally, from);
    ANY(double, stick);
    int bin = tally_bin(stick);
    must_hold(bin >= 0 && bin < TALLY_BINS);
    must_be_within(-1, tally_bin_value(bin), 1);
    into.stick[0][bin]++;
    tally_valid(&into);
    must_hold(tally_cast(&into) <= (uint64_t)CHOICE_COUNT * UINT32_MAX);
    tally_merge(&into, &from);
    tally_clear(&into);
    must_hold(into.viewers == 0);
}

static void words(void)
{
    ANY(enum choice, choice);
    ANY(enum crowd_mode, mode);
    const char *word = choice_name(choice), *other = crowd_mode_name(mode);
    must_hold(word == NULL || *word != 0);
    must_hold(other == NULL || *other != 0);
}

static enum choice a_choice(void)
{
    return (enum choice)among(0, CHOICE_COUNT - 1);
}

static void poll(void)
{
    ANY(struct poll_config, cfg);
    ANY(struct poll, poll);
    ANY(struct tally, tally);
    ANY(uint64_t, now_ns);
    ANY(uint32_t, cast);
    struct poll_output out;
    poll.outcome = a_choice();
    poll_config_valid(&cfg);
    poll_needed(&cfg, cast);
    must_hold((unsigned)poll_winner(&cfg, &tally) < CHOICE_COUNT);
    poll_step(&cfg, &poll, &tally, either(), now_ns, &out);
    must_hold(out.decided == 0 || out.decided == 1);
    must_hold((unsigned)poll.outcome < CHOICE_COUNT);
    poll_init(&poll);
    must_hold(poll.phase == POLL_OFF);
}

static void blend(void)
{
    ANY(struct tally, tally);
    ANY(uint32_t, quorum);
    double axis[TALLY_AXES];
    int lower = blend_lower(tally.stick[0]), upper = blend_upper(tally.stick[2]);
    must_hold(lower >= 0 && lower < TALLY_BINS);
    must_hold(upper >= 0 && upper < TALLY_BINS);
    blend_median(&tally, quorum, axis);
    for (int a = 0; a < TALLY_AXES; a++)
        must_be_within(-1, axis[a], 1);
}

/* From the start and from any state in which the last outcome and the nudge are such as a step leaves. */
static void crowd(void)
{
    ANY(struct crowd_config, cfg);
    ANY(struct crowd, crowd);
    ANY(struct crowd_input, in);
    struct crowd_output out;
    crowd_config_valid(&cfg);
    cfg.step_m = between(1e-3, 1e6);
    if (either())
        crowd_init(&crowd);
    crowd.poll.outcome = a_choice();
    for (int i = 0; i < 3; i++)
        crowd.nudge[i] = between(-1e6, 1e6);
    crowd_step(&cfg, &crowd, &in, &out);
    for (int i = 0; i < 3; i++) {
        must_be_within(-1e6, out.v[i], 1e6);
        must_be_within(-1e6, crowd.nudge[i], 1e6);
    }
    must_hold((unsigned)out.kind <= CROWD_WISH_NUDGE);
    must_hold((unsigned)crowd.mode < CROWD_MODE_COUNT);
}

int main(void)
{
    pace();
    tally();
    words();
    poll();
    blend();
    crowd();
}
