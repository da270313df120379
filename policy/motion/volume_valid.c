/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/outline.h"

static bool same_point(struct vec3 a, struct vec3 b)
{
    return a.x == b.x && a.y == b.y && a.z == b.z;
}

static bool same_hull(const struct hull *a, const struct hull *b)
{
    if (a->points != b->points || a->disc_m != b->disc_m || a->ball_m != b->ball_m || a->tall_m != b->tall_m)
        return false;
    for (int i = 0; i < a->points && i < HULL_MAX_POINTS; i++) {
        if (!same_point(a->point[i], b->point[i]))
            return false;
    }
    return same_point(a->around.lo, b->around.lo) && same_point(a->around.hi, b->around.hi);
}

/* Are the pieces from *next on those of keep-out k? */
static bool as_prepared(const struct volume *vol, int k, int *next)
{
    struct hull piece[SHAPE_MAX_PIECES];
    int made = shape_pieces(&vol->keepout[k].shape, piece, SHAPE_MAX_PIECES);
    if (made < 0 || made > vol->pieces - *next)
        return false;
    for (int i = 0; i < made; i++, ++*next) {
        if (vol->piece_of[*next] != k || !same_hull(&piece[i], &vol->piece[*next]))
            return false;
    }
    return true;
}

static bool keepouts_valid(const struct volume *vol)
{
    int next = 0;
    if (vol->keepouts < 0 || vol->keepouts > VOLUME_MAX_KEEPOUTS || vol->pieces < 0 || vol->pieces > VOLUME_MAX_PIECES)
        return false;
    for (int k = 0; k < vol->keepouts; k++) {
        const struct volume_keepout *keepout = &vol->keepout[k];
        if (!shape_valid(&keepout->shape) || !shape_length_valid(keepout->padding_m) || !as_prepared(vol, k, &next))
            return false;
    }
    return next == vol->pieces;
}

bool volume_valid(const struct volume *vol)
{
    if (vol->stages < 1 || vol->stages > VOLUME_MAX_STAGES || !outline_valid(&vol->outline))
        return false;
    for (int i = 0; i < vol->stages; i++) {
        if (!shape_prism_valid(&vol->stage[i]))
            return false;
    }
    return keepouts_valid(vol);
}
