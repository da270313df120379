/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/trail.h"

#include <inttypes.h>
#include <stdio.h>

#define V(v) (v).x, (v).y, (v).z

static void print_shape(const struct shape *shape)
{
    static const char *const kinds[] = {"box", "prism", "sphere", "capsule", "half-space"};
    printf("%s", (unsigned)shape->kind < SHAPE_KINDS ? kinds[shape->kind] : "?");
    if (shape->kind == SHAPE_BOX)
        printf(" (%.3f %.3f %.3f) +-(%.3f %.3f %.3f), x to (%.3f %.3f %.3f)", V(shape->as.block.centre),
               V(shape->as.block.half), V(shape->as.block.axis[0]));
    if (shape->kind == SHAPE_SPHERE)
        printf(" (%.3f %.3f %.3f) r %.3f", V(shape->as.sphere.centre), shape->as.sphere.radius_m);
    if (shape->kind == SHAPE_CAPSULE)
        printf(" (%.3f %.3f %.3f)-(%.3f %.3f %.3f) r %.3f", V(shape->as.capsule.a), V(shape->as.capsule.b),
               shape->as.capsule.radius_m);
    if (shape->kind == SHAPE_HALF_SPACE)
        printf(" (%.3f %.3f %.3f) p <= %.3f", V(shape->as.half_space.normal), shape->as.half_space.offset_m);
}

static void print_prism(const struct shape_prism *prism)
{
    printf(" %.3f..%.3f m high:", prism->z_lo, prism->z_hi);
    for (int i = 0; i < prism->corners; i++)
        printf(" (%.3f %.3f)", prism->x[i], prism->y[i]);
}

static void print_outline(const struct volume_outline *o)
{
    static const char *const yaws[] = {"fixed", "reported", "unknown", "pan"};
    static const char *const tethers[] = {"none", "straight", "hanging"};
    printf("#   boom %.3f m (%.3f), yaw %s; limbs", o->boom_m, o->boom_radius_m, yaws[o->yaw]);
    for (int i = 0; i < o->limbs; i++)
        printf(" (%.3f %.3f %.3f)-(%.3f %.3f %.3f) r %.3f", V(o->limb[i].a), V(o->limb[i].b), o->limb[i].radius_m);
    printf("; tether %s (%.3f %.3f %.3f) %.3f m\n#   cords of %.4f m at", tethers[o->tether.kind], V(o->tether.anchor),
           o->tether.length_m, o->cord_radius_m);
    for (int i = 0; i < o->cords; i++)
        printf(" (%.3f %.3f %.3f)", V(o->anchor[i]));
    printf("\n");
}

static void print_room(const struct volume *vol)
{
    for (int i = 0; i < vol->stages; i++) {
        printf("#   stage %d:", i);
        print_prism(&vol->stage[i]);
        printf("\n");
    }
    print_outline(&vol->outline);
    for (int k = 0; k < vol->keepouts; k++) {
        printf("#   keep-out %d: ", k);
        print_shape(&vol->keepout[k].shape);
        if (vol->keepout[k].shape.kind == SHAPE_PRISM)
            print_prism(&vol->keepout[k].shape.as.prism);
        printf(", padding %.3f m%s\n", vol->keepout[k].padding_m, vol->keepout[k].yields ? ", yields" : "");
    }
}

static void print_sensors(const struct scene *s)
{
    static const char *const names[] = {"pose", "length", "tension", "range", "tilt", "yaw", "head", "subject"};
    for (int i = 0; i < WIRE_SOURCES; i++)
        if (s->sensors.sensor[i].there)
            printf(" %s", names[i]);
    printf("%s%s%s%s\n", s->cfg.locates ? "; locates" : "", s->cfg.astray_s > 0 ? ", watches for astray" : "",
           s->cfg.anticipates ? "; anticipates" : "", s->cfg.swing.taps > 0 ? "; shaped" : "");
}

static void print_aim(const struct scene *s)
{
    const struct head_config *c = &s->cfg.head.config;
    printf("#   head of %.3f rad at the widest, latency %.3f s; axes", c->hfov_wide_rad, c->latency_s);
    for (int i = 0; i < HEAD_AXES; i++)
        printf(" %.3f..%.3f (%.3f/s)", c->axis[i].min, c->axis[i].max, c->axis[i].limits.speed);
    printf("\n");
    for (int i = 0; i < c->regions; i++)
        printf("#   region %d: pan %.3f..%.3f, tilt %.3f..%.3f, roll %.3f..%.3f\n", i, c->region[i].from[0],
               c->region[i].to[0], c->region[i].from[1], c->region[i].to[1], c->region[i].from[2], c->region[i].to[2]);
    for (int k = 0; k < s->cfg.view.shapes; k++) {
        printf("#   not to be seen %d: ", k);
        print_shape(&s->cfg.view.shape[k]);
        printf(" within %.2f m of (%.3f %.3f %.3f)\n", s->cfg.view.range_m, V(s->cfg.view.camera));
    }
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
    if (s->head.there)
        print_aim(s);
    printf(
        "#   margin %.3f m, latency %.3f s, lease %.3f s, brake %.3f m/s2, speed %.3f m/s, telemetry timeout %.3f s\n",
        g->margin_m, g->latency_s, g->lease_s, g->brake_mps2, g->speed_mps, (double)s->cfg.telemetry_timeout_ns * 1e-9);
    printf("#   to the rig %.3f+%.3f s, loss %.2f, twice %.2f; to core %.3f+%.3f s; winches lag %.3f s\n",
           s->to_rig.delay_s, s->to_rig.jitter_s, s->to_rig.loss, s->to_rig.duplicate, s->to_core.delay_s,
           s->to_core.jitter_s, s->lag_s);
    printf(
        "#   platform %.2f kg, body %.2f kg, cords %.0f N/m; slip %.4f m; pose +-%.5f m, bias %.4f m; a report every "
        "%d ticks\n#   measured:",
        s->physics.platform_kg, s->physics.body_kg, s->physics.stiffness_npm, s->slip_m,
        s->sensors.sensor[WIRE_POSE].sigma, s->sensors.sensor[WIRE_POSE].bias, s->ticks_a_report);
    print_sensors(s);
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
    printf("#  in   pose (%.3f %.3f %.3f) +-%.4f, swing %.3f, age %.3f s, seq %" PRIu64 "%s%s%s%s%s\n",
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

static void print_head(const struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    static const char *const names[HEAD_AXES] = {"pan", "tilt", "roll", "zoom"};
    printf("#  head");
    for (int i = 0; i < HEAD_AXES; i++)
        printf(" %s %.4f at %.4f (wish %.3f, sent %.4f)", names[i], run->machine.head.at[i], run->machine.head.rate[i],
               in->head_wish[i], out->intent.head_rate[i]);
    printf("\n");
}

void trail_tick(const struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    const struct machine *m = &run->machine;
    struct vec3 body = machine_body(m), slip = vec_sub(m->physics.position, m->controller.reference);
    printf("# tick %d, %.4f s%s\n", run->tick, (double)run->now_ns * 1e-9, run->active ? ", fault on" : "");
    if (out)
        print_core(run, in, out);
    if (out && run->scene.head.there)
        print_head(run, in, out);
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
    int part;
    double left = truth_subject(&run->scene.cfg.guard.volume, &run->truth.pose, TRUTH_PARTS, &part);
    if (run->truth.pose.subject)
        printf("; subject (%.3f %.3f), %.4f m from part %d", run->people.subject.x, run->people.subject.y, left, part);
    printf("; least so far %.4f m (part %d, bound %d)\n", run->truth.least_m, run->truth.part, run->truth.bound);
}
