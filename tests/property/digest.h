/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#ifndef STEADYHAND_PROPERTY_DIGEST_H
#define STEADYHAND_PROPERTY_DIGEST_H

#include "policy/motion/policy.h"

/* Folds what is sent, shown and decided into a digest. */
uint64_t digest_output(uint64_t digest, const struct policy_output *out);

#endif
