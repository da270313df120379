/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/swing.h"

#include "tests/unit/crowd/random.h"
#include "tests/unit/motion/pendulum.h"

#define DT         0.01
#define NO_FURTHER (1 + 1e-13)

enum { STEPS_A_TICK = 10, HOSTILE_STEPS = 100000 };

static const struct vec3 zero = {0, 0, 0};
static const char *const names[SWING_SHAPER_KINDS] = {"none", "zv", "zvd", "ei"};

static struct swing_config config(enum swing_shaper_kind kind, struct swing_mode mode)
{
    return (struct swing_config){.shaper = kind, .mode = mode, .share = 0.05, .dt_s = DT};
}

static struct swing_plan planned(const struct swing_config *cfg)
{
    struct swing_plan plan;
    enum swing_fault fault = swing_make_plan(cfg, &plan);
    cr_assert_eq(fault, SWING_OK, "%s", swing_fault_text(fault));
    return plan;
}

static struct swing_config random_config(struct random *r)
{
    double dt = random_between(r, 0.002, 0.02);
    double omega = random_between(r, 2 * 3.1416 / ((SWING_WINDOW - 2) * dt), SWING_TICK_MAX / dt);
    struct swing_mode mode = {omega * 1.01 < SWING_TICK_MAX / dt ? omega * 1.01 : omega, random_between(r, 0, 0.05)};
    return (struct swing_config){SWING_SHAPER_ZV + (enum swing_shaper_kind)random_below(r, 3), mode,
                                 random_between(r, 0.01, 0.15), dt};
}

static struct vec3 random_wish(struct random *r)
{
    struct vec3 v;
    v.x = random_between(r, -0.4, 0.4);
    v.y = random_between(r, -0.4, 0.4);
    v.z = random_between(r, -0.4, 0.4);
    return v;
}

/* The header's claim: at the model's own frequency nothing is added by the ticks, elsewhere at most this. */
Test(swing, ticks_add_what_the_header_says)
{
    struct random r = {70};
    for (int i = 0; i < 3000; i++) {
        struct swing_config cfg = random_config(&r);
        struct swing_plan plan = planned(&cfg);
        double ideal = swing_shaper_residual(&plan.shaper, cfg.mode);
        cr_assert_lt(swing_residual(&plan, cfg.mode, cfg.dt_s), ideal + 1e-12, "%d", i);
        for (double x = 0.6; x < 1.45; x += 0.1) {
            struct swing_mode other = {cfg.mode.omega_radps * x, cfg.mode.damping};
            double squares = fabs(other.omega_radps * other.omega_radps - cfg.mode.omega_radps * cfg.mode.omega_radps);
            double more = swing_residual(&plan, other, cfg.dt_s) - swing_shaper_residual(&plan.shaper, other);
            cr_assert_leq(more, squares * cfg.dt_s * cfg.dt_s / 8 + 1e-12, "%d at %g: %g", i, x, more);
        }
    }
}

/* Against a convolution written out over the whole history, the ring gone round several times, with resets between. */
Test(swing, is_the_convolution_it_says)
{
    enum { TICKS = 5000 };
    static struct vec3 history[TICKS];
    static struct swing swing;
    struct random r = {71};
    for (int n = 0; n < 6; n++) {
        struct swing_config cfg = random_config(&r);
        if (n == 0) /* the longest there is */
            cfg = (struct swing_config){SWING_SHAPER_ZVD, {2 * 3.14159265 / ((SWING_WINDOW - 1.5) * DT), 0}, 0, DT};
        struct swing_plan plan = planned(&cfg);
        cr_assert(n > 0 || plan.delay[plan.taps - 1] == SWING_WINDOW - 1);
        struct vec3 before = random_wish(&r);
        int begun = 0;
        swing_reset(&swing, before);
        for (int k = 0; k < TICKS; k++) {
            history[k] = random_wish(&r);
            if (random_below(&r, 2000) == 0) {
                begun = k;
                swing_reset(&swing, before = random_wish(&r));
            }
            struct vec3 got = swing_step(&plan, &swing, history[k]), want = zero;
            for (int i = 0; i < plan.taps; i++)
                want =
                    vec_along(want, k - plan.delay[i] >= begun ? history[k - plan.delay[i]] : before, plan.weight[i]);
            cr_assert_lt(vec_norm(vec_sub(got, want)), 1e-15);
        }
    }
}

