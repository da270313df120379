/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the rig measures, and how good that is. */
#include "gateway/show/layout_rows.h"

#define SENSOR(source, member) AT(sensors.of[source].member)
#define AGE(source)                                                                                                    \
    SPARE_NUMBER("age_s", 0, 1, "s", 0, SENSOR(source, age_s), "how old a reading is when the rig sends it")

static const struct field pose_rows[] = {
    SPARE_NUMBER("sigma_m", 0, 1, "m", 0, SENSOR(SHOW_POSE, sigma),
                 "1 sigma of its noise; the rig's own word if that is more"),
    SPARE_NUMBER("bias_m", 0, 1, "m", 0, SENSOR(SHOW_POSE, bias), "how far it may be off for good"),
    AGE(SHOW_POSE),
};
static const struct field_table pose = TABLE(pose_rows);

static const struct field length_rows[] = {
    NUMBER("sigma_m", 0, 1, "m", SENSOR(SHOW_LENGTH, sigma), "1 sigma of its noise"),
    SPARE_NUMBER("bias_m", 0, 1, "m", 0.005, SENSOR(SHOW_LENGTH, bias),
                 "how far it may be off for good: stretch, sag, drum"),
    AGE(SHOW_LENGTH),
};
static const struct field_table length = TABLE(length_rows);

static const struct field tension_rows[] = {
    NUMBER("sigma_n", 0, 1000, "N", SENSOR(SHOW_TENSION, sigma), "1 sigma of its noise, whatever the pull"),
    SPARE_NUMBER("sigma_share", 0, 0.5, NULL, 0.01, SENSOR(SHOW_TENSION, share),
                 "1 sigma of its noise, as a share of the pull"),
    SPARE_NUMBER("bias_share", 0, 0.5, NULL, 0.03, SENSOR(SHOW_TENSION, bias),
                 "how far it may be off for good, as a share of the pull: friction at the pulleys"),
    AGE(SHOW_TENSION),
};
static const struct field_table tension = TABLE(tension_rows);

static const struct field range_rows[] = {
    NUMBER("sigma_m", 0, 1, "m", SENSOR(SHOW_RANGE, sigma), "1 sigma of its noise"),
    SPARE_NUMBER("bias_m", 0, 1, "m", 0.01, SENSOR(SHOW_RANGE, bias), "how far it may be off for good"),
    SPARE_NUMBER("sees_m", -LAYOUT_ROOM_M, LAYOUT_ROOM_M, "m", 0, SENSOR(SHOW_RANGE, sees_m),
                 "the height of what it sees below"),
    AGE(SHOW_RANGE),
};
static const struct field_table range = TABLE(range_rows);

static const struct field tilt_rows[] = {
    DEGREES("sigma_deg", 0, 20, SENSOR(SHOW_TILT, sigma), "1 sigma of its noise"),
    AGE(SHOW_TILT),
};
static const struct field_table tilt = TABLE(tilt_rows);

/* Yaw and head are not brought forward in time: how old they are is part of latency_s, of the rig and of the head. */
static const struct field yaw_rows[] = {
    DEGREES("sigma_deg", 0, 90, SENSOR(SHOW_YAW, sigma), "1 sigma of its noise; the rig's own word if that is more"),
};
static const struct field_table yaw = TABLE(yaw_rows);

static const struct field head_rows[] = {
    DEGREES("sigma_deg", 0, 20, SENSOR(SHOW_HEAD, sigma), "1 sigma of the angles' noise"),
};
static const struct field_table head = TABLE(head_rows);

static const struct field subject_rows[] = {
    NUMBER("sigma_m", 0, 2, "m", SENSOR(SHOW_SUBJECT, sigma), "1 sigma of its noise"),
    AGE(SHOW_SUBJECT),
};
static const struct field_table subject = TABLE(subject_rows);

static const struct field sensor_rows[] = {
    SPARE_OBJECT("pose", pose, SENSOR(SHOW_POSE, given), "a position: a tracking system, or the rig's own reckoning"),
    SPARE_OBJECT("length", length, SENSOR(SHOW_LENGTH, given), "the length of each cord, anchor to platform"),
    SPARE_OBJECT("tension", tension, SENSOR(SHOW_TENSION, given), "the pull of each cord, at the platform"),
    SPARE_OBJECT("range", range, SENSOR(SHOW_RANGE, given),
                 "the distance from the body down to the floor, along the boom"),
    SPARE_OBJECT("tilt", tilt, SENSOR(SHOW_TILT, given), "how far the body leans from plumb"),
    SPARE_OBJECT("yaw", yaw, SENSOR(SHOW_YAW, given), "how the body hangs about the vertical"),
    SPARE_OBJECT("head", head, SENSOR(SHOW_HEAD, given), "where the head's axes stand"),
    SPARE_OBJECT("subject", subject, SENSOR(SHOW_SUBJECT, given), "where the subject is"),
    SPARE_NUMBER("anchor_bias_m", 0, 0.5, "m", 0.01, AT(sensors.anchor_bias_m), "how well the anchors were measured"),
    SPARE_NUMBER("uncertainty_max_m", 0.001, 2, "m", 0.25, AT(sensors.uncertainty_max_m),
                 "the uncertainty of the position above which the rig stops"),
    SPARE_NUMBER("astray_s", 0, 5, "s", 0.5, AT(sensors.astray_s),
                 "how long the rig may move as it was not told to before it is stopped; 0: that is not watched"),
};
const struct field_table layout_sensor = TABLE(sensor_rows);
