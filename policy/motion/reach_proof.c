/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/reach_proof.h"
#include "policy/motion/spread.h"

#define ROUNDING 1e-9
#define CLOSE    1.5 /* a ratio of force densities below this is not worth more trouble */

/* A cell with what the proofs need of it. */
struct cell {
    const struct reach_config *cfg;
    struct shape_box box;
    struct vec3 centre, load;
    double half_m;                   /* of the diagonal */
    double need_n;                   /* the reserve as a force */
    double near_m[VOLUME_MAX_CORDS]; /* least length of each cord in it */
    double far_m[VOLUME_MAX_CORDS];  /* greatest */
    struct wrench_cords corner[8];
};

static struct vec3 corner(const struct shape_box *box, int i)
{
    return (struct vec3){i & 1 ? box->hi.x : box->lo.x, i & 2 ? box->hi.y : box->lo.y, i & 4 ? box->hi.z : box->lo.z};
}

static double furthest(const struct shape_box *box, struct vec3 p)
{
    return vec_norm((struct vec3){greater(fabs(p.x - box->lo.x), fabs(p.x - box->hi.x)),
                                  greater(fabs(p.y - box->lo.y), fabs(p.y - box->hi.y)),
                                  greater(fabs(p.z - box->lo.z), fabs(p.z - box->hi.z))});
}

static struct cell cell_of(const struct reach_config *cfg, const struct shape_box *box)
{
    struct cell c = {.cfg = cfg, .box = *box};
    c.centre = vec_scale(vec_add(box->lo, box->hi), 0.5);
    c.half_m = vec_norm(vec_sub(box->hi, box->lo)) / 2;
    c.load = tension_load(&cfg->rig, (struct vec3){0, 0, 0});
    c.need_n = cfg->rig.mass_kg * cfg->reserve_mps2;
    for (int k = 0; k < cfg->rig.cords; k++) {
        c.near_m[k] = greater(shape_box_distance(box, cfg->rig.anchor[k]), 0);
        c.far_m[k] = furthest(box, cfg->rig.anchor[k]);
    }
    return c;
}

/* Least length over least and so on: all points of the cell are far enough from, or too near to, an anchor. */
static bool clear_of_anchors(const struct cell *c)
{
    for (int k = 0; k < c->cfg->rig.cords; k++)
        if (c->near_m[k] < c->cfg->min_length_m)
            return false;
    return true;
}

static bool at_an_anchor(const struct cell *c)
{
    for (int k = 0; k < c->cfg->rig.cords; k++)
        if (c->far_m[k] < c->cfg->min_length_m)
            return true;
    return false;
}

/* The cords at a point, with their own limits; false too near to an anchor. */
static bool cords_at(const struct reach_config *cfg, struct vec3 p, struct wrench_cords *cords)
{
    if (!tension_cords(&cfg->rig, p, cords))
        return false;
    for (int k = 0; k < cords->cords; k++)
        if (cords->length_m[k] < cfg->min_length_m)
            return false;
    return true;
}

bool reach_proof_at(const struct reach_config *cfg, struct vec3 position)
{
    struct wrench_cords cords;
    return cords_at(cfg, position, &cords) && wrench_reserve(&cords, tension_load(&cfg->rig, (struct vec3){0, 0, 0}),
                                                             NULL) >= cfg->rig.mass_kg * cfg->reserve_mps2;
}

/* By how much at most the direction of cord k differs in the cell from that at its centre. */
static double turn_of(const struct cell *c, int k)
{
    return c->near_m[k] > c->half_m ? c->half_m / c->near_m[k] : 2;
}

/* The face in this direction (a unit vector): is it too near from everywhere in the cell? */
static bool too_near_everywhere(const struct cell *c, const struct wrench_cords *cords, struct vec3 normal)
{
    double slack = -vec_dot(normal, c->load);
    for (int k = 0; k < cords->cords; k++) {
        double along = lesser(vec_dot(normal, cords->unit[k]) + turn_of(c, k), 1);
        slack += along * (along > 0 ? cords->max_n[k] : cords->min_n[k]);
    }
    return slack < c->need_n;
}

/* The same direction, tilted away from the cords that span the face, so that none of them gets to pull along it
 * anywhere in the cell: with its upper limit that would undo the proof. */
static struct vec3 tilted(const struct cell *c, const struct wrench_cords *cords, struct vec3 normal)
{
    for (int again = 0; again < 4; again++)
        for (int k = 0; k < cords->cords; k++) {
            double along = vec_dot(normal, cords->unit[k]), turn = turn_of(c, k);
            if (fabs(along) < 1.001 * turn)
                normal = vec_along(normal, cords->unit[k], -along - 1.001 * turn);
        }
    double length = vec_norm(normal);
    return length > 0 ? vec_scale(normal, 1 / length) : normal;
}

/* Ratio of the greatest to the least total force density that corners may need for one and the same load, with limits
 * as given. */
