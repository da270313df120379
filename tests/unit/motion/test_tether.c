/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/tether.h"

#include <criterion/criterion.h>

#include "tests/unit/motion/shapes.h"

enum { POINTS = 64 };

/* A line as it hangs: points from one end to the other. */
struct line {
    struct vec3 at[POINTS + 1];
};

/*
 * The catenary of length L between two points h apart in plan and v in height: with the parameter a,
 *   sqrt(L^2 - v^2) = 2 a sinh(h / 2a),   z = a cosh((x - x0) / a) + c     (standard mechanics)
 * solved for h / 2a by halving: sinh(u) / u grows from 1.
 */
static struct line hang(struct vec3 from, struct vec3 to, double length)
{
    struct line line;
    double dx = to.x - from.x, dy = to.y - from.y, v = to.z - from.z, h = sqrt(dx * dx + dy * dy);
    double want = sqrt(length * length - v * v) / h, lo = 0, hi = 700;
    for (int i = 0; i < 200; i++) {
        double u = (lo + hi) / 2;
        if (u > 0 && sinh(u) / u < want)
            lo = u;
        else
            hi = u;
    }
    double a = h / (lo + hi), x0 = h / 2 - a * atanh(v / length);
    for (int i = 0; i <= POINTS; i++) {
        double s = (double)i / POINTS, x = s * h;
        double z = from.z + a * (cosh((x - x0) / a) - cosh(-x0 / a));
        line.at[i] = (struct vec3){from.x + s * dx, from.y + s * dy, z};
    }
    return line;
}

/* Taut on both sides of a weight that is anywhere on it: the lowest that a line of that length can be. */
static struct line weighted(struct vec3 from, struct vec3 to, double length, double share)
{
    struct line line;
    double dx = to.x - from.x, dy = to.y - from.y;
    struct vec3 w = {from.x + share * dx, from.y + share * dy, 0};
    double lo = -100, hi = from.z + share * (to.z - from.z);
    for (int i = 0; i < 200; i++) {
        w.z = (lo + hi) / 2;
        if (vec_norm(vec_sub(w, from)) + vec_norm(vec_sub(w, to)) > length)
            lo = w.z;
        else
            hi = w.z;
    }
    for (int i = 0; i <= POINTS; i++) {
        double s = 2.0 * i / POINTS;
        line.at[i] = s < 1 ? vec_along(from, vec_sub(w, from), s) : vec_along(w, vec_sub(to, w), s - 1);
    }
    return line;
}

static double outside(const struct hull *h, struct vec3 p)
{
    struct hull point = shapes_hull_of(&p, 1);
    return hull_distance(&point, h, INFINITY);
}

struct envelope {
    struct hull hull, other;
};

static struct envelope envelope_of(const struct volume_tether *t, struct vec3 from, struct vec3 to)
{
    struct envelope e = {.hull.points = 0};
    cr_assert(tether_sweep(t, from, to, &e.hull, &e.other));
    hull_bound(&e.hull);
    hull_bound(&e.other);
    cr_assert(hull_valid(&e.hull) && hull_valid(&e.other));
    return e;
}

static struct vec3 somewhere(struct random *r)
{
    return (struct vec3){random_between(r, 0, 5), random_between(r, 0, 5), random_between(r, 0.2, 4)};
}

static struct volume_tether hanging(struct random *r)
{
    return (struct volume_tether){VOLUME_TETHER_HANGING,
                                  somewhere(r),
                                  .length_m = random_between(r, 0.5, 8),
                                  .radius_m = random_between(r, 0, 0.02),
                                  .side_m = random_chance(r, 0.5) ? 0 : random_between(r, 0, 0.2),
                                  .floor_m = -100};
}

static void expect_inside(const struct envelope *e, const struct line *line, double thickness, const char *what, int i)
{
    for (int k = 0; k <= POINTS; k++) {
        double out = fmax(outside(&e->hull, line->at[k]), outside(&e->other, line->at[k]));
        cr_assert_leq(out, -thickness + 1e-7, "%d, %s: point %d is %g outside", i, what, k, out + thickness);
    }
}

/* Wherever the lower end is on a straight way, at whatever length up to all of it. */
Test(tether, envelope_holds_all_that_can_hang)
{
    struct random r = {101};
    int hung = 0;
    for (int i = 0; i < 4000; i++) {
        struct volume_tether t = hanging(&r);
        struct vec3 from = somewhere(&r), to = vec_add(from, random_in_ball(&r, random_chance(&r, 0.3) ? 0 : 1));
        struct vec3 q = vec_along(from, vec_sub(to, from), random_between(&r, 0, 1));
        struct envelope e = envelope_of(&t, from, to);
        double apart = vec_norm(vec_sub(q, t.anchor)), length = random_between(&r, apart, t.length_m);
        if (random_chance(&r, 0.3))
            length = t.length_m;
        if (!(length > apart * (1 + 1e-9)) || hypot(q.x - t.anchor.x, q.y - t.anchor.y) < 1e-3)
            continue;
        struct line line = hang(t.anchor, q, length);
        cr_assert_lt(vec_norm(vec_sub(line.at[POINTS], q)), 1e-6, "%d: the catenary ends elsewhere", i);
        expect_inside(&e, &line, t.radius_m, "catenary", i);
        line = weighted(t.anchor, q, length, random_between(&r, 0, 1));
        expect_inside(&e, &line, t.radius_m, "with a weight", i);
        hung++;
    }
    cr_assert_gt(hung, 1500);
}

