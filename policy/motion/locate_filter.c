/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/locate_filter.h"

#define ACCEL_SIGMAS 2.0
#define WORST_SWAY   1.1          /* coth(pi / 2) and a little */
#define WORST_PULL   1.4345372081 /* 1 + 1 / sinh(pi / 2) */

/* Six numbers as two vectors: A (p, v), of the transpose of A, whose rows are added up as they lie in memory. */
static struct locate_column apply(const struct mat6 *transpose, struct locate_column c)
{
    const double in[6] = {c.p.x, c.p.y, c.p.z, c.v.x, c.v.y, c.v.z};
    double out[6] = {0};
    for (int k = 0; k < 6; k++)
        for (int i = 0; i < 6; i++)
            out[i] += transpose->m[k][i] * in[k];
    return (struct locate_column){{out[0], out[1], out[2]}, {out[3], out[4], out[5]}};
}

static struct locate_column plus(struct locate_column a, struct locate_column b)
{
    return (struct locate_column){vec_add(a.p, b.p), vec_add(a.v, b.v)};
}

/* *a += k c c^T */
static void add_square(struct mat6 *a, struct locate_column c, double k)
{
    const double n[6] = {c.p.x, c.p.y, c.p.z, c.v.x, c.v.y, c.v.z};
    for (int i = 0; i < 6; i++)
        for (int j = 0; j < 6; j++)
            a->m[i][j] += k * n[i] * n[j];
}

static bool mat6_finite(const struct mat6 *a)
{
    double sum = 0;
    for (int i = 0; i < 6; i++)
        for (int j = 0; j < 6; j++)
            sum += a->m[i][j] * 0; /* NaN if any is not finite */
    return sum == 0;
}

/* F A F^T with F = (I, T I; 0, I). */
static void carry(struct mat6 *a, double t)
{
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 6; j++)
            a->m[i][j] += t * a->m[i + 3][j];
    for (int i = 0; i < 6; i++)
        for (int j = 0; j < 3; j++)
            a->m[i][j] += t * a->m[i][j + 3];
}

/* What a velocity of 1 along an axis, taken for 0, makes wrong: itself, and the fix by what older readings lag. */
static struct locate_column unknown_velocity(const struct locate_reading *reading, const struct locate_fix *fix,
                                             struct vec3 axis)
{
    struct vec3 pull = {0, 0, 0};
    for (int s = 0; s < LOCATE_PLACING; s++)
        pull = vec_along(pull, mat3_apply(&fix->model.info[s], axis), reading->older_s[s]);
    return (struct locate_column){mat3_apply(&fix->spread, pull), axis};
}

void locate_filter_start(const struct locate_config *cfg, const struct locate_reading *reading,
                         const struct locate_fix *fix, struct locate_filter *filter)
{
    *filter = (struct locate_filter){.position = fix->position, .terms = fix->there};
    for (int id = 0; id < LOCATE_TERMS; id++) {
        if (!(fix->there & 1u << id))
            continue;
        filter->column[id].p = fix->term[id].moves;
        filter->bias[id] = fix->term[id].bias;
        add_square(&filter->noise, filter->column[id], fix->term[id].sigma * fix->term[id].sigma);
    }
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            filter->covariance.m[i][j] = fix->spread.m[i][j];
    for (int k = 0; k < 3; k++) {
        struct locate_column c = unknown_velocity(reading, fix, (struct vec3){k == 0, k == 1, k == 2});
        add_square(&filter->covariance, c, cfg->speed_mps * cfg->speed_mps);
        add_square(&filter->noise, c, cfg->speed_mps * cfg->speed_mps);
    }
}

void locate_filter_predict(const struct locate_config *cfg, double elapsed_s, struct locate_filter *filter)
{
    const double t = elapsed_s, half = t * t / 2, s = ACCEL_SIGMAS * cfg->accel_mps2;
    filter->position = vec_along(filter->position, filter->velocity, t);
    carry(&filter->covariance, t);
    carry(&filter->noise, t);
    for (int k = 0; k < 3; k++) {
        filter->covariance.m[k][k] += half * half * s * s;
        filter->covariance.m[k][k + 3] += half * t * s * s;
        filter->covariance.m[k + 3][k] += half * t * s * s;
        filter->covariance.m[k + 3][k + 3] += t * t * s * s;
    }
    for (int id = 0; id < LOCATE_COLUMNS; id++)
        filter->column[id].p = vec_along(filter->column[id].p, filter->column[id].v, t);
    struct locate_column *a = &filter->column[LOCATE_TERMS];
    a[0].p.x += half, a[0].v.x += t;
    a[1].p.y += half, a[1].v.y += t;
    a[2].p.z += half, a[2].v.z += t;
}

/* Adds H^T W H and H^T W r of every source. */
static void add_information(const struct locate_reading *reading, const struct locate_model *model, struct mat6 *a,
                            struct locate_column *pull)
{
    for (int s = 0; s < LOCATE_PLACING; s++) {
        const double part[2] = {1, -reading->older_s[s]};
        if (!(reading->sources & locate_bit((unsigned)s)))
            continue;
        for (int i = 0; i < 6; i++)
            for (int j = 0; j < 6; j++)
                a->m[i][j] += part[i / 3] * part[j / 3] * model->info[s].m[i % 3][j % 3];
        pull->p = vec_add(pull->p, model->pull[s]);
        pull->v = vec_along(pull->v, model->pull[s], part[1]);
    }
}

