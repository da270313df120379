/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* For the analyser only, included before all else: what its own <math.h> says in words that tell it little, as it can
 * follow it. Each means exactly what the standard says. */
#ifndef STEADYHAND_PROOF_WORDS_H
#define STEADYHAND_PROOF_WORDS_H

#include <float.h>
#include <math.h>

/* What is so wherever this stands: the case that it is not ends here. */
#define FACT(holds) ((holds) || proof_never())

/*@ ensures \false;
    assigns \nothing; */
int proof_never(void);

#undef isfinite
#define isfinite(x) ((x) >= -DBL_MAX && (x) <= DBL_MAX && FACT((x) == (x)))

#undef isnan
#define isnan(x) ((x) != (x))

#undef INFINITY
#define INFINITY (1.0f / 0.0f)

/* The most that a part of a vector can be whose length was found to be at most so much. Its squares may have been
 * rounded to nought or a little down, and are numbers if the length is one. */
static inline double proof_side(double length)
{
    return length < 1.3e154 ? length * 1.0001 + 1e-150 : length > DBL_MAX ? length : 1.35e154;
}

static inline double proof_square(double x)
{
    return x * x;
}

#endif
