// SPDX-License-Identifier: Apache-2.0
#include "image/photo/worker/sandbox.h"

#include <errno.h>
#include <sched.h>
#include <seccomp.h>
#include <signal.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer) || __has_feature(memory_sanitizer)
#define SANITIZED 1
#endif
#endif
#ifndef SANITIZED
#define SANITIZED 0
#endif

enum { MOST_DESCRIPTORS = 16 };

static bool limit(int what, rlim_t most)
{
    struct rlimit now;
    if (getrlimit((__rlimit_resource_t)what, &now) != 0)
        return false;
    if (now.rlim_max != RLIM_INFINITY && most > now.rlim_max)
        most = now.rlim_max;
    struct rlimit limits = {.rlim_cur = most, .rlim_max = most};
    return setrlimit((__rlimit_resource_t)what, &limits) == 0;
}

// Descriptors cannot be opened, only used; memory cannot be made executable; a clone must be a thread.
// Everything else answers EPERM rather than killing, so that a library that only tries (a locale file, a time
// zone) goes on.
static bool add_rules(scmp_filter_ctx filter)
{
    static const int plain[] = {
        SCMP_SYS(read),
        SCMP_SYS(write),
        SCMP_SYS(recvmsg),
        SCMP_SYS(sendmsg),
        SCMP_SYS(sendto),
        SCMP_SYS(recvfrom),
        SCMP_SYS(close),
        SCMP_SYS(lseek),
        SCMP_SYS(ftruncate),
        SCMP_SYS(munmap),
        SCMP_SYS(mremap),
        SCMP_SYS(madvise),
        SCMP_SYS(brk),
        SCMP_SYS(futex),
        SCMP_SYS(set_robust_list),
        SCMP_SYS(rseq),
        SCMP_SYS(sched_yield),
        SCMP_SYS(clock_gettime),
        SCMP_SYS(gettimeofday),
        SCMP_SYS(clock_nanosleep),
        SCMP_SYS(nanosleep),
        SCMP_SYS(rt_sigprocmask),
        SCMP_SYS(rt_sigreturn),
        SCMP_SYS(sigaltstack),
        SCMP_SYS(gettid),
        SCMP_SYS(getpid),
        SCMP_SYS(sched_getaffinity),
        SCMP_SYS(restart_syscall),
        SCMP_SYS(alarm),
        SCMP_SYS(setitimer),
        SCMP_SYS(exit),
        SCMP_SYS(exit_group),
        SCMP_SYS(getrandom),
    };
    for (size_t i = 0; i < PC_COUNT(plain); i++)
        if (seccomp_rule_add(filter, SCMP_ACT_ALLOW, plain[i], 0) != 0)
            return false;
    static const int mapping[] = {SCMP_SYS(mmap), SCMP_SYS(mprotect)};
    for (size_t i = 0; i < PC_COUNT(mapping); i++)
        if (seccomp_rule_add(filter, SCMP_ACT_ALLOW, mapping[i], 1,
                             SCMP_A2(SCMP_CMP_MASKED_EQ, PROT_EXEC, 0)) != 0)
            return false;
    return seccomp_rule_add(filter, SCMP_ACT_ALLOW, SCMP_SYS(clone), 1,
                            SCMP_A0(SCMP_CMP_MASKED_EQ, CLONE_THREAD, CLONE_THREAD)) == 0 &&
           // Its flags lie in memory where a filter cannot look; without it the C library falls back to
           // clone.
           seccomp_rule_add(filter, SCMP_ACT_ERRNO(ENOSYS), SCMP_SYS(clone3), 0) == 0;
}

bool pc_sandbox_enter(const struct pc_sandbox *sandbox)
{
    if (!limit(RLIMIT_CORE, 0) || !limit(RLIMIT_NOFILE, MOST_DESCRIPTORS) ||
        !limit(RLIMIT_FSIZE, sandbox->pixels_bytes) ||
        (!SANITIZED && !limit(RLIMIT_AS, sandbox->memory_bytes)))
        return false;
    // Shared memory over its limit is then an error of ftruncate's instead of a death.
    signal(SIGXFSZ, SIG_IGN);
    // No core, and nobody of the same user may look in.
    if (prctl(PR_SET_DUMPABLE, 0, 0, 0, 0) != 0)
        return false;
    scmp_filter_ctx filter = seccomp_init(SCMP_ACT_ERRNO(EPERM));
    if (filter == NULL)
        return false;
    bool good = add_rules(filter) && seccomp_load(filter) == 0; // sets no-new-privileges, too
    seccomp_release(filter);
    return good;
}
