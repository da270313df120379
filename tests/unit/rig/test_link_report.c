/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "gateway/rig/link_report.h"
#include "tests/unit/rig/rig_bench.h"
#include "tests/unit/rig/wire_bench.h"

static struct show_sensor sensor[SHOW_SOURCES];

/* Everything is there, as good as the number says. */
static void all_there(void)
{
    for (int i = 0; i < SHOW_SOURCES; i++)
        sensor[i] = (struct show_sensor){true, 0.01 * (i + 1), 0, 0.001 * (i + 1), 0.1 * (i + 1)};
    sensor[SHOW_TENSION].share = 0.02;
}

static struct rig_report report_of(const struct wire_telemetry *t)
{
    struct rig_report r;
    memset(&r, 0x5a, sizeof r);
    link_report_fill(sensor, t, 7 * SECOND, 12, &r);
    return r;
}

Test(link_report, every_reading_comes_through)
{
    struct wire_telemetry t = wire_bench_telemetry();
    all_there();
    struct rig_report r = report_of(&t);
    cr_assert(r.ever && r.received_ns == 7 * SECOND && r.seq == 12);
    cr_assert(r.position.x == 1.25 && r.position.z == 3.25);
    cr_assert_eq(r.swing_rad, (double)0.01f);
    cr_assert(r.fault); /* it has lapsed */
    cr_assert(r.where.received_ns == 7 * SECOND && r.where.seq == 12);
    cr_assert_eq(r.where.sources, (1u << LOCATE_SOURCES) - 1);
    cr_assert(r.where.position.y == 2.25 && r.where.length_m[3] == 6.5 && r.where.tension_n[0] == 20);
    cr_assert(r.where.range_m == 1.5 && r.where.tilt_x_rad == (double)-0.02f && r.where.tilt_y_rad == (double)0.03f);
    cr_assert(r.yaw_known && r.yaw_rad == -3);
    cr_assert(r.head_known && r.head[HEAD_PAN] == 0.5 && r.head[HEAD_ZOOM] == -2.5);
    cr_assert(r.subject_known && r.subject.x == 2.5 && r.subject.z == 0.5);
}

Test(link_report, qualities_are_the_shows_and_the_rig_may_only_say_worse)
{
    struct wire_telemetry t = wire_bench_telemetry();
    all_there();
    struct rig_report r = report_of(&t);
    for (int i = 0; i < LOCATE_SOURCES; i++) {
        cr_assert_eq(r.where.quality[i].sigma, sensor[i].sigma);
        cr_assert_eq(r.where.quality[i].age_s, sensor[i].age_s);
    }
    cr_assert_eq(r.where.tension_share, 0.02);
    cr_assert_float_eq(r.uncertainty_m, 3 * 0.01 + 0.001, 1e-12);
    cr_assert_float_eq(r.yaw_off_rad, 3 * sensor[SHOW_YAW].sigma + sensor[SHOW_YAW].bias, 1e-12);
    cr_assert_float_eq(r.head_off, 3 * sensor[SHOW_HEAD].sigma + sensor[SHOW_HEAD].bias, 1e-12);
    cr_assert_eq(r.subject_age_s, sensor[SHOW_SUBJECT].age_s);
    t.uncertainty_m = 0.3f;
    t.yaw_off_rad = 1.5f;
    t.subject_age_s = 2;
    r = report_of(&t);
    cr_assert_float_eq(r.where.quality[LOCATE_POSE].sigma, 0.1, 1e-6);
    cr_assert_eq(r.uncertainty_m, (double)0.3f);
    cr_assert_eq(r.yaw_off_rad, 1.5);
    cr_assert_eq(r.subject_age_s, 2);
}

/* One by one: not said by the rig, and not in the show. */
Test(link_report, only_what_both_the_rig_and_the_show_have_is_believed)
{
    for (int source = 0; source < SHOW_SOURCES; source++) {
        for (int who = 0; who < 2; who++) {
            struct wire_telemetry t = wire_bench_telemetry();
            all_there();
            if (who == 0)
                t.sources &= (uint16_t) ~(1u << source);
            else
                sensor[source].there = false;
            struct rig_report r = report_of(&t);
            cr_assert_eq(r.where.sources, ((1u << LOCATE_SOURCES) - 1) & ~(1u << source), "%d", source);
            cr_assert_eq(isnan(r.position.x), source == SHOW_POSE);
            cr_assert_eq(r.yaw_known, source != SHOW_YAW);
            cr_assert_eq(r.head_known, source != SHOW_HEAD);
            cr_assert_eq(r.subject_known, source != SHOW_SUBJECT);
        }
    }
}

