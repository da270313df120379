/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/bench/policy/drive.h"

#include <time.h>

enum {
    LATE = 4, /* ticks from the rig's being told to its being seen to move */
    CLOCK_TRIES = 2001,
    REPEATS = 2,
};

double drive_now_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e9 + (double)t.tv_nsec;
}

double drive_clock_ns(void)
{
    double least = INFINITY;
    for (int i = 0; i < CLOCK_TRIES; i++) {
        double start = drive_now_ns();
        least = lesser(least, drive_now_ns() - start);
    }
    return least;
}

void drive_init(struct drive *drive, const struct show *show, enum drive_wish wish)
{
    *drive = (struct drive){.show = show, .wish = wish, .random = {42 + (uint64_t)wish}, .now_ns = 1000000000};
    drive->rig.position = show->home;
    for (int i = 0; i < HEAD_AXES; i++)
        drive->rig.head[i] = show->policy.head.config.axis[i].home;
    policy_init(&show->policy, &drive->policy);
}

/* Towards a wall or a keep-out anywhere around, or just somewhere. */
static void next_stick(struct drive *drive)
{
    const struct volume *vol = &drive->show->policy.guard.volume;
    struct random *r = &drive->random;
    struct vec3 way = random_direction(r);
    way.z *= 0.5;
    drive->ticks_left = 50 + random_below(r, 250);
    if (drive->wish == DRIVE_PRESS && vol->keepouts > 0 && random_chance(r, 0.7)) {
        const struct shape *shape = &vol->keepout[random_below(r, vol->keepouts)].shape;
        way = vec_sub(shape_nearest(shape, drive->rig.position), drive->rig.position);
    }
    if (drive->wish == DRIVE_PRESS)
        drive->ticks_left = 400 + random_below(r, 1200);
    drive->stick = vec_scale(way, 1 / greater(vec_norm(way), 1e-6));
}

static struct rig_report report_of(struct drive *drive)
{
    struct rig_report report = {.ever = true,
                                .received_ns = drive->now_ns,
                                .seq = ++drive->seq,
                                .position = drive->rig.position,
                                .uncertainty_m = 0.003,
                                .swing_rad = 0.01};
    if (drive->show->policy.locates)
        equip_report(drive->show, &drive->rig, &report);
    return report;
}

static struct policy_input input_of(struct drive *drive)
{
    struct policy_input in = {.now_ns = drive->now_ns, .presence_ns = drive->now_ns, .rig = report_of(drive)};
    in.lanes.operator_holds = true;
    in.lanes.operator_wish = (struct wish){.kind = WISH_VELOCITY, .v = drive->stick};
    in.lanes.audience_scale = 1;
    in.head_wish[HEAD_PAN] = drive->stick.x;
    in.head_wish[HEAD_TILT] = drive->stick.z;
    static const enum stop_event next[STOP_STATE_COUNT] = {
        [STOP_PARKED] = STOP_EVENT_ARM, [STOP_LATCHED] = STOP_EVENT_RESET, [STOP_ARMED] = STOP_EVENT_GO};
    in.stop.event = next[drive->policy.stop.state];
    return in;
}

/* Takes a new velocity up over a few ticks; the head does what it is told. */
static void follow(struct drive *drive, const struct intent *intent)
{
    struct equip_truth *rig = &drive->rig;
    double dt = drive->show->policy.guard.dt_s;
    struct vec3 told = intent->motion ? intent->velocity : (struct vec3){0, 0, 0};
    rig->velocity = vec_along(rig->velocity, vec_sub(told, rig->velocity), 1.0 / LATE);
    rig->position = vec_along(rig->position, rig->velocity, dt);
    for (int i = 0; i < HEAD_AXES; i++)
        rig->head[i] += intent->head_rate[i] * dt;
    rig->time_s += dt;
    drive->now_ns += (uint64_t)(dt * 1e9);
}

static double step_ns(const struct drive *drive, struct policy *policy, const struct policy_input *in,
                      struct policy_output *out)
{
    double start = drive_now_ns();
    policy_step(&drive->show->policy, policy, in, out);
    return drive_now_ns() - start;
}

static void count(struct drive *drive, const struct policy_output *out)
{
    drive->ticks++;
    drive->moving += vec_norm(drive->rig.velocity) > 0.001;
    drive->guarded += (out->reasons & (reason_bit(REASON_KEEPOUT) | reason_bit(REASON_STAGE_EDGE))) != 0;
    drive->refused += !out->intent.motion;
}

void drive_run(struct drive *drive, int ticks, double *took_ns, double *least_ns)
{
    double clock = drive_clock_ns();
    static struct policy again; /* tens of kilobytes */
    struct policy_output out;
    for (int i = 0; i < ticks; i++) {
        if (drive->ticks_left-- <= 0)
            next_stick(drive);
        struct policy_input in = input_of(drive);
        struct policy before = drive->policy;
        took_ns[i] = least_ns[i] = greater(step_ns(drive, &drive->policy, &in, &out) - clock, 0);
        for (int k = 0; k < REPEATS; k++) {
            struct policy_output same;
            again = before;
            least_ns[i] = lesser(least_ns[i], greater(step_ns(drive, &again, &in, &same) - clock, 0));
        }
        follow(drive, &out.intent);
        count(drive, &out);
    }
}
