/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Has a fault beyond the promise been noticed in its time?
 *
 * The time counts from when the fault shows:
 *   what is heard   silence, a frozen sequence: from the last new telemetry, the telemetry timeout
 *                   not a number, the flag: with the first such telemetry, at once
 *   sensors         jumps: with the first such telemetry, at once, or as many reports more as may be outliers
 *                   drift: where another source contradicts it, from 30 cm on, 1 s
 *                   frozen: where it locates, from when motion has been commanded for twice frozen_s and frozen_m
 *   what is true    from when a cord is truly slack or overloaded, a little clear of the limit, without a break: trip_s
 *                   and the way of the telemetry, where tensions are measured and looked at; and an anchor by
 *                   which a length is 15 cm off, where lengths and pose are measured, 1.5 s
 * Noticed is what forbids motion for a reason that belongs to the fault (fault.h); a stop that somebody happens to
 * press is not. It is asked for of a rig that is stopped as well. Where a rig has no sensor that could tell, nothing is
 * asserted.
 */
#ifndef STEADYHAND_SIM_NOTICE_H
#define STEADYHAND_SIM_NOTICE_H

#include "tests/sim/run.h"

/* In each tick of core. True if it should have been noticed, or motion not be permitted; *overdue_s: for so long. */
bool notice_overdue(struct run *run, const struct policy_output *out, double *overdue_s);

/* Of what is true, after every tick, also while core is dead. */
void notice_watch(struct run *run);

#endif
