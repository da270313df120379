/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/bus/crowds.h"

#include <string.h>

#include "policy/crowd/saturate.h"

void crowds_init(struct crowds *crowds, uint64_t lease_ns)
{
    *crowds = (struct crowds){.lease_ns = lease_ns, .max_edges = CROWDS_MAX_EDGES, .max_viewers = BUS_MAX_VIEWERS};
}

static struct crowds_entry *joined(struct crowds *crowds, int slot)
{
    return slot >= 0 && slot < CROWDS_MAX_EDGES && crowds->edge[slot].used ? &crowds->edge[slot] : NULL;
}

int crowds_join(struct crowds *crowds)
{
    for (int slot = 0; slot < CROWDS_MAX_EDGES && slot < crowds->max_edges; slot++)
        if (!crowds->edge[slot].used) {
            crowds->edge[slot] = (struct crowds_entry){.used = true};
            return slot;
        }
    return -1;
}

/* Saturating: an edge that claims absurd counts must not make the totals start again from 0. */
static void add_counts(struct edge_counts *into, const struct edge_counts *from)
{
    into->accepted = saturate_add64(into->accepted, from->accepted);
    into->limited = saturate_add64(into->limited, from->limited);
    into->refused = saturate_add64(into->refused, from->refused);
    into->connects = saturate_add64(into->connects, from->connects);
    into->turned_away = saturate_add64(into->turned_away, from->turned_away);
}

void crowds_leave(struct crowds *crowds, int slot)
{
    struct crowds_entry *edge = joined(crowds, slot);
    if (!edge)
        return;
    add_counts(&crowds->gone, &edge->newest.counts);
    edge->used = false;
}

void crowds_put(struct crowds *crowds, int slot, const struct snapshot *s, uint64_t now_ns)
{
    struct crowds_entry *edge = joined(crowds, slot);
    if (!edge)
        return;
    /* Neither renews the lease: a repeated or swollen snapshot is no sign of a crowd that is there. */
    if (edge->heard && s->seq <= edge->newest.seq) {
        crowds->stale++;
        return;
    }
    if (s->tally.viewers > crowds->max_viewers) {
        crowds->oversized++;
        return;
    }
    edge->heard = true;
    edge->heard_ns = now_ns;
    edge->newest = *s;
}

static bool alive(const struct crowds *crowds, const struct crowds_entry *edge, uint64_t now_ns)
{
    return edge->used && edge->heard && saturate_sub64(now_ns, edge->heard_ns) <= crowds->lease_ns;
}

/* An edge that has not yet heard of this round still speaks for an older one: its viewers and sticks count, its votes
 * do not. */
static void add_crowd(struct tally *into, const struct snapshot *s, uint32_t round)
{
    if (round != 0 && s->round == round) {
        tally_merge(into, &s->tally);
        return;
    }
    struct tally without_votes = s->tally;
    memset(without_votes.votes, 0, sizeof without_votes.votes);
    tally_merge(into, &without_votes);
}

void crowds_total(const struct crowds *crowds, uint32_t round, uint64_t now_ns, struct crowds_sum *sum)
{
    *sum = (struct crowds_sum){.made_ns = now_ns, .round = round, .counts = crowds->gone};
    for (int slot = 0; slot < CROWDS_MAX_EDGES; slot++) {
        const struct crowds_entry *edge = &crowds->edge[slot];
        if (edge->used)
            add_counts(&sum->counts, &edge->newest.counts);
        if (!alive(crowds, edge, now_ns))
            continue;
        sum->edges++;
        add_crowd(&sum->tally, &edge->newest, round);
    }
}
