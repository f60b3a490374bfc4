#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Our calendars read by an independent program, the Debian package python3-icalendar.

It must find every event and alarm, the texts as they went in, and the minutes that the round says.
Exit 0: all agree; 1: some do not; 77: icalendar is missing.
"""
import datetime
import subprocess
import sys

try:
    import icalendar
except ImportError:
    print("SKIP: python3-icalendar is not installed")
    sys.exit(77)


def check(head, data):
    flows, start_min, finish_min, house = head.split(" ", 3)
    calendar = icalendar.Calendar.from_ical(data)
    assert calendar["VERSION"] == "2.0" and calendar["PRODID"]
    assert not calendar.errors
    events = calendar.walk("VEVENT")
    assert len(events) == 1 + int(flows), "events"
    assert len({str(e["UID"]) for e in events}) == len(events), "UIDs are unique"
    whole = events[0]
    assert str(whole["DESCRIPTION"]).split("\n")[0] == house, str(whole["DESCRIPTION"])
    if int(finish_min) > int(start_min):
        length = whole["DTEND"].dt - whole["DTSTART"].dt
        assert length == datetime.timedelta(minutes=int(finish_min) - int(start_min)), length
    for event in events:
        assert not event.errors and event["SEQUENCE"] == 1
        assert event["DTSTART"].dt.tzinfo is None and event["DTSTAMP"].dt.utcoffset() == datetime.timedelta(0)
    for event in events[1:]:
        alarm, = event.walk("VALARM")
        assert alarm["TRIGGER"].dt == datetime.timedelta(0) and alarm["ACTION"] == "DISPLAY" and alarm["DESCRIPTION"]
        assert whole["DTSTART"].dt <= event["DTSTART"].dt <= whole["DTSTART"].dt + datetime.timedelta(days=1)


def main():
    out = subprocess.run([sys.argv[1]], stdout=subprocess.PIPE, check=True).stdout
    parts = out.split(b"\0")[:-1]
    for number, part in enumerate(parts):
        head, data = part.split(b"\n", 1)
        try:
            check(head.decode()[len("CALENDAR "):], data)
        except (AssertionError, ValueError) as wrong:
            print("calendar %d: %s" % (number, wrong))
            return 1
    print("ical: %d calendars read back" % len(parts))
    return 0 if parts else 1


sys.exit(main())
