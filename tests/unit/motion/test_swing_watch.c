/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/swing_watch.h"

#include "tests/unit/crowd/random.h"
#include "tests/unit/motion/pendulum.h"

#define OMEGA 5.3
#define ZETA  0.01

static const double half_s = 3.14159265358979 / OMEGA;

static const struct swing_watch_config standard = {
    .mode = {OMEGA, ZETA}, .zero = {0.02, -0.01}, .settle_rad = 0.005, .unsettle_rad = 0.01};

/* The body about both axes, and what watches it. */
struct scene {
    struct swing_watch_config cfg;
    struct swing_watch watch;
    struct pendulum x, y;
    struct random random;
    double noise_rad, accel_x, accel_y;
    bool told; /* the watch hears of the acceleration */
};

static struct scene begin(uint64_t seed)
{
    struct scene s = {.cfg = standard,
                      .x = {.omega = OMEGA, .zeta = ZETA, .linear = true},
                      .y = {.omega = OMEGA, .zeta = ZETA, .linear = true},
                      .random = {seed},
                      .told = true};
    cr_assert(swing_watch_config_valid(&s.cfg));
    swing_watch_init(&s.watch);
    return s;
}

static void swing(struct scene *s, double x, double x_rate, double y, double y_rate)
{
    s->x.angle = x, s->x.rate = x_rate * OMEGA;
    s->y.angle = y, s->y.rate = y_rate * OMEGA;
}

/* Near enough normal: the sum of twelve. */
static double normal(struct random *r, double sigma)
{
    double sum = -6;
    for (int i = 0; i < 12; i++)
        sum += random_between(r, 0, 1);
    return sigma * sum;
}

static void elapse(struct scene *s, double dt)
{
    double peak = 0;
    pendulum_run(&s->x, s->accel_x, dt, 10, &peak);
    pendulum_run(&s->y, s->accel_y, dt, 10, &peak);
}

static void sample(struct scene *s, double dt)
{
    struct swing_tilt tilt = {s->cfg.zero.x_rad + s->x.angle + normal(&s->random, s->noise_rad),
                              s->cfg.zero.y_rad + s->y.angle + normal(&s->random, s->noise_rad)};
    swing_watch_add(&s->cfg, &s->watch, tilt, dt, s->told ? s->accel_x : 0, s->told ? s->accel_y : 0);
}

static void run(struct scene *s, double dt, double seconds)
{
    for (double t = 0; t < seconds; t += dt) {
        elapse(s, dt);
        sample(s, dt);
    }
}

/* The truth, by trying: the largest angle from plumb over the next swing, were it not damped and the pivot left alone.
 */
static double largest_ahead(const struct scene *s)
{
    struct scene ahead = *s;
    double most = 0;
    ahead.x.zeta = ahead.y.zeta = 0;
    for (int i = 0; i < 400; i++) {
        most = fmax(most, hypot(ahead.x.angle, ahead.y.angle));
        pendulum_step(&ahead.x, 0, half_s / 200);
        pendulum_step(&ahead.y, 0, half_s / 200);
    }
    return most;
}

Test(swing_watch, sees_the_longer_half_of_any_ellipse)
{
    struct random r = {80};
    for (int i = 0; i < 60; i++) {
        struct scene s = begin(81);
        swing(&s, random_between(&r, -0.2, 0.2), random_between(&r, -0.2, 0.2), random_between(&r, -0.2, 0.2),
              random_between(&r, -0.2, 0.2));
        run(&s, random_between(&r, 0.005, 0.1), 3 * half_s);
        cr_assert(s.watch.known);
        double truth = largest_ahead(&s);
        cr_assert_float_eq(s.watch.amplitude_rad, truth, 0.011 * truth + 1e-5, "%d: %g, not %g", i,
                           s.watch.amplitude_rad, truth);
    }
}

/* The header's claim for angles that are not small: energy says what amplitude a pendulum in full really has. */
Test(swing_watch, large_swings)
{
    struct scene s = begin(89);
    s.x.linear = s.y.linear = false;
    s.x.zeta = s.cfg.mode.damping = 0;
    swing(&s, 0.3, 0, 0, 0);
    run(&s, 0.01, 2 * half_s);
    for (int i = 0; i < 500; i++) {
        run(&s, 0.01, 0.005);
        double energy = 1 - cos(s.x.angle) + s.x.rate * s.x.rate / (2 * OMEGA * OMEGA);
        cr_assert_float_eq(acos(1 - energy), 0.3, 1e-5);
        cr_assert_float_eq(s.watch.amplitude_rad, 0.3, 0.01 * 0.3, "%g", s.watch.amplitude_rad);
    }
}

