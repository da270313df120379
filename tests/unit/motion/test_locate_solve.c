/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The fix of one report against the published and computed cases of tests/reference/locate.json. */
#include <criterion/criterion.h>
#include <jansson.h>

#include "locate_bench.h"

#define BIT(s) (1u << (s))

static double num(const json_t *o, const char *key)
{
    const json_t *v = json_object_get(o, key);
    cr_assert(json_is_number(v), "%s", key);
    return json_number_value(v);
}

static int numbers(const json_t *a, double out[VOLUME_MAX_CORDS], double unit)
{
    cr_assert(json_is_array(a));
    for (size_t i = 0; i < json_array_size(a); i++)
        out[i] = json_number_value(json_array_get(a, i)) * unit;
    return (int)json_array_size(a);
}

static struct vec3 point(const json_t *a, double unit)
{
    double v[VOLUME_MAX_CORDS];
    cr_assert_eq(numbers(a, v, unit), 3);
    return (struct vec3){v[0], v[1], v[2]};
}

static struct locate_config config_of(const json_t *in, double unit)
{
    struct locate_config cfg = {
        .accel_mps2 = 1e-6,
        .speed_mps = 1,
        .age_max_s = 1,
        .coast_s = 1,
        .memory_s = 1,
        .frozen_s = 1,
        .frozen_m = 1,
        .again_s = 1,
        .uncertainty_max_m = 1,
    };
    const json_t *anchors = json_object_get(in, "anchors"), *mass = json_object_get(in, "mass");
    cfg.cords = (int)json_array_size(anchors);
    for (int i = 0; i < cfg.cords; i++)
        cfg.anchor[i] = point(json_array_get(anchors, (size_t)i), unit);
    if (mass)
        cfg.weight_n = json_number_value(mass) * num(in, "g");
    cr_assert(locate_config_valid(&cfg));
    return cfg;
}

static struct locate_fix cold(const struct locate_config *cfg, const struct locate_report *r)
{
    struct locate_reading reading;
    struct locate_fix fix;
    locate_reading_take(cfg, r, (struct locate_velocity){0, 0}, &reading);
    cr_assert_eq(reading.refused, 0);
    locate_solve_cold(cfg, &reading, &fix);
    return fix;
}

static struct locate_fix by_lengths(const struct locate_config *cfg, const json_t *lengths, double unit)
{
    struct locate_report r = {.sources = BIT(LOCATE_LENGTH), .quality = {[LOCATE_LENGTH] = {0.003, 0}}};
    cr_assert_geq(numbers(lengths, r.length_m, unit), cfg->cords);
    return cold(cfg, &r);
}

static struct locate_fix by_tensions(const struct locate_config *cfg, const json_t *tensions)
{
    struct locate_report r = {.sources = BIT(LOCATE_TENSION), .quality = {[LOCATE_TENSION] = {0.01, 0}}};
    cr_assert_geq(numbers(tensions, r.tension_n, 1), cfg->cords);
    return cold(cfg, &r);
}

static void expect_near(struct vec3 a, struct vec3 b, double tolerance, const char *what)
{
    cr_assert_leq(vec_norm(vec_sub(a, b)), tolerance, "%s: %.12g %.12g %.12g, not %.12g %.12g %.12g", what, a.x, a.y,
                  a.z, b.x, b.y, b.z);
}

static int each(const char *prefix, void (*check)(const json_t *in, const json_t *expect, const char *id))
{
    json_t *doc = json_load_file(REFERENCE "/locate.json", 0, NULL), *c;
    size_t i;
    int found = 0;
    cr_assert(doc);
    json_array_foreach(json_object_get(doc, "cases"), i, c)
    {
        const char *id = json_string_value(json_object_get(c, "id"));
        if (strncmp(id, prefix, strlen(prefix)) != 0)
            continue;
        check(json_object_get(c, "input"), json_object_get(c, "expect"), id);
        found++;
    }
    json_decref(doc);
    return found;
}

