/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "locate_bench.h"

#include <stddef.h>

#define GRAVITY 9.80665
#define PRE_N   9.0 /* pretension that the statics start from */
#define BIT(s)  (1u << (s))

static uint64_t bits(uint64_t *state)
{
    uint64_t z = *state += 0x9e3779b97f4a7c15u; /* SplitMix64 (Steele, Lea, Flood 2014) */
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9u;
    z = (z ^ z >> 27) * 0x94d049bb133111ebu;
    return z ^ z >> 31;
}

double bench_uniform(uint64_t *state)
{
    return (double)(bits(state) >> 11) * 0x1p-53;
}

double bench_normal(uint64_t *state, double sigma)
{
    double u = 1 - bench_uniform(state), v = bench_uniform(state); /* Box and Muller 1958 */
    return sigma * sqrt(-2 * log(u)) * cos(2 * 3.14159265358979323846 * v);
}

static struct vec3 normal_vector(uint64_t *state, double sigma)
{
    double x = bench_normal(state, sigma), y = bench_normal(state, sigma);
    return (struct vec3){x, y, bench_normal(state, sigma)};
}

static struct vec3 of_length(uint64_t *state, double length)
{
    struct vec3 v = normal_vector(state, 1);
    return vec_scale(v, length / vec_norm(v));
}

static double either(uint64_t *state, double bound)
{
    return bits(state) & 1 ? bound : -bound;
}

struct locate_config bench_config(const struct bench_mix *mix, double friction)
{
    static const double corner[8][3] = {{0.2, 0.2, 3.1}, {7.8, 0.2, 2.8},  {7.8, 5.8, 3.2}, {0.2, 5.8, 2.9},
                                        {4.0, 0.1, 3.4}, {7.9, 3.0, 3.05}, {4.1, 5.9, 2.7}, {0.1, 3.1, 3.3}};
    struct locate_config cfg = {
        .cords = mix->cords,
        .weight_n = 23.5,
        .body_n = 15.7,
        .boom_m = 0.35,
        .accel_mps2 = 0.5,
        .speed_mps = 0.5,
        .tilt_rad = 0.1,
        .anchor_bias_m = 0.001,
        .pose_bias_m = 0.002,
        .length_bias_m = 0.001,
        .tension_bias_share = friction,
        .range_bias_m = 0.002,
        .slack_n = 0.5,
        .age_max_s = 0.5,
        .coast_s = 0.5,
        .memory_s = 1,
        .frozen_s = 0.05,
        .frozen_m = 0.03,
        .again_s = 1,
        .uncertainty_max_m = 2,
    };
    for (int i = 0; i < mix->cords; i++) {
        int at = mix->cords == 3 && i == 2 ? 6 : i; /* three: two corners and the middle of the far wall */
        cfg.anchor[i] = (struct vec3){corner[at][0], corner[at][1], mix->level ? 3.1 : corner[at][2]};
    }
    return cfg;
}

static struct vec3 anywhere(uint64_t *state)
{
    double x = 2.2 + 3.6 * bench_uniform(state), y = 1.6 + 2.4 * bench_uniform(state);
    return (struct vec3){x, y, 0.9 + 1.1 * bench_uniform(state)};
}

void bench_start(struct bench *b, const struct bench_mix *mix, const struct locate_config *cfg, uint64_t seed)
{
    *b = (struct bench){.random = seed, .mix = mix, .cfg = *cfg, .now_ns = 1000000000};
    b->fault.at_s = 1e9;
    b->now.position = anywhere(&b->random);
    b->target = anywhere(&b->random);
    b->sway_phase = 6 * bench_uniform(&b->random);
    b->pose_bias = of_length(&b->random, cfg->pose_bias_m);
    b->range_bias = either(&b->random, cfg->range_bias_m);
    for (int i = 0; i < cfg->cords; i++) {
        b->anchor[i] = vec_add(cfg->anchor[i], of_length(&b->random, cfg->anchor_bias_m));
        b->length_bias[i] = either(&b->random, cfg->length_bias_m);
        b->tension_bias[i] = either(&b->random, cfg->tension_bias_share);
    }
    b->now.velocity = of_length(&b->random, 0.8 * cfg->speed_mps); /* it may be under way when first heard of */
    for (int i = 0; i < BENCH_PAST; i++) {
        b->past[i] = b->now;
        b->past[i].position = vec_along(b->now.position, b->now.velocity, (i > 0 ? i - BENCH_PAST : 0) * BENCH_DT_S);
    }
    locate_init(&b->locate);
}

