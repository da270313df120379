/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/locate_solve.h"

#include <stddef.h>

#define STEP_DONE_M 1e-10 /* a step shorter than this changes nothing that matters */
#define STEP_MAX_M  1.0   /* no step is longer: residuals are not that linear */
#define DAMP_MAX    1e8
#define NEWTON_M    1e-9
#define SLOPE       1e-4 /* the part of the slope's promise that a step must keep (Armijo) */

enum {
    STEPS = 40,   /* cold starts need up to about 15, warm ones 3 */
    NEWTONS = 60, /* the line search's halvings come on top */
    HALVINGS = 40,
};

/* One damped step from the model's place. False if there is no direction to go. */
static bool damped_step(const struct locate_model *model, double damp, struct vec3 *step)
{
    struct mat3 a = model->total_info, inverse;
    double trace = a.m[0][0] + a.m[1][1] + a.m[2][2];
    for (int k = 0; k < 3; k++)
        a.m[k][k] += damp * (a.m[k][k] + 1e-6 * trace);
    if (!mat3_invert(&a, &inverse))
        return false;
    *step = mat3_apply(&inverse, model->total_pull);
    double length = vec_norm(*step);
    if (length > STEP_MAX_M)
        *step = vec_scale(*step, STEP_MAX_M / length);
    return vec_finite(*step);
}

/* Least squares from p on, with the tensions' weight as it is at the start. The model is that of the last *p. */
static bool descend(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 velocity,
                    struct vec3 *p, struct locate_model *model)
{
    double damp = 0;
    struct locate_model trial;
    locate_model_at(cfg, reading, *p, velocity, NULL, model);
    const struct mat3 keep = model->weight;
    for (int k = 0; k < STEPS && damp < DAMP_MAX; k++) {
        struct vec3 step;
        if (damped_step(model, damp, &step)) {
            struct vec3 to = vec_add(*p, step);
            locate_model_at(cfg, reading, to, velocity, &keep, &trial);
            bool done = vec_norm(step) < STEP_DONE_M;
            if (done || trial.cost <= model->cost) {
                *p = to;
                *model = trial;
                damp = damp > 1e-6 ? damp / 10 : 0;
            } else {
                damp = greater(10 * damp, 1e-3);
            }
            if (done && damp <= 1e-3)
                return true;
        } else {
            damp = greater(10 * damp, 1e-3);
        }
    }
    return false;
}

void locate_solve_near(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 guess,
                       struct vec3 velocity, struct locate_fix *fix)
{
    struct vec3 at = guess;
    fix->full = descend(cfg, reading, velocity, &at, &fix->model) &&
                mat3_invert(&fix->model.total_info, &fix->spread) &&
                mat3_largest_eigenvalue(&fix->spread) <= LOCATE_FIX_SIGMA_M * LOCATE_FIX_SIGMA_M;
    fix->position = fix->full ? at : guess;
    /* Elsewhere than `descend` began, tensions weigh differently. */
    if (!fix->full || reading->sources & locate_bit(LOCATE_TENSION))
        locate_model_at(cfg, reading, fix->position, velocity, NULL, &fix->model);
    if (fix->full && reading->sources & locate_bit(LOCATE_TENSION))
        fix->full = mat3_invert(&fix->model.total_info, &fix->spread);
    fix->there = locate_model_terms(cfg, reading, &fix->model, fix->term);
}

/* Value of sum t_i |p - A_i| + w . p. */
static double potential(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 p)
{
    double sum = vec_dot(reading->wrench, p);
    for (int i = 0; i < cfg->cords; i++)
        sum += greater(reading->tension_n[i], 0) * vec_norm(vec_sub(cfg->anchor[i], p));
    return sum;
}

static struct vec3 centroid(const struct locate_config *cfg)
{
    struct vec3 sum = {0, 0, 0};
    for (int i = 0; i < cfg->cords; i++)
        sum = vec_add(sum, cfg->anchor[i]);
    return vec_scale(sum, 1.0 / (cfg->cords > 0 ? cfg->cords : 1));
}

