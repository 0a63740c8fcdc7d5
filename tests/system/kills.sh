#!/bin/sh
# kill -9 at random moments of a run: what is there is whole, and the next run ends with the bytes of
# one that nothing disturbed. Every other time the killed run is killed once more before that.
# usage: kills.sh PROGRAM
#   SL_KILLS=N   moments (default 6)   SL_SEED=N   which (default 1)

. tests/support/check.sh
begin "$1" 1
kills=${SL_KILLS-6}
shots=$dir/small
out=$dir/pages
options='--page-size 8x8in --ppi 30 --fail-on never'
mkdir "$shots"
for n in 1 2 3 4 5 6; do
    "$(dirname "$program")/tests/make-shot" "$shots/shot$n.jpg" seed=$n size=400x300
done
before=$(sums "$shots")
began=$(date +%s%N)
# shellcheck disable=SC2086 # several words
run "$program" album "$shots" "$dir/whole" $options
equal 'an undisturbed run' 0 "$status"
took=$((($(date +%s%N) - began) / 1000000))
undisturbed=$(sums "$dir/whole")
echo "$undisturbed" > "$dir/should"

# killed MS: a run that is killed so long after it began; $status, 137 if it was still at work.
killed() {
    # shellcheck disable=SC2086
    "$program" album "$shots" "$out" $options > /dev/null 2>&1 &
    pid=$!
    sleep "$(printf '%d.%03d' $(($1 / 1000)) $(($1 % 1000)))"
    kill -s KILL "$pid" 2> /dev/null
    wait "$pid" 2> /dev/null
    status=$?
}

wrong= amid=0 at=0
for moment in $(awk -v n="$kills" -v seed="${SL_SEED-1}" -v most="$took" \
    'BEGIN { srand(seed); while (n-- > 0) print int(rand() * most) }'); do
    at=$((at + 1))
    rm -rf "$out"
    killed "$moment"
    [ "$status" -ne 137 ] || amid=$((amid + 1))
    [ $((at % 2)) -eq 0 ] || killed $((moment / 2))
    if [ -d "$out" ]; then
        half=$(sums "$out" | grep page- | grep -v '\.part$' | grep -v -x -F -f "$dir/should")
        [ -z "$half" ] || wrong="$wrong
at $moment ms: not whole: $half"
    fi
    # shellcheck disable=SC2086
    run "$program" album "$shots" "$out" $options
    if [ "$status" -ne 0 ] || [ "$(sums "$out")" != "$undisturbed" ] || [ -n "$(parts "$out")" ]; then
        wrong="$wrong
at $moment ms: the next run ends otherwise, status $status"
    fi
done
equal "$at kills within $took ms, $amid amid the run: the same bytes each time" '' "$wrong"
check 'not all came after the end' test "$amid" -ge 1
equal 'the shots are as before' "$before" "$(sums "$shots")"
close_count
