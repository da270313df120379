/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/edge/viewers.h"

#include <stddef.h>
#include <string.h>

void viewers_init(struct viewers *viewers)
{
    *viewers = (struct viewers){.ballot = 1};
}

void viewers_join(struct viewers *viewers, struct viewer *viewer)
{
    (void)viewer;
    viewers->tally.viewers++;
}

static void withdraw_vote(struct viewers *viewers, struct viewer *viewer)
{
    if (viewer->ballot == viewers->ballot)
        viewers->tally.votes[viewer->choice]--;
    viewer->ballot = 0;
}

void viewers_vote(struct viewers *viewers, struct viewer *viewer, enum choice choice)
{
    withdraw_vote(viewers, viewer);
    viewer->ballot = viewers->ballot;
    viewer->choice = (uint8_t)choice;
    viewers->tally.votes[choice]++;
}

static void unlink_stick(struct viewers *viewers, struct viewer *viewer)
{
    *(viewer->older ? &viewer->older->newer : &viewers->oldest) = viewer->newer;
    *(viewer->newer ? &viewer->newer->older : &viewers->newest) = viewer->older;
    viewer->older = viewer->newer = NULL;
}

static void link_newest(struct viewers *viewers, struct viewer *viewer)
{
    viewer->older = viewers->newest;
    *(viewer->older ? &viewer->older->newer : &viewers->oldest) = viewer;
    viewers->newest = viewer;
}

void viewers_release(struct viewers *viewers, struct viewer *viewer)
{
    if (!viewer->holds)
        return;
    viewer->holds = false;
    unlink_stick(viewers, viewer);
    viewers->tally.sticks--;
    for (int a = 0; a < TALLY_AXES; a++)
        viewers->tally.stick[a][viewer->bin[a]]--;
}

void viewers_stick(struct viewers *viewers, struct viewer *viewer, const double axis[TALLY_AXES], uint64_t now_ns)
{
    viewers_release(viewers, viewer);
    viewer->holds = true;
    viewer->stick_ns = now_ns;
    link_newest(viewers, viewer);
    viewers->tally.sticks++;
    for (int a = 0; a < TALLY_AXES; a++) {
        viewer->bin[a] = (uint8_t)tally_bin(axis[a]);
        viewers->tally.stick[a][viewer->bin[a]]++;
    }
}

void viewers_leave(struct viewers *viewers, struct viewer *viewer)
{
    withdraw_vote(viewers, viewer);
    viewers_release(viewers, viewer);
    viewers->tally.viewers--;
}

void viewers_set_round(struct viewers *viewers, uint32_t round)
{
    if (viewers->round == round)
        return;
    viewers->round = round;
    viewers_drop_votes(viewers);
}

void viewers_drop_votes(struct viewers *viewers)
{
    viewers->ballot++; /* a round lasts seconds: 32 bits last longer than any show */
    memset(viewers->tally.votes, 0, sizeof viewers->tally.votes);
}

void viewers_lapse(struct viewers *viewers, uint64_t now_ns)
{
    while (viewers->oldest && now_ns >= viewers->oldest->stick_ns + VIEWERS_STICK_LAPSE_NS)
        viewers_release(viewers, viewers->oldest);
}

void viewers_drop_sticks(struct viewers *viewers)
{
    while (viewers->oldest)
        viewers_release(viewers, viewers->oldest);
}
