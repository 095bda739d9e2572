#!/usr/bin/env bash
# Runs the preprocessor for ccache (its prefix_command_cpp) and leaves line numbers and empty lines out of what ccache compares, so that
# a line of comment more compiles nothing again. An expanded __LINE__ counts as before. Not where the compiler itself puts line numbers
# into the object: debug information, counters of coverage, sanitizers. (Nothing of ours asks for std::source_location.)
"$@" || exit
out= before=
for option; do
    case $option in -g* | -f*sanitize* | -f*coverage* | -f*profile* | --coverage) exit 0 ;; esac
    [ "$before" != -o ] || out=$option
    before=$option
done
[ -z "$out" ] || sed -i -E 's/^# [0-9]+ "/# 1 "/; /^[[:space:]]*$/d' "$out"
