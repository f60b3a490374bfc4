#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# A newcomer in a bare root: installs the package, fills in the example tables with a German LibreOffice (semicolons, decimal
# commas, Windows-1252), prints the first sheet, logs it, reads the Friday report, and removes the package again. Counts the
# commands typed; any that is refused fails, and so do more than 40. Needs root, LibreOffice and mmdebstrap, or a bare root made
# before, which is copied. Usage: tests/newcomer.sh PACKAGE.deb [ROOT]
set -eu
deb=$(realpath "${1:?the package}")
dir=$(mktemp -d)
root=$dir/root
profiles=$dir
. "$(dirname "$0")/office.sh"
at_end() {
    umount "$root/proc" 2>/dev/null || true
    rm -rf "$dir"
}
trap at_end EXIT
if [ -n "${2:-}" ]; then
    cp -a "$2" "$root"
else
    mmdebstrap --variant=apt bookworm "$root" >/dev/null 2>"$dir/mmdebstrap" || { cat "$dir/mmdebstrap"; exit 1; }
    cp /etc/resolv.conf "$root/etc/"
fi
mount -t proc proc "$root/proc"
cp "$deb" "$root/neap.deb"

inside() {
    env -i HOME=/root LC_ALL=C.UTF-8 PATH=/usr/sbin:/usr/bin:/sbin:/bin DEBIAN_FRONTEND=noninteractive \
        chroot "$root" sh -euc "$1" newcomer || { echo "not ok 1 a newcomer"; exit 1; }
}

cat >"$root/commands" <<'END'
n=$(cat /root/count 2>/dev/null || echo 0)
neap() {
    n=$((n + 1))
    echo $n >/root/count
    command neap --on "$day" "$@" || { echo "refused: neap $*"; exit 1; }
}
cd /root
END

inside 'apt-get -qq update && apt-get -qq install -y --no-install-recommends /neap.deb >/dev/null 2>&1'
inside '. /commands; day=2026-11-24; neap start; neap start --templates mine'

# Ten tanks of their own in place of the examples, typed into the tables under their headings, and saved as a spreadsheet does.
mine=$root/root/mine
own() { # TABLE: rows from stdin, below the example's headings
    head -1 "$mine/$1.csv" >"$dir/head"
    cat "$dir/head" - >"$mine/$1.csv"
}
echo 'Halle,300.5,7,no,' | own system
for i in 1 2 3 4 5 6 7 8 9 10; do echo "Grün $i,Halle,box,120,60,40.5,,8.5,$((i * 2)).5,no,"; done | own tank
for i in 1 2 3 4 5 6 7 8 9 10; do echo "G$i-1,Hammer,Grün $i,branching euphylliids,4,3,2026-03-27,,"; done | own colony
printf 'RP-1,rich powder,100.5,2026-11-20,,,24.90,\nOE-1,oyster-egg liquid,250,2026-11-20,,,,\nAA-1,amino-acid liquid,1000,,,,,\n' | own lot
: | own test
rm "$mine/setting.csv" "$mine/kind.csv" "$mine/food.csv"
mkdir "$dir/ods"
sheets en-US 44,34,76,1,,1033 "$dir/ods" "$mine"
rm "$mine"/*.csv
tables de-DE 59,34,ANSI "$mine" "$dir/ods"
LC_ALL=C grep -q '^Gr.n 1;Halle;box;120;60;40,5;;8,5;2,5;' "$mine/tank.csv" || { echo "not as a German spreadsheet saves:"; head -3 "$mine/tank.csv"; exit 1; }

inside '. /commands
day=2026-11-24
neap load mine --dry-run >/dev/null
neap load mine
neap list tank
neap set setting facility="Halle 1" currency=EUR feeders=1
neap add food flakes form=powder unit=g protein=45% phosphorus=1.2% "ceiling=1 g per 200 L" price=12.50
neap calc label protein=45% >/dev/null
neap add colony G1-2 "tank=grün 1" "kind=sun corals" count=2 heads=12
neap test
neap test Halle no3=8 po4=0.06
neap plan
neap sheet >sheet.txt
neap sheet --pdf sheet.pdf
neap why G1-1 >/dev/null
neap log --all G1-1=:4
neap log --show >/dev/null
neap water Halle 10%
neap count G2-1 1 sold
[ "$(grep -c "FLOW ON" sheet.txt)" -ge 10 ]
[ -s sheet.pdf ]
day=2026-11-27
neap test Halle no3=8.5 po4=0.07
neap plan
neap sheet >friday.txt
neap log --all
neap trend >report.txt
neap ahead --weeks 4 >/dev/null
neap stock >stock.txt
neap card "sun corals=2x12" --volume 75usgal --no3 8 --po4 0.06 >/dev/null
neap undo --yes
neap redo --yes
neap history >/dev/null
neap audit
neap backup friday.neap
grep -q "^WEEKLY REPORT, Halle 1" report.txt
grep -q "1 sold" report.txt
grep -q "^PRICE OF THE FOOD, EUR" stock.txt'

# The help that was installed, its examples, and the removal; not counted, nobody has to type them.
inside '[ "$(ls /usr/share/man/man1/neap*.gz | wc -l)" -ge 30 ]
command neap --version
command neap help why >/dev/null
command neap --db /tmp/demo.neap --on 2026-11-27 start --demo
apt-get -qq purge -y neap >/dev/null 2>&1
left=$(find / -xdev \( -path /proc -o -path /root -o -path /var -o -path /tmp \) -prune -o -path "*neap*" ! -path /neap.deb -print)
[ -z "$left" ] || { echo "left behind: $left"; exit 1; }
[ -s /root/.local/share/neap/store.neap ]'
n=$(cat "$root/root/count")
[ "$n" -le 40 ] || { echo "not ok 1 a newcomer: $n commands; at most 40"; exit 1; }
echo "ok 1 a newcomer: $n commands, none refused"
