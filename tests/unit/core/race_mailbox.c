/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Two threads at full speed over one mailbox, and over one stop line: values are whole, newest wins, nothing goes back.
 * A plain program, built for ThreadSanitizer (the unit-test framework does not start under it). Prints TAP. */
#include <pthread.h>
#include <stdio.h>
#include <string.h>

#include "gateway/core/mailbox.h"
#include "gateway/core/stop_line.h"

enum { WORDS = 200, VALUES = 100000, PRESSES = 20000 };

struct value {
    unsigned long word[WORDS];
};

struct outcome {
    bool torn, back, wrong;
    unsigned long fresh, last;
};

static void *write_values(void *arg)
{
    struct value v;
    for (unsigned long n = 1; n <= VALUES; n++) {
        for (int i = 0; i < WORDS; i++)
            v.word[i] = n;
        mailbox_put(arg, &v);
    }
    return NULL;
}

static void read_one(struct mailbox *box, struct outcome *o)
{
    struct value v;
    bool fresh = mailbox_get(box, &v);
    for (int i = 1; i < WORDS; i++)
        o->torn |= v.word[i] != v.word[0];
    o->back |= v.word[0] < o->last;
    o->wrong |= fresh != (v.word[0] != o->last);
    o->fresh += fresh;
    o->last = v.word[0];
}

static bool race_mailbox(void)
{
    struct mailbox box;
    struct outcome o = {0};
    struct value zero = {0};
    pthread_t writer;
    if (!mailbox_init(&box, sizeof zero, &zero) || pthread_create(&writer, NULL, write_values, &box) != 0)
        return false;
    while (o.last != VALUES)
        read_one(&box, &o);
    pthread_join(writer, NULL);
    read_one(&box, &o);
    mailbox_free(&box);
    printf("# %lu of %d values were seen\n", o.fresh, VALUES);
    return !o.torn && !o.back && !o.wrong && o.fresh > 1 && o.last == VALUES;
}

struct race {
    struct stop_line line;
    atomic_bool done;
    bool wrong;
};

/* The tick's side, with the policy left out: the count follows the presses, and now and then rises by itself. */
static void *take_presses(void *arg)
{
    struct race *race = arg;
    uint64_t count = 1, seen = 0;
    for (unsigned n = 0; !atomic_load(&race->done); n++) {
        struct stop_input in;
        stop_line_take(&race->line, &in);
        race->wrong |= in.asked < seen || (in.asked > seen && in.asked_why != REASON_STOP_SPOTTER);
        seen = in.asked;
        if (count < 1 + seen || n % 7 == 0)
            count = count + 1 > 1 + seen ? count + 1 : 1 + seen;
        stop_line_publish(&race->line, count);
    }
    return NULL;
}

static bool race_stop_line(void)
{
    struct race race = {.wrong = false};
    pthread_t ticker;
    uint64_t last = 0;
    bool rising = true;
    stop_line_init(&race.line, 1);
    if (pthread_create(&ticker, NULL, take_presses, &race) != 0)
        return false;
    for (int i = 0; i < PRESSES; i++) {
        uint64_t before = atomic_load(&race.line.count),
                 count = stop_line_press(&race.line, REASON_STOP_SPOTTER, STOP_CATEGORY_2);
        rising &= count > last && count > before;
        last = count;
    }
    atomic_store(&race.done, true);
    pthread_join(ticker, NULL);
    return rising && !race.wrong;
}

int main(void)
{
    bool mailbox = race_mailbox(), line = race_stop_line();
    printf("1..2\n%s 1 - a mailbox hands over whole values, newest wins\n", mailbox ? "ok" : "not ok");
    printf("%s 2 - every press is above all counts published before it\n", line ? "ok" : "not ok");
    return mailbox && line ? 0 : 1;
}
