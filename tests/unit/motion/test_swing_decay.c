/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/swing_decay.h"

#include "tests/unit/crowd/random.h"
#include "tests/unit/motion/pendulum.h"

enum { SAMPLES = 2000 };

static const struct swing_tilt hang = {0.012, -0.02};

static double normal(struct random *r, double sigma)
{
    double sum = -6;
    for (int i = 0; i < 12; i++)
        sum += random_between(r, 0, 1);
    return sigma * sum;
}

/* Two pendulums in full swing, an axis each, as a sensor that hangs askew sees them. */
struct shaken {
    struct pendulum x, y;
    double dt_s, noise_rad;
};

static struct swing_decay_record recorded(struct random *r, struct shaken s, struct swing_tilt *tilt)
{
    double peak = 0;
    for (int i = 0; i < SAMPLES; i++) {
        tilt[i] = (struct swing_tilt){hang.x_rad + s.x.angle + normal(r, s.noise_rad),
                                      hang.y_rad + s.y.angle + normal(r, s.noise_rad)};
        pendulum_run(&s.x, 0, s.dt_s, 10, &peak);
        pendulum_run(&s.y, 0, s.dt_s, 10, &peak);
    }
    return (struct swing_decay_record){tilt, SAMPLES, s.dt_s, fmax(10 * s.noise_rad, 0.001)};
}

/* A swing of `size` rad in some direction, in some phase, not quite plane. */
static struct shaken random_swing(struct random *r, struct swing_mode mode, double size)
{
    double turn = random_between(r, 0, 6.2832), phase = random_between(r, 0, 6.2832), round = random_between(r, 0, 0.4);
    struct shaken s = {.x = {mode.omega_radps, mode.damping, true, 0, 0}, .dt_s = 0.01};
    s.y = s.x;
    s.x.angle = size * (cos(turn) * cos(phase) - round * sin(turn) * sin(phase));
    s.y.angle = size * (sin(turn) * cos(phase) + round * cos(turn) * sin(phase));
    s.x.rate = -size * mode.omega_radps * (cos(turn) * sin(phase) + round * sin(turn) * cos(phase));
    s.y.rate = -size * mode.omega_radps * (sin(turn) * sin(phase) - round * cos(turn) * cos(phase));
    return s;
}

static struct swing_decay identified(const struct swing_decay_record *record)
{
    struct swing_decay d;
    enum swing_decay_verdict verdict = swing_decay_identify(record, &d);
    cr_assert_eq(verdict, SWING_DECAY_OK, "%s", swing_decay_text(verdict));
    return d;
}

/* Without noise: what was put in comes out, by the method's own error, which grows with damping. */
Test(swing_decay, clean_recordings)
{
    static struct swing_tilt tilt[SAMPLES];
    struct random r = {100};
    for (int i = 0; i < 100; i++) {
        struct swing_mode mode = {random_between(&r, 2, 12), random_between(&r, 0, i % 4 ? 0.05 : 0.15)};
        struct shaken s = random_swing(&r, mode, 0.1);
        struct swing_decay_record record = recorded(&r, s, tilt);
        struct swing_decay d = identified(&record);
        double allowed = mode.damping < 0.05 ? 1e-4 : 2e-3;
        cr_assert_float_eq(d.mode.omega_radps, mode.omega_radps, allowed * mode.omega_radps, "%g %g: %g",
                           mode.omega_radps, mode.damping, d.mode.omega_radps);
        cr_assert_float_eq(d.mode.damping, mode.damping, allowed / 10 + 1e-6, "%g: %g", mode.damping, d.mode.damping);
        cr_assert_lt(hypot(d.zero.x_rad - hang.x_rad, d.zero.y_rad - hang.y_rad), 2e-5);
        cr_assert_float_eq(d.amplitude_rad, 0.1, 0.07 * 0.1 + 0.3 * mode.damping * 0.1, "%g", d.amplitude_rad);
        cr_assert_lt(d.unexplained_rad, 1e-3);
    }
}

