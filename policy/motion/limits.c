/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/limits.h"

#include <assert.h>

static const char *const names[] = {
    [LIMITS_SETUP] = "setup",
    [LIMITS_SHOW] = "show",
    [LIMITS_LOW] = "low",
};
static_assert(sizeof names / sizeof *names == LIMITS_MODES, "every mode has its name");

const char *limits_mode_name(enum limits_mode mode)
{
    return (unsigned)mode < LIMITS_MODES ? names[mode] : "unknown";
}

static bool within(double x, double low, double high)
{
    return x >= low && x <= high; /* false for NaN */
}

static bool valid(const struct limits *l)
{
    return within(l->speed_mps, 0, SHAPE_FAR_M) && within(l->accel_mps2, LIMITS_ACCEL_MIN, SHAPE_FAR_M) &&
           within(l->jerk_mps3, l->accel_mps2 / LIMITS_RAMP_MAX_S, SHAPE_FAR_M) && l->jerk_mps3 > 0 &&
           within(l->floor_m, -SHAPE_FAR_M, SHAPE_FAR_M) && within(l->ceiling_m, -SHAPE_FAR_M, SHAPE_FAR_M) &&
           l->floor_m < l->ceiling_m;
}

struct limits limits_tighter(const struct limits *a, const struct limits *b)
{
    return (struct limits){
        .speed_mps = lesser(a->speed_mps, b->speed_mps),
        .accel_mps2 = lesser(a->accel_mps2, b->accel_mps2),
        .jerk_mps3 = lesser(a->jerk_mps3, b->jerk_mps3),
        .floor_m = greater(a->floor_m, b->floor_m),
        .ceiling_m = lesser(a->ceiling_m, b->ceiling_m),
        .yields = a->yields && b->yields,
    };
}

/* And so nowhere looser than `other`. */
static bool as_tight_as(const struct limits *a, const struct limits *other)
{
    return a->speed_mps <= other->speed_mps && a->accel_mps2 <= other->accel_mps2 && a->jerk_mps3 <= other->jerk_mps3 &&
           a->floor_m >= other->floor_m && a->ceiling_m <= other->ceiling_m && (other->yields || !a->yields);
}

static bool lane_valid(const struct limits cell[LIMITS_MODES])
{
    struct limits low = cell[LIMITS_LOW];
    for (int m = 0; m < LIMITS_MODES; m++) {
        if (!valid(&cell[m]) || !(cell[m].speed_mps > 0))
            return false;
    }
    low.floor_m = greater(low.floor_m, cell[LIMITS_SHOW].floor_m);
    low.yields = false;
    return !cell[LIMITS_SHOW].yields && as_tight_as(&cell[LIMITS_SETUP], &cell[LIMITS_SHOW]) &&
           as_tight_as(&low, &cell[LIMITS_SHOW]);
}

bool limits_table_valid(const struct limits_table *table)
{
    for (int l = 0; l < LANE_COUNT; l++) {
        if (!lane_valid(table->cell[l]))
            return false;
    }
    return within(table->unseen_m, 0, SHAPE_FAR_M);
}

/* What the lane may do at most, in whichever mode. */
static struct limits loosest(const struct limits cell[LIMITS_MODES])
{
    struct limits most = cell[LIMITS_SHOW];
    most.floor_m = lesser(most.floor_m, cell[LIMITS_LOW].floor_m);
    most.yields = true;
    return most;
}

void limits_layer_init(const struct limits_table *table, struct limits_layer *layer)
{
    for (int l = 0; l < LANE_COUNT; l++)
        layer->lane[l] = loosest(table->cell[l]);
}

/* In each mode there is still some height between floor and ceiling, and jerk enough. */
static bool leaves_room(const struct limits cell[LIMITS_MODES], const struct limits *layer)
{
    for (int m = 0; m < LIMITS_MODES; m++) {
        struct limits both = limits_tighter(&cell[m], layer);
        if (!(both.floor_m < both.ceiling_m) || !(both.accel_mps2 <= LIMITS_RAMP_MAX_S * both.jerk_mps3))
            return false;
    }
    return true;
}

/* Infinities, upwards or downwards, ask for as much as there is. */
static bool is_told(const struct limits *l)
{
    return l->speed_mps >= 0 && l->accel_mps2 >= LIMITS_ACCEL_MIN && l->jerk_mps3 > 0 && l->floor_m < l->ceiling_m;
}

enum limits_answer limits_layer_set(const struct limits_table *table, struct limits_layer *layer, enum lane lane,
                                    const struct limits *wanted, bool by_operator, bool armed)
{
    if ((unsigned)lane >= LANE_COUNT || !is_told(wanted))
        return LIMITS_BAD;
    struct limits most = loosest(table->cell[lane]), next = limits_tighter(wanted, &most);
    next.yields = true;
    if (!leaves_room(table->cell[lane], &next))
        return LIMITS_BAD;
    bool looser = !as_tight_as(&next, &layer->lane[lane]);
    if (looser && !by_operator)
        return LIMITS_NOT_OPERATOR;
    if (looser && armed)
        return LIMITS_IS_ARMED;
    layer->lane[lane] = next;
    return LIMITS_TAKEN;
}

struct limits limits_in_force(const struct limits_table *table, const struct limits_layer *layer, enum lane lane,
                              enum limits_mode mode)
{
    unsigned l = (unsigned)lane < LANE_COUNT ? (unsigned)lane : LANE_IDLE;
    unsigned m = (unsigned)mode < LIMITS_MODES ? (unsigned)mode : LIMITS_SHOW;
    return limits_tighter(&table->cell[l][m], &layer->lane[l]);
}

double limits_unseen_mps(const struct limits_table *table, double lag_s)
{
    double lag = lag_s >= 0 && lag_s <= LIMITS_LAG_WORST_S ? lag_s : LIMITS_LAG_WORST_S;
    if (!(table->unseen_m > 0) || !(lag > 0))
        return SHAPE_FAR_M;
    return lesser(table->unseen_m / lag, SHAPE_FAR_M);
}

double limits_near_zone_mps(double distance_m, double zone_mps, double accel_mps2, double delay_s)
{
    double there = sqrt(zone_mps * zone_mps + 2 * accel_mps2 * greater(distance_m, 0));
    return greater(there - accel_mps2 * delay_s, zone_mps);
}
