#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Installs the Debian packages named as arguments that are not there yet.
set -eu
missing=
for package in "$@"; do
    state=$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null || true)
    [ "$state" = installed ] || missing="$missing $package"
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
# shellcheck disable=SC2086
$sudo sh -c "apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing" >/dev/null
