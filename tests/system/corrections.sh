#!/bin/sh
# `album` with what a person said of the pages: corrections.json as src/album/corrections.h has it.
# Each run may touch the pages that were spoken of and no other.
# usage: corrections.sh PROGRAM

. tests/support/check.sh
begin "$1" 7 # 1 2 3 4 7 are good, 5 is cut by the frame, 6 shows no page
if ! have python3; then
    skip 'corrections' python3
    close_count
    exit
fi
shots=$dir/shots
out=$dir/out
# how alike and how clear the shots are is not what is asked here
small='--page-size 8x8in --ppi 80 --limit same-page=100 --limit rival=0'

# said PYTHON [FILE]: corrections.json beside the shots; see tests/support/corrections.py.
said() { check 'the corrections are written' python3 tests/support/corrections.py \
    "$out/report.json" "${2-$shots/corrections.json}" "$1"; }
# touched: the pages whose files are others than at the last call.
touched() {
    inodes "$out" > "$dir/now"
    diff "$dir/before" "$dir/now" | sed -n 's/.*\(page-[0-9a-z]*\)\..*/\1/p' | sort -u | tr '\n' ' '
    mv "$dir/now" "$dir/before"
}

ends 'the first run: one cut, one without a page' 2 '5 pass, 2 to photograph again' \
    "$program" album "$shots" "$out" $small
inodes "$out" > "$dir/before"
json 'each page has the key that a word must name' "$out/report.json" \
    'all(len(p["outline_key"]) == 64 for p in j["pages"]) and j["corrections"] is None'

# ---- each kind, alone ------------------------------------------------------------------------

said 'say("shot2.jpg", turn=270)' "$out/corrections.json"
touch -t 202001010000 "$out/corrections.json"
cp "$out/corrections.json" "$dir/persons.json"
said 'say("shot2.jpg", turn=90)'
ends 'a turn' 2 'Done again, as corrected: page 2$' "$program" album "$shots" "$out"
equal 'touches its page only' 'page-0002 ' "$(touched)"
says 'and says where it was taken from' "Corrections: $shots/corrections.json" "$dir/stderr"
check 'a copy is kept' cmp "$shots/corrections.json" "$out/corrections.json"
check 'a person'\''s older file is set aside' cmp "$dir/persons.json" "$out/corrections-1.json"
ends 'again: nothing to do' 2 '7 shots, all done before' "$program" album "$shots" "$out"
equal 'nothing is touched' '' "$(touched)"

# A quarter turn clockwise: the left edge is now on top, so the corners begin with the fourth.
run "$program" outline "$shots/shot2.jpg" --page-size 8x8in --ppi 80
cp "$dir/stdout" "$dir/plain.json"
json 'the page is turned' "$out/report.json" \
    "all(abs(a - b) < 0.5 for p, q in zip(j['pages'][1]['corners'][1:],
     json.load(open('$dir/plain.json'))['corners']) for a, b in zip(p, q))"

said 'say("shot3.jpg", corners=[[300, 200], [700, 210], [690, 600], [310, 590]], exact=True)'
ends 'an outline, and the turn taken back' 2 'pages 2 to 3$' "$program" album "$shots" "$out"
equal 'touches these' 'page-0002 page-0003 ' "$(touched)"
json 'the corners are the person'\''s, and the report says so' "$out/report.json" \
    'max(abs(a - b) for p, q in zip(j["pages"][2]["corners"], [[300, 200], [700, 210], [690, 600],
     [310, 590]]) for a, b in zip(p, q)) < 1e-6
     and any(r["code"] == "hand-corrected" for r in j["pages"][2]["reasons"])'

said 'say("shot4.jpg", page_size="4x4in", caption="The mill, spring", date="1934")'
ends 'a page size and a caption' 2 'pages 3 to 4$' "$program" album "$shots" "$out"
equal 'touches these' 'page-0003 page-0004 ' "$(touched)"
json 'the page has its own size' "$out/report.json" \
    'abs(j["pages"][3]["page_mm"][0] - 101.6) < 1e-6 and j["pages"][3]["written"]["width"] == 320'

# ---- a person's word -------------------------------------------------------------------------

