/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/property/rig.h"

#define GRAVITY_MPS2 9.80665

static struct vec3 body_of(const struct rig *rig)
{
    return vec_add(rig->platform, rig->hang);
}

/* Amplitude from the energy of the swing: what a rig that measures angle and rate would report. */
static double amplitude(const struct rig *rig, double boom)
{
    if (boom <= 0)
        return 0;
    double height = 1 + rig->hang.z / boom;
    double rise = height + vec_dot(rig->swing_speed, rig->swing_speed) / (2 * GRAVITY_MPS2 * boom);
    return acos(fmax(-1, 1 - rise));
}

static void remember(struct rig *rig, const struct room *room)
{
    struct rig_moment *now = &rig->past[rig->now_ns / STEP_NS % RIG_PAST];
    *now = (struct rig_moment){.position = rig->platform,
                               .swing_rad = amplitude(rig, room->cfg.guard.volume.outline.boom_m),
                               .lapsed = rig->lapsed};
    for (int i = 0; i < HEAD_AXES; i++)
        now->head[i] = rig->head[i];
}

void rig_init(struct rig *rig, const struct room *room)
{
    *rig = (struct rig){.platform = room->start, .least = INFINITY, .now_ns = (uint64_t)STEP_NS * 1000};
    rig->hang = (struct vec3){0, 0, -room->cfg.guard.volume.outline.boom_m};
    for (int i = 0; i < HEAD_AXES; i++)
        rig->head[i] = room->cfg.head.config.axis[i].home;
    for (int i = 0; i < RIG_PAST; i++) {
        rig->past[i] = (struct rig_moment){.position = room->start};
        for (int k = 0; k < HEAD_AXES; k++)
            rig->past[i].head[k] = rig->head[k];
    }
    rig->judge = (struct judge){.near = room->cfg.guard.margin_m + 0.005, .left = -1};
    rig->least = judge_look(&rig->judge, &room->cfg.guard.volume, rig->platform, body_of(rig));
}

void rig_send(struct rig *rig, const struct room *room, struct random *r, const struct intent *intent, uint64_t seq)
{
    uint64_t lease_ns = (uint64_t)(room->cfg.guard.lease_s * 1e9);
    uint64_t delay_ns = (uint64_t)room->command_steps * STEP_NS;
    if (random_chance(r, room->late) && lease_ns > delay_ns)
        delay_ns += (uint64_t)random_between(r, 0, (double)(lease_ns - delay_ns));
    if (random_chance(r, room->loss) || rig->used == RIG_UNDER_WAY)
        return;
    struct rig_order *order = &rig->under_way[(rig->first + rig->used++) % RIG_UNDER_WAY];
    *order = (struct rig_order){
        .velocity = intent->motion ? intent->velocity : (struct vec3){0, 0, 0},
        .motion = intent->motion,
        .seq = seq,
        .due_ns = rig->now_ns + delay_ns,
        .expires_ns = rig->now_ns + lease_ns,
    };
    for (int i = 0; i < HEAD_AXES; i++)
        order->head_rate[i] = intent->head_rate[i];
}

/* The head, and for a policy that locates, the position as a sensor's reading with its noise and age. */
static void report_more(struct rig_report *report, const struct rig_moment *then, const struct room *room,
                        struct random *r)
{
    report->head_known = room->cfg.head.there;
    report->head_off = room->head_off;
    for (int i = 0; i < HEAD_AXES && report->head_known; i++)
        report->head[i] = then->head[i] + random_between(r, -room->head_off, room->head_off);
    report->where.sources = locate_bit(LOCATE_POSE);
    report->where.position = report->position;
    report->where.quality[LOCATE_POSE] =
        (struct locate_quality){room->uncertainty_m - vec_norm(room->bias), room->telemetry_steps * STEP_S};
}

struct rig_report rig_report(const struct rig *rig, const struct room *room, struct random *r, uint64_t seq)
{
    const struct rig_moment *then = &rig->past[(rig->now_ns / STEP_NS - (uint64_t)room->telemetry_steps) % RIG_PAST];
    struct vec3 noise = random_in_ball(r, room->uncertainty_m - vec_norm(room->bias));
    struct rig_report report = {
        .ever = true,
        .received_ns = rig->now_ns,
        .seq = seq,
        .position = vec_add(then->position, vec_add(room->bias, noise)),
        .uncertainty_m = room->uncertainty_m,
        .swing_rad = then->swing_rad,
        .fault = then->lapsed,
    };
    report_more(&report, then, room, r);
    return report;
}

