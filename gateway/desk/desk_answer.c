/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/desk/desk_answer.h"

static struct desk_answer out_of_turn(enum stop_event what, enum stop_state state)
{
    switch (state) {
    case STOP_PARKED:
        if (what == STOP_EVENT_PARK)
            return (struct desk_answer){"parked", "It is parked already."};
        return (struct desk_answer){"not-armed", "It is parked. Arm first, then go."};
    case STOP_LATCHED:
        if (what == STOP_EVENT_PARK)
            return (struct desk_answer){"not-reset", "It is stopped. Reset first, then park."};
        return (struct desk_answer){"not-reset", "It is stopped. Reset first; then go, or arm and go if it is parked."};
    case STOP_ARMED:
        return (struct desk_answer){"armed", "It is armed already. Go lets it move."};
    case STOP_RUNNING:
        if (what == STOP_EVENT_PARK)
            return (struct desk_answer){"running", "It is running. Hold or stop it before you park it."};
        return (struct desk_answer){"running", "It is running already."};
    case STOP_HOLDING:
        return (struct desk_answer){"holding", "It is held, not stopped. Go lets it move on."};
    case STOP_STATE_COUNT:
        break;
    }
    return (struct desk_answer){"out-of-turn", "That leads nowhere from here."};
}

struct desk_answer desk_answer_of(enum stop_event what, enum stop_answer answer, enum stop_state state,
                                  enum reason reason)
{
    switch (answer) {
    case STOP_OUT_OF_TURN:
        return out_of_turn(what, state);
    case STOP_MOVING:
        return (struct desk_answer){"moving", "It has not been seen to stand still yet. Wait, then press again."};
    case STOP_UNPOWERED:
        return (struct desk_answer){"unpowered", "Its drives are not under power yet. Wait, then press again."};
    case STOP_FORBIDDEN:
    case STOP_NOT_ASKED:
    case STOP_DONE:
    case STOP_ANSWER_COUNT:
        break;
    }
    return (struct desk_answer){reason_code(reason), reason_for_desk(reason)};
}
