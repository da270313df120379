/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/bus/reason_text.h"

#include <math.h>
#include <stdio.h>

#include "policy/motion/units.h"

/* All that a sentence may speak of. */
struct about {
    enum reason reason;
    struct reason_detail detail;
    const struct scene *scene;
    const struct show *show;
    const char *zone; /* NULL: none */
};

static const char *name_of(const char names[][SHOW_NAME], int room, int count, int i)
{
    return i >= 0 && i < count && i < room ? names[i] : NULL;
}

const char *reason_text_zone(enum reason r, const struct scene *scene, const struct show *show)
{
    const struct policy_config *policy = &show->policy;
    int i = (unsigned)r < REASON_COUNT ? scene->detail[r].index : -1;
    if (r == REASON_OUT_OF_VOLUME) /* it may be any boundary; the nearest says which */
        return scene->nearest.bound == VOLUME_KEEPOUT ? name_of(show->keepout_name, VOLUME_MAX_KEEPOUTS,
                                                                policy->guard.volume.keepouts, scene->nearest.keepout)
                                                      : NULL;
    switch (reason_index(r)) {
    case REASON_INDEX_KEEPOUT:
        return name_of(show->keepout_name, VOLUME_MAX_KEEPOUTS, policy->guard.volume.keepouts, i);
    case REASON_INDEX_ZONE:
        return name_of(show->slow_name, POLICY_MAX_ZONES, policy->zones, i);
    case REASON_INDEX_VIEW:
        return name_of(show->view_name, VIEW_MAX_SHAPES, policy->view.shapes, i);
    default:
        return NULL;
    }
}

/* "the boom", "cord 3": cords are counted from 1, as people do. */
static void part_words(const struct volume_clearance *c, char words[24])
{
    static const char *const names[] = {[VOLUME_BODY] = "the camera",
                                        [VOLUME_BOOM] = "the boom",
                                        [VOLUME_CORD] = "cord",
                                        [VOLUME_TETHER] = "the tether"};
    if (c->part == VOLUME_CORD)
        snprintf(words, 24, "cord %d", c->cord + 1);
    else
        snprintf(words, 24, "%s", names[c->part]);
}

/* Does the nearest pair of the scene belong to this reason? Only then is it known which part is meant. */
static bool nearest_is_it(const struct about *a)
{
    switch (a->reason) {
    case REASON_KEEPOUT:
    case REASON_SPOTTER_NEEDED:
        return a->scene->nearest.bound == VOLUME_KEEPOUT && a->scene->nearest.keepout == a->detail.index;
    case REASON_STAGE_EDGE:
        return a->scene->nearest.bound == VOLUME_STAGE || a->scene->nearest.bound == VOLUME_FLOOR ||
               a->scene->nearest.bound == VOLUME_CEILING;
    case REASON_SUBJECT_NEAR:
        return a->scene->nearest.bound == VOLUME_SUBJECT;
    default:
        return false;
    }
}

/* The detail is how far the camera can still go that way, and what must remain between; the nearest pair, if it is the
 * same, how near they are now. */
static int distance(const struct about *a, const char *what, char *text)
{
    char part[24], zone[SHOW_NAME + 4] = "";
    if (a->zone)
        snprintf(zone, sizeof zone, " \"%s\"", a->zone);
    if (!nearest_is_it(a))
        return snprintf(text, REASON_TEXT_MAX, "Slowed by %s%s: %.2f m are left that way, and %.2f m must remain.",
                        what, zone, a->detail.value, a->detail.limit);
    part_words(&a->scene->nearest, part);
    return snprintf(text, REASON_TEXT_MAX,
                    "Slowed by %s%s: %.2f m from %s, where %.2f m must remain; %.2f m are left that way.", what, zone,
                    a->scene->nearest.distance_m, part, a->detail.limit, a->detail.value);
}

static int overlap(const struct about *a, char *text)
{
    static const char *const bounds[] = {
        [VOLUME_STAGE] = "the edge of the stage",
        [VOLUME_FLOOR] = "the floor height",
        [VOLUME_CEILING] = "the ceiling in force",
        [VOLUME_KEEPOUT] = "the keep-out",
        [VOLUME_SUBJECT] = "the distance kept from the subject",
        [VOLUME_REACH] = "the edge of the cords' reach",
        [VOLUME_TETHER_END] = "the end of the tether",
    };
    const struct volume_clearance *c = &a->scene->nearest;
    char part[24];
    part_words(c, part);
    part[0] = (char)(part[0] - 'a' + 'A');
    return snprintf(text, REASON_TEXT_MAX,
                    "%s overlaps %s%s%s%s by %.2f m. Only moves that lead away from it are let through.", part,
                    bounds[c->bound], a->zone ? " \"" : "", a->zone ? a->zone : "", a->zone ? "\"" : "",
                    fmax(0, -c->distance_m));
}

static int cord(const struct about *a, char *text)
{
    const struct tension_rig *rig = &a->show->cords.rig;
    int i = a->detail.index;
    bool upper = i >= 0 && i < rig->cords && a->detail.limit > (rig->min_n[i] + rig->max_n[i]) / 2;
    switch (a->reason) {
    case REASON_TENSION_LIMIT:
        return snprintf(text, REASON_TEXT_MAX, "Cord %d near its %s limit: %.1f N of %.1f N.", i + 1,
                        upper ? "upper" : "lower", a->detail.value, a->detail.limit);
    case REASON_CORD_SLACK:
        return snprintf(text, REASON_TEXT_MAX,
                        "Cord %d is slack: %.1f N, and it must pull %.1f N. Nothing takes it up by itself: look at it, "
                        "and at the rig; then reset and go.",
                        i + 1, a->detail.value, a->detail.limit);
    case REASON_CORD_OVERLOAD:
        return snprintf(text, REASON_TEXT_MAX,
                        "Cord %d pulls %.1f N, and may pull %.1f N. Find out what holds the camera; then reset and go.",
                        i + 1, a->detail.value, a->detail.limit);
    default:
        return snprintf(text, REASON_TEXT_MAX,
                        "The length of cord %d is off by %.3f m for good (%.3f m may be): its anchor has moved or its "
                        "winch has slipped. Look at both; then reset and go.",
                        i + 1, a->detail.value, a->detail.limit);
    }
}

