/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/bench/policy/room.h"

#include <math.h>
#include <stddef.h>

#include "tests/property/random.h"

enum { TRIES = 1000 };

#define TURN 6.283185307179586

static const struct vec3 middle = {6, 4.5, 2.8};

/* Round the walls, a little higher and lower in turn. */
static struct vec3 anchor(int i, int cords)
{
    double angle = TURN * (i + 0.5) / cords;
    return (struct vec3){middle.x + 5.9 * cos(angle), middle.y + 4.4 * sin(angle), 5.6 - 0.1 * (i % 2)};
}

/* An oval; every second corner of a concave one is drawn in. */
static struct shape_prism oval(struct vec3 at, double rx, double ry, int corners, double drawn_in)
{
    struct shape_prism prism = {.corners = corners};
    for (int i = 0; i < corners; i++) {
        double angle = TURN * (i + 0.5) / corners, out = i % 2 ? 1 - drawn_in : 1;
        prism.x[i] = at.x + rx * out * cos(angle);
        prism.y[i] = at.y + ry * out * sin(angle);
    }
    return prism;
}

static struct shape prism_at(struct random *r, struct vec3 at, double lo, double hi, int corners)
{
    struct shape s = {.kind = SHAPE_PRISM};
    s.as.prism = oval(at, random_between(r, 0.15, 0.4), random_between(r, 0.15, 0.4), corners, 0.3);
    s.as.prism.z_lo = lo;
    s.as.prism.z_hi = hi;
    return s;
}

static struct shape solid(struct random *r, const struct room_size *size, int i)
{
    struct vec3 at = {random_between(r, 0.8, 11.2), random_between(r, 0.8, 8.2), 0};
    bool hangs = i % 4 == 3;
    double lo = hangs ? 5.0 : 0.0, hi = hangs ? 5.4 : random_between(r, 0.5, 2.4), half = (hi - lo) / 2;
    struct vec3 size_of = {random_between(r, 0.1, 0.3), random_between(r, 0.1, 0.3), half};
    struct shape s = {.kind = SHAPE_BOX};
    at.z = lo + half;
    if (size->prism_corners > 0)
        return prism_at(r, at, lo, hi, size->prism_corners);
    switch (i % 5) {
    case 1:
        return prism_at(r, at, lo, hi, 6);
    case 2:
        s.kind = SHAPE_SPHERE;
        s.as.sphere = (struct shape_sphere){at, lesser(half, 0.5)};
        return s;
    case 4:
        s.kind = SHAPE_CAPSULE;
        s.as.capsule = (struct shape_capsule){{at.x, at.y, lo}, {at.x + random_between(r, -0.5, 0.5), at.y, hi}, 0.12};
        return s;
    default:
        s.as.block = shape_block_turned(at, size_of, random_between(r, -3, 3), random_between(r, -0.3, 0.3), 0);
        return s;
    }
}

/* What stands too near to home would leave the camera nowhere to go. */
static bool add_keepout(struct volume *vol, struct random *r, const struct room_size *size)
{
    struct volume_now now = volume_now_usual();
    for (int i = 0; i < TRIES; i++) {
        vol->keepout[vol->keepouts] =
            (struct volume_keepout){.shape = solid(r, size, vol->keepouts), .padding_m = random_between(r, 0, 0.1)};
        vol->keepouts++;
        if (volume_prepare(vol) && volume_clearance(vol, &now, middle).distance_m > 0.4)
            return true;
        vol->keepouts--;
    }
    return false;
}

static void string_up(struct volume_outline *outline, int cords)
{
    outline->cords = cords;
    for (int i = 0; i < cords; i++)
        outline->anchor[i] = anchor(i, cords);
}

/* Of what the show watches only the room is left, so that growth is the room's. */
static void strip(struct policy_config *policy)
{
    policy->locates = policy->anticipates = policy->head.there = policy->subject.watched = false;
    policy->view.shapes = policy->view.pieces = policy->zones = policy->swing.taps = 0;
    policy->guard.volume.reach = NULL;
    policy->guard.volume.outline.yaw = VOLUME_YAW_FIXED;
}

bool room_make(const struct room_size *size, struct show *show)
{
    struct random r = {20260101};
    struct volume *vol = &show->policy.guard.volume;
    strip(&show->policy);
    string_up(&vol->outline, size->cords);
    vol->stages = 1;
    vol->stage[0] = oval(middle, 5.6, 4.1, size->stage_corners, size->stage_corners > 4 ? 0.1 : 0);
    vol->stage[0].z_lo = 0.5;
    vol->stage[0].z_hi = 4.6;
    vol->keepouts = 0;
    for (int i = 0; i < size->keepouts; i++) {
        if (!add_keepout(vol, &r, size))
            return false;
    }
    show->home = middle;
    return volume_prepare(vol) && policy_config_valid(&show->policy);
}
