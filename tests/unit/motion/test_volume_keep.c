/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/volume_keep.h"

#include <criterion/criterion.h>

#include "tests/property/random.h"
#include "tests/unit/motion/rooms.h"

static struct volume_now now;
static struct volume_near near;

static void look(const struct volume *vol, struct vec3 at)
{
    volume_look(&near, vol, &now, at, 3);
}

/* One pair of all: the same room with nothing else in it, so that the least clearance is that pair's. */
static double alone(const struct volume *vol, int keepout, struct vec3 from, struct vec3 to)
{
    static struct volume one;
    static struct volume_near only;
    struct volume_now free = volume_now_usual();
    one = *vol;
    one.keepouts = keepout >= 0 ? 1 : 0;
    if (keepout >= 0) {
        one.keepout[0] = vol->keepout[keepout];
        one.stage[0] = (struct shape_prism){4, {-99, 99, 99, -99}, {-99, -99, 99, 99}, -99, 99};
    }
    cr_assert(volume_prepare(&one));
    volume_look(&only, &one, &free, from, (double)INFINITY);
    return volume_path_clearance(&only, from, to, (double)INFINITY).distance_m;
}

/* Against each boundary by itself, from anywhere to anywhere: no way is let through on which one gets nearer than the
 * margin, or than it was; and where all are better off by a millimetre, it is let through. */
Test(volume_keep, each_boundary_is_held_by_itself)
{
    struct policy_config cfg = rooms_plain();
    struct volume *vol = &cfg.guard.volume;
    struct random r = {8};
    int yes = 0, no = 0;
    vol->outline.cords = 0;
    vol->keepouts = 3;
    rooms_box(vol, 1, (struct vec3){2, 2, 0}, (struct vec3){3, 4, 2.5}, 0.1);
    rooms_box(vol, 2, (struct vec3){2.5, 1, 0}, (struct vec3){5.5, 3.5, 1.2}, 0);
    cr_assert(volume_prepare(vol));
    now = volume_now_usual();
    for (int i = 0; i < 3000; i++) {
        struct vec3 from = {random_between(&r, 1, 7), random_between(&r, 1, 5), random_between(&r, 1, 2.8)};
        struct vec3 to = vec_add(from, random_in_ball(&r, 0.6));
        double worst = INFINITY;
        look(vol, from);
        for (int k = -1; k < 3; k++) {
            double before = alone(vol, k, from, from), after = alone(vol, k, from, to);
            worst = fmin(worst, after - fmin(before, 0.2));
        }
        bool keeps = volume_keep(&near, to, 0.2, NULL);
        cr_assert(!keeps || worst >= -3e-4, "%d: let through, %.5f worse", i, worst);
        cr_assert(keeps || worst < 1e-3, "%d: held back, %.5f better", i, worst);
        *(keeps ? &yes : &no) += 1;
    }
    cr_assert(yes > 300 && no > 300, "%d, %d", yes, no);
}

/* Deep in one thing, out of it is not into another; and the one that is in the way is named. */
Test(volume_keep, out_of_one_thing_is_not_into_another)
{
    struct policy_config cfg = rooms_plain();
    struct volume_clearance block;
    now = volume_now_usual();
    now.floor_m = 2.2; /* the body is 0.65 m below it */
    look(&cfg.guard.volume, (struct vec3){4, 2, 2});
    cr_assert(volume_keep(&near, (struct vec3){4, 2, 2.3}, 0.2, &block), "up");
    cr_assert_not(volume_keep(&near, (struct vec3){4, 2, 1.9}, 0.2, &block), "down");
    cr_assert(block.bound == VOLUME_FLOOR && block.distance_m < 0);
    cr_assert_not(volume_keep(&near, (struct vec3){4, 2, 2.9}, 0.2, &block), "up against the ceiling");
    cr_assert_eq(block.bound, VOLUME_STAGE);
    now.ceiling_m = 2.3;
    look(&cfg.guard.volume, (struct vec3){4, 2, 2});
    cr_assert_not(volume_keep(&near, (struct vec3){4, 2, 2.25}, 0.2, &block));
    cr_assert_eq(block.bound, VOLUME_CEILING);
    now = volume_now_usual();
    now.subject = true;
    now.subject_at = (struct vec3){4, 2, 0};
    now.subject_radius_m = 2;
    now.subject_height_m = 2;
    look(&cfg.guard.volume, (struct vec3){4, 2.5, 2});
    cr_assert_not(volume_keep(&near, (struct vec3){4, 2.2, 2}, 0.2, &block));
    cr_assert_eq(block.bound, VOLUME_SUBJECT);
    cr_assert_not(volume_keep(&near, (struct vec3){5.5, 3.5, 2.0}, 0.6, &block), "away from them, and over the box");
    cr_assert_not(volume_keep(&near, (struct vec3){(double)NAN, 2, 2}, 0.2, NULL));
}

Test(volume_keep, the_end_of_a_tether_is_held_too)
{
    struct policy_config cfg = rooms_plain();
    struct volume *vol = &cfg.guard.volume;
    struct volume_clearance block;
    vol->outline.tether = (struct volume_tether){VOLUME_TETHER_STRAIGHT, {4, 5.5, 2.9}, 2.5, 0.01, 0, 0};
    now = volume_now_usual();
    look(vol, (struct vec3){4, 3.5, 2});
    cr_assert(volume_keep(&near, (struct vec3){4, 3.6, 2}, 0.05, &block));
    cr_assert_not(volume_keep(&near, (struct vec3){4, 2.7, 2}, 0.05, &block));
    cr_assert_eq(block.bound, VOLUME_TETHER_END);
}
