#!/bin/sh
# The manual page renders without a warning and names every option that --help names.
# usage: manual.sh PROGRAM

. tests/support/count.sh
manual=$(dirname "$1")/squareleaf.1

if have mandoc; then
    check 'mandoc finds no fault' mandoc -T lint -W warning "$manual"
else
    skip 'mandoc finds no fault' mandoc
fi
if have groff; then
    # -z: check only; -ww: every warning.
    said=$(groff -mdoc -ww -z "$manual" 2>&1)
    check 'groff warns of nothing' test -z "$said"
else
    skip 'groff warns of nothing' groff
fi

# Both ways: what --help names stands in the manual, and the manual invents none.
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT
commands=$("$1" --help | sed -n 's/^  squareleaf \([a-z]*\) .*/\1/p' | sort -u)
for command in '' $commands; do
    "$1" $command --help
done | grep -oE -- '--[a-z][a-z-]+' | sort -u > "$dir/help"
sed -n 's/^\.\(Fl\|It Fl\|Op Fl\) -\([a-z-]*\).*/--\2/p' "$manual" | sort -u > "$dir/manual"
check 'some options are named' test -s "$dir/help"
check 'manual and --help name the same options' diff "$dir/help" "$dir/manual"

# Each code that --limit knows, with its limit.
"$1" page a b.tif --limit 2>&1 | sed 's/.*the codes are //' | tr -d ' ' | tr ',' '\n' > "$dir/codes"
sed -n 's/^\.It \([a-z-]*\) Ta [0-9.]* Ta .*/\1/p' "$manual" > "$dir/told"
check 'some codes are told' test -s "$dir/codes"
check "the manual has all of --limit's codes" diff "$dir/codes" "$dir/told"
close_count
