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

static void add_corner(struct shape_prism *stage, double x, double y)
{
    stage->x[stage->corners] = x;
    stage->y[stage->corners++] = y;
}

/* A star around the middle, so often concave, and always simple. */
static void make_stage(struct shape_prism *stage, double size, double top, struct random *r)
{
    int corners = 3 + random_below(r, 8);
    double first = random_turn(r), least = random_chance(r, 0.5) ? 0.8 : 0.35;
    *stage = (struct shape_prism){.corners = 0};
    for (int i = 0; i < corners; i++) {
        double turn = first + TURN * (i + random_between(r, 0, 0.7)) / corners;
        double reach = size * random_between(r, least, 1);
        add_corner(stage, reach * cos(turn), reach * sin(turn));
    }
    stage->z_lo = random_between(r, 0.1, 0.8);
    stage->z_hi = top - random_between(r, 0.35, 0.7) - 0.05 * size;
}

static void make_keepouts(struct volume *vol, double size, struct random *r)
{
    vol->keepouts = random_below(r, 9);
    for (int k = 0; k < vol->keepouts; k++) {
        double turn = random_turn(r), reach = size * sqrt(random_between(r, 0.02, 1));
        bool post = random_chance(r, 0.3);
        double wide = post ? 0.1 : 0.8, high = random_chance(r, 0.2) ? 2.5 : 1.2;
        struct vec3 lo = {reach * cos(turn), reach * sin(turn), random_between(r, -0.2, 0.6)};
        struct vec3 span = {wide * random_between(r, 0.3, 1.5), wide * random_between(r, 0.3, 1.5),
                            high * random_between(r, 0.3, 1)};
        vol->keepout[k] = (struct shape_box){lo, vec_add(lo, span)};
        vol->padding_m[k] = random_chance(r, 0.5) ? 0 : random_between(r, 0, 0.15);
    }
}

void scene_room_make(struct volume *vol, struct random *r)
{
    struct volume_outline *o = &vol->outline;
    double size = random_between(r, 2, 6), top = random_between(r, 2.4, 4);
    *vol = (struct volume){.keepouts = 0};
    make_anchors(o, size, top, r);
    make_stage(&vol->stage, size * (o->cords == 3 ? 0.45 : 0.65), top, r);
    make_keepouts(vol, size * 0.65, r);
    o->body_radius_m = random_between(r, 0.05, 0.18);
    o->boom_m = random_chance(r, 0.3) ? 0 : random_between(r, 0.1, 0.5);
    o->boom_radius_m = random_between(r, 0, 0.03);
    o->cord_radius_m = random_between(r, 0.001, 0.005);
}