/* Samples as they come: 5 to 60 ms apart, one in five without sense, the pivot pushed about all the while. */
Test(swing_watch, follows_a_pushed_pivot_over_irregular_samples)
{
    struct scene s = begin(82);
    struct swing_tilt lost = {NAN, 0.1};
    int told = 0;
    swing(&s, 0.1, 0, 0, 0.05);
    for (int i = 0; i < 3000; i++) {
        double dt = random_between(&s.random, 0.005, 0.06);
        s.accel_x = random_between(&s.random, -1, 1);
        s.accel_y = random_between(&s.random, -1, 1);
        elapse(&s, dt);
        if (random_below(&s.random, 5) == 0) {
            swing_watch_add(&s.cfg, &s.watch, lost, dt, s.accel_x, s.accel_y);
            continue;
        }
        sample(&s, dt);
        if (!s.watch.known)
            continue;
        double truth = largest_ahead(&s);
        cr_assert_float_eq(s.watch.amplitude_rad, truth, 0.005 * truth + 0.001, "%d: %g, not %g", i,
                           s.watch.amplitude_rad, truth);
        told++;
    }
    cr_assert_gt(told, 2000);
}

/* Told of it, the watch is exact; untold it errs by less than the lean, and sees the lean itself as swing. */
Test(swing_watch, an_acceleration_told_and_untold)
{
    for (int told = 0; told < 2; told++) {
        for (double x = -0.1; x < 0.11; x += 0.1) {
            struct scene s = begin(83);
            s.told = told;
            swing(&s, x, 0, 0, 0);
            run(&s, 0.01, 2 * half_s);
            s.accel_x = 0.5;
            double lean = 0.5 / PENDULUM_G, allowed = told ? 1e-4 : lean;
            for (int i = 0; i < 300; i++) {
                run(&s, 0.01, 0.005);
                double truth = largest_ahead(&s);
                cr_assert_float_eq(s.watch.amplitude_rad, truth, allowed + 0.01 * truth, "%d %d: %g, not %g", told, i,
                                   s.watch.amplitude_rad, truth);
            }
        }
    }
}

/* White noise on a body that hangs still: what is let through, as a share of the noise. */
static double noise_let_through(double dt)
{
    struct scene s = begin(84);
    double squares = 0;
    s.noise_rad = 0.001;
    run(&s, dt, 4 * half_s);
    for (int i = 0; i < 2000; i++) {
        run(&s, dt, dt / 2);
        squares += s.watch.amplitude_rad * s.watch.amplitude_rad;
    }
    return sqrt(squares / 2000) / s.noise_rad;
}

Test(swing_watch, lets_little_noise_through)
{
    static const struct {
        int samples; /* a swing */
        double most;
    } said[] = {{10, 1.9}, {20, 1.5}, {40, 1.1}, {80, 0.8}, {160, 0.6}}; /* swing_watch.h */
    for (size_t i = 0; i < sizeof said / sizeof *said; i++) {
        double through = noise_let_through(2 * half_s / said[i].samples);
        cr_log_info("%d samples a swing: %.2f\n", said[i].samples, through);
        cr_assert_lt(through, said[i].most);
    }
}

Test(swing_watch, settles_after_half_a_swing_below_and_not_before)
{
    struct scene s = begin(85);
    swing(&s, 0.004, 0, 0, 0);
    sample(&s, 0);
    run(&s, 0.01, half_s - 0.02);
    cr_assert_not(s.watch.known);
    run(&s, 0.01, 0.03);
    cr_assert(s.watch.known && !s.watch.settled);
    run(&s, 0.01, half_s - 0.05);
    cr_assert_not(s.watch.settled);
    run(&s, 0.01, 0.07);
    cr_assert(s.watch.settled);
    swing(&s, 0.008, 0, 0, 0);
    run(&s, 0.01, 2 * half_s);
    cr_assert(s.watch.settled, "between the two thresholds it stays what it was");
    swing(&s, 0, 0.03, 0, 0);
    run(&s, 0.01, 0.1);
    cr_assert_not(s.watch.settled, "at once");
    swing(&s, 0.008, 0, 0, 0);
    run(&s, 0.01, 2 * half_s);
    cr_assert_not(s.watch.settled);
}

/* A noisy swing that dies away goes from not settled to settled once. */
Test(swing_watch, does_not_flicker)
{
    for (uint64_t seed = 90; seed < 100; seed++) {
        struct scene s = begin(seed);
        int changes = 0;
        s.noise_rad = 0.001;
        swing(&s, 0.1, 0, 0.05, 0.05);
        for (int i = 0; i < 10000; i++) {
            bool before = s.watch.settled;
            elapse(&s, 0.01);
            sample(&s, 0.01);
            changes += s.watch.settled != before;
        }
        cr_assert_eq(changes, 1);
        cr_assert(s.watch.settled);
    }
}

