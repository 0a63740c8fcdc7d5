#!/bin/sh
# The survey counts what it ran, sees a program that lies, and makes any scene again.
# usage: survey.sh PROGRAM
. tests/support/count.sh
case $1 in
/*) program=$1 ;;
*) program=$PWD/$1 ;;
esac
survey=$(dirname "$program")/survey
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT
trap 'exit 130' INT
trap 'exit 143' TERM

# ends WHAT STATUS OPTION...: the survey ends so; what it says is in $dir/said
ends() {
    ends_what=$1 ends_status=$2
    shift 2
    "$survey" --program "$program" --out "$dir/out" "$@" > "$dir/said" 2>&1 < /dev/null
    ends_got=$?
    if [ "$ends_got" -eq "$ends_status" ]; then
        pass "$ends_what"
    else
        fail "$ends_what" "status $ends_got, not $ends_status: $(tail -n 5 "$dir/said")"
    fi
}

ends 'fair shots hold no silent failure' 0 3 11 --case plain --width 900
check 'all of them are counted' grep -q '^3 scenes: 0 silent' "$dir/said"
check 'no shot is left' test -z "$(find "$dir/out" -name '*.jpg')"

# One that says `pass` of any outline.
cat > "$dir/liar" <<EOF
#!/bin/sh
"$program" "\$@" --corners 100,100,500,100,500,400,100,400 --exact |
    sed 's/"verdict": "[a-z]*"/"verdict": "pass"/'
EOF
chmod +x "$dir/liar"
ends 'a liar is found out' 1 3 11 --case plain --width 900 --program "$dir/liar"
check 'each of its lies' grep -q '^3 scenes: 3 silent' "$dir/said"
check 'the list names them' test "$(grep -c '^plain .*silent failure: pass' "$dir/out/LIST.txt")" -eq 3
check 'the contact sheet is a PNG' test "$(head -c 4 "$dir/out/contact.png" | tail -c 3)" = PNG
printf '#!/bin/sh\nexit 70\n' > "$dir/liar"
ends 'a program that breaks down is told' 1 1 11 --case plain --width 400 --program "$dir/liar"
check 'as broken' grep -q ': broken: ' "$dir/out/LIST.txt"

ends 'one scene is made' 0 --case clutter --seed 7 --width 640 --one "$dir/a"
ends 'and made again' 0 --case clutter --seed 7 --width 640 --one "$dir/b"
check 'with the same bytes' cmp "$dir/a.jpg" "$dir/b.jpg"
check 'and its truth' grep -q '"corners_px"' "$dir/b.json"

ends 'no such case' 64 --case 'no such'
ends 'a count of none' 64 0
ends 'no program' 66 1 --program "$dir/nowhere"
close_count
