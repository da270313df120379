/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/reach.h"
#include "tests/unit/motion/reaches.h"

static uint32_t cells[REACHES_CELLS];

static struct reach built(const struct reach_config *cfg, size_t capacity, enum reach_result expect)
{
    struct reach reach;
    enum reach_result result = reach_build(&reach, cfg, cells, capacity);
    cr_assert_eq(result, expect, "%d, error %g", (int)result, reach.error_m);
    cr_assert_leq(reach.cells, capacity);
    cr_assert(expect == REACH_INVALID || (reach.error_m <= cfg->error_m) == (expect == REACH_BUILT));
    return reach;
}

/* In the room, and up to 3 m around it. */
static struct vec3 somewhere(struct random *r, const struct reach_config *cfg)
{
    struct shape_box around = cfg->room;
    if (random_below(r, 4) == 0) {
        around.lo = vec_sub(around.lo, (struct vec3){3, 3, 3});
        around.hi = vec_add(around.hi, (struct vec3){3, 3, 3});
    }
    return reaches_random(r, &around);
}

/* A hundred thousand places and more that are called reachable: each can be held there, pushed any way. And as far
 * around them as the distance says. */
Test(reach, never_claims_what_statics_refuse)
{
    struct random r = {60};
    int total = 0;
    for (int which = 0; which < REACHES; which++) {
        struct reach_config cfg = reaches_config(which, 0.3);
        struct reach reach = built(&cfg, REACHES_CELLS, REACH_BUILT);
        int claimed = 0;
        for (int i = 0; i < 40000; i++) {
            struct vec3 p = somewhere(&r, &cfg);
            double distance = reach_distance(&reach, p);
            if (distance <= 0)
                continue;
            claimed++;
            cr_assert(reaches_held(&cfg, p, &r, 1), "rig %d at %g %g %g", which, p.x, p.y, p.z);
            struct vec3 q = vec_along(p, cords_random_unit(&r), distance * (1 - 1e-9));
            cr_assert(shape_box_distance(&cfg.room, q) <= 0 && reaches_held(&cfg, q, &r, 1), "rig %d at %g %g %g",
                      which, q.x, q.y, q.z);
        }
        cr_assert_gt(claimed, 2500, "rig %d: %d", which, claimed);
        total += 2 * claimed;
    }
    cr_assert_gt(total, 100000);
}

Test(reach, is_lipschitz)
{
    struct random r = {61};
    for (int which = 0; which < REACHES; which++) {
        struct reach_config cfg = reaches_config(which, 0.3);
        struct reach reach = built(&cfg, REACHES_CELLS, REACH_BUILT);
        for (int i = 0; i < 30000; i++) {
            struct vec3 p = somewhere(&r, &cfg);
            double step = pow(10, random_between(&r, -6, 0.5));
            struct vec3 q = vec_along(p, cords_random_unit(&r), step);
            double change = fabs(reach_distance(&reach, p) - reach_distance(&reach, q));
            cr_assert_leq(change, step + 1e-12, "rig %d: %g over %g at %g %g %g", which, change, step, p.x, p.y, p.z);
        }
    }
}

/* How far from being held; <= 0 where it is not, or outside. Falls smoothly enough to walk down on. */
static double hold(const struct reach_config *cfg, struct vec3 p)
{
    struct wrench_cords cords;
    double out = -shape_box_distance(&cfg->room, p);
    if (out < 0 || !tension_cords(&cfg->rig, p, &cords))
        return lesser(out, 0);
    double least = wrench_reserve(&cords, tension_load(&cfg->rig, (struct vec3){0, 0, 0}), NULL) -
                   cfg->rig.mass_kg * cfg->reserve_mps2;
    for (int k = 0; k < cords.cords; k++)
        least = lesser(least, 10 * (cords.length_m[k] - cfg->min_length_m));
    return lesser(least, 10 * out);
}

/* Is there a place within `radius` of p that cannot be held? Walks down from several starts. */
static bool fails_within(const struct reach_config *cfg, struct vec3 p, double radius, struct random *r)
{
    for (int start = 0; start < 300; start++) {
        struct vec3 at = vec_along(p, cords_random_unit(r), radius * sqrt(random_between(r, 0, 1)));
        double here = hold(cfg, at);
        for (double step = radius / 2; step > radius / 500 && here > 0; step *= 0.8)
            for (int i = 0; i < 6; i++) {
                struct vec3 next = vec_along(at, cords_random_unit(r), step);
                double there = hold(cfg, next);
                if (there >= here || vec_norm(vec_sub(next, p)) > radius)
                    continue;
                at = next;
                here = there;
            }
        if (here <= 0)
            return true;
    }
    return false;
}

