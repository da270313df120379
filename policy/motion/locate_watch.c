/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/locate_watch.h"

#define LASTING_SIGMAS 6.0
#define CLEAR          27.631 /* 2 ln 1e6 */
#define CLEAR_SHARE    0.8
#define CLEAR_EXCESS   1.25 /* times the limit: below that, biases within bounds can make it look like another's */
#define INFO_MIN       1e-9 /* less than this of its own information left: least squares hide such an error */
#define DRIFTS_S       0.25 /* a velocity's error lasts about so long ... */
#define ALIKE_MAX      50.0 /* ... and in no more reports than this */
#define JUMP_CHI       44.8412753306

enum { DEGREES_MAX = 12 }; /* 3 + 8 + 3 + 1 rows, less 3 */

/* Exceeded with probability 1e-9, by degrees of freedom. */
static const double chi_square_limit[DEGREES_MAX + 1] = {
    0,          37.3248931, 41.4465317, 44.8412753, 47.8794557, 50.6921937, 53.3445731,
    55.8747810, 58.3076131, 60.6603083, 62.9454574, 65.1726054, 67.3492034,
};

static bool in(uint32_t set, int term)
{
    return set >> term & 1u;
}

/* X: what least squares leave of the likeness of two terms. */
static double left(const struct locate_fix *fix, int a, int b)
{
    return locate_model_likeness(fix->term, a, b) - vec_dot(fix->term[a].pull, fix->term[b].moves);
}

static double left_of_itself(const struct locate_fix *fix, int j)
{
    double all = locate_model_likeness(fix->term, j, j), x = left(fix, j, j);
    return x > INFO_MIN * all ? x : 0;
}

static bool is_vector(int j)
{
    return j < LOCATE_TERM_LENGTH || (j >= LOCATE_TERM_WRENCH && j < LOCATE_TERM_RANGE);
}

/*
 * How long biases within their bounds can make the weighted residual: separate readings are at right angles in it, so
 * their squares add up; what moves the balance of tensions is one vector, so it adds up as it is. Least squares, a
 * projection, make none of it longer.
 */
static double bias_length(const struct locate_fix *fix)
{
    double squares = 0, balance = 0;
    for (int j = 0; j < LOCATE_TERMS; j++) {
        if (!in(fix->there, j) || (is_vector(j) && j != LOCATE_TERM_POSE && j != LOCATE_TERM_WRENCH))
            continue; /* a vector counts once: the pose's axes weigh alike, of the wrench's the heaviest counts */
        double weight = j == LOCATE_TERM_WRENCH ? mat3_largest_eigenvalue(&fix->model.weight)
                                                : locate_model_likeness(fix->term, j, j);
        double own = fix->term[j].bias * sqrt(greater(weight, 0));
        if (locate_model_source(j) == LOCATE_TENSION)
            balance += own;
        else
            squares += own * own;
    }
    return sqrt(squares + balance * balance);
}

static void add_left(const struct locate_fix *fix, int first, struct mat3 *x)
{
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            x->m[i][j] += left(fix, first + i, first + j);
}

/* How far each hypothesis goes towards explaining the scores: chi-square, vectors less CLEAR as they have more ways to
 * fit. */
struct hypotheses {
    double explains[LOCATE_TERMS]; /* < 0: none */
    struct vec3 pose, wrench;      /* how far off they would be */
};

static double vector_explains(const double score[3], const struct mat3 *x, struct vec3 *off)
{
    struct vec3 s = {score[0], score[1], score[2]};
    struct mat3 inverse;
    *off = (struct vec3){0, 0, 0};
    if (!mat3_invert(x, &inverse))
        return -1;
    *off = mat3_apply(&inverse, s);
    return vec_dot(s, *off) - CLEAR;
}

static void weigh(const struct locate_watch *watch, struct hypotheses *h)
{
    for (int j = 0; j < LOCATE_TERMS; j++) {
        bool can = !is_vector(j) && watch->info[j] > 0;
        h->explains[j] = can ? watch->score[j] * watch->score[j] / watch->info[j] : -1;
    }
    h->explains[LOCATE_TERM_POSE] = vector_explains(&watch->score[LOCATE_TERM_POSE], &watch->pose, &h->pose);
    h->explains[LOCATE_TERM_WRENCH] = vector_explains(&watch->score[LOCATE_TERM_WRENCH], &watch->wrench, &h->wrench);
}

