/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/footprint.h"
#include "tests/unit/motion/cords.h"

static struct volume_outline random_outline(struct random *r, int cords)
{
    struct tension_rig rig = cords_random_rig(r, cords);
    struct volume_outline o = {.limbs = 1, .limb = {{.radius_m = 0.14}}, .boom_m = 0.35, .cords = cords};
    for (int k = 0; k < cords; k++)
        o.anchor[k] = rig.anchor[k];
    return o;
}

static struct vec3 random_place(struct random *r)
{
    return cords_random_in(r, (struct vec3){1, 1, 0.5}, (struct vec3){7, 5, 2.5});
}

static struct footprint random_footprint(struct random *r, int cords)
{
    struct volume_outline o = random_outline(r, cords);
    struct footprint_bounds bounds = {.floor_m = 0, .ceiling_m = random_between(r, 2.5, 4)};
    struct footprint fp;
    bounds.give_m = random_below(r, 2) ? random_between(r, 0, 0.3) : 0;
    unsigned parted = 1u << random_below(r, (uint32_t)cords);
    if (cords > 3 && random_below(r, 3) == 0)
        parted |= 1u << random_below(r, (uint32_t)cords);
    cr_assert(footprint_init(&fp, &o, random_place(r), parted, &bounds));
    return fp;
}

static bool holds(const struct footprint *fp, struct vec3 p)
{
    for (int k = 0; k < fp->balls; k++)
        if (vec_norm(vec_sub(p, fp->centre[k])) > fp->radius_m[k])
            return false;
    return p.z >= fp->z_lo && p.z <= fp->z_hi;
}

/* A point of the solid at random: from one that is in it, as far as some direction goes, some of the way. */
static struct vec3 wander(const struct footprint *fp, struct random *r, struct vec3 p)
{
    struct vec3 way = cords_random_unit(r);
    double in = 0, out = 30;
    for (int i = 0; i < 30; i++) {
        double half = (in + out) / 2;
        *(holds(fp, vec_along(p, way, half)) ? &in : &out) = half;
    }
    return vec_along(p, way, in * random_between(r, 0.3, 1));
}

/* Nearest point of one part of the solid, in turn for all parts and for the half-space along . x >= least. Meets their
 * common part if there is one (projections onto convex sets; Bregman, 1965). */
static double miss_after_projections(const struct footprint *fp, struct vec3 along, double least)
{
    struct vec3 p = fp->place;
    double miss = 0;
    for (int round = 0; round < 40000; round++) {
        double off = least - vec_dot(p, along);
        miss = greater(off, 0);
        p = vec_along(p, along, greater(off, 0));
        for (int k = 0; k < fp->balls; k++) {
            struct vec3 from = vec_sub(p, fp->centre[k]);
            double beyond = vec_norm(from) - fp->radius_m[k];
            miss = greater(miss, beyond);
            if (beyond > 0)
                p = vec_along(p, from, -beyond / vec_norm(from));
        }
        miss = greater(miss, greater(fp->z_lo - p.z, p.z - fp->z_hi));
        p.z = greater(fp->z_lo, lesser(fp->z_hi, p.z));
        if (miss < 1e-6)
            break;
    }
    return miss;
}

/* No point of the solid is further than the reach, and some point is as far. */
Test(footprint, reaches_as_far_as_its_points)
{
    struct random r = {70};
    for (int i = 0; i < 400; i++) {
        struct footprint fp = random_footprint(&r, 2 + i % 7);
        double angle = random_between(&r, 0, 6.28), reach = footprint_reach(&fp, angle);
        struct vec3 along = {cos(angle), sin(angle), 0}, p = fp.place;
        for (int n = 0; n < 300; n++) {
            p = wander(&fp, &r, p);
            cr_assert_leq(vec_dot(p, along) + fp.grow_m, reach + 1e-7, "%d: %g %g %g", i, p.x, p.y, p.z);
        }
        double miss = miss_after_projections(&fp, along, reach - fp.grow_m - 1e-3);
        cr_assert_lt(miss, 1e-4, "footprint %d of %d balls: nothing is that far, by %g", i, fp.balls, miss);
    }
}

