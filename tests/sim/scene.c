/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/scene.h"

#include "tests/sim/scene_head.h"
#include "tests/sim/scene_limits.h"
#include "tests/sim/scene_rig.h"
#include "tests/sim/scene_room.h"

enum { STARTS = 60 };

#define TIGHT           0.3 /* of all scenes */
#define RESONANCE       4.0 /* pushed to and fro in time, cords give so many times as much as to a steady load */
#define WIDE            0.06
#define CLEAR_OF_VIEW_M 0.3

bool scene_has(const struct scene *s, enum wire_source source)
{
    return s->sensors.sensor[source].there;
}

static bool find_start(struct scene *s, struct random *r)
{
    const struct guard_config *guard = &s->cfg.guard;
    const struct show_sensor *pose = &s->sensors.sensor[WIRE_POSE];
    struct volume_now now = volume_now_usual();
    struct guard_input at_rest = {.uncertainty_m = 6 * pose->sigma + 2 * pose->bias, .accel_mps2 = guard->brake_mps2};
    struct view_span looks = {.hfov_rad = s->cfg.head.config.hfov_wide_rad,
                              .azimuth_rad = {s->yaw_rad - s->sway_rad, s->yaw_rad + s->sway_rad}};
    looks.vfov_rad = looks.hfov_rad;
    now.yaw_rad = s->yaw_rad;
    now.yaw_off_rad = 2 * s->sway_rad;
    double margin = 1.1 * guard_margin(guard, &at_rest);
    for (int i = 0; i < STARTS; i++) {
        struct vec3 p = vec_add((struct vec3){0, 0, 1.5}, random_in_ball(r, 3));
        if (volume_clearance(&guard->volume, &now, p).distance_m < margin)
            continue;
        looks.from = looks.to = p;
        if (s->cfg.view.shapes > 0 && view_look(&s->cfg.view, &looks, 1).distance_m < CLEAR_OF_VIEW_M)
            continue;
        s->start = p;
        return true;
    }
    return false;
}

/* Which sensor: one that is there and helps to place the platform. */
static enum wire_source any_source(const struct scene *s, struct random *r)
{
    for (;;) {
        enum wire_source source = (enum wire_source)random_below(r, WIRE_TILT);
        if (source != WIRE_TENSION && scene_has(s, source))
            return source;
    }
}

static void make_trouble(struct scene *s, enum fault fault, struct random *r)
{
    struct scene_trouble *t = &s->trouble;
    enum fault chosen = (enum fault)random_below(r, FAULT_COUNT); /* drawn in any case: the rest must not change */
    t->fault = fault < FAULT_COUNT ? fault : chosen;
    t->begin = 300 + random_below(r, 1200);
    bool breaks = t->fault == FAULT_PARTED || t->fault == FAULT_ANCHOR; /* that does not mend itself */
    t->end = random_chance(r, 0.5) && !breaks ? t->begin + 5 + random_below(r, 300) : 1 << 30;
    t->size = random_between(r, 0, 1);
    t->way = random_direction(r);
    t->watched = random_chance(r, 0.6);
}

void scene_make(struct scene *s, uint64_t seed, enum fault fault, struct random *r)
{
    struct policy_config *cfg = &s->cfg;
    *s = (struct scene){.seed = seed};
    make_trouble(s, fault, r);
    s->tight = random_chance(r, TIGHT);
    s->wide = random_chance(r, WIDE);
    for (;;) {
        scene_room_make(&cfg->guard.volume, s->wide, r);
        scene_limits_make(s, r);
        scene_rig_network(s, r);
        scene_rig_machine(s, r);
        if (s->wide && !scene_rig_reach(s))
            continue;
        if (!volume_prepare(&cfg->guard.volume) || !scene_rig_carries(s, r) || s->slip_m > (s->tight ? 0.004 : 0.03))
            continue;
        cfg->guard.margin_m += RESONANCE * s->slip_m;
        scene_head_view(s, r);
        scene_rig_sensors(s, r);
        if (policy_config_valid(cfg) && find_start(s, r))
            break;
    }
    s->trouble.cord = random_below(r, s->physics.cords);
    s->trouble.source = any_source(s, r);
}
