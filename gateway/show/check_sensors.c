/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/check_sensors.h"

#include <math.h>

enum { TICKS = 100, TICK_NS = 10000000 };

/* What perfect sensors report at home. */
static void read_home(const struct show *show, struct locate_report *r)
{
    const struct locate_config *cfg = &show->policy.locate;
    struct tension_state t;
    for (int i = 0; i < LOCATE_SOURCES; i++) {
        r->sources |= show->sensor[i].there ? locate_bit((unsigned)i) : 0;
        r->quality[i] = (struct locate_quality){show->sensor[i].sigma, show->sensor[i].age_s};
    }
    r->position = show->home;
    r->tension_share = show->sensor[SHOW_TENSION].share;
    r->range_m = fmax(0, show->home.z - cfg->boom_m - cfg->floor_m);
    tension_solve(&show->cords.rig, show->home, (struct vec3){0, 0, 0}, &t);
    if (!t.feasible) /* told elsewhere */
        r->sources &= ~locate_bit(LOCATE_TENSION);
    for (int i = 0; i < cfg->cords; i++) {
        r->length_m[i] = vec_norm(vec_sub(cfg->anchor[i], show->home));
        r->tension_n[i] = t.middle_n[i];
    }
}

/* The last bits of a living sensor are never quite still, or it would count as frozen. */
static void tremble(struct locate_report *r, int tick, const struct vec3 *home)
{
    double little = 1e-9 * (tick % 7);
    r->position.x = home->x + little;
    for (int i = 0; i < VOLUME_MAX_CORDS; i++) {
        r->length_m[i] += tick % 2 ? 1e-9 : -1e-9;
        r->tension_n[i] += tick % 2 ? 1e-9 : -1e-9;
    }
    r->range_m += tick % 2 ? 1e-9 : -1e-9;
}

double check_sensors_uncertainty(const struct show *show)
{
    struct locate locate;
    struct locate_report r = {0};
    struct locate_output out = {.uncertainty_m = SHAPE_FAR_M};
    if (!show->policy.locates)
        return show->sim.enabled ? 3 * show->sim.noise_m : 0;
    if (!locate_config_valid(&show->policy.locate))
        return 0; /* a number that has an error of its own */
    locate_init(&locate);
    read_home(show, &r);
    for (int tick = 1; tick <= TICKS; tick++) {
        uint64_t now_ns = (uint64_t)tick * TICK_NS;
        r.received_ns = now_ns;
        r.seq++;
        tremble(&r, tick, &show->home);
        locate_step(&show->policy.locate, &locate, now_ns, &r, (struct vec3){0, 0, 0}, &out);
    }
    return out.uncertainty_m;
}

void check_sensors(const struct show *show, struct faults *faults)
{
    double uncertainty = check_sensors_uncertainty(show), most = show->policy.locate.uncertainty_max_m;
    bool placed = show->sensor[SHOW_POSE].there || show->sensor[SHOW_LENGTH].there || show->sensor[SHOW_TENSION].there;
    if (show->policy.locates && !placed) /* told elsewhere */
        return;
    if (show->policy.locates && uncertainty > most)
        faults_error(faults, "/rig/sensors",
                     "expected to know where the camera is to %g m (uncertainty_max_m), found that these tell it to "
                     "%.3g m at home. Hint: a position or the cords' lengths tell it far better than their pulls.",
                     most, uncertainty);
    else if (uncertainty > show->policy.guard.margin_m)
        faults_error(faults, "/limits/margin_m",
                     "expected at least what the camera's place is uncertain by (%.3g m at home, from /rig/sensors), "
                     "found %g m. Hint: where the camera has come too near to something, the margin is all that is "
                     "left of the distance.",
                     uncertainty, show->policy.guard.margin_m);
}