/* Closed forms. One cord left: a ball, cut. Two level cords left: furthest across at the circle they meet in. */
Test(footprint, plain_cases_in_closed_form)
{
    struct volume_outline o = {
        .limbs = 1, .limb = {{.radius_m = 0.1}}, .boom_m = 0.4, .cords = 2, .anchor = {{0, 0, 3}, {4, 0, 3}}};
    struct footprint_bounds bounds = {.floor_m = 0, .ceiling_m = 2};
    struct footprint fp;
    struct vec3 p = {2, 0, 1.5};
    double length = 2.5;
    cr_assert(footprint_init(&fp, &o, p, 1u << 1, &bounds));
    cr_assert_float_eq(footprint_reach(&fp, 0), sqrt(length * length - 1) + 0.5, 1e-9, "a ball cut at 2 m, 1 m down");
    cr_assert_float_eq(footprint_reach(&fp, 2), sqrt(length * length - 1) + 0.5, 1e-9);
    bounds.ceiling_m = 5;
    cr_assert(footprint_init(&fp, &o, p, 1u << 1, &bounds));
    cr_assert_float_eq(footprint_reach(&fp, 1), length + 0.5, 1e-9, "the whole ball");
    cr_assert(footprint_init(&fp, &o, p, 0, &bounds));
    cr_assert_float_eq(footprint_reach(&fp, 0), 2.5 + 0.5, 1e-9, "the lens is as wide as from 1.5 to 2.5");
    cr_assert_float_eq(footprint_reach(&fp, (acos(-1.0) / 2)), 1.5 + 0.5, 1e-9, "the circle of radius 1.5 about x = 2");
    bounds.ceiling_m = 2.1;
    cr_assert(footprint_init(&fp, &o, p, 0, &bounds));
    cr_assert_float_eq(footprint_reach(&fp, (acos(-1.0) / 2)), 1.2 + 0.5, 1e-9, "that circle, 0.9 m down: 3, 4, 5");
    bounds.give_m = 0.1;
    cr_assert(footprint_init(&fp, &o, p, 1u << 0, &bounds));
    cr_assert_float_eq(footprint_reach(&fp, 0), 4 + sqrt(2.6 * 2.6 - 0.81) + 0.5, 1e-9);
}

/* Cords from below, as of a rig that is held down. */
Test(footprint, cords_from_below)
{
    struct volume_outline o = {.limbs = 1, .limb = {{.radius_m = 0.01}}, .cords = 2, .anchor = {{0, 0, 3}, {0, 0, 0}}};
    struct footprint_bounds bounds = {.floor_m = 1, .ceiling_m = 3};
    struct footprint fp;
    struct vec3 p = {1, 0, 1.5};
    double length = sqrt(1 + 1.5 * 1.5);
    cr_assert(footprint_init(&fp, &o, p, 1u << 0, &bounds));
    cr_assert_float_eq(footprint_reach(&fp, 3), sqrt(length * length - 1) + 0.01, 1e-9, "widest at the floor, 1 m up");
    cr_assert(footprint_init(&fp, &o, p, 0, &bounds));
    cr_assert_float_eq(footprint_reach(&fp, 3), 1.01, 1e-9, "where both meet");
    cr_assert(footprint_covers(&fp, 0, 1));
    cr_assert_not(footprint_covers(&fp, 0, 1.2), "within both, but at no height at once");
}

/* The outline goes around all of it; whatever is in it is also covered in plan and on the map. */
Test(footprint, outline_and_map_go_around)
{
    struct random r = {71};
    for (int i = 0; i < 150; i++) {
        struct footprint fp = random_footprint(&r, 2 + i % 7);
        struct footprint_hull hull;
        struct vec3 p = fp.place;
        cr_assert(footprint_hull_init(&hull, 3 + (int)random_below(&r, 70)));
        footprint_hull_add(&hull, &fp);
        for (int n = 0; n < 60; n++) {
            p = wander(&fp, &r, p);
            double angle = random_between(&r, 0, 6.28), x = p.x + fp.grow_m * cos(angle),
                   y = p.y + fp.grow_m * sin(angle);
            cr_assert(footprint_covers(&fp, x, y), "%d: %g %g", i, x, y);
            for (int k = 0; k < hull.sides; k++) {
                double ax, ay, bx, by;
                footprint_hull_corner(&hull, k, &ax, &ay);
                footprint_hull_corner(&hull, (k + 1) % hull.sides, &bx, &by);
                cr_assert_gt((bx - ax) * (y - ay) - (by - ay) * (x - ax), -1e-6, "%d: outside of side %d", i, k);
            }
        }
    }
}

