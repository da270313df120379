/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What a poll can be about. */
#ifndef STEADYHAND_CROWD_CHOICE_H
#define STEADYHAND_CROWD_CHOICE_H

/* The candidates of a poll for a step; "stay" is always one of them. */
enum choice {
    CHOICE_STAY,
    CHOICE_TRUCK_LEFT,    /* x - */
    CHOICE_TRUCK_RIGHT,   /* x + */
    CHOICE_DOLLY_OUT,     /* y - : away from the back wall, towards the front */
    CHOICE_DOLLY_IN,      /* y + */
    CHOICE_PEDESTAL_DOWN, /* z - */
    CHOICE_PEDESTAL_UP,   /* z + */
    CHOICE_COUNT
};

/* "stay", "truck-left", ...: the words of the protocol. NULL out of range. */
const char *choice_name(enum choice c);

#endif