static int position(const struct about *a, char *text)
{
    switch (a->reason) {
    case REASON_POSITION_JUMP:
        return snprintf(
            text, REASON_TEXT_MAX,
            "The measured position has jumped %.2f m, and the rig cannot have moved more than %.2f m. Check "
            "the measurement; then reset and go.",
            a->detail.value, a->detail.limit);
    case REASON_POSITION_VAGUE:
        return snprintf(text, REASON_TEXT_MAX,
                        "The rig's position is known to %.2f m, and must be to %.2f m. Check its sensors; then reset "
                        "and go.",
                        a->detail.value, a->detail.limit);
    case REASON_POSITION_FROZEN:
    case REASON_SENSORS_DISAGREE:
        return snprintf(text, REASON_TEXT_MAX, "%s Suspect: %s.", reason_for_desk(a->reason),
                        locate_source_code((enum locate_source)a->detail.index));
    default:
        return snprintf(
            text, REASON_TEXT_MAX,
            "The rig moves at %.2f m/s as it was not told to (%.2f m/s is explained): a brake that slips, a "
            "winch that runs on. Use the hard-wired stop if it goes on.",
            a->detail.value, a->detail.limit);
    }
}

static int speed(const struct about *a, char *text)
{
    switch (a->reason) {
    case REASON_SLOW_ZONE:
        return snprintf(text, REASON_TEXT_MAX,
                        "Slowed by the slow zone%s%s%s: %.2f m/s, where %.2f m/s was wished for.", a->zone ? " \"" : "",
                        a->zone ? a->zone : "", a->zone ? "\"" : "", a->detail.limit, a->detail.value);
    case REASON_LAG_LIMIT:
        return snprintf(text, REASON_TEXT_MAX,
                        "The audience sees the camera late, so it may move at %.2f m/s, where %.2f m/s was wished for.",
                        a->detail.limit, a->detail.value);
    default:
        return snprintf(text, REASON_TEXT_MAX, "The wish was %.2f m/s; %.2f m/s is the limit in force.",
                        a->detail.value, a->detail.limit);
    }
}

/* Length written; 0 where the numbers make no sentence. */
static int sentence(const struct about *a, char *text)
{
    bool numbers = a->detail.value != 0 || a->detail.limit != 0;
    if (a->reason == REASON_OUT_OF_VOLUME)
        return overlap(a, text);
    if (a->reason == REASON_VIEW && a->zone)
        return snprintf(text, REASON_TEXT_MAX, "Held off the view keep-out \"%s\": the picture would touch it.",
                        a->zone);
    if (!numbers)
        return 0;
    switch (a->reason) {
    case REASON_KEEPOUT:
        return distance(a, "the keep-out", text);
    case REASON_STAGE_EDGE:
        return distance(a, "the edge of the stage", text);
    case REASON_SPOTTER_NEEDED:
        return distance(a, "what gives way only while a spotter holds the enabling device", text);
    case REASON_SUBJECT_NEAR:
        return distance(a, "the distance kept from the subject", text);
    case REASON_OUT_OF_REACH:
        return distance(a, "the edge of where every cord stays within its limits", text);
    case REASON_TETHER_END:
        return snprintf(text, REASON_TEXT_MAX,
                        "Slowed by the length of the tether: %.2f m of it are left, and %.2f m must remain.",
                        a->detail.value, a->detail.limit);
    case REASON_TENSION_LIMIT:
    case REASON_CORD_SLACK:
    case REASON_CORD_OVERLOAD:
    case REASON_ANCHOR_MOVED:
        return cord(a, text);
    case REASON_POSITION_JUMP:
    case REASON_POSITION_VAGUE:
    case REASON_POSITION_FROZEN:
    case REASON_SENSORS_DISAGREE:
    case REASON_RIG_ASTRAY:
        return position(a, text);
    case REASON_SLOW_ZONE:
    case REASON_LAG_LIMIT:
    case REASON_SPEED_LIMIT:
        return speed(a, text);
    case REASON_TICK_LATE:
        return snprintf(text, REASON_TEXT_MAX,
                        "This computer missed its own deadline: %.0f ms between two ticks, where %.0f ms is the most. "
                        "Look for load on it; then reset and go.",
                        a->detail.value * 1000, a->detail.limit * 1000);
    case REASON_SWING:
        return snprintf(text, REASON_TEXT_MAX,
                        "The body swings by %.1f degrees, and may by %.1f. Motion is braked until it has settled.",
                        a->detail.value * UNITS_DEG_PER_RAD, a->detail.limit * UNITS_DEG_PER_RAD);
    default:
        return 0;
    }
}

void reason_text_desk(enum reason r, const struct scene *scene, const struct show *show, char text[REASON_TEXT_MAX])
{
    struct about a = {.reason = r, .detail = {.index = -1}, .scene = scene, .show = show};
    a.zone = reason_text_zone(r, scene, show);
    if ((unsigned)r < REASON_COUNT)
        a.detail = scene->detail[r];
    if (sentence(&a, text) == 0)
        snprintf(text, REASON_TEXT_MAX, "%s", reason_for_desk(r));
}
