#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Installs the Debian packages named as arguments that are not there yet.
# usage: packaging/deps.sh PACKAGE[:COMMAND]...
# With a COMMAND, one that is already on the path is as good as the package (node and npm often come
# from elsewhere, and would not stand beside Debian's).
set -eu
missing=
present=" $(dpkg-query -W -f '${Package}:${db:Status-Status} ' 2>/dev/null) "
for wanted in "$@"; do
    package=${wanted%%:*}
    [ "$package" = "$wanted" ] || ! command -v "${wanted#*:}" >/dev/null || continue
    case $present in
    *" $package:installed "*) ;;
    *) missing="$missing $package" ;;
    esac
done
[ -n "$missing" ] || exit 0
sudo=
if [ "$(id -u)" != 0 ]; then
    command -v sudo >/dev/null || {
        echo "perchd needs these packages, and neither root nor sudo is at hand:$missing" >&2
        exit 1
    }
    sudo=sudo
fi
echo "installing:$missing"
log=$(mktemp)
trap 'rm -f "$log"' EXIT
# shellcheck disable=SC2086  # a list of words
if ! $sudo sh -c "apt-get update -qq && DEBIAN_FRONTEND=noninteractive \
    apt-get install -y -qq --no-install-recommends $missing" >"$log" 2>&1; then
    tail -n 30 "$log" >&2
    exit 1
fi
