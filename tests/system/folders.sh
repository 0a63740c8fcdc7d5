#!/bin/sh
# Many albums: a folder of folders of shots.
# usage: folders.sh PROGRAM

. tests/support/check.sh
begin "$1" 2
many=$dir/many
small='--page-size 12x12in --ppi 60 --min-ppi 30 --fail-on never'
mkdir -p "$many/Ada's first" "$many/-second" "$many/broken" "$many/empty" "$many/.hidden"
cp "$dir/shots/shot1.jpg" "$many/Ada's first/a.jpg"
cp "$dir/shots/shot2.jpg" "$many/-second/b.jpg"
printf 'no picture' > "$many/broken/c.jpg"
printf 'x' > "$many/empty/notes.txt"

# shellcheck disable=SC2086 # $small is several words
ends 'folders in the folder: told, and none is chosen' 66 'album for each of them' \
    "$program" album "$many" "$dir/out" $small
says 'a command that the shell takes as it stands' "'\\\\''s first'" "$dir/stderr"
absent 'nothing is written' "$dir/out"
# POSIX, Shell Command Language, 2.2.2: what is printed is run as it is
grep '^  ' "$dir/stderr" | sed "/squareleaf album/{s|^  squareleaf|\"\$program\"|; s|\$| $small -q|;}" > "$dir/all.sh"
ends 'its commands run' 0 '' env "program=$program" sh "$dir/all.sh"
check 'and make their pages' test -f "$dir/out/Ada's first/masters/page-0001.tif"
check 'with a name that begins with a dash too' test -f "$dir/out/-second/masters/page-0001.tif"

# shellcheck disable=SC2086
ends 'each: a dry run writes nothing' 0 '' "$program" album "$many" "$dir/each" --each --dry-run $small
says 'and names album and page' "^Ada's first/page-0001" "$dir/stdout"
absent 'and nothing is there' "$dir/each"
# shellcheck disable=SC2086
ends 'each: all of them, though one fails' 0 'Ada.s first: 1 shot: 1 pass' \
    "$program" album "$many" "$dir/each" --each $small
says 'the failed one has its line' 'broken: 1 shot.*1 failed' "$dir/stderr"
says 'what is skipped is said' 'empty: skipped: no pictures' "$dir/stderr"
check 'the same bytes as one by one' cmp "$dir/each/-second/masters/page-0001.tif" \
    "$dir/out/-second/masters/page-0001.tif"
ends 'a failed page is the worst of all' 2 '' "$program" album "$many" "$dir/each" --each --forget \
    --page-size 12x12in --ppi 60 --min-ppi 30
ends 'a page count is of one album' 64 'does not go with' "$program" album "$many" "$dir/each" --each \
    --expect 3
ends 'no folder with shots' 66 'no folder with shots' "$program" album "$many/empty" "$dir/none" --each
close_count
