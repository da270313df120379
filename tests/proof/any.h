/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * For the analyser only: what may be anything, and what must hold.
 *
 * ANY(type, name) declares a local that holds anything its type can: NaN and infinities too, enums any value of their
 * width, the bools in a struct both. (It comes from a volatile object; an `extern` one would never be NaN or infinite.)
 *
 * must_*() are calls whose precondition the analyser has to show: where it cannot, that is an alarm, at that call.
 */
#ifndef STEADYHAND_PROOF_ANY_H
#define STEADYHAND_PROOF_ANY_H

#include <float.h>
#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define ANY_SOURCE_(type, name, source)                                                                                \
    extern volatile type source;                                                                                       \
    type name = source
#define ANY_AT_(type, name, line) ANY_SOURCE_(type, name, name##_anything_##line)
#define ANY_IN_(type, name, line) ANY_AT_(type, name, line)
#define ANY(type, name)           ANY_IN_(type, name, __LINE__)

static inline bool either(void)
{
    ANY(int, i);
    return i != 0;
}

/* A number from lo to hi. */
static inline double between(double lo, double hi)
{
    ANY(double, x);
    return x >= lo && x <= hi && FACT(x == x) ? x : lo;
}

static inline int among(int lo, int hi)
{
    ANY(int, i);
    return i >= lo && i <= hi ? i : lo;
}

/*@ requires finite: \is_finite(x);
    assigns \nothing; */
void must_be_finite(double x);

/*@ requires within: \is_finite(x) && lo <= x <= hi;
    assigns \nothing; */
void must_be_within(double lo, double x, double hi);

/*@ requires holds: holds;
    assigns \nothing; */
void must_hold(bool holds);

#define MUST_BE_FINITE3(v) (must_be_finite((v).x), must_be_finite((v).y), must_be_finite((v).z))

#endif
