/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/fault.h"

#include <string.h>

#define UNTOUCHED "nothing ever touches"

#define BIT(r) ((reason_set)1 << REASON_##r)

/* A place that is not as it was, or not as another source says; the rig's own watch; and a rig that seems to run. */
#define PLACE                                                                                                          \
    (BIT(POSITION_BAD) | BIT(POSITION_JUMP) | BIT(POSITION_FROZEN) | BIT(POSITION_VAGUE) | BIT(SENSORS_DISAGREE) |     \
     BIT(ANCHOR_MOVED) | BIT(RIG_ASTRAY) | BIT(RIG_FAULT))
/* What comes of cords that do not hold the platform as they should. */
#define CORDS (BIT(CORD_SLACK) | BIT(CORD_OVERLOAD) | PLACE)

/*
 * Every run has noise, bias, latency, hostile wishes, stops, and people who come and go. A fault is on top of that, or
 * more of it. In all of them all that check_tick() asserts holds, and what check_truth() asserts for as long as nothing
 * may touch; here is what each fault adds: what must be done about it, until when nothing may touch, and how soon it
 * must be noticed, counted from when it shows in what core has received, or, for what is true, in a quantity that the
 * rig measures (notice.h).
 */
const struct fault_kind fault_kinds[FAULT_COUNT] = {
    [FAULT_NONE] = {"none", "a sound rig", FAULT_MOVES, FAULT_NEVER, 0, UNTOUCHED},
    [FAULT_NOISE] = {"noise", "noise and bias as large as the margin allows", FAULT_MOVES, FAULT_NEVER, 0, UNTOUCHED},
    [FAULT_LATENCY] = {"latency", "150 to 300 ms from an intent to the telemetry that shows its effect, as configured",
                       FAULT_MOVES, FAULT_NEVER, 0, UNTOUCHED},
    [FAULT_REORDER] = {"reorder", "datagrams late, overtaken and doubled, within the latency", FAULT_MOVES, FAULT_NEVER,
                       0, UNTOUCHED},
    [FAULT_LOSS] = {"loss", "up to half of all datagrams lost, for seconds", FAULT_MOVES, FAULT_NEVER, 0, UNTOUCHED},
    [FAULT_LAG] = {"lag", "winches that follow 30 to 120 ms late, as configured", FAULT_MOVES, FAULT_NEVER, 0,
                   UNTOUCHED},
    [FAULT_LANES] = {"lanes", "wishes that are not numbers, infinite, contradictory, or turn round every tick",
                     FAULT_MOVES, FAULT_NEVER, 0, UNTOUCHED},
    [FAULT_PEOPLE] = {"people", "stops, resets, gos, takes, releases, modes many times a second", FAULT_MOVES,
                      FAULT_NEVER, 0, UNTOUCHED},
    [FAULT_STALL] = {"stall", "ticks that come early, late, or not for a second", FAULT_MOVES, FAULT_NEVER, 0,
                     UNTOUCHED},
    [FAULT_SUBJECT] = {"subject", "somebody runs about below the camera, and into its way", FAULT_MOVES, FAULT_NEVER, 0,
                       "body and boom never move on towards them while they touch them"},
    [FAULT_SILENCE] = {"silence", "no telemetry arrives", FAULT_FORBIDS, FAULT_NEVER, BIT(RIG_LOST),
                       "within the telemetry timeout"},
    [FAULT_CORE_DEAD] = {"core-dead", "no tick, so no intent", FAULT_FORBIDS, FAULT_NEVER, 0,
                         "the rig is at rest within lease and braking"},
    [FAULT_FROZEN_SEQ] = {"frozen-seq", "the same telemetry again and again", FAULT_FORBIDS, FAULT_NEVER, BIT(RIG_LOST),
                          "within the telemetry timeout"},
    [FAULT_NOT_A_NUMBER] = {"not-a-number", "a reading that is not finite, or cannot be", FAULT_FORBIDS, FAULT_NEVER,
                            BIT(POSITION_BAD), "in the tick in which it comes"},
    [FAULT_FLAG] = {"flag", "the rig says that it cannot move safely", FAULT_FORBIDS, FAULT_NEVER, BIT(RIG_FAULT),
                    "in the tick in which it comes"},
    [FAULT_JUMP] = {"jump", "what places the platform is 3 to 9 m off, from now on", FAULT_STOPS, FAULT_UNTIL_GO, PLACE,
                    "in the tick in which it comes, or after as many readings as may be outliers"},
    [FAULT_JUMPING] = {"jumping", "the same, to and fro five times a second", FAULT_STOPS, FAULT_UNTIL_GO, PLACE,
                       "in the tick in which it comes, or after as many readings as may be outliers"},
    [FAULT_DRIFT] = {"drift", "one of several sources drifts by 2 to 10 cm/s", FAULT_STOPS, FAULT_UNTIL_THEN, PLACE,
                     "before it is 30 cm off, and 1 s more, where another source contradicts it"},
    [FAULT_FROZEN] =
        {"frozen", "all that places the platform goes on saying the same", FAULT_STOPS, FAULT_UNTIL_GO, PLACE,
         "within frozen_s of motion and frozen_m of way, both twice, where it locates; else nothing, until it begins"},
    [FAULT_PARTED] = {"parted", "a cord parts", FAULT_FORBIDS, FAULT_UNTIL_THEN, CORDS,
                      "within trip_s, where tensions are measured"},
    [FAULT_RUNAWAY] = {"runaway", "a winch pays out or hauls in by itself", FAULT_FORBIDS, FAULT_UNTIL_THEN, CORDS,
                       "within trip_s of the first slack or overload, where tensions are measured"},
    [FAULT_STICKS] = {"sticks", "a winch stands still", FAULT_FORBIDS, FAULT_UNTIL_THEN, CORDS,
                      "within trip_s of the first slack or overload, where tensions are measured"},
    [FAULT_ANCHOR] = {"anchor", "an anchor moves by 5 to 50 cm", FAULT_STOPS, FAULT_UNTIL_THEN, CORDS,
                      "within trip_s of slack or overload; within 1.5 s of a length that is 15 cm off, where a pose is "
                      "measured too"},
    [FAULT_PUSH] = {"push", "something pushes the platform, with up to its weight", FAULT_FORBIDS, FAULT_UNTIL_THEN,
                    CORDS, "within trip_s of the first slack or overload, where tensions are measured"},
};

enum fault fault_named(const char *name)
{
    for (int f = 0; f < FAULT_COUNT; f++)
        if (strcmp(fault_kinds[f].name, name) == 0)
            return (enum fault)f;
    return FAULT_COUNT;
}
