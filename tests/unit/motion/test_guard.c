/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/guard.h"
#include "policy/motion/swing_shaper.h"

#include "policy/motion/travel.h"
#include "tests/property/random.h"
#include "tests/unit/motion/cases.h"
#include "tests/unit/motion/rooms.h"

static const struct vec3 zero = {0, 0, 0};

/* A camera that reports where it is at once and without noise. */
struct bench {
    struct guard_config cfg;
    struct guard guard;
    struct guard_input in;
    struct guard_output out;
    double least; /* clearance so far */
};

static struct volume_now usual;

static struct bench bench_at(struct vec3 position)
{
    struct bench b = {.cfg = rooms_plain().guard, .least = INFINITY};
    usual = volume_now_usual();
    b.in = (struct guard_input){.position = position, .accel_mps2 = 0.3, .now = &usual};
    guard_init(&b.guard);
    return b;
}

/* One tick without any shaping: towards what was steered, as fast as the lane speeds up. */
static void step(struct bench *b, double elapsed_s)
{
    static struct guard_tick tick;
    struct guard_way way;
    if (!guard_begin(&b->cfg, &b->guard, &b->in, &tick)) {
        guard_brake(&b->cfg, &b->guard, elapsed_s, NULL, &b->out);
        return;
    }
    guard_steer(&tick, &b->guard, &way);
    double most = fmin(b->in.accel_mps2, b->cfg.brake_mps2) * fmin(elapsed_s, b->cfg.dt_s);
    struct vec3 next = vec_approached(b->guard.velocity, way.velocity, most);
    guard_prove(&tick, &b->guard, elapsed_s, &way, next, true, &b->out);
}

static void run(struct bench *b, struct vec3 wanted, double seconds)
{
    b->in.wanted = wanted;
    for (int i = 0; i < (int)lround(seconds / b->cfg.dt_s); i++) {
        step(b, b->cfg.dt_s);
        b->in.position = vec_along(b->in.position, b->out.velocity, b->cfg.dt_s);
        b->least = fmin(b->least, rooms_clearance(&b->cfg.volume, b->in.position).distance_m);
    }
}

static bool has(const struct bench *b, enum reason r)
{
    return (b->out.reasons & reason_bit(r)) != 0;
}

Test(guard, follows_a_wish_that_is_clear)
{
    struct bench b = bench_at(rooms_middle);
    run(&b, (struct vec3){0.1, 0.2, 0}, 1.5);
    cr_assert_float_eq(b.out.velocity.x, 0.1, 1e-12);
    cr_assert_float_eq(b.out.velocity.y, 0.2, 1e-12);
    cr_assert(b.out.reasons == 0 && b.out.keepout == -1 && !b.out.fallback);
    run(&b, zero, 1);
    cr_assert_eq(vec_norm(b.out.velocity), 0);
    cr_assert_eq(b.out.braking_m, 0);
}

/* A core whose ticks come late must not make up for them by leaps. */
Test(guard, never_speeds_up_for_more_than_a_tick_however_late_it_is)
{
    static struct guard_tick tick;
    struct bench b = bench_at(rooms_middle);
    b.in.wanted = (struct vec3){1, 0, 0};
    cr_assert(guard_begin(&b.cfg, &b.guard, &b.in, &tick));
    for (double late_s = b.cfg.dt_s; late_s < 10; late_s *= 3) {
        double speed = vec_norm(guard_next(&tick, &b.guard, late_s, b.in.wanted));
        cr_assert_float_eq(speed, b.cfg.brake_mps2 * b.cfg.dt_s, 1e-12, "%g s late: %g m/s", late_s, speed);
    }
}

Test(guard, never_speeds_up_by_more_than_the_acceleration)
{
    struct bench b = bench_at(rooms_middle);
    run(&b, (struct vec3){0.4, 0, 0}, 0.1);
    cr_assert_float_eq(b.out.velocity.x, 0.3 * 0.1, 1e-12);
    b.in.accel_mps2 = 5; /* more than the rig brakes */
    run(&b, (struct vec3){0.4, 0, 0}, 0.1);
    cr_assert_float_eq(b.out.velocity.x, 0.03 + 0.6 * 0.1, 1e-12);
}