/* Every cause of error through the same gains. `keep` is U^T, `after` the new P, which is its own transpose. */
static void account(const struct locate_reading *reading, const struct locate_fix *fix, const struct mat6 *keep,
                    const struct mat6 *after, struct locate_filter *filter)
{
    struct mat6 noise;
    mat6_congruence(keep, &filter->noise, &noise);
    filter->noise = noise;
    filter->terms |= fix->there;
    for (int id = 0; id < LOCATE_COLUMNS; id++) {
        struct locate_column *c = &filter->column[id];
        if (id < LOCATE_TERMS && !(filter->terms & 1u << id))
            continue;
        *c = apply(keep, *c);
        if (id >= LOCATE_TERMS || !(fix->there & 1u << id))
            continue;
        double older = reading->older_s[locate_model_source(id)];
        const struct locate_term *t = &fix->term[id];
        struct locate_column gain = apply(after, (struct locate_column){t->pull, vec_scale(t->pull, -older)});
        *c = plus(*c, gain);
        filter->bias[id] = t->bias;
        add_square(&filter->noise, gain, t->sigma * t->sigma);
    }
}

bool locate_filter_update(const struct locate_reading *reading, const struct locate_fix *fix,
                          struct locate_filter *filter)
{
    struct mat6 before, sum, after, keep;
    struct locate_column pull = {{0, 0, 0}, {0, 0, 0}};
    if (!mat6_invert(&filter->covariance, &before))
        return false;
    sum = before;
    add_information(reading, &fix->model, &sum, &pull);
    if (!mat6_invert(&sum, &after))
        return false;
    mat6_product(&before, &after, &keep); /* both are symmetric, so this is the transpose of after before */

    struct locate_column away = {vec_sub(filter->position, fix->position), {0, 0, 0}};
    struct locate_column step = apply(&after, plus(apply(&before, away), pull));
    struct vec3 position = vec_add(fix->position, step.p), velocity = vec_add(filter->velocity, step.v);
    if (!vec_finite(position) || !vec_finite(velocity) || !mat6_finite(&keep))
        return false;
    account(reading, fix, &keep, &after, filter);
    filter->covariance = after;
    filter->position = position;
    filter->velocity = velocity;
    return true;
}

/* |sum of columns, each times up to 1 of a vector's axis|: the largest singular value of the three columns. */
static double vector_gain(struct vec3 a, struct vec3 b, struct vec3 c)
{
    struct mat3 sum = mat3_diagonal(0);
    mat3_add_outer(&sum, a, a, 1);
    mat3_add_outer(&sum, b, b, 1);
    mat3_add_outer(&sum, c, c, 1);
    return sqrt(greater(mat3_largest_eigenvalue(&sum), 0));
}

static struct vec3 part(const struct locate_column *c, int block)
{
    return block == 0 ? c->p : c->v;
}

static double manoeuvre(const struct locate_config *cfg, const struct locate_filter *filter, int block)
{
    const struct locate_column *a = &filter->column[LOCATE_TERMS];
    return WORST_SWAY * cfg->accel_mps2 * vector_gain(part(&a[0], block), part(&a[1], block), part(&a[2], block));
}

static struct locate_error error_of(const struct locate_config *cfg, const struct locate_filter *filter, int block)
{
    const struct locate_column *c = filter->column;
    struct mat3 noise = mat6_block(&filter->noise, block, block);
    struct locate_error e = {.noise = LOCATE_SIGMAS * sqrt(greater(mat3_largest_eigenvalue(&noise), 0))};
    for (int id = 0; id < LOCATE_TERMS; id++) {
        if (!(filter->terms & 1u << id))
            continue;
        bool vector = id < LOCATE_TERM_LENGTH || (id >= LOCATE_TERM_WRENCH && id < LOCATE_TERM_RANGE);
        if (!vector)
            e.bias += filter->bias[id] * vec_norm(part(&c[id], block));
        else if (id == LOCATE_TERM_POSE || id == LOCATE_TERM_WRENCH)
            e.bias += (id == LOCATE_TERM_WRENCH ? WORST_PULL : 1) * filter->bias[id] *
                      vector_gain(part(&c[id], block), part(&c[id + 1], block), part(&c[id + 2], block));
    }
    e.manoeuvre = manoeuvre(cfg, filter, block);
    return e;
}

struct locate_error locate_filter_position_error(const struct locate_config *cfg, const struct locate_filter *filter)
{
    return error_of(cfg, filter, 0);
}

struct locate_error locate_filter_velocity_error(const struct locate_config *cfg, const struct locate_filter *filter)
{
    return error_of(cfg, filter, 1);
}

double locate_filter_manoeuvre(const struct locate_config *cfg, const struct locate_filter *filter)
{
    return manoeuvre(cfg, filter, 0);
}
