/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/truth.h"

#define GONE_M 1e3  /* further away than this nothing is looked for: it has broken loose, or is no number */
#define NEAR_M 0.05 /* from so far off on, what is near is measured again before half of what is left is used up */

enum { TETHER_RODS = 8 };

struct measured {
    double left_m; /* the least that was found */
    double sure_m; /* and what is sure to be left everywhere */
};

static const struct measured far = {INFINITY, INFINITY};

void truth_init(struct truth *truth, const struct truth_pose *pose)
{
    *truth = (struct truth){.pose = *pose, .least_m = INFINITY, .subject_m = INFINITY, .part = -1, .bound = -1};
}

/* As the body hangs: turned by its yaw, then tilted as plumb is tilted to `down`. */
static struct vec3 on_body(const struct truth_pose *pose, struct vec3 p)
{
    double c = cos(pose->yaw_rad), s = sin(pose->yaw_rad);
    struct vec3 turned = {c * p.x - s * p.y, s * p.x + c * p.y, p.z};
    struct vec3 axis = vec_cross((struct vec3){0, 0, -1}, pose->down), once = vec_cross(axis, turned);
    turned = vec_add(turned, vec_along(once, vec_cross(axis, once), 1 / (1 - pose->down.z)));
    return vec_add(pose->body, turned);
}

static double bound_distance(const struct truth_pose *pose, const struct volume *vol, int bound, struct vec3 p)
{
    if (bound == TRUTH_STAGE)
        return truth_shape_inside(vol, p);
    if (bound == TRUTH_SUBJECT)
        return truth_shape_post(pose->subject_at, pose->subject_height_m, pose->subject_radius_m, p);
    return truth_shape(&vol->keepout[bound - TRUTH_KEEPOUT].shape, p);
}

/* Half as far as the distance allows, each time: what lies between two places has at least half of it left. */
static struct measured along(const struct truth_pose *pose, const struct volume *vol, int bound, struct vec3 a,
                             struct vec3 b, double radius)
{
    struct measured m = far;
    struct vec3 rod = vec_sub(b, a);
    double length = vec_norm(rod);
    for (double s = 0;;) {
        double d = bound_distance(pose, vol, bound, vec_along(a, rod, length > 0 ? s / length : 0)) - radius;
        double step = s < length ? greater(d / 2, TRUTH_STEP_M) : 0;
        m.left_m = lesser(m.left_m, d);
        m.sure_m = lesser(m.sure_m, d - step);
        if (s >= length)
            return m;
        s = lesser(s + step, length);
    }
}

/* A parabola between its ends with the tether's length, flat-bottomed where it would hang through the floor. */
static struct vec3 on_tether(const struct volume_tether *t, struct vec3 end, double s)
{
    struct vec3 way = vec_sub(end, t->anchor), p = vec_along(t->anchor, way, s);
    double apart = vec_norm(way), spare = greater(0, t->length_m - apart);
    if (t->kind == VOLUME_TETHER_HANGING)
        p.z = greater(lesser(p.z, t->floor_m), p.z - 4 * s * (1 - s) * sqrt(3 * apart * spare / 8));
    return p;
}

static struct measured tether(const struct truth_pose *pose, const struct volume *vol, int bound)
{
    const struct volume_tether *t = &vol->outline.tether;
    if (bound == TRUTH_STAGE) {
        double left = t->length_m - vec_norm(vec_sub(pose->body, t->anchor));
        return (struct measured){left, left};
    }
    struct measured all = far;
    for (int i = 0; i < TETHER_RODS; i++) {
        struct vec3 a = on_tether(t, pose->body, (double)i / TETHER_RODS);
        struct vec3 b = on_tether(t, pose->body, (i + 1.0) / TETHER_RODS);
        struct measured m = along(pose, vol, bound, a, b, t->radius_m);
        all = (struct measured){lesser(all.left_m, m.left_m), lesser(all.sure_m, m.sure_m)};
    }
    return all;
}

static struct measured measure(const struct truth_pose *pose, const struct volume *vol, int part, int bound)
{
    const struct volume_outline *o = &vol->outline;
    if (part < TRUTH_BOOM) {
        const struct volume_limb *limb = &o->limb[part];
        return along(pose, vol, bound, on_body(pose, limb->a), on_body(pose, limb->b), limb->radius_m);
    }
    if (part == TRUTH_BOOM)
        return along(pose, vol, bound, pose->body, pose->platform, o->boom_radius_m);
    if (part == TRUTH_TETHER)
        return tether(pose, vol, bound);
    return along(pose, vol, bound, pose->platform, o->anchor[part - TRUTH_CORD], o->cord_radius_m);
}

