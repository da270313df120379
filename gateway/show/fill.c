/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/fill.h"

#include <string.h>

#include "gateway/show/fill_rig.h"

enum { TICKS_PER_S = 100 };

struct shape_prism fill_prism(const struct layout_prism *prism)
{
    struct shape_prism out = {.corners = (int)prism->corners, .z_lo = prism->floor_m, .z_hi = prism->ceiling_m};
    for (uint32_t i = 0; i < prism->corners; i++) {
        out.x[i] = prism->corner[i][0];
        out.y[i] = prism->corner[i][1];
    }
    return out;
}

static struct shape_block block(const struct layout_solid *s)
{
    struct vec3 centre = vec_scale(vec_add(s->from, s->to), 0.5), half = vec_scale(vec_sub(s->to, s->from), 0.5);
    return shape_block_turned(centre, half, s->yaw_rad, s->pitch_rad, s->roll_rad);
}

static struct shape_half_space half_space(const struct layout_solid *s)
{
    struct vec3 normal = vec_scale(s->normal, 1 / vec_norm(s->normal));
    return (struct shape_half_space){normal, vec_dot(normal, s->point)};
}

struct shape fill_solid(const struct layout_solid *s)
{
    struct shape out = {.kind = (enum shape_kind)s->shape};
    switch ((enum layout_shape)s->shape) {
    case LAYOUT_BOX:
        out.as.block = block(s);
        break;
    case LAYOUT_PRISM:
        out.as.prism = fill_prism(&s->prism);
        break;
    case LAYOUT_SPHERE:
        out.as.sphere = (struct shape_sphere){s->centre, s->radius_m};
        break;
    case LAYOUT_CAPSULE:
        out.as.capsule = (struct shape_capsule){s->from, s->to, s->radius_m};
        break;
    case LAYOUT_HALF_SPACE:
        out.as.half_space = half_space(s);
        break;
    case LAYOUT_SHAPES:
        break;
    }
    return out;
}

static void fill_volume(const struct layout_draft *draft, struct volume *volume)
{
    volume->outline.limbs = 1;
    volume->outline.limb[0] = (struct volume_limb){.radius_m = draft->body_radius_m};
    volume->outline.boom_m = draft->boom_m;
    volume->outline.boom_radius_m = draft->boom_radius_m;
    volume->outline.cord_radius_m = draft->cord_radius_m;
    volume->outline.cords = (int)draft->anchors;
    memcpy(volume->outline.anchor, draft->anchor, draft->anchors * sizeof draft->anchor[0]);
    volume->stages = 1;
    volume->stage[0] = fill_prism(&draft->stage);
    volume->keepouts = (int)draft->keepouts;
    for (uint32_t i = 0; i < draft->keepouts; i++) {
        const struct layout_zone *zone = &draft->keepout[i];
        volume->keepout[i] = (struct volume_keepout){fill_solid(&zone->solid), zone->padding_m, zone->yields};
    }
    volume_prepare(volume);
}

/* An idle lane only ever comes to rest: as gently as the gentler of the others. */
static void fill_lanes(const struct layout_draft *draft, struct policy_config *policy)
{
    const struct layout_limits *op = &draft->operator, * au = & draft->audience;
    struct lanes_config *lanes = &policy->lanes;
    const struct limits free = {.jerk_mps3 = LIMITS_JERK_FREE, .floor_m = -SHAPE_FAR_M, .ceiling_m = SHAPE_FAR_M};
    for (int m = 0; m < LIMITS_MODES; m++) {
        struct limits *cell[LANE_COUNT] = {&policy->limits.cell[LANE_IDLE][m], &policy->limits.cell[LANE_AUDIENCE][m],
                                           &policy->limits.cell[LANE_OPERATOR][m]};
        *cell[LANE_IDLE] = *cell[LANE_AUDIENCE] = *cell[LANE_OPERATOR] = free;
        cell[LANE_OPERATOR]->speed_mps = op->speed_mps;
        cell[LANE_OPERATOR]->accel_mps2 = op->accel_mps2;
        cell[LANE_AUDIENCE]->speed_mps = au->speed_mps;
        cell[LANE_AUDIENCE]->accel_mps2 = au->accel_mps2;
        cell[LANE_IDLE]->speed_mps = fmin(op->speed_mps, au->speed_mps);
        cell[LANE_IDLE]->accel_mps2 = fmin(op->accel_mps2, au->accel_mps2);
    }
    lanes->max_nudge_m = draft->show.crowd.step_m;
    lanes->brake_mps2 = policy->guard.brake_mps2;
    lanes->dt_s = policy->guard.dt_s = 1.0 / TICKS_PER_S;
    policy->guard.speed_mps = fmax(op->speed_mps, au->speed_mps);
}

static void fill_listener(const struct layout_listener *draft, struct show_listener *listener)
{
    memcpy(listener->host, draft->host, sizeof listener->host);
    memcpy(listener->origin, draft->origin, sizeof listener->origin);
    listener->port = (uint16_t)draft->port;
    listener->origins = (int)draft->origins;
}

/* A burst of n at one instant is a tolerance of n - 1 intervals (pace.h). */
static void fill_pace(const struct layout_draft *draft, struct pace_config *pace)
{
    pace->interval_ns = (uint64_t)llround(1e9 / draft->wishes_per_s);
    pace->tolerance_ns = (draft->wish_burst - 1) * pace->interval_ns;
}

static void name_all(uint32_t n, const struct layout_zone *zone, char (*name)[SHOW_NAME])
{
    for (uint32_t i = 0; i < n; i++)
        memcpy(name[i], zone[i].name, SHOW_NAME);
}

void fill_room(const struct layout_draft *draft, struct show *show)
{
    *show = draft->show;
    fill_volume(draft, &show->policy.guard.volume);
    name_all(draft->keepouts, draft->keepout, show->keepout_name);
    name_all(draft->slows, draft->slow, show->slow_name);
    name_all(draft->views, draft->view, show->view_name);
}

void fill_show(const struct layout_draft *draft, struct show *show)
{
    fill_room(draft, show);
    fill_lanes(draft, &show->policy);
    fill_rig(draft, show);
    fill_listener(&draft->audience_listen, &show->audience);
    fill_listener(&draft->desk_listen, &show->desk);
    fill_pace(draft, &show->admission.pace);
    if (!show->sim.enabled)
        memset(&show->sim, 0, sizeof show->sim);
    show->first_mode = (enum crowd_mode)draft->first_mode;
    show->rig_port = (uint16_t)draft->rig_port;
    show->edges = (int)draft->edges;
    show->audience_lag_s = draft->lag_s;
}
