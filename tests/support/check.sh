# For the system tests that run the program on made shots, read by each with `.`; counting is
# count.sh's.

. tests/support/count.sh

# begin PROGRAM COUNT: $program and a folder of our own, $dir, with $dir/shots/shot1.jpg ...
begin() {
    case $1 in
    /*) program=$1 ;;
    *) program=$PWD/$1 ;;
    esac
    dir=$(mktemp -d) || exit 1
    trap 'rm -rf "$dir"' EXIT
    trap 'exit 130' INT
    trap 'exit 143' TERM
    mkdir "$dir/shots" || exit 1
    check 'the shots are made' "$(dirname "$program")/tests/make-shots" "$dir/shots" "$2"
}

# run COMMAND...: $status, output in $dir/stdout, messages in $dir/stderr; whatever hangs is ended, in
# less than half of the time that the whole test has.
run() {
    timeout $((${TEST_TIMEOUT:-300} * 2 / 5)) "$@" > "$dir/stdout" 2> "$dir/stderr" < /dev/null
    status=$?
}

# ends WHAT STATUS WORD COMMAND...: it ends with that status, and its messages hold WORD (a
# basic regular expression; '' for any).
ends() {
    ends_what=$1 ends_status=$2 ends_word=$3
    shift 3
    run "$@"
    if [ "$status" -ne "$ends_status" ]; then
        fail "$ends_what" "status $status, not $ends_status: $(tail -n 5 "$dir/stderr")"
    elif [ -n "$ends_word" ] && ! grep -q -e "$ends_word" "$dir/stderr"; then
        fail "$ends_what" "no word of '$ends_word': $(tail -n 5 "$dir/stderr")"
    else
        pass "$ends_what"
    fi
}

# says WHAT WORD FILE: the file holds WORD.
says() {
    if grep -q -e "$2" "$3"; then
        pass "$1"
    else
        fail "$1" "no '$2' in $(head -n 20 "$3")"
    fi
}

# equal WHAT A B: two strings.
equal() {
    if [ "$2" = "$3" ]; then
        pass "$1"
    else
        fail "$1" "'$2' and '$3'"
    fi
}

# absent WHAT PATH...: none of them exists.
absent() {
    absent_what=$1
    shift
    for absent_path in "$@"; do
        if [ -e "$absent_path" ] || [ -L "$absent_path" ]; then
            fail "$absent_what" "$absent_path is there"
            return
        fi
    done
    pass "$absent_what"
}

# sums FOLDER: every file's checksum and name, beside the journal (its lines come in the order
# in which pages are done) and the lock.
sums() {
    (cd "$1" && find . -type f ! -path './.squareleaf/*' -exec cksum {} + | sort -k 3)
}

# inodes FOLDER: of the pages' files, small pictures aside. A page that is written again is another file.
inodes() {
    (cd "$1" && find . -type f -name 'page-*' ! -path './review/*' -exec ls -i {} + | sort -k 2)
}

# parts FOLDER: files left half made.
parts() {
    find "$1" -name '*.part'
}

# json WHAT FILE CONDITION: FILE is JSON, and the Python expression about `j` holds.
json() {
    if ! have python3; then
        skip "$1" python3
    elif json_said=$(python3 -c '
import json, sys
j = json.load(open(sys.argv[1], encoding="utf-8"))
sys.exit(0 if eval("(" + sys.argv[2] + ")") else "it is not so: " + sys.argv[2])' "$2" "$3" 2>&1); then
        pass "$1"
    else
        fail "$1" "$(printf '%s' "$json_said" | tail -n 1)"
    fi
}
