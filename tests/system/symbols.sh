#!/bin/sh
# What the libraries show of themselves: the shared one exports what squareleaf.h declares and
# src/libsquareleaf.symbols lists, no more and no less; no external name of the static one lacks
# the prefix sl_, so that it fits into any program.
# usage: symbols.sh PROGRAM
#
# After a change to the API, edit src/libsquareleaf.symbols: a name that goes away is a break for
# every program that was built with it, and asks for a new SOVERSION.

. tests/support/count.sh
LC_ALL=C
export LC_ALL
build=$(dirname "$1")
list=src/libsquareleaf.symbols
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT

if ! have nm; then
    skip 'symbols' 'nm'
    close_count
fi

# The sanitizers add markers of their own beside each variable.
nm -D --defined-only "$build/libsquareleaf.so" | awk '{ print $NF }' |
    grep -v '^__' | sort > "$dir/exported"
check 'the list is sorted' sort -c "$list"
check 'the shared library exports what the list says' diff "$list" "$dir/exported"

${CC:-cc} -E -P -Iinclude include/squareleaf.h | grep -v '^#' | tr '\n' ' ' |
    grep -oE '[^a-z0-9_]sl_[a-z0-9_]+\(' | tr -d ' *(;})' | sort -u > "$dir/declared"
check 'the list says what the header declares' diff "$list" "$dir/declared"

nm -g --defined-only "$build/libsquareleaf.a" | awk 'NF == 3 { print $3 }' |
    grep -v -e '^sl_' -e '^__odr_asan' > "$dir/strangers"
check 'every external name of the static library begins with sl_' diff /dev/null "$dir/strangers"

check 'the soname' sh -c \
    "readelf -d '$build/libsquareleaf.so' | grep -q 'SONAME.*\[libsquareleaf\.so\.0\]'"
close_count
