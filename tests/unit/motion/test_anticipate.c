/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/anticipate.h"

#include <criterion/criterion.h>

#include "tests/property/random.h"

static const struct vec3 middle = {4, 3, 2}, up = {0, 0, 0.2}, down = {0, 0, -0.2};

/* Four cords from 3.2 m; 2.4 kg pull 23.5 N together. */
static struct anticipate_config plain(void)
{
    return (struct anticipate_config){
        .rig = {.cords = 4,
                .anchor = {{0, 0, 3.2}, {8, 0, 3.2}, {8, 6, 3.2}, {0, 6, 3.2}},
                .mass_kg = 2.4,
                .min_n = {2, 2, 2, 2},
                .max_n = {60, 60, 60, 60}},
        .look_s = 0.3,
        .band_share = 0.2,
        .trip_s = 0.2,
    };
}

static struct anticipate_output look(const struct anticipate_config *cfg, const struct anticipate *state,
                                     struct vec3 position, struct vec3 wish, double way_m)
{
    struct anticipate_input in = {position, wish, way_m};
    struct anticipate_output out;
    anticipate_look(cfg, state, &in, &out);
    return out;
}

static struct anticipate unheard(void)
{
    struct anticipate state;
    anticipate_init(&state);
    return state;
}

static struct anticipate steady(const struct anticipate_config *cfg, const double t[VOLUME_MAX_CORDS])
{
    struct anticipate state = unheard();
    for (int i = 0; i < 3; i++)
        anticipate_hear(cfg, &state, 0.01, t);
    return state;
}

Test(anticipate, where_there_is_room_nothing_is_slowed)
{
    struct anticipate_config cfg = plain();
    struct anticipate state = unheard();
    struct tension_state here;
    struct anticipate_output out = look(&cfg, &state, middle, (struct vec3){0.2, 0, 0}, 0.2);
    tension_solve(&cfg.rig, middle, (struct vec3){0, 0, 0}, &here);
    cr_assert_eq(out.factor, 1);
    cr_assert(out.feasible && out.margin_n == here.margin_n);
    for (int k = 0; k < 4; k++)
        cr_assert_eq(out.wanted_n[k], here.middle_n[k]);
}

/* Flown straight up by nothing but the factor, it comes to rest before a cord is overloaded, and goes down again at
 * once. The limit is found by the test itself, by halving. */
Test(anticipate, it_comes_to_rest_before_the_limit_and_relief_is_let_through)
{
    struct anticipate_config cfg = plain();
    struct anticipate state = unheard();
    double lo = 2, hi = 3.19, z = 2, slowest = 1, from_z = 0;
    for (int i = 0; i < 60; i++) {
        struct tension_state s;
        double half = (lo + hi) / 2;
        tension_solve(&cfg.rig, (struct vec3){4, 3, half}, (struct vec3){0, 0, 0}, &s);
        *(s.margin_n > 0 ? &lo : &hi) = half;
    }
    for (int i = 0; i < 6000; i++) {
        double k = look(&cfg, &state, (struct vec3){4, 3, z}, up, 0.15).factor;
        cr_assert_leq(k, slowest + 1e-9, "slower and slower on the way up");
        from_z = k < 1 && from_z <= 0 ? z : from_z;
        slowest = k;
        z += 0.2 * k * 0.01;
    }
    cr_assert_leq(z, lo, "%.4f of %.4f", z, lo);
    cr_assert_geq(z, lo - 0.02, "and it gets near: %.4f of %.4f", z, lo);
    cr_assert(from_z > 2.1 && from_z < lo - 0.1, "slowed from %.3f on, %.3f before the limit", from_z, lo - from_z);
    struct anticipate_output stopped = look(&cfg, &state, (struct vec3){4, 3, z}, up, 0.15);
    cr_assert(stopped.at_max && stopped.limit_n == 60 && stopped.cord >= 0);
    cr_assert_eq(look(&cfg, &state, (struct vec3){4, 3, z}, down, 0.15).factor, 1);
    cr_assert_eq(look(&cfg, &state, (struct vec3){4, 3, lo + 0.05}, down, 0.15).factor, 1, "from beyond the limit too");
    cr_assert_eq(look(&cfg, &state, (struct vec3){4, 3, lo + 0.05}, up, 0.15).factor, 0);
}

