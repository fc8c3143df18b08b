// SPDX-License-Identifier: Apache-2.0
// Made-up sets of lights from first frame to answers: every seed another table, camera and kit. The truth
// comes from tests/sim, which shares nothing with what is judged here.
//
//   test-sets [PATTERN]    only the tests whose names match
//   PC_SEEDS=FROM+COUNT   other seeds than the suite's own
#include "tests/sets/sets.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(weighed_sums_are_as_held_out_frames),
        cmocka_unit_test(shares_and_their_tolerances_hold),
        cmocka_unit_test(a_drifting_window_is_taken_off),
        cmocka_unit_test(too_much_drift_is_refused_by_name),
        cmocka_unit_test(a_nudged_napkin_is_found),
        cmocka_unit_test(shares_from_the_hand_are_right),
        cmocka_unit_test(a_mix_is_measured_on_the_cards),
        cmocka_unit_test(the_closing_check_names_what_differs),
        cmocka_unit_test(flash_and_ambient_keep_their_own_clocks),
        cmocka_unit_test(wanted_dials_do_on_the_table_what_was_wanted),
        cmocka_unit_test(a_dial_curve_from_six_frames_foretells_the_rest),
        cmocka_unit_test(frames_between_two_kelvins_foretell_the_rest),
    };
    if (argc > 1)
        cmocka_set_test_filter(argv[1]);
    return cmocka_run_group_tests_name("sets", tests, NULL, NULL);
}
