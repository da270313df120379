/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/caution.h"

const char caution_short[] = "A planning aid, not a fall zone. A qualified rigger decides.";

const char *const caution_text[CAUTION_COUNT] = {
    "Planning aid, computed from the show file alone: what the file does not say, or says wrongly, is not in it. The "
    "footprint of a parted cord is not a fall zone: a second cord can part under the load of the first, ropes whip "
    "back "
    "further than anything drawn here.",
    "Suspended load. Nobody under the camera or inside the swing area unless the risk assessment allows it. One failed "
    "cord moves the camera sideways.",
    "Anchors, cords and secondary suspension: have a qualified rigger choose and inspect them. Local codes and venue "
    "rules come first.",
    "Software stop. Not an emergency stop device. Keep a wired emergency stop within reach of operator and spotter.",
    "Never leave a child, animal or anyone who can't move away alone with the rig armed.",
    "If unsure of position, tension or link: stop, lower by the rig's own means, disarm.",
    "This project isn't certified to any safety standard.",
};
