/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/sense.h"

#include <string.h>

enum { JUMPING_TICKS = 10 };

#define YAW_BIAS -0.9 /* what is stated is all that the body sways, so that where it hangs clear it stays so */

void sense_init(struct sense *sense, const struct scene *s, struct random *r)
{
    memset(sense, 0, sizeof *sense);
    sim_sensors_init(&s->sensors, &sense->sensors, random_bits(r));
}

static void put(double out[], struct vec3 v)
{
    out[0] = v.x;
    out[1] = v.y;
    out[2] = v.z;
}

static void look(const struct machine *m, const struct scene *s, uint64_t now_ns, struct vec3 subject,
                 struct sim_truths *truth)
{
    const struct sim_physics *p = &m->physics;
    double down = sim_physics_has_boom(&m->cfg) ? -p->swing.n.z : 1;
    *truth = (struct sim_truths){.swing_rad = sim_physics_swing(&m->cfg, p)};
    put(truth->value[WIRE_POSE], p->position);
    put(truth->value[WIRE_POSE] + 3, p->velocity);
    memcpy(truth->value[WIRE_LENGTH], p->length_m, sizeof p->length_m);
    memcpy(truth->value[WIRE_TENSION], p->tension_n, sizeof p->tension_n);
    truth->value[WIRE_RANGE][0] = machine_body(m).z / fmax(down, 0.01);
    truth->value[WIRE_TILT][0] = asin(p->swing.n.x);
    truth->value[WIRE_TILT][1] = asin(p->swing.n.y);
    truth->value[WIRE_YAW][0] = machine_yaw(m, s, now_ns);
    memcpy(truth->value[WIRE_HEAD], m->head.at, sizeof m->head.at);
    put(truth->value[WIRE_SUBJECT], subject);
}

/* A pose that is 3 to 9 m off; of a rig without one, its lengths. */
static void jump(struct sense *sense, const struct scene *s)
{
    const struct scene_trouble *t = &s->trouble;
    double by = 3 + 6 * t->size;
    put(sense->faults.sensor[WIRE_POSE].offset, vec_scale(t->way, by));
    for (int i = 0; !scene_has(s, WIRE_POSE) && i < s->physics.cords; i++)
        sense->faults.sensor[WIRE_LENGTH].offset[i] = i % 2 ? by : -by / 4;
}

static void drift(struct sense *sense, const struct scene *s)
{
    const struct scene_trouble *t = &s->trouble;
    double by = (0.02 + 0.08 * t->size) * sense->since * s->sensors.period_s;
    struct sim_sensor_fault *f = &sense->faults.sensor[t->source];
    if (t->source == WIRE_POSE)
        put(f->offset, vec_scale(t->way, by));
    else
        f->offset[t->source == WIRE_LENGTH ? t->cord : 0] = t->way.x < 0 ? -by : by;
}

static void befall(struct sense *sense, const struct scene *s, bool active)
{
    sense->faults = (struct sim_faults){.deaf_controller = false};
    sense->faults.sensor[WIRE_YAW].bias = YAW_BIAS;
    sense->since = active ? sense->since + 1 : 0;
    sense->bites = active;
    if (!active)
        return;
    if (s->trouble.fault == FAULT_JUMP)
        jump(sense, s);
    if (s->trouble.fault == FAULT_JUMPING)
        sense->bites = sense->since * s->ticks_a_report / JUMPING_TICKS % 2 == 0;
    if (s->trouble.fault == FAULT_JUMPING && sense->bites)
        jump(sense, s);
    if (s->trouble.fault == FAULT_DRIFT)
        drift(sense, s);
    for (int i = 0; s->trouble.fault == FAULT_FROZEN && i < WIRE_TILT; i++)
        sense->faults.sensor[i].frozen = true;
}

static bool says(const struct sim_sensed *sensed, enum wire_source source)
{
    return sensed->sources >> source & 1u;
}

static void put_floats(float out[], const double v[], int n)
{
    for (int i = 0; i < n; i++)
        out[i] = (float)v[i];
}

/* As the rig's controller does it, but for the seal. */
static void fill_telemetry(const struct machine *m, const struct sim_sensed *sensed, struct wire_telemetry *t)
{
    bool lines = says(sensed, WIRE_LENGTH) || says(sensed, WIRE_TENSION);
    t->sources = (uint16_t)sensed->sources;
    t->uncertainty_m = (float)sensed->uncertainty_m;
    t->swing_rad = (float)sensed->swing_rad;
    t->cords = (uint8_t)(lines ? m->cfg.cords : 0);
    t->range_m = (float)sensed->range_m;
    t->yaw_rad = (float)sensed->yaw_rad;
    t->yaw_off_rad = (float)sensed->yaw_off_rad;
    t->subject_age_s = (float)sensed->subject_age_s;
    put(t->position, sensed->position);
    put(t->velocity, sensed->velocity);
    put(t->subject, sensed->subject);
    put_floats(t->cord_length, sensed->length_m, t->cords);
    put_floats(t->cord_tension, sensed->tension_n, t->cords);
    put_floats(t->tilt_rad, sensed->tilt_rad, 2);
    put_floats(t->head, sensed->head, WIRE_HEAD_AXES);
}

void sense_spoil(struct rig_report *report, const struct scene *s, struct random *r)
{
    static const double bad[] = {(double)NAN, (double)INFINITY, -(double)INFINITY, 1e9};
    double value = bad[random_below(r, sizeof bad / sizeof *bad)];
    if (s->trouble.size < 0.3)
        report->swing_rad = value;
    else if (scene_has(s, WIRE_POSE))
        report->position.y = report->where.position.y = value;
    else
        report->where.length_m[s->trouble.cord] = value;
}

struct post_news sense_read(struct sense *sense, struct machine *m, const struct scene *s, uint64_t now_ns,
                            struct vec3 subject, bool active)
{
    struct sim_truths truth;
    struct sim_sensed sensed;
    struct post_news news = {.telemetry.rig_ns = now_ns};
    look(m, s, now_ns, subject, &truth);
    befall(sense, s, active);
    sim_sensors_read(&s->sensors, &sense->sensors, &sense->faults, &truth, &sensed);
    m->controller.deaf = !s->trouble.watched;
    sim_controller_sense(&s->controller, &m->controller, &sensed);
    fill_telemetry(m, &sensed, &news.telemetry);
    news.telemetry.stop_count = m->controller.session.stop_count;
    news.telemetry.flags |= m->controller.fault || m->flagged ? WIRE_RIG_FAULT : 0u;
    news.telemetry.flags |= m->controller.lapsed ? WIRE_RIG_LAPSED : 0u;
    news.telemetry.flags |= m->controller.power.on ? WIRE_RIG_POWERED : 0u;
    news.telemetry.flags |= vec_norm(m->controller.velocity) > 0 ? WIRE_RIG_MOVING : 0u;
    news.seq = ++sense->seq;
    news.spoilt = sense->bites;
    if (active && s->trouble.fault == FAULT_FROZEN_SEQ)
        news = sense->last;
    sense->last = news;
    return news;
}
