#!/bin/sh
# `album`: what only the pages together can tell: how many there are, faults of the whole album.
# usage: together.sh PROGRAM

. tests/support/check.sh
begin "$1" 2 # both are good
made=$dir/shots
small='--page-size 8x8in --ppi 80'

# ---- how many pages --------------------------------------------------------------------------

out=$dir/out
ends 'as many as expected' 0 '2 pass' "$program" album "$made" "$out" $small --expect 2
json 'no fault' "$out/report.json" 'j["faults"] == []'
ends 'fewer: said, exit 1' 1 \
    'The whole album: 3 pages are expected and 2 found: 1 missing. Leaf through' \
    "$program" album "$made" "$out" --expect 3
json 'fewer: in the report' "$out/report.json" '[(f["code"], f["value"], f["limit"], f["unit"],
    f["text"][:21]) for f in j["faults"]] == [("page-count", 2, 3, "pages", "3 pages are expected ")]'
ends 'the number is remembered' 1 'as in the last run: .*--expect 3' \
    "$program" album "$made" "$out"
ends 'more: said' 1 '1 page is expected and 2 found: 1 too many' \
    "$program" album "$made" "$out" --expect 1
ends '--fail-on reshoot' 0 'too many' "$program" album "$made" "$out" --fail-on reshoot
ends '--expect none forgets' 0 '' "$program" album "$made" "$out" --expect none
ends 'for good' 0 '' "$program" album "$made" "$out"
for wrong in 0 -1 2x 1.5 many ''; do
    ends "--expect '$wrong'" 64 "'--expect' *wants\|number of the album's pages" \
        "$program" album "$made" "$out" --expect "$wrong"
done
rm -rf "$out"
close_count
