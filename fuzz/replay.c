// SPDX-License-Identifier: Apache-2.0
// Runs a fuzz target over the kept files of its corpus, as a plain test: one TAP point a file. A file that
// kills the target leaves the points short of the plan.
#include "base/file.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int main(int argc, char **argv)
{
    enum { MOST_BYTES = 32 << 20 };
    struct pc_arena *arena = pc_arena_create();
    struct pc_err err = {0};
    char **paths, *bytes;
    size_t files, count;
    if (argc != 2 || arena == NULL || pc_file_list(arena, argv[1], &paths, &files, &err) != PC_OK) {
        fprintf(stderr, "replay: %s\n", argc == 2 ? err.text : "say which corpus");
        return 1;
    }
    printf("1..%zu\n", files);
    for (size_t i = 0; i < files; i++) {
        fflush(stdout);
        bool good = pc_file_read(arena, paths[i], MOST_BYTES, &bytes, &count, NULL) == PC_OK;
        if (good) {
            // A block of exactly the right size, so that a read beyond its end is seen by the sanitizers.
            uint8_t *exact = malloc(count > 0 ? count : 1);
            PC_ASSERT(exact != NULL);
            memcpy(exact, bytes, count);
            LLVMFuzzerTestOneInput(exact, count);
            free(exact);
        }
        printf("%sok %zu - %s\n", good ? "" : "not ", i + 1, pc_file_name(paths[i]));
    }
    pc_arena_destroy(arena);
    return files > 0 ? 0 : 1;
}
