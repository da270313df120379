/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/bench/policy/pairs.h"

#include <stdlib.h>

#include "tests/bench/policy/drive.h"
#include "tests/bench/policy/other.h"
#include "tests/bench/policy/spread.h"

enum { PAIRS = 500, PLACES = 300, MOST_RUNS = 64 };

struct pair {
    struct hull moving, still;
    struct other_solid *other_moving, *other_still;
    double ours, other;
};

static struct vec3 somewhere(struct random *r, double reach)
{
    return (struct vec3){random_between(r, -reach, reach), random_between(r, -reach, reach),
                         random_between(r, -reach, reach)};
}

static struct shape_prism prism(struct random *r)
{
    struct shape_prism p = {.corners = 6, .z_lo = random_between(r, -1, 0)};
    struct vec3 middle = somewhere(r, 1);
    p.z_hi = p.z_lo + random_between(r, 0.3, 2);
    for (int i = 0; i < p.corners; i++) {
        p.x[i] = middle.x + 0.5 * cos(6.283185307179586 * i / p.corners);
        p.y[i] = middle.y + 0.4 * sin(6.283185307179586 * i / p.corners);
    }
    return p;
}

static struct shape still(struct random *r, enum shape_kind kind)
{
    struct shape s = {.kind = kind};
    struct vec3 half = {random_between(r, 0.1, 0.7), random_between(r, 0.1, 0.7), random_between(r, 0.1, 0.7)};
    if (kind == SHAPE_BOX)
        s.as.block =
            shape_block_turned(somewhere(r, 1), half, random_between(r, -3, 3), random_between(r, -0.3, 0.3), 0);
    else if (kind == SHAPE_PRISM)
        s.as.prism = prism(r);
    else if (kind == SHAPE_SPHERE)
        s.as.sphere = (struct shape_sphere){somewhere(r, 1), half.x};
    else
        s.as.capsule = (struct shape_capsule){somewhere(r, 1), somewhere(r, 1), 0.3 * half.x};
    return s;
}

/* A point or more around one place; of three, the last is far away, as an anchor is. */
static struct hull moving(struct random *r, int points)
{
    struct hull h = {.points = points, .ball_m = points == 1 ? 0.15 : 0.003};
    h.point[0] = somewhere(r, 2.5);
    h.point[1] = points == 3 ? vec_add(h.point[0], random_in_ball(r, 0.2)) : somewhere(r, 5);
    h.point[2] = somewhere(r, 5);
    hull_bound(&h);
    return h;
}

static void make(struct pair *pair, int points, enum shape_kind kind, struct random *r)
{
    struct shape s = still(r, kind);
    pair->moving = moving(r, points);
    if (!shape_valid(&s) || shape_pieces(&s, &pair->still, 1) != 1)
        abort();
    pair->other_moving = other_moving_new(&pair->moving);
    pair->other_still = other_shape_new(&s, &pair->still);
}

static double run_ours(struct pair *pair)
{
    double start = drive_now_ns();
    for (int i = 0; i < PAIRS; i++)
        pair[i].ours = hull_distance(&pair[i].moving, &pair[i].still, INFINITY);
    return (drive_now_ns() - start) / PAIRS;
}

static double run_other(struct pair *pair)
{
    double start = drive_now_ns();
    for (int i = 0; i < PAIRS && other_name(); i++)
        pair[i].other = other_distance(pair[i].other_moving, pair[i].other_still);
    return (drive_now_ns() - start) / PAIRS;
}

struct pairs_times pairs_time(int moving_points, enum shape_kind kind, int runs)
{
    static struct pair pair[PAIRS];
    double ours[MOST_RUNS], other[MOST_RUNS];
    struct random r = {77};
    struct pairs_times times = {0};
    for (int i = 0; i < PAIRS; i++)
        make(&pair[i], moving_points, kind, &r);
    for (int i = 0; i < runs && i < MOST_RUNS; i++) {
        ours[i] = run_ours(pair);
        other[i] = run_other(pair);
    }
    for (int i = 0; i < PAIRS; i++) {
        bool apart = pair[i].ours > 0 && pair[i].other > 0;
        times.meeting += pair[i].ours <= 0;
        if (apart)
            times.apart_m = greater(times.apart_m, fabs(pair[i].ours - pair[i].other));
        other_solid_free(pair[i].other_moving);
        other_solid_free(pair[i].other_still);
    }
    times.meeting = times.meeting * 100 / PAIRS;
    times.ours_ns = spread_median_of(ours, runs);
    times.other_ns = other_name() ? spread_median_of(other, runs) : 0;
    return times;
}

/* Where the camera really gets to. */
static void find_places(const struct show *show, struct vec3 *place)
{
    static struct drive drive;
    double took[20], least[20];
    drive_init(&drive, show, DRIVE_WANDER);
    for (int i = 0; i < PLACES; i++) {
        drive_run(&drive, 20, took, least);
        place[i] = drive.rig.position;
    }
}

/* The same keep-outs without padding, on a stage that never is the nearest. */
static void take_keepouts(const struct show *show, struct volume *vol)
{
    *vol = show->policy.guard.volume;
    vol->stage[0] = (struct shape_prism){4, {-99, 99, 99, -99}, {-99, -99, 99, 99}, -99, 99};
    vol->stages = 1;
    for (int i = 0; i < vol->keepouts; i++)
        vol->keepout[i].padding_m = 0;
    if (!volume_prepare(vol))
        abort();
}

static double room_ours(const struct volume *vol, const struct vec3 *place, double *clear)
{
    struct volume_now now = volume_now_usual();
    double start = drive_now_ns();
    for (int k = 0; k < PLACES; k++)
        clear[k] = volume_clearance(vol, &now, place[k]).distance_m;
    return (drive_now_ns() - start) / PLACES;
}

static double room_other(struct other_room *room, const struct vec3 *place, double *clear)
{
    double start = drive_now_ns();
    for (int k = 0; k < PLACES && room; k++)
        clear[k] = other_room_clearance(room, place[k]);
    return (drive_now_ns() - start) / PLACES;
}

struct pairs_times pairs_time_room(const struct show *show, int runs)
{
    static struct volume vol;
    static struct vec3 place[PLACES];
    double ours[MOST_RUNS], other[MOST_RUNS], clear[PLACES], by_other[PLACES];
    struct pairs_times times = {0};
    find_places(show, place);
    take_keepouts(show, &vol);
    struct other_room *room = other_room_new(&vol);
    for (int i = 0; i < runs && i < MOST_RUNS; i++) {
        ours[i] = room_ours(&vol, place, clear);
        other[i] = room_other(room, place, by_other);
    }
    for (int k = 0; k < PLACES && room; k++)
        times.apart_m = greater(times.apart_m, fabs(clear[k] - by_other[k]));
    other_room_free(room);
    times.ours_ns = spread_median_of(ours, runs);
    times.other_ns = room ? spread_median_of(other, runs) : 0;
    return times;
}
