/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * From telemetry to what the policy is told: which sources are there and how good they are.
 *
 * The show says what it has and how good that is; the rig may say that it is worse, never that it is better. What the
 * show has not is not believed.
 *
 * Age. The clocks of rig and core are not synchronised, but both run evenly: a telemetry's way took as much longer than
 * the quickest one's as (received - rig_ns) is above its least so far. By that much it is dated back, so that a network
 * that begins to queue shows as old telemetry and not as new. The least may rise by LINK_REPORT_DRIFT_PPM, more than
 * two clocks drift apart, so a delay that stays is forgotten again, over many minutes. What is there from the start is
 * not seen: that is what the show's latency is for. A new session forgets only if the rig's clock is another one: it
 * has gone back, or seems LINK_REPORT_OTHER_NS late.
 */
#ifndef STEADYHAND_RIG_LINK_REPORT_H
#define STEADYHAND_RIG_LINK_REPORT_H

#include "gateway/rig/wire.h"
#include "gateway/show/show.h"
#include "policy/motion/policy.h"

#define LINK_REPORT_DRIFT_PPM 200
#define LINK_REPORT_OTHER_NS  ((uint64_t)2000000000)

/* What is known of the rig's clock; all zero: nothing. */
struct link_report_clock {
    bool known;
    uint64_t rig_ns, heard_ns; /* of the newest telemetry, and when it came by our clock */
    int64_t least_ns;          /* of received - rig_ns, as of then */
    uint64_t measured_ns;      /* when it was measured, by our clock; never falls */
};

/* When this telemetry, received now, was measured at the latest [our clock]; the first of a session begins it. */
uint64_t link_report_measured(struct link_report_clock *clock, uint64_t rig_ns, uint64_t received_ns, bool begins);

/* Fills all of *report. seq 0: nothing was received yet. */
void link_report_fill(const struct show_sensor sensor[SHOW_SOURCES], const struct wire_telemetry *t,
                      uint64_t measured_ns, uint64_t seq, struct rig_report *report);

#endif
