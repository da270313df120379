/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/standstill.h"

#include <criterion/criterion.h>

#include "tests/property/random.h"

#define DT_S 0.01

/* Runs for so long at a speed, with noise; true if it was at standstill in every tick of the second half. */
struct run {
    struct standstill s;
    struct random random;
    double x, noise_m;
    int still, ticks;
};

/* Near enough: the sum of twelve. */
static double normal(struct random *random)
{
    double sum = -6;
    for (int i = 0; i < 12; i++)
        sum += random_between(random, 0, 1);
    return sum;
}

static void run(struct run *r, double mps, double seconds)
{
    r->still = r->ticks = 0;
    for (int i = 0; i < (int)lround(seconds / DT_S); i++) {
        r->x += mps * DT_S;
        struct vec3 noise =
            vec_scale((struct vec3){normal(&r->random), normal(&r->random), normal(&r->random)}, r->noise_m);
        struct standstill_input in = {.elapsed_s = DT_S,
                                      .known = true,
                                      .position = vec_add((struct vec3){r->x, 1, 2}, noise),
                                      .uncertainty_m = 3 * r->noise_m};
        r->still += standstill_step(&r->s, &in);
        r->ticks++;
    }
}

Test(standstill, is_seen_soon_after_it_stops_and_never_while_it_moves)
{
    for (double mps = 0.06; mps < 3; mps *= 1.5) {
        struct run r = {.random = {1}};
        standstill_init(&r.s);
        run(&r, mps, 5);
        cr_assert_leq(r.still, 0, "%g m/s", mps);
        run(&r, 0, 2);
        cr_assert_geq(r.still, r.ticks - 100, "within a second from %g m/s, %d of %d", mps, r.still, r.ticks);
        run(&r, mps, 0.5);
        cr_assert_leq(r.still, 20, "%g m/s", mps);
    }
}

Test(standstill, is_seen_through_the_noise_of_a_sensor)
{
    struct run r = {.random = {7}, .noise_m = 0.004};
    standstill_init(&r.s);
    run(&r, 0, 1);
    run(&r, 0, 60);
    cr_assert_geq(r.still, r.ticks * 95 / 100, "%d of %d", r.still, r.ticks);
    run(&r, 0.15, 10);
    cr_assert_leq(r.still, 10, "%d of %d", r.still, r.ticks);
}

Test(standstill, needs_a_position_a_rig_and_a_policy_that_all_rest)
{
    struct standstill s;
    struct standstill_input in = {.elapsed_s = DT_S, .known = true, .position = {1, 1, 1}};
    const struct vec3 bad[] = {{(double)NAN, 0, 0}, {0, -(double)INFINITY, 0}, {0, 0, 1e300}};
    standstill_init(&s);
    for (int i = 0; i < 100; i++)
        standstill_step(&s, &in);
    cr_assert(standstill_step(&s, &in));
    in.driven = true;
    cr_assert_not(standstill_step(&s, &in));
    in.driven = false;
    cr_assert_not(standstill_step(&s, &in), "it takes a while again");
    for (int k = 0; k < 4; k++) {
        for (int i = 0; i < 100; i++)
            standstill_step(&s, &in);
        cr_assert(standstill_step(&s, &in));
        struct standstill_input odd = in;
        odd.known = k < 3;
        if (k < 3)
            odd.position = bad[k];
        cr_assert_not(standstill_step(&s, &odd));
        cr_assert_not(standstill_step(&s, &in), "one position says nothing of speed");
    }
}

/* Whatever its memory holds, it is no standstill at once, and it finds back. */
Test(standstill, recovers_from_any_state)
{
    const double odd[] = {(double)NAN, (double)INFINITY, -1e308, 1e6};
    struct standstill_input in = {.elapsed_s = DT_S, .known = true, .uncertainty_m = (double)NAN};
    for (int i = 0; i < 4; i++) {
        struct standstill s = {true, {odd[i], 0, 0}, {0, odd[i], 0}, odd[i]};
        cr_assert_not(standstill_step(&s, &in), "%d", i);
        for (int k = 0; k < 400; k++)
            standstill_step(&s, &in);
        cr_assert(standstill_step(&s, &in), "%d", i);
        s.slow_s = (double)NAN;
        cr_assert_not(standstill_step(&s, &in), "%d", i);
    }
}
