#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# What a compiler does not check: format, clang-tidy, headers that stand alone, who may include and
# call what, the shell scripts. Every finding is printed; each check counts as passed or failed.
# usage: tests/lint.sh CORE-LIBRARY   (the built archive of core/, whose symbols are examined)
set -u
cd "$(dirname "$0")/.." || exit 1
jobs=$(nproc)
passed=0
failed=0
if [ "$1" != --tidy ]; then
    core_lib=$1
    work=$(mktemp -d)
    trap 'rm -rf "$work"' EXIT
fi

# A check is a function that prints its findings; silence is a pass.
check() {
    "$2" >"$work/findings" 2>&1
    if [ -s "$work/findings" ]; then
        failed=$((failed + 1))
        echo "lint: $1: FAILED"
        cat "$work/findings"
    else
        passed=$((passed + 1))
    fi
}

sources() {
    find core daemon tests -name node_modules -prune -o -name "$1" -print | sort
}

# Code with comments and string contents blanked, one 'file:line:text' a line.
code() {
    awk '
        FNR == 1 { inside = 0 }
        {
            line = $0; out = ""
            while (length(line)) {
                if (inside) {
                    n = index(line, "*/")
                    if (!n) { line = ""; break }
                    line = substr(line, n + 2); inside = 0
                } else if (match(line, /"([^"\\]|\\.)*"|\047([^\047\\]|\\.)*\047|\/\*/)) {
                    out = out substr(line, 1, RSTART - 1)
                    mark = substr(line, RSTART, RLENGTH)
                    if (mark == "/*") inside = 1; else out = out (out ~ /#[ ]*include[ ]*$/ ? mark : "\"\"")
                    line = substr(line, RSTART + RLENGTH)
                } else { out = out line; line = "" }
            }
            print FILENAME ":" FNR ":" out
        }' "$@"
}

format() {
    sources '*.[ch]' | xargs clang-format --dry-run -Werror
}

# One file a process: clang-tidy 14 reports va_lists falsely from the second file on. A file whose
# preprocessed text passed before is not looked at again: build/tidy/ remembers.
tidy_one() {
    set -- "$1" -std=c11 -D_GNU_SOURCE -I. -DPERCHD_VERSION='""' -DPERCHD_PREFIX='""' \
        -DPERCHD_SOURCE='""'
    key=$({ cat .clang-tidy && clang -E -C "$@"; } | sha256sum | cut -c1-40)
    [ ! -e "build/tidy/$key" ] || return 0
    source=$1
    shift
    if clang-tidy --quiet "$source" -- "$@" >"$work/tidy.$key" 2>&1; then
        touch "build/tidy/$key"
    else
        grep -v 'warnings\{0,1\} generated' "$work/tidy.$key"
    fi
}
tidy() {
    mkdir -p build/tidy
    sources '*.c' | grep -v '^tests/' | xargs -P "$jobs" -n 1 sh tests/lint.sh --tidy "$work"
}

# Each header is all a file needs to include, for both compilers.
headers() {
    for header in $(sources '*.h'); do
        case $header in tests/check.h) continue ;; esac
        for compiler in gcc clang; do
            echo "#include \"$header\"" | $compiler -std=c11 -D_GNU_SOURCE -I. -Wall -Wextra -Werror \
                -fsyntax-only -x c -
        done
    done
}

licence() {
    for file in $(sources '*.[ch]'); do
        head -n 1 "$file" | grep -qxF '/* SPDX-License-Identifier: GPL-3.0-or-later */' ||
            echo "$file:1: the first line is not the licence"
    done
    # shellcheck disable=SC2046  # our file names hold no blanks
    code $(sources '*.[ch]') | grep '//' | sed 's/$/   (use block comments)/'
}

# core/ knows no outside: only these headers, no symbol but libm, GSL and memory and string moves.
core_includes() {
    code core/*.[ch] | grep '#[[:space:]]*include' | grep -vE \
        '<(assert|float|inttypes|limits|math|stdbool|stddef|stdint|string)\.h>|<gsl/gsl_[a-z_]+\.h>|"(core/)?[a-z0-9_]+\.h"|^core/civil\.c:[0-9]+:#include <stdio\.h>'
    sed -n 's/^#[[:space:]]*include[[:space:]]*"\([^"]*\)".*/\1/p' core/*.[ch] | sort -u |
        while read -r name; do
            [ -f "core/${name#core/}" ] || echo "core/ includes $name, which is not in core/"
        done
}

core_symbols() {
    libm=$(gcc -print-file-name=libm.so.6)
    nm -D --defined-only "$libm" | awk '{ sub(/@.*/, "", $3); print $3 }' >"$work/allowed"
    nm --defined-only "$core_lib" | awk 'NF == 3 { print $3 }' >>"$work/allowed"
    nm -u "$core_lib" | awk 'NF == 2 { print $2 }' | sort -u | grep -vxF -f "$work/allowed" |
        grep -vxE 'gsl_[A-Za-z0-9_]+|mem(cpy|move|set|cmp)|str(len|nlen|cmp|ncmp|chr)|__mem(cpy|move|set)_chk|(__)?snprintf(_chk)?|__stack_chk_fail|__assert_fail|_GLOBAL_OFFSET_TABLE_' |
        sed 's/^/core calls /'
}

# No file-scope variable that can change: nothing of size in .data or .bss.
core_state() {
    objdump -t "$core_lib" | awk 'NF > 4 && ($(NF - 2) == ".data" || $(NF - 2) == ".bss") &&
        $(NF - 1) !~ /^0+$/ { print "core has a variable at file scope: " $NF }'
}

# Each outside library is known to one module.
owned() {
    code daemon/*.[ch] | grep -E "#[[:space:]]*include[[:space:]]*<$1>" | grep -vE "^daemon/$2\.[ch]:" |
        sed "s,\$,   (belongs in daemon/$2),"
}
owners() {
    owned 'sqlite3\.h' 'store[a-z_]*'
    owned 'microhttpd\.h' 'http[a-z_]*'
    owned 'curl/.*' 'fetch[a-z_]*'
    owned 'ini\.h' 'config[a-z_]*'
    owned 'crypt\.h' 'access[a-z_]*'
    code core/*.[ch] daemon/*.[ch] | grep -E '#[[:space:]]*include[[:space:]]*"(\.\./)?tests/'
}

# Calls with no bound, hidden state, a shell, or an answer that cannot be told from an error.
banned() {
    code core/*.[ch] daemon/*.[ch] | grep -E \
        '[^a-zA-Z0-9_.>](strcpy|strcat|strncpy|strncat|sprintf|vsprintf|gets|strtok|atoi|atol|atof|alloca|system|popen|tmpnam|mktemp|rand|srand|asctime|ctime|gmtime|localtime|setlocale|sscanf)[[:space:]]*\('
}

scripts() {
    # shellcheck disable=SC2038  # our file names hold no blanks
    find tests packaging .ci -name node_modules -prune -o -type f \
        -exec awk 'FNR == 1 && /^#!.*\/sh$/ { print FILENAME }' {} + | xargs shellcheck
}

if [ "$1" = --tidy ]; then # one file, from tidy() above
    work=$2
    tidy_one "$3"
    exit 0
fi
check format format
check clang-tidy tidy
check 'headers alone' headers
check 'licence and comments' licence
check 'core includes' core_includes
check 'core symbols' core_symbols
check 'core state' core_state
check 'library owners' owners
check 'banned calls' banned
check 'shell scripts' scripts
echo "lint: $passed passed, $failed failed"
[ "$failed" = 0 ]
