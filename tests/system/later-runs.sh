#!/bin/sh
# `album` again and again into one folder: another batch, renamed and retaken shots, settings that
# are remembered, new numbers, names that are no UTF-8. No page of an earlier run is lost.
# usage: later-runs.sh PROGRAM

. tests/support/check.sh
begin "$1" 8 # 1 2 4 7 8 are good
made=$dir/shots
small='--page-size 8x8in --ppi 80'

# masters OUT: each master's checksum and name.
masters() { (cd "$1/masters" && cksum page-*); }
# of_pages OUT: the report's shots and pages, one a line.
of_pages() {
    sed -n -e 's/^   "shot": "\(.*\)",$/\1/p' -e 's/^   "page": "\(.*\)",$/\1/p' "$1/report.json" |
        paste -d ' ' - -
}

# ---- another batch into the same folder ------------------------------------------------------

out=$dir/out
mkdir "$dir/first" "$dir/second"
cp "$made/shot1.jpg" "$dir/first/a1.jpg"
cp "$made/shot2.jpg" "$dir/first/a2.jpg"
cp "$made/shot4.jpg" "$dir/first/a3.jpg"
run "$program" album "$dir/first" "$out" $small
first=$(masters "$out")
# the same names, as a camera gives them that counts from 1 again
cp "$made/shot7.jpg" "$dir/second/a1.jpg"
cp "$made/shot8.jpg" "$dir/second/a2.jpg"
ends 'a second folder with the same names' 0 'not in this folder: pages 1 to 3' \
    "$program" album "$dir/second" "$out" $small
equal 'the first pages stay' "$first" "$(masters "$out" | grep -v -e 0004 -e 0005)"
equal 'the report tells of both' 'a1.jpg page-0001
a2.jpg page-0002
a3.jpg page-0003
a1.jpg page-0004
a2.jpg page-0005' "$(of_pages "$out")"
equal 'report.csv too' 6 "$(wc -l < "$out/report.csv" | tr -d ' ')"
ends 'the first folder again: nothing to do' 0 '3 shots, all done before' \
    "$program" album "$dir/first" "$out" $small

