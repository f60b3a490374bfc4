#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Makes the Debian package from what make install puts into place; needs dpkg-dev. Usage: tools/deb.sh FOLDER, from the top.
set -eu
folder=$(realpath "${1:?a folder}")
version=$(sed -n 's/^#define NEAP_VERSION "\(.*\)"/\1/p' src/cli/cli.h)
arch=$(dpkg --print-architecture)
maintainer="${DEBFULLNAME:-the authors of neap} <${DEBEMAIL:-root@localhost}>"
root=$folder/deb
rm -rf "$root"
mkdir -p "$root/DEBIAN" "$folder/debian"
make -s install DESTDIR="$root" PREFIX=/usr >/dev/null
strip "$root/usr/bin/neap" "$root/usr/bin/neap-page"
mkdir -p "$root/usr/share/zsh/vendor-completions"
mv "$root/usr/share/zsh/site-functions/_neap" "$root/usr/share/zsh/vendor-completions/_neap" # Debian's place for packages
rmdir "$root/usr/share/zsh/site-functions"
doc=$root/usr/share/doc/neap
cat >"$doc/copyright" <<END
Format: https://www.debian.org/doc/packaging-manuals/copyright-format/1.0/
Upstream-Name: neap

Files: *
Copyright: 2026 the authors of neap
License: GPL-3+
 On Debian systems the text of the licence is in /usr/share/common-licenses/GPL-3.
END
printf 'neap (%s) unstable; urgency=low\n\n  * See CHANGELOG.md.\n\n -- %s  %s\n' "$version" "$maintainer" \
    "$(date -R -u -d @"${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct)}")" | gzip -9n >"$doc/changelog.gz"

# The packages that the program's libraries are in, as the packaging tools find them.
printf 'Source: neap\n\nPackage: neap\nArchitecture: any\n' >"$folder/debian/control"
depends=$(cd "$folder" && dpkg-shlibdeps -O --ignore-missing-info deb/usr/bin/neap deb/usr/bin/neap-page 2>/dev/null | sed 's/^shlibs:Depends=//')
rm -r "$folder/debian"
cat >"$root/DEBIAN/control" <<END
Package: neap
Version: $version
Architecture: $arch
Maintainer: $maintainer
Installed-Size: $(du -sk --exclude DEBIAN "$root" | cut -f1)
Depends: $depends
Section: science
Priority: optional
Description: feeding rounds of a coral-keeping facility
 Plans, prints, records and learns from the feeding rounds of a coral-keeping
 facility: who is due, with which foods, how much, from which pot, in what
 order and at what minute; and what it did to the water.
END
(cd "$root" && find usr -type f -print0 | sort -z | xargs -0 md5sum >DEBIAN/md5sums)
find "$root" -type d -exec chmod 755 {} +
dpkg-deb --root-owner-group --build "$root" "$folder/neap_${version}_$arch.deb"