static void check_lengths(const json_t *in, const json_t *expect, const char *id)
{
    struct locate_config cfg = config_of(in, 1);
    struct locate_fix fix = by_lengths(&cfg, json_object_get(in, "lengths"), 1);
    cr_assert(fix.full);
    expect_near(fix.position, point(json_object_get(expect, "position"), 1), 1e-8, id);
    fix = by_lengths(&cfg, json_object_get(in, "lengths_with_error"), 1);
    cr_assert(fix.full);
    expect_near(fix.position, point(json_object_get(expect, "least_squares"), 1), 1e-7, id);
    cr_assert_float_eq(sqrt(fix.model.cost) * 0.003, num(expect, "residual_norm"), 1e-9, "%s", id);
    /* The linear solution is centimetres off: this is not it. */
    struct vec3 linear = point(json_object_get(expect, "linear_with_error"), 1);
    cr_assert_gt(vec_norm(vec_sub(fix.position, linear)), 0.01, "%s", id);
    cfg.cords = 3;
    fix = by_lengths(&cfg, json_object_get(in, "lengths"), 1);
    cr_assert(fix.full);
    expect_near(fix.position, point(json_object_get(expect, "three_lower"), 1), 1e-8, id);
}

/* Trilateration: exact lengths to 1e-8 m, least squares to 1e-7 m; of three lengths' two roots the lower. */
Test(locate_solve, lengths)
{
    cr_assert_eq(each("cord4-fk-p", check_lengths), 4);
}

static void check_level(const json_t *in, const json_t *expect, const char *id)
{
    struct locate_config cfg = config_of(in, 1e-3);
    struct locate_fix fix = by_lengths(&cfg, json_object_get(in, "lengths"), 1e-3);
    cr_assert(fix.full);
    expect_near(fix.position, point(json_object_get(expect, "position"), 1e-3), 1e-5, id);
    expect_near(fix.position, point(json_object_get(expect, "least_squares"), 1e-3), 1e-8, id);
}

/* Published test of a 4-cable suspended robot's kinematics (Garrido, Silva-Muniz, Rivera-Andrade, Riveiro; 2024):
 * anchors at one height, so the differenced system is singular; below them is right. */
Test(locate_solve, level_anchors)
{
    cr_assert_eq(each("cord4-coplanar", check_level), 1);
}

static void expect_sensitivity(const struct locate_config *cfg, const struct locate_fix *fix, const json_t *rows,
                               const char *id)
{
    for (int i = 0; i < cfg->cords; i++) {
        struct vec3 got = mat3_apply(&fix->spread, fix->term[LOCATE_TERM_TENSION + i].pull);
        const double of[3] = {got.x, got.y, got.z};
        for (size_t k = 0; k < 3; k++) {
            double want = json_number_value(json_array_get(json_array_get(rows, k), (size_t)i));
            cr_assert_float_eq(of[k], want, 1e-6, "%s cord %d", id, i);
        }
    }
}

static void check_tensions(const json_t *in, const json_t *expect, const char *id)
{
    struct locate_config cfg = config_of(in, 1);
    struct locate_fix fix = by_tensions(&cfg, json_object_get(in, "tensions"));
    cr_assert(fix.full);
    expect_near(fix.position, point(json_object_get(expect, "position"), 1), 1e-7, id);
    expect_sensitivity(&cfg, &fix, json_object_get(expect, "sensitivity"), id);
    fix = by_tensions(&cfg, json_object_get(in, "tensions_with_error"));
    cr_assert(fix.full);
    expect_near(fix.position, point(json_object_get(expect, "position_with_error"), 1), 1e-5, id);
}

/* The minimiser of sum t_i |p - A_i| + m g z; its sensitivity H^-1 u_i. */
Test(locate_solve, tensions)
{
    cr_assert_eq(each("cord4-tension-p", check_tensions), 4);
}

static void check_three(const json_t *in, const json_t *expect, const char *id)
{
    struct locate_config cfg = config_of(in, 1);
    struct locate_fix fix = by_tensions(&cfg, json_object_get(expect, "tensions"));
    cr_assert(fix.full);
    expect_near(fix.position, point(json_object_get(in, "position"), 1), 1e-7, id);
    expect_near(fix.position, point(json_object_get(expect, "position_back"), 1), 1e-7, id);
    expect_sensitivity(&cfg, &fix, json_object_get(expect, "sensitivity"), id);
}

Test(locate_solve, three_tensions)
{
    cr_assert_eq(each("cord3-tension", check_three), 1);
}