/* Straight above: the line hangs in a loop below the lower end, half of what is left down. */
Test(tether, hangs_in_a_loop_below_its_anchor)
{
    struct volume_tether t = {VOLUME_TETHER_HANGING, {1, 1, 4}, .length_m = 3, .floor_m = 0};
    struct vec3 q = {1, 1, 2};
    struct envelope e = envelope_of(&t, q, q);
    cr_assert_float_eq(e.hull.around.lo.z, 1.5, 1e-12);
    t.floor_m = 1.8;
    e = envelope_of(&t, q, q);
    cr_assert_float_eq(e.hull.around.lo.z, 1.8, 1e-12, "or lies on the floor");
    t.floor_m = 3;
    e = envelope_of(&t, q, q);
    cr_assert_float_eq(e.hull.around.lo.z, 2, 1e-12, "its ends may be below that");
    t.length_m = 1;
    e = envelope_of(&t, q, q);
    cr_assert(hull_valid(&e.hull) && hull_valid(&e.other), "too short a line is a straight one");
    cr_assert_float_eq(e.other.ball_m, 0, 1e-12);
}

/* What lies on a floor is off the plane of its ends by no more than it is said to be. */
Test(tether, envelope_is_as_wide_as_said)
{
    struct volume_tether t = {VOLUME_TETHER_HANGING, {0, 0, 1}, .length_m = 4, .side_m = 0.3, .radius_m = 0.01};
    struct vec3 q = {3, 0, 2};
    struct envelope e = envelope_of(&t, q, q);
    cr_assert_leq(outside(&e.hull, (struct vec3){1.5, 0.3, 0.2}), 0);
    cr_assert_float_eq(outside(&e.hull, (struct vec3){1.5, 0.5, 0.2}), 0.5 - 0.3 - 0.01, 1e-6);
}

/* The half-axis of the ellipsoid, or more; never steeper than 1. */
Test(tether, sag_is_no_less_than_it_can_be_and_changes_no_faster_than_the_end_moves)
{
    for (int i = 0; i <= 1000; i++) {
        double length = 5, c = length * i / 1000;
        double b = sqrt(length * length - c * c) / 2;
        cr_assert_geq(tether_sag(length, c), b - 1e-12, "c %g", c);
        cr_assert_leq(tether_sag(length, c), b + 0.12 * length, "c %g", c);
        double change = tether_sag(length, c) - tether_sag(length, c + 1e-3);
        cr_assert(change >= -1e-12 && change <= 1e-3 + 1e-12, "c %g: %g", c, change);
    }
    cr_assert_float_eq(tether_sag(5, 3), 2, 1e-12, "3-4-5");
    cr_assert_eq(tether_sag(5, 9), 0);
}

/* So the distance to the envelope changes no faster than VOLUME_TETHER_STEEP says. */
Test(tether, distance_to_the_envelope_is_lipschitz)
{
    struct random r = {102};
    for (int i = 0; i < 20000; i++) {
        struct volume_tether t = hanging(&r);
        t.floor_m = random_chance(&r, 0.5) ? 0 : -100;
        struct vec3 p = somewhere(&r), q = somewhere(&r), step = random_in_ball(&r, random_between(&r, 0, 0.2));
        struct envelope a = envelope_of(&t, q, q), b = envelope_of(&t, vec_add(q, step), vec_add(q, step));
        double one = fmax(outside(&a.hull, p), outside(&a.other, p));
        double two = fmax(outside(&b.hull, p), outside(&b.other, p));
        if (one > 0 && two > 0)
            cr_assert_leq(fabs(one - two), VOLUME_TETHER_STEEP * vec_norm(step) + 2e-6, "%d", i);
    }
}

Test(tether, a_straight_one_is_its_chord)
{
    struct volume_tether t = {VOLUME_TETHER_STRAIGHT, {0, 0, 0}, .length_m = 4, .radius_m = 0.01};
    struct hull hull, other;
    struct vec3 q = {3, 0, 0};
    cr_assert_not(tether_sweep(&t, q, q, &hull, &other));
    hull_bound(&hull);
    cr_assert_float_eq(outside(&hull, (struct vec3){1, 0, -0.5}), 0.49, 1e-6);
    cr_assert_not(tether_sweep(&t, q, (struct vec3){0, 3, 0}, &hull, &other));
    hull_bound(&hull);
    cr_assert_leq(outside(&hull, (struct vec3){1, 1, 0}), 0, "and sweeps a triangle");
}

Test(tether, ends_at_its_length)
{
    struct volume_tether t = {VOLUME_TETHER_STRAIGHT, {0, 0, 0}, .length_m = 4};
    cr_assert_float_eq(tether_left(&t, (struct vec3){3, 0, 0}, (struct vec3){0, 1, 0}), 1, 1e-12);
    cr_assert_float_eq(tether_left(&t, (struct vec3){0, 1, 0}, (struct vec3){3, 4, 0}), -1, 1e-12);
}

Test(tether, is_valid_only_as_documented)
{
    const struct volume_tether good = {VOLUME_TETHER_HANGING, {1, 2, 3}, 4, 0.01, 0.1, 0};
    cr_assert(tether_valid(&good));
    struct volume_tether t = good;
    double *const number[] = {&t.anchor.x, &t.anchor.y, &t.anchor.z, &t.length_m, &t.radius_m, &t.side_m, &t.floor_m};
    static const double bad[] = {(double)NAN, (double)INFINITY, 2e6, -2e6};
    for (int i = 0; i < 7; i++) {
        for (int k = 0; k < 4; k++) {
            t = good;
            *number[i] = bad[k];
            cr_assert_not(tether_valid(&t), "%d %d", i, k);
        }
    }
    t = good;
    t.length_m = 0;
    cr_assert_not(tether_valid(&t));
    t = good;
    t.kind = (enum volume_tether_kind)7;
    cr_assert_not(tether_valid(&t));
    t.kind = VOLUME_TETHER_NONE;
    t.length_m = (double)NAN;
    cr_assert(tether_valid(&t), "what is not there has no numbers");
}
