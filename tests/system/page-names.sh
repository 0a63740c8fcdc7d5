#!/bin/sh
# What pages are called and in what order they are: --name, states of one page, --order
# rectos-versos, a counter that began again. Names stay for good.
# usage: page-names.sh PROGRAM

. tests/support/check.sh
begin "$1" 4
made=$dir/shots
small='--page-size 8x8in --ppi 50 --access none --fail-on reshoot'
out=$dir/out

# pages OUT: the masters' names, one line.
pages() { (cd "$1/masters" && printf '%s ' *); }
# of_pages OUT: the report's shots and pages, one line.
of_pages() {
    sed -n -e 's/^   "shot": "\(.*\)",$/\1/p' -e 's/^   "page": "\(.*\)",$/\1/p' "$1/report.json" |
        paste -s -d ' ' -
}

# ---- a pattern -------------------------------------------------------------------------------

album=$dir/"Grandmother's Album"
mkdir "$album"
for n in 1 2; do cp "$made/shot$n.jpg" "$album/Leaf $n.jpg"; done
run "$program" album "$album" "$out" $small --name '{album}-{page}'
equal 'a pattern is filled in, tame' 'grandmother-s-album-0001.tif grandmother-s-album-0002.tif ' \
    "$(pages "$out")"
says 'and told in few words' '2 pass' "$dir/stderr"
cp "$made/shot4.jpg" "$album/Leaf 1b.jpg"
cp "$made/shot3.jpg" "$album/Leaf 3.jpg"
run "$program" album "$album" "$out" $small
equal 'it is remembered; a shot in between gets a letter' 'Leaf 1.jpg grandmother-s-album-0001 Leaf 1b.jpg grandmother-s-album-0001a Leaf 2.jpg grandmother-s-album-0002 Leaf 3.jpg grandmother-s-album-0003' \
    "$(of_pages "$out")"
run "$program" album "$album" "$out" --forget $small
says '--forget keeps names' 'all done before' "$dir/stderr"
ends 'another pattern would mix them' 64 'grandmother-s-album-{page}.*--renumber' \
    "$program" album "$album" "$out" $small --name 'leaf-{page}'
printf 'half' > "$out/masters/grandmother-s-album-0002.tif.part"
run "$program" album "$album" "$out" $small --name 'leaf-{page}' --renumber
equal '--renumber names all anew' 'leaf-0001.tif leaf-0002.tif leaf-0003.tif leaf-0004.tif ' \
    "$(pages "$out")"
run "$program" album "$album" "$dir/fresh" $small --name 'leaf-{page}' --optics "$out/optics.json"
equal 'the bytes of a fresh run' "$(sums "$dir/fresh")" "$(sums "$out" | grep -v optics)"
rm -rf "$out" "$dir/fresh"

refused() { # WHAT WORD PATTERN
    ends "$1" 64 "$2" "$program" album "$album" "$out" $small --name "$3"
    absent "$1: nothing is written" "$out/masters/"*
}
refused 'a pattern without a page' '{page} or {shot}' 'leaf'
refused 'an unknown part' 'nothing else in braces' '{pgae}'
refused 'a name that is too long' '36 characters with its ending, at most 32' \
    'abcdefghijklmnopqrstuvwxyza-{page}'
cp "$made/shot4.jpg" "$album/leaf_1B.jpg"
mv "$album/leaf_1B.jpg" "$album/leaf-1B.jpg"
refused 'two shots of one name' 'Leaf 1b.jpg and leaf-1B.jpg would both be called leaf-1b\|leaf-1B.jpg and Leaf 1b.jpg would both be called leaf-1b' '{shot}'
rm "$album/leaf-1B.jpg"
run "$program" album "$album" "$out" $small --name '{shot}'
equal 'names of shots' 'leaf-1.tif leaf-1b.tif leaf-2.tif leaf-3.tif ' "$(pages "$out")"
json 'their numbers are in the report' "$out/report.json" \
    '[p["label"] for p in j["pages"]] == ["0001", "0002", "0003", "0004"]'
rm -rf "$out"

# ---- states of one page ----------------------------------------------------------------------

flaps=$dir/flaps
mkdir "$flaps"
cp "$made/shot1.jpg" "$flaps/p1.jpg"
cp "$made/shot2.jpg" "$flaps/p2--flap-closed.jpg"
cp "$made/shot4.jpg" "$flaps/p3.jpg"
run "$program" album "$flaps" "$out" $small
cp "$made/shot3.jpg" "$flaps/p2--flap-open.jpg"
run "$program" album "$flaps" "$out" $small
equal 'states of a page have one number, also later' \
    'page-0001.tif page-0002-flap-closed.tif page-0002-flap-open.tif page-0003.tif ' \
    "$(pages "$out")"
says 'the summary knows' '4 shots: 4 pass' "$dir/stderr"
ends 'a pattern that cannot tell them apart' 64 'put {state} into it' \
    "$program" album "$flaps" "$dir/none" $small --name 'leaf-{page}'
run "$program" album "$flaps" "$out" $small --name '{page}_{state}' --renumber
equal '{state}' '0001.tif 0002_flap-closed.tif 0002_flap-open.tif 0003.tif ' "$(pages "$out")"
rm -rf "$out"

# ---- rectos, then versos ---------------------------------------------------------------------

run "$program" album "$made" "$out" $small --order rectos-versos --versos-reversed
equal 'rectos, and versos from the end' \
    'shot1.jpg page-0001 shot4.jpg page-0002 shot2.jpg page-0003 shot3.jpg page-0004' \
    "$(of_pages "$out")"
ends 'the order is remembered' 0 'as in the last run:.* --order rectos-versos --versos-reversed' \
    "$program" album "$made" "$out"
ends 'another order changes no name' 0 'all done before' "$program" album "$made" "$out" --order name
rm "$made/shot4.jpg"
ends 'an odd number is said' 0 '3 pages are no whole leaves' \
    "$program" album "$made" "$dir/odd" $small --order rectos-versos
ends '--versos-reversed alone' 64 '--order rectos-versos' \
    "$program" album "$made" "$dir/none" $small --versos-reversed
rm -rf "$out"

# ---- time ------------------------------------------------------------------------------------

if have exiftool; then
    wrap=$dir/wrap
    mkdir "$wrap"
    # dated FILE SHOT MINUTE
    dated() {
        exiftool -q -o "$wrap/$1" -DateTimeOriginal="2026:03:14 10:0$3:00" "$made/shot$2.jpg"
    }
    dated IMG_9998.jpg 1 1
    dated IMG_9999.jpg 2 2
    dated IMG_0001.jpg 3 3
    ends 'a counter that began again is said' 0 'counter began again.*--order time' \
        "$program" album "$wrap" "$out" $small
    ends 'once' 0 '3 shots, all done before' "$program" album "$wrap" "$out"
    equal 'once, and not again' 0 "$(grep -c counter "$dir/stderr")"
    run "$program" album "$wrap" "$out" --order time --renumber
    equal '--order time' 'IMG_9998.jpg page-0001 IMG_9999.jpg page-0002 IMG_0001.jpg page-0003' \
        "$(of_pages "$out")"
else
    skip 'a counter that began again' exiftool
fi
close_count