/* The cases' tensions are wrong by 1 to 3 % and move the position by 18 to 250 mm: an uncertainty that knows of 3 %
 * must cover that, and one that knows of none cannot. */
static void check_rough(const json_t *in, const json_t *expect, const char *id)
{
    struct locate_config cfg = config_of(in, 1);
    struct locate_report r = {.sources = BIT(LOCATE_TENSION), .quality = {[LOCATE_TENSION] = {0.01, 0}}};
    struct locate locate;
    struct locate_output out;
    cfg.tension_bias_share = 0.031;
    numbers(json_object_get(in, "tensions_with_error"), r.tension_n, 1);
    locate_init(&locate);
    locate_step(&cfg, &locate, 0, &r, (struct vec3){0, 0, 0}, &out);
    double off = vec_norm(vec_sub(out.position, point(json_object_get(expect, "position"), 1)));
    cr_assert(out.known);
    cr_assert_geq(off, 0.018, "%s", id);
    cr_assert_geq(out.error.bias, off, "%s: %g", id, off);
    cr_assert_leq(out.uncertainty_m, 1, "%s", id);
}

Test(locate_solve, the_roughness_of_tensions_shows)
{
    cr_assert_eq(each("cord4-tension-p", check_rough), 4);
}

/* From anywhere below the anchors, with 3 to 8 cords, level or not: exact lengths lead back. */
Test(locate_solve, a_cold_start_finds_the_place_from_lengths_alone)
{
    uint64_t state = 3;
    struct locate_config cfg = {.accel_mps2 = 1e-6, .age_max_s = 1};
    for (int n = 0; n < 6000; n++) {
        struct locate_report r = {.sources = BIT(LOCATE_LENGTH), .quality = {[LOCATE_LENGTH] = {0.003, 0}}};
        double x = 1.5 + 5 * bench_uniform(&state), y = 1.2 + 3.6 * bench_uniform(&state);
        struct vec3 p = {x, y, 0.3 + 1.9 * bench_uniform(&state)};
        cfg.cords = 3 + n % 6;
        for (int i = 0; i < cfg.cords; i++) {
            double a = 2 * 3.14159265 * (i + 0.6 * (bench_uniform(&state) - 0.5)) / cfg.cords;
            cfg.anchor[i] = (struct vec3){4 + 4 * cos(a), 3 + 3 * sin(a), 3.1};
            cfg.anchor[i].z += n % 2 ? 0.8 * (bench_uniform(&state) - 0.5) : 0;
            r.length_m[i] = vec_norm(vec_sub(cfg.anchor[i], p));
        }
        struct locate_fix fix = cold(&cfg, &r);
        cr_assert(fix.full, "%d", n);
        cr_assert_leq(vec_norm(vec_sub(fix.position, p)), 1e-7, "%d", n);
    }
}

/* Tensions of least norm that hold a weight at p: U^T (U U^T)^-1 w. False where one of them would have to push. */
static bool least_tensions(const struct locate_config *cfg, struct vec3 p, double tension[])
{
    struct vec3 u[VOLUME_MAX_CORDS];
    struct mat3 gram = mat3_diagonal(0), inverse;
    bool pull = true;
    for (int i = 0; i < cfg->cords; i++) {
        struct vec3 to = vec_sub(cfg->anchor[i], p);
        u[i] = vec_scale(to, 1 / vec_norm(to));
        mat3_add_outer(&gram, u[i], u[i], 1);
    }
    if (!mat3_invert(&gram, &inverse))
        return false;
    struct vec3 k = mat3_apply(&inverse, (struct vec3){0, 0, cfg->weight_n});
    for (int i = 0; i < cfg->cords; i++) {
        tension[i] = vec_dot(u[i], k);
        pull = pull && tension[i] > 0.05;
    }
    return pull;
}

/* From just below the anchors to 20 m down, out to where one cord carries nearly all: balanced tensions lead back, past
 * the anchors, at which the function has the point of a cone. */
