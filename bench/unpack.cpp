// SPDX-License-Identifier: Apache-2.0
#include "unpack.h"

#include <libraw/libraw.h>

#include <atomic>
#include <memory>
#include <thread>
#include <vector>

bool bench_unpack(const char *const *paths, int count, int threads)
{
    std::atomic<int> next(0), unpacked(0);
    std::vector<std::thread> running;
    for (int t = 0; t < threads; t++)
        running.emplace_back([&] {
            std::unique_ptr<LibRaw> reader(new LibRaw);
            for (int i = next++; i < count; i = next++) {
                if (reader->open_file(paths[i]) == LIBRAW_SUCCESS && reader->unpack() == LIBRAW_SUCCESS)
                    unpacked++;
                reader->recycle();
            }
        });
    for (std::thread &thread : running)
        thread.join();
    return unpacked == count;
}
