#!/bin/sh
# plan and outline --draw as a user calls them: what they print, where it goes, how they end.
# usage: plan.sh PROGRAM

. tests/support/count.sh
program=$1
album=$(dirname "$program")/demo/album/shots
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT

# ends WHAT STATUS COMMAND...: ends with that status; $dir/out and $dir/err have what it said
ends() {
    ends_what=$1 ends_status=$2
    shift 2
    "$@" > "$dir/out" 2> "$dir/err"
    status=$?
    if [ "$status" -eq "$ends_status" ]; then
        pass "$ends_what"
    else
        fail "$ends_what" "status $status: $(cat "$dir/err")"
    fi
}

# says WHAT TEXT [FILE]: out, or the file, has that text
says() {
    if grep -q -F -e "$2" "$dir/${3-out}"; then
        pass "$1"
    else
        fail "$1" "no '$2' in: $(cat "$dir/${3-out}")"
    fi
}

ends 'a camera and a size' 0 "$program" plan --camera 4032x3024 --page-size 12x12in
# Common practice: 3024 px of the short side over 12 in, and over 300 ppi.
says 'native ppi at 100 %' '252 ppi'
says 'native ppi at 90 %' '227 ppi'
says 'the px that the page needs' '3600 x 3600 px'
says 'the largest page' '10.1 x 10.1 in'
says 'overlapping shots' '2 shots a page'
check 'nothing on standard error' test ! -s "$dir/err"
ends 'a camera that is enough' 0 "$program" plan --camera 9504x6336 --page-size 12x12in
says 'one shot' 'One shot a page is enough'
ends 'as JSON' 0 "$program" plan --camera 6000x4000 --page-size a4 --ppi 400 --pages 150 --json
says 'JSON has the pages' '"pages": 150'
check 'JSON is one line' test "$(wc -l < "$dir/out")" -eq 1
if have python3; then
    check 'JSON is JSON' python3 -m json.tool "$dir/out" "$dir/parsed"
else
    skip 'JSON is JSON' python3
fi

ends 'without a page size' 64 "$program" plan --camera 4032x3024
says 'it asks for the size' '--page-size' err
ends 'with no camera and no shot' 64 "$program" plan --page-size a4
says 'it asks for the camera' '--camera' err
ends 'a shot that is not there' 66 "$program" plan "$dir/none.jpg" --page-size a4
echo 'no picture' > "$dir/text.jpg"
ends 'a shot that is none' 2 "$program" plan "$dir/text.jpg" --page-size a4

if [ -s "$album/leaf-1.jpg" ]; then
    # A copy: what must never be drawn over is put at risk here.
    mkdir -p "$dir/demo/shots"
    cp "$album/leaf-1.jpg" "$dir/demo/shots/"
    shot=$dir/demo/shots/leaf-1.jpg
    before=$(cksum < "$shot")
    ends 'a test shot' 0 "$program" plan "$shot" --page-size 12x12in
    for word in 'page was found' 'share of the picture' 'native ppi' 'tilt' 'evenness' 'glare' \
        'sharpness'; do
        says "it says: $word" "$word"
    done
    ends 'a test shot as JSON' 0 "$program" plan "$shot" --page-size 12x12in --json
    says 'JSON has the shot' '"page_found": true'
    says 'JSON has the advice' '"advice": ['

    "$program" outline "$shot" --page-size 12x12in --draw "$dir/drawn.png" > "$dir/out" 2>&1
    check 'a drawing is there' test -s "$dir/drawn.png"
    if have identify; then
        size=$(identify -format '%m %[channels] %w %h' "$dir/drawn.png")
        case $size in
        PNG*srgb*) pass 'the drawing is a PNG in colour' ;;
        *) fail 'the drawing is a PNG in colour' "$size" ;;
        esac
        check 'at most 2000 px a side' test "$(identify -format '%w' "$dir/drawn.png")" -le 2000
    else
        skip 'the drawing is a PNG' identify
    fi
    ends 'a drawing is not replaced' 73 "$program" outline "$shot" --draw "$dir/drawn.png"
    # a shot by another name, for a drawing is called .png
    ln "$shot" "$dir/demo/shots/leaf-1.png"
    ends 'a shot is never drawn over' 73 "$program" outline "$shot" --draw \
        "$dir/demo/shots/leaf-1.png" --force
    check 'the shot is what it was' test "$before" = "$(cksum < "$shot")"
    check 'no part is left' sh -c "! ls '$dir'/*.part '$dir'/demo/shots/*.part 2> /dev/null"
else
    skip 'a test shot' "$album/leaf-1.jpg"
fi
close_count
