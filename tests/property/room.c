/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/property/options.h"

#define MIDDLE_M 10.0 /* of the stage, in x and y */
#define SIZE_M   6.0

static void add_corner(struct shape_prism *stage, double x, double y)
{
    stage->x[stage->corners] = MIDDLE_M + x;
    stage->y[stage->corners++] = MIDDLE_M + y;
}

/* A square with a thin wall inwards from somewhere on each side. They may cross: then the room is made anew. */
static void make_hall(struct shape_prism *stage, struct random *r)
{
    const double thin = 0.01, half = SIZE_M * 0.7;
    for (int side = 0; side < 4; side++) {
        double c = side == 0 ? 1 : side == 2 ? -1 : 0, s = side == 1 ? 1 : side == 3 ? -1 : 0;
        double at = random_between(r, -0.8, 0.8) * half, tip = half - random_between(r, 0.2, 1.5) * half;
        double x[] = {half, half, tip, half}, y[] = {-half, at - thin, at, at + thin};
        for (int i = 0; i < 4; i++)
            add_corner(stage, c * x[i] - s * y[i], s * x[i] + c * y[i]);
    }
}

/* A star around the middle: corners at growing angles, near or far, so often concave, never crossing itself. */
static void make_star(struct shape_prism *stage, struct random *r)
{
    double size = random_between(r, 1.5, SIZE_M);
    int corners = 3 + random_below(r, 8);
    for (int i = 0; i < corners; i++) {
        double turn = 2 * 3.14159265358979323846 * (i + random_between(r, 0, 0.8)) / corners;
        double reach = size * random_between(r, 0.25, 1);
        add_corner(stage, reach * cos(turn), reach * sin(turn));
    }
}

static void make_stage(struct shape_prism *stage, bool hall, struct random *r)
{
    if (hall)
        make_hall(stage, r);
    else
        make_star(stage, r);
    stage->z_lo = random_between(r, 0, 1);
    stage->z_hi = stage->z_lo + random_between(r, 1, 3);
}

static void make_keepouts(struct volume *vol, bool hall, struct random *r)
{
    const double lo_m = MIDDLE_M - SIZE_M * 0.6, hi_m = MIDDLE_M + SIZE_M * 0.5;
    vol->keepouts = random_below(r, hall ? 16 : 7);
    for (int k = 0; k < vol->keepouts; k++) {
        struct vec3 lo = {random_between(r, lo_m, hi_m), random_between(r, lo_m, hi_m), random_between(r, -0.5, 1.5)};
        double post = hall || random_chance(r, 0.3) ? 0.05 : 1;
        struct vec3 size = {post * random_between(r, 0.2, 1.5), post * random_between(r, 0.2, 1.5),
                            hall ? 4 : random_between(r, 0.3, 3)};
        struct shape_box box = {lo, vec_add(lo, size)};
        vol->keepout[k].shape = shape_from_box(&box);
        vol->keepout[k].padding_m = random_chance(r, 0.5) ? 0 : random_between(r, 0, 0.2);
    }
    volume_prepare(vol);
}

static void make_outline(struct volume *vol, bool hall, struct random *r)
{
    struct volume_outline *o = &vol->outline;
    o->limbs = 1;
    o->limb[0].radius_m = random_between(r, 0.03, hall ? 0.05 : 0.2);
    o->boom_m = hall || random_chance(r, 0.5) ? 0 : random_between(r, 0.05, 0.5);
    o->boom_radius_m = random_between(r, 0, 0.03);
    o->cord_radius_m = random_between(r, 0, 0.005);
    o->cords = hall || random_chance(r, 0.2) ? 0 : 3 + random_below(r, 3); /* cords would make fences of posts */
    for (int i = 0; i < o->cords; i++) {
        double turn = 2 * 3.14159265358979323846 * i / o->cords;
        o->anchor[i] = (struct vec3){MIDDLE_M + 1.5 * SIZE_M * cos(turn), MIDDLE_M + 1.5 * SIZE_M * sin(turn),
                                     vol->stage[0].z_hi + random_between(r, 0.1, 1)};
    }
}

