/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/swing_ei.h"

#include <math.h>

#include "policy/motion/units.h"

#define DAMPING_STEP   0.02
#define DIFFERENCE     1e-6  /* of an unknown, for slopes: central, so that they are good to 1e-10 */
#define CLOSE          1e-14 /* conditions hold to this */
#define SMALLEST_PIVOT 1e-9

enum { UNKNOWNS = 4, NEWTON_STEPS = 12 };
enum { T2, T3, BELOW, ABOVE }; /* the unknowns: two times, two frequencies without vibration */

struct complex {
    double re, im;
};

struct problem {
    double damping, share;
};

/* exp(z x t), as seen at time t3: there it cannot grow large. */
static struct complex phasor(double damping, double x, double t, double t3)
{
    double size = exp(damping * x * (t - t3)), angle = sqrt(1 - damping * damping) * x * t;
    return (struct complex){size * cos(angle), size * sin(angle)};
}

/* The amplitudes that leave nothing at frequency x: as cross products of the other two phasors, then summing to 1. */
static void amplitudes(double damping, const double u[UNKNOWNS], double a[3])
{
    const double t[3] = {0, u[T2], u[T3]};
    struct complex p[3];
    for (int i = 0; i < 3; i++)
        p[i] = phasor(damping, u[BELOW], t[i], u[T3]);
    for (int i = 0; i < 3; i++) {
        struct complex b = p[(i + 1) % 3], c = p[(i + 2) % 3];
        a[i] = b.re * c.im - b.im * c.re;
    }
    double sum = a[0] + a[1] + a[2];
    for (int i = 0; i < 3; i++)
        a[i] /= sum;
}

/* The vibration left at frequency x, and its derivative by x. */
static struct complex left(double damping, const double u[UNKNOWNS], const double a[3], double x,
                           struct complex *derivative)
{
    const double t[3] = {0, u[T2], u[T3]};
    double turn = sqrt(1 - damping * damping);
    struct complex sum = {0, 0};
    *derivative = sum;
    for (int i = 0; i < 3; i++) {
        struct complex p = phasor(damping, x, t[i], u[T3]);
        sum.re += a[i] * p.re;
        sum.im += a[i] * p.im;
        double decay = damping * (t[i] - u[T3]), rate = turn * t[i];
        derivative->re += a[i] * (decay * p.re - rate * p.im);
        derivative->im += a[i] * (decay * p.im + rate * p.re);
    }
    return sum;
}

/* What is to become zero. */
static void conditions(const struct problem *p, const double u[UNKNOWNS], double f[UNKNOWNS])
{
    double a[3];
    struct complex slope;
    amplitudes(p->damping, u, a);
    struct complex above = left(p->damping, u, a, u[ABOVE], &slope);
    struct complex model = left(p->damping, u, a, 1, &slope);
    f[0] = above.re;
    f[1] = above.im;
    f[2] = model.re * model.re + model.im * model.im - p->share * p->share;
    f[3] = model.re * slope.re + model.im * slope.im;
}

static void slopes(const struct problem *p, const double u[UNKNOWNS], double m[UNKNOWNS][UNKNOWNS + 1])
{
    for (int k = 0; k < UNKNOWNS; k++) {
        double more[UNKNOWNS], less[UNKNOWNS], up[UNKNOWNS], down[UNKNOWNS];
        for (int i = 0; i < UNKNOWNS; i++)
            more[i] = less[i] = u[i];
        more[k] += DIFFERENCE;
        less[k] -= DIFFERENCE;
        conditions(p, more, up);
        conditions(p, less, down);
        for (int i = 0; i < UNKNOWNS; i++)
            m[i][k] = (up[i] - down[i]) / (2 * DIFFERENCE);
    }
}

static int largest_below(double m[UNKNOWNS][UNKNOWNS + 1], int k)
{
    int best = k;
    for (int i = k + 1; i < UNKNOWNS; i++) {
        if (fabs(m[i][k]) > fabs(m[best][k]))
            best = i;
    }
    return best;
}

/* Gauss-Jordan with pivoting, the right-hand side in the last column; false if it is singular. */
static bool eliminate(double m[UNKNOWNS][UNKNOWNS + 1])
{
    for (int k = 0; k < UNKNOWNS; k++) {
        int best = largest_below(m, k);
        if (!(fabs(m[best][k]) > SMALLEST_PIVOT))
            return false;
        for (int j = k; j <= UNKNOWNS; j++) {
            double swap = m[k][j];
            m[k][j] = m[best][j];
            m[best][j] = swap;
        }
        for (int i = 0; i < UNKNOWNS; i++) {
            double share = i == k ? 0 : m[i][k] / m[k][k];
            for (int j = k; j <= UNKNOWNS; j++)
                m[i][j] -= share * m[k][j];
        }
    }
    return true;
}

static double worst(const double f[UNKNOWNS])
{
    double most = 0;
    for (int i = 0; i < UNKNOWNS; i++)
        most = fmax(most, fabs(f[i]));
    return most;
}

static bool newton(const struct problem *p, double u[UNKNOWNS])
{
    double f[UNKNOWNS], m[UNKNOWNS][UNKNOWNS + 1];
    conditions(p, u, f);
    for (int n = 0; n < NEWTON_STEPS && worst(f) > CLOSE; n++) {
        slopes(p, u, m);
        for (int i = 0; i < UNKNOWNS; i++)
            m[i][UNKNOWNS] = f[i];
        if (!eliminate(m))
            return false;
        for (int i = 0; i < UNKNOWNS; i++)
            u[i] -= m[i][UNKNOWNS] / m[i][i];
        conditions(p, u, f);
    }
    return worst(f) <= CLOSE;
}

bool swing_ei_solve(double damping, double share, double amplitude[3], double time[3])
{
    /* without damping |V| is (1 + share) / 2 cos(pi x) + (1 - share) / 2 */
    double away = acos((1 - share) / (1 + share)) / UNITS_HALF_TURN;
    double u[UNKNOWNS] = {[T2] = UNITS_HALF_TURN, [T3] = 2 * UNITS_HALF_TURN, [BELOW] = 1 - away, [ABOVE] = 1 + away};
    int steps = (int)ceil(damping / DAMPING_STEP);
    for (int i = 0; i <= steps; i++) {
        struct problem p = {.damping = steps ? damping * i / steps : 0, .share = share};
        if (!newton(&p, u))
            return false;
    }
    amplitudes(damping, u, amplitude);
    time[0] = 0;
    time[1] = u[T2];
    time[2] = u[T3];
    return amplitude[0] > 0 && amplitude[1] > 0 && amplitude[2] > 0 && time[1] > 0 && time[2] > time[1] &&
           u[BELOW] < 1 && u[ABOVE] > 1;
}
