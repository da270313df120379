/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The room as the camera meets it: the stage it must stay in, the keep-outs it must stay out of, and the outline of
 * everything that moves with it. clearance(position) is the one question asked of all of that.
 *
 * "Position" everywhere in the policy is the point where the cords meet (the platform). The boom hangs from it,
 * vertically when at rest; the body (limbs) and the tether are at its lower end.
 *
 * Distances here are never more than the true ones. What is exact, and what errs to the safe side:
 *
 *   body, boom, cords against keep-outs   exact to VOLUME_ERROR_M, for a position and for a whole straight way
 *   limbs whose yaw is not known exactly  in the smallest upright roller around all their yaws (outline.h)
 *   a hanging tether                      in an envelope of all it can hang in (tether.h)
 *   a stage of one prism                  exact; of more: only what is deep enough in one of them counts (stage.h)
 *   reach                                 as reach.h states
 *   overlaps                              the sign is exact; the depth is that of the ends of the part, or its
 *                                         thickness and the padding, whichever is more: it may be deeper
 *
 * Clearance is 1-Lipschitz in the position (to within VOLUME_ERROR_M): a cord turns about its fixed anchor, so none of
 * its points moves further than the platform does. But a hanging tether's envelope moves VOLUME_TETHER_STEEP times as
 * far.
 */
#ifndef STEADYHAND_MOTION_VOLUME_H
#define STEADYHAND_MOTION_VOLUME_H

#include <stdint.h>

#include "policy/motion/hull.h"

enum {
    VOLUME_MAX_KEEPOUTS = 64,
    VOLUME_MAX_CORDS = 8,
    VOLUME_MAX_STAGES = 8,
    VOLUME_MAX_LIMBS = 8,
    VOLUME_MAX_PIECES = 256, /* convex parts that all keep-outs are cut into */
    VOLUME_TETHER_STEEP = 2,
};

#define VOLUME_ERROR_M 1e-4 /* answers for the same thing asked differently differ by no more */

/* One part of the body, all within the radius of a segment (a == b: a sphere). Origin at the lower end of the boom;
 * turned by the yaw about z. */
struct volume_limb {
    struct vec3 a, b;
    double radius_m; /* > 0 */
};

/* How the body's yaw is known. Cords do not hold it: a body that hangs turns as it likes unless something keeps it. */
enum volume_yaw {
    VOLUME_YAW_FIXED,    /* 0 */
    VOLUME_YAW_REPORTED, /* struct volume_now */
    VOLUME_YAW_UNKNOWN,  /* anywhere */
    VOLUME_YAW_PAN,      /* the limbs turn with the head: struct volume_now, as filled by what pan may run through */
};

enum volume_tether_kind { VOLUME_TETHER_NONE, VOLUME_TETHER_STRAIGHT, VOLUME_TETHER_HANGING };

/* A line from somewhere fixed to the lower end of the boom. */
struct volume_tether {
    enum volume_tether_kind kind; /* kept straight (by a reel), or slack: see tether.h */
    struct vec3 anchor;
    double length_m; /* > 0: no further from the anchor than this */
    double radius_m; /* >= 0 */
    double side_m;  /* >= 0, hanging: how far it is off the upright plane through its ends (drafts, lying on a floor) */
    double floor_m; /* hanging: it lies there rather than to hang lower */
};

/* Everything that moves, at rest (swing is a margin, not a shape). */
struct volume_outline {
    int limbs; /* 1 .. VOLUME_MAX_LIMBS: camera, head, battery */
    struct volume_limb limb[VOLUME_MAX_LIMBS];
    enum volume_yaw yaw;
    double boom_m;        /* >= 0: platform to the origin of the body */
    double boom_radius_m; /* >= 0 */
    double cord_radius_m; /* >= 0 */
    int cords;            /* 0 .. VOLUME_MAX_CORDS */
    struct vec3 anchor[VOLUME_MAX_CORDS];
    struct volume_tether tether;
};

