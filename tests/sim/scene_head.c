/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/scene_head.h"

#define TICK_S (SCENE_STEP_S * SCENE_STEPS_A_TICK)

static void make_axis(struct scene *s, enum head_axis axis, double reach, struct random *r)
{
    double home = axis == HEAD_ZOOM ? 1 : 0, least = axis == HEAD_ZOOM ? 1 : -reach, speed = random_between(r, 0.1, 1);
    s->cfg.head.config.axis[axis] = (struct head_axis_config){least, reach, home, {speed, 2 * speed, 8 * speed}};
    s->head.axis[axis] = (struct sim_head_axis){least - 1, reach + 1, home, 2 * speed, 4 * speed};
}

/* A box somewhere in what the head can reach, or a slab across it, that does not hold home. */
static bool any_region(const struct head_config *c, struct head_region *region, struct random *r)
{
    bool holds_home = true;
    for (int i = 0; i < HEAD_TURNING; i++) {
        const struct head_axis_config *axis = &c->axis[i];
        double size = (axis->max - axis->min) * random_between(r, 0.05, 0.4);
        region->from[i] = random_between(r, axis->min, axis->max - size / 2);
        region->to[i] = region->from[i] + size;
        if (random_chance(r, 0.4)) {
            region->from[i] = -(double)INFINITY;
            region->to[i] = (double)INFINITY;
        }
        holds_home =
            holds_home && axis->home > region->from[i] - c->clear_rad && axis->home < region->to[i] + c->clear_rad;
    }
    return !holds_home;
}

static void make_regions(struct head_config *c, struct random *r)
{
    int wanted = random_chance(r, 0.5) ? 0 : 1 + random_below(r, HEAD_MAX_REGIONS);
    for (c->regions = 0; c->regions < wanted;)
        c->regions += any_region(c, &c->region[c->regions], r);
}

void scene_head_make(struct scene *s, struct random *r)
{
    struct policy_head *head = &s->cfg.head;
    s->head = (struct sim_head_config){.there = random_chance(r, 0.4), .latency_s = 0.01};
    head->there = s->head.there;
    if (!head->there)
        return;
    if (random_chance(r, 0.5))
        s->cfg.guard.volume.outline.yaw = VOLUME_YAW_PAN; /* what there is of limbs turns with it */
    make_axis(s, HEAD_PAN, random_between(r, 0.5, 3), r);
    make_axis(s, HEAD_TILT, random_between(r, 0.3, 1.2), r);
    make_axis(s, HEAD_ROLL, random_between(r, 0.1, 0.5), r);
    make_axis(s, HEAD_ZOOM, random_between(r, 1.5, 8), r);
    struct head_config *c = &head->config;
    c->clear_rad = 0.03;
    c->hfov_wide_rad = random_between(r, 0.4, 1.2);
    make_regions(c, r);
    c->arrived = 0.01;
    c->rest_s = 0.5;
    c->recover_s = 20;
    c->dt_s = TICK_S;
    head->aspect = 16.0 / 9;
    head->cross_s = random_chance(r, 0.5) ? 0 : 7;
    for (int l = 0; l < LANE_COUNT; l++)
        head->share[l] = random_chance(r, 0.5) ? 1 : random_between(r, 0, 1);
}

/* Something that must not be seen, beside what the head looks at from home: turning and moving both bring it into the
 * picture. */
static struct shape any_shape(struct random *r)
{
    double turn = random_between(r, 0.4, 1.6) * (random_chance(r, 0.5) ? 1 : -1), away = random_between(r, 1.5, 4);
    struct vec3 at = {away * cos(turn), away * sin(turn), random_between(r, 0, 2.5)};
    if (random_chance(r, 0.5))
        return (struct shape){.kind = SHAPE_SPHERE, .as.sphere = {at, random_between(r, 0.1, 0.6)}};
    struct vec3 half = {random_between(r, 0.05, 0.5), random_between(r, 0.05, 0.5), random_between(r, 0.05, 0.8)};
    return (struct shape){.kind = SHAPE_BOX, .as.block = shape_block_turned(at, half, random_between(r, 0, 3), 0, 0)};
}

void scene_head_view(struct scene *s, struct random *r)
{
    struct view *view = &s->cfg.view;
    *view = (struct view){.boom_m = s->cfg.guard.volume.outline.boom_m,
                          .camera = random_in_ball(r, 0.15),
                          .range_m = random_between(r, 3, 8)};
    view->shapes = s->head.there && random_chance(r, 0.5) ? 1 + random_below(r, TRUTH_VIEW_SHAPES) : 0;
    for (int k = 0; k < view->shapes; k++)
        view->shape[k] = any_shape(r);
    view_prepare(view);
    truth_view_init(&s->unseen, view, r);
}
