/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * For the analyser only: the functions of <math.h> and <string.h> that policy/ calls and of which the analyser knows
 * nothing, written so that whatever the real one gives is among what these give.
 */
#include "tests/proof/any.h"

double fmin(double a, double b)
{
    if (a != a)
        return b;
    if (b != b)
        return a;
    return a < b ? a : b;
}

double fmax(double a, double b)
{
    if (a != a)
        return b;
    if (b != b)
        return a;
    return a > b ? a : b;
}

double fabs(double x)
{
    return x < 0 ? -x : x > 0 ? x : x * x; /* of a nought, a nought; NaN of NaN */
}

/* The sign of a nought or of NaN may be either. */
double copysign(double x, double sign)
{
    double size = fabs(x);
    if (sign > 0)
        return size;
    if (sign < 0)
        return -size;
    return either() ? -size : size;
}

/* Not below the greater leg, not above the sum of both. */
double hypot(double a, double b)
{
    double p = fabs(a), q = fabs(b), most = (p + q) * (1 + 4 * DBL_EPSILON);
    ANY(double, between);
    if (between >= p && between >= q && between <= most)
        return between;
    return most; /* NaN, too */
}

/* Whichever whole number is next to it, below or above. */
long lround(double x)
{
    return (long)(either() ? ceil(x) : floor(x));
}

double ldexp(double x, int exponent)
{
    return x * pow(2, exponent);
}

/* Some number; not below nought in the first quarter turn. */
double tan(double x)
{
    ANY(double, t);
    if (!isfinite(x) || !isfinite(t))
        return x - x;
    return x >= 0 && x <= 1.5707 && t < 0 ? -t : t;
}