said 'word("shot4.jpg", "accepted"); word("shot1.jpg", "refused"); word("shot5.jpg", "accepted")
say("shot6.jpg", leave_out=True)
say("shot7.jpg", checks=[{"who": "Ada", "when": "2026-03-15", "result": "good"}])
say("shot4.jpg", page_size="4x4in", caption="The mill, spring", date="1934")'
ends 'words' 2 '6 shots: 3 pass, 2 accepted by a person, 1 to photograph again' \
    "$program" album "$shots" "$out"
says 'a refused page is named' 'page 1 (shot1.jpg): refused' "$dir/stderr"
says 'a shot left out is named' 'No page is made of shot6.jpg: left out' "$dir/stderr"
equal 'the accepted page leaves unfinished/, no other is touched' 'page-0005 ' "$(touched)"
check 'it is among the pages to keep' test -s "$out/masters/page-0005.tif"
absent 'and not in unfinished/ any more' "$out/unfinished/page-0005.tif"
json 'the verdict stays, the word stands beside it' "$out/report.json" \
    '[p.get("word", {}).get("says") for p in j["pages"]] == ["refused", None, None, "accepted",
     "accepted", None] and j["pages"][4]["outcome"] == "reshoot"
     and j["pages"][5]["checks"][0]["result"] == "good"'
said 'word("shot4.jpg", "accepted"); word("shot5.jpg", "accepted"); say("shot6.jpg", leave_out=True)
say("shot4.jpg", page_size="4x4in", caption="The mill, spring", date="1934")'
ends 'all pass or are accepted: 0' 0 '' "$program" album "$shots" "$out"
equal 'nothing is touched' '' "$(touched)"
said 'word("shot4.jpg", "accepted"); word("shot5.jpg", "accepted"); say("shot6.jpg", leave_out=True)
shots[sha("shot5.jpg")]["word"]["outline"] = "a" * 64'
ends 'a word falls with its outline' 2 'Not applied: page-0005: word was about another outline' \
    "$program" album "$shots" "$out"
check 'the page is unfinished again' test -s "$out/unfinished/page-0005.tif"
json 'and so the report' "$out/report.json" 'not any("word" in p for p in j["pages"]
     if p["shot"] == "shot5.jpg")'
touched > /dev/null

# ---- left out, replaced, in another order ----------------------------------------------------

cp "$shots/shot7.jpg" "$shots/shot9.jpg"
printf 'retaken' >> "$shots/shot9.jpg"
said ''
ends 'a shot more' 2 'shots, .* to do' "$program" album "$shots" "$out"
check 'is a page of its own' test -s "$out/masters/page-0008.tif"
touched > /dev/null
said 'say("shot9.jpg", replaces=sha("shot5.jpg")); say("shot2.jpg", leave_out=True)'
ends 'replaces and leaves out' 2 'No page is made of shot5.jpg: another shot replaces it' \
    "$program" album "$shots" "$out"
equal 'touches these' 'page-0002 page-0005 page-0008 ' "$(touched)"
absent 'their files are gone' "$out/masters/page-0002.tif" "$out/masters/page-0008.tif" \
    "$out/access/page-0002.jpg" "$out/unfinished/page-0005.tif"
json 'the new shot has the old page' "$out/report.json" \
    '[(p["shot"], p["page"]) for p in j["pages"]] == [("shot1.jpg", "page-0001"),
     ("shot3.jpg", "page-0003"), ("shot4.jpg", "page-0004"), ("shot9.jpg", "page-0005"),
     ("shot6.jpg", "page-0006"), ("shot7.jpg", "page-0007")]
     and {s["name"] for s in j["skipped"]} == {"corrections.json", "shot2.jpg", "shot5.jpg"}'
ends 'again: nothing to do' 2 'all done before' "$program" album "$shots" "$out"
rm "$shots/shot5.jpg"
ends 'also when the earlier shot is gone' 2 'all done before' "$program" album "$shots" "$out"
if grep -q 'Not applied' "$dir/stderr"; then
    fail 'and all is applied' "$(grep 'Not applied' "$dir/stderr")"
else
    pass 'and all is applied'
fi
equal 'nothing is touched' '' "$(touched)"
said 'say("shot9.jpg", replaces="'"$(python3 -c "
import json
print(next(p['correction']['replaces'] for p in json.load(open('$out/report.json'))['pages']
           if p['shot'] == 'shot9.jpg'))")"'")
