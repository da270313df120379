/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/fault.h"

#include <string.h>

/*
 * Every run has noise, bias, latency, hostile wishes, stops, and people who come and go. A fault is on top of that, or
 * more of it. Asserted in all of them, on the outputs and on the true state: see check.h.
 */
const struct fault_kind fault_kinds[FAULT_COUNT] = {
    [FAULT_NONE] = {"none", "a sound rig"},
    [FAULT_NOISE] = {"noise", "noise and bias as large as the uncertainty that the rig states"},
    [FAULT_LATENCY] = {"latency", "up to 300 ms from an intent to the telemetry that shows its effect, as configured"},
    [FAULT_REORDER] = {"reorder", "datagrams late, overtaken and doubled, within the latency or the lease"},
    [FAULT_LOSS] = {"loss", "up to half of all datagrams lost, for seconds"},
    [FAULT_LAG] = {"lag", "winches that follow late, within the latency as configured"},
    [FAULT_LANES] = {"lanes", "wishes that are not numbers, infinite, contradictory, oscillating every tick"},
    [FAULT_PEOPLE] = {"people", "stops, resets, gos, takes and releases many times a second"},
    [FAULT_STALL] = {"stall", "ticks that come early, late, or not for a second"},
    [FAULT_SILENCE] = {"silence", "no telemetry arrives", FAULT_FORBIDS, false, 0},
    [FAULT_CORE_DEAD] = {"core-dead", "no tick, so no intent: the rig stops by itself", FAULT_FORBIDS, false, 0},
    [FAULT_FROZEN_SEQ] = {"frozen-seq", "the same telemetry again and again", FAULT_FORBIDS, false, 0},
    [FAULT_NOT_A_NUMBER] = {"not-a-number", "a reading that is not finite or cannot be", FAULT_FORBIDS, false, 0.001},
    [FAULT_JUMP] = {"jump", "the position is suddenly elsewhere", FAULT_STOPS, false, 0.001},
    [FAULT_FLAG] = {"flag", "the rig says that it cannot move safely", FAULT_FORBIDS, false, 0.001},
    [FAULT_PARTED] = {"parted", "a cord parts", FAULT_FORBIDS, true, 0.1},
    [FAULT_RUNAWAY] = {"runaway", "a winch pays out or hauls in by itself", FAULT_STOPS, true, 0.15},
};

enum fault fault_named(const char *name)
{
    for (int f = 0; f < FAULT_COUNT; f++)
        if (strcmp(fault_kinds[f].name, name) == 0)
            return (enum fault)f;
    return FAULT_COUNT;
}