static void expect_error_holds(const struct reach_config *cfg, const struct reach *reach, struct random *r, int places)
{
    int tried = 0;
    for (int i = 0; i < places; i++) {
        struct vec3 p = reaches_random(r, &cfg->room);
        double radius = greater(reach_distance(reach, p), 0) + reach->error_m;
        if (hold(cfg, p) <= 0)
            continue;
        tried++;
        cr_assert(fails_within(cfg, p, radius, r), "nothing within %g of %g %g %g", radius, p.x, p.y, p.z);
    }
    cr_assert_gt(tried, 0);
}

/* From every place that can be held, one that cannot is no further away than the distance and the stated error. */
Test(reach, the_stated_error_holds)
{
    struct random r = {62};
    for (int which = 0; which < REACHES; which++) {
        struct reach_config cfg = reaches_config(which, 0.3);
        struct reach reach = built(&cfg, REACHES_CELLS, REACH_BUILT);
        expect_error_holds(&cfg, &reach, &r, 800);
    }
}

/* Out of memory it is coarser, says so, and is as safe. */
Test(reach, little_memory_makes_it_coarse_not_wrong)
{
    struct random r = {63};
    static const size_t capacity[] = {64, 71, 72, 300, 2000, 9000};
    for (size_t c = 0; c < sizeof capacity / sizeof capacity[0]; c++)
        for (int which = 0; which < REACHES; which++) {
            struct reach_config cfg = reaches_config(which, 0.05);
            struct reach reach = built(&cfg, capacity[c], REACH_COARSE);
            int inside = 0, places = 4000;
            for (int i = 0; i < places; i++) {
                struct vec3 p = reaches_random(&r, &cfg.room);
                if (reach_distance(&reach, p) <= 0)
                    continue;
                cr_assert(reach_proof_at(&cfg, p));
                inside++;
            }
            cr_assert_float_eq(reach.reachable_m3, 144.0 * inside / places, 4); /* 5 sigma */
            expect_error_holds(&cfg, &reach, &r, 100);
        }
}

/* The way's distance is the least of all its points: not more than at any of them, and not less than what is between
 * sampled ones could hide. */
Test(reach, a_way_is_as_far_as_its_nearest_point)
{
    struct random r = {64};
    struct reach_config cfg = reaches_config(0, 0.2);
    struct reach reach = built(&cfg, REACHES_CELLS, REACH_BUILT);
    int clear = 0, enough_said = 0;
    for (int i = 0; i < 4000; i++) {
        struct vec3 a = somewhere(&r, &cfg),
                    b = vec_along(a, cords_random_unit(&r), pow(10, random_between(&r, -3, 0.4)));
        double least = INFINITY, length = vec_norm(vec_sub(b, a)), got = reach_path_distance(&reach, a, b, INFINITY);
        for (int n = 0; n <= 100; n++)
            least = lesser(least, reach_distance(&reach, vec_along(a, vec_sub(b, a), n / 100.0)));
        if (got > 0)
            cr_assert(got <= least + 1e-9 && got >= least - length / 200 - 1e-9, "way %d: %g, %g", i, got, least);
        else
            cr_assert_lt(least, length / 200 + 1e-9);
        double enough = random_between(&r, 0, 1), known = reach_path_distance(&reach, a, b, enough);
        cr_assert(got >= enough ? known >= enough - 1e-12 : fabs(known - got) < 1e-12 || (known <= 0 && got <= 0));
        clear += got > 0;
        enough_said += got >= enough;
    }
    cr_assert(clear > 800 && enough_said > 200 && clear - enough_said > 200, "%d %d", clear, enough_said);
}

Test(reach, a_way_of_no_length_is_a_point)
{
    struct random r = {65};
    struct reach_config cfg = reaches_config(3, 0.3);
    struct reach reach = built(&cfg, REACHES_CELLS, REACH_BUILT);
    for (int i = 0; i < 2000; i++) {
        struct vec3 p = somewhere(&r, &cfg);
        cr_assert_float_eq(reach_path_distance(&reach, p, p, INFINITY), reach_distance(&reach, p), 1e-12);
    }
}

/* Against the published count of places (tests/reference/cords.json), with hardly any reserve: none too many, and the
 * missing ones are within the error of the edge. */
