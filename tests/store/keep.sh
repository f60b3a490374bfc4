#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Keeps a small store of this program's version as SQL, for the day when a newer one must bring it up to date: all that a shop
# would have in it, entries of the journal included. Usage: tests/store/keep.sh NEAP >tests/store/VERSION.sql
set -eu
neap=$1
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
export NEAP_DB=$folder/s.neap LC_ALL=C TZ=UTC
on() { "$neap" --on "$@" >/dev/null; }
on 2026-11-26 start
on 2026-11-26 add system reef sump_volume_l=100
on 2026-11-26 add tank R1 system=reef shape=box length_cm=100 width_cm=60 water_cm=50 fish=yes
on 2026-11-26 add tank R2 system=reef shape=stated net_volume_l=250
on 2026-11-26 add colony R1-001 tank=R1 kind='branching euphylliids' count=3 heads=4
on 2026-11-26 add colony R2-001 tank=R2 kind='acans and micromussids' count=2 heads=6
on 2026-11-26 set system reef broadcast_once=yes
on 2026-11-26 add lot L-1 food='live phytoplankton' amount_units=2000
on 2026-11-26 add lot P-1 food='phosphate-lowering powder' amount_units=100
on 2026-11-26 test reef no3=6 po4=0.05
on 2026-11-26 water reef 50L
on 2026-11-26 count R1-001 1 sold
on 2026-11-27 plan --start 08:30 --feeders 2 --late 2=08:46 --first R2 --strength 0.5 --effort 0.1
on 2026-11-27 log 1 1
on 2026-11-27 test reef no3=6.5 po4=0.06
on 2026-11-28 test reef no3=65 --note 'a new bottle' # far off: flagged
on 2026-11-28 test reef alk=8
sqlite3 "$NEAP_DB" .dump 'SELECT printf("PRAGMA application_id = %d;", application_id) FROM pragma_application_id' \
    'SELECT printf("PRAGMA user_version = %d;", user_version) FROM pragma_user_version'
