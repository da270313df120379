/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/scene_room.h"

#define TURN 6.283185307179586

static double random_turn(struct random *r)
{
    return random_between(r, 0, TURN);
}

/* Around the room, high up; with seven or eight cords some pull from below, as on rigs that hold the platform stiffly.
 */
static void make_anchors(struct volume_outline *o, double size, double top, struct random *r)
{
    o->cords = 3 + random_below(r, 6);
    int low = o->cords >= 7 && random_chance(r, 0.5) ? 3 : 0, high = o->cords - low;
    double first = random_turn(r);
    for (int i = 0; i < o->cords; i++) {
        int n = i < high ? high : low;
        double turn = first + TURN * (i + random_between(r, 0, 0.25)) / n;
        double reach = size * random_between(r, 0.85, 1.15);
        double z = i < high ? top + random_between(r, -0.2, 0.2) : random_between(r, -0.1, 0.2);
        o->anchor[i] = (struct vec3){reach * cos(turn), reach * sin(turn), z};
    }
}

static void add_corner(struct shape_prism *prism, double x, double y)
{
    prism->x[prism->corners] = x;
    prism->y[prism->corners++] = y;
}

/* A star around a place, so often concave, and always simple. */
static struct shape_prism star(double x, double y, double size, double least, struct random *r)
{
    int corners = 3 + random_below(r, 8);
    double first = random_turn(r);
    struct shape_prism prism = {.corners = 0};
    for (int i = 0; i < corners; i++) {
        double turn = first + TURN * (i + random_between(r, 0, 0.7)) / corners;
        double reach = size * random_between(r, least, 1);
        add_corner(&prism, x + reach * cos(turn), y + reach * sin(turn));
    }
    return prism;
}

/* One star around the middle, or a smaller one with others that it runs into. */
static void make_stages(struct volume *vol, double size, double top, struct random *r)
{
    vol->stages = random_chance(r, 0.85) ? 1 : 2 + random_below(r, 2);
    double low = random_between(r, 0.1, 0.8), high = top - random_between(r, 0.35, 0.7) - 0.05 * size;
    for (int i = 0; i < vol->stages; i++) {
        double turn = random_turn(r), off = i == 0 ? 0 : 0.5 * size, part = vol->stages == 1 ? 1 : i == 0 ? 0.7 : 0.45;
        struct shape_prism *stage = &vol->stage[i];
        *stage = star(off * cos(turn), off * sin(turn), part * size, random_chance(r, 0.5) ? 0.8 : 0.35, r);
        stage->z_lo = low + (i == 0 ? 0 : random_between(r, -0.1, 0.3));
        stage->z_hi = high - (i == 0 ? 0 : random_between(r, 0, 0.3));
    }
}

static struct vec3 somewhere(double size, double low, double high, struct random *r)
{
    double turn = random_turn(r), reach = size * sqrt(random_between(r, 0.02, 1));
    return (struct vec3){reach * cos(turn), reach * sin(turn), random_between(r, low, high)};
}

static struct shape box(struct vec3 at, bool turned, struct random *r)
{
    double wide = random_chance(r, 0.3) ? 0.1 : 0.8;
    struct vec3 half = {wide * random_between(r, 0.1, 0.7), wide * random_between(r, 0.1, 0.7),
                        random_between(r, 0.1, random_chance(r, 0.2) ? 1.2 : 0.6)};
    double tilt = turned && random_chance(r, 0.5) ? 1 : 0;
    return (struct shape){.kind = SHAPE_BOX,
                          .as.block = shape_block_turned(at, half, turned ? random_turn(r) : 0,
                                                         tilt * random_between(r, -0.8, 0.8),
                                                         tilt * random_between(r, -0.8, 0.8))};
}

/* A wall, a slope or a ceiling that cuts off a part of the stage. */
static struct shape half_space(double size, struct random *r)
{
    struct vec3 n = random_direction(r);
    n.z *= 0.4;
    n = vec_scale(n, 1 / vec_norm(n));
    struct vec3 edge = vec_scale(n, -size * random_between(r, 0.4, 1));
    return (struct shape){.kind = SHAPE_HALF_SPACE, .as.half_space = {n, vec_dot(n, edge)}};
}

