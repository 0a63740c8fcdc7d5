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
