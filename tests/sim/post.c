/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/post.h"

void post_init(struct post *post, const struct post_way *way)
{
    post->way = *way;
    post->used = 0;
    post->next_ns = UINT64_MAX;
}

static void put_once(struct post *post, struct random *r, uint64_t now_ns, const struct post_item *item)
{
    if (random_chance(r, post->way.loss) || post->used == POST_SLOTS)
        return;
    double delay_s = post->way.delay_s + random_between(r, 0, post->way.jitter_s);
    struct post_item *slot = &post->slot[post->used++];
    *slot = *item;
    slot->due_ns = now_ns + (uint64_t)(delay_s * 1e9);
    if (slot->due_ns < post->next_ns)
        post->next_ns = slot->due_ns;
}

void post_put(struct post *post, struct random *r, uint64_t now_ns, const struct post_item *item)
{
    put_once(post, r, now_ns, item);
    if (random_chance(r, post->way.duplicate))
        put_once(post, r, now_ns, item);
}

bool post_take(struct post *post, uint64_t now_ns, struct post_item *item)
{
    if (post->next_ns > now_ns)
        return false;
    int first = 0;
    for (int i = 1; i < post->used; i++)
        if (post->slot[i].due_ns < post->slot[first].due_ns)
            first = i;
    *item = post->slot[first];
    post->slot[first] = post->slot[--post->used];
    post->next_ns = UINT64_MAX;
    for (int i = 0; i < post->used; i++)
        if (post->slot[i].due_ns < post->next_ns)
            post->next_ns = post->slot[i].due_ns;
    return true;
}
