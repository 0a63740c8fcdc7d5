#!/bin/sh
# Every ```sh recipe and ```make recipe of README.md, as it stands there, on shots with odd names:
# each makes a page of every shot.
# usage: recipes.sh PROGRAM

. tests/support/check.sh
begin "$1" 2
mkdir "$dir/bin" "$dir/odd" "$dir/plain"
ln -s "$program" "$dir/bin/squareleaf"
PATH=$dir/bin:$PATH
export PATH
cp "$dir/shots/shot1.jpg" "$dir/plain/leaf-1.jpg"
cp "$dir/shots/shot2.jpg" "$dir/plain/leaf-2.jpg"
cp "$dir/shots/shot1.jpg" "$dir/odd/it's \"1\"; \$HOME é
.jpg"
cp "$dir/shots/shot2.jpg" "$dir/odd/-2 * %s.jpg"

# Each recipe becomes a file of its own: recipe-1.sh, recipe-4.make ...
awk -v dir="$dir" '
    /^```(sh|make) recipe$/ { n++; on = 1; file = dir "/recipe-" n "." substr($1, 4); next }
    /^```/ { on = 0 }
    on { print > file }' README.md
for recipe in "$dir"/recipe-*; do
    name=${recipe##*/}
    kind=${name##*.}
    place=$dir/at-$name
    tool=$(grep -oE '\b(xargs|parallel|sha256sum)\b' "$recipe" | head -n 1)
    [ "$kind" = make ] && tool=make
    if [ -n "$tool" ] && ! have "$tool"; then
        skip "$name" "$tool"
        continue
    fi
    mkdir "$place"
    if [ "$kind" = make ]; then
        # make takes no spaces
        cp -R "$dir/plain" "$place/shots"
        cp "$recipe" "$place/Makefile"
        run env -u MAKEFLAGS -u MFLAGS -u MAKELEVEL make -C "$place" -s
    else
        cp -R "$dir/odd" "$place/shots"
        run sh -c 'cd "$1" && exec sh "$2"' sh "$place" "$recipe"
    fi
    if [ "$status" -eq 0 ]; then
        pass "$name ($(sed -n 's/.*\(xargs\|parallel\|for \).*/\1/p' "$recipe" | head -n 1)) ends well"
    else
        fail "$name ends well" "status $status: $(tail -n 5 "$dir/stderr")"
    fi
    if [ -f "$place/flat/sums" ]; then
        equal "$name: two different pages" 2 "$(sort -u "$place/flat/sums" | wc -l | tr -d ' ')"
        continue
    fi
    for shot in "$place"/shots/*.jpg; do
        page=$place/flat/${shot##*/}
        check "$name: a page of $(printf %s "${shot##*/}" | tr '\n' '?')" test -s "$page"
    done
done
equal 'the README has five recipes' 5 "$(find "$dir" -maxdepth 1 -name 'recipe-*' | wc -l | tr -d ' ')"
# The pages are the same by whatever way.
check 'loop and xargs make the same pages' diff -r "$dir/at-recipe-1.sh/flat" "$dir/at-recipe-2.sh/flat"
close_count
