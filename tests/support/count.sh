# Counting for the system tests, read by each with `.`: what passed, failed and was skipped, and
# the closing line that tests/run reads.

passed=0 failed=0 skipped=0

# pass WHAT; fail WHAT [WHY]; skip WHAT MISSING
pass() { passed=$((passed + 1)); echo "ok    $1"; }
fail() { failed=$((failed + 1)); echo "FAIL  $1${2:+: $2}"; }
skip() { skipped=$((skipped + 1)); echo "skip  $1: $2 is missing"; }

# check WHAT COMMAND...: passes when the command succeeds; its output is shown when it does not.
check() {
    check_what=$1
    shift
    if check_said=$("$@" 2>&1); then
        pass "$check_what"
    else
        fail "$check_what" "$check_said"
    fi
}

# have COMMAND: is there such a command?
have() { command -v "$1" > /dev/null 2>&1; }

# The test's last act.
close_count() {
    echo "$passed passed, $failed failed, $skipped skipped"
    [ "$failed" -eq 0 ]
    exit
}
