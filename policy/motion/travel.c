/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/travel.h"

#define FREE_TO_M    5e-4 /* free travel is found to this */
#define AWAY_STEP_M  1e-3 /* first step of the way out */
#define AWAY_GAIN    0.5  /* clearance gained a metre of the way out */
#define TURN_TO_RAD  1e-3
#define MOST_SPANS   96
#define MAX_HALVINGS 64 /* more than a double can be halved to FREE_TO_M from any limit that makes sense */

double travel_free(const struct volume_near *near, struct vec3 from, struct vec3 direction, double margin_m,
                   double limit_m, struct volume_clearance *block)
{
    struct volume_few few;
    return travel_free_among(near, from, direction, margin_m, margin_m, limit_m, block, &few);
}

double travel_free_among(const struct volume_near *near, struct vec3 from, struct vec3 direction, double margin_m,
                         double below_m, double limit_m, struct volume_clearance *block, struct volume_few *few)
{
    double clear = 0, blocked = limit_m;
    struct volume_clearance least = volume_narrow(near, from, vec_along(from, direction, limit_m), below_m, few);
    if (least.distance_m >= margin_m)
        return limit_m;
    for (int i = 0; i < MAX_HALVINGS && blocked - clear > FREE_TO_M; i++) {
        double middle = (clear + blocked) / 2;
        struct volume_clearance on_the_way =
            volume_few_clearance(few, from, vec_along(from, direction, middle), margin_m);
        if (on_the_way.distance_m >= margin_m) {
            clear = middle;
        } else {
            blocked = middle;
            least = on_the_way;
        }
    }
    if (block)
        *block = least;
    return clear;
}

static double clearance_at(const struct volume_near *near, struct vec3 place)
{
    return volume_path_clearance(near, place, place, (double)INFINITY).distance_m;
}

/*
 * Steps that grow: way2 = growth * way1. Clearance changes by no more than K a metre, so between two of them, h apart,
 * with clearances c1 and c2, there is nowhere less than (c1 + c2 - K h) / 2; with c >= start + gain * way at both that
 * is the start again if growth = (K + gain) / (K - gain). K is 1, so threefold; with a hanging tether it is 2.
 */
static double growth_of(const struct volume_outline *o)
{
    double steep = o->tether.kind == VOLUME_TETHER_HANGING ? VOLUME_TETHER_STEEP : 1;
    return (steep + AWAY_GAIN) / (steep - AWAY_GAIN);
}

double travel_away(const struct volume_near *near, struct vec3 from, struct vec3 direction, double limit_m)
{
    double start = clearance_at(near, from), way = 0, next = AWAY_STEP_M, growth = growth_of(&near->vol->outline);
    for (int i = 0; i < MAX_HALVINGS && way < limit_m; i++) {
        next = lesser(next, limit_m);
        double there = clearance_at(near, vec_along(from, direction, next));
        if (!(there >= start + AWAY_GAIN * next))
            return way;
        way = next;
        next = growth * way;
    }
    return greater(way, 0);
}

double travel_turn(const struct volume_near *near, struct vec3 from, struct vec3 to, double yaw_rad, int direction,
                   double margin_m, double limit_rad, struct volume_clearance *block)
{
    double turned = 0, span = limit_rad, off = greater(near->now.yaw_off_rad, 0);
    for (int i = 0; i < MOST_SPANS && turned < limit_rad && span > TURN_TO_RAD / 2; i++) {
        span = lesser(span, limit_rad - turned);
        double middle = yaw_rad + (direction < 0 ? -1 : 1) * (turned + span / 2);
        struct volume_clearance least = volume_turned_clearance(near, from, to, middle, off + span / 2, margin_m);
        if (least.distance_m >= margin_m) {
            turned += span;
            span *= 2;
        } else {
            span /= 2;
            if (block)
                *block = least;
        }
    }
    return greater(lesser(turned, limit_rad), 0);
}

double travel_stop_distance(double v, double brake, double dt)
{
    double n = ceil(v / (brake * dt));
    return v > 0 ? dt * (v / 2 + (n - 1) * v - brake * dt * n * (n - 1) / 2) : 0;
}

/*
 * At v = n brake dt the whole way, reaction included, is n brake dt reaction + brake (n dt)^2 / 2; solved for n and
 * rounded up, n is the number of ticks it takes to brake. With n known the way is a straight line in v.
 */
double travel_speed_limit(double room, double reaction, double brake, double dt)
{
    if (!(room > 0))
        return 0;
    double n = ceil((sqrt(reaction * reaction + 2 * room / brake) - reaction) / dt);
    n = greater(n, 1);
    return (room + brake * dt * dt * n * (n - 1) / 2) / (reaction + dt * (n - 0.5));
}