/* What is left at the end of the way as it is let through is never below nought: checked by solving there. */
Test(anticipate, no_way_uses_up_more_than_there_is)
{
    struct anticipate_config cfg = plain();
    struct anticipate state = unheard();
    struct random r = {5};
    int slowed = 0;
    for (int i = 0; i < 20000; i++) {
        struct vec3 p = {random_between(&r, 0.5, 7.5), random_between(&r, 0.5, 5.5), random_between(&r, 0.2, 3)};
        struct vec3 d = random_direction(&r);
        double way = random_between(&r, 0.01, 0.4);
        struct anticipate_output out = look(&cfg, &state, p, vec_scale(d, 0.3), way);
        struct tension_state here, there;
        tension_solve(&cfg.rig, p, (struct vec3){0, 0, 0}, &here);
        tension_solve(&cfg.rig, vec_along(p, d, way * out.factor), (struct vec3){0, 0, 0}, &there);
        slowed += out.factor < 1;
        cr_assert(out.factor >= 0 && out.factor <= 1);
        if (here.margin_n > 0)
            cr_assert_gt(there.margin_n, -0.05 * 58, "%d: %.2f N to %.2f N, factor %.3f", i, here.margin_n,
                         there.margin_n, out.factor);
        else
            cr_assert(out.factor == 0 || there.margin_n >= here.margin_n - 1e-9 || out.factor == 1, "%d", i);
    }
    cr_assert_gt(slowed, 2000);
}

Test(anticipate, what_was_measured_counts_beside_the_statics)
{
    struct anticipate_config cfg = plain();
    const double high[VOLUME_MAX_CORDS] = {54.2, 20, 54.2, 20}, low[VOLUME_MAX_CORDS] = {4.9, 20, 4.9, 20},
                 over[VOLUME_MAX_CORDS] = {61, 20, 61, 20};
    struct anticipate state = steady(&cfg, high);
    struct anticipate_output out = look(&cfg, &state, middle, up, 0.2);
    cr_assert(out.factor < 1 && out.factor > 0 && out.at_max && (out.cord == 0 || out.cord == 2));
    cr_assert_float_eq(out.tension_n, 54.2, 1e-9);
    cr_assert_eq(look(&cfg, &state, middle, down, 0.2).factor, 1, "down is what relieves a tight cord");
    cr_assert_float_eq(out.margin_n, 60 - 54.2, 1e-9);
    state = steady(&cfg, over);
    cr_assert_eq(look(&cfg, &state, middle, up, 0.2).factor, 0);
    cr_assert_eq(look(&cfg, &state, middle, down, 0.2).factor, 1);
    state = steady(&cfg, low);
    out = look(&cfg, &state, middle, down, 0.2);
    cr_assert(out.factor < 1 && !out.at_max && out.limit_n == 2, "and up what relieves a loose one");
    cr_assert_eq(look(&cfg, &state, middle, up, 0.2).factor, 1);
}

/* Tension that rises at a steady rate is foreseen look_s ahead. */
Test(anticipate, a_steady_rate_is_foreseen_exactly)
{
    struct anticipate_config cfg = plain();
    for (double step = 0.005; step < 0.06; step *= 2) {
        struct anticipate state = unheard();
        double t[VOLUME_MAX_CORDS] = {20, 20, 20, 20};
        for (double s = 0; s < 4; s += step) {
            t[0] += 5 * step;
            anticipate_hear(&cfg, &state, step, t);
        }
        double foreseen = 2 * state.tension_n[0] - state.smooth_n[0];
        cr_assert_float_eq(foreseen, t[0] + 5 * cfg.look_s, 1e-4, "%g: %.5f", step, foreseen - t[0]);
    }
}

Test(anticipate, a_rising_tension_slows_before_a_steady_one)
{
    struct anticipate_config cfg = plain();
    double t[VOLUME_MAX_CORDS] = {40, 20, 40, 20};
    struct anticipate state = steady(&cfg, t);
    for (int i = 0; i < 100; i++) {
        t[0] += 0.1;
        anticipate_hear(&cfg, &state, 0.01, t);
    }
    struct anticipate flat = steady(&cfg, t);
    double rising = look(&cfg, &state, middle, up, 0.2).factor, still = look(&cfg, &flat, middle, up, 0.2).factor;
    cr_assert(rising < 1 && rising < still, "%.3f, %.3f", rising, still);
}

