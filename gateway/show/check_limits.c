/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Numbers that must fit each other: lanes and the rig's brakes, times and latencies, listeners. */
#include <arpa/inet.h>
#include <math.h>
#include <string.h>

#include "gateway/show/check.h"

#define CONFIRM_SPARE_S    0.05
#define STANDSTILL_SPARE_S 1.5

static const double audience_speed_mps = 0.2; /* the slowest edge-of-frame speed of a close subject; the default cap */

static void lane_accel(const struct layout_draft *d, const char *name, double accel, struct faults *faults)
{
    char at[PLACE_POINTER];
    snprintf(at, sizeof at, "/limits/%s/accel_mps2", name);
    if (accel > d->show.policy.guard.brake_mps2)
        faults_error(faults, at,
                     "expected no more than the rig's braking (/rig/brake_mps2, %g m/s2), found %g m/s2. Hint: what "
                     "speeds up faster than it brakes cannot stop in time.",
                     d->show.policy.guard.brake_mps2, accel);
}

static void lane_jerk(const char *name, double accel, double jerk, struct faults *faults)
{
    char at[PLACE_POINTER];
    snprintf(at, sizeof at, "/limits/%s/jerk_mps3", name);
    if (jerk * LIMITS_RAMP_MAX_S < accel)
        faults_error(faults, at,
                     "expected at least %g m/s3, so that accel_mps2 is reached within %g s, found %g m/s3. Hint: a rig "
                     "that changes its mind so slowly cannot be driven.",
                     accel / LIMITS_RAMP_MAX_S, LIMITS_RAMP_MAX_S, jerk);
}

static void lane_speeds(const struct layout_draft *d, struct faults *faults)
{
    if (d->audience.speed_mps > audience_speed_mps)
        faults_warn(faults, "/limits/audience/speed_mps",
                    "%g m/s is fast for people who see the camera late: %g m/s or less is advised.",
                    d->audience.speed_mps, audience_speed_mps);
    if (d->audience.speed_mps > d->operator.speed_mps)
        faults_error(faults, "/limits/audience/speed_mps",
                     "expected no more than the operator's speed (%g m/s), found %g m/s. Hint: the audience never has "
                     "more authority than the operator.",
                     d->operator.speed_mps, d->audience.speed_mps);
    double jump = d->show.policy.jump_mps;
    if (jump <= 2 * d->operator.speed_mps)
        faults_error(faults, "/rig/jump_mps",
                     "expected more than twice the operator's speed (%g m/s), found %g m/s. Hint: a lower value takes "
                     "ordinary motion and noise for a jump.",
                     d->operator.speed_mps, jump);
}

/* Viewers act on a picture of some time ago. */
static void audience_lag(const struct layout_draft *d, struct faults *faults)
{
    double seen = d->unseen_m / d->lag_s;
    if (seen < d->audience.speed_mps * (1 - 1e-9))
        faults_warn(faults, "/limits/audience/unseen_m",
                    "viewers see the camera %g s late, so the %g m it may go unseen hold them to %.3g m/s, whatever "
                    "speed_mps says. Allow more, or measure lag_s if it is less.",
                    d->lag_s, d->unseen_m, seen);
}

/* The guard's promises hold only if the rig is as good as the file says; of the simulated one the file says both. */
static void sim_keeps_up(const struct layout_draft *d, struct faults *faults)
{
    const struct show_sim *sim = &d->show.sim;
    const struct guard_config *guard = &d->show.policy.guard;
    double delay = sim->command_latency_s + sim->telemetry_latency_s;
    if (!sim->enabled)
        return;
    if (delay > guard->latency_s)
        faults_error(faults, "/rig/latency_s",
                     "expected at least the latency of the simulated rig (%g s there and back), found %g s. Hint: the "
                     "distance run unseen is counted with this value.",
                     delay, guard->latency_s);
    if (sim->winch_accel_mps2 < guard->brake_mps2)
        faults_error(faults, "/rig/brake_mps2",
                     "expected no more than the simulated winches reach (winch_accel_mps2, %g m/s2), found %g m/s2. "
                     "Hint: it is the braking the rig is sure to reach.",
                     sim->winch_accel_mps2, guard->brake_mps2);
    if (sim->winch_speed_mps < d->operator.speed_mps)
        faults_error(faults, "/limits/operator/speed_mps",
                     "expected no more than the simulated winches run (winch_speed_mps, %g m/s), found %g m/s. Hint: "
                     "straight towards an anchor its winch runs as fast as the camera.",
                     sim->winch_speed_mps, d->operator.speed_mps);
}

