// SPDX-License-Identifier: Apache-2.0
#include "front/answer/half.h"

enum {
    HALF_INFINITY = 0x7c00,
    HALF_NAN = 0x7e00,
    DROPPED_BITS = 23 - 10, // of the fraction
    LEAST_SHIFT = 127 - 14, // biased exponent of the least normal half, 2^-14
};

// value without its lowest bits, rounded to the nearest, ties to even.
static uint32_t shift_right(uint32_t value, int bits)
{
    if (bits > 31)
        return 0;
    uint32_t kept = value >> bits, rest = value & ((1u << bits) - 1u), half = 1u << (bits - 1);
    return kept + (rest > half || (rest == half && (kept & 1u) != 0) ? 1u : 0u);
}

uint16_t pc_half(float value)
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    uint32_t sign = bits >> 16 & 0x8000u, fraction = bits & 0x7fffffu;
    int exponent = (int)(bits >> 23 & 0xffu);
    if (exponent == 0xff)
        return (uint16_t)(sign | (fraction != 0 ? HALF_NAN : HALF_INFINITY));
    // A carry out of the fraction runs on into the exponent, up to infinity, as it should.
    uint32_t half;
    if (exponent >= LEAST_SHIFT)
        half = shift_right((uint32_t)(exponent - LEAST_SHIFT + 1) << 23 | fraction, DROPPED_BITS);
    else
        half = exponent == 0 ? 0 : shift_right(fraction | 0x800000u, DROPPED_BITS + LEAST_SHIFT - exponent);
    return (uint16_t)(sign | (half > HALF_INFINITY || exponent > 142 ? HALF_INFINITY : half));
}
