#!/bin/sh
# Built again in another folder, the program comes out byte for byte the same.
# usage: reproducible.sh PROGRAM

. tests/support/count.sh
build=$(dirname "$1")
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT

what='the same program from another folder'
case $(cat "$build/flags") in
*-fsanitize*)
    skip "$what" 'a build without sanitizers'
    close_count
    ;;
esac
mkdir "$dir/elsewhere"
cp -R Makefile include src "$dir/elsewhere/"

# Not the make that started this test: no job server of its, but its variables.
MAKEFLAGS=$(printf '%s' "${MAKEFLAGS-}" | sed 's/ *-*j *[0-9]*//; s/--jobserver[^ ]*//')
unset MFLAGS MAKELEVEL
export MAKEFLAGS
(cd "$dir/elsewhere" && ${MAKE:-make} -s BUILD=out out/squareleaf out/libsquareleaf.a) || {
    fail "$what" 'it does not build there'
    close_count
}
here=$(sed 's/-ffile-prefix-map=[^ ]*//' "$build/flags")
there=$(sed 's/-ffile-prefix-map=[^ ]*//' "$dir/elsewhere/out/flags")
if [ "$here" != "$there" ]; then
    skip "$what" "a build with today's flags (here: $here)"
else
    check "$what" cmp "$build/squareleaf" "$dir/elsewhere/out/squareleaf"
    check 'the same library from another folder' \
        cmp "$build/libsquareleaf.a" "$dir/elsewhere/out/libsquareleaf.a"
fi
close_count