static void make_network(struct room *room, struct random *r)
{
    struct guard_config *guard = &room->cfg.guard;
    room->command_steps = random_below(r, 20);
    room->telemetry_steps = random_below(r, 20);
    guard->latency_s = (room->command_steps + room->telemetry_steps) * STEP_S;
    guard->lease_s = random_between(r, 0.02, 0.4);
    /* A lapse stops the show, so not so much that several in a row are lost all the time. */
    room->loss = random_chance(r, 0.5) ? 0 : random_between(r, 0, fmin(0.5, guard->lease_s * 2));
    room->late = random_chance(r, 0.7) ? 0 : random_between(r, 0, 0.5);
    room->ticks_a_report = random_chance(r, 0.7) ? 1 : 1 + random_below(r, 9);
    room->uneven = random_chance(r, 0.7) ? 0 : random_between(r, 0, 0.5);
}

static void make_speeds(struct policy_config *cfg, bool fast, struct random *r)
{
    struct guard_config *guard = &cfg->guard;
    struct lanes_config *lanes = &cfg->lanes;
    guard->brake_mps2 = lanes->brake_mps2 = fast ? random_between(r, 0.5, 1.5) : 2 * exp(random_between(r, -3, 0));
    guard->speed_mps = fast ? random_between(r, 0.8, 2) : random_between(r, 0.1, 1);
    for (int l = 0; l < LANE_COUNT; l++) {
        double gentle = fast || random_chance(r, 0.3) ? 1 : random_between(r, 0.2, 1);
        double speed = guard->speed_mps * random_between(r, 0.5, 1), accel = guard->brake_mps2 * gentle;
        for (int m = 0; m < LIMITS_MODES; m++)
            cfg->limits.cell[l][m] = (struct limits){speed, accel, LIMITS_JERK_FREE, -SHAPE_FAR_M, SHAPE_FAR_M, false};
    }
}

static void make_limits(struct policy_config *cfg, bool hall, struct random *r)
{
    struct guard_config *guard = &cfg->guard;
    struct lanes_config *lanes = &cfg->lanes;
    guard->dt_s = lanes->dt_s = STEP_S * STEPS_A_TICK;
    guard->margin_m = random_between(r, 0.01, 0.06);
    guard->swing_max_rad = random_between(r, 0.1, 0.6);
    make_speeds(cfg, hall || random_chance(r, 0.2), r);
    lanes->max_nudge_m = random_between(r, 0.1, 1);
    lanes->goal_timeout_s = random_between(r, 1, 6);
    cfg->stop.inhibit = (enum stop_category)(random_chance(r, 0.7) ? STOP_CATEGORY_2 : random_below(r, 3));
    cfg->telemetry_timeout_ns = 1000000 * (uint64_t)(100 + random_below(r, 200));
    cfg->presence_timeout_ns = 1000000 * (uint64_t)(500 + random_below(r, 1500));
    cfg->presence_required = random_chance(r, 0.5);
    cfg->jump_mps = random_between(r, 2, 4);
}

/* The rig hangs at rest; nothing but the margin for that is asked of the start. */
static bool find_start(struct room *room, struct random *r)
{
    const struct guard_config *guard = &room->cfg.guard;
    struct guard_input at_rest = {.uncertainty_m = room->uncertainty_m, .accel_mps2 = guard->brake_mps2};
    struct volume_now now = options_usual(&room->cfg);
    double margin = guard_margin(guard, &at_rest);
    for (int i = 0; i < 200; i++) {
        struct vec3 p = vec_add((struct vec3){MIDDLE_M, MIDDLE_M, 2}, random_in_ball(r, SIZE_M));
        if (volume_clearance(&guard->volume, &now, p).distance_m < margin + room->uncertainty_m)
            continue;
        room->start = p;
        return true;
    }
    return false;
}

/* A third of the rooms are halls: large, fast, with thin things in them that long braking paths can reach round. */
void room_make(struct room *room, struct random *r)
{
    do {
        bool hall = random_chance(r, 0.33);
        *room = (struct room){.swing_damping = random_between(r, 0.01, 0.1)};
        struct volume *vol = &room->cfg.guard.volume;
        vol->stages = 1;
        make_stage(&vol->stage[0], hall, r);
        make_keepouts(vol, hall, r);
        make_outline(vol, hall, r);
        make_network(room, r);
        make_limits(&room->cfg, hall, r);
        room->uncertainty_m = room->cfg.guard.margin_m * random_between(r, 0, 0.33);
        room->bias = random_in_ball(r, room->uncertainty_m * (random_chance(r, 0.5) ? 0.9 : 0));
        options_make(room, r);
    } while (!policy_config_valid(&room->cfg) || !find_start(room, r));
}