Test(anticipate, slack_and_overload_that_last_are_faults_and_name_the_cord)
{
    struct anticipate_config cfg = plain();
    cfg.trip_s = 0.205;
    for (int over = 0; over < 2; over++) {
        double fine[VOLUME_MAX_CORDS] = {20, 20, 20, 20}, bad[VOLUME_MAX_CORDS] = {20, 20, over ? 61 : 1.5, 20};
        struct anticipate state = unheard();
        int cord = 9;
        for (int i = 0; i < 21; i++) {
            anticipate_hear(&cfg, &state, 0.01, bad);
            cr_assert_eq(anticipate_fault(&cfg, &state, &cord), ANTICIPATE_SOUND, "after %d0 ms", i);
            cr_assert_eq(cord, -1);
        }
        struct anticipate once = state;
        anticipate_hear(&cfg, &once, 0.01, fine);
        anticipate_hear(&cfg, &once, 0.01, bad);
        cr_assert_eq(anticipate_fault(&cfg, &once, &cord), ANTICIPATE_SOUND, "a break begins anew");
        anticipate_hear(&cfg, &state, 0.01, bad);
        cr_assert_eq(anticipate_fault(&cfg, &state, &cord), over ? ANTICIPATE_OVERLOAD : ANTICIPATE_SLACK);
        cr_assert_eq(cord, 2);
        anticipate_hear(&cfg, &state, 0.01, fine);
        cr_assert_eq(anticipate_fault(&cfg, &state, &cord), ANTICIPATE_SOUND);
    }
}

Test(anticipate, one_report_after_a_silence_is_no_lasting_fault)
{
    struct anticipate_config cfg = plain();
    const double bad[VOLUME_MAX_CORDS] = {1, 20, 20, 20};
    struct anticipate state = unheard();
    int cord;
    anticipate_hear(&cfg, &state, 50, bad);
    cr_assert_eq(anticipate_fault(&cfg, &state, &cord), ANTICIPATE_SOUND);
}

Test(anticipate, anything_may_come_in)
{
    static const double wild[] = {(double)NAN, (double)INFINITY, -(double)INFINITY, 1e308, -1e308, 5e-324, 0, -1};
    struct anticipate_config cfg = plain();
    struct random r = {6};
    struct anticipate state = unheard();
    for (int i = 0; i < 20000; i++) {
        double t[VOLUME_MAX_CORDS] = {20, 20, 20, 20};
        struct vec3 p = middle, v = up;
        double way = 0.1;
        double *field[] = {&t[0], &t[3], &p.x, &p.z, &v.x, &v.y, &way};
        *field[random_below(&r, 7)] = wild[random_below(&r, 8)];
        anticipate_hear(&cfg, &state, wild[random_below(&r, 8)], t);
        struct anticipate_output out = look(&cfg, &state, p, v, way);
        cr_assert(out.factor >= 0 && out.factor <= 1 && isfinite(out.margin_n) && isfinite(out.tension_n) &&
                  isfinite(out.limit_n));
        for (int k = 0; k < 4; k++)
            cr_assert(isfinite(state.smooth_n[k]) && isfinite(out.wanted_n[k]) && isfinite(state.slack_s[k]));
    }
}

Test(anticipate, config_is_valid_only_as_documented)
{
    const struct anticipate_config good = plain();
    cr_assert(anticipate_config_valid(&good));
    static const double bad[] = {(double)NAN, (double)INFINITY, 0, -1};
    for (int which = 0; which < 4; which++)
        for (int i = 0; i < 4; i++) {
            struct anticipate_config cfg = good;
            double *field[] = {&cfg.look_s, &cfg.band_share, &cfg.trip_s, &cfg.rig.mass_kg};
            *field[which] = bad[i];
            cr_assert_not(anticipate_config_valid(&cfg), "%d %g", which, bad[i]);
        }
    struct anticipate_config cfg = good;
    cfg.band_share = 0.51;
    cr_assert_not(anticipate_config_valid(&cfg));
}
