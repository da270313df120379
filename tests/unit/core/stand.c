/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "stand.h"

#include <criterion/criterion.h>
#include <sodium.h>
#include <string.h>
#include <time.h>

bool stand_told(struct stand *s, struct ws_client *ws, const char *part)
{
    struct rig_report report;
    bool began;
    for (int i = 0; i < 2000; i++) {
        const char *text = ws_client_next(ws, 5);
        link_poll(&s->shared.link, stand_now_ns(), false, &report, &began);
        if (text && strstr(text, part))
            return true;
    }
    return false;
}

uint64_t stand_now_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (uint64_t)t.tv_sec * 1000000000u + (uint64_t)t.tv_nsec;
}

void stand_sleep_ms(int ms)
{
    struct timespec t = {.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000L};
    nanosleep(&t, NULL);
}

void stand_mailboxes(struct shared *shared)
{
    static const struct desk_orders orders = {0};
    static const struct crowds_sum crowd = {0};
    static const struct shared_report report = {0};
    static const struct scene scene = {0};
    cr_assert(mailbox_init(&shared->orders, sizeof orders, &orders));
    cr_assert(mailbox_init(&shared->crowd, sizeof crowd, &crowd));
    cr_assert(mailbox_init(&shared->report, sizeof report, &report));
    cr_assert(mailbox_init(&shared->scene, sizeof scene, &scene));
}

struct stand *stand_new(void)
{
    struct stand *s = calloc(1, sizeof *s);
    cr_assert(s && sodium_init() >= 0 && bench_show_secrets(&s->files));
    cr_assert(mini_rig_open(&s->rig, s->files.secrets.rig, (double[]){0, 0, 0}));
    cr_assert(bench_show_write(&s->files, SHOW_FILE, s->rig.port));
    cr_assert_eq(show_load(s->files.file, &s->show, stderr), 0);
    memcpy(s->rig.position, (double[]){s->show.home.x, s->show.home.y, s->show.home.z}, sizeof s->rig.position);
    cr_assert(mini_rig_start(&s->rig, 0));
    s->shared.show = &s->show;
    stand_mailboxes(&s->shared);
    stop_line_init(&s->shared.stops, 1);
    cr_assert_eq(link_open(&s->shared.link, s->show.rig_host, s->show.rig_port, s->files.secrets.rig, s->show.sensor),
                 0);
    return s;
}

void stand_close(struct shared *shared)
{
    link_close(&shared->link);
    mailbox_free(&shared->orders);
    mailbox_free(&shared->crowd);
    mailbox_free(&shared->report);
    mailbox_free(&shared->scene);
}

void stand_free(struct stand *s)
{
    mini_rig_stop(&s->rig);
    stand_close(&s->shared);
    bench_show_remove(&s->files);
    free(s);
}

void stand_pass(const struct stand *s, enum pass_role role, const char *name, uint64_t expires_s, char text[PASS_MAX])
{
    struct pass pass = {.role = role, .expires_s = expires_s};
    snprintf(pass.name, sizeof pass.name, "%s", name);
    cr_assert(pass_mint(s->files.secrets.passes, &pass, text));
}
