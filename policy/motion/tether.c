/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/tether.h"

#define ROOT_5   2.23606797749978969641
#define POINT_M2 1e-18 /* a way shorter than a nanometre is a point, squared */

double tether_sag(double length_m, double apart_m)
{
    if (apart_m > 2 * length_m / ROOT_5)
        return greater(length_m * (ROOT_5 / 2) - apart_m, 0);
    return sqrt(greater(length_m * length_m - apart_m * apart_m, 0)) / 2;
}

static double nearest_on_way(struct vec3 p, struct vec3 from, struct vec3 to)
{
    struct vec3 way = vec_sub(to, from), w = vec_sub(p, from);
    double length2 = vec_dot(way, way);
    double t = length2 > POINT_M2 ? lesser(greater(vec_dot(w, way) / length2, 0), 1) : 0;
    return vec_norm(vec_sub(w, vec_scale(way, t)));
}

static void chords(const struct volume_tether *tether, struct vec3 from, struct vec3 to, struct hull *h)
{
    h->points = 3;
    h->point[0] = tether->anchor;
    h->point[1] = from;
    h->point[2] = to;
    h->disc_m = h->tall_m = 0;
    h->ball_m = tether->radius_m;
}

/* The curtain below them. */
static void hang(const struct volume_tether *tether, struct hull *h)
{
    double top = h->point[0].z, ends = lesser(h->point[1].z, h->point[2].z);
    double low = greater((top + ends - tether->length_m) / 2, tether->floor_m);
    low = lesser(low, lesser(top, ends)); /* a line that is too short, or ends below its floor */
    for (int i = 0; i < 3; i++) {
        h->point[3 + i] = h->point[i];
        h->point[3 + i].z = low;
    }
    h->points = 6;
    h->disc_m = tether->side_m;
}

bool tether_sweep(const struct volume_tether *tether, struct vec3 from, struct vec3 to, struct hull *hull,
                  struct hull *other)
{
    chords(tether, from, to, hull);
    if (tether->kind != VOLUME_TETHER_HANGING)
        return false;
    chords(tether, from, to, other);
    other->ball_m += tether_sag(tether->length_m, nearest_on_way(tether->anchor, from, to));
    hang(tether, hull);
    return true;
}

/* A distance from a point is greatest at an end of the way. */
double tether_left(const struct volume_tether *tether, struct vec3 from, struct vec3 to)
{
    return tether->length_m - greater(vec_norm(vec_sub(from, tether->anchor)), vec_norm(vec_sub(to, tether->anchor)));
}

bool tether_valid(const struct volume_tether *tether)
{
    if (tether->kind == VOLUME_TETHER_NONE)
        return true;
    if (tether->kind != VOLUME_TETHER_STRAIGHT && tether->kind != VOLUME_TETHER_HANGING)
        return false;
    return shape_point_valid(tether->anchor) && tether->length_m > 0 && shape_length_valid(tether->length_m) &&
           shape_length_valid(tether->radius_m) && shape_length_valid(tether->side_m) &&
           shape_coordinate_valid(tether->floor_m);
}
