/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The tick on the stand: real policy, real link, a least rig, and a clock of its own. */
#ifndef STEADYHAND_TEST_TRIAL_H
#define STEADYHAND_TEST_TRIAL_H

#include "gateway/core/tick.h"
#include "stand.h"

struct trial {
    struct stand *stand;
    struct tick tick;
    struct desk_orders orders;
    struct shared_report report;
    uint64_t now_ns; /* a clock of its own: a busy machine makes no tick late */
    uint64_t seen;   /* the stop count last shown */
    bool absent;     /* nobody at the desk */
    bool hung;       /* the desk thread says nothing */
};

struct trial trial_begin(void);
void trial_end(struct trial *t);

/* One tick, `late_ns` later than due; takes ten real milliseconds too, as the rig is another thread. */
void trial_late(struct trial *t, uint64_t late_ns);
void trial_run(struct trial *t, int ms);

/* By an operator who has seen what was last shown. */
void trial_press(struct trial *t, enum stop_event what);
enum stop_state trial_state(const struct trial *t);

/* Waits until it is seen to stand still. */
void trial_rest(struct trial *t);

/* At rest: resets, and arms if that leads to parked; the drives come under power. */
void trial_arm(struct trial *t);

/* Waits for telemetry, arms and goes. */
void trial_start(struct trial *t);

#endif
