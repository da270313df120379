/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the desk reads of each reason, word for word, from its numbers. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "gateway/bus/reason_text.h"

static struct show show;
static struct scene scene;

static void begin(void)
{
    show.policy.guard.volume.keepouts = show.policy.zones = show.policy.view.shapes = 1;
    snprintf(show.keepout_name[0], SHOW_NAME, "signal box");
    snprintf(show.slow_name[0], SHOW_NAME, "station");
    snprintf(show.view_name[0], SHOW_NAME, "window");
    show.cords.rig.cords = 4;
    for (int i = 0; i < 4; i++) {
        show.cords.rig.min_n[i] = 4;
        show.cords.rig.max_n[i] = 80;
    }
    memset(&scene, 0, sizeof scene);
}

TestSuite(reason_text, .init = begin);

static void expect(enum reason r, double value, double limit, int index, const char *says)
{
    char text[REASON_TEXT_MAX];
    scene.detail[r] = (struct reason_detail){value, limit, index};
    reason_text_desk(r, &scene, &show, text);
    cr_expect_str_eq(text, says, "%s: %s", reason_code(r), text);
}

Test(reason_text, distances_name_zone_and_part)
{
    scene.nearest =
        (struct volume_clearance){.distance_m = 0.21, .part = VOLUME_BOOM, .bound = VOLUME_KEEPOUT, .keepout = 0};
    expect(
        REASON_KEEPOUT, 0.07, 0.14, 0,
        "Slowed by the keep-out \"signal box\": 0.21 m from the boom, where 0.14 m must remain; 0.07 m are left that "
        "way.");
    scene.nearest.part = VOLUME_CORD;
    scene.nearest.cord = 2;
    expect(REASON_KEEPOUT, 0, 0.14, 0,
           "Slowed by the keep-out \"signal box\": 0.21 m from cord 3, where 0.14 m must remain; 0.00 m are left that "
           "way.");
    expect(
        REASON_SPOTTER_NEEDED, 0.1, 0.14, 0,
        "Slowed by what gives way only while a spotter holds the enabling device \"signal box\": 0.21 m from cord 3, "
        "where 0.14 m must remain; 0.10 m are left that way.");
    cr_expect_eq(reason_index(REASON_SPOTTER_NEEDED), REASON_INDEX_KEEPOUT, "which one goes over the bus");
    scene.nearest.keepout = 5; /* something else is nearer: what is known is how far it can go */
    expect(REASON_KEEPOUT, 0.3, 0.14, 0,
           "Slowed by the keep-out \"signal box\": 0.30 m are left that way, and 0.14 m must remain.");
    expect(REASON_OUT_OF_REACH, 0.05, 0.2, -1,
           "Slowed by the edge of where every cord stays within its limits: 0.05 m are left that way, and 0.20 m must "
           "remain.");
    expect(REASON_TETHER_END, 0.4, 0.2, -1,
           "Slowed by the length of the tether: 0.40 m of it are left, and 0.20 m must remain.");
}

Test(reason_text, overlaps_say_with_what_and_how_deep)
{
    scene.nearest =
        (struct volume_clearance){.distance_m = -0.031, .part = VOLUME_BODY, .bound = VOLUME_KEEPOUT, .keepout = 0};
    expect(REASON_OUT_OF_VOLUME, 0, 0, -1,
           "The camera overlaps the keep-out \"signal box\" by 0.03 m. Only moves that lead away from it are let "
           "through.");
    scene.nearest = (struct volume_clearance){.distance_m = -INFINITY, .part = VOLUME_BOOM, .bound = VOLUME_STAGE};
    char text[REASON_TEXT_MAX];
    reason_text_desk(REASON_OUT_OF_VOLUME, &scene, &show, text);
    cr_expect(strstr(text, "The boom overlaps the edge of the stage by"), "%s", text);
}

Test(reason_text, cords_count_from_one)
{
    expect(REASON_TENSION_LIMIT, 4.1, 4, 2, "Cord 3 near its lower limit: 4.1 N of 4.0 N.");
    expect(REASON_TENSION_LIMIT, 79.2, 80, 0, "Cord 1 near its upper limit: 79.2 N of 80.0 N.");
    expect(REASON_CORD_SLACK, 0.4, 4, 3,
           "Cord 4 is slack: 0.4 N, and it must pull 4.0 N. Nothing takes it up by itself: look at it, and at the rig; "
           "then reset and go.");
    expect(REASON_CORD_OVERLOAD, 91, 80, 1,
           "Cord 2 pulls 91.0 N, and may pull 80.0 N. Find out what holds the camera; then reset and go.");
    expect(REASON_ANCHOR_MOVED, 0.05, 0.01, 0,
           "The length of cord 1 is off by 0.050 m for good (0.010 m may be): its anchor has moved or its winch has "
           "slipped. Look at both; then reset and go.");
}

Test(reason_text, speeds)
{
    expect(REASON_SLOW_ZONE, 0.2, 0.12, 0,
           "Slowed by the slow zone \"station\": 0.12 m/s, where 0.20 m/s was wished for.");
    expect(REASON_SPEED_LIMIT, 0.5, 0.4, -1, "The wish was 0.50 m/s; 0.40 m/s is the limit in force.");
    expect(REASON_LAG_LIMIT, 0.2, 0.05, -1,
           "The audience sees the camera late, so it may move at 0.05 m/s, where 0.20 m/s was wished for.");
    expect(REASON_SWING, 0.25, 0.2094395, -1,
           "The body swings by 14.3 degrees, and may by 12.0. Motion is braked until it has settled.");
    expect(REASON_TICK_LATE, 0.0634, 0.05, -1,
           "This computer missed its own deadline: 63 ms between two ticks, where 50 ms is the most. Look for load on "
           "it; then reset and go.");
    expect(REASON_VIEW, 0, 0, 0, "Held off the view keep-out \"window\": the picture would touch it.");
}

Test(reason_text, without_numbers_it_is_the_general_sentence)
{
    for (int r = 0; r < REASON_COUNT; r++)
        if (r != REASON_OUT_OF_VOLUME)
            expect((enum reason)r, 0, 0, -1, reason_for_desk((enum reason)r));
    expect(REASON_RIG_LOST, 3, 4, -1, reason_for_desk(REASON_RIG_LOST));
}

/* Whatever a detail holds, the text is one, and the zone is one of the show's or none. */
Test(reason_text, any_numbers_stay_within_the_text)
{
    static const double odd[] = {NAN, INFINITY, -INFINITY, 1e300, -1e300, 1e-300, -0.0, 3};
    static const int index[] = {-1, 0, 1, 63, 64, 1000000, -1000000};
    char text[REASON_TEXT_MAX];
    for (int r = 0; r < REASON_COUNT; r++)
        for (size_t k = 0; k < 8 * 7; k++) {
            scene.detail[r] = (struct reason_detail){odd[k % 8], odd[(k + 3) % 8], index[k / 8]};
            scene.nearest.distance_m = odd[k % 8];
            reason_text_desk((enum reason)r, &scene, &show, text);
            cr_assert_lt(strnlen(text, sizeof text), sizeof text);
            const char *zone = reason_text_zone((enum reason)r, &scene, &show);
            cr_assert(!zone || strcmp(zone, "signal box") == 0 || strcmp(zone, "station") == 0 ||
                      strcmp(zone, "window") == 0);
        }
    reason_text_desk((enum reason)99, &scene, &show, text);
    cr_assert_str_eq(text, reason_for_desk((enum reason)99));
}
