#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# A valve controller for one zone in a few lines, as an example: asks, opens, closes, reports.
# usage: controller.sh URL TOKEN ZONE UNTIL-EPOCH-SECONDS
set -u
url=$1 token=$2 zone=$3 until=$4
is_open=false began=0 closed=0 pulses=0 run=''

value() { # the value of a name in the flat object on standard input, without quotes
    sed -n "s/.*\"$1\":\"\{0,1\}\([^,\"}]*\).*/\1/p"
}

report() { # the run is over; its key makes sending again after a lost answer safe
    start=$(date -u -d "@$began" +%Y-%m-%dT%H:%M:%SZ)
    end=$(date -u -d "@$closed" +%Y-%m-%dT%H:%M:%SZ)
    echo "$start..$end $pulses x $run"
    curl -s -f -o /dev/null --retry 5 -H "Authorization: Bearer $token" \
        -H 'Content-Type: application/json' --data-binary \
        "{\"key\":\"$zone-sh-$began\",\"zone\":\"$zone\",\"start\":\"$start\",\"end\":\"$end\",\"pulses\":$pulses,\"run\":\"$run\"}" \
        "${url}api/v1/runs" || echo "not reported: $run" >&2
    run='' pulses=0
}

while now=$(date +%s) && [ "$now" -lt "$until" ]; do
    due=$(curl -s -f -H "Authorization: Bearer $token" "${url}api/v1/zones/$zone/due") || due=
    open=$(echo "$due" | value open)
    wanted=$(echo "$due" | value run)
    good=$(echo "$due" | value good_until_s)
    again=$(echo "$due" | value ask_again_at_s)
    # Without a good answer the valve is closed; here a real one runs its own programme.
    { [ -n "$due" ] && [ "$now" -lt "$good" ] && [ "$open" = true ]; } || open=false
    if [ "$is_open" = true ] && { [ "$open" = false ] || [ "$wanted" != "$run" ]; }; then
        closed=$now is_open=false # the valve closes
    fi
    [ -z "$run" ] || [ "$wanted" = "$run" ] || report
    if [ "$open" = true ] && [ $is_open = false ]; then
        [ $pulses -gt 0 ] || began=$now # the valve opens
        pulses=$((pulses + 1)) run=$wanted is_open=true
    fi
    pause=$((${again:-0} - now))
    [ "$pause" -gt 0 ] || pause=60
    sleep "$pause"
done
[ "$is_open" = false ] || closed=$(date +%s)
[ -z "$run" ] || report
