/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/truth.h"

#define NEAR_M 0.05 /* what is nearer is measured anew after every millimetre */

struct measured {
    double left_m; /* the least that was found */
    double sure_m; /* and what is sure to be left everywhere */
};

void truth_init(struct truth *truth, struct vec3 platform, struct vec3 body)
{
    *truth = (struct truth){.platform = platform, .body = body, .least_m = INFINITY, .part = -1, .bound = -1};
}

static double bound_distance(const struct volume *vol, int bound, struct vec3 p)
{
    return bound == 0 ? -truth_prism(&vol->stage, p) : truth_box(&vol->keepout[bound - 1], p);
}

/* Half as far as the distance allows, each time: what lies between two places has at least half of it left. */
static struct measured along(const struct volume *vol, int bound, struct vec3 a, struct vec3 b, double radius)
{
    struct measured m = {INFINITY, INFINITY};
    struct vec3 rod = vec_sub(b, a);
    double length = vec_norm(rod);
    for (double s = 0;;) {
        double d = bound_distance(vol, bound, vec_along(a, rod, length > 0 ? s / length : 0)) - radius;
        double step = fmax(d / 2, TRUTH_STEP_M);
        m.left_m = fmin(m.left_m, d);
        m.sure_m = fmin(m.sure_m, d - step);
        if (s >= length)
            return m;
        s = fmin(s + step, length);
    }
}

static struct measured measure(const struct truth *t, const struct volume *vol, int part, int bound)
{
    const struct volume_outline *o = &vol->outline;
    if (part == 0) {
        double d = bound_distance(vol, bound, t->body) - o->body_radius_m;
        return (struct measured){d, d};
    }
    if (part == 1)
        return along(vol, bound, t->body, t->platform, o->boom_radius_m);
    return along(vol, bound, t->platform, o->anchor[part - 2], o->cord_radius_m);
}

static void look_at(struct truth *t, const struct volume *vol, int part, int bound)
{
    struct measured m = measure(t, vol, part, bound);
    t->due_m[part][bound] = t->odometer_m + fmax(m.sure_m - NEAR_M, TRUTH_STEP_M);
    if (m.left_m >= t->least_m)
        return;
    t->least_m = m.left_m;
    t->part = part;
    t->bound = bound;
}

void truth_look(struct truth *t, const struct volume *vol, struct vec3 platform, struct vec3 body)
{
    if (!vec_finite(platform) || !vec_finite(body)) {
        t->least_m = -INFINITY;
        return;
    }
    t->odometer_m += fmax(vec_norm(vec_sub(platform, t->platform)), vec_norm(vec_sub(body, t->body)));
    t->platform = platform;
    t->body = body;
    if (t->odometer_m < t->next_m)
        return;
    t->next_m = INFINITY;
    for (int part = 0; part < 2 + vol->outline.cords; part++) {
        int bounds = 1 + vol->keepouts;
        for (int bound = part < 2 ? 0 : 1; bound < bounds; bound++) { /* cords may leave the stage */
            if (t->due_m[part][bound] <= t->odometer_m)
                look_at(t, vol, part, bound);
            t->next_m = fmin(t->next_m, t->due_m[part][bound]);
        }
    }
}

/* Outside, the distance to the point of the box nearest to p; inside, minus the way out through the nearest face. */
double truth_box(const struct shape_box *box, struct vec3 p)
{
    struct vec3 out = {fmax(box->lo.x - p.x, p.x - box->hi.x), fmax(box->lo.y - p.y, p.y - box->hi.y),
                       fmax(box->lo.z - p.z, p.z - box->hi.z)};
    double deepest = fmax(out.x, fmax(out.y, out.z));
    if (deepest <= 0)
        return deepest;
    return vec_norm((struct vec3){fmax(out.x, 0), fmax(out.y, 0), fmax(out.z, 0)});
}

/* Inside the footprint if a ray along x crosses an odd number of its edges. */
double truth_prism(const struct shape_prism *prism, struct vec3 p)
{
    bool inside = false;
    double square = INFINITY;
    for (int i = 0, j = prism->corners - 1; i < prism->corners; j = i++) {
        double ex = prism->x[i] - prism->x[j], ey = prism->y[i] - prism->y[j];
        double px = p.x - prism->x[j], py = p.y - prism->y[j];
        double s = fmin(1, fmax(0, (px * ex + py * ey) / (ex * ex + ey * ey)));
        double dx = px - s * ex, dy = py - s * ey;
        square = fmin(square, dx * dx + dy * dy);
        if ((prism->y[i] > p.y) != (prism->y[j] > p.y) && px < ex * py / ey)
            inside = !inside;
    }
    double plan = inside ? -sqrt(square) : sqrt(square);
    double level = fmax(prism->z_lo - p.z, p.z - prism->z_hi);
    if (plan <= 0 || level <= 0)
        return fmax(plan, level);
    return hypot(plan, level);
}
