/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/crowd/choice.h"

#include <stddef.h>

const char *choice_name(enum choice c)
{
    static const char *const name[] = {
        [CHOICE_STAY] = "stay",
        [CHOICE_TRUCK_LEFT] = "truck-left",
        [CHOICE_TRUCK_RIGHT] = "truck-right",
        [CHOICE_DOLLY_OUT] = "dolly-out",
        [CHOICE_DOLLY_IN] = "dolly-in",
        [CHOICE_PEDESTAL_DOWN] = "pedestal-down",
        [CHOICE_PEDESTAL_UP] = "pedestal-up",
    };
    _Static_assert(sizeof name / sizeof *name == CHOICE_COUNT, "one word a choice");
    return (unsigned)c < CHOICE_COUNT ? name[c] : NULL;
}
