#!/bin/sh
# review.html in a headless Chromium: what it shows, what can be said in it, and the whole loop: the
# file that it saves goes to `album`, which does again what was spoken of and no more.
# usage: review.sh PROGRAM

. tests/support/check.sh
begin "$1" 7 # 1 2 3 4 7 are good, 5 is cut by the frame, 6 shows no page
shots=$dir/shots
out=$dir/out
small='--page-size 8x8in --ppi 80'

mv "$shots/shot6.jpg" "$dir" # kept for another test: here every page has an outline
run "$program" album "$shots" "$out" $small
check 'review.html is there' test -s "$out/review.html"
cp "$out/review.html" "$dir/first.html"
rm "$out/review.html"
ends 'review makes it again' 0 'review.html is written' "$program" review "$out"
check 'the same' cmp "$dir/first.html" "$out/review.html"
printf 'mine' > "$out/review.html"
ends 'a review.html that is not ours stays' 73 'not made by this program' "$program" review "$out"
ends 'a run says so and goes on' 2 'review.html is there and was not made' \
    "$program" album "$shots" "$out"
equal 'it is as it was' mine "$(cat "$out/review.html")"
ends '--force replaces it' 0 '' "$program" review "$out" --force
check 'by ours' cmp "$dir/first.html" "$out/review.html"
mkdir "$dir/empty"
ends 'a folder without pages' 66 'holds no report.json' "$program" review "$dir/empty"
ends 'no folder at all' 66 'holds no report.json' "$program" review "$dir/nothere"
if grep -q -e "$dir" "$out/review.html"; then
    fail 'no place of this computer is in the page' "$dir"
else
    pass 'no place of this computer is in the page'
fi

for tool in node npm chromium python3; do
    if ! have "$tool"; then
        skip 'review.html in a browser' "$tool"
        close_count
        exit
    fi
done
mkdir "$dir/node"
cp tests/review/package.json "$dir/node"
if ! (cd "$dir/node" && timeout 90 npm install --no-audit --no-fund --ignore-scripts \
    --prefer-offline > npm.log 2>&1); then
    skip 'review.html in a browser' 'playwright-core, which npm could not install'
    close_count
    exit
fi

# browse SCRIPT ARGUMENTS: its checks are counted.
browse() {
    browse_script=$1
    shift
    timeout 240 node "tests/review/$browse_script" "$dir/node" "$(command -v chromium)" "$@" \
        > "$dir/browsed" 2> "$dir/node.err" || fail "$browse_script" "$(tail -n 3 "$dir/node.err")"
    while IFS='|' read -r how what why; do
        case $how in
        pass) pass "$what" ;;
        fail) fail "$what" "$why" ;;
        esac
    done < "$dir/browsed"
}
touched() {
    inodes "$out" > "$dir/now"
    diff "$dir/before" "$dir/now" | sed -n 's/.*\(page-[0-9a-z]*\)\..*/\1/p' | sort -u | tr '\n' ' '
    mv "$dir/now" "$dir/before"
}

# ---- looking, and one corner -----------------------------------------------------------------

inodes "$out" > "$dir/before"
browse look.mjs "$out" "$shots/corrections.json"
command=$(sed -n 's/^command|//p' "$dir/browsed")
equal 'the command is the one to run' "squareleaf album $shots $out" "$command"
corner=$(python3 -c "
import json
print(next(iter(json.load(open('$shots/corrections.json'))['shots'].values()))['corners'])")
ends 'the saved file moves the outline' 2 'Done again, as corrected: page 1$' \
    sh -c "$(dirname "$program")/$command"
equal 'and only that page is done again' 'page-0001 ' "$(touched)"
json 'the page is corrected by hand' "$out/report.json" \
    "any(r['code'] == 'hand-corrected' for r in j['pages'][0]['reasons'])
     and j['pages'][0]['correction']['corners'] == $corner"
rm "$shots/corrections.json"

# ---- the whole loop --------------------------------------------------------------------------

# Page 2 had a wrong outline; page 5 is photographed again, under another name.
rm -rf "$out"
python3 - "$shots" "$dir/wrong.json" << 'END'
import hashlib, json, sys
sha = hashlib.sha256(open(sys.argv[1] + "/shot2.jpg", "rb").read()).hexdigest()
json.dump({"schema": 1, "kind": "squareleaf corrections", "shots": {sha: {"exact": True,
    "corners": [[400, 250], [600, 250], [600, 450], [400, 450]]}}}, open(sys.argv[2], "w"))
END
cp "$shots/shot7.jpg" "$shots/shot9.jpg"
printf 'taken again' >> "$shots/shot9.jpg"
run "$program" album "$shots" "$out" $small --corrections "$dir/wrong.json"
inodes "$out" > "$dir/before"
# pages: 1 2 3 4 5 (cut) 6 (shot7) 7 (shot9)
browse say.mjs "$out" "$shots/corrections (1).json" '[
    [2, "outline", [[0.15, 0.03], [0.85, 0.03], [0.85, 0.97], [0.15, 0.97]]],
    [7, "replaces", "page 5, shot5.jpg"], [3, "Turn right"],
    [4, "caption", "The mill \"at noon\", <1934>"], [6, "Accept"], [1, "Refuse"]]'
ends 'the file is found under a name that browsers give' 2 'Corrections: .*corrections (1).json' \
    "$program" album "$shots" "$out"
equal 'exactly those pages are touched' 'page-0002 page-0003 page-0004 page-0005 page-0007 ' \
    "$(touched)"
json 'the outline is right: the page, not a part of it' "$out/report.json" \
    'j["pages"][1]["native_ppi"]["p5"] < 100 and j["pages"][1]["corners"][0][0] < 300'
json 'the reshoot has its page, the caption is kept, the words stand' "$out/report.json" \
    '[p["shot"] for p in j["pages"]] == ["shot1.jpg", "shot2.jpg", "shot3.jpg", "shot4.jpg",
     "shot9.jpg", "shot7.jpg"]
     and j["pages"][3]["correction"]["caption"] == "The mill \"at noon\", <1934>"
     and j["pages"][0]["word"]["says"] == "refused" and j["pages"][5]["word"]["says"] == "accepted"
     and j["pages"][0]["word"]["who"] == "Ada Orren"'
# Refused pages keep the exit status; the refusal is taken back.
browse say.mjs "$out" "$shots/corrections (2).json" '[[1, "Refuse"], [1, "mark"],
    [2, "mark"], [3, "mark"], [4, "mark"], [5, "mark"], [0, "marked", "Accept them"],
    [3, "place", "1"]]'
touch -d '+1 minute' "$shots/corrections (2).json" 2> /dev/null
ends 'every page passes or is accepted' 0 'accepted by a person' "$program" album "$shots" "$out"
equal 'no page is touched for a word' '' "$(touched)"
json 'the album has its order' "$out/report.json" \
    '[p["shot"] for p in j["pages"]] == ["shot3.jpg", "shot1.jpg", "shot2.jpg", "shot4.jpg",
     "shot9.jpg", "shot7.jpg"]'

# ---- many pages, names that attack -----------------------------------------------------------

check 'an album of 300 pages' python3 tests/review/many.py "$out"
ends 'its page is made' 0 '' "$program" review "$out"
browse many.mjs "$out"
sed -n 's/^figure|\(.*\)|/# \1: /p' "$dir/browsed"
close_count