/* Zones that yield may be entered while they do, and then be left at any time: all that counts is whether they were
 * entered otherwise. */
static bool excused(struct truth *t, const struct volume *vol, int bound, double left_m)
{
    int k = bound - TRUTH_KEEPOUT;
    if (k < 0 || !vol->keepout[k].yields)
        return false;
    uint64_t bit = (uint64_t)1 << k;
    if (left_m <= 0 && t->pose.yields)
        t->entered |= bit;
    return left_m > 0 || (t->entered & bit);
}

/*
 * How far the end of a hanging tether may go before any of its points has gone most_m. Its sag is sqrt(3 a (l - a) / 8)
 * for ends a apart, and roots differ by no more than the root of the difference: going d changes it by at most
 * sqrt(3 l d / 8), the more the tauter it is. So d + k sqrt(d) = most_m, k = sqrt(3 l / 8).
 */
static double tether_slack(const struct volume_tether *t, double most_m)
{
    double k = sqrt(3 * t->length_m / 8), root = (sqrt(k * k + 4 * greater(most_m, 0)) - k) / 2;
    return root * root;
}

static void look_at(struct truth *t, const struct volume *vol, int part, int bound)
{
    struct measured m = measure(&t->pose, vol, part, bound);
    double free_m = greater(m.sure_m - NEAR_M, m.sure_m / 2);
    if (part == TRUTH_TETHER && vol->outline.tether.kind == VOLUME_TETHER_HANGING && bound != TRUTH_STAGE)
        free_m = tether_slack(&vol->outline.tether, free_m);
    t->due_m[part][bound] = t->odometer_m + greater(free_m, TRUTH_STEP_M);
    if (bound == TRUTH_SUBJECT)
        t->subject_m = lesser(t->subject_m, m.left_m);
    else if (m.left_m < t->least_m && !excused(t, vol, bound, m.left_m)) {
        t->least_m = m.left_m;
        t->part = part;
        t->bound = bound;
    }
}

static bool has_part(const struct volume_outline *o, int part)
{
    if (part < TRUTH_BOOM)
        return part < o->limbs;
    return part == TRUTH_BOOM ||
           (part == TRUTH_TETHER ? o->tether.kind != VOLUME_TETHER_NONE : part < TRUTH_CORD + o->cords);
}

double truth_subject(const struct volume *vol, const struct truth_pose *pose, int parts, int *part)
{
    double least = INFINITY;
    *part = -1;
    for (int p = 0; pose->subject && p < parts; p++) {
        double left = has_part(&vol->outline, p) ? measure(pose, vol, p, TRUTH_SUBJECT).left_m : INFINITY;
        if (left >= least)
            continue;
        least = left;
        *part = p;
    }
    return least;
}

/* How far any point of anything can have moved since the last look. */
static double moved(const struct volume_outline *o, const struct truth_pose *from, const struct truth_pose *to)
{
    double reach = 0;
    for (int i = 0; i < o->limbs; i++)
        reach = greater(reach, greater(vec_norm(o->limb[i].a), vec_norm(o->limb[i].b)));
    double ends = greater(vec_norm(vec_sub(to->platform, from->platform)), vec_norm(vec_sub(to->body, from->body)));
    double turned = fabs(to->yaw_rad - from->yaw_rad) + 1.5 * vec_norm(vec_sub(to->down, from->down));
    return ends + reach * turned + vec_norm(vec_sub(to->subject_at, from->subject_at));
}

void truth_look(struct truth *t, const struct volume *vol, const struct truth_pose *pose)
{
    if (!(vec_norm(pose->platform) < GONE_M && vec_norm(pose->body) < GONE_M)) {
        t->least_m = -INFINITY;
        return;
    }
    t->odometer_m += moved(&vol->outline, &t->pose, pose);
    t->pose = *pose;
    if (t->odometer_m < t->next_m)
        return;
    t->next_m = t->subject_m = INFINITY;
    for (int part = 0; part < TRUTH_PARTS; part++) {
        if (!has_part(&vol->outline, part))
            continue;
        bool cord = part >= TRUTH_CORD && part < TRUTH_TETHER; /* they may leave the stage */
        for (int bound = cord ? TRUTH_SUBJECT : TRUTH_STAGE; bound < TRUTH_KEEPOUT + vol->keepouts; bound++) {
            if (bound == TRUTH_SUBJECT && !pose->subject)
                continue;
            if (t->due_m[part][bound] <= t->odometer_m || bound == TRUTH_SUBJECT)
                look_at(t, vol, part, bound);
            t->next_m = lesser(t->next_m, t->due_m[part][bound]);
        }
    }
}
