#!/bin/sh
# Makes the targets one after the other and prints at the end, or where one fails, how long each took.
# Usage: scripts/parts.sh TARGET...
set -eu

times=''
part=''
began=0

note_time() {
    seconds=$(($(date +%s) - began))
    times="$times$(printf '%7d:%02d  %s' $((seconds / 60)) $((seconds % 60)) "$part")
"
}

print_times() {
    [ -z "$part" ] || { part="$part (not finished)" && note_time; }
    printf 'minutes  part\n%s' "$times"
}
trap print_times EXIT

for target in "$@"; do
    part=$target
    began=$(date +%s)
    make --no-print-directory "$target"
    note_time
    part=''
done