static void timeouts(const struct layout_draft *d, struct faults *faults)
{
    double timeout_s = (double)d->show.policy.telemetry_timeout_ns / 1e9;
    if (timeout_s > 0 && timeout_s <= d->show.policy.guard.latency_s)
        faults_error(faults, "/rig/telemetry_timeout_s",
                     "expected more than latency_s (%g s), found %g s. Hint: telemetry that is merely on its way is "
                     "not lost.",
                     d->show.policy.guard.latency_s, timeout_s);
}

/* A stop that is obeyed must never count as one that is not: that takes the power off in mid-braking. */
static void stop_times(const struct layout_draft *d, struct faults *faults)
{
    const struct guard_config *guard = &d->show.policy.guard;
    double confirm_s = d->stop.given ? d->stop.confirm_s : LAYOUT_CONFIRM_S;
    double standstill_s = d->stop.given ? d->stop.standstill_s : LAYOUT_STANDSTILL_S;
    double brakes_s = fmax(d->operator.speed_mps, d->audience.speed_mps) / guard->brake_mps2;
    double there_s = guard->latency_s + CONFIRM_SPARE_S;
    double rest_s = guard->latency_s + guard->lease_s + brakes_s + STANDSTILL_SPARE_S;
    if (confirm_s < there_s)
        faults_error(
            faults, "/stop/confirm_s",
            "expected at least latency_s and %g s for a datagram or two that is lost (%g s), found %g s. Hint: "
            "a stop that counts as not confirmed takes the power off at once.",
            CONFIRM_SPARE_S, there_s, confirm_s);
    if (standstill_s < rest_s)
        faults_error(faults, "/stop/standstill_s",
                     "expected at least latency_s, lease_s, the time to brake from the greatest speed, and %g s to see "
                     "it (%.2f s), found %g s. Hint: a stop that counts as not obeyed takes the power off at once.",
                     STANDSTILL_SPARE_S, rest_s, standstill_s);
}

static bool on_this_machine(const char *host)
{
    struct in_addr address;
    return inet_pton(AF_INET, host, &address) != 1 || (ntohl(address.s_addr) >> 24) == 127;
}

static bool overlap(const struct layout_listener *a, const struct layout_listener *b)
{
    bool same_host =
        strcmp(a->host, b->host) == 0 || strcmp(a->host, "0.0.0.0") == 0 || strcmp(b->host, "0.0.0.0") == 0;
    return a->port != 0 && a->port == b->port && a->host[0] && b->host[0] && same_host;
}

static void listeners(const struct layout_draft *d, struct faults *faults)
{
    if (overlap(&d->audience_listen, &d->desk_listen))
        faults_error(faults, "/desk/listen/port",
                     "expected a port of its own, found the audience's (%u). Hint: viewers and people in charge never "
                     "share a listener.",
                     d->desk_listen.port);
    if (!on_this_machine(d->desk_listen.host))
        faults_warn(faults, "/desk/listen/host",
                    "the desk speaks plain HTTP on %s: who can read that network can read passes. Use a network of "
                    "your own, or a TLS proxy on this machine.",
                    d->desk_listen.host);
    if (strcmp(d->show.rig_host, "0.0.0.0") == 0)
        faults_error(faults, "/rig/link/host",
                     "expected the rig's own address, found 0.0.0.0. Hint: \"127.0.0.1\" for the simulated rig.");
}

void check_limits(const struct layout_draft *draft, struct faults *faults)
{
    lane_accel(draft, "operator", draft->operator.accel_mps2, faults);
    lane_accel(draft, "audience", draft->audience.accel_mps2, faults);
    lane_jerk("operator", draft->operator.accel_mps2, draft->operator.jerk_mps3, faults);
    lane_jerk("audience", draft->audience.accel_mps2, draft->audience.jerk_mps3, faults);
    lane_speeds(draft, faults);
    audience_lag(draft, faults);
    sim_keeps_up(draft, faults);
    timeouts(draft, faults);
    stop_times(draft, faults);
    listeners(draft, faults);
}
