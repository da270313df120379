/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/sense.h"

/* Near enough to normal, quick, and never beyond 3.5 sigma: the sum of four that are uniform (Irwin and Hall 1927). */
static double noise(struct random *r, double sigma)
{
    uint64_t bits = random_bits(r);
    double sum =
        (double)(bits & 0xffff) + (double)(bits >> 16 & 0xffff) + (double)(bits >> 32 & 0xffff) + (double)(bits >> 48);
    return sigma * 1.7320508075688772 * (sum / 65535 - 2);
}

static struct vec3 shaken(struct random *r, struct vec3 v, double sigma)
{
    struct vec3 e = {noise(r, sigma), noise(r, sigma), noise(r, sigma)};
    return vec_add(v, e);
}

/* The rig's own controller looks at its sensors too. */
static void watch(struct machine *m, const struct scene *s, struct vec3 position)
{
    struct sim_sensed sensed = {.position = position, .velocity = m->physics.velocity};
    for (int i = 0; i < s->physics.cords; i++) {
        sensed.length_m[i] = m->physics.length_m[i];
        sensed.tension_n[i] = m->physics.tension_n[i];
    }
    sim_controller_sense(&s->controller, &m->controller, &sensed);
}

static void spoil(struct rig_report *report, const struct scene *s, struct random *r)
{
    static const double bad[] = {(double)NAN, (double)INFINITY, -1, -(double)INFINITY, 1e9};
    double value = bad[random_below(r, sizeof bad / sizeof *bad)];
    int which = (int)(s->trouble.size * 3);
    if (which == 0)
        report->position.y = value == -1 ? (double)NAN : value;
    else
        *(which == 1 ? &report->uncertainty_m : &report->swing_rad) = value;
}

static void go_wrong(struct post_news *news, struct sense *sense, const struct scene *s, struct random *r)
{
    switch (s->trouble.fault) {
    case FAULT_FROZEN_SEQ:
        *news = sense->last;
        break;
    case FAULT_NOT_A_NUMBER:
        spoil(&news->report, s, r);
        break;
    case FAULT_JUMP:
        news->report.position = vec_along(news->report.position, s->trouble.way, 3 + 6 * s->trouble.size);
        break;
    default:
        break;
    }
}

struct post_news sense_read(struct sense *sense, struct machine *m, const struct scene *s, uint64_t now_ns, bool active,
                            struct random *r)
{
    struct vec3 position = shaken(r, vec_add(m->physics.position, s->sense.bias), s->sense.sigma_m);
    if (s->trouble.watched)
        watch(m, s, position);
    struct post_news news = {
        .report =
            {
                .ever = true,
                .seq = ++sense->seq,
                .position = position,
                .uncertainty_m = s->sense.uncertainty_m,
                .swing_rad = fabs(sim_physics_swing(&s->physics, &m->physics) + noise(r, s->sense.sigma_rad)),
                .fault = m->controller.fault || m->controller.lapsed || m->flagged,
            },
        .rig_ns = now_ns,
        .stop_count = m->controller.session.stop_count,
    };
    if (active)
        go_wrong(&news, sense, s, r);
    sense->last = news;
    return news;
}
