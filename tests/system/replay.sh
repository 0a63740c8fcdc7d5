#!/bin/sh
# outline --numbers and --replay: from the numbers alone comes the same map, digit by digit; a
# file that is not such numbers is told so.
# usage: replay.sh PROGRAM

. tests/support/count.sh
program=$1
album=$(dirname "$program")/demo/album/shots
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT

# One demo shot, and one of each kind of the shared ones, as many as are there.
[ -d "$album" ] || skip 'replay of the demo' "$album"
shared=${SL_SHARED-../shared}/shots
[ -d "$shared" ] || skip 'replay of shared shots' "$shared"

# Light needs a picture: these are null in a replay, and so is the profile.
no_light() { grep -v -E '^ "(glare|clipped|evenness|brightest|colour_profile)"|"(illuminance_non_uniformity_percent|non_uniformity_stars|clipped_percent)"'; }

# replay SHOT: the same JSON from shot and numbers, and the same numbers from the numbers
replay() {
    rm -f "$dir"/*.json
    "$program" outline "$1" --page-size 12x12in --grid 33 --numbers "$dir/n.json" \
        > "$dir/a.json" 2> "$dir/err"
    first=$?
    [ -s "$dir/n.json" ] || { cat "$dir/err"; return 1; }
    "$program" outline --replay "$dir/n.json" --grid 33 --numbers "$dir/again.json" \
        > "$dir/b.json" 2> "$dir/err"
    second=$?
    cmp "$dir/n.json" "$dir/again.json" || return 1
    # an empty report would be equal to an empty report
    grep -q '"corners"' "$dir/a.json" || return 1
    # a reason of light is the one thing that a verdict from numbers may lack
    [ "$first" -eq "$second" ] || echo "status $first, replayed $second"
    no_light < "$dir/a.json" > "$dir/a"
    no_light < "$dir/b.json" > "$dir/b"
    diff "$dir/a" "$dir/b"
}

replayed=
for shot in "$album"/*1.jpg "$shared"/tripod/*500.jpg "$shared"/curl/*500.jpg \
    "$shared"/cut/*500.jpg; do
    if [ -f "$shot" ]; then
        check "replay of $(basename "$shot")" replay "$shot"
        replayed=$shot
    fi
done
[ -n "$replayed" ] || { skip 'replay' 'every shot'; close_count; }

# ends WHAT STATUS WORD COMMAND...: ends with that status and says that word
ends() {
    ends_what=$1 ends_status=$2 ends_word=$3
    shift 3
    "$@" > "$dir/out" 2> "$dir/err"
    status=$?
    if [ "$status" -ne "$ends_status" ]; then
        fail "$ends_what" "status $status: $(cat "$dir/err")"
    elif ! grep -q -e "$ends_word" "$dir/err"; then
        fail "$ends_what" "it says: $(cat "$dir/err")"
    else
        pass "$ends_what"
    fi
}

echo 'no numbers' > "$dir/text.json"
echo '{"schema": 1, "kind": "another"}' > "$dir/kind.json"
sed 's/"found": true/"found": "yes"/' "$dir/n.json" > "$dir/found.json"
sed 's/"focal_px": [0-9.]*/"focal_px": -1/' "$dir/n.json" > "$dir/focal.json"
head -c 2000 "$dir/n.json" > "$dir/short.json"
: > "$dir/empty.json"
ends 'text is refused' 2 'line 1' "$program" outline --replay "$dir/text.json"
ends 'other JSON is refused' 2 'not a file of numbers' "$program" outline --replay "$dir/kind.json"
ends 'a wrong value is named' 2 found "$program" outline --replay "$dir/found.json"
ends 'an impossible camera is named' 2 optics "$program" outline --replay "$dir/focal.json"
ends 'half a file is refused' 2 'line' "$program" outline --replay "$dir/short.json"
ends 'an empty file is refused' 2 'line' "$program" outline --replay "$dir/empty.json"
ends 'a missing file is said' 66 'No such file' "$program" outline --replay "$dir/none.json"
ends 'a shot and a replay' 64 'one of them' "$program" outline "$replayed" --replay "$dir/n.json"
ends 'a picture of no picture' 64 'draw' \
    "$program" outline --replay "$dir/n.json" --draw "$dir/x.png"
ends 'another size' 64 'page-size' "$program" outline --replay "$dir/n.json" --page-size a4
ends 'a file that is there' 73 'exists' \
    "$program" outline --replay "$dir/n.json" --numbers "$dir/again.json"
ends 'the numbers replayed are never replaced' 73 '' \
    "$program" outline --replay "$dir/n.json" --numbers "$dir/n.json" --force
close_count