Test(guard, caps_the_speed_and_keeps_the_direction)
{
    struct bench b = bench_at(rooms_middle);
    run(&b, (struct vec3){3, 4, 0}, 1.5);
    cr_assert_float_eq(b.out.velocity.x, 0.24, 1e-9);
    cr_assert_float_eq(b.out.velocity.y, 0.32, 1e-9);
    cr_assert(has(&b, REASON_SPEED_LIMIT));
}

/* Flies at a wall, then at the keep-out: comes to rest at the margin, a little more for the shaping, no closer. */
Test(guard, comes_to_rest_at_the_margin)
{
    struct bench b = bench_at(rooms_middle);
    double margin = guard_margin(&b.cfg, &b.in);
    run(&b, (struct vec3){-0.4, 0, 0}, 20);
    cr_assert_lt(vec_norm(b.out.velocity), 1e-3);
    cr_assert(b.least >= margin && b.least < margin + 5e-3, "%.4f", b.least - margin);
    cr_assert(has(&b, REASON_STAGE_EDGE) && b.out.keepout == -1);

    b = bench_at((struct vec3){5.5, 3.5, 2.5});
    run(&b, (struct vec3){0, 0, -0.4}, 20);
    cr_assert(b.least >= margin && b.least < margin + 5e-3, "%.4f", b.least - margin);
    cr_assert(has(&b, REASON_KEEPOUT) && b.out.keepout == 0);
}

/* What is sent in each tick was proven in it, or is a shorter piece of what was proven before. */
Test(guard, every_velocity_can_brake_clear_of_the_margin)
{
    struct bench b = bench_at(rooms_middle);
    static const struct vec3 wishes[] = {
        {0.4, 0.2, -0.1}, {-0.1, 0.4, 0}, {0, 0, -0.4}, {0.4, 0, 0.1}, {-0.4, -0.3, 0.2}};
    for (int i = 0; i < 3000; i++) {
        run(&b, wishes[i / 150 % 5], b.cfg.dt_s);
        double speed = vec_norm(b.out.velocity);
        struct vec3 from = vec_along(b.in.position, b.out.velocity, -b.cfg.dt_s);
        struct vec3 to = speed > 0 ? vec_along(from, b.out.velocity, b.out.braking_m / speed) : from;
        double clear = rooms_path(&b.cfg.volume, from, to, (double)INFINITY).distance_m;
        cr_assert(clear >= b.out.margin_m - VOLUME_ERROR_M || b.out.fallback, "%d: %.6f short", i,
                  b.out.margin_m - clear);
        double path =
            speed * (b.cfg.latency_s + b.cfg.lease_s) + travel_stop_distance(speed, b.cfg.brake_mps2, b.cfg.dt_s);
        cr_assert_float_eq(b.out.braking_m, path, 1e-12);
    }
}

Test(guard, slides_along_what_is_in_the_way)
{
    struct bench b = bench_at((struct vec3){1, 3, 2});
    run(&b, (struct vec3){-0.2, -0.2, 0}, 8);
    cr_assert_lt(fabs(b.out.velocity.x), 0.01, "the wall holds it in x");
    cr_assert_gt(-b.out.velocity.y, 0.15, "and not in y: %.3f", b.out.velocity.y);
    cr_assert(has(&b, REASON_STAGE_EDGE));
    run(&b, (struct vec3){-0.2, -0.2, 0.2}, 30);
    cr_assert_gt(b.in.position.z, 2.6, "along the corner it goes on up: %.3f", b.in.position.z);
}

Test(guard, has_no_reason_where_nothing_is_in_the_way)
{
    struct bench b = bench_at(rooms_middle);
    run(&b, (struct vec3){-0.3, 0, 0}, 25);
    run(&b, zero, 1);
    cr_assert_eq(b.out.reasons, 0u, "at rest at the wall");
    run(&b, (struct vec3){0, 0.3, 0}, 2);
    cr_assert_eq(b.out.reasons, 0u, "along it, and not into it: %llx", (unsigned long long)b.out.reasons);
    cr_assert_float_eq(b.out.velocity.y, 0.3, 1e-9);
}

