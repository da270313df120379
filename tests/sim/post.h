/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* One direction of a network in virtual time: what is put in comes out later, or twice, or out of order, or never. */
#ifndef STEADYHAND_SIM_POST_H
#define STEADYHAND_SIM_POST_H

#include "gateway/rig/wire.h"
#include "policy/motion/policy.h"
#include "tests/property/random.h"

enum { POST_SLOTS = 96 };

/* From core to the rig: an intent, or a stop alone. */
struct post_order {
    struct intent intent;
    bool stop_only;
    uint64_t seq, expires_ns;
};

/* From the rig to core: what its sensors say. */
struct post_news {
    struct wire_telemetry telemetry;
    uint64_t seq;
    bool spoilt; /* measured while the fault was on; only the test knows */
};

struct post_item {
    uint64_t due_ns;
    union {
        struct post_order order;
        struct post_news news;
    } as;
};

struct post_way {
    double delay_s, jitter_s; /* between delay and delay + jitter */
    double loss, duplicate;   /* 0..1 */
};

struct post {
    struct post_way way;
    int used;
    uint64_t next_ns; /* no item is due before */
    struct post_item slot[POST_SLOTS];
};

void post_init(struct post *post, const struct post_way *way);
void post_put(struct post *post, struct random *r, uint64_t now_ns, const struct post_item *item);

/* The item that has been due for longest; false if none is. */
bool post_take(struct post *post, uint64_t now_ns, struct post_item *item);

#endif
