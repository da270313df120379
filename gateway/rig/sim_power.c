/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_power.h"

enum { AT_ONCE = 0, HOLDS = 2 }; /* categories */

void sim_power_init(struct sim_power *p)
{
    *p = (struct sim_power){.category = HOLDS};
}

void sim_power_session(struct sim_power *p)
{
    p->told_off = false;
    p->wanted = p->on;
    p->category = HOLDS;
}

void sim_power_stop(struct sim_power *p, uint8_t category)
{
    p->category = category < p->category ? category : p->category;
}

void sim_power_intent(struct sim_power *p, const struct wire_intent *intent, uint64_t stop_count)
{
    bool knows = intent->stop_count == stop_count && intent->category == HOLDS;
    p->wanted = intent->power != 0;
    if (!p->wanted)
        p->told_off = true;
    if (p->on || !p->wanted) {
        sim_power_stop(p, intent->category);
    } else if (p->told_off && knows) {
        *p = (struct sim_power){.on = true, .wanted = true, .category = HOLDS};
    }
}

void sim_power_step(struct sim_power *p, bool at_rest)
{
    bool off = p->category == AT_ONCE || (at_rest && (!p->wanted || p->category < HOLDS));
    if (!p->on || !off)
        return;
    p->on = p->told_off = false;
}