Test(guard, brakes_along_the_proven_path_when_a_new_one_fails)
{
    struct bench b = bench_at(rooms_middle);
    run(&b, (struct vec3){0.4, 0, 0}, 2);
    struct vec3 before = b.guard.velocity;
    b.in.uncertainty_m = 3; /* nothing can be proven any more */
    run(&b, (struct vec3){0.4, 0.4, 0}, b.cfg.dt_s);
    cr_assert(b.out.fallback);
    cr_assert_float_eq(b.out.velocity.x, before.x - 0.6 * b.cfg.dt_s, 1e-12);
    cr_assert_eq(b.out.velocity.y, 0);
    step(&b, 0.05);
    cr_assert_float_eq(b.out.velocity.x, before.x - 0.6 * (b.cfg.dt_s + 0.05), 1e-12, "by the time that passed");
    run(&b, (struct vec3){0.4, 0, 0}, 1);
    cr_assert_eq(vec_norm(b.out.velocity), 0);
}

Test(guard, inside_the_margin_only_ways_out_are_open)
{
    struct bench b = bench_at((struct vec3){0.1, 3, 2}); /* the body overlaps the left wall */
    run(&b, (struct vec3){-0.3, 0, 0}, 1);
    cr_assert(vec_norm(b.out.velocity) <= 0 && has(&b, REASON_OUT_OF_VOLUME) && has(&b, REASON_STAGE_EDGE));
    cr_assert_lt(b.out.nearest.distance_m, 0);
    double begun = b.least;
    run(&b, (struct vec3){0, 0.3, 0}, 0.5);
    cr_assert_gt(b.out.velocity.x, 0, "a wish along the wall leads out aslant");
    run(&b, (struct vec3){0.3, 0, 0}, 4);
    cr_assert_gt(b.in.position.x, 0.8);
    cr_assert_geq(b.least, begun, "and at no time further in");
    cr_assert_not(has(&b, REASON_OUT_OF_VOLUME));
}

Test(guard, swing_stops_it_until_it_has_settled)
{
    struct bench b = bench_at(rooms_middle);
    run(&b, (struct vec3){0.3, 0, 0}, 2);
    b.in.swing_rad = 0.21;
    run(&b, (struct vec3){0.3, 0, 0}, 1);
    cr_assert(vec_norm(b.out.velocity) <= 0 && has(&b, REASON_SWING));
    b.in.swing_rad = 0.11;
    run(&b, (struct vec3){0.3, 0, 0}, 0.1);
    cr_assert(vec_norm(b.out.velocity) <= 0 && has(&b, REASON_SWING), "not before half of the limit");
    b.in.swing_rad = 0.09;
    run(&b, (struct vec3){0.3, 0, 0}, 0.1);
    cr_assert(b.out.velocity.x > 0 && !has(&b, REASON_SWING));
    b.in.swing_rad = 0.19;
    run(&b, (struct vec3){0.3, 0, 0}, 0.1);
    cr_assert_not(has(&b, REASON_SWING), "and not again before the limit");
}

/* Case pendulum-step: a pivot accelerated from rest lifts an undamped pendulum to exactly 2 atan(a / g). */
Test(guard, margin_holds_the_published_swing)
{
    json_t *one = reference_case("motion.json", "pendulum-step"), *row;
    size_t i;
    json_array_foreach(reference_expect(one, "rows"), i, row)
    {
        double length = cases_number(json_object_get(row, "L")), a = cases_number(json_object_get(row, "a"));
        double peak = cases_number(json_object_get(row, "peak_nonlinear_undamped"));
        if (a <= 0)
            continue;
        struct bench b = bench_at(rooms_middle);
        b.cfg.latency_s = 0;
        b.cfg.brake_mps2 = a;
        b.cfg.volume.outline.boom_m = 0;
        b.in.accel_mps2 = 1e-9;
        double without = guard_margin(&b.cfg, &b.in);
        b.cfg.volume.outline.boom_m = length;
        double swing = guard_margin(&b.cfg, &b.in) - without;
        cr_assert_float_eq(swing, 2 * length * sin(peak / 2), 1e-8, "row %zu: %.9f", i, swing);
    }
    json_decref(one);
}

