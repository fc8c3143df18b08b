// SPDX-License-Identifier: Apache-2.0
// The photon-transfer line, variance = offset + per_signal * signal (EMVA 1288), through samples some of
// which hold detail besides noise.
#ifndef PC_IMAGE_PICTURE_TRANSFER_PRIV_H
#define PC_IMAGE_PICTURE_TRANSFER_PRIV_H

#include "base/err.h"

enum { PC_TRANSFER_SAMPLES_LEAST = 48 }; // fewer are no sample

// One measured variance: offset_var * x_offset + per_signal_var * x_signal, or more where there is detail.
struct pc_transfer_sample {
    double level; // to sort by
    double var, x_offset, x_signal;
};

struct pc_transfer_line {
    double offset_var, per_signal_var; // neither below zero
};

// freedom: the degrees of freedom behind each variance. share (0..1): that much of the samples at any level
// is free of detail. Sorts the samples. All zero when there are fewer than PC_TRANSFER_SAMPLES_LEAST.
struct pc_transfer_line pc_transfer_fit(struct pc_transfer_sample *samples, int count, int freedom,
                                        double share);

#endif
