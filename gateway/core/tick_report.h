/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What a tick tells the other threads: the scene for every page and the desk's numbers. */
#ifndef STEADYHAND_CORE_TICK_REPORT_H
#define STEADYHAND_CORE_TICK_REPORT_H

#include "gateway/core/tick.h"

/* Completes tick->report from this tick's outcome and puts it into both mailboxes. */
void tick_report_publish(struct tick *tick, const struct policy_output *out, bool crowd_fresh, uint64_t now_ns);

#endif