/* With noise: errors are those that it says they are. Chance aside (3e-5 beyond 4.2 sigma) nothing lies far off. */
Test(swing_decay, noise_and_what_it_says_of_it)
{
    static struct swing_tilt tilt[SAMPLES];
    struct random r = {101};
    double omega_squares = 0, damping_squares = 0;
    enum { TIMES = 150 };
    for (int i = 0; i < TIMES; i++) {
        struct swing_mode mode = {random_between(&r, 3, 8), random_between(&r, 0.002, 0.02)};
        struct shaken s = random_swing(&r, mode, 0.1);
        s.noise_rad = random_between(&r, 0.0005, 0.002);
        struct swing_decay_record record = recorded(&r, s, tilt);
        struct swing_decay d = identified(&record);
        double omega = (d.mode.omega_radps - mode.omega_radps) / d.omega_sigma;
        double damping = (d.mode.damping - mode.damping) / d.damping_sigma;
        cr_assert(fabs(omega) < 5 && fabs(damping) < 5, "%d: %g and %g sigma", i, omega, damping);
        cr_assert_lt(fabs(d.mode.omega_radps / mode.omega_radps - 1), 3e-4, "%d", i);
        cr_assert_lt(fabs(d.mode.damping - mode.damping), 3e-4);
        cr_assert_float_eq(d.unexplained_rad, s.noise_rad * sqrt(2), 0.3 * s.noise_rad);
        omega_squares += omega * omega / TIMES;
        damping_squares += damping * damping / TIMES;
    }
    cr_log_info("errors in sigma: %.2f and %.2f\n", sqrt(omega_squares), sqrt(damping_squares));
    cr_assert(omega_squares > 0.5 && omega_squares < 2, "%g", omega_squares);
    cr_assert(damping_squares > 0.5 && damping_squares < 2, "%g", damping_squares);
}

/* Short recordings: what it says of its errors is right on the whole even from few half swings; and strongly damped
 * ones, in which the large half swings must count for more than the small. */
Test(swing_decay, short_and_damped_recordings)
{
    static struct swing_tilt tilt[SAMPLES];
    struct random r = {107};
    double errors = 0, said = 0, damped = 0;
    enum { TIMES = 400 };
    for (int i = 0; i < TIMES; i++) {
        struct swing_mode mode = {5, i % 2 ? 0.01 : 0.05};
        struct shaken s = random_swing(&r, mode, 0.2);
        s.noise_rad = 0.002;
        struct swing_decay_record record = recorded(&r, s, tilt);
        record.count = i % 2 ? 420 : SAMPLES;
        struct swing_decay d = identified(&record);
        double off = d.mode.omega_radps - mode.omega_radps;
        if (i % 2) {
            errors += off * off;
            said += d.omega_sigma * d.omega_sigma;
        } else
            damped += off * off / (TIMES / 2) / (5 * 5);
    }
    cr_log_info("errors over what is said of them: %.2f; damped: %.1e\n", sqrt(errors / said), sqrt(damped));
    cr_assert(errors > 0.75 * said && errors < 1.35 * said, "%g", errors / said);
    cr_assert_lt(sqrt(damped), 2.4e-4);
}

/* What it is for: a pendulum in full, stepped and recorded with noise, and a shaper made from what was found. */
Test(swing_decay, leads_to_a_shaper_that_fits)
{
    static struct swing_tilt tilt[SAMPLES];
    struct random r = {102};
    for (int i = 0; i < 50; i++) {
        struct swing_mode real = {random_between(&r, 3, 8), random_between(&r, 0.002, 0.05)};
        struct shaken s = random_swing(&r, real, 0.08);
        struct swing_shaper zv;
        s.x.linear = s.y.linear = false;
        s.noise_rad = 0.001;
        struct swing_decay_record record = recorded(&r, s, tilt);
        struct swing_decay d = identified(&record);
        cr_assert(swing_shaper_design(SWING_SHAPER_ZV, d.mode, 0, &zv));
        cr_assert_lt(swing_shaper_residual(&zv, real), 0.003, "%d", i);
    }
}

static void check_verdict(struct swing_decay_record record, enum swing_decay_verdict want)
{
    struct swing_decay d;
    const struct swing_decay none = {.halves = 0};
    enum swing_decay_verdict got = swing_decay_identify(&record, &d);
    cr_assert_eq(got, want, "%s; not: %s", swing_decay_text(got), swing_decay_text(want));
    cr_assert_eq(memcmp(&d, &none, sizeof d), 0);
}

Test(swing_decay, refuses_bad_records)
{
    static struct swing_tilt tilt[SAMPLES];
    struct random r = {103};
    struct swing_decay_record good = recorded(&r, random_swing(&r, (struct swing_mode){5, 0.01}, 0.1), tilt), bad;
    identified(&good);
    bad = good, bad.tilt = NULL;
    check_verdict(bad, SWING_DECAY_BAD_RECORD);
    bad = good, bad.count = SWING_DECAY_SAMPLES_MIN - 1;
    check_verdict(bad, SWING_DECAY_BAD_RECORD);
    bad = good, bad.count = SWING_DECAY_SAMPLES_MAX + 1;
    check_verdict(bad, SWING_DECAY_BAD_RECORD);
    bad = good, bad.dt_s = NAN;
    check_verdict(bad, SWING_DECAY_BAD_RECORD);
    bad = good, bad.dt_s = INFINITY;
    check_verdict(bad, SWING_DECAY_BAD_RECORD);
    bad = good, bad.floor_rad = INFINITY;
    check_verdict(bad, SWING_DECAY_BAD_RECORD);
    bad = good, bad.floor_rad = 0;
    check_verdict(bad, SWING_DECAY_BAD_RECORD);
    bad = good, bad.floor_rad = 0.09;
    check_verdict(bad, SWING_DECAY_TOO_SHORT);
    bad = good, bad.count = 240;
    check_verdict(bad, SWING_DECAY_TOO_SHORT);
    tilt[700].y_rad = NAN;
    check_verdict(good, SWING_DECAY_BAD_SAMPLE);
    tilt[700].y_rad = 1.6;
    check_verdict(good, SWING_DECAY_BAD_SAMPLE);
    for (int f = SWING_DECAY_OK; f < SWING_DECAY_VERDICTS; f++)
        cr_assert_gt(strlen(swing_decay_text((enum swing_decay_verdict)f)), 20);
    cr_assert_str_eq(swing_decay_text(SWING_DECAY_VERDICTS), "unknown");
}

