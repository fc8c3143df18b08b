// SPDX-License-Identifier: Apache-2.0
// SHA-256 (FIPS 180-4) of bytes and files, random bytes, and a comparison that takes the same time whatever
// it finds. Safe from any thread.
#ifndef PC_BASE_DIGEST_H
#define PC_BASE_DIGEST_H

#include "base/err.h"

enum { PC_DIGEST_BYTES = 32, PC_DIGEST_HEX_BYTES = 65 }; // hex: 64 lower-case digits and the NUL

struct pc_digest; // a hash being made

struct pc_digest *pc_digest_create(void);
void pc_digest_destroy(struct pc_digest *digest); // NULL is fine
void pc_digest_add(struct pc_digest *digest, const void *bytes, size_t count);
// Once, after the last byte.
void pc_digest_hex(struct pc_digest *digest, char hex[PC_DIGEST_HEX_BYTES]);

void pc_digest_of_bytes(const void *bytes, size_t count, char hex[PC_DIGEST_HEX_BYTES]);
// Reads the file to its end.
enum pc_status pc_digest_of_file(const char *path, char hex[PC_DIGEST_HEX_BYTES],
                                 struct pc_err *err) PC_MUST_CHECK;

// From the system's generator; a system without one is one that nothing can be done on.
void pc_random_bytes(void *bytes, size_t count);

bool pc_digest_same(const void *a, const void *b, size_t count);

#endif