/* Plans and their weights: a mean, so speed, acceleration and way are kept. */
Test(swing, is_a_mean)
{
    struct random r = {72};
    static struct swing swing;
    for (int i = 0; i < 100; i++) {
        struct swing_config cfg = random_config(&r);
        struct swing_plan plan = planned(&cfg);
        double sum = 0, accel = 0;
        for (int k = 0; k < plan.taps; k++) {
            cr_assert(plan.weight[k] > 0 && plan.delay[k] < SWING_WINDOW);
            sum += plan.weight[k];
        }
        cr_assert(sum <= 1 && sum > 1 - 1e-14);
        struct vec3 wish = zero, last = zero, way = zero, wished = zero;
        swing_reset(&swing, zero);
        for (int k = 0; k < 500 + SWING_WINDOW; k++) {
            struct vec3 step = vec_scale(random_wish(&r), 0.01);
            accel = fmax(accel, vec_norm(step));
            wish = k < 500 ? vec_add(wish, step) : vec_scale(wish, 0.9);
            accel = fmax(accel, k == 500 ? vec_norm(wish) : 0);
            struct vec3 v = swing_step(&plan, &swing, wish);
            cr_assert_leq(vec_norm(vec_sub(v, last)), accel + 1e-14);
            last = v;
            way = vec_add(way, v);
            wished = vec_add(wished, wish);
        }
        cr_assert_lt(vec_norm(vec_sub(way, wished)), 1e-8, "the camera gets where it was to go");
    }
}

/* A stop is never delayed: after a reset nothing old comes out, and the first step goes on from where it is. */
Test(swing, nothing_old_comes_out_after_a_reset)
{
    static struct swing swing;
    struct random r = {73};
    for (int kind = SWING_SHAPER_NONE; kind < SWING_SHAPER_KINDS; kind++) {
        struct swing_config cfg = config((enum swing_shaper_kind)kind, (struct swing_mode){5.3, 0.01});
        struct swing_plan plan = planned(&cfg);
        swing_reset(&swing, zero);
        for (int k = 0; k < 300; k++)
            swing_step(&plan, &swing, random_wish(&r));
        swing_reset(&swing, zero);
        for (int k = 0; k < 2 * SWING_WINDOW; k++)
            cr_assert_eq(vec_norm(swing_step(&plan, &swing, zero)), 0, "%s", names[kind]);
        struct vec3 sent = {0.2, -0.1, 0.05};
        swing_reset(&swing, sent);
        for (int k = 0; k < 2 * SWING_WINDOW; k++)
            cr_assert_lt(vec_norm(vec_sub(swing_step(&plan, &swing, sent), sent)), 1e-14);
    }
}

static double hostile_number(struct random *r)
{
    static const double odd[] = {
        NAN, INFINITY, -INFINITY, 1.7976931348623157e308, -1.7976931348623157e308, 2.3e-308, 4.9e-324, -0.0, 1e154};
    if (random_below(r, 3) > 0)
        return random_between(r, -1, 1);
    return odd[random_below(r, sizeof odd / sizeof *odd)];
}

/* Without the overflow that a sum of squares has. */
static double speed(struct vec3 v)
{
    return hypot(hypot(v.x, v.y), v.z);
}

/* Whatever comes in: what comes out is finite and no faster than the fastest wish in the window. */
Test(swing, hostile_wishes)
{
    static double window[HOSTILE_STEPS];
    static struct swing swing;
    for (int kind = SWING_SHAPER_NONE; kind < SWING_SHAPER_KINDS; kind++) {
        struct random r = {74 + (uint64_t)kind};
        struct swing_config cfg = config((enum swing_shaper_kind)kind, (struct swing_mode){31, 0.02});
        struct swing_plan plan = planned(&cfg);
        int reach = plan.delay[plan.taps - 1];
        swing_reset(&swing, zero);
        for (int k = 0; k < HOSTILE_STEPS; k++) {
            struct vec3 wish = {hostile_number(&r), hostile_number(&r), hostile_number(&r)}, v;
            window[k] = vec_finite(wish) ? speed(wish) : 0;
            double most = 0;
            for (int i = k; i >= 0 && i >= k - reach; i--)
                most = fmax(most, window[i]);
            v = swing_step(&plan, &swing, wish);
            cr_assert(vec_finite(v), "%s %d", names[kind], k);
            cr_assert_leq(speed(v), most + 1e-322, "%s %d: %g of %g", names[kind], k, speed(v), most);
        }
    }
    swing_reset(&swing, (struct vec3){NAN, 0, INFINITY});
    struct swing_config cfg = config(SWING_SHAPER_ZV, (struct swing_mode){5, 0});
    struct swing_plan plan = planned(&cfg);
    cr_assert_eq(vec_norm(swing_step(&plan, &swing, zero)), 0);
}

/* A camera move as the tick sends it: up to v at a, held, and down again. The pendulum swings in full. */
struct tried {
    struct pendulum body;
    double v, a, hold_s;
};

/* What is left of the swing once the wish has been at rest for longer than any shaper lasts, undamped by then. */
static double swing_left(const struct swing_plan *plan, struct tried t)
{
    static struct swing swing;
    double peak = 0, ramp = t.v / t.a, end = 2 * ramp + t.hold_s, sent = 0, rest = end + 2.5;
    swing_reset(&swing, zero);
    for (int k = 0; k * DT < rest; k++) {
        double now = k * DT, wish = fmin(t.v, fmin(now * t.a, (end - now) * t.a));
        double v = swing_step(plan, &swing, (struct vec3){fmax(wish, 0), 0, 0}).x;
        pendulum_run(&t.body, (v - sent) / DT, DT, STEPS_A_TICK, &peak);
        sent = v;
    }
    cr_assert_lt(sent, 1e-12);
    return pendulum_amplitude(&t.body);
}

