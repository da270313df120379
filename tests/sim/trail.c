/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/trail.h"

#include <inttypes.h>
#include <stdio.h>

#define V(v) (v).x, (v).y, (v).z

static void print_room(const struct volume *vol)
{
    const struct volume_outline *o = &vol->outline;
    printf("#   stage %.3f..%.3f m high:", vol->stage.z_lo, vol->stage.z_hi);
    for (int i = 0; i < vol->stage.corners; i++)
        printf(" (%.3f %.3f)", vol->stage.x[i], vol->stage.y[i]);
    printf("\n#   body %.3f m, boom %.3f m (%.3f), cords of %.4f m at", o->body_radius_m, o->boom_m, o->boom_radius_m,
           o->cord_radius_m);
    for (int i = 0; i < o->cords; i++)
        printf(" (%.3f %.3f %.3f)", V(o->anchor[i]));
    printf("\n");
    for (int k = 0; k < vol->keepouts; k++)
        printf("#   keep-out %d: (%.3f %.3f %.3f)..(%.3f %.3f %.3f), padding %.3f m\n", k, V(vol->keepout[k].lo),
               V(vol->keepout[k].hi), vol->padding_m[k]);
}

void trail_scene(const struct run *run)
{
    const struct scene *s = &run->scene;
    const struct guard_config *g = &s->cfg.guard;
    const struct scene_trouble *t = &s->trouble;
    printf("# seed %" PRIu64 ", fault %s in ticks %d..%d, cord %d, size %.3f, way (%.3f %.3f %.3f), %s\n", s->seed,
           fault_kinds[t->fault].name, t->begin, t->end, t->cord, t->size, V(t->way),
           t->watched ? "the rig watches itself" : "the rig does not watch itself");
    print_room(&g->volume);
    printf(
        "#   margin %.3f m, latency %.3f s, lease %.3f s, brake %.3f m/s2, speed %.3f m/s, telemetry timeout %.3f s\n",
        g->margin_m, g->latency_s, g->lease_s, g->brake_mps2, g->speed_mps, (double)s->cfg.telemetry_timeout_ns * 1e-9);
    printf("#   to the rig %.3f+%.3f s, loss %.2f, twice %.2f; to core %.3f+%.3f s; winches lag %.3f s\n",
           s->to_rig.delay_s, s->to_rig.jitter_s, s->to_rig.loss, s->to_rig.duplicate, s->to_core.delay_s,
           s->to_core.jitter_s, s->lag_s);
    printf("#   platform %.2f kg, body %.2f kg, cords %.0f N/m; slip %.4f m; noise %.5f m, bias (%.4f %.4f %.4f) m, "
           "stated %.4f m; a report every %d ticks\n",
           s->physics.platform_kg, s->physics.body_kg, s->physics.stiffness_npm, s->slip_m, s->sense.sigma_m,
           V(s->sense.bias), s->sense.uncertainty_m, s->sense.ticks_a_report);
}

static void print_reasons(reason_set set)
{
    for (int r = 1; r < REASON_COUNT; r++)
        if (set & reason_bit((enum reason)r))
            printf(" %s", reason_code((enum reason)r));
}

static void print_core(const struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    static const char *const events[] = {"", " RESET", " GO"};
    static const char *const lanes[] = {"idle", "audience", "operator"};
    printf("#  in   report (%.3f %.3f %.3f) +-%.4f, swing %.3f, age %.3f s, seq %" PRIu64 "%s%s%s%s%s\n",
           V(in->rig.position), in->rig.uncertainty_m, in->rig.swing_rad,
           (double)(in->now_ns - in->rig.received_ns) * 1e-9, in->rig.seq, in->rig.fault ? " RIG-FAULT" : "",
           run->account.pressed ? " STOP" : "", in->tick_late ? " LATE" : "", run->account.absent ? " ABSENT" : "",
           (unsigned)in->stop.event < 3 ? events[in->stop.event] : " ?");
    printf("#  out  %s (%s), %s, wanted (%.3f %.3f %.3f), sent (%.4f %.4f %.4f) = %.4f%s%s; margin %.3f, left %.3f, "
           "braking %.3f m;",
           stop_state_name(out->stop_state), reason_code(out->stop_reason), lanes[out->lane], V(out->wanted),
           V(out->intent.velocity), vec_norm(out->intent.velocity), out->intent.motion ? ", motion" : "",
           out->guard.fallback ? ", FALLBACK" : "", out->guard.margin_m, out->guard.nearest.distance_m,
           out->guard.braking_m);
    print_reasons(out->reasons);
    printf("\n");
}

void trail_tick(const struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    const struct machine *m = &run->machine;
    struct vec3 body = machine_body(m, &run->scene), slip = vec_sub(m->physics.position, m->controller.reference);
    printf("# tick %d, %.4f s%s\n", run->tick, (double)run->now_ns * 1e-9, run->active ? ", fault on" : "");
    if (out)
        print_core(run, in, out);
    else
        printf("#  core is dead\n");
    printf("#  true (%.3f %.3f %.3f) at %.4f m/s, slipped %.4f m, body (%.3f %.3f %.3f); rig told %.4f m/s%s%s%s%s; "
           "tensions",
           V(m->physics.position), vec_norm(m->physics.velocity), vec_norm(slip), V(body),
           vec_norm(m->controller.velocity), m->controller.live ? "" : " (expired)",
           m->controller.neutral ? "" : " (waits for neutral)", m->controller.fault ? " (fault)" : "",
           m->controller.unreachable ? " (unreachable)" : "");
    for (int i = 0; i < run->scene.physics.cords; i++)
        printf(" %.1f", m->physics.tension_n[i]);
    printf("; least so far %.4f m (part %d, bound %d)\n", run->truth.least_m, run->truth.part, run->truth.bound);
}
