#!/bin/sh
# make install puts down the files it should, a program builds against them through pkg-config,
# with the shared and with the static library, and make uninstall takes all away.
# usage: install.sh PROGRAM

. tests/support/count.sh
build=$(dirname "$1")
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT

# Not the make that started this test: no job server of its, but its variables.
MAKEFLAGS=$(printf '%s' "${MAKEFLAGS-}" | sed 's/ *-*j *[0-9]*//; s/--jobserver[^ ]*//')
unset MFLAGS MAKELEVEL
export MAKEFLAGS
make=${MAKE:-make}

version=$(sed -n 's/^#define SL_VERSION "\(.*\)"/\1/p' include/squareleaf.h)
cat > "$dir/wanted" << END
./usr/bin/squareleaf
./usr/include/squareleaf.h
./usr/lib/libsquareleaf.a
./usr/lib/libsquareleaf.so
./usr/lib/libsquareleaf.so.0
./usr/lib/libsquareleaf.so.$version
./usr/lib/pkgconfig/squareleaf.pc
./usr/share/bash-completion/completions/squareleaf
./usr/share/doc/squareleaf/LICENSE
./usr/share/doc/squareleaf/README.md
./usr/share/man/man1/squareleaf.1
END
# -o all: what is built is tested, and other tests are using it, so nothing is built again.
check 'make install' $make -s -o all BUILD="$build" DESTDIR="$dir/root" PREFIX=/usr install
(cd "$dir/root" && find . ! -type d | LC_ALL=C sort) > "$dir/found"
check 'the files put down' diff "$dir/wanted" "$dir/found"
check 'the program runs from there' "$dir/root/usr/bin/squareleaf" --version

# A program of someone else's, that asks pkg-config.
cat > "$dir/user.c" << 'END'
#include <squareleaf.h>
#include <string.h>

int main(void)
{
    double mm[2];

    return sl_page_size_parse(mm, "12x12in", NULL) != SL_OK
        || mm[0] < 304.79 || mm[0] > 304.81 || strstr(sl_version(), SL_VERSION) == NULL;
}
END
root=$dir/root/usr
pc() {
    PKG_CONFIG_PATH=$root/lib/pkgconfig ${PKG_CONFIG:-pkg-config} \
        --define-variable=prefix="$root" --define-variable=libdir="$root/lib" \
        --define-variable=includedir="$root/include" "$@" squareleaf
}
sanitize=$(grep -o -- '-fsanitize=[a-z,]*' "$build/flags" | head -n 1)
check "pkg-config knows version $version" test "$(pc --modversion)" = "$version"
check 'a program builds with the shared library' sh -c \
    "${CC:-cc} $sanitize $(pc --cflags) -o '$dir/shared' '$dir/user.c' $(pc --libs)"
check 'and runs' env LD_LIBRARY_PATH="$root/lib" "$dir/shared"
check 'and wants the soname' sh -c "readelf -d '$dir/shared' | grep -q 'NEEDED.*squareleaf\.so\.0'"
# The libraries behind ours stay shared: their static twins are not ours to ask for.
check 'a program builds with the static library' sh -c \
    "${CC:-cc} $sanitize $(pc --cflags) -o '$dir/static' '$dir/user.c' \
    $(pc --static --libs | sed "s|-lsquareleaf|$root/lib/libsquareleaf.a|")"
check 'and runs alone' "$dir/static"

# The demo's program: one shot in, the same page out as from the command.
shot=$build/demo/album/shots/leaf-1.jpg
check 'demo/flatten-one.c builds' sh -c \
    "${CC:-cc} -Wall -Wextra -Werror $sanitize $(pc --cflags) -o '$dir/flatten-one' \
    demo/flatten-one.c $(pc --libs)"
check 'and makes a page' env LD_LIBRARY_PATH="$root/lib" \
    "$dir/flatten-one" "$shot" "$dir/one.tif" 12x12in
"$1" page "$shot" "$dir/same.tif" --page-size 12x12in -q
check 'the page that the command makes' cmp "$dir/one.tif" "$dir/same.tif"

check 'make uninstall' $make -s BUILD="$build" DESTDIR="$dir/root" PREFIX=/usr uninstall
check 'nothing is left' test -z "$(find "$dir/root" ! -type d)"
close_count
