/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Anything may come in: what goes out is finite, in range, held where it is of no use, and the same every time. */
#include <criterion/criterion.h>
#include <string.h>

#include "locate_bench.h"

#define BIT(s) (1u << (s))

enum { STEPS = 100000 };

static double odd(uint64_t *state)
{
    static const double values[] = {NAN, INFINITY, -INFINITY, 0,   -0.0, 1e308, -1e308, 1e-308, 5e-324,
                                    -1,  1,        3.1,       1e6, -1e6, 1e7,   1e9,    1e-9,   2.0000001};
    return values[(int)(bench_uniform(state) * (double)(sizeof values / sizeof *values))];
}

/* Now and then something odd, else what is given. */
static double maybe(uint64_t *state, double sane, double chance)
{
    return bench_uniform(state) < chance ? odd(state) : sane;
}

/* Rooms as nobody builds them: anchors on one spot, in a line, in a plane, at the platform. */
static void odd_room(uint64_t *state, struct locate_config *cfg)
{
    struct bench_mix mix = {.cords = (int)(bench_uniform(state) * (VOLUME_MAX_CORDS + 1))};
    int kind = (int)(bench_uniform(state) * 5);
    *cfg = bench_config(&mix, bench_uniform(state) * 0.1);
    for (int i = 0; i < cfg->cords; i++) {
        struct vec3 *a = &cfg->anchor[i];
        if (kind == 0)
            *a = cfg->anchor[0];
        else if (kind == 1)
            *a = (struct vec3){i, 0, 3};
        else if (kind == 2)
            a->z = 3;
        else if (kind == 3)
            *a = vec_scale(*a, 1e5);
    }
    cfg->weight_n = bench_uniform(state) < 0.2 ? 0 : 23.5;
    cfg->body_n = cfg->weight_n / 2;
    cfg->outliers = (int)(bench_uniform(state) * 3);
    if (bench_uniform(state) < 0.3)
        cfg->anchor_bias_m = cfg->pose_bias_m = cfg->length_bias_m = cfg->range_bias_m = 0;
}

static void odd_report(uint64_t *state, const struct locate_config *cfg, struct vec3 p, double chance,
                       struct locate_report *r)
{
    r->seq += bench_uniform(state) < 0.95;
    r->sources = (unsigned)(bench_uniform(state) * 40); /* beyond the known ones too */
    for (int s = 0; s < LOCATE_SOURCES; s++) {
        r->quality[s].sigma = maybe(state, 0.003, chance);
        r->quality[s].age_s = maybe(state, 0.01 * s, chance);
    }
    r->position = (struct vec3){maybe(state, p.x, chance), maybe(state, p.y, chance), maybe(state, p.z, chance)};
    for (int i = 0; i < VOLUME_MAX_CORDS; i++) {
        double length = i < cfg->cords ? vec_norm(vec_sub(cfg->anchor[i], p)) : 0;
        r->length_m[i] = maybe(state, length + bench_normal(state, 0.003), chance);
        r->tension_n[i] = maybe(state, 9 + bench_normal(state, 3), chance);
    }
    r->tension_share = maybe(state, 0.01, chance);
    r->range_m = maybe(state, p.z, chance);
    r->tilt_x_rad = maybe(state, 0.01, chance);
    r->tilt_y_rad = maybe(state, -0.01, chance);
}

static bool error_sane(double v)
{
    return isfinite(v) && v >= 0;
}

static void expect_sane(const struct locate_config *cfg, const struct locate_output *out, int k)
{
    cr_assert(vec_finite(out->position) && vec_finite(out->velocity), "%d", k);
    cr_assert_leq(vec_norm(out->position), SHAPE_FAR_M);
    cr_assert(error_sane(out->error.noise) && error_sane(out->error.bias) && error_sane(out->error.manoeuvre), "%d", k);
    cr_assert(error_sane(out->doubt_m) && error_sane(out->velocity_error_mps), "%d", k);
    cr_assert(error_sane(out->uncertainty_m) && out->uncertainty_m <= SHAPE_FAR_M, "%d", k);
    cr_assert(out->known || out->uncertainty_m == SHAPE_FAR_M);
    cr_assert(out->known || out->hold);
    cr_assert_eq(out->hold, out->faults != 0);
    cr_assert_eq(out->faults & ~((1u << LOCATE_FAULTS) - 2), 0);
    cr_assert_eq(out->fault == LOCATE_SOUND, out->faults == 0);
    cr_assert(out->faults == 0 || out->faults & 1u << out->fault);
    cr_assert(out->uncertainty_m <= cfg->uncertainty_max_m || out->hold);
    for (int f = 0; f < LOCATE_FAULTS; f++) {
        const struct locate_detail *d = &out->detail[f];
        cr_assert(isfinite(d->value) && isfinite(d->limit), "%d %s", k, locate_fault_code((enum locate_fault)f));
        cr_assert((unsigned)d->source <= LOCATE_SOURCES && d->cord >= -1 && d->cord < cfg->cords);
    }
    for (int i = 0; i < 6; i++)
        for (int j = 0; j < 6; j++)
            cr_assert(isfinite(out->covariance.m[i][j]), "%d", k);
}

static uint64_t mix_in(uint64_t hash, const void *bytes, size_t n)
{
    const unsigned char *b = bytes;
    for (size_t i = 0; i < n; i++)
        hash = (hash ^ b[i]) * 0x100000001b3u; /* FNV-1a */
    return hash;
}

