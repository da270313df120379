/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the cords may carry, and whether they can do so at home. Elsewhere: the reach (reach.h). */
#include <math.h>

#include "gateway/show/check.h"
#include "gateway/show/fill_rig.h"
#include "gateway/show/plan.h"

static void order(const struct layout_cords *c, struct faults *faults)
{
    if (c->max_n <= c->min_n)
        faults_error(faults, "/rig/cords/max_n",
                     "expected more than min_n (%g N), found %g N. Hint: below min_n a cord counts as slack, above "
                     "max_n as overloaded.",
                     c->min_n, c->max_n);
    if (c->rated_n <= c->max_n)
        faults_error(faults, "/rig/cords/rated_n",
                     "expected more than max_n (%g N), found %g N. Hint: software stops the rig at max_n; that must be "
                     "well below what the weakest part is rated for.",
                     c->max_n, c->rated_n);
    if (c->min_n == 0)
        faults_warn(faults, "/rig/cords/min_n",
                    "a cord that pulls nothing counts as taut: a slack cord swings, and may catch on things. Say how "
                    "much each must pull at least.");
    if (c->body_kg > c->mass_kg)
        faults_error(faults, "/rig/cords/body_kg",
                     "expected at most mass_kg (%g kg), found %g kg. Hint: mass_kg is all that hangs, body_kg what of "
                     "it swings on the boom.",
                     c->mass_kg, c->body_kg);
}

static void against_rig(const struct layout_draft *d, struct faults *faults)
{
    const struct layout_cords *c = &d->cords;
    const struct show_sim *sim = &d->show.sim;
    double brake = d->show.policy.guard.brake_mps2, weighs = sim->platform_kg + sim->body_kg;
    if (c->reserve_mps2 < brake)
        faults_error(faults, "/rig/cords/reserve_mps2",
                     "expected at least the braking (/rig/brake_mps2, %g m/s2), found %g m/s2. Hint: wherever the "
                     "camera may be, its cords must be able to brake it.",
                     brake, c->reserve_mps2);
    if (sim->enabled && fabs(c->mass_kg - weighs) > 0.02 * weighs)
        faults_error(faults, "/rig/cords/mass_kg",
                     "expected what the simulated rig weighs (platform_kg and body_kg, %g kg), found %g kg. Hint: all "
                     "that hangs counts, battery and cable included.",
                     weighs, c->mass_kg);
    if (d->sensors.given && !d->sensors.of[SHOW_TENSION].given)
        faults_warn(faults, "/rig/sensors",
                    "nothing measures how hard the cords pull: a cord that goes slack, or is caught, is not seen.");
}

/* All anchors on one line, seen from above: told elsewhere. */
static bool on_a_line(const struct layout_draft *d)
{
    struct plan_point anchors[VOLUME_MAX_CORDS], hull[VOLUME_MAX_CORDS];
    for (uint32_t i = 0; i < d->anchors; i++)
        anchors[i] = (struct plan_point){d->anchor[i].x, d->anchor[i].y};
    return d->anchors >= 3 && plan_hull(anchors, (int)d->anchors, hull) < 3;
}

/* Which cord gives out first at home, and how. */
static void home_holds(const struct layout_draft *d, struct faults *faults)
{
    struct show_cords cords;
    struct tension_state t;
    fill_rig_cords(d, &cords);
    if (!tension_rig_valid(&cords.rig) || !vec_finite(d->show.home) || !(cords.reserve_mps2 > 0) || on_a_line(d))
        return;
    tension_solve(&cords.rig, d->show.home, (struct vec3){0, 0, 0}, &t);
    double reserve = t.reserve_n / cords.rig.mass_kg;
    if (d->anchors < 3)
        faults_error(faults, "/room/home_m",
                     "expected a place where the cords hold the camera against a push from any side, found that %u "
                     "cords balance it only straight below them. Hint: it takes three at least, better four.",
                     d->anchors);
    else if (!t.feasible)
        faults_error(faults, "/room/home_m",
                     "expected a place where the cords can hold %g kg, each between %g N and %g N, found cord %d (from "
                     "1) %.3g N %s. Hint: lower home_m, or look at /rig/cords.",
                     cords.rig.mass_kg, d->cords.min_n, d->cords.max_n, t.cord + 1, fabs(t.margin_n),
                     t.at_max ? "too much loaded" : "too slack");
    else if (reserve < cords.reserve_mps2)
        faults_error(faults, "/room/home_m",
                     "expected a place where the cords have reserve for %g m/s2 in any direction (reserve_mps2), found "
                     "%.3g m/s2, as cord %d (from 1) is near its %s limit. Hint: steep cords go slack and flat ones "
                     "pull hard; move home_m down, or to the middle.",
                     cords.reserve_mps2, reserve, t.cord + 1, t.at_max ? "upper" : "lower");
}

void check_cords(const struct layout_draft *draft, struct faults *faults)
{
    if (!draft->cords.given) {
        if (draft->anchors > 0) /* else there is a fault already, and perhaps no rig at all */
            faults_warn(faults, "/rig",
                        "the file does not say what the cords may carry, so a cord that goes slack or is overloaded is "
                        "not seen, and places that they cannot hold are not kept out of. Add \"cords\".");
        return;
    }
    order(&draft->cords, faults);
    against_rig(draft, faults);
    home_holds(draft, faults);
}
