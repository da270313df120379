/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/swing_shaper.h"

#include "tests/unit/crowd/random.h"
#include "tests/unit/motion/pendulum.h"

static const char *const names[SWING_SHAPER_KINDS] = {"none", "ZV", "ZVD", "EI"};

static struct swing_shaper designed(enum swing_shaper_kind kind, struct swing_mode mode, double share)
{
    struct swing_shaper s;
    cr_assert(swing_shaper_design(kind, mode, share, &s), "%s %g %g", names[kind], mode.omega_radps, mode.damping);
    return s;
}

static void check_numbers(const json_t *expect, const double *got, int n, double tolerance, double scale)
{
    cr_assert_eq((int)json_array_size(expect), n);
    for (int i = 0; i < n; i++) {
        double want = json_number_value(json_array_get(expect, (size_t)i));
        cr_assert_float_eq(got[i], want, tolerance * (scale > 0 ? scale : want) + 1e-15, "%d: %.15g, not %.15g", i,
                           got[i], want);
    }
}

static void check_residuals(const json_t *expect, const struct swing_shaper *s, struct swing_mode mode, double tol)
{
    const char *ratio;
    json_t *value;
    double omega = mode.omega_radps;
    json_object_foreach((json_t *)expect, ratio, value)
    {
        mode.omega_radps = omega * strtod(ratio, NULL);
        double want = json_number_value(value);
        cr_assert_float_eq(swing_shaper_residual(s, mode), want, tol * fmax(want, 0.01), "at %s", ratio);
    }
}

/* Singer & Seering 1990; Singhose et al. 1994-97: amplitudes, times, residual vibration, insensitivity. ZV and ZVD to
 * 1e-9. EI: the source allows 1e-3 in amplitude and 3e-3 periods for curve fits; its conditions solved agree to 1e-8.
 */
static void check_case(const char *id)
{
    json_t *one = reference_case("swing.json", id), *input = json_object_get(one, "input"),
           *expect = json_object_get(one, "expect");
    double share = reference_number(input, "V"), period = reference_number(expect, "Td");
    struct swing_mode mode = swing_shaper_mode(reference_number(input, "L"), reference_number(input, "zeta"));
    cr_assert_float_eq(mode.omega_radps, reference_number(expect, "omega"), 1e-12);
    for (int kind = SWING_SHAPER_ZV; kind < SWING_SHAPER_KINDS; kind++) {
        double tol = kind == SWING_SHAPER_EI ? 3e-8 : 1e-9;
        struct swing_shaper s = designed((enum swing_shaper_kind)kind, mode, share);
        json_t *want = json_object_get(expect, names[kind]), *band = json_object_get(want, "insensitivity");
        check_numbers(json_object_get(want, "A"), s.amplitude, s.impulses, tol, 0);
        check_numbers(json_object_get(want, "t"), s.time_s, s.impulses, tol, period);
        check_residuals(json_object_get(want, "residual"), &s, mode, tol);
        struct swing_band got = swing_shaper_band(&s, mode, share);
        cr_assert_float_eq(got.low, reference_number(band, "lo"), tol, "%s %.12g", names[kind], got.low);
        cr_assert_float_eq(got.high, reference_number(band, "hi"), tol, "%s %.12g", names[kind], got.high);
        cr_assert_float_eq(got.high - got.low, reference_number(band, "width"), tol);
    }
    json_decref(one);
}

Test(swing_shaper, published_shapers)
{
    check_case("shaper-L0.5-z0");
    check_case("shaper-L0.5-z0.01");
    check_case("shaper-L0.5-z0.05");
    check_case("shaper-L0.22-z0.02");
}

/* Case shaper-width-undamped: 4/pi asin V, 4/pi asin sqrt V, 2/pi acos((1-3V)/(1+V)), at any frequency. */
Test(swing_shaper, published_widths)
{
    json_t *one = reference_case("swing.json", "shaper-width-undamped"), *expect = json_object_get(one, "expect");
    double share = reference_number(json_object_get(one, "input"), "V");
    for (int kind = SWING_SHAPER_ZV; kind < SWING_SHAPER_KINDS; kind++) {
        for (double omega = 0.7; omega < 40; omega *= 3) {
            struct swing_mode mode = {.omega_radps = omega, .damping = 0};
            struct swing_shaper s = designed((enum swing_shaper_kind)kind, mode, share);
            struct swing_band band = swing_shaper_band(&s, mode, share);
            cr_assert_float_eq(band.high - band.low, reference_number(expect, names[kind]), 1e-9, "%s", names[kind]);
        }
    }
    json_decref(one);
}

static double residual_at(const struct swing_shaper *s, struct swing_mode mode, double x)
{
    mode.omega_radps *= x;
    return swing_shaper_residual(s, mode);
}