Test(locate_solve, tensions_lead_back_from_anywhere_they_hold)
{
    uint64_t state = 4;
    int tried = 0;
    struct locate_config cfg = {.accel_mps2 = 1e-6, .age_max_s = 1, .weight_n = 20};
    for (int n = 0; n < 40000; n++) {
        struct locate_report r = {.sources = BIT(LOCATE_TENSION), .quality = {[LOCATE_TENSION] = {0.01, 0}}};
        struct locate_reading reading;
        struct vec3 found = {0, 0, 0};
        cfg.cords = 3 + n % 6;
        for (int i = 0; i < cfg.cords; i++) {
            double a = 2 * 3.14159265 * (i + 0.5 * (bench_uniform(&state) - 0.5)) / cfg.cords;
            cfg.anchor[i] = (struct vec3){4 + 4 * cos(a), 3 + 3 * sin(a), 3 + bench_uniform(&state)};
        }
        double x = 0.3 + 7.4 * bench_uniform(&state), y = 0.3 + 5.4 * bench_uniform(&state);
        struct vec3 p = {x, y, 2.4 - (n % 2 ? 20 * bench_uniform(&state) : 0)};
        if (!least_tensions(&cfg, p, r.tension_n))
            continue;
        locate_reading_take(&cfg, &r, (struct locate_velocity){0, 0}, &reading);
        cr_assert(locate_solve_tensions(&cfg, &reading, &found), "%d", n);
        cr_assert_leq(vec_norm(vec_sub(found, p)), 1e-6, "%d", n);
        tried++;
    }
    cr_assert_geq(tried, 10000);
}

/* From a guess anywhere in the room: lengths, tensions or both. Undamped steps would lose about one in 60 000. */
Test(locate_solve, a_bad_guess_leads_back_too)
{
    uint64_t state = 4;
    struct bench_mix mix = {.cords = 4};
    const struct locate_config cfg = bench_config(&mix, 0.01);
    static const unsigned sources[] = {BIT(LOCATE_LENGTH), BIT(LOCATE_LENGTH) | BIT(LOCATE_TENSION),
                                       BIT(LOCATE_TENSION)};
    for (int n = 0; n < 60000; n++) {
        struct locate_report r = {.sources = sources[n % 3], .quality = {[LOCATE_LENGTH] = {0.003, 0}}};
        struct locate_reading reading;
        struct locate_fix fix;
        r.quality[LOCATE_TENSION].sigma = 0.05;
        double x = 2 + 4 * bench_uniform(&state), y = 1.5 + 3 * bench_uniform(&state);
        struct vec3 p = {x, y, 0.5 + 1.5 * bench_uniform(&state)};
        x = 8 * bench_uniform(&state), y = 6 * bench_uniform(&state);
        struct vec3 guess = {x, y, 2.6 * bench_uniform(&state)};
        for (int i = 0; i < 4; i++)
            r.length_m[i] = vec_norm(vec_sub(cfg.anchor[i], p)) + bench_normal(&state, 0.003);
        least_tensions(&cfg, p, r.tension_n);
        locate_reading_take(&cfg, &r, (struct locate_velocity){0, 0}, &reading);
        locate_solve_near(&cfg, &reading, guess, (struct vec3){0, 0, 0}, &fix);
        cr_assert(fix.full, "%d", n);
        cr_assert_leq(vec_norm(vec_sub(fix.position, p)), 0.1, "%d", n);
    }
}

/* Two lengths and a range fix a place; two lengths, or a range alone, do not. */
Test(locate_solve, what_is_not_enough_is_said)
{
    struct locate_config cfg = {.cords = 2, .anchor = {{0, 0, 3}, {4, 0, 3}}, .accel_mps2 = 1e-6, .age_max_s = 1};
    struct vec3 p = {1.5, 2, 1};
    struct locate_report r = {
        .sources = BIT(LOCATE_LENGTH),
        .quality = {[LOCATE_LENGTH] = {0.003, 0}, [LOCATE_RANGE] = {0.003, 0}},
        .length_m = {vec_norm(vec_sub(cfg.anchor[0], p)), vec_norm(vec_sub(cfg.anchor[1], p))},
        .range_m = 1,
    };
    cr_assert_not(cold(&cfg, &r).full);
    r.sources = BIT(LOCATE_RANGE);
    cr_assert_not(cold(&cfg, &r).full);
    r.sources = 0;
    cr_assert_not(cold(&cfg, &r).full);
}
