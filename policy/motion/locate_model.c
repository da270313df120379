/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/locate_model.h"

#include <stddef.h>

#define AT_ANCHOR_M 1e-6 /* closer to its anchor than this a cord has no direction */

/* Everything one call works with. */
struct look {
    const struct locate_config *cfg;
    const struct locate_reading *reading;
    struct locate_model *model;
};

static double variance(const struct locate_reading *reading, int term, double more_bias, double drift)
{
    double sigma = reading->sigma[term], bias = reading->bias[term] + more_bias;
    return sigma * sigma + drift * drift + bias * bias / 3;
}

static double more_bias(const struct locate_config *cfg, const struct locate_reading *reading, enum locate_source s)
{
    return reading->slip_m[s] + (s == LOCATE_LENGTH ? cfg->anchor_bias_m : 0);
}

/* Of a term in metres. */
static double weight(const struct look *look, int term)
{
    enum locate_source s = locate_model_source(term);
    return 1 / variance(look->reading, term, more_bias(look->cfg, look->reading, s), look->reading->drift_m[s]);
}

static void look_pose(const struct look *look, struct vec3 q)
{
    struct locate_model *m = look->model;
    double w = weight(look, LOCATE_TERM_POSE);
    struct vec3 r = vec_sub(look->reading->position, q);
    m->residual[LOCATE_POSE] = r;
    m->info[LOCATE_POSE] = mat3_diagonal(w);
    m->pull[LOCATE_POSE] = vec_scale(r, w);
    m->cost += w * vec_dot(r, r);
    m->rows += 3;
}

static void look_range(const struct look *look, struct vec3 q)
{
    struct locate_model *m = look->model;
    double w = weight(look, LOCATE_TERM_RANGE);
    double r = look->reading->height_m - q.z;
    m->residual[LOCATE_RANGE].z = r;
    m->info[LOCATE_RANGE].m[2][2] = w;
    m->pull[LOCATE_RANGE].z = w * r;
    m->cost += w * r * r;
    m->rows++;
}

static void look_lengths(const struct look *look, struct vec3 q)
{
    struct locate_model *m = look->model;
    for (int i = 0; i < look->cfg->cords; i++) {
        struct vec3 to = vec_sub(look->cfg->anchor[i], q);
        double l = vec_norm(to), w = weight(look, LOCATE_TERM_LENGTH + i);
        if (!(l > AT_ANCHOR_M) || !(look->reading->taut & 1u << i))
            continue;
        struct vec3 u = vec_scale(to, 1 / l);
        double r = look->reading->length_m[i] - l;
        m->toward[i] = u;
        m->length_residual[i] = r;
        m->measured |= 1u << i;
        mat3_add_outer(&m->info[LOCATE_LENGTH], u, u, w);
        m->pull[LOCATE_LENGTH] = vec_along(m->pull[LOCATE_LENGTH], u, -w * r);
        m->cost += w * r * r;
        m->rows++;
    }
}

/* Sum of the cords' forces less the wrench, and its Hessian. */
static void balance(const struct look *look, struct vec3 q)
{
    struct locate_model *m = look->model;
    struct vec3 f = vec_scale(look->reading->wrench, -1);
    for (int i = 0; i < look->cfg->cords; i++) {
        struct vec3 to = vec_sub(look->cfg->anchor[i], q);
        double l = vec_norm(to), t = look->reading->tension_n[i];
        if (!(l > AT_ANCHOR_M))
            continue;
        struct vec3 u = vec_scale(to, 1 / l);
        double k = greater(t, 0) / l; /* a cord never pushes */
        struct mat3 across = mat3_diagonal(1);
        mat3_add_outer(&across, u, u, -1);
        mat3_add(&m->stiffness, &across, k);
        f = vec_along(f, u, t);
        m->toward[i] = u;
        m->cords_npm += k;
        m->balanced |= 1u << i;
    }
    m->residual[LOCATE_TENSION] = f;
}

static bool balance_weight(const struct look *look, struct mat3 *w)
{
    const struct locate_model *m = look->model;
    struct mat3 c = mat3_diagonal(variance(look->reading, LOCATE_TERM_WRENCH, m->wrench_slip_n, m->wrench_drift_n));
    for (int i = 0; i < look->cfg->cords; i++)
        if (m->balanced & 1u << i)
            mat3_add_outer(&c, m->toward[i], m->toward[i], variance(look->reading, LOCATE_TERM_TENSION + i, 0, 0));
    return mat3_invert(&c, w);
}

static void look_tensions(const struct look *look, struct vec3 q, const struct mat3 *keep)
{
    struct locate_model *m = look->model;
    balance(look, q);
    m->wrench_slip_n = m->cords_npm * (look->reading->slip_m[LOCATE_TENSION] + look->cfg->anchor_bias_m);
    m->wrench_drift_n = m->cords_npm * look->reading->drift_m[LOCATE_TENSION];
    if (keep)
        m->weight = *keep;
    else if (!balance_weight(look, &m->weight)) {
        m->balanced = 0;
        return;
    }
    struct mat3 hw = mat3_product(&m->stiffness, &m->weight);
    struct mat3 hwh = mat3_product(&hw, &m->stiffness);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            m->info[LOCATE_TENSION].m[i][j] = (hwh.m[i][j] + hwh.m[j][i]) / 2;
    m->pull[LOCATE_TENSION] = mat3_apply(&hw, m->residual[LOCATE_TENSION]);
    m->cost += mat3_form(&m->weight, m->residual[LOCATE_TENSION], m->residual[LOCATE_TENSION]);
    m->rows += 3;
}