/* The least residual vibration between two frequencies, by halving a V-shaped valley in thirds. */
static double least(const struct swing_shaper *s, struct swing_mode mode, double low, double high)
{
    for (int i = 0; i < 100; i++) {
        double a = low + (high - low) / 3, b = high - (high - low) / 3;
        if (residual_at(s, mode, a) < residual_at(s, mode, b))
            high = b;
        else
            low = a;
    }
    return residual_at(s, mode, (low + high) / 2);
}

/* EI by its definition, for all that may be asked of it. */
Test(swing_shaper, extra_insensitive_is_what_it_says)
{
    struct random r = {60};
    for (int i = 0; i < 400; i++) {
        double share = random_between(&r, SWING_SHAPER_SHARE_MIN, SWING_SHAPER_SHARE_MAX);
        struct swing_mode mode = {random_between(&r, 0.5, 30), random_between(&r, 0, SWING_SHAPER_DAMPING_MAX)};
        struct swing_shaper s = designed(SWING_SHAPER_EI, mode, share);
        struct swing_band band = swing_shaper_band(&s, mode, share);
        cr_assert_float_eq(residual_at(&s, mode, 1), share, 1e-10);
        double slope = (residual_at(&s, mode, 1 + 1e-5) - residual_at(&s, mode, 1 - 1e-5)) / 2e-5;
        cr_assert_float_eq(slope, 0, 1e-6, "V = %g, zeta = %g: slope %g", share, mode.damping, slope);
        cr_assert_lt(least(&s, mode, band.low, 1), 1e-9);
        cr_assert_lt(least(&s, mode, 1, band.high), 1e-9);
        double sum = s.amplitude[0] + s.amplitude[1] + s.amplitude[2];
        cr_assert_float_eq(sum, 1, 1e-14);
    }
}

/* A band is where it says: within everywhere inside, beyond just outside. Widths: EI > ZVD > ZV (Singhose 1994). */
Test(swing_shaper, bands_are_where_they_say)
{
    struct random r = {61};
    for (int i = 0; i < 300; i++) {
        double share = random_between(&r, SWING_SHAPER_SHARE_MIN, SWING_SHAPER_SHARE_MAX), width = 0;
        struct swing_mode mode = {random_between(&r, 0.5, 30), random_between(&r, 0, 0.15)};
        for (int kind = SWING_SHAPER_ZV; kind < SWING_SHAPER_KINDS; kind++) {
            struct swing_shaper s = designed((enum swing_shaper_kind)kind, mode, share);
            struct swing_band b = swing_shaper_band(&s, mode, share);
            for (int k = 0; k <= 50; k++)
                cr_assert_leq(residual_at(&s, mode, b.low + (b.high - b.low) * k / 50), share + 1e-10);
            cr_assert_gt(residual_at(&s, mode, b.low - 1e-6), share);
            cr_assert_gt(residual_at(&s, mode, b.high + 1e-6), share);
            cr_assert_gt(b.high - b.low, width);
            width = b.high - b.low;
        }
    }
    struct swing_mode mode = {5, 0.01};
    struct swing_shaper s = designed(SWING_SHAPER_EI, mode, 0.1);
    struct swing_band none = swing_shaper_band(&s, mode, 0.05);
    cr_assert(none.low == 1 && none.high == 1, "more than the limit in the middle is no band");
}

/* Case pendulum-step, mechanics: the steady angle, the peak of a pendulum in full, and with damping the linear one,
 * (1 + K) a/g after half a swing; K and half a swing as the shapers use them, the pendulum simulated. */
Test(swing_shaper, published_step)
{
    json_t *one = reference_case("swing.json", "pendulum-step"), *row;
    json_t *rows = json_object_get(json_object_get(one, "input"), "rows");
    size_t i;
    json_array_foreach(rows, i, row)
    {
        json_t *want = json_array_get(json_object_get(json_object_get(one, "expect"), "rows"), i);
        double a = reference_number(row, "a"), zeta = reference_number(row, "zeta");
        struct swing_mode mode = swing_shaper_mode(reference_number(row, "L"), zeta);
        struct swing_shaper zv = designed(SWING_SHAPER_ZV, mode, 0);
        double k = zv.amplitude[1] / zv.amplitude[0];
        cr_assert_float_eq(mode.omega_radps, reference_number(want, "omega"), 1e-9);
        cr_assert_float_eq(zv.time_s[1], reference_number(want, "t_peak_linear"), 1e-9);
        cr_assert_float_eq((1 + k) * a / PENDULUM_G, reference_number(want, "peak_linear_damped"), 1e-9);
        cr_assert_float_eq(swing_shaper_lean(a), reference_number(want, "steady_angle"), 1e-12);
        cr_assert_float_eq(swing_shaper_peak(a), reference_number(want, "peak_nonlinear_undamped"), 1e-12);
        struct pendulum full = {.omega = mode.omega_radps}, linear = {.omega = mode.omega_radps, zeta, .linear = true};
        double peak = 0, linear_peak = 0;
        pendulum_run(&full, a, 2, 20000, &peak);
        pendulum_run(&linear, a, zv.time_s[1], 2000, &linear_peak);
        cr_assert_float_eq(peak, swing_shaper_peak(a), 1e-7);
        cr_assert_float_eq(linear_peak, (1 + k) * a / PENDULUM_G, 1e-9);
        cr_assert_leq(linear.angle, 0, "the mass lags");
    }
    json_decref(one);
}