static double density_ratio(const struct cell *c, const struct wrench_cords *limits)
{
    const struct tension_rig *rig = &c->cfg->rig;
    double most = 0, least = 0, high = -INFINITY, low = INFINITY;
    for (int k = 0; k < rig->cords; k++) {
        most += limits->max_n[k] / c->near_m[k];
        least += limits->min_n[k] / c->far_m[k];
        high = greater(high, rig->anchor[k].z - c->box.lo.z);
        low = lesser(low, rig->anchor[k].z - c->box.hi.z);
    }
    double ratio = least > 0 ? most / least : INFINITY;
    if (low > 0 && c->load.z > c->need_n)
        ratio = lesser(ratio, high / low);
    return ratio;
}

/*
 * Where cords pull down as well, their tensions say little about each other, and the ratio would be that of the limits.
 * So look only at tensions around one sound set: the lowest that leaves every cord some room, and from it as far up and
 * down as the reserve and the way across the cell ask for, `times` over. What is not found there is not proven.
 */
static bool look_around(const struct cell *c, double times, struct wrench_cords *limits)
{
    struct wrench_cords room = *limits, one = *limits;
    struct wrench_survey seen;
    double mid[VOLUME_MAX_CORDS], density = 0;
    for (int k = 0; k < one.cords; k++) {
        one.min_n[k] = -1;
        one.max_n[k] = 1;
    }
    double made = wrench_reserve(&one, (struct vec3){0, 0, 0}, NULL); /* of force, by a newton in each cord */
    wrench_look(limits, c->load, &seen);
    if (!(made > 0) || !seen.feasible)
        return false;
    double draw = lesser(c->need_n / made, 0.9 * seen.margin_n);
    for (int k = 0; k < room.cords; k++) {
        room.min_n[k] += draw;
        room.max_n[k] -= draw;
    }
    if (!spread_within(&room, c->load, room.min_n, mid))
        return false;
    for (int k = 0; k < room.cords; k++)
        density += mid[k] / c->near_m[k];
    double span = times * (c->need_n + 2 * density * c->half_m) / made;
    for (int k = 0; k < limits->cords; k++) {
        limits->min_n[k] = greater(limits->min_n[k], mid[k] - span);
        limits->max_n[k] = lesser(limits->max_n[k], mid[k] + span);
    }
    return true;
}

/* Limits for the corners from which those of the rig follow all through the cell; false if there are none left. */
static bool draw_in(const struct cell *c, struct wrench_cords *limits)
{
    const struct tension_rig *rig = &c->cfg->rig;
    double ratio = density_ratio(c, limits);
    for (int k = 0; k < rig->cords; k++) {
        double turn = c->half_m / c->near_m[k];
        double off = ((ratio - 1) * turn + turn * turn) * c->far_m[k] / c->near_m[k];
        if (!(off < 1))
            return false;
        limits->min_n[k] = greater(limits->min_n[k], rig->min_n[k] / (1 - off));
        limits->max_n[k] = lesser(limits->max_n[k], rig->max_n[k] / (1 + off));
        if (limits->min_n[k] >= limits->max_n[k])
            return false;
    }
    return true;
}

static bool corners_hold(const struct cell *c, const struct wrench_cords *limits)
{
    double need = c->need_n + ROUNDING * (c->need_n + c->load.z);
    for (int i = 0; i < 8; i++) {
        struct wrench_cords cords = c->corner[i];
        for (int k = 0; k < cords.cords; k++) {
            cords.min_n[k] = limits->min_n[k];
            cords.max_n[k] = limits->max_n[k];
        }
        if (wrench_reserve(&cords, c->load, NULL) < need)
            return false;
    }
    return true;
}

/* Every corner by itself, with the limits as they are. */
static bool corners_reachable(struct cell *c)
{
    for (int i = 0; i < 8; i++)
        if (!cords_at(c->cfg, corner(&c->box, i), &c->corner[i]) ||
            wrench_reserve(&c->corner[i], c->load, NULL) < c->need_n)
            return false;
    return true;
}

static bool all_reachable(const struct cell *c, const struct wrench_cords *centre)
{
    static const double times[] = {2, 8, 30};
    struct wrench_cords limits = *centre;
    if (draw_in(c, &limits) && corners_hold(c, &limits))
        return true;
    for (int i = 0; i < 3 && density_ratio(c, centre) > CLOSE; i++) {
        limits = *centre;
        if (look_around(c, times[i], &limits) && draw_in(c, &limits) && corners_hold(c, &limits))
            return true;
    }
    return false;
}

enum reach_proof reach_proof_of(const struct reach_config *cfg, const struct shape_box *box)
{
    struct cell c = cell_of(cfg, box);
    struct wrench_cords cords;
    struct vec3 normal;
    if (at_an_anchor(&c))
        return REACH_PROOF_UNREACHABLE;
    if (!cords_at(cfg, c.centre, &cords))
        return REACH_PROOF_MIXED;
    if (wrench_reserve(&cords, c.load, &normal) < c.need_n)
        return too_near_everywhere(&c, &cords, normal) || too_near_everywhere(&c, &cords, tilted(&c, &cords, normal))
                   ? REACH_PROOF_UNREACHABLE
                   : REACH_PROOF_MIXED;
    if (!corners_reachable(&c))
        return REACH_PROOF_MIXED;
    return clear_of_anchors(&c) && all_reachable(&c, &cords) ? REACH_PROOF_REACHABLE : REACH_PROOF_OPEN;
}
