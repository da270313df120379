/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What becomes of the cords if their rates are computed as if the room were symmetric and the camera at its centre.
 *
 * Common practice on home-built rigs (no source; it is what a mixing table from stick axes to winches comes to): each
 * winch gets a fixed share of the wanted velocity, -u_k . v with u_k of the centre, wherever the camera is. Against it
 * the length rates of the true geometry at the position the camera was told to go to (policy/motion/cords.h). Both are
 * driven open loop, by rates alone, through the same machine: elastic cords, winches with limits, a body that swings.
 *
 * Why it goes wrong. A cord's length is convex in the position, so a fixed rate pays out too little, by d^2 (1 - (u_k .
 * e)^2) / 2 l after a way d along e: more for the cords to the sides than for those ahead and behind. Four cords hold
 * three freedoms; that difference has nowhere to go but into tension, along the null vector of the statics: on the
 * diagonal of a square room by k c^2 d^2 / 4 l for each cord (c: cosine of the cords' slope), less for one pair, more
 * for the other. A stiff cord forgives millimetres. What goes into no tension lifts the camera.
 *
 * Found (4 cords, 2.4 kg, limits 3 and 150 N; see the tables this prints): with the fixed rates a cord is at its lower
 * limit 0.2 m from the centre along the diagonal, and on every way out but the few on which the room is its own mirror
 * image; there, all cords end up over their upper limit instead. Soft cords (600 N/m) put it off to some 0.7 m. With
 * the true rates no cord comes near a limit anywhere on the stage, though no tension is controlled at all. What error
 * is left to them is where the statics would spread the load otherwise: hence the wanted tensions that go out beside
 * the rates. Tensions beyond the upper limit are those of the model: a winch would have stalled, or something parted.
 */
#include <stdio.h>

#include "policy/motion/units.h"
#include "tests/sim/symmetric_rig.h"

#define PI 3.14159265358979323846

enum { BEARINGS = 24, ROOMS = 4, SQUARE = 0 };

static const struct symmetric_room rooms[ROOMS] = {
    {"square, 6 x 6 m", {{-3, -3, 3.1}, {3, -3, 3.1}, {3, 3, 3.1}, {-3, 3, 3.1}}, 2.0, 12000},
    {"oblong, 7.6 x 5.6 m", {{0.2, 0.2, 3.1}, {7.8, 0.2, 3.1}, {7.8, 5.8, 3.1}, {0.2, 5.8, 3.1}}, 2.0, 12000},
    {"square, cord 3's anchor 0.4 m low", {{-3, -3, 3.1}, {3, -3, 3.1}, {3, 3, 2.7}, {-3, 3, 3.1}}, 2.0, 12000},
    {"square, soft cords", {{-3, -3, 3.1}, {3, -3, 3.1}, {3, 3, 3.1}, {-3, 3, 3.1}}, 2.0, 600},
};

struct study {
    struct symmetric_way way[SYMMETRIC_RATES][BEARINGS];
    struct symmetric_reading worst[SYMMETRIC_RATES][SYMMETRIC_STATIONS]; /* of all bearings */
    int stations;
};

static double bearing_of(int b)
{
    return 2 * PI * b / BEARINGS;
}

static void add_worst(struct symmetric_reading *worst, const struct symmetric_reading *r)
{
    worst->error_n = fmax(worst->error_n, r->error_n);
    worst->least_n = fmin(worst->least_n, r->least_n);
    worst->most_n = fmax(worst->most_n, r->most_n);
    worst->astray_m = fmax(worst->astray_m, r->astray_m);
}

static void run(const struct symmetric_room *room, struct study *s)
{
    *s = (struct study){.stations = 0};
    for (int rates = 0; rates < SYMMETRIC_RATES; rates++) {
        for (int i = 0; i < SYMMETRIC_STATIONS; i++)
            s->worst[rates][i].least_n = INFINITY;
        for (int b = 0; b < BEARINGS; b++) {
            struct symmetric_way *way = &s->way[rates][b];
            symmetric_drive(room, (enum symmetric_rates)rates, bearing_of(b), way);
            for (int i = 0; i < way->stations; i++)
                add_worst(&s->worst[rates][i], &way->at[i]);
            s->stations = way->stations > s->stations ? way->stations : s->stations;
        }
    }
}

static void print(const struct symmetric_room *room, const struct study *s)
{
    printf("# %s, cords of %.0f N/m; worst of %d bearings\n", room->name, room->stiffness_npm, BEARINGS);
    printf("#               rates of the symmetric room's centre       rates of the true geometry\n");
    printf("# from centre   error N   least N    most N  astray mm   error N   least N    most N  astray mm\n");
    for (int i = 0; i < s->stations; i++) {
        printf("#      %4.2f m", (i + 1) * SYMMETRIC_STEP_M);
        for (int rates = 0; rates < SYMMETRIC_RATES; rates++) {
            const struct symmetric_reading *r = &s->worst[rates][i];
            printf(" %9.1f %9.1f %9.1f %10.0f", r->error_n, r->least_n, r->most_n, 1000 * r->astray_m);
        }
        printf("\n");
    }
    printf("# at its lower limit first, by bearing:");
    for (int b = 0; b < BEARINGS; b += 3) {
        const struct symmetric_way *way = &s->way[SYMMETRIC_CENTRE][b];
        printf(" %.0f deg ", bearing_of(b) * 180 / PI);
        if (way->cord >= 0)
            printf("cord %d at %.2f m;", way->cord + 1, way->reached_m);
        else
            printf("none, but over the upper at %.2f m;", way->over_m);
    }
    printf("\n#\n");
}

/* ---- Claims ---- */

static bool check(int *number, bool holds, const char *claim, const char *room)
{
    printf("%s %d - %s: %s\n", holds ? "ok" : "not ok", ++*number, room, claim);
    return holds;
}

/* Is the room its own mirror image along this bearing? Then no difference between the sides can arise. */
static bool mirrored(const struct symmetric_room *room, double bearing)
{
    struct vec3 centre = symmetric_centre(room), ahead = {cos(bearing), sin(bearing), 0};
    for (int k = 0; k < 4; k++) {
        struct vec3 from = vec_sub(room->anchor[k], centre);
        double along = vec_dot(from, ahead), aside = from.x * ahead.y - from.y * ahead.x;
        bool found = false;
        for (int j = 0; j < 4; j++) {
            struct vec3 other = vec_sub(room->anchor[j], centre);
            double far = fabs(vec_dot(other, ahead) - along) + fabs(other.x * ahead.y - other.y * ahead.x + aside);
            found |= j != k && far + fabs(other.z - from.z) < 1e-9;
        }
        if (!found)
            return false;
    }
    return true;
}

/* Off the mirror lines a cord goes slack before the edge; on them all end up over the upper limit. */
static bool centre_rates_fail(const struct symmetric_room *room, const struct study *s)
{
    for (int b = 0; b < BEARINGS; b++) {
        const struct symmetric_way *way = &s->way[SYMMETRIC_CENTRE][b];
        if (mirrored(room, bearing_of(b)) ? way->over_m == INFINITY : way->cord < 0)
            return false;
    }
    return true;
}

static bool true_rates_hold(const struct study *s)
{
    for (int b = 0; b < BEARINGS; b++)
        if (s->way[SYMMETRIC_TRUE][b].cord >= 0 || s->way[SYMMETRIC_TRUE][b].over_m != INFINITY)
            return false;
    return true;
}

/* Off by less than half the load everywhere, where the others are off by three times as much at every distance, and by
 * ten times the load in the end. */
static bool errors_as_told(const struct study *s)
{
    double load = 2.4 * UNITS_GRAVITY_MPS2, last = 0;
    for (int i = 0; i < s->stations; i++) {
        double off = s->worst[SYMMETRIC_TRUE][i].error_n;
        last = s->worst[SYMMETRIC_CENTRE][i].error_n;
        if (off > 0.4 * load || last < 3 * off)
            return false;
    }
    return last > 10 * load;
}

/* And nobody had to trust the machine's model: the closed form of the header gives the same distance. */
static bool closed_form_agrees(const struct symmetric_room *room, const struct study *s)
{
    struct vec3 cord = vec_sub(room->anchor[0], symmetric_centre(room));
    double length = vec_norm(cord), flat = hypot(cord.x, cord.y) / length, steep = cord.z / length;
    double start = 2.4 * UNITS_GRAVITY_MPS2 / 4 / steep;
    double far = sqrt(4 * length * (start - SYMMETRIC_LEAST_N) / (room->stiffness_npm * flat * flat));
    double found = s->way[SYMMETRIC_CENTRE][BEARINGS / 8].reached_m;
    printf("# along the diagonal: %.3f m by the closed form, %.3f m found\n", far, found);
    return fabs(found - far) < 0.1 * far;
}

int main(void)
{
    static struct study study;
    int number = 0;
    bool good = true;
    printf("1..%d\n", 3 * ROOMS + 1);
    for (int r = 0; r < ROOMS; r++) {
        run(&rooms[r], &study);
        print(&rooms[r], &study);
        good &=
            check(&number, centre_rates_fail(&rooms[r], &study),
                  "rates of the centre drive a cord to its lower limit, or on mirror lines its upper, on every way out",
                  rooms[r].name);
        good &= check(&number, true_rates_hold(&study), "true rates drive none to a limit", rooms[r].name);
        good &= check(&number, errors_as_told(&study),
                      "the error of the one grows past all bounds, that of the other does not", rooms[r].name);
        if (r == SQUARE)
            good &= check(&number, closed_form_agrees(&rooms[r], &study), "as the closed form has it", rooms[r].name);
    }
    return good ? 0 : 1;
}
