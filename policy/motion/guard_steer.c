/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/guard.h"

#include "policy/motion/guard_path.h"

#define LEAVE     3.0  /* times the speed that is noise */
#define SLOPES    8    /* so many times GUARD_SLOPE_M above the margin nothing stands out */
#define SLIDE_OUT 0.75 /* 0.6 m out a metre of way: more than the half that the way out asks for */

static double reaction(const struct guard_tick *t)
{
    return t->reaction_s + t->in.settle_s;
}

/* What is further from the whole way than this above the margin is, GUARD_SLOPE_M beside it, still SLOPES times that
 * above it. */
static double around(const struct guard_tick *t)
{
    bool hangs = t->cfg->volume.outline.tether.kind == VOLUME_TETHER_HANGING;
    return (SLOPES + (hangs ? VOLUME_TETHER_STEEP : 1)) * GUARD_SLOPE_M + VOLUME_ERROR_M;
}

/* The wish, slowed so that gentle braking ends in the room there is. */
static struct guard_way slowed(const struct guard_tick *t, struct vec3 wish, double margin_m, struct volume_few *few)
{
    struct guard_way way = {.blocked = false};
    double speed = vec_norm(wish);
    if (speed < GUARD_STILL_MPS)
        return way;
    struct vec3 direction = vec_scale(wish, 1 / speed);
    double gentle = guard_path_length(t, speed, reaction(t), t->accel_mps2);
    way.free_m =
        guard_path_room(t, t->from, t->clear_m, direction, margin_m, margin_m + around(t), gentle, &way.block, few);
    way.blocked = way.free_m < gentle;
    way.velocity = wish;
    if (!way.blocked)
        return way;
    double limit = travel_speed_limit(way.free_m, reaction(t), t->accel_mps2, t->cfg->dt_s);
    way.velocity = vec_scale(direction, lesser(speed, limit));
    return way;
}

static double clear_at(struct volume_few *few, struct vec3 place, double enough)
{
    return lesser(volume_few_clearance(few, place, place, enough).distance_m, enough);
}

/* Unit vector in which clearance grows fastest; zero where no direction stands out. What is further away than `enough`
 * is not looked at: there nothing stands out. */
static struct vec3 outward(struct volume_few *few, struct vec3 at, double enough)
{
    static const struct vec3 axis[3] = {{GUARD_SLOPE_M, 0, 0}, {0, GUARD_SLOPE_M, 0}, {0, 0, GUARD_SLOPE_M}};
    double rise[3];
    for (int i = 0; i < 3; i++)
        rise[i] = clear_at(few, vec_add(at, axis[i]), enough) - clear_at(few, vec_sub(at, axis[i]), enough);
    struct vec3 slope = {rise[0], rise[1], rise[2]};
    double steep = vec_norm(slope);
    return steep > GUARD_SLOPE_M / 4 ? vec_scale(slope, 1 / steep) : (struct vec3){0, 0, 0};
}

/*
 * A wish that runs into something, turned to slide along it. Of its part towards the obstacle there stays what can
 * still be taken away in time: moving at v along a wall with a gap g, the path stays clear as long as the speed
 * towards it is below g v / path(v), which is about g / (reaction + v / 2a). Inside the gap that should be kept it is
 * negative, so the camera drifts back out instead of wandering in with the noise of its position. Inside the proven
 * margin it slides out as steeply as a way out must be (travel_away): nobody gets stuck at a wall by a millimetre.
 */
static struct vec3 along(const struct guard_tick *t, struct vec3 wish, double margin_m, double free_m,
                         struct volume_few *few)
{
    double speed = vec_norm(wish);
    struct vec3 out = outward(few, vec_along(t->from, wish, free_m / speed), margin_m + SLOPES * GUARD_SLOPE_M);
    double into = -vec_dot(wish, out);
    struct vec3 level = vec_along(wish, out, into);
    if (t->clear_m < t->margin_m)
        return vec_capped(vec_along(level, out, greater(-into, SLIDE_OUT * vec_norm(level))), speed);
    double short_of = t->clear_m - margin_m;
    double gap = short_of < 0 ? short_of : free_m * into / speed;
    double push = lesser(into, gap / (reaction(t) + speed / (2 * t->accel_mps2)));
    return into > 0 ? vec_capped(vec_along(level, out, -push), speed) : wish;
}

/* Straight on but slower, or turned along what is in the way: whichever gets further. */
static void choose(struct guard_way *straight, const struct guard_way *turned, struct vec3 wish)
{
    if (vec_dot(turned->velocity, wish) <= vec_dot(straight->velocity, wish))
        return;
    straight->velocity = turned->velocity;
    straight->blocked = vec_norm(vec_sub(turned->velocity, wish)) > GUARD_STILL_MPS;
}

/* What the noise of the position alone makes of a squeeze; see guard.h. Standing there, it is pushed in and out of its
 * margin by that noise, and what would lead out of it then is noise too. */
static bool rests(const struct guard_tick *t, bool resting, const struct guard_way *way)
{
    double noise_m = t->in.uncertainty_m + GUARD_STAND_OFF_M, noise_mps = noise_m / reaction(t);
    double speed = vec_norm(way->velocity), inside_m = t->margin_m - t->clear_m;
    bool barely_in = inside_m > 0 && inside_m <= 2 * noise_m;
    return way->blocked && (speed < noise_mps || (resting && (barely_in || speed < LEAVE * noise_mps)));
}

/*
 * What the camera slides along it keeps clear of by more than it then asks for on the way: else the noise of its
 * position would make every other proof along a wall fail.
 */
void guard_steer(const struct guard_tick *tick, struct guard *guard, struct guard_way *way)
{
    struct guard_way each[GUARD_TURNS + 1];
    struct volume_few few; /* of each in turn */
    struct vec3 wish[GUARD_TURNS + 1];
    int last = 0;
    wish[0] = vec_capped(tick->in.wanted, tick->cfg->speed_mps);
    for (int i = 0; i <= GUARD_TURNS; i++) {
        double stand_off_m = (GUARD_TURNS - i) * (GUARD_STAND_OFF_M + tick->in.uncertainty_m);
        double margin_m = tick->margin_m + stand_off_m;
        each[i] = slowed(tick, wish[i], margin_m, &few);
        last = i;
        if (!each[i].blocked || i == GUARD_TURNS)
            break;
        wish[i + 1] = along(tick, wish[i], margin_m, each[i].free_m, &few);
    }
    for (int i = last - 1; i >= 0; i--)
        choose(&each[i], &each[i + 1], wish[i]);
    *way = each[0];
    guard->resting = rests(tick, guard->resting, way);
    if (guard->resting)
        way->velocity = (struct vec3){0, 0, 0};
}