/* Takes up what has arrived, if it is newer and has not expired. Late ones do not hold up those behind them. */
static void receive(struct rig *rig)
{
    for (unsigned i = 0; i < rig->used; i++) {
        const struct rig_order *o = &rig->under_way[(rig->first + i) % RIG_UNDER_WAY];
        if (o->due_ns <= rig->now_ns && o->seq > rig->order.seq && rig->now_ns < o->expires_ns)
            rig->order = *o;
    }
    rig->lapsed = rig->order.motion && (rig->lapsed || rig->now_ns >= rig->order.expires_ns);
    while (rig->used > 0 && rig->under_way[rig->first].due_ns <= rig->now_ns) {
        rig->first = (rig->first + 1) % RIG_UNDER_WAY;
        rig->used--;
    }
}

/* Gravity, the pivot's acceleration and damping; then back onto the sphere around the pivot. */
static void swing(struct rig *rig, const struct room *room, struct vec3 pivot)
{
    double boom = room->cfg.guard.volume.outline.boom_m;
    if (boom <= 0)
        return;
    double drag = 2 * room->swing_damping * sqrt(GRAVITY_MPS2 / boom);
    struct vec3 pull = vec_sub((struct vec3){0, 0, -GRAVITY_MPS2}, pivot);
    pull = vec_along(pull, rig->swing_speed, -drag);
    rig->swing_speed = vec_along(rig->swing_speed, pull, STEP_S);
    struct vec3 out = vec_scale(rig->hang, 1 / boom);
    rig->swing_speed = vec_along(rig->swing_speed, out, -vec_dot(rig->swing_speed, out));
    struct vec3 moved = vec_along(rig->hang, rig->swing_speed, STEP_S);
    rig->hang = vec_scale(moved, boom / vec_norm(moved));
    out = vec_scale(rig->hang, 1 / boom);
    rig->swing_speed = vec_along(rig->swing_speed, out, -vec_dot(rig->swing_speed, out));
}

void rig_step(struct rig *rig, const struct room *room)
{
    receive(rig);
    bool follows = rig->order.motion && !rig->lapsed;
    struct vec3 change = vec_sub(follows ? rig->order.velocity : (struct vec3){0, 0, 0}, rig->velocity);
    double size = vec_norm(change), most = room->cfg.guard.brake_mps2 * STEP_S;
    if (size > most)
        change = vec_scale(change, most / size);
    rig->platform = vec_along(vec_along(rig->platform, rig->velocity, STEP_S), change, STEP_S / 2);
    rig->velocity = vec_add(rig->velocity, change);
    for (int i = 0; i < HEAD_AXES; i++) {
        double slower = fmax(fabs(rig->head_rate[i]) - room->cfg.head.config.axis[i].limits.accel * STEP_S, 0);
        rig->head_rate[i] = follows ? rig->order.head_rate[i] : copysign(slower, rig->head_rate[i]);
        rig->head[i] += rig->head_rate[i] * STEP_S;
    }
    swing(rig, room, vec_scale(change, 1 / STEP_S));
    rig->now_ns += STEP_NS;
    remember(rig, room);
    rig->least = fmin(rig->least, judge_look(&rig->judge, &room->cfg.guard.volume, rig->platform, body_of(rig)));
}

/* Nothing under way or in force is faster than this, and all of it expires within a lease. */
static double fastest(const struct rig *rig)
{
    double most = fmax(vec_norm(rig->velocity), vec_norm(rig->order.velocity));
    for (unsigned i = 0; i < rig->used; i++)
        most = fmax(most, vec_norm(rig->under_way[(rig->first + i) % RIG_UNDER_WAY].velocity));
    return most;
}

double rig_silence(const struct rig *rig, const struct room *room)
{
    const struct guard_config *guard = &room->cfg.guard;
    double boom = guard->volume.outline.boom_m, speed = fastest(rig), brakes_s = speed / guard->brake_mps2;
    if (rig->judge.left > speed * (guard->lease_s + brakes_s / 2) + 2 * boom)
        return rig->judge.left;
    struct rig alone = *rig;
    alone.least = INFINITY;
    double half_swing_s = 3.2 * sqrt(boom / GRAVITY_MPS2), until_s = guard->lease_s + brakes_s + half_swing_s;
    for (int i = 0; i * STEP_S <= until_s; i++)
        rig_step(&alone, room);
    return alone.least;
}
