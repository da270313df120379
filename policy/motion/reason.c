/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/reason.h"

#include <assert.h>
#include <stddef.h>

struct text {
    const char *code, *viewers, *desk;
};

struct numbers {
    const char *unit;
    enum reason_index index;
};

static const struct text texts[] = {
    [REASON_NONE] = {"none", "", ""},
    [REASON_STOP_UNCONFIRMED] =
        {"stop-unconfirmed", "The camera has not confirmed that it stands still.",
         "STOP IS NOT CONFIRMED: the rig has not answered in time or still moves. Power off was asked for. Use the "
         "hard-wired stop now."},
    [REASON_STARTED_UP] = {"started-up", "The show is being set up.",
                           "Just started: parked. Check the rig, then arm and go."},
    [REASON_STOP_OPERATOR] = {"stop-operator", "The operator has stopped the camera.",
                              "Stopped by an operator. Reset, then go."},
    [REASON_STOP_SPOTTER] = {"stop-spotter", "The spotter has stopped the camera.",
                             "Stopped by a spotter. Ask them first; then reset and go."},
    [REASON_STOP_MODERATOR] = {"stop-moderator", "The moderator has stopped the camera.",
                               "Stopped by a moderator. Ask them first; then reset and go."},
    [REASON_STOP_INPUT] = {"stop-input", "The camera was stopped at the rig.",
                           "A wired stop control is pressed. Find out why; release it, then reset and go."},
    [REASON_RIG_TAKEN] =
        {"rig-taken", "The camera is in other hands just now.",
         "Another core has the rig, and the rig obeys that one alone. End one of the two; then reset and go here."},
    [REASON_RIG_LOST] = {"rig-lost", "The camera is out of reach just now.",
                         "No fresh telemetry from the rig. Check its power and the network; then reset and go."},
    [REASON_RIG_STOPPED] =
        {"rig-stopped", "The camera has stopped by itself.",
         "The rig has stopped by itself, though it was told to move: orders came too late, or not at "
         "all. Look at the network and at the rig; then reset and go."},
    [REASON_RIG_FAULT] = {"rig-fault", "The camera rig reports a fault.",
                          "The rig reports a fault or a stop of its own. Clear it at the rig; then reset and go."},
    [REASON_RIG_UNPOWERED] = {"rig-unpowered", "The camera's drives have no power.",
                              "It was armed, but the rig says that its drives have no power. Clear its own stop and "
                              "check its power; then reset, arm and go."},
    [REASON_CORD_SLACK] =
        {"cord-slack", "One of the camera's cords hangs loose.",
         "A cord is slack. Nothing takes it up by itself: look at it, and at the rig; then reset and go."},
    [REASON_CORD_OVERLOAD] = {"cord-overload", "One of the camera's cords pulls too hard.",
                              "A cord pulls more than it may. Find out what holds the camera; then reset and go."},
    [REASON_RIG_ASTRAY] = {"rig-astray", "The camera moved by itself and was stopped.",
                           "The rig moves as it was not told to: a brake that slips, a winch that runs on. Use the "
                           "hard-wired stop if it goes on."},
    [REASON_DESK_LOST] = {"desk-lost", "Nobody is at the desk just now.",
                          "No operator is connected to the desk. Once one is back: reset and go."},
    [REASON_POSITION_BAD] = {"position-bad", "The camera is not sure where it is.",
                             "The reported position cannot be right: not a number, a jump, or outside the room. Check "
                             "the rig's measurement; then reset and go."},
    [REASON_POSITION_JUMP] =
        {"position-jump", "The camera is not sure where it is.",
         "The measured position has jumped further than the rig can move. Check the measurement; then reset and go."},
    [REASON_POSITION_FROZEN] =
        {"position-frozen", "The camera is not sure where it is.",
         "A measurement stands still while the rig moves. Check that sensor; then reset and go."},
    [REASON_SENSORS_DISAGREE] =
        {"sensors-disagree", "The camera is not sure where it is.",
         "The rig's sensors contradict each other. Find out which one is wrong; then reset and go."},
    [REASON_ANCHOR_MOVED] = {"anchor-moved", "The camera is not sure where it is.",
                             "The length of a cord no longer fits: its anchor has moved or its winch has slipped. Look "
                             "at both; then reset and go."},
    [REASON_POSITION_VAGUE] = {"position-vague", "The camera is not sure where it is.",
                               "The rig's position is known too badly to move. Check its sensors; then reset and go."},
    [REASON_OUT_OF_VOLUME] = {"out-of-volume", "The camera is outside its space and can only move back in.",
                              "The rig overlaps a boundary. Only moves that lead away from it are let through."},
    [REASON_TICK_LATE] = {"tick-late", "The controls were too slow for a moment.",
                          "This computer missed its own deadline. Look for load on it; then reset and go."},
    [REASON_HOLD_OPERATOR] = {"hold-operator", "The operator holds the camera still.",
                              "Held by an operator: at rest under power, not stopped. Go moves on."},
    [REASON_HOLD_SPOTTER] = {"hold-spotter", "The spotter holds the camera still.",
                             "Held by a spotter: at rest under power, not stopped. Ask them first; then go."},
    [REASON_HOLD_MODERATOR] = {"hold-moderator", "The moderator holds the camera still.",
                               "Held by a moderator: at rest under power, not stopped. Ask them first; then go."},
    [REASON_PARKED] = {"parked", "The camera is parked.", "Parked: secured rest, drives without power. Arm, then go."},
    [REASON_AWAIT_GO] = {"await-go", "Ready: waiting for the operator's go.",
                         "Armed: at rest under power. Go lets it move."},
    [REASON_LIMITS_ARMED] = {"limits-armed", "Limits are only loosened while the camera is stopped.",
                             "Looser limits were refused: only an operator may loosen, only while stopped, and never "
                             "above the commissioned table."},
    [REASON_OPERATOR_HAS_IT] = {"operator-has-it", "The operator is steering now.",
                                "An operator holds control; the audience is not heard."},
    [REASON_AUDIENCE_CLOSED] = {"audience-closed", "Steering is closed for now.", "The audience lane is closed."},
    [REASON_CROWD_SILENT] = {"crowd-silent", "The audience's votes are not coming through.",
                             "No fresh votes from any edge. The audience lane rests until one is back."},
    [REASON_BAD_WISH] = {"bad-wish", "That wish could not be followed.",
                         "A wish was not a number, unknown or longer than a step may be; it was refused or cut."},
    [REASON_SPOTTER_NEEDED] = {"spotter-needed", "It goes no lower, or nearer, without a spotter.",
                               "Slowed or stopped by what yields only while a spotter holds the enabling device."},
    [REASON_SUBJECT_NEAR] =
        {"subject-near", "Somebody is too near.",
         "Slowed or stopped by the distance that is kept from the subject. It grows with the age of the last report."},
    [REASON_KEEPOUT] = {"keepout", "Something is in the way there.",
                        "Slowed or stopped by a keep-out (that of cords and boom counts too)."},
    [REASON_TETHER_END] = {"tether-end", "The camera's cable reaches no further.",
                           "Slowed or stopped by the length of the tether."},
    [REASON_OUT_OF_REACH] = {"out-of-reach", "The cords cannot hold the camera there.",
                             "Slowed or stopped by the edge of where every cord stays within its limits."},
    [REASON_STAGE_EDGE] = {"stage-edge", "That is the edge of the camera's space.",
                           "Slowed or stopped by the edge of the stage."},
    [REASON_VIEW] = {"view", "The camera would see what it must not.",
                     "Slowed or stopped as the picture would touch a view keep-out."},
    [REASON_TENSION_LIMIT] = {"tension-limit", "The cords cannot pull much more there.",
                              "Slowed as a cord comes near a limit, now or on the way."},
    [REASON_SLOW_ZONE] = {"slow-zone", "Slowly here.", "Slowed by a slow zone, in it or on the way in."},
    [REASON_LAG_LIMIT] = {"lag-limit", "As fast as it may, as you see it late.",
                          "The audience sees the camera late, so it may only move slowly."},
    [REASON_HEAD_LOST] = {"head-lost", "The camera's head is not sure where it points.",
                          "Where an axis of the head stands is not known; it is braked. Check its telemetry."},
    [REASON_HEAD_RECOVERING] = {"head-recovering", "The camera's head is going home.",
                                "The head is on its way home, or was and waits for its lane to let go."},
    [REASON_HEAD_REGION] = {"head-region", "The head cannot point there.",
                            "The head is kept out of a region in which it vibrates."},
    [REASON_HEAD_LIMIT] = {"head-limit", "The head turns no further, or no faster.",
                           "The head is at the end of an axis, or as fast as it may."},
    [REASON_SWING] = {"swing", "The camera swings; waiting for it to hang still.",
                      "The body swings too much. Motion is braked until it has settled."},
    [REASON_SPEED_LIMIT] = {"speed-limit", "As fast as it may.", "The wish was above the speed limit in force."},
};