struct volume_keepout {
    struct shape shape;
    double padding_m; /* >= 0: extra distance kept from it */
    bool yields;      /* does not count while it is told to yield */
};

struct reach; /* reach.h */

struct volume {
    int stages; /* 1 .. VOLUME_MAX_STAGES: the rig is inside their union */
    struct shape_prism stage[VOLUME_MAX_STAGES];
    int keepouts; /* 0 .. VOLUME_MAX_KEEPOUTS */
    struct volume_keepout keepout[VOLUME_MAX_KEEPOUTS];
    const struct reach *reach; /* NULL: cords are taken to hold everywhere. Not owned */
    struct volume_outline outline;
    /* Filled by volume_prepare(), anew whenever a keep-out was changed. */
    int pieces;
    struct hull piece[VOLUME_MAX_PIECES];
    uint8_t piece_of[VOLUME_MAX_PIECES]; /* which keep-out a piece is of */
};

/* Cuts the keep-outs into convex pieces. False if one is not valid, or there are too many pieces; there are none then,
 * and volume_valid() is false. */
bool volume_prepare(struct volume *vol);

bool volume_valid(const struct volume *vol);

/* What changes from tick to tick. One with a number that is not finite, or beyond SHAPE_FAR_M, leaves no clearance
 * anywhere; only the yaw may be anything. */
struct volume_now {
    double floor_m, ceiling_m; /* of the mode, for body and boom, beside the stage's own; -+SHAPE_FAR_M for none */
    bool yielded;              /* keep-outs that yield do not count */
    double yaw_rad;            /* of the body, where its yaw is reported */
    double yaw_off_rad;        /* >= 0: it is within so much of that; pi or more, or not a number: anywhere */
    bool subject;              /* somebody is known to be there, and is kept off: */
    struct vec3 subject_at;  /* all within the radius of the upright segment at this place from z = 0 to the height, */
    double subject_radius_m; /* >= 0, */
    double subject_height_m; /* >= 0 (it reaches a radius higher), */
    double subject_walk_m;   /* >= 0, and wherever it may have walked to, so far to any side: that is the caller's */
};

/* Nothing of all that. */
static inline struct volume_now volume_now_usual(void)
{
    return (struct volume_now){.floor_m = -SHAPE_FAR_M, .ceiling_m = SHAPE_FAR_M};
}

enum volume_part { VOLUME_BODY, VOLUME_BOOM, VOLUME_CORD, VOLUME_TETHER };
enum volume_bound {
    VOLUME_STAGE,
    VOLUME_FLOOR,   /* of the mode */
    VOLUME_CEILING, /* of the mode */
    VOLUME_KEEPOUT,
    VOLUME_SUBJECT,
    VOLUME_REACH,      /* where a cord leaves its limits; told of the boom, as it is about the platform */
    VOLUME_TETHER_END, /* its length is at an end */
};

/* How far, and between which two things. */
struct volume_clearance {
    double distance_m; /* negative: they overlap by at least that much; -infinity for a position that is not
                        * finite, or beyond SHAPE_FAR_M */
    enum volume_part part;
    int limb; /* index, for VOLUME_BODY */
    int cord; /* index, for VOLUME_CORD */
    enum volume_bound bound;
    int keepout; /* index, for VOLUME_KEEPOUT */
};

/* The smallest signed distance from any part of the rig at this position to any boundary: limbs and boom against stage,
 * floor and ceiling, everything against each keep-out and the subject (anchors, cords and tether may lie outside the
 * stage), the platform against reach, the tether against its end. */
struct volume_clearance volume_clearance(const struct volume *vol, const struct volume_now *now, struct vec3 position);

/* ---- Many questions about the same place ---- */