/* As hard as it can towards where it is going, and then somewhere else, with a pause now and then. */
static struct vec3 acceleration(struct bench *b)
{
    struct vec3 to = vec_sub(b->target, b->now.position);
    double way = vec_norm(to), most = b->cfg.accel_mps2;
    if (b->pause_s > 0)
        b->pause_s -= BENCH_DT_S;
    else if (way < 0.05) {
        b->target = anywhere(&b->random);
        b->pause_s = bench_uniform(&b->random) < 0.5 ? 0 : bench_uniform(&b->random);
    }
    double speed = b->pause_s > 0 ? 0 : lesser(0.9 * b->cfg.speed_mps, sqrt(most * way));
    struct vec3 wanted = vec_scale(to, speed / greater(way, 1e-3));
    struct vec3 a = vec_scale(vec_sub(wanted, b->now.velocity), 1 / BENCH_DT_S);
    double size = vec_norm(a);
    return size > most ? vec_scale(a, most / size) : a;
}

static void move(struct bench *b)
{
    const double sway = 0.8 * b->cfg.tilt_rad / sqrt(2), t = (double)b->tick * BENCH_DT_S;
    b->now.accel = acceleration(b);
    b->now.position = vec_along(b->now.position, b->now.velocity, BENCH_DT_S);
    b->now.position = vec_along(b->now.position, b->now.accel, BENCH_DT_S * BENCH_DT_S / 2);
    b->now.velocity = vec_along(b->now.velocity, b->now.accel, BENCH_DT_S);
    b->now.tilt_x = sway * sin(5.3 * t + b->sway_phase);
    b->now.tilt_y = sway * sin(5.3 * t + 2 * b->sway_phase);
    b->tick++;
    b->now_ns += (uint64_t)(BENCH_DT_S * 1e9);
    b->past[b->tick % BENCH_PAST] = b->now;
}

/* Where the platform really was when a reading of that source was taken; moved if the fault moved it. */
static struct bench_truth back_then(const struct bench *b, enum locate_source s, bool faulty)
{
    uint64_t ago = (uint64_t)(b->mix->age_s[s] / BENCH_DT_S + 0.5);
    struct bench_truth then = b->past[(b->tick + BENCH_PAST - ago) % BENCH_PAST];
    if (faulty && b->fault.moved)
        then.position = vec_add(then.position, b->fault.pose_off_m);
    return then;
}

/* Tensions that hold the platform, as even as the place allows: t = PRE + U^T (U U^T)^-1 (w - U PRE). */
static void hold(const struct bench *b, const struct bench_truth *truth, double tension[])
{
    double mass = b->cfg.weight_n / GRAVITY, body = b->cfg.body_n;
    double c = cos(truth->tilt_x) * cos(truth->tilt_y);
    struct vec3 w = vec_add((struct vec3){-body * sin(truth->tilt_x) * c, -body * sin(truth->tilt_y) * c,
                                          b->cfg.weight_n - body + body * c * c},
                            vec_scale(truth->accel, mass));
    struct vec3 u[VOLUME_MAX_CORDS];
    struct mat3 gram = mat3_diagonal(0), inverse = mat3_diagonal(0);
    for (int i = 0; i < b->cfg.cords; i++) {
        struct vec3 to = vec_sub(b->anchor[i], truth->position);
        u[i] = vec_scale(to, 1 / vec_norm(to));
        mat3_add_outer(&gram, u[i], u[i], 1);
        w = vec_along(w, u[i], -PRE_N);
    }
    mat3_invert(&gram, &inverse);
    struct vec3 k = mat3_apply(&inverse, w);
    for (int i = 0; i < b->cfg.cords; i++)
        tension[i] = PRE_N + vec_dot(u[i], k);
}

