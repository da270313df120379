/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Newest-wins hand-over of one struct from one thread to one other, wait-free on both sides: a triple buffer. The
 * writer never waits for the reader, the reader always gets a whole value. One writer thread, one reader thread, no
 * more.
 */
#ifndef STEADYHAND_CORE_MAILBOX_H
#define STEADYHAND_CORE_MAILBOX_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>

struct mailbox {
    unsigned char *slot[3]; /* owned; each `size` bytes */
    size_t size;
    _Atomic unsigned middle; /* index of the slot between the two, bit 2 = fresh */
    unsigned back, front;    /* writer's, reader's */
};

/* Allocates; every slot starts as a copy of *initial. False if out of memory. */
bool mailbox_init(struct mailbox *box, size_t size, const void *initial);
void mailbox_free(struct mailbox *box);

void mailbox_put(struct mailbox *box, const void *value);

/* Copies the newest value into *value (the last one again if nothing new came); true if it is new. */
bool mailbox_get(struct mailbox *box, void *value);

#endif
