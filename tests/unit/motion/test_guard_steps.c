/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The guard's steps by themselves, and what is new to its margin. */
#include "policy/motion/guard.h"

#include <criterion/criterion.h>

#include "tests/unit/motion/rooms.h"

static struct volume_now usual;
static struct guard_tick tick;

struct bench {
    struct guard_config cfg;
    struct guard guard;
    struct guard_input in;
    struct guard_output out;
};

static struct bench bench_at(struct vec3 position)
{
    struct bench b = {.cfg = rooms_plain().guard};
    usual = volume_now_usual();
    b.in = (struct guard_input){.position = position, .accel_mps2 = 0.3, .now = &usual};
    guard_init(&b.guard);
    return b;
}

/* From where shaping leads: what is under way is not decided about twice. */
Test(guard_steps, steers_from_where_shaping_leads)
{
    struct bench b = bench_at((struct vec3){0.8, 3, 2}), ahead = b;
    struct guard_way here, there;
    b.in.wanted = ahead.in.wanted = (struct vec3){-0.4, 0, 0};
    b.in.position.x -= 0.2;
    ahead.in.ahead = (struct vec3){-0.2, 0, 0};
    cr_assert(guard_begin(&b.cfg, &b.guard, &b.in, &tick));
    guard_steer(&tick, &b.guard, &here);
    cr_assert(guard_begin(&ahead.cfg, &ahead.guard, &ahead.in, &tick));
    guard_steer(&tick, &ahead.guard, &there);
    cr_assert(here.blocked && there.blocked && here.velocity.x < 0);
    cr_assert_float_eq(here.velocity.x, there.velocity.x, 2e-3);
    ahead.in.settle_s = 0.5;
    cr_assert(guard_begin(&ahead.cfg, &ahead.guard, &ahead.in, &tick));
    guard_steer(&tick, &ahead.guard, &there);
    cr_assert_gt(there.velocity.x, here.velocity.x + 0.02, "and slower the later it takes effect");
}

/* The proof asks nothing of what comes in. */
Test(guard_steps, proves_whatever_it_is_given)
{
    static const struct vec3 wild[] = {{(double)NAN, 0, 0}, {(double)INFINITY, 0, 0}, {1e308, 1e308, 0}, {-9, 0, 0}};
    for (size_t i = 0; i < sizeof wild / sizeof *wild; i++) {
        struct bench b = bench_at((struct vec3){0.5, 3, 2});
        struct guard_way way;
        for (int k = 0; k < 200; k++) {
            cr_assert(guard_begin(&b.cfg, &b.guard, &b.in, &tick));
            guard_steer(&tick, &b.guard, &way);
            guard_prove(&tick, &b.guard, b.cfg.dt_s, &way, wild[i], true, &b.out);
            cr_assert(vec_norm(b.out.velocity) <= b.cfg.speed_mps + 1e-12);
            b.in.position = vec_along(b.in.position, b.out.velocity, b.cfg.dt_s);
            cr_assert_geq(rooms_clearance(&b.cfg.volume, b.in.position).distance_m, 0.05, "wild %zu tick %d", i, k);
        }
    }
}

Test(guard_steps, brakes_where_the_caller_says_so)
{
    struct bench b = bench_at(rooms_middle);
    struct guard_way way;
    b.guard.velocity = (struct vec3){0.4, 0, 0};
    b.in.wanted = b.guard.velocity;
    cr_assert(guard_begin(&b.cfg, &b.guard, &b.in, &tick));
    guard_steer(&tick, &b.guard, &way);
    guard_prove(&tick, &b.guard, b.cfg.dt_s, &way, way.velocity, false, &b.out);
    cr_assert(b.out.fallback && b.out.braked && b.out.why == REASON_NONE);
    cr_assert_float_eq(b.out.velocity.x, 0.4 - 0.006, 1e-12);
}

/* The margin with a hanging tether, whose envelope moves twice as far as its end, and with limbs that reach further
 * than the boom. */
Test(guard_steps, margin_holds_what_moves_further)
{
    struct bench b = bench_at(rooms_middle);
    b.in.uncertainty_m = 0.01;
    double plain = guard_margin(&b.cfg, &b.in);
    b.cfg.volume.outline.tether.kind = VOLUME_TETHER_STRAIGHT;
    cr_assert_float_eq(guard_margin(&b.cfg, &b.in), plain, 1e-12);
    b.cfg.volume.outline.tether.kind = VOLUME_TETHER_HANGING;
    cr_assert_float_eq(guard_margin(&b.cfg, &b.in), 0.05 + 2 * (plain - 0.05), 1e-12);
    b.cfg.volume.outline.tether.kind = VOLUME_TETHER_NONE;
    b.in.uncertainty_m = 0;
    double window = 0.08 + 0.3 + 0.01, swing = guard_margin(&b.cfg, &b.in) - 0.05 - 0.6 * window * window / 2;
    b.cfg.volume.outline.limbs = 2;
    b.cfg.volume.outline.limb[1] = (struct volume_limb){.a = {0.4, 0, 0}, .b = {0, 0, 0}, .radius_m = 0.02};
    double more = guard_margin(&b.cfg, &b.in) - 0.05 - 0.6 * window * window / 2;
    cr_assert_float_eq(more, swing * 0.5 / 0.3, 1e-12, "0.5 m from the platform instead of 0.3");
}

/* Somebody is too near: rising would lead out of the distance that is kept from them, yet not on towards them. */
Test(guard_steps, nothing_goes_on_towards_somebody_too_near)
{
    struct bench b = bench_at(rooms_middle);
    struct guard_way way;
    usual.subject = true;
    usual.subject_at = (struct vec3){rooms_middle.x + 0.25, rooms_middle.y, 0};
    usual.subject_radius_m = 0.3;
    usual.subject_height_m = rooms_middle.z - 0.5;
    for (int side = -1; side <= 1; side += 2) {
        b.in.wanted = (struct vec3){0.1 * side, 0, 0.3};
        cr_assert(guard_begin(&b.cfg, &b.guard, &b.in, &tick));
        cr_assert_eq(tick.near.nearest.bound, VOLUME_SUBJECT);
        cr_assert_lt(tick.near.nearest.distance_m, 0);
        guard_steer(&tick, &b.guard, &way);
        cr_assert_leq(way.velocity.x, 1e-9);
        guard_prove(&tick, &b.guard, b.cfg.dt_s, &way, b.in.wanted, true, &b.out);
        cr_assert_eq(vec_norm(b.out.velocity) > 0, side < 0, "up and away is followed, up and on is not");
    }
}