/* Both unshaped peaks, of the lane's acceleration and of braking, whether or not any swing is told; less told is not
 * believed to be less. */
Test(guard, margin_counts_the_swing_of_its_own_motion_where_none_is_told)
{
    struct bench b = bench_at(rooms_middle);
    b.cfg.latency_s = 0;
    b.cfg.brake_mps2 = 1.2;
    b.in.accel_mps2 = 0.5;
    b.cfg.volume.outline.boom_m = 0;
    double without = guard_margin(&b.cfg, &b.in), own = swing_shaper_peak(0.5), brake = swing_shaper_peak(1.2);
    b.cfg.volume.outline.boom_m = 2;
    const double told[] = {0, own / 2, own, 2 * own};
    for (int i = 0; i < 4; i++) {
        b.in.swing_rad = told[i];
        double expect = 2 * 2 * sin((fmax(told[i], own) + brake) / 2);
        cr_assert_float_eq(guard_margin(&b.cfg, &b.in) - without, expect, 1e-9, "told %g", told[i]);
    }
}

Test(guard, margin_adds_up)
{
    struct bench b = bench_at(rooms_middle);
    b.cfg.volume.outline.boom_m = 0;
    double window = 0.08 + 0.3 + 0.01;
    cr_assert_float_eq(guard_margin(&b.cfg, &b.in), 0.05 + 0.6 * window * window / 2, 1e-12);
    b.in.uncertainty_m = 0.02;
    b.in.age_s = 0.1;
    window += 0.1;
    cr_assert_float_eq(guard_margin(&b.cfg, &b.in), 0.05 + 0.02 + 0.6 * window * window / 2, 1e-12);
    b.cfg.volume.outline.boom_m = 0.3;
    b.in.swing_rad = 9;
    double most = guard_margin(&b.cfg, &b.in);
    cr_assert_float_eq(most, 0.05 + 0.02 + 0.6 * window * window / 2 + 2 * 0.3, 1e-12, "no further than right round");
}

Test(guard, brake_asks_for_nothing)
{
    struct bench b = bench_at(rooms_middle);
    run(&b, (struct vec3){0.4, 0, 0}, 2);
    guard_brake(&b.cfg, &b.guard, b.cfg.dt_s, NULL, &b.out);
    cr_assert_float_eq(b.out.velocity.x, 0.4 - 0.006, 1e-12);
    cr_assert(b.out.fallback && b.out.margin_m == 0 && b.out.nearest.distance_m == 0 && b.out.keepout == -1);
    guard_brake(&b.cfg, &b.guard, b.cfg.dt_s, &b.in, &b.out);
    cr_assert_float_eq(b.out.nearest.distance_m, rooms_clearance(&b.cfg.volume, b.in.position).distance_m, 1e-12);
    cr_assert_float_eq(b.out.margin_m, guard_margin(&b.cfg, &b.in), 1e-12);
    guard_brake(&b.cfg, &b.guard, 100, &b.in, &b.out);
    cr_assert(vec_norm(b.out.velocity) <= 0 && b.out.braking_m <= 0 && !b.out.fallback);
}

