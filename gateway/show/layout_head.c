/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What turns the camera. */
#include "gateway/show/layout_rows.h"

/* An axis that turns. What it may do at most is what its motor can; the comfortable cap on pan comes on top. */
#define TURNING(name, most)                                                                                            \
    static const struct field name##_rows[] = {                                                                        \
        DEGREES("min_deg", -(most), most, AT(head.name.min), "the least angle"),                                       \
        DEGREES("max_deg", -(most), most, AT(head.name.max), "the greatest angle"),                                    \
        SPARE_DEGREES("home_deg", -(most), most, 0, AT(head.name.home), "where it looks at home"),                     \
        NUMBER("speed_degps", 0.1, 360, "deg/s", AT(head.name.speed), "the fastest it turns"),                         \
        NUMBER("accel_degps2", 0.1, 3600, "deg/s2", AT(head.name.accel), "how briskly it changes speed"),              \
        SPARE_NUMBER("jerk_degps3", 1, 36000, "deg/s3", 240, AT(head.name.jerk), "how suddenly that may change"),      \
    };                                                                                                                 \
    static const struct field_table name = TABLE(name##_rows)
TURNING(pan, 720);
TURNING(tilt, 180);
TURNING(roll, 180);

static const struct field zoom_rows[] = {
    NUMBER("max", 1, 100, "x", AT(head.zoom.max), "the greatest magnification; the least is 1"),
    SPARE_NUMBER("home", 1, 100, "x", 1, AT(head.zoom.home), "that at home"),
    NUMBER("speed_per_s", 0.01, 100, "1/s", AT(head.zoom.speed), "the fastest it changes"),
    NUMBER("accel_per_s2", 0.01, 1000, "1/s2", AT(head.zoom.accel), "how briskly that begins"),
    SPARE_NUMBER("jerk_per_s3", 0.1, 10000, "1/s3", 5, AT(head.zoom.jerk), "how suddenly that may change"),
};
static const struct field_table zoom = TABLE(zoom_rows);

#define SPAN(key, member)                                                                                              \
    {                                                                                                                  \
        ROW(FIELD_POINT, key, -720, 720, "deg", offsetof(struct layout_region, member), "from where to where"),        \
            .items = 2, .optional = true                                                                               \
    }
static const struct field region_rows[] = {SPAN("pan_deg", pan_deg), SPAN("tilt_deg", tilt_deg),
                                           SPAN("roll_deg", roll_deg)};
static const struct field_table region_table = TABLE(region_rows);
static const struct field region = {.kind = FIELD_OBJECT, .table = &region_table, .what = "where the head vibrates"};

static const struct field lens_rows[] = {
    DEGREES("hfov_wide_deg", 1, 170, AT(head.hfov_rad), "the width of the picture at its widest"),
    DEGREES("vfov_wide_deg", 1, 170, AT(head.vfov_rad), "the height of the picture at its widest"),
    SPARE_NUMBER("range_m", 0.1, LAYOUT_ROOM_M, "m", 50, AT(head.range_m),
                 "how far away it still matters what can be seen"),
    {ROW(FIELD_POINT, "at_m", -5, 5, "m", AT(head.camera),
         "where the lens is, from the lower end of the boom, with pan at 0; there, if left out"),
     .items = 3, .optional = true},
};
static const struct field_table lens = TABLE(lens_rows);

static const struct field head_rows[] = {
    OBJECT("lens", lens, "what the camera sees"),
    SPARE_OBJECT("pan", pan, AT(head.pan.given),
                 "the axis that turns about the vertical, counter-clockwise; 0 along x"),
    SPARE_OBJECT("tilt", tilt, AT(head.tilt.given), "the axis that nods, upwards; 0 level"),
    SPARE_OBJECT("roll", roll, AT(head.roll.given), "the axis that turns about the lens"),
    SPARE_OBJECT("zoom", zoom, AT(head.zoom.given), "the focal length"),
    SPARE_LIST(struct layout_draft, "regions", HEAD_MAX_REGIONS, head.regions, region, head.region,
               "positions in which the head vibrates and must not rest; an axis left out does not matter"),
    SPARE_DEGREES("clear_deg", 0.1, 30, 2, AT(head.clear_rad), "the distance kept from those"),
    SPARE_NUMBER("latency_s", 0, 1, "s", NAN, AT(head.latency_s),
                 "the time from a command to motion and back to telemetry; that of the rig if left out"),
    SPARE_NUMBER("cross_s", 0, 60, "s", 7, AT(head.cross_s),
                 "how long a thing takes at least to cross the picture in a pan; 0 for no such cap"),
    SPARE_NUMBER("rest_s", 0, 60, "s", 2, AT(head.rest_s),
                 "how long lanes that do not let go are not heard after it left such a region"),
    SPARE_NUMBER("recover_s", 1, 600, "s", 60, AT(head.recover_s),
                 "how long a way home may take before it is given up"),
};
const struct field_table layout_head = TABLE(head_rows);