# The same folder, filled anew.
rm "$dir/first"/*
for n in 1 2 4; do cp "$made/shot$n.jpg" "$dir/first/a$n.jpg"; done
mv "$dir/first/a4.jpg" "$dir/first/a3.jpg"
for n in 1 2 3; do printf 'x' >> "$dir/first/a$n.jpg"; done
now=$(masters "$out")
ends 'other pictures under most names: refused' 73 '3 of 3 good pages .*another folder' \
    "$program" album "$dir/first" "$out" $small
equal 'and no page is touched' "$now" "$(masters "$out")"
ends 'with --force they replace the pages' 0 '3 to do' \
    "$program" album "$dir/first" "$out" $small --force
equal 'under their names' 'a1.jpg page-0001
a2.jpg page-0002
a3.jpg page-0003' "$(of_pages "$out" | head -n 3)"
rm -rf "$out"

# ---- one shot taken again, one renamed -------------------------------------------------------

shots=$dir/album
mkdir "$shots"
cp "$made/shot1.jpg" "$made/shot2.jpg" "$shots"
cp "$made/shot7.jpg" "$shots/shot3.jpg"
run "$program" album "$shots" "$out" $small
before=$(masters "$out")
cp "$made/shot4.jpg" "$shots/shot2.jpg"
ends 'a shot taken again' 0 '3 shots, 1 to do' "$program" album "$shots" "$out" $small
equal 'replaces its page' 1 "$(masters "$out" > "$dir/now"; echo "$before" | grep -v -c -x -F \
    -f "$dir/now")"
before=$(masters "$out")
mv "$shots/shot1.jpg" "$shots/shot9.jpg"
ends 'a renamed shot' 0 '' "$program" album "$shots" "$out" $small
equal 'keeps its page' 'shot9.jpg page-0001
shot2.jpg page-0002
shot3.jpg page-0003' "$(of_pages "$out")"
equal 'which is not made again' "$before" "$(masters "$out")"
mv "$shots/shot9.jpg" "$shots/shot1.jpg"
mv "$shots" "$dir/moved"
shots=$dir/moved
files=$(inodes "$out")
ends 'a moved folder of shots' 0 '' "$program" album "$shots" "$out" $small
equal 'keeps its pages' "$files" "$(inodes "$out")"
ends 'pages are no shots' 64 'no shots' "$program" album "$out/masters" "$out" $small

# ---- new numbers -----------------------------------------------------------------------------

cp "$made/shot2.jpg" "$shots/shot0.jpg"
run "$program" album "$shots" "$out" $small
equal 'a shot before the first' 'shot0.jpg page-0000a' "$(of_pages "$out" | head -n 1)"
run "$program" album "$shots" "$out" $small --renumber
equal '--renumber: by place' 'shot0.jpg page-0001
shot1.jpg page-0002
shot2.jpg page-0003
shot3.jpg page-0004' "$(of_pages "$out")"
equal '--renumber: no file of an old name' 'page-0001.tif page-0002.tif page-0003.tif page-0004.tif ' \
    "$(cd "$out/masters" && printf '%s ' *)"
run "$program" album "$shots" "$dir/fresh" $small --optics "$out/optics.json"
equal '--renumber: the bytes of a fresh run' "$(masters "$dir/fresh")" "$(masters "$out")"
ends 'then all is done' 0 'all done before' "$program" album "$shots" "$out" $small
rm -rf "$dir/fresh"

# ---- settings are remembered -----------------------------------------------------------------

ends 'an option left out is as before' 0 'as in the last run: --page-size 203.2x203.2mm --ppi 80' \
    "$program" album "$shots" "$out"
says 'and nothing is done again' 'all done before' "$dir/stderr"
ends 'another option names the pages to do again' 0 'settings or optics are others now: pages 1 to 4' \
    "$program" album "$shots" "$out" --margin 5mm
json 'the margin is there' "$out/report.json" \
    'j["settings"]["margin_mm"] == 5 and all(p["written"]["margin_px"] == 16 for p in j["pages"])'
ends 'and stays' 0 'all done before' "$program" album "$shots" "$out"
ends '--page-size none does not go with the margin' 64 'needs' \
    "$program" album "$shots" "$out" --page-size none
ends '--page-size none forgets the size' 0 'claim no print size' \
    "$program" album "$shots" "$out" --page-size none --margin 0 --fail-on never
ends '--forget: the defaults' 1 'only 82 ppi' \
    "$program" album "$shots" "$out" --forget --page-size 8x8in
json 'are in the report' "$out/report.json" \
    'j["settings"]["ppi"] == 300 and j["settings"]["margin_mm"] == 0'
rm -rf "$out"

# ---- an edited page --------------------------------------------------------------------------

run "$program" album "$shots" "$out" $small
printf 'edited' >> "$out/access/page-0002.jpg"
edited=$(cksum < "$out/access/page-0002.jpg")
ends 'an edited copy is kept, and named' 0 'somebody changed them: page 2$' \
    "$program" album "$shots" "$out"
ends 'where it is in the way it is kept too' 2 'page-0002.jpg .*--force' \
    "$program" album "$shots" "$out" --quality 90
equal 'it is as it was' "$edited" "$(cksum < "$out/access/page-0002.jpg")"
rm -rf "$out"

# ---- names that are not tame -----------------------------------------------------------------

odd=$dir/odd
mkdir "$odd"
latin=$(printf 'caf\351.jpg')
cp "$made/shot1.jpg" "$odd/$latin"
cp "$made/shot2.jpg" "$odd/caf%E9.jpg"
cp "$made/shot4.jpg" "$odd/caf\\xE9.jpg"
cp "$made/shot7.jpg" "$odd/$(printf 'a\033[31m\nb').jpg"
if [ -f "$odd/$latin" ]; then
    ends 'odd names: four pages' 0 '4 shots: 4 pass' "$program" album "$odd" "$out" $small -v
    if grep -q "$(printf '\033')" "$dir/stderr"; then
        fail 'no name reaches the terminal raw' "$(cat "$dir/stderr")"
    else
        pass 'no name reaches the terminal raw'
    fi
    json 'four names, four pages' "$out/report.json" \
        'len({p["shot"] for p in j["pages"]}) == 4 and len({p["page"] for p in j["pages"]}) == 4
    and "caf\\xE9.jpg" in {p["shot"] for p in j["pages"]}'
    ends 'and again' 0 'all done before' "$program" album "$odd" "$out" $small
else
    skip 'odd names' 'a file system that takes them'
fi

# ---- the journal -----------------------------------------------------------------------------

mkdir "$dir/two"
cp "$made/shot1.jpg" "$made/shot2.jpg" "$dir/two"
out=$dir/memory
run "$program" album "$dir/two" "$out" $small
journal=$out/.squareleaf/journal
cp "$journal" "$dir/journal"
first=$(sums "$out")
inodes=$(cd "$out" && ls -i report.json report.csv review.html)
ends 'nothing to do' 0 '2 shots, all done before' "$program" album "$dir/two" "$out" $small
check 'adds no line' cmp "$journal" "$dir/journal"
equal 'and writes no report' "$inodes" "$(cd "$out" && ls -i report.json report.csv review.html)"
touch "$out/report.json"
ends 'a report with another time is read' 0 'all done before' "$program" album "$dir/two" "$out" $small
equal 'and stands' "$inodes" "$(cd "$out" && ls -i report.json report.csv review.html)"
if have python3; then # as earlier versions wrote it: all as values, pairs of pages not noted
    python3 - "$dir/journal" > "$journal" <<'END'
import json, sys
for line in map(json.loads, open(sys.argv[1], encoding="utf-8")):
    for part, keys in (("report", ("params", "optics", "edges")), ("review", ("corner_at", "outline"))):
        for key in keys if part in line else ():
            line[part][key] = json.loads(line[part][key])
    if "twins" not in line:
        print(json.dumps(line))
END
    ends "an earlier version's journal is read" 0 '2 shots, all done before' \
        "$program" album "$dir/two" "$out" $small
    rm "$out/report.json" "$out/review.html"
    run "$program" album "$dir/two" "$out" $small
    equal 'and makes the same reports' "$first" "$(sums "$out")"
else
    skip "an earlier version's journal is read" python3
fi
close_count
