#!/bin/sh
# `album --dry-run`: what would be done to which page and why; nothing is written.
# usage: dry-run.sh PROGRAM

. tests/support/check.sh
begin "$1" 4
shots=$dir/shots
out=$dir/out
small='--page-size 8x8in --ppi 50 --fail-on reshoot'

# plan WHAT WANT ARGUMENT...: the lines of a dry run, and that it changed nothing.
plan() {
    plan_what=$1 plan_want=$2
    shift 2
    plan_before=$(find "$out" -type f -exec cksum {} + 2> /dev/null | sort)
    run "$program" album "$shots" "$out" "$@" --dry-run
    equal "$plan_what: exit status" 0 "$status"
    equal "$plan_what" "$plan_want" "$(tr '\t' ' ' < "$dir/stdout")"
    equal "$plan_what: nothing is written" "$plan_before" \
        "$(find "$out" -type f -exec cksum {} + 2> /dev/null | sort)"
}

plan 'a folder that is not there yet' 'page-0001 shot1.jpg new
page-0002 shot2.jpg new
page-0003 shot3.jpg new
page-0004 shot4.jpg new' $small
absent 'and is not made' "$out"
says 'said' 'nothing was written' "$dir/stderr"
run "$program" album "$shots" "$out" $small
plan 'all is done' ''
plan 'all is done, with -v' 'page-0001 shot1.jpg stands
page-0002 shot2.jpg stands
page-0003 shot3.jpg stands
page-0004 shot4.jpg stands' -v
plan 'other settings, by name' 'page-0001 shot1.jpg --ppi, --margin changed
page-0002 shot2.jpg --ppi, --margin changed
page-0003 shot3.jpg --ppi, --margin changed
page-0004 shot4.jpg --ppi, --margin changed' --ppi 60 --margin 5mm
says 'and as a run says it' 'settings or optics are others now: pages 1 to 4 (--ppi, --margin)' \
    "$dir/stderr"
touch "$shots/shot1.jpg"
printf 'x' >> "$shots/shot2.jpg"
rm "$out/access/page-0003.jpg"
cp "$shots/shot4.jpg" "$shots/shot3b.jpg"
printf 'x' >> "$shots/shot3b.jpg"
plan 'touched, changed, missing, new in between' 'page-0002 shot2.jpg the shot changed
page-0003 shot3.jpg access/page-0003.jpg is missing
page-0003a shot3b.jpg new'
sed 's/"focal_px": *\([0-9]*\)/"focal_px": 1\1/' "$out/optics.json" > "$dir/optics.json"
plan 'other optics' 'page-0001 shot1.jpg optics changed
page-0002 shot2.jpg the shot changed
page-0003 shot3.jpg optics changed
page-0003a shot3b.jpg new
page-0004 shot4.jpg optics changed' --optics "$dir/optics.json"
plan 'new names' 'page-0001 shot1.jpg --redo
page-0002 shot2.jpg --redo
page-0003 shot3.jpg --redo
page-0004 shot3b.jpg new
page-0005 shot4.jpg --redo' --renumber --redo
sha=$(sha256sum "$shots/shot4.jpg" | cut -d ' ' -f 1)
printf '{"schema": 1, "kind": "squareleaf corrections", "shots": {"%s": {"turn": 90}}}' "$sha" \
    > "$dir/turn.json"
plan 'corrected' 'page-0002 shot2.jpg the shot changed
page-0003 shot3.jpg access/page-0003.jpg is missing
page-0003a shot3b.jpg new
page-0004 shot4.jpg corrected' --corrections "$dir/turn.json"
run "$program" album "$shots" "$out"
says 'a run then does so' '5 shots, 4 to do' "$dir/stderr"
plan 'and all is done' ''
ends 'a folder without shots' 66 'holds no pictures' \
    "$program" album "$out/.squareleaf" "$dir/none" --dry-run
close_count