/*
 * Independent of every formula of the shapers: a pendulum in full, moved as the rig would move it.
 * Per unit of the swing without a shaper, seen at the same time: no more than V, which is published, over the decay
 * exp(-zeta omega t_n) that V counts, plus what comes of angles that are not small (0.15 rad: frequency lower by
 * angle^2 / 16) and of the ticks.
 */
Test(swing, real_pendulums_hang_still)
{
    static const double errors[] = {-0.2, -0.1, 0, 0.1, 0.2};
    struct swing_mode model = swing_shaper_mode(0.35, 0.005);
    double half_s = 3.14159265 / model.omega_radps;
    for (int kind = SWING_SHAPER_ZV; kind < SWING_SHAPER_KINDS; kind++) {
        struct swing_config cfg = config((enum swing_shaper_kind)kind, model), none = config(SWING_SHAPER_NONE, model);
        struct swing_plan plan = planned(&cfg), plain = planned(&none);
        for (int e = 0; e < 5; e++) {
            struct swing_mode real = {model.omega_radps * (1 + errors[e]), model.damping};
            double longer = exp(real.damping * real.omega_radps * plan.shaper.time_s[plan.shaper.impulses - 1]);
            double published = swing_shaper_residual(&plan.shaper, real) * longer, most = 0, bare = 0;
            for (double hold = 0; hold < 2 * half_s; hold += half_s / 8) {
                struct tried t = {{real.omega_radps, real.damping, false, 0, 0}, 0.2, 0.4, hold};
                double left = swing_left(&plan, t), unshaped = swing_left(&plain, t);
                most = fmax(most, left);
                bare = fmax(bare, unshaped);
            }
            cr_log_info("%-4s %+3.0f %%: %.2f mrad of %.2f, V %.4f, published %.4f\n", names[kind], 100 * errors[e],
                        1e3 * most, 1e3 * bare, most / bare, published);
            cr_assert_lt(most, bare / 2);
            cr_assert_leq(most, (published + 0.0005) * bare, "%s at %g: %g of %g, published %g", names[kind], errors[e],
                          most, bare, published);
        }
    }
}

static void check_fault(struct swing_config cfg, enum swing_fault want)
{
    struct swing_plan plan;
    struct swing_plan pass = {.shaper = {.impulses = 1, .amplitude = {1}}, .taps = 1, .weight = {1}};
    enum swing_fault got = swing_make_plan(&cfg, &plan);
    cr_assert_eq(got, want, "%s, not %s", swing_fault_text(got), swing_fault_text(want));
    cr_assert_eq(memcmp(&plan, &pass, sizeof plan), 0);
}

Test(swing, refuses_what_cannot_be)
{
    struct swing_mode mode = {5, 0.01};
    struct swing_config good = config(SWING_SHAPER_EI, mode), bad = good;
    check_fault(config(SWING_SHAPER_KINDS, mode), SWING_BAD_SHAPER);
    check_fault(config((enum swing_shaper_kind) - 1, mode), SWING_BAD_SHAPER);
    check_fault(config(SWING_SHAPER_ZV, (struct swing_mode){NAN, 0}), SWING_BAD_MODE);
    check_fault(config(SWING_SHAPER_ZV, (struct swing_mode){5, 0.4}), SWING_BAD_MODE);
    bad.share = 0;
    check_fault(bad, SWING_BAD_SHARE);
    bad.share = 0.21;
    check_fault(bad, SWING_BAD_SHARE);
    bad = good, bad.dt_s = NAN;
    check_fault(bad, SWING_BAD_TICK);
    bad.dt_s = 0;
    check_fault(bad, SWING_BAD_TICK);
    bad.dt_s = 0.101;
    check_fault(bad, SWING_BAD_TICK);
    bad.dt_s = 1e-4;
    check_fault(bad, SWING_TOO_LONG);
    check_fault((struct swing_config){SWING_SHAPER_ZVD, {2 * 3.14159265 / ((SWING_WINDOW - 0.5) * DT), 0}, 0, DT},
                SWING_TOO_LONG);
    bad.dt_s = 1e-310;
    check_fault(bad, SWING_TOO_LONG);
    check_fault((struct swing_config){SWING_SHAPER_NONE, {0, NAN}, NAN, NAN}, SWING_OK);
    for (int f = SWING_OK; f < SWING_FAULTS; f++)
        cr_assert_gt(strlen(swing_fault_text((enum swing_fault)f)), 10);
    cr_assert_str_eq(swing_fault_text(SWING_FAULTS), "unknown");
}