static void sense_cords(struct bench *b, bool faulty, double since_s)
{
    struct bench_truth then = back_then(b, LOCATE_LENGTH, faulty), pulled = back_then(b, LOCATE_TENSION, faulty);
    double tension[VOLUME_MAX_CORDS];
    hold(b, &pulled, tension);
    for (int i = 0; i < b->cfg.cords; i++) {
        struct vec3 anchor = b->anchor[i];
        double length = b->length_bias[i] + bench_normal(&b->random, b->mix->sigma[LOCATE_LENGTH]);
        if (faulty && i == b->fault.cord) {
            length += b->fault.length_off_m + b->fault.length_drift_mps * since_s;
            anchor = vec_add(anchor, b->fault.anchor_off_m);
        }
        b->report.length_m[i] = length + vec_norm(vec_sub(anchor, then.position));
        double noise = bench_normal(&b->random, b->mix->sigma[LOCATE_TENSION]) +
                       bench_normal(&b->random, b->mix->tension_share * tension[i]);
        b->report.tension_n[i] = tension[i] * (1 + b->tension_bias[i]) + noise;
    }
}

static void sense(struct bench *b)
{
    double since_s = (double)b->tick * BENCH_DT_S - b->fault.at_s;
    bool faulty = since_s >= 0;
    struct locate_report before = b->report, *r = &b->report;
    struct bench_truth pose = back_then(b, LOCATE_POSE, faulty), range = back_then(b, LOCATE_RANGE, faulty);
    struct bench_truth tilt = back_then(b, LOCATE_TILT, false);
    r->received_ns = b->now_ns;
    r->seq++;
    r->sources = b->mix->sources;
    r->tension_share = b->mix->tension_share;
    for (int s = 0; s < LOCATE_SOURCES; s++)
        r->quality[s] = (struct locate_quality){b->mix->sigma[s], b->mix->age_s[s]};
    sense_cords(b, faulty, since_s);
    r->position = vec_add(vec_add(pose.position, b->pose_bias), normal_vector(&b->random, b->mix->sigma[LOCATE_POSE]));
    if (faulty && !b->fault.moved)
        r->position = vec_add(r->position, vec_along(b->fault.pose_off_m, b->fault.carried_mps, since_s));
    r->range_m = range.position.z / (cos(range.tilt_x) * cos(range.tilt_y)) - b->cfg.boom_m + b->range_bias +
                 bench_normal(&b->random, b->mix->sigma[LOCATE_RANGE]) + (faulty ? b->fault.range_off_m : 0);
    r->tilt_x_rad = tilt.tilt_x + bench_normal(&b->random, b->mix->sigma[LOCATE_TILT]);
    r->tilt_y_rad = tilt.tilt_y + bench_normal(&b->random, b->mix->sigma[LOCATE_TILT]);
    if (!faulty || !b->fault.frozen)
        return;
    if (b->fault.frozen_sources & BIT(LOCATE_POSE))
        r->position = before.position;
    if (b->fault.frozen_sources & BIT(LOCATE_RANGE))
        r->range_m = before.range_m;
    for (int i = 0; i < VOLUME_MAX_CORDS; i++) {
        if (b->fault.frozen_sources & BIT(LOCATE_LENGTH))
            r->length_m[i] = before.length_m[i];
        if (b->fault.frozen_sources & BIT(LOCATE_TENSION))
            r->tension_n[i] = before.tension_n[i];
    }
}

