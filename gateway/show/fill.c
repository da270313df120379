/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/fill.h"

#include <math.h>
#include <string.h>

#include "gateway/show/fill_limits.h"
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

static struct shape solid_of(const struct layout_solid *s)
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

static void fill_outline(const struct layout_draft *draft, struct volume_outline *o)
{
    *o = (struct volume_outline){
        .limbs = 1 + (int)draft->limbs,
        .limb = {{.radius_m = draft->body_radius_m}},
        .yaw = (enum volume_yaw)draft->yaw,
        .boom_m = draft->boom_m,
        .boom_radius_m = draft->boom_radius_m,
        .cord_radius_m = draft->cord_radius_m,
        .cords = (int)draft->anchors,
    };
    for (uint32_t i = 0; i < draft->limbs; i++)
        o->limb[i + 1] = (struct volume_limb){draft->limb[i].from, draft->limb[i].to, draft->limb[i].radius_m};
    memcpy(o->anchor, draft->anchor, draft->anchors * sizeof draft->anchor[0]);
    const struct layout_tether *t = &draft->tether;
    if (t->given && t->kind == 0)
        o->tether = (struct volume_tether){VOLUME_TETHER_STRAIGHT, t->anchor, t->length_m, t->radius_m, 0, 0};
    else if (t->given)
        o->tether =
            (struct volume_tether){VOLUME_TETHER_HANGING, t->anchor, t->length_m, t->radius_m, t->side_m, t->floor_m};
}

static void fill_volume(const struct layout_draft *draft, struct volume *volume)
{
    fill_outline(draft, &volume->outline);
    volume->stages = 1 + (int)draft->extensions;
    volume->stage[0] = fill_prism(&draft->stage);
    for (uint32_t i = 0; i < draft->extensions; i++)
        volume->stage[i + 1] = fill_prism(&draft->extension[i]);
    volume->keepouts = (int)draft->keepouts;
    for (uint32_t i = 0; i < draft->keepouts; i++) {
        const struct layout_zone *zone = &draft->keepout[i];
        volume->keepout[i] = (struct volume_keepout){solid_of(&zone->solid), zone->padding_m, zone->yields};
    }
    volume_prepare(volume);
}

static void fill_zones(const struct layout_draft *draft, struct policy_config *policy)
{
    const struct layout_subject *s = &draft->subject;
    policy->zones = (int)draft->slows;
    for (uint32_t i = 0; i < draft->slows; i++)
        policy->zone[i] = (struct policy_zone){solid_of(&draft->slow[i].solid), draft->slow[i].speed_mps};
    policy->view = (struct view){
        .boom_m = draft->boom_m,
        .camera = vec_finite(draft->head.camera) ? draft->head.camera : (struct vec3){0, 0, 0},
        .range_m = draft->head.given ? draft->head.range_m : 1,
        .shapes = (int)draft->views,
    };
    for (uint32_t i = 0; i < draft->views; i++)
        policy->view.shape[i] = solid_of(&draft->view[i].solid);
    view_prepare(&policy->view);
    if (s->given)
        policy->subject =
            (struct policy_subject){true, s->required, s->radius_m, s->height_m, s->speed_mps, s->uncertainty_m};
}

static void fill_lanes(const struct layout_draft *draft, struct policy_config *policy)
{
    struct lanes_config *lanes = &policy->lanes;
    lanes->max_nudge_m = draft->show.crowd.step_m;
    lanes->brake_mps2 = policy->guard.brake_mps2;
    lanes->dt_s = policy->guard.dt_s = 1.0 / TICKS_PER_S;
    policy->guard.speed_mps = fmax(draft->operator.speed_mps, draft->audience.speed_mps);
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

/* The room alone, names included. */
static void fill_room(const struct layout_draft *draft, struct show *show)
{
    *show = draft->show;
    fill_volume(draft, &show->policy.guard.volume);
    fill_zones(draft, &show->policy);
    fill_limits(draft, &show->policy);
    name_all(draft->keepouts, draft->keepout, show->keepout_name);
    name_all(draft->slows, draft->slow, show->slow_name);
    name_all(draft->views, draft->view, show->view_name);
}

static void fill_stop(const struct layout_stop *draft, struct show *show)
{
    const enum stop_category usual = (enum stop_category)LAYOUT_CATEGORY;
    double confirm_s = draft->given ? draft->confirm_s : LAYOUT_CONFIRM_S;
    double standstill_s = draft->given ? draft->standstill_s : LAYOUT_STANDSTILL_S;
    show->stop = (struct show_stop){usual, usual, usual};
    show->policy.stop =
        (struct policy_stop){usual, {(uint64_t)llround(confirm_s * 1e9), (uint64_t)llround(standstill_s * 1e9)}};
    if (!draft->categories)
        return;
    show->stop = (struct show_stop){(enum stop_category)draft->operator,(enum stop_category) draft->spotter,
                                    (enum stop_category)draft->moderator};
    show->policy.stop.inhibit = (enum stop_category)draft->inhibit;
}

void fill_show(const struct layout_draft *draft, struct show *show)
{
    fill_room(draft, show);
    fill_lanes(draft, &show->policy);
    fill_rig(draft, show);
    fill_stop(&draft->stop, show);
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