struct move {
    double v, a, residual, peak, end_s;
};

/* The pivot's speed ramps from 0 to v at a, shaped: its acceleration is a sum of blocks. Corner to corner. */
static void play(struct move *m, struct pendulum p, const struct swing_shaper *s)
{
    double corner[2 * SWING_SHAPER_IMPULSES], ramp = m->v / m->a, now = 0;
    int corners = 0;
    for (int i = 0; i < s->impulses; i++) {
        corner[corners++] = s->time_s[i];
        corner[corners++] = s->time_s[i] + ramp;
    }
    m->end_s = s->time_s[s->impulses - 1] + ramp;
    m->peak = 0;
    while (now < m->end_s) {
        double next = m->end_s, accel = 0;
        for (int i = 0; i < corners; i++)
            next = corner[i] > now && corner[i] < next ? corner[i] : next;
        for (int i = 0; i < s->impulses; i++)
            accel += now >= s->time_s[i] && now < s->time_s[i] + ramp ? m->a * s->amplitude[i] : 0;
        pendulum_run(&p, accel, next - now, 500, &m->peak);
        now = next;
    }
    m->residual = pendulum_amplitude(&p);
}

/* Case pendulum-move, by matrix exponentials at the source; here by Runge and Kutta. */
Test(swing_shaper, published_move)
{
    json_t *one = reference_case("swing.json", "pendulum-move"), *row;
    size_t i;
    json_array_foreach(json_object_get(json_object_get(one, "input"), "rows"), i, row)
    {
        json_t *wants = json_array_get(json_object_get(json_object_get(one, "expect"), "rows"), i);
        struct swing_mode mode = swing_shaper_mode(reference_number(row, "L"), reference_number(row, "zeta"));
        struct pendulum p = {mode.omega_radps * reference_number(row, "omega_ratio"), mode.damping, .linear = true};
        for (int kind = SWING_SHAPER_NONE; kind < SWING_SHAPER_KINDS; kind++) {
            struct swing_shaper s = designed((enum swing_shaper_kind)kind, mode, 0.05);
            json_t *want = json_object_get(wants, names[kind]);
            struct move m = {reference_number(row, "v"), reference_number(row, "a"), 0, 0, 0};
            play(&m, p, &s);
            cr_assert_float_eq(m.residual, reference_number(want, "residual_rad"), 1e-9, "%zu %s", i, names[kind]);
            cr_assert_float_eq(m.peak, reference_number(want, "peak_until_t_end_rad"), 1e-5, "%zu %s", i, names[kind]);
            cr_assert_float_eq(m.end_s, reference_number(want, "t_end"), 1e-8);
        }
    }
    json_decref(one);
}

Test(swing_shaper, refuses_what_cannot_be)
{
    static const struct swing_mode bad[] = {{0, 0.01}, {-1, 0.01}, {NAN, 0.01}, {INFINITY, 0.01},
                                            {5, -0.1}, {5, 0.31},  {5, NAN}};
    struct swing_shaper s;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        for (int kind = SWING_SHAPER_NONE; kind < SWING_SHAPER_KINDS; kind++) {
            cr_assert_not(swing_shaper_design((enum swing_shaper_kind)kind, bad[i], 0.05, &s));
            cr_assert(s.impulses == 1 && s.amplitude[0] == 1 && s.time_s[0] == 0);
        }
    }
    struct swing_mode good = {5, 0.01};
    cr_assert_not(swing_shaper_design(SWING_SHAPER_EI, good, 0.004, &s));
    cr_assert_not(swing_shaper_design(SWING_SHAPER_EI, good, 0.21, &s));
    cr_assert_not(swing_shaper_design(SWING_SHAPER_EI, good, NAN, &s));
    cr_assert_not(swing_shaper_design(SWING_SHAPER_KINDS, good, 0.05, &s));
    cr_assert(swing_shaper_design(SWING_SHAPER_ZVD, good, NAN, &s), "only EI looks at the share");
    cr_assert_not(swing_shaper_mode_valid(swing_shaper_mode(0, 0.01)));
    cr_assert_not(swing_shaper_mode_valid(swing_shaper_mode(-1, 0.01)));
}
