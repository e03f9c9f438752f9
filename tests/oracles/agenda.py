"""What does a calendar's text hold, as icalendar reads it?

Standard input: {"text": "BEGIN:VCALENDAR…"}. Standard output: the calendar's version and, for each event, its uid, summary,
description, start and end (RFC 3339) and place.
"""

import json
import sys

import icalendar

calendar = icalendar.Calendar.from_ical(json.load(sys.stdin)["text"])
events = []
for event in calendar.walk("VEVENT"):
    geo = event.get("GEO")
    events.append({
        "uid": str(event["UID"]),
        "stamp": event["DTSTAMP"].dt.isoformat(),
        "summary": str(event["SUMMARY"]),
        "description": str(event["DESCRIPTION"]),
        "start": event["DTSTART"].dt.isoformat(),
        "end": event["DTEND"].dt.isoformat(),
        "geo": [float(geo.latitude), float(geo.longitude)] if geo else None,
    })
json.dump({"version": str(calendar["VERSION"]), "events": events}, sys.stdout)
