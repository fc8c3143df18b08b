// SPDX-License-Identifier: Apache-2.0
// One run of all tests that need no browser.
import './types_test';
import './units_test';
import './fold_test';
import './queue_test';
import './weighed_test';