/* Everything that goes out, bit for bit. */
static uint64_t fingerprint(uint64_t hash, const struct locate_output *out)
{
    const double all[] = {out->position.x, out->position.y,    out->position.z, out->velocity.x,        out->velocity.y,
                          out->velocity.z, out->uncertainty_m, out->doubt_m,    out->velocity_error_mps};
    hash = mix_in(hash, all, sizeof all);
    return mix_in(hash, &out->faults, sizeof out->faults);
}

static uint64_t run(uint64_t seed, int steps, double chance, int *known)
{
    uint64_t state = seed, hash = 0xcbf29ce484222325u, now = 1000000000;
    struct locate_config cfg;
    struct locate locate;
    struct locate_output out;
    struct locate_report r = {.seq = 1};
    struct vec3 p = {4, 3, 1.5};
    odd_room(&state, &cfg);
    cr_assert(locate_config_valid(&cfg));
    locate_init(&locate);
    for (int k = 0; k < steps; k++) {
        double dice = bench_uniform(&state);
        now += dice < 0.98 ? 10000000 : dice < 0.99 ? 0 : (uint64_t)(dice * 1e10);
        p.x += 0.001 * (bench_uniform(&state) - 0.5);
        odd_report(&state, &cfg, p, chance, &r);
        r.received_ns = dice < 0.01 ? (uint64_t)(bench_uniform(&state) * 1.8e19) : now;
        struct vec3 commanded = {maybe(&state, 0.1, chance), 0, 0};
        locate_step(&cfg, &locate, now, bench_uniform(&state) < 0.9 ? &r : NULL, commanded, &out);
        expect_sane(&cfg, &out, k);
        hash = fingerprint(hash, &out);
        *known += out.known;
    }
    return hash;
}

Test(locate_hostile, whatever_comes_in_what_goes_out_is_sane)
{
    int known = 0;
    for (uint64_t seed = 1; seed <= 200; seed++)
        run(seed, STEPS / 200, seed % 4 ? 0.02 : 0.3, &known);
    cr_assert_gt(known, STEPS / 10); /* it was not idle all the time */
}

Test(locate_hostile, the_same_input_gives_the_same_output_bit_for_bit)
{
    for (uint64_t seed = 1; seed <= 10; seed++) {
        int known = 0;
        uint64_t once = run(seed, 500, 0.02, &known), again = run(seed, 500, 0.02, &known),
                 other = run(seed + 99, 500, 0.02, &known);
        cr_assert_eq(once, again);
        cr_assert_neq(once, other);
    }
}

/* Sensors that claim to be perfect: still finite, and the truth. */
Test(locate_hostile, no_noise_at_all)
{
    struct bench_mix mix = {.cords = 4};
    struct locate_config cfg = bench_config(&mix, 0);
    cfg.anchor_bias_m = cfg.pose_bias_m = cfg.length_bias_m = cfg.range_bias_m = 0;
    struct locate locate;
    struct locate_output out;
    struct vec3 p = {4, 3, 1.5};
    locate_init(&locate);
    for (int k = 0; k < 300; k++) {
        struct locate_report r = {.received_ns = 1000000000 + (uint64_t)k * 10000000, .seq = (uint64_t)k + 1};
        r.sources = BIT(LOCATE_LENGTH) | BIT(LOCATE_POSE);
        r.position = p;
        for (int i = 0; i < 4; i++)
            r.length_m[i] = vec_norm(vec_sub(cfg.anchor[i], p));
        locate_step(&cfg, &locate, r.received_ns, &r, (struct vec3){0, 0, 0}, &out);
        expect_sane(&cfg, &out, k);
        cr_assert_not(out.hold, "%d: %s", k, locate_fault_code(out.fault));
    }
    cr_assert_leq(vec_norm(vec_sub(out.position, p)), 1e-7);
}

/* Two cords on one anchor are one: three lengths fix the place, two do not, and neither divides by nothing. */
Test(locate_hostile, anchors_that_coincide)
{
    for (int apart = 1; apart <= 3; apart++) {
        struct bench_mix mix = {.cords = 4};
        struct locate_config cfg = bench_config(&mix, 0);
        struct locate locate;
        struct locate_output out;
        struct vec3 p = {4, 3, 1.5};
        for (int i = apart; i < 4; i++)
            cfg.anchor[i] = cfg.anchor[0];
        locate_init(&locate);
        for (int k = 0; k < 50; k++) {
            struct locate_report r = {.received_ns = 1000000000 + (uint64_t)k * 10000000, .seq = (uint64_t)k + 1};
            r.sources = BIT(LOCATE_LENGTH);
            r.quality[LOCATE_LENGTH].sigma = 0.003;
            for (int i = 0; i < 4; i++)
                r.length_m[i] = vec_norm(vec_sub(cfg.anchor[i], p));
            locate_step(&cfg, &locate, r.received_ns, &r, (struct vec3){0, 0, 0}, &out);
            expect_sane(&cfg, &out, k);
        }
        cr_assert_eq(out.known, apart == 3);
        cr_assert_eq(out.hold, apart < 3);
        cr_assert(apart < 3 || vec_norm(vec_sub(out.position, p)) < 1e-6);
        cr_assert(apart == 3 || out.faults & 1u << LOCATE_NOT_ENOUGH);
    }
}
