/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The profile of a velocity in space, and taking over from what something else has sent. */
#include "tests/unit/motion/profiles.h"

#define DT 0.01

static struct vec3 random_vec(struct random *r, double most)
{
    struct vec3 v;
    v.x = random_between(r, -most, most);
    v.y = random_between(r, -most, most);
    v.z = random_between(r, -most, most);
    return v;
}

static struct vec3 hostile_vec(struct random *r)
{
    struct vec3 v = random_vec(r, 1);
    *(double *[]){&v.x, &v.y, &v.z}[random_below(r, 3)] = profiles_hostile(r);
    return v;
}

static void expect_within(const struct profile_limits *limits, const struct profile3 *before,
                          const struct profile3 *now, double dt, int i)
{
    double near = 1 + 1e-9;
    cr_assert(vec_finite(now->v) && vec_finite(now->a), "%d", i);
    cr_assert_leq(vec_norm(now->v), limits->speed * near, "%d: %.17g", i, vec_norm(now->v));
    cr_assert_leq(vec_norm(now->a), limits->accel * near, "%d: %.17g", i, vec_norm(now->a));
    cr_assert_leq(vec_norm(vec_sub(now->a, before->a)), limits->jerk * dt * near, "%d", i);
    struct vec3 step = vec_sub(vec_sub(now->v, before->v), vec_scale(now->a, dt));
    cr_assert_lt(vec_norm(step), 1e-12 * limits->speed, "%d: the velocity stepped", i);
}

Test(profile_space, keeps_every_limit_whatever_is_wanted)
{
    struct random r = {1};
    for (int i = 0; i < 2000; i++) {
        struct profile_limits limits = profiles_limits(&r);
        struct profile3 now = {0};
        struct vec3 wanted = {0};
        for (int n = 0; n < 100; n++) {
            if (random_below(&r, 8) == 0)
                wanted = random_below(&r, 10) ? random_vec(&r, 1.5 * limits.speed) : hostile_vec(&r);
            struct profile3 next = profile_step3(&limits, &now, wanted, DT);
            expect_within(&limits, &now, &next, DT, i);
            now = next;
        }
    }
}

Test(profile_space, takes_no_hostile_state_for_motion)
{
    struct random r = {2};
    for (int i = 0; i < 100000; i++) {
        struct profile_limits limits = profiles_limits(&r);
        struct profile3 now = {.v = random_vec(&r, 0.02), .a = hostile_vec(&r)};
        if (random_below(&r, 2))
            now = (struct profile3){.v = hostile_vec(&r)};
        struct profile3 next = profile_step3(&limits, &now, hostile_vec(&r), DT);
        cr_assert(vec_finite(next.v) && vec_finite(next.a), "%d", i);
        struct profile3 sent = profile_sent3(&limits, &now, &next, hostile_vec(&r), DT);
        cr_assert(vec_finite(sent.v) && vec_finite(sent.a), "%d", i);
    }
}

Test(profile_space, along_a_line_it_is_the_scalar_step)
{
    struct random r = {3};
    for (int i = 0; i < 500; i++) {
        struct profile_limits limits = profiles_limits(&r);
        struct vec3 line = random_vec(&r, 1);
        line = vec_scale(line, 1 / vec_norm(line));
        struct profile alone = {0};
        struct profile3 now = {0};
        double wanted = 0;
        for (int n = 0; n < 300; n++) {
            if (n % 60 == 0)
                wanted = random_between(&r, -1, 1) * limits.speed;
            alone = profile_step(&limits, alone, wanted, DT);
            now = profile_step3(&limits, &now, vec_scale(line, wanted), DT);
            cr_assert_lt(vec_norm(vec_sub(now.v, vec_scale(line, alone.v))), 1e-6 * limits.speed, "%d %d", i, n);
        }
    }
}

