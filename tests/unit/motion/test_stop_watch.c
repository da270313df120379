/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/stop_watch.h"

#include <criterion/criterion.h>

enum { MS = 1000000 };

static const struct stop_watch_config cfg = {.confirm_ns = 500u * MS, .standstill_ns = 3000ull * MS};

/* A watch, and what it is told every ten milliseconds. */
struct stand {
    struct stop_watch w;
    struct stop stop;
    struct stop_watch_input in;
    uint64_t late_ns;
};

static struct stand begin(void)
{
    struct stand s = {.in = {.now_ns = 1000ull * MS, .heard = 1, .at_rest = false}};
    stop_watch_init(&s.w);
    stop_init(&s.stop);
    s.stop.state = STOP_LATCHED;
    s.stop.count = 2;
    return s;
}

/* Milliseconds until it complains, or `most`. */
static int until(struct stand *s, int most)
{
    int ms = 0;
    do {
        s->late_ns = stop_watch_step(&cfg, &s->w, &s->stop, &s->in);
        s->in.now_ns += 10u * MS;
        ms += 10;
    } while (s->late_ns == 0 && ms < most);
    return ms;
}

Test(stop_watch, waits_for_the_count_to_be_heard)
{
    struct stand s = begin();
    s.in.at_rest = true;
    int ms = until(&s, 9000);
    cr_assert(ms > 500 && ms < 550, "%d ms", ms);
    cr_assert_geq(s.late_ns, cfg.confirm_ns);
    s.in.heard = 2;
    cr_assert_eq(until(&s, 9000), 9000, "and is content once it was");
}

Test(stop_watch, waits_for_standstill)
{
    struct stand s = begin();
    s.in.heard = 2;
    int ms = until(&s, 9000);
    cr_assert(ms > 3000 && ms < 3050, "%d ms", ms);
    s.in.at_rest = true;
    cr_assert_eq(until(&s, 9000), 9000);
    s.in.at_rest = false;
    ms = until(&s, 9000);
    cr_assert(ms > 3000 && ms < 3050, "it moves again though stopped: %d ms", ms);
}

Test(stop_watch, is_not_put_off_by_pressing_on)
{
    struct stand s = begin();
    int ms = 0;
    s.in.at_rest = true;
    for (; s.late_ns == 0 && ms < 9000; ms += 10, s.stop.count++)
        (void)until(&s, 10);
    cr_assert(ms > 500 && ms < 550, "%d ms", ms);
    s = begin();
    s.in.at_rest = true;
    for (ms = 0; ms < 5000; ms += 10, s.stop.count++) { /* heard, each 50 ms later */
        (void)until(&s, 10);
        s.in.heard = s.stop.count > 7 ? s.stop.count - 5 : 1;
        cr_assert_eq(s.late_ns, 0, "after %d ms", ms);
    }
}

Test(stop_watch, looks_only_at_stops_and_only_as_told)
{
    static const struct stop_watch_config off = {0, 0};
    struct stand s = begin();
    cr_assert_leq(until(&s, 9000), 550);
    cr_assert_eq(stop_watch_step(&off, &s.w, &s.stop, &s.in), 0);
    s.stop.state = STOP_PARKED;
    cr_assert_eq(until(&s, 9000), 9000);
    s.stop.state = STOP_LATCHED;
    cr_assert_geq(until(&s, 9000), 500, "a new stop has its time");
    s.in.now_ns = 0;
    cr_assert_eq(stop_watch_step(&cfg, &s.w, &s.stop, &s.in), 0, "a clock that goes back is no lateness");
}