static int best_of(const struct hypotheses *h)
{
    int best = 0;
    for (int j = 1; j < LOCATE_TERMS; j++)
        if (h->explains[j] > h->explains[best])
            best = j;
    return best;
}

/* Does it explain nearly as much as the best? By chance alone (CLEAR), and by what the hypotheses leave out: biases
 * within bounds, and that an anchor's shift shows differently from place to place (CLEAR_SHARE). */
static bool rivals(const struct hypotheses *h, int j, int best, double share)
{
    double most = h->explains[best];
    return h->explains[j] >= 0 && h->explains[j] >= lesser(most - CLEAR, most * share);
}

static int cord_of(int j)
{
    if (j >= LOCATE_TERM_LENGTH && j < LOCATE_TERM_TENSION)
        return j - LOCATE_TERM_LENGTH;
    return j >= LOCATE_TERM_TENSION && j < LOCATE_TERM_WRENCH ? j - LOCATE_TERM_TENSION : -1;
}

/* Names the best, as far as no rival comes near it. A wrench can stand in for any tension, so it is no rival to one. */
static void blame(const struct hypotheses *h, int best, double share, struct locate_finding *finding)
{
    finding->source = locate_model_source(best);
    finding->cord = cord_of(best);
    for (int j = 0; j < LOCATE_TERMS; j++) {
        if (j == best || !rivals(h, j, best, share))
            continue;
        if (locate_model_source(j) != locate_model_source(best))
            finding->source = LOCATE_SOURCES;
        if (j != LOCATE_TERM_WRENCH || locate_model_source(best) != LOCATE_TENSION)
            finding->cord = -1;
    }
    if (finding->source == LOCATE_SOURCES)
        finding->cord = -1;
}

struct locate_finding locate_watch_sudden(const struct locate_fix *fix)
{
    int degrees = fix->model.rows - 3;
    struct locate_finding finding = {.source = LOCATE_SOURCES, .cord = -1};
    if (degrees < 1)
        return finding;
    struct locate_watch now = {.score = {0}};
    for (int j = 0; j < LOCATE_TERMS; j++) {
        if (!in(fix->there, j))
            continue;
        now.score[j] = fix->term[j].score;
        now.info[j] = left_of_itself(fix, j);
    }
    finding.value = sqrt(fix->model.cost);
    finding.limit = sqrt(chi_square_limit[degrees < DEGREES_MAX ? degrees : DEGREES_MAX]) + bias_length(fix);
    finding.found = !(finding.value <= finding.limit);
    if (finding.found) {
        struct hypotheses h;
        if (in(fix->there, LOCATE_TERM_POSE))
            add_left(fix, LOCATE_TERM_POSE, &now.pose);
        if (in(fix->there, LOCATE_TERM_WRENCH))
            add_left(fix, LOCATE_TERM_WRENCH, &now.wrench);
        weigh(&now, &h);
        blame(&h, best_of(&h), CLEAR_SHARE, &finding);
    }
    return finding;
}

/* The lesser of two bounds: term by term, and by Cauchy and Schwarz. */
static double allowed_score(const struct locate_fix *fix, int j, double x, double all)
{
    double sum = 0, most = sqrt(x) * all;
    for (int k = 0; k < LOCATE_TERMS && !(sum >= most); k++)
        if (in(fix->there, k) && fix->term[k].bias > 0)
            sum += fabs(left(fix, j, k)) * fix->term[k].bias;
    return lesser(sum, most);
}

static void forget(struct locate_watch *watch, double share)
{
    for (int j = 0; j < LOCATE_TERMS; j++) {
        watch->score[j] *= share;
        watch->info[j] *= share;
        watch->allowed[j] *= share;
        watch->variance[j] *= share * share;
    }
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 3; k++) {
            watch->pose.m[i][k] *= share;
            watch->wrench.m[i][k] *= share;
        }
}

