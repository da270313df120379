/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/run/watch.h"

#include <unistd.h>

enum {
    HEAR_A_TURN = 64
}; /* anybody on this machine may write to the address: what they send is dropped, in portions */

int watch_open(struct watch *watch, const char *manager_address)
{
    *watch = (struct watch){.fd = -1};
    int err = notify_open(&watch->manager, manager_address);
    if (err != 0)
        return err;
    watch->fd = notify_listen(watch->address);
    return watch->fd >= 0 ? 0 : watch->fd;
}

void watch_close(struct watch *watch)
{
    notify_close(&watch->manager);
    if (watch->fd >= 0)
        close(watch->fd);
    watch->fd = -1;
}

void watch_hear(struct watch *watch, pid_t core, uint64_t now_ns)
{
    char text[NOTIFY_TEXT];
    pid_t from;
    for (int i = 0; i < HEAR_A_TURN && notify_receive(watch->fd, &from, text); i++) {
        if (core <= 0 || from != core || !notify_says(text, NOTIFY_BEAT))
            continue;
        watch->beat_ns = now_ns;
        (void)notify_send(&watch->manager, NOTIFY_BEAT);
    }
}

void watch_begin(struct watch *watch)
{
    watch->beat_ns = 0;
}

uint64_t watch_due_ns(const struct watch *watch)
{
    return watch->beat_ns == 0 ? UINT64_MAX : watch->beat_ns + WATCH_SILENT_S * UINT64_C(1000000000);
}
