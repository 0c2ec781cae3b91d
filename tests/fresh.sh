#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Proves the two commands of the README on a bare machine: a Debian 12 that holds nothing but git,
# make and ca-certificates gets a clone of HEAD and runs 'make demo' and 'make test' as root.
# usage: tests/fresh.sh [COMMAND]   (COMMAND replaces the two, for looking around)
#
# Needs root and the right to mount, else exits 77. Mirror, proxies and name servers are those of
# this machine. The bare system and the packages fetched are kept below build/fresh/.
set -eu
skip() {
    echo "fresh: not run: $1" >&2
    exit 77
}
suite=bookworm
here=$(cd "$(dirname "$0")/.." && pwd)
cache=$here/build/fresh
bare=$cache/$suite.tar

# Inside the private mount namespace: every mount made here ends with this process.
inside() {
    root=$1
    mount -t proc proc "$root/proc"
    mount --rbind /dev "$root/dev"
    mount -t tmpfs tmpfs "$root/dev/shm"
    mount --bind "$cache/debs" "$root/var/cache/apt/archives"
    exec env -i HOME=/root PATH=/usr/sbin:/usr/bin:/sbin:/bin LANG=C.UTF-8 TERM=dumb \
        ${http_proxy:+http_proxy="$http_proxy"} ${https_proxy:+https_proxy="$https_proxy"} \
        ${no_proxy:+no_proxy="$no_proxy"} \
        ${NODE_EXTRA_CA_CERTS:+NODE_EXTRA_CA_CERTS="$NODE_EXTRA_CA_CERTS"} \
        chroot "$root" sh -euc "cd /root/perchd; $2"
}
if [ "${1:-}" = --inside ]; then
    inside "$2" "$3"
fi

[ "$(id -u)" = 0 ] || skip "needs root"
unshare --mount --propagation private mount -t tmpfs tmpfs /mnt 2>/dev/null || skip "mounting is not allowed here"
command -v debootstrap >/dev/null || skip "debootstrap is missing"
commands=${1:-'make demo DEMO_SECONDS=5 && make test'}

# The Debian sources of this machine for that suite, as 'uri suite component' lines.
# shellcheck disable=SC2016  # apt fills these in
sources=$(apt-get indextargets --format '$(REPO_URI) $(RELEASE) $(COMPONENT) $(ORIGIN)' \
    'Created-By: Packages' | awk -v s="$suite" '$4 == "Debian" && $3 == "main" &&
    ($2 == s || $2 == s "-updates" || $2 == s "-security") { print $1, $2, $3 }' | sort -u)
mirror=${DEBIAN_MIRROR:-$(echo "$sources" | awk -v s="$suite" '$2 == s { print $1; exit }')}

mkdir -p "$cache/debs/partial"
work=$(mktemp -d "${TMPDIR:-/tmp}/perchd-fresh.XXXXXX")
root=$work/root
# The namespace is gone when this runs, so nothing is mounted below; --one-file-system all the same.
trap 'rm -rf --one-file-system "$work"' EXIT
trap 'exit 130' INT TERM HUP
mkdir "$root"

began=$(date +%s)
if [ ! -f "$bare" ]; then
    echo "fresh: making a bare $suite"
    # shellcheck disable=SC2086  # no mirror known: debootstrap's own
    debootstrap --variant=minbase --include=git,make,ca-certificates "$suite" "$root" $mirror \
        >"$cache/debootstrap.log" 2>&1 || {
        tail -n 20 "$cache/debootstrap.log" >&2
        exit 1
    }
    rm -f "$root"/var/cache/apt/archives/*.deb
    tar -C "$root" --one-file-system -cf "$bare.part" .
    mv "$bare.part" "$bare"
else
    tar -C "$root" -xf "$bare"
fi
if [ -n "$sources" ]; then
    echo "$sources" | sed 's/^/deb /' >"$root/etc/apt/sources.list"
fi
apt-config dump | grep -E '^Acquire::(http|https|Check-|Retries|ForceIPv)' \
    >"$root/etc/apt/apt.conf.d/90host" || true
cp /etc/resolv.conf /etc/hosts "$root/etc/"
# Certificates that this machine trusts besides Debian's, for networks that need them.
if ls /usr/local/share/ca-certificates/*.crt >/dev/null 2>&1; then
    cp /usr/local/share/ca-certificates/*.crt "$root/usr/local/share/ca-certificates/"
    chroot "$root" update-ca-certificates >/dev/null 2>&1
fi
[ ! -f "$HOME/.npmrc" ] || cp -p "$HOME/.npmrc" "$root/root/"
# Packages must not start services in there.
printf '#!/bin/sh\nexit 101\n' >"$root/usr/sbin/policy-rc.d"
chmod +x "$root/usr/sbin/policy-rc.d"

[ -z "$(git -C "$here" -c safe.directory="$here" status --porcelain)" ] ||
    echo "fresh: uncommitted changes are not part of this test" >&2
git -C "$here" -c safe.directory="$here" bundle create -q "$root/root/perchd.bundle" HEAD
chroot "$root" git -c advice.detachedHead=false clone -q /root/perchd.bundle /root/perchd
echo "fresh: $(cat "$root/etc/debian_version") with $(chroot "$root" dpkg-query -W | wc -l) packages," \
    "ready after $(($(date +%s) - began)) s; running: $commands"

code=0
unshare --mount --propagation private --pid --fork --kill-child \
    sh "$here/tests/fresh.sh" --inside "$root" "$commands" || code=$?
echo "fresh: exit $code after $(($(date +%s) - began)) s"
exit "$code"
