/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/locate_solve.h"

#include <stddef.h>

#define STEP_DONE_M 1e-10 /* a step shorter than this changes nothing that matters */
#define STEP_MAX_M  1.0   /* no step is longer: residuals are not that linear */
#define SAVING_DONE 1e-12 /* nor does one that saves less than this part of the cost, or of one sigma squared */
#define DAMP_MIN    1e-3
#define DAMP_MAX    1e8
#define NEWTON_M    1e-9
#define BALANCED    1e-6 /* of the wrench left over is balance */
#define UNHOOK_M    0.2
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

/* Nothing more to gain but this last step: no way to go, or no cost to save by going. There rounding would decide
 * whether a step lowers the cost. */
static bool settled(const struct locate_model *model, struct vec3 step)
{
    return vec_norm(step) < STEP_DONE_M || vec_dot(model->total_pull, step) < SAVING_DONE * (1 + model->cost);
}

/* Least squares from p on, with the tensions' weight as it is at the start. */
static bool descend(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 velocity,
                    struct vec3 *p)
{
    double damp = 0;
    struct locate_model at[2], *model = &at[0], *trial = &at[1];
    struct vec3 step;
    locate_model_at(cfg, reading, *p, velocity, NULL, model);
    const struct mat3 keep = model->weight;
    for (int k = 0; k < STEPS && damp < DAMP_MAX; k++) {
        bool good = damped_step(model, damp, &step);
        struct vec3 to = vec_add(*p, step);
        if (good && damp <= DAMP_MIN && settled(model, step)) {
            *p = to;
            return true;
        }
        if (good) {
            locate_model_at(cfg, reading, to, velocity, &keep, trial);
            good = trial->cost <= model->cost;
        }
        if (good) {
            struct locate_model *last = model;
            model = trial;
            trial = last;
            *p = to;
        }
        damp = good ? (damp > DAMP_MIN ? damp / 10 : 0) : greater(10 * damp, DAMP_MIN);
    }
    return false;
}

/* Linearised there, where tensions weigh otherwise than where `descend` began. False if that fixes no place. */
static bool fixes(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 velocity,
                  struct locate_fix *fix)
{
    locate_model_at(cfg, reading, fix->position, velocity, NULL, &fix->model);
    return mat3_invert(&fix->model.total_info, &fix->spread) &&
           mat3_largest_eigenvalue(&fix->spread) <= LOCATE_FIX_SIGMA_M * LOCATE_FIX_SIGMA_M;
}

void locate_solve_near(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 guess,
                       struct vec3 velocity, struct locate_fix *fix)
{
    fix->position = guess;
    fix->full = descend(cfg, reading, velocity, &fix->position) && fixes(cfg, reading, velocity, fix);
    if (!fix->full) {
        fix->position = guess;
        locate_model_at(cfg, reading, guess, velocity, NULL, &fix->model);
    }
    fix->there = locate_model_terms(cfg, reading, &fix->model, fix->term);
    for (int id = 0; id < LOCATE_TERMS && fix->full; id++) {
        if (fix->there & 1u << id)
            fix->term[id].moves = mat3_apply(&fix->spread, fix->term[id].pull);
    }
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
                   struct vec3 *step, struct vec3 *gradient)
{
    struct mat3 h, inverse;
    *gradient = slope(cfg, reading, p, &h);
    double trace = h.m[0][0] + h.m[1][1] + h.m[2][2];
    for (int k = 0; k < 3; k++)
        h.m[k][k] += 1e-9 * trace;
    if (!mat3_invert(&h, &inverse))
        return false;
    *step = vec_scale(mat3_apply(&inverse, *gradient), -1);
    return vec_finite(*step);
}

/* How much of the step to go: less and less, until the potential falls as the slope says. */
static double share_of(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 at,
                       struct vec3 step, struct vec3 gradient)
{
    double value = potential(cfg, reading, at), promise = vec_dot(gradient, step), length = vec_norm(step);
    double share = lesser(1, 10 * STEP_MAX_M / length);
    for (int i = 0; i < HALVINGS && share * length >= NEWTON_M; i++, share /= 2)
        if (potential(cfg, reading, vec_along(at, step, share)) <= value + SLOPE * share * promise)
            break;
    return share;
}

bool locate_solve_tensions(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 *p)
{
    struct vec3 c = centroid(cfg), at = c, step, gradient;
    at.z -= anchor_spread(cfg, c) / 2;
    for (int k = 0; k < NEWTONS; k++) {
        if (!newton(cfg, reading, at, &step, &gradient))
            return false;
        bool done = vec_norm(step) < NEWTON_M;
        if (done && vec_norm(gradient) <= BALANCED * vec_norm(reading->wrench)) {
            *p = vec_add(at, step);
            return vec_finite(*p);
        }
        if (done) /* caught in the point of a cone, at an anchor: everything is below */
            at.z -= UNHOOK_M;
        else
            at = vec_along(at, step, share_of(cfg, reading, at, step, gradient));
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