/* Of x alone: a exp(-sigma t) cos(omega t) and b of another frequency, with noise. */
static struct swing_decay_record made(struct swing_tilt *tilt, double sigma, double omega, double b, double noise)
{
    struct random r = {104};
    for (int i = 0; i < SAMPLES; i++) {
        double t = 0.01 * i, swing = 0.02 * exp(-sigma * t) * cos(omega * t) + b * cos(1.37 * omega * t);
        tilt[i] = (struct swing_tilt){swing + normal(&r, noise), normal(&r, noise)};
    }
    return (struct swing_decay_record){tilt, SAMPLES, 0.01, fmax(10 * noise, 0.001)};
}

Test(swing_decay, refuses_what_is_no_decay)
{
    static struct swing_tilt tilt[SAMPLES];
    check_verdict(made(tilt, -0.05, 5, 0, 0), SWING_DECAY_GROWS);
    check_verdict(made(tilt, 0.05, 5, 0.015, 0), SWING_DECAY_UNEXPLAINED);
    check_verdict(made(tilt, 0.05, 5, 0.004, 0), SWING_DECAY_UNEXPLAINED);
    check_verdict(made(tilt, 2.0, 5, 0, 0), SWING_DECAY_TOO_SHORT);
    check_verdict(made(tilt, 0.1, 100, 0, 0), SWING_DECAY_TOO_COARSE);
    struct swing_decay_record record = made(tilt, 0, 5, 0, 0);
    for (int i = 0; i < SAMPLES; i++)
        tilt[i] = (struct swing_tilt){0.3, 0.3};
    check_verdict(record, SWING_DECAY_TOO_SHORT);
    struct random r = {105};
    for (int i = 0; i < SAMPLES; i++)
        tilt[i].x_rad = normal(&r, 0.01);
    struct swing_decay d;
    cr_assert_neq(swing_decay_identify(&record, &d), SWING_DECAY_OK, "noise is no swing");
    for (int i = 0; i < SAMPLES; i++) /* zeta = 0.308, in the phase in which its mean is none */
        tilt[i] = (struct swing_tilt){0.1 * exp(-0.0162 * i) * cos(0.05 * i + atan(1.62 / 5)), 0};
    check_verdict(record, SWING_DECAY_TOO_DAMPED);
}

/* Whatever is recorded: an answer that is finite and within its ranges, or a refusal. */
Test(swing_decay, hostile_recordings)
{
    static struct swing_tilt tilt[200];
    struct random r = {106};
    int accepted = 0;
    for (int i = 0; i < 4000; i++) {
        struct swing_decay d;
        double omega = pow(10, random_between(&r, -1, 2)), sigma = random_between(&r, -1, 2),
               kind = random_below(&r, 4);
        for (int k = 0; k < 200; k++) {
            double t = 0.02 * k, swing = 0.1 * exp(-sigma * t) * cos(omega * t);
            tilt[k].x_rad = kind > 0 ? swing : random_between(&r, -1.5, 1.5);
            tilt[k].y_rad = kind > 1 ? swing * random_between(&r, 0.9, 1) : 1.5 - 3.0 * random_below(&r, 2);
            if (random_below(&r, 20000) == 0)
                tilt[k].x_rad = NAN;
        }
        struct swing_decay_record record = {tilt, 24 + (int)random_below(&r, 177), 0.02,
                                            pow(10, random_between(&r, -300, 0))};
        if (swing_decay_identify(&record, &d) != SWING_DECAY_OK)
            continue;
        accepted++;
        cr_assert(swing_shaper_mode_valid(d.mode));
        cr_assert(isfinite(d.omega_sigma) && isfinite(d.damping_sigma) && d.omega_sigma >= 0 && d.damping_sigma >= 0);
        cr_assert(isfinite(d.amplitude_rad) && isfinite(d.unexplained_rad));
        cr_assert(isfinite(d.zero.x_rad) && isfinite(d.zero.y_rad));
        cr_assert(d.halves >= SWING_DECAY_HALVES_MIN && d.halves <= SWING_DECAY_HALVES_MAX);
    }
    cr_assert(accepted > 100 && accepted < 3900, "%d", accepted);
}
