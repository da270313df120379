/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* For the analyser only: a room that says anything, whatever it is asked. Of what stands behind an index, and of which
 * kind it is, it says what there is; every distance is any number, or none. Included once. */
#ifndef STEADYHAND_PROOF_ANY_ROOM_H
#define STEADYHAND_PROOF_ANY_ROOM_H

#include "policy/motion/guard.h"
#include "policy/motion/volume_keep.h"
#include "tests/proof/rooms.h"

static struct volume_clearance any_clearance(void)
{
    ANY(struct volume_clearance, c);
    c.bound = (enum volume_bound)among(VOLUME_STAGE, VOLUME_TETHER_END);
    c.keepout = among(0, VOLUME_MAX_KEEPOUTS - 1);
    return c;
}

void volume_look(struct volume_near *near, const struct volume *volume, const struct volume_now *now, struct vec3 at,
                 double within_m)
{
    ANY(struct volume_near, seen);
    *near = seen;
    near->vol = volume;
    near->nearest = any_clearance();
    (void)now, (void)at, (void)within_m;
}

struct volume_clearance volume_clearance(const struct volume *volume, const struct volume_now *now,
                                         struct vec3 position)
{
    (void)volume, (void)now, (void)position;
    return any_clearance();
}

struct volume_clearance volume_path_clearance(const struct volume_near *near, struct vec3 from, struct vec3 to,
                                              double enough)
{
    (void)near, (void)from, (void)to, (void)enough;
    return any_clearance();
}

struct volume_clearance volume_narrow(const struct volume_near *near, struct vec3 from, struct vec3 to, double below_m,
                                      struct volume_few *few)
{
    ANY(struct volume_few, narrowed);
    *few = narrowed;
    few->near = near;
    (void)from, (void)to, (void)below_m;
    return any_clearance();
}

struct volume_clearance volume_few_clearance(struct volume_few *few, struct vec3 from, struct vec3 to, double enough)
{
    (void)few, (void)from, (void)to, (void)enough;
    return any_clearance();
}

struct volume_clearance volume_turned_clearance(const struct volume_near *near, struct vec3 from, struct vec3 to,
                                                double yaw_rad, double yaw_off_rad, double enough)
{
    (void)near, (void)from, (void)to, (void)yaw_rad, (void)yaw_off_rad, (void)enough;
    return any_clearance();
}

bool volume_keep(const struct volume_near *near, struct vec3 to, double margin_m, struct volume_clearance *block)
{
    (void)near, (void)to, (void)margin_m;
    if (either())
        *block = any_clearance();
    return either();
}

bool volume_valid(const struct volume *volume)
{
    (void)volume;
    return either();
}

static struct guard_config a_guard_config(void)
{
    ANY(struct guard_config, cfg);
    struct volume_outline *o = &cfg.volume.outline;
    o->boom_m = between(0, 1e3);
    o->limbs = among(0, VOLUME_MAX_LIMBS);
    for (int i = 0; i < VOLUME_MAX_LIMBS; i++)
        o->limb[i] = (struct volume_limb){within_cube(1e3), within_cube(1e3), between(0, 1e3)};
    cfg.margin_m = between(0, 1e3);
    cfg.latency_s = between(0, 1e3);
    cfg.lease_s = between(1e-4, 1e3);
    cfg.brake_mps2 = between(1e-3, 1e3);
    cfg.speed_mps = between(1e-3, FASTEST);
    cfg.swing_max_rad = between(1e-3, 10);
    cfg.dt_s = between(1e-4, 1);
    return cfg;
}

#endif