order = [sha("shot7.jpg"), sha("shot3.jpg"), sha("shot1.jpg")]'
ends 'another order, and a page taken in again' 2 'as corrected: page 2$' \
    "$program" album "$shots" "$out"
equal 'touches that page' 'page-0002 ' "$(touched)"
json 'the report has the order; who is not listed follows as by name' "$out/report.json" \
    '[p["shot"] for p in j["pages"]] == ["shot7.jpg", "shot3.jpg", "shot4.jpg", "shot9.jpg",
     "shot6.jpg", "shot1.jpg", "shot2.jpg"]'
rm -rf "$out" "$dir/before"

# A fresh folder, the corrections first: the same album.
check 'corrections go elsewhere' mv "$shots/corrections.json" "$dir/saved.json"
ends '--corrections FILE into a fresh folder' 2 "Corrections: $dir/saved.json" \
    "$program" album "$shots" "$out" $small --corrections "$dir/saved.json"
says 'the shot that was replaced is not known here' 'page-0005: replaces is a shot that is not' \
    "$dir/stderr"
json 'the same order but for that' "$out/report.json" \
    '[p["shot"] for p in j["pages"]] == ["shot7.jpg", "shot9.jpg", "shot3.jpg", "shot4.jpg",
     "shot6.jpg", "shot1.jpg", "shot2.jpg"]'

# ---- which file, and what makes no sense -----------------------------------------------------

said 'say("shot1.jpg", turn=90)'
said 'say("shot1.jpg", turn=180)' "$shots/corrections (1).json"
touch -t 203001010000 "$shots/corrections (1).json"
ends 'the newest of several' 2 'corrections (1).json (the newest of several)' \
    "$program" album "$shots" "$out"
check 'is the copy' cmp "$shots/corrections (1).json" "$out/corrections.json"
rm "$shots/corrections.json" "$shots/corrections (1).json"
ends 'OUT_DIR'\''s copy goes on' 2 "Corrections: $out/corrections.json\$" \
    "$program" album "$shots" "$out"
says 'and nothing is to do' 'all done before' "$dir/stderr"
rm "$out/corrections.json"
said 'say("shot1.jpg", turn=45, page_size="huge", corners=[[0, 0], [9, 9], [0, 9], [9, 0]],
    caption=7, leave_out="yes", replaces="nobody", word={"says": "maybe"}, checks=3, people="A\x1bB")
say("shot3.jpg", corners=[[1, 2], [3, 4]]); say("shot4.jpg", size=[1008, 756],
    corners=[[5000, 0], [6000, 0], [6000, 900], [5000, 900]])
shots["0" * 64] = {"shot": "shot7.jpg", "turn": 90}; shots["1" * 64] = {"page": "page-0099"}
shots["no sum"] = {}; order = ["x"]'
ends 'what makes no sense is named' 2 'page-0006: turn is none of' "$program" album "$shots" "$out"
for word in 'page-0006: page_size is no size' 'page-0006: corners do not go round' \
    'page-0006: caption is no text' 'page-0006: leave_out is neither' \
    'page-0006: replaces is no SHA' 'page-0006: word is neither' 'page-0006: checks are no list' \
    'page-0006: people is too long or has' 'page-0003: corners are not four' \
    'page-0004: corners lie outside' 'shot7.jpg: was said of an earlier picture' \
    'page-0099: its shot is not in the album' 'no sum: is no entry' 'the album: order is no list'
do
    says "named: $word" "Not applied: .*$word" "$dir/stderr"
done
json 'and in the report' "$out/report.json" 'len(j["corrections"]["not_applied"]) == 15'
printf '{"schema": 1, "shots"' > "$shots/corrections.json"
ends 'a broken file stops the run before it begins' 64 'cannot be read, line 1' \
    "$program" album "$shots" "$out"
printf '{"schema": 2, "kind": "squareleaf corrections", "shots": {}}' > "$shots/corrections.json"
ends 'one of a newer version too' 64 'newer version' "$program" album "$shots" "$out"
rm "$shots/corrections.json"
ends 'a mistyped name too' 64 'nothere.json' \
    "$program" album "$shots" "$out" --corrections "$dir/nothere.json"
ends 'and a folder' 64 '' "$program" album "$shots" "$out" --corrections "$dir"
equal 'no file is left half made' '' "$(parts "$out")"
close_count