/* Of those that have any. */
static const struct numbers numbers[REASON_COUNT] = {
    [REASON_STOP_UNCONFIRMED] = {"s", REASON_INDEX_NONE},
    [REASON_CORD_SLACK] = {"N", REASON_INDEX_CORD},
    [REASON_CORD_OVERLOAD] = {"N", REASON_INDEX_CORD},
    [REASON_RIG_ASTRAY] = {"m/s", REASON_INDEX_NONE},
    [REASON_POSITION_JUMP] = {"m", REASON_INDEX_NONE},
    [REASON_POSITION_FROZEN] = {"m", REASON_INDEX_SOURCE},
    [REASON_SENSORS_DISAGREE] = {"", REASON_INDEX_SOURCE},
    [REASON_ANCHOR_MOVED] = {"m", REASON_INDEX_CORD},
    [REASON_POSITION_VAGUE] = {"m", REASON_INDEX_NONE},
    [REASON_TICK_LATE] = {"s", REASON_INDEX_NONE},
    [REASON_SPOTTER_NEEDED] = {"m", REASON_INDEX_KEEPOUT},
    [REASON_SUBJECT_NEAR] = {"m", REASON_INDEX_NONE},
    [REASON_KEEPOUT] = {"m", REASON_INDEX_KEEPOUT},
    [REASON_TETHER_END] = {"m", REASON_INDEX_NONE},
    [REASON_OUT_OF_REACH] = {"m", REASON_INDEX_NONE},
    [REASON_STAGE_EDGE] = {"m", REASON_INDEX_NONE},
    [REASON_VIEW] = {"", REASON_INDEX_VIEW},
    [REASON_TENSION_LIMIT] = {"N", REASON_INDEX_CORD},
    [REASON_SLOW_ZONE] = {"m/s", REASON_INDEX_ZONE},
    [REASON_LAG_LIMIT] = {"m/s", REASON_INDEX_NONE},
    [REASON_HEAD_LOST] = {"", REASON_INDEX_AXIS},
    [REASON_SWING] = {"rad", REASON_INDEX_NONE},
    [REASON_SPEED_LIMIT] = {"m/s", REASON_INDEX_NONE},
};

static_assert(sizeof texts / sizeof *texts == REASON_COUNT, "every reason has its texts");
static_assert(REASON_COUNT <= 64, "every reason has its bit in reason_set");

enum reason reason_first(reason_set set)
{
    for (int r = REASON_NONE + 1; r < REASON_COUNT; r++) {
        if (set & reason_bit((enum reason)r))
            return (enum reason)r;
    }
    return REASON_NONE;
}

static const struct text *text_of(enum reason r)
{
    static const struct text unknown = {"unknown", "The camera cannot follow just now.", "Unknown reason."};
    return (unsigned)r < REASON_COUNT ? &texts[r] : &unknown;
}

const char *reason_code(enum reason r)
{
    return text_of(r)->code;
}

const char *reason_for_viewers(enum reason r)
{
    return text_of(r)->viewers;
}

const char *reason_for_desk(enum reason r)
{
    return text_of(r)->desk;
}

const char *reason_unit(enum reason r)
{
    const char *unit = (unsigned)r < REASON_COUNT ? numbers[r].unit : NULL;
    return unit != NULL ? unit : "";
}

enum reason_index reason_index(enum reason r)
{
    return (unsigned)r < REASON_COUNT ? numbers[r].index : REASON_INDEX_NONE;
}
