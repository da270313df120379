/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The machine's parts, each by itself and against the others: tether, swing, head, sensors. */
#include <math.h>

#include "gateway/show/check.h"
#include "gateway/show/fill_rig.h"
#include "gateway/show/place.h"
#include "policy/motion/units.h"

static void tether(const struct layout_draft *d, struct faults *faults)
{
    const struct layout_tether *t = &d->tether;
    struct vec3 end = d->show.home;
    end.z -= d->boom_m;
    double reaches = vec_norm(vec_sub(t->anchor, end)) + d->show.policy.guard.margin_m;
    if (t->given && reaches > t->length_m)
        faults_error(
            faults, "/rig/tether/length_m",
            "expected a cable that reaches the camera at home (%.4g m with margin_m), found %g m. Hint: it runs "
            "from its anchor to the lower end of the boom.",
            reaches, t->length_m);
}

/* Pushes at the swing's own time add up, and the margin counts one. */
static void swing_seen(const struct layout_draft *d, struct faults *faults)
{
    bool shaped = d->swing.given && d->swing.shaper != SWING_SHAPER_NONE;
    if (d->boom_m > 0 && !shaped && !d->sensors.of[SHOW_TILT].given)
        faults_warn(faults, "/rig",
                    "nothing keeps the body from swinging up under a stick that rocks it, and nothing here measures "
                    "that. Add \"swing\" with a shaper, or \"tilt\" to the sensors, unless the rig tells its swing.");
}

static void swing(const struct layout_draft *d, struct faults *faults)
{
    struct swing_config cfg;
    struct swing_plan plan;
    swing_seen(d, faults);
    if (!d->swing.given)
        return;
    fill_rig_swing(d, &cfg);
    bool there = cfg.shaper == SWING_SHAPER_NONE ||
                 (!isnan(cfg.mode.omega_radps) && !isnan(cfg.mode.damping) && !isnan(cfg.share));
    if (there && swing_make_plan(&cfg, &plan) != SWING_OK)
        faults_error(faults, "/rig/swing", "expected a swing that can be shaped, found one that cannot. Hint: %s",
                     swing_fault_text(swing_make_plan(&cfg, &plan)));
}

static void axis(const struct layout_axis *a, const char *name, const char *unit, double per, struct faults *faults)
{
    char at[PLACE_POINTER];
    if (!a->given)
        return;
    snprintf(at, sizeof at, "/rig/head/%s/home%s", name, unit);
    if (a->max < a->min) {
        snprintf(at, sizeof at, "/rig/head/%s/max%s", name, unit);
        faults_error(faults, at,
                     "expected no less than the least (%g), found %g. Hint: an axis that is not there is "
                     "left out.",
                     a->min * per, a->max * per);
    } else if (a->home < a->min || a->home > a->max)
        faults_error(
            faults, at,
            "expected a home within the limits (%g to %g), found %g. Hint: home is where the head goes by itself.",
            a->min * per, a->max * per, a->home * per);
}

static void region(const double deg[2], uint32_t i, const char *key, struct faults *faults)
{
    char at[PLACE_POINTER];
    snprintf(at, sizeof at, "/rig/head/regions/%u/%s/1", i, key);
    if (deg[1] <= deg[0])
        faults_error(faults, at,
                     "expected an angle greater than that before it (%g deg), found %g deg. Hint: from where to where "
                     "it vibrates.",
                     deg[0], deg[1]);
}

static void regions(const struct layout_head *h, struct faults *faults)
{
    char at[PLACE_POINTER];
    for (uint32_t i = 0; i < h->regions; i++) {
        const struct layout_region *r = &h->region[i];
        region(r->pan_deg, i, "pan_deg", faults);
        region(r->tilt_deg, i, "tilt_deg", faults);
        region(r->roll_deg, i, "roll_deg", faults);
        snprintf(at, sizeof at, "/rig/head/regions/%u", i);
        if (isnan(r->pan_deg[0]) && isnan(r->tilt_deg[0]) && isnan(r->roll_deg[0]))
            faults_error(faults, at,
                         "expected the angles of at least one axis, found none. Hint: as it stands the head would "
                         "vibrate everywhere.");
    }
}

static void head(const struct layout_draft *d, struct faults *faults)
{
    const struct layout_head *h = &d->head;
    struct layout_axis zoom = h->zoom;
    struct head_config cfg;
    int errors = faults->errors;
    if (!h->given)
        return;
    zoom.min = 1;
    axis(&h->pan, "pan", "_deg", UNITS_DEG_PER_RAD, faults);
    axis(&h->tilt, "tilt", "_deg", UNITS_DEG_PER_RAD, faults);
    axis(&h->roll, "roll", "_deg", UNITS_DEG_PER_RAD, faults);
    axis(&zoom, "zoom", "", 1, faults);
    regions(h, faults);
    if (errors > 0 || faults->errors > errors)
        return; /* a head that has faults is not fit to be looked at as a whole */
    fill_rig_head(d, &cfg);
    if (!head_config_valid(&cfg))
        faults_error(faults, "/rig/head",
                     "expected a head whose home is clear of its regions by clear_deg, and whose axes can stop, found "
                     "one where that is not so. Hint: move home_deg or the regions, or make accel and jerk greater.");
}

static void needs(bool needed, const struct layout_draft *d, enum show_source source, const char *key, const char *what,
                  struct faults *faults)
{
    if (needed && d->sensors.given && !d->sensors.of[source].given)
        faults_error(faults, "/rig/sensors", "expected \"%s\", as %s, found none. Hint: add it, with how good it is.",
                     key, what);
}

static void sensors(const struct layout_draft *d, struct faults *faults)
{
    const struct layout_sensor *of = d->sensors.of;
    if (d->sensors.given && !of[SHOW_POSE].given && !of[SHOW_LENGTH].given && !of[SHOW_TENSION].given)
        faults_error(faults, "/rig/sensors",
                     "expected at least one of pose, length and tension, found none. Hint: without one of them nothing "
                     "says where the camera is.");
    needs(d->yaw == VOLUME_YAW_REPORTED && d->limbs > 0, d, SHOW_YAW, "yaw", "/rig/yaw is \"reported\"", faults);
    needs(d->head.given, d, SHOW_HEAD, "head", "/rig/head must know where it stands", faults);
    needs(d->subject.given, d, SHOW_SUBJECT, "subject", "/room/subject is where it is reported to be", faults);
    if (d->yaw == VOLUME_YAW_PAN && !d->head.pan.given)
        faults_error(
            faults, "/rig/yaw",
            "expected a head that pans, as the limbs turn with it, found none. Hint: add /rig/head/pan, or say "
            "\"fixed\" or \"unknown\".");
    if (of[SHOW_TENSION].given && !d->cords.given)
        faults_error(faults, "/rig/sensors/tension",
                     "expected /rig/cords beside it, found none. Hint: a pull says something only where it is known "
                     "what hangs on the cords.");
}

void check_rig(const struct layout_draft *draft, struct faults *faults)
{
    tether(draft, faults);
    swing(draft, faults);
    sensors(draft, faults);
    head(draft, faults);
}