enum {
    VOLUME_PARTS = VOLUME_MAX_LIMBS + 1 + VOLUME_MAX_CORDS + 1,   /* limbs, boom, cords, tether */
    VOLUME_BODY_PARTS = VOLUME_MAX_LIMBS + 1,                     /* the first of them: limbs, boom */
    VOLUME_TARGETS = VOLUME_MAX_PIECES + 1 + VOLUME_MAX_KEEPOUTS, /* pieces, the subject, half-spaces */
};

/* A part and something that it is near to. */
struct volume_pair {
    uint16_t target;
    float apart_m;  /* not more than their distance when looked at */
    float along[3]; /* the direction that proved it, where the next search begins */
};

/* How limbs are turned, and how far each point of them is spread for a yaw that is not known: outline.h. */
struct volume_turn {
    double cos, sin, spread;
};

/* Filled by volume_look(), then only read; about 116 KB. */
struct volume_near {
    const struct volume *vol;
    struct volume_now now;
    struct vec3 at;
    double within_m;
    struct volume_clearance nearest; /* volume_clearance() at `at` */
    struct volume_turn turn;
    struct hull subject;
    double edge_m[VOLUME_BODY_PARTS]; /* of a limb or the boom to stage, floor and ceiling */
    int pairs[VOLUME_PARTS];
    struct volume_pair pair[VOLUME_PARTS][VOLUME_TARGETS];
};

/*
 * Looks once at what is within `within_m` of the rig at `at`, so that the questions below touch little else. They hold
 * for every position; but of a clearance beyond within_m - |position - at| they only say that it is that at least. So
 * within_m is the longest way that will be asked about and the greatest clearance that matters, together. `vol` must
 * outlive *near.
 */
void volume_look(struct volume_near *near, const struct volume *vol, const struct volume_now *now, struct vec3 at,
                 double within_m);

/*
 * The smallest clearance all along the straight way from one position to another: not stepped, as what a part sweeps on
 * that way is convex. Where something is touched on the way the distance is not positive, but need not say by how much.
 * Only clearances below `enough` [m] are looked for: a result of at least `enough` means just that, and names nothing.
 * It never grows with the way, but for VOLUME_ERROR_M, and in a stage of several prisms for what stage.h leaves open.
 */
struct volume_clearance volume_path_clearance(const struct volume_near *near, struct vec3 from, struct vec3 to,
                                              double enough);

/* ---- Many questions about parts of the same way ---- */

enum { VOLUME_FEW = 24 };

struct volume_few_pair {
    int part, target;
    struct vec3 along; /* as above, of the last answer */
};

/* The few things that a way comes near to. Filled by volume_narrow(). */
struct volume_few {
    const struct volume_near *near;
    bool all;       /* there are too many to remember: everything counts */
    unsigned edges; /* a bit for each limb, and the boom: stage, floor and ceiling are near to it */
    bool ends;      /* reach, or the end of the tether, is near */
    int pairs;
    struct volume_few_pair pair[VOLUME_FEW];
};

/*
 * volume_path_clearance() with below_m as `enough`, and all that is nearer than that on the way into *few. What a part
 * of the way sweeps is within what the whole way sweeps: so whatever was shown to be below_m away from that stays so on
 * any part of the way, and on ways within r of it below_m - r away (VOLUME_TETHER_STEEP r where one hangs).
 * volume_few_clearance() asks of the rest only, and that is volume_path_clearance() for such ways, as far as it is
 * less.
 */
struct volume_clearance volume_narrow(const struct volume_near *near, struct vec3 from, struct vec3 to, double below_m,
                                      struct volume_few *few);
struct volume_clearance volume_few_clearance(struct volume_few *few, struct vec3 from, struct vec3 to, double enough);

/* The same with the body within yaw_off_rad of another yaw than *near was filled with. Turning it by d changes the
 * clearance by at most d times outline_radius(); of a clearance beyond within_m, less what that and the way take of
 * it, this says no more than that. */
struct volume_clearance volume_turned_clearance(const struct volume_near *near, struct vec3 from, struct vec3 to,
                                                double yaw_rad, double yaw_off_rad, double enough);

#endif