void bench_step(struct bench *b)
{
    move(b);
    if (b->tick % (uint64_t)b->mix->every == 0 && bench_uniform(&b->random) >= b->mix->loss) {
        sense(b);
        b->heard = true;
    }
    locate_step(&b->cfg, &b->locate, b->now_ns, b->heard ? &b->report : NULL, b->now.velocity, &b->out);
}

double bench_error(const struct bench *b)
{
    return vec_norm(vec_sub(b->out.position, b->now.position));
}

#define POSE    BIT(LOCATE_POSE)
#define LENGTH  BIT(LOCATE_LENGTH)
#define TENSION BIT(LOCATE_TENSION)
#define RANGE   BIT(LOCATE_RANGE)
#define TILT    BIT(LOCATE_TILT)
#define USUAL                                                                                                          \
    {                                                                                                                  \
        0.003, 0.003, 0.05, 0.005, 0.005                                                                               \
    }
#define FINE                                                                                                           \
    {                                                                                                                  \
        0.0002, 0.0002, 0.05, 0.005, 0.005                                                                             \
    }

const struct bench_mix bench_mixes[] = {
    {"pose", 4, POSE, USUAL, {0}, 0, 1, 0, true},
    {"pose, 20 a second, a fifth lost", 4, POSE, USUAL, {0.04}, 0, 5, 0.2, true},
    {"3 lengths", 3, LENGTH, USUAL, {0}, 0, 1, 0, false},
    {"4 lengths", 4, LENGTH, USUAL, {0}, 0, 1, 0, false},
    {"4 lengths, level anchors", 4, LENGTH, USUAL, {0}, 0, 1, 0, true},
    {"8 lengths", 8, LENGTH, USUAL, {0}, 0, 1, 0, false},
    {"4 lengths, range, tilt", 4, LENGTH | RANGE | TILT, USUAL, {0}, 0, 1, 0, true},
    {"4 lengths, range, no tilt", 4, LENGTH | RANGE, USUAL, {0}, 0, 1, 0, true},
    {"4 tensions", 4, TENSION, USUAL, {0}, 0.01, 1, 0, false},
    {"4 tensions, tilt", 4, TENSION | TILT, USUAL, {0}, 0.01, 1, 0, false},
    {"4 tensions, range, tilt", 4, TENSION | RANGE | TILT, USUAL, {0}, 0.02, 1, 0, false},
    {"8 tensions", 8, TENSION, USUAL, {0}, 0.03, 1, 0, false},
    {"pose, 4 lengths", 4, POSE | LENGTH, USUAL, {0}, 0, 1, 0, true},
    {"pose 60 ms older than 4 lengths", 4, POSE | LENGTH, USUAL, {0.08, 0.02}, 0, 1, 0, true},
    {"8 fine lengths, pose", 8, POSE | LENGTH, FINE, {0}, 0, 1, 0, false},
    {"fine pose 0.2 s older than 4 lengths", 4, POSE | LENGTH, FINE, {0.22, 0.02}, 0, 1, 0, false},
    {"pose, 4 tensions", 4, POSE | TENSION, USUAL, {0}, 0.02, 1, 0, true},
    {"4 lengths, 4 tensions", 4, LENGTH | TENSION, USUAL, {0}, 0.02, 1, 0, true},
    {"everything, 4 cords",
     4,
     POSE | LENGTH | TENSION | RANGE | TILT,
     USUAL,
     {0.05, 0.01, 0.02, 0.03, 0},
     0.02,
     1,
     0,
     false},
    {"everything, 8 cords",
     8,
     POSE | LENGTH | TENSION | RANGE | TILT,
     USUAL,
     {0.05, 0.01, 0.02, 0.03, 0},
     0.02,
     1,
     0,
     false},
};

const int bench_mix_count = (int)(sizeof bench_mixes / sizeof *bench_mixes);
