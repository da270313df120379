/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/motion/reaches.h"

static struct shape_box random_cell(struct random *r, const struct shape_box *room)
{
    struct vec3 lo = reaches_random(r, room);
    double size = pow(2, random_between(r, -6, 0.5));
    struct vec3 way = cords_random_in(r, (struct vec3){0.5, 0.5, 0.5}, (struct vec3){1, 1, 1});
    return (struct shape_box){lo, vec_along(lo, way, size)};
}

/* Points all over a cell, most on its faces, edges and corners, where it is hardest. */
static struct vec3 point_in(struct random *r, const struct shape_box *cell)
{
    struct vec3 p = reaches_random(r, cell);
    p.x = random_below(r, 2) ? p.x : random_below(r, 2) ? cell->lo.x : cell->hi.x;
    p.y = random_below(r, 2) ? p.y : random_below(r, 2) ? cell->lo.y : cell->hi.y;
    p.z = random_below(r, 2) ? p.z : random_below(r, 2) ? cell->lo.z : cell->hi.z;
    return p;
}

/* Whatever is proven of a cell holds wherever it is looked at. */
Test(reach_proof, what_is_proven_holds)
{
    struct random r = {50};
    int seen[4] = {0};
    for (int i = 0; i < 30000; i++) {
        struct reach_config cfg = reaches_config(i % REACHES, 0.1);
        struct shape_box cell = random_cell(&r, &cfg.room);
        enum reach_proof proof = reach_proof_of(&cfg, &cell);
        seen[proof]++;
        if (proof != REACH_PROOF_REACHABLE && proof != REACH_PROOF_UNREACHABLE)
            continue;
        for (int n = 0; n < 20; n++) {
            struct vec3 p = point_in(&r, &cell);
            cr_assert_eq(reach_proof_at(&cfg, p), proof == REACH_PROOF_REACHABLE, "cell %d, rig %d, at %g %g %g", i,
                         i % REACHES, p.x, p.y, p.z);
        }
    }
    for (int k = 0; k < 4; k++)
        cr_assert_gt(seen[k], 500, "%d: %d", k, seen[k]);
}

/* As wide as possible: cells grown until the proof gives way are where it could be wrong first. */
Test(reach_proof, the_largest_proven_cells_hold)
{
    struct random r = {51};
    double whole = 0, touched = 0;
    for (int i = 0; i < 2100; i++) {
        struct reach_config cfg = reaches_config(i % REACHES, 0.1);
        struct vec3 p = reaches_random(&r, &cfg.room);
        struct vec3 way = cords_random_in(&r, (struct vec3){0.1, 0.1, 0.1}, (struct vec3){1, 1, 1});
        struct shape_box cell = {p, p};
        double proven = 0, refused = 2;
        for (int halving = 0; halving < 12; halving++) {
            double half = (proven + refused) / 2;
            struct shape_box wider = {vec_along(p, way, -half), vec_along(p, way, half)};
            bool holds = reach_proof_of(&cfg, &wider) == REACH_PROOF_REACHABLE;
            *(holds ? &proven : &refused) = half;
            cell = holds ? wider : cell;
        }
        for (int n = 0; n < 200 && proven > 0; n++) {
            p = point_in(&r, &cell);
            cr_assert(reach_proof_at(&cfg, p), "cell %d of half %g at %g %g %g", i, proven, p.x, p.y, p.z);
        }
        whole += proven > 0;
        touched += proven > 0.1;
    }
    cr_assert_gt(whole, 600);
    cr_assert_gt(touched, 300, "the proof is too weak to be of use: %g of %g", touched, whole);
}

/* Where it is said that some point is not reachable, the centre or a corner is not. */
Test(reach_proof, mixed_cells_have_a_witness)
{
    struct random r = {52};
    for (int i = 0; i < 5000; i++) {
        struct reach_config cfg = reaches_config(i % REACHES, 0.1);
        struct shape_box cell = random_cell(&r, &cfg.room);
        bool witness = !reach_proof_at(&cfg, vec_scale(vec_add(cell.lo, cell.hi), 0.5));
        if (reach_proof_of(&cfg, &cell) != REACH_PROOF_MIXED)
            continue;
        for (int k = 0; k < 8; k++)
            witness |= !reach_proof_at(&cfg, (struct vec3){k & 1 ? cell.hi.x : cell.lo.x, k & 2 ? cell.hi.y : cell.lo.y,
                                                           k & 4 ? cell.hi.z : cell.lo.z});
        cr_assert(witness, "cell %d", i);
    }
}

/* The reserve as a force is the same as solving for the tensions under every acceleration it allows. */
Test(reach_proof, the_definition_is_that_of_the_tensions)
{
    struct random r = {53};
    int reachable = 0;
    for (int i = 0; i < 20000; i++) {
        struct reach_config cfg = reaches_config(i % REACHES, 0.1);
        struct vec3 p = reaches_random(&r, &cfg.room), normal;
        struct wrench_cords cords;
        bool at = reach_proof_at(&cfg, p);
        reachable += at;
        if (at) {
            cr_assert(reaches_held(&cfg, p, &r, 8), "at %g %g %g", p.x, p.y, p.z);
            continue;
        }
        if (!tension_cords(&cfg.rig, p, &cords))
            continue;
        wrench_reserve(&cords, tension_load(&cfg.rig, (struct vec3){0, 0, 0}), &normal);
        struct tension_state s; /* refused: then in the direction of the nearest face it fails */
        tension_solve(&cfg.rig, p, vec_scale(normal, cfg.reserve_mps2), &s);
        bool near = false;
        for (int k = 0; k < cords.cords; k++)
            near |= cords.length_m[k] < cfg.min_length_m;
        cr_assert(near || !s.feasible, "at %g %g %g", p.x, p.y, p.z);
    }
    cr_assert_gt(reachable, 5000);
}

/* Corners and centre may all be far enough from an anchor while a face bulges too near to it. */
Test(reach_proof, too_near_to_an_anchor_between_the_corners)
{
    struct reach_config cfg = reaches_config(0, 0.1);
    cfg.rig.anchor[4] = (struct vec3){4, 3, 3.1};
    cfg.rig.min_n[4] = cfg.rig.min_n[0];
    cfg.rig.max_n[4] = cfg.rig.max_n[0];
    cfg.rig.cords = 5;
    cfg.min_length_m = 1.5;
    struct shape_box cell = {{3.85, 2.85, 1.5}, {4.15, 3.15, 1.599}};
    cr_assert_eq(reach_proof_of(&cfg, &cell), REACH_PROOF_REACHABLE);
    cell.hi.z = 1.603;
    cr_assert_eq(reach_proof_of(&cfg, &cell), REACH_PROOF_OPEN);
    cr_assert_not(reach_proof_at(&cfg, (struct vec3){4, 3, 1.603}));
}
