#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Builds the Debian package of HEAD into build/deb/. DEB_BUILD_OPTIONS=nocheck leaves the tests out.
set -eu
cd "$(dirname "$0")/.."
sh packaging/deps.sh dpkg-dev debhelper fakeroot
rm -rf build/deb
mkdir -p build/deb/perchd
git archive HEAD | tar -x -C build/deb/perchd
cp -r build/deb/perchd/packaging/debian build/deb/perchd/debian
(cd build/deb/perchd && dpkg-buildpackage -us -uc -b)
rm -rf build/deb/perchd
ls build/deb/*.deb
