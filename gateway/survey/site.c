/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/site.h"

#include <string.h>

#include "policy/motion/units.h"

#define AROUND_M 0.5
#define ABOVE_M  0.8 /* with room for the names of the anchors */

static void add_zone(struct site *site, enum site_kind kind, const char *name, const struct shape *shape,
                     double padding_m, double speed_mps)
{
    static const char letter[] = {'K', 'K', 'S', 'V'};
    int same = 1;
    for (int i = 0; i < site->zones; i++)
        same += letter[site->zone[i].kind] == letter[kind];
    struct site_zone *zone = &site->zone[site->zones++];
    *zone = (struct site_zone){kind, "", name, *shape, padding_m, speed_mps};
    snprintf(zone->label, sizeof zone->label, "%c%d", letter[kind], same % 1000);
}

static void add_zones(struct site *site, const struct show *show)
{
    const struct volume *volume = &show->policy.guard.volume;
    for (int i = 0; i < volume->keepouts; i++) {
        const struct volume_keepout *k = &volume->keepout[i];
        add_zone(site, k->yields ? SITE_KEEP_OUT_YIELDS : SITE_KEEP_OUT, show->keepout_name[i], &k->shape, k->padding_m,
                 0);
    }
    for (int i = 0; i < show->policy.zones; i++)
        add_zone(site, SITE_SLOW, show->slow_name[i], &show->policy.zone[i].shape, 0, show->policy.zone[i].speed_mps);
    for (int i = 0; i < show->policy.view.shapes; i++)
        add_zone(site, SITE_NO_VIEW, show->view_name[i], &show->policy.view.shape[i], 0, 0);
}

/* ---- Around it all ---- */

static void bound(struct site *site)
{
    const struct volume_outline *outline = &site->room.outline;
    site->stage_box = shape_prism_box(site->stage, site->stages);
    site->box = site->stage_box;
    for (int k = 0; k < outline->cords; k++)
        shape_box_widen(&site->box, outline->anchor[k]);
    shape_box_widen(&site->box, site->home);
    if (outline->tether.kind != VOLUME_TETHER_NONE)
        shape_box_widen(&site->box, outline->tether.anchor);
    site->box.lo.z = fmin(site->box.lo.z, 0);
    site->box.lo = vec_add(site->box.lo, (struct vec3){-AROUND_M, -AROUND_M, -AROUND_M / 2});
    site->box.hi = vec_add(site->box.hi, (struct vec3){AROUND_M, AROUND_M, ABOVE_M});
}

void site_from_show(struct site *site, const struct show *show)
{
    memset(site, 0, sizeof *site);
    site->name = show->name;
    site->room = site->bare = show->policy.guard.volume;
    site->room.reach = site->bare.reach = NULL;
    site->bare.keepouts = 0;
    site->bare.outline.tether.kind = VOLUME_TETHER_NONE;
    volume_prepare(&site->bare);
    site->now = volume_now_usual();
    site->now.yaw_off_rad = UNITS_TURN;
    site->stages = site->room.stages;
    memcpy(site->stage, site->room.stage, sizeof site->stage);
    site->home = show->home;
    site->cords = &show->cords;
    for (int lane = 0; lane < LANE_COUNT; lane++)
        for (int mode = 0; mode < LIMITS_MODES; mode++)
            site->speed_mps = fmax(site->speed_mps, show->policy.limits.cell[lane][mode].speed_mps);
    add_zones(site, show);
    bound(site);
    const struct limits *shown = &show->policy.limits.cell[LANE_OPERATOR][LIMITS_SHOW];
    site->low_m = shown->floor_m > site->stage_box.lo.z ? shown->floor_m : -INFINITY;
    site->high_m = shown->ceiling_m < site->stage_box.hi.z ? shown->ceiling_m : INFINITY;
}

/* ---- Questions ---- */

double site_stage_depth(const struct site *site, struct vec3 p)
{
    double depth = -INFINITY;
    for (int s = 0; s < site->stages; s++)
        depth = fmax(depth, -shape_prism_distance(&site->stage[s], p));
    return depth;
}

double site_stage_depth_in_plan(const struct site *site, double x, double y)
{
    double depth = -INFINITY;
    for (int s = 0; s < site->stages; s++) {
        struct shape_prism tall = site->stage[s];
        tall.z_lo = -SHAPE_FAR_M;
        tall.z_hi = SHAPE_FAR_M;
        depth = fmax(depth, -shape_prism_distance(&tall, (struct vec3){x, y, 0}));
    }
    return depth;
}

bool site_fits(const struct site *site, struct vec3 platform, double slack)
{
    return volume_clearance(&site->bare, &site->now, platform).distance_m >= -slack;
}

void site_heights(const struct shape *shape, double *lo, double *hi)
{
    const struct shape_block *b = &shape->as.block;
    const struct shape_capsule *c = &shape->as.capsule;
    double half;
    *lo = -INFINITY;
    *hi = INFINITY;
    switch (shape->kind) {
    case SHAPE_BOX:
        half = fabs(b->axis[0].z) * b->half.x + fabs(b->axis[1].z) * b->half.y + fabs(b->axis[2].z) * b->half.z;
        *lo = b->centre.z - half;
        *hi = b->centre.z + half;
        break;
    case SHAPE_PRISM:
        *lo = shape->as.prism.z_lo;
        *hi = shape->as.prism.z_hi;
        break;
    case SHAPE_SPHERE:
        *lo = shape->as.sphere.centre.z - shape->as.sphere.radius_m;
        *hi = shape->as.sphere.centre.z + shape->as.sphere.radius_m;
        break;
    case SHAPE_CAPSULE:
        *lo = fmin(c->a.z, c->b.z) - c->radius_m;
        *hi = fmax(c->a.z, c->b.z) + c->radius_m;
        break;
    case SHAPE_HALF_SPACE:
    case SHAPE_KINDS:
        break;
    }
}
