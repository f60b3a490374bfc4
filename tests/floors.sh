#!/bin/sh
# The house's order: a floor includes only floors below it, and each library has one owner. Also: no two files of the
# library export one name, which a static archive would settle by chance. Usage: tests/floors.sh BUILD
set -u
build=${1:?the build folder}
bad=0
complain() { echo "floors: $*"; bad=$((bad + 1)); }

# The faces of a floor: headers in include/neap.
faces() {
    case $1 in
    base) echo base banned ;;
    plan) echo plan advice capacity changed learned ledger log figures replan rescale response stock working ;;
    *) echo "$1" ;;
    esac
}

below() {
    case $1 in
    base) ;;
    calc | recipe | schedule) echo base ;;
    facility | trend) echo base calc ;;
    plan) echo base calc facility trend recipe schedule ;;
    why) echo base calc facility trend recipe schedule plan ;;
    week) echo base calc facility trend recipe schedule plan why ;;
    store | exchange | print) echo base calc facility trend recipe schedule plan why week ;;
    cli) echo base calc facility trend recipe schedule plan why week store exchange print ;;
    esac
}

floors='base calc facility trend recipe schedule plan why week store exchange print cli'
for floor in $floors; do
    may=
    for under in $floor $(below "$floor"); do may="$may $(faces "$under" | tr '\n' ' ')"; done
    own=$(faces "$floor" | tr ' ' '\n' | sed 's#.*#include/neap/&.h#')
    for face in $(grep -ho '#include "neap/[a-z]*' src/"$floor"/*.[ch] $own 2>/dev/null | sed 's/.*neap.//' | sort -u); do
        case " $may " in *" $face "*) ;; *) complain "src/$floor includes neap/$face.h, which is not below it" ;; esac
    done
    if grep -n '#include "\(\.\./\|[a-z]*/\)' src/"$floor"/*.[ch] | grep -v "\"neap/\|\"$floor/"; then
        complain "src/$floor reaches into another folder"
    fi
done

owner() { # header, files that may include it
    for file in $(grep -rl "#include <$1" src include); do
        case $file in $2) ;; *) complain "$file includes $1, which belongs to $2" ;; esac
    done
}
owner sqlite3.h 'src/store/*'
owner csv.h 'src/exchange/csv_*'
owner cjson/cJSON.h 'src/exchange/json_*'
owner glpk.h 'src/recipe/*'
owner ccadical.h 'src/schedule/*'

# Pure floors touch no world: no file, clock, environment or printing.
for floor in base calc facility trend recipe schedule plan why week; do
    if grep -nE '\b(fopen|printf|puts|getenv|time|localtime|gmtime|rand|srand|system|open|read|write)\(' src/$floor/*.c |
        grep -vE '\b(v?snprintf|text_addf)\('; then
        complain "src/$floor is to be pure"
    fi
done

twice=$(nm -A "$build/libneap.a" 2>/dev/null | awk '$(NF-1) ~ /^[TDBR]$/ { print $NF }' | sort | uniq -d)
[ -z "$twice" ] || complain "exported by two files: $twice"

if [ $bad -gt 0 ]; then exit 1; fi
echo "floors: in order"
