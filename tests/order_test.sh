#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Looks at every include: rooms stand in the order that ARCHITECTURE.md gives, private headers stay at home, and each
# library has one source file. Prints TAP.
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
cd "$PC_SOURCE_ROOT"

listed() {
    sed -n "/^\`\`\`$1\$/,/^\`\`\`\$/p" ARCHITECTURE.md | sed '/^```/d; s/ .*//'
}
listed order >"$work/order"

# Rooms there are: a wing that holds sources itself, else the folders in it that hold any.
find src -name '*.[ch]' -o -name '*.cpp' | sort >"$work/files"
awk -F / '{ print (NF > 3 ? $2 "/" $3 : $2) }' "$work/files" | sort -u >"$work/rooms"
{
    grep -vxFf "$work/order" "$work/rooms" | sed 's/$/ stands in src but not in ARCHITECTURE.md/' || true
    grep -vxFf "$work/rooms" "$work/order" | sed 's/$/ stands in ARCHITECTURE.md but not in src/' || true
    sort "$work/order" | uniq -d | sed 's/$/ is listed twice/'
} >"$work/complaints"
verdict 'the rooms of src and of ARCHITECTURE.md are the same' "$(cat "$work/complaints")"

# One line an include: "FILE ROOM HEADER", the header with its quotes or brackets.
while read -r file; do
    sed -n "s|^[[:space:]]*#[[:space:]]*include[[:space:]]*\([\"<][^\">]*[\">]\).*|$file \1|p" "$file"
done <"$work/files" | awk '{ n = split($1, p, "/"); print $1, (n > 3 ? p[2] "/" p[3] : p[2]), $2 }' >"$work/includes"

if [ "$(wc -l <"$work/includes")" -lt 20 ]; then
    echo 'the includes could not be found' >"$work/complaints"
else
    : >"$work/complaints"
fi
verdict 'the includes were found' "$(cat "$work/complaints")"

awk -v order="$work/order" '
    BEGIN { while ((getline room < order) > 0) place[room] = ++n }
    $3 ~ /^"/ {
        header = substr($3, 2, length($3) - 2)
        parts = split(header, p, "/")
        if (parts == 1)
            next # beside the file itself
        room = (p[1] in place) ? p[1] : p[1] "/" p[2]
        # A test, or what tests share (x_bench.c), may use rooms that stand later, and the maker of test frames; it is
        # linked with everything.
        if ($1 ~ /_(test|bench)\.c$/)
            next
        if (!(room in place))
            print $1 " includes " header ", which is in no room"
        else if (room != $2 && place[room] > place[$2])
            print $1 " includes " header ", which stands after it"
    }' "$work/includes" >"$work/complaints"
verdict 'no file includes from a room that stands after its own' "$(cat "$work/complaints")"

awk '
    $3 ~ /_priv\.h"$/ {
        header = substr($3, 2, length($3) - 2)
        home = $1
        sub(/^src\//, "", home)
        sub(/\/[^\/]*$/, "", home)
        folder = header
        if (!sub(/\/[^\/]*$/, "", folder))
            folder = home
        if (index(home "/", folder "/") != 1)
            print $1 " includes " header ", which is private to " folder
    }' "$work/includes" >"$work/complaints"
verdict 'no private header leaves its folder' "$(cat "$work/complaints")"

# What is neither the C library, POSIX nor Linux is somebody else's. The library and the decoder programs (worker
# folders) are linked apart, so each may have its one file.
awk '
    BEGIN {
        n = split("assert complex ctype errno fenv float inttypes iso646 limits locale math setjmp signal stdalign " \
            "stdarg stdatomic stdbool stddef stdint stdio stdlib stdnoreturn string tgmath threads time uchar wchar " \
            "wctype dirent dlfcn fcntl fnmatch ftw getopt glob grp langinfo libgen malloc poll pthread pwd regex sched " \
            "semaphore spawn strings sysexits syslog termios unistd", words, " ")
        for (i = 1; i <= n; i++)
            system_header[words[i] ".h"] = 1
    }
    $3 ~ /^</ && $1 !~ /_(test|bench)\.c$/ {
        header = substr($3, 2, length($3) - 2)
        if (header in system_header || header ~ /^(sys|linux|asm|net|netinet|arpa)\// || header !~ /\.h$/)
            next
        library = header
        sub(/\/.*/, "", library)
        sub(/^jerror\.h$/, "jpeglib.h", library)
        part = $1 ~ /\/worker\// ? "the decoder programs" : "the library"
        if (!((library, part, $1) in seen)) {
            seen[library, part, $1] = 1
            where[library, part] = where[library, part] " " $1
            if (++files[library, part] == 2)
                twice[library, part] = 1
        }
    }
    END {
        for (key in twice) {
            split(key, k, SUBSEP)
            print k[1] " is included more than once in " k[2] ":" where[key]
        }
    }' "$work/includes" >"$work/complaints"
verdict 'each library is included by one source file' "$(cat "$work/complaints")"

# The maker of test frames judges the rest, so it may share the writers and base with it, and nothing else.
find tests/sim -name '*.[ch]' ! -name '*_test.c' | sort | while read -r file; do
    sed -n "s|^#include \"\([^\"]*/[^\"]*\)\".*|$file \1|p" "$file"
done | awk '$2 !~ /^(base\/.*|image\/photo\/write\.h|sim\/.*|tests\/sim\/.*)$/ { print $1 " includes " $2 }' \
    >"$work/complaints"
verdict 'the maker of test frames shares no code with what it judges' "$(cat "$work/complaints")"
plan
