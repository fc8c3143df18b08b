// SPDX-License-Identifier: Apache-2.0
// One picture explained as a weighted sum of others: least squares over small blocks, no weight below zero,
// blocks that cannot be explained (something moved) held back.
#ifndef PC_LIGHT_PARTS_BLOCKS_H
#define PC_LIGHT_PARTS_BLOCKS_H

#include "light/parts/parts.h"

enum { PC_BLOCKS_TERMS_MAX = PC_EMITTERS_MAX + 1 };

struct pc_blocks {
    int terms;
    const struct pc_picture *picture[PC_BLOCKS_TERMS_MAX]; // borrowed, on the parts' grid
    double unit[PC_BLOCKS_TERMS_MAX];                      // weight of the picture for one unit of the term
    // Found:
    double weight[PC_BLOCKS_TERMS_MAX];   // units
    double variance[PC_BLOCKS_TERMS_MAX]; // of the weight; infinite where the terms cannot be told apart
    double mean[PC_BLOCKS_TERMS_MAX];     // mean level of one unit over the blocks that were used
};

// False when too little of the picture can be compared, or the terms cannot be told apart at all.
bool pc_blocks_explain(const struct pc_parts *parts, const struct pc_picture *actual,
                       struct pc_blocks *sum) PC_MUST_CHECK;

#endif
