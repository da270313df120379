/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/symmetric_rig.h"

#include "policy/motion/cords.h"

#define STAGE_SHARE 0.7 /* the stage reaches so far from the centre towards the walls through the anchors */
#define SPEED_MPS   0.2
#define RAMP_S      2.0 /* raised cosine: hardly any swing */
#define DT          0.0005
#define PI          3.14159265358979323846

/* The demonstration show's machine. */
static const struct sim_physics_config machine = {
    .cords = 4,
    .platform_kg = 0.8,
    .body_kg = 1.6,
    .boom = {.length_m = 0.35, .damping = 0.06},
    .damping_nspm = 60,
    .winch_speed_mps = 0.8,
    .winch_accel_mps2 = 4,
};

struct vec3 symmetric_centre(const struct symmetric_room *room)
{
    struct vec3 sum = {0, 0, 0};
    for (int k = 0; k < 4; k++)
        sum = vec_along(sum, room->anchor[k], 0.25);
    sum.z = room->height_m;
    return sum;
}

void symmetric_ideal(const struct symmetric_room *room, struct vec3 anchor[4])
{
    static const double side[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    struct vec3 centre = symmetric_centre(room);
    double half = 0, height = 0;
    for (int k = 0; k < 4; k++) {
        half += (fabs(room->anchor[k].x - centre.x) + fabs(room->anchor[k].y - centre.y)) / 8;
        height += room->anchor[k].z / 4;
    }
    for (int k = 0; k < 4; k++)
        anchor[k] = (struct vec3){centre.x + side[k][0] * half, centre.y + side[k][1] * half, height};
}

static struct tension_rig rig_of(const struct symmetric_room *room)
{
    struct tension_rig rig = {.cords = 4, .mass_kg = machine.platform_kg + machine.body_kg};
    for (int k = 0; k < 4; k++) {
        rig.anchor[k] = room->anchor[k];
        rig.min_n[k] = SYMMETRIC_LEAST_N;
        rig.max_n[k] = SYMMETRIC_MOST_N;
    }
    return rig;
}

/* How far the stage reaches along a bearing: a rectangle about the centre. */
static double edge_m(const struct symmetric_room *room, double bearing)
{
    struct vec3 centre = symmetric_centre(room);
    double wide = INFINITY, deep = INFINITY;
    for (int k = 0; k < 4; k++) {
        wide = fmin(wide, fabs(room->anchor[k].x - centre.x));
        deep = fmin(deep, fabs(room->anchor[k].y - centre.y));
    }
    return STAGE_SHARE * fmin(wide / fmax(fabs(cos(bearing)), 1e-9), deep / fmax(fabs(sin(bearing)), 1e-9));
}

struct drive {
    struct tension_rig rig;
    struct sim_physics_config machine;
    struct sim_physics physics;
    struct sim_winch_target target;
    struct vec3 told; /* position */
    struct volume_outline here, ideal;
    struct vec3 ideal_centre;
};

static void hang(struct drive *d, const struct symmetric_room *room)
{
    struct tension_state s;
    *d = (struct drive){.rig = rig_of(room), .machine = machine, .told = symmetric_centre(room)};
    d->machine.stiffness_npm = room->stiffness_npm;
    d->ideal_centre = d->told;
    d->here.cords = d->ideal.cords = 4;
    symmetric_ideal(room, d->ideal.anchor);
    tension_solve(&d->rig, d->told, (struct vec3){0, 0, 0}, &s);
    for (int k = 0; k < 4; k++) {
        d->machine.anchor[k] = d->here.anchor[k] = room->anchor[k];
        d->target.rest_m[k] = vec_norm(vec_sub(room->anchor[k], d->told)) - s.middle_n[k] / room->stiffness_npm;
    }
    sim_physics_init(&d->machine, &d->physics, d->told, d->target.rest_m);
}

static void step(struct drive *d, enum symmetric_rates rates, struct vec3 velocity)
{
    if (rates == SYMMETRIC_TRUE)
        cords_rates(&d->here, d->told, velocity, d->target.rate_mps);
    else
        cords_rates(&d->ideal, d->ideal_centre, velocity, d->target.rate_mps);
    for (int k = 0; k < 4; k++)
        d->target.rest_m[k] += d->target.rate_mps[k] * DT;
    d->told = vec_along(d->told, velocity, DT);
    sim_physics_step(&d->machine, &d->physics, &d->target, DT);
}

static struct symmetric_reading read_off(const struct drive *d)
{
    struct tension_state wanted;
    struct symmetric_reading r = {.least_n = INFINITY, .astray_m = vec_norm(vec_sub(d->physics.position, d->told))};
    tension_solve(&d->rig, d->told, (struct vec3){0, 0, 0}, &wanted);
    for (int k = 0; k < 4; k++) {
        double t = d->physics.tension_n[k];
        r.error_n = fmax(r.error_n, fabs(t - wanted.middle_n[k]));
        r.least_n = fmin(r.least_n, t);
        r.most_n = fmax(r.most_n, t);
    }
    return r;
}

static void watch(const struct drive *d, double far, struct symmetric_way *way)
{
    for (int k = 0; k < 4; k++) {
        if (way->cord < 0 && d->physics.tension_n[k] < SYMMETRIC_LEAST_N) {
            way->cord = k;
            way->reached_m = far;
        }
        if (d->physics.tension_n[k] > SYMMETRIC_MOST_N)
            way->over_m = fmin(way->over_m, far);
    }
}

void symmetric_drive(const struct symmetric_room *room, enum symmetric_rates rates, double bearing,
                     struct symmetric_way *way)
{
    struct drive d;
    double far = 0, edge = edge_m(room, bearing);
    hang(&d, room);
    *way = (struct symmetric_way){.cord = -1, .reached_m = INFINITY, .over_m = INFINITY};
    for (long n = 0; far <= edge && way->stations < SYMMETRIC_STATIONS; n++) {
        double t = (double)n * DT, speed = SPEED_MPS * (t < RAMP_S ? 0.5 - 0.5 * cos(PI * t / RAMP_S) : 1);
        step(&d, rates, (struct vec3){speed * cos(bearing), speed * sin(bearing), 0});
        far += speed * DT;
        watch(&d, far, way);
        if (far >= (way->stations + 1) * SYMMETRIC_STEP_M)
            way->at[way->stations++] = read_off(&d);
    }
}