void locate_model_at(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 p,
                     struct vec3 v, const struct mat3 *keep, struct locate_model *model)
{
    struct look look = {cfg, reading, model};
    *model = (struct locate_model){.cost = 0};
    for (int s = 0; s < LOCATE_PLACING; s++) {
        if (!(reading->sources & locate_bit((unsigned)s)))
            continue;
        struct vec3 then = vec_along(p, v, -reading->older_s[s]);
        if (s == LOCATE_POSE)
            look_pose(&look, then);
        else if (s == LOCATE_LENGTH)
            look_lengths(&look, then);
        else if (s == LOCATE_TENSION)
            look_tensions(&look, then, keep);
        else
            look_range(&look, then);
        mat3_add(&model->total_info, &model->info[s], 1);
        model->total_pull = vec_add(model->total_pull, model->pull[s]);
    }
}

static struct vec3 axis(int k)
{
    return (struct vec3){k == 0, k == 1, k == 2};
}

/* A term whose residual is a scalar, with J as given. */
static struct locate_term scalar_term(double w, struct vec3 jacobian, double residual)
{
    return (struct locate_term){.pull = vec_scale(jacobian, w), .weight = w, .score = w * residual};
}

/* A term of the tensions' residual: error 1 of it adds `way`. */
static struct locate_term balance_term(const struct locate_model *model, struct vec3 way)
{
    struct vec3 wr = mat3_apply(&model->weight, way);
    return (struct locate_term){
        .pull = mat3_apply(&model->stiffness, wr),
        .way = way,
        .felt = wr,
        .score = vec_dot(wr, model->residual[LOCATE_TENSION]),
    };
}

static struct locate_term term_at(const struct locate_config *cfg, const struct locate_reading *reading,
                                  const struct locate_model *model, int id)
{
    double more = more_bias(cfg, reading, locate_model_source(id));
    double drift = reading->drift_m[locate_model_source(id)];
    double w = weight(&(struct look){.cfg = cfg, .reading = reading}, id);
    struct locate_term term;
    if (id < LOCATE_TERM_LENGTH) {
        term = scalar_term(w, axis(id), vec_dot(model->residual[LOCATE_POSE], axis(id)));
    } else if (id < LOCATE_TERM_TENSION) {
        int i = id - LOCATE_TERM_LENGTH;
        term = scalar_term(w, vec_scale(model->toward[i], -1), model->length_residual[i]);
    } else if (id < LOCATE_TERM_WRENCH) {
        more = drift = 0; /* out of date is the wrench's */
        term = balance_term(model, model->toward[id - LOCATE_TERM_TENSION]);
    } else if (id < LOCATE_TERM_RANGE) {
        more = model->wrench_slip_n;
        drift = model->wrench_drift_n;
        term = balance_term(model, axis(id - LOCATE_TERM_WRENCH));
    } else {
        term = scalar_term(w, axis(2), model->residual[LOCATE_RANGE].z);
    }
    term.sigma = reading->sigma[id];
    term.bias = reading->bias[id] + more;
    term.drift = drift;
    return term;
}

uint32_t locate_model_terms(const struct locate_config *cfg, const struct locate_reading *reading,
                            const struct locate_model *model, struct locate_term term[LOCATE_TERMS])
{
    uint32_t there = 0;
    if (reading->sources & locate_bit(LOCATE_POSE))
        there |= 7u << LOCATE_TERM_POSE;
    if (reading->sources & locate_bit(LOCATE_RANGE))
        there |= 1u << LOCATE_TERM_RANGE;
    there |= model->measured << LOCATE_TERM_LENGTH | model->balanced << LOCATE_TERM_TENSION;
    if (model->balanced)
        there |= 7u << LOCATE_TERM_WRENCH;
    for (int id = 0; id < LOCATE_TERMS; id++)
        if (there & 1u << id)
            term[id] = term_at(cfg, reading, model, id);
    return there;
}

static bool of_balance(int id)
{
    return id >= LOCATE_TERM_TENSION && id < LOCATE_TERM_RANGE;
}

double locate_model_likeness(const struct locate_term term[LOCATE_TERMS], int a, int b)
{
    if (of_balance(a) && of_balance(b))
        return vec_dot(term[a].way, term[b].felt);
    return a == b ? term[a].weight : 0;
}

enum locate_source locate_model_source(int term)
{
    if (term < LOCATE_TERM_LENGTH)
        return LOCATE_POSE;
    if (term < LOCATE_TERM_TENSION)
        return LOCATE_LENGTH;
    return term < LOCATE_TERM_RANGE ? LOCATE_TENSION : LOCATE_RANGE;
}
