#!/bin/sh
# A newcomer in a bare root: installs the package, fills in tables as a German spreadsheet saves them (semicolons, decimal
# commas, Windows-1252), prints the first sheet, logs it, reads the report, and removes the package again. Counts the
# commands typed; any that is refused fails. Needs root and mmdebstrap. Usage: tests/newcomer.sh PACKAGE.deb [ROOT.tar]
set -eu
deb=$(realpath "${1:?the package}")
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
tar=${2:-$dir/root.tar}
depends=$(dpkg-deb -f "$deb" Depends | sed 's/([^)]*)//g; s/ //g')
[ -f "$tar" ] || mmdebstrap --variant=minbase --include="$depends" bookworm "$tar" >/dev/null 2>&1
mkdir "$dir/root"
tar -C "$dir/root" -xf "$tar" --exclude='./dev/*'
cp "$deb" "$dir/root/neap.deb"
cat >"$dir/root/newcomer" <<'END'
set -eu
export HOME=/root LC_ALL=C.UTF-8 PATH=/usr/sbin:/usr/bin:/sbin:/bin
n=0
neap() {
    n=$((n + 1))
    command neap --on 2026-11-24 "$@" || { echo "refused: neap $*"; exit 1; }
}
cd /root
dpkg -i /neap.deb >/dev/null
neap start
neap start --templates mine
{
    printf 'Name;System;Shape;Length cm;Width cm;Water cm;Displacement %%;Position m;Fish\r\n'
    for i in 1 2 3 4 5 6 7 8 9 10; do printf 'Gr\374n %d;Halle;box;120;60;40,5;8;%d;FALSE\r\n' $i $((i * 2)); done
} >mine/tank.csv
printf 'Name;Sump volume l;Test every d\r\nHalle;300;7\r\n' >mine/system.csv
{
    printf 'Code;Label;Tank;Kind;Count;Heads;Arrived\r\n'
    for i in 1 2 3 4 5 6 7 8 9 10; do printf 'G%d-1;Hammer;Gr\374n %d;branching euphylliids;4,0;3;27.03.2026\r\n' $i $i; done
} >mine/colony.csv
neap load mine --dry-run >/dev/null
neap load mine
neap list tank
neap add colony G1-2 "tank=grün 1" "kind=sun corals" count=2 heads=12
neap plan
neap sheet >sheet.txt
neap why G1-1 >/dev/null
neap log --all 3=:4
neap test Halle no3=8 po4=0.06
neap water Halle 10%
neap count G2-1 1 sold
neap trend >/dev/null
neap stock >/dev/null
neap audit
neap backup monday.neap
[ "$(grep -c 'FLOW ON' sheet.txt)" -eq 10 ]
dpkg -P neap >/dev/null
[ -z "$(find / -xdev -path /proc -prune -o -path '*neap*' ! -path '/root/*' ! -path /neap.deb ! -path '/var/*' -print)" ]
[ -s /root/.local/share/neap/store.neap ]
echo "ok 1 a newcomer: $n commands, none refused"
END
chroot "$dir/root" sh /newcomer