static int ticks_to(const struct profile_limits *limits, struct profile3 now, struct vec3 wanted, double *furthest)
{
    int n = 0;
    for (; n < 100000 && (vec_norm(vec_sub(now.v, wanted)) > 0 || vec_norm(now.a) > 0); n++) {
        now = profile_step3(limits, &now, wanted, DT);
        *furthest = fmax(*furthest, vec_norm(now.v));
    }
    return n;
}

/* Wherever it comes from, it arrives at the wish exactly, and no later than by easing off first and going straight. */
Test(profile_space, arrives_however_the_wish_turns)
{
    struct random r = {4};
    for (int i = 0; i < 3000; i++) {
        struct profile_limits limits = profiles_limits(&r);
        struct profile3 now = {0};
        double furthest = 0;
        struct vec3 first = random_vec(&r, limits.speed / 2), then = random_vec(&r, limits.speed / 2);
        for (uint32_t n = random_below(&r, 200); n > 0; n--)
            now = profile_step3(&limits, &now, first, DT);
        struct profile3 eased = now;
        int easing = 0;
        for (double u = limits.jerk * DT; vec_norm(eased.a) > 0; easing++) {
            double length = vec_norm(eased.a);
            eased.a = vec_scale(eased.a, fmax(length - u, 0) / length);
            eased.v = vec_along(eased.v, eased.a, DT);
        }
        int straight = ticks_to(&limits, eased, then, &furthest), took = ticks_to(&limits, now, then, &furthest);
        cr_assert_leq(took, easing + straight + 1, "%d: %d ticks, %d and %d would do", i, took, easing, straight);
        cr_assert_leq(furthest, limits.speed, "%d", i);
    }
}

/* Another lane with other limits takes over in mid-move: only the jerk counts, and too much speed only ever falls. */
Test(profile_space, hands_over_without_a_step)
{
    struct random r = {5};
    for (int i = 0; i < 1000; i++) {
        struct profile_limits wide = profiles_limits(&r), narrow = wide;
        narrow.speed *= random_between(&r, 0.2, 1);
        narrow.accel *= random_between(&r, 0.2, 1);
        struct profile3 now = {0};
        for (uint32_t n = random_below(&r, 200); n > 0; n--)
            now = profile_step3(&wide, &now, random_vec(&r, wide.speed), DT);
        double most = wide.speed, u = wide.jerk * DT;
        struct vec3 wanted = random_vec(&r, narrow.speed);
        for (int n = 0; n < 3000 && vec_norm(vec_sub(now.v, wanted)) > 0; n++) {
            struct profile3 next = profile_step3(&narrow, &now, wanted, DT);
            cr_assert_leq(vec_norm(vec_sub(next.a, now.a)), u * (1 + 1e-9), "%d", i);
            cr_assert_leq(vec_norm(next.a), fmax(narrow.accel, vec_norm(now.a) - u) * (1 + 1e-9), "%d", i);
            cr_assert_leq(vec_norm(next.v), most * (1 + 1e-9), "%d", i);
            if (vec_norm(now.a) <= u)
                most = fmax(narrow.speed, vec_norm(next.v));
            now = next;
        }
        cr_assert_leq(vec_norm(now.v), narrow.speed * (1 + 1e-9), "%d: still too fast", i);
    }
}

Test(profile_space, goes_on_from_what_was_sent)
{
    struct random r = {6};
    for (int i = 0; i < 3000; i++) {
        struct profile_limits limits = profiles_limits(&r);
        struct profile3 now = {0};
        for (uint32_t n = random_below(&r, 200); n > 0; n--) {
            struct profile3 next = profile_step3(&limits, &now, random_vec(&r, limits.speed), DT);
            struct profile3 sent = profile_sent3(&limits, &now, &next, next.v, DT);
            cr_assert_eq(vec_norm(vec_sub(sent.v, next.v)), 0);
            cr_assert_eq(vec_norm(vec_sub(sent.a, next.a)), 0);
            now = next;
        }
        struct vec3 was = now.v;
        /* Something brakes three times as hard as this may, for a few ticks. */
        for (uint32_t n = 1 + random_below(&r, 20); n > 0; n--) {
            double speed = vec_norm(now.v), slower = fmax(speed - 3 * limits.accel * DT, 0);
            struct vec3 sent = speed > 0 ? vec_scale(now.v, slower / speed) : now.v;
            struct profile3 said = profile_step3(&limits, &now, was, DT);
            now = profile_sent3(&limits, &now, &said, sent, DT);
        }
        was = now.v;
        double furthest = 0;
        cr_assert_lt(ticks_to(&limits, now, (struct vec3){0}, &furthest), 100000);
        cr_assert_leq(furthest, vec_norm(was) * (1 + 1e-9), "%d: sped up", i);
        for (int n = 0; n < 100; n++) {
            now = profile_step3(&limits, &now, (struct vec3){0}, DT);
            cr_assert_geq(vec_dot(now.v, was), -1e-12, "%d: turned back", i);
        }
    }
}

