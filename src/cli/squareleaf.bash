# bash completion for squareleaf. What it offers it asks the program itself, so that the two never
# differ: commands and options, and words like tiff|png|none, as --help prints them.

_squareleaf()
{
    local program=${COMP_WORDS[0]} command=${COMP_WORDS[1]}
    local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD - 1]}
    local help offer

    # readline makes three words of --master=tiff
    if [[ $cur == '=' ]]; then
        cur=
    elif [[ $prev == '=' ]]; then
        prev=${COMP_WORDS[COMP_CWORD - 2]}
    fi
    COMPREPLY=()
    if ((COMP_CWORD == 1)); then
        offer=$("$program" --help 2> /dev/null |
            sed -n 's/^  squareleaf \([a-z]\{1,\}\) .*/\1/p' | sort -u)
        offer+=' --help --version'
    elif help=$("$program" "$command" --help 2> /dev/null); then
        offer=$(sed -n "s/^.*$prev \([a-z0-9]*\(|[a-z0-9]*\)\{1,\}\).*/\1/p" <<< "$help")
        offer=${offer//|/ }
        if [[ $prev != --* ]]; then
            offer=
        fi
        if [[ -z $offer && $cur == -* ]]; then
            offer=$(grep -oE -- '(^|[ ,])--[a-z][a-z-]+' <<< "$help" | tr -d ' ,' | sort -u)
        fi
    fi
    # nothing to offer: names of files, by `-o default`
    if [[ -n $offer ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$offer" -- "$cur")
    fi
}

complete -o default -F _squareleaf squareleaf