/* Root mean square distance of the anchors from their centroid. */
static double anchor_spread(const struct locate_config *cfg, struct vec3 c)
{
    double sum = 0;
    for (int i = 0; i < cfg->cords; i++) {
        struct vec3 d = vec_sub(cfg->anchor[i], c);
        sum += vec_dot(d, d);
    }
    return sqrt(sum / (cfg->cords > 0 ? cfg->cords : 1));
}

/* Gradient (minus the balance) and Hessian of the potential. */
static struct vec3 slope(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 p,
                         struct mat3 *hessian)
{
    struct vec3 g = reading->wrench;
    *hessian = mat3_diagonal(0);
    for (int i = 0; i < cfg->cords; i++) {
        struct vec3 to = vec_sub(cfg->anchor[i], p);
        double l = greater(vec_norm(to), 1e-9), t = greater(reading->tension_n[i], 0);
        struct vec3 u = vec_scale(to, 1 / l);
        g = vec_along(g, u, -t);
        for (int k = 0; k < 3; k++)
            hessian->m[k][k] += t / l;
        mat3_add_outer(hessian, u, u, -t / l);
    }
    return g;
}

/* Newton's direction, a hair's breadth damped so that there is one wherever there is any tension. */
static bool newton(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 p,
                   struct vec3 *step, double *promise)
{
    struct mat3 h, inverse;
    struct vec3 g = slope(cfg, reading, p, &h);
    double trace = h.m[0][0] + h.m[1][1] + h.m[2][2];
    for (int k = 0; k < 3; k++)
        h.m[k][k] += 1e-9 * trace;
    if (!mat3_invert(&h, &inverse))
        return false;
    *step = vec_scale(mat3_apply(&inverse, g), -1);
    *promise = vec_dot(g, *step);
    return vec_finite(*step);
}

bool locate_solve_tensions(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 *p)
{
    struct vec3 c = centroid(cfg), at = c, step;
    at.z -= anchor_spread(cfg, c) / 2;
    double value = potential(cfg, reading, at), promise;
    for (int k = 0; k < NEWTONS; k++) {
        if (!newton(cfg, reading, at, &step, &promise))
            return false;
        if (vec_norm(step) < NEWTON_M) {
            *p = vec_add(at, step);
            return vec_finite(*p);
        }
        double share = lesser(1, 10 * STEP_MAX_M / vec_norm(step));
        for (int i = 0; i < HALVINGS; i++, share /= 2) {
            double there = potential(cfg, reading, vec_along(at, step, share));
            if (there <= value + SLOPE * share * promise || share * vec_norm(step) < NEWTON_M)
                break;
        }
        at = vec_along(at, step, share);
        value = potential(cfg, reading, at);
    }
    return false;
}

/* Below the anchors, as far from their centroid as the lengths say. */
static struct vec3 below(const struct locate_config *cfg, const struct locate_reading *reading)
{
    struct vec3 c = centroid(cfg);
    double spread = anchor_spread(cfg, c), sum = 0;
    for (int i = 0; i < cfg->cords; i++)
        sum += reading->length_m[i] * reading->length_m[i];
    double square = sum / (cfg->cords > 0 ? cfg->cords : 1) - spread * spread;
    c.z -= square > 0 ? sqrt(square) : 0;
    return c;
}

void locate_solve_cold(const struct locate_config *cfg, const struct locate_reading *reading, struct locate_fix *fix)
{
    const struct vec3 still = {0, 0, 0};
    struct vec3 start = centroid(cfg);
    if (reading->sources & locate_bit(LOCATE_POSE))
        start = reading->position;
    else if (reading->sources & locate_bit(LOCATE_LENGTH))
        start = below(cfg, reading);
    else if (reading->sources & locate_bit(LOCATE_TENSION) && !locate_solve_tensions(cfg, reading, &start))
        start = centroid(cfg);
    if (!(reading->sources & locate_bit(LOCATE_POSE)) && reading->sources & locate_bit(LOCATE_RANGE))
        start.z = reading->height_m;
    locate_solve_near(cfg, reading, start, still, fix);
}