void locate_watch_add(const struct locate_config *cfg, const struct locate_fix *fix, double elapsed_s,
                      struct locate_watch *watch)
{
    const double all = bias_length(fix), alike = lesser(greater(DRIFTS_S / greater(elapsed_s, 1e-6), 1), ALIKE_MAX);
    forget(watch, exp(-elapsed_s / cfg->memory_s));
    for (int j = 0; j < LOCATE_TERMS; j++) {
        double x = in(fix->there, j) ? left_of_itself(fix, j) : 0;
        if (!(x > 0))
            continue;
        watch->score[j] += fix->term[j].score;
        watch->info[j] += x;
        /* The weight counts bias as noise too, so this is no less than it is. Drift stays alike from one to the next.
         */
        double drift = x * fix->term[j].drift * fix->term[j].drift;
        watch->variance[j] += x * (1 + drift * alike);
        watch->allowed[j] += allowed_score(fix, j, x, all);
    }
    if (in(fix->there, LOCATE_TERM_POSE))
        add_left(fix, LOCATE_TERM_POSE, &watch->pose);
    if (in(fix->there, LOCATE_TERM_WRENCH))
        add_left(fix, LOCATE_TERM_WRENCH, &watch->wrench);
}

/* The largest effect on the position among the hypotheses that cannot be told from the best. */
static double shift(const struct locate_watch *watch, const struct hypotheses *h, int best,
                    const struct locate_filter *filter)
{
    double most = 0;
    for (int j = 0; j < LOCATE_TERMS; j++) {
        if (!rivals(h, j, best, CLEAR_SHARE))
            continue;
        const struct locate_column *c = &filter->column[j];
        double by = 0;
        if (is_vector(j)) {
            struct vec3 off = j == LOCATE_TERM_POSE ? h->pose : h->wrench;
            by = fabs(off.x) * vec_norm(c[0].p) + fabs(off.y) * vec_norm(c[1].p) + fabs(off.z) * vec_norm(c[2].p);
        } else {
            by = fabs(watch->score[j] / watch->info[j]) * vec_norm(c->p);
        }
        most = greater(most, by);
    }
    return most;
}

/* The term whose score stands out most; -1 if there is none. In units of the limit. */
static int standing_out(const struct locate_watch *watch, double *ratio)
{
    int most = -1;
    *ratio = 0;
    for (int j = 0; j < LOCATE_TERMS; j++) {
        double limit = LASTING_SIGMAS * sqrt(watch->variance[j]) + watch->allowed[j];
        if (limit > 0 && fabs(watch->score[j]) > *ratio * limit) {
            *ratio = fabs(watch->score[j]) / limit;
            most = j;
        }
    }
    return most;
}

struct locate_finding locate_watch_lasting(const struct locate_watch *watch, const struct locate_filter *filter)
{
    struct locate_finding finding = {.source = LOCATE_SOURCES, .cord = -1};
    double ratio;
    int most = standing_out(watch, &ratio);
    if (most < 0)
        return finding;
    finding.found = ratio > 1;
    if (finding.found) {
        struct hypotheses h;
        weigh(watch, &h);
        int best = best_of(&h);
        blame(&h, best, ratio > CLEAR_EXCESS ? CLEAR_SHARE : 0, &finding);
        finding.shift_m = shift(watch, &h, best, filter);
        most = is_vector(best) ? most : best;
    }
    finding.value = fabs(watch->score[most]) / watch->info[most];
    finding.limit = (LASTING_SIGMAS * sqrt(watch->variance[most]) + watch->allowed[most]) / watch->info[most];
    return finding;
}

/* What acceleration and biases may put between a fix and the prediction: a lasting bias that moves both alike puts
 * nothing, but the wrench may have turned about. */