static struct shape any_shape(double size, struct random *r)
{
    struct vec3 at = somewhere(size, -0.1, 1.2, r);
    int kind = random_below(r, 10);
    struct shape shape = {.kind = SHAPE_SPHERE, .as.sphere = {at, random_between(r, 0.05, 0.5)}};
    if (kind < 5)
        return box(at, kind > 1, r);
    if (kind == 5)
        return half_space(size, r);
    if (kind == 6)
        return shape;
    if (kind < 9) {
        shape.kind = SHAPE_CAPSULE;
        shape.as.capsule = (struct shape_capsule){at, vec_along(at, random_direction(r), random_between(r, 0, 1.5)),
                                                  random_between(r, 0.02, 0.3)};
        return shape;
    }
    shape.kind = SHAPE_PRISM;
    shape.as.prism = star(at.x, at.y, random_between(r, 0.2, 0.8), 0.3, r);
    shape.as.prism.z_lo = at.z - random_between(r, 0.1, 0.6);
    shape.as.prism.z_hi = at.z + random_between(r, 0.1, 0.6);
    return shape;
}

static void make_keepouts(struct volume *vol, double size, struct random *r)
{
    vol->keepouts = random_below(r, 9);
    for (int k = 0; k < vol->keepouts; k++)
        vol->keepout[k] = (struct volume_keepout){
            .shape = any_shape(size, r),
            .padding_m = random_chance(r, 0.5) ? 0 : random_between(r, 0, 0.15),
            .yields = random_chance(r, 0.15),
        };
}

/* A ball, or a body with an arm or two. */
static void make_body(struct volume_outline *o, struct random *r)
{
    double radius = random_between(r, 0.05, 0.16);
    o->limbs = 1;
    o->limb[0].radius_m = radius;
    for (int arms = random_chance(r, 0.6) ? 0 : 1 + random_below(r, 2); arms > 0; arms--) {
        struct vec3 end = random_in_ball(r, 0.3);
        end.z = fmin(end.z, 0.1);
        struct vec3 from = random_chance(r, 0.5) ? (struct vec3){0, 0, 0} : vec_scale(end, -0.5);
        o->limb[o->limbs++] = (struct volume_limb){from, end, radius * random_between(r, 0.3, 1)};
    }
    static const enum volume_yaw yaws[] = {VOLUME_YAW_FIXED, VOLUME_YAW_REPORTED, VOLUME_YAW_REPORTED,
                                           VOLUME_YAW_UNKNOWN};
    o->yaw = yaws[random_below(r, sizeof yaws / sizeof *yaws)];
    o->boom_m = random_chance(r, 0.3) ? 0 : random_between(r, 0.1, 0.5);
    o->boom_radius_m = random_between(r, 0, 0.03);
    o->cord_radius_m = random_between(r, 0.001, 0.005);
}

static void make_tether(struct volume_outline *o, double size, double top, struct random *r)
{
    struct volume_tether *t = &o->tether;
    if (!random_chance(r, 0.25))
        return;
    t->kind = random_chance(r, 0.5) ? VOLUME_TETHER_STRAIGHT : VOLUME_TETHER_HANGING;
    t->anchor = somewhere(size, 0.2, top, r);
    t->length_m = size * random_between(r, 0.8, 2);
    t->radius_m = random_between(r, 0.002, 0.01);
    t->side_m = random_between(r, 0, 0.1);
    t->floor_m = 0;
}

void scene_room_make(struct volume *vol, bool wide, struct random *r)
{
    struct volume_outline *o = &vol->outline;
    double size = random_between(r, 2, 6), top = random_between(r, 2.4, 4);
    *vol = (struct volume){.keepouts = 0};
    make_anchors(o, size, top, r);
    make_stages(vol, size * (wide ? 1.0 : o->cords == 3 ? 0.45 : 0.65), top, r);
    make_keepouts(vol, size * 0.65, r);
    make_body(o, r);
    make_tether(o, size * 0.65, top, r);
}
