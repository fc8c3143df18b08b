// SPDX-License-Identifier: Apache-2.0
// Half floats against the compiler's own.
#include "front/answer/half.h"

#include <setjmp.h>
#include <cmocka.h>

#ifdef __clang__ // which reads this for the checks of style, and knows no half on this machine
#define _Float16 float
#endif

static uint16_t by_compiler(float value)
{
    _Float16 half = (_Float16)value;
    uint16_t bits;
    memcpy(&bits, &half, sizeof bits);
    return bits;
}

static void check(uint32_t bits)
{
    float value;
    memcpy(&value, &bits, sizeof value);
    uint16_t got = pc_half(value), wanted = by_compiler(value);
    bool both_nan = isnan(value) && (got & 0x7c00) == 0x7c00 && (got & 0x3ff) != 0;
    if (got != wanted && !both_nan)
        fail_msg("%a: %04x, not %04x", (double)value, got, wanted);
}

// All signs and exponents, and of the fractions those about every half, and every tie: what is dropped is all
// zeros, all ones, a half, and one to either side of it.
static void every_half_and_its_neighbours(void **state)
{
    (void)state;
    static const uint32_t dropped[] = {0x0000, 0x0001, 0x0fff, 0x1000, 0x1001, 0x1fff};
    for (uint32_t top = 0; top < 1u << 19; top++)
        for (size_t i = 0; i < PC_COUNT(dropped); i++)
            check(top << 13 | dropped[i]);
}

// Where the step is coarser, below 2^-14, other bits are dropped: all fractions of those exponents in
// strides.
static void small_ones_round_alike(void **state)
{
    (void)state;
    for (uint32_t exponent = 100; exponent <= 113; exponent++)
        for (uint32_t fraction = 0; fraction < 1u << 23; fraction += 61)
            check(exponent << 23 | fraction);
    for (uint32_t exponent = 100; exponent <= 113; exponent++)
        for (int bit = 0; bit < 23; bit++)
            for (int by = -1; by <= 1; by++)
                check((exponent << 23 | 1u << bit) + (uint32_t)by);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_half_and_its_neighbours),
                                       cmocka_unit_test(small_ones_round_alike)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
