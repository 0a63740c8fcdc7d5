#!/bin/sh
# Every `squareleaf ...` line of the README's example blocks (```sh example) and of the manual's
# .Dl lines does what it says: run in order, on three shots of the demo's album, each must end
# with exit status 0.
# usage: examples.sh PROGRAM

. tests/support/count.sh
program=$1
album=$(dirname "$program")/demo/album/shots
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT

examples() {
    awk '/^```sh example$/ { on = 1; next } /^```/ { on = 0 } on && /^squareleaf /' README.md
}
manual_examples() {
    sed -n 's/^\.Dl \(squareleaf .*\)/\1/p' src/cli/squareleaf.1
}

check 'the demo has shots' test -s "$album/leaf-1.jpg"
mkdir "$dir/bin" "$dir/README.md" "$dir/squareleaf.1"
ln -s "$program" "$dir/bin/squareleaf"
PATH=$dir/bin:$PATH
for place in README.md squareleaf.1; do
    mkdir "$dir/$place/shots"
    cp "$album/leaf-1.jpg" "$album/leaf-2.jpg" "$album/leaf-3.jpg" "$dir/$place/shots/"
done

# run_in PLACE: runs the lines on standard input there.
run_in() {
    while read -r line; do
        (cd "$dir/$1" && sh -c "$line") > "$dir/out" 2> "$dir/err" < /dev/null
        status=$?
        if [ "$status" -eq 0 ]; then
            pass "$1: $line"
        else
            fail "$1: $line" "exit status $status: $(tail -n 5 "$dir/err")"
        fi
    done
}
examples > "$dir/lines"
check 'the README has examples' test -s "$dir/lines"
run_in README.md < "$dir/lines"
manual_examples > "$dir/lines"
check 'the manual has examples' test -s "$dir/lines"
run_in squareleaf.1 < "$dir/lines"

# What the README promises of these commands.
for file in pages/masters/page-0001.tif pages/access/page-0001.jpg pages/report.json \
    pages/report.csv pages/optics.json leaf-1.tif outline.png; do
    check "README.md: $file is there" test -s "$dir/README.md/$file"
done
close_count