static double excused(const struct locate_config *cfg, const struct locate_fix *fix,
                      const struct locate_filter *predicted)
{
    double sum = locate_filter_manoeuvre(cfg, predicted);
    for (int j = 0; j < LOCATE_TERMS; j++) {
        bool now = in(fix->there, j), turns = j >= LOCATE_TERM_WRENCH && j < LOCATE_TERM_RANGE;
        if (!now && !in(predicted->terms, j))
            continue;
        struct vec3 alone = now ? fix->term[j].moves : (struct vec3){0, 0, 0};
        struct vec3 before = predicted->column[j].p;
        double apart = turns ? vec_norm(alone) + vec_norm(before) : vec_norm(vec_sub(alone, before));
        sum += greater(now ? fix->term[j].bias : 0, predicted->bias[j]) * apart;
    }
    return sum;
}

/* Covariance of the fix by chance alone. */
static struct mat3 fix_noise(const struct locate_fix *fix)
{
    struct mat3 sum = mat3_diagonal(0);
    for (int j = 0; j < LOCATE_TERMS; j++) {
        if (!in(fix->there, j))
            continue;
        struct vec3 c = fix->term[j].moves;
        const struct locate_term *t = &fix->term[j];
        mat3_add_outer(&sum, c, c, t->sigma * t->sigma + t->drift * t->drift);
    }
    return sum;
}

static void full_jump(const struct locate_config *cfg, const struct locate_fix *fix,
                      const struct locate_filter *predicted, struct locate_finding *finding)
{
    struct mat3 noise = fix_noise(fix), before = mat6_block(&predicted->noise, 0, 0), inverse;
    struct vec3 away = vec_sub(fix->position, predicted->position);
    mat3_add(&noise, &before, 1);
    if (!mat3_invert(&noise, &inverse))
        inverse = mat3_diagonal(1 / greater(mat3_largest_eigenvalue(&noise), LOCATE_SIGMA_MIN * LOCATE_SIGMA_MIN));
    double sigmas = sqrt(greater(mat3_form(&inverse, away, away), 0));
    double excuse = excused(cfg, fix, predicted);
    finding->value = vec_norm(away);
    finding->limit = finding->value > 0 ? sqrt(JUMP_CHI) * finding->value / greater(sigmas, 1e-9) + excuse : excuse;
}

/* How far one scalar reading, whose model is linearised at the prediction, is from it. */
static struct locate_finding scalar_jump(const struct locate_fix *fix, int j, const struct locate_filter *predicted,
                                         double reach)
{
    const struct locate_term *t = &fix->term[j];
    struct vec3 jacobian = vec_scale(t->pull, 1 / t->weight);
    struct mat3 before = mat6_block(&predicted->noise, 0, 0);
    double variance = mat3_form(&before, jacobian, jacobian) + t->sigma * t->sigma;
    return (struct locate_finding){
        .value = fabs(t->score / t->weight),
        .limit = sqrt(chi_square_limit[1] * variance) + reach + t->bias,
        .source = locate_model_source(j),
        .cord = cord_of(j),
    };
}

/* The reading that exceeds its limit most, or comes nearest to it. */
static void partial_jump(const struct locate_config *cfg, const struct locate_fix *fix,
                         const struct locate_filter *predicted, struct locate_finding *worst)
{
    struct locate_error error = locate_filter_position_error(cfg, predicted);
    for (int j = 0; j < LOCATE_TERMS; j++) {
        if (!in(fix->there, j) || !(fix->term[j].weight > 0))
            continue;
        struct locate_finding one = scalar_jump(fix, j, predicted, error.bias + error.manoeuvre);
        if (one.value - one.limit > worst->value - worst->limit || worst->limit == 0)
            *worst = one;
    }
}

struct locate_finding locate_watch_jump(const struct locate_config *cfg, const struct locate_fix *fix,
                                        const struct locate_filter *predicted, double gate_m)
{
    struct locate_finding finding = {.source = LOCATE_SOURCES, .cord = -1};
    if (fix->full)
        full_jump(cfg, fix, predicted, &finding);
    else
        partial_jump(cfg, fix, predicted, &finding);
    finding.limit = lesser(finding.limit, gate_m);
    finding.found = !(finding.value <= finding.limit);
    finding.shift_m = finding.value;
    return finding;
}
