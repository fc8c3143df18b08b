// SPDX-License-Identifier: Apache-2.0
// Before banned.h: a parameter in OpenSSL's headers bears a banned name.
#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/rand.h>

#include "base/digest.h"

#include <errno.h>
#include <fcntl.h>
#include <unistd.h>

enum { READ_BYTES = 1 << 18 };

struct pc_digest {
    EVP_MD_CTX *md;
};

struct pc_digest *pc_digest_create(void)
{
    struct pc_digest *digest = malloc(sizeof *digest);
    PC_ASSERT(digest != NULL);
    digest->md = EVP_MD_CTX_new();
    PC_ASSERT(digest->md != NULL && EVP_DigestInit_ex(digest->md, EVP_sha256(), NULL) == 1);
    return digest;
}

void pc_digest_destroy(struct pc_digest *digest)
{
    if (digest == NULL)
        return;
    EVP_MD_CTX_free(digest->md);
    free(digest);
}

void pc_digest_add(struct pc_digest *digest, const void *bytes, size_t count)
{
    PC_ASSERT(EVP_DigestUpdate(digest->md, bytes, count) == 1);
}

void pc_digest_hex(struct pc_digest *digest, char hex[PC_DIGEST_HEX_BYTES])
{
    unsigned char raw[EVP_MAX_MD_SIZE];
    unsigned count = 0;
    PC_ASSERT(EVP_DigestFinal_ex(digest->md, raw, &count) == 1 && count == PC_DIGEST_BYTES);
    for (size_t i = 0; i < PC_DIGEST_BYTES; i++)
        snprintf(hex + 2 * i, 3, "%02x", raw[i]);
}

void pc_digest_of_bytes(const void *bytes, size_t count, char hex[PC_DIGEST_HEX_BYTES])
{
    struct pc_digest *digest = pc_digest_create();
    pc_digest_add(digest, bytes, count);
    pc_digest_hex(digest, hex);
    pc_digest_destroy(digest);
}

enum pc_status pc_digest_of_file(const char *path, char hex[PC_DIGEST_HEX_BYTES], struct pc_err *err)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return pc_fail(err, errno == ENOENT ? PC_NOT_FOUND : PC_IO, path, "It cannot be opened (%s).",
                       strerror(errno));
    char *bytes = malloc(READ_BYTES);
    PC_ASSERT(bytes != NULL);
    struct pc_digest *digest = pc_digest_create();
    ssize_t n = 0;
    do {
        n = read(fd, bytes, READ_BYTES);
        if (n > 0)
            pc_digest_add(digest, bytes, (size_t)n);
    } while (n > 0 || (n < 0 && errno == EINTR));
    int code = errno;
    pc_digest_hex(digest, hex);
    pc_digest_destroy(digest);
    free(bytes);
    close(fd);
    return n == 0 ? PC_OK : pc_fail(err, PC_IO, path, "It cannot be read to its end (%s).", strerror(code));
}

void pc_random_bytes(void *bytes, size_t count)
{
    PC_ASSERT(count <= 4096 && RAND_bytes(bytes, (int)count) == 1);
}

bool pc_digest_same(const void *a, const void *b, size_t count)
{
    return CRYPTO_memcmp(a, b, count) == 0;
}
