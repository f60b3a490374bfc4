#!/bin/sh
# The house's order: a floor includes only floors below it, and each library has one owner. Also: no two files of the
# library export one name, which a static archive would settle by chance. Usage: tests/floors.sh BUILD
set -u
build=${1:?the build folder}
bad=0
complain() { echo "floors: $*"; bad=$((bad + 1)); }

below() {
    case $1 in
    base) echo "base banned" ;;
    calc) echo "base banned calc" ;;
    facility) echo "base banned calc facility" ;;
    trend) echo "base banned calc trend" ;;
    plan) echo "base banned calc facility trend plan" ;;
    store) echo "base banned calc facility trend plan store" ;;
    exchange) echo "base banned calc facility trend plan exchange" ;;
    print) echo "base banned calc facility trend plan print" ;;
    cli) echo "base banned calc facility trend plan store exchange print" ;;
    esac
}

for floor in base calc facility trend plan store exchange print cli; do
    for face in $(grep -ho '#include "neap/[a-z]*' src/"$floor"/*.[ch] include/neap/"$floor".h 2>/dev/null | sed 's/.*neap.//' | sort -u); do
        case " $(below "$floor") " in *" $face "*) ;; *) complain "src/$floor includes neap/$face.h, which is not below it" ;; esac
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
owner glpk.h 'src/plan/recipe*'

# Pure floors touch no world: no file, clock, environment or printing.
for floor in base calc facility trend plan; do
    if grep -nE '\b(fopen|printf|puts|getenv|time|localtime|gmtime|rand|srand|system|open|read|write)\(' src/$floor/*.c |
        grep -vE '\b(v?snprintf|text_addf)\('; then
        complain "src/$floor is to be pure"
    fi
done

twice=$(find "$build/src" -name '*.o' ! -path '*/cli/*' -exec nm -A {} + | awk '$(NF-1) ~ /^[TDBR]$/ { print $NF }' | sort | uniq -d)
[ -z "$twice" ] || complain "exported by two files: $twice"

if [ $bad -gt 0 ]; then exit 1; fi
echo "floors: in order"
