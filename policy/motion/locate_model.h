/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The sensors' model, linearised at one place: what each source's readings say about the position there.
 *
 * Every source gives a residual r = reading - h(p) and a Jacobian J = dh/dp; weighted by W they make the normal
 * equations of least squares, info = J^T W J and pull = J^T W r (Nocedal, Wright, Numerical Optimization, 10.3).
 *
 *   pose     r = z - p                       J = I
 *   length   r = l_i - |A_i - p|             J = -u_i^T
 *   tension  r = sum t_i u_i - w             J = H = sum t_i / l_i (I - u_i u_i^T)
 *   range    r = height - p_z                J = (0 0 1)
 *
 * The tensions' residual is minus the gradient of the convex function sum t_i |p - A_i| + w . p, whose minimiser is
 * where they balance the wrench w, and H its Hessian: so dp/dt_i = H^-1 u_i. Its weight is the inverse of
 * sum var(t_i) u_i u_i^T + var(w) I.
 *
 * A weight counts noise, drift and bias, bias as evenly spread: var = sigma^2 + drift^2 + bias^2 / 3. Readings that are
 * older than the newest are compared with where the platform was then, p - v * older.
 */
#ifndef STEADYHAND_MOTION_LOCATE_MODEL_H
#define STEADYHAND_MOTION_LOCATE_MODEL_H

#include "policy/motion/locate_reading.h"
#include "policy/motion/mat.h"

struct locate_model {
    struct mat3 info[LOCATE_TILT]; /* by source */
    struct vec3 pull[LOCATE_TILT];
    struct mat3 total_info;
    struct vec3 total_pull;
    double cost;        /* sum r^T W r */
    int rows;           /* independent residuals in it */
    struct mat3 weight; /* of the tensions' residual */

    struct vec3 residual[LOCATE_TILT]; /* pose, tensions; range in z */
    double length_residual[VOLUME_MAX_CORDS];
    struct vec3 toward[VOLUME_MAX_CORDS];            /* u_i */
    struct mat3 stiffness;                           /* H */
    double cords_npm, wrench_slip_n, wrench_drift_n; /* sum t_i / l_i; what slip, anchors and drift make of it */
    unsigned balanced;                               /* cords in the tensions' residual */
    unsigned measured;                               /* cords in the lengths' */
};

/* At position p, moving at v. `keep`, unless NULL, is the tensions' weight to use instead of p's own: so costs of
 * neighbouring places can be compared. Finite for any reading that locate_reading_take() made and finite p and v. */
void locate_model_at(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 p,
                     struct vec3 v, const struct mat3 *keep, struct locate_model *model);

/* What one term does. */
struct locate_term {
    struct vec3 pull; /* J^T W dr/dterm: an error of 1 moves the least-squares solution by info^-1 pull */
    struct vec3 way;  /* dr/dterm, where the residual is a vector ... */
    struct vec3 felt; /* ... and W of that */
    double weight;    /* of the residual, where it is a scalar */
    double score;     /* (dr/dterm)^T W r */
    double sigma, bias;
    struct vec3 moves; /* how far an error of 1 moves the least-squares solution: filled where there is one */
    double drift;      /* by chance as sigma is, but the same for a while: from the velocity's error, if it is old */
};

/* Fills term[] for every term that is in the model; returns them as bits. */
uint32_t locate_model_terms(const struct locate_config *cfg, const struct locate_reading *reading,
                            const struct locate_model *model, struct locate_term term[LOCATE_TERMS]);

/* (dr/da)^T W (dr/db): how alike two terms look in the residuals. */
double locate_model_likeness(const struct locate_term term[LOCATE_TERMS], int a, int b);

/* Which source a term belongs to. */
enum locate_source locate_model_source(int term);

#endif
