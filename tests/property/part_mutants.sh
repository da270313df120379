#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Copyright The Steadyhand authors
#
# Mutants of the parts: as mutants.sh, but what must notice are the unit tests of the part: for formulas whose faults
# the whole policy makes up for, or that only work out what is shown or asked for.
#
# part_mutants.sh ROOT WORK POLICY_LIB COMPILER...
set -u
root=$1 work=$2 policy_lib=$3
shift 3

flags="-std=c11 -D_GNU_SOURCE -ffp-contract=off -I$root -I$root/tests/unit -DREFERENCE=\"$root/tests/reference\""

# file of policy/motion | its unit tests (or those of them that /... says) | the fault | sed script
mutants() {
    cat <<'END'
cords.c|cords|rates with the wrong sign|s/-vec_dot(to_anchor, velocity)/vec_dot(to_anchor, velocity)/
cords.c|cords|rates not by the length|s/velocity) \/ length/velocity)/
cords.c|cords|rates beyond the platform's speed|s/greater(lesser(rate, speed), -speed)/rate/
cords.c|cords|lengths to the mirrored place|s/vec_norm(vec_sub(outline/vec_norm(vec_add(outline/
profile.c|profile|jerk doubled|s/double u = limits->jerk \* dt, wanting/double u = 2 * limits->jerk * dt, wanting/
profile.c|profile|acceleration not limited|s/copysign(lesser(\(.*\) \* u, limits->accel), wanting)/copysign(\1 * u, wanting)/
profile.c|profile|wish not cut to the speed|s/within(wanted, -limits->speed, limits->speed)/wanted/
profile.c|profile|acceleration taken off|s/.v = now.v + a \* dt/.v = now.v - a * dt/
profile.c|profile|insane states believed|s/return sane(limits, now.v, now.a) ? now/return limits ? now/
profile.c|profile_space|wish pushed out to the speed|s/length > radius ?/length < radius ?/
profile.c|profile_space|acceleration in space not limited|s/ && vec_norm(next) <= cap//
profile.c|profile_space|jerk in space doubled|s/vec_norm(vec_sub(next, a)) <= 1/vec_norm(vec_sub(next, a)) <= 2/
profile.c|profile_space|what easing off gains forgotten|s/missing = vec_sub(wanting, ends)/missing = wanting/
guard.c|guard|swing of its own motion only where it is told|s/greater(in->swing_rad, 2 \* moving)/greater(in->swing_rad, 0 * moving)/
head.c|head|lease not counted|s/t->window_s = t->delay_s + t->cfg->lease_s;/t->window_s = t->delay_s;/
head_reach.c|head|rates still followed forgotten|s/sum += positive_part(most - base);/sum += 0 * positive_part(most - base);/
head_reach.c|head|what it still speeds up by forgotten|s/ends = profile_eased(limits, next, t->cfg->dt_s);/ends = next.v;/
head_reach.c|head|late ticks braked as one|s/i < LATEST \&\& (i == 0 || i + 1 <= ticks)/i < 1/
policy_head.c|policy_head|the picture turned only by the swing told|s/guard_swing(&t->cfg->guard, &t->guard.in)/t->guard.in.swing_rad/
profile_stop.c|profile|stop: easing in twice as fast|s/time = (b - cap) \/ j/time = (b - cap) \/ (2 * j)/
profile_stop.c|profile|stop: hold dropped|s/ + hold \* (before + last) \/ 2//
profile_stop.c|profile|stop: turning back adds up|s/lesser(ahead - back.highest, 0)/lesser(ahead + back.highest, 0)/
profile_stop.c|profile|stop in ticks: onset rounded up|s/greater(floor(lesser(most, cap) - b), 0)/greater(ceil(lesser(most, cap) - b), 0)/
profile_stop.c|profile|stop in ticks: a tick too few held|s/floor(spare \/ cap) + 1 : 0/floor(spare \/ cap) : 0/
profile_stop.c|profile|stop in ticks: landing short|s/(2 \* m + 1) \/ 3/(2 * m + 2) \/ 3/
profile_stop.c|profile|stop in ticks: the tick of turning dropped|s/ahead.x + greater(ahead.v, 0) \/ 2/ahead.x/
tension.c|tension|gravity upwards|s/a.z += UNITS_GRAVITY/a.z -= UNITS_GRAVITY/
tension.c|tension|end of the feasible piece instead of its middle|s/(from + to) \/ 2/from/
tension.c|tension|overload not counted in the margin|s/lesser(above, below)/above/
tension.c|tension_cases|intervals of four cords joined|s/\*to = lesser(\*to,/*to = greater(*to,/
wrench.c|wrench|opposite face like the face|s/support(c, k, -along)/support(c, k, along)/
wrench.c|tension_cases|ranges the wrong way|s/c->max_n\[k\] - slack/c->max_n[k] + slack/
spread.c|spread|making up the wrong way|s/tension\[k\] += part\[j\]/tension[k] -= part[j]/
spread.c|spread|cords that want off stay|s/if (gain > worst)/if (gain > 1e9)/
anticipate.c|anticipate|no band|s/(w + lesser(w, band))/w/
anticipate.c|anticipate|slack expected where tension rises|s/factor(above, -rise/factor(above, rise/
anticipate.c|anticipate|trips too late|s/over_s) > worst_s))/over_s) > 2 * worst_s))/
anticipate.c|anticipate|time before the first report counts|s/slack && now->was_slack\[k\] ?/slack ?/
anticipate.c|anticipate|looks nowhere|s/in->way_m \/ speed/0 * in->way_m \/ speed/
limits.c|limits|looser speed|s/.speed_mps = lesser(/.speed_mps = greater(/
limits.c|limits|lower floor|s/.floor_m = greater(/.floor_m = lesser(/
limits.c|limits|loosened while armed|s/if (looser && armed)/if (looser \&\& !by_operator)/
limits.c|limits|loosened by anyone|s/if (looser && !by_operator)/if (looser \&\& armed)/
limits.c|limits|faster for more lag|s/table->unseen_m \/ lag/table->unseen_m * lag/
limits.c|limits|no bound on what is not known of lag|s/lag_s : LIMITS_LAG_WORST_S/lag_s : 0/
reach.c|reach/the_stated_error*|error not summed up|s/reach->error_m = greater(reach->error_m, diag);//
reach.c|reach/a_way_is*|cells are skipped that are near|s/if (p.square >= s.best)/if (p.square >= s.best \/ 4)/
reach.c|reach/agrees*|far outside as far inside|s/return -nearest(/return nearest(/
reach_proof.c|reach_proof|no reserve|s/c.need_n = cfg->rig.mass_kg/c.need_n = 0 * cfg->rig.mass_kg/
reach_proof.c|reach_proof|unreachable too soon|s/return slack < c->need_n;/return slack < 2 * c->need_n;/
reach_proof.c|reach_proof|near an anchor all the same|s/return clear_of_anchors(&c) \&\&/return/
stage.c|stage|only the ends held against the walls|s/side_to_wall(plan->from\[k\], plan->to\[k\], a, b)/lesser(point_to_wall(plan->from[k], a, b), point_to_wall(plan->to[k], a, b))/
guard.c|guard|half the bend|s/window \* window \/ 2/window * window \/ 4/
guard.c|guard|no hysteresis in the swing|s/cfg->swing_max_rad \/ 2/cfg->swing_max_rad/
guard.c|guard|catches up on late ticks|s/cfg->brake_mps2 \* lesser(elapsed_s, cfg->dt_s)/cfg->brake_mps2 * elapsed_s/
guard_steer.c|guard|turned into the wall|s/double into = -vec_dot/double into = vec_dot/
travel.c|travel|half a tick forgotten in the speed|s/dt \* (n - 0.5)/dt * (n - 1)/
travel.c|travel|reaction forgotten in the speed|s/\/ (reaction + dt/\/ (dt/
travel.c|travel|a tick too little to stop in|s/(v \/ 2 + (n - 1) \* v/(v \/ 2 + (n - 2) * v/
travel.c|travel|turns the other way|s/(direction < 0 ? -1 : 1)/(direction < 0 ? 1 : -1)/
travel.c|travel|less gained on the way out is enough|s/AWAY_GAIN    0.5/AWAY_GAIN    0.35/
travel.c|travel|the way out looked at too seldom|s/next = growth \* way/next = 3 * growth * way/
stop.c|stop|the same press again and again|s/in->asked > stop->asked/in->asked >= stop->asked/
stop.c|stop|a count below what the rig may have heard|s/if (stop->count <= asked)/if (stop->count < asked)/
stop.c|stop|last reason instead of the first|s/bool first = !valid || stop->state != STOP_LATCHED;/bool first = true;/
stop.c|stop|no permit|s/stop->permit = stop->count;/stop->permit = stop->count - 1;/
stop.c|stop|unknown events are taken|s/(unsigned)in->event >= STOP_EVENT_COUNT ||/(unsigned)in->event > STOP_EVENT_COUNT ||/
stop.c|stop|a stop becomes less severe|s/: stop_severer(stop->category, category);/: category;/
stop.c|stop|a hold does not count|s/^        raise_count(stop);/        ;/
stop.c|stop|reset arms whatever the category|s/stop->category == STOP_CATEGORY_2 \&\& !in->unpowered/!in->unpowered/
stop.c|stop|moving when armed|s/\[STOP_EVENT_ARM\] = {MAY | AT_REST/[STOP_EVENT_ARM] = {MAY/
stop.c|stop|a pressed control overlooked|s/ || in->asserted || / || /
stop_watch.c|stop_watch|pressing on puts the wait off|s/if (!heard)/if (!heard \&\& w->awaited == stop->count)/
stop_watch.c|stop_watch|motion under a stop overlooked|s/if (in->at_rest)/if (in->at_rest || w->watching)/
standstill.c|standstill|whatever the rig says|s/!in->driven \&\& //
standstill.c|standstill|at once|s/>= STANDSTILL_HOLD_S;/>= 0;/
END
}

# Compiles a unit test once, links it with a fault, and runs it; leaves the verdict in $work/N.
try() {
    n=$1 file=$2 test=${3%%/*} only=${3#*/} script=$4
    mkdir -p "$work/$n.d" && sed "$script" "$root/policy/motion/$file" >"$work/$n.d/$file"
    shift 4
    if cmp -s "$root/policy/motion/$file" "$work/$n.d/$file"; then
        echo "not ok: it changes nothing" >"$work/$n"
        return
    fi
    # shellcheck disable=SC2086
    if ! "$@" $flags -O1 "$work/$n.d/$file" "$work/$test.o" "$policy_lib" -lcriterion -ljansson -lm -o "$work/$n.d/test" \
        2>"$work/$n.d/log"; then
        echo "not ok: it does not compile" >"$work/$n"
        return
    fi
    [ "$only" = "$test" ] && only='*'
    timeout 100 "$work/$n.d/test" --tap -j1 --filter "*/$only" >"$work/$n.d/tap" 2>&1
    code=$?
    if [ $code -eq 0 ]; then
        echo "not ok: it survived" >"$work/$n"
    elif [ $code -eq 124 ]; then
        echo "not ok: the tests did not end" >"$work/$n"
    else
        echo "ok: $(sed -n 's/^not ok - \([a-z_:]*\).*/\1/p' "$work/$n.d/tap" | head -n 1)" >"$work/$n"
    fi
    rm -f "$work/$n.d/test"
}

rm -rf "$work"
mkdir -p "$work"
mutants >"$work/list"
for test in $(cut -d'|' -f2 "$work/list" | cut -d/ -f1 | sort -u); do
    # shellcheck disable=SC2086
    "$@" $flags -O0 -c "$root/tests/unit/motion/test_$test.c" -o "$work/$test.o" || exit 1
done
total=$(grep -c . "$work/list")
echo "TAP version 13"
echo "1..$total"
n=0
while IFS='|' read -r file test name script; do
    n=$((n + 1))
    # The script may hold a bar itself: it is all that is left of the line.
    try "$n" "$file" "$test" "$script" "$@" </dev/null &
    [ $((n % 2)) -eq 0 ] && wait
done <"$work/list"
wait
failed=0
n=0
while IFS='|' read -r file test name script; do
    n=$((n + 1))
    verdict=$(cat "$work/$n")
    case $verdict in
    ok*) echo "ok $n - noticed: $name in $file (${verdict#ok: })" ;;
    *) echo "not ok $n - $name in $file: ${verdict#not ok: }" && failed=1 ;;
    esac
done <"$work/list"
exit $failed
