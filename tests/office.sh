# SPDX-License-Identifier: GPL-3.0-or-later
# A spreadsheet program, headless, with a profile of its own in the folder $profiles, as an office in some country has it.
office() { # LOCALE ARGUMENT…
    local profile="$profiles/profile-$1"
    mkdir -p "$profile/user"
    cat >"$profile/user/registrymodifications.xcu" <<END
<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Setup/L10N"><prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>$1</value></prop></item>
</oor:items>
END
    shift
    soffice "-env:UserInstallation=file://$profile" --headless "$@" >/dev/null 2>&1
}

# LOCALE FILTER TO FROM: the tables of a folder, opened and saved as the program's own files, and back. A CSV's filter: separator,
# quote, UTF-8 or the system's own encoding, first line, formats, language, quoted is text, dates.
sheets() { office "$1" --infilter="CSV:$2,true,true" --convert-to ods --outdir "$3" "$4"/*.csv; }
tables() { office "$1" --convert-to "csv:Text - txt - csv (StarCalc):$2,1,,0,false,true" --outdir "$3" "$4"/*.ods; }
