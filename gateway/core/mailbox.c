/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/mailbox.h"

#include <stdlib.h>
#include <string.h>

enum { INDEX = 3, FRESH = 4 };

bool mailbox_init(struct mailbox *box, size_t size, const void *initial)
{
    unsigned char *all = malloc(3 * size);
    if (!all)
        return false;
    for (size_t i = 0; i < 3; i++) {
        box->slot[i] = all + i * size;
        memcpy(box->slot[i], initial, size);
    }
    box->size = size;
    box->back = 0;
    box->front = 2;
    atomic_init(&box->middle, 1u);
    return true;
}

void mailbox_free(struct mailbox *box)
{
    free(box->slot[0]);
    box->slot[0] = box->slot[1] = box->slot[2] = NULL;
}

/* Both sides only ever swap the slot they own for the middle one, so no slot is ever written and read at once. Release:
 * the value is whole before it can be seen. Acquire: what the other side did to the slot it gives up is over. */
void mailbox_put(struct mailbox *box, const void *value)
{
    memcpy(box->slot[box->back], value, box->size);
    box->back = atomic_exchange_explicit(&box->middle, box->back | FRESH, memory_order_acq_rel) & INDEX;
}

bool mailbox_get(struct mailbox *box, void *value)
{
    bool fresh = (atomic_load_explicit(&box->middle, memory_order_relaxed) & FRESH) != 0;
    if (fresh)
        box->front = atomic_exchange_explicit(&box->middle, box->front, memory_order_acq_rel) & INDEX;
    memcpy(value, box->slot[box->front], box->size);
    return fresh;
}
