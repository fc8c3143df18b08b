// SPDX-License-Identifier: Apache-2.0
// The tests of whole sets, a file for each idea; sets_test.c runs them.
#ifndef TESTS_SETS_SETS_H
#define TESTS_SETS_SETS_H

void weighed_sums_are_as_held_out_frames(void **state);
void shares_and_their_tolerances_hold(void **state);
void a_drifting_window_is_taken_off(void **state);
void too_much_drift_is_refused_by_name(void **state);
void a_nudged_napkin_is_found(void **state);
void shares_from_the_hand_are_right(void **state);
void a_mix_is_measured_on_the_cards(void **state);
void the_closing_check_names_what_differs(void **state);
void flash_and_ambient_keep_their_own_clocks(void **state);
void wanted_dials_do_on_the_table_what_was_wanted(void **state);
void a_dial_curve_from_six_frames_foretells_the_rest(void **state);
void frames_between_two_kelvins_foretell_the_rest(void **state);

#endif