Test(link_report, cords_the_rig_does_not_speak_of_are_no_readings)
{
    struct wire_telemetry t = wire_bench_telemetry();
    all_there();
    struct rig_report r = report_of(&t);
    for (int i = 0; i < VOLUME_MAX_CORDS; i++)
        cr_assert(isnan(r.where.length_m[i]) == (i >= t.cords) && isnan(r.where.tension_n[i]) == (i >= t.cords));
}

Test(link_report, of_nothing_received_nothing_is_known)
{
    static const struct wire_telemetry nothing;
    struct rig_report r;
    all_there();
    link_report_fill(sensor, &nothing, 0, 0, &r);
    cr_assert(!r.ever && r.where.sources == 0 && !r.yaw_known && !r.head_known && !r.subject_known && !r.fault);
}

Test(clock, what_took_longer_than_the_quickest_is_that_much_older)
{
    struct link_report_clock c = {.known = false};
    const uint64_t ahead = 900 * SECOND; /* the rig's clock */
    uint64_t now = 5 * SECOND;
    cr_assert_eq(link_report_measured(&c, now + ahead, now + 20 * MS, true), now + 20 * MS); /* nothing to compare */
    now += 10 * MS;
    cr_assert_eq(link_report_measured(&c, now + ahead, now + 70 * MS, false) / 100000, (now + 20 * MS) / 100000);
    now += 100 * MS;
    cr_assert_eq(link_report_measured(&c, now + ahead, now + 5 * MS, false), now + 5 * MS); /* quicker than ever */
    now += 10 * MS;
    uint64_t measured = link_report_measured(&c, now + ahead, now + 300 * MS, false);
    cr_assert(measured >= now + 5 * MS && measured < now + 6 * MS);
}

/* 300 ms more, for good: seen at once, and for minutes; two clocks that drift apart by 100 ppm are not taken for that.
 */
Test(clock, a_delay_that_stays_is_seen_and_drift_is_not_one)
{
    struct link_report_clock c = {.known = false};
    uint64_t rig = SECOND, late = 0;
    for (int tick = 0; tick < 360000; tick++, rig += 10 * MS) { /* an hour */
        uint64_t now = rig + rig / 10000 + 20 * MS;
        late = now - link_report_measured(&c, rig, now, tick == 0);
        cr_assert_leq(late, MS, "%d", tick);
    }
    for (int tick = 0; tick < 6000; tick++, rig += 10 * MS) {
        uint64_t now = rig + rig / 10000 + 320 * MS;
        late = now - link_report_measured(&c, rig, now, false);
        cr_assert(late > 280 * MS && late <= 300 * MS, "%g", (double)late);
    }
}

Test(clock, a_new_session_forgets_only_another_clock)
{
    struct link_report_clock c = {.known = false};
    uint64_t now = 100 * SECOND;
    link_report_measured(&c, 50 * SECOND, now, true);
    now += SECOND; /* the same rig, and the network queues now */
    cr_assert_lt(link_report_measured(&c, 51 * SECOND - 300 * MS, now, true), now - 299 * MS);
    now += SECOND; /* started anew */
    cr_assert_eq(link_report_measured(&c, 3 * SECOND, now, true), now);
    now += 20 * SECOND; /* again, and it took longer to start than it had run before */
    cr_assert_eq(link_report_measured(&c, 4 * SECOND, now, true), now);
    now += SECOND; /* within a session a clock that goes back only looks old */
    cr_assert_lt(link_report_measured(&c, 2 * SECOND, now, false), now);
}

/* In the order of the rig's readings what was measured later never seems earlier; whatever is said, it is not ahead. */
Test(clock, never_goes_back_and_is_never_ahead_of_us)
{
    struct link_report_clock c = {.known = false};
    struct sim_noise noise = {3};
    uint64_t rig = SECOND, now = SECOND, last = 0;
    for (int i = 0; i < 2000; i++) {
        rig += 10 * MS;
        uint64_t came = rig + sim_noise_next(&noise) % (400 * MS);
        now = came > now ? came : now;
        uint64_t measured = link_report_measured(&c, rig, now, i == 0);
        cr_assert(measured <= now && measured >= last);
        last = measured;
    }
    const uint64_t odd[] = {0, UINT64_MAX, (uint64_t)1 << 63, ((uint64_t)1 << 63) - 1, 1, UINT64_MAX - 1};
    for (size_t i = 0; i < 36; i++) {
        uint64_t measured = link_report_measured(&c, odd[i % 6], odd[i / 6], i % 5 == 0);
        (void)measured; /* no overflow is what counts: the sanitizers look on */
    }
}
