#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Copyright The Steadyhand authors
#
# Mutants: the policy with one fault at a time, each of which the property test must notice. A fault is a sed script on
# a copy of one source file, so that policy/ itself knows nothing of it; one that changes nothing fails too.
#
# mutants.sh ROOT WORK PROPERTY_LIB POLICY_LIB COMPILER...
set -u
root=$1 work=$2 property_lib=$3 policy_lib=$4
shift 4

ticks=1500000
seeds='5000 100000 20250101' # a fault that one run does not meet, another does
flags="-std=c11 -D_GNU_SOURCE -O2 -ffp-contract=off"

mutants() {
    cat <<'END'
travel.c|braking distance halved|s/return v > 0 ? dt/return v > 0 ? 0.5 * dt/
travel.c|free travel not looked into|0,/if (least.distance_m >= margin_m)/s//if (limit_m >= 0)/
guard.c|fixed margin dropped|s/return cfg->margin_m + (hangs/return (hangs/
guard.c|uncertainty left out of the margin|s/moves = in->uncertainty_m + bend/moves = bend/
guard.c|bend left out of the margin|s/in->uncertainty_m + bend + swing_reach/in->uncertainty_m + swing_reach/
guard.c|swing left out of the margin|s/ + swing_reach(cfg, in);/;/
guard.c|swings on|s/out->fallback || guard->settling/out->fallback/
guard.c|reaction without the lease|s/cfg->latency_s + age_s + cfg->lease_s/cfg->latency_s + age_s/
guard.c|reaction without the latency|s/cfg->latency_s + age_s + cfg->lease_s/age_s + cfg->lease_s/
guard.c|age of the position ignored|s/return cfg->latency_s + age_s +/return cfg->latency_s +/
guard.c|any path counts as proven|s/\*free_m >= path;/*free_m >= 0;/
guard.c|proof of half the path|s/\*free_m >= path;/*free_m >= 0.5 * path;/
guard.c|fallback keeps going|s/? braked(cfg, guard->velocity, elapsed_s) : next/? guard->velocity : next/
guard.c|fallback speeds up|s/approached(v, (struct vec3){0, 0, 0},/approached(v, vec_scale(v, 3),/
guard.c|fallback takes the wish|s/guard->velocity = out->braked ?/guard->velocity = guard->settling ?/
guard.c|brakes by planned time, not by what passed|s/cfg->brake_mps2 \* elapsed_s/cfg->brake_mps2 * cfg->dt_s/
guard.c|acceleration not limited|s/return vec_approached(guard->velocity, wish, most);/return wish;/
lanes.c|stick not cut to the speed in force|s/cut(wish->v, 1, /cut(wish->v, 9, /
outline.c|cords ignored|s/return part - OUTLINE_CORD < o->cords;/return false;/
volume_look.c|last keep-out forgotten|s/i < vol->pieces; i++) {$/i < vol->pieces - 1; i++) {/
volume_meet.c|padding forgotten|s/return distance - k->padding_m;/return distance;/
outline.c|body drawn at the platform|s/\.z -= o->boom_m;/.z -= 0;/
volume.c|only the end of the path looked at|s/part, q->from, q->to, &q->swept/part, q->to, q->to, \&q->swept/
stop.c|stop overlooked when an event comes with it|/The one place/{n;s/if (pressed)/if (pressed \&\& in->event == STOP_EVENT_NONE)/;}
stop.c|arming moves|s/\[STOP_EVENT_ARM\] = {MAY | AT_REST, STOP_ARMED}/[STOP_EVENT_ARM] = {MAY, STOP_RUNNING}/
stop.c|go without reset|s/\[STOP_LATCHED\] = {/[STOP_LATCHED] = {[STOP_EVENT_GO] = {MAY, STOP_RUNNING}, /
stop.c|no arming after the power was off|s/stop->category == STOP_CATEGORY_2 \&\& !in->unpowered/!in->unpowered/
stop.c|inhibit ignored while running|s/else if (inhibited \&\& (/else if (stop->count == 0 \&\& (/
stop.c|stop not counted|s/stop->count++;/stop->count += 0;/
lanes.c|audience before operator|s/if (in->operator_holds)/if (in->operator_holds \&\& !in->audience_fresh)/
lanes.c|old nudge taken up|s/if (new_nudge \&\& l == (int)lane/if ((new_nudge || !lanes->goal_set) \&\& wish[l].kind == WISH_NUDGE \&\& l == (int)lane/
lanes.c|goal kept over a stop|s/if (lane != lanes->lane || !rig->may_move)/if (lane != lanes->lane)/
lanes.c|wish that is not a number taken up|s/moves \&\& vec_norm(wish->v) <= LONGEST_WISH/moves/
policy.c|guard asked under a stop|s/^    if (t->may_move)$/    if (t->out)/
policy.c|motion whatever the stop says|s/intent->motion = t->may_move/intent->motion = p->last.ever/
policy_rig.c|lost telemetry not noticed|s/p->last.ever = false;/p->last.ever = p->last.ever;/
policy_rig.c|every report believed|s/p->seen_bad = .*$/p->seen_bad = false;/
policy_rig.c|jumps believed|s/ && !(last->ever && jumped(t->cfg, last, rig))//
policy_rig.c|fault of the rig ignored|s/if (t->in->rig.fault)/if (t->in->rig.fault \&\& !t->in->rig.ever)/
policy.c|late tick ignored|s/if (in->tick_late)/if (in->tick_late \&\& in->now_ns == 0)/
policy.c|presence not asked for|s/if (t->cfg->presence_required &&/if (t->cfg->presence_timeout_ns == 0 \&\&/
volume_keep.c|way out not held against the rest|s/return after >= lesser(before, margin_m) - ROUNDING_M;/return after >= lesser(before, margin_m) - 9;/
policy_shape.c|jerk not limited|s/return t->out->limits.jerk_mps3 < LIMITS_JERK_FREE;/return false;/
policy_shape.c|shaper goes on where it was after braking|s/swing_reset(&s->swing, velocity);/;/
policy_wish.c|slow zones only asked for|s/speed <= most \* ROUNDING/speed <= most * 99/
policy_mode.c|a spotter's hold never lapses|s/policy_tick_within(t->in->now_ns, heard, t->cfg->spotter_timeout_ns)/heard > 0/
policy_mode.c|floor of the mode ignored|s/t->now.floor_m = .*$/;/
policy_mode.c|looser limits while armed|s/bool armed = stop_is_armed(p->stop.state);/bool armed = false;/
policy_rig.c|a position that jumps located all the same|s/forbid(t, by_fault\[f\], d->value, d->limit, index);/;/
policy_rig.c|age of the report not counted|s/t->age_s = .*$/;/
END
}

# Builds and runs one; leaves its TAP line's verdict in $work/N.
try() {
    n=$1 file=$2 script=$3
    mkdir -p "$work/$n.d" && sed "$script" "$root/policy/motion/$file" >"$work/$n.d/$file"
    shift 3
    if cmp -s "$root/policy/motion/$file" "$work/$n.d/$file"; then
        echo "not ok: it changes nothing" >"$work/$n"
        return
    fi
    # shellcheck disable=SC2086
    if ! "$@" $flags -I"$root" "$work/$n.d/$file" "$property_lib" "$policy_lib" -lm -o "$work/$n.d/test" 2>"$work/$n.d/log"; then
        echo "not ok: it does not compile" >"$work/$n"
        return
    fi
    survived=yes
    for seed in $seeds; do
        "$work/$n.d/test" --seed "$seed" --ticks $ticks >"$work/$n.d/tap" 2>&1 || survived=no
        [ $survived = yes ] || break
    done
    if [ $survived = yes ]; then
        echo "not ok: it survived" >"$work/$n"
    elif grep -q '^not ok' "$work/$n.d/tap"; then
        echo "ok: $(sed -n 's/^not ok [0-9]* - //p' "$work/$n.d/tap" | head -n 1)" >"$work/$n"
    else
        echo "not ok: it crashed" >"$work/$n"
    fi
}

rm -rf "$work"
mkdir -p "$work"
mutants >"$work/list"
total=$(grep -c . "$work/list")
echo "TAP version 13"
echo "1..$total"
n=0
while IFS='|' read -r file name script; do
    n=$((n + 1))
    # The script may hold a bar itself: it is all that is left of the line.
    try "$n" "$file" "$script" "$@" &
    [ $((n % 2)) -eq 0 ] && wait
done <"$work/list"
wait
failed=0
n=0
while IFS='|' read -r file name script; do
    n=$((n + 1))
    verdict=$(cat "$work/$n")
    case $verdict in
    ok*) echo "ok $n - noticed: $name in $file (${verdict#ok: })" ;;
    *) echo "not ok $n - $name in $file: ${verdict#not ok: }" && failed=1 ;;
    esac
done <"$work/list"
exit $failed
