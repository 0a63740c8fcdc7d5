#!/bin/sh
# squareleaf.h compiles alone, as C11 and as C++, with warnings as errors.
# usage: header.sh PROGRAM

. tests/support/count.sh
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT

echo '#include <squareleaf.h>' > "$dir/alone.c"
cp "$dir/alone.c" "$dir/alone.cc"
check 'compiles alone as C11' ${CC:-cc} -std=c11 -Wall -Wextra -Wpedantic -Werror \
    -Iinclude -fsyntax-only "$dir/alone.c"
if have c++; then
    check 'compiles alone as C++11' c++ -std=c++11 -Wall -Wextra -Wpedantic -Werror \
        -Iinclude -fsyntax-only "$dir/alone.cc"
else
    skip 'compiles alone as C++11' 'a C++ compiler'
fi
close_count