Test(reach, agrees_with_the_published_places)
{
    json_t *one = reference_case("cords.json", "cord4-workspace"), *input = json_object_get(one, "input");
    const json_t *grid = json_object_get(input, "grid"), *expect = json_object_get(one, "expect");
    struct reach_config cfg = {.rig = cords_rig(input),
                               .room = {{0, 0, 0}, {6, 4.5, 3}},
                               .reserve_mps2 = 1e-6,
                               .min_length_m = 1e-3,
                               .error_m = 0.15};
    struct reach reach = built(&cfg, REACHES_CELLS, REACH_BUILT);
    int feasible = 0, reachable = 0, near = 0, step[3];
    struct vec3 lo, hi;
    double *const low[] = {&lo.x, &lo.y, &lo.z}, *const high[] = {&hi.x, &hi.y, &hi.z};
    for (int i = 0; i < 3; i++) {
        const json_t *axis = json_array_get(grid, (size_t)i);
        *low[i] = reference_number(axis, "lo");
        *high[i] = reference_number(axis, "hi");
        step[i] = (int)reference_number(axis, "nodes") - 1;
    }
    for (int n = 0; n < (step[0] + 1) * (step[1] + 1) * (step[2] + 1); n++) {
        int x = n % (step[0] + 1), y = n / (step[0] + 1) % (step[1] + 1), z = n / (step[0] + 1) / (step[1] + 1);
        struct vec3 p = {lo.x + (hi.x - lo.x) * x / step[0], lo.y + (hi.y - lo.y) * y / step[1],
                         lo.z + (hi.z - lo.z) * z / step[2]};
        struct tension_state s;
        tension_solve(&cfg.rig, p, (struct vec3){0, 0, 0}, &s);
        double distance = reach_distance(&reach, p);
        cr_assert(distance <= 0 || s.feasible);
        feasible += s.feasible;
        reachable += distance > 0;
        near += s.feasible && distance <= 0;
    }
    cr_assert_eq(feasible, (int)reference_number(expect, "feasible"));
    cr_assert_eq(reachable + near, feasible);
    cr_assert_gt(reachable, feasible * 3 / 4);
    json_decref(one);
}

/* The volume is that of the places: counted at random. */
Test(reach, the_volume_is_right)
{
    struct random r = {66};
    struct reach_config cfg = reaches_config(0, 0.2);
    struct reach reach = built(&cfg, REACHES_CELLS, REACH_BUILT);
    int inside = 0, held = 0, places = 200000;
    for (int i = 0; i < places; i++) {
        struct vec3 p = reaches_random(&r, &cfg.room);
        inside += reach_distance(&reach, p) > 0;
        held += reach_proof_at(&cfg, p);
    }
    double room_m3 = 8 * 6 * 3, counted = room_m3 * inside / places;
    cr_assert_float_eq(reach.reachable_m3, counted, 0.01 * room_m3, "%g, counted %g", reach.reachable_m3, counted);
    cr_assert_leq(reach.reachable_m3, room_m3 * held / places + 0.005 * room_m3);
    cr_assert_geq(reach.reachable_m3, room_m3 * held / places - reach.error_m * 200);
}

Test(reach, what_makes_no_sense_reaches_nothing)
{
    const struct reach_config good = reaches_config(0, 0.5);
    struct reach_config cfg = good;
    double *const number[] = {&cfg.reserve_mps2, &cfg.min_length_m,    &cfg.error_m,
                              &cfg.rig.mass_kg,  &cfg.rig.anchor[1].y, &cfg.room.lo.z};
    static const double bad[] = {NAN, INFINITY, -INFINITY, -1e9};
    built(&good, REACHES_CELLS, REACH_BUILT);
    for (size_t i = 0; i < sizeof number / sizeof number[0]; i++)
        for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
            cfg = good;
            *number[i] = bad[k];
            cr_assert_not(reach_config_valid(&cfg), "%zu %zu", i, k);
            struct reach reach = built(&cfg, REACHES_CELLS, REACH_INVALID);
            cr_assert_eq(reach_distance(&reach, (struct vec3){4, 3, 1}), -SHAPE_FAR_M);
        }
    built(&good, 63, REACH_INVALID);
    struct reach reach;
    cr_assert_eq(reach_build(&reach, &good, NULL, 1000), REACH_INVALID);
}

/* Too heavy for its cords: nowhere to be. And positions that are none. */
Test(reach, nowhere)
{
    struct reach_config cfg = reaches_config(0, 0.5);
    struct reach reach = built(&cfg, REACHES_CELLS, REACH_BUILT);
    const struct vec3 nowhere[] = {{NAN, 3, 1}, {4, INFINITY, 1}, {4, 3, -INFINITY}};
    for (int i = 0; i < 3; i++) {
        cr_assert_eq(reach_distance(&reach, nowhere[i]), -INFINITY);
        cr_assert_eq(reach_path_distance(&reach, nowhere[i], (struct vec3){4, 3, 1}, 1), -INFINITY);
        cr_assert_eq(reach_path_distance(&reach, (struct vec3){4, 3, 1}, nowhere[i], 1), -INFINITY);
    }
    cr_assert_float_eq(reach_distance(&reach, (struct vec3){1e300, 0, 0}), -SHAPE_FAR_M, 1e-6);
    cfg.rig.mass_kg = 100;
    reach = built(&cfg, REACHES_CELLS, REACH_BUILT);
    cr_assert_eq(reach.reachable_m3, 0);
    cr_assert_eq(reach_distance(&reach, (struct vec3){4, 3, 1}), -SHAPE_FAR_M);
    cfg.rig.cords = 2; /* hangs, but cannot be pushed aside */
    cfg.rig.mass_kg = 1;
    reach = built(&cfg, REACHES_CELLS, REACH_BUILT);
    cr_assert_eq(reach.reachable_m3, 0);
}