/* With many sides the outline is close: its corners are hardly out of what is covered. */
Test(footprint, the_outline_is_close)
{
    struct random r = {72};
    for (int i = 0; i < 100; i++) {
        struct footprint fp = random_footprint(&r, 2 + i % 7), wider = fp;
        struct footprint_hull hull;
        cr_assert(footprint_hull_init(&hull, 72));
        footprint_hull_add(&hull, &fp);
        wider.grow_m += 0.02 * hull.reach_m[0] + 0.05;
        for (int k = 0; k < 72 && fp.balls < 3; k++) {
            double x, y;
            footprint_hull_corner(&hull, k, &x, &y);
            cr_assert(footprint_covers(&wider, x, y), "%d: corner %d at %g %g", i, k, x, y);
        }
    }
}

/* Of many, the hull goes around each; and samples with more give stand for all places between them. */
Test(footprint, many_together)
{
    struct random r = {73};
    for (int i = 0; i < 300; i++) {
        struct volume_outline o = random_outline(&r, 4);
        struct footprint_bounds bounds = {.floor_m = 0, .ceiling_m = 3, .give_m = 0.1}, more = bounds;
        struct vec3 p = random_place(&r);
        double d = random_between(&r, 0, 0.4);
        struct vec3 q = vec_along(p, cords_random_unit(&r), d);
        struct footprint a, b, wide;
        struct footprint_hull hull;
        more.give_m += d;
        cr_assert(footprint_init(&a, &o, p, 1, &bounds) && footprint_init(&b, &o, q, 2, &bounds));
        cr_assert(footprint_init(&wide, &o, p, 2, &more));
        footprint_hull_init(&hull, 16);
        footprint_hull_add(&hull, &a);
        footprint_hull_add(&hull, &b);
        for (int k = 0; k < 16; k++) {
            double angle = 4 * (acos(-1.0) / 2) * k / 16, ra = footprint_reach(&a, angle),
                   rb = footprint_reach(&b, angle);
            cr_assert_float_eq(hull.reach_m[k], greater(ra, rb), 1e-9);
            cr_assert_leq(rb, footprint_reach(&wide, angle) + 1e-9);
        }
    }
}

/* Fewer cords can only mean a larger footprint. */
Test(footprint, grows_with_every_cord_that_parts)
{
    struct random r = {74};
    for (int i = 0; i < 500; i++) {
        struct volume_outline o = random_outline(&r, 5);
        struct footprint_bounds bounds = {.floor_m = 0, .ceiling_m = 3};
        struct vec3 p = random_place(&r);
        double before = vec_norm(p), angle = random_between(&r, 0, 6.28);
        before = p.x * cos(angle) + p.y * sin(angle);
        for (unsigned parted = 0; parted < 31; parted = parted << 1 | 1) {
            struct footprint fp;
            cr_assert(footprint_init(&fp, &o, p, parted, &bounds));
            double reach = footprint_reach(&fp, angle);
            cr_assert_geq(reach, before - 1e-9);
            before = reach;
        }
    }
}

Test(footprint, what_makes_no_sense_has_none)
{
    struct random r = {75};
    const struct volume_outline good = random_outline(&r, 4);
    const struct footprint_bounds bounds = {.floor_m = 0, .ceiling_m = 3};
    const struct vec3 p = {4, 3, 1};
    struct volume_outline o = good;
    struct footprint_bounds b = bounds;
    struct footprint fp;
    struct footprint_hull hull;
    cr_assert(footprint_init(&fp, &good, p, 1, &bounds));
    cr_assert_not(footprint_init(&fp, &good, p, 15, &bounds), "no cord holds");
    cr_assert_eq(fp.balls, 0);
    cr_assert_not(footprint_covers(&fp, 4, 3));
    static const double bad[] = {NAN, INFINITY, -INFINITY, -2e6, 2e6};
    double *const number[] = {&o.anchor[2].z, &o.boom_m, &o.limb[0].radius_m, &b.floor_m, &b.ceiling_m, &b.give_m};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        for (size_t k = 0; k < sizeof number / sizeof number[0]; k++) {
            o = good;
            b = bounds;
            *number[k] = bad[i];
            cr_assert_not(footprint_init(&fp, &o, p, 1, &b), "%zu %zu", i, k);
        }
    cr_assert_not(footprint_init(&fp, &good, (struct vec3){NAN, 3, 1}, 1, &bounds));
    o = good;
    o.cords = VOLUME_MAX_CORDS + 1;
    cr_assert_not(footprint_init(&fp, &o, p, 1, &bounds));
    cr_assert_not(footprint_hull_init(&hull, 2));
    cr_assert_not(footprint_hull_init(&hull, FOOTPRINT_MAX_SIDES + 1));
    footprint_hull_add(&hull, &fp);
    cr_assert_eq(hull.reach_m[0], -INFINITY);
}
