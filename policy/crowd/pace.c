/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/crowd/pace.h"

#include <stddef.h>

#include "policy/crowd/saturate.h"

bool pace_arrive(const struct pace_config *cfg, struct pace *pace, uint64_t now_ns, uint64_t *wait_ns)
{
    uint64_t earliest = saturate_sub64(pace->tat_ns, cfg->tolerance_ns);
    if (wait_ns)
        *wait_ns = saturate_sub64(earliest, now_ns);
    if (now_ns < earliest)
        return false;
    uint64_t from = now_ns > pace->tat_ns ? now_ns : pace->tat_ns;
    pace->tat_ns = saturate_add64(from, cfg->interval_ns);
    return true;
}
