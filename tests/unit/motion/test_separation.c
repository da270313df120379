/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/separation.h"

#include "policy/motion/travel.h"
#include "tests/unit/motion/cases.h"

/* ISO 13855:2010, approach at right angles to a light curtain: at 2 m/s up to half a metre, beyond that at 1.6 m/s but
 * no nearer than that half; never nearer than 0.1 m. C = 8 (d - 14) mm of the curtain's resolution d. */
static double curtain_m(double time_s, double resolution_mm)
{
    double reach_m = 0.008 * (resolution_mm - 14), near = separation_kept(2.0, time_s, reach_m);
    if (near > 0.5)
        near = fmax(separation_kept(1.6, time_s, reach_m), 0.5);
    return fmax(near, 0.1);
}

/* Case separation-13855; two of its rows are printed in makers' manuals. */
Test(separation, as_published_for_an_approach_at_right_angles)
{
    json_t *one = reference_case("motion.json", "separation-13855"), *row;
    const json_t *wanted = reference_expect(one, "S_mm");
    size_t i;
    cr_assert_eq(json_array_size(wanted), 6);
    json_array_foreach(reference_input(one, "rows"), i, row)
    {
        double time_s = cases_number(json_object_get(row, "T_s")), d_mm = cases_number(json_object_get(row, "d_mm"));
        cr_assert_float_eq(1000 * curtain_m(time_s, d_mm), cases_number(json_array_get(wanted, i)), 1e-9, "row %zu", i);
    }
    json_decref(one);
}

/* Case separation-15066: what is kept from somebody, and what the camera runs on and brakes, as the guard reckons. */
Test(separation, with_the_braking_path_it_is_the_protective_distance)
{
    json_t *one = reference_case("motion.json", "separation-15066"), *row;
    size_t i;
    cr_assert_eq(json_array_size(reference_input(one, "rows")), 3);
    json_array_foreach(reference_input(one, "rows"), i, row)
    {
        double vh = cases_number(json_object_get(row, "vh")), vr = cases_number(json_object_get(row, "vr"));
        double react = cases_number(json_object_get(row, "Tr")), stop = cases_number(json_object_get(row, "Ts"));
        double a = cases_number(json_object_get(row, "a")), reach = cases_number(json_object_get(row, "C"));
        double seen = cases_number(json_object_get(row, "Zd")), placed = cases_number(json_object_get(row, "Zr"));
        const json_t *wanted = json_array_get(reference_expect(one, "rows"), i);
        double path = vr * react + travel_stop_distance(vr, a, vr / a / 1000);
        cr_assert_float_eq(separation_kept(vh, react + stop, 0), cases_number(json_object_get(wanted, "Sh")), 1e-9);
        cr_assert_float_eq(separation_kept(vh, react + stop, reach + seen) + path + placed,
                           cases_number(json_object_get(wanted, "Sp")), 1e-9, "row %zu", i);
    }
    json_decref(one);
}
