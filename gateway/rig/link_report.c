/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/link_report.h"

#include <math.h>

_Static_assert((int)SHOW_SOURCES == (int)WIRE_SOURCES && (int)SHOW_SUBJECT == (int)WIRE_SUBJECT &&
                   (int)SHOW_YAW == (int)WIRE_YAW,
               "the show's sources are the wire's");
_Static_assert((int)LOCATE_SOURCES == (int)WIRE_YAW && (int)LOCATE_TILT == (int)WIRE_TILT &&
                   (int)LOCATE_TENSION == (int)WIRE_TENSION,
               "the first of them are those that place the platform");
_Static_assert((int)WIRE_HEAD_AXES == (int)HEAD_AXES, "the head's axes are the wire's");

/* The least so far, let rise for the time that has passed since. */
static int64_t drifted(const struct link_report_clock *clock, uint64_t received_ns)
{
    uint64_t since = received_ns > clock->heard_ns ? received_ns - clock->heard_ns : 0;
    int64_t rise = (int64_t)(since / (1000000 / LINK_REPORT_DRIFT_PPM));
    return clock->least_ns > INT64_MAX - rise ? INT64_MAX : clock->least_ns + rise;
}

uint64_t link_report_measured(struct link_report_clock *clock, uint64_t rig_ns, uint64_t received_ns, bool begins)
{
    int64_t ahead = (int64_t)(received_ns - rig_ns), least = drifted(clock, received_ns);
    bool late = ahead > least && (uint64_t)ahead - (uint64_t)least > LINK_REPORT_OTHER_NS;
    bool other = !clock->known || (begins && (rig_ns < clock->rig_ns || late));
    if (other || ahead < least)
        least = ahead;
    uint64_t behind = (uint64_t)ahead - (uint64_t)least, measured = received_ns > behind ? received_ns - behind : 0;
    if (!other && measured < clock->measured_ns)
        measured = clock->measured_ns;
    *clock = (struct link_report_clock){true, rig_ns, received_ns, least, measured};
    return measured;
}

/* Bound of a reading's error, met but for one in 370. */
static double within(const struct show_sensor *sensor)
{
    return 3 * sensor->sigma + sensor->bias;
}

static bool there(const struct show_sensor sensor[], const struct wire_telemetry *t, enum wire_source source)
{
    return sensor[source].there && (t->sources >> source & 1u) != 0;
}

static struct vec3 vector(const double v[3])
{
    return (struct vec3){v[0], v[1], v[2]};
}

/* A cord the rig does not speak of has no reading: a show and a rig of different numbers of cords do not go together,
 * and that must not look like one without length. */
static void copy_cords(const float from[], unsigned cords, double to[VOLUME_MAX_CORDS])
{
    for (unsigned i = 0; i < VOLUME_MAX_CORDS; i++)
        to[i] = i < cords ? (double)from[i] : (double)NAN;
}

static void fill_where(const struct show_sensor sensor[], const struct wire_telemetry *t, struct locate_report *where)
{
    for (int source = 0; source < LOCATE_SOURCES; source++) {
        if (there(sensor, t, (enum wire_source)source))
            where->sources |= locate_bit((unsigned)source);
        where->quality[source] = (struct locate_quality){sensor[source].sigma, sensor[source].age_s};
    }
    where->quality[LOCATE_POSE].sigma = greater(sensor[SHOW_POSE].sigma, (double)t->uncertainty_m / 3);
    where->tension_share = sensor[SHOW_TENSION].share;
    where->position = vector(t->position);
    copy_cords(t->cord_length, t->cords, where->length_m);
    copy_cords(t->cord_tension, t->cords, where->tension_n);
    where->range_m = (double)t->range_m;
    where->tilt_x_rad = (double)t->tilt_rad[0];
    where->tilt_y_rad = (double)t->tilt_rad[1];
}

/* For a policy that believes the pose as it is. Without one the position is no number, which nobody believes. */
static void fill_pose(const struct show_sensor sensor[], const struct wire_telemetry *t, struct rig_report *report)
{
    const double nowhere = (double)NAN;
    bool pose = there(sensor, t, WIRE_POSE);
    report->position = pose ? vector(t->position) : (struct vec3){nowhere, nowhere, nowhere};
    report->uncertainty_m = greater((double)t->uncertainty_m, within(&sensor[SHOW_POSE]));
    report->swing_rad = (double)t->swing_rad;
    report->fault = (t->flags & (WIRE_RIG_FAULT | WIRE_RIG_LAPSED)) != 0;
    report->moving = (t->flags & WIRE_RIG_MOVING) != 0;
    report->unpowered = (t->flags & WIRE_RIG_POWERED) == 0;
    report->stop_count = t->stop_count;
}

static void fill_body(const struct show_sensor sensor[], const struct wire_telemetry *t, struct rig_report *report)
{
    report->yaw_known = there(sensor, t, WIRE_YAW);
    report->yaw_rad = (double)t->yaw_rad;
    report->yaw_off_rad = greater((double)t->yaw_off_rad, within(&sensor[SHOW_YAW]));
    report->head_known = there(sensor, t, WIRE_HEAD);
    for (int i = 0; i < HEAD_AXES; i++)
        report->head[i] = (double)t->head[i];
    report->head_off = within(&sensor[SHOW_HEAD]);
    report->subject_known = there(sensor, t, WIRE_SUBJECT);
    report->subject = vector(t->subject);
    report->subject_age_s = greater((double)t->subject_age_s, sensor[SHOW_SUBJECT].age_s);
}

void link_report_fill(const struct show_sensor sensor[SHOW_SOURCES], const struct wire_telemetry *t,
                      uint64_t measured_ns, uint64_t seq, struct rig_report *report)
{
    *report = (struct rig_report){.ever = seq != 0, .received_ns = measured_ns, .seq = seq};
    report->where.received_ns = measured_ns;
    report->where.seq = seq;
    fill_pose(sensor, t, report);
    fill_where(sensor, t, &report->where);
    fill_body(sensor, t, report);
}
