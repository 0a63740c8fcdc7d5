#!/bin/sh
# Names with spaces, quotes, line breaks, leading dashes and letters beyond ASCII, for every
# command that takes one; `-` for standard input and output.
# usage: names.sh PROGRAM

. tests/support/check.sh
begin "$1" 2
cd "$dir" || exit 1
shot=$dir/shots/shot1.jpg
small='--page-size 8x8in --ppi 60 --min-ppi 10'
line='
'

# ---- each name as a shot, an output, a folder ------------------------------------------------

n=0
for name in 'two words' "it's a \"quoted\"" "line${line}break	tab" '-dash' '--json' 'größe 写真' \
    '$HOME `id` *?[a] 100%' 'back\slash' "$(printf 'latin\351')"; do
    n=$((n + 1))
    what=$(printf '%s' "$name" | tr '\n\t' '??' | LC_ALL=C tr '\200-\377' '?')
    mkdir "in$n" && cp "$shot" "in$n/$name.jpg"
    cd "in$n" || exit 1
    ends "page: $what" 0 '' "$program" page $small -q -- "$name.jpg" "$name.tif"
    check "page: $what: written" test -s "./$name.tif"
    rm -- "./$name.tif"
    ends "outline: $what" 0 '' "$program" outline --page-size 8x8in --min-ppi 10 -- "$name.jpg"
    json "outline: $what: JSON" "$dir/stdout" 'j["verdict"] == "pass"'
    cd ..
    mkdir "to$n"
    ends "album: $what" 0 '' "$program" album $small -q --master none -- "in$n" "to$n/$name"
    ends "book: $what" 0 '' "$program" book -q -- "to$n/$name" "to$n/$name.pdf"
    ends "bag: $what" 0 '' "$program" bag -q -- "to$n/$name" "to$n/$name.bag"
    ends "verify: $what" 0 '' "$program" verify -q -- "to$n/$name.bag"
    ends "verify the album: $what" 0 '' "$program" verify -q -- "to$n/$name"
done

# ---- messages --------------------------------------------------------------------------------

ends 'a name that is not there is named' 66 'no such.jpg' "$program" page 'no such.jpg' a.png
ends 'a leading dash without -- is an option' 64 'unknown option' "$program" page -dash.jpg a.png
ends '-- ends the options' 66 '' "$program" page -- -dash.jpg a.png

: > a
ends 'a name that is a word of the message too' 2 '^squareleaf: a: the file is empty' "$program" page a b.png
mkdir pages
ends 'a folder that is called as the message calls pages' 66 '^squareleaf: pages has no report' \
    "$program" book pages b.pdf
ends 'no name is said twice' 66 '^squareleaf: there is no folder nope$' "$program" album nope pages
: > "esc$(printf '\033')[31m.jpg"
ends 'control characters do not reach the terminal' 2 'esc\\x1B\[31m.jpg: the file is empty' \
    "$program" page esc*.jpg b.png
mkdir "line${line}break" && : > "line${line}break/x.jpg"
ends 'a message stays one line' 2 '^squareleaf: line\\x0Abreak/x.jpg: the file is empty' \
    "$program" page "line${line}break/x.jpg" b.png
long=$(printf 'long%.0s' 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20 21 22 23 24 25 26 27 28 29 30)
mkdir -p "$long/$long" && cp "$shot" "$long/$long/leaf.jpg"
ends 'a long path leaves room for what is wrong' 73 'leaf.jpg is one of the shots: a shot is never written' \
    "$program" page "$long/$long/leaf.jpg" "$long/$long/leaf.jpg"

# ---- standard input and output ---------------------------------------------------------------

for format in tiff png jpeg; do
    "$program" page "$shot" "file.$format" --format $format $small -q
    run sh -c '"$1" page - - --format "$2" '"$small"' -q < "$3"' sh "$program" $format "$shot"
    equal "page - - --format $format" 0 "$status"
    if have compare; then
        mv stdout piped
        equal "$format: the same picture" 0 \
            "$(compare -metric AE piped "file.$format" null: 2>&1)"
    fi
done
check 'a pipe on both sides' sh -c \
    'cat "$2" | "$1" page - - --format png '"$small"' -q | cat > through.png' sh "$program" "$shot"
run sh -c '"$1" page - from.png '"$small"' -q < "$2"' sh "$program" "$shot"
check 'gives the page that a file gets' cmp through.png from.png
run "$program" page "$shot" file.png --force $small -q
if have script && script -qec true /dev/null > /dev/null 2>&1 < /dev/null; then
    script -qec "'$program' page '$shot' - --format jpeg" /dev/null > typed < /dev/null
    says 'no picture goes to a terminal' 'a terminal shows no picture' typed
else
    skip 'no picture goes to a terminal' 'script and a terminal for it'
fi
ends '- and --json: usage' 64 'cannot both go to standard output' \
    "$program" page - - --format tiff --json
ends '- without a format: usage' 64 'format' "$program" page "$shot" -
run sh -c '"$1" outline - --page-size 8x8in --min-ppi 10 < "$2"' sh "$program" "$shot"
equal 'outline -' 0 "$status"
json 'names it standard input' stdout 'j["shot"] == "standard input"'
run sh -c ': | "$1" page - - --format png' sh "$program"
equal 'nothing on standard input' 2 "$status"
says 'is said' 'empty' stderr
run sh -c 'head -c 5000 "$2" | "$1" page - - --format png' sh "$program" "$shot"
equal 'half a shot' 2 "$status"
equal 'gives no half page' 0 "$(wc -c < stdout | tr -d ' ')"
if [ -c /dev/full ]; then
    run sh -c '"$1" page "$2" - --format tiff '"$small"' > /dev/full' sh "$program" "$shot"
    equal 'a full disk behind standard output' 74 "$status"
fi
close_count