Test(guard, brakes_on_input_that_is_none)
{
    static const double bad[] = {(double)NAN, (double)INFINITY, -(double)INFINITY, -1};
    for (int which = 0; which < 7; which++)
        for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
            struct bench b = bench_at(rooms_middle);
            run(&b, (struct vec3){0.4, 0, 0}, 1);
            double *field[] = {&b.in.position.x, &b.in.age_s,      &b.in.uncertainty_m, &b.in.swing_rad,
                               &b.in.accel_mps2, &b.in.position.z, &b.in.wanted.y};
            double before = b.out.velocity.x;
            bool signed_field = which == 0 || which > 4;
            *field[which] = signed_field ? bad[i] * (double)INFINITY : bad[i];
            if (which == 4 && bad[i] > 0)
                continue; /* endless acceleration is the rig's braking */
            step(&b, b.cfg.dt_s);
            cr_assert_float_eq(b.out.velocity.x, before - 0.006, 1e-12, "field %d = %g", which, bad[i]);
            guard_brake(&b.cfg, &b.guard, b.cfg.dt_s, &b.in, &b.out);
            cr_assert_float_eq(b.out.velocity.x, before - 0.012, 1e-12, "field %d = %g", which, bad[i]);
        }
}

/* Everybody presses into the wall while the position is noisy: it goes on along it, at a distance that holds. */
Test(guard, noise_does_not_hold_it_at_a_wall)
{
    struct bench b = bench_at((struct vec3){1, 5, 2});
    struct random r = {13};
    struct vec3 truth = b.in.position;
    b.in.uncertainty_m = 0.004;
    double margin = guard_margin(&b.cfg, &b.in), least = INFINITY, most = 0;
    for (int i = 0; i < 2000; i++) {
        b.in.position = vec_add(truth, random_in_ball(&r, b.in.uncertainty_m));
        b.in.wanted = (struct vec3){-0.15, -0.15, 0};
        step(&b, b.cfg.dt_s);
        truth = vec_along(truth, b.out.velocity, b.cfg.dt_s);
        double left = truth.x - b.cfg.volume.outline.limb[0].radius_m;
        least = fmin(least, left);
        most = i > 1000 ? fmax(most, left) : most;
    }
    cr_assert(least >= margin - b.in.uncertainty_m && most <= margin + 0.02, "%.4f .. %.4f", least, most);
    cr_assert_lt(truth.y, 5 - 0.8 * 0.15 * 20, "it got along by %.3f m only", 5 - truth.y);
}

Test(guard, a_cord_through_a_keepout_leads_nowhere)
{
    struct bench b = bench_at(rooms_middle);
    rooms_box(&b.cfg.volume, 0, (struct vec3){1.9, 0.9, 2.4}, (struct vec3){2.1, 1.1, 3},
              0.05); /* across the first cord */
    run(&b, (struct vec3){0.3, 0.1, 0}, 1);
    cr_assert(b.out.nearest.part == VOLUME_CORD && b.out.nearest.distance_m < 0);
    cr_assert(vec_norm(b.out.velocity) <= 0 && has(&b, REASON_OUT_OF_VOLUME) && b.out.keepout == 0);
    guard_brake(&b.cfg, &b.guard, b.cfg.dt_s, &b.in, &b.out);
    cr_assert(has(&b, REASON_OUT_OF_VOLUME));
}

Test(guard, config_is_valid_only_as_documented)
{
    const struct guard_config good = rooms_plain().guard;
    cr_assert(guard_config_valid(&good));
    for (int which = 0; which < 7; which++) {
        struct guard_config cfg = good;
        double *field[] = {&cfg.margin_m,  &cfg.latency_s,     &cfg.lease_s, &cfg.brake_mps2,
                           &cfg.speed_mps, &cfg.swing_max_rad, &cfg.dt_s};
        static const double bad[] = {(double)NAN, (double)INFINITY, -1};
        for (int i = 0; i < 3; i++) {
            *field[which] = bad[i];
            cr_assert_not(guard_config_valid(&cfg), "field %d = %g", which, bad[i]);
        }
        *field[which] = 0;
        cr_assert_eq(guard_config_valid(&cfg), which < 2, "field %d = 0", which);
    }
    struct guard_config cfg = good;
    cfg.lease_s = cfg.dt_s / 2;
    cr_assert_not(guard_config_valid(&cfg), "an intent must live until the next one");
    cfg = good;
    cfg.volume.stage[0].corners = 0;
    cr_assert_not(guard_config_valid(&cfg));
}