/* The scalar of it, and whatever is sent: easing off from there ends within the limit, and never past rest. */
Test(profile_space, keeps_no_acceleration_it_cannot_ease_off)
{
    struct random r = {7};
    for (int i = 0; i < 100000; i++) {
        struct profile_limits limits = profiles_limits(&r);
        struct profile before = {.v = random_between(&r, -1, 1) * limits.speed};
        double v = before.v * random_between(&r, -0.2, 1);
        struct profile now = profile_sent(&limits, before, before, v, DT);
        cr_assert_eq(now.v, v);
        cr_assert_leq(fabs(now.a), limits.accel);
        for (int n = 0; n < 1000 && fabs(now.a) > 0; n++) {
            now.a = copysign(fmax(fabs(now.a) - limits.jerk * DT, 0), now.a);
            now.v += now.a * DT;
            cr_assert_geq(now.v * v, -1e-12, "%d: turned back", i);
            cr_assert_leq(fabs(now.v), limits.speed * (1 + 1e-9), "%d", i);
        }
    }
}

/* Where the velocity would end if the acceleration were eased off from the next tick on, by running it. */
static struct vec3 eased_off(const struct profile_limits *limits, struct profile3 now)
{
    double u = limits->jerk * DT;
    for (double length = vec_norm(now.a); length > 0; length = vec_norm(now.a)) {
        now.a = vec_scale(now.a, fmax(length - u, 0) / length);
        now.v = vec_along(now.v, now.a, DT);
    }
    return now.v;
}

/* That end goes straight to the wish: the way there and the way left are the whole, at every step. */
Test(profile_space, goes_straight_to_the_wish)
{
    struct random r = {8};
    for (int i = 0; i < 300; i++) {
        struct profile_limits limits = profiles_limits(&r);
        struct profile3 now = {0};
        for (int n = 0; n < 200; n++) {
            struct vec3 wanted = random_vec(&r, limits.speed / 2), before = eased_off(&limits, now);
            for (uint32_t k = random_below(&r, 20); k > 0; k--) {
                now = profile_step3(&limits, &now, wanted, DT);
                struct vec3 after = eased_off(&limits, now);
                double done = vec_norm(vec_sub(after, before)), left = vec_norm(vec_sub(wanted, after));
                cr_assert_float_eq(done + left, vec_norm(vec_sub(wanted, before)), 1e-9 * limits.speed, "%d", i);
                before = after;
            }
        }
    }
}

Test(profile_space, comes_to_rest_where_the_wish_is_no_number)
{
    struct random r = {9};
    for (int i = 0; i < 1000; i++) {
        struct profile_limits limits = profiles_limits(&r);
        struct profile3 now = {.v = random_vec(&r, limits.speed / 2)};
        struct vec3 bad = hostile_vec(&r);
        if (vec_finite(bad))
            continue;
        struct profile3 next = profile_step3(&limits, &now, bad, DT),
                        rest = profile_step3(&limits, &now, (struct vec3){0}, DT);
        cr_assert_eq(vec_norm(vec_sub(next.v, rest.v)), 0);
        cr_assert_lt(vec_norm(next.v), vec_norm(now.v));
    }
}
