/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/tick_report.h"

#include <string.h>

static void fill_motion(const struct tick *tick, const struct policy_output *out, uint64_t now_ns, struct scene *s)
{
    s->now_ns = now_ns;
    s->position = out->place.position;
    s->velocity = out->guard.velocity;
    s->wanted = out->wanted;
    s->swing_rad = tick->rig.swing_rad;
    s->uncertainty_m = out->place.uncertainty_m;
    s->margin_m = out->guard.margin_m;
    s->braking_m = out->guard.braking_m;
    s->rig_fresh = tick_rig_fresh(tick, now_ns);
    s->rig_fault = tick->rig.fault;
    s->rig_powered = s->rig_fresh && !tick->rig.unpowered;
    s->rig_at_rest = s->rig_fresh && out->at_rest;
    s->stop_state = out->stop_state;
    s->stop_category = out->stop_category;
    s->stop_reason = out->stop_reason;
    s->lane = out->lane;
    s->reasons = out->reasons;
    memcpy(s->detail, out->detail, sizeof s->detail);
    s->goal_set = out->goal_set;
    s->goal = out->goal;
}

static void fill_place(const struct policy_output *out, struct scene *s)
{
    s->limits_mode = out->mode;
    s->floor_m = out->limits.floor_m;
    s->ceiling_m = out->limits.ceiling_m;
    s->speed_mps = out->limits.speed_mps;
    s->nearest = out->guard.nearest;
    s->tension_margin_n = out->tension_margin_n;
    s->tension_cord = out->tension_cord;
}

/* What the rig says of itself, as far as it is fresh. */
static void fill_machine(const struct tick *tick, struct scene *s)
{
    const struct rig_report *rig = &tick->rig;
    bool tensions = s->rig_fresh && (rig->where.sources & locate_bit(LOCATE_TENSION)) != 0;
    s->cords = tensions ? tick->shared->show->policy.guard.volume.outline.cords : 0;
    memcpy(s->tension_n, rig->where.tension_n, sizeof s->tension_n);
    s->yaw_known = s->rig_fresh && rig->yaw_known;
    s->yaw_rad = rig->yaw_rad;
    s->head_known = s->rig_fresh && rig->head_known;
    memcpy(s->head, rig->head, sizeof s->head);
    s->subject_known = s->rig_fresh && rig->subject_known;
    s->subject = rig->subject;
    s->subject_age_s = rig->subject_age_s;
}

static void fill_crowd(const struct tick *tick, bool fresh, uint64_t now_ns, struct scene *s)
{
    const struct poll *poll = &tick->crowd.poll;
    uint64_t left_ns = poll->phase != POLL_OFF && poll->phase_ends_ns > now_ns ? poll->phase_ends_ns - now_ns : 0;
    uint32_t cast = 0;
    s->mode = tick->orders.mode;
    s->audience_scale = tick->orders.audience_scale;
    s->poll_phase = poll->phase;
    s->round = poll->round;
    s->round_left_ms = (uint32_t)(left_ns / 1000000);
    s->last_outcome = poll->outcome;
    s->last_voices = poll->outcome_voices;
    tally_clear(&s->crowd);
    if (fresh)
        s->crowd = tick->sum.tally;
    if (tick->sum.round != poll->round)
        memset(s->crowd.votes, 0, sizeof s->crowd.votes);
    for (int c = 0; c < CHOICE_COUNT; c++)
        cast += s->crowd.votes[c];
    s->needed = poll_needed(&tick->shared->show->crowd.poll, cast);
    s->edges = fresh ? tick->sum.edges : 0;
}

static void fill_view(struct tick *tick, const struct policy_output *out)
{
    struct desk_view *view = &tick->report.view;
    const struct link_counts *c = &tick->shared->link.counts;
    view->real_time = atomic_load(&tick->shared->real_time);
    view->locked = atomic_load(&tick->shared->locked);
    view->session = atomic_load(&tick->shared->link.session) != 0;
    view->sent = c->sent_intents;
    view->telemetry = c->got_telemetry;
    view->refused = c->bad_tag + c->bad_form + c->bad_session + c->bad_seq;
    view->counts = tick->sum.counts;
    view->stop_count = tick->policy.stop.count;
    view->stop_confirmed = link_stop_confirmed(&tick->shared->link, tick->policy.stop.count);
    for (int lane = 0; lane < LANE_COUNT; lane++)
        view->lane_mps[lane] =
            limits_in_force(&tick->shared->show->policy.limits, &tick->policy.layer, (enum lane)lane, out->mode)
                .speed_mps;
    view->setup = tick->setup;
    reason_set all = out->reasons | reason_bit(out->stop_reason);
    for (int r = REASON_NONE + 1; r < REASON_COUNT; r++)
        view->clamped[r] += (all & reason_bit((enum reason)r)) != 0;
}

void tick_report_publish(struct tick *tick, const struct policy_output *out, bool crowd_fresh, uint64_t now_ns)
{
    tick->report.scene.seq++;
    fill_motion(tick, out, now_ns, &tick->report.scene);
    fill_place(out, &tick->report.scene);
    fill_machine(tick, &tick->report.scene);
    fill_crowd(tick, crowd_fresh, now_ns, &tick->report.scene);
    fill_view(tick, out);
    mailbox_put(&tick->shared->report, &tick->report);
    mailbox_put(&tick->shared->scene, &tick->report.scene);
}
