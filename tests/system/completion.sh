#!/bin/sh
# bash completion offers what the program itself knows, and is found where it is installed.
# usage: completion.sh PROGRAM

. tests/support/count.sh
case $1 in
/*) program=$1 ;;
*) program=$PWD/$1 ;;
esac
if ! have bash; then
    skip 'bash completion' bash
    close_count
fi
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT
mkdir "$dir/bin" && ln -s "$program" "$dir/bin/squareleaf"
PATH=$dir/bin:$PATH
export PATH

# offers WORD...: what Tab offers for the last of them, on one line.
offers() {
    bash --norc -c '. src/cli/squareleaf.bash
        COMP_WORDS=("$@") COMP_CWORD=$(($# - 1))
        _squareleaf
        printf "%s\n" "${COMPREPLY[@]}" | sort | tr "\n" " "' bash "$@" | sed 's/ *$//'
}

# offered WHAT WANTED WORD...
offered() {
    what=$1 wanted=$2
    shift 2
    got=$(offers "$@")
    if [ "$got" = "$wanted" ]; then
        pass "$what"
    else
        fail "$what" "'$got', not '$wanted'"
    fi
}

commands=$(squareleaf --help | sed -n 's/^  squareleaf \([a-z]*\) .*/\1/p' | sort -u | tr '\n' ' ')
offered 'all commands' "--help --version ${commands% }" squareleaf ''
offered 'one command' 'page' squareleaf pa
offered 'two commands' 'bag book' squareleaf b
offered 'an option' '--master' squareleaf album shots pages --mas
offered 'its words' 'none png tiff' squareleaf album shots pages --master ''
offered 'one of its words' 'tiff' squareleaf album shots pages --master t
offered 'with an equals sign' 'none png tiff' squareleaf album --master =
offered 'with an equals sign and a letter' 'png' squareleaf album --master = p
offered 'numbers' '180' squareleaf page a b --turn 1
offered 'paper' 'a4' squareleaf book pages a.pdf --paper a
offered 'only options of this command' '' squareleaf plan --mas
offered 'names of files are left to bash' '' squareleaf page sho
offered 'no such command' '' squareleaf pagge --m

# Every option that --help names is offered.
for command in $commands; do
    squareleaf $command --help | grep -oE -- '--[a-z][a-z-]+' | sort -u | tr '\n' ' ' > "$dir/help"
    printf '%s ' "$(offers squareleaf $command --)" > "$dir/offered"
    check "$command: all options" diff "$dir/help" "$dir/offered"
done

loader=/usr/share/bash-completion/bash_completion
if [ -r "$loader" ]; then
    mkdir -p "$dir/share/bash-completion/completions"
    cp src/cli/squareleaf.bash "$dir/share/bash-completion/completions/squareleaf"
    said=$(XDG_DATA_DIRS=$dir/share bash --norc -c '. "$1"; _completion_loader squareleaf
        complete -p squareleaf' bash "$loader" 2>&1)
    check 'bash-completion finds it' test "$said" = 'complete -o default -F _squareleaf squareleaf'
else
    skip 'bash-completion finds it' bash-completion
fi
close_count