static struct scene settled_scene(void)
{
    struct scene s = begin(86);
    run(&s, 0.01, 2.2 * half_s);
    cr_assert(s.watch.settled && s.watch.known);
    return s;
}

/* Nothing known, nothing settled: gaps, a sensor that says nonsense for too long, time that does not pass. */
Test(swing_watch, forgets_what_is_too_old)
{
    static const double bad[] = {0.6, NAN, INFINITY, 0, -0.01};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct scene s = settled_scene();
        sample(&s, bad[i]);
        cr_assert(!s.watch.settled && !s.watch.known, "%g", bad[i]);
        run(&s, 0.01, 2.2 * half_s);
        cr_assert(s.watch.settled);
    }
    struct scene s = settled_scene();
    struct swing_tilt nonsense = {INFINITY, 0};
    for (int i = 0; i < 25; i++)
        swing_watch_add(&s.cfg, &s.watch, nonsense, 0.01, 0, 0);
    cr_assert(s.watch.settled, "0.25 s of %g", half_s / 2);
    for (int i = 0; i < 6; i++)
        swing_watch_add(&s.cfg, &s.watch, nonsense, 0.01, 0, 0);
    cr_assert(!s.watch.settled && !s.watch.known);
}

/* An acceleration that cannot be is none; samples too close to say anything about a rate say nothing. */
Test(swing_watch, takes_no_nonsense_for_measurement)
{
    static const double bad[] = {NAN, INFINITY, -INFINITY, 101, -1e300};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct scene s = settled_scene();
        swing_watch_add(&s.cfg, &s.watch, s.cfg.zero, 0.01, bad[i], bad[i]);
        cr_assert_lt(s.watch.amplitude_rad, 1e-9, "%g", bad[i]);
    }
    struct scene s = settled_scene();
    s.noise_rad = 0.0005;
    for (int i = 0; i < 1000; i++) {
        sample(&s, pow(10, random_between(&s.random, -18, -5)));
        cr_assert(s.watch.settled && s.watch.amplitude_rad < 0.005, "%d: %g", i, s.watch.amplitude_rad);
    }
    s.cfg.mode.omega_radps = 0.3; /* omega t is nothing at all then */
    s.noise_rad = 0;
    sample(&s, 4.9e-324);
    cr_assert_lt(s.watch.amplitude_rad, 0.005);
}

static double hostile_number(struct random *r, double usual)
{
    static const double odd[] = {NAN, INFINITY, -INFINITY, 1.7e308, -1.7e308, 4.9e-324, 1e-17, 1.5, -1.5};
    return random_below(r, 4) ? random_between(r, -usual, usual) : odd[random_below(r, sizeof odd / sizeof *odd)];
}

Test(swing_watch, hostile_samples)
{
    struct scene s = begin(87);
    struct random r = {88};
    s.cfg.zero = (struct swing_tilt){0, 0};
    int known = 0, settled = 0;
    for (int i = 0; i < 100000; i++) {
        bool calm = i / 1000 % 2;
        double dt = calm ? 0.01 : hostile_number(&r, 0.2);
        double q = calm ? 0.001 : 1, x = hostile_number(&r, q), y = hostile_number(&r, q);
        struct swing_tilt tilt = calm && fmax(fabs(x), fabs(y)) > 1 ? s.cfg.zero : (struct swing_tilt){x, y};
        swing_watch_add(&s.cfg, &s.watch, tilt, dt, calm ? 0 : hostile_number(&r, 2),
                        calm ? 0 : hostile_number(&r, 200));
        cr_assert(isfinite(s.watch.amplitude_rad) && s.watch.amplitude_rad >= 0, "%d", i);
        cr_assert(isfinite(s.watch.x.q) && isfinite(s.watch.x.u) && isfinite(s.watch.y.q) && isfinite(s.watch.y.u));
        cr_assert(s.watch.known || !s.watch.settled);
        cr_assert(!s.watch.settled || s.watch.amplitude_rad <= s.cfg.unsettle_rad);
        known += s.watch.known;
        settled += s.watch.settled;
    }
    cr_assert_gt(known, 1000);
    cr_assert_gt(settled, 1000);
}

Test(swing_watch, refuses_a_config_that_cannot_be)
{
    struct swing_watch_config bad[] = {standard, standard, standard, standard, standard, standard};
    bad[0].mode.omega_radps = 0;
    bad[1].settle_rad = 0;
    bad[2].unsettle_rad = 0.004;
    bad[3].zero.x_rad = NAN;
    bad[4].zero.y_rad = 2;
    bad[5].unsettle_rad = INFINITY;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        cr_assert_not(swing_watch_config_valid(&bad[i]), "%zu", i);
}
