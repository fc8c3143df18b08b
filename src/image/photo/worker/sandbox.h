// SPDX-License-Identifier: Apache-2.0
// What a worker may do once it has begun: compute, and talk over the descriptors that it holds. Nothing else.
#ifndef PC_IMAGE_PHOTO_WORKER_SANDBOX_H
#define PC_IMAGE_PHOTO_WORKER_SANDBOX_H

#include "base/err.h"

struct pc_sandbox {
    size_t
        memory_bytes; // address space; not limited in builds with a sanitizer, whose shadow takes terabytes
    size_t pixels_bytes; // most that the shared memory may grow to
};

// For good. To be called while there is one thread. False when the kernel refuses.
bool pc_sandbox_enter(const struct pc_sandbox *sandbox);

#endif
