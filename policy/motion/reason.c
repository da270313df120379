/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/reason.h"

#include <assert.h>
#include <stddef.h>

struct text {
    const char *code, *viewers, *desk;
};

static const struct text texts[] = {
    [REASON_NONE] = {"none", "", ""},
    [REASON_STARTED_UP] = {"started-up", "The show is being set up.",
                           "Just started: disarmed. Check the rig, then reset and go."},
    [REASON_STOP_OPERATOR] = {"stop-operator", "The operator has stopped the camera.",
                              "Stopped by an operator. Reset, then go."},
    [REASON_STOP_SPOTTER] = {"stop-spotter", "The spotter has stopped the camera.",
                             "Stopped by a spotter. Ask them first; then reset and go."},
    [REASON_STOP_MODERATOR] = {"stop-moderator", "The moderator has stopped the camera.",
                               "Stopped by a moderator. Ask them first; then reset and go."},
    [REASON_RIG_LOST] = {"rig-lost", "The camera is out of reach just now.",
                         "No fresh telemetry from the rig. Check its power and the network; then reset and go."},
    [REASON_RIG_FAULT] = {"rig-fault", "The camera rig reports a fault.",
                          "The rig reports a fault or a stop of its own. Clear it at the rig; then reset and go."},
    [REASON_DESK_LOST] = {"desk-lost", "Nobody is at the desk just now.",
                          "No operator is connected to the desk. Once one is back: reset and go."},
    [REASON_POSITION_BAD] =
        {"position-bad", "The camera is not sure where it is.",
         "The reported position cannot be right: not a number, a jump, or outside the room. Check the "
         "rig's measurement; then reset and go."},
    [REASON_OUT_OF_VOLUME] = {"out-of-volume", "The camera is outside its space and can only move back in.",
                              "The rig overlaps a boundary. Only moves that lead away from it are let through."},
    [REASON_TICK_LATE] = {"tick-late", "The controls were too slow for a moment.",
                          "This computer missed its own deadline. Look for load on it; then reset and go."},
    [REASON_AWAIT_GO] = {"await-go", "Ready: waiting for the operator's go.", "Reset and at rest. Go lets it move."},
    [REASON_OPERATOR_HAS_IT] = {"operator-has-it", "The operator is steering now.",
                                "An operator holds control; the audience is not heard."},
    [REASON_AUDIENCE_CLOSED] = {"audience-closed", "Steering is closed for now.", "The audience lane is closed."},
    [REASON_CROWD_SILENT] = {"crowd-silent", "The audience's votes are not coming through.",
                             "No fresh votes from any edge. The audience lane rests until one is back."},
    [REASON_BAD_WISH] = {"bad-wish", "That wish could not be followed.",
                         "A wish was not a number, unknown or longer than a step may be; it was refused or cut."},
    [REASON_KEEPOUT] = {"keepout", "Something is in the way there.",
                        "Slowed or stopped by a keep-out (that of cords and boom counts too)."},
    [REASON_STAGE_EDGE] = {"stage-edge", "That is the edge of the camera's space.",
                           "Slowed or stopped by the edge of the stage."},
    [REASON_SWING] = {"swing", "The camera swings; waiting for it to hang still.",
                      "The body swings too much. Motion is braked until it has settled."},
    [REASON_SPEED_LIMIT] = {"speed-limit", "As fast as it may.", "The wish was above the speed limit in force."},
};

static_assert(sizeof texts / sizeof *texts == REASON_COUNT, "every reason has its texts");
static_assert(REASON_COUNT <= 32, "every reason has its bit in reason_set");

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
