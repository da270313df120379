/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* How the rig may move: what each lane may do, and what each mode allows all of them; the stricter of the two holds. */
#include "gateway/show/layout_rows.h"

#define SPEED(lane, most)                                                                                              \
    NUMBER("speed_mps", 0.01, most, "m/s", AT(lane.speed_mps), "the fastest this lane moves the rig")
#define ACCEL(lane) NUMBER("accel_mps2", 0.01, 10, "m/s2", AT(lane.accel_mps2), "how briskly it changes speed")
#define JERK(lane)                                                                                                     \
    SPARE_NUMBER("jerk_mps3", 0.1, 100, "m/s3", 2, AT(lane.jerk_mps3), "how suddenly that begins and ends")

static const struct field operator_rows[] = {SPEED(operator, 5), ACCEL(operator), JERK(operator)};
static const struct field_table operator_lane = TABLE(operator_rows);

static const struct field audience_rows[] = {
    SPEED(audience, 1),
    ACCEL(audience),
    JERK(audience),
    SPARE_NUMBER("unseen_m", 0.01, 100, "m", 4, AT(unseen_m),
                 "the way it may go before viewers see it: their speed is at most this over their lag"),
};
static const struct field_table audience_lane = TABLE(audience_rows);

#define MODE(name, i, speed, floor)                                                                                    \
    static const struct field name##_rows[] = {                                                                        \
        SPARE_NUMBER("speed_mps", 0.01, 5, "m/s", NAN, AT(mode[i].speed_mps), speed),                                  \
        SPARE_NUMBER("accel_mps2", 0.01, 10, "m/s2", NAN, AT(mode[i].accel_mps2),                                      \
                     "how briskly any lane changes speed then; as each may if left out"),                              \
        SPARE_NUMBER("jerk_mps3", 0.1, 100, "m/s3", NAN, AT(mode[i].jerk_mps3),                                        \
                     "how suddenly that begins and ends; as each may if left out"),                                    \
        SPARE_NUMBER("floor_m", -LAYOUT_ROOM_M, LAYOUT_ROOM_M, "m", NAN, AT(mode[i].floor_m), floor),                  \
        SPARE_NUMBER("ceiling_m", -LAYOUT_ROOM_M, LAYOUT_ROOM_M, "m", NAN, AT(mode[i].ceiling_m),                      \
                     "the greatest height of body and boom then; that of the stage if left out"),                      \
    };                                                                                                                 \
    static const struct field_table name = TABLE(name##_rows)
#define AS_LANE  "the fastest any lane moves the rig then; as each may if left out"
#define AS_STAGE "the lowest height of body and boom then; that of the stage if left out"
MODE(setup, LIMITS_SETUP, "the fastest the rig moves then; 0.25 m/s, or what the operator may if less, if left out",
     AS_STAGE);
MODE(show, LIMITS_SHOW, AS_LANE, AS_STAGE);
MODE(low, LIMITS_LOW, AS_LANE, AS_STAGE);

static const struct field limits_rows[] = {
    NUMBER("margin_m", 0.001, 2, "m", AT(show.policy.guard.margin_m),
           "the clearance that always remains, whatever else is added"),
    DEGREES("swing_max_deg", 0.1, 90, AT(show.policy.guard.swing_max_rad), "the swing above which motion waits"),
    OBJECT("operator", operator_lane, "what the operator's lane may do"),
    OBJECT("audience", audience_lane, "what the audience's lane may do"),
    SPARE_OBJECT("setup", setup, AT(mode[LIMITS_SETUP].given), "while the rig is set up: the operator alone, slowly"),
    SPARE_OBJECT("show", show, AT(mode[LIMITS_SHOW].given), "in the show, with nobody holding the enabling device"),
    SPARE_OBJECT("low", low, AT(mode[LIMITS_LOW].given), "in the show, while a spotter holds the enabling device"),
};
const struct field_table layout_limits = TABLE(limits_rows);
